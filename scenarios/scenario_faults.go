package scenarios

import (
	"errors"
	"fmt"
	"slices"
)

// In a faults scenario a plan that was as tested, or a batch, has faults planted in
// it. The learner marks what is looked at as sound or wrong, and gives the right
// value. All of it is judged against the grader's own findings.

func (g *Grader) faultsCase(c *Case, index int) error {
	c.Plan = c.Solution.Plan
	var want []string
	for _, i := range picked(len(c.faults), c.pick, index) {
		c.Plan = overlay(c.Plan, c.faults[i].set)
		want = append(want, c.faults[i].rules...)
	}
	findings := g.Grade(c.Plan).Findings
	if c.record != nil {
		c.Batch = &Batch{Plan: c.Plan, Record: *c.record}
		findings = g.GradeBatch(*c.Batch).Findings
		want = append(want, c.inRecord...)
	}
	for _, f := range findings {
		if f.Severity == "safety" {
			c.Found = append(c.Found, f)
		}
	}
	return sameRules(safetyRules(findings), want)
}

func (g *Grader) checkFaults(c *Case) error {
	if len(c.Found) == 0 {
		return errors.New("no fault is planted")
	}
	for _, f := range c.Found {
		if !slices.ContainsFunc(c.Fields(), func(key string) bool { return sameField(f.Field, key) }) {
			return fmt.Errorf("rule %s finds fault with %s, which is not among the fields that are looked at", f.Rule, f.Field)
		}
		if !slices.Contains(c.Exercises, f.Rule) {
			return fmt.Errorf("rule %s is not among those that it exercises", f.Rule)
		}
	}
	for _, key := range c.fields {
		if !slices.Contains(recordFields, key) && !c.Plan.Known(key) {
			return fmt.Errorf("%s is looked at, but the plan does not state it", key)
		}
	}
	if g.MarkFaults(c, nil).Passed {
		return errors.New("a blank answer passes")
	}
	all := map[string]FaultAnswer{}
	for _, key := range c.fields {
		all[key] = FaultAnswer{Wrong: true, Value: c.Solution.Plan.Text(key)}
	}
	if g.MarkFaults(c, all).Passed {
		return errors.New("calling everything wrong passes")
	}
	if !g.MarkFaults(c, g.BestFaults(c)).Passed {
		return errors.New("the right answer does not pass")
	}
	return nil
}

// Fields lists what is looked at, in the order of the plan file.
func (c *Case) Fields() []string { return c.fields }

// FaultAnswer is what a learner says of one thing.
type FaultAnswer struct {
	Wrong bool
	Value string // the right value, as typed; for things of the plan
}

// FaultMark is what is said of one thing that was looked at.
type FaultMark struct {
	Key      string
	Value    string // what the plan states
	Faulty   bool
	Said     FaultAnswer
	Findings []Finding // why it is wrong, or what could be better about one that is safe
	Mended   bool      // the value given puts it right, or none is asked for
	Tested   string    // the tested value; "" where there is none to give
}

// Right reports whether the learner saw it as it is, and could put it right. What is
// safe but could be better may be called either.
func (m FaultMark) Right() bool {
	return m.Faulty == m.Said.Wrong && m.Mended || !m.Faulty && len(m.Findings) > 0
}

// FaultsResult is a search for faults, marked.
type FaultsResult struct {
	Marks                    []FaultMark
	Hits, Misses, FalseAlarm int
	Passed                   bool
}

// MarkFaults judges a learner's search: a hit for each fault found, a miss for each
// overlooked, a false alarm for each sound thing called wrong. It passes when every
// fault is found and mended and no alarm is false.
func (g *Grader) MarkFaults(c *Case, said map[string]FaultAnswer) FaultsResult {
	result := FaultsResult{Passed: true}
	better := qualityFindings(g, c)
	for _, key := range c.fields {
		m := FaultMark{Key: key, Value: g.SayValue(c.Plan, key), Said: said[key], Mended: true}
		for _, f := range c.Found {
			if sameField(f.Field, key) {
				m.Faulty, m.Findings = true, append(m.Findings, f)
			}
		}
		if !m.Faulty {
			for _, f := range better {
				if sameField(f.Field, key) {
					m.Findings = append(m.Findings, f)
				}
			}
		}
		switch {
		case m.Faulty && m.Said.Wrong:
			result.Hits++
			m.Tested = c.Solution.Plan.Text(key)
			if !slices.Contains(recordFields, key) {
				m.Mended = g.mends(c, key, m.Said.Value)
			}
		case m.Faulty:
			result.Misses++
			m.Tested = c.Solution.Plan.Text(key)
		case m.Said.Wrong && len(m.Findings) == 0:
			result.FalseAlarm++
		}
		result.Passed = result.Passed && m.Right()
		result.Marks = append(result.Marks, m)
	}
	return result
}

// qualityFindings are those on what is safe, but could be better.
func qualityFindings(g *Grader, c *Case) []Finding {
	findings := g.Grade(c.Plan).Findings
	if c.Batch != nil {
		findings = g.GradeBatch(*c.Batch).Findings
	}
	return slices.DeleteFunc(findings, func(f Finding) bool { return f.Severity != "quality" })
}

// mends reports whether a value given for a key takes the faults of that key away,
// and brings no other.
func (g *Grader) mends(c *Case, key, value string) bool {
	if value == "" {
		return false
	}
	plan := c.Plan
	b := binder{table: g.table, plan: &plan}
	clearKey(&plan, key)
	b.state(key, value)
	if b.err("") != nil {
		return false
	}
	planted := safetyRules(c.Found)
	for _, f := range g.Grade(plan).Findings {
		if f.Severity == "safety" && (sameField(f.Field, key) || !slices.Contains(planted, f.Rule)) {
			return false
		}
	}
	return true
}

// clearKey takes back what a plan states for a key.
func clearKey(p *Plan, key string) {
	var none Plan
	p.slot(key).take(none.slot(key))
}

// BestFaults is the answer that finds and mends every fault.
func (g *Grader) BestFaults(c *Case) map[string]FaultAnswer {
	said := map[string]FaultAnswer{}
	for _, key := range c.fields {
		faulty := slices.ContainsFunc(c.Found, func(f Finding) bool { return sameField(f.Field, key) })
		said[key] = FaultAnswer{Wrong: faulty, Value: c.Solution.Plan.Text(key)}
	}
	return said
}
