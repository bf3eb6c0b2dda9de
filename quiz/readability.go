package quiz

import "strings"

// highestGrade is the reading grade a question may have. Learners read at a
// table with wet hands; grade 8 is the end of lower secondary school.
const highestGrade = 8

// grade is the Flesch-Kincaid grade level of a text: the school year, in the
// United States, whose pupils can read it. Formula from Kincaid, Fishburne,
// Rogers and Chissom, Derivation of New Readability Formulas, Naval Technical
// Training Command, Research Branch Report 8-75, 1975.
func grade(text string) float64 {
	words, sentences, syllables := tally(text)
	if words == 0 {
		return 0
	}
	return 0.39*float64(words)/float64(sentences) + 11.8*float64(syllables)/float64(words) - 15.59
}

// tally counts the words, sentences and syllables of a text. A figure such as
// "6 240" or "1/2" is a word of one syllable. A full stop ends a sentence when
// it ends a word, so "3.5" and "p. 4" inside a line count as they are written;
// texts without any stop are one sentence.
func tally(text string) (words, sentences, syllables int) {
	open := false
	for _, token := range strings.FieldsFunc(text, func(c rune) bool { return c == ' ' || c == '\n' || c == '\t' }) {
		if strings.ContainsFunc(token, isLetterOrDigit) {
			words++
			syllables += syllablesIn(token)
			open = true
		}
		if open && strings.ContainsAny(token[len(token)-1:], ".?!") {
			sentences++
			open = false
		}
	}
	if open {
		sentences++
	}
	return words, sentences, syllables
}

func isLetterOrDigit(c rune) bool {
	return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' || c >= '0' && c <= '9'
}

// syllablesIn counts the groups of vowels in a word, without a silent e at its
// end and the silent e of -ed and -es. It is a rule of thumb: about one word in
// ten is one syllable off.
func syllablesIn(word string) int {
	word = strings.ToLower(strings.TrimFunc(word, func(c rune) bool { return !isLetterOrDigit(c) }))
	total := 0
	for _, part := range strings.Split(word, "-") {
		total += max(1, vowelGroups(part)-silentEnding(part))
	}
	return total
}

func vowelGroups(word string) int {
	groups := 0
	vowelBefore := false
	for _, c := range word {
		vowel := strings.ContainsRune("aeiouy", c)
		if vowel && !vowelBefore {
			groups++
		}
		vowelBefore = vowel
	}
	return groups
}

// silentEnding is 1 for a word whose last e is not spoken: time, filled, times;
// not for little, started or jar sizes such as inches.
func silentEnding(word string) int {
	stem, e := strings.CutSuffix(word, "e")
	ended, ed := strings.CutSuffix(word, "ed")
	plural, es := strings.CutSuffix(word, "es")
	switch {
	case e && !endsInAny(stem, "aeiouy") && !endsInConsonantL(stem):
		return 1
	case ed && !endsInAny(ended, "dtaeiouy"):
		return 1
	case es && !endsInAny(plural, "aeiouycgszx") && !strings.HasSuffix(plural, "ch") && !strings.HasSuffix(plural, "sh") && !endsInConsonantL(plural):
		return 1
	}
	return 0
}

// endsInConsonantL finds little, handle, table, whose last e is spoken.
func endsInConsonantL(stem string) bool {
	before, ok := strings.CutSuffix(stem, "l")
	return ok && before != "" && !endsInAny(before, "aeiouyl")
}

func endsInAny(word, letters string) bool {
	return word != "" && strings.ContainsAny(word[len(word)-1:], letters)
}
