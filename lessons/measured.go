package lessons

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios/figures"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// measuredOnly stands beside every figure of a [[measured ...]], so that no reader takes
// it for a tested one.
const measuredOnly = "measured, not tested"

// measured are the kinds of figure that somebody can read off a clock, a gauge, a ruler,
// a thermometer or a spoon. A time has one system and so no metric text.
var measured = []struct {
	name string
	form *regexp.Regexp // the number and the unit; the range is draw's
	draw func(text string) (us, metric string, err error)
}{
	{"a time", regexp.MustCompile(measure.DurationPattern), func(text string) (string, string, error) {
		v, err := measure.ParseDuration(text)
		return v.String(), "", err
	}},
	{"a pressure", regexp.MustCompile(measure.PressurePattern), func(text string) (string, string, error) {
		v, err := measure.ParsePressure(text)
		return v.String(), v.Metric(), err
	}},
	{"a length", regexp.MustCompile(measure.LengthPattern), func(text string) (string, string, error) {
		v, err := measure.ParseLength(text)
		return v.String(), v.Metric(), err
	}},
	{"a temperature", regexp.MustCompile(measure.TemperaturePattern), func(text string) (string, string, error) {
		v, err := measure.ParseTemperature(text)
		return v.String(), v.Metric(), err
	}},
	{"a volume", regexp.MustCompile(measure.VolumePattern), func(text string) (string, string, error) {
		v, err := measure.ParseVolume(text)
		return v.String(), v.Metric(), err
	}},
}

var (
	pounds   = regexp.MustCompile(`(?i)(?:lbs?|pounds?)\.?$`)
	noUnit   = regexp.MustCompile(`^[-−–]?[0-9½¼¾⅓⅔⅛][0-9.,/ ½¼¾⅓⅔⅛]*$`)
	heightOf = regexp.MustCompile(measure.AltitudePattern)
)

// drawMeasured draws a figure that somebody measured, in both systems, and says that it
// is measured. What can be read in two ways is refused, as is what cannot be read.
func drawMeasured(text string) (string, error) {
	if text == "" {
		return "", fmt.Errorf("the figure is missing; write it with its unit, as [[measured 47 min]]")
	}
	if noUnit.MatchString(text) {
		return "", fmt.Errorf("%q has no unit; write 47 min, 11 psi, 1/2 in, 180 °F or 2 tbsp. A bare number, such as a pH, needs no reference", text)
	}
	if pounds.MatchString(text) {
		return "", fmt.Errorf("%q may be a weight or a pressure; write a pressure in psi", text)
	}
	var names, drawn []string
	for _, kind := range measured {
		if !kind.form.MatchString(text) {
			continue
		}
		us, metric, err := kind.draw(text)
		if err != nil {
			return "", err
		}
		names = append(names, kind.name)
		if metric != "" {
			metric += "; "
		}
		drawn = append(drawn, us+" ("+metric+measuredOnly+")")
	}
	switch {
	case len(drawn) == 1:
		return drawn[0], nil
	case len(drawn) > 1:
		return "", fmt.Errorf("%q may be %s; write the unit in full", text, strings.Join(names, " or "))
	case heightOf.MatchString(text):
		return "", fmt.Errorf("%q is a height; write [[altitude %s]]", text, text)
	}
	return "", fmt.Errorf("%q cannot be read as a figure; write a number and its unit, as 47 min, 11 psi, 1/2 in, 180 °F or 2 tbsp", text)
}

// Stretch is a part of a text that somebody typed, see [SplitFigures].
type Stretch struct {
	Text      string
	Figure    bool   // a number with a unit, which may not be typed into a lesson
	Reference string // what draws it there; "" if it cannot be read without guessing
}

// SplitFigures cuts a text that was typed elsewhere at its numbers with units, so that it
// can stand in a lesson: a height becomes an [[altitude ...]], every other figure a
// [[measured ...]], since a tested one cannot be told by its looks. The stretches put
// together are the text.
func SplitFigures(text string) []Stretch {
	var out []Stretch
	for text != "" {
		m, typed := typedFigure.FindStringSubmatchIndex(text), figures.In(text)
		if m == nil && len(typed) == 0 {
			return append(out, Stretch{Text: text})
		}
		var from, to int
		reference := ""
		if m != nil && (len(typed) == 0 || m[0] <= typed[0].From) {
			from, to = m[0], m[5]
			reference = referenceTo(text[m[2]:m[3]], text[m[4]:m[5]])
		} else {
			from, to = typed[0].From, typed[0].To
		}
		if from > 0 {
			out = append(out, Stretch{Text: text[:from]})
		}
		out = append(out, Stretch{Text: text[from:to], Figure: true, Reference: reference})
		text = text[to:]
	}
	return out
}

// NamesUnit reports whether words name a unit, so that a lesson may not have bare numbers in
// a column under them.
func NamesUnit(words string) bool { return figures.NamesUnit(words) }

// typedFigure is a number with a unit that can be drawn, as far as it can be read, with the
// numbers before it that may belong to it, as in "1 1/2 in", "6 240 ft", "5 to 10 min" or "twenty-five minutes". A digit or an underscore
// may stand right behind it, since what is put in its place parts them. Its groups: the
// number or numbers, the unit.
var typedFigure = regexp.MustCompile(`(?i)` +
	`((?:(?:[0-9½¼¾⅓⅔⅛][0-9.,/:⁄^½¼¾⅓⅔⅛]*|\b` + numberWords + `\b)` + gap + `(?:[-−–×⁄/,+]|to\b|or\b|and\b|by\b|x\b)?` + gap + `)*[-−–±^×⁄]?` +
	`(?:` + number + `|\b` + numberWords + `))` + between + `(in|h|` + units + `)(?:\b|[_0-9])`)

const (
	number      = `[0-9½¼¾⅓⅔⅛](?:[0-9.,/½¼¾⅓⅔⅛]*[0-9½¼¾⅓⅔⅛])?`
	numberWords = `(?:half an?|one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|fifteen|twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred)`

	between = `[*_)]*[ \t\x{a0}\x{202f}-]*(?:\n[> \t]*)?[*_]*`
	units   = `mins?|minutes?|hours?|hrs?|seconds?|days?|psig?|kpa|lbs?|pounds?|inch|inches|mm|cm|tbsp|tablespoons?|tsp|teaspoons?|cups?|ml|ft|feet|meters?|° ?[fc]|degrees?`
)

const gap = `[ \t\x{a0}\x{2009}\x{202f}]*`

var inDigits = map[string]string{
	"half a": "1/2", "half an": "1/2", "one": "1", "two": "2", "three": "3", "four": "4", "five": "5", "six": "6", "seven": "7", "eight": "8", "nine": "9", "ten": "10",
	"eleven": "11", "twelve": "12", "fifteen": "15", "twenty": "20", "thirty": "30", "forty": "40", "fifty": "50", "sixty": "60", "seventy": "70", "eighty": "80", "ninety": "90", "hundred": "100",
}

// span is two numbers and what parts them, as in "5 to 10".
var span = regexp.MustCompile(`^([0-9.]+)( ?(?:to|or|and|-|–) ?)([0-9.]+)$`)

// referenceTo writes the reference that draws a typed figure, "" if it cannot be read.
func referenceTo(number, unit string) string {
	refer := func(number string) string {
		figure := number + " " + unit
		if _, err := drawMeasured(figure); err == nil {
			return "[[measured " + figure + "]]"
		}
		if _, err := measure.ParseAltitude(figure); err == nil {
			return "[[altitude " + figure + "]]"
		}
		return ""
	}
	if digits, word := inDigits[strings.ToLower(number)]; word {
		number = digits
	}
	ends := span.FindStringSubmatch(number)
	if one := refer(number); one != "" || ends == nil { // 1-1/2 in is one number
		return one
	}
	first, last := refer(ends[1]), refer(ends[3])
	if first == "" || last == "" {
		return ""
	}
	return first + ends[2] + last
}

// TimeReference writes the reference that draws a tested time, [[min ...]], and says in
// how many minutes it comes out and from which source. It reports false where a lesson
// may not teach one: no row, several, a row from memory or of another publication.
func TimeReference(table *process.Table, food, pack, method, jar string, altitude measure.Altitude) (reference, minutes, source string, ok bool) {
	settings := map[string]string{"food": food, "pack": pack, "method": method, "jar": jar, "altitude": strconv.FormatFloat(float64(altitude), 'f', -1, 64) + " ft"}
	rest := fmt.Sprintf("food=%s pack=%s method=%s jar=%s altitude=%q", food, pack, method, jar, settings["altitude"])
	if _, messages := markdown.ParseSettings(rest, references(table)["min"]); len(messages) > 0 {
		return "", "", "", false
	}
	minutes, source, err := (&loader{table: table}).minutes(settings)
	return "[[min " + rest + "]]", minutes, source, err == nil
}
