package rules

import (
	"fmt"
	"slices"
	"strings"
	"sync"

	"github.com/expr-lang/expr/vm"
)

var machines = sync.Pool{New: func() any { return new(vm.VM) }}

// Evaluate runs every rule of a stage, and of the stages before it, on the facts
// of one case and appends the findings to dst. facts is a pointer to the struct
// that was given to Load. A rule that cannot run gives a finding of severity
// NotChecked: it is never dropped. The order of findings is that of the rules.
func (s *Set) Evaluate(facts any, stage string, dst []Finding) []Finding {
	machine := machines.Get().(*vm.VM)
	defer machines.Put(machine)
	last := slices.Index(s.stages, stage)
	for i := range s.rules {
		r := &s.rules[i]
		if slices.Index(s.stages, r.Stage) > last {
			continue
		}
		holds, err := r.holds(machine, facts)
		switch {
		case err != nil:
			dst = append(dst, r.notChecked(err))
		case holds:
			dst = append(dst, r.finding(facts))
		}
	}
	return dst
}

// holds runs the condition. The expression library turns its own panics into
// errors; a result that is no bool is an error too.
func (r *compiled) holds(machine *vm.VM, facts any) (bool, error) {
	out, err := machine.Run(r.program, facts)
	if err != nil {
		return false, err
	}
	holds, ok := out.(bool)
	if !ok {
		return false, fmt.Errorf("the condition came out as %T", out)
	}
	return holds, nil
}

func (r *compiled) notChecked(err error) Finding {
	first, _, _ := strings.Cut(err.Error(), "\n")
	return Finding{
		Rule: r.ID, Severity: NotChecked, Verdict: r.Verdict, Field: r.Field,
		Says: "The rule " + r.ID + " could not be checked, so this cannot be called tested.",
		Why:  first, Lesson: r.Lesson, Source: r.Source, Misconceptions: r.Misconceptions,
	}
}

func (r *compiled) finding(facts any) Finding {
	f := Finding{
		Rule: r.ID, Severity: r.Severity, Verdict: r.Verdict, Field: r.Field,
		Lesson: r.Lesson, Source: r.Source, Misconceptions: r.Misconceptions,
	}
	for _, text := range []struct {
		from *text
		to   *string
	}{{&r.says, &f.Says}, {&r.why, &f.Why}, {&r.given, &f.Given}, {&r.required, &f.Required}} {
		var err error
		if *text.to, err = text.from.write(facts); err != nil {
			return r.notChecked(err)
		}
	}
	return f
}
