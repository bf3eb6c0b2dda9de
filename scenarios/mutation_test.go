package scenarios

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// subject is a plan that follows one row of the table to the letter: each key
// that has a tested value states it.
type subject struct {
	row    process.Row
	method string // the row's, or atmospheric-steam for a boiling-water row
	card   process.Card
	plan   Plan
}

func (s *subject) name() string {
	return strings.Join([]string{s.row.Food, s.row.Pack, s.method, s.row.Gauge, s.row.Jar}, " ")
}

// subjects gives, for every food, a plan for each pack, method, gauge, jar and
// alternative that the table prints in its lowest band, and one in steam for
// each boiling-water row that is short enough for it. Rows from memory support
// no as-tested plan, so there is no subject for them.
func subjects(t testing.TB, g *Grader) []subject {
	t.Helper()
	var list []subject
	for _, card := range g.table.Foods() {
		for _, r := range g.table.Rows(card.Food) {
			if r.FromMemory() || r.FromFt != 0 {
				continue
			}
			list = append(list, subject{r, r.Method, card, fullPlan(t, g, r, r.Method, r.FromFt)})
			if r.Method == "boiling-water" && r.Minutes <= steamLongestMin {
				list = append(list, subject{r, "atmospheric-steam", card, fullPlan(t, g, r, "atmospheric-steam", r.FromFt)})
			}
		}
	}
	return list
}

// fullPlan states every key that has a tested value for one row at an altitude.
func fullPlan(t testing.TB, g *Grader, r process.Row, method string, altitudeFt int) Plan {
	t.Helper()
	p := planOf(t, g, r, altitudeFt)
	if method != r.Method {
		p = p.with(t, g, "method", method)
	}
	for key, value := range g.TestedValues(p) {
		if !p.Known(key) {
			p = p.with(t, g, key, value)
		}
	}
	return p
}

// reached says whether a published row answers for a plan of the subject's
// figures in another jar, pack or canner or at another altitude. It reads the
// list of rows itself and knows nothing of the look-up that is tested.
func (s *subject) reached(g *Grader, pack, method, gauge, jar string, ft int) bool {
	steam := method == "atmospheric-steam"
	if steam {
		method = "boiling-water"
	}
	sizes := process.Jars()
	size := func(id string) int {
		return slices.IndexFunc(sizes, func(j process.Jar) bool { return j.ID == id })
	}
	var place []process.Row
	for _, r := range g.table.Rows(s.row.Food) {
		if (r.Pack == pack || r.Pack == "as-directed") && r.Method == method && r.Gauge == gauge && size(r.Jar) >= size(jar) {
			place = append(place, r)
		}
	}
	if len(place) == 0 {
		return false
	}
	listed := slices.MinFunc(place, func(a, b process.Row) int { return size(a.Jar) - size(b.Jar) }).Jar
	for _, r := range place {
		inBand := ft >= r.FromFt && (r.ToFt == 0 || ft <= r.ToFt)
		sameGap := r.HeadspaceIn == 0 || r.HeadspaceIn == s.row.HeadspaceIn || s.row.HeadspaceIn == 0 && r.HeadspaceIn == 0.5
		if r.Jar == listed && inBand && sameGap && !r.FromMemory() && r.Minutes <= s.row.Minutes && r.PSI <= s.row.PSI &&
			(!steam || r.Minutes <= steamLongestMin) {
			return true
		}
	}
	return false
}

// doseReached says whether the subject's acid is enough for another jar.
func (s *subject) doseReached(jar string) bool {
	if s.card.AcidIn != "jar" {
		return true
	}
	for _, d := range s.card.Dose(jar) {
		if d.Kind == s.plan.AcidKind.Value {
			return d.Tsp <= float64(s.plan.AcidPerJar.Value)
		}
	}
	return false
}

// mutation changes one key of a subject to a value that is worse. It is caught
// by a finding of its severity on one of its fields; for severity "either", of
// safety or quality.
type mutation struct {
	key      string
	values   []string
	severity string
	fields   []string                  // the key itself when empty
	of       func(s *subject) []string // values that depend on the subject
	// asked says whether the change is one at all for the subject; nil: always.
	asked func(s *subject) bool
	// harmless says why the table itself lets the changed plan stand, "" where it
	// must be caught; nil: always caught.
	harmless func(g *Grader, s *subject, value string) string
}

// anyWay lists the foods that may be prepared in any of the plan's words: juice, syrup,
// jam and jelly are crushed or strained by their own directions (USDA Guides 2 and 7).
var anyWay = []string{
	"apple-juice", "grape-juice", "berry-syrup",
	"jelly-no-added-pectin", "apple-jelly-without-added-pectin", "jam-no-added-pectin", "jelly-jam-added-pectin", "pear-apple-jam", "strawberry-rhubarb-jelly",
	"blueberry-spice-jam", "grape-plum-jelly", "golden-pepper-jelly", "peach-pineapple-spread-reduced-sugar", "remade-soft-jelly",
}

func boilingWater(s *subject) bool { return s.method == "boiling-water" }
func pressure(s *subject) bool     { return s.method == "pressure" }
func perJar(s *subject) bool       { return s.card.AcidIn == "jar" }
func inRecipe(s *subject) bool     { return s.card.AcidIn == "recipe" }
func lowAcid(s *subject) bool      { return s.card.Acidity == "low-acid" }

// allLiquid foods have no bubbles to free: USDA Guide 1, p. 1-15.
func allLiquid(s *subject) bool {
	return s.card.Guide == 7 || strings.Contains(s.row.Food, "juice") && !strings.Contains(s.row.Food, "whole") || s.row.Food == "meat-stock"
}

// nearTheLine foods sit close to pH 4.6 (USDA Guide 1, p. 1-8).
func nearTheLine(s *subject) bool { return s.card.Acidity == "borderline" }

// larger lists the jars that are larger than one.
func larger(jar string) (list []string) {
	past := false
	for _, j := range process.Jars() {
		if past {
			list = append(list, j.ID)
		}
		past = past || j.ID == jar
	}
	return list
}

var mutations = []mutation{
	// Heat.
	{
		key: "time", severity: "safety",
		of: func(s *subject) []string {
			if s.row.Minutes == 1 {
				return []string{"30 s"}
			}
			return []string{fmt.Sprintf("%d min", s.row.Minutes-1)}
		},
	},
	{
		key: "pressure", severity: "safety", fields: []string{"pressure", "time"}, asked: pressure,
		of: func(s *subject) []string { return []string{fmt.Sprintf("%d psi", s.row.PSI-1)} },
	},
	{key: "pressure", values: []string{"15.5 psi", "60 psi"}, severity: "safety", asked: pressure},
	{
		key: "altitude", severity: "safety", fields: []string{"altitude", "time", "pressure", "method", "food"},
		asked: func(s *subject) bool { return s.row.ToFt > 0 },
		of:    func(s *subject) []string { return []string{fmt.Sprintf("%d ft", s.row.ToFt+1)} },
		harmless: func(g *Grader, s *subject, _ string) string {
			if s.reached(g, s.row.Pack, s.method, s.row.Gauge, s.row.Jar, s.row.ToFt+1) {
				return "the next band prints the same figures"
			}
			return ""
		},
	},
	{
		key: "jar", severity: "safety", fields: []string{"jar", "time", "acid", "pressure", "headspace", "food", "method"},
		of: func(s *subject) []string { return larger(s.row.Jar) },
		harmless: func(g *Grader, s *subject, jar string) string {
			if s.reached(g, s.row.Pack, s.method, s.row.Gauge, jar, 0) && s.doseReached(jar) {
				return "the larger jar is printed with the same figures"
			}
			return ""
		},
	},
	{
		key: "pack", values: packs, severity: "safety", fields: []string{"pack", "time", "pressure", "headspace", "method"},
		harmless: func(g *Grader, s *subject, pack string) string {
			switch {
			case pack == s.row.Pack:
				return "the same pack"
			case s.reached(g, pack, s.method, s.row.Gauge, s.row.Jar, 0):
				return "the other pack is printed with the same figures or lower ones"
			}
			return ""
		},
	},
	{
		key: "gauge", values: gauges, severity: "safety", fields: []string{"pressure", "time", "method"}, asked: pressure,
		harmless: func(g *Grader, s *subject, gauge string) string {
			if s.reached(g, s.row.Pack, s.method, gauge, s.row.Jar, 0) {
				return "the other gauge is printed with the same figures or lower ones"
			}
			return ""
		},
	},
	{key: "method", values: []string{"open-kettle", "oven", "microwave", "dishwasher", "sun"}, severity: "safety"},
	{key: "method", values: []string{"boiling-water", "atmospheric-steam"}, severity: "safety", asked: lowAcid},
	{key: "gauge_tested", values: []string{"earlier", "never"}, severity: "safety", asked: pressure, harmless: func(_ *Grader, s *subject, _ string) string {
		if s.row.Gauge == "weighted" {
			return "a weighted gauge needs no test (USDA Guide 1, p. 1-20)"
		}
		return ""
	}},
	{key: "timing_starts", values: timingFrom, severity: "safety", harmless: func(_ *Grader, s *subject, start string) string {
		// USDA Guide 1, pp. 1-18 and 1-22; National Center for Home Food Preservation on steam.
		if start == map[string]string{"boiling-water": "full-boil", "atmospheric-steam": "steady-steam", "pressure": "pressure-reached"}[s.method] {
			return "the tested moment"
		}
		return ""
	}},
	{key: "boil_interrupted", values: []string{"continue"}, severity: "safety"},
	{key: "canner_opened", values: []string{"true"}, severity: "safety", harmless: func(_ *Grader, s *subject, _ string) string {
		if s.method == "boiling-water" {
			return "a boiling-water canner is opened to add boiling water (USDA Guide 1, p. 1-18)"
		}
		return ""
	}},
	{key: "vent", values: []string{"9 min", "0 min"}, severity: "safety", asked: pressure},
	{key: "water_over_lids", values: []string{"1/2 in", "0 in"}, severity: "safety", asked: boilingWater},
	{key: "water_over_lids", values: []string{"1 in"}, severity: "quality", asked: boilingWater, harmless: func(_ *Grader, s *subject, _ string) string {
		if s.row.Minutes <= 30 {
			return "1 inch is enough up to 30 minutes (USDA Guide 1, p. 1-18)"
		}
		return ""
	}},
	{key: "water_kept", values: []string{"false"}, severity: "safety", asked: boilingWater},
	{key: "load.sizes", values: []string{"mixed"}, severity: "safety"},
	{key: "load.layers", values: []string{"2"}, severity: "quality"},
	{key: "rest", values: []string{"0 min", "4 min"}, severity: "quality"},

	// Acid.
	{key: "acid.kind", values: []string{"none"}, severity: "safety", fields: []string{"acid"}, asked: perJar},
	{
		key: "acid.per_jar", severity: "safety", fields: []string{"acid"}, asked: perJar,
		of: func(s *subject) []string { return []string{measure.Volume(s.plan.AcidPerJar.Value / 2).String()} },
	},
	{key: "acid.kind", values: []string{"fresh-lemon-juice", "vinegar-weak", "none"}, severity: "safety", fields: []string{"acid"}, asked: func(s *subject) bool { return s.card.AcidIn != "" }},
	{
		key: "acid.kind", values: []string{"bottled-lemon-juice", "citric-acid", "vinegar-5"}, severity: "safety", fields: []string{"acid"}, asked: perJar,
		harmless: func(_ *Grader, s *subject, kind string) string {
			for _, d := range s.card.Dose(s.row.Jar) {
				if d.Kind == kind && d.Tsp <= float64(s.plan.AcidPerJar.Value) {
					return "as much of this acid as is printed"
				}
			}
			return ""
		},
	},
	{
		key: "acid.kind", values: []string{"bottled-lemon-juice", "citric-acid", "vinegar-5"}, severity: "safety", fields: []string{"acid"}, asked: inRecipe,
		harmless: func(_ *Grader, s *subject, kind string) string {
			switch {
			case slices.Contains(s.card.RecipeAcid, kind):
				return "the recipe's own acid"
			case kind == "bottled-lemon-juice" && slices.Contains(s.card.RecipeAcid, "vinegar-5") && (strings.Contains(s.row.Food, "salsa") || s.row.Food == "tomato-taco-sauce"):
				return "bottled juice may replace vinegar in a salsa (USDA Guide 3, pp. 3-19, 3-21)"
			}
			return ""
		},
	},
	{key: "acid.per_jar", values: []string{"0 tsp", "1/8 tsp", "1 tbsp"}, severity: "safety", fields: []string{"acid"}, asked: inRecipe},
	{key: "acid.per_jar", values: []string{"0 tsp", "64 cups"}, severity: "safety", fields: []string{"acid"}, asked: perJar},
	{key: "ph.reading", values: []string{"4.8"}, severity: "safety", fields: []string{"ph"}, harmless: func(_ *Grader, s *subject, _ string) string {
		if lowAcid(s) {
			return "the process is one for low-acid food"
		}
		return ""
	}},
	{key: "ph.by", values: []string{"strip", "litmus"}, severity: "note", fields: []string{"ph"}},

	// What goes in.
	{
		key: "produce", values: []string{"frost-killed", "diseased"}, severity: "safety",
		asked: func(s *subject) bool { return s.card.Guide != 5 }, // Guide 5 is meat, poultry and seafood
	},
	{key: "produce", values: []string{"overripe"}, severity: "safety", asked: nearTheLine},
	{key: "produce", values: []string{"overripe"}, severity: "either", asked: func(s *subject) bool { return s.card.Guide != 5 && !nearTheLine(s) }},
	{
		key: "produce", values: []string{"white-fleshed"}, severity: "safety",
		asked: func(s *subject) bool {
			return strings.Contains(s.row.Food, "peach") || strings.Contains(s.row.Food, "nectarine")
		},
	},
	{key: "produce", severity: "safety", of: func(s *subject) []string { return s.card.ProduceOut }},
	{
		key: "prepared", values: prepared, severity: "safety",
		harmless: func(_ *Grader, s *subject, word string) string {
			puree := word == "mashed" || word == "milled" || word == "blended-unpeeled"
			switch {
			case word == "mashed" && lowAcid(s):
				return ""
			case slices.Contains(anyWay, s.row.Food):
				return "crushed, strained or puréed by its own directions"
			case !puree && len(s.card.Prepared) == 0 && (lowAcid(s) || s.card.Directions == ""):
				return "its directions say more than these words do, but it is in pieces"
			case slices.Contains(s.card.Prepared, word):
				return "the card names this among its ways"
			}
			return ""
		},
	},
	{
		key: "added", values: added, severity: "safety",
		harmless: func(_ *Grader, s *subject, word string) string {
			switch {
			case word == "salt" || word == "sugar" || word == "dried-spice":
				return "for taste only (USDA Guide 1, p. 1-31; National Center for Home Food Preservation, salsa)"
			case word == "butter" && s.card.Guide == 7:
				return "a little butter against foam is common practice in jam"
			}
			return ""
		},
	},

	// Jars, lids, filling.
	{
		key: "headspace", severity: "safety",
		of: func(s *subject) []string { return []string{measure.Length(s.row.HeadspaceIn / 2).String()} }, asked: func(s *subject) bool { return s.row.HeadspaceIn > 0 },
	},
	{
		key: "headspace", severity: "safety",
		of: func(s *subject) []string { return []string{measure.Length(s.row.HeadspaceIn + 0.25).String()} }, asked: func(s *subject) bool { return s.row.HeadspaceIn > 0 },
	},
	{
		key: "headspace", values: []string{"0 in", "1/8 in", "3 in"}, severity: "safety",
		harmless: func(_ *Grader, s *subject, value string) string {
			if s.row.HeadspaceIn == 0.125 && value == "1/8 in" {
				return "as printed for ketchup (USDA Guide 3, p. 3-17)"
			}
			return ""
		},
	},
	{key: "jars.condition", values: []string{"nicked", "cracked"}, severity: "safety"},
	{key: "jars.kind", values: []string{"one-trip"}, severity: "safety", asked: pressure},
	{key: "jars.kind", values: []string{"one-trip"}, severity: "quality", asked: func(s *subject) bool { return !pressure(s) }},
	{key: "sterilised", values: []string{"false"}, severity: "safety", harmless: func(_ *Grader, s *subject, _ string) string {
		switch { // USDA Guide 1, pp. 1-14 and 1-15
		case pressure(s):
			return "no sterile jars for the pressure canner"
		case s.row.Minutes >= 10:
			return "no sterile jars for 10 minutes or more"
		}
		return ""
	}},
	{key: "lids.state", values: []string{"used"}, severity: "safety"},
	{key: "lids.state", values: []string{"old"}, severity: "quality"},
	{key: "lids.kind", values: []string{"one-piece", "reusable-gasket"}, severity: "note"},
	{key: "bands", values: []string{"loose", "forced"}, severity: "safety"},
	{key: "bubbles_removed", values: []string{"false"}, severity: "quality", harmless: func(_ *Grader, s *subject, _ string) string {
		if allLiquid(s) {
			return "no bubble step for spreads and all-liquid food (USDA Guide 1, p. 1-15)"
		}
		return ""
	}},
	{key: "rims_wiped", values: []string{"false"}, severity: "quality"},

	// After the canner.
	{key: "cooling.forced", values: []string{"true"}, severity: "safety"},
	{key: "cooling.bands_retightened", values: []string{"true"}, severity: "safety"},
	{key: "cooling.hours", values: []string{"2", "11"}, severity: "quality"},
	{key: "cooling.undisturbed", values: []string{"false"}, severity: "quality"},
	{key: "cooling.inverted", values: []string{"true"}, severity: "quality"},
	{key: "seal_checks", values: []string{"lift", "ping", ""}, severity: "safety"},
	{key: "seal_checks", values: []string{"tap"}, severity: "quality"},
	{key: "unsealed", values: []string{"shelf"}, severity: "safety"},
	{key: "unsealed_within", values: []string{"25 h", "3 days", "24.1 h"}, severity: "safety"},
	{key: "lost_liquid", values: []string{"top-up"}, severity: "safety"},
	{key: "storage.temperature", values: []string{"96 F", "40 C"}, severity: "safety"},
	{key: "storage.temperature", values: []string{"80 F"}, severity: "quality"},
	{key: "storage.bands_off", values: []string{"false"}, severity: "quality"},
	{key: "storage.months", values: []string{"13"}, severity: "quality"},
	{key: "opening", values: []string{"taste", "look, taste"}, severity: "safety"},
}

// valuesFor lists what a mutation makes of its key for a subject.
func (m *mutation) valuesFor(s *subject) []string {
	if m.asked != nil && !m.asked(s) {
		return nil
	}
	if m.of != nil {
		return m.of(s)
	}
	return m.values
}

// caught says whether a report finds fault with what the mutation changed.
func (m *mutation) caught(report Report) bool {
	fields := m.fields
	if len(fields) == 0 {
		fields = []string{m.key}
	}
	return slices.ContainsFunc(report.Findings, func(f Finding) bool {
		severe := f.Severity == m.severity || m.severity == "either" && (f.Severity == "safety" || f.Severity == "quality")
		return severe && slices.Contains(fields, f.Field) && (f.Severity != "safety" || report.Verdict != AsTested)
	})
}

// TestMutations spoils each as-tested plan in each way of the table above, one
// way at a time. Every spoiled plan has a finding on the right field, or the
// published rows let it stand and then it is still as tested.
func TestMutations(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	tried, caught, harmless := 0, 0, 0
	foods := map[string]bool{}
	for _, s := range subjects(t, g) {
		foods[s.row.Food] = true
		if before := g.Grade(s.plan); before.Verdict != AsTested || slices.ContainsFunc(before.Findings, func(f Finding) bool { return f.Severity != "note" }) {
			t.Errorf("%s: to the letter: %s, %+v", s.plan.YAML(), before.Verdict, before.Findings)
			continue
		}
		for i := range mutations {
			m := &mutations[i]
			for _, value := range m.valuesFor(&s) {
				why := ""
				if m.harmless != nil {
					why = m.harmless(g, &s, value)
				}
				report := g.Grade(s.plan.with(t, g, m.key, value))
				switch {
				case why != "":
					harmless++
					if report.Verdict != AsTested {
						t.Errorf("%s: %s: %q: %s, though %s: %+v", s.name(), m.key, value, report.Verdict, why, report.Findings)
					}
				case m.caught(report):
					tried, caught = tried+1, caught+1
				default:
					tried++
					t.Errorf("%s: %s: %q: not caught: %s, %+v", s.name(), m.key, value, report.Verdict, report.Findings)
				}
			}
		}
	}
	t.Logf("%d foods: tried %d, caught %d; %d more are harmless by the table", len(foods), tried, caught, harmless)
	if tried < 10000 {
		t.Errorf("tried %d, want at least 10 000", tried)
	}
}

// TestMutationsCoverEveryKey holds the table above to the plan's keys, so that a
// new key gets its mutations. The food is the one key without: another food is
// another plan.
func TestMutationsCoverEveryKey(t *testing.T) {
	t.Parallel()
	for _, k := range Keys() {
		if k.Name != "food" && !slices.ContainsFunc(mutations, func(m mutation) bool { return m.key == k.Name }) {
			t.Errorf("no mutation of %s", k.Name)
		}
	}
}
