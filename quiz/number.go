package quiz

import (
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
)

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
	vacuum      = newQuantity("a vacuum", `"12", "12 inHg" or "40 kPa"`, measure.ParseVacuum)
	percent     = newQuantity("a percentage", `"3" or "3 %"`, func(s string) (percentage, error) { v, err := measure.ParsePercent(s); return percentage(v), err })
	count       = newQuantity("a number of jars", `"5" or "5 jars"`, parseJars)
)

type percentage float64

// Both writes percent, which has one system.
func (p percentage) Both() string { return plain(float64(p)) + "\u00a0%" }

type jars float64

// Both writes a number of jars.
func (j jars) Both() string {
	if j == 1 {
		return "1\u00a0jar"
	}
	return plain(float64(j)) + "\u00a0jars"
}

func parseJars(s string) (jars, error) {
	number := strings.ToLower(strings.TrimSpace(s))
	for _, unit := range []string{"jars", "jar"} {
		if before, ok := strings.CutSuffix(number, unit); ok {
			number = strings.TrimSpace(before)
			break
		}
	}
	n, err := strconv.Atoi(number)
	if err != nil || n < 0 || n > 1000 {
		return 0, &measure.Error{Input: s, Pos: 1, Got: strings.TrimSpace(s), Want: "a whole number of jars, such as 5"}
	}
	return jars(n), nil
}

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
	{"inHg", vacuum, 1},
	{"%", percent, 1},
	{"jars", count, 1},
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

// typed writes an amount as somebody might type it, in a unit of this size.
func (k quantity) typed(amount, size float64, unit string) string {
	return plain(amount/size) + " " + unit
}
