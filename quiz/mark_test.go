package quiz

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

// marked is a file with a question of each kind. What is right in it: Guide 1,
// p. 1-25 for the tests of a seal and p. 1-13 for filling, and Guide 2, pp. 2-6, 2-19
// and 2-20, and Guide 4, p. 4-9, for the headspaces.
const marked = `questions:
  - id: one
    lesson: a
    competencies: [seal-check]
    kind: choice
    stem: The lid springs back when you press it. What is this jar?
    options:
      - {text: "Sealed, because it rang", feedback: A ring is no proof., misconception: m-1}
      - {text: Not sealed, right: true, feedback: The lid is not held.}
      - {text: "Sealed, because it pinged", feedback: A ping is no proof., misconception: m-2}
    why: One test that fails is enough.
    source: [s-1]
    page: Guide 1, p. 1-25
  - id: some
    lesson: a
    competencies: [seal-check]
    kind: choices
    stem: Which tests are printed?
    options:
      - {text: Press the lid, right: true, feedback: It must not move.}
      - {text: Turn the jar over, feedback: It makes no seal., misconception: m-1}
      - {text: Look across it, right: true, feedback: It must dip.}
      - {text: Tap the lid, right: true, feedback: It must ring.}
      - {text: Turn the band, feedback: It cuts the gasket., misconception: m-1}
    why: Each can be fooled, so use all three.
    source: [s-1, s-2]
    page: Guide 1, p. 1-25
  - id: steps
    lesson: a
    competencies: [filling]
    kind: order
    stem: Put these in order.
    items:
      - {key: fill, text: Fill the jar, feedback: The food goes in first.}
      - {key: bubbles, text: Let the bubbles out, feedback: They come out of a full jar.}
      - {key: wipe, text: Wipe the rim, feedback: Nothing more is spilled on it.}
      - {key: lid, text: Put the lid on, feedback: It goes on a clean rim.}
    mistakes:
      - {early: wipe, late: bubbles, misconception: m-1, feedback: Letting bubbles out can soil it again.}
      - {early: lid, late: wipe, misconception: m-2, feedback: The rim cannot be wiped below a lid.}
    why: Each step leaves the rim ready for the next.
    source: [s-1]
    page: Guide 1, p. 1-13
  - id: pairs
    lesson: a
    competencies: [headspace]
    kind: match
    stem: Which headspace goes with which food?
    items:
      - {key: butter, text: Apple butter, with: size A, feedback: It hardly swells.}
      - {key: peaches, text: Peaches, with: size B, feedback: Fruit swells more.}
      - {key: pears, text: Pears, with: size B, feedback: Pears are fruit.}
      - {key: beans, text: Green beans, with: size C, feedback: A pressure canner is hotter.}
    spare: [size D]
    mistakes:
      - {item: beans, with: size B, misconception: m-1, feedback: It is hotter than boiling water.}
      - {item: butter, with: size B, misconception: m-2, feedback: It is no fruit in pieces.}
    why: The hotter the canner, the more room the food needs.
    source: [s-1]
    page: Guide 2, pp. 2-6, 2-19, 2-20; Guide 4, p. 4-9
`

func markedBank(t testing.TB) *Bank {
	t.Helper()
	o := smallOptions(t)
	o.Misconceptions, o.Sources = nil, nil
	bank, err := Load(folder(marked), o)
	if err != nil {
		t.Fatal(err)
	}
	return bank
}

// right and wrong are what is said of one thing in an answer.
func right(text, feedback string) Option { return Option{Text: text, Right: true, Feedback: feedback} }

func wrong(text, feedback, misconception string) Option {
	return Option{Text: text, Feedback: feedback, Misconception: misconception}
}

var (
	press, look, tap = right("Press the lid", "It must not move."), right("Look across it", "It must dip."), right("Tap the lid", "It must ring.")
	invert, band     = wrong("Turn the jar over", "It makes no seal.", "m-1"), wrong("Turn the band", "It cuts the gasket.", "m-1")
	notSealed        = right("Not sealed", "The lid is not held.")
	rang             = wrong("Sealed, because it rang", "A ring is no proof.", "m-1")
)

func TestMark(t *testing.T) {
	t.Parallel()
	bank := markedBank(t)
	const (
		fill, bubbles, wipe, lid = "Fill the jar", "Let the bubbles out", "Wipe the rim", "Put the lid on"
	)
	for _, test := range []struct {
		name           string
		id             string
		given          []string
		right          bool
		chosen, missed []Option
		beliefs        []string
	}{
		{"right", "one", []string{"Not sealed"}, true, []Option{notSealed}, nil, nil},
		{"given twice, with other spaces and an empty field", "one", []string{" Not\r\n sealed ", "Not\u00a0sealed", ""}, true, []Option{notSealed}, nil, nil},
		{"wrong", "one", []string{"Sealed, because it rang"}, false, []Option{rang}, []Option{notSealed}, []string{"m-1"}},

		{"all", "some", []string{tap.Text, press.Text, look.Text}, true, []Option{press, look, tap}, nil, nil},
		{"all, one of them twice", "some", []string{tap.Text, press.Text, look.Text, tap.Text}, true, []Option{press, look, tap}, nil, nil},
		{"some", "some", []string{look.Text}, false, []Option{look}, []Option{press, tap}, nil},
		{"all and one more", "some", []string{press.Text, invert.Text, look.Text, tap.Text}, false, []Option{press, invert, look, tap}, nil, []string{"m-1"}},
		{"one belief twice", "some", []string{band.Text, invert.Text}, false, []Option{invert, band}, []Option{press, look, tap}, []string{"m-1"}},

		{"in order", "steps", []string{fill, " Let the\r\nbubbles  out", wipe, lid}, true, []Option{
			right("1. Fill the jar", "The food goes in first."), right("2. Let the bubbles out", "They come out of a full jar."), right("3. Wipe the rim", "Nothing more is spilled on it."), right("4. Put the lid on", "It goes on a clean rim."),
		}, nil, nil},
		{"a mistake that has a name", "steps", []string{fill, wipe, bubbles, lid}, false, []Option{
			wrong("Wipe the rim, before Let the bubbles out", "Letting bubbles out can soil it again.", "m-1"),
		}, nil, []string{"m-1"}},
		{"two of them", "steps", []string{lid, wipe, bubbles, fill}, false, []Option{
			wrong("Wipe the rim, before Let the bubbles out", "Letting bubbles out can soil it again.", "m-1"),
			wrong("Put the lid on, before Wipe the rim", "The rim cannot be wiped below a lid.", "m-2"),
		}, nil, []string{"m-1", "m-2"}},

		{"matched", "pairs", []string{"Peaches → size B", "Apple butter → size A", "Green beans → size C", "Pears → size B"}, true, []Option{
			right("Apple butter → size A", "It hardly swells."), right("Peaches → size B", "Fruit swells more."), right("Pears → size B", "Pears are fruit."), right("Green beans → size C", "A pressure canner is hotter."),
		}, nil, nil},
		{"matched, with other spaces", "pairs", []string{" Peaches →  size\u00a0B", "Apple\r\nbutter → size A", "Green  beans → size C ", "Pears → size B"}, true, []Option{
			right("Apple butter → size A", "It hardly swells."), right("Peaches → size B", "Fruit swells more."), right("Pears → size B", "Pears are fruit."), right("Green beans → size C", "A pressure canner is hotter."),
		}, nil, nil},
		{"mistakes with and without a name", "pairs", []string{"Apple butter → size B", "Peaches → size D", "Pears → size B", "Green beans → size B"}, false, []Option{
			wrong("Apple butter → size B", "It is no fruit in pieces.", "m-2"), wrong("Peaches → size D", "Fruit swells more.", ""), right("Pears → size B", "Pears are fruit."), wrong("Green beans → size B", "It is hotter than boiling water.", "m-1"),
		}, nil, []string{"m-2", "m-1"}},
	} {
		t.Run(test.id+" "+test.name, func(t *testing.T) {
			t.Parallel()
			a := ask(t, question(t, bank, test.id), 0)
			keys := map[string]string{
				"one": "Not sealed", "some": "Press the lid; Look across it; Tap the lid",
				"steps": "1. Fill the jar; 2. Let the bubbles out; 3. Wipe the rim; 4. Put the lid on",
				"pairs": "Apple butter → size A; Peaches → size B; Pears → size B; Green beans → size C",
			}
			want := Result{Right: test.right, Chosen: test.chosen, Missed: test.missed, Key: keys[test.id], Why: a.Why, Sources: a.Question.Sources, Page: a.Page}
			given := slices.Clone(test.given)
			got, err := a.Mark(test.given)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("Mark(%q) (-want +got):\n%s", test.given, diff)
			}
			if !slices.Equal(got.Misconceptions(), test.beliefs) {
				t.Errorf("misconceptions %q, want %q", got.Misconceptions(), test.beliefs)
			}
			if !slices.Equal(given, test.given) {
				t.Errorf("marking made %q of the answer %q", test.given, given)
			}
		})
	}
}

// An order that is wrong without a mistake that has a name is told about, too:
// about each thing that is not in its place.
func TestMarkTellsAboutEachThingOutOfPlace(t *testing.T) {
	t.Parallel()
	a := ask(t, question(t, markedBank(t), "steps"), 0)
	result, err := a.Mark([]string{"Let the bubbles out", "Fill the jar", "Wipe the rim", "Put the lid on"})
	if err != nil {
		t.Fatal(err)
	}
	want := []Option{wrong("1. Let the bubbles out", "They come out of a full jar.", ""), wrong("2. Fill the jar", "The food goes in first.", "")}
	if diff := cmp.Diff(want, result.Chosen); diff != "" || result.Right {
		t.Errorf("right is %v, chosen (-want +got):\n%s", result.Right, diff)
	}
}

func TestMarkNumber(t *testing.T) {
	t.Parallel()
	const (
		time   = `unit: min, answer: {is: 'minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 7100)', feedback: f}`
		psi    = `unit: psi, tolerance: 0.2, answer: {is: 'psi("snap-beans", "raw", "dial", "pint", 7000)', feedback: f}`
		inches = `unit: in, tolerance: 0.02, answer: {is: 'headspace("tomatoes-crushed", "hot", "boiling-water", "quart")', feedback: f}`
		spoons = `unit: tbsp, tolerance: 0.1, answer: {is: 'dose("tomatoes-crushed", "quart", "bottled-lemon-juice") / 3', feedback: f}`
		citric = `unit: tsp, tolerance: 0.05, answer: {is: 'dose("tomatoes-crushed", "quart", "citric-acid")', feedback: f}`
		boil   = `unit: °F, answer: {is: 212, feedback: f}`
		edge   = `unit: ft, tolerance: 2, answer: {is: 'bandTo("tomatoes-crushed", "hot", "boiling-water", "", "quart", 5000)', feedback: f}`
		vacuum = `unit: inHg, tolerance: 0.1, answer: {is: 12, feedback: f}`
		acid   = `unit: "%", answer: {is: 5, feedback: f}`
		wait   = `unit: h, answer: {is: factFrom("reprocess"), feedback: f}`
		jars   = `unit: jars, answer: {is: 5, feedback: f}`
		single = `unit: jars, answer: {is: 1, feedback: f}`
	)
	for _, test := range []struct {
		question, wrongs string
		typed            string
		right            bool
		read             string // with ordinary spaces
		belief           string
	}{
		// 60 min, quarts above 6,000 ft: Guide 3, p. 3-8. The wrong ones are printed
		// there for the sea and for pints.
		{time, "45 50", "60", true, "60 min", ""},
		{time, "45 50", " 60\n min ", true, "60 min", ""},
		{time, "45 50", "1 h", true, "60 min", ""},
		{time, "45 50", "0 h 60 min", true, "60 min", ""},
		{time, "45 50", "3600 s", true, "60 min", ""},
		{time, "45 50", "0.75 h", false, "45 min", "m-45"},
		{time, "45 50", "50 minutes", false, "50 min", "m-50"},
		{time, "45 50", "59.9", false, "59.9 min", ""},
		{time, "45 50", "61", false, "61 min", ""},
		// 14 psi, 6,001 to 8,000 ft: Guide 4, p. 4-9. 97 kPa is 14.07 psi.
		{psi, "11", "14", true, "14 psi (97 kPa)", ""},
		{psi, "11", "97 kPa", true, "14.07 psi (97 kPa)", ""},
		{psi, "11", "14 lb", true, "14 psi (97 kPa)", ""},
		{psi, "11", "13.8", true, "13.8 psi (95 kPa)", ""},
		{psi, "11", "13.7", false, "13.7 psi (94 kPa)", ""},
		{psi, "11", "11", false, "11 psi (76 kPa)", "m-11"},
		// 1/2 in: Guide 3, p. 3-8. 13 mm is 0.512 in, 12 mm 0.472 in, at 25.4 mm.
		{inches, "1/4 1", "1/2", true, "1/2 in (13 mm)", ""},
		{inches, "1/4 1", "½", true, "1/2 in (13 mm)", ""},
		{inches, "1/4 1", "13 mm", true, "0.51 in (13 mm)", ""},
		{inches, "1/4 1", "1.3 cm", true, "0.51 in (13 mm)", ""},
		{inches, "1/4 1", "12 mm", false, "0.47 in (12 mm)", ""},
		{inches, "1/4 1", "0.25", false, "1/4 in (6 mm)", "m-1/4"},
		{inches, "1/4 1", "1 inch", false, "1 in (25 mm)", "m-1"},
		{inches, "1/4 1", "6 mm", false, "0.24 in (6 mm)", "m-1/4"},
		// 2 tbsp of bottled lemon juice and 1/2 tsp of citric acid a quart: Guide 3,
		// p. 3-7. 30 ml is 2.03 tbsp, 28 ml 1.89, at 14.787 ml; a tablespoon is 3 tsp.
		{spoons, "1", "2", true, "2 tbsp (30 ml)", ""},
		{spoons, "1", "6 tsp", true, "2 tbsp (30 ml)", ""},
		{spoons, "1", "30 ml", true, "6.09 tsp (30 ml)", ""},
		{spoons, "1", "28 ml", false, "5.68 tsp (28 ml)", ""},
		{spoons, "1", "1 tbsp", false, "1 tbsp (15 ml)", "m-1"},
		{citric, "1/4", "1/2", true, "1/2 tsp (2.5 ml)", ""},
		{citric, "1/4", "2.5 ml", true, "0.51 tsp (2.5 ml)", ""},
		{citric, "1/4", "1/4", false, "1/4 tsp (1.2 ml)", "m-1/4"},
		// Water boils at 212 °F, which is 100 °C.
		{boil, "100", "212", true, "212 °F (100 °C)", ""},
		{boil, "100", "100 °C", true, "212 °F (100 °C)", ""},
		{boil, "100", "100", false, "100 °F (38 °C)", "m-100"},
		// A band ends at 6,000 ft: Guide 3, p. 3-8. 1829 m is 6 000.7 ft, at 0.3048 m.
		{edge, "1000", "6,000", true, "6 000 ft (1 829 m)", ""},
		{edge, "1000", "6 000 ft", true, "6 000 ft (1 829 m)", ""},
		{edge, "1000", "1829 m", true, "6 001 ft (1 829 m)", ""},
		{edge, "1000", "1830 m", false, "6 004 ft (1 830 m)", ""},
		{edge, "1000", "1000", false, "1 000 ft (305 m)", "m-1000"},
		// 12 inHg is 40.6 kPa, at 3.386 kPa: NIST Special Publication 811.
		{vacuum, "29", "12", true, "12 inHg (41 kPa)", ""},
		{vacuum, "29", "40.6 kPa", true, "12 inHg (41 kPa)", ""},
		{vacuum, "29", "40 kPa", false, "11.8 inHg (40 kPa)", ""},
		{acid, "4", "5", true, "5 %", ""},
		{acid, "4", "5 %", true, "5 %", ""},
		{acid, "4", "4", false, "4 %", "m-4"},
		{wait, "12", "24", true, "24 h", ""},
		{wait, "12", "1440 min", true, "24 h", ""},
		{wait, "12", "12 h", false, "12 h", "m-12"},
		{jars, "6", "5", true, "5 jars", ""},
		{jars, "6", "5 jars", true, "5 jars", ""},
		{jars, "6", "6", false, "6 jars", "m-6"},
		{single, "6", "1 jar", true, "1 jar", ""},
	} {
		t.Run(test.question[:12]+" "+test.typed, func(t *testing.T) {
			t.Parallel()
			var wrongs []string
			for w := range strings.FieldsSeq(test.wrongs) {
				wrongs = append(wrongs, fmt.Sprintf("{is: %s, feedback: It is not %s., misconception: m-%s}", w, w, w))
			}
			a := askNumber(t, test.question+", wrong: ["+strings.Join(wrongs, ", ")+"]")
			got, err := a.Mark([]string{test.typed})
			if err != nil {
				t.Fatal(err)
			}
			chosen := got.Chosen[0]
			if read := strings.Join(strings.Fields(chosen.Text), " "); len(got.Chosen) != 1 || got.Right != test.right || chosen.Right != test.right || read != test.read || chosen.Misconception != test.belief {
				t.Errorf("Mark(%q) = %v, %+v; want %v, read as %q, misconception %q", test.typed, got.Right, got.Chosen, test.right, test.read, test.belief)
			}
			switch {
			case test.right:
				if len(got.Missed) != 0 || chosen.Feedback != "f" {
					t.Errorf("a right answer is told %q, and missed %+v", chosen.Feedback, got.Missed)
				}
			case len(got.Missed) != 1 || got.Missed[0] != right(got.Key, "f"):
				t.Errorf("a wrong answer missed %+v, want the key", got.Missed)
			case test.belief != "" && chosen.Feedback != "It is not "+strings.TrimPrefix(test.belief, "m-")+".":
				t.Errorf("a wrong answer with a name is told %q", chosen.Feedback)
			case test.belief == "" && chosen.Feedback != fmt.Sprintf("The answer is %s, not %s.", got.Key, chosen.Text):
				t.Errorf("a wrong answer without a name is told %q", chosen.Feedback)
			}
			if got.Why == "" || got.Page == "" || len(got.Sources) == 0 || got.Key == "" {
				t.Errorf("Mark(%q) says too little: %+v", test.typed, got)
			}
		})
	}
}

// askNumber asks a question for a number, given by its own keys in flow style.
func askNumber(t testing.TB, keys string) *Asked {
	t.Helper()
	o := smallOptions(t)
	o.Misconceptions = nil
	// The pages of all figures these tests look up.
	bank, err := Load(folder("questions:\n  - {id: number, lesson: a, competencies: [headspace], kind: number, stem: How much?, why: It is so., source: [s-1], page: '1-1, 3-7, 3-8, 4-9', "+keys+"}\n"), o)
	if err != nil {
		t.Fatal(err)
	}
	return ask(t, question(t, bank, "number"), 0)
}

func TestMarkSaysWhatItCannotMark(t *testing.T) {
	t.Parallel()
	bank := markedBank(t)
	const time = `"%s" cannot be read as a time; write it like "8", "8 min" or "1 h 8 min"`
	asked := map[string]*Asked{
		"minutes": askNumber(t, `unit: min, answer: {is: 'minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 7100)', feedback: f}`),
		"inches":  askNumber(t, `unit: in, answer: {is: 'headspace("tomatoes-crushed", "hot", "boiling-water", "quart")', feedback: f}`),
		"jars":    askNumber(t, "unit: jars, answer: {is: 5, feedback: f}"),
	}
	for _, id := range []string{"one", "some", "steps", "pairs"} {
		asked[id] = ask(t, question(t, bank, id), 0)
	}
	for _, test := range []struct {
		name  string
		given []string
		want  string
	}{
		{"one", nil, "choose an answer first"},
		{"one", []string{""}, "choose an answer first"},
		{"one", []string{" \r\n"}, "choose an answer first"},
		{"one", []string{"The moon"}, "this answer is not one of those offered; choose again"},
		{"one", []string{"not sealed"}, "this answer is not one of those offered; choose again"},
		{"one", []string{"Not sealed", "Sealed, because it rang"}, "choose one answer only"},
		{"some", nil, "choose an answer first"},
		{"some", []string{"Press the lid", "Pray"}, "this answer is not one of those offered; choose again"},
		{"minutes", nil, "write a number first"},
		{"minutes", []string{""}, "write a number first"},
		{"minutes", []string{"50", "60"}, "write one number only"},
		{"minutes", []string{"an hour"}, fmt.Sprintf(time, "an hour")},
		{"minutes", []string{"60 psi"}, fmt.Sprintf(time, "60 psi")},
		{"minutes", []string{"-60"}, fmt.Sprintf(time, "-60")},
		{"minutes", []string{"50-60"}, fmt.Sprintf(time, "50-60")},
		{"minutes", []string{"60\x00"}, `"60\x00" cannot be read as a time; write it like "8", "8 min" or "1 h 8 min"`},
		{"inches", []string{"a finger"}, `"a finger" cannot be read as a length; write it like "3/4", "3/4 in" or "19 mm"`},
		{"inches", []string{"1/0"}, `"1/0" cannot be read as a length; write it like "3/4", "3/4 in" or "19 mm"`},
		{"jars", []string{"4.5"}, `"4.5" cannot be read as a number of jars; write it like "5" or "5 jars"`},
		{"jars", []string{"-5"}, `"-5" cannot be read as a number of jars; write it like "5" or "5 jars"`},
		{"jars", []string{"5 s"}, `"5 s" cannot be read as a number of jars; write it like "5" or "5 jars"`},
		{"jars", []string{"5 quarts"}, `"5 quarts" cannot be read as a number of jars; write it like "5" or "5 jars"`},
		{"steps", nil, "give each of them a place"},
		{"steps", []string{"Fill the jar", "Let the bubbles out", "Wipe the rim"}, "give each of them a place"},
		{"steps", []string{"Fill the jar", "Fill the  jar", "Wipe the rim", "Put the lid on"}, `"Fill the jar" stands twice`},
		{"steps", []string{"Fill the jar", "Let the bubbles out", "Wipe the rim", "Put the lid on", "Fill the jar"}, `"Fill the jar" stands twice`},
		{"steps", []string{"Fill the jar", "Let the bubbles out", "Wipe the rim", "Go home"}, "this is not one of the things to put in order; choose again"},
		{"pairs", nil, "choose one for each of them"},
		{"pairs", []string{"Apple butter → size A", "Peaches → size B", "Pears → size B"}, "choose one for each of them"},
		{"pairs", []string{"Peaches → size B", "Peaches → size C", "Pears → size B", "Green beans → size C"}, `"Peaches" stands twice`},
		{"pairs", []string{"Peaches → size E"}, "this is not one of those offered; choose again"},
		{"pairs", []string{"Plums → size B"}, "this is not one of those offered; choose again"},
		{"pairs", []string{"Peaches"}, "this is not one of those offered; choose again"},
		{"pairs", []string{" → "}, "this is not one of those offered; choose again"},
	} {
		result, err := asked[test.name].Mark(test.given)
		var cannot *AnswerError
		if !errors.As(err, &cannot) {
			t.Errorf("%s: Mark(%q) = %+v, %v; want an *AnswerError", test.name, test.given, result, err)
			continue
		}
		if cannot.Reason != test.want || cannot.Question != asked[test.name].Question.ID {
			t.Errorf("%s: Mark(%q): %+v, want reason %q", test.name, test.given, cannot, test.want)
		}
		kept := slices.DeleteFunc(slices.Clone(test.given), func(s string) bool { return strings.TrimSpace(s) == "" })
		if !slices.Equal(cannot.Given, kept) {
			t.Errorf("%s: Mark(%q): the error keeps %q of it", test.name, test.given, cannot.Given)
		}
	}
}

func TestForm(t *testing.T) {
	t.Parallel()
	bank := markedBank(t)
	type fields = map[string][]string
	places := func(fill, bubbles, wipe, lid string) fields {
		return fields{"place-fill": {fill}, "place-bubbles": {bubbles}, "place-wipe": {wipe}, "place-lid": {lid}, "question": {"steps"}}
	}
	partners := func(butter, peaches, pears, beans string) fields {
		return fields{"with-butter": {butter}, "with-peaches": {peaches}, "with-pears": {pears}, "with-beans": {beans}}
	}
	const each, all = "give each of them a place", "choose one for each of them"
	for _, test := range []struct {
		name, id string
		fields   fields
		want     []string
		refused  string // the reason, if the form cannot be read
		right    bool
	}{
		{"chosen", "one", fields{"answer": {"Not sealed"}}, []string{"Not sealed"}, "", true},
		{"several chosen", "some", fields{"answer": {"Tap the lid", "Press the lid"}}, []string{"Tap the lid", "Press the lid"}, "", false},
		{"nothing chosen", "one", fields{"place-fill": {"1"}}, nil, "", false},

		{"in order", "steps", places("1", "2", "3", "4"), []string{"Fill the jar", "Let the bubbles out", "Wipe the rim", "Put the lid on"}, "", true},
		{"in another order", "steps", places("4", " 2 ", "1", "3"), []string{"Wipe the rim", "Let the bubbles out", "Put the lid on", "Fill the jar"}, "", false},
		{"no field", "steps", nil, nil, each, false},
		{"a place missing", "steps", places("1", "2", "3", ""), nil, each, false},
		{"place 0", "steps", places("0", "1", "2", "3"), nil, each, false},
		{"place 5 of 4", "steps", places("1", "2", "3", "5"), nil, each, false},
		{"a place before the first", "steps", places("-1", "2", "3", "4"), nil, each, false},
		{"half a place", "steps", places("1.5", "2", "3", "4"), nil, each, false},
		{"a place in words", "steps", places("first", "2", "3", "4"), nil, each, false},
		{"a place past all numbers", "steps", places("99999999999999999999", "2", "3", "4"), nil, each, false},
		{"two in one place", "steps", places("1", "2", "2", "4"), nil, "two of them have the place 2; each place is for one", false},
		{"one in two places", "steps", fields{"place-fill": {"1", "2"}, "place-bubbles": {"2"}, "place-wipe": {"3"}, "place-lid": {"4"}}, nil, each, false},

		{"matched", "pairs", partners("size A", "size B", "size B", "size C"), []string{"Apple butter → size A", "Peaches → size B", "Pears → size B", "Green beans → size C"}, "", true},
		{"matched, with other spaces", "pairs", partners(" size\r\nA", "size  B", "size\u00a0B", "size C"), []string{"Apple butter → size A", "Peaches → size B", "Pears → size B", "Green beans → size C"}, "", true},
		{"matched otherwise", "pairs", partners("size D", "size B", "size B", "size C"), []string{"Apple butter → size D", "Peaches → size B", "Pears → size B", "Green beans → size C"}, "", false},
		{"no partner", "pairs", partners("size A", " ", "size B", "size C"), nil, all, false},
		{"no field to match", "pairs", nil, nil, all, false},
	} {
		t.Run(test.id+" "+test.name, func(t *testing.T) {
			t.Parallel()
			a := ask(t, question(t, bank, test.id), 5)
			got, err := a.Form(test.fields)
			if test.refused != "" {
				var cannot *AnswerError
				if !errors.As(err, &cannot) || cannot.Reason != test.refused || cannot.Question != test.id {
					t.Errorf("Form(%q) = %q, %v; want an *AnswerError with reason %q", test.fields, got, err, test.refused)
				}
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			if a.Question.Kind == Match { // in the order shown, which does not matter
				slices.Sort(got)
				slices.Sort(test.want)
			}
			if !slices.Equal(got, test.want) {
				t.Errorf("Form(%q) = %q, want %q", test.fields, got, test.want)
			}
			if test.want == nil {
				return
			}
			if result, err := a.Mark(got); err != nil || result.Right != test.right {
				t.Errorf("Form(%q) is marked %v, %v; want %v", test.fields, result.Right, err, test.right)
			}
		})
	}
	// A partner that is not offered gets through the form and is refused by Mark.
	a := ask(t, question(t, bank, "pairs"), 0)
	given, err := a.Form(partners("size E", "size B", "size B", "size C"))
	if err != nil {
		t.Fatal(err)
	}
	if _, err := a.Mark(given); err == nil {
		t.Errorf("Mark(%q): no error", given)
	}
}

// The fields of an answer say what a page offers, so that the page can show it again,
// and the form reads them back.
func TestFields(t *testing.T) {
	t.Parallel()
	o := smallOptions(t)
	o.Misconceptions, o.Sources = nil, nil
	unbroken, err := Load(folder(strings.ReplaceAll(marked, " in,", "\u00a0in,")), o)
	if err != nil {
		t.Fatal(err)
	}
	for _, q := range slices.Concat(markedBank(t).Questions(), unbroken.Questions(), load(t, templates).Questions()) {
		for seed := range uint64(10) {
			a := ask(t, q, seed)
			fields := a.Fields(a.Key())
			given, err := a.Form(fields)
			if err != nil {
				t.Fatalf("%s: Form(%q): %v", q.ID, fields, err)
			}
			if result, err := a.Mark(given); err != nil || !result.Right {
				t.Errorf("%s: the key comes back from a form as %q: %v", q.ID, given, err)
			}
			for _, item := range a.Items {
				if shown := fields["with-"+item.Key]; q.Kind == Match && (len(shown) != 1 || !slices.Contains(a.Withs, shown[0])) {
					t.Errorf("%s: %s was given %q, which is not one of %q", q.ID, item.Key, shown, a.Withs)
				}
			}
		}
	}
}
