package scenarios

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/tools/txtar"
	"pgregory.net/rapid"

	"rollingboil/scenarios/measure"
)

// drafted makes a draft of a batch and reads it back. ok is false when none can be
// made of it.
func drafted(t rapid.TB, g *Grader, b Batch, kind string) (c *Case, ok bool) {
	t.Helper()
	draft, err := g.Draft(b, kind)
	if err != nil {
		return nil, false
	}
	s, err := g.ParseScenario("60-draft.md", draft)
	if err != nil {
		t.Fatalf("%s\n%v", draft, err)
	}
	if c, err = g.Case(s, 0); err != nil {
		t.Fatalf("%s\n%v", draft, err)
	}
	return c, true
}

// sameAsBatch holds a draft to the batch it was made of: the same rules are found, or
// the same becomes of each jar.
func sameAsBatch(t rapid.TB, g *Grader, b Batch, c *Case) {
	t.Helper()
	report := g.GradeBatch(b)
	if c.Kind == Faults {
		if got, want := safetyRules(c.Found), safetyRules(report.Findings); !slices.Equal(got, want) {
			t.Errorf("%s\nthe draft has %v planted, the batch has %v", b.Plan.YAML(), got, want)
		}
		return
	}
	// A draft looks at its jars after 14 hours, whenever somebody did.
	b.Record.Jars = slices.Clone(b.Record.Jars)
	for i := range b.Record.Jars {
		b.Record.Jars[i].CheckedAfter = stated14h
		b.Record.Jars[i].Placed = Stated[string]{}
	}
	for i, want := range g.GradeBatch(b).Jars {
		if got := g.Answers(c, c.Looked()[0])[i]; got.Answer != want.Answer {
			t.Errorf("jar %d: the draft says %s, the batch %s", i+1, got.Answer, want.Answer)
		}
	}
}

// TestDraftOfEveryBatch drafts each batch of testdata both ways. What cannot be
// drafted is refused with a reason.
func TestDraftOfEveryBatch(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	files, err := filepath.Glob("../testdata/batches/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	made := map[string]int{}
	for _, file := range files {
		archive, err := txtar.ParseFile(file)
		if err != nil {
			t.Fatal(err)
		}
		b, _, err := g.ParseFile(file, archive.Files[0].Data)
		if err != nil {
			t.Fatal(err)
		}
		for _, kind := range []string{WhatNow, Faults} {
			if c, ok := drafted(t, g, b, kind); ok {
				sameAsBatch(t, g, b, c)
				made[kind]++
			}
		}
	}
	if made[WhatNow] < 5 || made[Faults] < 20 {
		t.Errorf("drafts made: %v", made)
	}
}

// TestDraftRefusals: each with the reason why no scenario is made of it.
func TestDraftRefusals(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	const (
		peaches  = "plan: {food: peaches, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 20 min, headspace: 1/2 in%s}\nrecord: {%s}\n"
		times    = "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:50:00-06:00"
		two      = times + ", jars: [{n: 1, sealed: true, liquid_lost: none}, {n: 2, sealed: false, liquid_lost: none}]"
		tomatoes = "plan: {food: tomatoes-crushed, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 35 min, headspace: 1/2 in, acid: {kind: none}}\nrecord: {boil_reached: 2026-08-20T14:15:00-06:00, finished: 2026-08-20T14:50:00-06:00, jars: [{n: 1, sealed: true}, {n: 2, sealed: false}]}\n"
	)
	for _, tc := range []struct{ name, kind, batch, want string }{
		{"one jar", WhatNow, fmt.Sprintf(peaches, "", times+", jars: [{n: 1, sealed: true}]"), "1 jars; two at least"},
		{"no times", WhatNow, fmt.Sprintf(peaches, "", "jars: [{n: 1, sealed: true}, {n: 2, sealed: false}]"), "does not record when the time began"},
		{"all alike", WhatNow, fmt.Sprintf(peaches, "", times+", jars: [{n: 1, sealed: true}, {n: 2, sealed: true}]"), "one answer for all jars, shelf, passes"},
		{"faulty plan", WhatNow, tomatoes, "(acid-left-out); draft it as faults"},
		{"nothing wrong", Faults, fmt.Sprintf(peaches, "", two), "nothing is wrong with this batch"},
		{"no process", Faults, strings.Replace(fmt.Sprintf(peaches, "", two), "jar: pint", "jar: half-gallon", 1), "no published process for peaches"},
		{"another kind", PlanIt, fmt.Sprintf(peaches, "", two), `"plan": a draft is what-now or faults`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			b, _, err := g.ParseFile("b.yaml", []byte(tc.batch))
			if err != nil {
				t.Fatal(err)
			}
			if draft, err := g.Draft(b, tc.kind); err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("error %v, want %q\n%s", err, tc.want, draft)
			}
		})
	}
}

// TestDraftHoldsNoNames: of a batch file that a class sent in, the draft has neither
// its comments nor its file name; quantities stay as they were typed.
func TestDraftHoldsNoNames(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	src := `# Wilhelmina Overbrook, second batch, 12 Lower Mill Lane
plan:
  food: peaches   # from Overbrook's own tree
  pack: hot
  method: boiling-water
  jar: pint
  altitude: 6,240 feet
  time: 45 min    # Wilhelmina added ten
  headspace: 13 mm
  lids: {state: used}
record:
  boil_reached: 2026-08-20T14:00:00-06:00
  finished: 2026-08-20T14:45:00-06:00
  jars:
    - {n: 4, sealed: true, liquid_lost: none, checked_after: 14 h, placed: shelf}   # for Wilhelmina's aunt
    - {n: 9, sealed: false, liquid_lost: some, checked_after: 14 h, placed: fridge}
`
	b, _, err := g.ParseFile("wilhelmina-overbrook.yaml", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	for _, kind := range []string{WhatNow, Faults} {
		draft, err := g.Draft(b, kind)
		if err != nil {
			t.Fatal(err)
		}
		for _, name := range []string{"wilhelmina", "overbrook", "aunt", "lane", "tree", "#"} {
			if text := strings.ReplaceAll(strings.ToLower(string(draft)), "# recorded: ", ""); strings.Contains(text, name) {
				t.Errorf("the draft still holds %q:\n%s", name, draft)
			}
		}
		if !strings.Contains(string(draft), "'6,240 feet'") {
			t.Errorf("the altitude is not as it was typed:\n%s", draft)
		}
	}
}

var stated14h = Stated[measure.Duration]{Value: 14 * 60, Text: "14 h", Known: true}

// TestAnyBatchDrafts: whatever was planned and whatever happened, a draft loads and
// says the same as the batch, or it is refused.
func TestAnyBatchDrafts(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	rows := publishedRows(g)
	rapid.Check(t, func(rt *rapid.T) {
		s := drawSubject(rt, t, g, rows)
		plan, _ := spoil(rt, t, g, &s)
		held := time.Duration(rapid.IntRange(1, 200).Draw(rt, "held")) * time.Minute
		b := Batch{Plan: plan, Record: Record{Start: lifted.Add(-held), StartKey: startKey(plan.Method.Value), Finished: lifted}}
		for n := range rapid.IntRange(0, 4).Draw(rt, "jars") {
			b.Record.Jars = append(b.Record.Jars, drawJar(rt, n+1))
		}
		kind := rapid.SampledFrom([]string{WhatNow, Faults}).Draw(rt, "kind")
		if c, ok := drafted(rt, g, b, kind); ok {
			sameAsBatch(rt, g, b, c)
		}
	})
}

// drawJar draws what was seen of a jar.
func drawJar(t *rapid.T, n int) JarRecord {
	word := func(key string, words []string) Stated[string] {
		if w := rapid.SampledFrom(append([]string{""}, words...)).Draw(t, key); w != "" {
			return stated(w)
		}
		return Stated[string]{}
	}
	j := JarRecord{N: n, LiquidLost: word("liquid_lost", liquidWords), Looks: word("looks", looksWords), Placed: word("placed", placedWords)}
	if rapid.Bool().Draw(t, "tested") {
		j.Sealed = Stated[bool]{Value: rapid.Bool().Draw(t, "sealed"), Known: true}
	}
	if hours := rapid.SampledFrom([]int{0, 1, 3, 14, 24, 30, 720}).Draw(t, "checked after"); hours > 0 {
		j.CheckedAfter = Stated[measure.Duration]{measure.Duration(hours * 60), fmt.Sprintf("%d h", hours), true}
	}
	return j
}
