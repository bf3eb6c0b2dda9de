package bench

import (
	"fmt"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// dialFood is the food whose published dial readings are drawn. The bands are
// the same for every food canned at 11 psi.
const dialFood = "snap-beans"

func gauge() *Demo {
	return &Demo{
		Name: "gauge", Title: "What the gauge reads", Question: "Why does the dial go up with altitude?",
		About:   "A gauge shows how much more the steam pushes than the air outside. Higher up the air pushes less, so the same reading means cooler steam. The temperature is that of steam without any air in it.",
		Leaves:  "Air left in the canner makes it cooler at the same reading: that is what venting is for. A dial can be off, which is why it is tested every year.",
		Sources: []string{"IAPWS R7-97(2012), region 4", "US Standard Atmosphere, 1976", "USDA Complete Guide to Home Canning, AIB 539, 2015: dial readings by altitude"},
		Keys: []Key{
			{Name: "altitude", Label: "Your altitude", Means: "Feet or meters.", Default: "6240 ft", read: readFt},
			{Name: "pressure", Label: "Gauge reading", Means: "In psi or kPa.", Default: "11 psi", Instead: []string{"temp"}, read: readPSI},
			{Name: "temp", Label: "Or the temperature of the steam", Means: "Gives the reading that it takes.", read: readC},
		},
		run: func(in values, table *process.Table) (Result, error) {
			ft, psi, temp, err := in.num("altitude"), in.num("pressure"), in.num("temp"), error(nil)
			if in.has("temp") && in.has("pressure") {
				return Result{}, &KeyError{Cause: fmt.Errorf("give the pressure or the temperature, not both: each gives the other")}
			}
			if in.has("temp") {
				psi, err = physics.GaugePSI(ft, temp)
				err = underKey("temp", in, err)
			} else {
				temp, err = physics.GaugeTempC(ft, psi)
				err = underKey("pressure", in, err)
			}
			if err != nil {
				return Result{}, err
			}
			r := Result{
				Says: []string{fmt.Sprintf("At %s a gauge at %s holds steam of %s.", sayFt(ft), sayPSI(psi), sayC(temp))},
				Numbers: []Number{
					{"psi", "Gauge reading", psi, sayPSI(psi)},
					{"temp_c", "Steam without air", temp, sayC(temp)},
					{"temp_f", "", physics.Fahrenheit(temp), ""},
				},
			}
			if f := physics.Fahrenheit(temp); f < 239 {
				r.Says = append(r.Says, "Low-acid foods are processed near 240 °F (116 °C). This is cooler, which is why the published reading goes up with altitude.")
			}
			return r, gaugeFigure(&r, table, ft, psi)
		},
	}
}

func gaugeFigure(r *Result, table *process.Table, ft, psi float64) error {
	line, err := curve(steps(0, 10000, 40), func(ft float64) (float64, error) { return physics.GaugePSI(ft, physics.Celsius(240)) })
	if err != nil {
		return err
	}
	r.Figure = &Figure{
		Title: "Gauge reading for steam of 240 °F (116 °C)",
		Says:  "A line that rises evenly from 10.3 psi at sea level to 14.9 psi at 10 000 ft, and beside it the published dial readings, a stair that keeps close to it.",
		X:     Axis{Label: "Altitude", Unit: "ft", Other: meters, Max: 10000}, Y: Axis{Label: "Gauge", Unit: "psi", Other: kPa, Min: 8, Max: 17},
		Lines: []Line{{Name: "240 °F, worked out", Points: line, LabelAt: 0.5, Below: true}},
		Marks: []Mark{{X: ft, Y: psi, Text: "here"}},
	}
	r.Table = Table{Caption: "The published dial readings, and what they hold at the top of their band", Head: []string{"Altitude", "Dial", "Steam at the top"}}
	stair := Line{Name: "published dial readings", Style: Tested, LabelAt: 1}
	for _, row := range table.Rows(dialFood) {
		if row.Method != "pressure" || row.Gauge != "dial" || row.Pack != "hot" || row.Jar != "pint" {
			continue
		}
		top, until := 10000.0, "and up"
		if row.ToFt > 0 {
			top, until = float64(row.ToFt), "to "+sayFt(float64(row.ToFt))
		}
		stair.Points = append(stair.Points, Point{float64(row.FromFt), float64(row.PSI)}, Point{top, float64(row.PSI)})
		c, err := physics.GaugeTempC(top, float64(row.PSI))
		if err != nil {
			return err
		}
		r.Table.Rows = append(r.Table.Rows, Row{Tested: true, Here: row.Covers(ft), Cells: []string{sayFt(float64(row.FromFt)) + " " + until, sayPSI(float64(row.PSI)), sayC(c)}})
	}
	if len(stair.Points) == 0 {
		return fmt.Errorf("the table has no dial readings for %s", dialFood)
	}
	r.Figure.Lines = append(r.Figure.Lines, stair)
	r.Figure.X, r.Figure.Y = r.Figure.X.reaching(ft), r.Figure.Y.reaching(psi)
	return nil
}
