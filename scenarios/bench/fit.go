package bench

import (
	"fmt"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

func fit() *Demo {
	return &Demo{
		Name: "fit", Title: "Jars in the canner", Question: "How many jars go in one layer?",
		About:   "The most equal circles that go into a larger one, from the published packings.",
		Leaves:  "Racks, handles and bulging glass take room, so a real canner may hold fewer. Measure yours. Water must flow around every jar.",
		Sources: []string{"Published packings of equal circles in a circle, 1 to 20; proofs by Graham, Pirl, Melissen and others", "Common loads: 7 quarts or 9 pints"},
		Keys: []Key{
			{Name: "canner", Label: "Canner, inside", Means: "Its diameter, in inches or millimeters.", Default: "310 mm", read: readMM},
			{Name: "jar", Label: "Jar", Means: "Its largest diameter.", Default: "98 mm", read: readMM},
			{Name: "spacing", Label: "Room between", Means: "Between two jars, and between a jar and the wall.", Default: "0 mm", read: readMM},
		},
		run: func(in values, _ *process.Table) (Result, error) {
			p, err := physics.JarsThatFit(in.num("canner"), in.num("jar"), in.num("spacing"))
			if err != nil {
				return Result{}, &KeyError{Cause: err}
			}
			r := Result{
				Says: []string{fmt.Sprintf("%d jars stand in one layer. The narrowest canner that takes as many is %s across.", p.Jars, sayMM(p.LeastMM))},
				Numbers: []Number{
					{"jars", "Jars in one layer", p.Jars, fmt.Sprint(p.Jars)},
					{"least_canner_mm", "Narrowest canner for as many", p.LeastMM, sayMM(p.LeastMM)},
				},
				Circles: &Circles{CannerMM: in.num("canner"), JarMM: in.num("jar")},
				Table:   Table{Caption: "Where they stand, from the middle", Head: []string{"Jar", "To the right", "To the back"}},
			}
			positions := make([][2]float64, 0, p.Jars)
			for i, c := range p.Centers {
				positions = append(positions, [2]float64{c.XMM, c.YMM})
				r.Circles.Centers = append(r.Circles.Centers, Point{c.XMM, c.YMM})
				r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{fmt.Sprint(i + 1), sayMM(c.XMM), sayMM(c.YMM)}})
			}
			if !p.Proved {
				r.Says = append(r.Says, "That is the best packing known; that no more fit has not been proved.")
			}
			r.Numbers = append(r.Numbers, Number{Key: "positions", Value: positions})
			return r, nil
		},
	}
}
