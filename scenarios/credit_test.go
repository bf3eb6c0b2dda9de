package scenarios

import (
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/scenarios/rules"
)

// shown lists the competencies that a plan written for a case showed.
func shown(c *Case, p Plan, g *Grader) (names []string) {
	for _, credit := range c.Credits(p, g.Grade(p)) {
		if credit.Right {
			names = append(names, credit.Competency)
		}
	}
	return names
}

// TestEveryKeyBelongsToACompetency: whatever a rule finds fault with, and whatever a
// plan can say, some competency is the one to practice.
func TestEveryKeyBelongsToACompetency(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	known := func(key, where string) {
		if name := CompetencyOf(key); !slices.Contains(rules.Competencies(), name) {
			t.Errorf("%s: the key %s belongs to %q, which is no competency", where, key, name)
		}
	}
	for _, r := range g.Rules().Rules() {
		if r.Severity == "safety" {
			known(r.Field, "rule "+r.ID)
		}
	}
	for _, k := range Keys() {
		known(k.Name, "the plan")
	}
	if got := CompetencyOf("weather"); got != "" {
		t.Errorf("the weather belongs to %q", got)
	}
}

// TestCredits: the worked answer shows all that its scenario is about, a blank one
// nothing, and what tempts in the kitchen costs what it is about. What would have made
// the tempted plan as tested is found.
func TestCredits(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	lost := map[string]bool{}
	for _, s := range shippedKind(t, PlanIt) {
		for _, c := range cases(t, g, s, 12) {
			if got := shown(c, c.Solution.Plan, g); !slices.Equal(got, s.Competencies) {
				t.Errorf("%s, case %d: the worked answer shows %v of %v", s.Slug, c.Seed, got, s.Competencies)
			}
			if got := shown(c, c.Kitchen, g); len(got) > 0 {
				t.Errorf("%s, case %d: a blank answer shows %v", s.Slug, c.Seed, got)
			}
			tempted := overlay(c.Solution.Plan, s.temptation)
			got := shown(c, tempted, g)
			if len(got) == len(s.Competencies) {
				t.Errorf("%s, case %d: who gives in shows all of it", s.Slug, c.Seed)
			}
			for _, name := range s.Competencies {
				if !slices.Contains(got, name) {
					lost[name] = true
				}
			}
			advice := g.Advise(tempted)
			if len(advice.Remedies) == 0 {
				t.Errorf("%s, case %d: nothing is shown that makes it as tested", s.Slug, c.Seed)
			}
			for _, r := range advice.Remedies {
				mended := tempted
				b := binder{table: g.table, plan: &mended}
				for _, change := range r.Changes {
					clearKey(&mended, change.Field)
					if change.To != "" {
						b.state(change.Field, change.To)
					}
				}
				if v := g.Grade(mended).Verdict; v != AsTested || b.err("") != nil {
					t.Errorf("%s, case %d: with %v it is %s", s.Slug, c.Seed, r.Changes, v)
				}
			}
		}
	}
	for _, name := range []string{"acidity", "altitude", "process-time", "pressure", "low-acid", "recipe-changes", "headspace", "seal-check", "unsealed-jars", "siphoning", "cooling", "jars-and-lids", "loading-and-boil", "storage-and-spoilage"} {
		if !lost[name] {
			t.Errorf("nothing that tempts costs %s", name)
		}
	}
}

// TestCreditsOfOnePlan goes through the answers to one kitchen: green beans, and no
// time for the pressure canner.
func TestCreditsOfOnePlan(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := shippedKind(t, PlanIt)
	s := list[slices.IndexFunc(list, func(s *Scenario) bool { return s.Slug == "green-beans-in-a-hurry" })]
	c := cases(t, g, s, 1)[0]
	const dial = "method: pressure, gauge: dial, pack: hot, gauge_tested: this-year, vent: 10 min, headspace: 1 in, timing_starts: pressure-reached, boil_interrupted: restart, "
	for _, tc := range []struct {
		name, plan string
		want       []string
	}{
		// USDA Guide 4, p. 4-9: pints, 20 minutes at 12 pounds from 2 001 to 4 000 ft.
		{"as printed", dial + "pressure: 12 psi, time: 20 min", []string{"low-acid", "pressure", "altitude", "process-time"}},
		{"longer than printed", dial + "pressure: 12 psi, time: 40 min", []string{"low-acid", "pressure", "altitude", "process-time"}},
		{"the pressure of the coast", dial + "pressure: 11 psi, time: 20 min", []string{"low-acid", "process-time"}},
		{"too short", dial + "pressure: 12 psi, time: 15 min", []string{"low-acid", "pressure"}},
		{"no pressure said", dial + "time: 20 min", []string{"low-acid", "process-time"}},
		{"boiled for three hours", "method: boiling-water, pack: hot, time: 3 h, headspace: 1 in", nil},
		{"only the canner", "method: pressure", []string{"low-acid"}},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			said, err := g.ParsePlan("p.yaml", []byte("{"+tc.plan+"}"))
			if err != nil {
				t.Fatal(err)
			}
			p := overlay(c.Kitchen, said)
			if got := shown(c, p, g); !slices.Equal(got, tc.want) {
				t.Errorf("shows %v, want %v\n%+v", got, tc.want, c.Credits(p, g.Grade(p)))
			}
			for _, credit := range c.Credits(p, g.Grade(p)) {
				if credit.Right != (credit.Why == "") {
					t.Errorf("%+v: why is for what is not shown", credit)
				}
			}
		})
	}
}

// TestLeavingOutNeverShowsMore takes values out of a worked answer at random: what it
// shows becomes less, and a value that is asked for is missed.
func TestLeavingOutNeverShowsMore(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := shippedKind(t, PlanIt)
	rapid.Check(t, func(rt *rapid.T) {
		c := drawCase(rt, t, g, list)
		p := c.Solution.Plan
		for _, k := range keys {
			if p.Known(k.Name) && !c.Kitchen.Known(k.Name) && rapid.IntRange(0, 5).Draw(rt, "leave out "+k.Name) == 0 {
				before, complete := shown(c, p, g), len(g.Grade(p).Missing) == 0
				clearKey(&p, k.Name)
				for _, name := range shown(c, p, g) {
					if !slices.Contains(before, name) {
						rt.Errorf("%s: without %s it shows %s", c.Slug, k.Name, name)
					}
					// How a canner is loaded is asked of nobody.
					if complete && name == CompetencyOf(k.Name) && !strings.HasPrefix(k.Name, "load.") {
						rt.Errorf("%s: without %s it still shows %s", c.Slug, k.Name, name)
					}
				}
			}
		}
	})
}
