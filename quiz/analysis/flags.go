package analysis

import "math"

// Flag says why to look at an item or an option. The package comment lists them with
// their limits.
type Flag string

// The flags.
const (
	TooEasy         Flag = "too-easy"
	TooHard         Flag = "too-hard"
	SeparatesLittle Flag = "separates-little"

	KeyRepels   Flag = "key-repels"
	KeyOutdrawn Flag = "key-outdrawn"

	NeverChosen   Flag = "never-chosen"
	RarelyChosen  Flag = "rarely-chosen"
	DrawsStronger Flag = "draws-the-stronger"
	OutdrawsKey   Flag = "outdraws-key"
)

// Says puts the flag into words, to follow the name of the item or the option.
func (f Flag) Says() string {
	switch f {
	case TooEasy:
		return "nearly everybody has it right, so it hardly tells learners apart"
	case TooHard:
		return "hardly anybody has it right; is it taught, and is it clear?"
	case SeparatesLittle:
		return "the upper group has it right hardly more often than the lower group, or less often"
	case KeyRepels:
		return "those who have it right do worse on the rest of the test; read it again, and check its key"
	case KeyOutdrawn:
		return "the upper group prefers a wrong option; check the key"
	case NeverChosen:
		return "nobody chose it; if it was offered, it misleads nobody"
	case RarelyChosen:
		return "fewer than 5 % chose it, so it misleads hardly anybody"
	case DrawsStronger:
		return "it is wrong, but those who chose it do better on the rest of the test"
	case OutdrawsKey:
		return "it is wrong, but more of the upper group chose it than the right answer"
	}
	return string(f)
}

// flag raises the flags of an item and its options.
func (item *Item) flag(marks bool) {
	item.Flags = []Flag{}
	for i := range item.Options {
		item.Options[i].Flags = []Flag{}
	}
	if item.P == nil { // nobody answered
		return
	}
	raise := func(flags *[]Flag, f Flag, when bool) {
		if when {
			*flags = append(*flags, f)
		}
	}
	raise(&item.Flags, TooEasy, *item.P > 0.95)
	raise(&item.Flags, TooHard, *item.P < 0.20)
	raise(&item.Flags, SeparatesLittle, item.Discrimination != nil && math.Round(100**item.Discrimination) <= 19)

	const more = 1e-9                // learners; less than this is rounding
	var keyUpper, wrongUpper float64 // wrongUpper is that of the wrong option with most
	for _, o := range item.Options {
		if o.Key {
			keyUpper = *o.Upper
		} else {
			wrongUpper = max(wrongUpper, *o.Upper)
		}
	}
	for i := range item.Options {
		o := &item.Options[i]
		switch {
		case o.Key:
			raise(&o.Flags, KeyRepels, o.RRest != nil && *o.RRest < 0)
			raise(&o.Flags, KeyOutdrawn, !marks && wrongUpper > keyUpper+more)
		case !marks:
			raise(&o.Flags, NeverChosen, o.N == 0)
			raise(&o.Flags, RarelyChosen, o.N > 0 && *o.Share < 0.05)
			raise(&o.Flags, DrawsStronger, o.RRest != nil && *o.RRest > 0)
			raise(&o.Flags, OutdrawsKey, *o.Upper > keyUpper+more)
		}
	}
}
