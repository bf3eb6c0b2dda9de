package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

type workPage struct {
	page
	Name                     string // of who is logged in, "" for a visitor without an account
	Student                  bool
	Holds                    bool // a class, for whose sake the account stays
	Done                     bool // something is listed
	Kept                     bool // something is kept, if only an altitude or an account
	Plans, Attempts, Batches []keptLine
	Sets                     []checkLine
	Asked                    []needLine
	Answers                  []answersLine
}

type keptLine struct{ ID, Mark, Title, When, Answer string }

type answersLine struct {
	Slug, Title                string
	Answered, Right, Questions int
}

// mark is a verdict's sign in a list, beside its words.
func mark(verdict string) string {
	switch scenarios.Verdict(verdict) {
	case scenarios.AsTested:
		return "✓"
	case scenarios.Incomplete:
		return "?"
	}
	return "▲"
}

func verdictName(verdict string) string {
	switch scenarios.Verdict(verdict) {
	case scenarios.AsTested:
		return "As tested"
	case scenarios.FixFirst:
		return "Fix first"
	case scenarios.Incomplete:
		return "Incomplete"
	case scenarios.NoTestedProcess:
		return "No tested process"
	}
	return "Not safe as written"
}

// whenText is a time of the server's clock, in UTC: the visitor's own zone is
// not known without a script.
func whenText(t time.Time) string { return t.UTC().Format("2 Jan 2006, 15:04 UTC") }

func (s *Server) workPage(c *gin.Context) error {
	data := workPage{page: newPage("My work", "/my-work")}
	ctx, visitor := c.Request.Context(), s.visitor(c)
	if visitor == "" {
		return s.write(c.Writer, c.Request, http.StatusOK, "work", data)
	}
	p, _ := person(c)
	data.Name, data.Student = p.Name, p.Role == store.Student
	held, err := s.store.Held(ctx, visitor)
	if err != nil {
		return err
	}
	data.Holds = len(held) > 0
	// There is a row of a visitor as soon as anything at all is kept.
	if _, err := s.store.Visitor(ctx, visitor); err == nil {
		data.Kept = true
	} else if !errors.Is(err, store.ErrNotFound) {
		return err
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	plans, err := s.store.ListPlans(ctx, visitor)
	if err != nil {
		return err
	}
	for _, p := range plans {
		data.Plans = append(data.Plans, keptLine{p.ID, mark(p.Verdict), p.Title, whenText(p.At), verdictName(p.Verdict)})
	}
	attempts, err := s.store.ListAttempts(ctx, visitor)
	if err != nil {
		return err
	}
	for _, a := range attempts {
		data.Attempts = append(data.Attempts, keptLine{a.ID, mark(a.Verdict), t.scenarioTitle(a.Scenario), whenText(a.At), verdictName(a.Verdict)})
	}
	if data.Sets, err = s.setLines(c, visitor); err != nil {
		return err
	}
	if data.Answers, err = s.answersByLesson(c, t, visitor); err != nil {
		return err
	}
	batches, err := s.store.BatchStates(ctx, visitor, "")
	if err != nil {
		return err
	}
	for _, b := range slices.Backward(batches) {
		data.Batches = append(data.Batches, keptLine{b.ID, batchMark(b.State), b.Title, whenText(b.At), batchStates[b.State]})
	}
	if data.Asked, err = s.askedLines(c, visitor); err != nil {
		return err
	}
	data.Done = len(plans)+len(attempts)+len(batches)+len(data.Sets)+len(data.Asked)+len(data.Answers) > 0
	return s.write(c.Writer, c.Request, http.StatusOK, "work", data)
}

// batchMark is a sign for what a batch waits for, beside its words.
func batchMark(state string) string {
	switch state {
	case store.Accepted:
		return "✓"
	case store.PlanBack, store.RecordBack:
		return "▲"
	}
	return "·"
}

// askedLines lists what a person asked, the latest first. In a class that was left nothing
// can be opened any more.
func (s *Server) askedLines(c *gin.Context, visitor string) ([]needLine, error) {
	ctx := c.Request.Context()
	all, err := s.store.AskedOf(ctx, visitor)
	if err != nil {
		return nil, err
	}
	var lines []needLine
	for _, q := range slices.Backward(all) {
		class, err := s.store.Class(ctx, q.Class)
		if err != nil {
			return nil, err
		}
		line := needLine{What: beginning(q.Text), About: class.Name + ", answered"}
		if q.Version == 0 {
			line.About = class.Name + ", no answer yet"
		}
		if q.Name != "" {
			line.Path = "/class/" + q.Class + "/questions#asked-" + q.ID
		}
		lines = append(lines, line)
	}
	return lines, nil
}

func (t *taught) scenarioTitle(slug string) string {
	if sc := t.scenario(slug); sc != nil {
		return sc.Title
	}
	return slug
}

// answersByLesson counts a visitor's answers, lesson by lesson: how many were
// given, and to how many questions the last answer was right.
func (s *Server) answersByLesson(c *gin.Context, t *taught, visitor string) ([]answersLine, error) {
	answers, err := s.store.ListAnswers(c.Request.Context(), visitor)
	if err != nil {
		return nil, err
	}
	given := map[string]int{}
	last := map[string]map[string]bool{}
	for _, a := range answers {
		given[a.Lesson]++
		if last[a.Lesson] == nil {
			last[a.Lesson] = map[string]bool{}
		}
		last[a.Lesson][a.Question] = a.Right
	}
	var lines []answersLine
	for _, l := range t.Lessons.Lessons() {
		if given[l.Slug] == 0 {
			continue
		}
		line := answersLine{Slug: l.Slug, Title: l.Title, Answered: given[l.Slug], Questions: len(t.Bank.Lesson(l.Slug))}
		for _, right := range last[l.Slug] {
			if right {
				line.Right++
			}
		}
		lines = append(lines, line)
	}
	return lines, nil
}

type keptPage struct {
	page
	When, Heading            string
	Of                       place // whose work it is
	Report                   *reportView
	Result                   *scenarioResult
	Older                    bool // judged by other rules than today's
	Lines                    []planLine
	Again, AgainText, Delete string
}

func (s *Server) keptPlanPage(c *gin.Context) error {
	kept, err := s.store.Plan(c.Request.Context(), s.visitor(c), c.Param("id"))
	if err != nil {
		return err
	}
	return s.showKept(c, keptPage{
		page: newPage(kept.Title, "/my-work/plans"), When: whenText(kept.At), Heading: kept.Title, Of: place{Path: "/my-work", Name: "My work"},
		Again: "/plan?from=" + kept.ID, AgainText: "Change it and check again", Delete: "/my-work/plans/" + kept.ID + "/delete",
	}, kept.Plan, kept.Report)
}

func (s *Server) keptAttemptPage(c *gin.Context) error {
	return s.showAttempt(c, s.visitor(c), place{})
}

// showAttempt shows an attempt as it was judged then. Who looks at somebody else's is
// led back to that person, and can neither repeat nor delete it.
func (s *Server) showAttempt(c *gin.Context, visitor string, of place) error {
	kept, err := s.store.Attempt(c.Request.Context(), visitor, c.Param("id"))
	if err != nil {
		return err
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	title := t.scenarioTitle(kept.Scenario)
	data := keptPage{page: newPage(title, "/my-work/attempts"), When: whenText(kept.At), Heading: title, Of: place{Path: "/my-work", Name: "My work"}}
	if of.Path == "" {
		data.Again, data.AgainText, data.Delete = scenarioAddress(kept.Scenario, kept.Seed, ""), "Try it again", "/my-work/attempts/"+kept.ID+"/delete"
	} else {
		data.page, data.Of = newPage(title, of.Path), of
	}
	if kept.Version != "" && kept.Version != s.course.Grader.Version() {
		data.Older = true
	}
	if kept.Kind == "" || kept.Kind == scenarios.PlanIt {
		return s.showKept(c, data, kept.Plan, kept.Report)
	}
	data.Result = &scenarioResult{}
	if err := json.Unmarshal(kept.Result, data.Result); err != nil {
		return fmt.Errorf("read a kept result: %w", err)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "kept", data)
}

// showKept shows a plan with the report it was given then, not a new one.
func (s *Server) showKept(c *gin.Context, data keptPage, planFile, reportJSON []byte) error {
	var report scenarios.Report
	if err := json.Unmarshal(reportJSON, &report); err != nil {
		return fmt.Errorf("read a kept report: %w", err)
	}
	plan, err := s.course.Grader.ParsePlan("", planFile)
	if err != nil {
		return fmt.Errorf("read a kept plan: %w", err)
	}
	view := s.viewReport(report)
	data.Report = &view
	data.Report.NotStated, data.Report.Missing = nil, nil // their links lead to the form
	data.Lines = s.linesOf(plan, nil)
	return s.write(c.Writer, c.Request, http.StatusOK, "kept", data)
}

func (s *Server) deletePlan(c *gin.Context) error {
	if err := s.store.DeletePlan(c.Request.Context(), s.visitor(c), c.Param("id")); err != nil {
		return err
	}
	c.Redirect(http.StatusSeeOther, "/my-work")
	return nil
}

func (s *Server) deleteAttempt(c *gin.Context) error {
	if err := s.store.DeleteAttempt(c.Request.Context(), s.visitor(c), c.Param("id")); err != nil {
		return err
	}
	c.Redirect(http.StatusSeeOther, "/my-work")
	return nil
}

type forgetPage struct {
	page
	Name    string // of who is logged in, "" for a visitor without an account
	Student bool
	Held    []store.Class // for whose sake an instructor's account stays
}

func (s *Server) forgetPage(c *gin.Context) error {
	p, in := person(c)
	data := forgetPage{page: newPage("Delete all my work", "/my-work"), Name: p.Name, Student: p.Role == store.Student}
	if in {
		var err error
		if data.Held, err = s.store.Held(c.Request.Context(), p.Visitor); err != nil {
			return err
		}
		data.page = newPage("Delete my account", "/my-work")
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "forget", data)
}

// forget deletes everything kept for the visitor and ends the session.
func (s *Server) forget(c *gin.Context) error {
	ctx := c.Request.Context()
	var unwiped error
	if visitor := s.visitor(c); visitor != "" {
		held, err := s.store.Held(ctx, visitor)
		if err != nil {
			return err
		}
		if len(held) > 0 {
			return errHoldsClass
		}
		if unwiped = s.store.Forget(ctx, visitor); unwiped != nil && !errors.Is(unwiped, store.ErrUnwiped) {
			return unwiped
		}
		if p, in := person(c); in {
			s.event(c, "account deleted", p.Visitor)
		}
	}
	if err := s.sessions.Destroy(ctx); err != nil {
		return err
	}
	c.Header("Clear-Site-Data", `"storage"`) // the clock times that wait on the phone, too
	if unwiped != nil {
		s.log.Error("wipe what was deleted", "error", unwiped)
		return unwiped
	}
	c.Redirect(http.StatusSeeOther, "/my-work")
	return nil
}
