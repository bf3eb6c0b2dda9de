package bench

import (
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/scenarios/process"
)

// shipped is a bench with the published table.
func shipped(t testing.TB) *Bench {
	t.Helper()
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	return New(table)
}

// keyed are the values of one run, written as a person writes them on the command
// line: "altitude=5 000 ft".
func keyed(given []string) map[string]string {
	m := map[string]string{}
	for _, g := range given {
		if key, text, found := strings.Cut(g, "="); found {
			m[key] = text
		}
	}
	return m
}

// plain has ordinary spaces in place of those that keep a number and its unit on one
// line.
func plain(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }

// answer is the JSON of one run, read again, so that names are held as well as
// numbers.
type answer struct {
	t     rapid.TB
	asked string
	json  map[string]any
}

// ask runs a demonstration, which must succeed.
func ask(t rapid.TB, b *Bench, name string, given ...string) answer {
	t.Helper()
	a := answer{t: t, asked: strings.Join(append([]string{name}, given...), " ")}
	result := result(t, b, name, given...)
	text, err := json.Marshal(result)
	if err != nil {
		t.Fatalf("%s: %v", a.asked, err)
	}
	if err := json.Unmarshal(text, &a.json); err != nil {
		t.Fatalf("%s: %s: %v", a.asked, text, err)
	}
	return a
}

// result runs a demonstration, which must succeed.
func result(t rapid.TB, b *Bench, name string, given ...string) Result {
	t.Helper()
	demo, err := b.Demo(name)
	if err != nil {
		t.Fatalf("%v", err)
	}
	r, err := b.Run(demo, keyed(given))
	if err != nil {
		t.Fatalf("%s %s: %v", name, strings.Join(given, " "), err)
	}
	return r
}

// refused runs a demonstration, which must not succeed, and gives what it says.
func refused(t rapid.TB, b *Bench, name string, given ...string) error {
	t.Helper()
	demo, err := b.Demo(name)
	if err != nil {
		t.Fatalf("%v", err)
	}
	_, err = b.Run(demo, keyed(given))
	if err == nil {
		t.Fatalf("%s %s: no error", name, strings.Join(given, " "))
	}
	return err
}

// num gives a number.
func (a answer) num(key string) float64 {
	a.t.Helper()
	v, ok := a.json[key].(float64)
	if !ok {
		a.t.Fatalf("%s: %q is %v, want a number", a.asked, key, a.json[key])
	}
	return v
}

// near holds a number to a published or independently computed one.
func (a answer) near(key string, want, within float64) {
	a.t.Helper()
	if got := a.num(key); math.Abs(got-want) > within {
		a.t.Errorf("%s: %s is %v, want %v within %v", a.asked, key, got, want, within)
	}
}

// nearRange holds [low, high].
func (a answer) nearRange(key string, low, high, within float64) {
	a.t.Helper()
	got, ok := a.json[key].([]any)
	if !ok || len(got) != 2 {
		a.t.Fatalf("%s: %q is %v, want [low, high]", a.asked, key, a.json[key])
	}
	for i, want := range []float64{low, high} {
		if v, ok := got[i].(float64); !ok || math.Abs(v-want) > within {
			a.t.Errorf("%s: %s is %v, want [%v, %v] within %v", a.asked, key, got, low, high, within)
		}
	}
}

// tried are values inside the models' ranges, the ends of which are among them.
// Every demonstration with its defaults comes on top.
var tried = []struct {
	demo  string
	given []string
}{
	{"boiling-point", []string{"altitude=0 ft"}},
	{"boiling-point", []string{"altitude=-1 500 ft"}},
	{"boiling-point", []string{"altitude=30 000 ft"}},
	{"boiling-point", []string{"boiling=203 F"}},
	{"boiling-point", []string{"boiling=63 C"}},
	{"gauge", []string{"altitude=0 ft", "pressure=0 psi"}},
	{"gauge", []string{"altitude=8 000 ft", "pressure=15 psi"}},
	{"gauge", []string{"altitude=30 000 ft", "pressure=60 psi"}},
	{"gauge", []string{"altitude=3 000 m", "temp=121 C"}},
	{"jars", []string{"altitude=0 ft", "food=thin", "time=1 min"}},
	{"jars", []string{"altitude=-1 500 ft", "time=100 min", "start=-40 C"}},
	{"jars", []string{"altitude=30 000 ft", "start=20 C"}},
	{"heating", []string{"u=inf", "time=10 h"}},
	{"heating", []string{"start=100 C", "bath=100 C"}},
	{"heating", []string{"start=100 C", "bath=20 C", "u=8"}},
	{"heating", []string{"then=cooling"}},
	{"heating", []string{"then=cooling", "air=72 F", "u_air=12", "cool_time=8 h"}},
	{"heating", []string{"start=20 C", "bath=60 C", "then=cooling"}},
	{"heating", []string{"radius=1 mm", "half_height=1 mm"}},
	{"heating", []string{"radius=500 mm", "half_height=1000 mm", "time=1 day"}},
	{"lethality", []string{"time=0 min"}},
	{"lethality", []string{"ref=250 F", "z=18 F", "d=0.21 min"}},
	{"lethality", []string{"ref=121.1 C", "z=1 C", "bath=60 C", "start=20 C"}},
	{"vacuum", []string{"residual_air=1", "close=20 C"}},
	{"vacuum", []string{"close=86 F", "cool=30 C"}},
	{"vacuum", []string{"headspace=946 ml"}},
	{"vacuum", []string{"altitude=30 000 ft", "close=60 C", "residual_air=50 %"}},
	{"lid", []string{"wet=true", "vacuum=29.9 inHg"}},
	{"lid", []string{"diameter=120 mm", "thickness=0.1 mm"}},
	{"lid", []string{"diameter=40 mm", "thickness=0.5 mm", "vacuum=50 kPa"}},
	{"acid", []string{"add=citric", "amount=1/2 tsp"}},
	{"acid", []string{"add=vinegar", "amount=4 tbsp"}},
	{"acid", []string{"add=lemon", "amount=30 g", "volume=1 pint"}},
	{"acid", []string{"add=citric", "amount=0.001 g", "volume=100 ml", "ph=7", "ta=0.05"}},
	{"seals", []string{"unsealed=0", "jars=7"}},
	{"seals", []string{"unsealed=7", "jars=7"}},
	{"seals", []string{"unsealed=1", "jars=1", "difference=50 %"}},
	{"seals", []string{"unsealed=0", "jars=100000", "confidence=0.9999"}},
	{"seals", []string{"a=2/14", "b=0/14"}},
	{"seals", []string{"a=3/7", "b=6/14"}},
	{"seals", []string{"a=0/9", "b=9/9", "difference=20 %"}},
	{"cook-down", []string{"from=50", "to=50"}},
	{"cook-down", []string{"from=0.5", "to=30", "mass=20 g", "power=100 kW", "start=0 C"}},
	{"cook-down", []string{"start=68 F"}},
	{"fit", []string{"canner=2 in", "jar=50 mm"}},
	{"fit", []string{"canner=13 in", "jar=2 9/16 in"}},
}

// eachTried runs every demonstration with its defaults and with all of tried.
func eachTried(t *testing.T, check func(t *testing.T, d *Demo, r Result)) {
	t.Helper()
	b := shipped(t)
	seen := map[string]bool{}
	run := func(name string, given []string) {
		seen[name] = true
		t.Run(strings.Join(append([]string{name}, given...), " "), func(t *testing.T) {
			demo, err := b.Demo(name)
			if err != nil {
				t.Fatal(err)
			}
			check(t, demo, result(t, b, name, given...))
		})
	}
	for _, d := range b.Demos() {
		run(d.Name, nil)
	}
	for _, tc := range tried {
		run(tc.demo, tc.given)
	}
	if len(seen) != len(b.Demos()) {
		t.Errorf("%d demonstrations were tried, there are %d", len(seen), len(b.Demos()))
	}
}

// TestJSONNames: others read these names, whatever the values are.
func TestJSONNames(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct {
		demo  string
		given string
		names []string
	}{
		{"boiling-point", "altitude=5 000 ft", []string{"altitude_ft", "pressure_pa", "boiling_c", "boiling_f"}},
		{"boiling-point", "boiling=203F", []string{"altitude_ft", "pressure_pa", "boiling_c", "boiling_f"}},
		{"gauge", "altitude=1 000 ft;pressure=10.5 psi", []string{"temp_c", "temp_f", "psi"}},
		{"gauge", "altitude=1 000 ft;temp=240 F", []string{"temp_c", "temp_f", "psi"}},
		{"heating", "radius=38 mm;half_height=54 mm;alpha=1.5e-7;k=0.6;u=350;start=85 C;bath=100 C;time=40 min", []string{"center_c", "fh_min", "j", "mean_c", "curve"}},
		{"heating", "then=cooling;air=22 C;u_air=8;cool_time=2 h", []string{"center_c", "fh_min", "j", "mean_c", "curve", "peak_c", "peak_min"}},
		{"lethality", "ref=93.3 C;z=8.89 C;fh=30 min;j=2.04;bath=100 C;start=85 C;time=40 min", []string{"f_min", "log_reductions"}},
		{"vacuum", "close=90 C;cool=20 C;jar=946 ml;headspace=40 ml;altitude=0 ft;residual_air=0", []string{"inhg", "inhg_upper", "kpa", "headspace_cold_ml"}},
		{"lid", "diameter=60 mm;thickness=0.20 mm;vacuum=14 inHg;wet=true", []string{"f01_hz", "f11_hz", "f21_hz", "f02_hz"}},
		{"acid", "ta=0.444;ph=4.5;volume=946 ml;add=lemon;amount=2 tbsp", []string{"ph_after"}},
		{"seals", "unsealed=2;jars=14;confidence=95 %", []string{"wilson", "clopper_pearson"}},
		{"seals", "a=2/14;b=0/14", []string{"fisher_two_sided", "fisher_one_sided", "jars_needed"}},
		{"cook-down", "from=5.5;to=11;mass=10 kg;power=1 kW", []string{"mass_out", "water_kg", "kj", "minutes", "volume_ratio"}},
		{"fit", "canner=310 mm;jar=98 mm", []string{"jars", "positions"}},
		{"fit", "canner=310 mm;jar=98 mm;spacing=1/8 in", []string{"jars", "positions"}},
	} {
		a := ask(t, b, tc.demo, strings.Split(tc.given, ";")...)
		for _, name := range append(tc.names, "note") {
			if _, found := a.json[name]; !found {
				t.Errorf("%s: no %q", a.asked, name)
			}
		}
	}
}

// TestEveryAnswerIsWhole: each has sentences, numbers, a picture and the table
// behind it, and nothing in it is "not a number" or without end.
func TestEveryAnswerIsWhole(t *testing.T) {
	t.Parallel()
	eachTried(t, func(t *testing.T, _ *Demo, r Result) {
		if len(r.Says) == 0 || len(r.Numbers) == 0 || len(r.Table.Rows) == 0 {
			t.Errorf("%d sentences, %d numbers, %d rows; want some of each", len(r.Says), len(r.Numbers), len(r.Table.Rows))
		}
		if r.Figure == nil && r.Circles == nil {
			t.Error("no picture")
		}
		if r.Table.Caption == "" {
			t.Error("the table has no caption")
		}
		texts := slices.Concat(r.Says, r.Table.Head, []string{r.Table.Caption})
		for i, row := range r.Table.Rows {
			texts = append(texts, row.Cells...)
			if len(row.Cells) != len(r.Table.Head) {
				t.Errorf("row %d has %d cells below %d heads: %q", i+1, len(row.Cells), len(r.Table.Head), row.Cells)
			}
		}
		for _, s := range r.Says {
			if !strings.HasSuffix(s, ".") {
				t.Errorf("not a sentence: %q", s)
			}
		}
		keys := map[string]bool{}
		for _, n := range r.Numbers {
			texts = append(texts, n.Label, n.Text)
			if n.Key == "" || n.Key == "note" || keys[n.Key] {
				t.Errorf("the number %q has no name of its own", n.Key)
			}
			keys[n.Key] = true
		}
		for _, s := range texts {
			for _, bad := range []string{"NaN", "Inf", "%!", "e+", "e-"} {
				if strings.Contains(s, bad) {
					t.Errorf("%q in %q", bad, s)
				}
			}
		}
		for _, p := range places(r) {
			if math.IsNaN(p.X) || math.IsNaN(p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) {
				t.Errorf("a place in the picture is %v", p)
			}
		}
		text, err := json.Marshal(r)
		if err != nil {
			t.Fatal(err)
		}
		var read map[string]any
		if err := json.Unmarshal(text, &read); err != nil {
			t.Fatal(err)
		}
		if read["note"] != Explains {
			t.Errorf("note is %v, want %q", read["note"], Explains)
		}
		if len(read) != len(keys)+1 {
			t.Errorf("%d names in JSON for %d numbers and the note", len(read), len(keys))
		}
	})
}

// places are all points of all pictures of a result.
func places(r Result) []Point {
	var all []Point
	if f := r.Figure; f != nil {
		all = append(all, Point{f.X.Min, f.X.Max}, Point{f.Y.Min, f.Y.Max})
		for _, l := range f.Lines {
			all = append(all, Point{l.LabelAt, 0})
			all = append(all, l.Points...)
		}
		for _, m := range f.Marks {
			all = append(all, Point{m.X, m.Y})
		}
		for _, b := range f.Bands {
			all = append(all, Point{b.From, b.To})
		}
	}
	if c := r.Circles; c != nil {
		all = append(all, Point{c.CannerMM, c.JarMM})
		all = append(all, c.Centers...)
	}
	for _, j := range r.Jars {
		all = append(all, Point{j.CenterC, j.RadiusMM})
		for _, row := range j.CellsC {
			for _, c := range row {
				all = append(all, Point{c, 0})
			}
		}
	}
	return all
}

// TestEveryFigureIsDescribed: a figure has a title, words for those who do not see
// it, named axes, and lines of two points or more.
func TestEveryFigureIsDescribed(t *testing.T) {
	t.Parallel()
	eachTried(t, func(t *testing.T, _ *Demo, r Result) {
		f := r.Figure
		if f == nil {
			return
		}
		if f.Title == "" || len(f.Says) < 20 || f.X.Label == "" {
			t.Errorf("title %q, words %q, along %q", f.Title, f.Says, f.X.Label)
		}
		if f.Y.Label == "" && len(f.Y.Names) == 0 {
			t.Error("the upright axis says nothing")
		}
		if len(f.Lines) == 0 {
			t.Error("no lines")
		}
		for _, l := range f.Lines {
			if len(l.Points) < 2 || l.LabelAt < 0 || l.LabelAt > 1 {
				t.Errorf("the line %q has %d points and its name at %v", l.Name, len(l.Points), l.LabelAt)
			}
			if !slices.IsSortedFunc(l.Points, func(a, b Point) int {
				if a.X < b.X {
					return -1
				}
				return 0
			}) {
				t.Errorf("the line %q runs back", l.Name)
			}
		}
	})
}

// TestDemonstrationsDescribeThemselves: what a page and the command line show of
// each, and that each default can be read.
func TestDemonstrationsDescribeThemselves(t *testing.T) {
	t.Parallel()
	names := map[string]bool{}
	for _, d := range shipped(t).Demos() {
		if names[d.Name] {
			t.Errorf("two demonstrations are called %q", d.Name)
		}
		names[d.Name] = true
		for what, text := range map[string]string{"title": d.Title, "question": d.Question, "about": d.About, "leaves": d.Leaves} {
			if text == "" {
				t.Errorf("%s has no %s", d.Name, what)
			}
		}
		if len(d.Sources) == 0 || slices.Contains(d.Sources, "") {
			t.Errorf("%s has the sources %q", d.Name, d.Sources)
		}
		var keys []string
		for _, k := range d.Keys {
			if k.Label == "" || k.Means == "" || slices.Contains(keys, k.Name) {
				t.Errorf("%s %s: label %q, means %q, and each name once", d.Name, k.Name, k.Label, k.Means)
			}
			keys = append(keys, k.Name)
			if k.Default != "" {
				if _, err := k.parse(k.Default); err != nil {
					t.Errorf("%s %s: %v", d.Name, k.Name, err)
				}
			}
			for _, word := range k.Words {
				if _, err := k.parse(word); err != nil {
					t.Errorf("%s %s: %v", d.Name, k.Name, err)
				}
			}
		}
		for _, k := range d.Keys {
			for _, other := range k.Instead {
				if !slices.Contains(keys, other) {
					t.Errorf("%s %s: %q stands in its place, and is no key", d.Name, k.Name, other)
				}
			}
		}
	}
}

// BenchmarkRun runs each demonstration with its defaults.
func BenchmarkRun(b *testing.B) {
	all := shipped(b)
	for _, d := range all.Demos() {
		b.Run(d.Name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := all.Run(d, nil); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// BenchmarkRunOf runs what takes longer than the defaults.
func BenchmarkRunOf(b *testing.B) {
	all := shipped(b)
	for _, bc := range []struct{ demo, given string }{
		{"heating", "then=cooling;cool_time=8 h"},
		{"seals", "a=1000/50000;b=1200/50000"},
		{"seals", "unsealed=1000;jars=100000"},
	} {
		demo, err := all.Demo(bc.demo)
		if err != nil {
			b.Fatal(err)
		}
		given := keyed(strings.Split(bc.given, ";"))
		b.Run(fmt.Sprintf("%s/%s", bc.demo, bc.given), func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := all.Run(demo, given); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
