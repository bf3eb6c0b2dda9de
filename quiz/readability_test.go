package quiz

import (
	"math"
	"testing"
)

func TestGrade(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		text                        string
		words, sentences, syllables int
		want                        float64
	}{
		// Counts from the article on the tests in a general encyclopedia.
		{"The Australian platypus is seemingly a hybrid of a mammal and reptilian creature.", 13, 1, 24, 11.26},
		// The lowest grade there is: sentences of one word of one syllable.
		{"Boil. Wait. Lift.", 3, 3, 3, -3.40},
		{"Is it full? It is", 5, 2, 5, -2.82},
		// A figure is one word of one syllable, and its point ends no sentence.
		{"Wait 3.5 min at 6\u00a0240 ft. Then lift.", 8, 2, 8, -2.23},
		{"Use 1/2 in (13 mm).", 5, 1, 5, -1.84},
		{"", 0, 0, 0, 0},
	} {
		words, sentences, syllables := tally(test.text)
		if words != test.words || sentences != test.sentences || syllables != test.syllables {
			t.Errorf("tally(%q) = %d words, %d sentences, %d syllables; want %d, %d, %d", test.text, words, sentences, syllables, test.words, test.sentences, test.syllables)
		}
		if got := grade(test.text); math.Abs(got-test.want) > 0.006 {
			t.Errorf("grade(%q) = %.3f, want %.2f", test.text, got, test.want)
		}
	}
}

// The counts are a dictionary's.
func TestSyllables(t *testing.T) {
	t.Parallel()
	for word, want := range map[string]int{
		"jar": 1, "time": 1, "quart": 1, "boil": 1, "the": 1, "be": 1, "packed": 1, "filled": 1, "times": 1, "cleaned": 1, "jars": 1, "sealed": 1,
		"pressure": 2, "water": 2, "table": 2, "little": 2, "started": 2, "inches": 2, "needed": 2, "whole": 1, "syrup": 2, "gauges": 2, "peaches": 2, "band's": 1, "handles": 2,
		"tomato": 3, "headspace": 2, "full-boil": 2, "altitude": 3, "canner": 2, "tested": 2, "lemon": 2, "refrigerate": 4, "botulism": 3, "6240": 1, "1/2": 1,
	} {
		if got := syllablesIn(word); got != want {
			t.Errorf("syllablesIn(%q) = %d, want %d", word, got, want)
		}
	}
}
