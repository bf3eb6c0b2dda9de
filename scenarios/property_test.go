package scenarios

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"slices"
	"strconv"
	"strings"
	"sync"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// publishedRows lists every row that may support an as-tested plan.
func publishedRows(g *Grader) (rows []process.Row) {
	for _, card := range g.table.Foods() {
		for _, r := range g.table.Rows(card.Food) {
			if !r.FromMemory() {
				rows = append(rows, r)
			}
		}
	}
	return rows
}

// drawSubject draws a row, an altitude in its band and, where it is short enough,
// whether it is done in steam, and gives the plan that follows it to the letter.
func drawSubject(t *rapid.T, outer *testing.T, g *Grader, rows []process.Row) subject {
	r := rapid.SampledFrom(rows).Draw(t, "row")
	method := r.Method
	if method == "boiling-water" && r.Minutes <= steamLongestMin && rapid.Bool().Draw(t, "steam") {
		method = "atmospheric-steam"
	}
	ft := rapid.IntRange(r.FromFt, topOf(r)).Draw(t, "altitude")
	card, _ := g.table.Card(r.Food)
	return subject{r, method, card, fullPlan(outer, g, r, method, ft)}
}

// spoil makes up to three mutations of a subject's plan and names their keys.
func spoil(t *rapid.T, outer *testing.T, g *Grader, s *subject) (p Plan, spoiled []string) {
	p = s.plan
	for range rapid.IntRange(0, 3).Draw(t, "mutations") {
		m := &mutations[rapid.IntRange(0, len(mutations)-1).Draw(t, "mutation")]
		if values := m.valuesFor(s); len(values) > 0 {
			p = p.with(outer, g, m.key, rapid.SampledFrom(values).Draw(t, "value"))
			spoiled = append(spoiled, m.key)
		}
	}
	return p, spoiled
}

// statedIn gives each key that a plan states, as it is written.
func statedIn(p *Plan) map[string]string {
	values := map[string]string{}
	for _, k := range keys {
		if words, ok := p.slot(k.Name).(*Stated[[]string]); ok && words.Known {
			values[k.Name] = strings.Join(words.Value, ", ")
		} else if p.Known(k.Name) {
			values[k.Name] = p.Text(k.Name)
		}
	}
	return values
}

// parseValues writes values as a plan file, keys in the given order and each
// group where its first key stands, and reads it.
func parseValues(t rapid.TB, g *Grader, values map[string]string, order []string) Plan {
	t.Helper()
	var b strings.Builder
	line := func(indent, name, key string) {
		k, _ := keyNamed(key)
		text := "'" + strings.ReplaceAll(values[key], "'", "''") + "'"
		switch k.Kind {
		case KindWords:
			text = "[" + values[key] + "]"
		case KindYesNo, KindNumber:
			text = values[key]
		}
		b.WriteString(indent + name + ": " + text + "\n")
	}
	written := map[string]bool{}
	for _, key := range order {
		group, _, nested := strings.Cut(key, ".")
		if _, stated := values[key]; !stated || written[group] {
			continue
		}
		if !nested {
			line("", key, key)
			continue
		}
		written[group] = true
		b.WriteString(group + ":\n")
		for _, other := range order {
			if leaf, ok := strings.CutPrefix(other, group+"."); ok {
				if _, stated := values[other]; stated {
					line("  ", leaf, other)
				}
			}
		}
	}
	p, err := g.ParsePlan("p.yaml", []byte(b.String()))
	if err != nil {
		t.Fatalf("%s\n%v", b.String(), err)
	}
	return p
}

func keyNames() []string {
	names := make([]string, len(keys))
	for i, k := range keys {
		names[i] = k.Name
	}
	return names
}

// judged is what a report says, without the words of the plan.
func judged(r Report) []string {
	list := []string{string(r.Verdict)}
	for _, f := range r.Findings {
		list = append(list, f.Rule+" "+f.Severity+" "+f.Field)
	}
	return append(append(list, r.Missing...), r.NotStated...)
}

// TestMoreIsNeverWorse: more minutes, more pressure, a smaller jar or a lower
// altitude never spoil a plan that is as tested (USDA Guide 1, p. 1-10; National
// Center for Home Food Preservation, jar sizes). In steam the minutes stay
// within the 45 that a steam canner may run.
func TestMoreIsNeverWorse(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := publishedRows(g)
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSubject(rt, t, g, rows)
		var more Plan
		what := rapid.SampledFrom([]string{"time", "pressure", "jar", "altitude"}).Draw(rt, "what")
		switch what {
		case "time":
			longest := s.row.Minutes + 120
			if s.method == "atmospheric-steam" {
				longest = steamLongestMin
			}
			more = s.plan.with(t, g, "time", fmt.Sprintf("%d min", rapid.IntRange(s.row.Minutes, longest).Draw(rt, "minutes")))
		case "pressure":
			if s.row.PSI == 0 {
				return
			}
			more = s.plan.with(t, g, "pressure", fmt.Sprintf("%.1f psi", rapid.Float64Range(float64(s.row.PSI), psiCeiling).Draw(rt, "psi")))
		case "jar":
			smaller := []string{s.row.Jar}
			for _, j := range process.Jars() {
				if slices.Contains(larger(j.ID), s.row.Jar) {
					smaller = append(smaller, j.ID)
				}
			}
			more = s.plan.with(t, g, "jar", rapid.SampledFrom(smaller).Draw(rt, "jar"))
		case "altitude":
			more = s.plan.with(t, g, "altitude", fmt.Sprintf("%d ft", rapid.IntRange(0, int(s.plan.Altitude.Value)).Draw(rt, "lower")))
		}
		report := g.Grade(more)
		for _, f := range report.Findings {
			// A smaller jar may have its own headspace, and a row of its own that
			// is only from memory.
			if f.Severity == "safety" && (what != "jar" || f.Field != "headspace" && f.Field != "food") {
				rt.Errorf("%s\n%s: %+v", more.YAML(), report.Verdict, f)
			}
		}
		if report.Verdict != AsTested && what != "jar" || report.Verdict == Incomplete {
			rt.Errorf("%s\n%s: %+v", more.YAML(), report.Verdict, report.Findings)
		}
	})
}

// TestLeavingOutNeverHelps leaves each stated key out of a plan, sound or
// spoiled. Of a sound plan a needed key is then missing, any other is named as
// not stated. A spoiled plan becomes as tested only without a key that spoiled it.
func TestLeavingOutNeverHelps(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := publishedRows(g)
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSubject(rt, t, g, rows)
		spoiledPlan, spoiled := spoil(rt, t, g, &s)
		before := g.Grade(spoiledPlan)
		for key := range statedIn(&spoiledPlan) {
			left := statedIn(&spoiledPlan)
			delete(left, key)
			plan := parseValues(rt, g, left, keyNames())
			after := g.Grade(plan)
			if before.Verdict != AsTested && after.Verdict == AsTested && !slices.Contains(spoiled, key) {
				rt.Errorf("%s\nwithout %s: as tested, before %s: %+v", spoiledPlan.YAML(), key, before.Verdict, before.Findings)
			}
			if len(spoiled) > 0 {
				continue
			}
			group, _, _ := strings.Cut(key, ".")
			switch {
			case slices.Contains(after.Missing, key) || slices.Contains(after.Missing, group):
				if after.Verdict != Incomplete {
					rt.Errorf("%s\nwithout %s: %s, want incomplete", spoiledPlan.YAML(), key, after.Verdict)
				}
			case group == "load": // a plan is of one size of jar, and layers are a matter of the canner; nobody is asked
			case !slices.Contains(after.NotStated, key) && !slices.Contains(after.NotStated, group):
				rt.Errorf("%s\nwithout %s: neither missing nor not stated", spoiledPlan.YAML(), key)
			case after.Verdict != AsTested:
				rt.Errorf("%s\nwithout %s: %s, %+v", spoiledPlan.YAML(), key, after.Verdict, after.Findings)
			}
		}
	})
}

// respell writes the same quantity in another unit or another way. Metric values
// are rounded to what a good ruler, spoon, dial or thermometer shows.
func respell(t *rapid.T, p *Plan, key, text string) string {
	number := func(v float64, digits int) string { return strconv.FormatFloat(v, 'f', digits, 64) }
	exact := func(v float64) string { return number(v, -1) }
	pick := func(list ...string) string { return rapid.SampledFrom(list).Draw(t, key) }
	switch s := p.slot(key).(type) {
	case *Stated[measure.Altitude]:
		ft := float64(s.Value)
		whole := int(math.Round(ft))
		parted := exact(ft)
		if whole >= 1000 {
			parted = fmt.Sprintf("%d,%03d", whole/1000, whole%1000)
		}
		return pick(exact(ft)+" ft", exact(ft)+"ft", exact(ft)+" feet", parted+" ft", strings.Replace(parted, ",", "\u202f", 1)+" feet", number(ft*0.3048, 5)+" m", number(ft*0.3048, 4)+" metres")
	case *Stated[measure.Duration]:
		minutes := float64(s.Value)
		hours := math.Floor(minutes / 60)
		split := exact(minutes) + " minutes"
		if hours > 0 && minutes != hours*60 {
			split = exact(hours) + " h " + exact(math.Round((minutes-hours*60)*1000)/1000) + " min"
		} else if hours > 0 {
			split = exact(hours) + " hours"
		}
		return pick(exact(minutes)+" min", exact(minutes)+"min", split, exact(minutes*60)+" s")
	case *Stated[measure.Pressure]:
		psi := float64(s.Value)
		return pick(exact(psi)+" psi", exact(psi)+" lb", exact(psi)+" pounds", number(psi*6.894757, 1)+" kPa", number(psi*6.894757, 2)+" kilopascals")
	case *Stated[measure.Length]:
		in := float64(s.Value)
		return pick(exact(in)+" in", exact(in)+" inches", s.Value.String(), number(in*25.4, 0)+" mm", number(in*2.54, 2)+" cm")
	case *Stated[measure.Volume]:
		tsp := float64(s.Value)
		return pick(exact(tsp)+" tsp", exact(tsp)+" teaspoons", number(tsp/3, 6)+" tbsp", s.Value.String(), number(tsp*4.92892, 2)+" ml")
	case *Stated[measure.Temperature]:
		f := float64(s.Value)
		return pick(exact(f)+" F", exact(f)+" °F", number((f-32)/1.8, 1)+" C", number((f-32)/1.8, 1)+" °C")
	}
	return text
}

// TestSameQuantitySameReport: feet or meters, inches or millimeters, psi or kPa,
// minutes or hours, spoons or milliliters make no difference.
func TestSameQuantitySameReport(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := publishedRows(g)
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSubject(rt, t, g, rows)
		plan, _ := spoil(rt, t, g, &s)
		values := statedIn(&plan)
		for _, key := range slices.Sorted(maps.Keys(values)) {
			values[key] = respell(rt, &plan, key, values[key])
		}
		same := parseValues(rt, g, values, keyNames())
		if diff := cmp.Diff(judged(g.Grade(plan)), judged(g.Grade(same))); diff != "" {
			rt.Errorf("%s\n%s\n(-first +second):\n%s", plan.YAML(), same.YAML(), diff)
		}
	})
}

// TestKeyOrderDoesNotMatter shuffles the keys of the file, those inside groups
// too.
func TestKeyOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := publishedRows(g)
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSubject(rt, t, g, rows)
		plan, _ := spoil(rt, t, g, &s)
		values := statedIn(&plan)
		first := parseValues(rt, g, values, keyNames())
		shuffled := parseValues(rt, g, values, rapid.Permutation(keyNames()).Draw(rt, "order"))
		if diff := cmp.Diff(g.Grade(first), g.Grade(shuffled)); diff != "" {
			rt.Errorf("%s\n(-in order +shuffled):\n%s", plan.YAML(), diff)
		}
	})
}

// TestGradeFromManyGoroutines grades the same plans again and from several
// goroutines at once. Every report is the same, to the byte.
func TestGradeFromManyGoroutines(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := publishedRows(g)
	grade := func(p Plan) string {
		raw, err := json.Marshal(g.Grade(p))
		if err != nil {
			return err.Error()
		}
		return string(raw)
	}
	rapid.Check(t, func(rt *rapid.T) {
		var plans []Plan
		var want []string
		for range rapid.IntRange(1, 8).Draw(rt, "plans") {
			s := drawSubject(rt, t, g, rows)
			p, _ := spoil(rt, t, g, &s)
			plans, want = append(plans, p), append(want, grade(p))
		}
		got := make([][]string, 4)
		var wait sync.WaitGroup
		for n := range got {
			wait.Go(func() {
				for i := range plans {
					got[n] = append(got[n], grade(plans[(i+n)%len(plans)]))
				}
			})
		}
		wait.Wait()
		for n := range got {
			for i, report := range got[n] {
				if report != want[(i+n)%len(plans)] {
					rt.Fatalf("goroutine %d:\n%s\nbefore:\n%s", n, report, want[(i+n)%len(plans)])
				}
			}
		}
	})
}

// BenchmarkGradeParallel grades sound and spoiled plans of every food from all
// cores. For 100 000 grades on two: -bench GradeParallel -benchtime 100000x -cpu 2.
func BenchmarkGradeParallel(b *testing.B) {
	g := shipped(b)
	var plans []Plan
	for i, s := range subjects(b, g) {
		m := &mutations[i%len(mutations)]
		plans = append(plans, s.plan)
		if values := m.valuesFor(&s); len(values) > 0 {
			plans = append(plans, s.plan.with(b, g, m.key, values[0]))
		}
	}
	b.ReportAllocs()
	b.ResetTimer()
	b.RunParallel(func(pb *testing.PB) {
		for i := 0; pb.Next(); i++ {
			if r := g.Grade(plans[i%len(plans)]); r.Verdict == Incomplete {
				b.Errorf("%s: incomplete", plans[i%len(plans)].YAML())
				return
			}
		}
	})
	b.ReportMetric(float64(b.N)/b.Elapsed().Seconds(), "plans/s")
}
