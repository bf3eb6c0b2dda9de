package bench

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// Demo is one demonstration.
type Demo struct {
	Name     string // in addresses and on the command line
	Title    string
	Question string // the one it answers
	About    string // what it works out, and from what
	Leaves   string // what it leaves out
	Sources  []string
	Keys     []Key
	run      func(values, *process.Table) (Result, error)
}

// Key is one value that a demonstration asks for.
type Key struct {
	Name    string
	Label   string
	Means   string
	Default string // "" when it is left out unless given
	Words   []string
	// Instead names keys that stand in place of this one: with any of them given,
	// its default is not used.
	Instead []string
	// Command is true for a key that only makes sense on the command line.
	Command bool
	read    func(string) (float64, error)
}

// Bench runs demonstrations against a process table. It never changes, so any
// number of goroutines may use it.
type Bench struct {
	table *process.Table
	demos []*Demo
}

// New makes a bench whose demonstrations mark the published values of a table.
func New(table *process.Table) *Bench {
	return &Bench{table: table, demos: []*Demo{
		boilingPoint(), gauge(), jars(), heating(), lethality(), vacuum(), lid(), acid(), seals(), cookDown(), fit(),
	}}
}

// Demos gives all demonstrations, in the order in which a course uses them.
func (b *Bench) Demos() []*Demo { return b.demos }

// Demo finds a demonstration by its name. The error of an unknown one tells the
// nearest.
func (b *Bench) Demo(name string) (*Demo, error) {
	var names []string
	for _, d := range b.demos {
		if d.Name == name {
			return d, nil
		}
		names = append(names, d.Name)
	}
	if near := measure.Nearest(name, names); near != "" {
		return nil, fmt.Errorf("there is no demonstration %q; the nearest is %q", name, near)
	}
	return nil, fmt.Errorf("there is no demonstration %q; there are: %s", name, strings.Join(names, ", "))
}

// Run computes a demonstration for values as people write them. A key that is not
// given, or is empty, has its default. All values that cannot be read are told
// together, each as a *KeyError; a value outside the range of the model is told as
// one too, under the key it came from or under none.
func (b *Bench) Run(d *Demo, given map[string]string) (Result, error) {
	in, err := d.values(given)
	if err != nil {
		return Result{}, err
	}
	return d.run(in, b.table)
}

// KeyError says what is wrong with the value of one key.
type KeyError struct {
	Key   string // "" when it is about several
	Text  string // what was written
	Cause error
}

// Error gives key: what is wrong.
func (e *KeyError) Error() string {
	if e.Key == "" {
		return e.Cause.Error()
	}
	return e.Key + ": " + e.Cause.Error()
}

// Unwrap gives the cause.
func (e *KeyError) Unwrap() error { return e.Cause }

// KeyErrors lists every KeyError joined in err, in order.
func KeyErrors(err error) []*KeyError {
	if joined, ok := err.(interface{ Unwrap() []error }); ok {
		var all []*KeyError
		for _, e := range joined.Unwrap() {
			all = append(all, KeyErrors(e)...)
		}
		return all
	}
	if e, ok := errors.AsType[*KeyError](err); ok {
		return []*KeyError{e}
	}
	return nil
}

// value is one value as it was read.
type value struct {
	text  string
	n     float64 // in the unit that the key reads in
	given bool    // written, not the default
}

// values are the values of one run, by key.
type values map[string]value

func (v values) num(key string) float64 { return v[key].n }
func (v values) text(key string) string { return v[key].text }
func (v values) has(key string) bool    { return v[key].text != "" }

func (d *Demo) values(given map[string]string) (values, error) {
	var wrong []error
	names := make([]string, 0, len(d.Keys))
	for _, k := range d.Keys {
		names = append(names, k.Name)
	}
	for _, key := range sortedKeys(given) {
		if !slices.Contains(names, key) {
			cause := fmt.Errorf("there is no such key; the keys are %s", strings.Join(names, ", "))
			if near := measure.Nearest(key, names); near != "" {
				cause = fmt.Errorf("there is no such key; the nearest is %q", near)
			}
			wrong = append(wrong, &KeyError{Key: key, Text: given[key], Cause: cause})
		}
	}
	in := values{}
	for _, k := range d.Keys {
		v := value{text: k.Shown(given), given: strings.TrimSpace(given[k.Name]) != ""}
		if v.text != "" {
			var err error
			if v.n, err = k.parse(v.text); err != nil {
				wrong = append(wrong, &KeyError{Key: k.Name, Text: v.text, Cause: err})
			}
		}
		in[k.Name] = v
	}
	return in, errors.Join(wrong...)
}

// Shown is the value that is computed with: what was given, else the default, or
// nothing where another key stands in its place.
func (k Key) Shown(given map[string]string) string {
	if v := strings.TrimSpace(given[k.Name]); v != "" {
		return v
	}
	if slices.ContainsFunc(k.Instead, func(other string) bool { return strings.TrimSpace(given[other]) != "" }) {
		return ""
	}
	return k.Default
}

func (k Key) parse(text string) (float64, error) {
	if k.Words != nil && !slices.Contains(k.Words, text) {
		if near := measure.Nearest(text, k.Words); near != "" {
			return 0, fmt.Errorf("%q is none of %s; the nearest is %q", text, strings.Join(k.Words, ", "), near)
		}
		return 0, fmt.Errorf("%q is none of %s", text, strings.Join(k.Words, ", "))
	}
	if k.read == nil {
		return 0, nil
	}
	return k.read(text)
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.Sort(keys)
	return keys
}
