package rules

import (
	"errors"
	"fmt"
	"reflect"
	"slices"

	"github.com/expr-lang/expr/file"
	"github.com/expr-lang/expr/vm"
)

// A runnable is a rule ready to run.
type runnable struct {
	rule                       *Rule
	stage                      int // index in Options.Stages
	condition                  condition
	says, why, given, required text
}

// Evaluate runs every rule of a stage, and of the stages before it, on facts
// and appends a finding to dst for each rule that is broken and for each that
// could not run. Facts is a pointer to the struct the set was loaded with; it is
// only read. Safety comes first, then quality, then notes, each in the order of
// the rule files.
//
// Evaluate never drops a rule and never panics: with facts of another type, an
// unknown stage, a number that is NaN or infinite, a word outside its fact's
// list, or an error while running, the rules concerned give a finding with
// Severity "not-checked".
func (s *Set) Evaluate(facts any, stage string, dst []Finding) []Finding {
	stageIndex := slices.Index(s.stages, stage)
	pointer := reflect.ValueOf(facts)
	cause := ""
	switch {
	case stageIndex < 0:
		cause = fmt.Sprintf("there is no stage %q", stage)
	case !pointer.IsValid() || pointer.Type() != s.facts.sample.Type() || pointer.IsNil():
		cause = fmt.Sprintf("the facts are %T, not a %s", facts, s.facts.sample.Type())
	}
	if cause != "" {
		for i := range s.runnable {
			dst = append(dst, s.runnable[i].notChecked(cause))
		}
		return dst
	}

	// The library reads fields of a struct by reflection, which copies each one
	// to the heap when the struct is behind a pointer and none when it is a
	// value. One copy of the whole struct is therefore faster than a pointer.
	env := pointer.Elem().Interface()
	value := reflect.ValueOf(env)
	unfit := s.facts.unfit(value)
	machine := s.machines.Get().(*vm.VM)
	for i := range s.runnable {
		r := &s.runnable[i]
		if r.stage > stageIndex {
			continue
		}
		cause := r.unfitCause(unfit)
		broken := false
		if cause == "" && r.condition.possible(value) {
			broken, cause = r.run(machine, env)
		}
		switch {
		case cause != "":
			dst = append(dst, r.notChecked(cause))
		case broken:
			dst = append(dst, r.finding(facts))
		}
	}
	s.machines.Put(machine)
	return dst
}

// unfitCause says which of the facts this rule uses cannot be judged, or "".
func (r *runnable) unfitCause(unfit []unfitFact) string {
	for _, u := range unfit {
		if slices.Contains(r.condition.uses, u.index) {
			return u.cause
		}
	}
	return ""
}

// possible reads the needs of a condition, which is many times faster than to run
// it. Most rules are done with here; what they say of a plan that breaks them
// always comes from running them.
func (c *condition) possible(facts reflect.Value) bool {
	for _, n := range c.needs {
		if facts.Field(n.field).Bool() != n.value {
			return false
		}
	}
	return true
}

// run asks the condition. A cause that is not empty says why there is no answer.
func (r *runnable) run(machine *vm.VM, env any) (broken bool, cause string) {
	defer func() {
		if p := recover(); p != nil {
			broken, cause = false, fmt.Sprint(p)
		}
	}()
	out, err := machine.Run(r.condition.program, env)
	if err != nil {
		cause = err.Error()
		if located, ok := errors.AsType[*file.Error](err); ok {
			cause = located.Message // without the drawing of the condition
		}
		return false, cause
	}
	broken, ok := out.(bool)
	if !ok {
		return false, fmt.Sprintf("the condition gave %T, not yes or no", out)
	}
	return broken, ""
}

// finding writes what a broken rule says. A text that cannot be written leaves
// the finding as grave as it is.
func (r *runnable) finding(facts any) Finding {
	f := r.blank()
	f.Severity, f.Verdict = r.rule.Severity, r.rule.Verdict
	for _, part := range []struct {
		to   *string
		from *text
	}{{&f.Says, &r.says}, {&f.Why, &r.why}, {&f.Given, &r.given}, {&f.Required, &r.required}} {
		written, err := part.from.write(facts)
		if err != nil {
			written = "The rule " + r.rule.ID + " is broken, but its text could not be written."
		}
		*part.to = written
	}
	return f
}

// notChecked is the finding of a rule that could not run.
func (r *runnable) notChecked(cause string) Finding {
	f := r.blank()
	f.Severity = notChecked
	f.Says = "This could not be checked, so nothing is settled about it."
	f.Why = "A plan is as tested only when every rule has run. The rule " + r.rule.ID + " could not: " + cause + "."
	return f
}

// blank holds what both findings of a rule share.
func (r *runnable) blank() Finding {
	return Finding{
		Rule: r.rule.ID, Field: r.rule.Field, Lesson: r.rule.Lesson,
		Source: r.rule.Source, Misconceptions: r.rule.Misconceptions,
	}
}
