package quiz

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"rollingboil/scenarios/figures"
	"rollingboil/scenarios/rules"
)

// A question teaches no figure that somebody typed. What its texts come to is taken in three
// ways:
//
//   - looked up: from the process table, a card, a model or a fact of the course, or computed
//     from such a figure;
//   - given: of the situation, or said by somebody in it: given("20 min"), and what is computed
//     from a draw alone;
//   - typed: everything else, written out or computed from what is written out.
//
// A right answer, a reason and feedback hold only what is looked up; the stem and wrong answers
// what is given as well. An altitude is where a kitchen stands, and may stand anywhere.
type origin int

const (
	lookedUp origin = iota
	given
	typed
)

var (
	// lookUps give a figure that is printed, or a model's.
	lookUps = []string{"minutes", "minutesUnderPressure", "psi", "headspace", "dose", "longest", "bandFrom", "bandTo", "model", "fact", "factFrom", "factTo"}
	// sayNoFigure are those whose answer is a name, a page or an altitude.
	sayNoFigure = []string{"inFt", "name", "jarName", "page", "cardPage", "guide", "verdict"}
)

// originOf tells where what an expression comes to is from: of several, the one that is
// furthest from the table.
func (f *form) originOf(e *rules.Expression) origin {
	from := lookedUp
	for _, r := range e.Results() {
		from = max(from, f.originOfResult(r))
	}
	return from
}

func (f *form) originOfResult(r rules.Result) origin {
	if r.Function == "given" {
		return given
	}
	if slices.Contains(sayNoFigure, r.Function) || slices.ContainsFunc(r.Calls, func(name string) bool { return slices.Contains(lookUps, name) }) {
		return lookedUp
	}
	if r.Literal && (r.Written == "0" || !strings.ContainsFunc(r.Written, unicode.IsNumber) && len(figures.In(r.Written)) == 0) {
		return lookedUp // nothing, and words without a number, are no figure
	}
	from := typed
	for _, name := range r.Values {
		if slices.ContainsFunc(f.draws, func(d draw) bool { return d.name == name }) {
			from = min(from, given)
		}
		for _, l := range f.lets {
			if l.name == name {
				from = min(from, f.originOf(l.is))
			}
		}
	}
	return from
}

// saying is a text of a question that is held to its figures.
type saying struct {
	path   string
	text   text
	taught bool              // whether it says what is right
	when   *rules.Expression // nil: always
}

func (c *checker) sayings() []saying {
	f := &c.form
	list := []saying{{"stem", f.stem, false, nil}, {"why", f.why, true, nil}}
	for i, o := range f.options {
		path := fmt.Sprintf("options.%d.", i)
		list = append(list, saying{path + "text", o.text, o.right, o.when}, saying{path + "feedback", o.feedback, true, o.when})
	}
	for i, item := range f.items {
		path := fmt.Sprintf("items.%d.", i)
		list = append(list, saying{path + "text", item.text, c.Kind == Order, nil}, saying{path + "with", item.with, true, nil}, saying{path + "feedback", item.feedback, true, nil})
	}
	for i, s := range f.spare {
		list = append(list, saying{fmt.Sprintf("spare.%d", i), s, false, nil})
	}
	for i, m := range f.mistakes {
		path := fmt.Sprintf("mistakes.%d.", i)
		list = append(list, saying{path + "with", m.with, false, nil}, saying{path + "feedback", m.feedback, true, nil})
	}
	list = append(list, saying{"answer.feedback", f.answer.feedback, true, nil})
	for i, w := range f.wrong {
		list = append(list, saying{fmt.Sprintf("wrong.%d.feedback", i), w.feedback, true, nil})
	}
	return list
}

// drawnSign stands for what may be said there. It joins no number to a unit.
const drawnSign = "\uE000"

// typedText writes a text with what is typed into it, for the values of a draw; drawn tells
// whether these make a difference.
func (c *checker) typedText(s saying, v values) (written string, drawn bool) {
	if s.text.parts == nil {
		return s.text.source, false
	}
	var b strings.Builder
	for _, p := range s.text.parts {
		if p.is == nil {
			b.WriteString(p.literal)
			continue
		}
		onlyWords := !slices.ContainsFunc(p.is.Results(), func(r rules.Result) bool { return !r.Literal })
		if from := c.form.originOf(p.is); !onlyWords && (from == lookedUp || from == given && !s.taught) {
			b.WriteString(drawnSign)
			continue
		}
		drawn = true
		if v == nil || c.form.needs(p.is, v) != nil {
			b.WriteString(drawnSign)
			continue
		}
		got, err := p.is.Run(v)
		if n, ok := got.(float64); ok {
			got = plain(n)
		}
		if err == nil { // what fails here has been told
			fmt.Fprint(&b, got)
		}
	}
	return b.String(), drawn
}

// checkFigures complains of every figure that is typed into the question and is the same in
// every draw, and notes which texts have to be asked in each.
func (c *checker) checkFigures() {
	c.drawnSayings = nil
	for _, s := range c.sayings() {
		written, drawn := c.typedText(s, nil)
		if s.path == "stem" {
			c.asks = figures.NamesUnit(written)
		}
		if drawn {
			c.drawnSayings = append(c.drawnSayings, s)
			continue
		}
		for _, fault := range typedFigures(s, written, c.asks) {
			c.bad(s.path, "%s", fault)
		}
	}
	if slices.Contains(testedUnits, c.Unit) && c.form.answer.is != nil && c.form.originOf(c.form.answer.is) != lookedUp {
		c.bad("answer.is", "%s: the answer, in %s, is looked up: with minutes(...), psi(...), headspace(...), dose(...) or factFrom(...). A number that is typed is no tested one", c.Answer.Is, c.Unit)
	}
}

// testedUnits are those of figures that are printed.
var testedUnits = []string{"min", "h", "psi", "tsp", "tbsp", "in"}

// faultsOfFigures are the figures that come out in one draw without a look-up.
func (c *checker) faultsOfFigures(a *Asked, fault func(string, ...any)) {
	if len(c.drawnSayings) == 0 {
		return
	}
	v := c.form.at(a.Draw)
	for _, s := range c.drawnSayings {
		if s.when != nil && !c.holds(s.when, v) {
			continue
		}
		written, _ := c.typedText(s, v)
		for _, f := range typedFigures(s, written, c.asks) {
			fault("%s: %s", s.path, f)
		}
	}
}

// typedFigures are what is wrong with a text. asks tells whether the stem asks for a number in
// a unit, so that an answer of a bare number is a figure as well.
func typedFigures(s saying, written string, asks bool) []string {
	found := figures.In(written)
	answer := strings.HasSuffix(s.path, ".with") || strings.HasPrefix(s.path, "options.") && strings.HasSuffix(s.path, ".text")
	if len(found) == 0 && asks && s.taught && answer && !strings.ContainsFunc(written, unicode.IsLetter) {
		found = figures.Numbers(strings.ReplaceAll(written, drawnSign, ""))
	}
	var faults []string
	for _, f := range found {
		figure := strings.Join(strings.Fields(f.Text), " ")
		if s.taught {
			faults = append(faults, fmt.Sprintf(`the figure %q is typed in, where the question says what is right; look it up, as {{inMin(minutes(...))}} or {{fact("rest")}}, or leave it out`, figure))
		} else {
			faults = append(faults, fmt.Sprintf(`the figure %q is typed in; look it up, as {{inMin(minutes(...))}} or {{fact("rest")}}, or write {{given(%q)}} if it is of the situation and no tested one`, figure, figure))
		}
	}
	return faults
}

// fact gives a figure of the course that is no tested process, as it is read.
func (w words) fact(id string) (string, error) {
	if len(w.facts) == 0 {
		return "", errors.New("needs the facts of the course, and none are given")
	}
	text, ok := w.facts[id]
	if !ok {
		var ids []string
		for known := range w.facts {
			ids = append(ids, known)
		}
		slices.Sort(ids)
		return "", unlisted("fact", id, ids)
	}
	return text, nil
}

// factNumber gives the first or the last number of a fact such as "12 to 24 hours", in the
// unit it is printed in; both are the same in "10 minutes".
func (w words) factNumber(id string, last bool) (float64, error) {
	text, err := w.fact(id)
	if err != nil {
		return 0, err
	}
	us, _, _ := strings.Cut(text, " (")
	from, to, span := strings.Cut(us, " to ")
	if !span {
		to = from
	}
	if last {
		from = to
	}
	total, read := 0.0, false
	for _, part := range strings.Fields(from) {
		n, err := strconv.ParseFloat(part, 64)
		if top, bottom, ok := strings.Cut(part, "/"); ok {
			var t, b float64
			t, err = strconv.ParseFloat(top, 64)
			if err == nil {
				b, err = strconv.ParseFloat(bottom, 64)
			}
			n = t / b
		}
		if err != nil {
			break
		}
		total, read = total+n, true
	}
	if !read {
		return 0, fmt.Errorf("the fact %s, %q, does not begin with a number", id, text)
	}
	return total, nil
}
