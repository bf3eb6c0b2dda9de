package main

import (
	"fmt"
	"slices"
	"strings"
	"text/tabwriter"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

type timesCommand struct {
	Food     string `arg:"" help:"Id of the food, such as tomatoes-crushed."`
	Jar      string `help:"Only this jar; a jar that is not listed takes the next larger listed jar's times."`
	Altitude string `help:"Only the band of this altitude, such as '6240 ft' or '1902 m'."`
}

func (timesCommand) Help() string {
	return "Example: rollingboil times tomatoes-crushed --jar quart --altitude '6240 ft'"
}

// Run prints the published rows of one food.
func (cmd timesCommand) Run(c console) error {
	table, err := process.Shipped()
	if err != nil {
		return err
	}
	if food, ok := table.Untested(cmd.Food); ok {
		cmd.untested(c, table, food)
		return nil
	}
	card, ok := table.Card(cmd.Food)
	if !ok {
		if near := table.NearestFood(cmd.Food); near != "" {
			return fmt.Errorf("there is no food %q in the table; the nearest is %q", cmd.Food, near)
		}
		return fmt.Errorf("there is no food %q in the table", cmd.Food)
	}
	rows, err := cmd.rows(table)
	if err != nil {
		return err
	}
	fmt.Fprintln(c.out, card.Name)
	if card.AcidIn == "jar" {
		fmt.Fprintf(c.out, "Acid in each jar: %s\n", acidText(card))
	}
	if card.AcidIn == "recipe" {
		fmt.Fprintln(c.out, "The acid is part of the tested recipe; all of it goes in.")
	}
	for _, line := range scenarios.CardLines(card) {
		fmt.Fprintf(c.out, "%s: %s\n", line.Term, line.Text)
	}
	fmt.Fprintln(c.out)
	w := tabwriter.NewWriter(c.out, 0, 0, 2, ' ', 0)
	fmt.Fprintln(w, "PACK\tMETHOD\tJAR\tALTITUDE\tMINUTES\tPSI\tHEADSPACE\tREAD\tPAGE")
	for _, r := range rows {
		psi, headspace, method := "", "", r.Method
		if r.PSI > 0 {
			psi = fmt.Sprint(r.PSI)
			method += ", " + r.Gauge
		}
		if r.HeadspaceIn > 0 {
			headspace = inches(r.HeadspaceIn)
		}
		fmt.Fprintf(w, "%s\t%s\t%s\t%s\t%d\t%s\t%s\t%s\t%s\n", r.Pack, method, r.Jar, scenarios.BandText(r.FromFt, r.ToFt), r.Minutes, psi, headspace, r.Confidence, r.Page)
	}
	if err := w.Flush(); err != nil {
		return err
	}
	if len(rows) == 0 {
		fmt.Fprintln(c.out, "No published row. Ask your extension service; nothing is worked out here.")
	}
	fmt.Fprintln(c.out, "\nPrinted times for tested recipes. Rows read from memory are unconfirmed: look them up in the\npublished guide. Follow a tested recipe, and ask your extension service.")
	return nil
}

// untested says why a food has no rows to print.
func (timesCommand) untested(c console, table *process.Table, food process.Untested) {
	fmt.Fprintf(c.out, "%s\nNo tested process. %s\n", food.Name, food.Why)
	if like, ok := table.Card(food.Like); ok {
		fmt.Fprintf(c.out, "The nearest food that has one: %s (%s). Its times are not for this food.\n", like.Name, like.Food)
	}
	fmt.Fprintf(c.out, "Source: %s. Read: %s.\n\nNothing is worked out here. Ask your extension service.\n", strings.Join(food.Sources, ", "), food.Confidence)
}

func (cmd timesCommand) rows(table *process.Table) ([]process.Row, error) {
	rows := table.Rows(cmd.Food)
	if cmd.Jar != "" {
		var jars []string
		for _, j := range process.Jars() {
			jars = append(jars, j.ID)
		}
		if !slices.Contains(jars, cmd.Jar) {
			return nil, fmt.Errorf("%q is not a jar; the nearest is %q of %s", cmd.Jar, measure.Nearest(cmd.Jar, jars), strings.Join(jars, " "))
		}
		rows = keepJar(rows, jars, cmd.Jar)
	}
	if cmd.Altitude == "" {
		return rows, nil
	}
	altitude, err := measure.ParseAltitude(cmd.Altitude)
	if err != nil {
		return nil, fmt.Errorf("altitude: %w", err)
	}
	var kept []process.Row
	for _, r := range rows {
		if r.Covers(float64(altitude)) {
			kept = append(kept, r)
		}
	}
	return kept, nil
}

// keepJar keeps, for each pack, method and gauge, the rows of the smallest
// listed jar that is not smaller than the wanted one.
func keepJar(rows []process.Row, jars []string, want string) []process.Row {
	size := make(map[string]int, len(jars))
	for i, id := range jars {
		size[id] = i
	}
	best := map[[3]string]int{}
	for _, r := range rows {
		place := [3]string{r.Pack, r.Method, r.Gauge}
		if s := size[r.Jar]; s >= size[want] {
			if old, seen := best[place]; !seen || s < old {
				best[place] = s
			}
		}
	}
	var kept []process.Row
	for _, r := range rows {
		if s, ok := best[[3]string{r.Pack, r.Method, r.Gauge}]; ok && s == size[r.Jar] {
			kept = append(kept, r)
		}
	}
	return kept
}

func inches(in float64) string { return measure.Length(in).String() }

func acidText(card process.Card) string {
	var doses []string
	for _, jar := range []string{"half-pint", "pint", "quart"} {
		for _, d := range card.Dose(jar) {
			doses = append(doses, fmt.Sprintf("%s %s to a %s", measure.Volume(d.Tsp), scenarios.Label(d.Kind), jar))
		}
	}
	return strings.Join(doses, "; ")
}
