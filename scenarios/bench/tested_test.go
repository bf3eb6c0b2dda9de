package bench

import (
	"fmt"
	"math"
	"regexp"
	"strings"
	"testing"

	"rollingboil/scenarios/process"
)

// first is the number that a text begins with.
func first(s string) float64 {
	var v float64
	if _, err := fmt.Sscan(plain(s), &v); err != nil {
		return math.NaN()
	}
	return v
}

// tested are the published values that a figure marks.
func tested(r Result) []Mark {
	var marks []Mark
	if r.Figure != nil {
		for _, m := range r.Figure.Marks {
			if m.Tested {
				marks = append(marks, m)
			}
		}
	}
	return marks
}

// TestPublishedDialReadings: USDA Complete Guide to Home Canning, AIB 539, 2015, Guide
// 4, p. 4-9, snap beans: 11 psi to 2 000 ft, 12 to 4 000, 13 to 6 000, 14 to 8 000. The
// stair is that of the rows of the process table, whatever else is asked.
func TestPublishedDialReadings(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	printed := []struct{ fromFt, toFt, psi float64 }{{0, 2000, 11}, {2001, 4000, 12}, {4001, 6000, 13}, {6001, 8000, 14}}
	for _, given := range [][]string{nil, {"altitude=0 ft", "pressure=5 psi"}, {"altitude=7000 ft", "temp=121 C"}} {
		r := result(t, b, "gauge", given...)
		var stair []Point
		for _, l := range r.Figure.Lines {
			if l.Style == Tested {
				stair = append(stair, l.Points...)
			}
		}
		if len(stair) != 2*len(printed) || len(r.Table.Rows) != len(printed) {
			t.Fatalf("%q: a stair of %d points and %d rows for %d printed bands", given, len(stair), len(r.Table.Rows), len(printed))
		}
		for i, p := range printed {
			if stair[2*i] != (Point{p.fromFt, p.psi}) || stair[2*i+1] != (Point{p.toFt, p.psi}) {
				t.Errorf("%q: a step from %v to %v, printed is %+v", given, stair[2*i], stair[2*i+1], p)
			}
			if row := r.Table.Rows[i]; !row.Tested || first(row.Cells[1]) != p.psi {
				t.Errorf("%q: the row %+v, printed is %+v", given, row, p)
			}
		}
		for _, row := range table.Rows(dialFood) {
			if row.Method != "pressure" || row.Gauge != "dial" {
				continue
			}
			found := false
			for i := 0; i < len(stair); i += 2 {
				found = found || stair[i] == Point{float64(row.FromFt), float64(row.PSI)} && stair[i+1].X == float64(row.ToFt)
			}
			if !found {
				t.Errorf("%q: the stair has no step for %+v", given, row)
			}
		}
		if marks := tested(r); len(marks) != 0 {
			t.Errorf("%q: %+v count as published", given, marks)
		}
	}
	// The band of the altitude that is asked for stands out, alone.
	for altitude, want := range map[string]int{"0 ft": 0, "2000 ft": 0, "2000.5 ft": 1, "2001 ft": 1, "6000 ft": 2, "7500 ft": 3, "-200 ft": 0, "9000 ft": -1} {
		for i, row := range result(t, b, "gauge", "altitude="+altitude).Table.Rows {
			if row.Here != (i == want) {
				t.Errorf("%s: the row %q stands out: %v", altitude, row.Cells, row.Here)
			}
		}
	}
}

// TestTestedTimes: USDA Complete Guide to Home Canning, AIB 539, 2015, Guide 3, p. 3-8,
// crushed tomatoes, and p. 3-6, tomato juice, hot pack in boiling water. The marks are
// what the process table is looked up for, with its page beside them.
func TestTestedTimes(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct {
		altitude    string
		ft          float64
		food, id    string
		pint, quart int
		page        string
	}{
		{"0 ft", 0, "thick", "tomatoes-crushed", 35, 45, "p. 3-8"},
		{"1000 ft", 1000, "thick", "tomatoes-crushed", 35, 45, "p. 3-8"},
		{"1000.5 ft", 1000.5, "thick", "tomatoes-crushed", 40, 50, "p. 3-8"},
		{"3000 ft", 3000, "thick", "tomatoes-crushed", 40, 50, "p. 3-8"},
		{"1 200 m", 1200 / 0.3048, "thick", "tomatoes-crushed", 45, 55, "p. 3-8"},
		{"6240 ft", 6240, "thick", "tomatoes-crushed", 50, 60, "p. 3-8"},
		{"-200 ft", -200, "thin", "tomato-juice", 35, 40, "p. 3-6"},
		{"2000 ft", 2000, "thin", "tomato-juice", 40, 45, "p. 3-6"},
		{"6000 ft", 6000, "thin", "tomato-juice", 45, 50, "p. 3-6"},
		{"10 000 ft", 10_000, "thin", "tomato-juice", 50, 55, "p. 3-6"},
	} {
		r := result(t, b, "jars", "altitude="+tc.altitude, "food="+tc.food)
		marks := tested(r)
		if len(marks) != 2 {
			t.Fatalf("%s, %s: %d published marks, want one for a pint and one for a quart", tc.altitude, tc.food, len(marks))
		}
		var rows []Row
		for _, row := range r.Table.Rows {
			if row.Tested {
				rows = append(rows, row)
			}
		}
		for i, jar := range []string{"pint", "quart"} {
			minutes := []int{tc.pint, tc.quart}[i]
			if m := marks[i]; m.Kind != AtX || m.X != float64(minutes) || !strings.Contains(m.Text, jar) {
				t.Errorf("%s, %s: the mark %+v, printed are %d min for a %s", tc.altitude, tc.food, m, minutes, jar)
			}
			found := table.Lookup(process.Query{Food: tc.id, Pack: "hot", Method: "boiling-water", Jar: jar, AltitudeFt: tc.ft})
			if len(found.Rows) != 1 || float64(found.Rows[0].Minutes) != marks[i].X {
				t.Errorf("%s, %s: the mark %+v, looked up is %+v", tc.altitude, tc.food, marks[i], found.Rows)
			}
			if i >= len(rows) || rows[i].Cells[0] != jar {
				t.Fatalf("%s, %s: the published rows %+v", tc.altitude, tc.food, rows)
			}
			if cell := plain(rows[i].Cells[3]); !strings.HasPrefix(cell, fmt.Sprintf("%d min, ", minutes)) || !strings.Contains(cell, "Guide 3") || !strings.HasSuffix(cell, tc.page) {
				t.Errorf("%s, %s: %q; want %d min and %s of Guide 3", tc.altitude, tc.food, cell, minutes, tc.page)
			}
		}
		if len(rows) != 2 {
			t.Errorf("%s, %s: %d published rows", tc.altitude, tc.food, len(rows))
		}
	}
}

// TestPublishedDoses: USDA Complete Guide to Home Canning, AIB 539, 2015, Guide 3, p.
// 3-7: 2 tablespoons of bottled lemon juice, 1/2 teaspoon of citric acid or 4
// tablespoons of 5 percent vinegar to a quart, half of it to a pint (vinegar in a pint:
// So Easy to Preserve, as cited by North Carolina State University Extension). Half a
// teaspoon of citric acid is 2.3 g (from memory).
func TestPublishedDoses(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	card, ok := table.Card(acidFood)
	if !ok {
		t.Fatalf("no card of %s", acidFood)
	}
	const mlPerTsp, gramsPerTsp = 4.92892159375, 4.6
	for _, tc := range []struct {
		add, amount, volume string
		jar                 string // "" where no dose is printed for the volume
		tsp                 float64
	}{
		{"lemon", "2 tbsp", "1 quart", "quart", 6},
		{"lemon", "20 ml", "900 ml", "quart", 6},
		{"lemon", "1 tbsp", "1 pint", "pint", 3},
		{"citric", "1 g", "1 quart", "quart", 0.5},
		{"citric", "1/8 tsp", "2 cups", "pint", 0.25},
		{"vinegar", "1 tbsp", "1 quart", "quart", 12},
		{"vinegar", "1 tbsp", "1 pint", "pint", 6},
		{"lemon", "1 tbsp", "3 cups", "", 0},
		{"lemon", "2 tbsp", "2 quarts", "", 0},
		{"lemon", "30 g", "1 quart", "", 0}, // a dose is printed in spoons
		{"vinegar", "30 g", "1 quart", "", 0},
	} {
		r := result(t, b, "acid", "add="+tc.add, "amount="+tc.amount, "volume="+tc.volume)
		marks := tested(r)
		rows := 0
		for _, row := range r.Table.Rows {
			if row.Tested {
				rows++
			}
		}
		if tc.jar == "" {
			if len(marks) != 0 || rows != 0 {
				t.Errorf("%+v: %+v and %d rows count as published", tc, marks, rows)
			}
			continue
		}
		want := tc.tsp * mlPerTsp
		if tc.add == "citric" {
			want = tc.tsp * gramsPerTsp
		}
		if len(marks) != 1 || marks[0].Kind != AtX || !near(marks[0].X, want) || !strings.Contains(marks[0].Text, tc.jar) || rows != 1 {
			t.Errorf("%+v: the marks %+v and %d rows; printed is %v", tc, marks, rows, want)
		}
		for _, d := range card.Dose(tc.jar) {
			if d.Kind == printedAcid[tc.add] && d.Tsp != tc.tsp {
				t.Errorf("%+v: the table has %v tsp", tc, d.Tsp)
			}
		}
	}
}

func near(a, b float64) bool { return a-b < 1e-9 && b-a < 1e-9 }

// TestPrintedBoilingPoints: the whole degrees of the USDA's high-altitude food
// preparation sheet (2 000 ft) and of extension sheets stand beside the curve, and in
// the rows of their altitudes only.
func TestPrintedBoilingPoints(t *testing.T) {
	t.Parallel()
	r := result(t, shipped(t), "boiling-point")
	printed := map[float64]float64{2000: 208, 5000: 203, 7500: 198, 10_000: 194}
	marks := tested(r)
	if len(marks) != len(printed) {
		t.Errorf("%d published marks, printed are %d", len(marks), len(printed))
	}
	for _, m := range marks {
		if m.Kind != AtPoint || printed[m.X] != m.Y {
			t.Errorf("the mark %+v, printed are %v °F", m, printed[m.X])
		}
	}
	for _, row := range r.Table.Rows {
		f := ""
		for ft, degrees := range printed {
			if row.Cells[0] == sayFt(ft) {
				f = fmt.Sprintf("%v °F", degrees)
			}
		}
		if row.Tested != (f != "") || !strings.HasPrefix(plain(row.Cells[2]), f) || f == "" && row.Cells[2] != "" {
			t.Errorf("the row %+v, printed is %q", row, f)
		}
	}
}

// TestNothingElseCountsAsPublished: a model's value is never marked as tested.
func TestNothingElseCountsAsPublished(t *testing.T) {
	t.Parallel()
	published := map[string]bool{"boiling-point": true, "gauge": true, "jars": true, "acid": true}
	eachTried(t, func(t *testing.T, d *Demo, r Result) {
		if published[d.Name] {
			return
		}
		if marks := tested(r); len(marks) != 0 {
			t.Errorf("%+v", marks)
		}
		if r.Figure != nil {
			for _, l := range r.Figure.Lines {
				if l.Style == Tested {
					t.Errorf("the line %q", l.Name)
				}
			}
		}
		for _, row := range r.Table.Rows {
			if row.Tested {
				t.Errorf("the row %q", row.Cells)
			}
		}
	})
}

// TestAnotherTableIsFollowed: the marks are those of the table that a bench is given,
// not of one it knows.
func TestAnotherTableIsFollowed(t *testing.T) {
	t.Parallel()
	table, err := process.Load(
		strings.NewReader(`food,name,guide,pack,method,gauge,jar,from_ft,to_ft,minutes,psi,headspace_in,confidence,page,source
tomatoes-crushed,crushed tomatoes,3,hot,boiling-water,,quart,0,,77,,0.5,guide-2015,9-9,"A table for this test, p. 9-9"
tomato-juice,tomato juice,3,hot,boiling-water,,pint,0,,33,,0.5,from-memory,,"A table for this test"
tomato-juice,tomato juice,3,hot,boiling-water,,quart,0,,44,,0.5,guide-2015,9-9,"A table for this test, p. 9-9"
snap-beans,snap beans,4,hot,pressure,dial,pint,0,5000,20,13,1,guide-2015,9-9,"A table for this test, p. 9-9"
`),
		strings.NewReader(`food,acidity,acid_in,recipe_acid,prepared,sterilise,confidence,page,directions,load_7qt,load_9pt,bushel_lb,bushel_yield,lb_per_qt,produce_out,note
tomatoes-crushed,borderline,jar,,,,guide-2015,9-9,crushed,,,,,,,Made up for this test.
tomato-juice,borderline,jar,,,,guide-2015,9-9,juiced,,,,,,,Made up for this test.
snap-beans,low-acid,,,,,guide-2015,9-9,in pieces,,,,,,,Made up for this test.
`),
		strings.NewReader(`food,jar,kind,amount,source
tomatoes-crushed,quart,bottled-lemon-juice,3 tbsp,A table for this test
tomato-juice,quart,bottled-lemon-juice,3 tbsp,A table for this test
`),
		strings.NewReader("id,name,like,why,source,confidence\n"),
	)
	if err != nil {
		t.Fatal(err)
	}
	b := New(table)
	// A pint takes the row of the quart, as a jar smaller than listed does (AIB 539,
	// Guide 1, pp. 1-22 to 1-24).
	if marks := tested(result(t, b, "jars", "altitude=0 ft")); len(marks) != 2 || marks[0].X != 77 || marks[1].X != 77 {
		t.Errorf("the marks %+v, the table has 77 min for a quart", marks)
	}
	// A row from memory supports nothing, and is not marked.
	if marks := tested(result(t, b, "jars", "altitude=0 ft", "food=thin")); len(marks) != 1 || marks[0].X != 44 {
		t.Errorf("the marks %+v, the table has 44 min for a quart of juice, and a row from memory", marks)
	}
	for _, l := range result(t, b, "gauge").Figure.Lines {
		if l.Style == Tested && (len(l.Points) != 2 || l.Points[0] != Point{0, 13} || l.Points[1] != Point{5000, 13}) {
			t.Errorf("the stair %v, the table has 13 psi to 5 000 ft", l.Points)
		}
	}
	if marks := tested(result(t, b, "acid")); len(marks) != 1 || !near(marks[0].X, 9*4.92892159375) {
		t.Errorf("the marks %+v, the table has 3 tbsp of lemon juice", marks)
	}
}

// minutesIn finds a number of minutes or hours.
var minutesIn = regexp.MustCompile(`(?i)[0-9]\s*\x{00a0}?\s*(?:min|minutes?|h|hours?)\b`)

// TestNothingIsAdvised: what a demonstration says never calls anything safe, long
// enough or done, and never puts a time beside processing.
func TestNothingIsAdvised(t *testing.T) {
	t.Parallel()
	eachTried(t, func(t *testing.T, _ *Demo, r Result) {
		texts := r.Says
		if r.Figure != nil {
			texts = append(texts, r.Figure.Title, r.Figure.Says)
		}
		for _, s := range texts {
			lower := strings.ToLower(s)
			for _, word := range []string{"safe", "enough", "sterile", "you can ", "you may ", "process for", "boil for", "cook for", "shorten", "is done", "recommend"} {
				if strings.Contains(lower, word) {
					t.Errorf("%q in %q", word, s)
				}
			}
			if strings.Contains(lower, "process") && minutesIn.MatchString(s) {
				t.Errorf("a time stands beside processing: %q", s)
			}
		}
	})
	for _, s := range []string{"Process for 40 min.", "takes 3 h 08 min", "40.5\u00a0min", "12 to 24 hours"} {
		if !minutesIn.MatchString(s) {
			t.Errorf("no time was found in %q", s)
		}
	}
}

// TestExplains: the reminder is the same wherever a result goes.
func TestExplains(t *testing.T) {
	t.Parallel()
	if Explains != "This explains. It never sets a process time." {
		t.Errorf("the reminder is %q", Explains)
	}
	acid := strings.Join(result(t, shipped(t), "acid").Says, " ")
	if !strings.Contains(acid, "This is no dose") {
		t.Errorf("acid says %q, and nothing of the printed dose", acid)
	}
}
