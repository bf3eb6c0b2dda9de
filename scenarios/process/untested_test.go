package process

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestUntestedFoods names every food without a process and where that is
// printed. USDA = Complete Guide to Home Canning, AIB 539, 2015; the rest are
// the extension services named.
func TestUntestedFoods(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	want := map[string]struct{ source, like string }{
		"pumpkin-butter":           {"USDA Guide 4, p. 4-18: cubes only, never mashed", "pumpkin-winter-squash-cubed"},
		"pumpkin-puree":            {"USDA Guide 4, p. 4-18", "pumpkin-winter-squash-cubed"},
		"sweet-potatoes-mashed":    {"USDA Guide 4, p. 4-16", "sweet-potatoes"},
		"sweet-potatoes-dry-pack":  {"USDA Guide 4, p. 4-16", "sweet-potatoes"},
		"vegetables-pureed":        {"USDA Guide 1, p. 1-31", "mixed-vegetables"},
		"meat-pureed":              {"USDA Guide 1, p. 1-31", "meat-strips-cubes-or-chunks"},
		"beans-refried":            {"USDA Guide 1, p. 1-31: no puréed vegetable; Guide 4, p. 4-5: whole beans", "beans-or-peas-shelled-dried"},
		"soup-cream":               {"USDA Guide 4, p. 4-18", "soups"},
		"soup-noodle":              {"USDA Guide 4, p. 4-18", "soups"},
		"soup-thickened":           {"USDA Guide 4, p. 4-18", "soups"},
		"milk":                     {"USDA Guide 1, p. 1-8: low-acid", ""},
		"summer-squash":            {"Virginia Cooperative Extension 348-585: not recommended alone", "pickled-bread-and-butter-zucchini"},
		"cabbage":                  {"USDA Guide 1, p. 1-8: fresh vegetables are low-acid, sauerkraut is acid", "sauerkraut"},
		"peas-edible-pods":         {"USDA Guide 4, p. 4-14", "peas-green-or-english-shelled"},
		"mushrooms-wild":           {"USDA Guide 4, p. 4-13", "mushrooms-whole-or-sliced"},
		"garlic-in-oil":            {"Emerging Infectious Diseases 10(9), September 2004, table 3", ""},
		"salsa-own-recipe":         {"USDA Guide 1, p. 1-8; Guide 3, pp. 3-19 to 3-21", "tomato-salsa-using-slicing-tomatoes"},
		"tomatoes-pureed-raw":      {"USDA Guide 2, p. 2-14", "tomato-sauce"},
		"peaches-white-fleshed":    {"University of Wisconsin Extension, 11 June 2020", "peaches"},
		"nectarines-white-fleshed": {"University of Wisconsin Extension, 11 June 2020", "nectarines"},
		"elderberries":             {"University of Maine Extension, June 2020, against USDA Guide 2, p. 2-10", "berries-whole"},
		"bananas":                  {"USDA Guide 2, p. 2-14; Kansas State University Extension: low-acid", ""},
		"melon-puree":              {"USDA Guide 2, p. 2-14", "cantaloupe-pickles"},
		"melon-plain":              {"Kansas State University Extension: all melons are low-acid", "cantaloupe-pickles"},
		"fig-puree":                {"USDA Guide 2, p. 2-14", "figs"},
		"pear-asian-puree":         {"USDA Guide 2, p. 2-14", "pears-asian"},
		"papaya-puree":             {"USDA Guide 2, p. 2-14", ""},
		"mango-ripe":               {"USDA Guide 2, p. 2-14; Oregon State University SP 50-1006", "mango-sauce"},
		"coconut-puree":            {"USDA Guide 2, p. 2-14", ""},
		"persimmons":               {"UC Master Food Preservers, Solano County: low-acid", ""},
		"crab-blue":                {"USDA Guide 5, p. 5-9", "crab-king-and-dungeness"},
		"seafood-smoked":           {"USDA Guide 5, p. 5-13", "smoked-fish"},
		"horseradish-sauce":        {"USDA Guide 6, p. 6-30: not processed", ""},
		"spread-gelatin":           {"USDA Guide 7, p. 7-12: not processed", "jelly-jam-added-pectin"},
	}
	var got []string
	for _, u := range table.UntestedFoods() {
		got = append(got, u.ID)
		if w, ok := want[u.ID]; !ok || u.Like != w.like {
			t.Errorf("%s resembles %q, want %q (%s)", u.ID, u.Like, w.like, w.source)
		}
		if found, ok := table.Untested(u.ID); !ok || !cmp.Equal(found, u) {
			t.Errorf("Untested(%s) = %+v, %t", u.ID, found, ok)
		}
		if table.NearestFood(u.ID+"x") != u.ID {
			t.Errorf("the nearest to %sx is %q", u.ID, table.NearestFood(u.ID+"x"))
		}
	}
	if len(got) != len(want) {
		t.Errorf("%d untested foods, want %d", len(got), len(want))
	}
	if _, ok := table.Untested("peaches"); ok {
		t.Error("peaches have a process, but are listed as untested")
	}
}

// TestUntestedPurees: the purées that the fruit-purée process rules out by name
// (USDA Guide 2, p. 2-14).
func TestUntestedPurees(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for _, id := range []string{"bananas", "pear-asian-puree", "fig-puree", "tomatoes-pureed-raw", "melon-puree", "papaya-puree", "mango-ripe", "coconut-puree"} {
		if u, ok := table.Untested(id); !ok || !slices.Contains(u.Sources, "usda-guide-2") {
			t.Errorf("%s: %+v, want Guide 2 as a source", id, u)
		}
	}
}

// TestCardLoads holds the loads to figures read apart from the cards: Michigan
// State University Extension's sheets of 1997 and AIB 539 in its edition of 1994
// (pounds, 7 quarts and 9 pints, and the container). White potatoes and Asian
// pears: USDA Guide 4, p. 4-17, and Guide 2, p. 2-20.
func TestCardLoads(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	one := func(v float64) Amounts { return Amounts{{Low: v, High: v}} }
	for _, tc := range []struct {
		food                    string
		quarts, pints, perQuart Amounts
		bushel                  Amounts
	}{
		{"apples-sliced", one(19), one(12.25), one(2.75), one(48)},
		{"berries-whole", one(12), one(8), one(1.75), Amounts{{Low: 36, High: 36, Of: "24-quart crate"}}},
		{"grape-juice", one(24.5), one(16), one(3.5), Amounts{{Low: 26, High: 26, Of: "lug"}}},
		{"grapefruit-and-orange-sections", one(15), one(13), one(2), nil},
		{"peaches", one(17.5), one(11), one(2.5), one(48)},
		{"rhubarb-stewed", one(10.5), one(7), one(1.5), Amounts{{Low: 28, High: 28, Of: "lug"}}},
		{"tomatoes-crushed", one(22), one(14), one(2.75), one(53)},
		{"tomatillos", one(14), one(9), one(2), one(32)},
		{"pears-asian", Amounts{{Low: 17, High: 19}}, Amounts{{Low: 11, High: 13}}, nil, nil},
		{"potatoes-white", one(20), one(13), Amounts{{Low: 2.5, High: 3}}, Amounts{{Low: 50, High: 50, Of: "bag"}}},
		{"tomato-sauce", Amounts{{Low: 35, High: 35, Of: "thin"}, {Low: 46, High: 46, Of: "thick"}}, Amounts{{Low: 21, High: 21, Of: "thin"}, {Low: 28, High: 28, Of: "thick"}}, Amounts{{Low: 5, High: 5, Of: "thin"}, {Low: 6.5, High: 6.5, Of: "thick"}}, one(53)},
		{"tomatoes-with-okra-or-zucchini", Amounts{{Low: 12, High: 12, Of: "tomatoes"}, {Low: 4, High: 4, Of: "okra or zucchini", Plus: true}}, Amounts{{Low: 7, High: 7, Of: "tomatoes"}, {Low: 2.5, High: 2.5, Of: "okra or zucchini", Plus: true}}, nil, nil},
		{"spaghetti-sauce-with-meat", nil, nil, nil, nil},
	} {
		c, _ := table.Card(tc.food)
		for _, pair := range [][2]Amounts{{c.Load7Quarts, tc.quarts}, {c.Load9Pints, tc.pints}, {c.PerQuart, tc.perQuart}, {c.Bushel, tc.bushel}} {
			if d := cmp.Diff(pair[1], pair[0]); d != "" {
				t.Errorf("%s: %s", tc.food, d)
			}
		}
	}
}

// TestLoadsAgree: nine pints are about four and a half quarts, so a printed
// nine-pint load is between half and three quarters of the seven-quart one, and
// a seventh of that lies within half a pound of what is printed for one quart.
// Citrus is printed otherwise (USDA Guide 2, p. 2-15).
func TestLoadsAgree(t *testing.T) {
	t.Parallel()
	for _, c := range shipped(t).Foods() {
		if c.Food == "grapefruit-and-orange-sections" || len(c.Load7Quarts) != len(c.Load9Pints) {
			continue
		}
		for i, quarts := range c.Load7Quarts {
			if share := c.Load9Pints[i].Low / quarts.Low; share < 0.5 || share > 0.75 {
				t.Errorf("%s: 9 pints take %v of the pounds of 7 quarts", c.Food, share)
			}
			if len(c.PerQuart) > i && c.PerQuart[i].Of != "pint" {
				if each := quarts.Low / 7; each < c.PerQuart[i].Low-0.5 || each > c.PerQuart[i].High+0.5 {
					t.Errorf("%s: 7 quarts take %v lb each, printed are %v", c.Food, each, c.PerQuart[i])
				}
			}
		}
	}
}

// TestProduceOut: tomatoes from frost-killed vines or overripe (USDA Guide 3,
// p. 3-5; Kansas State University Extension), white-fleshed peaches (University
// of Wisconsin Extension), ripe mango where green is asked for (USDA Guide 2, pp.
// 2-16 and 2-24), overripe figs (p. 2-14), diseased produce of any kind (Guide 1,
// p. 1-11).
func TestProduceOut(t *testing.T) {
	t.Parallel()
	table := shipped(t)
	for food, want := range map[string][]string{
		"tomatoes-crushed": {"overripe", "frost-killed", "diseased"},
		"peaches":          {"diseased", "white-fleshed"},
		"mango-salsa":      {"ripe", "overripe", "diseased"},
		"figs":             {"overripe", "diseased"},
		"snap-beans":       {"diseased"},
		"tuna":             nil,
	} {
		if c, _ := table.Card(food); !cmp.Equal(c.ProduceOut, want) {
			t.Errorf("%s: %v is out, want %v", food, c.ProduceOut, want)
		}
	}
}
