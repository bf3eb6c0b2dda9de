package scenarios

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strings"
	"sync"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/scenarios/kitchens"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
)

var loadKitchens = sync.OnceValues(func() ([]*Scenario, error) {
	g, err := loadShipped()
	if err != nil {
		return nil, err
	}
	return g.LoadScenarios(kitchens.Files())
})

// shippedKind lists the shipped scenarios of a kind; "" for all.
func shippedKind(t testing.TB, kind string) []*Scenario {
	t.Helper()
	all, err := loadKitchens()
	if err != nil {
		t.Fatal(err)
	}
	return slices.DeleteFunc(slices.Clone(all), func(s *Scenario) bool { return kind != "" && s.Kind != kind })
}

// cases gives up to so many cases of a scenario, spread over all of them.
func cases(t testing.TB, g *Grader, s *Scenario, most int) []*Case {
	t.Helper()
	var list []*Case
	step := max(1, s.space()/most)
	for seed := 0; seed < s.space() && len(list) < most; seed += step {
		c, err := g.Case(s, uint64(seed))
		if err != nil {
			t.Fatalf("%s, case %d: %v", s.Slug, seed, err)
		}
		list = append(list, c)
	}
	return list
}

// TestWhatIsShipped: how many, of which kind, about what, and how high.
func TestWhatIsShipped(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	all := shippedKind(t, "")
	if len(all) < 48 {
		t.Errorf("%d scenarios", len(all))
	}
	about := map[string]int{}
	rulesIn := map[string]bool{}
	guides := map[int]bool{}
	salsas, pressed, lost := 0, 0, 0
	lowest, highest := 1e9, 0.0
	for _, s := range all {
		about[s.Kind]++
		for _, name := range s.Competencies {
			about[name]++
		}
		for _, id := range s.Exercises {
			rulesIn[id] = true
		}
		if slices.ContainsFunc(s.Competencies, func(name string) bool {
			return slices.Contains([]string{"siphoning", "seal-check", "headspace", "altitude"}, name)
		}) {
			lost++
		}
		for i, c := range cases(t, g, s, 40) {
			p := c.Solution.Plan
			lowest, highest = min(lowest, float64(p.Altitude.Value)), max(highest, float64(p.Altitude.Value))
			card, _ := g.table.Card(p.Food.Value)
			guides[card.Guide] = true
			if i == 0 && strings.Contains(p.Food.Value, "salsa") {
				salsas++
			}
			if i == 0 && p.Method.Value == "pressure" {
				pressed++
			}
		}
	}
	for _, kind := range ScenarioKinds() {
		if about[kind] < 7 {
			t.Errorf("%d scenarios of kind %s", about[kind], kind)
		}
	}
	for _, name := range rules.Competencies() {
		if about[name] == 0 {
			t.Errorf("no scenario about %s", name)
		}
	}
	if lost < 12 || about["siphoning"] < 3 || about["seal-check"] < 3 || about["headspace"] < 3 || about["altitude"] < 3 {
		t.Errorf("about lost liquid, seals, headspace and altitude: %d, %v", lost, about)
	}
	// The shortcuts: skins in the blender, acid skipped for a strip, a bigger jar,
	// thickening, steam for water, new lids for some only.
	for _, id := range []string{"prepared-with-skins", "ph-instead-of-acid", "acid-left-out", "jar-too-large", "added-thickener", "steam-too-long", "lids-used"} {
		if !rulesIn[id] {
			t.Errorf("no scenario exercises %s", id)
		}
	}
	// Guide 2 is fruit, 3 tomatoes, 6 pickles, 7 jams and jellies.
	for _, guide := range []int{2, 3, 6, 7} {
		if !guides[guide] {
			t.Errorf("no scenario with a food of Guide %d", guide)
		}
	}
	if salsas < 2 || pressed < 2 || lowest > 0 || highest < 9000 {
		t.Errorf("%d of salsa, %d under pressure, from %v to %v ft", salsas, pressed, lowest, highest)
	}
}

// TestCasesDiffer: the cases of a scenario are each other than the others, the same
// seed gives the same, and past the last they come around.
func TestCasesDiffer(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	shown := func(c *Case) string {
		text := string(c.Kitchen.YAML()) + string(c.Plan.YAML()) + string(c.Body)
		for _, j := range c.Jars {
			text += j.Says
		}
		return text
	}
	drawn := 0
	for _, s := range shippedKind(t, "") {
		if s.Variants() {
			drawn++
		}
		seen := map[string]uint64{}
		for _, c := range cases(t, g, s, 400) {
			text := shown(c)
			if before, there := seen[text]; there {
				t.Errorf("%s: cases %d and %d are the same", s.Slug, before, c.Seed)
			}
			seen[text] = c.Seed
			again, err := g.Case(s, c.Seed+uint64(s.space()))
			if err != nil || shown(again) != text {
				t.Errorf("%s: case %d does not come around: %v", s.Slug, c.Seed, err)
			}
		}
	}
	if drawn < 40 {
		t.Errorf("only %d scenarios are drawn anew for each learner", drawn)
	}
}

// TestPrintedInTheWorkedKitchens compares what is to be filled in with the page on
// which it is printed: USDA Complete Guide to Home Canning, 2015.
func TestPrintedInTheWorkedKitchens(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, tc := range []struct {
		slug, kitchen string // what is drawn
		want          []string
		page          string
	}{
		{"peaches-two-packs", "altitude: 2500 ft, food: peaches", []string{"25 min", "35 min, 1/2 in"}, "p. 2-19: peaches, pints hot 20/25/30/35, quarts raw 30/35/40/45"},
		{"on-the-line", "food: applesauce, jar: pint", []string{"20 min", "15 min", "20 min, 1/2 in"}, "p. 2-8: applesauce, pints, 15/20/20/25"},
		{"on-the-line", "food: pears, jar: quart", []string{"30 min", "25 min", "35 min, 1/2 in"}, "p. 2-20: pears, quarts, 25/30/35/40"},
		{"spoon-for-every-jar", "altitude: 5300 ft, acid: {kind: bottled-lemon-juice}", []string{"1 tbsp", "1 tbsp, 45 min", "2 tbsp, 10 psi, 20 min"}, "pp. 3-5, 3-8: 1 tablespoon a pint, 2 a quart; crushed, pints 35/40/45/50; weighted above 1 000 ft"},
		{"four-houses", "jar: pint, pack: hot", []string{"12 psi", "13 psi, 20 min", "14 psi, 20 min, 1 in"}, "p. 4-9: snap beans, dial 11/12/13/14 lb, pints 20"},
		{"four-houses", "jar: quart, pack: raw", []string{"12 psi", "13 psi, 25 min", "14 psi, 25 min, 1 in"}, "p. 4-9: quarts 25"},
		{"how-full", "jar: pint, altitude: 300 ft", []string{"1 in", "1/4 in, 15 min", "1 in, 25 min"}, "pp. 2-16, 2-14, 2-26: grapes 1 inch, purées 1/4, apple pie filling 1"},
		{"row-for-each-pickle", "altitude: 600 ft", []string{"10 min", "30 min, 1/2 in", "15 min, 1/2 in"}, "pp. 6-10, 6-16: dill pickles, pints 10; beets 30; carrots"},
	} {
		s := shippedKind(t, Worked)
		i := slices.IndexFunc(s, func(s *Scenario) bool { return s.Slug == tc.slug })
		drawn, err := g.ParsePlan("drawn", []byte("{"+tc.kitchen+"}"))
		if i < 0 || err != nil {
			t.Fatal(tc.slug, err)
		}
		found := false
		for _, c := range cases(t, g, s[i], 400) {
			if same := overlay(c.Kitchen, drawn); !bytes.Equal(c.Kitchen.YAML(), same.YAML()) {
				continue // another draw
			}
			found = true
			var got []string
			for _, w := range c.Then {
				var values []string
				for _, key := range w.Blank {
					values = append(values, w.Solution.Plan.Text(key))
				}
				got = append(got, strings.Join(values, ", "))
			}
			if !slices.Equal(got, tc.want) {
				t.Errorf("%s, %s: %q, want %q (%s)", tc.slug, tc.kitchen, got, tc.want, tc.page)
			}
		}
		if !found {
			t.Errorf("%s: nothing draws %s", tc.slug, tc.kitchen)
		}
	}
}

// TestBestAnswersPass: over many cases of every scenario the worked answer is as
// tested, and given as a learner would give it, it passes.
func TestBestAnswersPass(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, s := range shippedKind(t, "") {
		for _, c := range cases(t, g, s, 60) {
			if r := g.Grade(c.Solution.Plan); r.Verdict != AsTested || len(r.Missing)+len(r.NotStated) > 0 {
				t.Errorf("%s, case %d: the worked answer is %s", s.Slug, c.Seed, r.Verdict)
			}
			for i, w := range c.Then {
				if r := g.MarkWorked(c, i, w.Solution.Plan); !r.Passed || slices.ContainsFunc(r.Marks, func(m WorkedMark) bool { return !m.Right }) {
					t.Errorf("%s, case %d, kitchen %d: the right values do not pass: %+v", s.Slug, c.Seed, i+1, r.Marks)
				}
				if g.MarkWorked(c, i, Plan{}).Passed {
					t.Errorf("%s, case %d, kitchen %d: a blank answer passes", s.Slug, c.Seed, i+1)
				}
			}
			if s.Kind == Faults {
				best := g.MarkFaults(c, g.BestFaults(c))
				if !best.Passed || best.Misses+best.FalseAlarm > 0 || best.Hits == 0 {
					t.Errorf("%s, case %d: %+v", s.Slug, c.Seed, best)
				}
				if blank := g.MarkFaults(c, nil); blank.Passed || blank.Hits > 0 || blank.Misses != best.Hits {
					t.Errorf("%s, case %d: a blank answer: %+v", s.Slug, c.Seed, blank)
				}
			}
			for _, looked := range c.Looked() {
				var said []string
				for _, a := range g.Answers(c, looked) {
					said = append(said, a.Answer)
				}
				if r := g.MarkWhatNow(c, looked, said); !r.Passed || r.Right != len(said) {
					t.Errorf("%s, case %d, %s: %+v", s.Slug, c.Seed, looked, r)
				}
				if g.MarkWhatNow(c, looked, nil).Passed {
					t.Errorf("%s, case %d, %s: a blank answer passes", s.Slug, c.Seed, looked)
				}
			}
			if s.Kind == PlanIt {
				if v := g.Grade(c.Kitchen).Verdict; v == AsTested {
					t.Errorf("%s, case %d: a blank answer is as tested", s.Slug, c.Seed)
				}
			}
		}
	}
}

// TestExercises: each rule that a scenario is about is set off in one of its cases by
// what somebody does wrong there: by the temptation, by a wrong value in a blank, by a
// planted fault, or by where a jar is put and when it is looked at.
func TestExercises(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, s := range shippedKind(t, "") {
		left := map[string]bool{}
		for _, id := range s.Exercises {
			left[id] = true
		}
		found := func(list []Finding) {
			for _, f := range list {
				delete(left, f.Rule)
			}
		}
		if s.Kind == PlanIt {
			c := cases(t, g, s, 1)[0]
			found(g.Grade(overlay(c.Solution.Plan, s.temptation)).Findings)
		}
		for _, c := range cases(t, g, s, 120) {
			for _, w := range c.Then {
				found(w.Solution.Report.Findings) // what is noted of the sound plan
				for _, key := range w.Blank {
					for _, value := range wrongFor(key) {
						found(g.Grade(w.Solution.Plan.with(t, g, key, value)).Findings)
					}
				}
			}
			switch {
			case s.Kind == Faults && c.Batch != nil:
				found(g.GradeBatch(*c.Batch).Findings)
			case s.Kind == Faults:
				found(g.Grade(c.Plan).Findings)
			}
			for _, looked := range c.Looked() {
				for _, placed := range append([]string{""}, placedWords...) {
					b := *c.Batch
					b.Record.Jars = slices.Clone(b.Record.Jars)
					for i := range b.Record.Jars {
						b.Record.Jars[i].CheckedAfter = Stated[measure.Duration]{looked, looked.String(), true}
						if placed != "" {
							b.Record.Jars[i].Placed = stated(placed)
						}
					}
					found(g.GradeBatch(b).Findings)
				}
			}
		}
		if len(left) > 0 {
			t.Errorf("%s: nothing in it sets off %v", s.Slug, slices.Sorted(maps.Keys(left)))
		}
	}
}

// wrongFor are values that somebody may fill in for a key of a worked kitchen.
func wrongFor(key string) []string {
	return map[string][]string{
		"time": {"1 min"}, "pressure": {"1 psi"}, "headspace": {"1/16 in", "3 in"}, "acid.per_jar": {"1/8 tsp"}, "method": {"boiling-water", "pressure"},
	}[key]
}

// whereItGoes is what is published of a jar of a batch that got its whole tested
// process, written down here apart from the grader. USDA Complete Guide, Guide 1, 2015:
// signs of spoilage, pp. 1-26 to 1-27 (a suspect low-acid or tomato jar is bagged while
// it is sealed and detoxified when it is not); not sealed, p. 1-26 (within 24 hours:
// refrigerate, freeze, or the whole process again); sealed, pp. 1-25 to 1-26. Liquid
// lost, the next day: University of Nebraska-Lincoln, Iowa State (less than half: keep
// it and use it first; half or more: refrigerate).
func whereItGoes(j JarRecord, toxic bool, hours float64) []string {
	sealed := j.Sealed.Value && j.Looks.Value != "leaking"
	suspect := j.Looks.Value != "clear"
	switch {
	case (suspect || !sealed && hours > 24) && toxic && !sealed:
		return []string{"detoxify-and-discard"}
	case suspect || !sealed && hours > 24:
		return []string{"discard"}
	case !sealed:
		return []string{"refrigerate", "freeze", "reprocess"}
	case j.LiquidLost.Value == "half-or-more" && (hours <= 24 || !toxic):
		return []string{"refrigerate"}
	case j.LiquidLost.Value == "half-or-more":
		return []string{"discard"}
	case j.LiquidLost.Value == "some":
		return []string{"use-first"}
	}
	return []string{"shelf"}
}

// confirmed are the places that kitchens name for what becomes of a jar, each with
// what is said there. Another one is to be looked up before it comes here.
var confirmed = map[string]string{
	"usda-guide-1, p. 1-26":                                             "not sealed: within 24 hours again, or freeze, or refrigerate; spoilage seen from outside",
	"usda-guide-1, p. 1-27":                                             "suspect low-acid and tomato jars: sealed, bag and discard; open or leaking, detoxify; mold",
	"usda-guide-1, p. 1-30":                                             "mold on a jelly is not scraped off",
	"usda-guide-1, pp. 1-25 to 1-26":                                    "press, tap, look; what is not sealed; sealed jars are stored",
	"usda-guide-1, pp. 1-26 to 1-27":                                    "not sealed or spoiled, and of low acid",
	"usda-guide-1, pp. 1-26 and 1-29":                                   "sealed jars are stored; too much acid makes a jelly weep",
	"usda-guide-1, pp. 1-26 and 1-30":                                   "sealed jars are stored; what makes a gel soft",
	"usda-guide-1, pp. 1-12 and 1-26":                                   "raw fruit floats; sealed jars are stored",
	"usda-guide-1, pp. 1-12 and 1-25 to 1-26":                           "fruit floats; the tests of a seal; sealed jars are stored",
	"unl, answer on liquid lost during processing":                      "less than half: keep, use first; half or more: refrigerate, 2 to 3 days",
	"iowa-state, articles on canning questions, liquid loss":            "at least half: refrigerate",
	"iowa-state, articles on canning questions, tomatoes that separate": "harmless; shake and use",
	"nc-state, answer on separation":                                    "harmless; shake and use",
}

// TestPublishedJarDecisions: at least thirty decisions on jars have their answer in
// print. The grader, the file and what is published agree on each.
func TestPublishedJarDecisions(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	decisions, places := 0, map[string]bool{}
	for _, s := range shippedKind(t, WhatNow) {
		for i, j := range s.jars {
			if j.source == "" {
				continue
			}
			if confirmed[j.source] == "" {
				t.Errorf("%s, jar %d: nobody has confirmed %q", s.Slug, i+1, j.source)
			}
			places[j.source] = true
			decisions += len(j.want)
		}
		for _, c := range cases(t, g, s, 200) {
			card, _ := g.table.Card(c.Plan.Food.Value)
			toxic := card.Acidity == "low-acid" || card.Acidity == "borderline" || card.Guide == 3
			sound := true // the record shows the whole process; Guide 1, p. 1-18: from zero after a break
			if held, known := c.Batch.Record.Held(); !known || held < float64(c.Plan.Time.Value) {
				sound = false
			}
			for _, looked := range c.Looked() {
				for i, a := range g.Answers(c, looked) {
					want := whereItGoes(c.Jars[i].Record, toxic, float64(looked)/60)
					// Too little heat, found later than 2 hours after: University of
					// Nebraska-Lincoln, Kansas State; bagged or detoxified as on p. 1-27.
					if !sound && toxic && c.Jars[i].Record.Sealed.Value {
						want = []string{"discard"}
					} else if !sound {
						want = []string{"detoxify-and-discard"}
					}
					if a.Answer != want[0] || !sameWords(append([]string{a.Answer}, a.also...), want) {
						t.Errorf("%s, case %d, jar %d at %s: %s (also %v), published is %v", s.Slug, c.Seed, i+1, looked, a.Answer, a.also, want)
					}
				}
			}
		}
	}
	if decisions < 30 || len(places) < 8 {
		t.Errorf("%d decisions in %d places", decisions, len(places))
	}
	for place := range confirmed {
		if !places[place] {
			t.Errorf("no jar names %q any more", place)
		}
	}
}

func sameWords(a, b []string) bool {
	a, b = slices.Clone(a), slices.Clone(b)
	slices.Sort(a)
	slices.Sort(b)
	return slices.Equal(a, b)
}

// drawCase draws one case of the shipped scenarios of a kind.
func drawCase(t *rapid.T, outer *testing.T, g *Grader, list []*Scenario) *Case {
	s := list[rapid.IntRange(0, len(list)-1).Draw(t, "scenario")]
	c, err := g.Case(s, uint64(rapid.IntRange(0, s.space()-1).Draw(t, "case")))
	if err != nil {
		outer.Fatal(err)
	}
	return c
}

// drawValue draws a value that can be read for a key; "" for none.
func drawValue(t *rapid.T, name string) string {
	k, _ := keyNamed(name)
	pick := func(list ...string) string { return rapid.SampledFrom(append([]string{""}, list...)).Draw(t, name) }
	switch k.Kind {
	case KindWord:
		return pick(k.Words...)
	case KindWords:
		return pick(append([]string{"none"}, k.Words...)...)
	case KindYesNo:
		return pick("true", "false")
	case KindNumber:
		return pick("0", "1", "4.2", "4.8", "6", "12")
	case KindDuration:
		return pick("0 min", "5 min", "10 min", "15 min", "20 min", "25 min", "30 min", "35 min", "40 min", "45 min", "60 min", "85 min", "3 h", "24 h", "48 h")
	case KindPressure:
		return pick("5 psi", "6 psi", "10 psi", "11 psi", "12 psi", "13 psi", "14 psi", "15 psi", "76 kPa")
	case KindLength:
		return pick("0 in", "1/8 in", "1/4 in", "1/2 in", "13 mm", "1 in", "2 in")
	case KindVolume:
		return pick("1/4 tsp", "1/2 tsp", "1 tbsp", "30 ml", "2 tbsp", "4 tbsp")
	case KindTemperature:
		return pick("40 F", "65 F", "80 F", "100 F")
	}
	return ""
}

// TestRandomPlansPassOnlyAsPrinted answers kitchens at random. A blank answer never
// passes; one that does holds a row of the table, the printed headspace and the printed
// acid, whatever else was said.
func TestRandomPlansPassOnlyAsPrinted(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := shippedKind(t, PlanIt)
	rapid.Check(t, func(rt *rapid.T) {
		c := drawCase(rt, t, g, list)
		plan := c.Kitchen
		b := binder{table: g.table, plan: &plan}
		// What is needed at random; of the rest little, so that some come through.
		for _, k := range keys {
			needed := slices.Contains([]string{"pack", "method", "gauge", "jar", "time", "pressure", "headspace", "acid.kind", "acid.per_jar"}, k.Name)
			if c.Kitchen.Known(k.Name) || !needed && rapid.IntRange(0, 9).Draw(rt, "whether "+k.Name) > 0 {
				continue
			}
			if rapid.Bool().Draw(rt, "as worked "+k.Name) && c.Solution.Plan.Known(k.Name) {
				b.state(k.Name, c.Solution.Plan.Text(k.Name))
			} else if value := drawValue(rt, k.Name); value != "" {
				b.state(k.Name, value)
			}
		}
		if err := b.err(""); err != nil {
			rt.Fatal(err)
		}
		if g.Grade(plan).Verdict != AsTested {
			return
		}
		printed := slices.ContainsFunc(printedFor(g, plan), func(r process.Row) bool {
			return float64(plan.Time.Value) >= float64(r.Minutes) && float64(plan.Pressure.Value) >= float64(r.PSI)-0.05
		})
		dosed := true
		if card, _ := g.table.Card(plan.Food.Value); card.AcidIn == "jar" {
			dosed = false
			for _, d := range card.Dose(plan.Jar.Value) {
				dosed = dosed || d.Kind == plan.AcidKind.Value && float64(plan.AcidPerJar.Value) >= d.Tsp*0.995
			}
		}
		if !printed || !dosed {
			rt.Errorf("%s\npasses, but is not printed", plan.YAML())
		}
	})
}

func near(a, b, tolerance float64) bool { return a-b <= tolerance && b-a <= tolerance }

// TestTemptedPlansNeverPass gives in to one or more of the things that somebody in the
// kitchen wants, with the rest as worked. Where one of them is a fault by itself, nothing
// else that is wanted makes the plan pass.
func TestTemptedPlansNeverPass(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := shippedKind(t, PlanIt)
	rapid.Check(t, func(rt *rapid.T) {
		c := drawCase(rt, t, g, list)
		tempted := c.Solution.Plan
		alone := false // some of it is a fault by itself
		for _, k := range keys {
			if c.temptation.Known(k.Name) && rapid.Bool().Draw(rt, k.Name) {
				var one Plan
				one.slot(k.Name).take(c.temptation.slot(k.Name))
				tempted = overlay(tempted, one)
				alone = alone || len(safetyRules(g.Grade(overlay(c.Solution.Plan, one)).Findings)) > 0
			}
		}
		if alone && g.Grade(tempted).Verdict == AsTested {
			rt.Errorf("%s\npasses", tempted.YAML())
		}
	})
}

// TestRandomBlanksPassOnlyAsPrinted fills in worked kitchens at random: what passes is
// what a row of the table has, in whatever unit.
func TestRandomBlanksPassOnlyAsPrinted(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := shippedKind(t, Worked)
	rapid.Check(t, func(rt *rapid.T) {
		c := drawCase(rt, t, g, list)
		i := rapid.IntRange(0, len(c.Then)-1).Draw(rt, "kitchen")
		w := c.Then[i]
		var given Plan
		b := binder{table: g.table, plan: &given}
		for _, key := range w.Blank {
			if rapid.Bool().Draw(rt, "right "+key) {
				b.state(key, respell(rt, &w.Solution.Plan, key, w.Solution.Plan.Text(key)))
			} else if value := drawValue(rt, key); value != "" {
				b.state(key, value)
			}
		}
		if err := b.err(""); err != nil {
			rt.Fatal(err)
		}
		plan := w.Solution.Plan
		for _, key := range w.Blank {
			plan.slot(key).take(given.slot(key))
		}
		// The canner is one that this kitchen has.
		printed := plan.Method == w.Solution.Plan.Method && slices.ContainsFunc(printedFor(g, plan), func(r process.Row) bool {
			return plan.Time.Known && near(float64(plan.Time.Value), float64(r.Minutes), 1e-9) && (r.PSI == 0 || near(float64(plan.Pressure.Value), float64(r.PSI), 0.05))
		})
		if card, _ := g.table.Card(plan.Food.Value); card.AcidIn == "jar" {
			dosed := false
			for _, d := range card.Dose(plan.Jar.Value) {
				dosed = dosed || d.Kind == plan.AcidKind.Value && near(float64(plan.AcidPerJar.Value), d.Tsp, d.Tsp*0.015) // 2 tbsp are 30 ml on the page, and 29.6
			}
			printed = printed && dosed
		}
		if got := g.MarkWorked(c, i, given); got.Passed != printed {
			rt.Errorf("%s, kitchen %d: %s passes: %t, printed: %t\n%+v", c.Slug, i+1, given.YAML(), got.Passed, printed, got.Marks)
		}
	})
}

// printedFor lists the rows that are printed for a plan's kitchen and headspace, by
// plain comparison. A jar that has no row goes by the larger ones.
func printedFor(g *Grader, p Plan) []process.Row {
	method, gauge := p.Method.Value, ""
	if method == "atmospheric-steam" { // goes by the times of boiling water
		method = "boiling-water"
	}
	if method == "pressure" {
		gauge = p.Gauge.Value
	}
	var own, others []process.Row
	for _, r := range g.table.Rows(p.Food.Value) {
		fits := r.Method == method && r.Gauge == gauge && (r.Pack == p.Pack.Value || r.Pack == "as-directed") && r.Covers(float64(p.Altitude.Value)) &&
			(r.HeadspaceIn == 0 || near(float64(p.Headspace.Value), r.HeadspaceIn, 0.05))
		if fits && r.Jar == p.Jar.Value {
			own = append(own, r)
		} else if fits {
			others = append(others, r)
		}
	}
	if len(own) > 0 || slices.ContainsFunc(g.table.Rows(p.Food.Value), func(r process.Row) bool { return r.Jar == p.Jar.Value }) {
		return own
	}
	return others
}

// TestRandomSearchesPassOnlyWithEveryFault marks at random, and mends at random. It
// passes when all that was planted is called wrong and mended, and nothing sound is.
func TestRandomSearchesPassOnlyWithEveryFault(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := shippedKind(t, Faults)
	rapid.Check(t, func(rt *rapid.T) {
		c := drawCase(rt, t, g, list)
		best := g.BestFaults(c)
		said := map[string]FaultAnswer{}
		hits, misses, alarms, mended := 0, 0, 0, c.Plan
		doubt := false // what is safe, but could be better, may be called either
		for _, key := range c.Fields() {
			answer := FaultAnswer{Wrong: best[key].Wrong, Value: best[key].Value}
			if rapid.IntRange(0, 7).Draw(rt, "otherwise "+key) == 0 {
				answer.Wrong = !answer.Wrong
			}
			if rapid.IntRange(0, 7).Draw(rt, "mend otherwise "+key) == 0 {
				answer.Value = drawValue(rt, key)
			}
			said[key] = answer
			switch {
			case answer.Wrong && best[key].Wrong:
				hits++
				if !slices.Contains(recordFields, key) && answer.Value != "" {
					mended = mended.with(t, g, key, answer.Value)
				}
			case best[key].Wrong:
				misses++
			case answer.Wrong:
				alarms++
			}
		}
		got := g.MarkFaults(c, said)
		for _, m := range got.Marks {
			if m.Said.Wrong && !m.Faulty && len(m.Findings) > 0 {
				doubt, alarms = true, alarms-1
			}
		}
		if got.Hits != hits || got.Misses != misses || got.FalseAlarm != alarms {
			rt.Errorf("%s: %d hits, %d misses, %d false alarms; want %d, %d, %d", c.Slug, got.Hits, got.Misses, got.FalseAlarm, hits, misses, alarms)
		}
		// With all of it mended at once, the plan must be without a fault.
		clean := len(safetyRules(g.Grade(mended).Findings)) == 0
		if want := misses == 0 && alarms == 0 && clean; got.Passed && !want || !got.Passed && want && !doubt && bestValues(c, best, said) {
			rt.Errorf("%s: passes: %t, want %t\n%+v", c.Slug, got.Passed, want, got.Marks)
		}
	})
}

// bestValues reports whether every fault is mended with the tested value.
func bestValues(c *Case, best, said map[string]FaultAnswer) bool {
	for _, key := range c.Fields() {
		if best[key].Wrong && best[key].Value != said[key].Value {
			return false
		}
	}
	return true
}

// TestRandomDecisionsPassOnlyWithEveryJar decides at random. It passes when every jar
// goes where it is published that it goes.
func TestRandomDecisionsPassOnlyWithEveryJar(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	list := slices.DeleteFunc(shippedKind(t, WhatNow), func(s *Scenario) bool { return s.record != nil })
	rapid.Check(t, func(rt *rapid.T) {
		c := drawCase(rt, t, g, list)
		looked := rapid.SampledFrom(c.Looked()).Draw(rt, "looked")
		card, _ := g.table.Card(c.Plan.Food.Value)
		toxic := card.Acidity == "low-acid" || card.Acidity == "borderline" || card.Guide == 3
		var said []string
		right := 0
		for i, j := range c.Jars {
			want := whereItGoes(j.Record, toxic, float64(looked)/60)
			answer := rapid.SampledFrom(want).Draw(rt, fmt.Sprintf("jar %d", i+1))
			if rapid.IntRange(0, 7).Draw(rt, "otherwise") == 0 {
				answer = rapid.SampledFrom(append([]string{"", "on the porch"}, jarAnswers...)).Draw(rt, fmt.Sprintf("jar %d otherwise", i+1))
			}
			said = append(said, answer)
			if slices.Contains(want, answer) {
				right++
			}
		}
		got := g.MarkWhatNow(c, looked, said)
		if got.Right != right || got.Passed != (right == len(c.Jars)) {
			rt.Errorf("%s at %s: %v: %d right, passes: %t; want %d", c.Slug, looked, said, got.Right, got.Passed, right)
		}
		for _, m := range got.Marks {
			if m.Why == "" {
				rt.Errorf("%s at %s, jar %d: no reason", c.Slug, looked, m.N)
			}
		}
	})
}
