package bench

import (
	"fmt"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// acidFood is the food whose published doses are marked.
const acidFood = "tomatoes-crushed"

// printedAcid names the kinds of acid as the process table has them.
var printedAcid = map[string]string{physics.AcidLemon: "bottled-lemon-juice", physics.AcidCitric: "citric-acid", physics.AcidVinegar: "vinegar-5"}

func acid() *Demo {
	return &Demo{
		Name: "acid", Title: "What acid does to tomatoes", Question: "Why bottled acid in every jar, whatever the strip says?",
		About:   "Tomatoes hold citric acid and minerals that work against it. Both must balance; from that comes the pH before and after acid goes in.",
		Leaves:  "It is right to about 0.2 of pH. Tomatoes differ from fruit to fruit and from year to year, and nobody knows the acid of theirs. The published dose has the margin for that, and decides.",
		Sources: []string{"J. Solution Chem., dissociation of citric acid to 150 °C", "21 CFR 146.114(a): bottled lemon juice", "The printed doses that are marked, each with its own source", "A study of six cultivars: about pH 4.05 after 1/4 teaspoon of citric acid to the pint"},
		Keys: []Key{
			{Name: "ta", Label: "Acid in the tomatoes", Means: "In percent, as citric acid: 0.35 to 0.6.", Default: "0.444", read: measure.ParsePercent},
			{Name: "ph", Label: "Their pH", Means: "3.9 to 4.7 in published trials.", Default: "4.5", read: readNumber("")},
			{Name: "volume", Label: "Jar", Means: "What tomatoes and acid fill together: a quart is 946 ml.", Default: "1 quart", read: readML},
			{Name: "add", Label: "Acid that goes in", Means: "Bottled lemon juice, citric acid, or vinegar of 5 %.", Default: physics.AcidLemon, Words: []string{physics.AcidLemon, physics.AcidCitric, physics.AcidVinegar}},
			{Name: "amount", Label: "How much of it", Means: "As spoons, milliliters or grams.", Default: "2 tbsp", read: func(s string) (float64, error) {
				a, err := amountOf(physics.AcidLemon, s)
				return a.ML + a.Grams, err
			}},
		},
		run: runAcid,
	}
}

// amountOf reads an amount of acid as a volume or as a weight. Spoons of citric
// acid are weighed as they are printed: half a teaspoon is some 2.3 g.
func amountOf(kind, s string) (physics.Addition, error) {
	a := physics.Addition{Kind: kind}
	volume, errVolume := measure.ParseVolume(s)
	if errVolume == nil {
		if kind == physics.AcidCitric {
			grams, err := physics.CitricGrams(float64(volume))
			a.Grams = grams
			return a, err
		}
		a.ML = float64(volume) * 4.92892159375
		return a, nil
	}
	weight, err := measure.ParseWeight(s)
	if err != nil {
		if strings.Contains(errVolume.Error(), "unit") {
			return a, fmt.Errorf("%q is no amount such as 2 tbsp, 30 ml or 2.3 g", s)
		}
		return a, errVolume
	}
	a.Grams = float64(weight) * 453.59237
	return a, nil
}

func runAcid(in values, table *process.Table) (Result, error) {
	add, err := amountOf(in.text("add"), in.text("amount"))
	if err != nil {
		return Result{}, underKey("amount", in, err)
	}
	juice := physics.Juice{TAPercent: in.num("ta"), PH: in.num("ph"), VolumeML: in.num("volume")}
	after, err := filledPH(juice, add)
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	r := Result{
		Says: []string{fmt.Sprintf("pH %.2f becomes about %.2f.", juice.PH, after)},
		Numbers: []Number{
			{"ph_before", "Before", juice.PH, fmt.Sprintf("pH %.2f", juice.PH)},
			{"ph_after", "After", after, fmt.Sprintf("pH %.2f", after)},
		},
	}
	if after > 4.6 {
		r.Says = append(r.Says, "That is above 4.6, the line above which the toxin of botulism can form.")
	}
	r.Says = append(r.Says, "This is no dose. The printed dose goes into every jar, whatever this says and whatever a strip says.")
	return r, acidFigure(&r, in, table, juice, add, after)
}

// filledPH is the pH in a jar of the juice's volume that holds juice and addition.
func filledPH(jar physics.Juice, add physics.Addition) (float64, error) {
	jar.VolumeML -= add.ML
	return physics.PHAfter(jar, add)
}

func acidFigure(r *Result, in values, table *process.Table, juice physics.Juice, add physics.Addition, after float64) error {
	given := add.ML + add.Grams
	dose, jar, source := printedDose(table, add.Kind, juice.VolumeML)
	most := max(given, min(2*max(given, dose), juice.VolumeML/2)) // a jar holds only so much
	line := []Point{{0, juice.PH}}
	dry := add.Grams > 0
	for _, x := range steps(0, most, 40)[1:] {
		a := physics.Addition{Kind: add.Kind, ML: x}
		if dry {
			a = physics.Addition{Kind: add.Kind, Grams: x}
		}
		ph, err := filledPH(juice, a)
		if err != nil {
			return &KeyError{Cause: err}
		}
		line = append(line, Point{x, ph})
	}
	axis := Axis{Label: acidNames[add.Kind], Unit: "ml", Other: &Other{Unit: "tbsp", Factor: 1 / 14.78676478125}}
	if dry {
		axis.Unit, axis.Other = "g", &Other{Unit: "oz", Factor: 1 / 28.349523125}
	}
	r.Figure = &Figure{
		Title: "pH as acid goes in",
		Says:  "A line that falls evenly at first and then more slowly, with the line at pH 4.6 across. " + r.Says[0],
		X:     axis, Y: Axis{Label: "pH", Min: 3, Max: max(4.8, juice.PH+0.1)}.reaching(after - 0.1),
		Lines: []Line{{Points: line}},
		Marks: []Mark{{Kind: AtY, Y: 4.6, Text: "4.6, the line"}, {X: given, Y: after, Text: "here"}},
	}
	r.Table = Table{Caption: "The acid in figures", Head: []string{acidNames[add.Kind] + ", " + axis.Unit, "pH"}}
	for i, p := range line {
		if i%5 == 0 {
			r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{digits(p.X, 3), fmt.Sprintf("%.2f", p.Y)}})
		}
	}
	if dose > 0 && (add.Kind == physics.AcidCitric) == dry {
		r.Figure.Marks = append(r.Figure.Marks, Mark{Kind: AtX, X: dose, Text: "printed dose, " + jar, Tested: true})
		r.Table.Rows = append(r.Table.Rows, Row{Tested: true, Cells: []string{digits(dose, 3) + ": the printed dose for a " + jar, "from " + source}})
	}
	return nil
}

var acidNames = map[string]string{physics.AcidLemon: "Bottled lemon juice", physics.AcidCitric: "Citric acid", physics.AcidVinegar: "Vinegar, 5 %"}

// printedDose is the dose of the table for a jar of the volume, in milliliters,
// of citric acid in grams; 0 when no listed jar is near that volume.
func printedDose(table *process.Table, kind string, volumeML float64) (dose float64, jar, source string) {
	card, _ := table.Card(acidFood)
	for _, size := range []struct {
		jar string
		ml  float64
	}{{"pint", 473.176473}, {"quart", 946.352946}} {
		if volumeML < size.ml*0.9 || volumeML > size.ml*1.1 {
			continue
		}
		for _, d := range card.Dose(size.jar) {
			if d.Kind == printedAcid[kind] {
				if kind == physics.AcidCitric {
					grams, err := physics.CitricGrams(d.Tsp)
					if err != nil {
						return 0, "", ""
					}
					return grams, size.jar, d.Source
				}
				return d.Tsp * 4.92892159375, size.jar, d.Source
			}
		}
	}
	return 0, "", ""
}
