package scenarios

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// TestUntestedFoodsHaveNoProcess grades every food without a tested process in
// every method, whole and bare. Nothing that a plan states gives it one (USDA
// Complete Guide to Home Canning, AIB 539, 2015, Guide 1, p. 1-22: a process is
// looked up for the food itself). Where a rule finds worse, that counts.
func TestUntestedFoodsHaveNoProcess(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, u := range g.Table().UntestedFoods() {
		for _, method := range methods {
			for _, rest := range []string{
				"",
				"pack: hot\njar: pint\naltitude: 500 ft\ntime: 300 min\ngauge: dial\npressure: 15 psi\nheadspace: 1 in\nacid: {kind: bottled-lemon-juice, per_jar: 1 cup}\n",
			} {
				p, err := g.ParsePlan("u.yaml", []byte("food: "+u.ID+"\nmethod: "+method+"\n"+rest))
				if err != nil {
					t.Fatal(err)
				}
				r := g.Grade(p)
				want := NoTestedProcess
				if startOf(method) == "" { // open kettle, oven, sun and the like
					want = Unsafe
				}
				if r.Verdict != want || len(r.Tested) > 0 || len(r.Missing) > 0 || len(r.NotStated) > 0 {
					t.Errorf("%s, %s: %s, tested %v, missing %v, not stated %v", u.ID, method, r.Verdict, r.Tested, r.Missing, r.NotStated)
				}
				if remedies := g.Advise(p).Remedies; len(remedies) > 0 || g.TestedValues(p) != nil {
					t.Errorf("%s: remedies %v, tested values %v", u.ID, remedies, g.TestedValues(p))
				}
				found := false
				for _, f := range r.Findings {
					if f.Rule != "food-untested" {
						continue
					}
					found = f.Field == "food" && strings.Contains(f.Why, u.Why) && f.Source == strings.Join(u.Sources, ", ") && f.Given == u.Name
				}
				if !found {
					t.Errorf("%s: no finding says why: %+v", u.ID, r.Findings)
				}
			}
		}
		for _, id := range u.Sources {
			if _, ok := g.Rules().Source(id); !ok {
				t.Errorf("%s: %q is no source", u.ID, id)
			}
		}
	}
}

// TestUntestedBatch: jars of a food that nobody tested are treated as holding the
// toxin (USDA Guide 1, pp. 1-26 to 1-27).
func TestUntestedBatch(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	b, batch, err := g.ParseFile("b.yaml", []byte(`plan: {food: pumpkin-butter, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft}
record:
  jars: [{n: 1, sealed: true}, {n: 2, sealed: false}]
`))
	if err != nil || !batch {
		t.Fatalf("not a batch: %v", err)
	}
	r := g.GradeBatch(b)
	if r.Verdict != NoTestedProcess || r.Jars[0].Answer != "discard" || r.Jars[1].Answer != "detoxify-and-discard" {
		t.Errorf("%s, %+v", r.Verdict, r.Jars)
	}
}

// TestNearestUntested: a misspelled untested food is named.
func TestNearestUntested(t *testing.T) {
	t.Parallel()
	_, err := shipped(t).ParsePlan("p.yaml", []byte("food: elderbery\n"))
	if err == nil || !strings.Contains(err.Error(), `the nearest is "elderberries"`) {
		t.Errorf("error = %v", err)
	}
}

// TestCardsAndRulesAgree: produce that a card rules out never passes the rules.
// The cards' own sources stand in scenarios/process.
func TestCardsAndRulesAgree(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	checked := 0
	for _, c := range g.Table().Foods() {
		for _, word := range c.ProduceOut {
			p := planOf(t, g, g.Table().Rows(c.Food)[0], 0).with(t, g, "produce", word)
			r := g.Grade(p)
			hit := false
			for _, f := range r.Findings {
				hit = hit || f.Severity == "safety" && f.Field == "produce"
			}
			if checked++; !hit || r.Verdict == AsTested {
				t.Errorf("%s from %s produce: %s", c.Food, word, r.Verdict)
			}
			if value := g.TestedValues(p)["produce"]; value == word {
				t.Errorf("%s: the tested produce is %s, which its card rules out", c.Food, value)
			}
		}
	}
	if checked < 150 {
		t.Errorf("only %d cards' words checked", checked)
	}
}

// TestCardLines: the printed figures in both units; 1 lb is 0.45359237 kg by
// definition. Figures: USDA Guide 3, pp. 3-8 and 3-12; Guide 2, pp. 2-10 and
// 2-20; Guide 4, pp. 4-6 and 4-11.
func TestCardLines(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for food, want := range map[string]map[string]string{
		"tomatoes-crushed":               {"For 7 quarts": "22 lb (10 kg)", "For 9 pints": "14 lb (6.4 kg)", "For one quart": "2 3/4 lb (1.2 kg)", "One bushel": "53 lb (24 kg) gives 17 to 20 quarts", "Not from": "overripe, frost-killed, diseased"},
		"tomato-sauce":                   {"For 7 quarts": "35 lb (15.9 kg) thin; 46 lb (20.9 kg) thick", "One bushel": "53 lb (24 kg) gives 10 to 12 quarts thin; 7 to 9 quarts thick"},
		"tomatoes-with-okra-or-zucchini": {"For 7 quarts": "12 lb (5.4 kg) tomatoes and 4 lb (1.8 kg) okra or zucchini"},
		"berries-whole":                  {"One 24-quart crate": "36 lb (16.3 kg) gives 18 to 24 quarts"},
		"pears-asian":                    {"For 7 quarts": "17 to 19 lb (7.7 to 8.6 kg)", "For one quart": ""},
		"corn-cream-style":               {"For 7 quarts": "", "For one pint": "2 1/4 lb (1 kg)", "One bushel": "35 lb (15.9 kg) gives 12 to 20 pints"},
		"beans-or-peas-shelled-dried":    {"For one quart": "3/4 lb (340 g)", "Not from": ""},
		"papaya":                         {"Prepared": "", "How this was read": "from memory: unconfirmed"},
	} {
		card, _ := g.Table().Card(food)
		got := map[string]string{}
		for _, line := range CardLines(card) {
			got[line.Term] = line.Text
		}
		for term, text := range want {
			if d := cmp.Diff(text, got[term]); d != "" {
				t.Errorf("%s, %s: %s", food, term, d)
			}
		}
	}
}
