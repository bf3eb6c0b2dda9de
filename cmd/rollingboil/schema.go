package main

import (
	"rollingboil/scenarios"
	"rollingboil/scenarios/process"
)

type schemaCommand struct {
	Of string `arg:"" enum:"plan,batch" help:"Of what: plan or batch."`
}

func (schemaCommand) Help() string {
	return "Example: rollingboil schema plan > plan.schema.json\n\nAn editor that is given it offers the keys and words of a plan file and marks what cannot be read."
}

// Run prints a JSON Schema.
func (cmd schemaCommand) Run(c console) error {
	table, err := process.Shipped()
	if err != nil {
		return err
	}
	schema := scenarios.PlanSchema
	if cmd.Of == "batch" {
		schema = scenarios.BatchSchema
	}
	_, err = c.out.Write(schema(table))
	return err
}
