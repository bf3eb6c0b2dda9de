package scenarios

import (
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"

	"rollingboil/scenarios/rules"
)

// TestPlanFixtures grades the plans in testdata/plans: each file tells in its
// comment what it teaches and where the answer is published.
func TestPlanFixtures(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	files, err := filepath.Glob("../testdata/plans/*.txtar")
	if err != nil || len(files) < 90 {
		t.Fatalf("%d plan fixtures, want at least 90: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txtar"), func(t *testing.T) {
			t.Parallel()
			archive, err := txtar.ParseFile(file)
			if err != nil {
				t.Fatal(err)
			}
			plan, err := g.ParsePlan(file, archive.Files[0].Data)
			if err != nil {
				t.Fatal(err)
			}
			report := g.Grade(plan)
			got := []string{string(report.Verdict)}
			for _, f := range report.Findings {
				got = append(got, f.Rule+" "+f.Severity)
			}
			want := strings.Split(strings.TrimSpace(string(archive.Files[1].Data)), "\n")
			slices.Sort(got[1:])
			slices.Sort(want[1:])
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("report (-want +got):\n%s", diff)
			}
		})
	}
}

// TestReportJSON holds the report to the keys and types that others read.
func TestReportJSON(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	plan, err := g.ParsePlan("a.yaml", []byte(`
food: tomatoes-crushed
pack: hot
method: boiling-water
jar: quart
altitude: 6240 ft
time: 50 min
headspace: 1/2 in
acid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}
`))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := json.Marshal(g.Grade(plan))
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	wantTested := []any{map[string]any{
		"food": "tomatoes-crushed", "pack": "hot", "method": "boiling-water", "gauge": "", "jar": "quart",
		"from_ft": 6001.0, "to_ft": nil, "minutes": 60.0, "psi": 0.0, "headspace_in": 0.5,
		"confidence": "guide-2015", "page": "3-8",
		"source": "USDA Complete Guide to Home Canning, AIB 539, 2015, Guide 3, p. 3-8",
	}}
	wantAcid := map[string]any{"needed": true, "per_jar": []any{
		map[string]any{"kind": "bottled-lemon-juice", "tbsp": 2.0},
		map[string]any{"kind": "citric-acid", "tsp": 0.5},
		map[string]any{"kind": "vinegar-5", "tbsp": 4.0},
	}}
	for key, want := range map[string]any{"file": "a.yaml", "verdict": "unsafe", "tested": wantTested, "acid": wantAcid, "missing": []any{}} {
		if diff := cmp.Diff(want, got[key]); diff != "" {
			t.Errorf("%s (-want +got):\n%s", key, diff)
		}
	}
	finding := got["findings"].([]any)[0].(map[string]any)
	for key, want := range map[string]string{"rule": "time-short", "severity": "safety", "field": "time", "given": "50 min", "required": "60 min", "lesson": "process-time"} {
		if finding[key] != want {
			t.Errorf("finding %s = %v, want %s", key, finding[key], want)
		}
	}
	for _, key := range []string{"says", "why", "source"} {
		if finding[key] == "" {
			t.Errorf("finding has no %s", key)
		}
	}
	if len(finding) != 9 || len(got) != 7 {
		t.Errorf("%d keys in a finding and %d in a report, want 9 and 7", len(finding), len(got))
	}
	if !slices.Contains(got["not_stated"].([]any), any("timing_starts")) {
		t.Errorf("not_stated = %v, want timing_starts among them", got["not_stated"])
	}
}

// TestRuleThatCannotRun grades by a rule whose fact the plan's facts do not
// have, so that it fails when it runs. The plan is otherwise as tested; it must
// not be called so.
func TestRuleThatCannotRun(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, text := range map[string]string{
		"sources.yaml":        "sources: [{id: s, title: t, publisher: p, edition: e, part: p, read: one-copy}]",
		"misconceptions.yaml": "misconceptions: [{id: m, belief: b, not: n, truth: t, lesson: l, source: s}]",
		"broken.yaml": `rules:
  - id: broken
    stage: plan
    severity: note
    field: time
    when: phantom
    says: says
    why: why
    lesson: l
    misconceptions: [m]
    source: s
    breaks: [{food: peaches}]
    keeps: [{food: peaches}]
`,
	} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	options := RuleOptions()
	options.Facts, options.Words = struct {
		Phantom bool `expr:"phantom"`
	}{}, nil
	set, err := rules.Load(os.DirFS(dir), options)
	if err != nil {
		t.Fatal(err)
	}
	g := NewGrader(shipped(t).table, set)
	plan, err := g.ParsePlan("p.yaml", []byte("food: peaches\npack: hot\nmethod: boiling-water\njar: pint\naltitude: 500 ft\ntime: 20 min\nheadspace: 1/2 in\n"))
	if err != nil {
		t.Fatal(err)
	}
	report := g.Grade(plan)
	if report.Verdict == AsTested || len(report.Findings) != 1 || report.Findings[0].Severity != "not-checked" {
		t.Errorf("Grade = %s, %+v; want a not-checked finding and not as-tested", report.Verdict, report.Findings)
	}
}

// TestShippedRules holds the rule book to its size and to what every rule has.
func TestShippedRules(t *testing.T) {
	t.Parallel()
	list := shipped(t).Rules().Rules()
	if len(list) < 60 {
		t.Errorf("%d rules, want at least 60", len(list))
	}
	for _, r := range list {
		if len(r.Breaks) == 0 || len(r.Keeps) == 0 || r.Source == "" || r.Lesson == "" || len(r.Misconceptions) == 0 {
			t.Errorf("rule %s lacks an example, a source, a lesson or a misconception", r.ID)
		}
	}
}

func BenchmarkGrade(b *testing.B) {
	g := shipped(b)
	for name, text := range map[string]string{
		"as-tested":  "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n",
		"two-faults": "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 50 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 1 tbsp}\n",
	} {
		plan, err := g.ParsePlan("b.yaml", []byte(text))
		if err != nil {
			b.Fatal(err)
		}
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				if r := g.Grade(plan); r.Verdict == Incomplete {
					b.Fatal(r)
				}
			}
		})
	}
}

func BenchmarkParsePlan(b *testing.B) {
	g := shipped(b)
	text := []byte("food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n")
	b.ReportAllocs()
	for b.Loop() {
		if _, err := g.ParsePlan("b.yaml", text); err != nil {
			b.Fatal(err)
		}
	}
}
