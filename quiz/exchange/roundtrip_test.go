package exchange

import (
	"bytes"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/quiz"
)

// TestImportedItemsScoreAsTheCourseMarks writes questions of every kind as a package,
// reads it, and gives every answer there is to both: QTI scores by the rules of the
// QTI 3.0 information model (ResponseProcessing), the course by quiz.Asked.Mark.
func TestImportedItemsScoreAsTheCourseMarks(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		bank := anyBank(t)
		var refs []Ref
		for _, q := range bank.Questions() {
			for _, seed := range rapid.SliceOfNDistinct(rapid.OneOf(rapid.Uint64Range(0, 9), rapid.Uint64()), 1, 2, rapid.ID).Draw(t, "seeds") {
				refs = append(refs, Ref{q.ID, seed})
			}
		}
		set, err := Pick(bank, refs)
		if err != nil {
			t.Fatal(err)
		}
		o := QTIOptions{Version: rapid.SampledFrom([]string{QTI30, QTI22}).Draw(t, "version")}
		if rapid.Bool().Draw(t, "drawn pictures") {
			o.Draw = drawing
		}
		var file bytes.Buffer
		if err := WriteQTI(&file, set, o); err != nil {
			t.Fatal(err)
		}
		imported, err := Import("q.zip", file.Bytes())
		if err != nil {
			t.Fatal(err)
		}
		if len(imported.Report) > 0 || len(imported.Left) > 0 || len(imported.Items) != len(refs) {
			t.Fatalf("%d of %d items, report %v", len(imported.Items), len(refs), imported.Report)
		}
		for i, ref := range refs {
			q, _ := bank.Question(ref.ID)
			asked, err := q.Ask(ref.Seed)
			if err != nil {
				t.Fatal(err)
			}
			item := &imported.Items[i]
			if item.Kind != q.Kind {
				t.Fatalf("%s is read as %s", q.Kind, item.Kind)
			}
			tried, rights := 0, 0
			for _, answer := range answers(asked, rand.New(rand.NewPCG(ref.Seed, 1))) {
				tried++
				result, err := asked.Mark(answer)
				score, impossible := item.Score(named(t, item, q.Kind, answer))
				right := err == nil && result.Right
				if right {
					rights++
				}
				if impossible != nil && err == nil || (score == 1) != right || score != 0 && score != 1 {
					t.Fatalf("%s %s, answer %q: marked %v, %v; scored %v, %v", item.Identifier, q.Kind, answer, right, err, score, impossible)
				}
			}
			if tried < 4 || rights == 0 || rights == tried {
				t.Fatalf("%s: %d answers, %d of them right: that shows nothing", q.Kind, tried, rights)
			}
			sameWords(t, set.Questions[i], item)
		}
	})
}

// sameWords checks that nothing is lost but runs of spaces.
func sameWords(t *rapid.T, q Question, item *ImportedItem) {
	if !strings.HasPrefix(item.Stem, line(q.Stem)) {
		t.Fatalf("stem %q is read as %q", q.Stem, item.Stem)
	}
	if !strings.Contains(item.Rubric, line(q.Why)) || !strings.Contains(item.Rubric, line(q.key())) {
		t.Fatalf("rubric is %q", item.Rubric)
	}
	for i, o := range q.Options {
		if got := item.Options[i]; got.Text != line(o.Text) || got.Feedback != line(o.Feedback) {
			t.Fatalf("option %+v is read as %+v", o, got)
		}
	}
	said := map[string]ImportedFeedback{}
	for _, f := range item.Feedback {
		said[f.Identifier] = f
	}
	want := func(id, when, text string) {
		if f := said[id]; !strings.HasSuffix(f.When, when) || !strings.Contains(f.Text, line(text)) {
			t.Fatalf("%s: feedback %s is %+v; want %q: %q", q.Kind, id, f, when, text)
		}
	}
	want("WHY", "always", q.Why)
	switch q.Kind {
	case quiz.Number:
		want("RIGHT", "the answer is right", q.Number.Answer.Feedback)
		for i, w := range q.Number.Wrong {
			want(choiceID(i), "the answer is "+decimal(w.Amount), w.Feedback)
		}
	case quiz.Order:
		want("WRONG", "the answer is wrong", q.Mistakes[0].Feedback)
	case quiz.Match:
		for i, m := range q.Mistakes {
			want(mistakeID(i), "the answer has "+choiceID(q.itemIndex(m.Item))+" "+withID(q.withIndex(m.With)), m.Feedback)
		}
	}
}

// named turns an answer of the course into that of QTI, by the words of the item that
// was read.
func named(t *rapid.T, item *ImportedItem, kind string, answer []string) []string {
	id := func(list []ImportedOption, text string) string {
		i := slices.IndexFunc(list, func(o ImportedOption) bool { return o.Text == line(text) })
		if i < 0 {
			t.Fatalf("%q is not among %v", text, list)
		}
		return list[i].Identifier
	}
	var out []string
	for _, a := range answer {
		switch kind {
		case quiz.Number:
			out = append(out, a)
		case quiz.Match:
			left, right, _ := strings.Cut(a, quiz.Arrow)
			out = append(out, id(item.Options, left)+" "+id(item.Withs, right))
		default:
			out = append(out, id(item.Options, a))
		}
	}
	return out
}

// answers gives every answer to a question, impossible ones among them; for a number,
// those around everything that has a name.
func answers(a *quiz.Asked, random *rand.Rand) [][]string {
	shuffle := func(s []string) { random.Shuffle(len(s), func(i, j int) { s[i], s[j] = s[j], s[i] }) }
	var list [][]string
	switch a.Question.Kind {
	case quiz.Choice, quiz.Choices:
		for set := range 1 << len(a.Options) {
			var one []string
			for i, o := range a.Options {
				if set&(1<<i) != 0 {
					one = append(one, o.Text)
				}
			}
			shuffle(one)
			list = append(list, one)
		}
	case quiz.Number:
		amounts := []float64{0, 1000}
		tolerance := a.Question.Tolerance
		for _, f := range append(a.NamedWrong(), a.Answer()) {
			for _, off := range []float64{0, tolerance, tolerance - 5e-6, tolerance + 5e-6, 2 * tolerance, 1} {
				amounts = append(amounts, f.Amount+off, f.Amount-off)
			}
		}
		for _, amount := range amounts {
			// The course keeps altitudes to a hundredth of a foot.
			places := map[string]int{"ft": 2, "jars": 0}
			n, ok := places[a.Question.Unit]
			if !ok {
				n = 7
			}
			list = append(list, []string{strconv.FormatFloat(amount, 'f', n, 64)})
		}
		list = append(list, nil, []string{"soon"}, []string{""}, []string{"NaN"}, []string{"-7"}, []string{"7", "8"})
	case quiz.Order:
		var texts []string
		for _, item := range a.Items {
			texts = append(texts, item.Text)
		}
		permute(texts, 0, func(p []string) { list = append(list, slices.Clone(p)) })
		list = append(list, nil, texts[:2], append(slices.Clone(texts), texts[0]))
	case quiz.Match:
		list = [][]string{{}}
		for _, item := range a.Items {
			var longer [][]string
			for _, before := range list {
				for _, with := range a.Withs {
					longer = append(longer, append(slices.Clone(before), item.Text+quiz.Arrow+with))
				}
			}
			list = longer
		}
		for i := range list {
			shuffle(list[i])
		}
		list = append(list, nil, list[0][:1], append(slices.Clone(list[0]), a.Items[0].Text+quiz.Arrow+a.Withs[1]))
	}
	return list
}

// permute gives every order of texts from place i on.
func permute(texts []string, i int, give func([]string)) {
	if i == len(texts) {
		give(texts)
		return
	}
	for j := i; j < len(texts); j++ {
		texts[i], texts[j] = texts[j], texts[i]
		permute(texts, i+1, give)
		texts[i], texts[j] = texts[j], texts[i]
	}
}
