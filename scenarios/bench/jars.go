package bench

import (
	"fmt"
	"math"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// teachingJars are round inside sizes for teaching, not measured jars.
var teachingJars = []struct {
	id, name             string
	radiusMM, halfHighMM float64
}{
	{"half-pint", "half-pint", 33, 40},
	{"pint", "pint", 38, 54},
	{"quart", "quart", 45, 72},
}

// teachingFoods are a thick and a thin food, each with the tested process that is
// marked beside its curve. Juice flows, and flowing carries heat: its diffusivity
// is a teaching value, some seven times that of food that stands still.
var teachingFoods = map[string]struct {
	says   string
	alpha  float64
	tested string // food id
}{
	"thick": {"thick purée", 1.5e-7, "tomatoes-crushed"},
	"thin":  {"thin juice", 1.0e-6, "tomato-juice"},
}

const (
	foodWMK      = 0.6   // conductivity of tomatoes
	glassWM2K    = 350.0 // boiling water and 2.5 mm of glass: 1/(1/2500 + 0.0025/1.05) is 360
	cellsAcross  = 8     // drawn, from the middle to the glass
	cellsDown    = 12
	jarsCurveMin = 100.0
)

func jars() *Demo {
	return &Demo{
		Name: "jars", Title: "Three jars in the boil", Question: "Why do jar size, thickness and altitude change the time?",
		About:   "A half-pint, a pint and a quart stand in boiling water, with thick purée that stands still and with thin juice that flows. Each is a plain cylinder; the coolest place is its middle.",
		Leaves:  "That juice flows is shown as if it passed heat on faster: a teaching value, since flow has no simple formula. The jars' sizes are round teaching values too. The real cold spot of a flowing food lies lower down.",
		Sources: []string{"Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.", "IAPWS R7-97(2012) and US Standard Atmosphere, 1976: the boiling point", "USDA Complete Guide to Home Canning, AIB 539, 2015: the tested times that are marked"},
		Keys: []Key{
			{Name: "altitude", Label: "Your altitude", Means: "Feet or meters.", Default: "6240 ft", read: readFt},
			{Name: "food", Label: "Food in the curves", Means: "Thick purée or thin juice.", Default: "thick", Words: []string{"thick", "thin"}},
			{Name: "start", Label: "Food at the start", Means: "Hot pack is near 185 °F (85 °C).", Default: "85 C", read: readC},
			{Name: "time", Label: "Minutes into the boil", Means: "The jars are drawn as they are then.", Default: "20 min", read: readMinutes},
		},
		run: runJars,
	}
}

func runJars(in values, table *process.Table) (Result, error) {
	ft := in.num("altitude")
	bath, err := physics.BoilingC(ft)
	if err != nil {
		return Result{}, underKey("altitude", in, err)
	}
	sea, err := physics.BoilingC(0)
	if err != nil {
		return Result{}, err
	}
	if start := in.num("start"); start >= bath {
		return Result{}, underKey("start", in, fmt.Errorf("%s is no cooler than the boil at this altitude, %s; there would be nothing to warm", sayC(start), sayC(bath)))
	}
	if in.num("time") > jarsCurveMin || in.num("time") < 1 {
		return Result{}, underKey("time", in, fmt.Errorf("%s is not from 1 to %.0f minutes", sayMinutes(in.num("time")), jarsCurveMin))
	}
	var r Result
	food := teachingFoods[in.text("food")]
	r.Figure = &Figure{
		Title: "The middle of the jar, " + food.says,
		X:     Axis{Label: "Time in the boil", Unit: "min", Max: jarsCurveMin}, Y: Axis{Label: "Middle of the jar", Unit: "°F", Other: celsius},
		Marks: []Mark{{Kind: AtY, Y: physics.Fahrenheit(bath), Text: "boil at your altitude"}},
	}
	r.Table = Table{Caption: fmt.Sprintf("The middle of the jar after %s", sayMinutes(in.num("time"))), Head: []string{"Jar", "Food", "At sea level", "At " + sayFt(ft)}}
	var drawn []boiled
	for _, id := range []string{"thick", "thin"} {
		for i, jar := range teachingJars {
			pot, err := boiledAt(i, id, in.num("start"), bath)
			if err != nil {
				return Result{}, underKey("start", in, err)
			}
			if id == in.text("food") {
				drawn = append(drawn, pot)
			}
			warm, err := pot.cutOpen(in.num("time"))
			if err != nil {
				return Result{}, underKey("time", in, err)
			}
			r.Jars = append(r.Jars, warm)
			r.Numbers = append(r.Numbers, Number{fmt.Sprintf("%s_%s_c", underscored(jar.id), id), "Middle of the " + jar.name + ", " + teachingFoods[id].says, warm.CenterC, sayC(warm.CenterC)})
			r.Table.Rows = append(r.Table.Rows, Row{Here: id == in.text("food"), Cells: []string{jar.name, teachingFoods[id].says, sayC(pot.in(sea, warm.CenterC)), sayC(warm.CenterC)}})
		}
	}
	r.Says = []string{
		fmt.Sprintf("After %s at %s the middle of the thick pint is at %s and of the thick quart at %s; of the thin quart at %s.", sayMinutes(in.num("time")), sayFt(ft), sayC(r.Jars[1].CenterC), sayC(r.Jars[2].CenterC), sayC(r.Jars[5].CenterC)),
		"The boil goes on outside all the while. What counts is the middle.",
	}
	r.Figure.Says = r.Says[0] + " The larger the jar and the thicker the food, the later its line rises; at altitude all of them end lower."
	return r, jarsCurves(&r, in, table, drawn, sea)
}

func underscored(id string) string {
	out := []byte(id)
	for i, c := range out {
		if c == '-' {
			out[i] = '_'
		}
	}
	return string(out)
}

// boiled is one jar in the boil. The temperature of another boil goes along with
// this one, since the share of the gap that is left does not hang on its width.
type boiled struct {
	jar              int
	food             string
	startC, bathC    float64
	*physics.Heating // at the altitude asked for
}

func boiledAt(jar int, food string, startC, bathC float64) (boiled, error) {
	size := teachingJars[jar]
	cylinder := physics.Cylinder{RadiusMM: size.radiusMM, HalfHeightMM: size.halfHighMM, AlphaM2S: teachingFoods[food].alpha, KWMK: foodWMK}
	h, err := physics.NewHeating(cylinder, startC, physics.Surroundings{TempC: bathC, UWM2K: glassWM2K})
	return boiled{jar, food, startC, bathC, h}, err
}

// in gives what would be seen instead of a temperature in a bath of another.
func (b boiled) in(bathC, seenC float64) float64 {
	return bathC + (b.startC-bathC)*(seenC-b.bathC)/(b.startC-b.bathC)
}

// risen is where a line has a share of its rise behind it.
func risen(points []Point, share float64) float64 {
	at := points[0].Y + share*(points[len(points)-1].Y-points[0].Y)
	for i, p := range points {
		if p.Y > at {
			return float64(i) / float64(len(points)-1)
		}
	}
	return 1
}

// cutOpen gives the jar after some minutes, cell by cell.
func (b boiled) cutOpen(minutes float64) (warm WarmJar, err error) {
	size := teachingJars[b.jar]
	warm = WarmJar{Jar: size.id, Food: b.food, RadiusMM: size.radiusMM, HalfHeightMM: size.halfHighMM, CellsC: make([][]float64, cellsDown)}
	if warm.CenterC, err = b.CenterC(minutes); err != nil {
		return warm, err
	}
	// The upper half is the mirror of the lower.
	for row := range cellsDown / 2 {
		cells := make([]float64, cellsAcross)
		up := size.halfHighMM * (1 - (2*float64(row)+1)/cellsDown)
		for col := range cells {
			out := size.radiusMM * (float64(col) + 0.5) / cellsAcross
			if cells[col], err = b.PointC(minutes, out, up); err != nil {
				return warm, err
			}
		}
		warm.CellsC[row], warm.CellsC[cellsDown-1-row] = cells, cells
	}
	return warm, nil
}

func jarsCurves(r *Result, in values, table *process.Table, drawn []boiled, sea float64) error {
	food, ft := in.text("food"), in.num("altitude")
	for _, b := range drawn {
		points, err := b.Curve(jarsCurveMin, curvePoints/2)
		if err != nil {
			return err
		}
		here, low := Line{Name: teachingJars[b.jar].name, Below: true}, Line{Style: Second}
		for _, p := range points {
			here.Points = append(here.Points, Point{p.Minutes, physics.Fahrenheit(p.CenterC)})
			low.Points = append(low.Points, Point{p.Minutes, physics.Fahrenheit(b.in(sea, p.CenterC))})
		}
		here.LabelAt = risen(here.Points, 0.75-0.25*float64(b.jar))
		r.Figure.Lines = append(r.Figure.Lines, here, low)
	}
	if math.Abs(ft) > 100 { // else both lie on one line
		last := &r.Figure.Lines[len(r.Figure.Lines)-1]
		last.Name, last.LabelAt, last.Below = "dashed: at sea level", 0.8, true
	}
	tested := teachingFoods[food].tested
	for _, jar := range []string{"pint", "quart"} {
		found := table.Lookup(process.Query{Food: tested, Pack: "hot", Method: "boiling-water", Jar: jar, AltitudeFt: ft})
		for _, row := range found.Rows {
			if row.FromMemory() {
				continue
			}
			r.Figure.Marks = append(r.Figure.Marks, Mark{Kind: AtX, X: float64(row.Minutes), Text: "tested, " + jar, Tested: true})
			r.Table.Rows = append(r.Table.Rows, Row{Tested: true, Cells: []string{jar, row.Name + ", tested", "", fmt.Sprintf("%d\u00a0min, Guide\u00a0%d, p.\u00a0%s", row.Minutes, row.Guide, row.Page)}})
		}
	}
	r.Says = append(r.Says, "The marked times are read from the published table for that food. They hold margins that no curve here shows.")
	return nil
}
