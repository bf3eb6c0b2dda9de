package analysis

import (
	"fmt"
	"math"
	"slices"

	"rollingboil/scenarios/physics"
)

// TooFew is the label of an analysis of fewer than 30 learners.
const TooFew = "too few learners to judge the questions"

const (
	labeledBelow = 30   // learners
	hiddenBelow  = 20   // learners
	kelley       = 0.27 // share of the learners in the upper, and in the lower group
	confidence   = 0.95 // of the intervals
)

// Analysis is what a class's answers say about a test. See the package comment for
// each value. One that is not defined is nil.
type Analysis struct {
	N       int      `json:"n"`        // learners who were counted
	LeftOut int      `json:"left_out"` // learners who were not, because an answer is missing
	Label   string   `json:"label"`    // TooFew, or "" for a class that is large enough
	Mean    *float64 `json:"mean"`     // of the totals, in items
	VarN    *float64 `json:"var_n"`    // variance of the totals with divisor n, in items²
	Alpha   *float64 `json:"alpha"`
	KR20    *float64 `json:"kr20"`
	SEM     *float64 `json:"sem"`     // in items
	GroupN  *float64 `json:"group_n"` // learners in the upper, and in the lower group
	Items   []Item   `json:"items"`
}

// Item is what the answers say about one item.
type Item struct {
	Name           string   `json:"item"`
	P              *float64 `json:"p"`
	PLow           *float64 `json:"p_low"`
	PHigh          *float64 `json:"p_high"`
	RIncl          *float64 `json:"r_incl"`
	RExcl          *float64 `json:"r_excl"`
	AlphaDeleted   *float64 `json:"alpha_deleted"`
	Discrimination *float64 `json:"discrimination"`
	Flags          []Flag   `json:"flags"`
	Options        []Option `json:"options"` // letters first, then numbers; in a table of marks 0 and 1
}

// Option is who chose one option of an item.
type Option struct {
	Option string   `json:"option"`
	Key    bool     `json:"key"` // it is the right one
	N      int      `json:"n"`
	Share  *float64 `json:"share"`  // of all learners counted
	RRest  *float64 `json:"r_rest"` // correlation of choosing it with the rest of the total
	Upper  *float64 `json:"upper"`  // how many of the upper group chose it; tied learners count in part
	Lower  *float64 `json:"lower"`  // how many of the lower group chose it
	Flags  []Flag   `json:"flags"`
}

// Of analyzes a table. It is an error if the table has no items, more of anything than
// [MaxLearners] and [MaxItems] allow, rows of other lengths, or answers that an item
// does not offer.
func Of(t Table) (Analysis, error) {
	if err := t.check(); err != nil {
		return Analysis{}, err
	}
	all, err := t.choices()
	if err != nil {
		return Analysis{}, err
	}
	rows, leftOut, err := t.complete(all)
	if err != nil {
		return Analysis{}, err
	}
	key := t.Key
	if key == nil {
		key = slices.Repeat([]Answer{Right}, len(t.Items))
	}
	group := t.Group
	if group == 0 {
		group = kelley
	}
	s := count(rows, key, group)
	if t.Key != nil && t.Offered == nil {
		all = s.seen(key)
	}

	a := Analysis{
		N:       len(rows),
		LeftOut: t.LeftOut + leftOut,
		Mean:    ratio(s.total, s.n),
		VarN:    ratio(s.variance, s.n*s.n),
		KR20:    kr20(len(key), s.itemVariances, s.variance),
	}
	if a.N > 0 {
		a.GroupN = &s.group
	}
	if a.N < labeledBelow {
		a.Label = TooFew
	}
	a.Alpha = a.KR20
	if a.KR20 != nil {
		sem := standardError(*a.VarN, *a.KR20)
		a.SEM = &sem
	}
	for j, name := range t.Items {
		item, err := s.item(j, key[j], &all[j])
		if err != nil {
			return Analysis{}, fmt.Errorf("item %q: %w", name, err)
		}
		item.Name = name
		item.flag(t.Key == nil)
		a.Items = append(a.Items, item)
	}
	return a, nil
}

// Hidden reports whether the class is so small, below 20 learners, that ForDisplay hides
// coefficients and flags.
func (a Analysis) Hidden() bool { return a.N < hiddenBelow }

// ForDisplay is the analysis as it may be shown to the teacher of the class. With
// fewer than 20 learners nothing that depends on how answers go together is left, nor
// any flag: only counts, shares, their intervals, mean and variance.
func (a Analysis) ForDisplay() Analysis {
	if !a.Hidden() {
		return a
	}
	a.Alpha, a.KR20, a.SEM, a.GroupN = nil, nil, nil, nil
	a.Items = slices.Clone(a.Items)
	for j := range a.Items {
		item := &a.Items[j]
		item.RIncl, item.RExcl, item.AlphaDeleted, item.Discrimination = nil, nil, nil, nil
		item.Flags = []Flag{}
		item.Options = slices.Clone(item.Options)
		for i := range item.Options {
			o := &item.Options[i]
			o.RRest, o.Upper, o.Lower, o.Flags = nil, nil, nil, []Flag{}
		}
	}
	return a
}

// tally counts the learners who gave one answer to one item.
type tally struct {
	n                int64
	total            int64 // the sum of their totals
	upper, upperEdge int64 // above the last score of the upper group, and at it
	lower, lowerEdge int64 // below the last score of the lower group, and at it
}

// sums is a class added up. All counts are whole numbers and stay so until they are
// divided, so that what does not vary has a variance of exactly 0. Variances and
// covariances are kept multiplied by n²; 100 000 learners and 1 000 items make
// 10^16 of that at most.
type sums struct {
	n, items      int64
	total         int64 // of all totals
	variance      int64 // of the totals, times n²
	itemVariances int64 // p(1-p) of all items, times n²
	right         []int64
	tallies       [][answers]tally

	group                        float64 // learners in a group
	upperFraction, lowerFraction float64 // by which a learner at its edge belongs to it
}

// count adds up a class: once over the rows for the totals, which say where the
// groups end, and once for the answers.
func count(rows [][]Answer, key []Answer, group float64) sums {
	s := sums{n: int64(len(rows)), items: int64(len(key)), right: make([]int64, len(key)), tallies: make([][answers]tally, len(key))}
	totals := make([]int64, len(rows))
	learners := make([]int64, len(key)+1) // with each total
	var squares int64
	for i, row := range rows {
		var x int64
		for j, a := range row {
			if a == key[j] {
				x++
			}
		}
		totals[i] = x
		learners[x]++
		s.total += x
		squares += x * x
	}
	s.variance = s.n*squares - s.total*s.total

	s.group = group * float64(s.n)
	var lowest, highest int // the totals at the edge of the groups
	lowest, s.lowerFraction = edge(learners, s.group)
	slices.Reverse(learners)
	highest, s.upperFraction = edge(learners, s.group)
	highest = len(key) - highest

	for i, row := range rows {
		x := totals[i]
		one := tally{
			n: 1, total: x,
			upper: whether(x > int64(highest)), upperEdge: whether(x == int64(highest)),
			lower: whether(x < int64(lowest)), lowerEdge: whether(x == int64(lowest)),
		}
		for j, a := range row {
			t := &s.tallies[j][a]
			t.n += one.n
			t.total += one.total
			t.upper += one.upper
			t.upperEdge += one.upperEdge
			t.lower += one.lower
			t.lowerEdge += one.lowerEdge
		}
	}
	for j, a := range key {
		s.right[j] = s.tallies[j][a].n
		s.itemVariances += s.right[j] * (s.n - s.right[j])
	}
	return s
}

// edge finds where a group of the given size ends, when learners join in the
// order of the list: at which place of the list, and which fraction of the learners
// there still belongs to it.
func edge(learners []int64, size float64) (place int, fraction float64) {
	for i, n := range learners {
		if n > 0 && float64(n) >= size {
			return i, size / float64(n)
		}
		size -= float64(n)
	}
	return 0, 0 // nobody is there
}

func whether(yes bool) int64 {
	if yes {
		return 1
	}
	return 0
}

// seen gives, for each item, what anybody chose or the key names in any item whose key
// is of the same kind.
func (s sums) seen(key []Answer) []choices {
	var letters, numbers choices
	all := make([]choices, len(key))
	kind := func(j int) *choices {
		if key[j].letter() {
			return &letters
		}
		return &numbers
	}
	for j, right := range key {
		kind(j)[right] = true
		for a, t := range s.tallies[j] {
			kind(j)[a] = kind(j)[a] || t.n > 0
		}
	}
	for j := range all {
		all[j] = *kind(j)
	}
	return all
}

// item works out the values of one item, but for its name and flags.
func (s sums) item(j int, key Answer, offered *choices) (Item, error) {
	right := s.right[j]
	own := right * (s.n - right)
	shared := s.n*s.tallies[j][key].total - right*s.total // covariance with the total
	rest := s.variance + own - 2*shared                   // variance of the rest
	item := Item{
		P:            ratio(right, s.n),
		RIncl:        correlation(shared, own, s.variance),
		RExcl:        correlation(shared-own, own, rest),
		AlphaDeleted: kr20(int(s.items)-1, s.itemVariances-own, rest),
	}
	if s.n > 0 {
		low, high, err := physics.Wilson(int(right), int(s.n), confidence)
		if err != nil {
			return Item{}, err
		}
		item.PLow, item.PHigh = &low, &high
	}
	for a, t := range s.tallies[j] {
		if !offered[a] {
			continue
		}
		o := Option{Option: Answer(a).String(), Key: Answer(a) == key, N: int(t.n), Share: ratio(t.n, s.n)}
		restTotal := t.total // of the rests of those who chose it
		if o.Key {
			restTotal -= t.n
		}
		o.RRest = correlation(s.n*restTotal-t.n*(s.total-right), t.n*(s.n-t.n), rest)
		upper := float64(t.upper) + s.upperFraction*float64(t.upperEdge)
		lower := float64(t.lower) + s.lowerFraction*float64(t.lowerEdge)
		if s.n > 0 {
			o.Upper, o.Lower = &upper, &lower
		}
		if o.Key && s.variance > 0 {
			item.Discrimination = within(-1, (upper-lower)/s.group, 1)
		}
		item.Options = append(item.Options, o)
	}
	return item, nil
}

// kr20 is Kuder and Richardson's formula 20 for a number of items, from the sum of the
// items' variances and the variance of the totals, both with the same divisor.
func kr20(items int, itemVariances, variance int64) *float64 {
	if items < 2 || variance == 0 {
		return nil
	}
	k := float64(items)
	return within(math.Inf(-1), k/(k-1)*(1-float64(itemVariances)/float64(variance)), 1)
}

// standardError is the standard error of measurement, from the variance of the totals
// and the reliability, in the unit of the totals.
func standardError(variance, reliability float64) float64 {
	return math.Sqrt(variance * (1 - reliability))
}

// correlation is nil where a side does not vary.
func correlation(covariance, one, other int64) *float64 {
	if one == 0 || other == 0 {
		return nil
	}
	return within(-1, float64(covariance)/(math.Sqrt(float64(one))*math.Sqrt(float64(other))), 1)
}

func ratio(a, b int64) *float64 {
	if b == 0 {
		return nil
	}
	q := float64(a) / float64(b)
	return &q
}

// within sets right a value that rounding has carried past an end of its range.
func within(low, v, high float64) *float64 {
	v = min(max(v, low), high)
	return &v
}
