package bench

import (
	"fmt"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// surveyedInHg is the range found in 31 home-canned jars of tomatoes: a Washington
// State survey. What is printed most often for tomatoes, 13 to 15, lies within.
var surveyedInHg = [2]float64{10.6, 22.9}

func vacuum() *Demo {
	return &Demo{
		Name: "vacuum", Title: "From headspace to vacuum", Question: "Why does headspace make the vacuum?",
		About:   "In the boil steam drives the air out of the headspace. When the lid closes and the jar cools, the steam turns back to water, the food shrinks, and little is left to push from inside. The air outside holds the lid down.",
		Leaves:  "Real jars keep air in the food and in corners, and the gas is cooler than the food, so the model is an upper bound. A strong vacuum is no proof that the food is safe.",
		Sources: []string{"Gas law, with IAPWS R7-97(2012) for steam and Kell (1975) for water", "Washington State survey: 10.6 to 22.9 inHg in 31 home-canned jars of tomatoes"},
		Keys: []Key{
			{Name: "close", Label: "When the lid closes", Means: "Temperature of food and gas.", Default: "90 C", read: readC},
			{Name: "cool", Label: "When it is cold", Means: "Room temperature.", Default: "20 C", read: readC},
			{Name: "jar", Label: "All that the jar holds", Means: "To the lid: milliliters, cups or a quart.", Default: "946 ml", read: readML},
			{Name: "headspace", Label: "Headspace, as a volume", Means: "At closing. Half an inch in a quart is near 40 ml.", Default: "40 ml", read: readML},
			{Name: "altitude", Label: "Altitude", Means: "Feet or meters.", Default: "0 ft", read: readFt},
			{Name: "residual_air", Label: "Air that stays", Means: "As a share of the headspace gas: 0 is all steam, 1 is dry air.", Default: "0", read: readShare},
		},
		run: func(in values, _ *process.Table) (Result, error) {
			closing := physics.Closing{
				CloseC: in.num("close"), CoolC: in.num("cool"), JarML: in.num("jar"), HeadspaceML: in.num("headspace"),
				AltitudeFt: in.num("altitude"), ResidualAir: in.num("residual_air"),
			}
			v, err := physics.VacuumOf(closing)
			if err != nil {
				return Result{}, &KeyError{Cause: err}
			}
			r := Result{
				Says: []string{fmt.Sprintf("Cold, the jar holds a vacuum of up to %s; with no air at all it would be %s.", sayInHg(v.InHg), sayInHg(v.UpperInHg))},
				Numbers: []Number{
					{"inhg", "Vacuum", v.InHg, sayInHg(v.InHg)},
					{"inhg_upper", "With all air gone", v.UpperInHg, sayInHg(v.UpperInHg)},
					{"kpa", "", v.KPa, ""},
					{"headspace_cold_ml", "Headspace when cold", v.HeadspaceColdML, sayML(v.HeadspaceColdML)},
				},
			}
			if v.HeadspaceColdML > closing.HeadspaceML {
				r.Says = append(r.Says, fmt.Sprintf("The food shrinks as it cools, so the headspace grows from %s to %s. That is no lost liquid.", sayML(closing.HeadspaceML), sayML(v.HeadspaceColdML)))
			}
			return r, vacuumFigure(&r, closing, v)
		},
	}
}

func vacuumFigure(r *Result, closing physics.Closing, here physics.Vacuum) error {
	boils, err := physics.BoilingC(closing.AltitudeFt)
	if err != nil {
		return err
	}
	low := max(closing.CoolC, 40)
	at := func(air float64) func(float64) (float64, error) {
		return func(closeC float64) (float64, error) {
			c := closing
			c.CloseC, c.ResidualAir = closeC, air
			v, err := physics.VacuumOf(c)
			return v.InHg, err
		}
	}
	hot := steps(low, max(low, boils-1e-6), 40)
	line, err := curve(hot, at(closing.ResidualAir))
	if err != nil {
		return err
	}
	r.Figure = &Figure{
		Title: "Vacuum in the cold jar",
		Says:  "A line that climbs with the temperature at which the lid closes, steeply toward the boil. " + r.Says[0],
		X:     Axis{Label: "Lid closes at", Unit: "°F", Other: celsius}, Y: Axis{Label: "Vacuum", Unit: "inHg", Other: kPaHg},
		Lines: []Line{{Name: "the model, an upper bound", Points: inFahrenheit(line), LabelAt: 0.85}},
		Marks: []Mark{{X: physics.Fahrenheit(closing.CloseC), Y: here.InHg, Text: "here"}},
		Bands: []Band{{From: surveyedInHg[0], To: surveyedInHg[1], Text: "31 home-canned jars"}},
	}
	if closing.ResidualAir < 0.5 {
		airy, err := curve(hot, at(0.5))
		if err != nil {
			return err
		}
		r.Figure.Lines = append(r.Figure.Lines, Line{Name: "half of the air stays", Style: Second, Points: inFahrenheit(airy), LabelAt: 0.55, Below: true})
	}
	r.Table = Table{Caption: "The same in figures", Head: []string{"Lid closes at", "Vacuum"}}
	for i, p := range line {
		if i%5 == 0 {
			r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{sayC(p.X), sayInHg(p.Y)}})
		}
	}
	return nil
}

// inFahrenheit gives the points of a line over Celsius degrees over Fahrenheit ones.
func inFahrenheit(line []Point) []Point {
	out := make([]Point, len(line))
	for i, p := range line {
		out[i] = Point{physics.Fahrenheit(p.X), p.Y}
	}
	return out
}
