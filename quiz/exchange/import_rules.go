package exchange

import (
	"fmt"
	"slices"
	"strings"

	"rollingboil/quiz"
)

// How an imported item is scored.
const (
	ByMatch = "match" // right when it equals the correct response
	ByMap   = "map"   // the mapped values are summed
	ByEqual = "equal" // right when the number is within the tolerance
)

// Only a few shapes of response processing are understood, those that say nothing but
// this: right answers get points, or the mapped values are summed. All else would have
// to be guessed at, so it is refused.

// processing reads the template, or the rules. Rules go before a template (QTI 3.0
// information model, ResponseProcessing); if both are there, they must say the same.
func (r *itemReader) processing(n *node) {
	r.attributes(n, true, "template", "template-location")
	byTemplate := ""
	if n.hasAttr("template") {
		byTemplate = r.template(n)
	}
	rules := n.elements()
	if len(rules) == 0 {
		if byTemplate == "" && !r.refused {
			r.refuse(n, "there is neither a template nor a rule, so nobody knows how to score the item")
		}
		r.item.Scoring, r.item.Points = byTemplate, 1
		return
	}
	for _, rule := range rules {
		r.rule(rule)
	}
	switch {
	case r.refused:
	case r.item.Scoring == "":
		r.refuse(n, "no rule sets SCORE")
	case byTemplate != "" && (byTemplate != r.item.Scoring || r.item.Points != 1):
		r.refuse(n, "the template and the rules say different things")
	}
	if r.outcomes["SCORE"] == nil {
		r.refuse(n, "SCORE is not declared")
	}
}

func (r *itemReader) template(n *node) string {
	i := slices.IndexFunc(dialects, func(d *dialect) bool { return d.namespace == n.space })
	name := dialects[i].template(strings.TrimSpace(n.attr("template")))
	scoring := map[string]string{"match_correct": ByMatch, "map_response": ByMap}[name]
	if scoring == "" {
		r.refuse(n, "template %q is not understood; match_correct and map_response of QTI %s are", n.attr("template"), dialects[i].version)
	}
	if r.item.response != "RESPONSE" {
		r.refuse(n, "the template scores RESPONSE, and the response is called %q", r.item.response)
	}
	return scoring
}

// rule reads one rule at the top.
func (r *itemReader) rule(n *node) {
	switch {
	case n.name == "response-condition" && setsScore(n):
		r.scoreCondition(n)
	case n.name == "response-condition":
		r.feedbackCondition(n, "")
	case n.name == "set-outcome-value" && n.attr("identifier") != "SCORE":
		r.feedbackRule(n, "")
	default:
		r.refuse(n, "this <%s> is not understood", n.written)
	}
}

// setsScore reports whether anything in a rule may change SCORE, or which rules run.
func setsScore(n *node) bool {
	for c := range n.all() {
		if c.name != "" && (c.attr("identifier") == "SCORE" && c.name != "variable" || c.name == "exit-response" || c.name == "?" || c.name == "include") {
			return true
		}
	}
	return false
}

// branch is one way through a condition.
type branch struct {
	at    *node
	test  *node // nil for response-else
	rules []*node
}

// branches parts a condition. ok is false, and the item refused, if it is not built
// like one.
func (r *itemReader) branches(n *node) (list []branch, ok bool) {
	r.attributes(n, true)
	if len(n.elements()) > maxBranches {
		r.refuse(n, "more than %d branches", maxBranches)
		return nil, false
	}
	for i, c := range n.elements() {
		b := branch{at: c, rules: c.elements()}
		r.attributes(c, true)
		name := c.name
		wanted := name == "response-if" && i == 0 || (name == "response-else-if" || name == "response-else") && i > 0
		if !wanted || i > 0 && list[i-1].test == nil || name != "response-else" && len(b.rules) == 0 {
			r.refuse(c, "this <%s> is not understood", c.written)
			return nil, false
		}
		if name != "response-else" {
			b.test, b.rules = b.rules[0], b.rules[1:]
		}
		list = append(list, b)
	}
	if len(list) == 0 {
		r.refuse(n, "this <%s> is empty", n.written)
	}
	return list, len(list) > 0
}

// scoreCondition reads the condition that sets SCORE.
func (r *itemReader) scoreCondition(n *node) {
	if r.item.Scoring != "" {
		r.refuse(n, "a second rule sets SCORE")
		return
	}
	list, ok := r.branches(n)
	if !ok {
		return
	}
	worth := make([]*node, len(list)) // what SCORE is set to, nil if it is not
	var before []string
	for i, b := range list {
		when := r.when(b, &before)
		for _, rule := range b.rules {
			switch {
			case rule.name == "set-outcome-value" && rule.attr("identifier") == "SCORE" && worth[i] == nil && len(rule.elements()) == 1:
				r.attributes(rule, true, "identifier")
				worth[i] = rule.elements()[0]
			case setsScore(rule) || rule.name != "set-outcome-value":
				r.refuse(rule, "this <%s> is not understood", rule.written)
				return
			default:
				r.feedbackRule(rule, when)
			}
		}
	}
	zero := func(v *node) bool {
		if v == nil {
			return true // SCORE stays at 0
		}
		points, ok := constant(v)
		return ok && points == 0
	}
	first := list[0].test
	if first.name == "is-null" && len(list) == 2 && list[1].test == nil && r.isResponse(only(first)) && zero(worth[0]) {
		if m := worth[1]; m != nil && m.name == "map-response" && m.attr("identifier") == r.item.response {
			r.attributes(m, true, "identifier")
			r.item.Scoring, r.item.Points = ByMap, 1
			return
		}
	}
	points, isConstant := 0.0, false
	if worth[0] != nil {
		points, isConstant = constant(worth[0])
	}
	if slices.ContainsFunc(worth[1:], func(v *node) bool { return !zero(v) }) || !isConstant || points <= 0 {
		r.refuse(n, "this rule for SCORE is not understood; one that gives points to the right answer and 0 to all others is, or one that gives the mapped values and 0 for none")
		return
	}
	if r.isRight(first) {
		r.item.Points = points
	} else {
		r.refuse(first, "this <%s> is not understood; an answer that is right matches the correct response, or equals a number", first.written)
	}
}

// only is the one element in another, nil if there is not exactly one.
func only(n *node) *node {
	if list := n.elements(); len(list) == 1 {
		return list[0]
	}
	return nil
}

func (r *itemReader) isResponse(n *node) bool {
	return n != nil && n.name == "variable" && n.attr("identifier") == r.item.response && len(n.attrs) == 1
}

func (r *itemReader) isCorrect(n *node) bool {
	return n != nil && n.name == "correct" && n.attr("identifier") == r.item.response && len(n.attrs) == 1
}

// constant reads a number that is written out.
func constant(n *node) (float64, bool) {
	if n.name != "base-value" || n.attr("base-type") != "float" && n.attr("base-type") != "integer" {
		return 0, false
	}
	return parseFloat(n.plain())
}

// isRight reads a test for the right answer, and keeps how it is made.
func (r *itemReader) isRight(n *node) bool {
	sides := n.elements()
	if len(sides) != 2 {
		return false
	}
	turned := r.isResponse(sides[1])
	response, key := sides[0], sides[1]
	if turned {
		response, key = key, response
	}
	if !r.isResponse(response) {
		return false
	}
	if v, ok := constant(key); ok && r.item.Kind == quiz.Number {
		// The key stands in the rule. One that is declared, too, must be the same.
		declared := r.item.Correct
		if len(declared) > 1 {
			return false
		}
		if len(declared) == 1 {
			if d, ok := parseFloat(declared[0]); !ok || d != v {
				r.refuse(key, "the rule takes %v for right, and the correct response is %s", v, declared[0])
				return true
			}
		}
		r.item.Correct = []string{line(key.plain())}
	} else if !r.isCorrect(key) {
		return false
	}
	switch n.name {
	case "match":
		r.attributes(n, true)
		r.item.Scoring = ByMatch
		return true
	case "equal":
		if r.item.Kind != quiz.Number {
			return false
		}
		r.item.Scoring = ByEqual
		r.item.Tolerance = r.tolerance(n, !turned)
		return true
	}
	return false
}

// tolerance reads how near is near enough.
func (r *itemReader) tolerance(n *node, aroundAnswer bool) *Tolerance {
	r.attributes(n, true, "tolerance-mode", "tolerance", "include-lower-bound", "include-upper-bound")
	t := &Tolerance{
		Mode:         r.word(n, "tolerance-mode", "exact", "exact", "absolute", "relative"),
		AroundAnswer: aroundAnswer,
		OpenBelow:    r.word(n, "include-lower-bound", "true", "true", "false") == "false",
		OpenAbove:    r.word(n, "include-upper-bound", "true", "true", "false") == "false",
	}
	parts := strings.Fields(n.attr("tolerance"))
	if t.Mode == "exact" {
		if len(parts) > 0 {
			r.refuse(n, "<%s>: a tolerance without a mode; write absolute or relative", n.written)
		}
		return t
	}
	if len(parts) != 1 && len(parts) != 2 {
		r.refuse(n, "<%s>: tolerance is %q; it is one number, or two", n.written, n.attr("tolerance"))
		return t
	}
	for i, part := range parts {
		v, ok := parseFloat(part)
		if !ok || v < 0 {
			r.refuse(n, "<%s>: tolerance is %q; it is one number, or two, and none below 0", n.written, n.attr("tolerance"))
		}
		if i == 0 {
			t.Below = v
		}
		t.Above = v
	}
	return t
}

// expressions are those that feedback rules may use; none of them changes a score.
var expressions = []string{"variable", "correct", "base-value", "multiple", "ordered", "match", "equal", "member", "contains", "is-null", "not", "and", "or", "null"}

// feedbackCondition reads a condition that sets no score.
func (r *itemReader) feedbackCondition(n *node, outer string) {
	list, ok := r.branches(n)
	if !ok {
		return
	}
	var before []string
	for _, b := range list {
		when := joined(outer, r.when(b, &before))
		for _, rule := range b.rules {
			switch rule.name {
			case "set-outcome-value":
				r.feedbackRule(rule, when)
			case "response-condition":
				r.feedbackCondition(rule, when)
			default:
				r.refuse(rule, "this <%s> is not understood", rule.written)
			}
		}
	}
}

// feedbackRule notes which feedback a rule shows, and when.
func (r *itemReader) feedbackRule(n *node, when string) {
	outcome, e := n.attr("identifier"), only(n)
	if r.outcomes[outcome] == nil {
		r.note(n, "outcome %q is not declared", outcome)
	}
	if e == nil {
		r.note(n, "this <%s> is not understood", n.written)
		return
	}
	parts := []*node{e}
	if e.name == "multiple" {
		parts = e.elements()
	}
	for _, part := range parts {
		switch {
		case part.name == "base-value" && part.attr("base-type") == "identifier":
			r.shown = append(r.shown, shows{outcome, line(part.plain()), false, when})
		case part.name == "variable" && part.attr("identifier") == r.item.response:
			r.shown = append(r.shown, shows{outcome, "", true, when})
		case part.name == "variable" && part.attr("identifier") == outcome:
		default:
			r.note(part, "<%s> in the value of %s is not understood", part.written, outcome)
		}
	}
}

// when says in words which answers a branch is for. before collects what the branches
// before it were for.
func (r *itemReader) when(b branch, before *[]string) string {
	said := cut("not (" + strings.Join(*before, "; or ") + ")")
	if b.test == nil {
		if len(*before) == 1 && (*before)[0] == whenRight {
			return "the answer is wrong"
		}
		return said
	}
	this := r.says(b.test)
	if len(*before) == 0 || strings.HasPrefix(this, "the answer is ") {
		said = this
	} else {
		said = joined(said, this)
	}
	*before = append(*before, this)
	return said
}

const whenRight = "the answer is right"

// says puts a test into words.
func (r *itemReader) says(n *node) string {
	sides := n.elements()
	known := !slices.ContainsFunc(slices.Collect(n.all()), func(c *node) bool { return c.name != "" && !slices.Contains(expressions, c.name) })
	if known && len(sides) == 2 && (n.name == "match" || n.name == "equal") {
		answer, other := sides[0], sides[1]
		if r.isResponse(other) {
			answer, other = other, answer
		}
		switch {
		case r.isResponse(answer) && r.isCorrect(other):
			return whenRight
		case r.isResponse(answer) && other.name == "base-value":
			return cut("the answer is " + line(other.plain()))
		}
	}
	switch {
	case known && len(sides) == 2 && n.name == "member" && sides[0].name == "base-value" && r.isResponse(sides[1]):
		return cut("the answer has " + line(sides[0].plain()))
	case known && n.name == "is-null" && r.isResponse(only(n)):
		return "there is no answer"
	}
	r.note(n, "this <%s> is not understood, so it is not known when feedback is shown", n.written)
	return fmt.Sprintf("what line %d says", n.line)
}

func joined(outer, inner string) string {
	if outer == "" || inner == "" {
		return outer + inner
	}
	return cut(outer + " and " + inner)
}
