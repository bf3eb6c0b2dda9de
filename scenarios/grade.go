package scenarios

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
	"rollingboil/scenarios/ruleset"
)

// Grader grades plans against one process table and one rule set. It is
// immutable and safe for concurrent use.
type Grader struct {
	table   *process.Table
	rules   *rules.Set
	kinds   map[string]foodKind
	version string
}

// NewGrader joins a table and a rule set.
func NewGrader(table *process.Table, set *rules.Set) *Grader {
	g := &Grader{table: table, rules: set, kinds: make(map[string]foodKind)}
	for _, c := range table.Foods() {
		g.kinds[c.Food] = kindOf(c)
	}
	g.version = versionOf(g)
	return g
}

// RuleOptions tells the rules engine about plans: the facts, their words, the
// stages and the fields a finding may name.
func RuleOptions() rules.Options {
	return rules.Options{Facts: Facts{}, Words: factWords(), Stages: []string{"plan", "batch"}, Fields: factFields()}
}

// Shipped loads the embedded process table and rules and joins them. It also
// grades the examples in every rule: one that breaks it must set it off and one
// that keeps it must not. All problems are reported together.
func Shipped() (*Grader, error) {
	table, err := process.Shipped()
	if err != nil {
		return nil, fmt.Errorf("load the process table: %w", err)
	}
	set, err := rules.Load(ruleset.Files(), RuleOptions())
	if err != nil {
		return nil, fmt.Errorf("load the rules: %w", err)
	}
	g := NewGrader(table, set)
	return g, g.CheckExamples()
}

// CheckExamples grades the examples in every rule: a plan under breaks must set
// the rule off, one under keeps must not. All that fail are reported together.
func (g *Grader) CheckExamples() error {
	var problems []error
	check := func(r rules.Rule, e rules.Example, want bool) {
		b, batch, err := g.ParseFile(r.File, e.YAML)
		if err != nil {
			for _, p := range Problems(err) {
				p.Line += e.Line - 1 // the example stands within the file
				problems = append(problems, fmt.Errorf("%w (an example of rule %s)", p, r.ID))
			}
			return
		}
		if batch != (r.Stage == "batch") {
			problems = append(problems, fmt.Errorf("%s:%d: rule %s: example: not a %s", r.File, e.Line, r.ID, r.Stage))
			return
		}
		var findings []Finding
		if batch {
			findings = g.GradeBatch(b).Findings
		} else {
			findings = g.Grade(b.Plan).Findings
		}
		fired := slices.ContainsFunc(findings, func(f Finding) bool { return f.Rule == r.ID && f.Severity == r.Severity })
		if fired != want {
			problems = append(problems, fmt.Errorf("%s:%d: rule %s: example: sets the rule off: %t, want %t", r.File, e.Line, r.ID, fired, want))
		}
	}
	for _, r := range g.rules.Rules() {
		for _, e := range r.Breaks {
			check(r, e, true)
		}
		for _, e := range r.Keeps {
			check(r, e, false)
		}
	}
	return errors.Join(problems...)
}

// Table gives the process table that plans are looked up in.
func (g *Grader) Table() *process.Table { return g.table }

// Rules gives the rule set that plans are judged by.
func (g *Grader) Rules() *rules.Set { return g.rules }

// Grade judges one plan. It never fails: what cannot be judged keeps the
// verdict from being as-tested and is named in the report.
func (g *Grader) Grade(p Plan) Report {
	found, looked := g.lookup(&p)
	facts := g.factsOf(&p, found, looked)
	return g.report(&p, &facts, found, looked, "plan")
}

// report runs the rules of a stage and gathers everything into a report.
func (g *Grader) report(p *Plan, facts *Facts, found process.Result, looked bool, stage string) Report {
	report := Report{
		File: p.File, Verdict: AsTested, Tested: []Tested{}, Acid: acidOf(facts.card, p.Jar.Value), Findings: []Finding{},
		Missing: missing(p, facts.card), NotStated: notStated(p, facts),
	}
	if looked {
		report.Tested = testedRows(found.Rows)
	}
	if len(report.Missing) > 0 || !facts.ProcessFound {
		report.Verdict = Incomplete
	}
	// For some foods there is nothing to look up: no value that the plan could
	// still state would change the answer.
	if facts.FoodUntested {
		report.Verdict, report.Missing, report.NotStated = NoTestedProcess, []string{}, []string{}
	}
	// The table decides whether there is a process, whatever the rules say.
	if looked && (!facts.ProcessFound || facts.FromMemory) {
		report.Verdict = NoTestedProcess
	}
	var buffer [8]rules.Finding
	for _, f := range g.rules.Evaluate(facts, stage, buffer[:0]) {
		report.Verdict = worse(report.Verdict, verdictOf(f))
		if facts.FoodUntested && f.Field == "food" {
			f.Source = strings.Join(facts.untested.Sources, ", ")
		}
		report.Findings = append(report.Findings, findingOf(p, f))
	}
	slices.SortStableFunc(report.Findings, func(a, b Finding) int {
		return cmp.Or(severityRank(a.Severity)-severityRank(b.Severity), fieldRank(a.Field)-fieldRank(b.Field))
	})
	return report
}

// severityRank and fieldRank order findings: what is dangerous first, then in
// the order in which a plan is written.
func severityRank(severity string) int {
	return slices.Index([]string{"safety", "not-checked", "quality", "note"}, severity)
}

func fieldRank(field string) int {
	return slices.IndexFunc(keys, func(k Key) bool { return k.Name == field || strings.HasPrefix(k.Name, field+".") })
}

// lookup asks the table when the plan states enough for an answer. An untested
// food is not looked up.
func (g *Grader) lookup(p *Plan) (found process.Result, looked bool) {
	if !p.Food.Known || !p.Method.Known || !p.Jar.Known || !p.Altitude.Known || !p.Pack.Known {
		return found, false
	}
	if _, untested := g.table.Untested(p.Food.Value); untested {
		return found, false
	}
	gauge := ""
	if p.Method.Value == "pressure" {
		if !p.Gauge.Known {
			return found, false
		}
		gauge = p.Gauge.Value
	}
	return g.table.Lookup(process.Query{
		Food: p.Food.Value, Pack: p.Pack.Value, Method: p.Method.Value, Gauge: gauge,
		Jar: p.Jar.Value, AltitudeFt: float64(p.Altitude.Value),
	}), true
}

func verdictOf(f rules.Finding) Verdict {
	switch f.Severity {
	case "quality", "note":
		return AsTested
	case "safety":
		switch f.Verdict {
		case "fix-first":
			return FixFirst
		case "no-tested-process":
			return NoTestedProcess
		}
		return Unsafe
	}
	// A rule that could not run has found nothing out, so nothing is settled.
	return Incomplete
}

func findingOf(p *Plan, f rules.Finding) Finding {
	given := f.Given
	if given == "" {
		given = givenText(p, f.Field)
	}
	return Finding{
		Rule: f.Rule, Severity: f.Severity, Field: f.Field, Given: given, Required: f.Required,
		Says: Sentence(f.Says), Why: f.Why, Lesson: f.Lesson, Source: f.Source,
	}
}

// Sentence begins a text with a capital letter.
func Sentence(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// givenText is what the plan states for a field, as it was written; for acid,
// the amount before the kind, as a cook says it.
func givenText(p *Plan, field string) string {
	if field == "acid" {
		return strings.TrimSpace(p.AcidPerJar.Text + " " + Label(p.AcidKind.Value))
	}
	return p.Text(field)
}

// missing names the needed values that a plan does not state.
func missing(p *Plan, card process.Card) []string {
	list := []string{}
	need := func(name string) {
		if !p.Known(name) {
			list = append(list, name)
		}
	}
	for _, name := range []string{"food", "pack", "method"} {
		need(name)
	}
	pressure := p.Method.Value == "pressure"
	if pressure {
		need("gauge")
	}
	for _, name := range []string{"jar", "altitude", "time"} {
		need(name)
	}
	if pressure {
		need("pressure")
	}
	need("headspace")
	if card.AcidIn == "jar" {
		switch {
		case !p.AcidKind.Known && !p.AcidPerJar.Known:
			list = append(list, "acid")
		case !p.AcidKind.Known:
			list = append(list, "acid.kind")
		case !p.AcidPerJar.Known && p.AcidKind.Value != "none":
			list = append(list, "acid.per_jar")
		}
	}
	return list
}

// notStated names the other safety-relevant things that this food and method
// ask about and the plan does not say. A group of which nothing is said is
// named once.
func notStated(p *Plan, f *Facts) []string {
	list := []string{}
	ask := func(names ...string) {
		for _, name := range names {
			if p.Known(name) {
				continue
			}
			if group, _, nested := strings.Cut(name, "."); nested && !p.Known(group) {
				name = group
				if len(list) > 0 && list[len(list)-1] == name {
					continue
				}
			}
			list = append(list, name)
		}
	}
	if f.card.Guide != 5 { // Guide 5 is meat, poultry and seafood
		ask("produce")
	}
	if len(f.card.Prepared) > 0 {
		ask("prepared")
	}
	ask("added", "jars.kind", "jars.condition")
	if f.ShortForJars || f.JamUphill {
		ask("sterilised")
	}
	ask("lids.kind", "lids.state", "bands")
	if !f.LiquidFood {
		ask("bubbles_removed")
	}
	ask("rims_wiped")
	switch f.Method {
	case "boiling-water":
		ask("water_over_lids", "water_kept")
	case "atmospheric-steam":
		ask("canner_opened")
	case "pressure":
		ask("vent")
		if f.Gauge == "dial" {
			ask("gauge_tested")
		}
	}
	ask("timing_starts", "boil_interrupted", "rest",
		"cooling.hours", "cooling.undisturbed", "cooling.forced", "cooling.bands_retightened", "cooling.inverted",
		"seal_checks", "unsealed", "unsealed_within", "lost_liquid",
		"storage.bands_off", "storage.temperature", "storage.months", "opening")
	return list
}
