package lessons

import (
	"strings"
	"testing"
)

// TestEverydayWordsAreSingle: the search takes a question apart into words, so a
// phrase in the list would never be found. The loader says where it stands.
func TestEverydayWordsAreSingle(t *testing.T) {
	t.Parallel()
	good := "questions: []\neveryday:\n  - {say: ring, mean: [band, tap]}\n"
	f, err := parseFinder([]byte(good))
	if err != nil || len(f.Everyday) != 1 || f.Everyday[0].Say != "ring" {
		t.Fatalf("%+v, %v", f, err)
	}
	for line, want := range map[string]string{
		"{say: water bath, mean: [canner]}":       `find.yaml:4: the everyday word "water bath" is looked for word by word: "water bath" must be one word in small letters`,
		"{say: bath, mean: [boiling water, pot]}": `find.yaml:4: the everyday word "bath" is looked for word by word: "boiling water" must be one word in small letters`,
		"{say: Mould, mean: [mold]}":              `find.yaml:4: the everyday word "Mould" is looked for word by word: "Mould" must be one word in small letters`,
		"{say: ring, mean: [band]}":               `find.yaml:4: the everyday word "ring" stands twice`,
		"{say: cap}":                              `find.yaml:4: the everyday word "cap" needs mean, a list of words`,
		`{say: "", mean: [band]}`:                 `find.yaml:4: the everyday word "" is looked for word by word: "" must be one word in small letters`,
	} {
		if _, err := parseFinder([]byte(good + "  - " + line + "\n")); err == nil || err.Error() != want {
			t.Errorf("%s: %v\nwant %s", line, err, want)
		}
	}
	if _, err := parseFinder([]byte(good + "  - {say: cap, means: [lid]}\n")); err == nil || !strings.Contains(err.Error(), "means") {
		t.Errorf("an unknown key: %v", err)
	}
}
