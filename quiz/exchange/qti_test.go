package exchange

import (
	"archive/zip"
	"bytes"
	"encoding/xml"
	"fmt"
	"io"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"rollingboil/quiz"
)

// unpack gives the files of a zip in order.
func unpack(t testing.TB, data []byte) (names []string, files map[string]string) {
	t.Helper()
	r, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		t.Fatal(err)
	}
	files = map[string]string{}
	for _, f := range r.File {
		in, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(in)
		if err != nil {
			t.Fatal(err)
		}
		names = append(names, f.Name)
		files[f.Name] = string(text)
	}
	return names, files
}

func packageOf(t testing.TB, set Set, o QTIOptions) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := WriteQTI(&out, set, o); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// TestPackages holds a package against the tables in schema_test.go, and its parts
// against each other: QTI 3.0 and 2.2, packaging: the manifest is at the root and
// lists every file of every resource; a test depends on its items.
func TestPackages(t *testing.T) {
	t.Parallel()
	set := sampleSet(t)
	types := map[string][2]string{QTI30: {"imsqti_item_xmlv3p0", "imsqti_test_xmlv3p0"}, QTI22: {"imsqti_item_xmlv2p2", "imsqti_test_xmlv2p2"}}
	for _, version := range []string{QTI30, QTI22} {
		names, files := unpack(t, packageOf(t, set, QTIOptions{Version: version, Draw: drawing}))
		if names[0] != "imsmanifest.xml" {
			t.Errorf("%s: the first file is %s", version, names[0])
		}
		manifest, problems := conforms([]byte(files["imsmanifest.xml"]), version, "manifest")
		for _, p := range problems {
			t.Errorf("%s: manifest: %v", version, p)
		}
		want := map[string][2]string{QTI30: {"QTI Package", "3.0.0"}, QTI22: {"QTIv2.2 Package", "1.0.0"}}[version]
		if got := [2]string{manifest.find("schema")[0].text, manifest.find("schemaversion")[0].text}; got != want {
			t.Errorf("%s: schema is %v, want %v", version, got, want)
		}
		listed := []string{"imsmanifest.xml", "bank.csv", "bank.md"}
		ids := map[string]bool{manifest.attrs["identifier"]: true}
		var items []string
		for _, r := range manifest.find("resource") {
			id := r.attrs["identifier"]
			if ids[id] || !ncName.MatchString(id) || len(id) > 32 {
				t.Errorf("%s: identifier %q stands twice or is none", version, id)
			}
			ids[id] = true
			var own []string
			for _, f := range r.find("file") {
				own = append(own, f.attrs["href"])
			}
			listed = append(listed, own...)
			if !slices.Contains(own, r.attrs["href"]) {
				t.Errorf("%s: %s does not list %s", version, id, r.attrs["href"])
			}
			switch r.attrs["type"] {
			case types[version][0]:
				items = append(items, id)
				item, problems := conforms([]byte(files[r.attrs["href"]]), version, "qti-assessment-item")
				for _, p := range append(problems, consistent(item, id)...) {
					t.Errorf("%s: %s: %v\n%s", version, id, p, files[r.attrs["href"]])
				}
				for _, picture := range item.find("img") {
					if !slices.Contains(own, "items/"+picture.attrs["src"]) {
						t.Errorf("%s: %s does not list its picture %s", version, id, picture.attrs["src"])
					}
				}
			case types[version][1]:
				testFile(t, version, files[r.attrs["href"]], r, items)
			default:
				t.Errorf("%s: %s has the type %s", version, id, r.attrs["type"])
			}
		}
		slices.Sort(listed)
		if there := slices.Sorted(maps.Keys(files)); !slices.Equal(listed, there) {
			t.Errorf("%s: listed are\n%v\nthere are\n%v", version, listed, there)
		}
		if len(items) != len(set.Questions) {
			t.Errorf("%s: %d items for %d questions", version, len(items), len(set.Questions))
		}
		if pictures := slices.ContainsFunc(names, func(n string) bool { return strings.HasSuffix(n, ".svg") }); !pictures {
			t.Errorf("%s: no picture was tried", version)
		}
	}
}

var ncName = regexp.MustCompile(`^[A-Za-z_][A-Za-z0-9_.-]*$`)

// testFile checks that the test asks for every item once and sums their scores.
func testFile(t *testing.T, version, text string, r *tag, items []string) {
	t.Helper()
	test, problems := conforms([]byte(text), version, "qti-assessment-test")
	for _, p := range problems {
		t.Errorf("%s: test: %v", version, p)
	}
	part := test.find("qti-test-part")[0]
	if part.attrs["navigation-mode"] != "nonlinear" || part.attrs["submission-mode"] != "simultaneous" {
		t.Errorf("%s: part %v", version, part.attrs)
	}
	var asked, summed, needed []string
	for _, ref := range test.find("qti-assessment-item-ref") {
		asked = append(asked, ref.attrs["identifier"])
		if ref.attrs["href"] != "items/"+ref.attrs["identifier"]+".xml" {
			t.Errorf("%s: %v", version, ref.attrs)
		}
	}
	for _, v := range test.find("qti-sum")[0].children {
		summed = append(summed, strings.TrimSuffix(v.attrs["identifier"], ".SCORE"))
	}
	for _, d := range r.find("dependency") {
		needed = append(needed, d.attrs["identifierref"])
	}
	if !slices.Equal(asked, items) || !slices.Equal(summed, items) || !slices.Equal(needed, items) {
		t.Errorf("%s: test asks for %v, sums %v, needs %v; want %v", version, asked, summed, needed, items)
	}
}

// consistent checks what no table can say: QTI 3.0 information model, ResponseDeclaration,
// and the interactions.
func consistent(item *tag, id string) (problems []error) {
	bad := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	if item.attrs["identifier"] != id {
		bad("identifier is %q", item.attrs["identifier"])
	}
	declaration := item.find("qti-response-declaration")
	if len(declaration) != 1 || declaration[0].attrs["identifier"] != "RESPONSE" {
		bad("it declares %d responses", len(declaration))
		return problems
	}
	ids := map[string]bool{}
	for _, name := range []string{"qti-simple-choice", "qti-simple-associable-choice"} {
		for _, c := range item.find(name) {
			if ids[c.attrs["identifier"]] {
				bad("choice %q stands twice", c.attrs["identifier"])
			}
			ids[c.attrs["identifier"]] = true
		}
	}
	interactions := 0
	for _, want := range []struct{ name, types string }{
		{"qti-choice-interaction", "single identifier, multiple identifier"},
		{"qti-order-interaction", "ordered identifier"},
		{"qti-match-interaction", "multiple directedPair"},
		{"qti-text-entry-interaction", "single float"},
	} {
		for range item.find(want.name) {
			interactions++
			if got := declaration[0].attrs["cardinality"] + " " + declaration[0].attrs["base-type"]; !strings.Contains(want.types, got) {
				bad("%s with a response that is %s", want.name, got)
			}
		}
	}
	if interactions != 1 {
		bad("%d interactions", interactions)
	}
	for _, v := range declaration[0].find("qti-value") {
		for part := range strings.FieldsSeq(v.text) {
			if !ids[part] && declaration[0].attrs["base-type"] != "float" {
				bad("correct value %q is not offered", part)
			}
		}
	}
	outcomes := map[string]bool{}
	for _, o := range item.find("qti-outcome-declaration") {
		outcomes[o.attrs["identifier"]] = true
	}
	for _, s := range item.find("qti-set-outcome-value") {
		if !outcomes[s.attrs["identifier"]] {
			bad("outcome %q is not declared", s.attrs["identifier"])
		}
	}
	shown := map[string]bool{}
	for _, v := range item.find("qti-base-value") {
		shown[v.text] = true
	}
	for _, f := range item.find("qti-modal-feedback") {
		if id := f.attrs["identifier"]; !shown[id] && !ids[id] {
			bad("nothing shows feedback %q", id)
		}
	}
	return problems
}

// TestIdentifiers: an NCName (Namespaces in XML 1.0, section 3), at most 32 letters, and
// another for another question or seed.
func TestIdentifiers(t *testing.T) {
	t.Parallel()
	seen := map[string]Ref{}
	for _, id := range []string{"a", "7-jars", "headspace-1", strings.Repeat("long-", 20) + "a", strings.Repeat("long-", 20) + "b", "process-time-in-the-hills-1"} {
		for _, seed := range []uint64{0, 1, 12, 1 << 40, 1<<64 - 1} {
			name := Question{ID: id, Seed: seed}.identifier()
			if !ncName.MatchString(name) || len(name) > 32 {
				t.Errorf("%s, seed %d: %q is no identifier of at most 32 letters", id, seed, name)
			}
			if before, twice := seen[name]; twice {
				t.Errorf("%s, seed %d and %v have one identifier, %q", id, seed, before, name)
			}
			seen[name] = Ref{id, seed}
		}
	}
	if got := (Question{ID: "headspace-1", Seed: 7}).identifier(); got != "headspace-1-s7" {
		t.Errorf("identifier %q", got)
	}
}

// TestPackagesComeOutTheSame: the same questions make the same bytes, with a time that
// every zip reader takes.
func TestPackagesComeOutTheSame(t *testing.T) {
	t.Parallel()
	set := sampleSet(t)
	first := packageOf(t, set, QTIOptions{})
	if !bytes.Equal(first, packageOf(t, set, QTIOptions{Version: QTI30})) {
		t.Error("two packages of one set differ")
	}
	r, err := zip.NewReader(bytes.NewReader(first), int64(len(first)))
	if err != nil {
		t.Fatal(err)
	}
	if at := r.File[0].Modified.UTC(); at.Before(time.Date(1980, 1, 1, 0, 0, 0, 0, time.UTC)) {
		t.Errorf("modified %v", at)
	}
}

// TestCopiesForPeople: the zip has the bank as CSV and Markdown, key included.
func TestCopiesForPeople(t *testing.T) {
	t.Parallel()
	set := sampleSet(t)
	_, files := unpack(t, packageOf(t, set, QTIOptions{}))
	var table, sheet bytes.Buffer
	if err := WriteCSV(&table, set); err != nil {
		t.Fatal(err)
	}
	if err := WriteMarkdown(&sheet, set, true); err != nil {
		t.Fatal(err)
	}
	if files["bank.csv"] != table.String() || files["bank.md"] != sheet.String() {
		t.Error("the copies are not what the writers write")
	}
}

// TestWriteQTIRefuses: nothing is written of a set that has a fault.
func TestWriteQTIRefuses(t *testing.T) {
	t.Parallel()
	set := sampleSet(t)
	twice := Set{Questions: append(slices.Clone(set.Questions), set.Questions[0])}
	for _, tc := range []struct {
		name, want string
		set        Set
		options    QTIOptions
	}{
		{"version", `QTI "2.1"; write 3.0 or 2.2`, set, QTIOptions{Version: "2.1"}},
		{"nothing", "there is no question", Set{}, QTIOptions{}},
		{"twice", "a-1, seed 1): stands twice", twice, QTIOptions{}},
		{"no picture", "draw the picture: no ink", set, QTIOptions{Draw: func(Picture) ([]byte, string, error) { return nil, "", fmt.Errorf("no ink") }}},
	} {
		var out bytes.Buffer
		if err := WriteQTI(&out, tc.set, tc.options); err == nil || !strings.Contains(err.Error(), tc.want) || out.Len() > 0 {
			t.Errorf("%s: %d bytes, error %v; want %q", tc.name, out.Len(), err, tc.want)
		}
	}
}

// TestVariants: a template is taken with different draws, another question once.
func TestVariants(t *testing.T) {
	t.Parallel()
	stem := "How hot is it?"
	options := []entry{{"text": "Hot", "right": true, "feedback": "Yes."}, {"text": "Cold", "feedback": "No.", "misconception": "m-1"}, {"text": "Warm", "feedback": "No.", "misconception": "m-2"}}
	q := func(id string, draw entry) entry {
		e := entry{"id": id, "lesson": "a", "competencies": []string{"acidity"}, "kind": quiz.Choice, "stem": stem, "options": options, "why": "So.", "source": []string{"s"}, "page": "p. 1"}
		if draw != nil {
			e["draw"] = entry{"x": draw}
		}
		return e
	}
	bank := loadBank(t, []entry{q("a-1", nil), q("a-2", entry{"from": 1, "to": 4, "step": 1}), q("a-3", entry{"from": 1, "to": 500, "step": 1})})
	for _, tc := range []struct{ k, want1, want2, want3 int }{{1, 1, 1, 1}, {3, 1, 3, 3}, {10, 1, 4, 10}} {
		set, err := Variants(bank.Questions(), tc.k)
		if err != nil {
			t.Fatal(err)
		}
		count := map[string]int{}
		draws := map[string]bool{}
		for _, q := range set.Questions {
			count[q.ID]++
			if draws[q.ID+q.Drawn] {
				t.Errorf("%s is written twice with %s", q.ID, q.Drawn)
			}
			draws[q.ID+q.Drawn] = true
		}
		if count["a-1"] != tc.want1 || count["a-2"] != tc.want2 || count["a-3"] != tc.want3 {
			t.Errorf("%d variants: %v", tc.k, count)
		}
	}
	for _, k := range []int{0, -1, 21} {
		if _, err := Variants(bank.Questions(), k); err == nil || !strings.Contains(err.Error(), "write 1 to 20") {
			t.Errorf("%d variants: %v", k, err)
		}
	}
	if _, err := Pick(bank, []Ref{{"a-1", 1}, {"b-1", 1}, {"c-1", 1}}); err == nil || !strings.Contains(err.Error(), `"b-1"`) || !strings.Contains(err.Error(), `"c-1"`) {
		t.Errorf("unknown questions: %v", err)
	}
}

// TestSignsThatXMLHasNot: XML 1.0, section 2.2, has no control characters. They become
// U+FFFD, and the document stays well-formed.
func TestSignsThatXMLHasNot(t *testing.T) {
	t.Parallel()
	src := "questions:\n- {id: a-1, lesson: a, competencies: [acidity], kind: choice, stem: \"Is it \\x01 hot?\", options: [{text: \"A \\x02\", right: true, feedback: Yes.}, {text: B, feedback: No., misconception: m}], why: So., source: [s], page: p. 1}\n"
	bank, err := quiz.Load(fstest.MapFS{"a.yaml": {Data: []byte(src)}}, quiz.Options{})
	if err != nil {
		t.Fatal(err)
	}
	set, err := Variants(bank.Questions(), 1)
	if err != nil {
		t.Fatal(err)
	}
	_, files := unpack(t, packageOf(t, set, QTIOptions{}))
	text := files["items/a-1-s1.xml"]
	if !strings.Contains(text, "Is it \ufffd hot?") {
		t.Errorf("written:\n%s", text)
	}
	if err := xml.Unmarshal([]byte(text), new(struct{})); err != nil {
		t.Error(err)
	}
}
