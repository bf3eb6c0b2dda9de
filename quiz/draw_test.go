package quiz

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

// digging is a question family of the QTI samples: A people dig in so many minutes;
// how long do B people take, when all take 120 minutes of work? The work is 120
// for each of them together, so A take 120/A and B take 120/B. B is a whole number
// of times A, and no number is to be ugly.
const digging = `questions:
  - id: digging
    lesson: a
    competencies: [headspace]
    kind: number
    draw:
      few: [2, 3, 4]
      times: {from: 2, to: 6, step: 1}
      shown: {from: 30, to: 60, step: 10}
      answer: {from: 1, to: 30, step: 1}
    let:
      many: few * times
    where:
      - many <= 12
      - few * shown == 120
      - many * answer == 120
    stem: "{{few}} people dig in {{inMin(shown)}}. How long do {{many}} people dig?"
    unit: min
    answer: {is: answer * factFrom("sterile-step"), feedback: The work is the same.} # that fact is 1 minute
    wrong:
      - {is: shown, feedback: More people are faster., misconception: m-1}
      - {is: shown * times, feedback: More people are faster., misconception: m-1}
    why: The work is the same.
    source: [s-1]
    page: p. 1
`

// The nine cases stand in the sample item of the QTI 3.0 specification; each is
// people shown, people asked for, and minutes.
func TestDigging(t *testing.T) {
	t.Parallel()
	q := question(t, load(t, digging), "digging")
	want := []string{"2 4 30", "2 6 20", "2 8 15", "2 10 12", "2 12 10", "3 6 20", "3 12 10", "4 8 15", "4 12 10"}
	said := func(a *Asked) string {
		v := q.form.at(a.Draw)
		if v["few"].(float64)*v["shown"].(float64) != 120 {
			t.Errorf("%s: %v people do not dig in %v min", a.Drawn, v["few"], v["shown"])
		}
		if result, err := a.Mark([]string{fmt.Sprint(v["answer"])}); err != nil || !result.Right {
			t.Errorf("%s: %v min is not right: %v", a.Drawn, v["answer"], err)
		}
		return fmt.Sprintf("%v %v %v", v["few"], v["few"].(float64)*v["times"].(float64), v["answer"])
	}
	if got, want := q.Space(), 3*5*4*30; got != want {
		t.Errorf("%d draws before where, want %d", got, want)
	}
	left := map[string]bool{}
	for index := range q.Space() {
		a, err := q.AskDraw(index)
		if err != nil {
			t.Fatal(err)
		}
		if a != nil {
			left[said(a)] = true
		}
	}
	drawn := map[string]bool{}
	for seed := range uint64(200) {
		drawn[said(ask(t, q, seed))] = true
	}
	for name, got := range map[string]map[string]bool{"where leaves": left, "200 seeds draw": drawn} {
		for _, w := range want {
			if !got[w] {
				t.Errorf("%s no case %q", name, w)
			}
		}
		if len(got) != len(want) {
			t.Errorf("%s %d cases, want %d: %v", name, len(got), len(want), got)
		}
	}
}

// templates is a file with a template of each kind. The times are printed for
// crushed tomatoes and for peaches: Guide 3, p. 3-8; Guide 2, p. 2-19.
const templates = `questions:
  - id: pick
    lesson: a
    competencies: [altitude]
    kind: choice
    draw:
      food: [tomatoes-crushed, peaches]
      jar: [pint, quart, half-gallon]
      feet: {from: 500, to: 9000, step: 500}
    let:
      here: minutes(food, "hot", "boiling-water", jar, feet)
      sea: minutes(food, "hot", "boiling-water", jar, 0)
      pint: minutes(food, "hot", "boiling-water", "pint", feet)
    where:
      - printed(food, "hot", "boiling-water", "", jar, feet)
      - here != sea
    stem: How long do {{jarName(jar)}}s of {{say(food)}} boil at {{inFt(feet)}}?
    picture: {jar: "{{jar}}", headspace: '{{headspace(food, "hot", "boiling-water", jar)}} in', liquid: full, lid: flat}
    show: 4
    options:
      - {text: "{{inMin(here)}}", right: true, feedback: It is printed.}
      - {text: "{{inMin(sea)}}", feedback: It is for the sea., misconception: m-1}
      - {text: "{{inMin(pint)}}", feedback: It is for pints., misconception: m-1}
      - {text: "Twice {{inMin(here)}}", when: feet > 6000, feedback: It is not printed., misconception: m-1}
      - {text: "{{inMin(here + 5)}}", feedback: It is not printed., misconception: m-1}
      - {text: "{{inMin(here + 10)}}", feedback: It is not printed., misconception: m-1}
      - {text: "{{inMin(here + 15)}}", feedback: It is not printed., misconception: m-1}
    why: A time belongs to {{say(food)}}.
    source: [s-1]
    page: Guide {{guide(food)}}, p. {{page(food, "hot", "boiling-water", "", jar, feet)}}
  - id: type
    lesson: a
    competencies: [altitude]
    kind: number
    draw:
      jar: [pint, quart]
      feet: {from: 0, to: 9000, step: 1000}
    stem: How long do {{jarName(jar)}}s boil at {{inFt(feet)}}?
    unit: min
    answer: {is: 'minutes("tomatoes-crushed", "hot", "boiling-water", jar, feet)', feedback: It is printed.}
    wrong:
      - {is: 'minutes("tomatoes-crushed", "hot", "boiling-water", "pint", feet)', feedback: It is for pints., misconception: m-1}
      - {is: 'minutes("tomatoes-crushed", "hot", "boiling-water", jar, 0)', feedback: It is for the sea., misconception: m-1}
    why: It is printed.
    source: [s-1]
    page: p. 3-8
  - id: sort
    lesson: a
    competencies: [filling]
    kind: order
    draw:
      food: [peaches, pears, plums]
    stem: Put these in order.
    items:
      - {key: fill, text: "Put in the {{food}}", feedback: They go first.}
      - {key: bubbles, text: Let the bubbles out, feedback: They come out of a full jar.}
      - {key: wipe, text: Wipe the rim, feedback: It is wiped last.}
      - {key: lid, text: Put the lid on, feedback: It goes on a clean rim.}
    mistakes:
      - {early: wipe, late: bubbles, misconception: m-1, feedback: "The {{food}} can soil it again."}
    why: It is so.
    source: [s-1]
    page: p. 1
  - id: pair
    lesson: a
    competencies: [headspace]
    kind: match
    draw:
      pack: [hot, raw]
      jar: [pint, quart]
    let:
      beans: headspace("snap-beans", pack, "pressure", jar)
      fruit: headspace("peaches", pack, "boiling-water", jar)
    stem: Which headspace goes with which {{jarName(jar)}}?
    items:
      - {key: beans, text: Beans, with: "{{inIn(beans)}}", feedback: It is hotter.}
      - {key: peaches, text: Peaches, with: "{{inIn(fruit)}}", feedback: It swells.}
      - {key: pears, text: Pears, with: "{{inIn(fruit)}}", feedback: It swells.}
    spare: ["{{given(inIn(2))}}", "{{inIn(fruit)}}"]
    mistakes:
      - {item: beans, with: "{{inIn(fruit)}}", misconception: m-1, feedback: It needs more.}
    why: It is so.
    source: [s-1]
    page: p. 1
`

// shownOnly compares what can be seen of a question as it is asked.
var shownOnly = cmp.Options{cmpopts.IgnoreFields(Asked{}, "Question"), cmpopts.IgnoreUnexported(Asked{}), cmpopts.EquateEmpty()}

// The same seed asks the same on every machine. These were written down once; they
// change only when the way of drawing is changed, which gives every learner who has
// a seed another question.
func TestWhatSeedsAsk(t *testing.T) {
	t.Parallel()
	bank := load(t, templates)
	for _, test := range []struct {
		id   string
		seed uint64
		want string
	}{
		{"pick", 0, "12 food=tomatoes-crushed, jar=pint, feet=1500: 40 min; 35 min; 45 min; 50 min"},
		{"pick", 1, "105 food=peaches, jar=quart, feet=9000: 40 min; 35 min; Twice 40 min; 25 min"},
		{"pick", 2, "44 food=tomatoes-crushed, jar=quart, feet=4000: 45 min; 65 min; 60 min; 55 min"},
		{"pick", 1 << 63, "42 food=tomatoes-crushed, jar=pint, feet=4000: 35 min; 55 min; 45 min; 50 min"},
		{"type", 0, "0 jar=pint, feet=0:"},
		{"type", 1, "13 jar=quart, feet=6000:"},
		{"type", 7, "17 jar=quart, feet=8000:"},
		{"sort", 0, "0 food=peaches: Put in the peaches; Put the lid on; Let the bubbles out; Wipe the rim"},
		{"sort", 1, "2 food=plums: Wipe the rim; Put the lid on; Let the bubbles out; Put in the plums"},
		{"sort", 2, "0 food=peaches: Put the lid on; Wipe the rim; Put in the peaches; Let the bubbles out"},
		{"pair", 0, "0 pack=hot, jar=pint: Beans; Peaches; Pears; 1/2 in (13 mm); 2 in (51 mm); 1 in (25 mm)"},
		{"pair", 1, "2 pack=hot, jar=quart: Beans; Peaches; Pears; 1 in (25 mm); 1/2 in (13 mm); 2 in (51 mm)"},
		{"pair", 2, "0 pack=hot, jar=pint: Beans; Peaches; Pears; 1 in (25 mm); 2 in (51 mm); 1/2 in (13 mm)"},
	} {
		a := ask(t, question(t, bank, test.id), test.seed)
		var shown []string
		for _, o := range a.Options {
			shown = append(shown, o.Text)
		}
		for _, i := range a.Items {
			shown = append(shown, i.Text)
		}
		got := fmt.Sprintf("%d %s: %s", a.Draw, a.Drawn, strings.Join(append(shown, a.Withs...), "; "))
		if got = strings.Join(strings.Fields(got), " "); got != test.want {
			t.Errorf("%s, seed %d:\n got %s\nwant %s", test.id, test.seed, got, test.want)
		}
	}
}

// Seed 0 takes the first draw that where lets through, in the order that is written.
func TestSeedZero(t *testing.T) {
	t.Parallel()
	bank := load(t, templates)
	// Crushed tomatoes in pints take the same minutes up to 1,000 ft: Guide 3, p. 3-8.
	a := ask(t, question(t, bank, "pick"), 0)
	if want := "food=tomatoes-crushed, jar=pint, feet=1500"; a.Drawn != want {
		t.Errorf("seed 0 draws %s, want %s", a.Drawn, want)
	}
	var shown []string
	for _, o := range a.Options {
		shown = append(shown, o.Text)
	}
	// The time for pints is the key and gives way to the next.
	if want := []string{"40 min", "35 min", "45 min", "50 min"}; !slices.Equal(shown, want) {
		t.Errorf("seed 0 offers %q, want %q", shown, want)
	}
	if a.Page != "Guide 3, p. 3-8" || a.Why != "A time belongs to tomatoes crushed." || a.Picture.Jar != "pint" || a.Picture.Headspace != 0.5 {
		t.Errorf("seed 0 says %q, %q and draws %+v", a.Page, a.Why, a.Picture)
	}
	plain := ask(t, question(t, load(t, valid), "a-1"), 0)
	if plain.Drawn != "" || plain.Draw != 0 || plain.Question.Variants() || plain.Question.Space() != 1 {
		t.Errorf("a question that draws nothing has the draw %d, %q, of %d", plain.Draw, plain.Drawn, plain.Question.Space())
	}
}

// A line of where computes only what it uses, so that the first keeps the second
// from looking up what is not printed: half-gallons of peaches have no process.
func TestWhereIsAskedInOrder(t *testing.T) {
	t.Parallel()
	q := question(t, load(t, templates), "pick")
	refused, asked := 0, 0
	for index := range q.Space() {
		a, err := q.AskDraw(index)
		switch {
		case err != nil:
			t.Fatal(err)
		case a == nil:
			refused++
		default:
			asked++
			if v := q.form.at(index); v["jar"] == "half-gallon" || v["feet"].(float64) <= 1000 {
				t.Errorf("%s is asked", a.Drawn)
			}
		}
	}
	// Two foods in two jars, at 1,500 ft and the 15 heights above.
	if asked != 2*2*16 || refused != q.Space()-asked {
		t.Errorf("%d draws are asked and %d refused, want 64 and %d", asked, refused, q.Space()-64)
	}
	// Asked in the other order, the look-up fails.
	swapped := strings.Replace(templates, "      - printed(food, \"hot\", \"boiling-water\", \"\", jar, feet)\n      - here != sea\n", "      - here != sea\n      - printed(food, \"hot\", \"boiling-water\", \"\", jar, feet)\n", 1)
	_, err := Load(folder(swapped), smallOptions(t))
	if err == nil || !strings.HasSuffix(err.Error(), `: here: minutes(food, "hot", "boiling-water", jar, feet): tomatoes-crushed has no tested process in jar "half-gallon"`) {
		t.Errorf("a look-up that nothing keeps from failing: %v", err)
	}
}

func TestWhereThatLeavesNothing(t *testing.T) {
	t.Parallel()
	q := question(t, load(t, templates), "pick")
	other := *q
	other.form.where = slices.Concat(q.form.where, q.form.where) // the same twice changes nothing
	if a, err := other.Ask(3); err != nil || a.Draw != ask(t, q, 3).Draw {
		t.Errorf("%+v, %v", a, err)
	}
	l, _ := language(t)
	never, err := l.Compile("1 > 2")
	if err != nil {
		t.Fatal(err)
	}
	other.form.where = append(slices.Clone(q.form.where), never)
	if _, err := other.Ask(3); !errors.Is(err, errNoDraw) || err.Error() != "a.yaml:2: question pick: no draw that was tried meets every line of where" {
		t.Errorf("where that leaves nothing: %v", err)
	}
}

func TestDrawValues(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		draw string
		want []any
	}{
		{"[b, a, c]", []any{"b", "a", "c"}},
		{`["1", "2"]`, []any{"1", "2"}},
		{"[3, 1.5, -2]", []any{3.0, 1.5, -2.0}},
		{"{from: 1, to: 3, step: 1}", []any{1.0, 2.0, 3.0}},
		{"{from: 1, to: 3.9, step: 1}", []any{1.0, 2.0, 3.0}},
		{"{from: 0.1, to: 0.5, step: 0.1}", []any{0.1, 0.2, 0.3, 0.4, 0.5}}, // and not 0.30000000000000004
		{"{from: -1, to: 1, step: 0.5}", []any{-1.0, -0.5, 0.0, 0.5, 1.0}},
		{"{from: 5, to: 5, step: 2}", []any{5.0}},
		{"{step: 0.25, to: 1, from: 0.5}", []any{0.5, 0.75, 1.0}},
	} {
		src := strings.Replace(valid, "food: [Jam, Jelly, Marmalade]", "food: "+test.draw, 1)
		src = strings.Replace(src, `"{{food}}"`, `"{{food}} pounds"`, 1)
		q := question(t, load(t, src), "a-4")
		if !slices.Equal(q.form.draws[0].values, test.want) {
			t.Errorf("%s draws from %v, want %v", test.draw, q.form.draws[0].values, test.want)
		}
	}
}

// A range too fine or too far out for its numbers to be told apart is refused.
func TestRangesThatAreRefused(t *testing.T) {
	t.Parallel()
	for _, r := range []struct{ from, to, step float64 }{
		{5, 4, 1},
		{5, 6, 0},
		{5, 6, -1},
		{0, 1e9, 1},
		{1e300, 1e300, 1},      // its numbers overflow on the way
		{5, 5, 1e-300},         // its numbers never come to an end
		{0, 1e-12, 1e-13},      // its numbers are all 0 to nine places
		{1e17, 1e17 + 160, 16}, // its numbers are wider apart than they can be rounded
	} {
		list, err := rangeOf(r.from, r.to, r.step)
		if err == nil {
			t.Errorf("%v to %v by %v gives %d numbers", r.from, r.to, r.step, len(list))
		}
	}
}

// Each value of each draw comes within some hundred seeds, about as often as the
// others, and each draw of a small space comes.
func TestSeedsCoverTheDraws(t *testing.T) {
	t.Parallel()
	bank := load(t, templates)
	for _, q := range bank.Questions() {
		const seeds = 1000
		times, draws := map[string]int{}, map[int]int{}
		for seed := range uint64(seeds) {
			a := ask(t, q, seed+1)
			draws[a.Draw]++
			for value := range strings.SplitSeq(a.Drawn, ", ") {
				times[value]++
			}
		}
		possible := map[string]int{} // draws that where leaves, by value
		left := 0
		for index := range q.Space() {
			a, err := q.AskDraw(index)
			if err != nil {
				t.Fatal(err)
			}
			if a == nil {
				continue
			}
			left++
			for value := range strings.SplitSeq(a.Drawn, ", ") {
				possible[value]++
			}
		}
		if len(draws) != left {
			t.Errorf("%s: %d seeds come to %d draws of %d", q.ID, seeds, len(draws), left)
		}
		for value, n := range possible {
			// The drawn share lies within half and twice what chance gives.
			if want := float64(seeds*n) / float64(left); float64(times[value]) < want/2 || float64(times[value]) > 2*want {
				t.Errorf("%s: %s is drawn %d times of %d, chance gives %.0f", q.ID, value, times[value], seeds, want)
			}
		}
	}
}

// The right option stands in each place about as often, and the items of an order
// and the partners of a match in each order, but an order is never shown solved.
func TestSeedsShuffle(t *testing.T) {
	t.Parallel()
	bank := load(t, templates)
	places, orders, withs := make([]int, 4), map[string]int{}, map[string]int{}
	const seeds = 600
	for seed := range uint64(seeds) {
		a := ask(t, question(t, bank, "pick"), seed+1)
		places[slices.IndexFunc(a.Options, func(o Option) bool { return o.Right })]++

		a = ask(t, question(t, bank, "sort"), seed)
		order := ""
		for _, i := range a.Items {
			order += i.Key + " "
		}
		orders[order]++

		withs[strings.Join(ask(t, question(t, bank, "pair"), seed+1).Withs, ", ")]++
	}
	for i, n := range places {
		if n < seeds/4*2/3 || n > seeds/4*3/2 {
			t.Errorf("the right option stands in place %d %d times of %d", i+1, n, seeds)
		}
	}
	if len(orders) != 4*3*2-1 || orders["fill bubbles wipe lid "] != 0 {
		t.Errorf("%d orders of the items are shown, want all 24 but the right one: %v", len(orders), orders)
	}
	if len(withs) != 3*2 {
		t.Errorf("%d orders of the partners are shown, want 6: %v", len(withs), withs)
	}
}

// A mistake that comes to the same as the key, or as another, gives way.
func TestWhatCoincidesIsOfferedOnce(t *testing.T) {
	t.Parallel()
	bank := load(t, templates)
	q := question(t, bank, "pick")
	for index := range q.Space() {
		a, err := q.AskDraw(index)
		if err != nil {
			t.Fatal(err)
		}
		if a == nil {
			continue
		}
		if len(a.Options) != 4 || !a.Options[0].Right {
			t.Errorf("%s: offers %+v", a.Drawn, a.Options)
		}
		twice := slices.ContainsFunc(a.Options, func(o Option) bool { return strings.HasPrefix(o.Text, "Twice") })
		if v := q.form.at(index); twice != (v["feet"].(float64) > 6000) {
			t.Errorf("%s: when is not kept: %+v", a.Drawn, a.Options)
		}
	}
	// In pints at the sea both wrong numbers are the key; in pints higher up one is.
	for drawn, want := range map[string]int{"jar=pint, feet=0": 0, "jar=pint, feet=5000": 1, "jar=quart, feet=0": 1, "jar=quart, feet=5000": 1, "jar=quart, feet=7000": 2} {
		q := question(t, bank, "type")
		for index := range q.Space() {
			if a, err := q.AskDraw(index); err != nil {
				t.Fatal(err)
			} else if a.Drawn == drawn && len(a.wrong) != want {
				t.Errorf("%s: %d wrong numbers have a name, want %d", drawn, len(a.wrong), want)
			}
		}
	}
	// A spare partner that belongs to an item after all is offered once.
	if a := ask(t, question(t, bank, "pair"), 0); len(a.Withs) != 3 {
		t.Errorf("offers %q", a.Withs)
	}
}

// The picture is checked for each draw.
func TestPictures(t *testing.T) {
	t.Parallel()
	src := strings.Replace(valid, "    stem: What goes with what?", "    picture: {jar: pint, headspace: \"{{food == \\\"Jelly\\\" ? \\\"none\\\" : \\\"1/4 in\\\"}}\", lid: down, layers: true}\n    stem: What goes with what?", 1)
	_, err := Load(folder(src), smallOptions(t))
	if err == nil || !strings.Contains(err.Error(), `picture: headspace: "none" at 1: found "none", expected a number such as 12, 1.5, 1/2 or 1 1/2`) {
		t.Errorf("a headspace that cannot be read: %v", err)
	}
	q := question(t, load(t, strings.Replace(src, "none", "1/2 in", 1)), "a-4")
	for _, test := range []struct {
		index int
		want  Picture
	}{
		{0, Picture{Jar: "pint", Headspace: 0.25, Liquid: "full", Lid: "down", Layers: true}},
		{1, Picture{Jar: "pint", Headspace: 0.5, Liquid: "full", Lid: "down", Layers: true}},
	} {
		a, err := q.AskDraw(test.index)
		if err != nil || *a.Picture != test.want {
			t.Errorf("draw %d pictures %+v, %v; want %+v", test.index, a.Picture, err, test.want)
		}
	}
}

// The same seed asks the same, and what is asked can be marked, whatever the seed.
func TestAnySeed(t *testing.T) {
	t.Parallel()
	banks := []*Bank{load(t, templates), load(t, digging), example(t), shipped(t)}
	again := []*Bank{load(t, templates), load(t, digging), example(t)}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(0, len(banks)-1).Draw(t, "bank")
		q := rapid.SampledFrom(banks[n].Questions()).Draw(t, "question")
		seed := rapid.Uint64().Draw(t, "seed")
		a, err := q.Ask(seed)
		if err != nil {
			t.Fatal(err)
		}
		canBeMarked(t, a)
		if b, err := q.Ask(seed); err != nil || !reflect.DeepEqual(a, b) {
			t.Fatalf("%s, seed %d: asked again, it is another question: %v\n%s", q.ID, seed, err, cmp.Diff(a, b, shownOnly))
		}
		if n < len(again) {
			other, _ := again[n].Question(q.ID)
			if b, err := other.Ask(seed); err != nil || !cmp.Equal(a, b, shownOnly) {
				t.Fatalf("%s, seed %d: loaded again, it is another question: %v\n%s", q.ID, seed, err, cmp.Diff(a, b, shownOnly))
			}
		}
		written, err := q.AskDraw(a.Draw)
		if err != nil || written == nil || written.Stem != a.Stem || written.Drawn != a.Drawn {
			t.Fatalf("%s: draw %d asks otherwise than seed %d: %+v, %v", q.ID, a.Draw, seed, written, err)
		}
		// The answer to one is the answer to the other, since only the order differs.
		if result, err := written.Mark(a.Key()); err != nil || !result.Right {
			t.Fatalf("%s: the key %q of seed %d is not right for its draw: %v", q.ID, a.Key(), seed, err)
		}
	})
}

// canBeMarked wants what holds of every question that is asked: its key is right,
// nothing stands twice, and nothing is left of a template.
func canBeMarked(t interface {
	Helper()
	Fatalf(string, ...any)
}, a *Asked,
) {
	t.Helper()
	id := fmt.Sprintf("%s, seed %d, %s", a.Question.ID, a.Seed, a.Drawn)
	result, err := a.Mark(a.Key())
	if err != nil || !result.Right || result.Key == "" || len(result.Missed) != 0 || len(result.Misconceptions()) != 0 {
		t.Fatalf("%s: Mark(%q) = %+v, %v; want it right", id, a.Key(), result, err)
	}
	if len(result.Chosen) == 0 || slices.ContainsFunc(result.Chosen, func(o Option) bool { return !o.Right || o.Feedback == "" }) {
		t.Fatalf("%s: the right answer is told %+v", id, result.Chosen)
	}
	shown := []string{}
	for _, o := range a.Options {
		shown = append(shown, o.Text)
	}
	for _, i := range a.Items {
		shown = append(shown, i.Text)
	}
	for list, texts := range map[string][]string{"shown": shown, "partners": a.Withs} {
		seen := map[string]bool{}
		for _, text := range texts {
			if text = oneLine(text); seen[text] || text == "" {
				t.Fatalf("%s: %s %q stands twice, or is blank", id, list, text)
			}
			seen[text] = true
		}
	}
	for _, text := range append(shown, a.Stem, a.Why, a.Page) {
		if strings.Contains(text, "{{") || strings.Contains(text, "}}") || strings.Contains(text, "NaN") || strings.Contains(text, "e+") {
			t.Fatalf("%s: %q is not written out", id, text)
		}
	}
	switch rights := slices.DeleteFunc(slices.Clone(a.Options), func(o Option) bool { return !o.Right }); a.Question.Kind {
	case Choice:
		if len(rights) != 1 || len(a.Options) < 2 {
			t.Fatalf("%s: %d of %d options are right", id, len(rights), len(a.Options))
		}
	case Choices:
		if len(rights) == 0 || len(rights) == len(a.Options) {
			t.Fatalf("%s: %d of %d options are right", id, len(rights), len(a.Options))
		}
	}
}

// A question of any kind whose numbers are drawn and whose wrong answers often come
// to the same as the key: product against sum, and one off.
func TestAnyTemplate(t *testing.T) {
	t.Parallel()
	options := smallOptions(t)
	rapid.Check(t, func(t *rapid.T) {
		most := 0 // that a and b can come to
		list := func(name string) string {
			if rapid.Bool().Draw(t, name+" is a range") {
				from, count := rapid.IntRange(0, 5).Draw(t, name+" from"), rapid.IntRange(2, 6).Draw(t, name+" count")
				most += from + count
				return fmt.Sprintf("{from: %d, to: %d, step: 1}", from, from+count)
			}
			values := rapid.SliceOfNDistinct(rapid.IntRange(0, 12), 2, 6, rapid.ID[int]).Draw(t, name)
			most += slices.Max(values)
			return strings.ReplaceAll(fmt.Sprint(values), " ", ", ")
		}
		kind := rapid.SampledFrom(kinds).Draw(t, "kind")
		show := rapid.IntRange(3, 5).Draw(t, "show")
		a, b := list("a"), list("b")
		head := fmt.Sprintf("questions:\n  - id: any\n    lesson: a\n    competencies: [headspace]\n    kind: %s\n    why: It is so.\n    source: [s-1]\n    page: p. 1\n    stem: What is it?\n    draw: {a: %s, b: %s}\n    let: {both: a * b}\n    where: ['a + b >= %d']\n", kind, a, b, rapid.IntRange(0, most).Draw(t, "least"))
		wrong := rapid.Permutation([]string{"a + b", "both + 1", "a", "b", "both + 2", "2 * both", "both + 3", "both + 4", "both + 5", "both + 6"}).Draw(t, "wrong")
		var body strings.Builder
		switch kind {
		case Choice, Choices:
			fmt.Fprintf(&body, "    show: %d\n    options:\n", show)
			keyAt := rapid.IntRange(0, len(wrong)).Draw(t, "place of the key")
			for i := range len(wrong) + 1 {
				if i == keyAt {
					body.WriteString("      - {text: \"{{both}}\", right: true, feedback: f}\n")
				}
				if i < len(wrong) {
					fmt.Fprintf(&body, "      - {text: \"{{%s}}\", feedback: f, misconception: m-1}\n", wrong[i])
				}
			}
		case Number:
			fmt.Fprintf(&body, "    unit: jars\n    answer: {is: both, feedback: f}\n    wrong:\n")
			for _, w := range wrong {
				fmt.Fprintf(&body, "      - {is: %s, feedback: f, misconception: m-1}\n", w)
			}
		case Order:
			body.WriteString("    items:\n      - {key: x, text: \"{{a}} jars\", feedback: f}\n      - {key: y, text: \"{{b}} lids\", feedback: f}\n      - {key: z, text: \"{{both}} bands\", feedback: f}\n    mistakes: [{early: z, late: x, feedback: f, misconception: m-1}]\n")
		case Match:
			body.WriteString("    items:\n      - {key: x, text: \"{{a}} jars\", with: \"{{both}}\", feedback: f}\n      - {key: y, text: \"{{b}} lids\", with: \"{{both + 1}}\", feedback: f}\n      - {key: z, text: \"{{both}} bands\", with: \"{{a + b}}\", feedback: f}\n    spare: [\"{{2 * both}}\", \"{{a}}\", \"{{b}}\"]\n    mistakes: [{item: x, with: \"{{both + 1}}\", feedback: f, misconception: m-1}]\n")
		}
		src := head + body.String()
		bank, err := Load(folder(src), options)
		if err != nil {
			t.Fatalf("%v\n%s", err, src)
		}
		q, _ := bank.Question("any")
		asked, err := q.Ask(rapid.Uint64().Draw(t, "seed"))
		if err != nil {
			t.Fatalf("%v\n%s", err, src)
		}
		canBeMarked(t, asked)
		if n := len(asked.Options); n > 0 && n != show {
			t.Fatalf("%s: %d options are shown, want %d\n%s", asked.Drawn, n, show, src)
		}
		for i, w := range asked.wrong {
			if w.amount == asked.answer.amount || slices.ContainsFunc(asked.wrong[:i], func(o figure) bool { return o.amount == w.amount }) {
				t.Fatalf("%s: wrong numbers %+v beside %v", asked.Drawn, asked.wrong, asked.answer.amount)
			}
		}
	})
}

// Marking does not depend on the order in which options, items or partners are shown
// or given, and an answer is right exactly when it is the key.
func TestMarkingIsIndependentOfOrder(t *testing.T) {
	t.Parallel()
	questions := slices.Concat(load(t, templates).Questions(), markedBank(t).Questions(), example(t).Questions(), shipped(t).Questions())
	byText := cmpopts.SortSlices(func(a, b Option) bool { return a.Text < b.Text })
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom(questions).Draw(t, "question")
		a, err := q.Ask(rapid.Uint64().Draw(t, "seed"))
		if err != nil {
			t.Fatal(err)
		}
		other := *a
		other.Options = rapid.Permutation(a.Options).Draw(t, "options")
		other.Items = rapid.Permutation(a.Items).Draw(t, "items")
		other.Withs = rapid.Permutation(a.Withs).Draw(t, "partners")
		var given []string
		right := true
		switch q.Kind {
		case Choice, Choices:
			for _, o := range a.Options {
				chosen := rapid.Bool().Draw(t, "chosen")
				if chosen {
					given = append(given, o.Text)
				}
				right = right && chosen == o.Right
			}
		case Number:
			n := rapid.SampledFrom(slices.Concat([]float64{a.answer.amount, 7}, amounts(a.wrong))).Draw(t, "number")
			given = []string{q.form.quantity.typed(n, q.form.size, q.Unit)}
			right = n == a.answer.amount
		case Order:
			for _, i := range rapid.Permutation(a.Items).Draw(t, "order") {
				given = append(given, i.Text)
			}
			right = slices.Equal(given, a.Key())
		case Match:
			for _, i := range a.Items {
				with := rapid.SampledFrom(a.Withs).Draw(t, "partner")
				given = append(given, i.Text+Arrow+with)
				right = right && with == i.With
			}
		}
		result, err := a.Mark(given)
		wanted := q.Kind != Choice && len(given) > 0 || len(given) == 1
		if (err == nil) != wanted {
			t.Fatalf("%s: Mark(%q): %v", q.ID, given, err)
		}
		if err == nil && result.Right != right {
			t.Fatalf("%s: Mark(%q): right is %v, want %v", q.ID, given, result.Right, right)
		}
		shuffled := given
		if q.Kind != Order {
			shuffled = rapid.Permutation(given).Draw(t, "given")
		}
		otherResult, otherErr := other.Mark(shuffled)
		if (err == nil) != (otherErr == nil) {
			t.Fatalf("%s: in another order the error is %v, not %v", q.ID, otherErr, err)
		}
		if diff := cmp.Diff(result, otherResult, byText, cmpopts.IgnoreFields(Result{}, "Key")); diff != "" {
			t.Fatalf("%s: in another order (-one +other):\n%s", q.ID, diff)
		}
		for _, o := range slices.Concat(result.Chosen, result.Missed) {
			if o.Feedback == "" || o.Text == "" {
				t.Fatalf("%s: Mark(%q) says nothing of %+v", q.ID, given, o)
			}
		}
	})
}

func amounts(list []figure) []float64 {
	var all []float64
	for _, f := range list {
		all = append(all, f.amount)
	}
	return all
}

// A number with its unit counts as the bare number, and it is right exactly
// within the tolerance.
func TestMarkingNumbers(t *testing.T) {
	t.Parallel()
	var questions []*Question
	for _, q := range slices.Concat(load(t, templates).Questions(), load(t, digging).Questions(), example(t).Questions(), shipped(t).Questions()) {
		if q.Kind == Number && q.Unit != "jars" {
			questions = append(questions, q)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom(questions).Draw(t, "question")
		a, err := q.Ask(rapid.Uint64().Draw(t, "seed"))
		if err != nil {
			t.Fatal(err)
		}
		hundredths := rapid.IntRange(0, 4000).Draw(t, "hundredths of the unit")
		bare := fmt.Sprintf("%d.%02d", hundredths/100, hundredths%100)
		result, err := a.Mark([]string{bare})
		if err != nil {
			t.Fatalf("%s: Mark(%q): %v", q.ID, bare, err)
		}
		withUnit, err := a.Mark([]string{bare + " " + q.Unit})
		if err != nil {
			t.Fatalf("%s: Mark(%q): %v", q.ID, bare+" "+q.Unit, err)
		}
		if diff := cmp.Diff(result, withUnit); diff != "" {
			t.Fatalf("%s: %s with its unit (-without +with):\n%s", q.ID, bare, diff)
		}
		// What one of the unit is in the base unit the amount is kept in.
		none, err := q.form.quantity.parse("0 " + q.Unit)
		if err != nil {
			t.Fatalf("%s: 0 %s: %v", q.ID, q.Unit, err)
		}
		one, err := q.form.quantity.parse("1 " + q.Unit)
		if err != nil {
			t.Fatalf("%s: 1 %s: %v", q.ID, q.Unit, err)
		}
		off := float64(hundredths)/100 - a.answer.amount/(one-none)
		if off < 0 {
			off = -off
		}
		if right := off <= q.Tolerance+1e-6; result.Right != right {
			t.Fatalf("%s: %s is %v, want %v", q.ID, bare, result.Right, right)
		}
	})
}
