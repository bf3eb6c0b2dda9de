package quiz

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"

	"github.com/goccy/go-yaml"

	"rollingboil/scenarios/process"
)

// looks is how many seeds of a question are looked at here; [Bank.Check] looks over
// all draws.
const looks = 25

// everyAsked asks each question of the shipped bank a few times, those that draw
// nothing once.
func everyAsked(t testing.TB) []*Asked {
	t.Helper()
	list, err := askEvery()
	if err != nil {
		t.Fatal(err)
	}
	return list
}

var askEvery = sync.OnceValues(func() ([]*Asked, error) {
	bank, err := loadShipped()
	if err != nil {
		return nil, err
	}
	var list []*Asked
	for _, q := range bank.Questions() {
		for seed := range uint64(looks) {
			if seed > 0 && !q.Variants() {
				break
			}
			a, err := q.Ask(seed)
			if err != nil {
				return nil, err
			}
			list = append(list, a)
		}
	}
	return list, nil
})

func TestShippedBank(t *testing.T) {
	t.Parallel()
	if err := shipped(t).Check(); err != nil {
		t.Error(err)
	}
	for _, a := range everyAsked(t) {
		canBeMarked(t, a)
		for _, o := range a.Options {
			result, err := a.Mark([]string{o.Text})
			if err != nil || !slices.Equal(result.Chosen, []Option{o}) {
				t.Errorf("%s, %s: chose %q, got %+v, %v", a.Question.ID, a.Drawn, o.Text, result.Chosen, err)
			}
		}
		for _, w := range a.wrong {
			typed := a.Question.form.quantity.typed(w.amount, a.Question.form.size, a.Question.Unit)
			result, err := a.Mark([]string{typed})
			if err != nil || result.Right || result.Chosen[0].Misconception != w.misconception || result.Chosen[0].Feedback != w.feedback {
				t.Errorf("%s, %s: wrong number %s marked as %+v, %v", a.Question.ID, a.Drawn, typed, result, err)
			}
		}
	}
}

// line is one text that a learner reads in the bank.
type line struct {
	question, name, text string
	refutes              bool // it is said to a wrong answer
}

// everyLine lists the texts of all questions: as they are asked, and those of
// questions that need the grader as they are written, with a time for each figure.
func everyLine(t testing.TB) []line {
	t.Helper()
	var list []line
	for _, a := range everyAsked(t) {
		add := func(name, text string, refutes bool) {
			list = append(list, line{a.Question.ID, name, text, refutes})
		}
		add("stem", a.Stem, false)
		add("why", a.Why, false)
		add("answer", a.answer.feedback, false)
		for _, o := range a.Options {
			add("option", o.Text, false)
			add("feedback", o.Feedback, !o.Right)
		}
		for _, i := range a.Items {
			add("item", i.Text, false)
			add("with", i.With, false)
			add("feedback", i.Feedback, false)
		}
		for _, w := range a.wrong {
			add("wrong", w.feedback, true)
		}
		for _, m := range a.mistakes {
			add("mistake", m.feedback, true)
		}
	}
	names, err := fs.Glob(Shipped(), "*.yaml")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range names {
		src, err := fs.ReadFile(Shipped(), name)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(src, []byte("verdict(")) || bytes.Contains(src, []byte("finds(")) {
			list = append(list, written(t, src)...)
		}
	}
	return list
}

var (
	computed = regexp.MustCompile(`{{.*?}}`)
	chosen   = regexp.MustCompile(`[?:] "([^"]*)"`)
)

// readings are the ways a text that is computed can read: each text that it chooses
// among, and a time for a figure.
func readings(text string) []string {
	var all []string
	for n, most := 0, 1; n < most; n++ {
		all = append(all, computed.ReplaceAllStringFunc(text, func(expression string) string {
			texts := chosen.FindAllStringSubmatch(expression, -1)
			if len(texts) == 0 {
				return "5 min"
			}
			most = max(most, len(texts))
			return texts[n%len(texts)][1]
		}))
	}
	return all
}

// written lists the texts of a file.
func written(t testing.TB, src []byte) []line {
	t.Helper()
	var file struct {
		Questions []Question `yaml:"questions"`
	}
	if err := yaml.Unmarshal(src, &file); err != nil {
		t.Fatal(err)
	}
	var list []line
	for _, q := range file.Questions {
		add := func(name, text string, refutes bool) {
			for _, reading := range readings(text) {
				list = append(list, line{q.ID, name, reading, refutes})
			}
		}
		add("stem", q.Stem, false)
		add("why", q.Why, false)
		add("answer", q.Answer.Feedback, false)
		for _, o := range q.Options {
			add("option", o.Text, false)
			add("feedback", o.Feedback, !o.Right)
		}
		for _, i := range q.Items {
			add("item", i.Text, false)
			add("with", i.With, false)
			add("feedback", i.Feedback, false)
		}
		for _, w := range q.Wrong {
			add("wrong", w.Feedback, true)
		}
		for _, m := range q.Mistakes {
			add("mistake", m.Feedback, true)
		}
	}
	return list
}

func TestWrongAnswersAreRefutedInThreeParts(t *testing.T) {
	t.Parallel()
	denial := regexp.MustCompile(`(?i)\b(no|not|cannot|neither|never)\b|^(it|they|you) (do|does|has|have|is|are|can|will)$`)
	for _, l := range everyLine(t) {
		if !l.refutes {
			continue
		}
		if !strings.HasPrefix(l.text, "You may think ") {
			t.Errorf("%s: the belief does not come first in %q", l.question, l.text)
		}
		_, rest, _ := strings.Cut(l.text, ". ")
		first, truth, ok := strings.Cut(rest, ". ")
		if !ok || truth == "" || !denial.MatchString(first) {
			t.Errorf("%s: want the belief, that it is not so, and what is true in %q", l.question, l.text)
		}
	}
}

var (
	forbidden = regexp.MustCompile(`(?i)!|\bsafe(ly|ty|r|st)?\b|guarante|certif|\bthousand,\d|\d,\d\d\d|\bdiscolour|\bcentre\b|\bcolour`)
	feet      = regexp.MustCompile(`\d+ ft\b( \()?`)
)

func TestVoice(t *testing.T) {
	t.Parallel()
	for _, l := range everyLine(t) {
		if found := forbidden.FindString(l.text); found != "" {
			t.Errorf("%s, %s: %q in %q", l.question, l.name, found, l.text)
		}
		if g := grade(l.text); g > highestGrade {
			t.Errorf("%s, %s: reading grade %.1f, want at most %d: %q", l.question, l.name, g, highestGrade, l.text)
		}
		if l.name == "stem" || l.name == "why" {
			continue // a table in a stem is in feet throughout
		}
		for _, match := range feet.FindAllString(l.text, -1) {
			if !strings.HasSuffix(match, "(") {
				t.Errorf("%s, %s: %q without meters in %q", l.question, l.name, match, l.text)
			}
		}
	}
}

// The stems of two questions print a part of the process table for the learner
// to read from. It has to be the table.
func TestTablesInStems(t *testing.T) {
	t.Parallel()
	bank, table := shipped(t), courseOptions(t).Table
	figures := func(method, gauge, pack, food, jar string, figure func(process.Row) int) (list []string) {
		for _, line := range table.Lines(food) {
			if line.Method != method || line.Gauge != gauge || line.Pack != pack || line.Jar != jar {
				continue
			}
			for _, row := range line.Bands {
				list = append(list, fmt.Sprint(figure(row)))
			}
		}
		return list
	}
	minutes := func(r process.Row) int { return r.Minutes }
	psi := func(r process.Row) int { return r.PSI }
	inWords := func(list []string, unit string) string {
		return strings.Join(list[:3], ", ") + " and " + list[3] + " " + unit
	}
	for _, test := range []struct{ id, part string }{
		{"altitude-2", "Pints get " + inWords(figures("boiling-water", "", "hot", "tomatoes-crushed", "pint", minutes), "min")},
		{"altitude-2", "Quarts get " + inWords(figures("boiling-water", "", "hot", "tomatoes-crushed", "quart", minutes), "min")},
		{"altitude-4", "The pressures are " + inWords(figures("pressure", "dial", "raw", "snap-beans", "pint", psi), "psi")},
	} {
		if stem := ask(t, question(t, bank, test.id), 0).Stem; !strings.Contains(stem, test.part) {
			t.Errorf("%s does not say %q: %q", test.id, test.part, stem)
		}
	}
}

// The list of misconceptions is shown to learners next to the questions.
func TestMisconceptions(t *testing.T) {
	t.Parallel()
	src, err := os.ReadFile("../scenarios/ruleset/misconceptions.yaml")
	if err != nil {
		t.Fatal(err)
	}
	var file struct {
		Misconceptions []struct {
			ID     string `yaml:"id"`
			Belief string `yaml:"belief"`
			Not    string `yaml:"not"`
			Truth  string `yaml:"truth"`
			Lesson string `yaml:"lesson"`
			Source string `yaml:"source"`
		} `yaml:"misconceptions"`
	}
	if err := yaml.UnmarshalWithOptions(src, &file, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	options := courseOptions(t)
	seen := map[string]bool{}
	for _, m := range file.Misconceptions {
		if seen[m.ID] {
			t.Errorf("%s stands twice", m.ID)
		}
		seen[m.ID] = true
		for _, part := range []struct {
			name, text string
			most       int // sentences
		}{{"belief", m.Belief, 1}, {"not", m.Not, 1}, {"truth", m.Truth, 3}} {
			_, sentences, _ := tally(part.text)
			if sentences == 0 || sentences > part.most {
				t.Errorf("%s: %s has %d sentences, want 1 to %d", m.ID, part.name, sentences, part.most)
			}
			if g := grade(part.text); g > highestGrade {
				t.Errorf("%s: %s has reading grade %.1f: %q", m.ID, part.name, g, part.text)
			}
			if found := forbidden.FindString(part.text); found != "" && part.name != "belief" {
				t.Errorf("%s: %q in %s", m.ID, found, part.name)
			}
		}
		if !slices.Contains(options.Lessons, m.Lesson) {
			t.Errorf("%s: no lesson %q", m.ID, m.Lesson)
		}
		if !slices.Contains(options.Sources, m.Source) {
			t.Errorf("%s: no source %q", m.ID, m.Source)
		}
	}
}
