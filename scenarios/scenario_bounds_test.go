package scenarios

import (
	"fmt"
	"strings"
	"testing"

	"rollingboil/scenarios/kitchens"
)

func planScenario(draws, temptation string) string {
	return "---\ntitle: T\nkind: plan\nminutes: 8\ncompetencies: [altitude]\nkitchen: {food: tomatoes-crushed, jar: quart}\nchoices: [{method: boiling-water, pack: hot}]\ndraw:\n" +
		draws + "temptation: " + temptation + "\nexercises: [time-short]\n---\n\nx\n"
}

func feet(n int) string {
	var list []string
	for i := range n {
		list = append(list, fmt.Sprintf("%d ft", 6010+i))
	}
	return "  altitude: [" + strings.Join(list, ", ") + "]\n"
}

func jarsOnCounter(n int) string {
	var jars strings.Builder
	for i := range n {
		fmt.Fprintf(&jars, "  - {sealed: %v, says: x, lid: down}\n", i%2 == 0)
	}
	return jars.String()
}

func whatNowOf(jars int, more string) string {
	return "---\ntitle: T\nkind: what-now\nminutes: 8\ncompetencies: [seal-check]\nkitchen: {food: peaches, jar: pint, altitude: 500 ft}\nchoices: [{method: boiling-water, pack: hot}]\n" +
		more + "jars:\n" + jarsOnCounter(jars) + "exercises: [unsealed-jar-shelved]\n---\n\nx\n"
}

// What cannot be looked at case by case is refused, however its size is written; counting it
// neither panics nor takes long.
func TestScenariosAreBounded(t *testing.T) {
	t.Parallel()
	g, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	yes := func(key string, n int) string {
		return "  " + key + ": [" + strings.TrimSuffix(strings.Repeat("true, ", n), ", ") + "]\n"
	}
	var many strings.Builder // 128 to the ninth is 2 to the 63rd, and 2 to the 64th with one key more
	for _, kv := range [][2]string{
		{"sterilised", "true"},
		{"bubbles_removed", "true"},
		{"rims_wiped", "true"},
		{"produce", "ripe"},
		{"prepared", "peeled"},
		{"bands", "fingertip"},
		{"water_over_lids", "2 in"},
		{"timing_starts", "full-boil"},
		{"rest", "5 min"},
	} {
		fmt.Fprintf(&many, "  %s: [%s]\n", kv[0], strings.TrimSuffix(strings.Repeat(kv[1]+", ", 128), ", "))
	}
	hours := "looked: [" + strings.TrimSuffix(strings.Repeat("14 h, ", 3000), ", ") + "]\n"
	for name, test := range map[string]struct{ src, want string }{
		"draws":                    {planScenario(feet(501)+yes("rims_wiped", 2), "{time: 5 min}"), "90-own.md:8:1: there are more than 1000 cases"},
		"a product that overflows": {planScenario("  altitude: [6240 ft]\n"+many.String(), "{time: 5 min}"), "there are more than 1000 cases"},
		"a product of zero":        {planScenario("  altitude: [6240 ft, 6300 ft]\n"+many.String(), "{time: 5 min}"), "there are more than 1000 cases"},
		"half of seventy jars":     {whatNowOf(70, "looked: [14 h]\npick: 35\n"), "there are more than 1000 cases"},
		"six of twelve and more":   {whatNowOf(13, "looked: [14 h]\npick: 6\n"), "there are more than 1000 cases"},
		"jars at many hours":       {whatNowOf(10, hours), "there is too much to check, 30000 steps"},
	} {
		if _, err := g.ParseScenario("90-own.md", []byte(test.src)); err == nil || !strings.Contains(err.Error(), test.want) {
			t.Errorf("%s: %v, want %s", name, err, test.want)
		}
	}
	for name, src := range map[string]string{
		"a thousand draws":    planScenario(feet(500)+yes("rims_wiped", 2), "{time: 5 min}"),
		"six of twelve jars":  whatNowOf(12, "looked: [14 h]\npick: 6\n"),
		"more than there are": whatNowOf(4, "looked: [14 h]\npick: 9\n"),
	} {
		if _, err := g.ParseScenario("90-own.md", []byte(src)); err != nil && strings.Contains(err.Error(), "too much") || err != nil && strings.Contains(err.Error(), "more than 1000") {
			t.Errorf("%s: %v", name, err)
		}
	}
	list, err := g.LoadScenarios(kitchens.Files())
	if err != nil {
		t.Fatal(err)
	}
	for _, s := range list {
		if s.space() > mostCases {
			t.Errorf("%s has %d cases", s.File, s.space())
		}
	}
}

// Every case is looked at, the last one too: green tomatoes are as tested, and unpeeled ones
// have no tested process. Nobody is shown such a case as one that is worked out.
func TestEveryCaseIsChecked(t *testing.T) {
	t.Parallel()
	g, err := Shipped()
	if err != nil {
		t.Fatal(err)
	}
	s, err := g.ParseScenario("90-own.md", []byte(planScenario(feet(450)+"  prepared: [peeled, unpeeled]\n", "{time: 5 min}")))
	if err != nil {
		t.Fatal(err)
	}
	if err := g.CheckScenario(s); err == nil || !strings.Contains(err.Error(), "90-own.md:6:1: case 450: the worked solution is") {
		t.Errorf("got %v", err)
	}
	if _, err := g.Case(s, 449); err != nil {
		t.Errorf("case 449: %v", err)
	}
	if _, err := g.Case(s, 450); err == nil || !strings.Contains(err.Error(), "the worked solution is") {
		t.Errorf("case 450: %v", err)
	}
}

func TestPicks(t *testing.T) {
	t.Parallel()
	// From Pascal's triangle: 12 over 5 is 792, 12 over 6 is 924, 13 over 6 is 1716.
	for _, tc := range [][3]int{{12, 5, 792}, {12, 6, 924}, {12, 7, 792}, {13, 6, mostCases + 1}, {70, 35, mostCases + 1}, {1000, 1, 1000}, {1000, 999, 1000}, {5, 5, 1}} {
		if got := picks(tc[0], tc[1]); got != tc[2] {
			t.Errorf("picks(%d, %d) = %d, want %d", tc[0], tc[1], got, tc[2])
		}
	}
}
