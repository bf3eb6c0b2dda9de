package scenarios

import (
	"strings"
	"testing"

	"rollingboil/scenarios/kitchens"
)

// TestShippedScenarios loads the shipped kitchens, which checks that each
// worked solution is as tested and each temptation sets off its rules, and
// compares the solutions with the printed tables.
func TestShippedScenarios(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list, err := g.LoadScenarios(kitchens.Files())
	if err != nil {
		t.Fatal(err)
	}
	// USDA Complete Guide, 2015: p. 3-8 crushed tomatoes, quarts above 6 000 ft;
	// p. 4-9 snap beans, pints, dial, 2 001 to 4 000 ft; p. 2-19 peaches, hot,
	// quarts above 6 000 ft.
	want := map[string][3]string{
		"first-crushed-tomatoes": {"60 min", "", "1/2 in"},
		"green-beans-in-a-hurry": {"20 min", "12 psi", "1 in"},
		"quarts-moved-uphill":    {"40 min", "", "1/2 in"},
	}
	for _, s := range list {
		if err := g.CheckScenario(s); err != nil {
			t.Error(err)
		}
		c, err := g.Case(s, 0)
		if err != nil {
			t.Error(err)
			continue
		}
		printed, held := want[s.Slug]
		p := c.Solution.Plan
		if got := [3]string{p.Time.Text, p.Pressure.Text, p.Headspace.Text}; held && got != printed {
			t.Errorf("%s: solution %v, want %v", s.Slug, got, printed)
		}
		if len(c.Solution.Steps) < 4 {
			t.Errorf("%s: %d steps", s.Slug, len(c.Solution.Steps))
		}
		if v := g.Grade(c.Kitchen).Verdict; v == AsTested {
			t.Errorf("%s: a blank answer is %s", s.Slug, v)
		}
		delete(want, s.Slug)
	}
	if len(want) > 0 {
		t.Errorf("no longer there: %v", want)
	}
}

func TestScenarioErrors(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	good := `---
title: T
kind: plan
minutes: 5
competencies: [altitude]
kitchen: {food: peaches, jar: pint, altitude: 500 ft}
choices:
  - {method: boiling-water, pack: hot}
temptation: {time: 5 min}
exercises: [time-short]
---
Text.
`
	if _, err := g.ParseScenario("01-t.md", []byte(good)); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ name, file, old, new, want string }{
		{"file name", "t.md", "", "", "is named NN-slug.md"},
		{"front matter", "01-t.md", "---\ntitle", "title", "begins with front matter"},
		{"unknown key", "01-t.md", "minutes: 5", "minuts: 5", `01-t.md:4:1: there is no key "minuts" in a scenario; the nearest is "minutes"`},
		{"unknown competency", "01-t.md", "[altitude]", "[altitud]", `01-t.md:5:16: competencies: "altitud" is not known; the nearest is "altitude"`},
		{"unknown rule", "01-t.md", "[time-short]", "[time-shrt]", `"time-shrt" is not known; the nearest is "time-short"`},
		{"bad plan", "01-t.md", "jar: pint", "jar: pnt", `01-t.md:6:31: jar: "pnt" is not a word for this; the nearest is "pint"`},
		{"no process", "01-t.md", "jar: pint", "jar: half-gallon", "no published process for peaches"},
		{"temptation without fault", "01-t.md", "time: 5 min", "time: 20 min", "sets off []"},
		{"no text", "01-t.md", "Text.\n", "", "needs a title and a text"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			_, err := g.ParseScenario(tc.file, []byte(strings.Replace(good, tc.old, tc.new, 1)))
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error = %v, want it to contain %q", err, tc.want)
			}
		})
	}
}
