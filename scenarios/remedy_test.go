package scenarios

import (
	"fmt"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/scenarios/measure"
)

func remediesOf(t *testing.T, text string) []string {
	t.Helper()
	g := shipped(t)
	p, err := g.ParsePlan("p.yaml", []byte(text))
	if err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, r := range g.Advise(p).Remedies {
		var parts []string
		for _, c := range r.Changes {
			parts = append(parts, fmt.Sprintf("%s %s>%s", c.Field, c.From, c.To))
		}
		out = append(out, strings.Join(parts, ", "))
	}
	return out
}

// TestRemedies: the tested figures are those of USDA Complete Guide, 2015.
func TestRemedies(t *testing.T) {
	t.Parallel()
	const quarts = "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"
	for _, tc := range []struct {
		name, plan string
		want       []string // each must be among the remedies
		first      string   // the smallest
	}{
		{"ten minutes more, or pints", quarts + "time: 50 min\n", []string{"jar quart>pint"}, "time 50 min>60 min"}, // p. 3-8: pints 50, quarts 60
		{"as tested already", quarts + "time: 60 min\n", nil, ""},
		{"jar too large", strings.Replace(quarts, "quart", "half-gallon", 1) + "time: 60 min\n", nil, "jar half-gallon>quart"},
		{
			"beans in boiling water", "food: snap-beans\npack: hot\nmethod: boiling-water\njar: pint\naltitude: 3400 ft\ntime: 3 h\nheadspace: 1 in\n", nil,
			"method boiling-water>pressure, gauge >dial, time 3 h>20 min, pressure >12 psi",
		}, // p. 4-9
		{"pressure low", "food: snap-beans\npack: hot\nmethod: pressure\ngauge: dial\njar: pint\naltitude: 3400 ft\ntime: 20 min\npressure: 11 psi\nheadspace: 1 in\n", nil, "pressure 11 psi>12 psi"},
		{"no process at all", "food: papaya\npack: hot\nmethod: boiling-water\njar: pint\naltitude: 500 ft\ntime: 15 min\nheadspace: 1/2 in\n", nil, ""},
		{"above the table", "food: snap-beans\npack: hot\nmethod: pressure\ngauge: dial\njar: pint\naltitude: 8500 ft\ntime: 20 min\npressure: 15 psi\nheadspace: 1 in\n", nil, "gauge dial>weighted"},
		{
			"acid and reading", quarts[:strings.Index(quarts, "acid")] + "time: 60 min\nacid: {kind: none}\nph: {reading: 4.2, by: strip}\n", nil,
			"acid.kind none>bottled-lemon-juice, acid.per_jar >2 tbsp, ph.reading 4.2>, ph.by strip>",
		},
		{"missing", "food: peaches\njar: pint\naltitude: 500 ft\n", nil, "pack >hot, method >boiling-water, time >20 min, headspace >1/2 in"}, // p. 2-19
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got := remediesOf(t, tc.plan)
			if tc.first == "" && len(got) > 0 || tc.first != "" && (len(got) == 0 || got[0] != tc.first) {
				t.Errorf("remedies %q, want first %q", got, tc.first)
			}
			for _, want := range tc.want {
				if !strings.Contains(strings.Join(got, "\n"), want) {
					t.Errorf("remedies %q, want %q among them", got, want)
				}
			}
		})
	}
}

// TestReadingAboveTheLineIsNotHushedUp: a finished food that reads above pH 4.6 is
// not canned as acid food (USDA Guide 1, p. 1-8). Not to mention the reading is
// no remedy, with whatever it was read and whatever else is wrong.
func TestReadingAboveTheLineIsNotHushedUp(t *testing.T) {
	t.Parallel()
	const sauce = "food: tomato-sauce\npack: hot\nmethod: boiling-water\njar: pint\naltitude: 500 ft\nheadspace: 1/4 in\n"
	for _, rest := range []string{
		"time: 35 min\nacid: {kind: bottled-lemon-juice, per_jar: 1 tbsp}\nph: {reading: 4.8, by: meter}\n",
		"time: 35 min\nacid: {kind: none}\nph: {reading: 4.8, by: strip}\n",
		"time: 20 min\nph: {reading: 4.61}\n",
	} {
		if got := remediesOf(t, sauce+rest); len(got) > 0 {
			t.Errorf("%sremedies %q, want none", rest, got)
		}
	}
}

// TestRemediesAreTested applies the remedies of random plans: each makes the
// plan as tested.
func TestRemediesAreTested(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	foods := g.table.Foods()
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, words []string) string { return rapid.SampledFrom(words).Draw(t, name) }
		text := fmt.Sprintf("food: %s\nmethod: %s\npack: %s\njar: %s\naltitude: %d ft\ntime: %d min\nheadspace: %s\nacid: {kind: %s, per_jar: 1 tbsp}\nproduce: %s\nadded: [%s]\nlids: {state: %s}\n",
			rapid.SampledFrom(foods).Draw(t, "food").Food, draw("method", methods), draw("pack", packs), draw("jar", jarIDs()),
			rapid.IntRange(0, 9000).Draw(t, "altitude"), rapid.IntRange(1, 120).Draw(t, "time"), draw("headspace", []string{"1/4 in", "1/2 in", "1 in"}),
			draw("acid", acidKinds), draw("produce", produce), draw("added", added), draw("lids", lidStates))
		p, err := g.ParsePlan("p.yaml", []byte(text))
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range g.Advise(p).Remedies {
			fixed := p
			b := binder{table: g.table, plan: &fixed}
			for _, c := range r.Changes {
				if c.To == "" && c.Field == "acid.per_jar" && g.acidInRecipe(&p) { // no amount for a jar is printed
					fixed.AcidPerJar = Stated[measure.Volume]{}
					continue
				}
				if c.To == "" {
					t.Fatalf("%s: a remedy leaves out %s", text, c.Field)
				}
				b.state(c.Field, strings.TrimPrefix(c.To, "none"))
			}
			if v := g.Grade(fixed).Verdict; v != AsTested || len(b.problems) > 0 {
				t.Fatalf("%s\nremedy %+v: %s %v", text, r, v, b.problems)
			}
			if fixed.Food != p.Food || fixed.Altitude != p.Altitude {
				t.Fatalf("%s: a remedy changes the food or the altitude", text)
			}
		}
	})
}

func BenchmarkRemedies(b *testing.B) {
	g := shipped(b)
	p, err := g.ParsePlan("b.yaml", []byte("food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 50 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 1 tbsp}\n"))
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if len(g.Advise(p).Remedies) == 0 {
			b.Fatal("no remedy")
		}
	}
}
