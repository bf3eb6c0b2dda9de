package bench

import (
	"fmt"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

func lid() *Demo {
	return &Demo{
		Name: "lid", Title: "What a lid sings", Question: "Why does a lid ring or thud?",
		About:   "A lid is a thin round plate held at its rim. It swings in a few shapes at once, each with its own pitch. A vacuum pulls it tight and higher; food that touches it from below makes it heavy and dull.",
		Leaves:  "Real lids are pressed into rings and domes, and nobody has published pitch against vacuum: trust the direction, not the figure. Sound alone decides nothing.",
		Sources: []string{"Leissa, Vibration of Plates, NASA SP-160 (from memory)", "Lamb, Proc. R. Soc. A 98 (1920) 205-216: a plate on water", "Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, Table 82 (from memory): a plate that is drawn down", "USDA, AIB 539: ringing if sealed, dull if not, or if food touches the lid"},
		Keys: []Key{
			{Name: "diameter", Label: "Part of the lid that is free", Means: "Across: 60 mm on a regular mouth, 76 mm on a wide one.", Default: "60 mm", read: readMM},
			{Name: "thickness", Label: "Thickness of the steel", Means: "Tinplate is 0.15 to 0.38 mm.", Default: "0.20 mm", read: readMM},
			{Name: "vacuum", Label: "Vacuum", Means: "In inHg or kPa; 0 inHg is a lid that is held fast and not drawn down.", Default: "0 inHg", read: readInHg},
			{Name: "wet", Label: "Food against the underside", Means: "true or false.", Default: "false", Words: []string{"true", "false"}},
		},
		run: runLid,
	}
}

func runLid(in values, _ *process.Table) (Result, error) {
	plate := physics.Lid{DiameterMM: in.num("diameter"), ThicknessMM: in.num("thickness")}
	wet := in.text("wet") == "true"
	m, err := plate.ModesUnder(in.num("vacuum"), wet)
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	deep, _, err := plate.Drawn(in.num("vacuum"), physics.EdgeHeld)
	if err != nil {
		return Result{}, underKey("vacuum", in, err)
	}
	hz := func(v float64) string { return digits(v, 3) + " Hz" }
	r := Result{
		Numbers: []Number{
			{"f01_hz", "All together", m.F01Hz, hz(m.F01Hz)},
			{"f11_hz", "Half against half", m.F11Hz, hz(m.F11Hz)},
			{"f21_hz", "Quarters in turn", m.F21Hz, hz(m.F21Hz)},
			{"f02_hz", "Middle against ring", m.F02Hz, hz(m.F02Hz)},
			{"drawn_mm", "Drawn down in the middle by", deep, fmt.Sprintf("%.2f mm (%.3f in)", deep, deep/25.4)},
		},
	}
	how := "in air"
	if wet {
		how = "with food against it"
	}
	r.Says = []string{
		fmt.Sprintf("Under %s, %s, the lowest pitch is %s.", sayInHg(in.num("vacuum")), how, hz(m.F01Hz)),
		"A sealed lid rings higher than a slack one. A sealed lid with food against it is dull too, so the sound decides nothing: press, look and tap after 12 to 24 hours, and all three must agree.",
	}
	return r, lidFigure(&r, in, plate, m)
}

func lidFigure(r *Result, in values, plate physics.Lid, here physics.Modes) error {
	lowest := func(wet bool) func(float64) (float64, error) {
		return func(inHg float64) (float64, error) {
			m, err := plate.ModesUnder(inHg, wet)
			return m.F01Hz, err
		}
	}
	inHg := steps(0, 28, 56)
	dry, err := curve(inHg, lowest(false))
	if err != nil {
		return err
	}
	wet, err := curve(inHg, lowest(true))
	if err != nil {
		return err
	}
	r.Figure = &Figure{
		Title: "Lowest pitch of a flat lid",
		Says:  "Two lines that climb with the vacuum, steeply at first. The one with food against the lid stays far below the other.",
		X:     Axis{Label: "Vacuum", Unit: "inHg", Other: kPaHg}, Y: Axis{Label: "Lowest pitch", Unit: "Hz"},
		Lines: []Line{{Name: "air below the lid", Points: dry, LabelAt: 0.3}, {Name: "food against it", Style: Second, Points: wet, LabelAt: 0.7}},
		Marks: []Mark{{X: in.num("vacuum"), Y: here.F01Hz, Text: "here"}},
	}
	r.Table = Table{Caption: "The same in figures: the model only", Head: []string{"Vacuum", "Air below the lid", "Food against it"}}
	for i := 0; i < len(inHg); i += 8 {
		r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{sayInHg(inHg[i]), digits(dry[i].Y, 3) + " Hz", digits(wet[i].Y, 3) + " Hz"}})
	}
	return nil
}
