package rules

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/goccy/go-yaml"
	"github.com/google/go-cmp/cmp"
)

// TestRuleErrors shows what each mistake in a rule is answered with, and where.
func TestRuleErrors(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		file string
		want string
	}{
		{"id missing", probeWith("-id: x", "  - stage: plan"), `2:5: rule number 1: id is missing: write a short name such as time-short`},
		{"id not kebab-case", probeWith("  - id: Time_Short"), `2:9: rule Time_Short: id: "Time_Short" is not a name of lower-case words joined by hyphens`},
		{"id empty", probeWith("  - id:"), `2:8: rule number 1: id is empty: write a short name such as time-short`},
		{"id a list", probeWith("  - id: [a]"), `2:9: rule number 1: id must be one text: write a short name such as time-short`},
		{"stage missing", probeWith("-stage: x"), `2:5: rule probe: stage is missing: write one of plan, batch`},
		{"stage unknown", probeWith("    stage: plam"), `3:12: rule probe: stage: "plam" is not known; the nearest is "plan"`},
		{"severity unknown", probeWith("    severity: danger", "-verdict: x"), `4:15: rule probe: severity: "danger" is not known; there are safety, quality, note`},
		{"not-checked is no severity of a rule", probeWith("    severity: not-checked", "-verdict: x"), `4:15: rule probe: severity: "not-checked" is not known; there are safety, quality, note`},
		{"verdict missing", probeWith("-verdict: x"), `2:5: rule probe: verdict is missing: write one of unsafe, no-tested-process, fix-first`},
		{"verdict unknown", probeWith("    verdict: unsave"), `5:14: rule probe: verdict: "unsave" is not known; the nearest is "unsafe"`},
		{"verdict without safety", probeWith("    severity: note"), `5:14: rule probe: verdict is for safety rules only: leave it out`},
		{"field unknown", probeWith("    field: jars.kin"), `6:12: rule probe: field: "jars.kin" is not known; the nearest is "jars.kind"`},
		{"when missing", probeWith("-when: x"), `2:5: rule probe: when is missing: write the condition that is true when the rule is broken`},
		{"when empty", probeWith("    when: ''"), `7:11: rule probe: when is empty: write the condition that is true when the rule is broken`},
		{"says missing", probeWith("-says: x"), `2:5: rule probe: says is missing: write what is the matter with the plan`},
		{"says blank", probeWith(`    says: " "`), `8:11: rule probe: says is empty: write what is the matter with the plan`},
		{"why missing", probeWith("-why: x"), `2:5: rule probe: why is missing: write the reason, in plain words`},
		{"given empty", probeWith("    why: w\n    given:"), `10:11: rule probe: given is empty: write the value the plan states, or leave it out`},
		{"lesson missing", probeWith("-lesson: x"), `2:5: rule probe: lesson is missing: write a short name such as time-short`},
		{"lesson not a slug", probeWith("    lesson: process time"), `10:13: rule probe: lesson: "process time" is not a name of lower-case words joined by hyphens`},
		{"misconception unknown", probeWith("    misconceptions: [time-is-a-guess, time-is-a-gess]"), `11:39: rule probe: misconceptions: "time-is-a-gess" is not known; the nearest is "time-is-a-guess"`},
		{"misconception twice", probeWith("    misconceptions: [more-is-better, more-is-better]"), `11:38: rule probe: misconceptions: "more-is-better" is named twice`},
		{"misconceptions a mapping", probeWith("    misconceptions: {a: b}"), `11:21: rule probe: misconceptions must be one word or a list of words`},
		{"source missing", probeWith("-source: x"), `2:5: rule probe: source is missing: write the id of a publication in sources.yaml`},
		{"source unknown", probeWith("    source: [guide, guise]"), `12:21: rule probe: source: "guise" is not known; the nearest is "guide"`},
		{"source empty", probeWith("    source:"), `12:12: rule probe: source must be one word or a list of words`},
		{"no example that breaks it", probeWith("-breaks: x"), `2:5: rule probe: breaks is missing: write a list with at least one item`},
		{"no example that keeps it", probeWith("    keeps: []"), `14:12: rule probe: keeps must be a list with at least one item`},
		{"example not a list", probeWith("    keeps: {time: 60 min}"), `14:12: rule probe: keeps must be a list with at least one item`},
		{"example not a plan", probeWith("    keeps: [60 min]"), `14:13: rule probe: each of keeps must be a plan, with keys and values`},
		{"key unknown", probeWith("    why: w\n    requred: x"), `10:5: rule probe: there is no key "requred"; the nearest is "required"`},
		{"key twice", probeWith("    why: w\n    says: again"), `10:5: rule probe: says is stated twice: keep one`},
		{"key a list", probeWith("    why: w\n    ? a\n    : x"), `10:5: rule probe: a key must be a plain word`},
		{"alias", probeWith("    why: *w"), `9:10: rule probe: why must be one text: write the reason, in plain words`},
		{"anchor", probeWith("    why: &w x"), `9:10: rule probe: why must be one text: write the reason, in plain words`},
		{"tag", probeWith("    why: !!str x"), `9:10: rule probe: why must be one text: write the reason, in plain words`},
		{"same id", probeWith() + strings.Join(probe, "\n"), `15:9: rule probe: the id is taken by the rule at probe.yaml:2`},
		{"rule a word", "rules: [a]\n", `1:9: rule number 1: expected keys with values: id, stage, severity, verdict, field, when, says, why, given, required, lesson, misconceptions, source, breaks, keeps`},

		{"text with a misspelt name", probeWith(`    says: "{{.Minuts}} is short"`), `8:11: rule probe: says: there is no .Minuts; the nearest is "Minutes"`},
		{"text with a misspelt name where it is not written", probeWith(`    why: "{{if .LowAcid}}{{.Tim}}{{else}}x{{end}}"`), `9:10: rule probe: why: there is no .Tim; the nearest is "Time"`},
		{"text with a fact's name", probeWith(`    says: "{{.required_minutes}}"`), `8:11: rule probe: says: there is no .required_minutes; the nearest is "RequiredMinutes"`},
		{"text with an unexported field", probeWith(`    says: "{{.page}}"`), `8:11: rule probe: says: there is no .page; the nearest is "Page"`},
		{"text with a method that needs more", probeWith(`    says: "{{.Page}}"`), `8:11: rule probe: says: .Page needs arguments, which a text cannot give`},
		{"text that calls with arguments", probeWith(`    says: "{{.Time .Label}}"`), `8:11: rule probe: says: .Time takes nothing after it`},
		{"text that pipes into a name", probeWith(`    says: "{{.Label | .Time}}"`), `8:11: rule probe: says: .Time takes nothing after it`},
		{"text that goes deeper", probeWith(`    says: "{{.Label.X}}"`), `8:11: rule probe: says: .Label.X is not allowed in a text: one name at a time`},
		{"text not closed", probeWith(`    says: "{{.Time"`), `8:11: rule probe: says: unclosed action`},
		{"text without end", probeWith(`    says: "{{if .LowAcid}}x"`), `8:11: rule probe: says: unexpected EOF`},
		{"text that loops", probeWith(`    says: "{{range .Added}}x{{end}}"`), `8:11: rule probe: says: {{range .Added}}x{{end}} is not allowed in a text: there are {{.Name}} and {{if .Name}}`},
		{"text that compares", probeWith(`    says: "{{if eq .Method .Pack}}x{{end}}"`), `8:11: rule probe: says: eq is not allowed in a text: there are and, or, not, printf`},
		{"text with a variable", probeWith(`    says: "{{$x := .Time}}{{$x}}"`), `8:11: rule probe: says: $x := .Time is not allowed in a text: variables are not used` + "\n" + `$x is not allowed in a text: there are {{.Name}} and {{if .Name}}`},
		{"text with everything", probeWith(`    says: "{{.}}"`), `8:11: rule probe: says: . is not allowed in a text: there are {{.Name}} and {{if .Name}}`},
		{"text with a number", probeWith(`    says: "{{printf .Label 5}}"`), `8:11: rule probe: says: 5 is not allowed in a text: there are {{.Name}} and {{if .Name}}`},
		{"text that defines", probeWith(`    says: "a{{define ` + "`b`" + `}}x{{end}}"`), `8:11: rule probe: says: define is not allowed in a text`},
		{"text with an unknown function", probeWith(`    says: "{{upper .Time}}"`), `8:11: rule probe: says: function "upper" not defined`},
		{"text laid out wrongly", probeWith("    why: w\n" + `    given: '{{printf "%d min" .Minutes}}'`), `10:12: rule probe: given: printf and its values do not fit: "%!d(float64=0) min"`},
		{"required with a misspelt name", probeWith("    why: w\n" + `    required: "{{.RequiredTim}}"`), `10:15: rule probe: required: there is no .RequiredTim; the nearest is "RequiredTime"`},

		{"not YAML", "rules:\n  - id: 'probe\n", `2:9: not readable as YAML: could not find end character of single-quoted text`},
		{"tab", "rules:\n\t- id: x\n", `2:1: not readable as YAML: found character '	' that cannot start any token`},
		{"other key at the top", "ruels: []\n", `1:1: there is no key "ruels"; the nearest is "rules"` + "\n" + `probe.yaml:1:1: rules is missing: write a list with at least one item`},
		{"key at the top twice", probeWith() + "rules: []\n", `15:1: rules is stated twice: keep one`},
		{"list at the top", "- id: probe\n", `1:1: expected keys with values: rules`},
		{"no list", "rules: probe\n", `1:8: rules must be a list with at least one item`},
		{"empty list", "rules:\n", `1:8: rules must be a list with at least one item`},
		{"empty file", "# nothing yet\n", `1:1: expected one document with the key rules, found 0 documents`},
		{"two documents", probeWith() + "---\n" + probeWith(), `1:1: expected one document with the key rules, found 2 documents`},
		{"too long", strings.Repeat("#", 1<<18+1), `1:1: the file has 262145 bytes; at most 262144 are read`},
		{"too deep", "rules:\n  - " + strings.Repeat("[", 70), `2:1: brackets or dashes nest more than 64 deep`},
		{"dashes too deep", "rules:\n" + strings.Repeat("- ", 70), `2:1: brackets or dashes nest more than 64 deep`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			if diff := cmp.Diff("probe.yaml:"+test.want, loadError(folder(test.file))); diff != "" {
				t.Errorf("Load (-want +got):\n%s\nfile:\n%s", diff, test.file)
			}
		})
	}
}

func TestOtherFileErrors(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, file, text, want string
	}{
		{
			"source with things missing", sourcesFile,
			"sources:\n  - {id: guide}\n  - {id: sheet, title: t, publisher: p, edition: e, part: p, read: one-copy}\n",
			`sources.yaml:2:5: source guide: title is missing: write what it is called
sources.yaml:2:5: source guide: publisher is missing: write who published it
sources.yaml:2:5: source guide: edition is missing: write which edition or year
sources.yaml:2:5: source guide: part is missing: write the pages or sections meant
sources.yaml:2:5: source guide: read is missing: write one of one-copy, two-copies, from-memory`,
		},
		{
			"source that was read in no known way", sourcesFile,
			strings.Replace(sourcesYAML, "two-copies", "two-copys", 1),
			`sources.yaml:2:86: source guide: read: "two-copys" is not known; the nearest is "two-copies"`,
		},
		{
			"source that is a word", sourcesFile,
			sourcesYAML + "  - book\n",
			`sources.yaml:4:5: source number 3: expected keys with values: id, title, publisher, edition, part, read, url`,
		},
		{
			"misconception that is a word", misconceptionsFile,
			misconceptionsYAML + "  - belief\n",
			`misconceptions.yaml:4:5: misconception number 3: expected keys with values: id, belief, not, truth, lesson, source`,
		},
		{
			"source twice", sourcesFile,
			strings.Replace(sourcesYAML, "id: sheet", "id: guide", 1) + "  - {id: sheet, title: t, publisher: p, edition: e, part: p, read: one-copy}\n",
			`sources.yaml:3:10: source guide: the id is taken further up in this file`,
		},
		{
			"source with an unknown key", sourcesFile,
			strings.Replace(sourcesYAML, "part: p. 3", "part: p. 3, pages: 3", 1),
			`sources.yaml:2:80: source guide: there is no key "pages"; there are id, title, publisher, edition, part, read, url`,
		},
		{
			"misconception with things missing", misconceptionsFile,
			misconceptionsYAML + "  - id: short\n    belief: b\n",
			`misconceptions.yaml:4:5: misconception short: not is missing: write that it is not so
misconceptions.yaml:4:5: misconception short: truth is missing: write what is true, and why
misconceptions.yaml:4:5: misconception short: lesson is missing: write a short name such as time-short
misconceptions.yaml:4:5: misconception short: source is missing: write the id of a publication in sources.yaml`,
		},
		{
			"misconception twice", misconceptionsFile,
			strings.Replace(misconceptionsYAML, "id: more-is-better", "id: time-is-a-guess", 1),
			`misconceptions.yaml:3:10: misconception time-is-a-guess: the id is taken further up in this file`,
		},
		{
			"misconception with an unknown source", misconceptionsFile,
			strings.Replace(misconceptionsYAML, "[guide, sheet]", "[guide, sheep]", 1),
			`misconceptions.yaml:3:132: misconception more-is-better: source: "sheep" is not known; the nearest is "sheet"`,
		},
		{
			"ending that is not read", "more.yml", probeWith(),
			"more.yml: name it .yaml, or it is not read",
		},
		{
			"same id in another file", "a.yaml", probeWith(),
			`probe.yaml:2:9: rule probe: the id is taken by the rule at a.yaml:2`,
		},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			files := folder(probeWith())
			files[test.file] = &fstest.MapFile{Data: []byte(test.text)}
			if diff := cmp.Diff(test.want, loadError(files)); diff != "" {
				t.Errorf("Load (-want +got):\n%s", diff)
			}
		})
	}
}

func TestFilesThatAreNotThere(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ leaveOut, want string }{
		{sourcesFile, "sources.yaml: open sources.yaml: file does not exist"},
		{misconceptionsFile, "misconceptions.yaml: open misconceptions.yaml: file does not exist"},
		{"probe.yaml", "*.yaml: there are no rules, and a plan must not pass for want of them"},
	} {
		files := folder(probeWith())
		delete(files, test.leaveOut)
		if got := loadError(files); got != test.want {
			t.Errorf("without %s: %s, want %s", test.leaveOut, got, test.want)
		}
	}
}

func TestOptionsThatCannotBeUsed(t *testing.T) {
	t.Parallel()
	o := kitchenOptions()
	o.Stages = nil
	if _, err := Load(folder(probeWith()), o); err == nil || err.Error() != "rules: Options need Stages and Fields" {
		t.Errorf("Load without stages: %v", err)
	}
	if _, err := Load(os.DirFS(filepath.Join(t.TempDir(), "none")), kitchenOptions()); !errors.Is(err, fs.ErrNotExist) {
		t.Errorf("Load of a folder that is not there: %v", err)
	}
	o = kitchenOptions()
	o.Facts, o.Words = struct{}{}, nil
	const want = `probe.yaml:7:11: rule probe: when: there is no fact "low_acid"; there are none`
	if _, err := Load(folder(probeWith()), o); err == nil || err.Error() != want {
		t.Errorf("Load without facts: %v, want %s", err, want)
	}
}

// TestTextsAreTriedWithTheSample has a text fail with the very facts that are
// given as the sample.
func TestTextsAreTriedWithTheSample(t *testing.T) {
	t.Parallel()
	for says, want := range map[string]string{
		`"{{.Spoilt}}"`:                     `probe.yaml:8:11: rule probe: says: this text was spoilt on purpose`,
		`"{{if .Label}}{{.Spoilt}}{{end}}"`: `probe.yaml:8:11: rule probe: says: <.Spoilt>: error calling Spoilt: this text was spoilt on purpose`,
	} {
		o := kitchenOptions()
		o.Facts = kitchen{Label: "spoilt"}
		if _, err := Load(folder(probeWith("    says: "+says)), o); err == nil || err.Error() != want {
			t.Errorf("says: %s: %v, want %s", says, err, want)
		}
	}
}

func TestAllMistakesAreReportedInOrder(t *testing.T) {
	t.Parallel()
	files := folder(probeWith("    stage: plam", "    when: minuts > 0 or method == \"ovem\"", "-keeps: x"))
	files["a.yaml"] = &fstest.MapFile{Data: []byte("rules: [{id: other}]")}
	files["b.yaml"] = &fstest.MapFile{Data: []byte("rules: [")}
	got := strings.Split(loadError(files), "\n")
	var places []string
	for _, line := range got {
		at, _, _ := strings.Cut(line, ": ")
		places = append(places, at)
	}
	want := strings.Fields(strings.Repeat("a.yaml:1:9 ", 10) +
		"b.yaml:1:8 probe.yaml:2:5 probe.yaml:3:12 probe.yaml:7:11 probe.yaml:7:35")
	if diff := cmp.Diff(want, places); diff != "" {
		t.Errorf("places (-want +got):\n%s\n%s", diff, strings.Join(got, "\n"))
	}
}

func TestLoadedSet(t *testing.T) {
	t.Parallel()
	files := folder(probeWith("    source: [guide, sheet]", "    why: |\n      For a reason.\n"))
	files["zeal.yaml"] = &fstest.MapFile{Data: []byte(strings.ReplaceAll(probeWith(
		"    severity: note", "-verdict: x", "-misconceptions: x", "    why: w\n    given: g\n    required: r"), "probe", "zeal"))}
	set := mustLoad(t, files)

	probe := Rule{
		ID: "probe", Stage: "plan", Severity: "safety", Verdict: "unsafe", Field: "time", When: "low_acid",
		Says: "It says so.", Why: "For a reason.", Lesson: "process-time",
		Misconceptions: []string{"time-is-a-guess"}, Source: "guide, sheet",
		Breaks: []Example{{YAML: []byte("             {time: 50 min}\n"), Line: 15}},
		Keeps:  []Example{{YAML: []byte("            {time: 60 min}\n"), Line: 16}},
		File:   "probe.yaml", Line: 2,
	}
	if got, ok := set.Rule("probe"); !ok || !cmp.Equal(got, probe) {
		t.Errorf("Rule(probe), %t (-want +got):\n%s", ok, cmp.Diff(probe, got))
	}
	if rules := set.Rules(); len(rules) != 2 || rules[1].ID != "zeal" || rules[1].Verdict != "" || rules[1].Given != "g" || rules[1].Required != "r" {
		t.Errorf("Rules = %+v, want probe and zeal", rules)
	}
	sheet := Source{ID: "sheet", Title: "A sheet", Publisher: "A press", Edition: "first", Part: "all", Read: "from-memory", URL: "https://example.org/sheet"}
	if got, ok := set.Source("sheet"); !ok || got != sheet || len(set.Sources()) != 2 || set.Sources()[0].Edition != "2015" {
		t.Errorf("Source(sheet) = %+v of %+v, want %+v", got, set.Sources(), sheet)
	}
	belief := Misconception{ID: "more-is-better", Belief: "More is better.", Not: "It is not.", Truth: "Enough is enough.", Lesson: "process-time", Source: "guide, sheet"}
	if got, ok := set.Misconception("more-is-better"); !ok || got != belief || len(set.Misconceptions()) != 2 {
		t.Errorf("Misconception = %+v, want %+v", got, belief)
	}
	if _, ok := set.Rule("nope"); ok {
		t.Error("there is a rule nope")
	}
	facts := set.Facts()
	if want := (FactDoc{Name: "pack", Type: "string", Words: []string{"hot", "raw"}, Doc: "how the jars are filled"}); len(facts) != 13 || !cmp.Equal(facts[7], want) {
		t.Errorf("Facts = %+v, want 13 with %+v", facts, want)
	}
}

// TestExamplesKeepTheirPlace cuts examples out of a file in each way they can be
// written, and has the YAML reader find a value where it stands in the file.
func TestExamplesKeepTheirPlace(t *testing.T) {
	t.Parallel()
	file := probeWith("    breaks:\n"+`      - {food: pears, acid: {kind: none},
         mark: "}"}   # a remark
      - food: pears é
        added:
          - salt
    # a remark that is not indented
        text: |
          lines

          # not a remark
        mark: here

      - mark: last
`, "    keeps: [{é: {}, mark: 1}, {mark: 2}, {}]")
	file = strings.ReplaceAll(file, "\n", "\r\n")
	rule, _ := mustLoad(t, folder(file)).Rule("probe")
	lines := strings.Split(file, "\r\n")
	for i, want := range []string{`"}"`, "here", "last", "1}", "2}"} {
		examples := append(rule.Breaks[:3:3], rule.Keeps[:2]...)
		var plan struct{ Mark string }
		if err := yaml.Unmarshal(examples[i].YAML, &plan); err != nil || plan.Mark != strings.Trim(want, `"`) && plan.Mark != strings.TrimSuffix(want, "}") {
			t.Errorf("example %d: mark = %q, %v, want %s in\n%s", i, plan.Mark, err, want, examples[i].YAML)
		}
		text := strings.Split(string(examples[i].YAML), "\n")
		found := false
		for n, line := range text {
			if col := strings.Index(line, "mark: "+want); col >= 0 {
				// Columns are kept in characters; é takes two bytes.
				inFile := []rune(lines[examples[i].Line-1+n])
				found = strings.HasPrefix(string(inFile[len([]rune(line[:col])):]), "mark: "+want)
			}
		}
		if !found {
			t.Errorf("example %d does not keep its place from line %d:\n%s", i, examples[i].Line, examples[i].YAML)
		}
	}
	if got := fmt.Sprintf("%q", rule.Keeps[2].YAML); !strings.HasSuffix(got, `{}\n"`) {
		t.Errorf("the empty plan is %s", got)
	}
}
