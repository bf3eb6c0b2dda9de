package scenarios

import (
	"slices"
	"strings"
	"testing"
	"testing/fstest"

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

// goodScenarios are a file of each kind that loads.
var goodScenarios = map[string]string{
	PlanIt: `---
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
Text with a {{jar}} jar.
`,
	Worked: `---
title: T
kind: worked
minutes: 5
competencies: [process-time]
kitchen: {food: peaches, jar: quart, altitude: 500 ft}
choices: [{method: boiling-water, pack: hot}]
then:
  - {kitchen: {altitude: 4200 ft}, blank: [time]}
  - {kitchen: {jar: pint}, blank: [time, headspace]}
exercises: [time-short]
---
Text.
`,
	Faults: `---
title: T
kind: faults
minutes: 5
competencies: [process-time]
kitchen: {food: tomatoes-crushed, jar: quart, altitude: 6240 ft}
choices: [{method: boiling-water, pack: hot}]
faults:
  - {set: {time: 45 min}, rules: [time-short]}
  - {set: {bands: loose}, rules: [bands-loose]}
fields: [time, headspace, bands]
exercises: [time-short, bands-loose]
---
Text.
`,
	WhatNow: `---
title: T
kind: what-now
minutes: 5
competencies: [seal-check]
kitchen: {food: peaches, jar: pint, altitude: 500 ft}
choices: [{method: boiling-water, pack: hot}]
looked: [14 h, 30 h]
jars:
  - {sealed: true, says: Down., lid: down}
  - {sealed: false, says: It springs., lid: domed, answer: [refrigerate, discard], source: "usda-guide-1, p. 1-26"}
exercises: [unsealed-jar-shelved]
---
Text.
`,
}

// TestScenarioErrors: what is wrong with a file is told with its line.
func TestScenarioErrors(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for kind, good := range goodScenarios {
		if _, err := g.ParseScenario("01-t.md", []byte(good)); err != nil {
			t.Fatalf("%s: %v", kind, err)
		}
	}
	for _, tc := range []struct{ name, kind, old, new, want string }{
		// The file.
		{"no front matter", PlanIt, "---\ntitle", "title", "01-t.md:1:1: the file begins with front matter"},
		{"front matter not closed", PlanIt, "---\nText", "Text", "01-t.md:1:1: the front matter is not closed"},
		{"front matter of one word", PlanIt, goodScenarios[PlanIt], "---\nsalsa\n---\nText.\n", "01-t.md:2:1: expected front matter with title"},
		{"not YAML", PlanIt, "minutes: 5", "minutes: [5", "01-t.md:5:1: not readable as YAML"},
		{"a key twice", PlanIt, "minutes: 5", "minutes: 5\nminutes: 6", "01-t.md:5:1: not readable as YAML: mapping key \"minutes\" already defined"},
		{"no text", PlanIt, "Text with a {{jar}} jar.\n", "", "01-t.md:12:1: a scenario needs a text"},
		{"no title", PlanIt, "title: T", "title: ''", "01-t.md:2:1: a scenario needs a title"},
		{"carriage returns", PlanIt, "Text with", "{{gauge}}", "01-t.md:12:1: the text asks for {{gauge}}"},
		// Keys that all kinds have.
		{"unknown key", PlanIt, "minutes: 5", "minuts: 5", `01-t.md:4:1: there is no key "minuts" in a scenario; the nearest is "minutes"`},
		{"key left out", PlanIt, "minutes: 5\n", "", "01-t.md:2:1: minutes: is needed"},
		{"key of another kind", PlanIt, "exercises:", "looked: [14 h]\nexercises:", "01-t.md:10:1: looked: belongs to kind what-now"},
		{"key that its kind needs", PlanIt, "temptation: {time: 5 min}\n", "", "temptation: is needed"},
		{"unknown kind", PlanIt, "kind: plan", "kind: exam", `01-t.md:3:7: kind: "exam" is not a kind of scenario; there are worked, plan, faults, what-now`},
		{"too long", PlanIt, "minutes: 5", "minutes: 90", "01-t.md:4:10: minutes: expected a whole number from 1 to 60"},
		{"unknown competency", PlanIt, "[altitude]", "[altitud]", `01-t.md:5:16: competencies: "altitud" is not known; the nearest is "altitude"`},
		{"a competency twice", PlanIt, "[altitude]", "[altitude, altitude]", `01-t.md:5:26: competencies: "altitude" stands here twice`},
		{"no list", PlanIt, "[altitude]", "altitude", "01-t.md:5:15: competencies: expected a list"},
		{"unknown rule", PlanIt, "[time-short]", "[time-shrt]", `01-t.md:10:13: exercises: "time-shrt" is not known; the nearest is "time-short"`},
		{"bad word in the kitchen", PlanIt, "jar: pint", "jar: pnt", `01-t.md:6:31: jar: "pnt" is not a word for this; the nearest is "pint"`},
		{"bad quantity in the kitchen", PlanIt, "500 ft", "500 yards", "01-t.md:6:47: altitude: "},
		{"unknown food", PlanIt, "food: peaches", "food: peeches", `01-t.md:6:17: food: "peeches" is not a food of the process table`},
		{"no process in this kitchen", PlanIt, "jar: pint", "jar: half-gallon", "01-t.md:6:1: no published process for peaches in this kitchen"},
		{"worked answer is not as tested", PlanIt, "pack: hot}", "pack: hot, lids: {state: used}}", "01-t.md:6:1: the worked solution is fix-first"},
		{"text asks for what is not there", PlanIt, "Text with a {{jar}} jar.", "Text.\n\nWith {{gauge}}.", "01-t.md:14:1: the text asks for {{gauge}}, which the kitchen does not state"},
		{"text asks for no key", PlanIt, "{{jar}}", "{{Jar}}", "01-t.md:12:1: {{ begins the name of a key"},
		{"draw of no list", PlanIt, "temptation:", "draw: {altitude: 500 ft}\ntemptation:", "01-t.md:9:18: altitude: expected a list"},
		{"draw of nothing", PlanIt, "temptation:", "draw: 3\ntemptation:", "01-t.md:9:7: draw: expected keys of the kitchen"},
		{"a case without a process", PlanIt, "temptation:", "draw: {jar: [pint, half-gallon]}\ntemptation:", "01-t.md:6:1: case 1: no published process"},
		// Plan.
		{"temptation without a fault", PlanIt, "{time: 5 min}", "{time: 20 min}", "01-t.md:9:1: the temptation: it sets off [], but the file says [time-short]"},
		{"temptation with another fault", PlanIt, "{time: 5 min}", "{time: 5 min, bands: loose}", "01-t.md:9:1: the temptation: it sets off [bands-loose time-short]"},
		// Worked.
		{"nothing left blank", Worked, "blank: [time]}", "blank: []}", "01-t.md:9:43: then: expected a list"},
		{"kitchen left out", Worked, "{kitchen: {altitude: 4200 ft}, blank: [time]}", "{blank: [time]}", "01-t.md:9:5: then: kitchen is needed here"},
		{"another key", Worked, "blank: [time]}", "blanks: [time]}", `01-t.md:9:36: then: there is no key "blanks" here; there are kitchen, blank`},
		{"a blank twice", Worked, "[time, headspace]", "[time, time]", `01-t.md:10:42: then: "time" stands here twice`},
		{"a blank that is settled", Worked, "blank: [time]}", "blank: [altitude]}", "01-t.md:8:1: kitchen 1 after the first: altitude is settled"},
		{"a blank without an answer", Worked, "blank: [time]}", "blank: [pressure]}", "01-t.md:8:1: kitchen 1 after the first: pressure is settled or has no answer"},
		{"fewer blanks than before", Worked, "[time, headspace]}\n", "[time, headspace]}\n  - {kitchen: {pack: raw}, blank: [time]}\n", "01-t.md:8:1: kitchen 3 after the first leaves fewer steps blank"},
		{"a blank that no step gives", Worked, "blank: [time]}", "blank: [bands]}", "01-t.md:8:1: kitchen 1 after the first: bands is no step"},
		{"a later kitchen without a process", Worked, "{kitchen: {jar: pint}", "{kitchen: {jar: half-gallon}", "01-t.md:8:1: kitchen 2 after the first: no published process"},
		// Faults.
		{"a fault that is none", Faults, "{time: 45 min}", "{time: 60 min}", "01-t.md:8:1: it sets off [bands-loose], but the file says [bands-loose time-short]"},
		{"a fault that breaks more", Faults, "{time: 45 min}", "{time: 45 min, lids: {state: used}}", "01-t.md:8:1: it sets off [bands-loose lids-used time-short]"},
		{"a fault without its rules", Faults, "{set: {bands: loose}, rules: [bands-loose]}", "{set: {bands: loose}}", "01-t.md:10:5: faults: rules is needed here"},
		{"a fault that cannot be read", Faults, "{bands: loose}", "{bands: lose}", `01-t.md:10:19: bands: "lose" is not a word for this; the nearest is "loose"`},
		{"a fault in no field", Faults, "fields: [time, headspace, bands]", "fields: [time, headspace]", "01-t.md:8:1: rule bands-loose finds fault with bands, which is not among the fields"},
		{"a field twice", Faults, "[time, headspace, bands]", "[time, bands, bands]", `01-t.md:11:23: fields: "bands" stands here twice`},
		{"a field that is not stated", Faults, "[time, headspace, bands]", "[time, gauge, bands]", "01-t.md:8:1: gauge is looked at, but the plan does not state it"},
		{"an unknown field", Faults, "[time, headspace, bands]", "[time, hedspace, bands]", `01-t.md:11:16: fields: "hedspace" is not known; the nearest is "headspace"`},
		{"a rule that is not exercised", Faults, "exercises: [time-short, bands-loose]", "exercises: [time-short]", "01-t.md:8:1: rule bands-loose is not among those that it exercises"},
		{"no fault at all", Faults, goodScenarios[Faults][strings.Index(goodScenarios[Faults], "faults:\n"):strings.Index(goodScenarios[Faults], "fields:")], "", "01-t.md:1:1: no fault is planted"},
		{"all of it is wrong", Faults, "fields: [time, headspace, bands]", "fields: [time, bands]", "01-t.md:8:1: calling everything wrong passes"},
		{"a record that cannot be", Faults, "fields:", "record: {boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:20:00-06:00}\nfields:", "01-t.md:11:9: record.finished: the heat went off before"},
		// What now.
		{"a jar with a number", WhatNow, "{sealed: true, says", "{n: 1, sealed: true, says", "01-t.md:10:9: jars: a jar has its number by its place"},
		{"a jar that nobody sees", WhatNow, "says: Down., ", "", "01-t.md:10:5: jars: a jar needs says"},
		{"a lid of no shape", WhatNow, "lid: down", "lid: round", "01-t.md:10:5: jars: a jar needs says, what is seen of it, and lid: flat, down or domed"},
		{"another key of a jar", WhatNow, "sealed: true", "seeled: true", `there is no key "seeled" here; the nearest is "sealed"`},
		{"an answer without a source", WhatNow, ", source: \"usda-guide-1, p. 1-26\"", "", "01-t.md:11:5: jars: answer and source go together"},
		{"a source without a page", WhatNow, "usda-guide-1, p. 1-26", "usda-guide-1", `01-t.md:11:5: jars: source "usda-guide-1": write the id of a source and the page`},
		{"an unknown source", WhatNow, "usda-guide-1, p. 1-26", "my-aunt, p. 3", `01-t.md:11:5: jars: source "my-aunt, p. 3"`},
		{"an answer that is none", WhatNow, "[refrigerate, discard]", "[refrigerate, eat]", `01-t.md:11:74: jars: "eat" is not known; there are shelf, use-first`},
		{"an answer too few", WhatNow, "[refrigerate, discard]", "[refrigerate]", "01-t.md:9:1: jar 2: give one answer for each of the 2 times"},
		{"another answer than published", WhatNow, "[refrigerate, discard]", "[refrigerate, refrigerate]", "01-t.md:9:1: jar 2 at 30 h: published is refrigerate, but the rules say discard"},
		{"hours that are none", WhatNow, "[14 h, 30 h]", "[soon, 30 h]", "01-t.md:8:10: looked: "},
		{"hours that go back", WhatNow, "[14 h, 30 h]", "[30 h, 14 h]", "01-t.md:9:1: looked lists hours, one after the other"},
		{"one jar", WhatNow, "  - {sealed: true, says: Down., lid: down}\n", "", "01-t.md:9:1: at least two jars"},
		{"all jars alike", WhatNow, "sealed: true", "sealed: false", "01-t.md:9:1: at 14 h one answer for all jars, refrigerate, passes"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			bad := strings.Replace(goodScenarios[tc.kind], tc.old, tc.new, 1)
			if bad == goodScenarios[tc.kind] {
				t.Fatal("the file is still good")
			}
			if tc.name == "carriage returns" { // count as one end of a line each
				bad = strings.ReplaceAll(bad, "\n", "\r\n")
			}
			_, err := g.ParseScenario("01-t.md", []byte(bad))
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error = %v, want it to contain %q", err, tc.want)
			}
		})
	}
}

// TestScenarioFolder: a file that has no number, and one whose name is taken.
func TestScenarioFolder(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	good := &fstest.MapFile{Data: []byte(goodScenarios[PlanIt])}
	list, err := g.LoadScenarios(fstest.MapFS{"01-a.md": good, "02-b.md": good, "notes.txt": good})
	if err != nil || len(list) != 2 || list[1].Slug != "b" || list[1].Number != 2 {
		t.Fatalf("%v, %v", list, err)
	}
	_, err = g.LoadScenarios(fstest.MapFS{"01-a.md": good, "02-a.md": good, "c.md": good, "1-d.md": good, "03-E.md": good})
	for _, want := range []string{"02-a.md: its name is that of 01-a.md", "c.md: a scenario file is named NN-slug.md", "1-d.md: a scenario file", "03-E.md: a scenario file"} {
		if err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("error %v, want %q", err, want)
		}
	}
}

// TestFaultsAreMendedByWhatIsTested: a value given for a fault is judged by what it
// makes of the plan.
func TestFaultsAreMendedByWhatIsTested(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	src := strings.NewReplacer(
		"{set: {bands: loose}, rules: [bands-loose]}", "{set: {added: [starch], acid: {kind: fresh-lemon-juice}}, rules: [added-thickener, acid-fresh-juice]}",
		"bands]", "added, acid.kind]", "bands-loose]", "added-thickener, acid-fresh-juice]").Replace(goodScenarios[Faults])
	s, err := g.ParseScenario("01-t.md", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	c, err := g.Case(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		key, value string
		mended     bool
		why        string
	}{
		{"time", "60 min", true, "USDA Guide 3, p. 3-8: quarts above 6 000 ft"},
		{"time", "1 h", true, "the same"},
		{"time", "70 min", true, "longer is no fault"},
		{"time", "55 min", false, "still short"},
		{"time", "", false, "no value"},
		{"time", "a while", false, "not read"},
		{"added", "none", true, "nothing is added in the tested directions"},
		{"added", "", false, "no value"},
		{"added", "flour", false, "USDA Guide 3, p. 3-10: no thickener"},
		{"acid.kind", "bottled-lemon-juice", true, "USDA Guide 3, p. 3-5: 2 tablespoons a quart"},
		{"acid.kind", "citric-acid", true, "2 tablespoons are more than 1/2 teaspoon"},
		{"acid.kind", "vinegar-5", false, "of vinegar it takes 4 tablespoons, and 2 are planned"},
		{"acid.kind", "none", false, "acid is needed"},
	} {
		said := g.BestFaults(c)
		said[tc.key] = FaultAnswer{Wrong: true, Value: tc.value}
		got := g.MarkFaults(c, said)
		i := slices.IndexFunc(got.Marks, func(m FaultMark) bool { return m.Key == tc.key })
		if m := got.Marks[i]; m.Mended != tc.mended || got.Passed != tc.mended {
			t.Errorf("%s: %q: mended: %t, want %t: %s; %+v", tc.key, tc.value, m.Mended, tc.mended, tc.why, m)
		}
	}
}

// TestBlanksInOtherUnits: what a metric ruler, spoon or dial shows is as good.
func TestBlanksInOtherUnits(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	src := strings.NewReplacer("food: peaches", "food: tomatoes-crushed", "method: boiling-water", "method: pressure, gauge: weighted",
		"blank: [time]}", "blank: [pressure, time, headspace, acid.per_jar]}", "[time, headspace]", "[pressure, time, headspace, acid.per_jar]").Replace(goodScenarios[Worked])
	s, err := g.ParseScenario("01-t.md", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	c, err := g.Case(s, 0)
	if err != nil {
		t.Fatal(err)
	}
	// USDA Guide 3, pp. 3-7 to 3-8: quarts above 1 000 ft, weighted, 20 minutes at 10
	// pounds or 15 at 15; 1/2 inch; 2 tablespoons of bottled lemon juice.
	for _, tc := range []struct {
		filled string
		passes bool
	}{
		{"pressure: 10 psi, time: 20 min, headspace: 1/2 in, acid: {per_jar: 2 tbsp}", true},
		{"pressure: 68.9 kPa, time: 20 min, headspace: 13 mm, acid: {per_jar: 30 ml}", true},
		{"pressure: 15 psi, time: 15 min, headspace: 12 mm, acid: {per_jar: 6 tsp}", true},
		{"pressure: 103.4 kPa, time: 15 min, headspace: 0.5 in, acid: {per_jar: 2 tbsp}", true},
		{"pressure: 10 psi, time: 15 min, headspace: 1/2 in, acid: {per_jar: 2 tbsp}", false},
		{"pressure: 10 psi, time: 20 min, headspace: 10 mm, acid: {per_jar: 2 tbsp}", false},
		{"pressure: 10 psi, time: 20 min, headspace: 1/2 in, acid: {per_jar: 25 ml}", false},
		{"pressure: 60 kPa, time: 20 min, headspace: 1/2 in, acid: {per_jar: 2 tbsp}", false},
		{"time: 20 min, headspace: 1/2 in, acid: {per_jar: 2 tbsp}", false},
	} {
		given, err := g.ParsePlan("p.yaml", []byte("{"+tc.filled+"}"))
		if err != nil {
			t.Fatal(err)
		}
		if got := g.MarkWorked(c, 0, given); got.Passed != tc.passes {
			t.Errorf("%s: passes: %t, want %t\n%+v", tc.filled, got.Passed, tc.passes, got.Marks)
		}
	}
}
