package main

import (
	"fmt"
	"os"

	"rollingboil/scenarios"
)

type draftCommand struct {
	Scenario draftScenarioCommand `cmd:"" help:"Make a scenario of a finished batch."`
}

type draftScenarioCommand struct {
	Kind string `enum:"what-now,faults" default:"what-now" help:"Which kind: what-now, about its jars, or faults, about what went wrong."`
	File string `arg:"" help:"A batch file."`
}

func (draftScenarioCommand) Help() string {
	return "Example: rollingboil draft scenario batch.yaml > 60-my-batch.md\n\nThe draft holds what was planned and what happened, and no names; comments of the file are left out.\nWrite the text for the learner, give it a number, and check it with rollingboil lint --course."
}

// Run prints a draft.
func (cmd draftScenarioCommand) Run(c console) error {
	grader, err := scenarios.Shipped()
	if err != nil {
		return err
	}
	src, err := os.ReadFile(cmd.File)
	if err != nil {
		return err
	}
	b, batch, err := grader.ParseFile(cmd.File, src)
	if err != nil {
		return err
	}
	if !batch {
		return fmt.Errorf("%s is a plan; a scenario is made of a batch, with plan and record", cmd.File)
	}
	draft, err := grader.Draft(b, cmd.Kind)
	if err != nil {
		return fmt.Errorf("%s: %w", cmd.File, err)
	}
	_, err = c.out.Write(draft)
	return err
}
