package quiz

import (
	"fmt"
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/goccy/go-yaml"

	"rollingboil/scenarios/process"
)

// TestEachLessonHasItsQuestions: four or five for each lesson, numbered from 1.
func TestEachLessonHasItsQuestions(t *testing.T) {
	t.Parallel()
	bank := shipped(t)
	total := 0
	for _, lesson := range courseOptions(t).Lessons {
		questions := bank.Lesson(lesson)
		total += len(questions)
		if len(questions) < 4 || len(questions) > 5 {
			t.Errorf("%s has %d questions, want 4 or 5", lesson, len(questions))
		}
		for n, q := range questions {
			if want := fmt.Sprintf("%s-%d", lesson, n+1); q.ID != want {
				t.Errorf("%s: question %q, want %q", lesson, q.ID, want)
			}
		}
	}
	if got := len(bank.Questions()); got != total {
		t.Errorf("%d questions, of which %d belong to a lesson", got, total)
	}
}

func TestKindsInEachLesson(t *testing.T) {
	t.Parallel()
	bank := shipped(t)
	for lesson, kind := range map[string]string{"altitude": Number, "headspace": Number, "liquid-loss": Choices, "testing-seals": Choices} {
		if !slices.ContainsFunc(bank.Lesson(lesson), func(q *Question) bool { return q.Kind == kind }) {
			t.Errorf("%s has no question of kind %s", lesson, kind)
		}
	}
}

// A learner who knows nothing must not find the right option by its length or
// its place.
func TestRightOptionDoesNotStandOut(t *testing.T) {
	t.Parallel()
	bank := shipped(t)
	for _, lesson := range courseOptions(t).Lessons {
		places, shortestRight := map[int]bool{}, 0
		for _, q := range bank.Lesson(lesson) {
			if q.Kind == Number {
				continue
			}
			if n := len(q.Options); n < 3 || n > 4 {
				t.Errorf("%s has %d options, want 3 or 4", q.ID, n)
			}
			length := func(o Option) int { return utf8.RuneCountInString(o.Text) }
			byLength := func(a, b Option) int { return length(a) - length(b) }
			if q.Kind == Choice {
				if slices.MaxFunc(q.Options, byLength).Right {
					t.Errorf("%s: the right option is the longest", q.ID)
				}
				if slices.MinFunc(q.Options, byLength).Right {
					shortestRight++
				}
				places[slices.IndexFunc(q.Options, func(o Option) bool { return o.Right })] = true
			}
		}
		if shortestRight > 1 {
			t.Errorf("%s: the right option is the shortest in %d questions, want at most 1", lesson, shortestRight)
		}
		if len(places) < 3 {
			t.Errorf("%s: the right options are in %d different places, want 3", lesson, len(places))
		}
	}
}

// texts lists what a learner reads of a question, with a name for each text.
func texts(q *Question) map[string]string {
	all := map[string]string{"stem": q.Stem, "why": q.Why, "answer": q.Answer.Feedback}
	for i, o := range q.Options {
		all[fmt.Sprintf("option %d", i+1)] = o.Text
		all[fmt.Sprintf("feedback %d", i+1)] = o.Feedback
	}
	for i, w := range q.Wrong {
		all[fmt.Sprintf("wrong %d", i+1)] = w.Feedback
	}
	return all
}

func TestWrongOptionsAreRefutedInThreeParts(t *testing.T) {
	t.Parallel()
	denial := regexp.MustCompile(`(?i)\b(not|cannot|neither)\b`)
	check := func(id, feedback string) {
		t.Helper()
		if !strings.HasPrefix(feedback, "You may think ") {
			t.Errorf("%s: the belief does not come first in %q", id, feedback)
		}
		_, rest, _ := strings.Cut(feedback, ". ")
		first, truth, ok := strings.Cut(rest, ". ")
		if !ok || truth == "" || !(denial.MatchString(first) || first == "It has") {
			t.Errorf("%s: want the belief, that it is not so, and what is true in %q", id, feedback)
		}
	}
	for _, q := range shipped(t).Questions() {
		for _, o := range q.Options {
			if !o.Right {
				check(q.ID, o.Feedback)
			}
		}
		for _, w := range q.Wrong {
			check(q.ID, w.Feedback)
		}
	}
}

var (
	forbidden = regexp.MustCompile(`(?i)!|\bsafe(ly|ty|r|st)?\b|guarante|certif|\bthousand,\d|\d,\d\d\d|\bdiscolour|\bcentre\b|\bcolour`)
	feet      = regexp.MustCompile(`\d+ ft\b( \()?`)
)

func TestVoice(t *testing.T) {
	t.Parallel()
	for _, q := range shipped(t).Questions() {
		for name, text := range texts(q) {
			if found := forbidden.FindString(text); found != "" {
				t.Errorf("%s, %s: %q in %q", q.ID, name, found, text)
			}
			if g := grade(text); g > highestGrade {
				t.Errorf("%s, %s: reading grade %.1f, want at most %d: %q", q.ID, name, g, highestGrade, text)
			}
			if name == "stem" || name == "why" {
				continue // a table in a stem is in feet throughout
			}
			for _, match := range feet.FindAllString(text, -1) {
				if !strings.HasSuffix(match, "(") {
					t.Errorf("%s, %s: %q without meters in %q", q.ID, name, match, text)
				}
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
		// The last word of the first three is followed by "and", not by a comma.
		part := strings.Replace(test.part, ", and", " and", 1)
		if stem := question(t, bank, test.id).Stem; !strings.Contains(stem, part) {
			t.Errorf("%s does not say %q: %q", test.id, part, stem)
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
			_, sentences, _ := count(part.text)
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
