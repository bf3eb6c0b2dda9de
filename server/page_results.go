package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz"
	"rollingboil/quiz/exchange"
	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// A visitor takes home what was answered: as a table, and as statements for a
// learning record store. Both name the visitor by the random number in the cookie's
// session and by nothing else. An instructor takes home the same of a class.

// answersFile is every answer of the visitor, the earliest first, as CSV.
func (s *Server) answersFile(c *gin.Context) error {
	kept, err := s.store.ListAnswers(c.Request.Context(), s.visitor(c))
	if err != nil {
		return err
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := exchange.WriteAnswers(&out, t.answersOut(kept)); err != nil {
		return fmt.Errorf("write answers: %w", err)
	}
	return s.download(c, "answers.csv", "text/csv; charset=utf-8", out.Bytes())
}

// statementsFile is the visitor's answers, sets and scenarios as xAPI statements, one
// to a line.
func (s *Server) statementsFile(c *gin.Context) error {
	done, err := s.workOf(c)
	if err != nil {
		return err
	}
	lines, err := s.statements(c.Request, done)
	if err != nil {
		return err
	}
	return s.download(c, "statements.jsonl", "application/jsonl; charset=utf-8", lines)
}

// workDone is what one visitor, or a whole class, answered and tried.
type workDone struct {
	course   *taught
	answers  []store.Answer
	sittings []store.Sitting
	attempts []store.Attempt
}

func (s *Server) workOf(c *gin.Context) (w workDone, err error) {
	if w.course, err = s.taughtTo(c); err != nil {
		return w, err
	}
	ctx, visitor := c.Request.Context(), s.visitor(c)
	if w.answers, err = s.store.ListAnswers(ctx, visitor); err != nil {
		return w, err
	}
	if w.sittings, err = s.store.ListSittings(ctx, visitor); err != nil {
		return w, err
	}
	w.attempts, err = s.store.ListAttempts(ctx, visitor)
	return w, err
}

// statements writes what was done as xAPI statements, one to a line.
func (s *Server) statements(r *http.Request, done workDone) ([]byte, error) {
	publisher, err := exchange.NewPublisher(homeAddress(r))
	if err != nil {
		return nil, fmt.Errorf("begin statements: %w", err)
	}
	var statements []exchange.Statement
	for _, a := range done.course.answersOut(done.answers) {
		statement, err := publisher.Answered(a)
		if err != nil {
			return nil, fmt.Errorf("state the answer to %s: %w", a.Question, err)
		}
		statements = append(statements, statement)
	}
	attempts, err := done.attemptsOut()
	if err != nil {
		return nil, err
	}
	for _, a := range attempts {
		of, err := publisher.Attempted(a)
		if err != nil {
			return nil, fmt.Errorf("state the attempt at %s: %w", a.Name, err)
		}
		statements = append(statements, of...)
	}
	var out bytes.Buffer
	if err := exchange.WriteStatements(&out, statements); err != nil {
		return nil, fmt.Errorf("write statements: %w", err)
	}
	return out.Bytes(), nil
}

func (s *Server) download(c *gin.Context, name, kind string, data []byte) error {
	c.Header("Content-Disposition", `attachment; filename="rollingboil-`+name+`"`)
	c.Header("Cache-Control", "private, no-store")
	c.Data(http.StatusOK, kind, data)
	return nil
}

// homeAddress is where this site was asked for. Statements begin with it, so the same
// site should always be asked for by the same name.
func homeAddress(r *http.Request) string {
	scheme := "http"
	if r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https" {
		scheme = "https"
	}
	return scheme + "://" + r.Host
}

func (t *taught) answersOut(kept []store.Answer) []exchange.Answer {
	list := make([]exchange.Answer, len(kept))
	for i, a := range kept {
		list[i] = exchange.Answer{
			Learner: a.Visitor, Question: a.Question, Seed: a.Seed, Lesson: a.Lesson, Sitting: a.Sitting,
			Given: a.Given, Right: a.Right, At: a.At,
		}
		if asked, _, ok := t.markedAgain(a); ok {
			list[i].Asked = asked
		}
		list[i].Misconceptions = t.wrongBeliefs(a)
	}
	return list
}

// markedAgain puts the question of an answer once more and marks it, for what was asked
// and for the beliefs behind it. Whether it was right stays as it was marked then. A
// question may be gone, or changed since.
func (t *taught) markedAgain(a store.Answer) (*quiz.Asked, quiz.Result, bool) {
	q, ok := t.Bank.Question(a.Question)
	if !ok || t.readsOtherwise(a) {
		return nil, quiz.Result{}, false
	}
	asked, err := q.Ask(a.Seed)
	if err != nil {
		return nil, quiz.Result{}, false
	}
	result, err := asked.Mark(a.Given)
	return asked, result, err == nil
}

// attemptsOut are sets and scenarios.
func (w workDone) attemptsOut() ([]exchange.Attempt, error) {
	right := map[string]int{} // in a set, as it was marked when it was handed in
	for _, a := range w.answers {
		if a.Right {
			right[a.Sitting]++
		}
	}
	var list []exchange.Attempt
	for _, v := range w.sittings {
		a := exchange.Attempt{Learner: v.Visitor, Kind: exchange.QuizAttempt, Name: v.ID, Title: v.Title, Begun: v.Begun, Ended: v.Submitted}
		if !v.Submitted.IsZero() {
			a.Right, a.Of = right[v.ID], len(v.Questions)
		}
		list = append(list, a)
	}
	for _, kept := range w.attempts {
		var report scenarios.Report
		if err := json.Unmarshal(kept.Report, &report); err != nil {
			return nil, fmt.Errorf("read the report of attempt %s: %w", kept.ID, err)
		}
		a := exchange.Attempt{
			Learner: kept.Visitor, Kind: exchange.ScenarioAttempt, Name: kept.Scenario, Title: w.course.scenarioTitle(kept.Scenario),
			Begun: kept.At, Ended: kept.At, Passed: &kept.Passed,
		}
		for _, finding := range report.Findings {
			a.Rules = append(a.Rules, finding.Rule)
		}
		list = append(list, a)
	}
	return list, nil
}
