package plot

import (
	"bytes"
	"fmt"
	"html"
	"image"
	"image/color"
	"math"
	"strconv"

	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/vg"
)

// paint is a color that the style sheet decides: its name becomes the class of
// what is drawn with it, so that a plot follows the light and the dark scheme.
type paint string

// RGBA is black; the style sheet has the say.
func (paint) RGBA() (r, g, b, a uint32) { return 0, 0, 0, math.MaxUint16 }

// canvas writes what a plot draws as SVG, with the origin at the top left and no
// styles of its own, as the page's policy lets none in.
type canvas struct {
	buf           bytes.Buffer
	width, height vg.Length
	state
	stack []state
}

type state struct {
	paint paint
	width vg.Length
	dash  []vg.Length
	move  vg.Point
	turn  float64 // radians, counterclockwise
}

func newCanvas(width, height vg.Length) *canvas {
	return &canvas{width: width, height: height}
}

func (c *canvas) Size() (x, y vg.Length) { return c.width, c.height }

func (c *canvas) SetLineWidth(w vg.Length)               { c.state.width = w }
func (c *canvas) SetLineDash(d []vg.Length, _ vg.Length) { c.dash = d }
func (c *canvas) Push()                                  { c.stack = append(c.stack, c.state) }
func (c *canvas) Rotate(radians float64)                 { c.turn += radians }
func (c *canvas) Scale(float64, float64)                 { panic("a plot is never scaled") }
func (c *canvas) DrawImage(vg.Rectangle, image.Image)    { panic("a plot holds no images") }

func (c *canvas) Pop() {
	c.state, c.stack = c.stack[len(c.stack)-1], c.stack[:len(c.stack)-1]
}

// SetColor takes a paint; any other color is drawn as the ink of the page.
func (c *canvas) SetColor(col color.Color) {
	c.paint = "ink"
	if p, ok := col.(paint); ok {
		c.paint = p
	}
}

func (c *canvas) Translate(by vg.Point) {
	sin, cos := math.Sincos(c.turn)
	c.move.X += by.X*vg.Length(cos) - by.Y*vg.Length(sin)
	c.move.Y += by.X*vg.Length(sin) + by.Y*vg.Length(cos)
}

// at is where a point comes to lie, from the top left.
func (c *canvas) at(p vg.Point) (x, y float64) {
	sin, cos := math.Sincos(c.turn)
	return float64(c.move.X) + float64(p.X)*cos - float64(p.Y)*sin,
		float64(c.height-c.move.Y) - float64(p.X)*sin - float64(p.Y)*cos
}

func (c *canvas) Stroke(path vg.Path) {
	if c.state.width <= 0 {
		return
	}
	fmt.Fprintf(&c.buf, `<path class="line %s" stroke-width="%s"`, c.paint, short(float64(c.state.width)))
	if len(c.dash) > 0 {
		c.buf.WriteString(` stroke-dasharray="`)
		for i, d := range c.dash {
			if i > 0 {
				c.buf.WriteByte(' ')
			}
			c.buf.WriteString(short(float64(d)))
		}
		c.buf.WriteByte('"')
	}
	c.data(path)
}

func (c *canvas) Fill(path vg.Path) {
	fmt.Fprintf(&c.buf, `<path class="area %s"`, c.paint)
	c.data(path)
}

func (c *canvas) data(path vg.Path) {
	c.buf.WriteString(` d="`)
	for i, part := range path {
		switch part.Type {
		case vg.MoveComp:
			c.step('M', part.Pos)
		case vg.LineComp:
			c.step('L', part.Pos)
		case vg.ArcComp:
			c.arc(part, i == 0)
		case vg.CloseComp:
			c.buf.WriteByte('Z')
		default:
			panic("a plot is drawn in straight lines and arcs")
		}
	}
	c.buf.WriteString("\"/>\n")
}

func (c *canvas) step(command byte, p vg.Point) {
	x, y := c.at(p)
	c.buf.WriteByte(command)
	c.buf.WriteString(short(x))
	c.buf.WriteByte(' ')
	c.buf.WriteString(short(y))
}

// arc draws an arc in halves, since SVG has none of a whole turn.
func (c *canvas) arc(part vg.PathComp, first bool) {
	on := func(angle float64) vg.Point {
		sin, cos := math.Sincos(angle)
		return vg.Point{X: part.Pos.X + part.Radius*vg.Length(cos), Y: part.Pos.Y + part.Radius*vg.Length(sin)}
	}
	command := byte('L')
	if first {
		command = 'M'
	}
	c.step(command, on(part.Start))
	sweep := "0"
	if part.Angle < 0 {
		sweep = "1"
	}
	for half := 1; half <= 2; half++ {
		radius := short(float64(part.Radius))
		c.buf.WriteString("A" + radius + " " + radius + " 0 0 " + sweep)
		c.step(' ', on(part.Start+part.Angle*float64(half)/2))
	}
}

// FillString writes a text from its lower left.
func (c *canvas) FillString(face font.Face, p vg.Point, text string) {
	x, y := c.at(p)
	fmt.Fprintf(&c.buf, `<text class="%s" x="%s" y="%s" font-size="%s"`, c.paint, short(x), short(y), short(float64(face.Font.Size)))
	if c.turn != 0 {
		fmt.Fprintf(&c.buf, ` transform="rotate(%s %s %s)"`, short(-c.turn*180/math.Pi), short(x), short(y))
	}
	c.buf.WriteString(">" + html.EscapeString(text) + "</text>\n")
}

// short writes a coordinate to a tenth of a point.
func short(v float64) string {
	v = math.Round(v*10) / 10
	if v == 0 {
		v = 0 // never "-0"
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}
