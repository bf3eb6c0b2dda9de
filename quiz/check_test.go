package quiz

import (
	"slices"
	"strings"
	"testing"
)

// sound is a bank whose every draw can be asked; each case below spoils some draws
// that loading does not come to. Times: Guide 3, p. 3-8, and Guide 2, p. 2-19.
const sound = `questions:
  - id: pick
    lesson: a
    competencies: [altitude]
    kind: choice
    draw:
      size: {from: 1, to: 100, step: 1}
    stem: Which is size {{number(size)}}?
    show: 3
    options:
      - {text: "Size {{number(size)}}", right: true, feedback: It is.}
      - {text: "Size {{number(size + 1)}}", feedback: It is not., misconception: m-1}
      - {text: "Size {{number(size + 2)}}", feedback: It is not., misconception: m-1}
    why: It is so.
    source: [s-1]
    page: p. 1
  - id: type
    lesson: a
    competencies: [altitude]
    kind: number
    draw:
      size: {from: 1, to: 100, step: 1}
    let:
      food: 'size < 200 ? "tomatoes-crushed" : "peaches"'
    stem: How long do pints boil at the sea?
    unit: min
    answer: {is: 'minutes(food, "hot", "boiling-water", "pint", 0)', feedback: It is printed.}
    wrong:
      - {is: size + 200, feedback: It is not., misconception: m-1}
    why: It is so.
    source: [s-1]
    page: p. 3-8
  - id: sort
    lesson: a
    competencies: [filling]
    kind: order
    draw:
      size: {from: 1, to: 100, step: 1}
    stem: Put these in order.
    items:
      - {key: a, text: Fill it, feedback: f}
      - {key: b, text: Wipe it, feedback: f}
      - {key: c, text: Close it, feedback: f}
    mistakes:
      - {early: b, late: a, misconception: m-1, feedback: f}
    why: It is so.
    source: [s-1]
    page: p. 1
  - id: pair
    lesson: a
    competencies: [filling]
    kind: match
    draw:
      size: {from: 1, to: 100, step: 1}
    stem: What goes with what?
    items:
      - {key: a, text: One, with: "{{number(size)}}", feedback: f}
      - {key: b, text: Two, with: "{{number(2 * size)}}", feedback: f}
      - {key: c, text: Three, with: "{{number(3 * size)}}", feedback: f}
    mistakes:
      - {item: b, with: "{{number(size)}}", misconception: m-1, feedback: f}
    why: It is so.
    source: [s-1]
    page: p. 1
`

// Check looks over every draw, and says which shows the fault first.
func TestCheckReportsProblems(t *testing.T) {
	t.Parallel()
	if err := load(t, sound).Check(); err != nil {
		t.Fatal(err)
	}
	if err := load(t, templates).Check(); err != nil {
		t.Error(err)
	}
	if err := load(t, digging).Check(); err != nil {
		t.Error(err)
	}
	for _, test := range []struct {
		name     string
		old, new string
		want     string
	}{
		{"two right", `    why: It is so.`, `      - {text: Another, right: true, when: size == 98, feedback: It is.}
    why: It is so.`, "a.yaml:2: question pick: size=98: has 2 right options; a choice has exactly one"},
		{"none right", "right: true, feedback: It is.}", "right: true, when: size != 98, feedback: It is.}", "a.yaml:2: question pick: size=98: has 2 options; offer at least 3"},
		{"too few", "{{number(size + 2)}}", "{{number(size == 98 ? size + 1 : size + 2)}}", "a.yaml:2: question pick: size=98: has 2 options; offer at least 3"},
		{"hard to read", "Which is size {{number(size)}}?", `'{{size == 98 ? "Notwithstanding considerable environmental variability, determine the appropriate quantity." : "Which?"}}'`, "a.yaml:2: question pick: size=98: stem has reading grade 30.3; use shorter words and sentences, for grade 8 at most"},
		{"no stem", "Which is size {{number(size)}}?", `'{{size == 98 ? " " : "Which?"}}'`, `a.yaml:2: question pick: size=98: stem reads " "`},
		{"text that fails", "Which is size {{number(size)}}?", `'Which is {{jarName(size == 98 ? "bucket" : "pint")}}?'`, `a.yaml:2: question pick: size=98: jarName(size == 98 ? "bucket" : "pint"): unknown jar "bucket"; use one of: quarter-pint, half-pint, 12-oz, pint, 24-oz, 28-oz, quart, half-gallon`},
		{"where that fails", "    stem: Which", "    where: ['guide(size == 98 ? \"peachs\" : \"peaches\") == 2']\n    stem: Which", `a.yaml:2: question pick: size=98: guide(size == 98 ? "peachs" : "peaches") == 2: unknown food "peachs"; did you mean "peaches"?`},
		{"where that leaves two", "    stem: Which", "    where: [size < 3]\n    stem: Which", "a.yaml:2: question pick: 2 draws are left by where; leave at least three"},
		{"answer that is not clean", `is: 'minutes(food, "hot", "boiling-water", "pint", 0)'`, "is: 'factFrom(\"sterile-step\") * (size == 98 ? 1 / 3 : size)'", "a.yaml:17: question type: size=98: the answer is 0.3333333333333333; give a tolerance, or draw so that it comes out clean"},
		{"answer that is out of range", `is: 'minutes(food, "hot", "boiling-water", "pint", 0)'`, "is: 'factFrom(\"sterile-step\") * (size == 98 ? 0 - size : size)'", "a.yaml:17: question type: size=98: the answer [\"-98 min\"] is not marked right: mark type: answer [\"-98 min\"]: \"-98 min\" cannot be read as a time; write it like \"8\", \"8 min\" or \"1 h 8 min\""},
		{"look-up that fails", `"pint", 0)'`, `size == 98 ? "half-gallon" : "pint", 0)'`, `a.yaml:17: question type: size=98: minutes(food, "hot", "boiling-water", size == 98 ? "half-gallon" : "pint", 0): tomatoes-crushed has no tested process in jar "half-gallon"`},
		{"items that read alike", "text: Wipe it", `text: "{{size == 98 ? \"Fill  it\" : \"Wipe it\"}}"`, `a.yaml:33: question sort: size=98: item "Fill  it" stands twice`},
		{"mistake that is not offered", `{item: b, with: "{{number(size)}}"`, `{item: b, with: "{{number(size == 98 ? size + 7 : size)}}"`, `a.yaml:49: question pair: size=98: the mistake with "105" is not among those offered`},
		{"mistake that is right", `{item: b, with: "{{number(size)}}"`, `{item: b, with: "{{number(size == 98 ? 2 * size : size)}}"`, `a.yaml:49: question pair: size=98: the mistake with "196" is the right answer`},
		{"one partner", `{{number(2 * size)}}", feedback: f}
      - {key: c, text: Three, with: "{{number(3 * size)}}"`, `{{number(size != 98 ? 2 * size : size)}}", feedback: f}
      - {key: c, text: Three, with: "{{number(size != 98 ? 3 * size : size)}}"`, "a.yaml:49: question pair: size=98: all items have the same with"},
		{"page of another row", "size < 200", "size != 98", "a.yaml:17: question type: size=98: the key stands on p. 2-19, which page does not name"},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			src := strings.Replace(sound, test.old, test.new, 1)
			if src == sound {
				t.Fatalf("%q is not in the file", test.old)
			}
			err := load(t, src).Check()
			if err == nil || !slices.Contains(strings.Split(err.Error(), "\n"), test.want) {
				t.Errorf("got\n%v\nwant a line\n%s", err, test.want)
			}
		})
	}
}

// Check looks over many draws of a question that has more than it can look over.
func TestCheckOfALargeSpace(t *testing.T) {
	t.Parallel()
	large := strings.Replace(sound, "    stem: Which", "      more: {from: 1, to: 10000, step: 1}\n    stem: Which", 1)
	bank := load(t, large)
	if got := question(t, bank, "pick").Space(); got != 1_000_000 {
		t.Errorf("%d draws, want a million", got)
	}
	if err := bank.Check(); err != nil {
		t.Error(err)
	}
	// The draws' numbers are far apart and where lets one in a hundred through: on a
	// machine of 32 bits, too.
	wide := load(t, strings.Replace(large, "    stem: Which", "      most: {from: 1, to: 900, step: 1}\n    where: [size == 50]\n    stem: Which", 1))
	for seed := range uint64(100) {
		ask(t, question(t, wide, "pick"), seed)
	}
	// A tenth of the draws have the key twice among three options.
	err := load(t, strings.Replace(large, "{{number(size + 2)}}", "{{number(size <= 90 ? size + 2 : size)}}", 1)).Check()
	if err == nil || !strings.Contains(err.Error(), "has 2 options; offer at least 3") {
		t.Errorf("a fault in a tenth of the draws: %v", err)
	}
}
