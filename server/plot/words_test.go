package plot

import (
	"testing"

	"rollingboil/scenarios/bench"
)

// TestFlatLine: values that differ by no more than their last bit end in a plot, not
// in ticks without end. (Until it is mended this test eats all memory: run it with
// ulimit -v.)
func TestFlatLine(t *testing.T) {
	t.Parallel()
	svg, err := Draw("p", figureOf(t, shipped(t), "heating", "start=212 F;bath=212 F;then=cooling;air=212.000000001 F;k=10;u_air=0.1;cool_time=2 min"))
	if err != nil {
		t.Fatal(err)
	}
	read(t, "p", string(svg)).inside(t)
}

// TestZeroHasNoSign along an axis.
func TestZeroHasNoSign(t *testing.T) {
	t.Parallel()
	for _, span := range [][2]float64{{0, 1}, {-0.5, 0.5}, {0, 0.03}} {
		for _, k := range ticks(span[0], span[1], 5, &bench.Other{Unit: "x", Factor: 0.1}) {
			if k.Label[:2] == "-0" && k.Value > -1e-9 {
				t.Errorf("from %v to %v: zero is written %q", span[0], span[1], k.Label)
			}
		}
	}
}

// TestFiguresDiffer: no two figures along an axis are written alike, in either unit.
func TestFiguresDiffer(t *testing.T) {
	t.Parallel()
	eachFigure(t, func(t *testing.T, f *bench.Figure, d drawn) {
		level, upright := d.axes(t, f)
		for _, ticks := range [][]tick{level, upright} {
			for i := 1; i < len(ticks); i++ {
				if ticks[i].both && ticks[i].other == ticks[i-1].other {
					t.Errorf("both %v and %v are given as (%v)", ticks[i-1].value, ticks[i].value, ticks[i].other)
				}
			}
		}
	})
}

// TestWordsStandApart: no two texts of a plot with default values lie on each other.
func TestWordsStandApart(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	type shown struct{ name, with string }
	// As they open, and two as lessons show them.
	list := []shown{{"heating", "radius=45 mm;half_height=72 mm;bath=200 F;time=60 min;then=cooling;air=70 F"}, {"vacuum", "altitude=6240 ft;close=85 C"}}
	for _, demo := range b.Demos() {
		list = append(list, shown{demo.Name, ""})
	}
	for _, demo := range list {
		f := figureOf(t, b, demo.name, demo.with)
		if f == nil {
			continue
		}
		svg, err := Draw("p", f)
		if err != nil {
			t.Fatal(err)
		}
		texts := read(t, "p", string(svg)).texts
		right := func(w written) float64 {
			s := style(ink, small)
			if w.size == large {
				s = style(ink, large)
			}
			return w.x + float64(s.Width(w.says))
		}
		for i, a := range texts {
			for _, c := range texts[:i] {
				wide := min(right(a), right(c)) - max(a.x, c.x)
				high := min(a.y, c.y) - max(a.y-a.size*0.72, c.y-c.size*0.72)
				if wide > 1 && high > 1 {
					t.Errorf("%s: %q lies on %q, by %.1f and %.1f", demo.name, a.says, c.says, wide, high)
				}
			}
		}
	}
}
