package bench

import (
	"fmt"
	"math"
	"strings"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// curvePoints is how many points a drawn heating curve has.
const curvePoints = 120

// readU reads a heat transfer coefficient; "inf" holds the surface at the
// temperature of the bath.
func readU(s string) (float64, error) {
	if strings.EqualFold(strings.TrimSpace(s), "inf") {
		return math.Inf(1), nil
	}
	return readNumber("W/m2K")(s)
}

func heating() *Demo {
	return &Demo{
		Name: "heating", Title: "Heat on its way to the middle", Question: "Why does thick food need so long?",
		About:   "Food that does not flow is warmed from the glass inward, layer by layer. The curve is the exact solution for a cylinder in a bath, at its middle, the slowest place.",
		Leaves:  "Thin food flows and warms much faster; pieces in juice do something between. Properties are taken as constant, and the jar as a plain cylinder.",
		Sources: []string{"Carslaw and Jaeger, Conduction of Heat in Solids, 2nd ed.", "Choi and Okos (1986), thermal properties of foods", "Willmore, Etzel, Andress and Ingham, Food Protection Trends 35 (2015) 150: cooling gave 48 to 95 % of the heat's effect"},
		Keys: []Key{
			{Name: "radius", Label: "Radius of the jar", Means: "Inside, from the middle to the glass.", Default: "38 mm", read: readMM},
			{Name: "half_height", Label: "Half of its height", Means: "Of the food.", Default: "54 mm", read: readMM},
			{Name: "alpha", Label: "How fast heat spreads in the food", Means: "Thermal diffusivity in m2/s. Tomatoes are near 1.5e-7.", Default: "1.5e-7", read: readNumber("m2/s")},
			{Name: "k", Label: "How well the food carries heat", Means: "Conductivity in W/mK. Tomatoes are near 0.6.", Default: "0.6", read: readNumber("W/mK")},
			{Name: "u", Label: "How well heat comes in", Means: "In W/m2K: about 350 through glass from boiling water; inf holds the surface at the bath's temperature.", Default: "350", read: readU},
			{Name: "start", Label: "Food at the start", Means: "Hot pack is near 185 °F (85 °C).", Default: "85 C", read: readC},
			{Name: "bath", Label: "Bath", Means: "Boiling water at your altitude, or steam.", Default: "100 C", read: readC},
			{Name: "time", Label: "Time in the bath", Means: "Minutes.", Default: "40 min", read: readMinutes},
			{Name: "then", Label: "And then", Means: "What follows: cooling in air, or nothing.", Words: []string{"cooling"}},
			{Name: "air", Label: "Air around the cooling jar", Means: "Fahrenheit or Celsius.", read: readC},
			{Name: "u_air", Label: "How well heat goes out", Means: "In W/m2K: 8 to 12 in still air.", read: readNumber("W/m2K")},
			{Name: "cool_time", Label: "Time of cooling", Means: "Minutes or hours.", read: readMinutes},
		},
		run: runHeating,
	}
}

func runHeating(in values, _ *process.Table) (Result, error) {
	jar := physics.Cylinder{RadiusMM: in.num("radius"), HalfHeightMM: in.num("half_height"), AlphaM2S: in.num("alpha"), KWMK: in.num("k")}
	h, err := physics.NewHeating(jar, in.num("start"), physics.Surroundings{TempC: in.num("bath"), UWM2K: in.num("u")})
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	minutes := in.num("time")
	center, err := h.CenterC(minutes)
	if err != nil {
		return Result{}, underKey("time", in, err)
	}
	mean, err := h.MeanC(minutes)
	if err != nil {
		return Result{}, underKey("time", in, err)
	}
	r := Result{
		Says: []string{fmt.Sprintf("After %s the middle is at %s, the food on average at %s.", sayMinutes(minutes), sayC(center), sayC(mean))},
		Numbers: []Number{
			{"center_c", "Middle", center, sayC(center)},
			{"mean_c", "Average", mean, sayC(mean)},
			{"fh_min", "Nine tenths of the gap close in (fh)", h.FHMinutes(), sayMinutes(h.FHMinutes())},
			{"j", "Lag factor (j)", h.J(), digits(h.J(), 4)},
		},
	}
	points, err := heatingCurve(h, minutes)
	if err != nil {
		return Result{}, underKey("time", in, err)
	}
	if in.has("then") || in.has("air") || in.has("u_air") || in.has("cool_time") {
		if points, err = coolAfter(&r, in, h, minutes); err != nil {
			return Result{}, err
		}
	}
	heatingFigure(&r, in, points)
	return r, nil
}

// heatingCurve draws a heating, with fewer points where it is so short that the
// model does not hold between them.
func heatingCurve(h *physics.Heating, minutes float64) (points []physics.CurvePoint, err error) {
	if minutes == 0 {
		start, err := h.CenterC(0)
		return []physics.CurvePoint{{CenterC: start, MeanC: start}}, err
	}
	for count := curvePoints; count >= 2; count /= 2 {
		if points, err = h.Curve(minutes, count); err == nil {
			return points, nil
		}
	}
	return nil, err
}

// What cooling is when a value for it is not given: a still, warm kitchen.
const (
	stillAirC       = 22.0
	stillAirWM2K    = 8.0
	coolingMinutes  = 120.0
	coolingTargetC  = 82.2 // 180 °F, which home-canning studies refer cooling to
	coolingTargetZC = 8.89 // 16 °F
	coolingStopC    = 54.0 // to where the study of 2015 followed its jars
)

func coolAfter(r *Result, in values, h *physics.Heating, minutes float64) ([]physics.CurvePoint, error) {
	given := func(key string, otherwise float64) float64 {
		if in.has(key) {
			return in.num(key)
		}
		return otherwise
	}
	cooling, err := h.Cool(minutes, physics.Surroundings{TempC: given("air", stillAirC), UWM2K: given("u_air", stillAirWM2K)})
	if err != nil {
		return nil, &KeyError{Cause: err}
	}
	after := given("cool_time", coolingMinutes)
	points, err := cooling.Curve(after, 2*curvePoints)
	if err != nil {
		return nil, underKey("cool_time", in, err)
	}
	peak := points[0]
	for _, p := range points {
		if p.CenterC > peak.CenterC {
			peak = p
		}
	}
	last := points[len(points)-1]
	r.Numbers = append(
		r.Numbers,
		Number{"peak_c", "Hottest the middle gets", peak.CenterC, sayC(peak.CenterC)},
		Number{"peak_min", "That is at", peak.Minutes, sayMinutes(peak.Minutes)},
		Number{"cooled_c", "Middle at the end", last.CenterC, sayC(last.CenterC)},
		Number{"fc_min", "Cooling, nine tenths of the gap close in", cooling.FCMinutes(), sayMinutes(cooling.FCMinutes())},
	)
	if peak.Minutes > minutes {
		r.Says = append(r.Says, fmt.Sprintf("Out of the bath the middle still warms for %s, to %s: the outer layers pass their heat inward while they cool.", sayMinutes(peak.Minutes-minutes), sayC(peak.CenterC)))
	}
	if share, err := cooling.CoolingShare(coolingTargetC, coolingTargetZC, coolingStopC); err == nil { // a middle that stays below it has none
		r.Numbers = append(r.Numbers, Number{"cooling_share", "Share of the heat's effect that cooling gives", share, sayShare(share)})
		r.Says = append(r.Says, fmt.Sprintf("Cooling gives %s of the whole effect, which is why jars are never cooled in a hurry. A study of home canning measured 48 to 95 %%.", sayShare(share)))
	}
	return points, nil
}

func heatingFigure(r *Result, in values, points []physics.CurvePoint) {
	r.Figure = &Figure{
		Title: "Temperature in the jar",
		Says:  "Two lines that rise toward the temperature of the bath. The average runs ahead of the middle, which at first does not warm at all. " + r.Says[0],
		X:     Axis{Label: "Time", Unit: "min"}, Y: Axis{Label: "Temperature", Unit: "°F", Other: celsius},
		Marks: []Mark{{Kind: AtY, Y: physics.Fahrenheit(in.num("bath")), Text: "bath"}},
	}
	center, mean := Line{Name: "middle", LabelAt: 0.35, Below: true}, Line{Name: "average", Style: Second, LabelAt: 0.15}
	list := make([]any, 0, len(points))
	r.Table = Table{Caption: "The same in figures", Head: []string{"Time", "Middle", "Average"}}
	for i, p := range points {
		center.Points = append(center.Points, Point{p.Minutes, physics.Fahrenheit(p.CenterC)})
		mean.Points = append(mean.Points, Point{p.Minutes, physics.Fahrenheit(p.MeanC)})
		list = append(list, map[string]float64{"min": p.Minutes, "center_c": p.CenterC, "mean_c": p.MeanC})
		if i%max(1, len(points)/10) == 0 || i == len(points)-1 {
			r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{sayMinutes(p.Minutes), sayC(p.CenterC), sayC(p.MeanC)}})
		}
	}
	if last := points[len(points)-1].Minutes; last > in.num("time") {
		r.Figure.Marks = append(r.Figure.Marks, Mark{Kind: AtX, X: in.num("time"), Text: "out of the bath"})
		r.Figure.Says = "Two lines that rise toward the temperature of the bath, the average ahead of the middle, and fall once the jar is out of it, the middle after the average. " + r.Says[0]
		// Both names stand where the lines lie apart, in the fall.
		center.LabelAt, center.Below, mean.LabelAt, mean.Below = 0.8, false, 0.75, true
	}
	r.Figure.Lines = []Line{center, mean}
	r.Numbers = append(r.Numbers, Number{Key: "curve", Value: list})
}
