package process

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func shipped(t testing.TB) *Table {
	t.Helper()
	table, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	return table
}

func TestShippedIsWhole(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	if table.Len() != 1798 || len(table.Foods()) != 156 {
		t.Errorf("%d rows and %d foods, want 1798 and 156", table.Len(), len(table.Foods()))
	}
}

// TestPublishedTimes holds the table to figures looked up apart from it. USDA =
// Complete Guide to Home Canning, AIB 539, 2015.
func TestPublishedTimes(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, tc := range []struct {
		source string
		q      Query
		want   string // minutes, with @psi under pressure; alternatives by comma
	}{
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "pint", 0}, "35"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "pint", 2000}, "40"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "pint", 6000}, "45"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "pint", 6001}, "50"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "quart", 1000}, "40"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "quart", 3000}, "45"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "quart", 3001}, "50"},
		{"USDA Guide 3, p. 3-8", Query{"tomato-sauce", "hot", "boiling-water", "", "quart", 9999}, "55"},
		{"USDA Guide 1, p. 1-23, example A", Query{"peaches", "hot", "boiling-water", "", "quart", 2500}, "30"},
		{"USDA Guide 1, p. 1-24, example B", Query{"peaches", "hot", "pressure", "dial", "quart", 2500}, "10@7"},
		{"USDA Guide 1, p. 1-24, example C", Query{"peaches", "hot", "pressure", "weighted", "quart", 2500}, "10@10"},
		{"USDA Guide 4, p. 4-9, dial bands", Query{"snap-beans", "hot", "pressure", "dial", "quart", 2000}, "25@11"},
		{"USDA Guide 4, p. 4-9, dial bands", Query{"snap-beans", "hot", "pressure", "dial", "quart", 2001}, "25@12"},
		{"USDA Guide 4, p. 4-9, dial bands", Query{"snap-beans", "hot", "pressure", "dial", "quart", 6000}, "25@13"},
		{"USDA Guide 4, p. 4-9, dial bands", Query{"snap-beans", "hot", "pressure", "dial", "quart", 8000}, "25@14"},
		{"USDA Guide 4, p. 4-9, weighted", Query{"snap-beans", "hot", "pressure", "weighted", "quart", 1000}, "25@10"},
		{"USDA Guide 4, p. 4-9, weighted", Query{"snap-beans", "hot", "pressure", "weighted", "quart", 1001}, "25@15"},
		{"USDA Guide 3, p. 3-6, alternatives", Query{"tomato-juice", "hot", "pressure", "dial", "quart", 500}, "20@6,15@11"},
		{"USDA Guide 3, p. 3-6, 15 lb line ends at 1,000 ft", Query{"tomato-juice", "hot", "pressure", "weighted", "quart", 500}, "20@5,15@10,10@15"},
		{"USDA Guide 3, p. 3-6, 15 lb line ends at 1,000 ft", Query{"tomato-juice", "hot", "pressure", "weighted", "quart", 1500}, "20@10,15@15"},
		{"USDA Guide 2, p. 2-7, half-gallon line", Query{"apple-juice", "hot", "boiling-water", "", "half-gallon", 500}, "10"},
		{"USDA Guide 2, p. 2-16, half-gallon line", Query{"grape-juice", "hot", "boiling-water", "", "half-gallon", 6001}, "20"},
	} {
		var got []string
		for _, r := range table.Lookup(tc.q).Rows {
			if r.PSI > 0 {
				got = append(got, fmt.Sprintf("%d@%d", r.Minutes, r.PSI))
			} else {
				got = append(got, fmt.Sprint(r.Minutes))
			}
		}
		if strings.Join(got, ",") != tc.want {
			t.Errorf("%s: %+v = %v, want %s", tc.source, tc.q, got, tc.want)
		}
	}
}

// TestJarSizes: a smaller jar takes the next larger listed jar's time, 24 and 28
// oz go by the quart, and nothing is larger than the largest listed (National
// Center for Home Food Preservation, jar sizes; Kansas State University
// Extension, 2019). Half-gallons only for apple and grape juice (USDA Guide 2).
func TestJarSizes(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for jar, want := range map[string]string{"quarter-pint": "pint", "half-pint": "pint", "12-oz": "pint", "pint": "pint", "24-oz": "quart", "28-oz": "quart", "quart": "quart", "half-gallon": ""} {
		got := table.Lookup(Query{"tomatoes-crushed", "hot", "boiling-water", "", jar, 500})
		if got.Jar != want || got.SmallerJar != (want != "" && want != jar) || (got.Gap == GapJar) != (want == "") {
			t.Errorf("%s: row of %q, smaller %t, gap %d; want row of %q", jar, got.Jar, got.SmallerJar, got.Gap, want)
		}
	}
	for _, c := range table.Foods() {
		for _, r := range table.Rows(c.Food) {
			if r.Jar == "half-gallon" && c.Food != "apple-juice" && c.Food != "grape-juice" {
				t.Errorf("%s has a half-gallon row", c.Food)
			}
		}
	}
}

func TestGaps(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, tc := range []struct {
		q    Query
		want Gap
	}{
		{Query{"nothing", "hot", "boiling-water", "", "pint", 0}, GapFood},
		{Query{"pineapple", "hot", "pressure", "dial", "pint", 0}, GapMethod},
		{Query{"snap-beans", "hot", "boiling-water", "", "pint", 0}, GapMethod},
		{Query{"peaches", "hot", "oven", "", "pint", 0}, GapMethod},
		{Query{"snap-beans", "hot", "pressure", "", "pint", 0}, GapGauge},
		{Query{"pears", "raw", "boiling-water", "", "pint", 0}, GapPack},
		{Query{"pears", "", "boiling-water", "", "pint", 0}, GapPack},
		{Query{"peaches", "hot", "boiling-water", "", "half-gallon", 0}, GapJar},
		{Query{"peaches", "hot", "boiling-water", "", "bucket", 0}, GapJar},
		{Query{"snap-beans", "hot", "pressure", "dial", "pint", 8000.5}, GapAltitude},
		{Query{"peaches", "hot", "boiling-water", "", "pint", 29000}, GapNone},
		{Query{"peaches", "hot", "atmospheric-steam", "", "pint", -200}, GapNone},
		{Query{"peaches", "hot", "boiling-water", "", "pint", -1500}, GapNone},
		{Query{"peaches", "hot", "boiling-water", "", "pint", -1501}, GapAltitude},
		{Query{"peaches", "hot", "boiling-water", "", "pint", 30001}, GapAltitude},
		{Query{"peaches", "hot", "boiling-water", "", "pint", math.NaN()}, GapAltitude},
		{Query{"peaches", "hot", "boiling-water", "", "pint", math.Inf(1)}, GapAltitude},
		{Query{"peaches", "hot", "oven", "", "pint", math.NaN()}, GapMethod},
		{Query{"oysters", "", "pressure", "dial", "pint", 0}, GapNone},
		{Query{"oysters", "raw", "pressure", "dial", "pint", 0}, GapNone}, // its pack is as-directed
	} {
		if got := table.Lookup(tc.q); got.Gap != tc.want || (len(got.Rows) > 0) != (tc.want == GapNone) {
			t.Errorf("%+v: gap %d with %d rows, want gap %d", tc.q, got.Gap, len(got.Rows), tc.want)
		}
	}
}

// TestBandEdges: USDA Guide 1-3 print 0-1,000, 1,001-3,000, 3,001-6,000 and above
// 6,000 ft. What lies between two printed edges belongs to the higher band.
func TestBandEdges(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for altitude, want := range map[float64]int{0: 35, 1000: 35, 1000.01: 40, 1001: 40, 3000: 40, 3000.5: 45, 6000: 45, 6000.01: 50, 6001: 50} {
		rows := table.Lookup(Query{"tomatoes-crushed", "hot", "boiling-water", "", "pint", altitude}).Rows
		if len(rows) != 1 || rows[0].Minutes != want {
			t.Errorf("%v ft: %+v, want %d min", altitude, rows, want)
		}
	}
}

// TestDoses: 2 tbsp bottled lemon juice, 1/2 tsp citric acid or 4 tbsp 5 %
// vinegar to a quart, half of each to a pint (USDA Guide 3; NCHFP, acidifying;
// MU Extension GH1456). Asian pears: lemon juice only (USDA Guide 2, p. 2-20).
// Crab: USDA Guide 5, p. 5-9.
func TestDoses(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, tc := range []struct {
		food, jar string
		want      map[string]float64 // teaspoons
	}{
		{"tomatoes-crushed", "quart", map[string]float64{"bottled-lemon-juice": 6, "citric-acid": 0.5, "vinegar-5": 12}},
		{"tomato-juice", "pint", map[string]float64{"bottled-lemon-juice": 3, "citric-acid": 0.25, "vinegar-5": 6}},
		{"tomatillos", "24-oz", map[string]float64{"bottled-lemon-juice": 6, "citric-acid": 0.5, "vinegar-5": 12}},
		{"tomatoes-crushed", "half-pint", map[string]float64{"bottled-lemon-juice": 3, "citric-acid": 0.25, "vinegar-5": 6}},
		{"figs", "quart", map[string]float64{"bottled-lemon-juice": 6, "citric-acid": 0.5}},
		{"pears-asian", "pint", map[string]float64{"bottled-lemon-juice": 3}},
		{"crab-king-and-dungeness", "half-pint", map[string]float64{"bottled-lemon-juice": 6, "citric-acid": 0.5}},
		{"tomatoes-crushed", "half-gallon", nil},
		{"peaches", "quart", nil},
	} {
		card, ok := table.Card(tc.food)
		if !ok {
			t.Fatalf("no card for %s", tc.food)
		}
		doses := card.Dose(tc.jar)
		if len(doses) != len(tc.want) {
			t.Errorf("%s in a %s: %+v, want %v", tc.food, tc.jar, doses, tc.want)
		}
		for _, d := range doses {
			if d.Tsp != tc.want[d.Kind] {
				t.Errorf("%s in a %s: %v tsp %s, want %v", tc.food, tc.jar, d.Tsp, d.Kind, tc.want[d.Kind])
			}
		}
	}
}

// TestPiecesAreNotPureed: vegetables, red meat and poultry are canned as pieces,
// never puréed (USDA Guide 1, p. 1-31). These are the foods whose directions name
// nothing but whole food or pieces.
func TestPiecesAreNotPureed(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, food := range []string{
		"asparagus", "beans-or-peas-shelled-dried", "beans-baked", "beans-dry-with-tomato-or-molasses-sauce",
		"lima-beans-fresh-shelled", "lima-beans-fresh-shelled-small-seeds", "lima-beans-fresh-shelled-large-seeds",
		"snap-beans", "beets-whole-cubed-or-sliced", "carrots", "corn-whole-kernel", "mixed-vegetables",
		"mushrooms-whole-or-sliced", "okra", "peas-green-or-english-shelled", "peppers-hot-or-sweet", "sweet-potatoes",
		"potatoes-white", "pumpkin-winter-squash-cubed", "spinach-and-other-greens", "succotash",
		"chicken-or-rabbit-without-bones", "chicken-or-rabbit-with-bones", "meat-strips-cubes-or-chunks",
	} {
		card, ok := table.Card(food)
		if !ok || len(card.Prepared) == 0 {
			t.Errorf("%s: the card does not limit how it is prepared", food)
		}
		for _, word := range []string{"mashed", "milled", "blended-unpeeled"} {
			if slices.Contains(card.Prepared, word) {
				t.Errorf("%s: the card allows %s", food, word)
			}
		}
	}
}

// TestEveryRowIsFound looks up each row at both ends of its band.
func TestEveryRowIsFound(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, c := range table.Foods() {
		for _, r := range table.Rows(c.Food) {
			top := r.ToFt
			if top == 0 {
				top = 12000
			}
			for _, ft := range []int{r.FromFt, top} {
				got := table.Lookup(Query{r.Food, r.Pack, r.Method, r.Gauge, r.Jar, float64(ft)})
				if !slices.Contains(got.Rows, r) {
					t.Errorf("%+v not found at %d ft: %+v", r, ft, got)
				}
			}
		}
	}
}

// TestLookupAnswersFromTheList compares the index with a plain search of the
// rows, for queries of every kind.
func TestLookupAnswersFromTheList(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	foods := table.Foods()
	rapid.Check(t, func(t *rapid.T) {
		q := Query{
			Food:       rapid.SampledFrom(foods).Draw(t, "food").Food,
			Pack:       rapid.SampledFrom([]string{"hot", "raw"}).Draw(t, "pack"),
			Method:     rapid.SampledFrom([]string{"boiling-water", "pressure"}).Draw(t, "method"),
			Jar:        rapid.SampledFrom(jars).Draw(t, "jar").ID,
			AltitudeFt: rapid.Float64Range(-500, 12000).Draw(t, "altitude"),
		}
		if q.Method == "pressure" {
			q.Gauge = rapid.SampledFrom([]string{"dial", "weighted"}).Draw(t, "gauge")
		}
		var want []Row
		for _, jar := range jars[jarRank(q.Jar):] {
			listed := false
			for _, r := range table.Rows(q.Food) {
				if (r.Pack == q.Pack || r.Pack == "as-directed") && r.Method == q.Method && r.Gauge == q.Gauge && r.Jar == jar.ID {
					listed = true
					if r.Covers(q.AltitudeFt) {
						want = append(want, r)
					}
				}
			}
			if listed {
				break
			}
		}
		got := slices.Clone(table.Lookup(q).Rows)
		byMinutes := func(a, b Row) int { return a.Minutes - b.Minutes }
		slices.SortFunc(got, byMinutes)
		slices.SortFunc(want, byMinutes)
		if !slices.Equal(got, want) {
			t.Fatalf("%+v: %+v, want %+v", q, got, want)
		}
	})
}

func TestLinesHoldEveryRow(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, c := range table.Foods() {
		n := 0
		for _, l := range table.Lines(c.Food) {
			n += len(l.Bands)
			if l.Bands[0].FromFt != 0 {
				t.Errorf("%s: a line starts at %d ft", c.Food, l.Bands[0].FromFt)
			}
		}
		if n != len(table.Rows(c.Food)) {
			t.Errorf("%s: %d rows in lines, want %d", c.Food, n, len(table.Rows(c.Food)))
		}
	}
}

func BenchmarkLookup(b *testing.B) {
	table := shipped(b)
	q := Query{"tomato-juice", "hot", "pressure", "weighted", "quart", 6240}
	b.ReportAllocs()
	for b.Loop() {
		if len(table.Lookup(q).Rows) == 0 {
			b.Fatal("no rows")
		}
	}
}

func BenchmarkLoad(b *testing.B) {
	for b.Loop() {
		if _, err := Load(strings.NewReader(string(timesCSV)), strings.NewReader(string(foodsCSV)), strings.NewReader(string(acidCSV)), strings.NewReader(string(untestedCSV))); err != nil {
			b.Fatal(err)
		}
	}
}
