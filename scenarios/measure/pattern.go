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
	LengthPattern      = pattern(lengthUnits, "", false)
	VolumePattern      = pattern(volumeUnits, "", false)
	TemperaturePattern = pattern(temperatureUnits, minusPattern, false)
	PressurePattern    = pattern(pressureUnits, "", false)
	DurationPattern    = "^(?:" + spacePattern + "*" + numberPattern(false) + unitPattern(durationUnits) + ")+" + spacePattern + "*$"
	AltitudePattern    = pattern(altitudeUnits, minusPattern, true)
)

const (
	spacePattern = "[ \t\u00a0\u2009\u202f]"
	minusPattern = "[-−–]?"
)

func pattern(units []unit, sign string, thousands bool) string {
	return "^" + spacePattern + "*" + sign + numberPattern(thousands) + unitPattern(units) + spacePattern + "*$"
}

// numberPattern is what (*reader).number reads: 12, 6,240, 1.5, .5, 1/2, 1 1/2,
// ½ and 1½.
func numberPattern(thousands bool) string {
	sign := "[½⅓⅔¼¾⅛⅜⅝⅞⅙⅚⅕⅖⅗⅘]"
	fraction := `[0-9]+[/⁄][0-9]+`
	group := "[1-9][0-9]{0,2}(?:[, \t\u00a0\u2009\u202f][0-9]{3})"
	grouped := group + "+"
	whole := "(?:[0-9]+|" + grouped + ")"
	decimals := "(?:" + whole + `)?\.[0-9]+`
	if thousands { // three digits after a point are decimals only where the number has more before it, or none, or 0
		decimals = `(?:(?:[0-9]{4,}|0[0-9]*|` + grouped + `)?\.[0-9]+|[1-9][0-9]{0,2}\.(?:[0-9]{1,2}|[0-9]{4,}))`
	} else { // one group after a comma may be decimals, unless there are others
		whole = "(?:[0-9]+|[1-9][0-9]{0,2}[ \t\u00a0\u2009\u202f][0-9]{3}|" + group + "{2,})"
	}
	return "(?:" + sign + "|" + fraction + "|" + decimals + "|" + whole + "(?:(?:-|" + spacePattern + "*)(?:" + sign + "|" + fraction + "))?)"
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
