package lessons

import (
	"errors"
	"go/parser"
	"go/token"
	"io/fs"
	"strings"
	"sync"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"

	"rollingboil/lessons/markdown"
)

// goodFront is a front matter with nothing wrong in it, 15 lines with its
// marks; the body begins on line 16.
const goodFront = `---
title: Rest before lifting
question: Why do the jars wait?
lead: They are still boiling inside.
minutes: 4
able:
  - Say why a jar is not lifted at once.
competencies: [cooling, siphoning]
sources:
  - {id: usda-guide-1, at: "p. 1-18"}
  - {id: usda-guide-3, at: "p. 3-8"}
cautions:
  - Ask your extension service.
reviewed: 2026-08-20
---
`

// shared is a loader made once, since reading the process table takes most of
// the time of a load.
var shared = sync.OnceValues(newLoader)

func load(files map[string]string) (*Library, error) {
	once, err := shared()
	if err != nil {
		return nil, err
	}
	l := *once
	fsys := fstest.MapFS{}
	for name, src := range files {
		fsys[name] = &fstest.MapFile{Data: []byte(src)}
	}
	return l.load(fsys)
}

// The example in the package comment is a lesson that loads.
func TestDocumentationExampleLoads(t *testing.T) {
	t.Parallel()
	file, err := parser.ParseFile(token.NewFileSet(), "doc.go", nil, parser.ParseComments|parser.PackageClauseOnly)
	if err != nil {
		t.Fatal(err)
	}
	_, example, found := strings.Cut(file.Doc.Text(), "This is a whole lesson:\n\n")
	if !found {
		t.Fatal("the package comment has no example")
	}
	var src strings.Builder
	for line := range strings.Lines(example) {
		src.WriteString(strings.TrimPrefix(line, "\t"))
	}
	library, err := load(map[string]string{"01-resting.md": src.String()})
	if err != nil {
		t.Fatalf("the example does not load:\n%v", err)
	}
	got, ok := library.Lesson("resting")
	if !ok {
		t.Fatal("no lesson with the slug resting")
	}
	parts := got.Parts
	got.Parts = nil
	want := &Lesson{
		Slug: "resting", Number: 1, File: "01-resting.md",
		Title: "Rest before lifting", Question: "Why do the jars wait in the canner?",
		Lead:    "The boil inside a jar ends later than the boil outside: give it 5\u00a0minutes.",
		Minutes: 4, Able: []string{"Say why a jar is not lifted at once."},
		Competencies: []string{"cooling", "siphoning"},
		Sources:      []string{"usda-guide-1", "usda-guide-3"},
		Pages:        map[string]string{"usda-guide-1": "p. 1-18", "usda-guide-3": "p. 3-8"},
		Cautions:     []string{"Your canner's own directions come first. Ask your extension service if they differ."},
		Reviewed:     "2026-08-20",
		Headings: []markdown.Heading{
			{Level: 2, ID: "why-they-wait", Text: "Why they wait", Line: 17},
			{Level: 2, ID: "from-memory", Text: "From memory", Line: 33},
		},
		Questions: []string{"resting-1"},
	}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
	var kinds []string
	for _, p := range parts {
		if p.Block != nil {
			kinds = append(kinds, p.Block.Kind)
		} else {
			kinds = append(kinds, "html")
		}
	}
	if diff := cmp.Diff([]string{"html", "jar", "html", "times", "caution", "html", "question"}, kinds); diff != "" {
		t.Errorf("parts (-want +got)\n%s", diff)
	}
}

// Every kind of reference draws a figure that a publication prints, or turns
// the writer's own figure into both units.
func TestReferences(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, ref, want string }{
		{"time, last band (Guide 3, p. 3-8)", `[[min food=tomatoes-crushed pack=hot method=boiling-water jar=quart altitude="6240 ft"]]`, "60\u00a0minutes"},
		{"time, last foot of a band (Guide 3, p. 3-8)", `[[min food=tomatoes-crushed pack=hot method=boiling-water jar=quart altitude="6000 ft"]]`, "55\u00a0minutes"},
		{"time, first band (Guide 3, p. 3-8)", `[[min food=tomatoes-crushed pack=hot method=boiling-water jar=pint altitude="0 ft"]]`, "35\u00a0minutes"},
		{"time in a steam canner, from the boiling-water rows", `[[min food=tomatoes-crushed pack=hot method=atmospheric-steam jar=pint altitude="1000 ft"]]`, "35\u00a0minutes"},
		{"acid (Guide 3, p. 3-7)", `[[acid food=tomatoes-crushed jar=quart kind=bottled-lemon-juice]]`, "2\u00a0tbsp (30\u00a0ml)"},
		{"headspace (Guide 3, p. 3-8)", `[[headspace food=tomatoes-crushed]]`, "1/2\u00a0in (13\u00a0mm)"},
		{"headspace (Guide 3, p. 3-9)", `[[headspace food=tomato-sauce]]`, "1/4\u00a0in (6\u00a0mm)"},
		{"fact without metric (Guide 1, p. 1-18)", `[[fact rest]]`, "5\u00a0minutes"},
		{"fact in both units (Guide 1, p. 1-18)", `[[fact water-over]]`, "1\u00a0in (25\u00a0mm)"},
		{"altitude of an example", `[[altitude 6240 ft]]`, "6 240\u00a0ft (1 902\u00a0m)"},
		{"length of an example", `[[length 3/4 in]]`, "3/4\u00a0in (19\u00a0mm)"},
		// NIST SP 811: 6.894757 kPa to the psi, 25.4 mm to the inch; the teaspoon is 4.93 ml.
		{"measured time", `[[measured 47 min]]`, "47\u00a0min (measured, not tested)"},
		{"measured time in two units", `[[measured 1 h 5 min]]`, "65\u00a0min (measured, not tested)"},
		{"measured pressure", `[[measured 11 psi]]`, "11\u00a0psi (76\u00a0kPa; measured, not tested)"},
		{"measured length", `[[measured 3/4 in]]`, "3/4\u00a0in (19\u00a0mm; measured, not tested)"},
		{"measured temperature", `[[measured 180 °F]]`, "180\u00a0°F (82\u00a0°C; measured, not tested)"},
		{"measured metric temperature", `[[measured 82 °C]]`, "179.6\u00a0°F (82\u00a0°C; measured, not tested)"},
		{"measured volume", `[[measured 2 tbsp]]`, "2\u00a0tbsp (30\u00a0ml; measured, not tested)"},
		{"measured ounces", `[[measured 4 fl oz]]`, "1/2\u00a0cup (118\u00a0ml; measured, not tested)"},
		{"measured milliliters", `[[measured 30 mL]]`, "6.09\u00a0tsp (30\u00a0ml; measured, not tested)"},
		{"spaces inside", `[[  fact   rest ]]`, "5\u00a0minutes"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			library, err := load(map[string]string{"01-a.md": goodFront + "Give it " + tt.ref + ".\n"})
			if err != nil {
				t.Fatal(err)
			}
			got := string(library.Lessons()[0].Parts[0].HTML)
			// Which kind of narrow space parts the thousands is measure's business.
			got = strings.NewReplacer("\u202f", " ", "\u2009", " ", "6\u00a0240", "6 240", "1\u00a0902", "1 902").Replace(got)
			if want := "<p>Give it " + tt.want + ".</p>\n"; got != want {
				t.Errorf("got %q, want %q", got, want)
			}
		})
	}
}

func TestReferencesInSettingsAndFrontMatter(t *testing.T) {
	t.Parallel()
	src := strings.Replace(goodFront, "Ask your extension service.", "Wait [[fact rest]].", 1) +
		"```jar jar=pint headspace=\"1/8 in\" lid=flat caption=\"Lifted before [[fact rest]] were up.\"\n```\n"
	library, err := load(map[string]string{"01-a.md": src})
	if err != nil {
		t.Fatal(err)
	}
	lesson := library.Lessons()[0]
	if got, want := lesson.Cautions[0], "Wait 5\u00a0minutes."; got != want {
		t.Errorf("caution %q, want %q", got, want)
	}
	if got, want := lesson.Parts[0].Block.Settings["caption"], "Lifted before 5\u00a0minutes were up."; got != want {
		t.Errorf("caption %q, want %q", got, want)
	}
}

func TestBodyProblems(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, body, want string }{
		{"a problem of the text", "## A\n\n<b>x</b>\n", "01-a.md:18: raw HTML is not used; write it as Markdown"},
		{"unknown fact", "[[fact rset]]\n", "01-a.md:16: [[fact rset]]: unknown fact \"rset\"; did you mean \"rest\"?"},
		{"unknown reference", "a\n[[mins food=x]]\n", "01-a.md:17: [[mins food=x]]: unknown reference \"mins\"; did you mean \"min\"?"},
		{"unknown food", "[[headspace food=tomato-sause]]\n", "01-a.md:16: [[headspace food=tomato-sause]]: setting \"food\": unknown word \"tomato-sause\"; did you mean \"tomato-sauce\"?"},
		{"no altitude", "[[min food=tomatoes-crushed pack=hot method=boiling-water jar=quart]]\n", "01-a.md:16: [[min food=tomatoes-crushed pack=hot method=boiling-water jar=quart]]: setting \"altitude\" is missing"},
		{"no such pack in the table", "[[min food=tomatoes-crushed pack=raw method=boiling-water jar=quart altitude=0ft]]\n", "01-a.md:16: [[min food=tomatoes-crushed pack=raw method=boiling-water jar=quart altitude=0ft]]: the process table has 0 rows for this; a reference needs exactly one"},
		{"jar larger than any tested", "[[min food=tomatoes-crushed pack=hot method=boiling-water jar=half-gallon altitude=0ft]]\n", "01-a.md:16: [[min food=tomatoes-crushed pack=hot method=boiling-water jar=half-gallon altitude=0ft]]: the process table has 0 rows for this; a reference needs exactly one"},
		{"jar smaller than any listed", "[[min food=tomatoes-crushed pack=hot method=boiling-water jar=half-pint altitude=0ft]]\n", "01-a.md:16: [[min food=tomatoes-crushed pack=hot method=boiling-water jar=half-pint altitude=0ft]]: the table lists no half-pint jar; name the pint, whose time it takes"},
		{"time from memory", "[[min food=papaya pack=hot method=boiling-water jar=pint altitude=0ft]]\n", "01-a.md:16: [[min food=papaya pack=hot method=boiling-water jar=pint altitude=0ft]]: the row for the pint jar is from memory; a lesson may not teach it"},
		{"time of another publication", "[[min food=chow-chow-relish pack=hot method=boiling-water jar=pint altitude=0ft]]\n", "01-a.md:16: [[min food=chow-chow-relish pack=hot method=boiling-water jar=pint altitude=0ft]]: the figure comes from \"So Easy"},
		{"acid of another publication", "[[acid food=tomatoes-crushed jar=pint kind=vinegar-5]]\n", "01-a.md:16: [[acid food=tomatoes-crushed jar=pint kind=vinegar-5]]: the figure comes from \"So Easy"},
		{"table of another publication", "```times food=chow-chow-relish method=boiling-water\n```\n", "01-a.md:16: times: the figure comes from \"So Easy"},
		{"table from memory", "```times food=papaya method=boiling-water\n```\n", "01-a.md:16: times: the row for the pint jar is from memory; a lesson may not teach it"},
		{"no dose of that kind", "[[acid food=tomatoes-crushed jar=pint kind=fresh-lemon-juice]]\n", "01-a.md:16: [[acid food=tomatoes-crushed jar=pint kind=fresh-lemon-juice]]: no dose of \"fresh-lemon-juice\" is printed; use one of: bottled-lemon-juice"},
		{"no dose per jar at all", "[[acid food=peaches jar=pint kind=citric-acid]]\n", "01-a.md:16: [[acid food=peaches jar=pint kind=citric-acid]]: no dose per jar is printed for peaches"},
		{"more than one headspace", "[[headspace food=lima-beans-fresh-shelled-large-seeds]]\n", "01-a.md:16: [[headspace food=lima-beans-fresh-shelled-large-seeds]]: lima-beans-fresh-shelled-large-seeds has more than one headspace"},
		{"no headspace printed", "[[headspace food=fruit-based-baby-food]]\n", "01-a.md:16: [[headspace food=fruit-based-baby-food]]: no headspace is printed for fruit-based-baby-food"},
		{"altitude without a unit", "[[altitude 6240]]\n", "01-a.md:16: [[altitude 6240]]: "},
		{"length that is no length", "[[length wide]]\n", "01-a.md:16: [[length wide]]: "},
		{"measured nothing", "[[measured]]\n", "01-a.md:16: [[measured]]: the figure is missing; write it with its unit, as [[measured 47 min]]"},
		{"measured without a unit", "a\n\n[[measured 4.2]]\n", "01-a.md:18: [[measured 4.2]]: \"4.2\" has no unit; write 47 min, 11 psi, 1/2 in, 180 °F or 2 tbsp. A bare number, such as a pH, needs no reference"},
		{"measured in words", "[[measured an hour]]\n", "01-a.md:16: [[measured an hour]]: \"an hour\" cannot be read as a figure; write a number and its unit"},
		{"measured in a unit that is none", "[[measured 47 mn]]\n", "01-a.md:16: [[measured 47 mn]]: \"47 mn\" cannot be read as a figure"},
		{"measured with more behind it", "[[measured 60 min tested]]\n", "01-a.md:16: [[measured 60 min tested]]: \"60 min tested\" cannot be read"},
		{"measured out of range", "[[measured 70 psi]]\n", "01-a.md:16: [[measured 70 psi]]: \"70 psi\" at 1: found \"70 psi\", expected a gauge pressure from 0 to 60 psi"},
		{"measured pounds", "[[measured 10 lb]]\n", "01-a.md:16: [[measured 10 lb]]: \"10 lb\" may be a weight or a pressure; write a pressure in psi"},
		{"measured c, cups or Celsius", "[[measured 10 c]]\n", "01-a.md:16: [[measured 10 c]]: \"10 c\" may be a temperature or a volume; write the unit in full"},
		{"measured height", "[[measured 6240 ft]]\n", "01-a.md:16: [[measured 6240 ft]]: \"6240 ft\" is a height; write [[altitude 6240 ft]]"},
		{"measured headspace where a jar is drawn", "```jar jar=pint headspace=\"[[measured 1/2 in]]\" lid=flat caption=x\n```\n", "01-a.md:16: jar: setting \"headspace\": "},
		{"reference over two lines", "[[fact\nrest]]\n", "01-a.md:16: [[ stands alone; a reference is written [[fact rest]], on one line"},
		{"reference not closed", "a [[fact rest\n", "01-a.md:16: [[ stands alone; a reference is written [[fact rest]], on one line"},
		{"reference not opened", "a\n\nfact rest]]\n", "01-a.md:18: ]] stands alone; a reference is written [[fact rest]], on one line"},
		{"source not listed", "[[fact half-lost]]\n", "01-a.md:16: [[fact half-lost]] comes from unl, which is not among the lesson's sources"},
		{"source of a table not listed", "```times food=peaches method=boiling-water\n```\n", "01-a.md:16: the table of times comes from usda-guide-2, which is not among the lesson's sources"},
		{"table without a row", "```times food=tomatoes-crushed pack=raw method=boiling-water\n```\n", "01-a.md:16: times: there is no tested process to show"},
		{"table of a low-acid food in boiling water", "```times food=snap-beans method=boiling-water\n```\n", "01-a.md:16: times: there is no tested process to show"},
		{"table with a jar never tested", "```times food=tomatoes-crushed jar=quart,half-gallon method=boiling-water\n```\n", "01-a.md:16: times: there is no tested process for the half-gallon jar"},
		{"pressure without a gauge", "```times food=tomatoes-crushed method=pressure\n```\n", "01-a.md:16: times: gauge goes with method=pressure, and only there"},
		{"gauge without pressure", "```times food=tomatoes-crushed method=boiling-water gauge=dial\n```\n", "01-a.md:16: times: gauge goes with method=pressure, and only there"},
		{"acid table of a food without doses", "```acid food=peaches\n```\n", "01-a.md:16: acid: no dose per jar is printed for peaches"},
		{"demonstration that is none", "```bench show=lids\n```\n", "01-a.md:16: bench: setting \"show\": unknown word \"lids\"; did you mean \"lid\"?"},
		{"demonstration with a key it has not", "```bench show=lid with=\"vacum=3 inHg\"\n```\n", "01-a.md:16: bench: vacum: there is no such key; the nearest is \"vacuum\""},
		{"demonstration outside of its range", "```bench show=gauge with=\"altitude=20000 m\"\n```\n", "01-a.md:16: bench: altitude: "},
		{"demonstration without values", "```bench show=lid with=\"vacuum\"\n```\n", "01-a.md:16: bench: setting \"with\": \"vacuum\" is not key=value"},
		{"demonstration with a file", "```bench show=lethality with=\"curve=a.csv\"\n```\n", "01-a.md:16: bench: curve goes with the command line only"},
		{"jar without a right headspace", "```jar jar=pint headspace=wide lid=flat caption=x\n```\n", "01-a.md:16: jar: setting \"headspace\": "},
		{"question twice", "```question id=a-1\n```\n```question id=a-1\n```\n", "01-a.md:18: question: \"a-1\" stands twice in this lesson"},
		{"belief twice", "```refute id=a\n```\n```refute id=a\n```\n", "01-a.md:18: refute: \"a\" stands twice in this lesson"},
		{"id that is no id", "```question id=A_1\n```\n", "01-a.md:16: question: setting \"id\": \"A_1\" is no id; use lower-case words with hyphens"},
		{"heading that skips a level", "### Deep\n", "01-a.md:16: heading \"Deep\" is of level 3 under one of level 1; go down one level at a time"},
		{"link to no lesson", "[x](/lessons/b)\n", "01-a.md:16: link to an unknown lesson \"b\"; did you mean \"a\"?"},
		{"link to no heading here", "## One\n\n[x](#two)\n", "01-a.md:18: link to \"#two\", but lesson a has no such heading"},
		{"link to no heading there", "[x](/lessons/a#two)\n", "01-a.md:16: link to \"/lessons/a#two\", but lesson a has no such heading"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := load(map[string]string{"01-a.md": goodFront + tt.body})
			if err == nil {
				t.Fatalf("no error, want %s", tt.want)
			}
			if !strings.HasPrefix(err.Error(), tt.want) {
				t.Errorf("got:\n%v\nwant:\n%s", err, tt.want)
			}
		})
	}
}

func TestFrontMatterProblems(t *testing.T) {
	t.Parallel()
	tests := []struct{ name, old, new, want string }{
		{"no front matter", goodFront, "## Text\n", "01-a.md:1: no front matter; the file begins with a line --- and the front matter ends with another"},
		{"not closed", "2026-08-20\n---\n", "2026-08-20\n", "01-a.md:1: no front matter; the file begins with a line --- and the front matter ends with another"},
		{"unknown key", "title:", "titel:", "01-a.md:2: front matter: unknown field \"titel\"; did you mean \"title\"?"},
		{"key twice", "minutes: 4\n", "minutes: 4\nminutes: 5\n", "01-a.md:6: front matter: "},
		{"not YAML", "title: Rest", "title: [Rest", "01-a.md:"},
		{"wrong kind of value", "minutes: 4", "minutes: four", "01-a.md:5: front matter: "},
		{"no title", "title: Rest before lifting\n", "", "01-a.md:1: front matter: title is missing"},
		{"empty lead", "lead: They are still boiling inside.", "lead:", "01-a.md:4: front matter: lead is missing"},
		{"no question mark", "wait?", "wait", "01-a.md:3: front matter: question ends with a question mark"},
		{"no minutes", "minutes: 4\n", "", "01-a.md:1: front matter: minutes is 0; give the reading time, 1 to 60"},
		{"too long", "minutes: 4", "minutes: 90", "01-a.md:5: front matter: minutes is 90; give the reading time, 1 to 60"},
		{"nothing to be able to do", "able:\n  - Say why a jar is not lifted at once.\n", "able: []\n", "01-a.md:6: front matter: able is missing"},
		{"empty line in a list", "  - Ask your extension service.\n", "  - \"\"\n", "01-a.md:12: front matter: cautions has an empty line"},
		{"unknown competency", "[cooling,", "[coolin,", "01-a.md:8: front matter: unknown competency \"coolin\"; did you mean \"cooling\"?"},
		{"competency twice", "[cooling,", "[siphoning,", "01-a.md:8: front matter: competency \"siphoning\" stands twice"},
		{"source without a page", "{id: usda-guide-3, at: \"p. 3-8\"}", "{id: usda-guide-3}", "01-a.md:9: front matter: a source needs its id and at, the part and page used"},
		{"source twice", "id: usda-guide-3", "id: usda-guide-1", "01-a.md:9: front matter: source \"usda-guide-1\" stands twice"},
		{"date in another order", "2026-08-20", "20.08.2026", "01-a.md:14: front matter: reviewed is \"20.08.2026\"; write the date as 2026-08-20"},
		{"no such day", "2026-08-20", "2026-02-30", "01-a.md:14: front matter: reviewed is \"2026-02-30\"; write the date as 2026-08-20"},
		{"figure in the lead", "They are still boiling inside.", "Give them 5 minutes.", "01-a.md:4: the figure \"5 minutes\" is typed in; draw it with a reference such as [[fact rest]]"},
		{"unknown fact in the lead", "They are still boiling inside.", "Give them [[fact nothing-like-it]].", "01-a.md:4: [[fact nothing-like-it]]: unknown fact"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			src := strings.Replace(goodFront, tt.old, tt.new, 1)
			if src == goodFront {
				t.Fatalf("the test changes nothing: no %q", tt.old)
			}
			_, err := load(map[string]string{"01-a.md": src + "Text.\n"})
			if err == nil {
				t.Fatalf("no error, want %s", tt.want)
			}
			if !strings.HasPrefix(err.Error(), tt.want) {
				t.Errorf("got:\n%v\nwant:\n%s", err, tt.want)
			}
		})
	}
}

func TestBareFigures(t *testing.T) {
	t.Parallel()
	refused := []string{
		"Boil for 60 minutes.", "Boil for 60 min.", "a 60-minute process", "a 10-min rest", "**60** minutes", "*60* min",
		"60\nminutes", "> 60\n> minutes", "60\u00a0minutes", "| 60 min |", "sixty minutes", "Forty minutes later", "five-minute rest",
		"11 psi", "at 11 psi.", "11-psi", "6.5 PSI", "10 pounds", "10 lb", "76 kPa",
		"1/2 in", "1/2 inch", "½ inch", "1 1/2 in.", "1-inch gap", "half an inch", "13 mm", "2.5 cm",
		"2 tbsp", "2 tablespoons", "1/4 teaspoon", "one tablespoon", "half a teaspoon", "30 ml", "3 cups",
		"24 hours", "a 24-hour clock", "24 h", "2 to 3 days", "twelve hours", "6,240 ft", "6240 feet", "1902 meters",
		"212 °F", "212°F", "100 °C", "212 degrees", "60 min[[fact rest]]", "[[fact rest]]one hour",
		"Boil quarts for thirteen minutes.", "for sixteen or nineteen minutes", "a half-inch headspace", "a quarter inch", "three quarters of an inch", "⅜ inch", "one and a half hours", "half an hour",
		"Minutes at the boil: 20.", "Boil quarts 20 [minutes](/lessons/a).", "Boil 20 `minutes`.", "20&nbsp;minutes", "2&#48; minutes", "20&thinsp;minutes", "20–minutes", "20\u2011minutes", "20\u2009minutes", "20\\\u00a0minutes",
		"２０ minutes", "2 T of juice", "2 Tbs. of juice", "20m", "1h20", "20′", "1/2\" of room", "headspace=\"quarts 20 minutes\"", "```times food=peaches headspace=\"1/2 in\"\n```",
		"```jar headspace=\"1/2 in\" caption=\"Leave 2 in.\"\n```", "Leave a headspace of [[length 2 in]].", "[[length 2 in]] of headspace",
	}
	for _, text := range refused {
		l := loader{}
		l.checkFigures("a.md", []byte(goodFront+"fine\n\n"+text+"\n"))
		if len(l.problems) == 0 || l.problems[0].Line != 18 {
			t.Errorf("%q is not refused on its line: %v", text, l.problems)
		}
	}
	for text, line := range map[string]int{
		"| Jar | Minutes |\n|---|---|\n| pint | 20 |":                    18,
		"| Jar | pint |\n|---|---|\n| Minutes | twenty |":                18,
		"| a | b |\n|---|---|\n| 20 | minutes |":                         18,
		"Minutes at the boil:\n\n- pints 20\n- quarts 25":                18,
		"### Minutes\n\n- pints 20":                                      18,
		"```caution\nBoil quarts\n20 [minutes](/lessons/altitude).\n```": 18,
		"- a\n\n  > Boil\n  > 20 minutes":                                19,
	} {
		l := loader{}
		l.checkFigures("a.md", []byte(goodFront+text+"\n"))
		if len(l.problems) == 0 || l.problems[0].Line != line {
			t.Errorf("%q is not refused on line %d: %v", text, line, l.problems)
		}
	}
	for _, front := range []struct {
		old, fresh string
		line       int
	}{
		{"lead: They are still boiling inside.", "lead: \"Boil\n  20\n  minutes.\"", 4},
		{"lead: They are still boiling inside.", "lead: \"Boil 20\\u0020minutes.\"", 4},
		{"lead: They are still boiling inside.", "lead: >-\n  Boil\n  20 minutes.", 4},
		{"able:\n", "able:\n  - Say why.\n  - Boil 20 minutes.\n", 8},
		{"p. 3-8", "Boil 20 min", 11},
	} {
		l := loader{}
		l.checkFigures("a.md", []byte(strings.Replace(goodFront, front.old, front.fresh, 1)+"Text.\n"))
		if len(l.problems) == 0 || l.problems[0].Line != front.line {
			t.Errorf("%q is not refused on line %d: %v", front.fresh, front.line, l.problems)
		}
	}
	accepted := []string{
		"1. In the jar\n2. Feet first", "jar 3 is full", "4 of 7 jars", "| a | b |\n|---|---|\n| 3 | in the fridge |", "USDA Guide 1, pp. 1-18 to 1-24", "eight pints", "7 quarts",
		"a few minutes", "an hour", "one in five", "reviewed: 2026-08-20", "12-oz jar", "pH 4.6",
		"Step 5\n\nMinutes matter", "[[fact rest]] minutes", "10 [[fact rest]] minutes", "10)[[fact rest]] minutes", "in 2 bands", "twenty jars", "someone hours away",
		"```bench show=gauge with=\"altitude=6240 ft; pressure=11 psi\"",
		"```jar jar=pint headspace=\"1/8 in\" lid=flat caption=x", "```jar headspace=1/2in lid=flat",
	}
	for _, text := range accepted {
		l := loader{}
		l.checkFigures("a.md", []byte(goodFront+text+"\n"))
		if len(l.problems) > 0 {
			t.Errorf("%q is refused: %v", text, l.problems)
		}
	}
}

func TestLoadCollectsProblemsOfAllFiles(t *testing.T) {
	t.Parallel()
	_, err := load(map[string]string{
		"01-a.md":       goodFront + "[x](/lessons/c)\n",
		"02-b.md":       goodFront + "Boil 9 minutes.\n\n```nope\n```\n",
		"03-a.md":       goodFront + "Text.\n",
		"Readme.md":     "x",
		"04-x/notes.md": "x",
	})
	want := strings.Join([]string{
		"01-a.md:16: link to an unknown lesson \"c\"; did you mean \"a\"?",
		"02-b.md:16: the figure \"9 minutes\" is typed in; draw it with a reference such as [[fact rest]]",
		"02-b.md:18: unknown piece \"nope\"; use one of: acid, answer, bench, boiling, caution, day, jar, picture, question, refute, times, worked, yields",
		"03-a.md: the slug \"a\" is taken by 01-a.md",
		"04-x: not a lesson file; name it like 07-liquid-loss.md",
		"Readme.md: not a lesson file; name it like 07-liquid-loss.md",
	}, "\n")
	if err == nil || err.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", err, want)
	}
	var problems markdown.Problems
	if !errors.As(err, &problems) {
		t.Errorf("the error is a %T, want markdown.Problems", err)
	}
}

func TestLoadRefusesAnEmptyFolder(t *testing.T) {
	t.Parallel()
	if _, err := load(nil); err == nil {
		t.Error("no error for a folder without lessons")
	}
}

// brokenFS cannot be read at all.
type brokenFS struct{}

func (brokenFS) Open(string) (fs.File, error) { return nil, fs.ErrPermission }

func TestLoadSaysWhichReadFailed(t *testing.T) {
	t.Parallel()
	_, err := Load(brokenFS{})
	if !errors.Is(err, fs.ErrPermission) || !strings.HasPrefix(err.Error(), "read the lessons folder: ") {
		t.Errorf("got %v", err)
	}
}

func TestLinksBetweenLessons(t *testing.T) {
	t.Parallel()
	library, err := load(map[string]string{
		"01-a.md": goodFront + "## One\n\n[here](#one) [there](/lessons/b#two) [list](/lessons) [rule](/rules/time-short)\n",
		"02-b.md": goodFront + "## Two\n\n[back](/lessons/a)\n",
	})
	if err != nil {
		t.Fatal(err)
	}
	want := []markdown.Link{
		{Target: "#one", Line: 18},
		{Target: "/lessons/b#two", Line: 18},
		{Target: "/lessons", Line: 18},
		{Target: "/rules/time-short", Line: 18},
	}
	if diff := cmp.Diff(want, library.Lessons()[0].Links); diff != "" {
		t.Errorf("(-want +got)\n%s", diff)
	}
}

func TestLibraryCannotBeChangedThroughItsList(t *testing.T) {
	t.Parallel()
	library, err := load(map[string]string{"01-a.md": goodFront + "Text.\n"})
	if err != nil {
		t.Fatal(err)
	}
	library.Lessons()[0] = nil
	if library.Lessons()[0] == nil {
		t.Error("a caller changed the library")
	}
	if _, ok := library.Lesson("nope"); ok {
		t.Error("a lesson is found under a slug that is not there")
	}
}

func TestParseFacts(t *testing.T) {
	t.Parallel()
	good, err := parseFacts([]byte("facts:\n  - {id: rest, us: 5 minutes, source: usda-guide-1, page: p. 1-18}\n"))
	if err != nil {
		t.Fatal(err)
	}
	if want := (Fact{ID: "rest", US: "5 minutes", Source: "usda-guide-1", Page: "p. 1-18"}); good[0] != want {
		t.Errorf("got %+v, want %+v", good[0], want)
	}
	heights, err := parseFacts([]byte("facts:\n  - {id: a, altitude_ft: 0, us: 212 °F, metric: 100 °C, source: b, page: c}\n  - {id: d, altitude_ft: 2000, us: 208 °F, metric: 98 °C, source: b, page: c}\n"))
	if err != nil || *heights[0].AltitudeFt != 0 || *heights[1].AltitudeFt != 2000 {
		t.Errorf("boiling points with their heights: %+v, %v", heights, err)
	}
	for name, src := range map[string]string{
		"a height for what is no boiling point": "facts:\n  - {id: rest, altitude_ft: 0, us: 5 minutes, source: b, page: c}\n",
		"a height without °C":                   "facts:\n  - {id: a, altitude_ft: 0, us: 212 °F, source: b, page: c}\n",
		"a height below the sea":                "facts:\n  - {id: a, altitude_ft: -50, us: 212 °F, metric: 100 °C, source: b, page: c}\n",
		"heights out of order":                  "facts:\n  - {id: a, altitude_ft: 2000, us: 208 °F, metric: 98 °C, source: b, page: c}\n  - {id: d, altitude_ft: 0, us: 212 °F, metric: 100 °C, source: b, page: c}\n",
		"unknown key":                           "facts:\n  - {id: rest, us: a, source: b, page: c, note: d}\n",
		"bad id":                                "facts:\n  - {id: Rest, us: a, source: b, page: c}\n",
		"no source":                             "facts:\n  - {id: rest, us: a, page: c}\n",
		"no page":                               "facts:\n  - {id: rest, us: a, source: b}\n",
		"twice":                                 "facts:\n  - {id: rest, us: a, source: b, page: c}\n  - {id: rest, us: a, source: b, page: c}\n",
		"not YAML":                              "facts: [",
	} {
		if _, err := parseFacts([]byte(src)); err == nil || !strings.HasPrefix(err.Error(), "load facts.yaml: ") {
			t.Errorf("%s: got %v, want an error that names the file", name, err)
		}
	}
}

// Whatever stands in a lesson file, loading it gives a lesson or problems on
// lines the file has, and never a panic.
func FuzzLoad(f *testing.F) {
	f.Add(goodFront + "Give it [[fact rest]].\n")
	f.Add("---\ntitle: [\n---\n")
	f.Add(goodFront + "```times food=peaches method=pressure\n```\n[[min food=\"]] [[")
	f.Fuzz(func(t *testing.T, src string) {
		_, err := load(map[string]string{"01-a.md": src})
		var problems markdown.Problems
		if err != nil && !errors.As(err, &problems) {
			t.Fatalf("%q: %v", src, err)
		}
		for _, p := range problems {
			if p.Line < 0 || p.Line > strings.Count(src, "\n")+1 {
				t.Errorf("%q: problem on line %d: %s", src, p.Line, p.Message)
			}
		}
	})
}
