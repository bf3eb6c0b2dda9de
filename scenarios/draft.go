package scenarios

import (
	"fmt"
	"slices"
	"strings"
	"time"

	"rollingboil/scenarios/measure"
)

// Draft makes a scenario file of a finished batch: its jars to be decided upon
// (what-now), or what went wrong to be found (faults). It holds what was planned and
// what happened, no more: a batch file names nobody, and its comments are left out.
// The error says why no scenario can be made of it.
func (g *Grader) Draft(b Batch, kind string) ([]byte, error) {
	report := g.GradeBatch(b)
	kitchen := Plan{Food: b.Plan.Food, Jar: b.Plan.Jar, Altitude: b.Plan.Altitude}
	choice := Plan{Method: b.Plan.Method, Gauge: b.Plan.Gauge, Pack: b.Plan.Pack}
	solution, err := g.Solve(kitchen, []Plan{choice})
	if err != nil {
		return nil, err
	}
	// Of some things several values are tested. Where the batch's own is one, it stays.
	for _, key := range []string{"acid.kind", "pressure"} {
		own := choice
		own.slot(key).take(b.Plan.slot(key))
		if s, err := g.Solve(kitchen, []Plan{own}); err == nil && s.Report.Verdict == AsTested {
			choice, solution = own, s
		}
	}
	var d strings.Builder
	line := func(format string, args ...any) { fmt.Fprintf(&d, format+"\n", args...) }
	line("---")
	line("title: %s", quote("A batch of "+g.SayValue(b.Plan, "food")))
	line("kind: %s", kind)
	line("minutes: 10")
	line("competencies: [%s]", strings.Join(competenciesOf(report.Findings, kind), ", "))
	line("kitchen: %s", flow(kitchen))
	line("choices: [%s]", flow(choice))
	switch kind {
	case WhatNow:
		err = g.draftWhatNow(line, b, solution.Plan, report)
	case Faults:
		err = g.draftFaults(line, b, solution.Plan)
	default:
		err = fmt.Errorf("%q: a draft is %s or %s", kind, WhatNow, Faults)
	}
	if err != nil {
		return nil, err
	}
	line("---")
	line("Write here what the learner is told: who cans, what is on the counter, and what they hope for.")
	draft := []byte(d.String())
	s, err := g.ParseScenario("60-draft.md", draft)
	if err != nil {
		return nil, fmt.Errorf("the draft would not load: %s", Problems(err)[0].Message)
	}
	if c, err := g.Case(s, 0); err != nil || kind == Faults && !slices.Equal(safetyRules(c.Found), safetyRules(report.Findings)) {
		return nil, fmt.Errorf("its faults hang together and cannot be planted one by one: %s", strings.Join(safetyRules(report.Findings), ", "))
	}
	return draft, nil
}

// flow writes a plan on one line.
func flow(p Plan) string {
	var parts []string
	for _, k := range keys {
		if !p.Known(k.Name) {
			continue
		}
		value := p.yamlValue(k.Name)
		if group, leaf, nested := strings.Cut(k.Name, "."); nested {
			if last := len(parts) - 1; last >= 0 && strings.HasPrefix(parts[last], group+": {") {
				parts[last] = strings.TrimSuffix(parts[last], "}") + ", " + leaf + ": " + value + "}"
				continue
			}
			parts = append(parts, group+": {"+leaf+": "+value+"}")
			continue
		}
		parts = append(parts, k.Name+": "+value)
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

func competenciesOf(findings []Finding, kind string) []string {
	var names []string
	for _, f := range findings {
		if name := CompetencyOf(f.Field); f.Severity == "safety" && name != "" && !slices.Contains(names, name) {
			names = append(names, name)
		}
	}
	if kind == WhatNow && !slices.Contains(names, "unsealed-jars") {
		names = append(names, "seal-check", "unsealed-jars")
	}
	if len(names) == 0 {
		names = []string{"process-time"}
	}
	return names
}

// draftWhatNow puts the jars on the counter. In such a scenario the plan is the tested
// one, so a batch whose own plan decides what becomes of the jars is refused.
func (g *Grader) draftWhatNow(line func(string, ...any), b Batch, tested Plan, report BatchReport) error {
	if len(b.Record.Jars) < 2 {
		return fmt.Errorf("it records %d jars; two at least stand on the counter", len(b.Record.Jars))
	}
	if b.Record.startedFor(b.Plan.Method).Start.IsZero() || b.Record.Finished.IsZero() {
		return fmt.Errorf("it does not record when the time began and when the heat went off, so nobody can say what becomes of the jars")
	}
	next := b.Record // as the jars are looked at in the draft, with nothing done yet
	next.Jars = slices.Clone(b.Record.Jars)
	for i := range next.Jars {
		next.Jars[i].CheckedAfter = Stated[measure.Duration]{Value: 14 * 60, Text: "14 h", Known: true}
		next.Jars[i].Placed = Stated[string]{}
	}
	same := func(a, b JarAnswer) bool { return a.Answer == b.Answer }
	if !slices.EqualFunc(g.GradeBatch(Batch{b.Plan, next}).Jars, g.GradeBatch(Batch{tested, next}).Jars, same) {
		return fmt.Errorf("its plan decides what becomes of the jars (%s); draft it as %s", strings.Join(safetyRules(report.Findings), ", "), Faults)
	}
	draftRecord(line, b, false)
	line("looked: [14 h]")
	line("jars:")
	for i, j := range next.Jars {
		lid, says := "down", "The lid curves down and does not move when pressed."
		if j.Sealed.Known && !j.Sealed.Value {
			lid, says = "domed", "The lid springs when pressed."
		}
		j.CheckedAfter = Stated[measure.Duration]{}
		line("  # recorded: %s", report.Jars[i].Answer)
		line("  - {%s, says: %q, lid: %s}", strings.TrimPrefix(flowJar(j), fmt.Sprintf("n: %d, ", j.N)), says, lid)
	}
	line("exercises: [unsealed-jar-shelved]")
	return nil
}

// draftFaults sets what differs from the tested plan as faults, each with the rules
// it breaks by itself, and keeps the record with those that it breaks.
func (g *Grader) draftFaults(line func(string, ...any), b Batch, tested Plan) error {
	var all, fields []string
	written := 0
	for _, k := range keys {
		if !b.Plan.Known(k.Name) || b.Plan.Text(k.Name) == tested.Text(k.Name) {
			continue
		}
		var only Plan
		only.slot(k.Name).take(b.Plan.slot(k.Name))
		broken := safetyRules(g.Grade(overlay(tested, only)).Findings)
		if len(broken) == 0 {
			continue
		}
		if written == 0 {
			line("faults:")
		}
		written++
		line("  - {set: %s, rules: [%s]}", flow(only), strings.Join(broken, ", "))
		all, fields = append(all, broken...), append(fields, k.Name)
	}
	faulty := overlay(tested, b.Plan)
	var inRecord []string
	for _, rule := range safetyRules(g.GradeBatch(Batch{Plan: faulty, Record: b.Record}).Findings) {
		if !slices.Contains(all, rule) {
			inRecord = append(inRecord, rule)
		}
	}
	if written == 0 && len(inRecord) == 0 {
		return fmt.Errorf("nothing is wrong with this batch")
	}
	draftRecord(line, b, true)
	if len(inRecord) > 0 {
		line("in_record: [%s]", strings.Join(inRecord, ", "))
		fields = append(fields, "record.finished", "record.jars")
	}
	for _, sound := range []string{"headspace", "bands", "cooling.hours", "lids.state"} {
		if !slices.Contains(fields, sound) && tested.Known(sound) {
			fields = append(fields, sound)
		}
	}
	line("fields: [%s]", strings.Join(fields, ", "))
	all = append(all, inRecord...)
	slices.Sort(all)
	line("exercises: [%s]", strings.Join(slices.Compact(all), ", "))
	return nil
}

func draftRecord(line func(string, ...any), b Batch, jars bool) {
	r := b.Record
	line("record:")
	for _, moment := range []struct {
		key string
		at  time.Time
	}{{r.StartKey, r.Start}, {"finished", r.Finished}} {
		if !moment.at.IsZero() {
			line("  %s: %s", moment.key, moment.at.Format(time.RFC3339))
		}
	}
	if len(r.Interruptions) > 0 {
		line("  interruptions:")
		for _, i := range r.Interruptions {
			line("    - {from: %s, to: %s}", i.From.Format(time.RFC3339), i.To.Format(time.RFC3339))
		}
	}
	if !jars {
		return
	}
	line("  jars:")
	for _, j := range r.Jars {
		line("    - {%s}", flowJar(j))
	}
}

// flowJar writes what was recorded of a jar on one line.
func flowJar(j JarRecord) string {
	parts := []string{fmt.Sprintf("n: %d", j.N)}
	add := func(key string, known bool, value any) {
		if known {
			parts = append(parts, fmt.Sprintf("%s: %v", key, value))
		}
	}
	add("sealed", j.Sealed.Known, j.Sealed.Value)
	add("liquid_lost", j.LiquidLost.Known, j.LiquidLost.Value)
	add("separated", j.Separated.Known, j.Separated.Value)
	add("checked_after", j.CheckedAfter.Known, quote(j.CheckedAfter.Text))
	add("looks", j.Looks.Known, j.Looks.Value)
	add("placed", j.Placed.Known, j.Placed.Value)
	return strings.Join(parts, ", ")
}
