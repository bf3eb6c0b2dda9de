package rules

import (
	"reflect"
	"slices"
	"strings"

	"github.com/expr-lang/expr/vm"
)

// Rule is one judgement, as it stands in its file.
type Rule struct {
	ID             string
	Stage          string
	Severity       string // safety, quality or note
	Verdict        string // with safety: unsafe, no-tested-process or fix-first
	Field          string
	When           string
	Says, Why      string
	Given          string // template; "" when the file gives none
	Required       string // template; "" when the file gives none
	Lesson         string
	Misconceptions []string
	Source         string // ids, parted by ", "
	Breaks, Keeps  []Example
	File           string
	Line           int
}

// Example is one case of a rule, as it is written in the file.
type Example struct {
	YAML []byte
	Line int
}

// Finding is what one rule says of one case.
type Finding struct {
	Rule           string
	Severity       string // a rule's severity, or "not-checked" for a rule that could not run
	Verdict        string
	Field          string
	Given          string
	Required       string
	Says, Why      string
	Lesson         string
	Source         string
	Misconceptions []string
}

// NotChecked is the severity of a finding whose rule could not run.
const NotChecked = "not-checked"

// Misconception is a named wrong belief with its refutation in three parts.
type Misconception struct {
	ID     string
	Belief string // in the learner's words
	Not    string // that it is not so
	Truth  string // what is true, and why
	Lesson string
	Source string
}

// Source is a publication, and how it was read.
type Source struct {
	ID, Title, Publisher, Edition, Part string
	Read                                string // two-copies, one-copy or from-memory
	URL                                 string
}

// FactDoc describes one fact for people who write rules.
type FactDoc struct {
	Name, Type, Doc string
	Words           []string
}

// Options tells Load about the cases the rules will judge.
type Options struct {
	Facts  any                 // zero value of the flat struct of facts; tags expr:"name" doc:"..."
	Words  map[string][]string // the words that a fact of text may hold
	Stages []string            // first stage first
	Fields []string            // what a finding may be about
}

// Set is a checked set of rules. It does not change and is safe for concurrent
// use.
type Set struct {
	rules          []compiled
	stages         []string
	misconceptions []Misconception
	sources        []Source
	facts          []FactDoc
}

type compiled struct {
	Rule
	program                    *vm.Program
	says, why, given, required text
}

// Rules lists all rules: safety first, then quality, then notes, each in the
// order of the files.
func (s *Set) Rules() []Rule {
	list := make([]Rule, len(s.rules))
	for i := range s.rules {
		list[i] = s.rules[i].Rule
	}
	return list
}

// Rule gives the rule with an id.
func (s *Set) Rule(id string) (Rule, bool) {
	i := slices.IndexFunc(s.rules, func(c compiled) bool { return c.ID == id })
	if i < 0 {
		return Rule{}, false
	}
	return s.rules[i].Rule, true
}

// Misconceptions lists the wrong beliefs in the order of their file.
func (s *Set) Misconceptions() []Misconception { return slices.Clone(s.misconceptions) }

// Misconception gives the wrong belief with an id.
func (s *Set) Misconception(id string) (Misconception, bool) {
	i := slices.IndexFunc(s.misconceptions, func(m Misconception) bool { return m.ID == id })
	if i < 0 {
		return Misconception{}, false
	}
	return s.misconceptions[i], true
}

// Sources lists the publications in the order of their file.
func (s *Set) Sources() []Source { return slices.Clone(s.sources) }

// Source gives the publication with an id.
func (s *Set) Source(id string) (Source, bool) {
	i := slices.IndexFunc(s.sources, func(x Source) bool { return x.ID == id })
	if i < 0 {
		return Source{}, false
	}
	return s.sources[i], true
}

// Facts describes the facts that conditions may use, by name.
func (s *Set) Facts() []FactDoc { return slices.Clone(s.facts) }

func factDocs(o Options) []FactDoc {
	var docs []FactDoc
	t := reflect.TypeOf(o.Facts)
	for i := range t.NumField() {
		if f := t.Field(i); f.IsExported() && f.Tag.Get("expr") != "" {
			name := f.Tag.Get("expr")
			docs = append(docs, FactDoc{Name: name, Type: f.Type.String(), Doc: f.Tag.Get("doc"), Words: o.Words[name]})
		}
	}
	slices.SortFunc(docs, func(a, b FactDoc) int { return strings.Compare(a.Name, b.Name) })
	return docs
}
