package rules

import (
	"reflect"
	"regexp"
	"testing"
	"unicode/utf8"

	"github.com/expr-lang/expr/vm"
)

// FuzzCompile checks that a condition either compiles and then runs on any facts,
// with the same answer whether or not its needs are read first, or is refused with a fault that lies within it.
func FuzzCompile(f *testing.F) {
	for _, seed := range []string{
		`time_known and process_found and minutes < required_minutes`,
		`any(added, # in ["onion", "garlic"]) or len(added) > 0`,
		`not (method == "oven") and "salt" in added`,
		`low_acid and not time_known && !process_found and minutes > 0`,
		`not (low_acid and time_known) or not process_found and (time_known or low_acid)`,
		`not not low_acid and low_acid == time_known`,
		`minutes / 0 > 1`, `$env["method"] == "slo"`, `method = "oven"`, `low_acid ? true : 1`,
		`let x = 1; x`, `added[0:1] | filter(# == nil)`, "method == `oven`", `{"a": 1}.a ?? low_acid`,
		`if low_acid { true } else { 1 }`, `b"x" == ::len(added)`, `any(added, {#; true})`, `1..3`, "é = \n'\\x",
	} {
		f.Add(seed)
	}
	c, err := newCatalog(kitchenOptions())
	if err != nil {
		f.Fatal(err)
	}
	var facts []kitchen
	for bits := range 8 { // every mixture of the three yes-or-no facts
		k := kitchen{TimeKnown: bits&1 > 0, ProcessFound: bits&2 > 0, LowAcid: bits&4 > 0}
		facts = append(facts, k)
		k.Minutes, k.Jars, k.Method, k.Pack, k.Spice, k.Added = 1, 7, "oven", "hot", "salt", []string{"salt", "onion"}
		facts = append(facts, k)
	}
	f.Fuzz(func(t *testing.T, source string) {
		compiled, faults := c.compile(source)
		for _, fault := range faults {
			if fault.message == "" || fault.offset < 0 || fault.offset > utf8.RuneCountInString(source) {
				t.Errorf("compile(%q): fault %+v", source, fault)
			}
		}
		if (compiled.program == nil) == (len(faults) == 0) {
			t.Fatalf("compile(%q) = %+v, %v", source, compiled, faults)
		}
		if len(faults) > 0 {
			return
		}
		if len(compiled.uses) == 0 {
			t.Errorf("compile(%q) lets a condition through that names no fact", source)
		}
		run := runnable{condition: compiled}
		for i := range facts {
			broken, cause := run.run(new(vm.VM), facts[i])
			if cause != "" {
				t.Errorf("%q does not run: %s", source, cause)
			}
			if broken && !compiled.possible(reflect.ValueOf(facts[i])) {
				t.Errorf("%q is true of plan %d, and held to be impossible", source, i)
			}
		}
	})
}

// FuzzLoad checks that any rule file is either loaded or refused with messages
// that each name their place.
func FuzzLoad(f *testing.F) {
	f.Add(probeWith())
	f.Add(probeWith("    says: '{{.Time}} {{if .LowAcid}}{{printf `%q` .Pack}}{{end}}'", "    keeps:\n      - time: 1 min\n        # x\n"))
	f.Add("rules:\n  - id: a\n    when: >-\n      minuts\n      > 0\n    id: &a [*a, !!b c]\n")
	f.Add("rules: [{id: é, when: \"a\\n\", breaks: [{}, {a: {b: c}}]}]\r\n---\n")
	f.Add("? rules\n: - ? [a]\n    : b\n<<: *x\n")
	located := regexp.MustCompile(`^probe\.yaml:[1-9]\d*:[1-9]\d*: .`)
	f.Fuzz(func(t *testing.T, file string) {
		set, err := Load(folder(file), kitchenOptions())
		if err == nil {
			for _, r := range set.Rules() {
				if len(r.Breaks) == 0 || len(r.Keeps) == 0 || r.Source == "" || r.Line < 1 {
					t.Errorf("%q is loaded with rule %+v", file, r)
				}
			}
			set.Evaluate(&kitchen{LowAcid: true}, "batch", nil)
			return
		}
		joined, ok := err.(interface{ Unwrap() []error })
		if !ok {
			t.Fatalf("Load(%q): %v is not a list of problems", file, err)
		}
		for _, problem := range joined.Unwrap() {
			if !located.MatchString(problem.Error()) {
				t.Errorf("Load(%q): %q does not name its place", file, problem)
			}
		}
	})
}
