package exchange

import (
	"fmt"
	"hash/fnv"
	"strconv"

	"rollingboil/quiz"
)

// longestIdentifier is what older readers keep of an identifier (from memory; no
// specification says so).
const longestIdentifier = 32

// identifier names a question drawn for a seed: id-sSEED. It is an NCName of at most
// 32 letters; one that would be longer is cut and gets a sum of the whole.
func (q Question) identifier() string {
	name := q.ID + "-s" + strconv.FormatUint(q.Seed, 10)
	if name[0] >= '0' && name[0] <= '9' {
		name = "q-" + name
	}
	if len(name) <= longestIdentifier {
		return name
	}
	sum := fnv.New32a()
	fmt.Fprint(sum, name)
	return fmt.Sprintf("%s-%08x", name[:longestIdentifier-9], sum.Sum32())
}

// choiceID and withID name what is offered by its place, so that a name tells nothing
// about the answer. xAPI statements use the same names.
func choiceID(i int) string { return fmt.Sprintf("C%d", i+1) }

func withID(i int) string { return fmt.Sprintf("W%d", i+1) }

// The names of feedback beside those of choices.
const (
	whyID   = "WHY"   // the reason; shown with every answer
	rightID = "RIGHT" // what is said of the right number
	wrongID = "WRONG" // the mistakes that have a name in an order
)

// keyValues is the right answer, as QTI and xAPI name it.
func (q Question) keyValues() []string {
	var values []string
	switch q.Kind {
	case quiz.Number:
		values = []string{decimal(q.Number.Answer.Amount)}
	case quiz.Order:
		for _, key := range q.Order {
			values = append(values, choiceID(q.itemIndex(key)))
		}
	case quiz.Match:
		for i, item := range q.Items {
			values = append(values, choiceID(i)+" "+withID(q.withIndex(item.With)))
		}
	default:
		for i, o := range q.Options {
			if o.Right {
				values = append(values, choiceID(i))
			}
		}
	}
	return values
}

// itemElement is the whole item. picture is what shows the question's picture, nil if
// it has none.
func itemElement(q Question, d *dialect, picture *element) *element {
	cardinality, baseType := "single", "identifier"
	switch q.Kind {
	case quiz.Choices:
		cardinality = "multiple"
	case quiz.Order:
		cardinality = "ordered"
	case quiz.Match:
		cardinality, baseType = "multiple", "directedPair"
	case quiz.Number:
		baseType = "float"
	}
	correct := el("correct-response", nil)
	for _, value := range q.keyValues() {
		correct.add(el("value", nil, value))
	}
	body := el("item-body", nil, paragraph(q.Stem))
	if picture != nil {
		body.add(el("p", nil, picture))
	}
	body.add(q.interaction(), d.rubric("scorer", "scoring", q.reasons()...))
	item := el("assessment-item",
		[]string{"identifier", q.identifier(), "title", q.name(), "adaptive", "false", "time-dependent", "false"},
		el("response-declaration", []string{"identifier", "RESPONSE", "cardinality", cardinality, "base-type", baseType}, correct),
		outcome("SCORE", "0"), outcome("MAXSCORE", "1"),
		el("outcome-declaration", []string{"identifier", "FEEDBACK", "cardinality", "multiple", "base-type", "identifier"}),
		body, q.processing(d))
	for _, f := range q.feedback() {
		item.add(el("modal-feedback", []string{"outcome-identifier", "FEEDBACK", "identifier", f.id, "show-hide", "show"}, d.content(f.says...)...))
	}
	return item
}

func outcome(identifier, value string) *element {
	return el("outcome-declaration", []string{"identifier", identifier, "cardinality", "single", "base-type", "float"},
		el("default-value", nil, el("value", nil, value)))
}

func paragraph(text string) *element { return el("p", nil, line(text)) }

// content wraps the content of feedback and rubrics, which 3.0 wants and 2.2 does not
// know.
func (d *dialect) content(blocks ...any) []any {
	if d.camel {
		return blocks
	}
	return []any{el("content-body", nil, blocks...)}
}

// rubric is a block for those who score, or for those who answer. Only 3.0 says what it
// is for.
func (d *dialect) rubric(view, use string, blocks ...any) *element {
	attrs := []string{"view", view}
	if !d.camel {
		attrs = append(attrs, "use", use)
	}
	return el("rubric-block", attrs, d.content(blocks...)...)
}

// reasons are the key, the reason and the source.
func (q Question) reasons() []any {
	return []any{paragraph("The answer: " + q.key()), paragraph(q.Why), paragraph("Source: " + q.source())}
}

func (q Question) interaction() *element {
	attrs := []string{"response-identifier", "RESPONSE"}
	switch q.Kind {
	case quiz.Number:
		return el("p", nil, "Answer: ", el("text-entry-interaction", append(attrs, "expected-length", "8")), " "+q.Number.Unit)
	case quiz.Order:
		out := el("order-interaction", append(attrs, "shuffle", "false"))
		for i, item := range q.Items {
			out.add(el("simple-choice", []string{"identifier", choiceID(i)}, line(item.Text)))
		}
		return out
	case quiz.Match:
		// The default would be one pair in all. What is given may be given again.
		n := strconv.Itoa(len(q.Items))
		items, withs := el("simple-match-set", nil), el("simple-match-set", nil)
		for i, item := range q.Items {
			items.add(el("simple-associable-choice", []string{"identifier", choiceID(i), "match-max", "1"}, line(item.Text)))
		}
		for i, with := range q.Withs {
			withs.add(el("simple-associable-choice", []string{"identifier", withID(i), "match-max", n}, line(with)))
		}
		return el("match-interaction", append(attrs, "shuffle", "false", "max-associations", n), items, withs)
	}
	most := "1"
	if q.Kind == quiz.Choices {
		most = "0" // no limit
	}
	out := el("choice-interaction", append(attrs, "shuffle", "false", "max-choices", most))
	for i, o := range q.Options {
		out.add(el("simple-choice", []string{"identifier", choiceID(i)}, line(o.Text)))
	}
	return out
}

// modal is one piece of feedback.
type modal struct {
	id   string
	says []any
}

// feedback lists what can be said of an answer, the reason first.
func (q Question) feedback() []modal {
	list := []modal{{whyID, q.reasons()}}
	say := func(id, text string) { list = append(list, modal{id, []any{paragraph(text)}}) }
	switch q.Kind {
	case quiz.Number:
		say(rightID, q.Number.Answer.Feedback)
		for i, w := range q.Number.Wrong {
			say(choiceID(i), w.Feedback)
		}
	case quiz.Order:
		for i, key := range q.Order {
			item := q.item(key)
			list[0].says = append(list[0].says, paragraph(fmt.Sprintf("%d. %s: %s", i+1, item.Text, item.Feedback)))
		}
		wrong := modal{id: wrongID}
		for _, m := range q.Mistakes {
			wrong.says = append(wrong.says, paragraph(q.mistakeText(m)+": "+m.Feedback))
		}
		if len(wrong.says) > 0 {
			list = append(list, wrong)
		}
	case quiz.Match:
		for i, item := range q.Items {
			say(choiceID(i), item.Text+quiz.Arrow+item.With+": "+item.Feedback)
		}
		for i, m := range q.Mistakes {
			say(mistakeID(i), q.mistakeText(m)+": "+m.Feedback)
		}
	default:
		for i, o := range q.Options {
			say(choiceID(i), o.Feedback)
		}
	}
	return list
}

func mistakeID(i int) string { return fmt.Sprintf("M%d", i+1) }

// processing scores the answer and says which feedback is shown. A template says the
// same of the score for readers that know templates only; where both are given, the
// rules are what counts (QTI 3.0 information model, ResponseProcessing).
func (q Question) processing(d *dialect) *element {
	response, correct := el("variable", []string{"identifier", "RESPONSE"}), el("correct", []string{"identifier", "RESPONSE"})
	right := el("match", nil, response, correct)
	out := el("response-processing", []string{"template", d.templates + "match_correct" + d.ending})
	if q.Kind == quiz.Number {
		right = q.near(response, correct)
		out.attrs = nil // no template knows a tolerance
	}
	yes := el("response-if", nil, right, set("SCORE", value("float", "1")))
	no := el("response-else", nil, set("SCORE", value("float", "0")))
	score := el("response-condition", nil, yes)
	why := value("identifier", whyID)
	switch q.Kind {
	case quiz.Choice, quiz.Choices:
		out.add(set("FEEDBACK", el("multiple", nil, why, response)))
	default:
		out.add(set("FEEDBACK", el("multiple", nil, why)))
	}
	out.add(score)
	switch q.Kind {
	case quiz.Number:
		yes.add(show(rightID))
		for i, w := range q.Number.Wrong {
			score.add(el("response-else-if", nil, q.near(response, value("float", decimal(w.Amount))), set("SCORE", value("float", "0")), show(choiceID(i))))
		}
	case quiz.Order:
		if len(q.Mistakes) > 0 {
			no.add(show(wrongID))
		}
	case quiz.Match:
		for i := range q.Items {
			out.add(q.pairFeedback(i, response))
		}
	}
	score.add(no)
	return out
}

// near holds for a number that differs by no more than the tolerance.
func (q Question) near(response, number *element) *element {
	return el("equal", []string{"tolerance-mode", "absolute", "tolerance", decimal(q.Number.Tolerance)}, response, number)
}

// pairFeedback shows what is said of what an item was given: of a mistake that has a
// name, or else of the item.
func (q Question) pairFeedback(i int, response *element) *element {
	out := el("response-condition", nil)
	branch := "response-if"
	for n, m := range q.Mistakes {
		if m.Item == q.Items[i].Key {
			pair := value("directedPair", choiceID(i)+" "+withID(q.withIndex(m.With)))
			out.add(el(branch, nil, el("member", nil, pair, response), show(mistakeID(n))))
			branch = "response-else-if"
		}
	}
	if len(out.children) == 0 {
		return show(choiceID(i))
	}
	out.add(el("response-else", nil, show(choiceID(i))))
	return out
}

// show adds to the feedback.
func show(id string) *element {
	return set("FEEDBACK", el("multiple", nil, el("variable", []string{"identifier", "FEEDBACK"}), value("identifier", id)))
}

func set(outcome string, expression *element) *element {
	return el("set-outcome-value", []string{"identifier", outcome}, expression)
}

func value(baseType, text string) *element {
	return el("base-value", []string{"base-type", baseType}, text)
}
