package quiz

import (
	"fmt"
	"testing"
	"testing/fstest"
	"time"

	"pgregory.net/rapid"

	"rollingboil/scenarios/rules"
)

var harrow = time.FixedZone("Harrow Creek", -7*60*60)

func on(day int, hour int) time.Time { return time.Date(2026, 8, day, hour, 0, 0, 0, harrow) }

// TestWaits: for a canning day d days away the next review comes after a quarter of
// them, rounded half up and at least one day: 14 days 4, 10 days 3, 7 days 2, 4
// days 1. Our rule inside the band of Cepeda et al. (2008), 20 to 40 % of a delay of
// one week.
func TestWaits(t *testing.T) {
	t.Parallel()
	for left, want := range map[int]int{14: 4, 10: 3, 7: 2, 4: 1, 1: 1, 0: 1} {
		l := Learner{Zone: harrow, Canning: on(1, 12).AddDate(0, 0, left)}
		if got := l.wait(5, l.day(on(1, 12))); got != want {
			t.Errorf("%d days away: %d, want %d", left, got, want)
		}
	}
	free := Learner{Zone: harrow}
	for box, want := range []int{1, 3, 7, 14, 30} {
		if got := free.wait(box+1, 0); got != want {
			t.Errorf("box %d without a day: %d, want %d", box+1, got, want)
		}
	}
	past := Learner{Zone: harrow, Canning: on(1, 12)}
	if got := past.wait(3, past.day(on(9, 12))); got != 7 {
		t.Errorf("after the canning day: %d, want 7", got)
	}
}

// Leitner 1972: right moves on, wrong goes back to the first box. Practiced twice on
// one day, a question moves on once.
func TestBoxes(t *testing.T) {
	t.Parallel()
	l := Learner{Zone: harrow, Answers: []Answered{
		{"a", 0, true, on(1, 9)},
		{"a", 0, true, on(1, 10)},
		{"a", 0, true, on(4, 9)},
		{"a", 0, true, on(5, 9)},
		{"b", 0, true, on(1, 9)},
		{"b", 0, false, on(4, 9)},
		{"c", 0, false, on(1, 9)},
		{"c", 0, true, on(2, 9)},
	}}
	boxes := l.boxes()
	for id, want := range map[string]struct{ box, due int }{
		"a": {3, l.day(on(11, 0))}, // box 2 on the 1st, due the 4th; box 3 on the 4th, due the 11th
		"b": {1, l.day(on(5, 0))},
		"c": {2, l.day(on(5, 0))},
	} {
		if got := boxes[id]; got.box != want.box || got.due != want.due {
			t.Errorf("%s: box %d due %d, want %+v", id, got.box, got.due, want)
		}
	}
}

// TestDayEndsInTheLearnersZone: ten in the evening in the mountains is the next day
// in UTC, and still the same day for the learner.
func TestDayEndsInTheLearnersZone(t *testing.T) {
	t.Parallel()
	l := Learner{Zone: harrow}
	if l.day(on(1, 22).UTC()) != l.day(on(1, 9)) || l.day(on(2, 1)) == l.day(on(1, 22)) {
		t.Error("the day does not end at the learner's midnight")
	}
}

// reviewed is a small bank with three questions on each competency.
func reviewed(t testing.TB) *Bank {
	t.Helper()
	files := fstest.MapFS{}
	for _, competency := range rules.Competencies() {
		text := "questions:\n"
		for n := range 3 {
			text += fmt.Sprintf(`
  - id: %s-%d
    lesson: %s
    competencies: [%s]
    kind: choice
    stem: Which one is right?
    options:
      - {text: This one, right: true, feedback: It is.}
      - {text: That one, feedback: You may think so. It is not., misconception: belief-%d}
    why: It is.
    source: [a]
    page: p. 1
`, competency, n+1, competency, competency, n%2)
		}
		files[competency+".yaml"] = &fstest.MapFile{Data: []byte(text)}
	}
	bank, err := Load(files, Options{})
	if err != nil {
		t.Fatal(err)
	}
	return bank
}

func TestDue(t *testing.T) {
	t.Parallel()
	bank := reviewed(t)
	l := Learner{Zone: harrow, Today: on(10, 9), Answers: []Answered{
		{"altitude-1", 0, false, on(9, 9)},
		{"headspace-1", 0, true, on(9, 9)},
		{"acidity-1", 0, true, on(2, 9)},
		{"gone-1", 0, false, on(2, 9)},
	}}
	due := bank.Due(l)
	if len(due) != 2 || due[0].Missed.ID != "altitude-1" || due[1].Missed.ID != "acidity-1" {
		t.Fatalf("due: %+v", due)
	}
	if due[0].Ask.ID != "altitude-3" { // the other with a mistake of the same belief
		t.Errorf("a missed question comes back as %s", due[0].Ask.ID)
	}
	if due[1].Ask.ID != "acidity-1" {
		t.Errorf("one that was right is asked as %s", due[1].Ask.ID)
	}
	// Two days before canning everything critical is asked, met or not.
	l.Canning = on(12, 12)
	asked := map[string]bool{}
	for _, d := range bank.Due(l) {
		for _, c := range d.Ask.Competencies {
			asked[c] = true
		}
	}
	for _, c := range rules.Critical() {
		if !asked[c] {
			t.Errorf("%s is not asked before the canning day", c)
		}
	}
}

func contains(list []string, s string) bool {
	for _, x := range list {
		if x == s {
			return true
		}
	}
	return false
}

func TestShown(t *testing.T) {
	t.Parallel()
	bank := reviewed(t)
	at := func(answers ...Answered) Shown {
		return bank.Shown(Learner{Zone: harrow, Answers: answers}, "altitude")
	}
	first, second := Answered{"altitude-1", 0, true, on(1, 9)}, Answered{"altitude-2", 0, true, on(2, 9)}
	if at(first, Answered{"altitude-2", 0, true, on(1, 10)}).Enough() {
		t.Error("twice on one day is enough")
	}
	if at(first, Answered{"altitude-1", 9, true, on(2, 9)}).Enough() {
		t.Error("the same wording twice is enough")
	}
	if !at(first, second).Enough() {
		t.Error("two days and two wordings are not enough")
	}
	if s := at(first, second, Answered{"altitude-3", 0, false, on(3, 9)}); s.Enough() || !s.WrongLast {
		t.Error("a mistake afterward does not begin it anew")
	}
	if s := at(Answered{"headspace-1", 0, true, on(1, 9)}); s.Asked {
		t.Error("another competency counts")
	}
}

// A learner who answers all right is never told that something was missed, and a
// mistake never makes a competency more shown.
func TestReviewProperties(t *testing.T) {
	t.Parallel()
	bank := reviewed(t)
	ids := make([]string, 0, len(bank.Questions()))
	for _, q := range bank.Questions() {
		ids = append(ids, q.ID)
	}
	rapid.Check(t, func(t *rapid.T) {
		l := Learner{Zone: harrow, Today: on(20, 9)}
		at := on(1, 0)
		for range rapid.IntRange(0, 40).Draw(t, "answers") {
			at = at.Add(time.Duration(rapid.IntRange(1, 20*60).Draw(t, "later")) * time.Minute)
			l.Answers = append(l.Answers, Answered{rapid.SampledFrom(ids).Draw(t, "id"), 0, rapid.Bool().Draw(t, "right"), at})
		}
		if rapid.Bool().Draw(t, "day named") {
			l.Canning = on(rapid.IntRange(1, 31).Draw(t, "canning"), 12)
		}
		for _, d := range bank.Due(l) {
			if d.Ask == nil || d.Box < 1 || d.Box > len(boxDays) || d.Why == "" {
				t.Fatalf("%+v", d)
			}
		}
		competency := rapid.SampledFrom(rules.Critical()).Draw(t, "competency")
		before := bank.Shown(l, competency)
		for _, q := range bank.Questions() {
			if contains(q.Competencies, competency) {
				worse := l
				worse.Answers = append(append([]Answered{}, l.Answers...), Answered{q.ID, 0, false, on(20, 8)})
				if after := bank.Shown(worse, competency); after.Enough() || after.Days > before.Days {
					t.Fatalf("after a mistake %+v, before %+v", after, before)
				}
				break
			}
		}
	})
}

func TestNext(t *testing.T) {
	t.Parallel()
	bank := reviewed(t)
	altitude := func(q *Question) bool { return q.Lesson == "altitude" }
	answers := []Answered{}
	seen := map[string]bool{}
	just := ""
	for range bank.Lesson("altitude") {
		q := bank.Next(altitude, answers, just, 0.99)
		if seen[q.ID] {
			t.Fatalf("%s again, before all were asked", q.ID)
		}
		seen[q.ID], just = true, q.ID
		answers = append(answers, Answered{q.ID, 0, q.ID != "altitude-2", on(1, 9).Add(time.Duration(len(answers)) * time.Minute)})
	}
	if just != "altitude-2" {
		if q := bank.Next(altitude, answers, just, 0); q.ID != "altitude-2" {
			t.Errorf("next is %s, want the one that was missed", q.ID)
		}
	}
	if q := bank.Next(func(*Question) bool { return false }, nil, "", 0); q != nil {
		t.Errorf("nothing is wanted, got %s", q.ID)
	}
}
