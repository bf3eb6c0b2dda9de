package quiz

import (
	"math"
	"slices"
	"strings"
	"testing"

	"rollingboil/scenarios/rules"
)

// language is what questions are written in, with the shipped table and bench, and
// what it notes of pages.
func language(t testing.TB) (*rules.Language, *pages) {
	t.Helper()
	o, noted := courseOptions(t), &pages{on: true}
	return newLanguage(words{o.Table, o.Bench, o.Grade, o.Facts, noted}), noted
}

func compute(t testing.TB, l *rules.Language, source string) (any, error) {
	t.Helper()
	e, err := l.Compile(source)
	if err != nil {
		t.Fatalf("%s: %v", source, err)
	}
	return e.Run(l.Values())
}

// The figures are laid beside the printed tables; page is where they stand. Each
// look-up names that page, so that a question can be held to it.
func TestLookUps(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		source string
		want   any
		page   string // "" where none is noted
	}{
		// Crushed tomatoes, hot pack, boiling water: Guide 3, p. 3-8.
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 6240)`, 60.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 0)`, 45.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "quart", -200)`, 45.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "pint", 1000)`, 35.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "pint", 1001)`, 40.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "pint", 3001)`, 45.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "pint", 6000)`, 45.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "pint", 6001)`, 50.0, "3-8"},
		// A smaller jar takes the time of the next larger one that is listed: National
		// Center for Home Food Preservation, on the choice of jars.
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "half-pint", 500)`, 35.0, "3-8"},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "24-oz", 500)`, 45.0, "3-8"},
		// Peaches: Guide 2, p. 2-19; under pressure p. 2-31.
		{`minutes("peaches", "hot", "boiling-water", "quart", 500)`, 25.0, "2-19"},
		{`minutes("peaches", "raw", "boiling-water", "quart", 6240)`, 45.0, "2-19"},
		{`minutesUnderPressure("peaches", "hot", "dial", "pint", 500)`, 10.0, "2-31"},
		{`psi("peaches", "hot", "dial", "pint", 500)`, 6.0, "2-31"},
		// Snap beans: Guide 4, p. 4-9.
		{`minutesUnderPressure("snap-beans", "raw", "dial", "pint", 500)`, 20.0, "4-9"},
		{`minutesUnderPressure("snap-beans", "raw", "weighted", "quart", 9000)`, 25.0, "4-9"},
		{`psi("snap-beans", "hot", "dial", "quart", 2000)`, 11.0, "4-9"},
		{`psi("snap-beans", "hot", "dial", "quart", 2001)`, 12.0, "4-9"},
		{`psi("snap-beans", "hot", "dial", "quart", 4001)`, 13.0, "4-9"},
		{`psi("snap-beans", "hot", "dial", "quart", 8000)`, 14.0, "4-9"},
		{`psi("snap-beans", "hot", "weighted", "pint", 1000)`, 10.0, "4-9"},
		{`psi("snap-beans", "hot", "weighted", "pint", 1001)`, 15.0, "4-9"},
		// Headspaces: Guide 3, pp. 3-8 and 3-9; Guide 2, pp. 2-6 and 2-19; Guide 4, p. 4-9.
		{`headspace("tomatoes-crushed", "hot", "boiling-water", "quart")`, 0.5, "3-8"},
		{`headspace("tomato-sauce", "hot", "boiling-water", "pint")`, 0.25, "3-9"},
		{`headspace("apple-butter", "hot", "boiling-water", "pint")`, 0.25, "2-6"},
		{`headspace("peaches", "raw", "boiling-water", "quart")`, 0.5, "2-19"},
		{`headspace("snap-beans", "raw", "pressure", "quart")`, 1.0, "4-9"},
		// Doses in teaspoons: 2 tbsp of bottled lemon juice, 1/2 tsp of citric acid or 4
		// tbsp of vinegar a quart, half of that a pint. Guide 3, pp. 3-5 to 3-7; the
		// guide prints the vinegar for quarts only.
		{`dose("tomato-juice", "quart", "bottled-lemon-juice")`, 6.0, "3-5"},
		{`dose("tomato-juice", "pint", "citric-acid")`, 0.25, "3-5"},
		{`dose("tomato-vegetable-juice", "quart", "vinegar-5")`, 12.0, "3-6"},
		{`dose("tomatoes-crushed", "quart", "bottled-lemon-juice")`, 6.0, "3-7"},
		{`dose("tomatoes-crushed", "pint", "bottled-lemon-juice")`, 3.0, "3-7"},
		{`dose("tomatoes-crushed", "quart", "citric-acid")`, 0.5, "3-7"},
		// The longest of four, in quarts above 6,000 ft: Guide 3, p. 3-8.
		{`longest("tomatoes-crushed", "boiling-water")`, 60.0, ""},
		{`longest("snap-beans", "pressure")`, 25.0, ""},
		// Bands: Guide 3, p. 3-8, and Guide 4, p. 4-9.
		{`bandFrom("tomatoes-crushed", "hot", "boiling-water", "", "quart", 2000)`, 1001.0, ""},
		{`bandTo("tomatoes-crushed", "hot", "boiling-water", "", "quart", 2000)`, 3000.0, ""},
		{`bandTo("tomatoes-crushed", "hot", "boiling-water", "", "quart", 6240)`, 0.0, ""},
		{`bandFrom("snap-beans", "raw", "pressure", "dial", "quart", 6240)`, 6001.0, ""},
		{`bandTo("snap-beans", "raw", "pressure", "dial", "quart", 6240)`, 8000.0, ""},
		{`page("tomatoes-crushed", "hot", "boiling-water", "", "quart", 6240)`, "3-8", ""},
		{`page("peaches", "hot", "pressure", "dial", "pint", 6240)`, "2-31", ""},
		{`guide("snap-beans")`, 4.0, ""},
		{`printed("tomatoes-crushed", "hot", "boiling-water", "", "quart", 6240)`, true, ""},
		{`printed("tomatoes-crushed", "hot", "boiling-water", "", "half-gallon", 6240)`, false, ""},
		{`printed("tomatoes-crushed", "raw", "boiling-water", "", "quart", 6240)`, false, ""},
		{`printed("snap-beans", "hot", "boiling-water", "", "pint", 0)`, false, ""},
		{`printed("snap-beans", "hot", "pressure", "dial", "pint", 8001)`, false, ""},
		// Several tested processes answer, and none is read in a publication.
		{`printed("tomatoes-crushed", "hot", "pressure", "dial", "quart", 6240)`, true, ""},
		{`printed("papaya", "hot", "boiling-water", "", "pint", 0)`, false, ""},
	} {
		l, noted := language(t)
		got, err := compute(t, l, test.source)
		if err != nil || got != test.want {
			t.Errorf("%s = %v, %v; want %v", test.source, got, err, test.want)
		}
		if seen := strings.Join(noted.seen, " "); seen != test.page {
			t.Errorf("%s notes page %q, want %q", test.source, seen, test.page)
		}
	}
}

// A key is never made of what is not printed once and for all.
func TestLookUpsThatAreRefused(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ source, want string }{
		// The last dial band ends at 8,000 ft: Guide 4, p. 4-9.
		{`psi("snap-beans", "hot", "dial", "pint", 8001)`, "snap-beans has no tested process at 8\u00a0001 ft"},
		{`minutesUnderPressure("snap-beans", "hot", "dial", "pint", 9000)`, "snap-beans has no tested process at 9\u00a0000 ft"},
		{`bandTo("snap-beans", "hot", "pressure", "dial", "pint", 9000)`, "snap-beans has no tested process at 9\u00a0000 ft"},
		{`page("snap-beans", "hot", "pressure", "dial", "pint", 9000)`, "snap-beans has no tested process at 9\u00a0000 ft"},
		// 20 min at 6 psi or 15 min at 11 psi, for the same jar: Guide 3, p. 3-8.
		{`minutesUnderPressure("tomatoes-crushed", "hot", "dial", "quart", 500)`, "the table prints alternatives for tomatoes-crushed, so there is no one time"},
		{`psi("tomatoes-crushed", "hot", "dial", "quart", 500)`, "the table prints alternatives for tomatoes-crushed, so there is no one pressure"},
		// These rows were read in no publication.
		{`minutes("papaya", "hot", "boiling-water", "pint", 500)`, "the row for papaya was read in no publication and cannot be a key"},
		{`minutes("choice-salsa", "hot", "boiling-water", "pint", 2000)`, "the row for choice-salsa was read in no publication and cannot be a key"},
		{`bandTo("papaya", "hot", "boiling-water", "", "pint", 500)`, "the row for papaya was read in no publication and cannot be a key"},
		{`headspace("papaya", "hot", "boiling-water", "pint")`, "the table prints no headspace for papaya, hot pack, boiling-water, pint"},
		{`longest("papaya", "boiling-water")`, `papaya has no tested process with method "boiling-water"`},
		// Nothing is printed.
		{`minutes("snap-beans", "hot", "boiling-water", "pint", 0)`, `snap-beans has no tested process with method "boiling-water"`},
		{`minutes("tomatoes-crushed", "hot", "boiling-water", "half-gallon", 0)`, `tomatoes-crushed has no tested process in jar "half-gallon"`},
		{`minutes("tomatoes-crushed", "raw", "boiling-water", "pint", 0)`, `tomatoes-crushed has no tested process for pack "raw"`},
		{`psi("peaches", "hot", "", "pint", 0)`, `peaches has no tested process with gauge ""`},
		{`headspace("tomatoes-crushed", "raw", "boiling-water", "pint")`, "the table prints no headspace for tomatoes-crushed, raw pack, boiling-water, pint"},
		{`dose("peaches", "pint", "citric-acid")`, `no dose of "citric-acid" is printed for peaches in jar "pint"`},
		{`dose("tomato-juice", "half-gallon", "citric-acid")`, `no dose of "citric-acid" is printed for tomato-juice in jar "half-gallon"`},
		{`longest("peaches", "oven")`, `peaches has no tested process with method "oven"`},
		// No words of the table.
		{`minutes("tomatoes-crushd", "hot", "boiling-water", "pint", 0)`, `unknown food "tomatoes-crushd"; did you mean "tomatoes-crushed"?`},
		{`headspace("peachs", "hot", "boiling-water", "pint")`, `unknown food "peachs"; did you mean "peaches"?`},
		{`dose("tomato-jiuce", "pint", "citric-acid")`, `unknown food "tomato-jiuce"; did you mean "tomato-juice"?`},
		{`longest("peachs", "boiling-water")`, `unknown food "peachs"; did you mean "peaches"?`},
		{`printed("peachs", "hot", "boiling-water", "", "pint", 0)`, `unknown food "peachs"; did you mean "peaches"?`},
		{`printed("peaches", "hto", "boiling-water", "", "pint", 0)`, `there is no pack "hto"; use one of: raw, hot, `},
		{`printed("peaches", "hot", "boiling", "", "pint", 0)`, `there is no method "boiling"; use one of: boiling-water, atmospheric-steam, pressure`},
		{`printed("peaches", "hot", "pressure", "dail", "pint", 0)`, `there is no gauge "dail"; use one of: dial, weighted, `},
		{`printed("peaches", "hot", "boiling-water", "", "pints", 0)`, `there is no jar "pints"; use one of: quarter-pint, half-pint, 12-oz, pint, 24-oz, 28-oz, quart, half-gallon`},
		{`guide("peachs")`, `unknown food "peachs"; did you mean "peaches"?`},
		{`name("peachs")`, `unknown food "peachs"; did you mean "peaches"?`},
		{`name("")`, `unknown food ""`},
		{`jarName("quarts")`, `unknown jar "quarts"; did you mean "quart"?`},
		{`jarName("bucket")`, `unknown jar "bucket"; use one of: quarter-pint, half-pint, 12-oz, pint, 24-oz, 28-oz, quart, half-gallon`},
		{`model("boiling-point", "boiling_k", "")`, `the demonstration boiling-point has no number "boiling_k"`},
		{`model("boiling-point", "boiling_f", "6240 ft")`, `"6240 ft" is not key=value`},
	} {
		l, noted := language(t)
		got, err := compute(t, l, test.source)
		if err == nil || err.Error() != test.source+": "+test.want {
			t.Errorf("%s = %v, %v; want %s", test.source, got, err, test.want)
		}
		if len(noted.seen) > 0 {
			t.Errorf("%s notes page %q", test.source, noted.seen)
		}
	}
}

// Both unit systems, with the factors of NIST Special Publication 811 (2008) and
// Handbook 44, Appendix C. Spaces that do not break are shown as ordinary ones.
func TestHowThingsAreSaid(t *testing.T) {
	t.Parallel()
	l, _ := language(t)
	for source, want := range map[string]string{
		`name("tomatoes-crushed")`:            "crushed tomatoes (no added liquid)",
		`jarName("half-gallon")`:              "half-gallon",
		`jarName("12-oz")`:                    "12 oz",
		`say("bottled-lemon-juice")`:          "bottled lemon juice",
		`inMin(60)`:                           "60 min",
		`inHours(24)`:                         "24 h",
		`inFt(6240)`:                          "6 240 ft (1 902 m)",
		`inPSI(11)`:                           "11 psi (76 kPa)",
		`inIn(1 / 2)`:                         "1/2 in (13 mm)",
		`inTsp(6)`:                            "2 tbsp (30 ml)",
		`inTsp(0.25)`:                         "1/4 tsp (1.2 ml)",
		`inF(212)`:                            "212 °F (100 °C)",
		`number(0.1 + 0.2)`:                   "0.3",
		`number(120000000)`:                   "120000000",
		`number(max(7, 1 / 2))`:               "7",
		`number(2 > 1 ? 7 : 1 / 2)`:           "7",
		`number(1 / 3)`:                       "0.333333",
		`"pint" + "s"`:                        "pints",
		`2 > 1 ? "longer" : say("no-longer")`: "longer",
		`inFt(max(1000, 3000) - round(999.6) / 2)`: "2 500 ft (762 m)",
	} {
		got, err := compute(t, l, source)
		text, _ := got.(string)
		if err != nil || strings.Join(strings.Fields(text), " ") != want {
			t.Errorf("%s = %q, %v; want %q", source, got, err, want)
		}
	}
}

// Water boils at 208 °F at 2,000 ft, 201 at 6,000 and 194 at 10,000: Guide 1, p. 1-10.
// 10.5 psi hold 240 °F at the sea: p. 1-19.
func TestModels(t *testing.T) {
	t.Parallel()
	l, _ := language(t)
	for source, want := range map[string]float64{
		`round(model("boiling-point", "boiling_f", "altitude=2000 ft"))`:      208,
		`round(model("boiling-point", "boiling_f", " altitude = 5000 ft;"))`:  203,
		`round(model("gauge", "temp_f", "altitude=0 ft; pressure=10.5 psi"))`: 240,
	} {
		got, err := compute(t, l, source)
		if n, ok := got.(float64); err != nil || !ok || math.Abs(n-want) > 1e-9 {
			t.Errorf("%s = %v, %v; want %v", source, got, err, want)
		}
	}
}

func TestPageNumbers(t *testing.T) {
	t.Parallel()
	for page, want := range map[string][]string{
		"Guide 3, p. 3-8":                    {"3", "3-8"},
		"Guide 3, pp. 3-5 to 3-7; article":   {"3", "3-5", "3-7"},
		"Guide 2, p. 2-19; Guide 4, p. 4-9.": {"2", "2-19", "4", "4-9"},
	} {
		if got := pageNumbers(page); !slices.Equal(got, want) {
			t.Errorf("%q names %q, want %q", page, got, want)
		}
	}
}
