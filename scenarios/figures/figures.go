// Package figures finds figures that are typed into a text for learners: a number with a
// unit of time, pressure, length, volume, weight or temperature, as people write them.
//
// The course teaches no figure that somebody typed: each is drawn from the process table
// or from a publication, by a reference in a lesson and by a look-up in a question. Lessons,
// questions and scenarios ask this package what is typed all the same. It is given the text
// that is read, with what was drawn left out, and finds
//
//	20 minutes, 20-minute, twenty minutes, ２０ min, 20&nbsp;min once decoded
//	1/2 in, ½ inch, half an inch, a half-inch, three quarters of an inch
//	20 whole minutes, 1h20, 2 T, 2 Tbs., 1/2" and 20′
//	minutes at the boil: 20, and a headspace of 1/2
//
// A number without a unit, such as a pH, a page or a clock time, is no figure. Nor are "an
// hour" and "a minute", which no table prints, and jars, which are counted.
package figures

import (
	"cmp"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// Figure is one that is typed into a text.
type Figure struct {
	From, To int    // where it stands in the text, in bytes
	Text     string // as it is typed
}

// In finds the figures in a text, in order.
func In(text string) []Figure {
	plain, at := plain(text)
	var spans [][2]int
	var ask []*regexp.Regexp // those that may find something: most texts have no number at all
	if strings.IndexFunc(plain, unicode.IsDigit) >= 0 {
		ask = inDigits
	}
	if slices.ContainsFunc(numberWords, func(w string) bool { return strings.Contains(plain, w) }) {
		ask = append(slices.Clip(ask), inWords...)
	}
	for _, p := range ask {
		for _, m := range p.FindAllStringSubmatchIndex(plain, -1) {
			spans = append(spans, [2]int{m[2], m[3]})
		}
	}
	slices.SortFunc(spans, func(a, b [2]int) int { return cmp.Or(cmp.Compare(a[0], b[0]), cmp.Compare(b[1], a[1])) })
	var found []Figure
	end := 0
	for _, s := range spans {
		if s[0] >= end { // one that begins within another is part of it
			found, end = append(found, figure(text, at, s)), s[1]
		}
	}
	return found
}

func figure(text string, at []int, span [2]int) Figure {
	from, to := at[span[0]], at[span[1]]
	return Figure{from, to, text[from:to]}
}

// NamesUnit reports whether words, such as the heading of a column, name a unit that a bare
// number below them is read in.
func NamesUnit(words string) bool {
	plain, _ := plain(words)
	return unitNamed.MatchString(plain)
}

// Numbers finds the bare numbers of a text, such as a cell of a table, that stands below a
// unit.
func Numbers(text string) []Figure {
	plain, at := plain(text)
	var found []Figure
	for _, m := range number.FindAllStringSubmatchIndex(plain, -1) {
		found = append(found, figure(text, at, [2]int{m[2], m[3]}))
	}
	return found
}

// plain writes a text in small letters and few signs: compatibility forms taken apart (NFKC),
// every space a space, every dash a hyphen, format signs and accents left out. at gives for each of its
// bytes, and for its end, the place in the text.
func plain(text string) (plain string, at []int) {
	var b strings.Builder
	before := ' '
	for i, r := range text {
		decomposed := string(r)
		if r >= utf8.RuneSelf {
			decomposed = norm.NFKC.String(decomposed)
		}
		if unicode.Is(unicode.No, r) && unicode.IsDigit(before) && strings.Contains(decomposed, "⁄") {
			decomposed = " " + decomposed // 1½ is 1 1/2, not 11/2
		}
		for _, d := range decomposed {
			switch {
			case d == '\n':
			case unicode.Is(unicode.Cf, d), unicode.Is(unicode.M, d):
				continue
			case unicode.IsSpace(d):
				d = ' '
			case unicode.Is(unicode.Pd, d), d == '−':
				d = '-'
			case d == '⁄', d == '∕':
				d = '/'
			case d == '’', d == '‘':
				d = '\''
			}
			b.WriteRune(unicode.ToLower(d))
			for len(at) < b.Len() {
				at = append(at, i)
			}
			before = d
		}
	}
	return b.String(), append(at, len(text))
}

const (
	digits = `\p{Nd}(?:[\p{Nd}.,/:]*\p{Nd})?(?: \p{Nd}{3}\b)*(?:[ -]\p{Nd}+/\p{Nd}+)?`

	small = `one|two|three|four|five|six|seven|eight|nine|ten|eleven|twelve|thirteen|fourteen|fifteen|sixteen|seventeen|eighteen|nineteen|` +
		`twenty|thirty|forty|fifty|sixty|seventy|eighty|ninety|hundred|thousand|dozen`
	// words are numbers in words. A third and an eighth alone are ordinals as well, and
	// count only as "a third of a cup".
	words = `(?:(?:` + small + `)(?:[ -](?:` + small + `|and|a|half|quarters?))*|half|quarters?)`

	// parts is what may stand in "three quarters of an inch" and "an eighth of an inch".
	parts = `(?:(?:` + small + `)[ -])?(?:half|quarters?|thirds?|eighths?|sixteenths?)(?: of)? an?`

	// between is what may stand between a number and its unit, and marks that are not read.
	between = `[ \n*_)\]}"'\\` + "`" + `>-]*`

	// nextCell is where a cell of a table ends, in a row that is read as one.
	nextCell = `(?:\| ?)?`

	// kind is an adjective between a number and its unit.
	kind = `(?:(?:or so|more|full|whole|extra|additional|long|short|tested|printed|measured|level|heaping|heaped|good|solid|straight|unbroken|even|fluid|rolling|boiling|odd) )?`

	// units are written out; letters stand for a unit only behind digits.
	units = `mins?|minutes?|hours?|hrs?|seconds?|secs?|days?|psig?|kpa|kilopascals?|bars?|lbs?|pounds?|` +
		`inch|inches|mm|millimet(?:er|re)s?|cm|centimet(?:er|re)s?|ft|foot|feet|met(?:er|re)s?|` +
		`tbsps?|tbs|tbls?|tablespoons?|tablespoonfuls?|tsps?|teaspoons?|teaspoonfuls?|cups?|cupfuls?|ml|millilit(?:er|re)s?|lit(?:er|re)s?|fl|fluid ounces?|` +
		`grams?|kg|kilograms?|kilos?|° ?[fc]|degrees?|fahrenheit|celsius`
	letters = `(?:in|h|m|t|c|l|g|f)`

	end = `(?:[^\p{L}]|$)`
)

var inDigits = []*regexp.Regexp{
	regexp.MustCompile(`(` + digits + `(?:` + between + kind + letters + `|` + between + nextCell + kind + `(?:` + units + `)))` + end),
	regexp.MustCompile(`(?:^|[^\p{L}])((?:` + named + `)\b[^.!?;"“”()\p{Nd}\n]{0,40}[:=] *` + digits + `)`),
	regexp.MustCompile(`(?:^|[^\p{L}])((?:` + named + `) (?:of|is|are|=) ` + digits + `)`),
	regexp.MustCompile(`(` + digits + `(?: ?′+|°))`),
	// A quotation mark may close a quotation. A straight one behind a fraction, and any before
	// what is measured in inches, is taken for the sign of one.
	regexp.MustCompile(`((?:\p{Nd}+ )?\p{Nd}+/\p{Nd}+")`),
	regexp.MustCompile(`(` + digits + `["”]) (?:of )?(?:headspace|room|space|water|gap)`),
}

var inWords = []*regexp.Regexp{
	regexp.MustCompile(`(?:^|[^\p{L}])(` + words + between + kind + `(?:` + units + `))` + end),
	regexp.MustCompile(`(?:^|[^\p{L}])(` + parts + ` (?:` + units + `))` + end),
}

var numberWords = append(strings.Split(small, "|"), "half", "quarter", "third", "eighth", "sixteenth")

// named are words that say what a number behind them, or below them in a table, counts.
const named = `mins?|minutes|hours|hrs|seconds|psi|kpa|pounds|lbs?|inches|inch|mm|cm|tablespoons|tbsp|teaspoons|tsp|cups|ml|degrees|° ?[fc]|headspace|pressure|process(?:ing)? time|tested time`

var (
	unitNamed = regexp.MustCompile(`(?:^|[^\p{L}])(?:` + named + `|hour|in\.|ft|feet|met(?:er|re)s)(?:[^\p{L}]|$)`)
	number    = regexp.MustCompile(`(?:^|[^\p{L}\p{Nd}])(` + digits + `|` + words + `)` + end)
)
