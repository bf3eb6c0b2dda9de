package store

import (
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func newIndex(t testing.TB, documents ...Document) *Index {
	t.Helper()
	x, err := NewIndex(t.Context(), documents)
	if err != nil {
		t.Fatal(err)
	}
	return x
}

var shelf = []Document{
	{"Lesson", "How full is full?", "/a", "Headspace is the room under the lid. It is filled to the line."},
	{"Lesson", "Where did the liquid go?", "/b", "Too little headspace pushes liquid out. Headspaces differ."},
	{"Glossary", "Headspace", "/c", "The space between the food and the lid."},
	{"Rule", "Acid left out", "/d", "A spoon of bottled lemon juice in every jar."},
}

// TestIndexFinds: words are found in any form (Porter, 1980: headspaces and headspace
// have one stem), and a title weighs more than a text.
func TestIndexFinds(t *testing.T) {
	t.Parallel()
	x := newIndex(t, shelf...)
	for _, test := range []struct {
		words [][]string
		want  string
	}{
		{[][]string{{"headspace"}}, "/c /b /a"},
		{[][]string{{"headspaces"}}, "/c /b /a"},
		{[][]string{{"headspace"}, {"liquid"}}, "/b"},
		{[][]string{{"siphon", "liquid"}}, "/b"},
		{[][]string{{"lem"}}, "/d"},
		{[][]string{{"nothing"}}, ""},
		{nil, ""},
	} {
		found, err := x.Find(t.Context(), test.words, 10)
		if err != nil {
			t.Fatal(err)
		}
		var paths []string
		for _, f := range found {
			paths = append(paths, f.Path)
		}
		if got := strings.Join(paths, " "); got != test.want {
			t.Errorf("%v finds %q, want %q", test.words, got, test.want)
		}
	}
	found, err := x.Find(t.Context(), [][]string{{"lemon"}}, 10)
	if err != nil || len(found) != 1 || !strings.Contains(found[0].Around, MarkOpen+"lemon"+MarkClose) {
		t.Errorf("%+v, %v; want lemon marked", found, err)
	}
	if found, err = x.Find(t.Context(), [][]string{{"headspace"}}, 1); err != nil || len(found) != 1 {
		t.Errorf("%d found, %v; want one at most", len(found), err)
	}
}

// TestIndexTakesAnyWord: whatever a word holds, it is looked for and not obeyed.
func TestIndexTakesAnyWord(t *testing.T) {
	t.Parallel()
	x := newIndex(t, shelf...)
	rapid.Check(t, func(t *rapid.T) {
		words := rapid.SliceOfN(rapid.SliceOfN(rapid.String(), 1, 3), 0, 4).Draw(t, "words")
		if _, err := x.Find(t.Context(), words, 5); err != nil {
			t.Errorf("%q: %v", words, err)
		}
	})
}
