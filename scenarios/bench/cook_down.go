package bench

import (
	"fmt"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

func cookDown() *Demo {
	return &Demo{
		Name: "cook-down", Title: "Cooking sauce down", Question: "How much sauce comes of a pot, and how long does it take?",
		About:   "What boils off is water; the solids stay. From how thick it is at the start and at the end follow what is left, what went off as steam, and the heat that took.",
		Leaves:  "The power is what goes into the food, about half of what a stove draws. The process time of thick and thin sauce is looked up, never worked out: it is printed for the recipe.",
		Sources: []string{"Mass balance; Geankoplis, Transport Processes and Unit Operations, Ex. 8.4-1", "USDA Complete Guide to Home Canning, AIB 539, 2015, Guide 3: yields of a bushel"},
		Keys: []Key{
			{Name: "from", Label: "Solids at the start", Means: "In percent: tomato juice has 5 to 6.", Default: "5.5", read: measure.ParsePercent},
			{Name: "to", Label: "Solids at the end", Means: "In percent: thin sauce has some 8, thick some 11.", Default: "11", read: measure.ParsePercent},
			{Name: "mass", Label: "In the pot", Means: "Pounds or kilograms.", Default: "10 kg", read: readKg},
			{Name: "power", Label: "Heat into the food", Means: "Watts or kilowatts.", Default: "1 kW", read: readWatts},
			{Name: "start", Label: "Food at the start", Means: "100 C is already boiling.", Default: "100 C", read: readC},
		},
		run: runCookDown,
	}
}

func runCookDown(in values, _ *process.Table) (Result, error) {
	from, to, mass := in.num("from"), in.num("to"), in.num("mass")
	down, err := physics.CookDown(from, to, mass, in.num("power"), in.num("start"))
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	r := Result{
		Says: []string{
			fmt.Sprintf("Of %s, %s is left; %s went off as steam.", sayKg(mass), sayKg(down.MassOutKg), sayKg(down.WaterKg)),
			fmt.Sprintf("It fills %s of what it filled before, and takes about %s.", sayShare(down.VolumeRatio), sayMinutes(down.Minutes)),
		},
		Numbers: []Number{
			{"mass_out", "Left in the pot", down.MassOutKg, sayKg(down.MassOutKg)},
			{"water_kg", "Off as steam", down.WaterKg, sayKg(down.WaterKg)},
			{"kj", "Heat", down.KJ, digits(down.KJ, 4) + " kJ"},
			{"minutes", "Time", down.Minutes, sayMinutes(down.Minutes)},
			{"volume_ratio", "Volume, of what it was", down.VolumeRatio, sayShare(down.VolumeRatio)},
		},
	}
	r.Figure = &Figure{
		Title: "What is left in the pot",
		Says:  "A line that falls steeply at first: the first water is the quickest gain in thickness. " + r.Says[0],
		X:     Axis{Label: "Solids", Unit: "%"}, Y: Axis{Label: "Left in the pot", Unit: "kg", Other: &Other{Unit: "lb", Factor: 1 / 0.45359237}},
		Marks: []Mark{{X: to, Y: down.MassOutKg, Text: "here"}},
	}
	r.Table = Table{Caption: "The pot in figures", Head: []string{"Solids", "Left", "Volume", "Time"}}
	line, err := curve(steps(from, max(to, min(50, max(to*1.3, from+1))), 40), func(solids float64) (float64, error) {
		d, err := physics.CookDown(from, solids, mass, in.num("power"), in.num("start"))
		if err == nil {
			r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{digits(solids, 3) + " %", sayKg(d.MassOutKg), sayShare(d.VolumeRatio), sayMinutes(d.Minutes)}})
		}
		return d.MassOutKg, err
	})
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	thinned := r.Table.Rows[:0]
	for i, row := range r.Table.Rows {
		if i%5 == 0 {
			thinned = append(thinned, row)
		}
	}
	r.Table.Rows = thinned
	r.Figure.Lines = []Line{{Points: line}}
	return r, nil
}
