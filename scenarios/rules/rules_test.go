package rules

import (
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"testing/fstest"
)

// kitchen is the facts struct of these tests.
type kitchen struct {
	TimeKnown       bool     `expr:"time_known" doc:"the plan states a time"`
	ProcessFound    bool     `expr:"process_found" doc:"the table has a row"`
	LowAcid         bool     `expr:"low_acid" doc:"the food is low-acid"`
	Minutes         float64  `expr:"minutes" doc:"planned time, minutes"`
	RequiredMinutes float64  `expr:"required_minutes" doc:"tested time, minutes"`
	Jars            int      `expr:"jars" doc:"how many jars"`
	Food            string   `expr:"food" doc:"id of the food"`
	Pack            string   `expr:"pack" doc:"how the jars are filled"`
	Method          string   `expr:"method" doc:"how the jars are heated"`
	UsualMethod     string   `expr:"usual_method" doc:"how this food is usually heated"`
	Added           []string `expr:"added" doc:"what goes in beside the food"`
	Spice           string   `expr:"spice" doc:"the spice that was asked about"`
	Remarks         []string `expr:"remarks" doc:"free words"`
	Label           string   `expr:"-"`

	page string
}

func (k *kitchen) Time() string         { return fmt.Sprintf("%g min", k.Minutes) }
func (k *kitchen) RequiredTime() string { return fmt.Sprintf("%g min", k.RequiredMinutes) }
func (k kitchen) Tested() bool          { return k.ProcessFound }
func (k *kitchen) Page(n int) string    { return k.page[n:] }

// Spoilt is a text that cannot be written for some plans.
func (k *kitchen) Spoilt() string {
	if k.Label == "spoilt" {
		panic("this text was spoilt on purpose")
	}
	return k.Label
}

func kitchenOptions() Options {
	return Options{
		Facts: kitchen{},
		Words: map[string][]string{
			"pack":         {"hot", "raw"},
			"method":       {"boiling-water", "pressure", "oven"},
			"usual_method": {"boiling-water", "pressure"},
			"added":        {"onion", "garlic", "salt"},
			"spice":        {"salt", "dill"},
		},
		Stages: []string{"plan", "batch"},
		Fields: []string{"time", "acid", "jars.kind"},
	}
}

const (
	sourcesYAML = `sources:
  - {id: guide, title: A guide, publisher: A press, edition: 2015, part: p. 3, read: two-copies}
  - {id: sheet, title: A sheet, publisher: A press, edition: first, part: all, read: from-memory, url: "https://example.org/sheet"}
`
	misconceptionsYAML = `misconceptions:
  - {id: time-is-a-guess, belief: It is a guess., not: It is not., truth: It was measured., lesson: process-time, source: guide}
  - {id: more-is-better, belief: More is better., not: It is not., truth: Enough is enough., lesson: process-time, source: [guide, sheet]}
`
)

// probe is a sound rule, one key to a line: id stands on line 2, and so on.
var probe = []string{
	"  - id: probe",
	"    stage: plan",
	"    severity: safety",
	"    verdict: unsafe",
	"    field: time",
	"    when: low_acid",
	"    says: It says so.",
	"    why: For a reason.",
	"    lesson: process-time",
	"    misconceptions: time-is-a-guess",
	"    source: guide",
	"    breaks: [{time: 50 min}]",
	"    keeps: [{time: 60 min}]",
}

// probeWith gives the file of the sound rule with some of its lines replaced by
// others with the same key, or left out where the replacement is "-key".
func probeWith(replacements ...string) string {
	lines := append([]string{"rules:"}, probe...)
	for _, r := range replacements {
		key, _, _ := strings.Cut(strings.TrimLeft(r, " -"), ":")
		for i, line := range lines {
			if strings.HasPrefix(strings.TrimLeft(line, " -"), key+":") {
				lines[i] = r
				if strings.HasPrefix(r, "-") {
					lines = append(lines[:i], lines[i+1:]...)
				}
				break
			}
		}
	}
	return strings.Join(lines, "\n") + "\n"
}

// folder is a folder of rule files: probe.yaml beside the two other files.
func folder(probe string) fstest.MapFS {
	return fstest.MapFS{
		sourcesFile:        {Data: []byte(sourcesYAML)},
		misconceptionsFile: {Data: []byte(misconceptionsYAML)},
		"probe.yaml":       {Data: []byte(probe)},
	}
}

func mustLoad(t testing.TB, fsys fs.FS) *Set {
	t.Helper()
	set, err := Load(fsys, kitchenOptions())
	if err != nil {
		t.Fatal(err)
	}
	return set
}

// loadError gives the text of the error, "" when the files load.
func loadError(fsys fs.FS) string {
	if _, err := Load(fsys, kitchenOptions()); err != nil {
		return err.Error()
	}
	return ""
}
