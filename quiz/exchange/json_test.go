package exchange

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// TestJSONIsReadAgain: what is written is read as it was, and written again byte for
// byte.
func TestJSONIsReadAgain(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		bank := anyBank(t)
		var refs []Ref
		for _, q := range bank.Questions() {
			refs = append(refs, Ref{q.ID, rapid.Uint64().Draw(t, "seed")})
		}
		set, err := Pick(bank, refs)
		if err != nil {
			t.Fatal(err)
		}
		set.Title = rapid.String().Draw(t, "title")
		var first, second bytes.Buffer
		if err := WriteJSON(&first, set); err != nil {
			t.Fatal(err)
		}
		got, err := ReadJSON(bytes.NewReader(first.Bytes()))
		if err != nil {
			t.Fatalf("%v\n%s", err, first.Bytes())
		}
		if diff := cmp.Diff(set, got); diff != "" {
			t.Fatalf("read differs from what was written:\n%s", diff)
		}
		if err := WriteJSON(&second, got); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(first.Bytes(), second.Bytes()) {
			t.Fatal("written again it differs")
		}
	})
}

// TestJSONKeys: the keys and their order that the package comment promises.
func TestJSONKeys(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	if err := WriteJSON(&out, mutationSet(t)); err != nil {
		t.Fatal(err)
	}
	keys := func(raw json.RawMessage) string {
		dec := json.NewDecoder(bytes.NewReader(raw))
		if _, err := dec.Token(); err != nil {
			t.Fatal(err)
		}
		var list []string
		for dec.More() {
			key, err := dec.Token()
			if err != nil {
				t.Fatal(err)
			}
			list = append(list, key.(string))
			var value json.RawMessage
			if err := dec.Decode(&value); err != nil {
				t.Fatal(err)
			}
		}
		return strings.Join(list, " ")
	}
	var file struct{ Questions []json.RawMessage }
	if err := json.Unmarshal(out.Bytes(), &file); err != nil {
		t.Fatal(err)
	}
	if got := keys(out.Bytes()); got != "format title caution questions" {
		t.Errorf("file: %s", got)
	}
	for i, want := range []string{
		"id seed lesson competencies kind stem picture options why sources page",
		"id seed lesson competencies kind stem options why sources page",
		"id seed lesson competencies kind stem number why sources page",
		"id seed lesson competencies kind stem items order mistakes why sources page",
		"id seed lesson competencies kind stem items withs mistakes why sources page",
	} {
		if got := keys(file.Questions[i]); got != want {
			t.Errorf("question %d: %s, want %s", i+1, got, want)
		}
	}
}

// TestReadJSONRefuses: nothing is read of a file with a fault, and the fault is told.
func TestReadJSONRefuses(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	if err := WriteJSON(&out, mutationSet(t)); err != nil {
		t.Fatal(err)
	}
	good := out.String()
	for _, tc := range []struct{ name, old, new, want string }{
		{"format", Format, "rollingboil questions 9", `format is "rollingboil questions 9"; this program reads "rollingboil questions 1"`},
		{"unknown key", `"stem":`, `"stam":`, `unknown field "stam"`},
		{"two at once", "", "", "something stands behind the closing brace"},
		{"id", `"id": "a-1"`, `"id": "# top"`, `question 1 (# top, seed 1): id "# top"; use lower-case words with hyphens`},
		{"twice", `"id": "a-2"`, `"id": "a-1"`, `question 2 (a-1, seed 1): stands twice`},
		{"kind", `"kind": "order"`, `"kind": "essay"`, `kind "essay"; use choice, choices, number, order or match`},
		{"kind of another", `"kind": "order"`, `"kind": "choice"`, `items and mistakes belong to kinds order and match`},
		{"nothing right", `"right": true`, `"right": false`, `0 of 2 options are right`},
		{"all right", `"right": false`, `"right": true`, `2 of 2 options are right`},
		{"key not offered", `"key": "b"`, `"key": "x"`, `item "x" is not in order`},
		{"with not offered", `"with": "size B"`, `"with": "size Z"`, `belongs with "size Z", which is not among withs`},
		{"tolerance", `"tolerance": 0.020001`, `"tolerance": -1`, `tolerance is -1`},
		{"no stem", `"stem": "Is it hot?"`, `"stem": " "`, `stem is missing`},
		{"no JSON", `{`, `[`, `byte`},
	} {
		text := strings.ReplaceAll(good, tc.old, tc.new)
		if tc.name == "two at once" {
			text = good + good
		}
		if set, err := ReadJSON(strings.NewReader(text)); err == nil || !strings.Contains(err.Error(), tc.want) || len(set.Questions) > 0 {
			t.Errorf("%s: %d questions, error %v; want %q", tc.name, len(set.Questions), err, tc.want)
		}
	}
}

// TestReadJSONIsBounded: a file that does not end is not read to its end.
func TestReadJSONIsBounded(t *testing.T) {
	t.Parallel()
	if _, err := ReadJSON(endless{}); err == nil || !strings.Contains(err.Error(), "longer than 64 MB") {
		t.Errorf("error %v", err)
	}
}

// endless is one long white space.
type endless struct{}

func (endless) Read(p []byte) (int, error) {
	for i := range p {
		p[i] = ' '
	}

	return len(p), nil
}
