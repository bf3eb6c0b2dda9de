package rules

import (
	"slices"
	"sync"

	"github.com/expr-lang/expr/vm"
)

// A Set holds rules, misconceptions, sources and their disagreements, loaded and checked whole. It
// is immutable and safe for concurrent use.
type Set struct {
	facts          *catalog
	stages         []string
	rules          []Rule
	runnable       []runnable // in the order in which findings are given
	misconceptions []Misconception
	sources        []Source
	disagreements  []Disagreement
	machines       sync.Pool // of *vm.VM, so that no stack is built per evaluation
}

func newSet(facts *catalog, stages []string, rules []Rule, runnables []runnable) *Set {
	// Stable, so that rules of one severity keep the order of their files.
	slices.SortStableFunc(runnables, func(a, b runnable) int {
		return slices.Index(severities, a.rule.Severity) - slices.Index(severities, b.rule.Severity)
	})
	return &Set{
		facts: facts, stages: stages, rules: rules, runnable: runnables,
		machines: sync.Pool{New: func() any { return new(vm.VM) }},
	}
}

// Rules gives every rule, in the order of the files' names and of their lines.
func (s *Set) Rules() []Rule { return slices.Clone(s.rules) }

// Rule gives the rule with an id.
func (s *Set) Rule(id string) (Rule, bool) {
	return find(s.rules, func(r Rule) bool { return r.ID == id })
}

// Misconceptions gives every misconception in the order of its file.
func (s *Set) Misconceptions() []Misconception { return slices.Clone(s.misconceptions) }

// Misconception gives the misconception with an id.
func (s *Set) Misconception(id string) (Misconception, bool) {
	return find(s.misconceptions, func(m Misconception) bool { return m.ID == id })
}

// Sources gives every source in the order of its file.
func (s *Set) Sources() []Source { return slices.Clone(s.sources) }

// Source gives the source with an id.
func (s *Set) Source(id string) (Source, bool) {
	return find(s.sources, func(s Source) bool { return s.ID == id })
}

// Disagreements gives every disagreement between sources in the order of its
// file; there are none when the file was left out.
func (s *Set) Disagreements() []Disagreement { return slices.Clone(s.disagreements) }

// Facts describes the facts that conditions may name, in the struct's order.
func (s *Set) Facts() []FactDoc {
	docs := make([]FactDoc, len(s.facts.facts))
	for i, f := range s.facts.facts {
		docs[i] = FactDoc{Name: f.name, Type: f.goType, Words: slices.Clone(f.words), Doc: f.doc}
	}
	return docs
}

func find[T any](list []T, match func(T) bool) (T, bool) {
	if i := slices.IndexFunc(list, match); i >= 0 {
		return list[i], true
	}
	var none T
	return none, false
}
