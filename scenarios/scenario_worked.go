package scenarios

import (
	"fmt"
	"math"
	"slices"

	"rollingboil/scenarios/measure"
)

// A worked scenario shows one plan step by step, each step with the look-up that
// gives it, and then kitchens like it whose last steps are left to the learner.

func (g *Grader) workedCase(c *Case) error {
	for i, b := range c.then {
		kitchen := overlay(c.Kitchen, b.change)
		solution, err := g.Solve(kitchen, c.choices)
		if err != nil {
			return fmt.Errorf("kitchen %d after the first: %w", i+1, err)
		}
		if solution.Report.Verdict != AsTested {
			return fmt.Errorf("kitchen %d after the first is %s", i+1, solution.Report.Verdict)
		}
		c.Then = append(c.Then, WorkedKitchen{Kitchen: kitchen, Solution: solution, Blank: b.keys})
	}
	return nil
}

func (g *Grader) checkWorked(c *Case) error {
	for i, w := range c.Then {
		for _, key := range w.Blank {
			if !w.Solution.Plan.Known(key) || w.Kitchen.Known(key) {
				return fmt.Errorf("kitchen %d after the first: %s is settled or has no answer, so it cannot be left blank", i+1, key)
			}
		}
		if i > 0 && len(w.Blank) < len(c.Then[i-1].Blank) {
			return fmt.Errorf("kitchen %d after the first leaves fewer steps blank than the one before", i+1)
		}
		found := g.MarkWorked(c, i, Plan{})
		if found.Passed {
			return fmt.Errorf("kitchen %d after the first is passed by a blank answer", i+1)
		}
		for _, m := range found.Marks {
			if m.Why == "" {
				return fmt.Errorf("kitchen %d after the first: %s is no step of the worked answer, so there is no reason to give for it", i+1, m.Key)
			}
		}
	}
	return nil
}

// WorkedMark is what is said of one value that a learner filled in.
type WorkedMark struct {
	Key, Given, Tested string
	Right              bool
	Why                string // the step that gives it, or the finding
}

// WorkedResult is a completed kitchen, marked.
type WorkedResult struct {
	Marks  []WorkedMark
	Report Report
	Passed bool
}

// MarkWorked grades a kitchen after the first with what the learner filled in: the
// values left blank, and no others.
func (g *Grader) MarkWorked(c *Case, kitchen int, given Plan) WorkedResult {
	w := c.Then[kitchen]
	plan := w.Solution.Plan
	for _, key := range w.Blank {
		plan.slot(key).take(given.slot(key))
	}
	result := WorkedResult{Report: g.Grade(plan), Passed: true}
	for _, key := range w.Blank {
		m := WorkedMark{Key: key, Given: given.Text(key), Tested: g.SayValue(w.Solution.Plan, key), Right: given.Known(key)}
		for _, step := range w.Solution.Steps {
			if step.Key == key || key == "time" && step.Key == "pressure" { // which says both
				m.Why = step.Why
			}
		}
		// More than was tested need not be dangerous, but it is not what was looked up.
		m.Right = m.Right && (sameValue(&plan, &w.Solution.Plan, key) || isPrinted(&plan, key, result.Report.Tested))
		for _, f := range result.Report.Findings {
			if sameField(f.Field, key) && f.Severity != "note" {
				m.Right, m.Why = false, f.Says+" "+f.Why
			}
		}
		result.Passed = result.Passed && m.Right
		result.Marks = append(result.Marks, m)
	}
	result.Passed = result.Passed && result.Report.Verdict == AsTested
	return result
}

// sameValue reports whether two plans state the same of a key, in whatever units:
// a ruler that shows 13 mm shows 1/2 inch.
func sameValue(a, b *Plan, key string) bool {
	near := func(x, y, tolerance float64) bool { return math.Abs(x-y) <= tolerance }
	switch x := a.slot(key).(type) {
	case *Stated[measure.Duration]:
		return near(float64(x.Value), float64(b.slot(key).(*Stated[measure.Duration]).Value), timeToleranceMin)
	case *Stated[measure.Pressure]:
		return near(float64(x.Value), float64(b.slot(key).(*Stated[measure.Pressure]).Value), pressureToleranceLb)
	case *Stated[measure.Length]:
		return near(float64(x.Value), float64(b.slot(key).(*Stated[measure.Length]).Value), lengthToleranceIn)
	case *Stated[measure.Volume]:
		tsp := float64(b.slot(key).(*Stated[measure.Volume]).Value)
		return near(float64(x.Value), tsp, tsp*spoonRounding)
	}
	return a.Text(key) == b.Text(key)
}

// isPrinted reports whether a time or a pressure stands in a row of the table that
// answers the plan: where several are printed, any of them will do.
func isPrinted(p *Plan, key string, rows []Tested) bool {
	return slices.ContainsFunc(rows, func(r Tested) bool {
		pressed := r.PSI == 0 || math.Abs(float64(p.Pressure.Value)-float64(r.PSI)) <= pressureToleranceLb
		return (key == "time" || key == "pressure") && pressed && float64(p.Time.Value) == float64(r.Minutes)
	})
}

// sameField reports whether a finding points at a key: at itself, or at the group
// it stands in.
func sameField(field, key string) bool {
	return field == key || slices.Contains(groups[field], key)
}
