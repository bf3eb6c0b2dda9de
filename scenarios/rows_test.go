package scenarios

import (
	"fmt"
	"sync"
	"testing"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

var loadShipped = sync.OnceValues(Shipped)

func shipped(t testing.TB) *Grader {
	t.Helper()
	g, err := loadShipped()
	if err != nil {
		t.Fatalf("load the shipped table and rules: %v", err)
	}
	return g
}

// planOf writes the plan that follows one row of the table at an altitude.
func planOf(t testing.TB, g *Grader, r process.Row, altitudeFt int) Plan {
	t.Helper()
	text := fmt.Sprintf("food: %s\npack: %s\nmethod: %s\njar: %s\naltitude: %d ft\ntime: %d min\n", r.Food, r.Pack, r.Method, r.Jar, altitudeFt, r.Minutes)
	if r.PSI > 0 {
		text += fmt.Sprintf("gauge: %s\npressure: %d psi\n", r.Gauge, r.PSI)
	}
	headspace := r.HeadspaceIn
	if headspace == 0 {
		headspace = 0.5
	}
	text += fmt.Sprintf("headspace: %s\n", measure.Length(headspace))
	if card, _ := g.table.Card(r.Food); card.AcidIn == "jar" {
		d := card.Dose(r.Jar)[0]
		text += fmt.Sprintf("acid: {kind: %s, per_jar: %s}\n", d.Kind, measure.Volume(d.Tsp))
	}
	p, err := g.ParsePlan("row.yaml", []byte(text))
	if err != nil {
		t.Fatalf("%s: %v", text, err)
	}
	return p
}

func (p Plan) with(t testing.TB, g *Grader, key, value string) Plan {
	t.Helper()
	if _, ok := keyNamed(key); !ok {
		t.Fatalf("no key %q", key)
	}
	b := binder{table: g.table, plan: &p}
	b.state(key, value)
	if err := b.err(""); err != nil {
		t.Fatal(err)
	}
	return p
}

// topOf is an altitude in the row's band: its end, or 9 000 ft for an open one.
func topOf(r process.Row) int {
	if r.ToFt == 0 {
		return 9000
	}
	return r.ToFt
}

// TestEveryRow grades a plan that follows each row of the published table, at
// both ends of its altitude band.
func TestEveryRow(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	tested, unconfirmed := 0, 0
	for _, card := range g.table.Foods() {
		for _, r := range g.table.Rows(card.Food) {
			for _, ft := range []int{r.FromFt, topOf(r)} {
				report := g.Grade(planOf(t, g, r, ft))
				want := AsTested
				if r.FromMemory() {
					want = NoTestedProcess
					unconfirmed++
				} else {
					tested++
				}
				if report.Verdict != want {
					t.Errorf("%+v at %d ft: %s, want %s: %+v", r, ft, report.Verdict, want, report.Findings)
				}
				if len(report.Missing) > 0 {
					t.Errorf("%+v: missing %v", r, report.Missing)
				}
			}
		}
	}
	// 1 798 rows, 19 of them from memory, each at two altitudes.
	if tested != 2*(1798-19) || unconfirmed != 2*19 {
		t.Errorf("graded %d tested and %d unconfirmed plans, want %d and %d", tested, unconfirmed, 2*1779, 2*19)
	}
}

// TestShortOfEveryRow takes one minute, then one psi, from a plan that follows
// each row. Neither is ever as tested, unless another printed alternative of
// the same jar and band covers it.
func TestShortOfEveryRow(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, card := range g.table.Foods() {
		for _, r := range g.table.Rows(card.Food) {
			p := planOf(t, g, r, r.FromFt)
			covered := func(minutes, psi int) bool {
				found, _ := g.lookup(&p)
				for _, alt := range found.Rows {
					if !alt.FromMemory() && alt.Minutes <= minutes && alt.PSI <= psi {
						return true
					}
				}
				return false
			}
			if r.Minutes > 1 {
				short := p.with(t, g, "time", fmt.Sprintf("%d min", r.Minutes-1))
				if v := g.Grade(short).Verdict; (v == AsTested) != covered(r.Minutes-1, r.PSI) {
					t.Errorf("%+v: one minute less: %s", r, v)
				}
			}
			if r.PSI > 0 {
				short := p.with(t, g, "pressure", fmt.Sprintf("%d psi", r.PSI-1))
				if v := g.Grade(short).Verdict; (v == AsTested) != covered(r.Minutes, r.PSI-1) {
					t.Errorf("%+v: one psi less: %s", r, v)
				}
			}
		}
	}
}

// TestNextJarAndBand keeps the figures of a row and takes the next larger jar,
// then the next higher altitude band. The plan is as tested only where the
// table itself prints figures there that the plan reaches.
func TestNextJarAndBand(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	// printed says whether a published row, read straight from the list of
	// rows and not through the look-up, is reached by the plan's figures.
	printed := func(r process.Row, jar string, ft int) bool {
		for _, other := range g.table.Rows(r.Food) {
			samePlace := (other.Pack == r.Pack) && other.Method == r.Method && other.Gauge == r.Gauge && other.Jar == jar
			inBand := ft >= other.FromFt && (other.ToFt == 0 || ft <= other.ToFt)
			sameGap := other.HeadspaceIn == 0 || other.HeadspaceIn == r.HeadspaceIn || r.HeadspaceIn == 0 && other.HeadspaceIn == 0.5
			if samePlace && inBand && sameGap && !other.FromMemory() && other.Minutes <= r.Minutes && other.PSI <= r.PSI {
				return true
			}
		}
		return false
	}
	listed := func(r process.Row, jar string) bool {
		for _, other := range g.table.Rows(r.Food) {
			if other.Pack == r.Pack && other.Method == r.Method && other.Gauge == r.Gauge && other.Jar == jar {
				return true
			}
		}
		return false
	}
	for _, card := range g.table.Foods() {
		for _, r := range g.table.Rows(card.Food) {
			p := planOf(t, g, r, r.FromFt)
			if larger := nextListed(r.Jar, func(jar string) bool { return listed(r, jar) }); larger != "" {
				bigger := p.with(t, g, "jar", larger)
				if dose := card.Dose(larger); len(dose) > 0 && card.AcidIn == "jar" {
					bigger = bigger.with(t, g, "acid.per_jar", measure.Volume(dose[0].Tsp).String())
				}
				if v := g.Grade(bigger).Verdict; (v == AsTested) != printed(r, larger, r.FromFt) {
					t.Errorf("%+v in a %s: %s", r, larger, v)
				}
			} else if v := g.Grade(p.with(t, g, "jar", "half-gallon")).Verdict; r.Jar != "half-gallon" && v == AsTested {
				t.Errorf("%+v in a half-gallon: as tested", r)
			}
			if r.ToFt > 0 {
				higher := p.with(t, g, "altitude", fmt.Sprintf("%d ft", r.ToFt+1))
				if v := g.Grade(higher).Verdict; (v == AsTested) != printed(r, r.Jar, r.ToFt+1) {
					t.Errorf("%+v one band higher: %s", r, v)
				}
			}
		}
	}
}

// nextListed gives the next larger jar that the table lists, "" for none.
func nextListed(jar string, listed func(string) bool) string {
	past := false
	for _, j := range process.Jars() {
		if past && listed(j.ID) {
			return j.ID
		}
		past = past || j.ID == jar
	}
	return ""
}
