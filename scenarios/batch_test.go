package scenarios

import (
	"encoding/json"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"
)

const peachPlan = "plan: {food: peaches, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 20 min, headspace: 1/2 in}\n"

func gradeBatch(t *testing.T, text string) BatchReport {
	t.Helper()
	g := shipped(t)
	b, batch, err := g.ParseFile("b.yaml", []byte(text))
	if err != nil || !batch {
		t.Fatalf("%s\nbatch %t: %v", text, batch, err)
	}
	return g.GradeBatch(b)
}

// TestHeld: clock times carry their offset, so midnight and a change from summer
// time (2026-11-01 in the US) do not matter. When the boil stops, the time
// starts again (USDA Guide 1, p. 1-18): the longest unbroken stretch counts.
func TestHeld(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name, record string
		held         float64
		verdict      Verdict
	}{
		{"plain", "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:50:00-06:00", 20, AsTested},
		{"one minute short", "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:49:00-06:00", 19, Unsafe},
		{"past midnight", "boil_reached: 2026-08-20T23:50:00-06:00, finished: 2026-08-21T00:10:00-06:00", 20, AsTested},
		{"clocks go back", "boil_reached: 2026-11-01T01:45:00-06:00, finished: 2026-11-01T01:05:00-07:00", 20, AsTested},
		{"clocks go forward", "boil_reached: 2026-03-08T01:50:00-07:00, finished: 2026-03-08T03:05:00-06:00", 15, Unsafe},
		{"another zone", "boil_reached: 2026-08-20T20:30:00Z, finished: 2026-08-20T14:50:00-06:00", 20, AsTested},
		{"broken in the middle", "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:55:00-06:00, interruptions: [{from: 2026-08-20T14:40:00-06:00, to: 2026-08-20T14:44:00-06:00}]", 11, Unsafe},
		{"begun again", "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T15:04:00-06:00, interruptions: [{from: 2026-08-20T14:40:00-06:00, to: 2026-08-20T14:44:00-06:00}]", 20, AsTested},
		{"broken after the time", "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:56:00-06:00, interruptions: [{from: 2026-08-20T14:51:00-06:00, to: 2026-08-20T14:53:00-06:00}]", 21, AsTested},
		{"two breaks, written out of order", "boil_reached: 2026-08-20T14:00:00-06:00, finished: 2026-08-20T14:40:00-06:00, interruptions: [{from: 2026-08-20T14:30:00-06:00, to: 2026-08-20T14:31:00-06:00}, {from: 2026-08-20T14:09:00-06:00, to: 2026-08-20T14:10:00-06:00}]", 20, AsTested},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			got := gradeBatch(t, peachPlan+"record: {"+tc.record+"}\n")
			if got.HeldMinutes == nil || *got.HeldMinutes != tc.held || got.Verdict != tc.verdict {
				t.Errorf("held %v, %s, %+v; want %v, %s", got.HeldMinutes, got.Verdict, got.Findings, tc.held, tc.verdict)
			}
		})
	}
}

func TestBatchWithoutTimesIsIncomplete(t *testing.T) {
	t.Parallel()
	got := gradeBatch(t, peachPlan+"record: {jars: [{n: 1, sealed: true, liquid_lost: none, checked_after: 14 h}]}\n")
	if got.Verdict != Incomplete || got.HeldMinutes != nil || strings.Join(got.Missing, " ") != "record.boil_reached record.finished" {
		t.Errorf("%s, held %v, missing %v", got.Verdict, got.HeldMinutes, got.Missing)
	}
	if got.Jars[0].Answer != "refrigerate" {
		t.Errorf("a sealed jar of a process nobody can check: %s, want refrigerate", got.Jars[0].Answer)
	}
}

// TestJarAnswers: what to do with one jar, and where that is published. G1 is
// USDA Complete Guide, Guide 1, 2015; UNL and NC State are extension answers.
func TestJarAnswers(t *testing.T) {
	t.Parallel()
	const (
		good  = "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:50:00-06:00"
		short = "boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:40:00-06:00"
		beans = "plan: {food: snap-beans, pack: hot, method: pressure, gauge: dial, jar: pint, altitude: 500 ft, time: 20 min, pressure: 11 psi, headspace: 1 in}\n"
		water = "plan: {food: snap-beans, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 3 h, headspace: 1 in}\n"
		tom   = "plan: {food: tomatoes-crushed, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 35 min, headspace: 1/2 in, acid: {kind: citric-acid, per_jar: 1/4 tsp}}\n"
		tom35 = "boil_reached: 2026-08-20T14:15:00-06:00, finished: 2026-08-20T14:50:00-06:00"
	)
	for _, tc := range []struct{ source, plan, record, jar, answer, until string }{
		{"G1 p. 1-26", peachPlan, good, "sealed: true, liquid_lost: none, checked_after: 14 h", "shelf", ""},
		{"NC State 421: separation is harmless", peachPlan, good, "sealed: true, separated: true, checked_after: 14 h", "shelf", ""},
		{"UNL: less than half lost, use first", peachPlan, good, "sealed: true, liquid_lost: some, checked_after: 14 h", "use-first", ""},
		{"UNL: half or more lost, refrigerate", peachPlan, good, "sealed: true, liquid_lost: half-or-more, checked_after: 14 h", "refrigerate", ""},
		{"G1 p. 1-26: within 24 hours", peachPlan, good, "sealed: false, checked_after: 14 h", "refrigerate", "2026-08-21T14:50:00-06:00"},
		{"G1 p. 1-26: or freeze", peachPlan, good, "sealed: false, checked_after: 14 h, placed: freezer", "freeze", "2026-08-21T14:50:00-06:00"},
		{"G1 p. 1-26: or process again", peachPlan, good, "sealed: false, checked_after: 14 h, placed: reprocessed", "reprocess", "2026-08-21T14:50:00-06:00"},
		{"G1 p. 1-26: exactly 24 hours", peachPlan, good, "sealed: false, checked_after: 24 h", "refrigerate", "2026-08-21T14:50:00-06:00"},
		{"G1 p. 1-26: later than 24 hours", peachPlan, good, "sealed: false, checked_after: 30 h", "discard", ""},
		{"G1 p. 1-27: low-acid, unsealed", beans, strings.Replace(good, "boil", "pressure", 1), "sealed: false, checked_after: 30 h", "detoxify-and-discard", ""},
		{"G1 p. 1-27: tomatoes are treated alike", tom, tom35, "sealed: false, checked_after: 30 h", "detoxify-and-discard", ""},
		{"G1 p. 1-26: low-acid, in time", beans, strings.Replace(good, "boil", "pressure", 1), "sealed: false, checked_after: 14 h", "refrigerate", "2026-08-21T14:50:00-06:00"},
		{"UNL: wrong process, within 2 hours", peachPlan, short, "sealed: true, checked_after: 1 h", "reprocess", "2026-08-20T16:40:00-06:00"},
		{"UNL, K-State: wrong process, later", peachPlan, short, "sealed: true, checked_after: 14 h", "discard", ""},
		{"G1 p. 1-27: suspect and still sealed", water, "boil_reached: 2026-08-20T11:00:00-06:00, finished: 2026-08-20T14:00:00-06:00", "sealed: true, checked_after: 14 h", "discard", ""},
		{"G1 p. 1-27: suspect and open", water, "boil_reached: 2026-08-20T11:00:00-06:00, finished: 2026-08-20T14:00:00-06:00", "sealed: false, checked_after: 14 h", "detoxify-and-discard", ""},
		{"G1 p. 1-26: rising bubbles", peachPlan, good, "sealed: true, looks: bubbles, checked_after: 300 h", "discard", ""},
		{"G1 p. 1-27: a suspect low-acid jar, sealed", beans, strings.Replace(good, "boil", "pressure", 1), "sealed: true, looks: cloudy, checked_after: 300 h", "discard", ""},
		{"G1 p. 1-27: a suspect low-acid jar, leaking", beans, strings.Replace(good, "boil", "pressure", 1), "sealed: true, looks: leaking, checked_after: 300 h", "detoxify-and-discard", ""},
		{"UNL means the day after; G1 p. 1-27: half lost, found a month later", beans, strings.Replace(good, "boil", "pressure", 1), "sealed: true, liquid_lost: half-or-more, checked_after: 720 h", "discard", ""},
		{"UNL: half lost, acid food", peachPlan, good, "sealed: true, liquid_lost: half-or-more, checked_after: 30 h", "refrigerate", ""},
		{"G1 p. 1-26, 1-27: never process again what shows spoilage", water, "boil_reached: 2026-08-20T11:00:00-06:00, finished: 2026-08-20T14:00:00-06:00", "sealed: true, looks: mold, checked_after: 1 h", "discard", ""},
		{"G1 p. 1-26: the same with too short a process", peachPlan, short, "sealed: true, looks: mold, checked_after: 1 h", "discard", ""},
		{"G1 p. 1-27: leaking is not sealed", water, "boil_reached: 2026-08-20T11:00:00-06:00, finished: 2026-08-20T14:00:00-06:00", "sealed: true, looks: leaking, checked_after: 14 h", "detoxify-and-discard", ""},
		{"G1 p. 1-26, 1-27: a seal nobody tested for a month", beans, strings.Replace(good, "boil", "pressure", 1), "checked_after: 720 h", "detoxify-and-discard", ""},
		{"G1 p. 1-26: the same, acid food", peachPlan, good, "checked_after: 30 h", "discard", ""},
		{"K-State: a process nobody can vouch for, a month later", beans, "finished: 2026-08-20T14:50:00-06:00", "sealed: true, checked_after: 720 h", "discard", ""},
		{"G1 p. 1-25: a seal nobody tested", peachPlan, good, "checked_after: 14 h", "refrigerate", "2026-08-21T14:50:00-06:00"},
	} {
		t.Run(tc.source+" "+tc.jar, func(t *testing.T) {
			t.Parallel()
			got := gradeBatch(t, tc.plan+"record: {"+tc.record+", jars: [{n: 3, "+tc.jar+"}]}\n").Jars
			if len(got) != 1 || got[0].N != 3 || got[0].Answer != tc.answer || got[0].Why == "" {
				t.Fatalf("jars %+v, want one answered %s", got, tc.answer)
			}
			until := ""
			if got[0].Until != nil {
				until = got[0].Until.Format(time.RFC3339)
			}
			if until != tc.until {
				t.Errorf("until %q, want %q", until, tc.until)
			}
		})
	}
}

// TestBatchFixtures grades the batches in testdata/batches: each file tells in its
// comment where the answer is published. The wanted report is the verdict, a
// line for each finding and a line for each jar.
func TestBatchFixtures(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	files, err := filepath.Glob("../testdata/batches/*.txtar")
	if err != nil || len(files) < 25 {
		t.Fatalf("%d batch fixtures, want at least 25: %v", len(files), err)
	}
	for _, file := range files {
		t.Run(strings.TrimSuffix(filepath.Base(file), ".txtar"), func(t *testing.T) {
			t.Parallel()
			archive, err := txtar.ParseFile(file)
			if err != nil {
				t.Fatal(err)
			}
			b, batch, err := g.ParseFile(file, archive.Files[0].Data)
			if err != nil || !batch {
				t.Fatalf("batch %t: %v", batch, err)
			}
			report := g.GradeBatch(b)
			got := []string{string(report.Verdict)}
			for _, f := range report.Findings {
				got = append(got, f.Rule+" "+f.Severity)
			}
			for _, jar := range report.Jars {
				line := fmt.Sprintf("jar %d %s", jar.N, jar.Answer)
				if jar.Until != nil {
					line += " " + jar.Until.Format(time.RFC3339)
				}
				got = append(got, line)
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

func TestBatchJSON(t *testing.T) {
	t.Parallel()
	raw, err := json.Marshal(gradeBatch(t, peachPlan+"record: {boil_reached: 2026-08-20T14:30:00-06:00, finished: 2026-08-20T14:50:00-06:00, jars: [{n: 1, sealed: true, liquid_lost: none, checked_after: 14 h, placed: shelf}]}\n"))
	if err != nil {
		t.Fatal(err)
	}
	var got map[string]any
	if err := json.Unmarshal(raw, &got); err != nil {
		t.Fatal(err)
	}
	if len(got) != 9 || got["held_minutes"] != 20.0 || got["verdict"] != "as-tested" {
		t.Errorf("%s: want the seven keys of a plan's report, held_minutes and jars", raw)
	}
	jar := got["jars"].([]any)[0].(map[string]any)
	if jar["n"] != 1.0 || jar["answer"] != "shelf" || jar["until"] != nil || len(jar) != 4 {
		t.Errorf("jar %v", jar)
	}
}

func TestBatchErrors(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ record, want string }{
		{"finished: noon", `"noon" is not a time with its offset`},
		{"finished: 2026-08-20T14:50:00", "is not a time with its offset"},
		{"boil_reached: 2026-08-20T14:30:00Z, finished: 2026-08-20T14:20:00Z", "the heat went off before"},
		{"boil_reached: 2026-08-20T14:30:00Z, pressure_reached: 2026-08-20T14:30:00Z", "are the same moment"},
		{"boil_reached: 2026-08-20T14:00:00Z, finished: 2026-08-20T14:20:00Z, interruptions: [{from: 2026-08-20T13:50:00Z, to: 2026-08-20T14:05:00Z}]", "must lie within the process"},
		{"interruptions: [{from: 2026-08-20T13:50:00Z}]", "needs from and to"},
		{"interruptions: 3", "expected a list"},
		{"jars: [{sealed: true}]", "needs its number n"},
		{"jars: [{n: 1}, {n: 1}]", "jar 1 is recorded twice"},
		{"jars: [{n: 0}]", "is not a jar's number"},
		{"jars: [{n: 1, liquid_lost: half}]", `"half" is not a word for this`},
		{"jars: [{n: 1, seeled: true}]", `there is no key "seeled" here; the nearest is "sealed"`},
		{"finish: 2026-08-20T14:50:00Z", `there is no key "finish" here; the nearest is "finished"`},
	} {
		_, _, err := shipped(t).ParseFile("b.yaml", []byte(peachPlan+"record: {"+tc.record+"}\n"))
		if err == nil || !strings.Contains(err.Error(), tc.want) || Problems(err)[0].Line != 2 {
			t.Errorf("%s: %v, want %q on line 2", tc.record, err, tc.want)
		}
	}
	if _, _, err := shipped(t).ParseFile("b.yaml", []byte("plan: {food: peaches}\nrecrd: {}\n")); err == nil || !strings.Contains(err.Error(), `the nearest is "record"`) {
		t.Errorf("unknown key beside plan: %v", err)
	}
	if _, err := shipped(t).ParsePlan("b.yaml", []byte(peachPlan+"record: {}\n")); err == nil || !strings.Contains(err.Error(), "this is a batch") {
		t.Errorf("a batch where a plan is wanted: %v", err)
	}
}
