package exchange

import (
	"fmt"
	"slices"
	"strings"

	"rollingboil/quiz"
)

// Mapping says what each value of an answer is worth (QTI 3.0 information model,
// Mapping).
type Mapping struct {
	Entries []MapEntry `json:"entries"`
	Default float64    `json:"default"` // of a value without an entry
	Lower   *float64   `json:"lower,omitempty"`
	Upper   *float64   `json:"upper,omitempty"`
}

// MapEntry is what one value is worth.
type MapEntry struct {
	Key     string  `json:"key"`
	Worth   float64 `json:"worth"`
	AnyCase bool    `json:"any_case,omitempty"` // texts: capitals do not matter
}

// Tolerance says how near to the key a number must be (QTI 3.0 information model,
// Equal). The other number is to lie between x - Below and x + Above, in percent of x
// where Mode is relative; x is the answer or the key, whichever the rule names first.
type Tolerance struct {
	Mode         string  `json:"mode"` // exact, absolute or relative
	Below        float64 `json:"below"`
	Above        float64 `json:"above"`
	AroundAnswer bool    `json:"around_answer"`        // x is the answer, not the key
	OpenBelow    bool    `json:"open_below,omitempty"` // the lower end itself is too far off
	OpenAbove    bool    `json:"open_above,omitempty"`
}

// Score scores an answer: the identifiers of choices, in the order given, pairs
// "SOURCE TARGET", or the one thing that was typed. No answer, and a number that
// cannot be read, score 0. The error is for an answer that nobody could give: something
// that is not offered, or more of it than may be.
func (item *ImportedItem) Score(answer []string) (float64, error) {
	if err := item.possible(answer); err != nil {
		return 0, fmt.Errorf("score %s: %w", item.Identifier, err)
	}
	if len(answer) == 0 || item.Kind == Text && answer[0] == "" {
		return 0, nil // NULL: no rule that is read gives it anything
	}
	if item.Kind == quiz.Number {
		if item.fault(line(answer[0])) != "" {
			return 0, nil
		}
		answer = []string{line(answer[0])}
	}
	switch item.Scoring {
	case ByMap:
		return item.mapped(answer), nil
	case ByEqual:
		if item.Tolerance.near(answer[0], item.Correct[0]) {
			return item.Points, nil
		}
	case ByMatch:
		if item.matches(answer) {
			return item.Points, nil
		}
	}
	return 0, nil
}

// possible says why nobody could give this answer.
func (item *ImportedItem) possible(answer []string) error {
	if item.cardinality == "single" && len(answer) > 1 {
		return fmt.Errorf("%d answers, where one is asked for", len(answer))
	}
	if item.Kind == quiz.Number || item.Kind == Text {
		return nil
	}
	used := map[string]int{}
	for _, value := range answer {
		if fault := item.fault(value); fault != "" {
			return fmt.Errorf("%q: %s", value, fault)
		}
		for _, id := range strings.Fields(value) {
			used[id]++
		}
	}
	for _, o := range slices.Concat(item.Options, item.Withs) {
		if o.Most > 0 && used[o.Identifier] > o.Most {
			return fmt.Errorf("%s is part of %d pairs; it may be part of %d", o.Identifier, used[o.Identifier], o.Most)
		}
	}
	return nil
}

// matches compares with the correct response: in order for ordered responses, else as
// collections in which a value may stand more than once (QTI 3.0 information model,
// Match).
func (item *ImportedItem) matches(answer []string) bool {
	if item.Kind == quiz.Number {
		return Tolerance{Mode: "exact"}.near(answer[0], item.Correct[0])
	}
	given, correct := slices.Clone(answer), slices.Clone(item.Correct)
	if item.baseType == "directedPair" {
		for i, pair := range given {
			given[i] = line(pair)
		}
	}
	if item.cardinality == "multiple" {
		slices.Sort(given)
		slices.Sort(correct)
	}
	return slices.Equal(given, correct)
}

// mapped sums what the values are worth, each counted once, and keeps the sum within
// the bounds (QTI 3.0 information model, MapResponse).
func (item *ImportedItem) mapped(answer []string) float64 {
	m := item.Mapping
	var counted []string
	sum := 0.0
	for _, value := range answer {
		if item.baseType == "directedPair" {
			value = line(value)
		}
		if slices.Contains(counted, value) {
			continue
		}
		counted = append(counted, value)
		i := slices.IndexFunc(m.Entries, func(e MapEntry) bool {
			return e.Key == value || e.AnyCase && strings.EqualFold(e.Key, value) || item.Kind == quiz.Number && Tolerance{Mode: "exact"}.near(value, e.Key)
		})
		if i < 0 {
			sum += m.Default
		} else {
			sum += m.Entries[i].Worth
		}
	}
	if m.Lower != nil {
		sum = max(sum, *m.Lower)
	}
	if m.Upper != nil {
		sum = min(sum, *m.Upper)
	}
	return sum
}

// near compares two numbers that can be read.
func (t Tolerance) near(answer, key string) bool {
	x, _ := parseFloat(key)
	y, _ := parseFloat(answer)
	if t.AroundAnswer {
		x, y = y, x
	}
	below, above := x, x
	switch t.Mode {
	case "absolute":
		below, above = x-t.Below, x+t.Above
	case "relative":
		below, above = x*(1-t.Below/100), x*(1+t.Above/100)
		below, above = min(below, above), max(below, above) // x may be below 0
	}
	return (y > below || !t.OpenBelow && y == below) && (y < above || !t.OpenAbove && y == above)
}
