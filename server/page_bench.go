package server

import (
	"fmt"
	"html/template"
	"math"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/bench"
	"rollingboil/server/plot"
)

type benchesPage struct {
	page
	Demos []*bench.Demo
}

func (s *Server) benchesPage(c *gin.Context) error {
	return s.write(c.Writer, c.Request, http.StatusOK, "benches", benchesPage{newPage("The bench", "/bench"), s.bench.Demos()})
}

type benchPage struct {
	page
	Demo   *bench.Demo
	Fields []benchField
	Wrong  []wrongView
	Result template.HTML
	Others []*bench.Demo
}

// benchField is one value of a demonstration on its form.
type benchField struct {
	bench.Key
	Value, Wrong string
}

// benchPage shows a demonstration for the values in the address, so that what is
// shown can be kept as a link, and works without a script.
func (s *Server) benchPage(c *gin.Context) error {
	demo, err := s.bench.Demo(c.Param("demo"))
	if err != nil {
		return errNoPage
	}
	data := benchPage{page: newPage(demo.Title, "/bench/"+demo.Name), Demo: demo}
	given, err := s.benchValues(c, demo)
	if err != nil {
		return err
	}
	data.Script = "script/bench.js"
	status := http.StatusOK
	result, err := s.bench.Run(demo, given)
	wrong := bench.KeyErrors(err)
	if err != nil && len(wrong) == 0 {
		return err
	}
	byKey := map[string]string{}
	for _, w := range wrong {
		status = http.StatusUnprocessableEntity
		message := wrongQuantity(w.Cause)
		byKey[w.Key] = message
		data.Wrong = append(data.Wrong, wrongView{Key: w.Key, Label: labelOf(demo, w.Key), Message: message})
	}
	for _, k := range demo.Keys {
		if !k.Command {
			data.Fields = append(data.Fields, benchField{k, k.Shown(given), byKey[k.Name]})
		}
	}
	if len(wrong) == 0 {
		if data.Result, err = s.drawBench(demo.Name, result); err != nil {
			return err
		}
	}
	return s.write(c.Writer, c.Request, status, "bench", data)
}

// benchValues gives the values in the address, and the visitor's own altitude
// where none is given. Keys for the command line are left out: one names a file.
func (s *Server) benchValues(c *gin.Context, demo *bench.Demo) (map[string]string, error) {
	asked, given := c.Request.URL.Query(), map[string]string{}
	for _, k := range demo.Keys {
		if k.Command {
			continue
		}
		given[k.Name] = strings.TrimSpace(asked.Get(k.Name))
		if k.Name != "altitude" || asked.Has("altitude") || anyGiven(asked, k.Instead) {
			continue
		}
		altitude, known, err := s.altitude(c.Request.Context(), s.visitor(c))
		if err != nil {
			return nil, err
		}
		if known {
			given[k.Name] = altitude.String()
		}
	}
	return given, nil
}

func anyGiven(asked url.Values, keys []string) bool {
	for _, k := range keys {
		if strings.TrimSpace(asked.Get(k)) != "" {
			return true
		}
	}
	return false
}

func labelOf(demo *bench.Demo, key string) string {
	for _, k := range demo.Keys {
		if k.Name == key {
			return k.Label
		}
	}
	return "These values together"
}

// benchView is a result, drawn.
type benchView struct {
	bench.Result
	Plot    template.HTML
	Title   string
	Circles *drawnCircles
	Jars    *drawnJars
}

// drawBench draws the result of a demonstration. The id tells apart several on one
// page.
func (s *Server) drawBench(id string, r bench.Result) (template.HTML, error) {
	view := benchView{Result: r}
	if r.Figure != nil {
		var err error
		view.Title = r.Figure.Title
		if view.Plot, err = plot.Draw("plot-"+id, r.Figure); err != nil {
			return "", fmt.Errorf("draw %s: %w", id, err)
		}
	}
	if r.Circles != nil {
		view.Circles = drawCircles(r.Circles)
	}
	if len(r.Jars) > 0 {
		view.Jars = drawJars(r.Jars)
	}
	return s.part("bench-result", view)
}

// drawnCircles is jars in a canner, seen from above.
type drawnCircles struct {
	Says   string
	Wall   int // half the size of the view box, which lies around the middle
	Canner float64
	Jar    float64
	Places []placedJar
}

type placedJar struct {
	N    int
	X, Y float64
}

func drawCircles(c *bench.Circles) *drawnCircles {
	const wall = 100
	scale := (wall - 3) * 2 / c.CannerMM
	d := &drawnCircles{Says: fmt.Sprintf("%d jars in a round canner, seen from above.", len(c.Centers)), Wall: wall, Canner: wall - 3, Jar: tenth(c.JarMM / 2 * scale)}
	for i, p := range c.Centers {
		d.Places = append(d.Places, placedJar{i + 1, tenth(p.X * scale), tenth(-p.Y * scale)})
	}
	return d
}

// drawnJars are jars cut open, side by side: a row for each food.
type drawnJars struct {
	Width, Height int
	Jars          []cutJar
	Cool, Hot     string // what the first and the last shade stand for
	Shades        [shades]int
}

// cutJar is one jar.
type cutJar struct {
	Name, Food, Center string
	X, TextY           float64
	Shaded             [shades]string // the cells of each shade, as a path
	Glass              string
}

const (
	shades    = 8
	lap       = 0.4  // of one cell over the next, so that no seam shows
	mmScale   = 1.12 // units of the drawing to the millimeter of a jar
	rowHeight = 226
	jarsWide  = 400
)

func drawJars(jars []bench.WarmJar) *drawnJars {
	low, high := math.Inf(1), math.Inf(-1)
	for _, j := range jars {
		for _, row := range j.CellsC {
			for _, c := range row {
				low, high = min(low, c), max(high, c)
			}
		}
	}
	d := &drawnJars{Width: jarsWide, Cool: inBoth(low), Hot: inBoth(high)}
	for n := range d.Shades {
		d.Shades[n] = n * 20
	}
	inRow := map[string]int{}
	for _, j := range jars {
		middle := []float64{62, 192, 330}[inRow[j.Food]%3]
		inRow[j.Food]++
		bottom := float64((len(inRow)-1)*rowHeight) + 176
		d.Jars = append(d.Jars, cutOpen(j, middle, bottom, low, high))
	}
	d.Height = len(inRow) * rowHeight
	return d
}

// cutOpen draws a jar whose food ends at the bottom, right and left of the middle.
func cutOpen(j bench.WarmJar, middle, bottom, low, high float64) cutJar {
	cut := cutJar{Name: scenarios.Sentence(scenarios.Label(j.Jar)), Food: j.Food, Center: inBoth(j.CenterC), X: middle, TextY: bottom + 20}
	across, down := len(j.CellsC[0]), len(j.CellsC)
	w, h := j.RadiusMM*mmScale/float64(across), 2*j.HalfHeightMM*mmScale/float64(down)
	var shaded [shades]strings.Builder
	for r, cells := range j.CellsC {
		y := bottom - float64(down-r)*h
		for i, c := range cells {
			n := 0
			if high > low {
				n = min(shades-1, int((c-low)/(high-low)*shades))
			}
			for _, x := range []float64{middle - float64(i+1)*w, middle + float64(i)*w} {
				fmt.Fprintf(&shaded[n], "M%.1f %.1fh%.1fv%.1fh-%.1fz", x, y, w+lap, h+lap, w+lap)
			}
		}
	}
	for n := range shaded {
		cut.Shaded[n] = shaded[n].String()
	}
	half, top := j.RadiusMM*mmScale+3, bottom-2*j.HalfHeightMM*mmScale-14
	cut.Glass = fmt.Sprintf("M%.1f %.1fV%.1fq0 10 10 10h%.1fq10 0 10-10V%.1f", middle-half, top, bottom-6, 2*half-20, top)
	return cut
}

func inBoth(c float64) string { return fmt.Sprintf("%.0f\u00a0°F (%.0f\u00a0°C)", c*1.8+32, c) }

func tenth(v float64) float64 { return math.Round(v*10) / 10 }
