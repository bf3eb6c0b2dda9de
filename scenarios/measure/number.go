package measure

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// Error says what could not be read in a quantity, where, and what was expected
// there.
type Error struct {
	Input string
	Pos   int    // 1-based rune position in Input
	Got   string // what stands there, "" at the end
	Want  string // what was expected
}

// Error tells the place, what stands there and what was expected.
func (e *Error) Error() string {
	got := "nothing"
	if e.Got != "" {
		got = strconv.Quote(e.Got)
	}
	return fmt.Sprintf("%q at %d: found %s, expected %s", short(e.Input), e.Pos, got, e.Want)
}

// short cuts a text that is too long to be read in a message.
func short(s string) string {
	const most = 60
	n := 0
	for i := range s {
		if n == most {
			return s[:i] + "..."
		}
		n++
	}
	return s
}

// reader walks over one quantity.
type reader struct {
	input string
	pos   int // byte offset of what is left
	// thousands is set for quantities that are often in the thousands, heights and
	// watts. Three digits after a comma are then thousands, and after a point they
	// may be: half the world writes 1.902 m for 1,902 m. Of any other quantity three
	// digits after a comma may be decimals: 0,125 tsp is 0.125 tsp elsewhere. What
	// can be read both ways is refused, since the readings lie a thousandfold apart.
	thousands bool
}

func (r *reader) rest() string { return r.input[r.pos:] }

// fail makes an Error at a byte offset, with the word that stands there.
func (r *reader) fail(at int, want string) *Error {
	word := strings.TrimLeft(r.input[at:], " ")
	if end := strings.IndexFunc(word, unicode.IsSpace); end >= 0 {
		word = word[:end]
	}
	return &Error{Input: r.input, Pos: utf8.RuneCountInString(r.input[:at]) + 1, Got: short(word), Want: want}
}

func isSpace(c rune) bool {
	return unicode.IsSpace(c) || c == '\u202f' || c == '\u2009' || c == '\u00a0'
}

func (r *reader) spaces() {
	for r.pos < len(r.input) {
		c, size := utf8.DecodeRuneInString(r.rest())
		if !isSpace(c) {
			return
		}
		r.pos += size
	}
}

// digits reads a run of at least one digit.
func (r *reader) digits() string {
	start := r.pos
	for r.pos < len(r.input) && r.input[r.pos] >= '0' && r.input[r.pos] <= '9' {
		r.pos++
	}
	return r.input[start:r.pos]
}

// vulgar fractions that keyboards and recipe cards have.
var vulgar = map[rune]float64{
	'½': 1.0 / 2, '⅓': 1.0 / 3, '⅔': 2.0 / 3, '¼': 1.0 / 4, '¾': 3.0 / 4, '⅛': 1.0 / 8, '⅜': 3.0 / 8, '⅝': 5.0 / 8, '⅞': 7.0 / 8,
	'⅙': 1.0 / 6, '⅚': 5.0 / 6, '⅕': 1.0 / 5, '⅖': 2.0 / 5, '⅗': 3.0 / 5, '⅘': 4.0 / 5,
}

const wantNumber = "a number such as 12, 1.5, 1/2 or 1 1/2"

// number reads one number: whole, decimal, fraction or whole with fraction,
// with a sign if signed allows it.
func (r *reader) number(signed bool) (float64, *Error) {
	r.spaces()
	start := r.pos
	sign := 1.0
	if signed {
		for _, minus := range []string{"-", "−", "–"} {
			if strings.HasPrefix(r.rest(), minus) {
				sign, r.pos = -1, r.pos+len(minus)
				break
			}
		}
	}
	if v, ok := r.vulgar(); ok {
		return sign * v, nil
	}
	first := r.pos
	whole, twoWays := r.whole()
	if strings.HasPrefix(r.rest(), ".") {
		dot := r.pos
		r.pos++
		decimals := r.digits()
		if decimals == "" && whole == "" {
			return 0, r.fail(start, wantNumber)
		}
		if decimals == "" {
			r.pos = dot // "12." ends a sentence, not a number
		} else {
			grouped := dot-first > len(whole)
			if r.thousands && !grouped && len(decimals) == 3 && len(whole) <= 3 && whole != "" && whole[0] != '0' {
				return 0, r.fail(first, either(whole, decimals, 2))
			}
			whole, twoWays = whole+"."+decimals, false
		}
	}
	if strings.HasPrefix(whole, "0") && strings.HasPrefix(r.rest(), ",") { // 0,125 has no thousands
		r.pos++
		return 0, r.fail(first, fmt.Sprintf("%s.%s, with a point before the decimals", whole, short(r.digits())))
	}
	if twoWays {
		return 0, r.fail(first, either(whole[:len(whole)-3], whole[len(whole)-3:], 3))
	}
	if whole == "" {
		return 0, r.fail(start, wantNumber)
	}
	v, err := strconv.ParseFloat(whole, 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, r.fail(start, "a smaller number")
	}
	if strings.Contains(whole, ".") {
		return sign * v, nil
	}
	if slash, ok := r.slash(); ok { // 1/2
		bottom, err := r.denominator(slash)
		return sign * v / bottom, err
	}
	if part, ok, err := r.fraction(); ok || err != nil { // 1 1/2, 1-1/2, 1½
		return sign * (v + part), err
	}
	return sign * v, nil
}

// either says how to write a number whose last three digits may be decimals.
func either(whole, decimals string, places int) string {
	as := strings.TrimRight(strings.TrimRight(whole+"."+decimals[:places], "0"), ".")
	return fmt.Sprintf("%s%s or %s, since this can be read as either", whole, decimals, as)
}

// whole reads a whole number whose groups of three may be parted by commas or
// spaces: 6240, 6,240, 6 240. A number that begins with 0 has no groups. twoWays
// reports that its one comma may as well stand before decimals.
func (r *reader) whole() (digits string, twoWays bool) {
	digits = r.digits()
	if digits == "" || len(digits) > 3 || digits[0] == '0' {
		return digits, false
	}
	for groups := 0; ; groups++ {
		before := r.pos
		comma := strings.HasPrefix(r.rest(), ",")
		if comma {
			r.pos++
		} else if c, size := utf8.DecodeRuneInString(r.rest()); isSpace(c) {
			r.pos += size
		} else {
			return digits, twoWays
		}
		group := r.digits()
		if len(group) != 3 || strings.HasPrefix(r.rest(), "/") {
			r.pos = before
			return digits, twoWays
		}
		digits += group
		twoWays = comma && groups == 0 && !r.thousands
	}
}

func (r *reader) vulgar() (float64, bool) {
	c, size := utf8.DecodeRuneInString(r.rest())
	v, ok := vulgar[c]
	if ok {
		r.pos += size
	}
	return v, ok
}

func (r *reader) slash() (at int, ok bool) {
	for _, slash := range []string{"/", "⁄"} {
		if strings.HasPrefix(r.rest(), slash) {
			at = r.pos
			r.pos += len(slash)
			return at, true
		}
	}
	return 0, false
}

func (r *reader) denominator(at int) (float64, *Error) {
	bottom, err := strconv.ParseFloat(r.digits(), 64)
	if err != nil || bottom == 0 || math.IsInf(bottom, 0) {
		return 1, r.fail(at, "a fraction such as 1/2")
	}
	return bottom, nil
}

// fraction reads the fraction after a whole number, if one is there.
func (r *reader) fraction() (part float64, ok bool, err *Error) {
	before := r.pos
	if strings.HasPrefix(r.rest(), "-") {
		r.pos++
	} else {
		r.spaces()
	}
	if v, ok := r.vulgar(); ok {
		return v, true, nil
	}
	top := r.digits()
	slash, found := r.slash()
	if top == "" || !found {
		r.pos = before
		return 0, false, nil
	}
	over, parseErr := strconv.ParseFloat(top, 64)
	if parseErr != nil {
		return 0, false, r.fail(before, "a smaller number")
	}
	bottom, err := r.denominator(slash)
	if err == nil && over >= bottom { // "1 3/2" is a slip of the pen, and nobody knows which
		err = r.fail(before, "a fraction smaller than 1 after the whole number")
	}
	return over / bottom, err == nil, err
}

// firstWords begin the units that are written in two words: "° F", "fl oz".
var firstWords = []string{"°", "deg", "degree", "degrees", "fl", "fl.", "fluid"}

// unit reads the unit's name and gives its factor.
func (r *reader) unit(units []unit, want string) (unit, *Error) {
	r.spaces()
	start := r.pos
	end := len(r.input)
	for i, c := range r.rest() {
		if isSpace(c) || c >= '0' && c <= '9' {
			if slices.Contains(firstWords, strings.ToLower(r.input[start:start+i])) {
				continue
			}
			end = start + i
			break
		}
	}
	name := r.input[start:end]
	key := strings.Join(strings.Fields(strings.ToLower(strings.TrimRight(name, "."))), " ")
	for _, u := range units {
		for _, n := range u.names {
			if n == key {
				r.pos = end
				return u, nil
			}
		}
	}
	if key == "t" && units[0].names[0] == "tsp" {
		want = "tsp or tbsp, since " + name + " alone is used for both"
	}
	return unit{}, r.fail(start, want)
}

// end refuses anything after the quantity.
func (r *reader) end() *Error {
	r.spaces()
	if r.pos < len(r.input) {
		return r.fail(r.pos, "nothing more")
	}
	return nil
}

// unit is one way to write a quantity: value = number*factor + offset.
type unit struct {
	names  []string
	factor float64
	offset float64
}

// one reads a number with one unit.
func one(s string, units []unit, want string, signed bool, low, high float64, bounds string) (float64, error) {
	return (&reader{input: s}).one(units, want, signed, low, high, bounds)
}

func (r *reader) one(units []unit, want string, signed bool, low, high float64, bounds string) (float64, error) {
	v, err := r.number(signed)
	if err != nil {
		return 0, err
	}
	u, err := r.unit(units, want)
	if err != nil {
		return 0, err
	}
	if err := r.end(); err != nil {
		return 0, err
	}
	v = v*u.factor + u.offset
	if u.factor != 1 && v > high && v <= high*(1+1e-4) {
		v = high // the bound itself, rounded in another unit: 60 psi are 413.7 kPa
	}
	if !(v >= low && v <= high) {
		return 0, &Error{Input: r.input, Pos: 1, Got: strings.TrimSpace(r.input), Want: bounds}
	}
	return v, nil
}

// round drops the noise of unit conversion: 304.8 m is 1000 ft, not
// 1000.0000000000001.
func round(v float64) float64 { return math.Round(v*1e9) / 1e9 }
