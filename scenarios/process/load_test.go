package process

import (
	"errors"
	"io"
	"strings"
	"testing"
	"testing/iotest"
)

const (
	goodTimes = `food,name,guide,pack,method,gauge,jar,from_ft,to_ft,minutes,psi,headspace_in,confidence,page,source
plums,plums,2,hot,boiling-water,,pint,0,1000,20,,0.5,guide-2015,2-22,book
plums,plums,2,hot,boiling-water,,pint,1001,,25,,0.5,guide-2015,2-22,book
plums,plums,2,hot,pressure,dial,pint,0,2000,10,6,0.5,guide-2015,2-32,book
plums,plums,2,hot,pressure,dial,pint,2001,4000,10,7,0.5,guide-2015,2-32,book
`
	goodFoods = "food,acidity,acid_in,recipe_acid,prepared,sterilise,confidence,page,directions,load_7qt,load_9pt,bushel_lb,bushel_yield,lb_per_qt,produce_out,note\nplums,borderline,jar,,whole|peeled,,guide-2015,2-21,pricked,14,9,56,22-36,2,overripe|diseased,Prick the skins.\n"
	goodAcid  = "food,jar,kind,amount,source\nplums,pint,citric-acid,1/4 tsp,book\n"
	goodOther = "id,name,like,why,source,confidence\nprunes,prunes,plums,Nobody tested them.,usda-guide-2,guide-2015\n"
)

func load(times, foods, acid, untested string) error {
	_, err := Load(strings.NewReader(times), strings.NewReader(foods), strings.NewReader(acid), strings.NewReader(untested))
	return err
}

func TestLoadProblems(t *testing.T) {
	t.Parallel()
	if err := load(goodTimes, goodFoods, goodAcid, goodOther); err != nil {
		t.Fatal(err)
	}
	for _, tc := range []struct{ name, old, new, want string }{
		{"overlap", "1001,,25", "900,,25", "times.csv:3: plums in pint jars: the band from 900 ft overlaps the one from 0 ft (line 2)"},
		{"hole", "1001,,25", "1200,,25", "times.csv:3: plums in pint jars: no row from 1001 to 1199 ft"},
		{"not from zero", "pint,0,1000,20", "pint,500,1000,20", "times.csv:2: plums in pint jars: the lowest band starts at 500 ft"},
		{"after an open band", "pint,0,1000,20", "pint,0,,20", "overlaps"},
		{"minutes fall", "1001,,25", "1001,,15", "times.csv:3: plums in pint jars: 15 min is less than the 20 min of the lower band"},
		{"psi falls", "4000,10,7", "4000,10,5", "5 psi is less than the 6 psi"},
		{"pack", "hot,boiling-water,,pint,0", "warm,boiling-water,,pint,0", `times.csv:2: pack: "warm" is not one of hot raw as-directed`},
		{"jar", "boiling-water,,pint,0", "boiling-water,,pot,0", `times.csv:2: jar: "pot" is no jar`},
		{"minutes", "0,1000,20", "0,1000,twenty", `times.csv:2: minutes: "twenty" is not a whole number from 1 to 300`},
		{"signed", "0,1000,20", "0,1000,+20", `minutes: "+20"`},
		{"gauge in water", "boiling-water,,pint,0", "boiling-water,dial,pint,0", "psi and gauge belong to pressure only"},
		{"gauge missing", "pressure,dial,pint,0", "pressure,,pint,0", `gauge: ""`},
		{"psi too high", "10,6,0.5", "10,16,0.5", "psi"},
		{"headspace", "20,,0.5", "20,,NaN", `headspace_in: "NaN"`},
		{"confidence", "0.5,guide-2015,2-22", "0.5,sure,2-22", `confidence: "sure"`},
		{"header", "food,name,guide", "food,guide,name", "times.csv:1: the first line must be"},
		{"short line", ",2-22,book\n", "\n", "times.csv:2: not readable as CSV"},
		{"bare quote", "plums,plums,2,hot,boiling-water,,pint,0", `pl"ums,plums,2,hot,boiling-water,,pint,0`, "times.csv:2: not readable as CSV"},
		{"as-directed beside a pack", "hot,pressure,dial,pint,0,2000,10,6,0.5,guide-2015,2-32,book\nplums,plums,2,hot,", "as-directed,pressure,dial,pint,0,2000,10,6,0.5,guide-2015,2-32,book\nplums,plums,2,as-directed,", "as-directed rows, which answer for any pack"},
		{"row twice", "plums,plums,2,hot,boiling-water,,pint,1001", "plums,plums,2,hot,boiling-water,,pint,0,1000,20,,0.5,guide-2015,2-22,book\nplums,plums,2,hot,boiling-water,,pint,1001", "times.csv:3: plums in pint jars: the band from 0 ft overlaps"},
		{"dose twice", "1/4 tsp,book\n", "1/4 tsp,book\nplums,pint,citric-acid,1/2 tsp,book\n", "acid.csv:3: plums in pint jars: a dose of citric-acid is listed already"},
		{"dose falls", "1/4 tsp,book\n", "1/4 tsp,book\nplums,quart,citric-acid,1/8 tsp,book\n", "acid.csv:3: plums: the smaller of quart and pint jars has the larger dose"},
		{"no amount", "1/4 tsp", "0 tsp", `acid.csv:2: amount: "0 tsp" is no dose`},
		{"low-acid in water", "plums,borderline,jar", "plums,low-acid,jar", "plums is low-acid but has a boiling-water row"},
		{"acidity", "borderline", "sour", `foods.csv:2: acidity: "sour"`},
		{"recipe acid beside a dose", ",jar,,whole", ",jar,vinegar-5,whole", "foods.csv:2: recipe_acid: the acid of plums is not part of a recipe"},
		{"recipe acid unsaid", ",jar,,whole", ",recipe,,whole", "foods.csv:2: recipe_acid: the recipe of plums is printed in the guide"},
		{"recipe acid", ",jar,,whole", ",recipe,vinegar,whole", `foods.csv:2: recipe_acid: "vinegar" is not one of`},
		{"prepared", "whole|peeled", "whole|sliced", `prepared: "sliced"`},
		{"card without rows", "plums,borderline", "prunes,borderline", "foods.csv:2: prunes has a card but no row"},
		{"no dose", "plums,pint,citric-acid,1/4 tsp,book\n", "", "plums needs acid in each jar, but no dose is listed"},
		{"dose", "1/4 tsp", "some", "acid.csv:2: amount"},
		{"dose kind", "citric-acid,1", "lime,1", `kind: "lime"`},
		{"no directions", "pricked,14", ",14", "foods.csv:2: directions: plums is printed in the guide"},
		{"directions of sentences", "pricked,14", "Prick them.,14", "directions: "},
		{"no note", "Prick the skins.", "", "note: "},
		{"load", ",14,9", ",some,9", `load_7qt: "some" is no amount`},
		{"falling range", ",14,9", ",14-12,9", "its range does not rise"},
		{"no weight", ",14,9", ",0,9", "over 0"},
		{"heavy load", ",14,9", ",140,9", "up to 100"},
		{"yield alone", ",56,22-36", ",,22-36", "bushel_lb and bushel_yield belong together"},
		{"produce word", "overripe|diseased", "overripe|soft", `produce_out: "soft" is not one of`},
		{"produce twice", "overripe|diseased", "diseased|diseased", "twice or out of order"},
		{"produce order", "overripe|diseased", "diseased|overripe", "twice or out of order"},
		{"untested with rows", "prunes,prunes", "plums,plums", "untested.csv:2: plums has rows"},
		{"untested twice", "usda-guide-2,guide-2015\n", "usda-guide-2,guide-2015\nprunes,prunes,,No.,usda-guide-2,guide-2015\n", "prunes is listed already"},
		{"untested like nothing", "prunes,plums", "prunes,damsons", `like: "damsons" is no food of the table`},
		{"untested without why", "Nobody tested them.", "", "why: "},
		{"untested without source", "usda-guide-2,", ",", "source: prunes needs the id of a source"},
		{"untested from memory", "usda-guide-2,guide-2015", "usda-guide-2,from-memory", `confidence: "from-memory"`},
		{"untested without a name", "prunes,prunes", "prunes,", "needs an id in small letters and a name"},
		{"dose unasked", ",jar,,whole", ",,,whole", "acid.csv:2: plums in pint jars: no food whose card asks for acid"},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			swap := func(s string) string { return strings.Replace(s, tc.old, tc.new, 1) }
			err := load(swap(goodTimes), swap(goodFoods), swap(goodAcid), swap(goodOther))
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error = %v, want it to contain %q", err, tc.want)
			}
		})
	}
}

// TestATableWithProblemsIsNoTable: nobody may go on with half a table.
func TestATableWithProblemsIsNoTable(t *testing.T) {
	t.Parallel()
	broken := iotest.ErrReader(errors.New("the disk is gone"))
	table, err := Load(broken, strings.NewReader(goodFoods), strings.NewReader(goodAcid), strings.NewReader(goodOther))
	if table != nil || err == nil {
		t.Errorf("Load = %v, %v; want no table and an error", table, err)
	}
	rest := io.MultiReader(strings.NewReader(goodTimes), iotest.ErrReader(errors.New("the disk is gone")))
	table, err = Load(rest, strings.NewReader(goodFoods), strings.NewReader(goodAcid), strings.NewReader(goodOther))
	if table != nil || err == nil || !strings.Contains(err.Error(), "the disk is gone") {
		t.Errorf("Load = %v, %v; want no table and an error that says why", table, err)
	}
}

func TestAllLoadProblemsAreReported(t *testing.T) {
	t.Parallel()
	err := load(strings.ReplaceAll(goodTimes, "hot", "warm"), goodFoods, goodAcid, goodOther)
	if n := strings.Count(err.Error(), `"warm"`); n != 4 {
		t.Errorf("%d of 4 rows reported: %v", n, err)
	}
}

func FuzzLoad(f *testing.F) {
	f.Add(goodTimes, goodFoods, goodAcid, goodOther)
	f.Add(goodTimes+"pl\"ums,plums\n", goodFoods, goodAcid, goodOther)
	f.Fuzz(func(t *testing.T, times, foods, acid, untested string) {
		table, err := Load(strings.NewReader(times), strings.NewReader(foods), strings.NewReader(acid), strings.NewReader(untested))
		if err != nil {
			return
		}
		for _, c := range table.Foods() {
			for _, r := range table.Rows(c.Food) {
				if got := table.Lookup(Query{r.Food, r.Pack, r.Method, r.Gauge, r.Jar, float64(r.FromFt)}); len(got.Rows) == 0 && r.Pack != "as-directed" {
					t.Errorf("loaded without a problem, but %+v is not found", r)
				}
			}
		}
	})
}
