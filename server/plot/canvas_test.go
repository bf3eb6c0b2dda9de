package plot

import (
	"image/color"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
	"pgregory.net/rapid"
)

// traceOf draws a line through points and gives what the canvas wrote of it.
func traceOf(t *testing.T, c *canvas, points ...vg.Point) [][2]float64 {
	t.Helper()
	c.buf.Reset()
	var p vg.Path
	p.Move(points[0])
	for _, at := range points[1:] {
		p.Line(at)
	}
	c.SetLineWidth(1)
	c.Stroke(p)
	m := regexp.MustCompile(` d="([^"]*)"`).FindStringSubmatch(c.buf.String())
	if m == nil {
		t.Fatalf("no path in %q", c.buf.String())
	}
	got, err := trace(m[1])
	if err != nil {
		t.Fatal(err)
	}
	return got
}

func wantPoints(t *testing.T, what string, got [][2]float64, want ...[2]float64) {
	t.Helper()
	if len(got) != len(want) {
		t.Errorf("%s: %v, want %v", what, got, want)
		return
	}
	for i := range want {
		if math.Abs(got[i][0]-want[i][0]) > 0.051 || math.Abs(got[i][1]-want[i][1]) > 0.051 {
			t.Errorf("%s: %v, want %v", what, got, want)
		}
	}
}

// TestOriginAndTurns: a plot is drawn from the lower left with angles
// counterclockwise, SVG from the top left. Turns and moves add up, each in the
// coordinates that the ones before it left, as in PostScript and PDF.
func TestOriginAndTurns(t *testing.T) {
	t.Parallel()
	c := newCanvas(400, 300)
	if w, h := c.Size(); w != 400 || h != 300 {
		t.Errorf("the canvas is %v by %v", w, h)
	}
	right, up := vg.Point{X: 10}, vg.Point{Y: 10}
	wantPoints(t, "corners", traceOf(t, c, vg.Point{}, vg.Point{X: 400, Y: 300}), [2]float64{0, 300}, [2]float64{400, 0})

	c.Push()
	c.Translate(vg.Point{X: 100, Y: 50})
	wantPoints(t, "moved", traceOf(t, c, vg.Point{}, right, up), [2]float64{100, 250}, [2]float64{110, 250}, [2]float64{100, 240})
	c.Rotate(math.Pi / 2)
	wantPoints(t, "moved, turned a quarter", traceOf(t, c, vg.Point{}, right, up), [2]float64{100, 250}, [2]float64{100, 240}, [2]float64{90, 250})
	c.Translate(vg.Point{X: 20})
	wantPoints(t, "and moved to what is its right now", traceOf(t, c, vg.Point{}, right), [2]float64{100, 230}, [2]float64{100, 220})
	c.Push()
	c.Rotate(-math.Pi / 4)
	wantPoints(t, "and turned back by half of it", traceOf(t, c, right), [2]float64{107.1, 222.9})
	c.Pop()
	wantPoints(t, "as before", traceOf(t, c, vg.Point{}, right), [2]float64{100, 230}, [2]float64{100, 220})
	c.Pop()
	wantPoints(t, "as at first", traceOf(t, c, vg.Point{}), [2]float64{0, 300})
}

// TestTurnsKeepDistances: whatever moves and turns came before, a square stays a
// square, and is not mirrored but for SVG's downward axis.
func TestTurnsKeepDistances(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := newCanvas(400, 300)
		for range rapid.IntRange(0, 5).Draw(t, "steps") {
			c.Translate(vg.Point{X: vg.Length(rapid.Float64Range(-100, 100).Draw(t, "right")), Y: vg.Length(rapid.Float64Range(-100, 100).Draw(t, "up"))})
			c.Rotate(rapid.Float64Range(-7, 7).Draw(t, "turn"))
		}
		ox, oy := c.at(vg.Point{})
		rx, ry := c.at(vg.Point{X: 10})
		ux, uy := c.at(vg.Point{Y: 10})
		if r, u := math.Hypot(rx-ox, ry-oy), math.Hypot(ux-ox, uy-oy); math.Abs(r-10) > 1e-9 || math.Abs(u-10) > 1e-9 {
			t.Fatalf("sides of 10 became %v and %v", r, u)
		}
		if turned := (rx-ox)*(uy-oy) - (ry-oy)*(ux-ox); math.Abs(turned+100) > 1e-9 {
			t.Fatalf("a square of 100 became %v", turned)
		}
	})
}

// piece is one arc of SVG: the radius and the sweep flag between two points.
type piece struct {
	from, to [2]float64
	radius   float64
	sweep    bool
}

var arcs = regexp.MustCompile(`([ML])(-?[\d.]+) (-?[\d.]+)|A([\d.]+) ([\d.]+) 0 0 ([01]) (-?[\d.]+) (-?[\d.]+)`)

// pieces reads the arcs of a path.
func pieces(t rapid.TB, data string) (list []piece) {
	t.Helper()
	if _, err := trace(data); err != nil {
		t.Fatalf("%v", err)
	}
	number := func(s string) float64 {
		v, err := strconv.ParseFloat(s, 64)
		if err != nil {
			t.Fatalf("%q in %q: %v", s, data, err)
		}
		return v
	}
	var at [2]float64
	for _, m := range arcs.FindAllStringSubmatch(data, -1) {
		if m[1] != "" {
			at = [2]float64{number(m[2]), number(m[3])}
			continue
		}
		if m[4] != m[5] {
			t.Fatalf("%q is no part of a circle", m[0])
		}
		to := [2]float64{number(m[7]), number(m[8])}
		list = append(list, piece{at, to, number(m[4]), m[6] == "1"})
		at = to
	}
	return list
}

// center is where a small arc of a circle has its middle: SVG 1.1 (second edition),
// appendix F.6.5, for equal radii without rotation, with the radius stretched where
// it is too small to reach (F.6.6).
func (p piece) center() (x, y float64) {
	halfX, halfY := (p.from[0]-p.to[0])/2, (p.from[1]-p.to[1])/2
	chord := halfX*halfX + halfY*halfY
	off := math.Sqrt(max(0, p.radius*p.radius/chord-1))
	if !p.sweep { // of a small arc: its large-arc flag is 0
		off = -off
	}
	return (p.from[0]+p.to[0])/2 + off*halfY, (p.from[1]+p.to[1])/2 - off*halfX
}

// TestArc: each arc goes around the middle it was given, by the angle it was given,
// counterclockwise as seen, which is SVG's sweep flag 0. For nearly whole turns, of
// which each half is nearly a diameter, rounding leaves too little to tell the middle.
func TestArc(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		c := newCanvas(400, 300)
		at := vg.Point{X: vg.Length(rapid.Float64Range(100, 300).Draw(t, "x")), Y: vg.Length(rapid.Float64Range(100, 200).Draw(t, "y"))}
		radius := rapid.Float64Range(20, 90).Draw(t, "radius")
		start := rapid.Float64Range(-7, 7).Draw(t, "start")
		angle := rapid.Float64Range(0.5*math.Pi, 1.6*math.Pi).Draw(t, "angle")
		if rapid.Bool().Draw(t, "clockwise") {
			angle = -angle
		}
		var p vg.Path
		p.Move(vg.Point{X: at.X + vg.Length(radius*math.Cos(start)), Y: at.Y + vg.Length(radius*math.Sin(start))})
		p.Arc(at, vg.Length(radius), start, angle)
		c.Fill(p)
		_, data, _ := strings.Cut(c.buf.String(), ` d="`)
		data, _, _ = strings.Cut(data, `"`)
		list := pieces(t, data)
		if len(list) != 2 {
			t.Fatalf("%d arcs in %q, want two halves", len(list), data)
		}
		turned := 0.0
		for _, arc := range list {
			if arc.sweep != (angle < 0) {
				t.Fatalf("an arc of %v has the sweep flag %v", angle, arc.sweep)
			}
			x, y := arc.center()
			// Places rounded to tenths move the middle by so much.
			if math.Hypot(x-float64(at.X), y-(300-float64(at.Y))) > 0.5 || math.Abs(arc.radius-radius) > 0.051 {
				t.Fatalf("an arc around (%.2f, %.2f) of %v, want around (%.2f, %.2f) of %v", x, y, arc.radius, at.X, 300-at.Y, radius)
			}
			from, to := math.Atan2(y-arc.from[1], arc.from[0]-x), math.Atan2(y-arc.to[1], arc.to[0]-x)
			part := to - from
			for angle > 0 && part < 0 {
				part += 2 * math.Pi
			}
			for angle < 0 && part > 0 {
				part -= 2 * math.Pi
			}
			turned += part
		}
		if math.Abs(turned-angle) > 0.05 {
			t.Fatalf("the arcs turn by %v, want %v", turned, angle)
		}
	})
}

// TestCircle: a whole turn, which SVG has no single arc for.
func TestCircle(t *testing.T) {
	t.Parallel()
	c := newCanvas(400, 300)
	var p vg.Path
	p.Move(vg.Point{X: 60, Y: 50})
	p.Arc(vg.Point{X: 50, Y: 50}, 10, 0, 2*math.Pi)
	p.Close()
	c.SetColor(model)
	c.Fill(p)
	if got, want := c.buf.String(), `<path class="area model" d="M60 250L60 250A10 10 0 0 0 40 250A10 10 0 0 0 60 250Z"/>`+"\n"; got != want {
		t.Errorf("a circle of 10 around (50, 50) is\n%s, want\n%s", got, want)
	}
}

// TestStrokes: width and dashes are written, no color is; a line without width is not
// drawn.
func TestStrokes(t *testing.T) {
	t.Parallel()
	c := newCanvas(400, 300)
	var p vg.Path
	p.Move(vg.Point{})
	p.Line(vg.Point{X: 10.04, Y: 0.06})
	c.SetColor(second)
	c.Stroke(p)
	if c.buf.Len() != 0 {
		t.Errorf("without width: %q", c.buf.String())
	}
	c.SetLineWidth(2)
	c.SetLineDash([]vg.Length{6, 4}, 0)
	c.Stroke(p)
	if got, want := c.buf.String(), `<path class="line second" stroke-width="2" stroke-dasharray="6 4" d="M0 300L10 299.9"/>`+"\n"; got != want {
		t.Errorf("dashed: %q, want %q", got, want)
	}
	c.buf.Reset()
	c.SetLineDash(nil, 0)
	c.SetColor(color.RGBA{R: 255, A: 255}) // of no paint of ours
	c.Stroke(p)
	if got, want := c.buf.String(), `<path class="line ink" stroke-width="2" d="M0 300L10 299.9"/>`+"\n"; got != want {
		t.Errorf("in red: %q, want %q", got, want)
	}
}

// TestPushKeepsTheState: colors, widths and dashes come back with Pop.
func TestPushKeepsTheState(t *testing.T) {
	t.Parallel()
	c := newCanvas(400, 300)
	var p vg.Path
	p.Move(vg.Point{})
	p.Line(vg.Point{X: 1})
	c.SetColor(quiet)
	c.SetLineWidth(1)
	c.Stroke(p)
	before := c.buf.String()
	c.Push()
	c.SetColor(model)
	c.SetLineWidth(3)
	c.SetLineDash([]vg.Length{1}, 0)
	c.Translate(vg.Point{X: 5})
	c.Pop()
	c.buf.Reset()
	c.Stroke(p)
	if got := c.buf.String(); got != before {
		t.Errorf("after Pop %q, before Push %q", got, before)
	}
}

// TestTexts stand upright, or turned around their lower left corner. SVG turns
// clockwise.
func TestTexts(t *testing.T) {
	t.Parallel()
	c := newCanvas(400, 300)
	face := font.Face{Font: font.Font{Size: 12}}
	c.SetColor(ink)
	c.FillString(face, vg.Point{X: 10, Y: 20}, `a<b & "c"`)
	if got, want := c.buf.String(), `<text class="ink" x="10" y="280" font-size="12">a&lt;b &amp; &#34;c&#34;</text>`+"\n"; got != want {
		t.Errorf("upright: %q, want %q", got, want)
	}
	c.buf.Reset()
	c.Rotate(math.Pi / 2)
	c.FillString(face, vg.Point{X: 10, Y: -20}, "up")
	if got, want := c.buf.String(), `<text class="ink" x="20" y="290" font-size="12" transform="rotate(-90 20 290)">up</text>`+"\n"; got != want {
		t.Errorf("turned: %q, want %q", got, want)
	}
}

// TestShort: tenths, without an exponent, a needless zero or a sign of zero.
func TestShort(t *testing.T) {
	t.Parallel()
	for v, want := range map[float64]string{0: "0", -0.04: "0", 0.04: "0", 0.05: "0.1", 12: "12", 12.34: "12.3", -7.96: "-8", 1e7: "10000000", -0.06: "-0.1"} {
		if got := short(v); got != want {
			t.Errorf("%v is written %q, want %q", v, got, want)
		}
	}
	if got := short(math.Copysign(0, -1)); got != "0" {
		t.Errorf("minus zero is written %q", got)
	}
}
