package scenarios

import (
	"slices"
	"strings"
	"testing"
)

// Parts of plans that are as tested as they stand.
const (
	peachPints   = "food: peaches, pack: hot, method: boiling-water, jar: pint, time: 20 min, headspace: 1/2 in"                                               // p. 2-19
	crushedPints = "food: tomatoes-crushed, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 35 min, headspace: 1/2 in"                    // p. 3-8
	beanQuarts   = "food: snap-beans, pack: hot, method: pressure, gauge: dial, jar: quart, altitude: 500 ft, time: 25 min, pressure: 11 psi, headspace: 1 in" // p. 4-9
	pickles      = ", pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 10 min, headspace: 1/2 in"                                          // pp. 6-9, 6-10
	salsa        = ", pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 15 min, headspace: 1/2 in"                                          // pp. 3-21 to 3-26
	pressured    = ", pack: hot, method: pressure, gauge: dial, jar: pint, altitude: 500 ft, pressure: 11 psi, headspace: 1 in"
	fruitPints   = ", pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 20 min, headspace: 1/2 in" // pp. 2-9, 2-18, 2-21
	babyFood     = "food: fruit-based-baby-food, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 20 min"
	jamUphill    = "food: jam-no-added-pectin, pack: hot, method: boiling-water, jar: half-pint, altitude: 6240 ft, headspace: 1/4 in"
)

// TestNeverAsTested: what one thing spoils in a plan that is else as tested. The
// pages are of the USDA Complete Guide to Home Canning, 2015.
func TestNeverAsTested(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, tc := range []struct{ plan, rule string }{ // rule "": the file is refused
		// The acid of a recipe: bottled juice may replace vinegar in a salsa, never the reverse (pp. 3-19, 3-21).
		{"food: tomato-salsa-using-paste-tomatoes" + salsa + ", acid: {kind: vinegar-5}", "acid-not-the-recipes"},
		{"food: tomato-paste-salsa" + salsa + ", acid: {kind: vinegar-5}", "acid-not-the-recipes"},
		{"food: tomatillo-green-salsa" + salsa + ", acid: {kind: citric-acid}", "acid-not-the-recipes"},
		{"food: bread-and-butter-pickles" + pickles + ", acid: {kind: citric-acid, per_jar: 1/8 tsp}", "acid-not-the-recipes"}, // p. 6-9: vinegar
		{"food: bread-and-butter-pickles" + pickles + ", acid: {kind: bottled-lemon-juice}", "acid-not-the-recipes"},           // the swap is printed for salsas only
		{"food: choice-salsa" + salsa + ", acid: {kind: vinegar-5}", "acid-of-recipe-unread"},                                  // not in the guide: which acid it has was not read
		{"food: chile-salsa" + salsa + ", acid: {kind: vinegar-5, per_jar: 0 tbsp}", "acid-left-out-of-recipe"},                // p. 3-21: 1 cup to the batch
		{"food: chile-salsa" + salsa + ", acid: {per_jar: 0 ml}", "acid-left-out-of-recipe"},
		{"food: chile-salsa" + salsa + ", acid: {kind: vinegar-5, per_jar: 1/8 tsp}", "acid-by-the-jar-in-recipe"}, // no dose for a jar is printed
		{crushedPints + ", acid: {kind: citric-acid, per_jar: 0 tsp}", "acid-left-out"},                            // p. 3-5
		{crushedPints + ", acid: {kind: citric-acid, per_jar: 64 cups}", "acid-more-than-the-jar"},                 // a pint is 2 cups
		// Puréed low-acid food (p. 1-31), and fruit and pickles otherwise than printed.
		{"food: soups, time: 60 min" + pressured + ", prepared: blended-unpeeled", "prepared-mashed"},                       // p. 4-18
		{"food: soups, time: 60 min" + pressured + ", prepared: milled", "prepared-mashed"},                                 // p. 4-18
		{"food: soups-containing-seafood, time: 100 min" + pressured + ", prepared: milled", "prepared-mashed"},             // p. 4-18
		{"food: chile-con-carne, time: 75 min" + pressured + ", prepared: milled", "prepared-mashed"},                       // p. 5-8
		{"food: apricots" + fruitPints + ", prepared: mashed", "prepared-another-way"},                                      // p. 2-9: halved or sliced
		{"food: plums" + fruitPints + ", prepared: blended-unpeeled", "prepared-another-way"},                               // p. 2-21: whole or halved
		{"food: nectarines" + fruitPints + ", prepared: mashed", "prepared-another-way"},                                    // p. 2-18: halved or sliced
		{"food: bread-and-butter-pickles" + pickles + ", prepared: mashed", "prepared-another-way"},                         // p. 6-9: slices
		{"food: chow-chow-relish" + strings.Replace(pickles, "10", "15", 1) + ", prepared: milled", "prepared-another-way"}, // its directions were not read
		// Numbers that can be read two ways are refused.
		{peachPints + ", altitude: 1.902 m", ""},
		{peachPints + ", altitude: 6.240 ft", ""},
		{crushedPints + `, acid: {kind: citric-acid, per_jar: "0,125 tsp"}`, ""},
		{crushedPints + `, acid: {kind: citric-acid, per_jar: "1,125 tsp"}`, ""},
		{strings.Replace(beanQuarts, "25 min", `"0,333 h"`, 1), ""},
		// Jars of other sizes beside the planned one have other times (p. 1-23).
		{crushedPints + ", acid: {kind: citric-acid, per_jar: 1/4 tsp}, load: {sizes: mixed}", "load-of-mixed-jars"},
		// The tables of Guide 7 are for boiled jars in every band (pp. 7-5 to 7-11).
		{jamUphill + ", time: 15 min, sterilised: false", "jars-not-sterilized-uphill"},
		{jamUphill + ", time: 20 min, sterilised: false", "jars-not-sterilized-uphill"},
		// No process above 15 psi (p. 1-10).
		{strings.Replace(beanQuarts, "11 psi", "60 psi", 1), "pressure-above-ceiling"},
		{strings.Replace(beanQuarts, "11 psi", "16 psi", 1), "pressure-above-ceiling"},
		// Where no headspace is printed (p. 1-31), that of fruit decides (pp. 1-13, 2-14).
		{babyFood + ", headspace: 0 in", "headspace-unlike-any-printed"},
		{babyFood + ", headspace: 1/8 in", "headspace-unlike-any-printed"},
		{babyFood + ", headspace: 3 in", "headspace-unlike-any-printed"},
		{"food: mango-green, pack: hot, method: boiling-water, jar: pint, altitude: 0 ft, time: 15 min, headspace: 0 in", "headspace-unlike-any-printed"},
		// Jars that food was sold in, with a two-piece lid only (p. 1-14).
		{peachPints + ", altitude: 500 ft, jars: {kind: one-trip}, lids: {kind: one-piece, state: new}", "jars-one-trip-lid"},
		{peachPints + ", altitude: 500 ft, jars: {kind: one-trip}, lids: {kind: reusable-gasket}", "jars-one-trip-lid"},
	} {
		p, err := g.ParsePlan("p.yaml", []byte("{"+tc.plan+"}"))
		if tc.rule == "" || err != nil {
			if err == nil || tc.rule != "" {
				t.Errorf("%s: %v, want the rule %q", tc.plan, err, tc.rule)
			}
			continue
		}
		report := g.Grade(p)
		named := slices.ContainsFunc(report.Findings, func(f Finding) bool { return f.Rule == tc.rule && f.Severity == "safety" })
		if report.Verdict == AsTested || !named {
			t.Errorf("%s: %s, %+v, want the rule %s", tc.plan, report.Verdict, report.Findings, tc.rule)
		}
	}
}

// TestStillAsTested: what stands beside the plans above and is as printed.
func TestStillAsTested(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, plan := range []string{
		"food: tomato-salsa-using-paste-tomatoes" + salsa + ", acid: {kind: bottled-lemon-juice}",                          // p. 3-23
		"food: chile-salsa" + salsa + ", acid: {kind: vinegar-5}",                                                          // p. 3-21
		"food: chile-salsa" + salsa + ", acid: {kind: bottled-lemon-juice}",                                                // pp. 3-19, 3-21
		"food: bread-and-butter-pickles" + pickles + ", acid: {kind: vinegar-5}",                                           // p. 6-9
		"food: pickled-three-bean-salad" + strings.Replace(pickles, "10", "15", 1) + ", acid: {kind: bottled-lemon-juice}", // p. 6-14: vinegar and bottled juice both
		crushedPints + ", acid: {kind: citric-acid, per_jar: 1 tbsp}",                                                      // more acid does no harm to safety
		peachPints + `, altitude: "1,000 ft"`,
		peachPints + ", altitude: 152.4 m",
		babyFood + ", headspace: 1/4 in, prepared: mashed", // p. 2-14: purées have 1/4 inch
		babyFood + ", headspace: 1 in",                     // p. 2-16: grapes have 1 inch
		jamUphill + ", time: 15 min, sterilised: true",     // p. 7-6
		strings.Replace(beanQuarts, "11 psi", "15 psi", 1),
		peachPints + ", altitude: 500 ft, jars: {kind: one-trip}, lids: {kind: two-piece, state: new}", // p. 1-14
		"food: spaghetti-sauce-without-meat, time: 20 min" + pressured + ", prepared: milled",          // p. 3-13: peeled, then sieved
		"food: plums" + fruitPints + ", prepared: whole",
		"food: pickled-mixed-vegetables" + strings.Replace(pickles, "10", "5", 1) + ", prepared: cubed, sterilised: true", // p. 6-25
	} {
		p, err := g.ParsePlan("p.yaml", []byte("{"+plan+"}"))
		if err != nil {
			t.Errorf("%s: %v", plan, err)
			continue
		}
		if report := g.Grade(p); report.Verdict != AsTested {
			t.Errorf("%s: %s, %+v", plan, report.Verdict, report.Findings)
		}
	}
}

// TestJamUphillAsksForBoiledJars: above the lowest band every jam and jelly of Guide
// 7 asks whether the jars were boiled, since its times were printed for those.
func TestJamUphillAsksForBoiledJars(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := 0
	for _, card := range g.table.Foods() {
		for _, r := range g.table.Rows(card.Food) {
			if card.Guide != 7 || card.Sterilise != "under-10" || r.FromFt == 0 {
				continue
			}
			rows++
			p := planOf(t, g, r, r.FromFt)
			if !slices.Contains(g.Grade(p).NotStated, "sterilised") || g.TestedValues(p)["sterilised"] != "true" {
				t.Errorf("%+v: does not ask for boiled jars", r)
			}
			if v := g.Grade(p.with(t, g, "sterilised", "false")).Verdict; v != FixFirst {
				t.Errorf("%+v: jars that were not boiled: %s", r, v)
			}
		}
	}
	if rows < 20 {
		t.Errorf("looked at %d rows", rows)
	}
}

// TestRemedyForTheRecipesAcid: bottled juice may replace vinegar, never the reverse
// (USDA Guide 3, pp. 3-19, 3-21), so a recipe of juice is never offered vinegar.
func TestRemedyForTheRecipesAcid(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ plan, first string }{
		{"food: tomato-salsa-using-paste-tomatoes" + salsa + ", acid: {kind: vinegar-weak}", "acid.kind vinegar-weak>bottled-lemon-juice"},
		{"food: tomato-salsa-using-paste-tomatoes" + salsa + ", acid: {kind: vinegar-5}", "acid.kind vinegar-5>bottled-lemon-juice"},
		{"food: chile-salsa" + salsa + ", acid: {kind: vinegar-weak}", "acid.kind vinegar-weak>vinegar-5"},
		{"food: chile-salsa" + salsa + ", acid: {kind: vinegar-5, per_jar: 0 tbsp}", "acid.per_jar 0 tbsp>"},
		{"food: bread-and-butter-pickles" + pickles + ", acid: {kind: citric-acid, per_jar: 1/8 tsp}", "acid.kind citric-acid>vinegar-5, acid.per_jar 1/8 tsp>"},
		{"food: green-tomato-pie-filling, pack: hot, method: boiling-water, jar: quart, altitude: 500 ft, time: 15 min, headspace: 1/2 in, acid: {kind: citric-acid}", ""}, // two acids, and a plan can name one
		{"food: choice-salsa" + salsa + ", acid: {kind: vinegar-5}", ""},
		{strings.Replace(beanQuarts, "11 psi", "60 psi", 1), "pressure 60 psi>11 psi"},
		{crushedPints + ", acid: {kind: citric-acid, per_jar: 1/4 tsp}, load: {sizes: mixed}", "load.sizes mixed>one"},
		{babyFood + ", headspace: 0 in", ""}, // none is printed, and none is made up
	} {
		got := remediesOf(t, "{"+tc.plan+"}")
		if tc.first == "" && len(got) > 0 || tc.first != "" && (len(got) == 0 || got[0] != tc.first) {
			t.Errorf("%s: remedies %q, want first %q", tc.plan, got, tc.first)
		}
	}
}

// TestStartOfAnotherCanner: under pressure the time starts when the pressure is
// reached (USDA Guide 1, p. 1-22), in a boiling-water canner when the boil is (p.
// 1-18). The other moment does not say when it started.
func TestStartOfAnotherCanner(t *testing.T) {
	t.Parallel()
	const times = ": 2026-08-20T14:00:00-06:00, finished: 2026-08-20T14:25:00-06:00, jars: [{n: 1, sealed: true, checked_after: 14 h}]}\n"
	for _, tc := range []struct {
		plan, start, missing, answer string
	}{
		{beanQuarts, "boil_reached", "record.pressure_reached", "refrigerate"},
		{beanQuarts, "pressure_reached", "", "shelf"},
		{peachPints + ", altitude: 500 ft", "pressure_reached", "record.boil_reached", "refrigerate"},
		{peachPints + ", altitude: 500 ft", "boil_reached", "", "shelf"},
		{strings.Replace(peachPints, "boiling-water", "atmospheric-steam", 1) + ", altitude: 500 ft", "pressure_reached", "record.boil_reached", "refrigerate"},
	} {
		got := gradeBatch(t, "plan: {"+tc.plan+"}\nrecord: {"+tc.start+times)
		if (got.Verdict == AsTested) != (tc.missing == "") || got.Jars[0].Answer != tc.answer || (got.HeldMinutes == nil) != (tc.missing != "") ||
			tc.missing != "" && !slices.Equal(got.Missing, []string{tc.missing}) {
			t.Errorf("%s, %s: %s, missing %v, held %v, %+v; want missing %q, %s", tc.plan, tc.start, got.Verdict, got.Missing, got.HeldMinutes, got.Jars, tc.missing, tc.answer)
		}
	}
}

// TestJarsOfADoubtfulProcess: what a plan leaves in doubt keeps its jars off the shelf.
// Jars of other sizes have other times (USDA Guide 1, p. 1-23), and a gauge that shows
// more than a home canner is run at is not to be trusted (p. 1-10). Jars that were not
// boiled are given the whole process again (University of Nebraska-Lincoln Extension).
func TestJarsOfADoubtfulProcess(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ plan, start, finished, answer string }{
		{peachPints + ", altitude: 500 ft, load: {sizes: mixed}", "boil_reached", "14:20", "refrigerate"},
		{strings.Replace(beanQuarts, "11 psi", "60 psi", 1), "pressure_reached", "14:25", "refrigerate"},
		{jamUphill + ", time: 15 min, sterilised: false", "boil_reached", "14:15", "discard"},
	} {
		got := gradeBatch(t, "plan: {"+tc.plan+"}\nrecord: {"+tc.start+": 2026-08-20T14:00:00-06:00, finished: 2026-08-20T"+tc.finished+":00-06:00, jars: [{n: 1, sealed: true, checked_after: 14 h}]}\n")
		if got.Verdict != FixFirst || got.Jars[0].Answer != tc.answer {
			t.Errorf("%s: %s, %+v; want %s", tc.plan, got.Verdict, got.Jars, tc.answer)
		}
	}
}
