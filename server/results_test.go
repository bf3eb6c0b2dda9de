package server

import (
	"encoding/csv"
	"net/url"
	"strings"
	"testing"

	"rollingboil/quiz"
	"rollingboil/quiz/exchange"
)

// TestWorkIsTakenHome: every answer is in the table, and every statement is valid
// xAPI 2.0; neither says who the visitor is.
func TestWorkIsTakenHome(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	given := 0
	tried := map[string]bool{}
	for _, q := range course.Bank.Questions() { // one of each kind, wrong and then right
		if tried[q.Kind] {
			continue
		}
		tried[q.Kind] = true
		asked, err := q.Ask(7)
		if err != nil {
			t.Fatal(err)
		}
		for _, right := range []bool{false, true} {
			s.post("/practice/"+q.ID+"?seed=7", fields(t, asked, right))
			given++
		}
	}
	begun := s.post("/check", url.Values{"size": {"5"}})
	set := strings.TrimSuffix(strings.TrimPrefix(begun.Request.URL.Path, "/check/"), "/1")
	s.post("/check/"+set+"/hand-in", url.Values{"open": {"on"}})
	s.post("/scenarios/"+course.Scenarios[0].Slug, url.Values{})

	table := s.get("/my-work/answers.csv")
	rows, err := csv.NewReader(strings.NewReader(string(table.body))).ReadAll()
	if err != nil || len(rows) != given+1 {
		t.Fatalf("answers.csv has %d rows, %v; want a header and %d answers", len(rows), err, given)
	}
	if got := table.Header.Get("Content-Disposition"); !strings.Contains(got, "attachment") {
		t.Errorf("Content-Disposition %q, want an attachment", got)
	}
	lines := strings.Split(strings.TrimSpace(string(s.get("/my-work/statements.jsonl").body)), "\n")
	if len(lines) < given+1 {
		t.Errorf("%d statements, want one for each of %d answers and more for the set", len(lines), given)
	}
	for _, line := range lines {
		if err := exchange.ValidateStatement([]byte(line)); err != nil {
			t.Errorf("statement %s: %v", line, err)
		}
	}
	for _, kind := range []string{quiz.Choice, quiz.Choices, quiz.Number, quiz.Order, quiz.Match} {
		if !tried[kind] {
			t.Errorf("the bank has no question of the kind %s", kind)
		}
	}
	if other := newSite(t).get("/my-work/answers.csv"); strings.Count(string(other.body), "\n") != 1 {
		t.Errorf("one of whom nothing is kept gets %q, want a header alone", other.body)
	}
}
