package scenarios

import (
	"strings"

	"rollingboil/scenarios/process"
)

// Verdict is the answer to "is this a plan that was tested?".
type Verdict string

// The verdicts, best first. Each is kept from a plan by anything that asks for
// one further down.
const (
	AsTested        Verdict = "as-tested"         // a published process was found and every safety rule held
	FixFirst        Verdict = "fix-first"         // something must change before the stove is lit
	Incomplete      Verdict = "incomplete"        // a needed value is missing, or a rule could not run
	NoTestedProcess Verdict = "no-tested-process" // nothing published covers it
	Unsafe          Verdict = "unsafe"            // the food could make somebody ill
)

func (v Verdict) rank() int {
	switch v {
	case AsTested:
		return 0
	case FixFirst:
		return 1
	case Incomplete:
		return 2
	case NoTestedProcess:
		return 3
	}
	return 4
}

// worse gives the verdict further from as-tested.
func worse(a, b Verdict) Verdict {
	if b.rank() > a.rank() {
		return b
	}
	return a
}

// Report is what the rules engine says of one plan. Its JSON is a contract.
type Report struct {
	File      string    `json:"file"`
	Verdict   Verdict   `json:"verdict"`
	Tested    []Tested  `json:"tested"`
	Acid      Acid      `json:"acid"`
	Findings  []Finding `json:"findings"`
	Missing   []string  `json:"missing"`    // needed values the plan does not state
	NotStated []string  `json:"not_stated"` // other safety-relevant things it does not say
}

// Advice is a report with what would make the plan as tested: the JSON that the
// command line and the API give. A plan that is as tested has no remedies.
type Advice struct {
	Report
	Remedies []Remedy `json:"remedies,omitempty"`
}

// Tested is one row of the process table that answers the plan. Several rows
// are alternatives.
type Tested struct {
	Food        string   `json:"food"`
	Pack        string   `json:"pack"`
	Method      string   `json:"method"`
	Gauge       string   `json:"gauge"`
	Jar         string   `json:"jar"` // the listed jar, which may be larger than the planned one
	FromFt      int      `json:"from_ft"`
	ToFt        *int     `json:"to_ft"` // null: no printed upper limit
	Minutes     int      `json:"minutes"`
	PSI         int      `json:"psi"`
	HeadspaceIn *float64 `json:"headspace_in"` // null: none is printed
	Confidence  string   `json:"confidence"`
	Source      string   `json:"source"`
	Page        string   `json:"page"`
}

// Altitudes writes the row's altitude band.
func (t Tested) Altitudes() string {
	if t.ToFt == nil {
		return BandText(t.FromFt, 0)
	}
	return BandText(t.FromFt, *t.ToFt)
}

// Acid says what acid the food's card asks for in each jar of the planned size.
type Acid struct {
	Needed bool       `json:"needed"`
	PerJar []AcidDose `json:"per_jar"`
}

// AcidDose is one printed dose, in tablespoons or teaspoons as it is printed.
type AcidDose struct {
	Kind string  `json:"kind"`
	Tbsp float64 `json:"tbsp,omitempty"`
	Tsp  float64 `json:"tsp,omitempty"`
}

// Finding is what one rule says of one plan.
type Finding struct {
	Rule     string `json:"rule"`
	Severity string `json:"severity"` // safety, quality, note or not-checked
	Field    string `json:"field"`    // the plan's own key
	Given    string `json:"given"`
	Required string `json:"required"`
	Says     string `json:"says"`
	Why      string `json:"why"`
	Lesson   string `json:"lesson"`
	Source   string `json:"source"`
}

func testedRows(rows []process.Row) []Tested {
	out := make([]Tested, len(rows))
	for i, r := range rows {
		out[i] = Tested{
			Food: r.Food, Pack: r.Pack, Method: r.Method, Gauge: r.Gauge, Jar: r.Jar,
			FromFt: r.FromFt, Minutes: r.Minutes, PSI: r.PSI,
			Confidence: r.Confidence, Source: r.Source, Page: r.Page,
		}
		if r.ToFt > 0 {
			out[i].ToFt = &rows[i].ToFt
		}
		if r.HeadspaceIn > 0 {
			out[i].HeadspaceIn = &rows[i].HeadspaceIn
		}
	}
	return out
}

func acidOf(card process.Card, jar string) Acid {
	acid := Acid{Needed: card.AcidIn == "jar", PerJar: []AcidDose{}}
	if !acid.Needed || jar == "" {
		return acid
	}
	for _, d := range card.Dose(jar) {
		dose := AcidDose{Kind: d.Kind}
		if d.Kind == "citric-acid" {
			dose.Tsp = d.Tsp
		} else {
			dose.Tbsp = d.Tsp / 3
		}
		acid.PerJar = append(acid.PerJar, dose)
	}
	return acid
}

// Label writes one of the plan's words for people: "boiling-water" is boiling
// water, "vinegar-5" is 5 % vinegar.
func Label(word string) string {
	switch word {
	case "vinegar-5":
		return "5 % vinegar"
	case "vinegar-weak":
		return "weak or home-made vinegar"
	case "half-pint", "half-gallon", "quarter-pint", "frost-killed", "two-piece", "one-piece", "one-trip", "white-fleshed", "low-acid", "as-tested":
		return word
	case "12-oz", "24-oz", "28-oz":
		return strings.Replace(word, "-", " ", 1)
	case "atmospheric-steam":
		return "steam canner"
	case "pressure":
		return "pressure canner"
	case "open-kettle":
		return "open kettle"
	case "full-boil":
		return "full rolling boil"
	case "jars-in":
		return "when the jars go in"
	case "steady-steam":
		return "steady column of steam"
	case "pressure-reached":
		return "when the pressure is reached"
	case "blended-unpeeled":
		return "blended with the skins"
	case "fingertip":
		return "fingertip-tight"
	}
	return strings.ReplaceAll(word, "-", " ")
}
