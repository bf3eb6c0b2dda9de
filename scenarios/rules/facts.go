package rules

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"reflect"
	"regexp"
	"slices"
)

// A kind is what a fact, or a part of a condition, holds.
type kind int

const (
	yesNo  kind = iota // bool
	number             // int or float64
	word               // string
	list               // []string
)

func (k kind) String() string {
	return [...]string{"yes or no", "a number", "a word", "a list"}[k]
}

// kinds lists the Go types a fact may have. Named types are left out because
// the expression library compares a named string with a literal as unequal.
var kinds = map[reflect.Type]kind{
	reflect.TypeFor[bool]():     yesNo,
	reflect.TypeFor[int]():      number,
	reflect.TypeFor[float64]():  number,
	reflect.TypeFor[string]():   word,
	reflect.TypeFor[[]string](): list,
}

type fact struct {
	name   string
	kind   kind
	field  int // index in the struct
	words  []string
	goType string
	doc    string
}

// A catalog lists the facts of a struct.
type catalog struct {
	structType reflect.Type
	sample     reflect.Value // pointer to the value that texts are tried with
	facts      []fact
}

var factName = regexp.MustCompile(`^[a-z][a-z0-9]*(_[a-z0-9]+)*$`)

// newCatalog reads the facts from the caller's struct, or says why the struct
// cannot be used.
func newCatalog(o Options) (*catalog, error) {
	v := reflect.ValueOf(o.Facts)
	if v.Kind() != reflect.Struct {
		return nil, fmt.Errorf("facts: need a struct value, got %T", o.Facts)
	}
	c := &catalog{structType: v.Type(), sample: reflect.New(v.Type())}
	c.sample.Elem().Set(v)

	var errs []error
	for i := range v.NumField() {
		field := v.Type().Field(i)
		name := field.Tag.Get("expr")
		if !field.IsExported() && !field.Anonymous || name == "-" {
			continue
		}
		k, known := kinds[field.Type]
		switch {
		case field.Anonymous:
			errs = append(errs, fmt.Errorf("facts: %s is embedded: write its fields out", field.Name))
		case name == "":
			errs = append(errs, fmt.Errorf("facts: %s has no name for rules: tag it `expr:\"some_name\"`, or `expr:\"-\"` when only texts use it", field.Name))
		case !factName.MatchString(name):
			errs = append(errs, fmt.Errorf("facts: %s: %q is not a name such as required_minutes", field.Name, name))
		case !known:
			errs = append(errs, fmt.Errorf("facts: %s is a %s: a fact is bool, int, float64, string or []string", name, field.Type))
		case c.index(name) >= 0:
			errs = append(errs, fmt.Errorf("facts: %s is named twice", name))
		default:
			c.facts = append(c.facts, fact{
				name: name, kind: k, field: i, words: slices.Clone(o.Words[name]),
				goType: field.Type.String(), doc: field.Tag.Get("doc"),
			})
		}
	}
	for _, name := range slices.Sorted(maps.Keys(o.Words)) {
		i, words := c.index(name), o.Words[name]
		switch {
		case i < 0:
			errs = append(errs, fmt.Errorf("facts: there are words for %q, which is no fact%s", name, insteadOf(name, c.names())))
		case c.facts[i].kind != word && c.facts[i].kind != list:
			errs = append(errs, fmt.Errorf("facts: there are words for %s, which is %s", name, c.facts[i].kind))
		case len(words) == 0 || slices.Contains(words, ""):
			errs = append(errs, fmt.Errorf("facts: the words for %s are missing, or one is empty", name))
		}
	}
	return c, errors.Join(errs...)
}

// index finds a fact by name; -1 when there is none.
func (c *catalog) index(name string) int {
	return slices.IndexFunc(c.facts, func(f fact) bool { return f.name == name })
}

func (c *catalog) names() []string {
	names := make([]string, len(c.facts))
	for i, f := range c.facts {
		names[i] = f.name
	}
	return names
}

// An unfitFact holds a value that would make conditions quietly false.
type unfitFact struct {
	index int
	cause string
}

// unfit finds the facts that no condition can be asked about: a number that is
// none, since nothing is shorter or longer than it, and a word outside its
// list, since nothing is equal to it. Without this a rule would hold because a
// fact is wrong.
func (c *catalog) unfit(v reflect.Value) []unfitFact {
	var found []unfitFact
	for i := range c.facts {
		f := &c.facts[i]
		switch f.kind {
		case number:
			if v := v.Field(f.field); v.CanFloat() && (math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0)) {
				found = append(found, unfitFact{i, fmt.Sprintf("the fact %s is %v", f.name, v.Float())})
			}
		case word:
			if w := v.Field(f.field).String(); w != "" && f.words != nil && !slices.Contains(f.words, w) {
				found = append(found, unfitFact{i, fmt.Sprintf("the fact %s has no word %q", f.name, w)})
			}
		case list:
			items := v.Field(f.field)
			for n := range items.Len() {
				if w := items.Index(n).String(); f.words != nil && !slices.Contains(f.words, w) {
					found = append(found, unfitFact{i, fmt.Sprintf("the fact %s has no word %q", f.name, w)})
				}
			}
		}
	}
	return found
}
