package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"net/http"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz/exchange"
	"rollingboil/scenarios"
)

// A visitor takes home what was answered: as a table, and as statements for a
// learning record store. Both name the visitor by the random number in the cookie's
// session and by nothing else.

// answersFile is every answer of the visitor, the earliest first, as CSV.
func (s *Server) answersFile(c *gin.Context) error {
	answers, err := s.answersOut(c)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	if err := exchange.WriteAnswers(&out, answers); err != nil {
		return fmt.Errorf("write answers: %w", err)
	}
	return s.download(c, "answers.csv", "text/csv; charset=utf-8", out.Bytes())
}

// statementsFile is the visitor's answers, sets and scenarios as xAPI statements, one
// to a line.
func (s *Server) statementsFile(c *gin.Context) error {
	publisher, err := exchange.NewPublisher(homeAddress(c.Request))
	if err != nil {
		return fmt.Errorf("begin statements: %w", err)
	}
	answers, err := s.answersOut(c)
	if err != nil {
		return err
	}
	var statements []exchange.Statement
	for _, a := range answers {
		statement, err := publisher.Answered(a)
		if err != nil {
			return fmt.Errorf("state the answer to %s: %w", a.Question, err)
		}
		statements = append(statements, statement)
	}
	attempts, err := s.attemptsOut(c, answers)
	if err != nil {
		return err
	}
	for _, a := range attempts {
		of, err := publisher.Attempted(a)
		if err != nil {
			return fmt.Errorf("state the attempt at %s: %w", a.Name, err)
		}
		statements = append(statements, of...)
	}
	var out bytes.Buffer
	if err := exchange.WriteStatements(&out, statements); err != nil {
		return fmt.Errorf("write statements: %w", err)
	}
	return s.download(c, "statements.jsonl", "application/jsonl; charset=utf-8", out.Bytes())
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

func (s *Server) answersOut(c *gin.Context) ([]exchange.Answer, error) {
	kept, err := s.store.ListAnswers(c.Request.Context(), s.visitor(c))
	if err != nil {
		return nil, err
	}
	list := make([]exchange.Answer, len(kept))
	for i, a := range kept {
		list[i] = exchange.Answer{
			Learner: a.Visitor, Question: a.Question, Seed: a.Seed, Lesson: a.Lesson, Sitting: a.Sitting,
			Given: a.Given, Right: a.Right, At: a.At,
		}
		// A question may be gone, or changed so that it no longer has this answer.
		// Whether it was right stays as it was marked then.
		q, ok := s.course.Bank.Question(a.Question)
		if !ok {
			continue
		}
		asked, err := q.Ask(a.Seed)
		if err != nil {
			continue
		}
		if result, err := asked.Mark(a.Given); err == nil {
			list[i].Asked = asked
			list[i].Misconceptions = result.Misconceptions()
		}
	}
	return list, nil
}

// attemptsOut are the visitor's sets and scenarios. answers are all that were given.
func (s *Server) attemptsOut(c *gin.Context, answers []exchange.Answer) ([]exchange.Attempt, error) {
	ctx, visitor := c.Request.Context(), s.visitor(c)
	sittings, err := s.store.ListSittings(ctx, visitor)
	if err != nil {
		return nil, err
	}
	right := map[string]int{} // in a set, as it was marked when it was handed in
	for _, a := range answers {
		if a.Right {
			right[a.Sitting]++
		}
	}
	var list []exchange.Attempt
	for _, v := range sittings {
		a := exchange.Attempt{Learner: visitor, Kind: exchange.QuizAttempt, Name: v.ID, Title: v.Title, Begun: v.Begun, Ended: v.Submitted}
		if !v.Submitted.IsZero() {
			a.Right, a.Of = right[v.ID], len(v.Questions)
		}
		list = append(list, a)
	}
	attempts, err := s.store.ListAttempts(ctx, visitor)
	if err != nil {
		return nil, err
	}
	for _, kept := range attempts {
		var report scenarios.Report
		if err := json.Unmarshal(kept.Report, &report); err != nil {
			return nil, fmt.Errorf("read the report of attempt %s: %w", kept.ID, err)
		}
		a := exchange.Attempt{
			Learner: visitor, Kind: exchange.ScenarioAttempt, Name: kept.Scenario, Title: s.scenarioTitle(kept.Scenario),
			Begun: kept.At, Ended: kept.At, Passed: &kept.Passed,
		}
		for _, finding := range report.Findings {
			a.Rules = append(a.Rules, finding.Rule)
		}
		list = append(list, a)
	}
	return list, nil
}
