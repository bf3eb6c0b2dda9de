package quiz

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"time"

	"rollingboil/scenarios/rules"
)

// Answered is one answer that was given and marked.
type Answered struct {
	Question string // id
	Seed     uint64
	Right    bool
	At       time.Time
}

// Learner is what reviewing goes by.
type Learner struct {
	Answers []Answered     // the earliest first
	Zone    *time.Location // whose midnight ends a day
	Today   time.Time
	Canning time.Time // any moment of the canning day; zero when none is named
}

// day numbers the days of the learner's zone.
func (l Learner) day(t time.Time) int {
	y, m, d := t.In(l.Zone).Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Unix() / 86400)
}

// daysLeft is how many days there are to the canning day, and whether it lies ahead
// or is today.
func (l Learner) daysLeft(from int) (int, bool) {
	if l.Canning.IsZero() {
		return 0, false
	}
	left := l.day(l.Canning) - from
	return left, left >= 0
}

// boxDays is how many days a question waits in each box. Right answers on different
// days move it on, a wrong one takes it back to the first. That there are boxes is
// Leitner's (So lernt man lernen, 1972); the days are our choice.
var boxDays = []int{1, 3, 7, 14, 30}

// lastDays are the days before canning in which every critical question comes once
// more.
const lastDays = 3

// wait is how long a question in a box waits. With a canning day ahead it is at
// most a quarter of the days to it, and at least one: gaps of a fifth to two fifths
// of the delay serve best when it is a week (Cepeda et al., Psychological Science
// 19, 2008). The quarter is our choice within that.
func (l Learner) wait(box, from int) int {
	days := boxDays[box-1]
	if left, ahead := l.daysLeft(from); ahead {
		days = min(days, max(1, int(math.Round(float64(left)/4))))
	}
	return days
}

// Due is one question that is to be reviewed.
type Due struct {
	Missed *Question // the one that is in the box
	Ask    *Question // the one to ask: the same, or for a missed one another form
	Box    int       // from 1
	Why    string
}

// boxed is where one question stands.
type boxed struct {
	box, due, lastDay int
	right             bool // the last answer
}

func (l Learner) boxes() map[string]boxed {
	boxes := map[string]boxed{}
	for _, a := range l.Answers {
		day := l.day(a.At)
		b, known := boxes[a.Question]
		switch {
		case !a.Right:
			b.box = 1
		case !known:
			b.box = 2
		case day > b.lastDay && day >= b.due: // the same again at once moves nothing on
			b.box = min(b.box+1, len(boxDays))
		}
		if !known || !a.Right || day >= b.due {
			b.due = day + l.wait(b.box, day)
		}
		b.right, b.lastDay = a.Right, day
		boxes[a.Question] = b
	}
	return boxes
}

// Due lists what a learner is to review today: what was missed last time, what has
// waited its days, and in the last days before canning each critical question once
// more. Missed ones come first and are asked in another form where there is one.
func (b *Bank) Due(l Learner) []Due {
	today := l.day(l.Today)
	left, ahead := l.daysLeft(today)
	last := ahead && left <= lastDays
	var list []Due
	for id, box := range l.boxes() {
		q, ok := b.Question(id)
		if !ok {
			continue // no longer in the bank
		}
		d := Due{Missed: q, Ask: q, Box: box.box}
		switch {
		case !box.right:
			d.Why, d.Ask = "missed last time", b.otherForm(q)
		case box.due <= today:
			d.Why = fmt.Sprintf("right, and %d days ago", today-box.lastDay)
			if today-box.lastDay == 1 {
				d.Why = "right, and a day ago"
			}
		case last && q.Critical() && l.day(l.Canning)-box.lastDay > lastDays:
			d.Why = "once more before you can"
		default:
			continue
		}
		list = append(list, d)
	}
	if last {
		list = append(list, b.unmet(l, list)...)
	}
	slices.SortFunc(list, func(x, y Due) int {
		return cmp.Or(cmp.Compare(x.Box, y.Box), cmp.Compare(x.Missed.ID, y.Missed.ID))
	})
	return list
}

// unmet gives a question for each critical competency that nothing else asks about
// before the canning day.
func (b *Bank) unmet(l Learner, list []Due) []Due {
	var more []Due
	for _, competency := range rules.Critical() {
		asks := func(q *Question) bool { return slices.Contains(q.Competencies, competency) }
		if slices.ContainsFunc(list, func(d Due) bool { return asks(d.Ask) }) || slices.ContainsFunc(more, func(d Due) bool { return asks(d.Ask) }) {
			continue
		}
		recent := func(a Answered) bool {
			q, ok := b.Question(a.Question)
			return ok && asks(q) && l.day(l.Canning)-l.day(a.At) <= lastDays
		}
		if slices.ContainsFunc(l.Answers, recent) {
			continue
		}
		if i := slices.IndexFunc(b.questions, asks); i >= 0 {
			more = append(more, Due{b.questions[i], b.questions[i], 1, "not asked yet, and you can soon"})
		}
	}
	return more
}

// otherForm is a question that asks about the same in other words: of the same
// lesson, with the first competency in common, and if there is one with a mistake
// that comes from the same belief. A template that stands alone is drawn anew.
func (b *Bank) otherForm(q *Question) *Question {
	beliefs := q.Misconceptions()
	best, most := q, 0
	for _, other := range b.questions {
		if other.ID == q.ID || !slices.Contains(other.Competencies, q.Competencies[0]) {
			continue
		}
		score := 1
		if other.Lesson == q.Lesson {
			score++
		}
		for _, m := range other.Misconceptions() {
			if slices.Contains(beliefs, m) {
				score += 2
				break
			}
		}
		if score > most {
			best, most = other, score
		}
	}
	return best
}

// Critical reports whether a question asks about something that keeps people from
// harm.
func (q *Question) Critical() bool {
	return slices.ContainsFunc(q.Competencies, func(c string) bool { return slices.Contains(rules.Critical(), c) })
}

// Misconceptions lists the beliefs that wrong answers to the question come from.
func (q *Question) Misconceptions() []string {
	var ids []string
	add := func(id string) {
		if id != "" && !slices.Contains(ids, id) {
			ids = append(ids, id)
		}
	}
	for _, o := range q.Options {
		add(o.Misconception)
	}
	for _, w := range q.Wrong {
		add(w.Misconception)
	}
	for _, m := range q.Mistakes {
		add(m.Misconception)
	}
	return ids
}

// Shown is how far a competency has been shown.
type Shown struct {
	Competency string
	Days       int // different days on which it was shown right since the last mistake
	Wordings   int // different questions that were answered right since; of only one, its different draws
	Asked      bool
	WrongLast  bool // the last answer was wrong
}

// Enough reports whether it has been shown: right on two different days in two
// different wordings, with no mistake since the first of them.
func (s Shown) Enough() bool { return s.Days >= 2 && s.Wordings >= 2 }

// Shown tells how far a learner has shown a competency. A mistake begins it anew.
func (b *Bank) Shown(l Learner, competency string) Shown {
	s := Shown{Competency: competency}
	days := map[int]bool{}
	seeds := map[*Question]map[uint64]bool{} // with which each question was answered right
	for _, a := range l.Answers {
		q, ok := b.Question(a.Question)
		if !ok || !slices.Contains(q.Competencies, competency) {
			continue
		}
		s.Asked, s.WrongLast = true, !a.Right
		if !a.Right {
			clear(days)
			clear(seeds)
			continue
		}
		days[l.day(a.At)] = true
		if seeds[q] == nil {
			seeds[q] = map[uint64]bool{}
		}
		seeds[q][a.Seed] = true
	}
	s.Days, s.Wordings = len(days), len(seeds)
	if len(seeds) == 1 { // which draw a seed leads to may take a model to work out
		for q, used := range seeds {
			s.Wordings = q.differentDraws(used)
		}
	}
	return s
}

// differentDraws is to how many draws of the question the seeds lead.
func (q *Question) differentDraws(seeds map[uint64]bool) int {
	if !q.Variants() {
		return 1
	}
	draws := map[int]bool{}
	for seed := range seeds {
		if index, _, err := q.form.pick(q.ID, seed); err == nil {
			draws[index] = true
		}
	}
	return max(1, len(draws))
}

// Next chooses a question to practice among those that are wanted: one that was
// never asked, else one that was missed last, else the one that was asked longest
// ago; never the one that was asked just now, if there is another. Among equals
// chance decides, given as a number from 0 to 1. It gives nil when none is wanted.
func (b *Bank) Next(wanted func(*Question) bool, answers []Answered, justAsked string, chance float64) *Question {
	const never, missed, right = 0, 1, 2
	type state struct {
		kind int
		at   time.Time
	}
	states := map[string]state{}
	for _, a := range answers {
		kind := missed
		if a.Right {
			kind = right
		}
		states[a.Question] = state{kind, a.At}
	}
	var list []*Question
	for _, q := range b.questions {
		if wanted(q) {
			list = append(list, q)
		}
	}
	if others := slices.DeleteFunc(slices.Clone(list), func(q *Question) bool { return q.ID == justAsked }); len(others) > 0 {
		list = others
	}
	if len(list) == 0 {
		return nil
	}
	first := slices.MinFunc(list, func(x, y *Question) int {
		return cmp.Or(cmp.Compare(states[x.ID].kind, states[y.ID].kind), states[x.ID].at.Compare(states[y.ID].at))
	})
	best := states[first.ID]
	list = slices.DeleteFunc(list, func(q *Question) bool {
		s := states[q.ID]
		return s.kind != best.kind || best.kind == right && !s.at.Equal(best.at)
	})
	return list[min(len(list)-1, int(chance*float64(len(list))))]
}
