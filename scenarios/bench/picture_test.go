package bench

import (
	"strings"
	"testing"
)

// TestWrongReadingIsPlaced: of many readings, the message names the line that is out
// of order, counted in the file.
func TestWrongReadingIsPlaced(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	err := refused(t, b, "lethality", "curve="+readings(t, "0,85\n10,90\n20,95\n15,96\n30,97\n"))
	if !strings.Contains(err.Error(), "reading 4") && !strings.Contains(err.Error(), "readings.csv:4:") {
		t.Errorf("the fourth reading is out of order: %v", err)
	}
	err = refused(t, b, "lethality", "curve="+readings(t, "0,85\n10,90\n20,950\n30,97\n"))
	if !strings.Contains(err.Error(), "reading 3") && !strings.Contains(err.Error(), "readings.csv:3:") {
		t.Errorf("the third reading is too hot: %v", err)
	}
}

// TestPictureNeverRefuses: values that the model holds for are not refused because
// its picture would reach beyond.
func TestPictureNeverRefuses(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct{ demo, given string }{
		{"acid", "amount=300 ml"}, // a third of a quart
		{"acid", "add=vinegar;amount=1 cup;volume=1 pint"},
		{"heating", "time=1 min"}, // the series holds from a second or two on
		{"heating", "time=0 min"},
		{"seals", "a=500/1000;b=501/1000"}, // Fisher's test needs no number of jars
		{"seals", "a=0/7;b=1/7;difference=0 %"},
		{"vacuum", "cool=151.1 F"}, // below the 90 C at which the lid closes
		{"fit", "canner=13 in;jar=2 1/2 in"},
	} {
		demo, err := b.Demo(tc.demo)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := b.Run(demo, keyed(strings.Split(tc.given, ";"))); err != nil {
			t.Errorf("%s %s: %v", tc.demo, tc.given, err)
		}
	}
}

// TestChanceIsSayable: a probability too small to be told is no number without end.
func TestChanceIsSayable(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, given := range [][]string{{"a=0/1000", "b=1000/1000"}, {"a=0/100", "b=100/100"}} {
		says := result(t, b, "seals", given...).Says[0]
		if strings.Contains(says, "Inf") || len(says) > 200 {
			t.Errorf("%q", says)
		}
	}
}

// TestCookDownEndsAtTheModel: no row of the table, and no point of the line, has more
// solids than the model goes to (50 %).
func TestCookDownEndsAtTheModel(t *testing.T) {
	t.Parallel()
	r := result(t, shipped(t), "cook-down", "from=5", "to=50")
	points := r.Figure.Lines[0].Points
	if last := points[len(points)-1]; last.X > 50 {
		t.Errorf("the line goes to %v %% of solids, %v kg", last.X, last.Y)
	}
}

// TestCurveStandsAlone: a file of readings and an fh are alternatives.
func TestCurveStandsAlone(t *testing.T) {
	t.Parallel()
	err := refused(t, shipped(t), "lethality", "curve="+readings(t, "0,85\n10,90\n"), "fh=30 min")
	if len(KeyErrors(err)) != 1 {
		t.Errorf("%v", err)
	}
}

// TestMarkOnTheFigure: the mark of what was asked lies within the axes.
func TestMarkOnTheFigure(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct{ demo, given string }{
		{"gauge", "altitude=0 ft;pressure=5 psi"},
		{"gauge", "altitude=10 000 ft;temp=250 F"},
		{"gauge", "altitude=12 000 ft"},
		{"gauge", "altitude=-200 ft"},
		{"acid", "add=citric;amount=2 tbsp"},
	} {
		f := result(t, b, tc.demo, strings.Split(tc.given, ";")...).Figure
		for _, m := range f.Marks {
			for _, a := range []struct {
				axis Axis
				at   float64
				on   bool
			}{{f.X, m.X, m.Kind != AtY}, {f.Y, m.Y, m.Kind != AtX}} {
				if a.on && a.axis.Max > a.axis.Min && (a.at < a.axis.Min || a.at > a.axis.Max) {
					t.Errorf("%s %s: the mark %q at %v is off the axis from %v to %v", tc.demo, tc.given, m.Text, a.at, a.axis.Min, a.axis.Max)
				}
			}
		}
	}
}
