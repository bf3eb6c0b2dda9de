package measure

import (
	"regexp"
	"strings"
	"unicode"
)

// Regular expressions for the texts that the Parse functions read, in the part
// of the language that JSON Schema and Go have in common. They hold the form of
// a text, its number and its unit; the range is left to the Parse functions.
var (
	LengthPattern      = pattern(lengthUnits, "")
	VolumePattern      = pattern(volumeUnits, "")
	TemperaturePattern = pattern(temperatureUnits, minusPattern)
	PressurePattern    = pattern(pressureUnits, "")
	DurationPattern    = "^(?:" + spacePattern + "*" + numberPattern() + unitPattern(durationUnits) + ")+" + spacePattern + "*$"
	AltitudePattern    = pattern(altitudeUnits, minusPattern)
)

const (
	spacePattern = "[ \t\u00a0\u2009\u202f]"
	minusPattern = "[-−–]?"
)

func pattern(units []unit, sign string) string {
	return "^" + spacePattern + "*" + sign + numberPattern() + unitPattern(units) + spacePattern + "*$"
}

// numberPattern is what (*reader).number reads: 12, 6,240, 1.5, .5, 1/2, 1 1/2,
// ½ and 1½.
func numberPattern() string {
	sign := "[½⅓⅔¼¾⅛⅜⅝⅞⅙⅚⅕⅖⅗⅘]"
	whole := `[0-9]+(?:[, ` + "\u00a0\u2009\u202f" + `][0-9]{3})*`
	fraction := `[0-9]+[/⁄][0-9]+`
	return "(?:" + sign + "|" + fraction + "|(?:" + whole + `)?\.[0-9]+|` + whole + "(?:(?:-|" + spacePattern + "*)(?:" + sign + "|" + fraction + "))?)"
}

// unitPattern is any name of any unit, in any case, with or without a full stop.
func unitPattern(units []unit) string {
	var names []string
	for _, u := range units {
		for _, name := range u.names {
			names = append(names, anyCase(name))
		}
	}
	return spacePattern + "*(?:" + strings.Join(names, "|") + `)\.?`
}

func anyCase(name string) string {
	var b strings.Builder
	for _, r := range name {
		switch {
		case r == ' ':
			b.WriteString(spacePattern + "+")
		case unicode.IsLetter(r):
			b.WriteString("[" + string(unicode.ToUpper(r)) + string(r) + "]")
		default:
			b.WriteString(regexp.QuoteMeta(string(r)))
		}
	}
	return b.String()
}
