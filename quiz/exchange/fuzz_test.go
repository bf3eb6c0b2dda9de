package exchange

import (
	"encoding/json"
	"testing"
)

// looksRight checks what holds of anything that was read.
func looksRight(t *testing.T, imported Imported) {
	t.Helper()
	if len(imported.Report) > maxNotes {
		t.Fatalf("%d notes", len(imported.Report))
	}
	if len(imported.Left) > 0 && len(imported.Report) == 0 {
		t.Fatal("an item is left out and nothing is said of it")
	}
	for _, item := range imported.Items {
		if !identifierForm.MatchString(item.Identifier) || item.Kind == "" || item.Points <= 0 {
			t.Fatalf("read as %+v", item)
		}
		if got, err := item.Score(nil); err != nil || got != 0 {
			t.Fatalf("no answer scores %v, %v", got, err)
		}
		got, err := item.Score(item.Correct)
		if item.Scoring == ByMatch && err == nil && got != item.Points {
			t.Fatalf("the correct response %q scores %v of %v", item.Correct, got, item.Points)
		}
		for _, o := range item.Options {
			_, _ = item.Score([]string{o.Identifier}) // may be refused, may not panic
		}
	}
	if _, err := json.Marshal(imported); err != nil {
		t.Fatal(err)
	}
}

// FuzzImport reads anything: zips and items.
func FuzzImport(f *testing.F) {
	set := mutationSet(f)
	for _, version := range []string{QTI30, QTI22} {
		data := packageOf(f, set, QTIOptions{Version: version, Draw: drawing})
		f.Add(data)
		_, files := unpack(f, data)
		for _, name := range []string{choiceItem, multiItem, numberItem, orderItem, matchItem} {
			f.Add([]byte(files[name]))
		}
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		imported, err := Import("x", data)
		if err != nil {
			return
		}
		looksRight(t, imported)
	})
}

// FuzzPackage changes the parts of a package, which a zip hides from chance.
func FuzzPackage(f *testing.F) {
	_, files := unpack(f, packageOf(f, mutationSet(f), QTIOptions{Draw: drawing}))
	for _, name := range []string{choiceItem, numberItem, matchItem} {
		f.Add(files["imsmanifest.xml"], files[name], files["test.xml"])
	}
	f.Fuzz(func(t *testing.T, manifest, item, test string) {
		imported, err := Import("x", pack(t, map[string]string{"imsmanifest.xml": manifest, choiceItem: item, "test.xml": test}))
		if err != nil {
			return
		}
		looksRight(t, imported)
	})
}

// FuzzStatement validates anything.
func FuzzStatement(f *testing.F) {
	f.Add([]byte(minimal))
	f.Add([]byte(`{"actor":{"objectType":"Group","member":[{"mbox":"mailto:a@b.c"}]},"verb":{"id":"http://x/y","display":{"en":"x"}},"object":{"objectType":"SubStatement"},"result":{"score":{"scaled":1e9},"duration":"PT1S"},"context":{"contextActivities":{"parent":[]}}}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if err := ValidateStatement(data); err == nil && !json.Valid(data) {
			t.Fatal("what is no JSON is accepted")
		}
	})
}
