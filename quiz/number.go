package quiz

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// Figure is the right answer to a number question, or a wrong one that has a
// name. It is looked up in the process table, or stands in Value.
type Figure struct {
	Value     string  `yaml:"value"`     // "5 min"
	Times     *Lookup `yaml:"times"`     // the tested minutes
	Pressure  *Lookup `yaml:"pressure"`  // the tested gauge pressure
	Headspace *Lookup `yaml:"headspace"` // the tested headspace
	Acid      *Dose   `yaml:"acid"`      // the printed dose of acid

	Feedback      string `yaml:"feedback"`
	Misconception string `yaml:"misconception"` // id; wrong figures only

	amount float64 // in the base unit of the question's quantity
	page   string  // where the process table has it, "" for a Value
}

// Lookup names rows of the process table.
type Lookup struct {
	Food     string `yaml:"food"`
	Pack     string `yaml:"pack"`
	Method   string `yaml:"method"`
	Gauge    string `yaml:"gauge"`
	Jar      string `yaml:"jar"`
	Altitude string `yaml:"altitude"` // "6240 ft"
}

// Dose names a printed dose of acid for one jar.
type Dose struct {
	Food string `yaml:"food"`
	Jar  string `yaml:"jar"`
	Kind string `yaml:"kind"`
}

// quantity is what a number measures. Amounts are in the base unit of the type
// in package measure: minutes, psi, teaspoons, inches, °F, feet.
type quantity struct {
	name    string // with article, as a learner reads it
	example string
	parse   func(string) (float64, error)
	text    func(float64) string
}

func newQuantity[T interface {
	~float64
	Both() string
}](name, example string, parse func(string) (T, error),
) quantity {
	return quantity{
		name:    name,
		example: example,
		parse: func(s string) (float64, error) {
			v, err := parse(s)
			return float64(v), err
		},
		text: func(v float64) string { return T(v).Both() },
	}
}

var (
	duration    = newQuantity("a time", `"8", "8 min" or "1 h 8 min"`, measure.ParseDuration)
	pressure    = newQuantity("a pressure", `"8", "8 psi" or "55 kPa"`, measure.ParsePressure)
	volume      = newQuantity("a volume", `"3", "3 tbsp" or "45 ml"`, measure.ParseVolume)
	length      = newQuantity("a length", `"3/4", "3/4 in" or "19 mm"`, measure.ParseLength)
	temperature = newQuantity("a temperature", `"90", "90 °F" or "32 °C"`, measure.ParseTemperature)
	altitude    = newQuantity("an altitude", `"4700", "4700 ft" or "1433 m"`, measure.ParseAltitude)
)

// units are those a question may ask for, with their size in the base unit.
var units = []struct {
	name string
	of   quantity
	size float64
}{
	{"min", duration, 1},
	{"h", duration, 60},
	{"psi", pressure, 1},
	{"tsp", volume, 1},
	{"tbsp", volume, 3},
	{"in", length, 1},
	{"°F", temperature, 1},
	{"ft", altitude, 1},
}

func unitNames() []string {
	var names []string
	for _, u := range units {
		names = append(names, u.name)
	}
	return names
}

// read reads a number with its unit, or without one as so many of unit.
func (k quantity) read(s, unit string) (float64, error) {
	v, err := k.parse(s)
	if err == nil {
		return v, nil
	}
	if v, bareErr := k.parse(s + " " + unit); bareErr == nil {
		return v, nil
	}
	return 0, err
}

// is reports whether an amount counts as the figure. The last term is for
// numbers that were converted, such as 0.1 h.
func (q *Question) is(amount float64, f Figure) bool {
	return math.Abs(amount-f.amount) <= q.tolerance+1e-6
}

// compute looks the figure's amount up. The table may be nil if the figure has
// a Value.
func (f *Figure) compute(of quantity, table *process.Table) error {
	given := 0
	for _, is := range []bool{f.Value != "", f.Times != nil, f.Pressure != nil, f.Headspace != nil, f.Acid != nil} {
		if is {
			given++
		}
	}
	switch {
	case given != 1:
		return errors.New("give one of value, times, pressure, headspace and acid")
	case f.Value != "":
		amount, err := of.parse(f.Value)
		if err != nil {
			return fmt.Errorf("value: %w", err)
		}
		f.amount = amount
		return nil
	case table == nil:
		return errors.New("needs the process table, and none is loaded")
	case f.Times != nil:
		return f.fromRows(of, duration, f.Times, table, func(r process.Row) float64 { return float64(r.Minutes) })
	case f.Pressure != nil:
		return f.fromRows(of, pressure, f.Pressure, table, func(r process.Row) float64 { return float64(r.PSI) })
	case f.Headspace != nil:
		return f.fromRows(of, length, f.Headspace, table, func(r process.Row) float64 { return r.HeadspaceIn })
	}
	return f.fromCard(of, table)
}

// fromRows takes the amount from the rows of the table that answer the lookup.
// It refuses rows that nobody read in a publication, figures that are not
// printed, and alternatives that disagree: then there is no one right answer.
func (f *Figure) fromRows(of, wanted quantity, l *Lookup, table *process.Table, figure func(process.Row) float64) error {
	if of.name != wanted.name {
		return fmt.Errorf("the table has %s here, but unit asks for %s", wanted.name, of.name)
	}
	feet, err := measure.ParseAltitude(l.Altitude)
	if err != nil {
		return fmt.Errorf("altitude: %w", err)
	}
	found := table.Lookup(process.Query{Food: l.Food, Pack: l.Pack, Method: l.Method, Gauge: l.Gauge, Jar: l.Jar, AltitudeFt: float64(feet)})
	switch found.Gap {
	case process.GapNone:
	case process.GapFood:
		return unknown("food", l.Food, table.NearestFood(l.Food))
	case process.GapMethod:
		return fmt.Errorf("%s has no tested process with method %q", l.Food, l.Method)
	case process.GapGauge:
		return fmt.Errorf("%s has no tested process with gauge %q", l.Food, l.Gauge)
	case process.GapPack:
		return fmt.Errorf("%s has no tested process for pack %q", l.Food, l.Pack)
	case process.GapJar:
		return fmt.Errorf("%s has no tested process in jar %q", l.Food, l.Jar)
	default:
		return fmt.Errorf("%s has no tested process at %s", l.Food, feet)
	}
	for _, r := range found.Rows {
		if r.FromMemory() {
			return fmt.Errorf("the row for %s was read in no publication and cannot be a key", l.Food)
		}
		if figure(r) != figure(found.Rows[0]) {
			return fmt.Errorf("the table prints alternatives for %s, so there is no one right answer", l.Food)
		}
	}
	f.amount, f.page = figure(found.Rows[0]), found.Rows[0].Page
	if f.amount <= 0 {
		return fmt.Errorf("the table prints no such figure for %s", l.Food)
	}
	return nil
}

func (f *Figure) fromCard(of quantity, table *process.Table) error {
	if of.name != volume.name {
		return fmt.Errorf("the table has a volume here, but unit asks for %s", of.name)
	}
	card, ok := table.Card(f.Acid.Food)
	if !ok {
		return unknown("food", f.Acid.Food, table.NearestFood(f.Acid.Food))
	}
	doses := card.Dose(f.Acid.Jar)
	i := slices.IndexFunc(doses, func(d process.AcidDose) bool { return d.Kind == f.Acid.Kind })
	if i < 0 {
		return fmt.Errorf("no dose of %q is printed for %s in jar %q", f.Acid.Kind, f.Acid.Food, f.Acid.Jar)
	}
	f.amount = doses[i].Tsp
	if strings.HasSuffix(doses[i].Source, "p. "+card.Page) { // some doses are printed elsewhere
		f.page = card.Page
	}
	return nil
}

// unknown is the error for a word that is not in a list, with the nearest that
// is.
func unknown(what, word, nearest string) error {
	if nearest == "" {
		return fmt.Errorf("unknown %s %q", what, word)
	}
	return fmt.Errorf("unknown %s %q; did you mean %q?", what, word, nearest)
}

// unlisted is the error for a word that is not in a short list.
func unlisted(what, word string, list []string) error {
	if nearest := measure.Nearest(word, list); nearest != "" {
		return unknown(what, word, nearest)
	}
	return fmt.Errorf("unknown %s %q; use one of: %s", what, word, strings.Join(list, ", "))
}
