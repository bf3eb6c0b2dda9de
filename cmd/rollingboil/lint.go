package main

import (
	"encoding/json"
	"fmt"
	"strings"

	"rollingboil/server"
)

type lintCommand struct {
	JSON   bool   `help:"Print counts and problems as JSON."`
	Course string `env:"ROLLINGBOIL_COURSE" placeholder:"DIR" help:"A folder of your own, laid over the shipped course."`
}

func (lintCommand) Help() string { return "Exit status: 0 no problem, 1 problems." }

// lintResult is what lint --json prints.
type lintResult struct {
	Rules     int      `json:"rules"`
	Foods     int      `json:"foods"`
	Processes int      `json:"processes"`
	Lessons   int      `json:"lessons"`
	Questions int      `json:"questions"`
	Scenarios int      `json:"scenarios"`
	Problems  []string `json:"problems"`
}

// Run loads everything a served course consists of and prints what is wrong.
func (cmd lintCommand) Run(c console, code *int) error {
	result := lintResult{Problems: []string{}}
	course, err := server.LoadCourse(cmd.Course)
	if err != nil {
		*code = exitNot
		result.Problems = strings.Split(err.Error(), "\n")
	} else {
		result.Rules, result.Foods = len(course.Grader.Rules().Rules()), len(course.Grader.Table().Foods())
		result.Processes, result.Lessons = course.Grader.Table().Len(), len(course.Lessons.Lessons())
		result.Questions, result.Scenarios = len(course.Bank.Questions()), len(course.Scenarios)
	}
	if cmd.JSON {
		return json.NewEncoder(c.out).Encode(result)
	}
	for _, p := range result.Problems {
		fmt.Fprintln(c.out, p)
	}
	if len(result.Problems) == 0 {
		fmt.Fprintf(c.out, "no problems: %d rules, %d foods, %d processes, %d lessons, %d questions, %d scenarios\n", result.Rules, result.Foods, result.Processes, result.Lessons, result.Questions, result.Scenarios)
	}
	return nil
}
