package exchange

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"rollingboil/quiz"
)

var noon = time.Date(2026, 8, 20, 12, 0, 0, 0, time.UTC)

func publisher(t testing.TB) *Publisher {
	t.Helper()
	p, err := NewPublisher("https://class.example")
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestAnswersAreValidStatements makes a statement of every answer to questions of every
// kind. It must be valid, and its response must be among the key's patterns just when
// the answer was right (xAPI 1.0.3 Data, section 2.4.4.1).
func TestAnswersAreValidStatements(t *testing.T) {
	t.Parallel()
	p := publisher(t)
	types := map[string]string{quiz.Choice: "choice", quiz.Choices: "choice", quiz.Number: "numeric", quiz.Order: "sequencing", quiz.Match: "matching"}
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		for _, q := range anyBank(t).Questions() {
			asked, err := q.Ask(seed)
			if err != nil {
				t.Fatal(err)
			}
			key := asked.Key()
			given := rapid.Permutation(key).Draw(t, "given")
			if q.Kind == quiz.Choices && rapid.Bool().Draw(t, "more") {
				given = append(given, asked.Options[0].Text)
			}
			result, err := asked.Mark(given)
			if err != nil {
				t.Fatal(err)
			}
			s, err := p.Answered(Answer{Learner: "l-1", Question: q.ID, Seed: seed, Lesson: "a", Sitting: "s-1", Asked: asked, Given: given, Right: result.Right, Misconceptions: result.Misconceptions(), At: noon, Took: time.Second})
			if err != nil {
				t.Fatal(err)
			}
			d := s.Object.Definition
			if d.InteractionType != types[q.Kind] || s.Verb.ID != "http://adlnet.gov/expapi/verbs/answered" {
				t.Fatalf("%s: %+v", q.Kind, s)
			}
			if fits := matchesPattern(d.InteractionType, s.Result.Response, d.CorrectResponsesPattern[0]); fits != result.Right || *s.Result.Success != result.Right {
				t.Fatalf("%s: response %q, pattern %q, right %v", q.Kind, s.Result.Response, d.CorrectResponsesPattern, result.Right)
			}
		}
	})
}

// matchesPattern compares as the specification says: choices and pairs in any order,
// sequences in theirs, numbers by value or range.
func matchesPattern(kind, response, pattern string) bool {
	given, want := strings.Split(response, "[,]"), strings.Split(pattern, "[,]")
	switch kind {
	case "choice", "matching":
		slices.Sort(given)
		slices.Sort(want)
	case "numeric":
		low, high, isRange := strings.Cut(pattern, "[:]")
		if !isRange {
			high = low
		}
		v, _ := parseFloat(response)
		l, _ := parseFloat(low)
		h, _ := parseFloat(high)
		return l <= v && v <= h
	}
	return slices.Equal(given, want)
}

// TestResponses: the delimiters of xAPI 1.0.3 Data, section 2.4.4.1, for known answers.
func TestResponses(t *testing.T) {
	t.Parallel()
	bank := loadBank(t, []entry{
		{"id": "a-1", "lesson": "a", "competencies": []string{"acidity"}, "kind": "choices", "stem": "Is it hot?", "why": "So.", "source": []string{"s"}, "page": "p. 1", "options": []entry{
			{"text": "Hot", "right": true, "feedback": "Yes."}, {"text": "Cold", "feedback": "No.", "misconception": "m"}, {"text": "Wet", "right": true, "feedback": "Yes."},
		}},
		{"id": "a-2", "lesson": "a", "competencies": []string{"acidity"}, "kind": "number", "stem": "How hot?", "why": "So.", "source": []string{"s"}, "page": "p. 1", "unit": "in", "tolerance": 0.02, "answer": entry{"is": `factFrom("half")`, "feedback": "Yes."}},
		{"id": "a-3", "lesson": "a", "competencies": []string{"acidity"}, "kind": "match", "stem": "Which?", "why": "So.", "source": []string{"s"}, "page": "p. 1", "items": []entry{
			{"key": "a", "text": "Jam", "with": "size A", "feedback": "So."}, {"key": "b", "text": "Fruit", "with": "size B", "feedback": "So."}, {"key": "c", "text": "Beans", "with": "size C", "feedback": "So."},
		}, "mistakes": []entry{{"item": "a", "with": "size C", "feedback": "No.", "misconception": "m"}}},
		{"id": "a-4", "lesson": "a", "competencies": []string{"acidity"}, "kind": "number", "stem": "How long?", "why": "So.", "source": []string{"s"}, "page": "p. 1", "unit": "min", "answer": entry{"is": `factFrom("one") * 90`, "feedback": "Yes."}},
	})
	p := publisher(t)
	for _, tc := range []struct {
		id             string
		given          []string
		response, key  string
		activityEnding string
	}{
		{"a-1", []string{"Wet", "Cold"}, "C3[,]C2", "C1[,]C3", "/questions/a-1/s0"},
		{"a-2", []string{"13 mm"}, "0.511811024", "0.479999[:]0.520001", "/questions/a-2/s0"},
		{"a-2", []string{"1/4"}, "0.25", "0.479999[:]0.520001", "/questions/a-2/s0"},
		{"a-3", []string{"Fruit → size B", "Jam → size C", "Beans → size C"}, "C2[.]W3[,]C1[.]W2[,]C3[.]W2", "C1[.]W1[,]C2[.]W3[,]C3[.]W2", "/questions/a-3/s0"},
		{"a-4", []string{"1 h 30 min"}, "90", "90", "/questions/a-4/s0"},
	} {
		q, _ := bank.Question(tc.id)
		asked, err := q.Ask(0)
		if err != nil {
			t.Fatal(err)
		}
		s, err := p.Answered(Answer{Learner: "l-1", Question: tc.id, Asked: asked, Given: tc.given, At: noon})
		if err != nil {
			t.Fatal(err)
		}
		if s.Result.Response != tc.response || s.Object.Definition.CorrectResponsesPattern[0] != tc.key || !strings.HasSuffix(s.Object.ID, tc.activityEnding) {
			t.Errorf("%s %q: response %q, key %q, activity %s; want %q, %q", tc.id, tc.given, s.Result.Response, s.Object.Definition.CorrectResponsesPattern, s.Object.ID, tc.response, tc.key)
		}
	}
	// A question that is gone, or has other answers now, is told as it was given.
	q, _ := bank.Question("a-1")
	asked, err := q.Ask(0)
	if err != nil {
		t.Fatal(err)
	}
	for _, a := range []*quiz.Asked{nil, asked} {
		s, err := p.Answered(Answer{Learner: "l-1", Question: "a-1", Asked: a, Given: []string{"Warm", "Dry"}, At: noon})
		if err != nil || s.Object.Definition.InteractionType != "other" || s.Result.Response != "Warm; Dry" {
			t.Errorf("%+v, %v", s, err)
		}
	}
}

// TestAttempts: which statements an attempt makes (ADL verbs).
func TestAttempts(t *testing.T) {
	t.Parallel()
	p := publisher(t)
	yes, no := true, false
	verbs := func(list []Statement) string {
		var names []string
		for _, s := range list {
			names = append(names, strings.TrimPrefix(s.Verb.ID, "http://adlnet.gov/expapi/verbs/"))
		}
		return strings.Join(names, " ")
	}
	for _, tc := range []struct {
		attempt Attempt
		want    string
	}{
		{Attempt{Kind: QuizAttempt}, "attempted"},
		{Attempt{Kind: QuizAttempt, Ended: noon.Add(90 * time.Second), Right: 3, Of: 4}, "attempted completed"},
		{Attempt{Kind: QuizAttempt, Ended: noon.Add(90 * time.Second), Right: 3, Of: 4, Passed: &yes}, "attempted completed passed"},
		{Attempt{Kind: ScenarioAttempt, Ended: noon, Passed: &no, Rules: []string{"time-short"}}, "attempted completed failed"},
	} {
		a := tc.attempt
		a.Learner, a.Name, a.Title, a.Begun = "l-1", "one", "One", noon
		list, err := p.Attempted(a)
		if err != nil || verbs(list) != tc.want {
			t.Errorf("%+v: %s, %v; want %s", a, verbs(list), err, tc.want)
			continue
		}
		for _, s := range list {
			if s.Actor.Account != (Account{"https://class.example", "l-1"}) {
				t.Errorf("actor %+v", s.Actor)
			}
		}
		if len(list) < 2 {
			continue
		}
		done := list[1].Result
		if !*done.Completion || a.Of > 0 && (done.Score.Scaled != 0.75 || done.Score.Raw != 3 || done.Score.Max != 4 || done.Duration != "PT90S") || a.Of == 0 && done.Score != nil {
			t.Errorf("completed: %+v %+v", done, done.Score)
		}
		if len(a.Rules) > 0 && !slices.Equal(done.Extensions["https://class.example/xapi/rules"].([]string), a.Rules) {
			t.Errorf("extensions %v", done.Extensions)
		}
	}
}

// TestStatementsComeOutTheSame: what is told twice has one id, so that a record store
// keeps it once; what differs has another.
func TestStatementsComeOutTheSame(t *testing.T) {
	t.Parallel()
	one := Opening{Learner: "l-1", Lesson: "altitude", Title: "Altitude", At: noon}
	open := func(p *Publisher, o Opening) Statement {
		s, err := p.Opened(o)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	first := open(publisher(t), one)
	here := one
	here.At = noon.In(time.FixedZone("", -6*3600))
	if again := open(publisher(t), here); again.ID != first.ID {
		t.Error("the same event has two ids")
	}
	other, later := one, one
	other.Learner = "l-2"
	later.At = noon.Add(time.Millisecond)
	elsewhere, err := NewPublisher("https://other.example")
	if err != nil {
		t.Fatal(err)
	}
	ids := map[string]bool{first.ID: true, open(publisher(t), other).ID: true, open(publisher(t), later).ID: true, open(elsewhere, one).ID: true}
	if len(ids) != 4 {
		t.Errorf("four events have %d ids", len(ids))
	}
	text, err := json.Marshal(first)
	if err != nil {
		t.Fatal(err)
	}
	if want := `"actor":{"objectType":"Agent","account":{"homePage":"https://class.example","name":"l-1"}}`; !strings.Contains(string(text), want) {
		t.Errorf("%s\nhas no %s", text, want)
	}
}

// TestPublisherRefuses: no names and mail addresses leave the course, and nothing is
// made up.
func TestPublisherRefuses(t *testing.T) {
	t.Parallel()
	for _, page := range []string{"", "class", "ftp://class.example", "https://", "https://u:p@class.example", "https://class.example?x", "https://class.example#x", "://"} {
		if _, err := NewPublisher(page); err == nil || !strings.Contains(err.Error(), "write an address such as") {
			t.Errorf("home page %q: %v", page, err)
		}
	}
	p := publisher(t)
	for _, tc := range []struct {
		opening Opening
		want    string
	}{
		{Opening{Learner: "ada@example.org", Lesson: "a", At: noon}, "never a name or a mail address"},
		{Opening{Learner: "Ada L", Lesson: "a", At: noon}, "give an opaque id"},
		{Opening{Learner: "", Lesson: "a", At: noon}, "give an opaque id"},
		{Opening{Learner: strings.Repeat("a", 65), Lesson: "a", At: noon}, "64 at most"},
		{Opening{Learner: "l-1", At: noon}, "the name of it is missing"},
		{Opening{Learner: "l-1", Lesson: "a"}, "the time is missing"},
	} {
		if _, err := p.Opened(tc.opening); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%+v: %v; want %q", tc.opening, err, tc.want)
		}
	}
	for _, tc := range []struct {
		attempt Attempt
		want    string
	}{
		{Attempt{Learner: "l-1", Kind: "essay", Name: "a", Begun: noon}, `kind is "essay"; write quiz or scenario`},
		{Attempt{Learner: "l-1", Kind: QuizAttempt, Name: "a", Begun: noon, Ended: noon, Right: 5, Of: 4}, "scaled: is 1.25"},
		{Attempt{Learner: "l-1", Kind: QuizAttempt, Name: "a", Begun: noon, Ended: noon.Add(-time.Hour)}, "ISO 8601"},
	} {
		if _, err := p.Attempted(tc.attempt); err == nil || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%+v: %v; want %q", tc.attempt, err, tc.want)
		}
	}
}
