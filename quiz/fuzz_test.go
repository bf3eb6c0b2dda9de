package quiz

import (
	"errors"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"unicode/utf8"
)

var placed = regexp.MustCompile(`^a\.yaml:\d+:\d+: .`)

// Whatever a file holds, it loads or is told about with its place, and what loads
// can be asked and marked.
func FuzzLoad(f *testing.F) {
	for _, s := range []string{valid, exampleFile(f), marked, templates, digging, sound} {
		f.Add(s)
	}
	for _, s := range []string{
		"", "questions:", "questions: [a]", "questions: [{}]", "questions: [[a]]", "questions:\n- &a {id: x}\n- *a", "- a", "questions: {}", "\x00", "questions:\n- options: [{}]\n",
		"questions: [{kind: number, unit: min, wrong: [{}]}]", "questions: [{kind: order, items: [{}]}]", "questions: [{kind: match, mistakes: [{}]}]", "questions: [{kind: choice, draw: {a: {}}}]",
		"questions: [{kind: choice, draw: {a: [1, 2], a: [1, 2]}, let: {b: {}, c: [a]}, where: [a, b]}]", "questions: [{kind: choice, draw: {? [a] : b}}]", "questions: [{stem: '{{', why: '{{}}', page: '{{ {{ }} }}'}]",
		"questions: [{kind: choice, picture: {}}]", "questions:\n- competencies: ! ", "questions: [{draw: [a], let: a, where: a}]", "a: &a {b: *a}\nquestions: *a", "---\nquestions: [a]\n---\nquestions: [b]\n",
	} {
		f.Add(s)
	}
	options := smallOptions(f)
	f.Fuzz(func(t *testing.T, src string) {
		if len(src) > 1<<13 {
			return // deeper nesting than any file of questions has
		}
		bank, err := Load(folder(src), options)
		if err != nil {
			if !placed.MatchString(err.Error()) || !utf8.ValidString(strings.ToValidUTF8(err.Error(), "")) {
				t.Fatalf("problem without its place: %v", err)
			}
			return
		}
		for _, q := range bank.Questions() {
			for seed := range uint64(tries) {
				a, err := q.Ask(seed)
				if err != nil {
					t.Fatalf("seed %d: %v", seed, err)
				}
				canBeMarked(t, a)
			}
		}
	})
}

// Whatever stands between the braces of a text, it is compiled and written out or
// told about.
func FuzzText(f *testing.F) {
	for _, s := range []string{
		"", "plain", "{{", "}}", "{{}}", "{{{{}}}}", "{{feet}}", "{{inFt(feet)}} and {{jarName(jar)}}", "{{ feet + 1 }}", "{{feet > 5 ? \"a\" : \"b\"}}", "{{feet > 5}}", "{{1/0}}", "{{1/3}}",
		"{{verdict({\"food\": \"peaches\"})}}", "{{finds({\"a\": 1}, \"b\") ? 1.0 : feet}}", "{{minutes(jar, jar, jar, jar, feet)}}", "{{model(\"gauge\", \"temp_f\", \"altitude=\" + jar)}}", "{{\"}}\"}}", "{{number(max(7, feet))}}", "{{name(\"\xff\")}}",
		"{{inTsp(-1)}}", "{{inIn(0.33)}}", "{{inMin(1000000000 * 1000000000)}}", "{{dose(\"tomato-juice\", \"quart\", \"citric-acid\") * 0}}",
	} {
		f.Add(s, 6240.0, "quart")
	}
	l, _ := language(f)
	l = l.With(map[string]any{"feet": 0.0, "jar": ""})
	f.Fuzz(func(t *testing.T, source string, feet float64, jar string) {
		written, err := parseText(source, l)
		if err != nil {
			if err.Error() == "" {
				t.Fatalf("%q: an error that says nothing", source)
			}
			return
		}
		got, err := written.with(values{"feet": feet, "jar": jar})
		if err != nil && err.Error() == "" {
			t.Fatalf("%q: an error that says nothing", source)
		}
		if err == nil && !strings.Contains(source, "{{") && got != source {
			t.Fatalf("%q is written %q", source, got)
		}
	})
}

// Whatever comes from a page's form or from an answer, it is marked, or the learner
// is told what to do.
func FuzzAnswer(f *testing.F) {
	for _, s := range []string{
		"60", "60 min", "0.75 h", "1 h 5", "½", "1 1/2 in", "97 kPa", "an hour", "-1", "1e9", "6 240", "\xff", "1/0", "''", "Not sealed", "1\n2\n3\n4", "4\n4\n4\n4", "0\n-1\n99999999999999999999\n", "1/4 in\n1/2 in\n1/2 in\n1 in", "Fill the jar\nLet the bubbles out\nWipe the rim\nPut the lid on", "Apple butter → 1/4 in\nPeaches → → 1/2 in\n → ",
		"Press the lid\nLook across it\nTap the lid", "\u00a0\u2028", "5 jars", "5s", strings.Repeat("9", 400),
	} {
		f.Add(uint64(0), s)
		f.Add(uint64(7), s)
	}
	questions := slices.Concat(markedBank(f).Questions(), load(f, templates).Questions(), load(f, digging).Questions(), example(f).Questions())
	f.Fuzz(func(t *testing.T, seed uint64, given string) {
		lines := strings.Split(given, "\n")
		for _, q := range questions {
			a, err := q.Ask(seed)
			if err != nil {
				t.Fatal(err)
			}
			fields := map[string][]string{"answer": lines}
			for i, item := range a.Items {
				value := []string{lines[i%len(lines)]}
				fields["place-"+item.Key], fields["with-"+item.Key] = value, value
			}
			fromForm, err := a.Form(fields)
			if err != nil {
				toldWhy(t, a, err)
			} else {
				markedOrTold(t, a, fromForm)
			}
			markedOrTold(t, a, lines)
			markedOrTold(t, a, []string{given})
		}
	})
}

func markedOrTold(t *testing.T, a *Asked, given []string) {
	t.Helper()
	result, err := a.Mark(given)
	if err != nil {
		toldWhy(t, a, err)
		return
	}
	if len(result.Chosen) == 0 || result.Key == "" || result.Why == "" {
		t.Fatalf("%s: Mark(%q) says too little: %+v", a.Question.ID, given, result)
	}
	for _, o := range slices.Concat(result.Chosen, result.Missed) {
		if o.Text == "" || o.Feedback == "" || result.Right && !o.Right {
			t.Fatalf("%s: Mark(%q) = %+v", a.Question.ID, given, result)
		}
	}
	if a.Question.Kind == Number {
		if again, err := a.Mark([]string{strconv.Quote(given[0])}); err == nil {
			t.Fatalf("%s: a number in quotes is read: %+v", a.Question.ID, again)
		}
	}
}

func toldWhy(t *testing.T, a *Asked, err error) {
	t.Helper()
	var cannot *AnswerError
	if !errors.As(err, &cannot) || cannot.Reason == "" || cannot.Question != a.Question.ID || strings.Contains(cannot.Reason, "%!") {
		t.Fatalf("%s: %#v", a.Question.ID, err)
	}
}
