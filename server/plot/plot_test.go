package plot

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/process"
)

// drawn is a plot as read from its SVG.
type drawn struct {
	title, desc string
	texts       []written
	paths       []traced
}

// written is a text: its lower left corner, from the top left of the plot.
type written struct {
	class, says string
	x, y, size  float64
}

// traced is a path: the points it goes through.
type traced struct {
	class  string
	points [][2]float64
}

// step is a command of a path with its numbers; "A" has five before its point.
var step = regexp.MustCompile(`^(?:[ML]|A(\d+(?:\.\d)?) (\d+(?:\.\d)?) 0 0 [01] )(-?\d+(?:\.\d)?) (-?\d+(?:\.\d)?)|^Z`)

// trace reads the data of a path, which must consist of moves, lines, arcs and
// closures, all in places with at most one decimal.
func trace(data string) ([][2]float64, error) {
	var points [][2]float64
	if !strings.HasPrefix(data, "M") {
		return nil, fmt.Errorf("the path %.60q does not begin with a move", data)
	}
	for rest := data; rest != ""; {
		m := step.FindStringSubmatch(rest)
		if m == nil {
			return nil, fmt.Errorf("%.40q in the path %.60q", rest, data)
		}
		rest = rest[len(m[0]):]
		if m[3] == "" {
			continue
		}
		x, errX := strconv.ParseFloat(m[3], 64)
		y, errY := strconv.ParseFloat(m[4], 64)
		if err := errors.Join(errX, errY); err != nil {
			return nil, err
		}
		points = append(points, [2]float64{x, y})
	}
	return points, nil
}

// read parses a plot. It must be one well-formed element with a title and a
// description that name it, and hold no color or style of its own: the policy of the
// page lets none in.
func read(t rapid.TB, id, svg string) drawn {
	t.Helper()
	var d drawn
	var inside []string
	decoder := xml.NewDecoder(strings.NewReader(svg))
	for {
		token, err := decoder.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatalf("not well-formed: %v\n%s", err, svg)
		}
		switch token := token.(type) {
		case xml.StartElement:
			inside = append(inside, token.Name.Local)
			attributes := map[string]string{}
			for _, a := range token.Attr {
				if _, twice := attributes[a.Name.Local]; twice {
					t.Fatalf("%s has %s twice", token.Name.Local, a.Name.Local)
				}
				attributes[a.Name.Local] = a.Value
			}
			d.open(t, id, inside, attributes)
		case xml.EndElement:
			inside = inside[:len(inside)-1]
		case xml.CharData:
			says := string(token)
			switch at := len(inside) - 1; {
			case at < 0 || strings.TrimSpace(says) == "":
			case inside[at] == "title":
				d.title += says
			case inside[at] == "desc":
				d.desc += says
			case inside[at] == "text":
				d.texts[len(d.texts)-1].says += says
			default:
				t.Fatalf("%q in <%s>", says, inside[at])
			}
		}
	}
	return d
}

// open takes in an element as it begins.
func (d *drawn) open(t rapid.TB, id string, inside []string, attributes map[string]string) {
	t.Helper()
	allowed := map[string][]string{
		"svg":   {"class", "viewBox", "role", "aria-labelledby"},
		"title": {"id"},
		"desc":  {"id"},
		"path":  {"class", "d", "stroke-width", "stroke-dasharray"},
		"text":  {"class", "x", "y", "font-size", "transform"},
	}
	name := inside[len(inside)-1]
	if (name == "svg") != (len(inside) == 1) || len(inside) > 2 || allowed[name] == nil {
		t.Fatalf("<%s> in %q", name, inside)
	}
	for a := range attributes {
		if !slices.Contains(allowed[name], a) {
			t.Fatalf("<%s> has the attribute %s", name, a)
		}
	}
	number := func(a string) float64 {
		v, err := strconv.ParseFloat(attributes[a], 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			t.Fatalf("<%s> has %s=%q", name, a, attributes[a])
		}
		return v
	}
	switch name {
	case "svg":
		want := fmt.Sprintf("%s-title %s-says", id, id)
		if attributes["viewBox"] != fmt.Sprintf("0 0 %d %d", width, height) || attributes["role"] != "img" || attributes["aria-labelledby"] != want {
			t.Fatalf("the plot is %v", attributes)
		}
	case "title", "desc":
		if want := map[string]string{"title": id + "-title", "desc": id + "-says"}[name]; attributes["id"] != want {
			t.Fatalf("<%s> has the id %q, want %q", name, attributes["id"], want)
		}
	case "path":
		points, err := trace(attributes["d"])
		if err != nil {
			t.Fatalf("%v", err)
		}
		if _, stroked := attributes["stroke-width"]; stroked && number("stroke-width") <= 0 {
			t.Fatalf("a line is %s wide", attributes["stroke-width"])
		}
		d.paths = append(d.paths, traced{attributes["class"], points})
	case "text":
		d.texts = append(d.texts, written{class: attributes["class"], x: number("x"), y: number("y"), size: number("font-size")})
	}
}

// margin is how far a line may be over the edge of the view box: half its width.
const margin = 2.5

// inside holds everything drawn to the view box. The width of a text is that of the
// sans-serif font that gonum brings along.
func (d drawn) inside(t rapid.TB) {
	t.Helper()
	for _, p := range d.paths {
		for _, at := range p.points {
			if at[0] < -margin || at[0] > width+margin || at[1] < -margin || at[1] > height+margin {
				t.Errorf("a path of class %q goes to %v, outside of %d by %d", p.class, at, width, height)
			}
		}
	}
	for _, w := range d.texts {
		s := style(ink, 0)
		s.Font.Size = small
		if w.size == large {
			s.Font.Size = large
		}
		right := w.x + float64(s.Width(w.says))
		if w.x < 0 || right > width || w.y < w.size*0.7 || w.y > height {
			t.Errorf("%q runs from %.1f to %.1f at a height of %.1f, outside of %d by %d", w.says, w.x, right, w.y, width, height)
		}
	}
}

// says reports whether a text stands in the plot.
func (d drawn) says(text string) bool {
	return slices.ContainsFunc(d.texts, func(w written) bool { return w.says == text })
}

// figures of the axes: a plain number, and below it the same in brackets.
var (
	plainFigure = regexp.MustCompile(`^-?\d{1,3}(?:\x{00a0}?\d{3})*(?:\.\d+)?$|^-?\d+(?:\.\d+)?$`)
	otherFigure = regexp.MustCompile(`^\((-?[\d\x{00a0}]+(?:\.\d+)?)\)$`)
)

// tick is a figure along an axis.
type tick struct {
	value    float64
	other    float64
	decimals int // of other
	both     bool
}

func number(t rapid.TB, text string) (v float64, decimals int) {
	t.Helper()
	text = strings.ReplaceAll(text, "\u00a0", "")
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatalf("%q: %v", text, err)
	}
	_, after, _ := strings.Cut(text, ".")
	return v, len(after)
}

// axes gives the figures along the level and along the upright axis. Those of the
// level axis all stand at one height, the lowest.
func (d drawn) axes(t rapid.TB, f *bench.Figure) (level, upright []tick) {
	t.Helper()
	var lowest float64
	for _, w := range d.texts {
		if w.class == string(ink) && w.size == small && plainFigure.MatchString(w.says) {
			lowest = max(lowest, w.y)
		}
	}
	for i, w := range d.texts {
		if w.class != string(ink) || w.size != small || !plainFigure.MatchString(w.says) {
			continue
		}
		var k tick
		k.value, _ = number(t, w.says)
		if i+1 < len(d.texts) {
			if m := otherFigure.FindStringSubmatch(d.texts[i+1].says); m != nil {
				if below := d.texts[i+1].y - w.y; below < small-0.2 || below > small+2 {
					t.Errorf("%q stands %v below %q", d.texts[i+1].says, below, w.says)
				}
				k.other, k.decimals = number(t, m[1])
				k.both = true
			}
		}
		if w.y == lowest && f.X.Names == nil {
			level = append(level, k)
		} else {
			upright = append(upright, k)
		}
	}
	return level, upright
}

// checkAxis holds that an axis has two to seven figures, evenly spaced by 1, 2 or 5
// times a power of ten, each a multiple of that, and each in both unit systems.
func checkAxis(t rapid.TB, name string, a bench.Axis, ticks []tick) {
	t.Helper()
	if len(ticks) < 2 || len(ticks) > 7 {
		t.Errorf("%s: %d figures, want two to seven: %v", name, len(ticks), ticks)
		return
	}
	apart := ticks[1].value - ticks[0].value
	mantissa := apart / math.Pow(10, math.Floor(math.Log10(apart)+1e-9))
	if !slices.ContainsFunc([]float64{1, 2, 5}, func(round float64) bool { return math.Abs(mantissa-round) < 1e-6 }) {
		t.Errorf("%s: figures are %v apart, which is not round", name, apart)
	}
	for i, k := range ticks {
		if off := math.Abs(k.value/apart - math.Round(k.value/apart)); off > 1e-6 {
			t.Errorf("%s: %v is no multiple of %v", name, k.value, apart)
		}
		if i > 0 && math.Abs(k.value-ticks[i-1].value-apart) > 1e-6*apart {
			t.Errorf("%s: from %v to %v, others are %v apart", name, ticks[i-1].value, k.value, apart)
		}
		if k.both != (a.Other != nil) {
			t.Errorf("%s: %v stands in both unit systems: %v, the axis has another unit: %v", name, k.value, k.both, a.Other != nil)
			continue
		}
		if a.Other == nil {
			continue
		}
		want := k.value*a.Other.Factor + a.Other.Offset
		if math.Abs(k.other-want) > 0.5*math.Pow(10, -float64(k.decimals))+1e-9 {
			t.Errorf("%s: %v %s is given as %v %s, and is %v", name, k.value, a.Unit, k.other, a.Other.Unit, want)
		}
	}
}

// shipped is a bench with the published table.
func shipped(t testing.TB) *bench.Bench {
	t.Helper()
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	return bench.New(table)
}

// figureOf runs a demonstration with values such as "altitude=0 ft;pressure=5 psi".
func figureOf(t testing.TB, b *bench.Bench, name, given string) *bench.Figure {
	t.Helper()
	demo, err := b.Demo(name)
	if err != nil {
		t.Fatal(err)
	}
	values := map[string]string{}
	for _, g := range strings.Split(given, ";") {
		if key, text, found := strings.Cut(g, "="); found {
			values[key] = text
		}
	}
	r, err := b.Run(demo, values)
	if err != nil {
		t.Fatalf("%s %s: %v", name, given, err)
	}
	return r.Figure
}

// extremes are values at the ends of what the demonstrations take.
var extremes = []struct{ demo, given string }{
	{"boiling-point", "altitude=0 ft"},
	{"boiling-point", "altitude=-1500 ft"},
	{"boiling-point", "altitude=30 000 ft"},
	{"boiling-point", "boiling=203 F"},
	{"gauge", "altitude=0 ft;pressure=11 psi"},
	{"gauge", "altitude=8000 ft;pressure=15 psi"},
	{"gauge", "altitude=10 000 ft;temp=240 F"},
	{"jars", "altitude=0 ft"},
	{"jars", "altitude=30 000 ft;start=20 C;food=thin"},
	{"jars", "altitude=-1500 ft;start=101 C;time=100 min"},
	{"heating", "start=100 C;bath=100 C"},
	{"heating", "start=100 C;bath=5 C"},
	{"heating", "then=cooling;cool_time=10 h;time=2 min"},
	{"heating", "start=-40 C;bath=600 C;time=60 days"},
	{"lethality", "time=0 min"},
	{"lethality", "ref=250 F;z=18 F"},
	{"lethality", "start=20 C;bath=60 C"},
	{"lethality", "ref=60 C;z=9 C"},
	{"vacuum", "residual_air=1"},
	{"vacuum", "close=99.9 C;cool=99.8 C"},
	{"vacuum", "altitude=30 000 ft;close=60 C"},
	{"vacuum", "close=5 C;cool=1 C;headspace=1 ml"},
	{"lid", "vacuum=29.9 inHg;wet=true"},
	{"lid", "diameter=40 mm;thickness=0.5 mm"},
	{"acid", "add=citric;amount=1/2 tsp"},
	{"acid", "add=vinegar;amount=4 tbsp"},
	{"acid", "ph=7;ta=0.05"},
	{"acid", "add=citric;amount=0.01 g;volume=100 ml"},
	{"seals", "unsealed=0;jars=7"},
	{"seals", "unsealed=7;jars=7"},
	{"seals", "unsealed=50000;jars=100000"},
	{"seals", "a=2/14;b=0/14"},
	{"seals", "a=0/7;b=7/7"},
	{"cook-down", "from=50;to=50"},
	{"cook-down", "from=0.5;to=0.5;mass=10 g"},
	{"cook-down", "from=0.5;to=40;mass=900 kg"},
}

// eachFigure draws the figure of every demonstration with its defaults, and those of
// extremes.
func eachFigure(t *testing.T, check func(t *testing.T, f *bench.Figure, d drawn)) {
	t.Helper()
	b := shipped(t)
	run := func(name, given string) {
		f := figureOf(t, b, name, given)
		if f == nil {
			return
		}
		t.Run(name+" "+given, func(t *testing.T) {
			svg, err := Draw("plot-"+name, f)
			if err != nil {
				t.Fatal(err)
			}
			check(t, f, read(t, "plot-"+name, string(svg)))
		})
	}
	for _, d := range b.Demos() {
		run(d.Name, "")
	}
	for _, tc := range extremes {
		run(tc.demo, tc.given)
	}
}

// TestPlotsAreWhole: a plot is named and described, everything in it lies within its
// frame, and each word of the figure is written.
func TestPlotsAreWhole(t *testing.T) {
	t.Parallel()
	eachFigure(t, func(t *testing.T, f *bench.Figure, d drawn) {
		if d.title != f.Title || d.desc != f.Says {
			t.Errorf("named %q and described %q, want %q and %q", d.title, d.desc, f.Title, f.Says)
		}
		d.inside(t)
		var areas, modeled, published int
		for _, p := range d.paths {
			switch {
			case strings.HasPrefix(p.class, "area "):
				areas++
			case p.class == "line "+string(tested):
				published++
			case p.class == "line "+string(model) || p.class == "line "+string(second):
				modeled++
			}
		}
		wantAreas, wantModeled, wantPublished := len(f.Bands), 0, 0
		for _, m := range f.Marks {
			if m.Kind == bench.AtPoint {
				wantAreas++
			} else if m.Tested {
				wantPublished++
			}
		}
		for _, l := range f.Lines {
			if l.Style == bench.Tested {
				wantPublished++
			} else {
				wantModeled++
			}
		}
		if areas != wantAreas || modeled < wantModeled || published < wantPublished {
			t.Errorf("%d bands and marks, %d lines of models, %d of published values; want %d, %d and %d", areas, modeled, published, wantAreas, wantModeled, wantPublished)
		}
		var wanted []string
		for _, l := range f.Lines {
			wanted = append(wanted, l.Name)
		}
		for _, m := range f.Marks {
			wanted = append(wanted, m.Text)
		}
		for _, b := range f.Bands {
			wanted = append(wanted, b.Text)
		}
		for _, text := range append(wanted, f.Y.Names...) {
			if text != "" && !d.says(text) {
				t.Errorf("%q is not written in the plot", text)
			}
		}
		for _, a := range []bench.Axis{f.X, f.Y} {
			named := a.Label
			if a.Unit != "" {
				named += ", " + a.Unit
			}
			if a.Other != nil {
				named += " (" + a.Other.Unit + ")"
			}
			if named != "" && !d.says(named) {
				t.Errorf("%q is not written along its axis", named)
			}
		}
	})
}

// TestFiguresAlongAxes are round numbers in both unit systems.
func TestFiguresAlongAxes(t *testing.T) {
	t.Parallel()
	eachFigure(t, func(t *testing.T, f *bench.Figure, d drawn) {
		level, upright := d.axes(t, f)
		checkAxis(t, f.X.Label, f.X, level)
		if f.Y.Names == nil {
			checkAxis(t, f.Y.Label, f.Y, upright)
		} else if len(upright) != 0 {
			t.Errorf("names stand along the upright axis, and so do %v", upright)
		}
	})
}

// TestKindsOfLinesDiffer: lines and marks differ by more than their color, for those
// who see none: what it is compared with is dashed, published values are thicker.
func TestKindsOfLinesDiffer(t *testing.T) {
	t.Parallel()
	var f bench.Figure
	for i, s := range []bench.Style{bench.Model, bench.Second, bench.Faint, bench.Tested} {
		f.Lines = append(f.Lines, bench.Line{Style: s, Points: []bench.Point{{X: 0, Y: float64(i)}, {X: 1, Y: float64(i)}}})
	}
	f.Marks = []bench.Mark{{X: 0.3, Y: 1.5}, {X: 0.6, Y: 1.5, Tested: true}}
	svg, err := Draw("p", &f)
	if err != nil {
		t.Fatal(err)
	}
	lines := regexp.MustCompile(`<path class="line (\w+)" stroke-width="([0-9.]+)"( stroke-dasharray)?`)
	seen := map[string]bool{}
	for _, m := range lines.FindAllStringSubmatch(string(svg), -1) {
		if m[1] != string(quiet) || m[2] != "1" { // the axes, and what is faint
			seen[m[2]+m[3]] = true
		}
	}
	if len(seen) != 3 {
		t.Errorf("widths and dashes of three kinds of lines: %v", seen)
	}
	round, square := 0, 0
	for _, m := range regexp.MustCompile(`<path class="area \w+" d="([^"]+)"`).FindAllStringSubmatch(string(svg), -1) {
		if strings.Contains(m[1], "A") {
			round++
		} else {
			square++
		}
	}
	if round != 1 || square != 1 {
		t.Errorf("%d round and %d square marks, want one of each: values of a model are round, published ones square", round, square)
	}
}

// TestWordsAreEscaped: what a figure says cannot become markup.
func TestWordsAreEscaped(t *testing.T) {
	t.Parallel()
	const nasty = `<b>"é" & '東'`
	f := &bench.Figure{
		Title: nasty + " title", Says: nasty + " says",
		X: bench.Axis{Label: nasty + " x"}, Y: bench.Axis{Names: []string{nasty + " y"}, Min: -1, Max: 1},
		Lines: []bench.Line{{Name: nasty + " line", Points: []bench.Point{{X: 0, Y: 0}, {X: 1, Y: 0.5}}}},
		Marks: []bench.Mark{{X: 0.5, Y: 0, Text: nasty + " mark"}},
		Bands: []bench.Band{{From: -0.5, To: 0.5, Text: nasty + " band"}},
	}
	svg, err := Draw("p", f)
	if err != nil {
		t.Fatal(err)
	}
	d := read(t, "p", string(svg))
	if d.title != f.Title || d.desc != f.Says {
		t.Errorf("named %q and described %q", d.title, d.desc)
	}
	for _, end := range []string{" x", " y", " line", " mark", " band"} {
		if !d.says(nasty + end) {
			t.Errorf("%q is not written", nasty+end)
		}
	}
}

// TestAnyFigure: whatever the points are, the plot is well-formed, its lines stay
// within its frame, and each name and mark is written.
func TestAnyFigure(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		// From a thousandth to a million wide, anywhere within a thousand widths of zero.
		span := func(name string) (low, high float64) {
			size := math.Pow(10, rapid.Float64Range(-3, 6).Draw(t, name+" size"))
			low = size * rapid.Float64Range(-1000, 1000).Draw(t, name+" low")
			return low, low + size
		}
		lowX, highX := span("x")
		lowY, highY := span("y")
		point := func(name string) bench.Point {
			return bench.Point{X: rapid.Float64Range(lowX, highX).Draw(t, name+" x"), Y: rapid.Float64Range(lowY, highY).Draw(t, name+" y")}
		}
		f := &bench.Figure{Title: "Any figure", Says: "Any points.", Lines: []bench.Line{{Points: []bench.Point{{X: lowX, Y: lowY}, {X: highX, Y: highY}}}}}
		for i := range rapid.IntRange(1, 3).Draw(t, "lines") {
			l := bench.Line{Name: fmt.Sprint("line ", i), Style: bench.Style(i), LabelAt: rapid.Float64Range(0, 1).Draw(t, "label"), Below: rapid.Bool().Draw(t, "below")}
			for range rapid.IntRange(2, 20).Draw(t, "points") {
				l.Points = append(l.Points, point("line"))
			}
			f.Lines = append(f.Lines, l)
		}
		for i := range rapid.IntRange(0, 3).Draw(t, "marks") {
			p := point("mark")
			f.Marks = append(f.Marks, bench.Mark{Kind: bench.MarkKind(i), X: p.X, Y: p.Y, Text: fmt.Sprint("mark ", i), Tested: i == 1})
		}
		svg, err := Draw("p", f)
		if err != nil {
			t.Fatal(err)
		}
		d := read(t, "p", string(svg))
		for _, p := range d.paths {
			for _, at := range p.points {
				if at[0] < -margin || at[0] > width+margin || at[1] < -margin || at[1] > height+margin {
					t.Fatalf("a path of class %q goes to %v", p.class, at)
				}
			}
		}
		for _, l := range f.Lines {
			if l.Name != "" && !d.says(l.Name) {
				t.Fatalf("%q is not written", l.Name)
			}
		}
		for _, m := range f.Marks {
			if !d.says(m.Text) {
				t.Fatalf("%q is not written", m.Text)
			}
		}
	})
}

// TestTicks: round figures within the range, at most so many, the first and the last
// of them within one step of its ends.
func TestTicks(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		low, high float64
		want      string
	}{
		{0, 10_000, "0|2\u00a0000|4\u00a0000|6\u00a0000|8\u00a0000|10\u00a0000"},
		{0, 30_000, "0|10\u00a0000|20\u00a0000|30\u00a0000"},
		{194, 212, "195|200|205|210"},
		{0.1, 1, "0.2|0.4|0.6|0.8|1.0"},
		{3, 4.8, "3.0|3.5|4.0|4.5"},
		{-1500, 1500, "-1\u00a0000|0|1\u00a0000"},
		{0.00012, 0.00031, "0.00015|0.00020|0.00025|0.00030"},
	} {
		var got []string
		for _, k := range ticks(tc.low, tc.high, 5, nil) {
			got = append(got, k.Label)
		}
		if s := strings.Join(got, "|"); s != tc.want {
			t.Errorf("from %v to %v: %s, want %s", tc.low, tc.high, s, tc.want)
		}
	}
}

// TestTicksOfAnyRange: what is written is the value, to a millionth of a step.
func TestTicksOfAnyRange(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		size := math.Pow(10, rapid.Float64Range(-6, 9).Draw(t, "size"))
		low := size * rapid.Float64Range(-100, 100).Draw(t, "low")
		list := ticks(low, low+size, 5, nil)
		if len(list) < 2 || len(list) > 6 {
			t.Fatalf("%d figures from %v to %v", len(list), low, low+size)
		}
		apart := list[1].Value - list[0].Value
		for i, k := range list {
			if k.Value < low-1e-6*size || k.Value > low+size*(1+1e-6) {
				t.Fatalf("%v is not from %v to %v", k.Value, low, low+size)
			}
			v, _ := number(t, k.Label)
			if math.Abs(v-k.Value) > 1e-6*apart {
				t.Fatalf("%v is written %q", k.Value, k.Label)
			}
			if i > 0 && list[i-1].Label == k.Label {
				t.Fatalf("%q stands twice", k.Label)
			}
		}
		if list[0].Value-low > apart*(1+1e-6) || low+size-list[len(list)-1].Value > apart*(1+1e-6) {
			t.Fatalf("figures from %v to %v leave more than a step of %v to %v bare", list[0].Value, list[len(list)-1].Value, low, low+size)
		}
	})
}

// BenchmarkDraw draws the figure of each demonstration with its defaults.
func BenchmarkDraw(b *testing.B) {
	all := shipped(b)
	for _, d := range all.Demos() {
		f := figureOf(b, all, d.Name, "")
		if f == nil {
			continue
		}
		b.Run(d.Name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if _, err := Draw("p", f); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
