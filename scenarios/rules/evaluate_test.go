package rules

import (
	"math"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/expr-lang/expr"
	"github.com/google/go-cmp/cmp"
)

// several gives a set with a rule of each severity, out of order, and one of the
// later stage.
func several(t testing.TB) *Set {
	t.Helper()
	rule := func(id, severity, when string, more ...string) string {
		lines := []string{"  - id: " + id, "    severity: " + severity, "    when: |\n      " + when}
		if severity != safety {
			lines = append(lines, "-verdict: x")
		}
		return strings.TrimPrefix(probeWith(append(lines, more...)...), "rules:\n")
	}
	return mustLoad(t, fstest.MapFS{
		sourcesFile:        {Data: []byte(sourcesYAML)},
		misconceptionsFile: {Data: []byte(misconceptionsYAML)},
		"a.yaml": {Data: []byte("rules:\n" +
			rule("a-note", note, `low_acid`) +
			rule("a-quality", quality, `any(added, # == "onion")`) +
			rule("a-batch", safety, `low_acid`, "    stage: batch") +
			rule("a-time", safety, `time_known and process_found and minutes < required_minutes`,
				`    says: "{{.Time}} is shorter than the tested {{.RequiredTime}}{{if .LowAcid}}, and the food is low-acid{{end}}."`,
				`    why: "w"`+"\n"+`    given: "{{.Time}}"`+"\n"+`    required: "{{.RequiredTime}}"`))},
		"b.yaml": {Data: []byte("rules:\n" +
			rule("b-note", note, `low_acid`) +
			rule("b-method", safety, `method == "oven"`, "    verdict: fix-first") +
			rule("b-spoilt", safety, `low_acid and method == "oven"`, `    says: "{{.Spoilt}}"`))},
	})
}

// broken gives the rule ids and severities of findings.
func broken(findings []Finding) []string {
	var list []string
	for _, f := range findings {
		list = append(list, f.Rule+" "+f.Severity)
	}
	return list
}

func TestEvaluateOrdersBySeverityThenByRule(t *testing.T) {
	t.Parallel()
	set := several(t)
	facts := kitchen{
		TimeKnown: true, ProcessFound: true, LowAcid: true, Minutes: 50, RequiredMinutes: 60,
		Method: "oven", Added: []string{"salt", "onion"},
	}
	plan := []string{"a-time safety", "b-method safety", "b-spoilt safety", "a-quality quality", "a-note note", "b-note note"}
	batch := slices.Insert(slices.Clone(plan), 0, "a-batch safety")
	if diff := cmp.Diff(plan, broken(set.Evaluate(&facts, "plan", nil))); diff != "" {
		t.Errorf("Evaluate(plan) (-want +got):\n%s", diff)
	}
	if diff := cmp.Diff(batch, broken(set.Evaluate(&facts, "batch", nil))); diff != "" {
		t.Errorf("Evaluate(batch) (-want +got):\n%s", diff)
	}
	if got := set.Evaluate(&kitchen{}, "batch", nil); len(got) != 0 {
		t.Errorf("Evaluate with nothing stated = %v, want none", broken(got))
	}
}

func TestEvaluateFillsInTheFinding(t *testing.T) {
	t.Parallel()
	facts := kitchen{TimeKnown: true, ProcessFound: true, Minutes: 50, RequiredMinutes: 60}
	before := []Finding{{Rule: "kept"}}
	got := several(t).Evaluate(&facts, "plan", before)
	want := []Finding{{Rule: "kept"}, {
		Rule: "a-time", Severity: "safety", Verdict: "unsafe", Field: "time", Given: "50 min", Required: "60 min",
		Says: "50 min is shorter than the tested 60 min.", Why: "w", Lesson: "process-time", Source: "guide",
		Misconceptions: []string{"time-is-a-guess"},
	}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("Evaluate (-want +got):\n%s", diff)
	}
	facts.LowAcid = true
	got = several(t).Evaluate(&facts, "plan", nil)
	if want := "50 min is shorter than the tested 60 min, and the food is low-acid."; got[0].Says != want {
		t.Errorf("Says = %q, want %q", got[0].Says, want)
	}
}

func TestTextThatCannotBeWrittenLeavesTheFinding(t *testing.T) {
	t.Parallel()
	facts := kitchen{LowAcid: true, Method: "oven", Label: "spoilt"}
	for _, f := range several(t).Evaluate(&facts, "plan", nil) {
		if f.Rule == "b-spoilt" {
			want := Finding{
				Rule: "b-spoilt", Severity: "safety", Verdict: "unsafe", Field: "time", Why: "For a reason.",
				Says:   "The rule b-spoilt is broken, but its text could not be written.",
				Lesson: "process-time", Source: "guide", Misconceptions: []string{"time-is-a-guess"},
			}
			if diff := cmp.Diff(want, f); diff != "" {
				t.Errorf("finding (-want +got):\n%s", diff)
			}
			return
		}
	}
	t.Error("the finding was dropped")
}

// TestRuleThatCannotRunIsNotChecked puts programs in place that the guard would
// never let through, since nothing that it lets through can fail.
func TestRuleThatCannotRunIsNotChecked(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, when, cause string
	}{
		{"run-time error", `added[jars] == "onion"`, "index out of range: 0 (array length is 0)"},
		{"not yes or no", `minutes`, "the condition gave float64, not yes or no"},
		{"panic", ``, "runtime error: invalid memory address or nil pointer dereference"},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			set := mustLoad(t, folder(probeWith()))
			set.runnable[0].condition = condition{}
			if test.when != "" {
				program, err := expr.Compile(test.when, expr.Env(kitchen{}))
				if err != nil {
					t.Fatal(err)
				}
				set.runnable[0].condition.program = program
			}
			want := []Finding{notCheckedProbe(test.cause)}
			for range 2 { // a machine that failed is used again
				if diff := cmp.Diff(want, set.Evaluate(&kitchen{}, "plan", nil)); diff != "" {
					t.Errorf("Evaluate (-want +got):\n%s", diff)
				}
			}
		})
	}
}

func notCheckedProbe(cause string) Finding {
	return Finding{
		Rule: "probe", Severity: "not-checked", Field: "time",
		Says:   "This could not be checked, so nothing is settled about it.",
		Why:    "A plan is as tested only when every rule has run. The rule probe could not: " + cause + ".",
		Lesson: "process-time", Source: "guide", Misconceptions: []string{"time-is-a-guess"},
	}
}

func TestFactsThatCannotBeJudgedAreNotChecked(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, when string
		facts      any
		stage      string
		cause      string
	}{
		{"not a number", `minutes < required_minutes`, &kitchen{Minutes: math.NaN()}, "plan", "the fact minutes is NaN"},
		{"infinite", `minutes < required_minutes`, &kitchen{Minutes: math.Inf(1)}, "plan", "the fact minutes is +Inf"},
		{"word outside its list", `method == "oven"`, &kitchen{Method: "Oven"}, "plan", `the fact method has no word "Oven"`},
		{"item outside its list", `"onion" in added`, &kitchen{Added: []string{"salt", "onions"}}, "plan", `the fact added has no word "onions"`},
		{"empty item", `"onion" in added`, &kitchen{Added: []string{""}}, "plan", `the fact added has no word ""`},
		{"struct instead of a pointer", `low_acid`, kitchen{}, "plan", "the facts are rules.kitchen, not a *rules.kitchen"},
		{"other struct", `low_acid`, &struct{ A bool }{}, "plan", "the facts are *struct { A bool }, not a *rules.kitchen"},
		{"nothing", `low_acid`, nil, "plan", "the facts are <nil>, not a *rules.kitchen"},
		{"nil pointer", `low_acid`, (*kitchen)(nil), "plan", "the facts are *rules.kitchen, not a *rules.kitchen"},
		{"unknown stage", `low_acid`, &kitchen{}, "plam", `there is no stage "plam"`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			set := mustLoad(t, folder(probeWith("    when: |\n      "+test.when)))
			want := []Finding{notCheckedProbe(test.cause)}
			if diff := cmp.Diff(want, set.Evaluate(test.facts, test.stage, nil)); diff != "" {
				t.Errorf("Evaluate (-want +got):\n%s", diff)
			}
		})
	}

	set := mustLoad(t, folder(probeWith("    when: low_acid")))
	facts := kitchen{LowAcid: true, Minutes: math.NaN(), Method: "Oven", Food: "any word", Remarks: []string{"any word"}}
	if got := broken(set.Evaluate(&facts, "plan", nil)); !slices.Equal(got, []string{"probe safety"}) {
		t.Errorf("a rule that uses none of the unfit facts gives %v, want its finding", got)
	}
}

// TestEvaluateAtTheSameTime runs one set from many goroutines; run it with the
// race detector.
func TestEvaluateAtTheSameTime(t *testing.T) {
	t.Parallel()
	set := several(t)
	plans := []kitchen{
		{},
		{LowAcid: true, Method: "oven"},
		{TimeKnown: true, ProcessFound: true, Minutes: 50, RequiredMinutes: 60, Added: []string{"onion"}},
		{Minutes: math.NaN(), Method: "Oven"},
	}
	var want [][]Finding
	for i := range plans {
		want = append(want, set.Evaluate(&plans[i], "batch", nil))
	}
	var group sync.WaitGroup
	for range 8 {
		group.Go(func() {
			for n := range 200 {
				i := n % len(plans)
				if got := set.Evaluate(&plans[i], "batch", nil); !cmp.Equal(got, want[i]) {
					t.Errorf("plan %d: findings differ: %s", i, cmp.Diff(want[i], got))
				}
			}
		})
	}
	group.Wait()
}
