package bench

import (
	"errors"
	"fmt"

	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/process"
)

// What a comparison is held to when nothing else is asked: one false alarm in
// twenty, four true differences in five found.
const usualAlpha = 0.05

func seals() *Demo {
	return &Demo{
		Name: "seals", Title: "Bad lids, or bad luck?", Question: "What do a few unsealed jars tell?",
		About:   "Two in fourteen is what was seen; what it tells about the next fourteen is a range. Two ways of doing it are compared by asking how often chance alone would make so large a difference.",
		Leaves:  "It takes each jar as one throw of the same dice. Jars of one load share its faults, so the real range is wider. Every unsealed jar is dealt with the same day, whatever the figures say.",
		Sources: []string{"NIST/SEMATECH e-Handbook of Statistical Methods, 7.2.4", "Newcombe, Statistics in Medicine 17 (1998) 857-872", "Fisher, The Design of Experiments: the exact test", "Fleiss, Statistical Methods for Rates and Proportions: jars needed"},
		Keys: []Key{
			{Name: "unsealed", Label: "Unsealed jars", Means: "A count.", Default: "2", Instead: []string{"a", "b"}, read: readCount},
			{Name: "jars", Label: "Of how many jars", Means: "A count.", Default: "14", Instead: []string{"a", "b"}, read: readCount},
			{Name: "a", Label: "Or compare: first way", Means: "Unsealed of all, such as 2/14.", read: readOf},
			{Name: "b", Label: "Second way", Means: "Unsealed of all, such as 0/14.", read: readOf},
			{Name: "confidence", Label: "How sure", Means: "95 % is usual.", Default: "95 %", read: readShare},
			{Name: "power", Label: "To find a true difference", Means: "How often: 80 % is usual.", Default: "80 %", read: readShare},
			{Name: "difference", Label: "Difference worth finding", Means: "In shares unsealed. Left out: the one that was seen.", read: readShare},
		},
		run: runSeals,
	}
}

// counted is one way of doing it and what came of it.
type counted struct {
	name             string
	k, n             int
	wilson, exactest [2]float64
}

func count(name string, k, n int, confidence float64) (c counted, err error) {
	c = counted{name: name, k: k, n: n}
	if c.wilson[0], c.wilson[1], err = physics.Wilson(k, n, confidence); err != nil {
		return c, err
	}
	c.exactest[0], c.exactest[1], err = physics.ClopperPearson(k, n, confidence)
	return c, err
}

func (c counted) share() float64 { return float64(c.k) / float64(c.n) }

func runSeals(in values, _ *process.Table) (Result, error) {
	if in.has("a") != in.has("b") {
		return Result{}, &KeyError{Cause: fmt.Errorf("to compare, give both a and b, such as a=2/14 b=0/14")}
	}
	if in.has("a") && (in["unsealed"].given || in["jars"].given) {
		return Result{}, &KeyError{Cause: fmt.Errorf("give unsealed and jars, or a and b to compare, not all of them")}
	}
	if in.has("a") {
		return compareSeals(in)
	}
	k, n := int(in.num("unsealed")), int(in.num("jars"))
	c, err := count("unsealed", k, n, in.num("confidence"))
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	r := Result{
		Says: []string{fmt.Sprintf("%d of %d did not seal. The true share lies most likely between %s and %s.", k, n, sayShare(c.wilson[0]), sayShare(c.wilson[1]))},
		Numbers: []Number{
			{"share", "Share unsealed", c.share(), sayShare(c.share())},
			{"wilson", "Range (Wilson)", c.wilson, sayRange(c.wilson)},
			{"clopper_pearson", "Range (exact, Clopper and Pearson)", c.exactest, sayRange(c.exactest)},
		},
	}
	if k == 0 {
		r.Says = append(r.Says, "No failure does not mean that none will come.")
	}
	if in.has("difference") {
		other := c.share() - in.num("difference")
		if other < 0 {
			other = c.share() + in.num("difference")
		}
		if err := needed(&r, in, c.share(), other); err != nil {
			return Result{}, err
		}
	}
	sealsFigure(&r, c)
	return r, nil
}

func sayRange(r [2]float64) string { return sayShare(r[0]) + " to " + sayShare(r[1]) }

// needed adds how many jars of each way it takes to find a difference.
func needed(r *Result, in values, p1, p2 float64) error {
	jars, err := physics.JarsNeeded(p1, p2, usualAlpha, in.num("power"))
	if outside, ok := errors.AsType[*physics.RangeError](err); ok {
		return &KeyError{Cause: outside}
	}
	if err != nil { // more than anybody cans
		r.Numbers = append(r.Numbers, Number{"jars_needed", "Jars of each to tell", nil, "more than 100 000"})
		r.Says = append(r.Says, "So small a difference cannot be told by any number of jars that a class cans.")
		return nil
	}
	r.Numbers = append(r.Numbers, Number{"jars_needed", "Jars of each to tell", jars, fmt.Sprint(jars)})
	r.Says = append(r.Says, fmt.Sprintf("To tell %s from %s unsealed takes about %d jars of each.", sayShare(p1), sayShare(p2), jars))
	return nil
}

func compareSeals(in values) (Result, error) {
	var ways [2]counted
	for i, key := range []string{"a", "b"} {
		k, n, err := countOf(in.text(key))
		if err != nil {
			return Result{}, underKey(key, in, err)
		}
		if ways[i], err = count([]string{"first way", "second way"}[i], k, n, in.num("confidence")); err != nil {
			return Result{}, underKey(key, in, err)
		}
	}
	a, b := ways[0], ways[1]
	one, two, err := physics.Fisher(a.k, a.n, b.k, b.n)
	if err != nil {
		return Result{}, &KeyError{Cause: err}
	}
	r := Result{Numbers: []Number{
		{"wilson_a", "First way", a.wilson, fmt.Sprintf("%d of %d, %s", a.k, a.n, sayRange(a.wilson))},
		{"wilson_b", "Second way", b.wilson, fmt.Sprintf("%d of %d, %s", b.k, b.n, sayRange(b.wilson))},
		{"clopper_pearson_a", "", a.exactest, ""},
		{"clopper_pearson_b", "", b.exactest, ""},
		{"fisher_two_sided", "Chance alone, either way", two, sayShare(two)},
		{"fisher_one_sided", "Chance alone, this way round", one, sayShare(one)},
	}}
	r.Says = []string{fmt.Sprintf("%d of %d against %d of %d: if both ways seal equally well, chance alone makes so large a difference about %s.", a.k, a.n, b.k, b.n, OneIn(two))}
	p1, p2 := a.share(), b.share()
	if in.has("difference") {
		p2 = p1 - in.num("difference")
		if p2 < 0 {
			p2 = p1 + in.num("difference")
		}
	}
	if p1 == p2 {
		r.Numbers = append(r.Numbers, Number{"jars_needed", "Jars of each to tell", nil, "no difference to find"})
	} else if err := needed(&r, in, p1, p2); err != nil {
		return Result{}, err
	}
	sealsFigure(&r, a, b)
	return r, nil
}

// OneIn says a probability as people say it.
func OneIn(p float64) string {
	switch {
	case p > 0.95:
		return "every time"
	case p > 0.6:
		return fmt.Sprintf("%.0f times in 10", p*10)
	case p > 0.4:
		return "one time in two"
	case p > 0.35:
		return "4 times in 10" // and not "one time in 2", which reads as more
	}
	if p < 1e-6 {
		return "less than one time in a million"
	}
	return fmt.Sprintf("one time in %.0f", 1/p)
}

func sealsFigure(r *Result, ways ...counted) {
	r.Figure = &Figure{
		Title: "Unsealed jars, and the range the true share may lie in",
		Says:  r.Says[0],
		X:     Axis{Label: "Share unsealed", Unit: "%", Min: 0, Max: 100},
		Y:     Axis{Min: -0.6, Max: float64(len(ways)) - 0.4},
	}
	r.Table = Table{Caption: "The trials in figures", Head: []string{"What was tried", "Unsealed", "Range (Wilson)", "Range (exact)"}}
	for i, w := range ways {
		y := float64(len(ways) - 1 - i)
		r.Figure.Y.Names = append([]string{w.name}, r.Figure.Y.Names...)
		r.Figure.Lines = append(r.Figure.Lines, Line{Points: []Point{{100 * w.wilson[0], y}, {100 * w.wilson[1], y}}})
		r.Figure.Marks = append(r.Figure.Marks, Mark{X: 100 * w.share(), Y: y, Text: fmt.Sprintf("%d of %d", w.k, w.n)})
		r.Table.Rows = append(r.Table.Rows, Row{Cells: []string{w.name, fmt.Sprintf("%d of %d", w.k, w.n), sayRange(w.wilson), sayRange(w.exactest)}})
	}
}
