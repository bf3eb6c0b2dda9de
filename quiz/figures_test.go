package quiz

import (
	"strings"
	"testing"
)

// plainQuestion has a place for everything that a question says; @ stands where a test types.
const plainQuestion = `questions:
  - id: pick
    lesson: a
    competencies: [altitude]
    kind: choice
    draw:
      held: [20, 25, 30]
      word: [20 minutes, 25 minutes, 30 minutes]
    let:
      here: minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 6240)
      same: 'held > 20 ? 20 : 20'
    stem: "Which is it?@stem"
    options:
      - {text: "The one@right", right: true, feedback: "It is.@feedback"}
      - {text: "Another@wrong", feedback: "It is not.@refutation", misconception: m-1}
      - {text: "A third", feedback: It is not., misconception: m-1}
    why: "It is so.@why"
    source: [s-1]
    page: p. 3-8
`

func typing(src, place, text string) string {
	for _, p := range []string{"stem", "right", "feedback", "wrong", "refutation", "why", "with", "spare", "item"} {
		replaced := ""
		if p == place {
			replaced = text
		}
		src = strings.ReplaceAll(src, "@"+p, replaced)
	}
	return src
}

// What is right is looked up, wherever a question says it; the situation may be given. Crushed
// tomatoes, quarts, above 6,000 ft: 60 minutes (Guide 3, p. 3-8).
func TestFiguresOfQuestions(t *testing.T) {
	t.Parallel()
	places := []string{"stem", "wrong", "right", "feedback", "refutation", "why"}
	for _, test := range []struct {
		text  string
		taken string // where it may stand: everywhere, in the situation, or nowhere
	}{
		{" {{inMin(here)}}", "everywhere"},
		{" {{fact('rest')}} and {{inIn(factFrom('water-over'))}}", "everywhere"},
		{" {{inMin(here + 5)}}", "everywhere"},
		{" {{inFt(6240)}}", "everywhere"},
		{" {{number(here)}} minutes", "everywhere"},
		{" 20 jars, p. 1-18, pH 4.6", "everywhere"},
		{" {{given('20 minutes')}}", "situation"},
		{" {{given(inIn(2))}}", "situation"},
		{" {{inMin(held)}}", "situation"},
		{" {{number(held)}} minutes", "situation"},
		{" {{word}}", "situation"},
		{" 20 minutes", "nowhere"},
		{" twenty minutes", "nowhere"},
		{" 2 inches of headspace", "nowhere"},
		{" 1 teaspoon of lemon juice", "nowhere"},
		{" Minutes at the boil: 20", "nowhere"},
		{" {{inMin(20)}}", "nowhere"},
		{" {{inMin(10 + 10)}}", "nowhere"},
		{" {{inMin(same)}}", "nowhere"},
		{" {{20}} minutes", "nowhere"},
		{" {{number(20)}} minutes", "nowhere"},
		{" {{'20 minutes'}}", "nowhere"},
		{" {{say('20-minutes')}}", "nowhere"},
		{" {{here > 0 ? '20 minutes' : 'x'}}", "nowhere"},
		{" {{here > 0 ? inMin(20) : inMin(here)}}", "nowhere"},
		{" {{'2' + '0 minutes'}}", "nowhere"},
	} {
		for _, place := range places {
			_, err := Load(folder(typing(plainQuestion, place, test.text)), smallOptions(t))
			taken := test.taken == "everywhere" || test.taken == "situation" && (place == "stem" || place == "wrong")
			switch {
			case taken && err != nil:
				t.Errorf("%s in %s: %v", test.text, place, err)
			case !taken && err == nil:
				t.Errorf("%s in %s is taken", test.text, place)
			case !taken && !strings.Contains(err.Error(), "is typed in"):
				t.Errorf("%s in %s: %v", test.text, place, err)
			}
		}
	}
}

// An answer of a bare number is a figure where the stem asks for minutes.
func TestBareNumberAsAnswer(t *testing.T) {
	t.Parallel()
	for stem, taken := range map[string]bool{" How many minutes?": false, " How many jars?": true} {
		src := strings.Replace(typing(plainQuestion, "stem", stem), "The one", "20", 1)
		_, err := Load(folder(src), smallOptions(t))
		if (err == nil) != taken {
			t.Errorf("%s 20: %v", stem, err)
		}
	}
}

func TestFiguresOfMatchesAndOrders(t *testing.T) {
	t.Parallel()
	const src = `questions:
  - id: match
    lesson: a
    competencies: [altitude]
    kind: match
    stem: What goes with what?
    items:
      - {key: a, text: "One@item", with: "First@with", feedback: f}
      - {key: b, text: Two, with: Second, feedback: f}
      - {key: c, text: Three, with: Last, feedback: f}
    spare: ["None@spare"]
    mistakes:
      - {item: a, with: Second, misconception: m-1, feedback: "It is not.@feedback"}
    why: It is so.
    source: [s-1]
    page: p. 1
`
	for _, test := range []struct {
		place, text string
		taken       bool
	}{
		{"item", " {{given('20 min')}}", true},
		{"spare", " {{given('20 min')}}", true},
		{"with", " {{given('20 min')}}", false},
		{"feedback", " {{given('20 min')}}", false},
		{"with", " 20 min", false},
		{"item", " 20 min", false},
		{"spare", " 20 min", false},
		{"with", " {{fact('rest')}}", true},
	} {
		if _, err := Load(folder(typing(src, test.place, test.text)), smallOptions(t)); (err == nil) != test.taken {
			t.Errorf("%s in %s: %v", test.text, test.place, err)
		}
	}
	order := strings.NewReplacer("kind: match", "kind: order", `, with: "First@with"`, "", ", with: Second, feedback", ", feedback", ", with: Last", "",
		"    spare: [\"None@spare\"]\n", "", "item: a, with: Second", "early: c, late: b").Replace(src)
	for text, taken := range map[string]bool{"": true, " {{fact('rest')}}": true, " {{given('20 min')}}": false, " 20 min": false} {
		if _, err := Load(folder(typing(order, "item", text)), smallOptions(t)); (err == nil) != taken {
			t.Errorf("%s as a step: %v", text, err)
		}
	}
}

// The answer to a number question is looked up, in every unit that is printed.
func TestNumbersAreLookedUp(t *testing.T) {
	t.Parallel()
	const src = `questions:
  - id: type
    lesson: a
    competencies: [altitude]
    kind: number
    draw:
      size: [20, 25, 30]
    let:
      here: minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 6240)
      typed: '20'
      chosen: 'here > 20 ? 20 : 25'
    stem: How much is it?
    unit: @unit
    tolerance: @tolerance
    answer: {is: '@is', feedback: It is so.}
    wrong:
      - {is: "90", feedback: It is not., misconception: m-1}
    why: It is so.
    source: [s-1]
    page: p. 3-8
`
	for _, test := range []struct {
		unit, is string
		taken    bool
	}{
		{"min", "here", true},
		{"min", "here - size", true},
		{"min", `minutes("tomatoes-crushed", "hot", "boiling-water", "quart", 6240)`, true},
		{"min", `factFrom("rest")`, true},
		{"h", `factTo("cool") - 1`, true},
		{"min", "20", false},
		{"min", "10 + 10", false},
		{"min", "size", false},
		{"min", "typed", false},
		{"min", "chosen", false},
		{"h", "20", false},
		{"psi", "11", false},
		{"tsp", "1", false},
		{"tbsp", "1", false},
		{"in", "1", false},
		{"jars", "7", true},
		{"ft", "1000", true},
	} {
		tolerance := "0"
		if test.unit == "tbsp" {
			tolerance = "0.1"
		}
		_, err := Load(folder(strings.NewReplacer("@unit", test.unit, "@is", test.is, "@tolerance", tolerance).Replace(src)), smallOptions(t))
		if (err == nil) != test.taken || err != nil && !strings.Contains(err.Error(), "is looked up") {
			t.Errorf("%s in %s: %v", test.is, test.unit, err)
		}
	}
}

// Both ends of a fact, as the file has them: Guide 1, pp. 1-25, 1-26, 1-13.
func TestNumbersOfFacts(t *testing.T) {
	t.Parallel()
	l, _ := language(t)
	for source, want := range map[string]any{
		`factFrom("cool")`: 12.0, `factTo("cool")`: 24.0, `factFrom("reprocess")`: 24.0, `factTo("reprocess")`: 24.0,
		`factFrom("freeze-headspace")`: 1.5, `factTo("headspace-low-acid")`: 1.25, `fact("water-over")`: "1 in (25 mm)",
	} {
		if got, err := compute(t, l, source); err != nil || got != want {
			t.Errorf("%s = %v, %v; want %v", source, got, err, want)
		}
	}
	for source, want := range map[string]string{`fact("res")`: `did you mean "rest"?`, `factFrom("")`: "unknown fact"} {
		if _, err := compute(t, l, source); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%s: %v, want %s", source, err, want)
		}
	}
}

// A class's own question is held to the same, in every draw.
func TestFiguresOfOneQuestionMore(t *testing.T) {
	t.Parallel()
	bank := load(t, typing(plainQuestion, "", ""))
	if _, _, err := bank.With("own", []byte(typing(strings.Replace(plainQuestion, "id: pick", "id: own", 1), "right", " 20 minutes")), nil); err == nil {
		t.Error("a typed figure is taken")
	}
	if _, _, err := bank.With("own", []byte(typing(strings.Replace(plainQuestion, "id: pick", "id: next", 1), "", "")), nil); err == nil || !strings.Contains(err.Error(), "next question") {
		t.Errorf("the id next: %v", err)
	}
	// Only the last of many draws says it.
	src := strings.Replace(typing(plainQuestion, "why", " {{held == 119 ? number(held) : 'x'}} minutes"), "held: [20, 25, 30]", "held: {from: 20, to: 119, step: 1}", 1)
	with, q, err := bank.With("own", []byte(strings.Replace(src, "id: pick", "id: own", 1)), nil)
	if err != nil {
		t.Fatal(err)
	}
	if err := with.CheckQuestion(q); err == nil || !strings.Contains(err.Error(), `held=119`) {
		t.Errorf("the last draw: %v", err)
	}
}
