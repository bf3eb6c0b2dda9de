package scenarios

import (
	"errors"
	"fmt"
	"math"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// A binder writes values into a plan and collects what cannot be read.
type binder struct {
	table    *process.Table
	plan     *Plan
	problems []error
}

// ParsePlan reads one plan file, YAML or JSON. The error joins a [Problem] for
// each thing that could not be read; the Plan then holds what could.
func (g *Grader) ParsePlan(file string, src []byte) (Plan, error) {
	b, batch, err := g.ParseFile(file, src)
	if batch && err == nil {
		err = &Problem{File: file, Line: 1, Col: 1, Message: "this is a batch, with a record of what happened; a plan is expected here"}
	}
	return b.Plan, err
}

// ParseFile reads a plan file or a batch file, YAML or JSON, and tells them
// apart by themselves: a batch has the keys plan and record. The error joins a
// [Problem] for each thing that could not be read.
func (g *Grader) ParseFile(file string, src []byte) (b Batch, batch bool, err error) {
	b.Plan.File = file
	root, err := readTree(src)
	if err != nil {
		var p *Problem
		if errors.As(err, &p) {
			p.File = file
		}
		return b, false, err
	}
	bind := binder{table: g.table, plan: &b.Plan}
	if batch = isBatch(root); batch {
		b.Record = bind.batch(root)
	} else {
		bind.tree("", root)
	}
	return b, batch, bind.err(file)
}

// PlanFromForm reads a plan from a submitted form whose fields are named as the
// plan's keys, dotted for groups. An empty field is not stated. Fields that are
// no plan key are left to the page. The error joins a [Problem] for each field
// that could not be read.
func (g *Grader) PlanFromForm(form url.Values) (Plan, error) {
	var plan Plan
	b := binder{table: g.table, plan: &plan}
	for _, k := range keys {
		values := form[k.Name]
		if k.Kind == KindWords {
			if len(values) > 0 {
				list := node{shape: shapeList}
				for _, v := range values {
					if v = strings.TrimSpace(v); v != "" {
						list.items = append(list.items, node{text: v})
					}
				}
				b.list(k, list)
			}
			continue
		}
		if len(values) > 0 && strings.TrimSpace(values[0]) != "" {
			b.scalar(k, node{text: strings.TrimSpace(values[0])})
		}
	}
	return plan, b.err("")
}

func (b *binder) err(file string) error {
	for _, err := range b.problems {
		var p *Problem
		if errors.As(err, &p) {
			p.File = file
		}
	}
	return errors.Join(b.problems...)
}

func (b *binder) problem(n node, key, format string, args ...any) {
	b.problems = append(b.problems, &Problem{Line: n.line, Col: n.col, Key: key, Value: n.text, Message: fmt.Sprintf(format, args...)})
}

// tree binds a mapping; prefix is "" at the top and "cooling." in a group.
func (b *binder) tree(prefix string, n node) {
	switch n.shape {
	case shapeEmpty:
		return
	case shapeScalar, shapeList:
		b.problem(n, strings.TrimSuffix(prefix, "."), "expected keys with values, such as %s", exampleOf(prefix))
		return
	}
	for _, e := range n.entries {
		name := prefix + e.key
		key, known := keyNamed(name)
		switch {
		case known && key.Kind == KindWords:
			b.list(key, e.value)
		case known:
			b.scalar(key, e.value)
		case prefix == "" && isGroup(e.key):
			b.tree(e.key+".", e.value)
		default:
			b.unknownKey(e, strings.TrimSuffix(prefix, "."), namesUnder(prefix))
		}
	}
}

func noSuchKey(key string, known []string) string {
	message := fmt.Sprintf("there is no key %q here", key)
	if near := measure.Nearest(key, known); near != "" {
		return message + fmt.Sprintf("; the nearest is %q", near)
	}
	return message + "; the keys are " + strings.Join(known, " ")
}

func exampleOf(prefix string) string {
	if prefix == "" {
		return "food: tomatoes-crushed"
	}
	return fmt.Sprintf("%s: {%s: ...}", strings.TrimSuffix(prefix, "."), namesUnder(prefix)[0])
}

func keyNamed(name string) (Key, bool) {
	for _, k := range keys {
		if k.Name == name {
			return k, true
		}
	}
	return Key{}, false
}

func isGroup(name string) bool { return len(groups[name]) > 0 }

// namesUnder lists the keys that may stand under a prefix, groups by their name.
func namesUnder(prefix string) []string {
	var names []string
	for _, k := range keys {
		rest, ok := strings.CutPrefix(k.Name, prefix)
		if !ok {
			continue
		}
		first, _, _ := strings.Cut(rest, ".")
		if len(names) == 0 || names[len(names)-1] != first {
			names = append(names, first)
		}
	}
	return names
}

func (b *binder) list(k Key, n node) {
	slot := b.plan.slot(k.Name).(*Stated[[]string])
	items := n.items
	switch n.shape {
	case shapeEmpty:
		return
	case shapeScalar:
		items = []node{n}
	case shapeMap:
		b.problem(n, k.Name, "expected a list such as [%s, %s]", k.Words[0], k.Words[1])
		return
	}
	words := []string{}
	for _, item := range items {
		if item.shape != shapeScalar || !slices.Contains(k.Words, item.text) {
			b.unknownWord(k, item)
			continue
		}
		if !slices.Contains(words, item.text) {
			words = append(words, item.text)
		}
	}
	*slot = Stated[[]string]{words, strings.Join(words, ", "), true}
	if len(words) == 0 {
		slot.Text = "none"
	}
}

func (b *binder) unknownWord(k Key, n node) {
	if n.shape != shapeScalar {
		b.problem(n, k.Name, "expected one of %s", strings.Join(k.Words, " "))
		return
	}
	if near := measure.Nearest(n.text, k.Words); near != "" {
		b.problem(n, k.Name, "%q is not a word for this; the nearest is %q", n.text, near)
		return
	}
	b.problem(n, k.Name, "%q is not a word for this; it is one of %s", n.text, strings.Join(k.Words, " "))
}

func (b *binder) scalar(k Key, n node) { b.scalarInto(k, b.plan.slot(k.Name), n) }

// scalarInto reads a single value into a Stated of any type.
func (b *binder) scalarInto(k Key, to slot, n node) {
	switch n.shape {
	case shapeEmpty:
		return
	case shapeMap, shapeList:
		b.problem(n, k.Name, "expected a single value")
		return
	}
	switch slot := to.(type) {
	case *Stated[string]:
		b.word(k, slot, n)
	case *Stated[bool]:
		switch n.text {
		case "true", "yes":
			*slot = Stated[bool]{true, "true", true}
		case "false", "no":
			*slot = Stated[bool]{false, "false", true}
		default:
			b.problem(n, k.Name, "%q is neither true nor false", n.text)
		}
	case *Stated[float64]:
		b.number(k, slot, n)
	case *Stated[measure.Altitude]:
		quantity(b, k, slot, n, measure.ParseAltitude)
	case *Stated[measure.Duration]:
		quantity(b, k, slot, n, measure.ParseDuration)
	case *Stated[measure.Pressure]:
		quantity(b, k, slot, n, measure.ParsePressure)
	case *Stated[measure.Length]:
		quantity(b, k, slot, n, measure.ParseLength)
	case *Stated[measure.Volume]:
		quantity(b, k, slot, n, measure.ParseVolume)
	case *Stated[measure.Temperature]:
		quantity(b, k, slot, n, measure.ParseTemperature)
	}
}

func (b *binder) word(k Key, slot *Stated[string], n node) {
	if k.Kind == KindFood {
		_, tested := b.table.Card(n.text)
		if _, untested := b.table.Untested(n.text); !tested && !untested {
			if near := b.table.NearestFood(n.text); near != "" {
				b.problem(n, k.Name, "%q is not a food of the process table; the nearest is %q", n.text, near)
			} else {
				b.problem(n, k.Name, "%q is not a food of the process table; the list of foods gives the ids", n.text)
			}
			return
		}
	} else if !slices.Contains(k.Words, n.text) {
		b.unknownWord(k, n)
		return
	}
	*slot = Stated[string]{n.text, n.text, true}
}

// topNumber is the most that a plain number may be. It only keeps out what cannot
// be meant: a pH has 0 to 14, and no jar waits ten thousand hours.
func topNumber(key string) float64 {
	if key == "ph.reading" {
		return 14
	}
	return 10000
}

// state sets a key to a value as TestedValues or a plan writes it: the words of a
// list are parted by commas, and "none" is a list without any.
func (b *binder) state(name, value string) {
	k, _ := keyNamed(name)
	if k.Kind != KindWords {
		b.scalar(k, node{text: value})
		return
	}
	list := node{shape: shapeList}
	for _, word := range strings.Split(value, ", ") {
		if word != "" && word != "none" {
			list.items = append(list.items, node{text: word})
		}
	}
	b.list(k, list)
}

// number reads hours, months, layers and pH readings.
func (b *binder) number(k Key, slot *Stated[float64], n node) {
	top := topNumber(k.Name)
	v, err := strconv.ParseFloat(n.text, 64)
	if err != nil || math.IsNaN(v) || v < 0 || v > top {
		b.problem(n, k.Name, "%q is not a number from 0 to %g", n.text, top)
		return
	}
	*slot = Stated[float64]{v, n.text, true}
}

func quantity[T any](b *binder, k Key, slot *Stated[T], n node, parse func(string) (T, error)) {
	v, err := parse(n.text)
	if err != nil {
		b.problems = append(b.problems, &Problem{Line: n.line, Col: n.col, Key: k.Name, Value: n.text, Message: err.Error(), Cause: err})
		return
	}
	*slot = Stated[T]{v, n.text, true}
}
