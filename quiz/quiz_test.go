package quiz

import (
	"errors"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"slices"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/goccy/go-yaml"
	"github.com/google/go-cmp/cmp"

	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/process"
)

// The figures in these tests are printed in the USDA Complete Guide to Home
// Canning, Agriculture Information Bulletin 539, 2015: Guide and page stand beside
// each.

// courseOptions are what the shipped bank is checked against and computed with, but
// for the grader, which is above this package: what asks it is tested in package
// server, which has one.
func courseOptions(t testing.TB) Options {
	t.Helper()
	o, err := loadOptions()
	if err != nil {
		t.Fatal(err)
	}
	return o
}

var loadOptions = sync.OnceValues(func() (Options, error) {
	table, err := process.Shipped()
	if err != nil {
		return Options{}, err
	}
	o := Options{
		Table: table,
		Bench: bench.New(table),
		Lessons: []string{
			"what-canning-does", "where-guidance-comes-from", "altitude", "acid", "jars-and-lids", "headspace", "the-canner",
			"process-time", "liquid-loss", "cooling", "testing-seals", "unsealed-jars", "separation", "storage", "sauces",
			"recipe-changes", "fruit-jam-pickles", "low-acid", "first-batch",
		},
	}
	for _, list := range []struct {
		key string
		ids *[]string
	}{{"misconceptions", &o.Misconceptions}, {"sources", &o.Sources}} {
		src, err := os.ReadFile("../scenarios/ruleset/" + list.key + ".yaml")
		if err != nil {
			return o, err
		}
		var file map[string][]struct {
			ID string `yaml:"id"`
		}
		if err := yaml.Unmarshal(src, &file); err != nil {
			return o, err
		}
		for _, entry := range file[list.key] {
			*list.ids = append(*list.ids, entry.ID)
		}
	}
	// Lessons may not be imported here, but their facts are read.
	src, err := os.ReadFile("../lessons/facts.yaml")
	if err != nil {
		return o, err
	}
	var file struct {
		Facts []struct{ ID, US, Metric string }
	}
	if err := yaml.Unmarshal(src, &file); err != nil {
		return o, err
	}
	o.Facts = map[string]string{}
	for _, f := range file.Facts {
		o.Facts[f.ID] = f.US
		if f.Metric != "" {
			o.Facts[f.ID] += " (" + f.Metric + ")"
		}
	}
	return o, nil
})

// shippedFiles are the files of the bank that do without the grader.
func shippedFiles() (fs.FS, error) {
	all, kept := Shipped(), fstest.MapFS{}
	names, err := fs.Glob(all, "*.yaml")
	for _, name := range names {
		src, readErr := fs.ReadFile(all, name)
		err = errors.Join(err, readErr)
		if !strings.Contains(string(src), "verdict(") && !strings.Contains(string(src), "finds(") {
			kept[name] = &fstest.MapFile{Data: src}
		}
	}
	return kept, err
}

// shipped is the bank that comes with the program, as far as it does without the
// grader.
func shipped(t testing.TB) *Bank {
	t.Helper()
	bank, err := loadShipped()
	if err != nil {
		t.Fatal(err)
	}
	return bank
}

var loadShipped = sync.OnceValues(func() (*Bank, error) {
	o, err := loadOptions()
	if err != nil {
		return nil, err
	}
	bank, err := shippedFiles()
	if err != nil {
		return nil, err
	}
	return Load(bank, o)
})

// folder is a folder with one file, of questions of lesson a.
func folder(src string) fstest.MapFS { return fstest.MapFS{"a.yaml": {Data: []byte(src)}} }

// load reads one file of questions of lesson a.
func load(t testing.TB, src string) *Bank {
	t.Helper()
	bank, err := Load(folder(src), smallOptions(t))
	if err != nil {
		t.Fatalf("load:\n%v", err)
	}
	return bank
}

// smallOptions name one lesson, one misconception and one source.
func smallOptions(t testing.TB) Options {
	o := courseOptions(t)
	o.Misconceptions, o.Sources, o.Lessons = []string{"m-1"}, []string{"s-1"}, []string{"a"}
	return o
}

func question(t testing.TB, b *Bank, id string) *Question {
	t.Helper()
	q, ok := b.Question(id)
	if !ok {
		t.Fatalf("no question %s", id)
	}
	return q
}

func ask(t testing.TB, q *Question, seed uint64) *Asked {
	t.Helper()
	a, err := q.Ask(seed)
	if err != nil {
		t.Fatal(err)
	}
	return a
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

// example is the file in the package comment, loaded against the shipped lists.
func example(t testing.TB) *Bank {
	t.Helper()
	bank, err := Load(fstest.MapFS{"headspace.yaml": {Data: []byte(exampleFile(t))}}, courseOptions(t))
	if err != nil {
		t.Fatal(err)
	}
	return bank
}

func TestTheExampleInThePackageComment(t *testing.T) {
	t.Parallel()
	bank := example(t)
	if err := bank.Check(); err != nil {
		t.Error(err)
	}
	for _, test := range []struct {
		id    string
		right []string
		wrong []string
		key   string // of the first draw
	}{
		{"headspace-91", []string{"Food climbs out under the lid"}, []string{"Nothing bad, because a fuller jar keeps better"}, "Food climbs out under the lid"},
		// Crushed tomatoes, pints, 1,001 to 3,000 ft: 40 min, Guide 3, p. 3-8.
		{"headspace-92", []string{"40 min"}, []string{"35 min"}, "40 min"},
		// 2 tbsp of bottled lemon juice a quart: Guide 3, p. 3-7.
		{"headspace-93", []string{"30 ml"}, []string{"1 tbsp"}, "2 tbsp (30 ml)"},
		{"headspace-94", []string{"Fill the jar", "Let the bubbles out", "Wipe the rim"}, []string{"Fill the jar", "Wipe the rim", "Let the bubbles out"}, "1. Fill the jar; 2. Let the bubbles out; 3. Wipe the rim"},
		// General headspaces: Guide 1, p. 1-13.
		{"headspace-95", []string{"Jam → 1/4 in (6 mm)", "Fruit → 1/2 in (13 mm)", "Green beans → 1 to 1 1/4 in (25 to 32 mm)"}, []string{"Jam → 1/4 in (6 mm)", "Fruit → 1/2 in (13 mm)", "Green beans → 1/2 in (13 mm)"}, "Jam → 1/4 in (6 mm); Fruit → 1/2 in (13 mm); Green beans → 1 to 1 1/4 in (25 to 32 mm)"},
	} {
		a := ask(t, question(t, bank, test.id), 0)
		for _, given := range [][]string{test.right, test.wrong, a.Key()} {
			result, err := a.Mark(given)
			if err != nil {
				t.Errorf("%s: %v", test.id, err)
				continue
			}
			if want := !slices.Equal(given, test.wrong); result.Right != want || result.Key != test.key {
				t.Errorf("%s: Mark(%q): right is %v, key is %q; want %v, %q", test.id, given, result.Right, result.Key, want, test.key)
			}
		}
	}
	if got, want := len(bank.Questions()), 5; got != want {
		t.Errorf("%d questions, want %d", got, want)
	}
}

// valid is a file with one question of each form, which each case below spoils in
// one place. The times are those of crushed tomatoes: Guide 3, p. 3-8.
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
    draw:
      jar: [pint, quart]
      feet: {from: 3500, to: 8500, step: 500}
    let:
      here: minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet)
      sea: minutes("tomatoes-crushed", "hot", "boiling-water", jar, 0)
    where:
      - here != sea
    stem: How long do {{jarName(jar)}}s boil at {{inFt(feet)}}?
    unit: min
    answer:
      is: here
      feedback: It is so long.
    wrong:
      - is: sea
        misconception: m-1
        feedback: It is longer.
    why: It is so long.
    source: [s-1]
    page: p. 3-8
  - id: a-3
    lesson: a
    competencies: [filling]
    kind: order
    stem: What comes first?
    items:
      - {key: fill, text: Fill the jar, feedback: It goes first.}
      - {key: wipe, text: Wipe the rim, feedback: It goes next.}
      - {key: close, text: Close the jar, feedback: It goes last.}
    mistakes:
      - {early: close, late: wipe, misconception: m-1, feedback: It is wiped first.}
    why: It is so.
    source: [s-1]
    page: p. 1
  - id: a-4
    lesson: a
    competencies: [headspace]
    kind: match
    draw:
      food: [Jam, Jelly, Marmalade]
    stem: What goes with what?
    items:
      - {key: jam, text: "{{food}}", with: size A, feedback: It hardly swells.}
      - {key: fruit, text: Fruit, with: size B, feedback: It swells more.}
      - {key: beans, text: Beans, with: size C, feedback: It gets hotter.}
    spare: [size D]
    mistakes:
      - {item: beans, with: size B, misconception: m-1, feedback: It needs more.}
    why: It is so.
    source: [s-1]
    page: p. 1
`

func TestLoadReportsProblems(t *testing.T) {
	t.Parallel()
	const (
		yes  = "- text: \"Yes\"\n        right: true"
		no   = "- text: \"No\"\n        feedback: It is full.\n        misconception: m-1"
		here = `minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet)`
		min  = "    unit: min\n"
		feet = "feet: {from: 3500, to: 8500, step: 500}"
	)
	tests := []struct {
		name     string
		old, new string
		want     string
	}{
		// The form of the file.
		{"unknown key", "    why: It is full.", "    wy: It is full.", `a.yaml:14:5: unknown field "wy"; did you mean "why"?`},
		{"unknown key of an option", "        misconception: m-1\n    why", "        misconcepton: m-1\n    why", `a.yaml:13:9: unknown field "misconcepton"; did you mean "misconception"?`},
		{"unknown key of a number", "        misconception: m-1\n        feedback: It is longer.", "        misconcepton: m-1\n        feedback: It is longer.", `a.yaml:36:9: unknown field "misconcepton"; did you mean "misconception"?`},
		{"unknown key of an item", "{key: wipe, text", "{key: wipe, txt", `a.yaml:48:21: unknown field "txt"; did you mean "text"?`},
		{"unknown key of a mistake", "early: close", "erly: close", `a.yaml:51:10: unknown field "erly"; did you mean "early"?`},
		{"unknown key of a range", "step: 500", "steps: 500", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"repeated key", "    page: p. 1\n", "    page: p. 1\n    page: p. 2\n", `a.yaml:17:5: mapping key "page" already defined at [16:5]`},
		{"wrong type", min, min + "    tolerance: some\n", `a.yaml:31:16: found string where float64 belongs`},
		{"not YAML", "    page: p. 1", "    page: [p. 1", `a.yaml:17:3: ',' or ']' must be specified`},
		{"other top key", "questions:", "question:", `a.yaml:1:1: a file has one key, questions, with a list under it`},
		{"no list", "questions:\n  - id: a-1\n    lesson: a\n", "questions:\n    lesson: a\n", `a.yaml:16:3: value is not allowed in this context`},
		// What every question has.
		{"bad id", "id: a-1", "id: A 1", `a.yaml:2:5: question A 1: id "A 1"; use lower-case words with hyphens`},
		{"same id", "id: a-2", "id: a-1", `a.yaml:17:5: question a-1: id "a-1" stands twice, first at a.yaml:2`},
		{"unknown lesson", "    lesson: a\n    competencies: [headspace]", "    lesson: aa\n    competencies: [headspace]", `a.yaml:3:5: question a-1: unknown lesson "aa"; did you mean "a"?`},
		{"lesson of another file", "    lesson: a\n    competencies: [headspace]", "    lesson: aa\n    competencies: [headspace]", `a.yaml:3:5: question a-1: lesson is "aa", but the file is a.yaml`},
		{"unknown competency", "[headspace]", "[headspaces]", `a.yaml:4:20: question a-1: unknown competency "headspaces"; did you mean "headspace"?`},
		{"no competency", "[headspace]", "[]", `a.yaml:4:5: question a-1: names no competency`},
		{"unknown kind", "kind: choice", "kind: guess", `a.yaml:5:5: question a-1: unknown kind "guess"; use one of: choice, choices, number, order, match`},
		{"near kind", "kind: choice", "kind: choise", `a.yaml:5:5: question a-1: unknown kind "choise"; did you mean "choice"?`},
		{"unknown source", "[s-1]", "[s-2]", `a.yaml:15:14: question a-1: unknown source "s-2"; did you mean "s-1"?`},
		{"no source", "    source: [s-1]\n    page: p. 1", "    page: p. 1", `a.yaml:2:5: question a-1: names no source`},
		{"no page", "    page: p. 1\n", "", `a.yaml:2:5: question a-1: page is missing`},
		{"no reason", "why: It is full.", `why: ""`, `a.yaml:14:5: question a-1: why is missing`},
		{"no stem", "stem: Is it full?", `stem: ""`, `a.yaml:6:5: question a-1: stem is missing`},
		{"hard to read", "Is it full?", "Notwithstanding considerable environmental variability, determine the appropriate quantity.", `a.yaml:2:5: question a-1: stem has reading grade 30.3; use shorter words and sentences, for grade 8 at most`},
		{"hard to read when drawn", "How long do {{jarName(jar)}}s boil at {{inFt(feet)}}?", `'{{feet > 0 ? "Notwithstanding considerable environmental variability, determine the appropriate quantity." : "How long?"}}'`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: stem has reading grade 30.3; use shorter words and sentences, for grade 8 at most`},
		// Options.
		{"two right", no, "- text: \"No\"\n        right: true\n        feedback: It is full.", `a.yaml:2:5: question a-1: has 2 right options; a choice has exactly one`},
		{"none right", yes, `- text: "Yes"`, `a.yaml:7:5: question a-1: has no right option`},
		{"one right one among choices", "kind: choice", "kind: choices", ``},
		{"no wrong one among choices", "kind: choice\n    stem: Is it full?\n    options:\n      - text: \"Yes\"\n        right: true\n        feedback: It is full.\n      " + no, "kind: choices\n    stem: Is it full?\n    options:\n      - {text: \"Yes\", right: true, feedback: It is full.}\n      - {text: \"No\", right: true, feedback: It is full.}", `a.yaml:2:5: question a-1: has no wrong option`},
		{"same option twice", `- text: "No"`, `- text: " Yes "`, `a.yaml:2:5: question a-1: option " Yes " stands twice`},
		{"option without text", `- text: "No"`, `- text: ""`, `a.yaml:11:9: question a-1: an option needs a text of one line`},
		{"blank option", `- text: "No"`, `- text: " "`, `a.yaml:11:9: question a-1: an option needs a text of one line`},
		{"option of two lines", `- text: "No"`, `- text: "N\no"`, `a.yaml:11:9: question a-1: an option needs a text of one line`},
		{"no feedback", "right: true\n        feedback: It is full.", "right: true", `a.yaml:8:9: question a-1: feedback is missing; say why`},
		{"no feedback of a wrong one", "- text: \"No\"\n        feedback: It is full.", "- text: \"No\"", `a.yaml:11:9: question a-1: feedback is missing; say why`},
		{"no misconception", "        misconception: m-1\n    why: It is full.", "    why: It is full.", `a.yaml:11:9: question a-1: misconception is missing; name the belief that leads here`},
		{"unknown misconception", "misconception: m-1\n    why", "misconception: m-9\n    why", `a.yaml:13:9: question a-1: unknown misconception "m-9"; did you mean "m-1"?`},
		{"misconception of a right option", yes, yes + "\n        misconception: m-1", `a.yaml:10:9: question a-1: a right answer comes from no misconception`},
		{"show more than there are", "stem: Is it full?", "stem: Is it full?\n    show: 3", `a.yaml:7:5: question a-1: show is 3; it says how many of the 2 options are offered`},
		{"show one", "stem: Is it full?", "stem: Is it full?\n    show: 1", `a.yaml:7:5: question a-1: show is 1; it says how many of the 2 options are offered`},
		{"show less than none", "stem: Is it full?", "stem: Is it full?\n    show: -1", `a.yaml:7:5: question a-1: show is -1; it says how many of the 2 options are offered`},
		{"when without a draw", yes, yes + "\n        when: 1 > 2", `a.yaml:10:9: question a-1: when chooses by the draw, and nothing is drawn`},
		{"when that is a number", "options:\n      " + yes, "draw: {size: [1, 2, 3]}\n    options:\n      " + yes + "\n        when: size", `a.yaml:11:9: question a-1: size: it must say yes or no`},
		{"when that cannot be computed", yes, yes + "\n        when: feet > 2", `a.yaml:10:9: question a-1: when chooses by the draw, and nothing is drawn`},
		// Keys of another kind.
		{"unit with options", "stem: Is it full?", "stem: Is it full?\n    unit: min", `a.yaml:5:5: question a-1: unit, tolerance, answer and wrong belong to kind number`},
		{"options with a number", min, min + "    options: [{text: a}]\n", `a.yaml:20:5: question a-2: options and show belong to kinds choice and choices`},
		{"show with a number", min, min + "    show: 2\n", `a.yaml:20:5: question a-2: options and show belong to kinds choice and choices`},
		{"items with a number", min, min + "    items: [{key: a}]\n", `a.yaml:20:5: question a-2: items, spare and mistakes belong to kinds order and match`},
		{"mistakes with options", "stem: Is it full?", "stem: Is it full?\n    mistakes: [{early: a, late: b}]", `a.yaml:5:5: question a-1: items, spare and mistakes belong to kinds order and match`},
		{"spare in an order", "stem: What comes first?", "stem: What comes first?\n    spare: [a]", `a.yaml:46:5: question a-3: spare belongs to kind match`},
		// Numbers.
		{"unknown unit", "unit: min", "unit: mins", `a.yaml:30:5: question a-2: unknown unit "mins"; did you mean "min"?`},
		{"tolerance below nothing", min, min + "    tolerance: -1\n", `a.yaml:31:5: question a-2: tolerance is -1; it says how far off is still right`},
		{"tolerance of a tested time", min, min + "    tolerance: 1\n", `a.yaml:17:5: question a-2: jar=pint, feet=3500: a tested time is right to the minute; leave tolerance out`},
		{"no figure", "is: here", `is: ""`, `a.yaml:31:5: question a-2: answer: is is missing: the number, or how it is computed`},
		{"figure that is a word", "is: here", "is: jar", `a.yaml:32:7: question a-2: jar: it must give a number`},
		{"figure that is yes or no", "is: sea", "is: here > sea", `a.yaml:35:9: question a-2: here > sea: it must give a number`},
		{"figure that cannot be computed", "is: here", "is: heer", `a.yaml:32:7: question a-2: answer.is: heer: there is no heer; the nearest is "feet" (at 1)`},
		{"other page than the row", "p. 3-8", "p. 3-9", `a.yaml:17:5: question a-2: jar=pint, feet=3500: the key stands on p. 3-8, which page does not name`},
		{"feedback of a number", "        feedback: It is longer.\n", "", `a.yaml:35:9: question a-2: feedback is missing; say why`},
		{"misconception of a number", "        misconception: m-1\n        feedback: It is longer.", "        feedback: It is longer.", `a.yaml:35:9: question a-2: misconception is missing; name the belief that leads here`},
		{"misconception of the answer", "feedback: It is so long.", "feedback: It is so long.\n      misconception: m-1", `a.yaml:34:7: question a-2: a right answer comes from no misconception`},
		// Draws.
		{"draw that is one word", feet, "feet: high", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"draw of a number", feet, "feet: 3500", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"draw of one", feet, "feet: [3500]", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"draw of words and numbers", feet, "feet: [3500, high]", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"draw of lists", feet, "feet: [[3500], [4000]]", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"draw with one twice", feet, "feet: [3500, 4000, 3500.0]", `a.yaml:23:7: question a-2: draw.feet: 3500 stands twice`},
		{"range without step", feet, "feet: {from: 3500, to: 8500}", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"range backward", feet, "feet: {from: 8500, to: 3500, step: 500}", `a.yaml:23:7: question a-2: draw.feet: a range needs from, to and step, with to not below from and step over 0`},
		{"range that stands still", feet, "feet: {from: 3500, to: 8500, step: 0}", `a.yaml:23:7: question a-2: draw.feet: a range needs from, to and step, with to not below from and step over 0`},
		{"range in words", feet, "feet: {from: low, to: high, step: 500}", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"range without end", feet, "feet: {from: 0, to: .inf, step: 500}", `a.yaml:23:7: question a-2: draw.feet: draw from a list of words, a list of numbers, or {from, to, step}`},
		{"too many draws", feet, "feet: {from: 1, to: 90000, step: 1}\n      a: {from: 1, to: 90000, step: 1}", `a.yaml:21:5: question a-2: there are more than 1000000000 draws; take larger steps`},
		{"name with a digit", "jar: [pint, quart]", "jar1: [pint, quart]", `a.yaml:22:7: question a-2: jar1 is no name; use letters only, such as feet`},
		{"name of two words", "sea: minutes", "the sea: minutes", `a.yaml:26:7: question a-2: the sea is no name; use letters only, such as feet`},
		{"name that is a number", "sea: minutes", "7: minutes", `a.yaml:26:7: question a-2: 7 is no name; use letters only, such as feet`},
		{"name that stands twice", "sea: minutes", "feet: minutes", `a.yaml:26:7: question a-2: feet stands twice`},
		{"let that does not compile", "here: " + here, `here: minutes("tomatoes-crushed", "hot", "boiling-water", jar)`, `a.yaml:25:7: question a-2: let.here: minutes("tomatoes-crushed", "hot", "boiling-water", jar): not readable as a condition: not enough arguments to call minutes (at 1)`},
		{"let that names what stands below it", "here: " + here, "here: sea + 5", `a.yaml:25:7: question a-2: let.here: sea + 5: there is no sea; the nearest is "say" (at 1)`},
		{"let that divides by a name", "here: " + here, "here: 120 / feet", `a.yaml:25:7: question a-2: let.here: 120 / feet: divide only by a number that is written out and is not 0 (at 5)`},
		{"let with a word left open", "here: " + here, `here: 'minutes("tomatoes'`, `a.yaml:25:7: question a-2: let.here: minutes("tomatoes: the condition stops too early (at 18)`},
		{"where that is a number", "- here != sea", "- here - sea", `a.yaml:28:9: question a-2: here - sea: it must say yes or no`},
		{"where that does not compile", "- here != sea", "- here <> sea", `a.yaml:28:9: question a-2: where.0: here <> sea: not readable as a condition: unexpected token Operator(">") (at 7)`},
		{"where without a draw", "stem: Is it full?", "stem: Is it full?\n    where: [1 < 2]", `a.yaml:7:5: question a-1: where chooses among draws, and nothing is drawn`},
		{"where that leaves nothing", "- here != sea", "- here < sea", `a.yaml:17:5: question a-2: no draw that was tried meets every line of where`},
		{"text that does not compile", "{{inFt(feet)}}", "{{inFeet(feet)}}", `a.yaml:29:5: question a-2: stem: {{inFeet(feet)}}: there is no function inFeet; the nearest is "inFt" (at 1)`},
		{"text left open", "{{inFt(feet)}}", "{{inFt(feet)", `a.yaml:29:5: question a-2: stem: "inFt(feet)?": the closing }} is missing`},
		{"text that says yes or no", "{{inFt(feet)}}", "{{feet > 5000}}", `a.yaml:29:5: question a-2: stem: {{feet > 5000}}: it gives yes or no, which is no text`},
		{"text that cannot be looked up", "{{inFt(feet)}}", "{{name(jar)}}", `a.yaml:17:5: question a-2: jar=pint, feet=3500: name(jar): unknown food "pint"`},
		// Look-ups.
		{"unknown food", `sea: minutes("tomatoes-crushed"`, `sea: minutes("tomatoes-crushd"`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: sea: minutes("tomatoes-crushd", "hot", "boiling-water", jar, 0): unknown food "tomatoes-crushd"; did you mean "tomatoes-crushed"?`},
		{"no such method", `"boiling-water", jar, feet`, `"oven", jar, feet`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: minutes("tomatoes-crushed", "hot", "oven", jar, feet): tomatoes-crushed has no tested process with method "oven"`},
		{"no such pack", `"hot", "boiling-water", jar, feet`, `"raw", "boiling-water", jar, feet`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: minutes("tomatoes-crushed", "raw", "boiling-water", jar, feet): tomatoes-crushed has no tested process for pack "raw"`},
		{"no such jar", `jar: [pint, quart]`, `jar: [half-gallon, quart]`, `a.yaml:17:5: question a-2: jar=half-gallon, feet=3500: here: minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet): tomatoes-crushed has no tested process in jar "half-gallon"`},
		{"unknown jar", `jar: [pint, quart]`, `jar: [quarts, quart]`, `a.yaml:17:5: question a-2: jar=quarts, feet=3500: here: minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet): tomatoes-crushed has no tested process in jar "quarts"`},
		{"altitude past the table", here, `minutesUnderPressure("snap-beans", "hot", "dial", jar, 8001)`, "a.yaml:17:5: question a-2: jar=pint, feet=3500: here: minutesUnderPressure(\"snap-beans\", \"hot\", \"dial\", jar, 8001): snap-beans has no tested process at 8\u00a0001 ft"},
		{"no pressure in boiling water", here, `psi("tomatoes-crushed", "hot", "", jar, 0)`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: psi("tomatoes-crushed", "hot", "", jar, 0): tomatoes-crushed has no tested process with gauge ""`},
		// In the tomato pressure tables several times stand for the same jar: Guide 3, p. 3-8.
		{"alternatives", here, `minutesUnderPressure("tomatoes-crushed", "hot", "dial", jar, feet)`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: minutesUnderPressure("tomatoes-crushed", "hot", "dial", jar, feet): the table prints alternatives for tomatoes-crushed, so there is no one time`},
		{"row from memory", here, `minutes("papaya", "hot", "boiling-water", jar, feet)`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: minutes("papaya", "hot", "boiling-water", jar, feet): the row for papaya was read in no publication and cannot be a key`},
		{"no headspace printed", here, `headspace("fruit-based-baby-food", "hot", "boiling-water", jar)`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: headspace("fruit-based-baby-food", "hot", "boiling-water", jar): the table prints no headspace for fruit-based-baby-food, hot pack, boiling-water, pint`},
		{"no such dose", here, `dose("peaches", jar, "citric-acid")`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: dose("peaches", jar, "citric-acid"): no dose of "citric-acid" is printed for peaches in jar "pint"`},
		{"dose of no food", here, `dose("peache", jar, "citric-acid")`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: dose("peache", jar, "citric-acid"): unknown food "peache"; did you mean "peaches"?`},
		{"unknown demonstration", here, `model("gage", "temp_f", "")`, `a.yaml:17:5: question a-2: jar=pint, feet=3500: here: model("gage", "temp_f", ""): there is no demonstration "gage"; the nearest is "gauge"`},
		// Items.
		{"two items", "      - {key: wipe, text: Wipe the rim, feedback: It goes next.}\n", "", `a.yaml:46:5: question a-3: has 2 items; give at least three`},
		{"key that is no name", "key: close", "key: close-it", `a.yaml:49:10: question a-3: key "close-it" is no name; use letters only`},
		{"key twice", "key: close", "key: fill", `a.yaml:49:10: question a-3: key "fill" stands twice`},
		{"item without feedback", ", feedback: It goes next.", "", `a.yaml:48:10: question a-3: an item needs text and feedback; say why it belongs there`},
		{"item without text", "text: Wipe the rim, ", "", `a.yaml:48:10: question a-3: an item needs text and feedback; say why it belongs there`},
		{"blank item", "text: Wipe the rim", `text: " "`, `a.yaml:48:10: question a-3: an item needs text and feedback; say why it belongs there`},
		{"same text twice", "text: Wipe the rim", "text: Fill the  jar", `a.yaml:41:5: question a-3: item "Fill the  jar" stands twice`},
		{"with in an order", "text: Wipe the rim,", "text: Wipe the rim, with: a cloth,", `a.yaml:48:10: question a-3: with belongs to kind match, and each of its items has one`},
		{"no with in a match", "with: size B, feedback: It swells more.", "feedback: It swells more.", `a.yaml:64:10: question a-4: with belongs to kind match, and each of its items has one`},
		{"no mistake", "    mistakes:\n      - {early: close, late: wipe, misconception: m-1, feedback: It is wiped first.}\n", "", `a.yaml:41:5: question a-3: names no mistake; say which belief leads to a wrong answer`},
		{"mistake that is right", "early: close, late: wipe", "early: wipe, late: close", `a.yaml:51:10: question a-3: a mistake in an order has early and late: the key of an item that is put before one it belongs behind`},
		{"mistake with an unknown item", "early: close, late: wipe", "early: close, late: wip", `a.yaml:51:24: question a-3: unknown item "wip"; did you mean "wipe"?`},
		{"mistake of a match in an order", "{early: close, late: wipe", "{item: close, with: wipe", `a.yaml:51:10: question a-3: a mistake in an order has early and late: the key of an item that is put before one it belongs behind`},
		{"mistake of an order in a match", "{item: beans, with: size B", "{early: beans, late: jam", `a.yaml:68:10: question a-4: a mistake in a match has item, the key of an item, and with, what it is given`},
		{"mistake with an item of no match", "{item: beans", "{item: bean", `a.yaml:68:10: question a-4: unknown item "bean"; did you mean "beans"?`},
		{"item with an arrow", "text: Fruit", "text: Fruit → jar", `a.yaml:55:5: question a-4: food=Jam: item "Fruit → jar" has an arrow, which parts an item from what it is given`},
		{"mistake that is not offered", "{item: beans, with: size B", "{item: beans, with: size E", `a.yaml:55:5: question a-4: food=Jam: the mistake with "size E" is not among those offered`},
		{"mistake that is the match", "{item: beans, with: size B", "{item: beans, with: size C", `a.yaml:55:5: question a-4: food=Jam: the mistake with "size C" is the right answer`},
		{"mistake without feedback", ", feedback: It needs more.", "", `a.yaml:68:10: question a-4: feedback is missing; say why`},
		{"mistake without misconception", "misconception: m-1, feedback: It needs more.", "feedback: It needs more.", `a.yaml:68:10: question a-4: misconception is missing; name the belief that leads here`},
		// Pictures.
		{"picture of no jar", "stem: Is it full?", "stem: Is it full?\n    picture: {jar: bucket, headspace: 1/2 in, lid: flat}", `a.yaml:2:5: question a-1: picture: unknown word "bucket"; use one of: quarter-pint, half-pint, 12-oz, pint, 24-oz, 28-oz, quart, half-gallon`},
		{"picture without headspace", "stem: Is it full?", "stem: Is it full?\n    picture: {jar: pint, lid: flat}", `a.yaml:2:5: question a-1: picture: headspace: "" at 1: found nothing, expected a number such as 12, 1.5, 1/2 or 1 1/2`},
		{"picture without a lid", "stem: Is it full?", "stem: Is it full?\n    picture: {jar: pint, headspace: 1/2 in}", `a.yaml:2:5: question a-1: picture: unknown word ""; use one of: flat, down, domed`},
	}
	for _, test := range tests {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			src := strings.Replace(valid, test.old, test.new, 1)
			if src == valid {
				t.Fatalf("%q is not in the file", test.old)
			}
			_, err := Load(folder(src), smallOptions(t))
			if test.want == "" {
				if err != nil {
					t.Errorf("got %v, want no problem", err)
				}
				return
			}
			if err == nil || !slices.Contains(strings.Split(err.Error(), "\n"), test.want) {
				t.Errorf("got\n%v\nwant a line\n%s", err, test.want)
			}
		})
	}
}

func TestLoadReportsAllProblemsOfAllFiles(t *testing.T) {
	t.Parallel()
	spoiled := strings.NewReplacer(
		"right: true", "rite: true",
		"unit: min", "unit: furlong",
		"{key: fill, text: Fill the jar, feedback: It goes first.}", "{key: fill, text: Fill the jar}",
		"early: close", "early: fill",
		"food: [Jam, Jelly, Marmalade]", "food: Jam\n      7: [1, 2]",
	).Replace(valid)
	_, err := Load(fstest.MapFS{"a.yaml": {Data: []byte(spoiled)}, "b.yaml": {Data: []byte("questions: [")}}, smallOptions(t))
	if err == nil {
		t.Fatal("no problem")
	}
	var got []string
	for line := range strings.SplitSeq(err.Error(), "\n") {
		got = append(got, strings.SplitN(line, " ", 2)[0])
	}
	for _, want := range []string{"a.yaml:9:9:", "a.yaml:30:5:", "a.yaml:47:10:", "a.yaml:51:10:", "a.yaml:60:7:", "a.yaml:61:7:", "b.yaml:1:12:"} {
		if !slices.Contains(got, want) {
			t.Errorf("no problem at %s in\n%v", want, err)
		}
	}
	if !slices.IsSortedFunc(got, func(a, b string) int { return strings.Compare(a[:1], b[:1]) }) {
		t.Errorf("the files are mixed:\n%v", err)
	}
}

func TestLoadWithoutListsChecksNone(t *testing.T) {
	t.Parallel()
	choice, _, _ := strings.Cut(valid, "  - id: a-2")
	bank, err := Load(folder(choice), Options{})
	if err != nil {
		t.Fatal(err)
	}
	if got := bank.Lesson("a"); len(got) != 1 || got[0].ID != "a-1" || got[0].File != "a.yaml" || got[0].Line != 2 {
		t.Errorf("lesson a has %+v", got)
	}
}

// What is looked up, graded or modeled needs the table, the grader or the bench.
func TestLoadWithoutTableGraderOrBench(t *testing.T) {
	t.Parallel()
	for computed, want := range map[string]string{
		`minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet)`: "needs the process table, and none is loaded",
		`dose("tomatoes-crushed", jar, "citric-acid")`:                   "needs the process table, and none is loaded",
		`'verdict({"food": "peaches"}) == "unsafe" ? 1 : 2'`:             "needs the grader, and none is given",
		`'finds({"food": "peaches"}, "acid-dose") ? 1 : 2'`:              "needs the grader, and none is given",
		`model("boiling-point", "boiling_f", "altitude=2000 ft")`:        "needs the bench, and none is given",
	} {
		src := strings.Replace(valid, `minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet)`, computed, 1)
		_, err := Load(folder(src), Options{})
		if err == nil || !strings.Contains(err.Error(), "a.yaml:17:5: question a-2: jar=pint, feet=3500: here: ") || !strings.HasSuffix(err.Error(), want) {
			t.Errorf("%s: %v, want %q", computed, err, want)
		}
	}
}

// A lesson's questions may stand in several files, each named after it.
func TestLessonInSeveralFiles(t *testing.T) {
	t.Parallel()
	more := strings.ReplaceAll(valid, "- id: a-", "- id: more-")
	bank, err := Load(fstest.MapFS{"a.yaml": {Data: []byte(valid)}, "a-more.yaml": {Data: []byte(more)}}, smallOptions(t))
	if err != nil {
		t.Fatal(err)
	}
	var ids []string
	for _, q := range bank.Lesson("a") {
		ids = append(ids, q.ID)
	}
	// By file name and then in the order of the file.
	if diff := cmp.Diff([]string{"more-1", "more-2", "more-3", "more-4", "a-1", "a-2", "a-3", "a-4"}, ids); diff != "" {
		t.Errorf("questions of lesson a (-want +got):\n%s", diff)
	}
	if len(bank.Questions()) != 8 || len(bank.Lesson("b")) != 0 {
		t.Errorf("%d questions, %d of them of no lesson", len(bank.Questions()), len(bank.Lesson("b")))
	}
	if _, ok := bank.Question("more-5"); ok {
		t.Error("there is a question more-5")
	}
	_, err = Load(fstest.MapFS{"a.yaml": {Data: []byte(valid)}, "another.yaml": {Data: []byte(more)}}, smallOptions(t))
	if err == nil || !strings.Contains(err.Error(), `another.yaml:3:5: question more-1: lesson is "a", but the file is another.yaml`) {
		t.Errorf("a file named after no lesson: %v", err)
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
