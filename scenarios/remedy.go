package scenarios

import (
	"cmp"
	"slices"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// Remedy is one set of changes that would make a plan as tested.
type Remedy struct {
	Changes []Change `json:"changes"`

	cost int // its effort, and one for each thing that could still be better
}

// Change is one key of a plan to be changed, or stated where From is "".
type Change struct {
	Field string `json:"field"`
	From  string `json:"from"`
	To    string `json:"to"`
}

// String says a change as a cook would: "50 min to 60 min".
func (c Change) String() string {
	from, to := c.From, c.To
	if from == "" {
		return to
	}
	if to == "" {
		return "without " + from
	}
	return from + " to " + to
}

// maxRemedies is how many remedies are offered: the smallest, and a few that go
// another way.
const maxRemedies = 3

// Advise grades a plan and searches what would make it as tested.
func (g *Grader) Advise(p Plan) Advice {
	report := g.Grade(p)
	return Advice{report, g.remedies(p, report.Verdict)}
}

// remedies searches the table and the rules for the smallest sets of changes
// that make a plan as tested: first with the same jar and canner, then with
// another jar, pack or canner for the same food at the same altitude. Each is
// graded before it is offered, so none is untested. It is empty when there is
// none, and for a plan that is as tested already.
func (g *Grader) remedies(p Plan, verdict Verdict) []Remedy {
	if !p.Food.Known || !p.Altitude.Known || verdict == AsTested {
		return nil
	}
	var found []Remedy
	for _, place := range g.places(&p) {
		start := overlay(p, place)
		if place.Method.Value != p.Method.Value { // a time meant for another canner says nothing in this one
			start.Time = Stated[measure.Duration]{}
		}
		if fixed, report, ok := g.fix(start); ok {
			r := Remedy{Changes: changesBetween(&p, &fixed)}
			r.cost = r.effort() + len(report.Findings)
			found = append(found, r)
		}
	}
	slices.SortStableFunc(found, func(a, b Remedy) int { return cmp.Compare(a.cost, b.cost) })
	found = slices.CompactFunc(found, func(a, b Remedy) bool { return slices.Equal(a.Changes, b.Changes) })
	// A remedy that holds all of a smaller one and more is no other way.
	var offered []Remedy
	for _, r := range found {
		if !slices.ContainsFunc(offered, func(o Remedy) bool { return r.holds(o) }) && len(offered) < maxRemedies {
			offered = append(offered, r)
		}
	}
	return offered
}

// effort counts changes; what has to be stated anyway counts little, and another
// canner much, since not everybody has one.
func (r Remedy) effort() int {
	total := 0
	for _, c := range r.Changes {
		switch {
		case c.From == "":
			total++
		case c.Field == "method" || c.Field == "gauge":
			total += 40
		default:
			total += 10
		}
	}
	return total
}

func (r Remedy) holds(other Remedy) bool {
	for _, c := range other.Changes {
		if !slices.Contains(r.Changes, c) {
			return false
		}
	}
	return true
}

// places lists where the food has published rows at the plan's altitude: the
// plan's own pack, canner and jar first.
func (g *Grader) places(p *Plan) []Plan {
	var list []Plan
	add := func(pack, method, gauge, jar string, row process.Row) {
		var q Plan
		q.Pack, q.Method, q.Jar = stated(pack), stated(method), stated(jar)
		if gauge != "" {
			q.Gauge = stated(gauge)
		}
		if row.PSI > 0 && float64(row.PSI) > float64(p.Pressure.Value)+pressureToleranceLb {
			q.Pressure = Stated[measure.Pressure]{measure.Pressure(row.PSI), measure.Pressure(row.PSI).String(), true}
		}
		if !slices.ContainsFunc(list, func(have Plan) bool {
			return have.Pack == q.Pack && have.Method == q.Method && have.Gauge == q.Gauge && have.Jar == q.Jar && have.Pressure == q.Pressure
		}) {
			list = append(list, q)
		}
	}
	for _, row := range g.table.Rows(p.Food.Value) {
		if row.FromMemory() || !row.Covers(float64(p.Altitude.Value)) {
			continue
		}
		pack := row.Pack
		if pack == "as-directed" && p.Pack.Known {
			pack = p.Pack.Value
		}
		methods := []string{row.Method}
		if row.Method == "boiling-water" && p.Method.Value == "atmospheric-steam" {
			methods = append(methods, "atmospheric-steam")
		}
		for _, method := range methods {
			// The plan's own jar may be a smaller one that goes by this row.
			if p.Jar.Known && p.Jar.Value != row.Jar {
				add(pack, method, row.Gauge, p.Jar.Value, row)
			}
			add(pack, method, row.Gauge, row.Jar, row)
		}
	}
	return list
}

func stated(word string) Stated[string] { return Stated[string]{word, word, true} }

// fix sets what the findings complain of, and what is missing, to the tested
// value, until the plan is as tested or nothing helps.
func (g *Grader) fix(p Plan) (fixed Plan, report Report, ok bool) {
	for range 4 {
		report = g.Grade(p)
		if report.Verdict == AsTested {
			return p, report, true
		}
		fields := slices.Clone(report.Missing)
		for _, f := range report.Findings {
			if f.Severity == "safety" {
				fields = append(fields, f.Field)
			}
		}
		if !g.setTested(&p, fields) {
			break
		}
	}
	return p, report, false
}

// setTested sets fields, or the keys of groups, to their tested values and
// reports whether it changed any.
func (g *Grader) setTested(p *Plan, fields []string) (changed bool) {
	tested := g.TestedValues(*p)
	b := binder{table: g.table, plan: p}
	for _, field := range fields {
		names := groups[field]
		switch {
		case field == "ph":
			// A reading taken in place of the acid is left out, and the acid goes
			// in. A reading above the line stays: it says that something is wrong,
			// and not to mention it puts nothing right.
			if !p.Known("ph") || p.PHReading.Value > phLimit {
				continue
			}
			names = groups["acid"]
			p.PHReading, p.PHBy = Stated[float64]{}, Stated[string]{}
		case field == "acid" && p.AcidPerJar.Known && g.acidInRecipe(p):
			// The recipe's acid is measured for all of the food: no amount for a jar
			// is the tested one.
			p.AcidPerJar, changed = Stated[measure.Volume]{}, true
		case field == "acid.per_jar" || field == "acid.kind":
			names = groups["acid"]
		case names == nil:
			names = []string{field}
		}
		for _, name := range names {
			value, ok := tested[name]
			if !ok {
				continue
			}
			before := p.Text(name)
			b.state(name, value)
			changed = changed || p.Text(name) != before
		}
	}
	return changed && len(b.problems) == 0
}

func (g *Grader) acidInRecipe(p *Plan) bool {
	card, _ := g.table.Card(p.Food.Value)
	return card.AcidIn == "recipe"
}

// changesBetween lists the keys in which two plans differ.
func changesBetween(from, to *Plan) []Change {
	var list []Change
	for _, k := range keys {
		if a, b := from.Text(k.Name), to.Text(k.Name); a != b || from.Known(k.Name) != to.Known(k.Name) {
			list = append(list, Change{Field: k.Name, From: a, To: b})
		}
	}
	return list
}
