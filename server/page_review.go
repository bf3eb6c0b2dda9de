package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// zoneOf is the zone of a name; UTC for a name that is none.
func zoneOf(name string) *time.Location {
	if zone, err := time.LoadLocation(name); err == nil {
		return zone
	}
	return time.UTC
}

// parseDay reads a day as its noon, which no change of the clock moves.
func parseDay(text string, zone *time.Location) (time.Time, error) {
	day, err := time.ParseInLocation(time.DateOnly, text, zone)
	return day.Add(12 * time.Hour), err
}

// visitorSettings gives what a visitor has set; nothing for one who has not.
func (s *Server) visitorSettings(ctx context.Context, id string) (store.Visitor, error) {
	v, err := s.store.Visitor(ctx, id)
	if errors.Is(err, store.ErrNotFound) {
		return store.Visitor{ID: id}, nil
	}
	return v, err
}

type reviewPage struct {
	page
	Day       dayView
	Due       []dueLine
	Answered  int
	Countdown string
}

// dayView is the form for the canning day.
type dayView struct{ Day, Wrong, Back string }

type dueLine struct {
	Lesson, Stem, Why string
	Box               int
}

func (s *Server) reviewPage(c *gin.Context) error { return s.showReview(c, http.StatusOK, dayView{}) }

func (s *Server) showReview(c *gin.Context, status int, day dayView) error {
	learner, v, err := s.learner(c, everyAnswer)
	if err != nil {
		return err
	}
	data := reviewPage{page: newPage("Review", "/practice/review"), Day: day, Answered: len(learner.Answers), Countdown: countdown(learner)}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data.Day.Back, data.Script = "/review", "script/zone.js"
	if data.Day.Day == "" {
		data.Day.Day = v.CanningDay
	}
	for _, d := range t.Bank.Due(learner) {
		asked, err := d.Missed.Ask(0)
		if err != nil {
			return err
		}
		l, _ := t.Lessons.Lesson(d.Missed.Lesson)
		data.Due = append(data.Due, dueLine{Lesson: titleOf(l), Stem: asked.Stem, Why: d.Why, Box: d.Box})
	}
	return s.write(c.Writer, c.Request, status, "review", data)
}

// countdown says how far the canning day is.
func countdown(l quiz.Learner) string {
	if l.Canning.IsZero() {
		return ""
	}
	today := l.Today.In(l.Zone)
	days := int(l.Canning.Sub(time.Date(today.Year(), today.Month(), today.Day(), 12, 0, 0, 0, l.Zone)).Round(24*time.Hour).Hours() / 24)
	switch {
	case days < 0:
		return "Your canning day, " + l.Canning.Format("2 January") + ", is past."
	case days == 0:
		return "You can today."
	case days == 1:
		return "You can tomorrow."
	}
	return fmt.Sprintf("You can on %s, in %d days.", l.Canning.Format("2 January"), days)
}

// nextReview leads to the first question that is due, drawn anew.
func (s *Server) nextReview(c *gin.Context) error {
	learner, _, err := s.learner(c, everyAnswer)
	if err != nil {
		return err
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	due := t.Bank.Due(learner)
	if len(due) == 0 {
		c.Redirect(http.StatusSeeOther, "/review")
		return nil
	}
	c.Redirect(http.StatusSeeOther, questionAddress(due[0].Ask.ID, newSeed(), url.Values{"review": {"1"}}))
	return nil
}

// keepDay keeps the canning day and the visitor's time zone, which a script fills
// in; without one the days end at midnight UTC.
func (s *Server) keepDay(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	day, zone := trimmed(c, "day"), trimmed(c, "zone")
	if _, err := time.LoadLocation(zone); err != nil {
		zone = ""
	}
	if _, err := parseDay(day, time.UTC); err != nil && day != "" {
		return s.showReview(c, http.StatusUnprocessableEntity, dayView{Day: day, Wrong: "“" + day + "” is not a day. Write it like 2026-08-20."})
	}
	if err := s.store.SetCanningDay(c.Request.Context(), s.newVisitor(c), day, zone); err != nil {
		return err
	}
	back := "/review"
	if trimmed(c, "back") == "/ready" {
		back = "/ready"
	}
	c.Redirect(http.StatusSeeOther, back)
	return nil
}

type readyPage struct {
	page
	Ready        bool
	Plan         keptLine // of the plan that is looked at; empty when none is kept
	PlanTested   bool
	Competencies []readyLine
	Day          dayView
	Countdown    string
	Missing      int
	Own          bool // an instructor wrote something for this visitor's class
}

// readyLine is one competency that the plan touches, and how far it has been shown.
type readyLine struct {
	Name, Says string
	Shown      bool
	Practice   string
	Scenario   string // says what is missing of scenarios; "" when nothing is
	ScenarioAt string
}

// readyPage tells what has been shown and what has not. It is a conjunction: no
// strength in one thing makes up for another (DESIGN: ready is never an average).
func (s *Server) readyPage(c *gin.Context) error {
	// What an instructor wrote, in place of the course's own or beside it, does not count.
	own := false
	learner, v, err := s.learner(c, func(a store.Answer) bool {
		own = own || a.Wording != ""
		return a.Wording == ""
	})
	if err != nil {
		return err
	}
	data := readyPage{page: newPage("Am I ready?", "/ready"), Day: dayView{Day: v.CanningDay, Back: "/ready"}, Countdown: countdown(learner)}
	data.Script = "script/zone.js"
	touched := touchedBy(process.Card{}, "", true)
	ctx := c.Request.Context()
	last, err := s.store.LastPlan(ctx, v.ID)
	switch {
	case errors.Is(err, store.ErrNotFound):
	case err != nil:
		return err
	default:
		plan, err := s.course.Grader.ParsePlan("", last.Plan)
		if err != nil {
			return fmt.Errorf("read a kept plan: %w", err)
		}
		card, known := s.course.Grader.Table().Card(plan.Food.Value)
		touched = touchedBy(card, plan.Method.Value, !known)
		// Judged again by today's rules: what was as tested then may not be now.
		verdict := s.course.Grader.Grade(plan).Verdict
		data.Plan = keptLine{ID: last.ID, Mark: mark(string(verdict)), Title: last.Title, When: whenText(last.At), Answer: verdictName(string(verdict))}
		data.PlanTested = verdict == scenarios.AsTested
	}
	passed, err := s.passedScenarios(c, v.ID, func(a store.Attempt) bool {
		own = own || a.Wording != ""
		return a.Wording == ""
	})
	if err != nil {
		return err
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data.Own = own || t != s.shipped
	data.Ready = data.PlanTested
	if !data.PlanTested {
		data.Missing++
	}
	for _, name := range touched {
		line := s.readyLine(learner, name, passed)
		if !line.Shown || line.Scenario != "" {
			data.Ready = false
			data.Missing++
		}
		data.Competencies = append(data.Competencies, line)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "ready", data)
}

func (s *Server) readyLine(learner quiz.Learner, name string, passed map[string]bool) readyLine {
	shown := s.course.Bank.Shown(learner, name)
	line := readyLine{Name: scenarios.Label(name), Shown: shown.Enough(), Practice: "/practice/next?" + scope{competency: name}.query().Encode()}
	switch {
	case shown.Enough():
		line.Says = "Shown right on two days, in different words."
	case !shown.Asked:
		line.Says = "Not shown yet: no question on it was answered."
	case shown.WrongLast:
		line.Says = "Not shown yet: the last answer was not right, and that begins it anew."
	case shown.Days < 2:
		line.Says = "Not shown yet: right on one day. It takes another day."
	default:
		line.Says = "Not shown yet: it takes another question, or another drawing of it."
	}
	var about []*scenarios.Scenario
	for _, sc := range s.course.Scenarios {
		if slices.Contains(sc.Competencies, name) {
			about = append(about, sc)
		}
	}
	if len(about) > 0 && !slices.ContainsFunc(about, func(sc *scenarios.Scenario) bool { return passed[sc.Slug] }) {
		line.Scenario, line.ScenarioAt = about[0].Title, "/scenarios/"+about[0].Slug
	}
	return line
}

// passedScenarios names the scenarios that the visitor's last attempt passed, of those
// attempts that count.
func (s *Server) passedScenarios(c *gin.Context, visitor string, counts func(store.Attempt) bool) (map[string]bool, error) {
	attempts, err := s.store.ListAttempts(c.Request.Context(), visitor)
	passed, seen := map[string]bool{}, map[string]bool{}
	for _, a := range attempts { // the latest first
		if counts(a) && !seen[a.Scenario] {
			seen[a.Scenario], passed[a.Scenario] = true, a.Passed
		}
	}
	return passed, err
}

// touchedBy lists the critical competencies that a plan touches. Of a food that is
// not known it takes all.
func touchedBy(card process.Card, method string, all bool) []string {
	return slices.DeleteFunc(rules.Critical(), func(name string) bool {
		switch name {
		case "acidity":
			return !all && card.Acidity == "low-acid"
		case "pressure":
			return !all && method != "pressure"
		case "low-acid":
			return !all && card.Acidity != "low-acid"
		}
		return false
	})
}
