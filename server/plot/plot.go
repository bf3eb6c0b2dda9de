// Package plot draws the figures of demonstrations as SVG that a page can hold:
// without colors or styles of its own, so that they come from the style sheet, and
// in a size at which its words are legible on a phone.
package plot

import (
	"fmt"
	"html/template"
	"math"
	"strconv"
	"strings"

	goplot "gonum.org/v1/plot"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/plotter"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"

	"rollingboil/scenarios/bench"
)

// The size of a plot, in its own units. A phone shows it about one to one.
const (
	width  = 400
	height = 300
	small  = 12 // figures along an axis, words beside a line
	large  = 13 // what an axis shows

	offset  = 7   // of words, from what they name
	plotted = 320 // about how much of the width lies between the ends of the axis
)

// The paints of a plot; the style sheet gives each its color.
const (
	ink    paint = "ink"
	quiet  paint = "quiet"
	model  paint = "model"
	second paint = "second"
	tested paint = "tested"
	band   paint = "band"
)

// Draw draws a figure. Its title and its words become the accessible name and
// description; id tells apart several figures on one page.
func Draw(id string, f *bench.Figure) (template.HTML, error) {
	p := goplot.New()
	p.BackgroundColor = nil
	axis(&p.X, f.X, 5)
	axis(&p.Y, f.Y, 5)
	up := p.Y.Label.Text
	p.Y.Label.Text = "" // stands level above its axis, where it is easier to read
	if f.Y.Names != nil {
		p.Y.Tick.Label.XAlign = draw.XRight
	}
	low, high := reach(f)
	for _, b := range f.Bands {
		box, err := plotter.NewPolygon(plotter.XYs{{X: low.X, Y: b.From}, {X: high.X, Y: b.From}, {X: high.X, Y: b.To}, {X: low.X, Y: b.To}})
		if err != nil {
			return "", fmt.Errorf("draw the band %q: %w", b.Text, err)
		}
		box.Color, box.LineStyle.Width = band, 0
		p.Add(box)
		if err := words(p, bench.Point{X: low.X, Y: b.To}, b.Text, quiet, draw.XLeft, draw.YTop, low, high); err != nil {
			return "", err
		}
	}
	for _, l := range f.Lines {
		if err := line(p, l, low, high); err != nil {
			return "", fmt.Errorf("draw the line %q: %w", l.Name, err)
		}
	}
	upright, drawn := 0, 0
	for _, m := range f.Marks {
		if m.Kind == bench.AtX {
			upright++
		}
	}
	for _, m := range f.Marks {
		place := place{rising: rising(f), low: low, high: high, upright: drawn, last: drawn == upright-1}
		if m.Kind == bench.AtX {
			drawn++
		}
		if err := mark(p, m, place); err != nil {
			return "", fmt.Errorf("draw the mark %q: %w", m.Text, err)
		}
	}
	limit(&p.X, low.X, high.X)
	limit(&p.Y, low.Y, high.Y)
	c := newCanvas(width, height)
	area := draw.Crop(draw.New(c), 4, -24, 4, -26)
	p.Draw(area)
	says := style(ink, large)
	says.YAlign = draw.YTop
	area.FillText(says, vg.Point{X: 8, Y: height - 6}, up)
	var out strings.Builder
	fmt.Fprintf(&out, `<svg class="plot" viewBox="0 0 %d %d" role="img" aria-labelledby="%s-title %s-says">`+"\n", width, height, id, id)
	fmt.Fprintf(&out, `<title id="%s-title">%s</title><desc id="%s-says">%s</desc>`+"\n", id, template.HTMLEscapeString(f.Title), id, template.HTMLEscapeString(f.Says))
	out.Write(c.buf.Bytes())
	out.WriteString("</svg>")
	return template.HTML(out.String()), nil
}

// reach is the corner of the smallest and that of the largest values shown.
func reach(f *bench.Figure) (low, high bench.Point) {
	low, high = bench.Point{X: math.Inf(1), Y: math.Inf(1)}, bench.Point{X: math.Inf(-1), Y: math.Inf(-1)}
	x := func(v float64) { low.X, high.X = min(low.X, v), max(high.X, v) }
	y := func(v float64) { low.Y, high.Y = min(low.Y, v), max(high.Y, v) }
	for _, l := range f.Lines {
		for _, p := range l.Points {
			x(p.X)
			y(p.Y)
		}
	}
	for _, m := range f.Marks {
		if m.Kind != bench.AtY {
			x(m.X)
		}
		if m.Kind != bench.AtX {
			y(m.Y)
		}
	}
	for _, b := range f.Bands {
		y(b.From)
		y(b.To)
	}
	if f.X.Max > f.X.Min {
		low.X, high.X = f.X.Min, f.X.Max
	}
	if f.Y.Max > f.Y.Min {
		low.Y, high.Y = f.Y.Min, f.Y.Max
	} else if room := (high.Y - low.Y) * 0.06; room > 0 {
		low.Y, high.Y = low.Y-room, high.Y+room // lines keep clear of the frame
		if low.Y < 0 && low.Y+room >= 0 {
			low.Y = 0
		}
	}
	return low, high
}

// limit sets the ends of an axis. Where all values are one, it is given some room.
func limit(a *goplot.Axis, low, high float64) {
	a.Min, a.Max = low, high
	if !(a.Max-a.Min > 1e-6*max(1, math.Abs(a.Max), math.Abs(a.Min))) {
		a.Min, a.Max = low-0.5, low+0.5
	}
}

func style(p paint, size font.Length) text.Style {
	s := text.Style{Color: p, Font: font.From(plotter.DefaultFont, size), Handler: goplot.DefaultTextHandler}
	s.Font.Variant = "Sans"
	return s
}

// axis sets what stands along an axis: what it shows, and each figure in both
// unit systems.
func axis(a *goplot.Axis, f bench.Axis, most int) {
	a.Label.TextStyle = style(ink, large)
	a.Label.TextStyle.XAlign, a.Label.TextStyle.YAlign = draw.XCenter, draw.YBottom
	a.Label.Text, a.Label.Padding = f.Label, 4
	if unit := f.Unit; unit != "" {
		if f.Other != nil {
			unit += " (" + f.Other.Unit + ")"
		}
		a.Label.Text += ", " + unit
		if f.Label == "" {
			a.Label.Text = unit
		}
	}
	align := a.Tick.Label
	a.Tick.Label = style(ink, small)
	a.Tick.Label.XAlign, a.Tick.Label.YAlign = align.XAlign, align.YAlign
	a.LineStyle.Color, a.LineStyle.Width = quiet, 1
	a.Tick.LineStyle.Color, a.Tick.LineStyle.Width, a.Tick.Length = quiet, 1, 4
	a.Padding = 0
	a.Tick.Marker = goplot.TickerFunc(func(low, high float64) []goplot.Tick {
		if f.Names != nil {
			var ticks []goplot.Tick
			for i, name := range f.Names {
				ticks = append(ticks, goplot.Tick{Value: float64(i), Label: name})
			}
			return ticks
		}
		return ticks(low, high, most, f.Other)
	})
}

// ticks gives round figures between low and high, at most so many and one, each
// with the same in the other unit below it.
func ticks(low, high float64, most int, other *bench.Other) []goplot.Tick {
	step := math.Pow(10, math.Floor(math.Log10((high-low)/float64(most))))
	for _, factor := range []float64{2, 2.5, 2, 1} { // 1, 2, 5 or 10
		if (high-low)/step <= float64(most) {
			break
		}
		step *= factor
	}
	places := placesFor(step)
	var list []goplot.Tick
	for i := range most + 1 {
		v := (math.Ceil(low/step-1e-9) + float64(i)) * step
		if v > high+step*1e-9 {
			break
		}
		label := figure(v, places)
		if other != nil {
			label += "\n(" + figure(v*other.Factor+other.Offset, placesFor(step*other.Factor)) + ")"
		}
		list = append(list, goplot.Tick{Value: v, Label: label})
	}
	return list
}

// placesFor is how many decimals tell apart figures that are a step apart.
func placesFor(step float64) int {
	return max(0, -int(math.Floor(math.Log10(math.Abs(step))+1e-9)))
}

// figure writes a number with its thousands parted by a no-break space.
func figure(v float64, places int) string {
	if math.Abs(v) < math.Pow(10, -float64(places))/2 {
		v = 0 // never "-0.0"
	}
	whole, rest, _ := strings.Cut(strconv.FormatFloat(math.Abs(v), 'f', places, 64), ".")
	for at := len(whole) - 3; at > 0; at -= 3 {
		whole = whole[:at] + "\u00a0" + whole[at:]
	}
	if rest != "" {
		whole += "." + rest
	}
	if v < 0 {
		return "-" + whole
	}
	return whole
}

func line(p *goplot.Plot, l bench.Line, low, high bench.Point) error {
	xys := make(plotter.XYs, 0, len(l.Points))
	for _, pt := range l.Points {
		xys = append(xys, plotter.XY{X: pt.X, Y: pt.Y})
	}
	drawn, err := plotter.NewLine(xys)
	if err != nil {
		return err
	}
	drawn.Color, drawn.Width = model, 2.5
	col := model
	switch l.Style {
	case bench.Second:
		col, drawn.Width, drawn.Dashes = second, 2, []vg.Length{6, 4}
	case bench.Faint:
		col, drawn.Width = quiet, 1
	case bench.Tested:
		col, drawn.Width = tested, 4
	}
	drawn.Color = col
	p.Add(drawn)
	if l.Name == "" || len(l.Points) == 0 {
		return nil
	}
	i := int(math.Round(l.LabelAt * float64(len(l.Points)-1)))
	// Beside a line that rises there is room above on the left and below on the right.
	x, y := draw.XRight, draw.YBottom
	if rises := l.Points[min(i+1, len(l.Points)-1)].Y >= l.Points[max(i-1, 0)].Y; rises == l.Below {
		x = draw.XLeft
	}
	if l.Below {
		y = draw.YTop
	}
	return words(p, l.Points[i], l.Name, col, x, y, low, high)
}

// rising reports whether the first line of a figure ends higher than it begins.
func rising(f *bench.Figure) bool {
	if len(f.Lines) == 0 || len(f.Lines[0].Points) == 0 {
		return false
	}
	points := f.Lines[0].Points
	return points[len(points)-1].Y > points[0].Y
}

// place is what a mark's words are placed by.
type place struct {
	low, high bench.Point
	rising    bool
	upright   int  // how many upright lines stand before it
	last      bool // none stands after it
}

func mark(p *goplot.Plot, m bench.Mark, at place) error {
	low, high := at.low, at.high
	col := ink
	if m.Tested {
		col = tested
	}
	across := func(from, to bench.Point) error {
		l, err := plotter.NewLine(plotter.XYs{{X: from.X, Y: from.Y}, {X: to.X, Y: to.Y}})
		if err != nil {
			return err
		}
		l.Color, l.Width = col, 1.5
		if !m.Tested {
			l.Dashes = []vg.Length{2, 3}
		}
		p.Add(l)
		return nil
	}
	switch m.Kind {
	case bench.AtX:
		if err := across(bench.Point{X: m.X, Y: low.Y}, bench.Point{X: m.X, Y: high.Y}); err != nil {
			return err
		}
		// Words of several upright lines stand outside of them, one below the other.
		align := draw.XRight
		if at.last && (at.upright > 0 || m.X <= (low.X+high.X)/2) {
			align = draw.XLeft
		}
		y := low.Y + (high.Y-low.Y)*(0.02+0.08*float64(at.upright))
		return words(p, bench.Point{X: m.X, Y: y}, m.Text, col, align, draw.YBottom, low, high)
	case bench.AtY:
		if err := across(bench.Point{X: low.X, Y: m.Y}, bench.Point{X: high.X, Y: m.Y}); err != nil {
			return err
		}
		return words(p, bench.Point{X: high.X, Y: m.Y}, m.Text, col, draw.XRight, draw.YBottom, low, high)
	}
	dot, err := plotter.NewScatter(plotter.XYs{{X: m.X, Y: m.Y}})
	if err != nil {
		return err
	}
	dot.GlyphStyle = draw.GlyphStyle{Color: col, Radius: 5, Shape: draw.CircleGlyph{}}
	if m.Tested {
		dot.Shape = draw.BoxGlyph{}
	}
	p.Add(dot)
	// On the right of a point there is room below a line that rises, and above one
	// that falls.
	y := draw.YBottom
	if at.rising {
		y = draw.YTop
	}
	return words(p, bench.Point{X: m.X, Y: m.Y}, m.Text, col, draw.XLeft, y, low, high)
}

// words writes beside a place, a little off it and inside the frame.
func words(p *goplot.Plot, at bench.Point, says string, col paint, x text.XAlignment, y text.YAlignment, low, high bench.Point) error {
	if says == "" {
		return nil
	}
	at.Y = min(max(at.Y, low.Y), high.Y)
	s := style(col, small)
	if share := float64(s.Width(says)+offset) / plotted; (at.X-low.X)/(high.X-low.X) < share {
		x = draw.XLeft
	} else if (high.X-at.X)/(high.X-low.X) < share {
		x = draw.XRight
	}
	if y == draw.YBottom && at.Y > high.Y-(high.Y-low.Y)*0.08 {
		y = draw.YTop
	}
	if y == draw.YTop && at.Y < low.Y+(high.Y-low.Y)*0.08 {
		y = draw.YBottom
	}
	label, err := plotter.NewLabels(plotter.XYLabels{XYs: plotter.XYs{{X: at.X, Y: at.Y}}, Labels: []string{says}})
	if err != nil {
		return fmt.Errorf("write %q: %w", says, err)
	}
	s.XAlign, s.YAlign = x, y
	label.TextStyle[0] = s
	label.Offset = vg.Point{X: offset, Y: 5}
	if x == draw.XRight {
		label.Offset.X = -offset
	}
	if y == draw.YTop {
		label.Offset.Y = -5
	}
	p.Add(label)
	return nil
}
