package quiz

import (
	"errors"
	"fmt"
	"hash/fnv"
	"math"

	"rollingboil/scenarios/rules"
)

// A template is what a question draws and computes before it is asked.
type template struct {
	language *rules.Language
	draws    []draw
	lets     []let
	where    []*rules.Expression
	space    int // how many draws there are, with those that where refuses
}

// draw is one value that is drawn from a list.
type draw struct {
	name   string
	values []any // float64 or string, all of one type
}

// let is one value that is computed from those above it.
type let struct {
	name string
	is   *rules.Expression
}

const (
	// mostDraws bounds the space of a question, so that a number in it is exact.
	mostDraws = 1_000_000_000
	// mostTries is how many draws are tried before a question gives up: where must
	// leave more than one in so many.
	mostTries = 2000
)

// errNoDraw says that where left nothing.
var errNoDraw = errors.New("no draw that was tried meets every line of where")

// values are what one draw gives: drawn and computed values by name.
type values = rules.Values

// at gives the draw with this number, without what is computed.
func (t *template) at(index int) values {
	v := t.language.Values()
	for _, d := range t.draws {
		v[d.name] = d.values[index%len(d.values)]
		index /= len(d.values)
	}
	return v
}

// pick gives the number and the values of the draw that a seed leads to. Seed 0
// takes the first that where lets through.
func (t *template) pick(id string, seed uint64) (int, values, error) {
	start, stride := uint64(0), uint64(1) // 64 bits on every machine
	if seed != 0 {
		h := hash(id, seed)
		start = h % uint64(t.space)
		stride = uint64(coprime(int(h>>32%uint64(t.space)), t.space))
	}
	for i := range uint64(min(t.space, mostTries)) {
		index := int((start + i*stride) % uint64(t.space))
		v := t.at(index)
		ok, err := t.allows(v)
		if err != nil {
			return 0, nil, fmt.Errorf("%s: %w", t.describe(index), err)
		}
		if !ok {
			continue
		}
		for _, l := range t.lets {
			if err := t.compute(l.name, v); err != nil {
				return 0, nil, fmt.Errorf("%s: %w", t.describe(index), err)
			}
		}
		return index, v, nil
	}
	return 0, nil, errNoDraw
}

// allows asks the lines of where in order. A line computes only what it uses, so
// that an earlier one can keep a later one from being asked in vain.
func (t *template) allows(v values) (bool, error) {
	for _, w := range t.where {
		if err := t.needs(w, v); err != nil {
			return false, err
		}
		holds, err := w.Run(v)
		if err != nil || holds != true {
			return false, err
		}
	}
	return true, nil
}

// needs computes what an expression uses and is not there yet.
func (t *template) needs(e *rules.Expression, v values) error {
	for _, name := range e.Uses() {
		if err := t.compute(name, v); err != nil {
			return err
		}
	}
	return nil
}

func (t *template) compute(name string, v values) error {
	if _, known := v[name]; known {
		return nil
	}
	for _, l := range t.lets {
		if l.name != name {
			continue
		}
		if err := t.needs(l.is, v); err != nil {
			return err
		}
		got, err := l.is.Run(v)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		v[name] = got
	}
	return nil
}

// describe tells a draw, "food=salsa-choice, ft=4200"; "" for a question that
// draws nothing.
func (t *template) describe(index int) string {
	text := ""
	for _, d := range t.draws {
		if text != "" {
			text += ", "
		}
		value := d.values[index%len(d.values)]
		if n, ok := value.(float64); ok {
			value = plain(n)
		}
		text += fmt.Sprintf("%s=%v", d.name, value)
		index /= len(d.values)
	}
	if text == "" {
		return "as written"
	}
	return text
}

// hash mixes a question's id and a seed. It is the same on every machine.
func hash(id string, seed uint64) uint64 {
	h := fnv.New64a()
	fmt.Fprintf(h, "%s %d", id, seed)
	mixed := h.Sum64() // FNV leaves the high bits of short texts poor; stir them
	mixed ^= mixed >> 33
	mixed *= 0xff51afd7ed558ccd
	mixed ^= mixed >> 33
	return mixed
}

// coprime gives the next number from n that shares no divisor with the space, so
// that its multiples come to every draw.
func coprime(n, space int) int {
	n = max(1, n)
	for gcd(n, space) != 1 {
		n++
	}
	return n
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// rangeOf lists whole or decimal numbers from one to another.
func rangeOf(from, to, step float64) ([]any, error) {
	if !(step > 0) || !(to >= from) || (to-from)/step > 100_000 {
		return nil, errors.New("a range needs from, to and step, with to not below from and step over 0")
	}
	if step < 1e-6 || math.Abs(from) > 1e9 || math.Abs(to) > 1e9 {
		return nil, errors.New("a range goes from -1e9 at least to 1e9 at most, in steps of 0.000001 or more")
	}
	var list []any
	for i := range int((to-from)/step+1e-9) + 1 {
		list = append(list, math.Round((from+float64(i)*step)*1e9)/1e9)
	}
	return list, nil
}
