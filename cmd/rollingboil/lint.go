package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/server"
)

type lintCommand struct {
	JSON   bool   `help:"Print counts and problems as JSON."`
	Course string `env:"ROLLINGBOIL_COURSE" placeholder:"DIR" help:"A folder of your own, laid over the shipped course."`
}

func (lintCommand) Help() string { return "Exit status: 0 no problem, 1 problems." }

// lintResult is what lint --json prints.
type lintResult struct {
	Lessons        int            `json:"lessons"`
	Questions      int            `json:"questions"`
	WithVariants   int            `json:"with_variants"`
	Misconceptions int            `json:"misconceptions"`
	Scenarios      map[string]int `json:"scenarios"` // by kind
	Rules          int            `json:"rules"`
	Foods          int            `json:"foods"`
	Processes      int            `json:"processes"`
	Problems       []string       `json:"problems"`
}

// Run loads everything a served course consists of, looks over every variant of
// every question, and prints what is wrong.
func (cmd lintCommand) Run(c console, code *int) error {
	result := lintResult{Scenarios: map[string]int{}, Problems: []string{}}
	course, err := server.LoadCourse(cmd.Course)
	for _, kind := range scenarios.ScenarioKinds() {
		result.Scenarios[kind] = 0
	}
	if err == nil {
		result.count(course)
		err = course.Bank.Check()
		for _, s := range course.Scenarios {
			err = errors.Join(err, course.Grader.CheckScenario(s))
		}
	}
	if err != nil {
		*code = exitNot
		result.Problems = strings.Split(err.Error(), "\n")
	}
	if cmd.JSON {
		return json.NewEncoder(c.out).Encode(result)
	}
	for _, p := range result.Problems {
		fmt.Fprintln(c.out, p)
	}
	if len(result.Problems) == 0 {
		fmt.Fprintf(c.out, "no problems: %d rules, %d foods, %d processes, %d lessons, %d questions (%d with variants), %d misconceptions, %d scenarios\n", result.Rules, result.Foods, result.Processes, result.Lessons, result.Questions, result.WithVariants, result.Misconceptions, len(course.Scenarios))
	}
	return nil
}

func (r *lintResult) count(course *server.Course) {
	set, table := course.Grader.Rules(), course.Grader.Table()
	r.Rules, r.Foods, r.Processes = len(set.Rules()), len(table.Foods()), table.Len()
	r.Lessons, r.Misconceptions, r.Questions = len(course.Lessons.Lessons()), len(set.Misconceptions()), len(course.Bank.Questions())
	for _, q := range course.Bank.Questions() {
		if q.Variants() {
			r.WithVariants++
		}
	}
	for _, s := range course.Scenarios {
		r.Scenarios[s.Kind]++
	}
}
