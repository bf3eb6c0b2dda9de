package bench

import (
	"fmt"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// printedBoilingF are the whole degrees that extension sheets print, by feet: the
// USDA's high-altitude sheet for 2 000 ft, other sheets for the rest.
var printedBoilingF = []Point{{2000, 208}, {5000, 203}, {7500, 198}, {10000, 194}}

func boilingPoint() *Demo {
	return &Demo{
		Name: "boiling-point", Title: "Where water boils", Question: "Why does altitude matter?",
		About:   "Air gets thinner with height, and water boils when its steam pushes as hard as the air. The pressure is that of the standard atmosphere, the boiling point that of pure water at that pressure.",
		Leaves:  "Weather moves the boiling point by about a degree either way, and a kitchen thermometer is often off by more.",
		Sources: []string{"US Standard Atmosphere, 1976", "IAPWS R7-97(2012), region 4", "USDA, high-altitude food preparation sheet: whole degrees"},
		Keys: []Key{
			{Name: "altitude", Label: "Your altitude", Means: "Feet or meters.", Default: "6240 ft", Instead: []string{"boiling"}, read: readFt},
			{Name: "boiling", Label: "Or what your thermometer reads in boiling water", Means: "Gives the altitude at which that is right: a check of a thermometer where you know your altitude.", read: readC},
		},
		run: func(in values, _ *process.Table) (Result, error) {
			ft, boils, err := in.num("altitude"), in.num("boiling"), error(nil)
			read := in.has("boiling")
			if read && in.has("altitude") {
				return Result{}, &KeyError{Cause: fmt.Errorf("give the altitude or the boiling point, not both: each gives the other")}
			}
			if read {
				ft, err = physics.AltitudeFtOfBoiling(boils)
				err = underKey("boiling", in, err)
			} else {
				boils, err = physics.BoilingC(ft)
				err = underKey("altitude", in, err)
			}
			if err != nil {
				return Result{}, err
			}
			pa, err := physics.StandardPressurePa(ft)
			if err != nil {
				return Result{}, err
			}
			sea, err := physics.BoilingC(0)
			if err != nil {
				return Result{}, err
			}
			r := Result{Numbers: []Number{
				{"altitude_ft", "Altitude", ft, sayFt(ft)},
				{"pressure_pa", "Air pressure", pa, fmt.Sprintf("%.1f inHg (%.1f kPa)", pa/3386.389, pa/1000)},
				{"boiling_c", "Water boils at", boils, sayC(boils)},
				{"boiling_f", "", physics.Fahrenheit(boils), ""},
			}}
			if read {
				r.Says = []string{fmt.Sprintf("Water boils at %s where the altitude is about %s.", sayC(boils), sayFt(ft)), "If your altitude is another, the thermometer is off, or the weather is unusual."}
			} else {
				cooler := (sea - boils) * 1.8
				r.Says = []string{fmt.Sprintf("At %s water boils at %s.", sayFt(ft), sayC(boils))}
				if cooler > 0.5 {
					r.Says = append(r.Says, fmt.Sprintf("That is %.0f °F (%.0f °C) cooler than at sea level. A boil cannot get hotter, however hard it rolls, so jars need longer.", cooler, cooler/1.8))
				}
			}
			return r, boilingFigure(&r, ft, boils)
		},
	}
}

func boilingFigure(r *Result, ft, boils float64) error {
	fahrenheit := func(ft float64) (float64, error) {
		c, err := physics.BoilingC(ft)
		return physics.Fahrenheit(c), err
	}
	line, err := curve(steps(0, max(10000, ft), 50), fahrenheit)
	if err != nil {
		return err
	}
	r.Figure = &Figure{
		Title: "Boiling point of water by altitude",
		Says:  fmt.Sprintf("A line that falls evenly from 212 °F (100 °C) at sea level to 194 °F (90 °C) at 10 000 ft. At %s it stands at %s.", sayFt(ft), sayC(boils)),
		X:     Axis{Label: "Altitude", Unit: "ft", Other: meters}, Y: Axis{Label: "Water boils at", Unit: "°F", Other: celsius},
		Lines: []Line{{Points: line}},
		Marks: []Mark{{X: ft, Y: physics.Fahrenheit(boils), Text: "here"}},
	}
	for _, p := range printedBoilingF {
		r.Figure.Marks = append(r.Figure.Marks, Mark{X: p.X, Y: p.Y, Tested: true})
	}
	r.Table = Table{Caption: "Boiling point of water", Head: []string{"Altitude", "Worked out", "Printed"}}
	for _, height := range []float64{0, 1000, 2000, 3000, 4000, 5000, 6000, 7000, 7500, 8000, 9000, 10000} {
		c, err := physics.BoilingC(height)
		if err != nil {
			return err
		}
		row := Row{Cells: []string{sayFt(height), sayC(c), ""}}
		for _, p := range printedBoilingF {
			if p.X == height {
				row.Cells[2], row.Tested = measure.Temperature(p.Y).Both(), true
			}
		}
		r.Table.Rows = append(r.Table.Rows, row)
	}
	return nil
}

// underKey puts an error of a model under the key whose value caused it.
func underKey(key string, in values, err error) error {
	if err == nil {
		return nil
	}
	return &KeyError{Key: key, Text: in.text(key), Cause: err}
}
