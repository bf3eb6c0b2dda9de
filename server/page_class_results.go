package server

import (
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// What an instructor reads before the next evening: what was shown and by whom, which
// beliefs are about, which questions to mend. Counts are of people, and people are
// listed by name, never by how much they have right.

// period is what of the class's time is looked at: all of it, or one week.
type period struct {
	Week        int // 0 for all of it
	From, Until time.Time
}

// weekStart is the midnight at which a week of a class begins. Weeks are counted from
// the class's first day, in the class's zone; a clock that is set forward or back moves
// nothing.
func weekStart(class store.Class, week int) (time.Time, error) {
	first, err := time.Parse(time.DateOnly, class.Starts)
	if err != nil {
		return time.Time{}, fmt.Errorf("first day of class %s: %w", class.ID, err)
	}
	y, m, d := first.Date()
	return time.Date(y, m, d+7*(week-1), 0, 0, 0, 0, zoneOf(class.Zone)), nil
}

// weeksBegun is how many weeks of a class have begun.
func weeksBegun(class store.Class, now time.Time) (int, error) {
	for week := 1; week <= class.Weeks; week++ {
		start, err := weekStart(class, week)
		if err != nil || start.After(now) {
			return week - 1, err
		}
	}
	return class.Weeks, nil
}

// periodOf reads the week of an address.
func (s *Server) periodOf(c *gin.Context, class store.Class) (period, error) {
	text := c.Query("week")
	if text == "" {
		return period{}, nil
	}
	begun, err := weeksBegun(class, s.now())
	if err != nil {
		return period{}, err
	}
	week, err := strconv.Atoi(text)
	if err != nil || week < 1 || week > begun {
		return period{}, errNoPage
	}
	p := period{Week: week}
	if p.From, err = weekStart(class, week); err != nil {
		return p, err
	}
	p.Until, err = weekStart(class, week+1)
	return p, err
}

type resultsPage struct {
	page
	Class        store.Class
	Weeks        []place
	Week         string // the query that names the week, "" for all of them
	Period       string
	Learners     int
	Active       int
	Competencies []string
	Members      []learnerLine
	ShownBy      []int
	Beliefs      []beliefLine
	MoreBeliefs  []beliefLine
	Meets        string // the day of the week on which the class began
	Questions    []statLine
	MoreStats    []statLine
	Compared     questionStats
	Findings     []stumbleLine
	Tried        int
	Together     bool
}

type learnerLine struct {
	Name, Path string
	Shown      []bool
}

type beliefLine struct {
	Belief, Not, Truth string
	Met                int
	Where              string
	Lesson             place
	Ask                []place
}

type statLine struct {
	Stem, Path string
	Right, Of  int
	Interval   string
	R          string // "" where it was not worked out
	Says       []string
	Idle       string // wrong options that mislead hardly anybody
	Changed    bool   // answers to another wording are not counted
}

type stumbleLine struct {
	Name, Path string
	Met        int
	In         []place
}

// listed is how many beliefs and questions are shown at once; the others can be opened.
const listed = 6

func (s *Server) resultsPage(c *gin.Context) error {
	class, p, upTo, err := s.inPeriod(c)
	if err != nil {
		return err
	}
	in := upTo.since(p.From)
	data := resultsPage{page: newPage("Results of "+class.Name, "/class/"+class.ID), Class: class, Learners: len(upTo.members), Active: len(in.active()), Period: "The whole class so far"}
	if p.Week > 0 {
		data.Week = "?week=" + strconv.Itoa(p.Week)
		data.Period = fmt.Sprintf("Week %d, from %s to %s", p.Week, p.From.Format("Monday 2 January"), p.Until.AddDate(0, 0, -1).Format("Monday 2 January"))
	}
	if data.Weeks, err = s.weekPlaces(class, p); err != nil {
		return err
	}
	first, err := weekStart(class, 1)
	if err != nil {
		return err
	}
	data.Meets = first.Weekday().String()
	together, err := s.store.Together(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	data.Together = together.Shown

	s.fillShown(&data, upTo)
	if err := s.fillBeliefs(&data, in); err != nil {
		return err
	}
	if err := s.fillQuestions(&data, upTo, p.From); err != nil {
		return err
	}
	if err := s.fillFindings(&data, in); err != nil {
		return err
	}
	c.Header("Cache-Control", "private, no-store")
	return s.write(c.Writer, c.Request, http.StatusOK, "results", data)
}

// weekPlaces are the links to the weeks that have begun.
func (s *Server) weekPlaces(class store.Class, p period) ([]place, error) {
	begun, err := weeksBegun(class, s.now())
	if err != nil || begun == 0 {
		return nil, err
	}
	path := "/class/" + class.ID + "/results"
	list := []place{{Path: path, Name: "All weeks", Here: p.Week == 0}}
	for week := 1; week <= begun; week++ {
		list = append(list, place{Path: fmt.Sprintf("%s?week=%d", path, week), Name: fmt.Sprintf("Week %d", week), Here: p.Week == week})
	}
	return list, nil
}

// fillShown says of each member what was shown.
func (s *Server) fillShown(data *resultsPage, w classWork) {
	names := competenciesInOrder()
	data.ShownBy = make([]int, len(names))
	for _, name := range names {
		data.Competencies = append(data.Competencies, scenarios.Sentence(scenarios.Label(name)))
	}
	for i, shown := range w.shownBy(names) {
		m := w.members[i]
		line := learnerLine{Name: m.Name, Path: "/class/" + data.Class.ID + "/students/" + m.Visitor}
		for j, of := range shown {
			line.Shown = append(line.Shown, of.Enough())
			if of.Enough() {
				data.ShownBy[j]++
			}
		}
		data.Members = append(data.Members, line)
	}
}

// fillBeliefs tells which beliefs were met, by the most people first.
func (s *Server) fillBeliefs(data *resultsPage, w classWork) error {
	met, err := s.beliefsOf(w)
	if err != nil {
		return err
	}
	var lines []beliefLine
	for _, id := range met.all.byMost() {
		m, ok := s.course.Grader.Rules().Misconception(id)
		if !ok {
			continue // no longer in the list
		}
		line := beliefLine{Belief: m.Belief, Not: m.Not, Truth: m.Truth, Met: len(met.all[id])}
		var where []string
		for _, in := range []struct {
			name string
			who  people
		}{{"answers", met.inAnswers[id]}, {"plans", met.inPlans[id]}, {"scenarios", met.inScenarios[id]}} {
			if len(in.who) > 0 {
				where = append(where, fmt.Sprintf("%d in %s", len(in.who), in.name))
			}
		}
		line.Where = strings.Join(where, ", ")
		if l, ok := w.course.Lessons.Lesson(m.Lesson); ok {
			line.Lesson = place{Path: "/lessons/" + l.Slug, Name: l.Title}
		}
		if len(lines) < listed {
			if line.Ask, err = w.course.toAsk(m); err != nil {
				return err
			}
		}
		lines = append(lines, line)
	}
	data.Beliefs, data.MoreBeliefs = lines[:min(listed, len(lines))], lines[min(listed, len(lines)):]
	return nil
}

// toAsk gives two questions in which a belief leads to a wrong answer, drawn anew: of
// the lesson that refutes it before others.
func (t *taught) toAsk(m rules.Misconception) ([]place, error) {
	var able []*quiz.Question
	for _, q := range t.Bank.Questions() {
		if slices.Contains(q.Misconceptions(), m.ID) {
			able = append(able, q)
		}
	}
	slices.SortStableFunc(able, func(a, b *quiz.Question) int {
		return elsewhere(a, m) - elsewhere(b, m)
	})
	var list []place
	for _, q := range able[:min(2, len(able))] {
		seed := newSeed()
		asked, err := q.Ask(seed)
		if err != nil {
			return nil, err
		}
		list = append(list, place{Path: questionAddress(q.ID, seed, map[string][]string{}), Name: asked.Stem})
	}
	return list, nil
}

// elsewhere is 0 for a question of the lesson that refutes a belief, 1 for others.
func elsewhere(q *quiz.Question, m rules.Misconception) int {
	if q.Lesson == m.Lesson {
		return 0
	}
	return 1
}

func (s *Server) fillQuestions(data *resultsPage, w classWork, from time.Time) error {
	var err error
	if data.Compared, err = s.questionsOf(w, from); err != nil {
		return err
	}
	var lines []statLine
	for _, stat := range data.Compared.List {
		asked, err := stat.Question.Ask(0)
		if err != nil {
			return err
		}
		line := statLine{Stem: asked.Stem, Path: "/practice/" + stat.Question.ID, Right: stat.Right, Of: stat.Of, Says: stat.Flags, Idle: stat.Idle, Changed: stat.Changed}
		line.Interval = fmt.Sprintf("%.0f to %.0f %%", 100*stat.Low, 100*stat.High)
		if stat.Item != nil && stat.Item.RExcl != nil {
			line.R = strings.Replace(fmt.Sprintf("%.2f", *stat.Item.RExcl), "-", "−", 1)
		}
		lines = append(lines, line)
	}
	data.Questions, data.MoreStats = lines[:min(2*listed, len(lines))], lines[min(2*listed, len(lines)):]
	return nil
}

func (s *Server) fillFindings(data *resultsPage, w classWork) error {
	found, where, tried, err := scenarioFindings(w)
	if err != nil {
		return err
	}
	data.Tried = len(tried)
	for _, key := range found.byMost()[:min(2*listed, len(found))] {
		line := stumbleLine{Met: len(found[key]), Name: key}
		if _, thing, inScenario := strings.Cut(key, ": "); inScenario {
			line.Name = thing
		} else {
			line.Name, line.Path = scenarios.Sentence(scenarios.Label(key)), "/rules/"+key
		}
		for _, slug := range where.byNameOf(key) {
			line.In = append(line.In, place{Path: "/scenarios/" + slug, Name: w.course.scenarioTitle(slug)})
		}
		data.Findings = append(data.Findings, line)
	}
	return nil
}

// byNameOf lists who met something by their names.
func (m meeting) byNameOf(what string) []string {
	list := make([]string, 0, len(m[what]))
	for who := range m[what] {
		list = append(list, who)
	}
	slices.Sort(list)
	return list
}

// inPeriod is the class of the address, the week asked for, and what was done in it.
func (s *Server) inPeriod(c *gin.Context) (class store.Class, p period, upTo classWork, err error) {
	if class, err = s.held(c); err != nil {
		return class, p, upTo, err
	}
	if p, err = s.periodOf(c, class); err != nil {
		return class, p, upTo, err
	}
	upTo, err = s.classWork(c.Request.Context(), class.ID, p.Until)
	return class, p, upTo, err
}
