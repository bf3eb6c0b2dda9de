package exchange

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"
	"testing/fstest"

	"pgregory.net/rapid"

	"rollingboil/quiz"
)

// entry is one key of a question's YAML, or of a part of it. JSON is YAML, too.
type entry = map[string]any

// loadBank loads questions of lesson a.
func loadBank(t interface{ Fatalf(string, ...any) }, questions []entry) *quiz.Bank {
	src, err := json.Marshal(entry{"questions": questions})
	if err != nil {
		t.Fatalf("%v", err)
	}
	bank, err := quiz.Load(fstest.MapFS{"a.yaml": {Data: src}}, quiz.Options{Facts: map[string]string{"one": "1 minute", "half": "1/2 in"}})
	if err != nil {
		t.Fatalf("load %s:\n%v", src, err)
	}
	return bank
}

// awkward are words that are something else in XML, Markdown, a spreadsheet, or xAPI.
var awkward = []string{
	"<b>", "&amp;", "&", "]]>", "<!--", `"so"`, "it's", "=1+1", "+1", "-2", "@sum", "# top", "[here](there)", "![x](y)", "`code`", "*bold*", "_low_", "1. one", "- dash",
	"www.example.org", "https://example.org/x", "a@example.org", "½", "±", "水", "é", "😀", "a[,]b", "x[.]y", "|", "~~", `\`, "<script>", "%41", "; x", "$x$",
}

// phrase draws a text of short words. The tail makes it differ from others.
func phrase(t *rapid.T, tail string) string {
	words := rapid.SliceOfN(rapid.SampledFrom(append([]string{"The", "jar", "is", "hot", "food", "lid", "and", "so"}, awkward...)), 1, 5).Draw(t, "words")
	return strings.Join(words, " ") + " " + tail
}

// easy sentences keep a stem with any words in it at the grade that quiz.Load wants.
const easy = "It is hot. We go on. It is so. Is it so? We do not. Go on so. It is hot. We go on. It is so. Is it so? "

// number draws a whole number.
func number(t *rapid.T, from, to int) int { return rapid.IntRange(from, to).Draw(t, "n") }

// question draws a question of a kind, with or without something drawn in it.
func question(t *rapid.T, id, kind string) entry {
	q := entry{
		"id": id, "lesson": "a", "competencies": []string{"acidity", "headspace"}, "kind": kind, "stem": easy + phrase(t, "What now?"),
		"why": phrase(t, "so."), "source": []string{"s-1", "s-2"}, "page": "p. " + phrase(t, "3-5"),
	}
	shown := ""
	if drawn := rapid.Bool().Draw(t, "drawn"); drawn {
		q["draw"] = entry{"x": entry{"from": 1, "to": 20, "step": 1}}
		shown = " {{number(x)}}"
		q["stem"] = easy + phrase(t, "How is it with {{number(x)}} of them?")
	}
	switch kind {
	case quiz.Choice, quiz.Choices:
		wrong, right := number(t, 2, 3), 1
		if kind == quiz.Choices {
			right = number(t, 1, 3)
		}
		var options []entry
		for i := range wrong {
			options = append(options, entry{"text": phrase(t, fmt.Sprintf("no %d", i)) + shown, "feedback": phrase(t, "no."), "misconception": fmt.Sprintf("m-%d", i)})
		}
		for i := range right {
			options = append(options, entry{"text": phrase(t, fmt.Sprintf("yes %d", i)) + shown, "right": true, "feedback": phrase(t, "yes.")})
		}
		q["options"] = rapid.Permutation(options).Draw(t, "options")
	case quiz.Number:
		q["unit"] = rapid.SampledFrom([]string{"min", "h", "psi", "tsp", "tbsp", "in", "°F", "ft", "inHg", "%", "jars"}).Draw(t, "unit")
		q["tolerance"] = rapid.SampledFrom([]float64{0, 0.02, 0.1, 0.5}).Draw(t, "tolerance")
		base := fmt.Sprintf(`factFrom("one") * %d`, number(t, 4, 9)) // answers are looked up
		if shown != "" {
			base = "x + " + base
		}
		q["answer"] = entry{"is": base, "feedback": phrase(t, "yes.")}
		q["wrong"] = []entry{
			{"is": base + " + 2", "feedback": phrase(t, "no."), "misconception": "m-1"},
			{"is": base + " - 3", "feedback": phrase(t, "no."), "misconception": "m-2"},
		}
	case quiz.Order:
		var items []entry
		for i := range number(t, 3, 5) {
			items = append(items, entry{"key": string(rune('a' + i)), "text": phrase(t, fmt.Sprint("step ", i)) + shown, "feedback": phrase(t, "so.")})
		}
		q["items"] = items
		q["mistakes"] = []entry{{"early": "b", "late": "a", "feedback": phrase(t, "no."), "misconception": "m-1"}, {"early": "c", "late": "b", "feedback": phrase(t, "no."), "misconception": "m-2"}}
	case quiz.Match:
		withs := []string{phrase(t, "w 0"), phrase(t, "w 1"), phrase(t, "w 2"), phrase(t, "w 3")}
		var items []entry
		for i := range number(t, 3, 4) {
			items = append(items, entry{"key": string(rune('a' + i)), "text": phrase(t, fmt.Sprint("item ", i)) + shown, "with": withs[min(i, 2)], "feedback": phrase(t, "so.")})
		}
		q["items"] = items
		q["spare"] = []string{withs[3]}
		q["mistakes"] = []entry{{"item": "a", "with": withs[1], "feedback": phrase(t, "no."), "misconception": "m-1"}, {"item": "a", "with": withs[3], "feedback": phrase(t, "no."), "misconception": "m-2"}}
	}
	if rapid.IntRange(0, 3).Draw(t, "picture") == 0 {
		q["picture"] = entry{"jar": "quart", "headspace": "1/2 in", "liquid": "third-down", "lid": "domed", "bubbles": true, "layers": rapid.Bool().Draw(t, "layers")}
	}
	return q
}

var allKinds = []string{quiz.Choice, quiz.Choices, quiz.Number, quiz.Order, quiz.Match}

// anyBank draws a bank with a question of every kind.
func anyBank(t *rapid.T) *quiz.Bank {
	var list []entry
	for i, kind := range allKinds {
		list = append(list, question(t, fmt.Sprintf("a-%d", i+1), kind))
	}
	return loadBank(t, list)
}

// sampleBank is a bank of this many questions, of all kinds, always the same.
func sampleBank(t testing.TB, count int) *quiz.Bank {
	t.Helper()
	gen := rapid.Custom(func(t *rapid.T) []entry {
		var list []entry
		for i := range count {
			list = append(list, question(t, fmt.Sprintf("a-%d", i+1), allKinds[i%len(allKinds)]))
		}
		return list
	})
	return loadBank(t, gen.Example(1))
}

// sampleSet is a set with every kind, of three variants where anything is drawn.
func sampleSet(t testing.TB) Set {
	t.Helper()
	set, err := Variants(sampleBank(t, 10).Questions(), DefaultVariants)
	if err != nil {
		t.Fatal(err)
	}
	set.Title = "A <title> & more"
	return set
}

// drawing draws any picture.
func drawing(p Picture) (svg []byte, alt string, err error) {
	return []byte(`<svg xmlns="http://www.w3.org/2000/svg"><title>` + escaped(p.Says) + `</title></svg>`), p.Says, nil
}
