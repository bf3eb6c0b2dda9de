package quiz

import (
	"errors"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/goccy/go-yaml"
	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"rollingboil/scenarios/process"
)

// courseOptions are the lists the shipped bank is checked against.
func courseOptions(t testing.TB) Options {
	t.Helper()
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	return Options{
		Table:          table,
		Misconceptions: ids(t, "misconceptions"),
		Sources:        ids(t, "sources"),
		Lessons: []string{
			"altitude", "headspace", "liquid-loss", "testing-seals", "acid", "process-time", "jars-and-lids", "unsealed-jars", "storage", "recipe-changes", "low-acid",
		},
	}
}

// ids reads the ids of a list in the folder of the rules.
func ids(t testing.TB, key string) []string {
	t.Helper()
	src, err := os.ReadFile("../scenarios/ruleset/" + key + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	var file map[string][]struct {
		ID string `yaml:"id"`
	}
	if err := yaml.Unmarshal(src, &file); err != nil {
		t.Fatal(err)
	}
	var list []string
	for _, entry := range file[key] {
		list = append(list, entry.ID)
	}
	if len(list) == 0 {
		t.Fatalf("no %s", key)
	}
	return list
}

func shipped(t testing.TB) *Bank {
	t.Helper()
	bank, err := Load(Shipped(), courseOptions(t))
	if err != nil {
		t.Fatal(err)
	}
	return bank
}

func question(t testing.TB, b *Bank, id string) *Question {
	t.Helper()
	q, ok := b.Question(id)
	if !ok {
		t.Fatalf("no question %s", id)
	}
	return q
}

// exampleFile is the file shown in the package comment.
func exampleFile(t testing.TB) string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "doc.go", nil, parser.ParseComments)
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(file.Doc.Text(), "\tquestions:\n")
	var example strings.Builder
	example.WriteString("questions:\n")
	for line := range strings.Lines(rest) {
		if line != "\n" && !strings.HasPrefix(line, "\t") {
			break
		}
		example.WriteString(strings.TrimPrefix(line, "\t"))
	}
	return example.String()
}

func TestTheExampleInThePackageCommentLoads(t *testing.T) {
	t.Parallel()
	bank, err := Load(fstest.MapFS{"headspace.yaml": {Data: []byte(exampleFile(t))}}, courseOptions(t))
	if err != nil {
		t.Fatal(err)
	}
	if got, want := len(bank.Questions()), 2; got != want {
		t.Errorf("%d questions, want %d", got, want)
	}
	// 2 tbsp a quart: USDA Complete Guide, 2015, Guide 3, p. 3-7.
	result, err := question(t, bank, "headspace-92").Mark([]string{"2"})
	if err != nil {
		t.Fatal(err)
	}
	if !result.Right || result.Key != "2 tbsp (30 ml)" {
		t.Errorf("2 tbsp: right is %v, key is %q", result.Right, result.Key)
	}
}

// valid is a file that each case below spoils in one place.
const valid = `questions:
  - id: a-1
    lesson: a
    competencies: [headspace]
    kind: choice
    stem: Is it full?
    options:
      - text: "Yes"
        right: true
        feedback: It is full.
      - text: "No"
        feedback: It is full.
        misconception: m-1
    why: It is full.
    source: [s-1]
    page: p. 1
  - id: a-2
    lesson: a
    competencies: [altitude]
    kind: number
    stem: How long?
    unit: min
    answer:
      times: {food: tomatoes-crushed, pack: hot, method: boiling-water, jar: quart, altitude: 6240 ft}
      feedback: It is so long.
    wrong:
      - value: 45 min
        misconception: m-1
        feedback: It is longer.
    why: It is so long.
    source: [s-1]
    page: p. 3-8
`

func smallOptions(t testing.TB) Options {
	return Options{Table: courseOptions(t).Table, Misconceptions: []string{"m-1"}, Sources: []string{"s-1"}, Lessons: []string{"a"}}
}

func TestLoadReportsProblems(t *testing.T) {
	t.Parallel()
	const (
		times = "times: {food: tomatoes-crushed, pack: hot, method: boiling-water, jar: quart, altitude: 6240 ft}"
		yes   = "- text: \"Yes\"\n        right: true"
	)
	tests := []struct {
		name     string
		old, new string
		want     string
	}{
		{"unknown key", "    why: It is full.", "    wy: It is full.", `a.yaml:14:5: unknown field "wy"; did you mean "why"?`},
		{"unknown key of an option", "        misconception: m-1\n    why", "        misconcepton: m-1\n    why", `a.yaml:13:9: unknown field "misconcepton"; did you mean "misconception"?`},
		{"repeated key", "    page: p. 1\n", "    page: p. 1\n    page: p. 2\n", `a.yaml:17:5: mapping key "page" already defined at [16:5]`},
		{"wrong type", "    unit: min", "    unit: min\n    tolerance: some", `a.yaml:23:16: found string where float64 belongs`},
		{"not YAML", "    page: p. 1", "    page: [p. 1", `a.yaml:17:3: `},
		{"other top key", "questions:", "question:", `a.yaml:1:1: a file has one key, questions, with a list under it`},
		{"bad id", "id: a-1", "id: A 1", `a.yaml:2:5: question A 1: id "A 1"; use lower-case words with hyphens`},
		{"same id", "id: a-2", "id: a-1", `a.yaml:17:5: question a-1: id "a-1" stands twice, first at a.yaml:2`},
		{"unknown lesson", "    lesson: a\n    competencies: [headspace]", "    lesson: aa\n    competencies: [headspace]", `a.yaml:3:5: question a-1: unknown lesson "aa"; did you mean "a"?`},
		{"lesson of another file", "    lesson: a\n    competencies: [headspace]", "    lesson: aa\n    competencies: [headspace]", `a.yaml:3:5: question a-1: lesson is "aa", but the file is a.yaml`},
		{"unknown competency", "[headspace]", "[headspaces]", `a.yaml:4:20: question a-1: unknown competency "headspaces"; did you mean "headspace"?`},
		{"no competency", "[headspace]", "[]", `a.yaml:4:5: question a-1: names no competency`},
		{"unknown kind", "kind: choice", "kind: guess", `a.yaml:5:5: question a-1: unknown kind "guess"; use one of: choice, choices, number`},
		{"unknown source", "[s-1]", "[s-2]", `a.yaml:15:14: question a-1: unknown source "s-2"; did you mean "s-1"?`},
		{"no source", "    source: [s-1]\n    page: p. 1", "    page: p. 1", `a.yaml:2:5: question a-1: names no source`},
		{"no page", "    page: p. 1\n", "", `a.yaml:2:5: question a-1: page is missing`},
		{"no reason", "why: It is full.", `why: ""`, `a.yaml:14:5: question a-1: why is missing`},
		{
			"hard to read", "Is it full?", "Notwithstanding considerable environmental variability, determine the appropriate quantity.",
			`a.yaml:6:5: question a-1: stem has reading grade `,
		},
		{"two right", "      - text: \"No\"", "      - text: \"No\"\n        right: true", `a.yaml:7:5: question a-1: has 2 right options; a choice has exactly one`},
		{"none right", yes, `- text: "Yes"`, `a.yaml:7:5: question a-1: has 0 right options; a choice has exactly one`},
		{"no wrong one among choices", "kind: choice", "kind: choices", ``},
		{"same option twice", `- text: "No"`, `- text: " Yes "`, `a.yaml:11:9: question a-1: option " Yes " stands twice`},
		{"option without text", `- text: "No"`, `- text: ""`, `a.yaml:11:9: question a-1: an option needs a text of one line`},
		{"option of two lines", `- text: "No"`, `- text: "N\no"`, `a.yaml:11:9: question a-1: an option needs a text of one line`},
		{"no feedback", "right: true\n        feedback: It is full.", "right: true", `a.yaml:8:9: question a-1: feedback is missing; say why`},
		{"no misconception", "        misconception: m-1\n    why: It is full.", "    why: It is full.", `a.yaml:11:9: question a-1: misconception is missing; name the belief that leads here`},
		{"unknown misconception", "misconception: m-1\n    why", "misconception: m-9\n    why", `a.yaml:13:9: question a-1: unknown misconception "m-9"; did you mean "m-1"?`},
		{"misconception of a right option", yes, yes + "\n        misconception: m-1", `a.yaml:10:9: question a-1: a right answer comes from no misconception`},
		{"unit with options", "stem: Is it full?", "stem: Is it full?\n    unit: min", `a.yaml:5:5: question a-1: unit, tolerance, answer and wrong belong to kind number`},
		{"options with a number", "unit: min", "unit: min\n    options: [{text: a}]", `a.yaml:23:5: question a-2: options belong to kinds choice and choices`},
		{"unknown unit", "unit: min", "unit: mins", `a.yaml:22:5: question a-2: unknown unit "mins"; did you mean "min"?`},
		{"tolerance below nothing", "unit: min", "unit: min\n    tolerance: -1", `a.yaml:23:5: question a-2: tolerance is -1; it says how far off is still right`},
		{"tolerance of a tested time", "unit: min", "unit: min\n    tolerance: 1", `a.yaml:23:5: question a-2: a tested time is right to the minute; leave tolerance out`},
		{"no figure", times, "value: \"\"", `a.yaml:23:5: question a-2: answer: give one of value, times, pressure, headspace and acid`},
		{"two figures", times, times + "\n      value: 60 min", `a.yaml:23:5: question a-2: answer: give one of value, times, pressure, headspace and acid`},
		{"value without unit", "value: 45 min", "value: 45", `a.yaml:27:9: question a-2: wrong.0: value: "45" at 3: found nothing, expected a time unit: min or h`},
		{"unknown food", "tomatoes-crushed", "tomatoes-crushd", `a.yaml:23:5: question a-2: answer: unknown food "tomatoes-crushd"; did you mean "tomatoes-crushed"?`},
		{"no such method", "boiling-water", "oven", `a.yaml:23:5: question a-2: answer: tomatoes-crushed has no tested process with method "oven"`},
		{"no gauge", "boiling-water", "pressure", `a.yaml:23:5: question a-2: answer: tomatoes-crushed has no tested process with gauge ""`},
		{"no such pack", "pack: hot", "pack: raw", `a.yaml:23:5: question a-2: answer: tomatoes-crushed has no tested process for pack "raw"`},
		{"jar too large", "jar: quart", "jar: half-gallon", `a.yaml:23:5: question a-2: answer: tomatoes-crushed has no tested process in jar "half-gallon"`},
		{"altitude past the table", "method: boiling-water, jar: quart, altitude: 6240 ft", "method: pressure, gauge: dial, jar: quart, altitude: 8001 ft", "a.yaml:23:5: question a-2: answer: tomatoes-crushed has no tested process at 8\u00a0001 ft"},
		{"altitude without unit", "6240 ft", "6240", `a.yaml:23:5: question a-2: answer: altitude: "6240" at 5: found nothing, expected an altitude unit: ft or m`},
		// In the tomato pressure tables several times stand for the same jar.
		{"alternatives", "method: boiling-water", "method: pressure, gauge: dial", `a.yaml:23:5: question a-2: answer: the table prints alternatives for tomatoes-crushed, so there is no one right answer`},
		{"row from memory", "tomatoes-crushed, pack: hot", "papaya, pack: hot", `a.yaml:23:5: question a-2: answer: the row for papaya was read in no publication and cannot be a key`},
		{"no headspace printed", "unit: min\n    answer:\n      " + times, "unit: in\n    answer:\n      headspace: {food: fruit-based-baby-food, pack: hot, method: boiling-water, jar: pint, altitude: 0 ft}", `a.yaml:23:5: question a-2: answer: the table prints no such figure for fruit-based-baby-food`},
		{"other quantity", "unit: min", "unit: psi", `a.yaml:23:5: question a-2: answer: the table has a time here, but unit asks for a pressure`},
		{"dose in minutes", times, "acid: {food: tomatoes-crushed, jar: quart, kind: citric-acid}", `a.yaml:23:5: question a-2: answer: the table has a volume here, but unit asks for a time`},
		{"no such dose", "unit: min\n    answer:\n      " + times, "unit: tsp\n    answer:\n      acid: {food: peaches, jar: quart, kind: citric-acid}", `a.yaml:23:5: question a-2: answer: no dose of "citric-acid" is printed for peaches in jar "quart"`},
		{"dose of no food", "unit: min\n    answer:\n      " + times, "unit: tsp\n    answer:\n      acid: {food: peache, jar: quart, kind: citric-acid}", `a.yaml:23:5: question a-2: answer: unknown food "peache"; did you mean "peaches"?`},
		{"wrong number that is right", "45 min", "1 h", `a.yaml:27:9: question a-2: 60 min is the right answer`},
		{"wrong number twice", "    why: It is so long.", "      - {value: 0.75 h, misconception: m-1, feedback: It is longer.}\n    why: It is so long.", `a.yaml:30:10: question a-2: 45 min stands twice`},
		{"other page than the row", "p. 3-8", "p. 3-9", `a.yaml:32:5: question a-2: the key stands on p. 3-8, which page does not name`},
		{"feedback of a number", "        feedback: It is longer.\n", "", `a.yaml:27:9: question a-2: feedback is missing; say why`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			src := strings.Replace(valid, test.old, test.new, 1)
			if src == valid {
				t.Fatalf("%q is not in the file", test.old)
			}
			_, err := Load(fstest.MapFS{"a.yaml": {Data: []byte(src)}}, smallOptions(t))
			if test.want == "" {
				if err != nil {
					t.Errorf("got %v, want no problem", err)
				}
				return
			}
			if err == nil || !slices.ContainsFunc(strings.Split(err.Error(), "\n"), func(line string) bool { return strings.HasPrefix(line, test.want) }) {
				t.Errorf("got\n%v\nwant a line\n%s", err, test.want)
			}
		})
	}
}

func TestLoadReportsAllProblemsOfAllFiles(t *testing.T) {
	t.Parallel()
	spoiled := strings.NewReplacer("page: p. 1\n", "\n", "unit: min", "unit: furlong", "right: true", "rite: true").Replace(valid)
	_, err := Load(fstest.MapFS{"a.yaml": {Data: []byte(spoiled)}, "b.yaml": {Data: []byte("questions: [")}}, smallOptions(t))
	var got []string
	for line := range strings.SplitSeq(err.Error(), "\n") {
		got = append(got, strings.SplitN(line, " ", 2)[0])
	}
	want := []string{"a.yaml:9:9:", "a.yaml:22:5:", "b.yaml:1:12:"}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("places of problems (-want +got):\n%s\n%v", diff, err)
	}
}

func TestLoadWithoutListsChecksNone(t *testing.T) {
	t.Parallel()
	choice, _, _ := strings.Cut(valid, "  - id: a-2")
	bank, err := Load(fstest.MapFS{"a.yaml": {Data: []byte(choice)}}, Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := bank.Lesson("a"); len(got) != 1 || got[0].ID != "a-1" || got[0].File != "a.yaml" || got[0].Line != 2 {
		t.Errorf("lesson a has %+v", got)
	}
	// A key that is looked up cannot do without the table.
	_, err = Load(fstest.MapFS{"a.yaml": {Data: []byte(valid)}}, Options{})
	if err == nil || !strings.Contains(err.Error(), "needs the process table") {
		t.Errorf("without a table: %v", err)
	}
}

func TestLoadNeedsAFile(t *testing.T) {
	t.Parallel()
	if _, err := Load(fstest.MapFS{}, Options{}); err == nil {
		t.Error("an empty folder loaded")
	}
	if _, err := Load(fstest.MapFS{"a.yaml": {Mode: fs.ModeDir}}, Options{}); err == nil {
		t.Error("a folder named like a file loaded")
	}
}

func TestMarkChoice(t *testing.T) {
	t.Parallel()
	q := question(t, shipped(t), "testing-seals-3")
	tap, notSealed := q.Options[0], q.Options[1]
	base := Result{Key: "Not sealed", Why: q.Why, Sources: []string{"usda-guide-1"}, Page: q.Page}

	right := base
	right.Right, right.Chosen = true, []Option{notSealed}
	wrong := base
	wrong.Chosen, wrong.Missed = []Option{tap}, []Option{notSealed}

	for _, test := range []struct {
		given []string
		want  Result
	}{
		{[]string{"Not sealed"}, right},
		{[]string{" Not\r\nsealed ", "Not sealed", ""}, right},
		{[]string{tap.Text}, wrong},
	} {
		got, err := q.Mark(test.given)
		if err != nil {
			t.Errorf("Mark(%q): %v", test.given, err)
		}
		if diff := cmp.Diff(test.want, got); diff != "" {
			t.Errorf("Mark(%q) (-want +got):\n%s", test.given, diff)
		}
	}
	if got, want := wrong.Misconceptions(), []string{"tap-alone-decides"}; !slices.Equal(got, want) {
		t.Errorf("misconceptions %q, want %q", got, want)
	}
	if got := right.Misconceptions(); len(got) != 0 {
		t.Errorf("misconceptions %q, want none", got)
	}
}

func TestMarkChoices(t *testing.T) {
	t.Parallel()
	q := question(t, shipped(t), "testing-seals-2")
	press, invert, look, tap := q.Options[0], q.Options[1], q.Options[2], q.Options[3]
	base := Result{Key: press.Text + "; " + look.Text + "; " + tap.Text, Why: q.Why, Sources: q.Sources, Page: q.Page}
	with := func(right bool, chosen, missed []Option) Result {
		r := base
		r.Right, r.Chosen, r.Missed = right, chosen, missed
		return r
	}
	for _, test := range []struct {
		given []string
		want  Result
	}{
		{[]string{tap.Text, press.Text, look.Text}, with(true, []Option{press, look, tap}, nil)},
		{[]string{press.Text}, with(false, []Option{press}, []Option{look, tap})},
		{[]string{press.Text, look.Text, tap.Text, invert.Text}, with(false, []Option{press, invert, look, tap}, nil)},
	} {
		got, err := q.Mark(test.given)
		if err != nil {
			t.Errorf("Mark(%q): %v", test.given, err)
		}
		if diff := cmp.Diff(test.want, got, cmpopts.EquateEmpty()); diff != "" {
			t.Errorf("Mark(%q) (-want +got):\n%s", test.given, diff)
		}
	}
}

func TestMarkNumber(t *testing.T) {
	t.Parallel()
	bank := shipped(t)
	for _, test := range []struct {
		id, typed     string
		right         bool
		read          string
		misconception string
	}{
		// 60 min, quarts above 6,000 ft: USDA Complete Guide, 2015, Guide 3, p. 3-8.
		{"altitude-2", "60", true, "60 min", ""},
		{"altitude-2", " 60 min ", true, "60 min", ""},
		{"altitude-2", "1 h", true, "60 min", ""},
		{"altitude-2", "0.75 h", false, "45 min", "altitude-does-not-matter"},
		{"altitude-2", "45", false, "45 min", "altitude-does-not-matter"},
		{"altitude-2", "50", false, "50 min", "bigger-jar-same-time"},
		{"altitude-2", "55 minutes", false, "55 min", "time-is-a-guess"},
		{"altitude-2", "59.9", false, "59.9 min", ""},
		{"altitude-2", "61", false, "61 min", ""},
		// 14 psi: Guide 4, p. 4-9. 97 kPa is 14.07 psi.
		{"altitude-4", "14", true, "14 psi (97 kPa)", ""},
		{"altitude-4", "97 kPa", true, "14.07 psi (97 kPa)", ""},
		{"altitude-4", "14 lb", true, "14 psi (97 kPa)", ""},
		{"altitude-4", "13 psi", false, "13 psi (90 kPa)", "time-is-a-guess"},
		{"altitude-4", "11", false, "11 psi (76 kPa)", "altitude-does-not-matter"},
		// 1/2 in: Guide 3, p. 3-8. 13 mm is 0.512 in.
		{"headspace-2", "1/2", true, "1/2 in (13 mm)", ""},
		{"headspace-2", "½", true, "1/2 in (13 mm)", ""},
		{"headspace-2", "13 mm", true, "0.51 in (13 mm)", ""},
		{"headspace-2", "0.25", false, "1/4 in (6 mm)", "fuller-jar-keeps-better"},
		{"headspace-2", "1 inch", false, "1 in (25 mm)", "more-headspace-is-safer"},
		{"headspace-2", "3/4", false, "3/4 in (19 mm)", ""},
	} {
		q := question(t, bank, test.id)
		got, err := q.Mark([]string{test.typed})
		if err != nil {
			t.Errorf("%s: Mark(%q): %v", test.id, test.typed, err)
			continue
		}
		chosen := got.Chosen[0]
		if got.Right != test.right || chosen.Right != test.right || chosen.Text != test.read || chosen.Misconception != test.misconception {
			t.Errorf("%s: Mark(%q) = %v, %+v; want %v, read as %q, misconception %q", test.id, test.typed, got.Right, chosen, test.right, test.read, test.misconception)
		}
		if chosen.Feedback == "" || got.Why == "" || got.Key == "" {
			t.Errorf("%s: Mark(%q) says too little: %+v", test.id, test.typed, got)
		}
		if missed := len(got.Missed) == 1 && got.Missed[0].Feedback == q.Answer.Feedback && got.Missed[0].Text == got.Key; missed == test.right {
			t.Errorf("%s: Mark(%q) missed %+v", test.id, test.typed, got.Missed)
		}
	}
}

func TestMarkSaysWhatItCannotMark(t *testing.T) {
	t.Parallel()
	bank := shipped(t)
	for _, test := range []struct {
		id    string
		given []string
		want  string
	}{
		{"altitude-1", nil, "choose an answer first"},
		{"altitude-1", []string{" "}, "choose an answer first"},
		{"altitude-1", []string{"The moon"}, "this answer is not one of those offered; choose again"},
		{"altitude-3", []string{"The pressure goes up and the minutes stay", "Nothing changes in a closed canner"}, "choose one answer only"},
		{"altitude-2", nil, "write a number first"},
		{"altitude-2", []string{""}, "write a number first"},
		{"altitude-2", []string{"50", "60"}, "write one number only"},
		{"altitude-2", []string{"an hour"}, `"an hour" cannot be read as a time; write it like "8", "8 min" or "1 h 8 min"`},
		{"altitude-2", []string{"60 psi"}, `"60 psi" cannot be read as a time; write it like "8", "8 min" or "1 h 8 min"`},
		{"altitude-2", []string{"-60"}, `"-60" cannot be read as a time; write it like "8", "8 min" or "1 h 8 min"`},
	} {
		_, err := question(t, bank, test.id).Mark(test.given)
		var cannot *AnswerError
		if !errors.As(err, &cannot) {
			t.Errorf("%s: Mark(%q): error is %v, want an *AnswerError", test.id, test.given, err)
			continue
		}
		if cannot.Reason != test.want || cannot.Question != test.id || !slices.Equal(cannot.Given, test.given) {
			t.Errorf("%s: Mark(%q): %+v, want reason %q", test.id, test.given, cannot, test.want)
		}
	}
}
