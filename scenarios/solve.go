package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// TestedValues gives, for each key of the plan file that has one, the tested
// value for this plan as a plan file would state it. Values that depend on the
// table are there only when the plan states enough to look them up and the row
// is published; none is ever worked out. A food without a tested process has
// none.
func (g *Grader) TestedValues(p Plan) map[string]string {
	if _, untested := g.table.Untested(p.Food.Value); untested {
		return nil
	}
	values := map[string]string{
		"added": "", "jars.kind": "canning", "jars.condition": "sound",
		"lids.kind": "two-piece", "lids.state": "new", "bands": "fingertip",
		"rims_wiped": "true", "load.sizes": "one", "load.layers": "1", "boil_interrupted": "restart",
		"cooling.hours": "12", "cooling.undisturbed": "true", "cooling.forced": "false", "cooling.bands_retightened": "false", "cooling.inverted": "false", "lost_liquid": "keep", "opening": "look, smell",
		"seal_checks": "press, look, tap", "unsealed": "refrigerate", "unsealed_within": "24 h",
		"storage.bands_off": "true", "storage.temperature": "65 F", "storage.months": "12",
	}
	card, known := g.table.Card(p.Food.Value)
	kind := g.kinds[p.Food.Value]
	if known {
		if card.Guide != 5 {
			values["produce"] = "ripe"
			if slices.Contains(card.ProduceOut, "ripe") {
				values["produce"] = "green"
			}
		}
		if len(card.Prepared) > 0 {
			values["prepared"] = card.Prepared[0]
		}
		if !kind.liquid {
			values["bubbles_removed"] = "true"
		}
		if kind := recipeAcid(card, p.AcidKind.Value, g.kinds[card.Food].salsa); kind != "" {
			values["acid.kind"] = kind
		}
		if card.AcidIn == "jar" && p.Jar.Known {
			for i, d := range card.Dose(p.Jar.Value) {
				if i == 0 || d.Kind == p.AcidKind.Value {
					values["acid.kind"] = d.Kind
					values["acid.per_jar"] = measure.Volume(d.Tsp).String()
				}
			}
		}
	}
	if start := startOf(p.Method.Value); start != "" {
		values["timing_starts"] = start
		values["rest"] = measure.Duration(restNeeded(p.Method.Value)).String()
	}
	switch p.Method.Value {
	case "boiling-water":
		values["water_over_lids"], values["water_kept"] = "2 in", "true"
	case "atmospheric-steam":
		values["canner_opened"] = "false"
	case "pressure":
		values["vent"] = measure.Duration(ventNeededMin).String()
		if p.Gauge.Value == "dial" {
			values["gauge_tested"] = "this-year"
		}
	}
	found, looked := g.lookup(&p)
	if !looked || len(found.Rows) == 0 {
		return values
	}
	row := closestRow(&p, found.Rows)
	if row.FromMemory() {
		return values
	}
	values["time"] = measure.Duration(row.Minutes).String()
	if row.PSI > 0 {
		values["pressure"] = measure.Pressure(row.PSI).String()
	}
	if row.HeadspaceIn > 0 {
		values["headspace"] = measure.Length(row.HeadspaceIn).String()
	}
	if card.Sterilise == "under-10" && (float64(row.Minutes) < sterileUnderMin || kind.spread && row.FromFt > 0) {
		values["sterilised"] = "true"
	}
	return values
}

// recipeAcid gives the acid that should stand where a plan states one for a food whose
// acid is part of its recipe: "" when none is stated, when the stated one stands, or
// when the recipe has two and neither is a better one of the stated kind.
func recipeAcid(card process.Card, stated string, salsa bool) string {
	if card.AcidIn != "recipe" || stated == "" || takesAcid(card, stated, salsa) {
		return ""
	}
	better := map[string]string{"vinegar-weak": "vinegar-5", "fresh-lemon-juice": "bottled-lemon-juice"}[stated]
	switch {
	case slices.Contains(card.RecipeAcid, better):
		return better
	case len(card.RecipeAcid) == 1:
		return card.RecipeAcid[0]
	}
	return ""
}

// Step is one step of a worked solution: what is asked, what the look-up gives
// and where it is printed.
type Step struct {
	Key    string // of the plan, that the step gives
	Ask    string
	Answer string
	Why    string
}

// Solution is a kitchen's worked answer, computed from the table.
type Solution struct {
	Plan   Plan
	Steps  []Step
	Report Report
}

// Solve works out the plan for a kitchen: what it has settled, and its choices
// of method, gauge, pack and jar, best first. The first choice with a published
// process is taken. The error says that there is none.
func (g *Grader) Solve(kitchen Plan, choices []Plan) (Solution, error) {
	if len(choices) == 0 {
		choices = []Plan{{}}
	}
	for _, choice := range choices {
		plan := overlay(kitchen, choice)
		found, looked := g.lookup(&plan)
		if !looked || len(found.Rows) == 0 || found.Rows[0].FromMemory() {
			continue
		}
		b := binder{table: g.table, plan: &plan}
		for key, value := range g.TestedValues(plan) {
			if !plan.Known(key) {
				b.state(key, value)
			}
		}
		if err := b.err(""); err != nil {
			return Solution{}, fmt.Errorf("fill in the tested values: %w", err)
		}
		card, _ := g.table.Card(plan.Food.Value)
		return Solution{Plan: plan, Steps: stepsOf(&plan, card, found, closestRow(&plan, found.Rows)), Report: g.Grade(plan)}, nil
	}
	return Solution{}, fmt.Errorf("no published process for %s in this kitchen; ask the extension service", kitchen.Food.Text)
}

// overlay gives base with every value that over states.
func overlay(base, over Plan) Plan {
	out := base
	for _, k := range keys {
		if over.Known(k.Name) {
			out.slot(k.Name).take(over.slot(k.Name))
		}
	}
	return out
}

// stepsOf tells how the answer was looked up, one look at the table at a time.
func stepsOf(p *Plan, card process.Card, found process.Result, row process.Row) []Step {
	steps := []Step{{
		Key:    "method",
		Ask:    "Which canner?",
		Answer: Label(p.Method.Value),
		Why:    acidityWhy(card, p.Method.Value),
	}, {
		Key:    "altitude",
		Ask:    "Which altitude band?",
		Answer: BandText(row.FromFt, row.ToFt),
		Why:    fmt.Sprintf("The kitchen stands at %s.", p.Altitude.Value.Both()),
	}}
	jar := Step{Key: "jar", Ask: "Which jar row?", Answer: process.JarName(row.Jar), Why: "The planned jar is listed."}
	if found.SmallerJar {
		jar.Why = fmt.Sprintf("A %s jar is not listed, so the next larger listed jar's row is used.", process.JarName(p.Jar.Value))
	}
	steps = append(steps, jar)
	if row.PSI > 0 {
		steps = append(steps, Step{
			Key:    "pressure",
			Ask:    "Which pressure, and how long?",
			Answer: measure.Pressure(row.PSI).String() + " for " + measure.Duration(row.Minutes).String(),
			Why:    fmt.Sprintf("%s gauge. In a pressure canner altitude changes the pressure, not the time. %s.", Sentence(p.Gauge.Value), row.Source),
		})
	} else {
		steps = append(steps, Step{
			Key:    "time",
			Ask:    "How long?",
			Answer: measure.Duration(row.Minutes).String(),
			Why:    fmt.Sprintf("%s pack, counted from the %s. %s.", Label(p.Pack.Value), Label(startOf(p.Method.Value)), row.Source),
		})
	}
	if row.HeadspaceIn > 0 {
		steps = append(steps, Step{Key: "headspace", Ask: "How full?", Answer: measure.Length(row.HeadspaceIn).Both() + " of headspace", Why: "Printed with the same row."})
	}
	switch card.AcidIn {
	case "jar":
		steps = append(steps, Step{
			Key:    "acid.per_jar",
			Ask:    "How much acid in each jar?",
			Answer: p.AcidPerJar.Text + " " + Label(p.AcidKind.Value),
			Why:    fmt.Sprintf("The printed dose for a %s jar.", process.JarName(p.Jar.Value)),
		})
	case "recipe":
		steps = append(steps, Step{Ask: "How much acid?", Answer: "all of the tested recipe's", Why: "The acid is part of the recipe that was tested."})
	}
	return steps
}

func acidityWhy(card process.Card, method string) string {
	if method == "pressure" && card.Acidity != "low-acid" {
		return "A pressure process was tested for it too. The acid goes in all the same."
	}
	switch card.Acidity {
	case "low-acid":
		return "Low-acid food: only a pressure canner gets hot enough for the spores that matter."
	case "acid":
		return "Acid food: boiling water is hot enough."
	case "pickled":
		return "The vinegar of the recipe makes it acid: boiling water is hot enough."
	case "borderline":
		return "Close to the line at pH 4.6: acid is added to every jar, and then boiling water is hot enough."
	}
	return "Added acid brings it to pH 4.6 or lower: boiling water is hot enough."
}

// BandText writes an altitude band in feet and meters; to is 0 when the table
// prints no upper limit.
func BandText(from, to int) string {
	if to == 0 {
		if from == 0 {
			return "any altitude"
		}
		return "above " + measure.Altitude(from-1).Both()
	}
	return fmt.Sprintf("%s to %s", strings.TrimSuffix(measure.Altitude(from).String(), " ft"), measure.Altitude(to).Both())
}
