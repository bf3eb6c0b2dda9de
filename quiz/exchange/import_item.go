package exchange

import (
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rollingboil/quiz"
)

// Text is the kind of an imported item whose answer is a text that is typed in. This
// course has no such questions.
const Text = "text"

// ImportedItem is an item as it was read. Answers are named as in the item: by the
// identifier of a choice, by "SOURCE TARGET" for a pair, or by what is typed.
type ImportedItem struct {
	File       string `json:"file"`
	Line       int    `json:"line"`
	Identifier string `json:"identifier"`
	Title      string `json:"title"`
	Kind       string `json:"kind"` // a kind of package quiz, or Text
	Stem       string `json:"stem"` // a line for each block, ____ for the gap to type in

	Options []ImportedOption `json:"options,omitempty"` // choices, or the sources of a match
	Withs   []ImportedOption `json:"withs,omitempty"`   // the targets of a match

	Scoring   string     `json:"scoring"` // ByMatch, ByMap or ByEqual
	Points    float64    `json:"points"`  // of a right answer; 1 with ByMap
	Correct   []string   `json:"correct,omitempty"`
	Mapping   *Mapping   `json:"mapping,omitempty"`
	Tolerance *Tolerance `json:"tolerance,omitempty"`
	MaxScore  *float64   `json:"max_score,omitempty"` // as declared

	Feedback []ImportedFeedback `json:"feedback,omitempty"` // other than that of an option
	Rubric   string             `json:"rubric,omitempty"`   // for those who score
	Pictures []string           `json:"pictures,omitempty"` // references, relative to File

	response    string // identifier of the response
	cardinality string
	baseType    string
}

// ImportedOption is something to choose.
type ImportedOption struct {
	Identifier string `json:"identifier"`
	Text       string `json:"text"`
	Feedback   string `json:"feedback,omitempty"`
	Most       int    `json:"most,omitempty"` // match: of how many pairs it may be part; 0 for any number
}

// ImportedFeedback is what is said of an answer.
type ImportedFeedback struct {
	Identifier string `json:"identifier"`
	When       string `json:"when"` // in words
	Text       string `json:"text"`
}

var (
	identifierForm = regexp.MustCompile(`^[\pL_][\pL\pN_.-]*$`)
	floatForm      = regexp.MustCompile(`^[-+]?([0-9]+(\.[0-9]*)?|\.[0-9]+)([eE][-+]?[0-9]+)?$`)
)

// itemReader reads one item.
type itemReader struct {
	file    string
	in      *importer
	item    ImportedItem
	refused bool

	responses   []*node
	outcomes    map[string]*node
	interaction *node
	given       *node // correct-response
	shown       []shows
	lenient     bool // what is read now has no bearing on the score
}

// note tells what was not understood and does not change the score.
func (r *itemReader) note(n *node, format string, args ...any) {
	r.in.note(r.file, n.line, format, args...)
}

// refuse tells what was not understood, or is wrong, and might change the score.
func (r *itemReader) refuse(n *node, format string, args ...any) {
	r.refused = true
	r.in.note(r.file, n.line, format, args...)
}

// readItem reads an item, or leaves it out.
func (in *importer) readItem(file string, root *node) {
	r := &itemReader{file: file, in: in, outcomes: map[string]*node{}}
	if root.name != "assessment-item" {
		r.refuse(root, "<%s> in namespace %q is no item of QTI %s or %s", root.written, root.space, QTI30, QTI22)
	} else {
		r.item = ImportedItem{File: file, Line: root.line, Identifier: root.attr("identifier"), Title: line(root.attr("title"))}
		r.read(root)
	}
	if r.refused {
		in.out.Left = append(in.out.Left, LeftOut{file, root.attr("identifier")})
		return
	}
	in.out.Items = append(in.out.Items, r.item)
}

// attributes notes attributes beyond those that are understood; with strict it
// refuses the item for one.
func (r *itemReader) attributes(n *node, strict bool, known ...string) {
	for _, a := range n.attrs {
		switch {
		case slices.Contains(known, a.name):
		case slices.Contains([]string{"id", "class", "label", "xml:lang", "dir", "role"}, a.name):
		case strings.HasPrefix(a.name, "data-"), strings.HasPrefix(a.name, "aria-"):
		case strict:
			r.refuse(n, "<%s>: attribute %s is not understood", n.written, a.written)
		default:
			r.note(n, "<%s>: attribute %s is not understood", n.written, a.written)
		}
	}
}

// identifier reads an attribute that names something.
func (r *itemReader) identifier(n *node, attribute string) string {
	id := n.attr(attribute)
	if !identifierForm.MatchString(id) {
		r.refuse(n, "<%s>: %s is %q; it begins with a letter and has letters, digits and _ - . only", n.written, attribute, id)
	}
	return id
}

// word reads an attribute that is one of a list of words.
func (r *itemReader) word(n *node, attribute, otherwise string, words ...string) string {
	word := n.attr(attribute)
	if word == "" {
		word = otherwise
	}
	if !slices.Contains(words, word) {
		r.refuse(n, "<%s>: %s is %q; this program reads %s", n.written, attribute, word, strings.Join(words, ", "))
	}
	return word
}

// number reads an attribute that is a number; nil if it is not there.
func (r *itemReader) number(n *node, attribute string) *float64 {
	if !n.hasAttr(attribute) {
		return nil
	}
	v, ok := parseFloat(n.attr(attribute))
	if !ok {
		r.refuse(n, "<%s>: %s is %q, which is no number", n.written, attribute, n.attr(attribute))
	}
	return &v
}

// count reads an attribute that is a whole number from 0.
func (r *itemReader) count(n *node, attribute string, otherwise int) int {
	if !n.hasAttr(attribute) {
		return otherwise
	}
	v, err := strconv.ParseUint(n.attr(attribute), 10, 31)
	if err != nil {
		r.refuse(n, "<%s>: %s is %q; it is a whole number from 0", n.written, attribute, n.attr(attribute))
	}
	return int(v)
}

// few refuses an item with more of something than anybody asks for.
func (r *itemReader) few(n *node, count int) {
	if count > maxValues {
		r.refuse(n, "more than %d of them", maxValues)
	}
}

// parseFloat reads a number as XML writes it, without the infinite ones.
func parseFloat(s string) (float64, bool) {
	s = strings.TrimSpace(s)
	if !floatForm.MatchString(s) {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

func (r *itemReader) read(root *node) {
	r.identifier(root, "identifier")
	if !root.hasAttr("title") {
		r.note(root, "<%s>: title is missing", root.written)
	}
	r.attributes(root, false, "identifier", "title", "adaptive", "time-dependent", "tool-name", "tool-version")
	if r.word(root, "adaptive", "false", "false", "true") == "true" {
		r.refuse(root, "the item is adaptive: it is scored over several attempts")
	}
	var bodies, processing, feedback []*node
	for _, n := range root.children {
		switch n.name {
		case "":
			if line(n.text) != "" {
				r.note(n, "%.40q stands outside of the body", line(n.text))
			}
		case "response-declaration":
			r.responses = append(r.responses, n)
		case "outcome-declaration":
			r.outcome(n)
		case "item-body":
			bodies = append(bodies, n)
		case "response-processing":
			processing = append(processing, n)
		case "modal-feedback":
			feedback = append(feedback, n)
		case "template-declaration", "template-processing":
			r.refuse(n, "<%s>: the item is a template; write out its variants as items", n.written)
		case "stylesheet", "catalog-info", "companion-materials-info":
			r.note(n, "<%s> is not read", n.written)
		default:
			r.refuse(n, "<%s> is not understood", n.written)
		}
	}
	switch {
	case len(r.responses) != 1:
		r.refuse(root, "%d response declarations; this program reads items with one", len(r.responses))
	case len(bodies) != 1:
		r.refuse(root, "%d item bodies; an item has one", len(bodies))
	case len(processing) != 1:
		r.refuse(root, "%d times response processing; without exactly one nobody knows how to score the item", len(processing))
	}
	if r.refused {
		return
	}
	r.response(r.responses[0])
	r.body(bodies[0])
	if r.refused {
		return
	}
	r.processing(processing[0])
	r.modalFeedback(feedback)
	r.values()
}

// outcome reads a declaration. A score that does not begin at 0 is refused.
func (r *itemReader) outcome(n *node) {
	id := r.identifier(n, "identifier")
	if r.outcomes[id] != nil {
		r.refuse(n, "outcome %s is declared twice", id)
	}
	r.outcomes[id] = n
	strict := id == "SCORE"
	r.attributes(n, strict, "identifier", "cardinality", "base-type", "normal-maximum", "normal-minimum", "view", "interpretation", "mastery-value", "external-scored", "long-interpretation", "variable-identifier-ref")
	var begins *float64
	for _, c := range n.elements() {
		if c.name != "default-value" {
			if strict {
				r.refuse(c, "<%s> of SCORE is not understood", c.written)
			} else {
				r.note(c, "<%s> of %s is not understood", c.written, id)
			}
			continue
		}
		if v, ok := parseFloat(c.plain()); ok && (id == "SCORE" || id == "MAXSCORE") {
			begins = &v
		} else if strict {
			r.refuse(c, "SCORE begins with %q, which is no number", line(c.plain()))
		}
	}
	switch id {
	case "SCORE":
		r.word(n, "cardinality", "", "single")
		r.word(n, "base-type", "", "float", "integer")
		if begins != nil && *begins != 0 {
			r.refuse(n, "SCORE begins with %v; this program reads items that begin with 0", *begins)
		}
		if n.hasAttr("external-scored") && n.attr("external-scored") != "none" {
			r.refuse(n, "SCORE is given by somebody else: external-scored is %q", n.attr("external-scored"))
		}
	case "MAXSCORE":
		r.item.MaxScore = begins
	}
}

// response reads what an answer is, and the key.
func (r *itemReader) response(n *node) {
	r.item.response = r.identifier(n, "identifier")
	r.attributes(n, true, "identifier", "cardinality", "base-type")
	r.item.cardinality = r.word(n, "cardinality", "", "single", "multiple", "ordered")
	r.item.baseType = r.word(n, "base-type", "", "identifier", "directedPair", "float", "integer", "string")
	for _, c := range n.elements() {
		switch {
		case c.name == "correct-response" && r.given == nil:
			r.given = c
			r.attributes(c, true, "interpretation")
			for _, v := range c.elements() {
				if v.name != "value" {
					r.refuse(v, "<%s> is not understood", v.written)
				}
				r.attributes(v, true)
				text := v.plain()
				if r.item.baseType != "string" {
					text = line(text)
				}
				r.item.Correct = append(r.item.Correct, text)
			}
			r.few(c, len(r.item.Correct))
		case c.name == "mapping" && r.item.Mapping == nil:
			r.mapping(c)
		default:
			r.refuse(c, "<%s> of the response is not understood, or stands twice", c.written)
		}
	}
}

// mapping reads what each value is worth.
func (r *itemReader) mapping(n *node) {
	r.attributes(n, true, "default-value", "lower-bound", "upper-bound")
	m := &Mapping{Lower: r.number(n, "lower-bound"), Upper: r.number(n, "upper-bound")}
	if d := r.number(n, "default-value"); d != nil {
		m.Default = *d
	}
	if m.Lower != nil && m.Upper != nil && *m.Lower > *m.Upper {
		r.refuse(n, "lower-bound %v is above upper-bound %v", *m.Lower, *m.Upper)
	}
	if r.few(n, len(n.elements())); r.refused {
		return
	}
	for _, c := range n.elements() {
		if c.name != "map-entry" {
			r.refuse(c, "<%s> is not understood", c.written)
			continue
		}
		r.attributes(c, true, "map-key", "mapped-value", "case-sensitive")
		worth := r.number(c, "mapped-value")
		if worth == nil || !c.hasAttr("map-key") {
			r.refuse(c, "<%s> needs a key and a value", c.written)
			continue
		}
		e := MapEntry{Key: c.attr("map-key"), Worth: *worth, AnyCase: r.word(c, "case-sensitive", "true", "true", "false") == "false"}
		if r.item.baseType != "string" {
			e.Key = line(e.Key)
		}
		if slices.ContainsFunc(m.Entries, func(before MapEntry) bool { return before.Key == e.Key }) {
			r.refuse(c, "%q is mapped twice", e.Key)
		}
		m.Entries = append(m.Entries, e)
	}
	if len(m.Entries) == 0 {
		r.refuse(n, "the mapping is empty")
	}
	r.item.Mapping = m
}

// body reads the question and what is offered.
func (r *itemReader) body(n *node) {
	var stem, rubric text
	r.flow(n, &stem, &rubric)
	r.item.Stem, r.item.Rubric = stem.String(), rubric.String()
	if r.interaction == nil {
		if !r.refused {
			r.refuse(n, "there is no interaction in the body")
		}
		return
	}
	if id := r.interaction.attr("response-identifier"); id != r.item.response {
		r.refuse(r.interaction, "response-identifier is %q, and the response that is declared is %q", id, r.item.response)
	}
}

// text collects what can be read, a line for each block.
type text struct {
	lines []string
	last  strings.Builder
}

func (t *text) say(s string) { t.last.WriteString(s) }

// end begins a new line, if there is anything on the last.
func (t *text) end() {
	if s := line(t.last.String()); s != "" {
		t.lines = append(t.lines, s)
	}
	t.last.Reset()
}

func (t *text) String() string {
	t.end()
	return strings.Join(t.lines, "\n")
}

var blocks = []string{"p", "div", "ul", "ol", "li", "dl", "dt", "dd", "table", "caption", "thead", "tbody", "tfoot", "tr", "blockquote", "pre", "section", "article", "header", "footer", "figure", "figcaption", "address", "h1", "h2", "h3", "h4", "h5", "h6", "hr", "br"}

// flow reads text and what stands in it. Interactions are read where they stand; a
// nil rubric says that only text may be there.
func (r *itemReader) flow(n *node, out, rubric *text) {
	for _, c := range n.children {
		switch {
		case c.name == "":
			out.say(c.text)
		case c.name == "img":
			r.picture(c, c.attr("src"), c.attr("alt"), out)
		case c.name == "object" && strings.HasPrefix(c.attr("type"), "image/"):
			r.picture(c, c.attr("data"), line(c.plain()), out)
		case c.name == "sup":
			out.say("^")
			r.flow(c, out, rubric)
		case c.name == "td" || c.name == "th":
			out.say(" ")
			r.flow(c, out, rubric)
			out.say(" ")
		case slices.Contains(blocks, c.name):
			out.end()
			r.flow(c, out, rubric)
			out.end()
		case slices.Contains(html, c.name), c.name == "content-body":
			r.flow(c, out, rubric)
		case rubric != nil && c.name == "rubric-block":
			r.rubric(c, out, rubric)
		case rubric != nil && strings.HasSuffix(c.name, "-interaction"):
			r.interact(c, out)
		case r.lenient:
			r.note(c, "<%s> is not understood", c.written)
		default:
			r.refuse(c, "<%s> is not understood", c.written)
		}
	}
}

func (r *itemReader) picture(n *node, reference, alt string, out *text) {
	if reference == "" {
		r.refuse(n, "<%s>: a picture without a file", n.written)
	}
	if line(alt) == "" {
		r.note(n, "<%s>: the picture %s has no words", n.written, reference)
		alt = reference
	}
	r.item.Pictures = append(r.item.Pictures, reference)
	out.say(" [picture: " + line(alt) + "] ")
}

// rubric reads a block for those who score, or for those who answer.
func (r *itemReader) rubric(n *node, out, rubric *text) {
	r.attributes(n, false, "use", "view")
	if slices.Contains(strings.Fields(n.attr("view")), "candidate") || !n.hasAttr("view") {
		rubric = out
	}
	rubric.end()
	r.flow(n, rubric, nil)
	rubric.end()
}

// plainText reads what must be text: a choice, a prompt, feedback.
func (r *itemReader) plainText(n *node) string {
	var t text
	r.flow(n, &t, nil)
	return t.String()
}

// kindOf tells the kind of an item by its interaction and by what an answer is.
var kindOf = map[string]string{
	"choice-interaction/single/identifier":    quiz.Choice,
	"choice-interaction/multiple/identifier":  quiz.Choices,
	"order-interaction/ordered/identifier":    quiz.Order,
	"match-interaction/multiple/directedPair": quiz.Match,
	"text-entry-interaction/single/float":     quiz.Number,
	"text-entry-interaction/single/integer":   quiz.Number,
	"text-entry-interaction/single/string":    Text,
}

// interact reads the one interaction.
func (r *itemReader) interact(n *node, out *text) {
	if r.interaction != nil {
		r.refuse(n, "<%s> is a second interaction; this program reads items with one", n.written)
		return
	}
	r.interaction = n
	r.item.Kind = kindOf[n.name+"/"+r.item.cardinality+"/"+r.item.baseType]
	if r.item.Kind == "" {
		r.refuse(n, "<%s> with a response of cardinality %s and base type %s is not understood", n.written, r.item.cardinality, r.item.baseType)
		return
	}
	switch n.name {
	case "choice-interaction", "order-interaction":
		r.choices(n, out)
	case "match-interaction":
		r.matchSets(n, out)
	default:
		r.attributes(n, true, "response-identifier", "expected-length", "pattern-mask", "placeholder-text", "base")
		if r.count(n, "base", 10) != 10 {
			r.refuse(n, "numbers with the base %s are not read", n.attr("base"))
		}
		out.say("____")
	}
}

func (r *itemReader) choices(n *node, out *text) {
	r.attributes(n, true, "response-identifier", "shuffle", "max-choices", "min-choices", "orientation")
	most, least := r.count(n, "max-choices", 1), r.count(n, "min-choices", 0)
	if r.item.Kind == quiz.Choice && (most != 1 || least > 1) {
		r.refuse(n, "<%s>: max-choices is %d, but the response has the cardinality single", n.written, most)
	}
	for _, c := range n.children {
		switch c.name {
		case "":
			if line(c.text) != "" {
				r.refuse(c, "%.40q stands between the choices", line(c.text))
			}
		case "prompt":
			out.end()
			out.say(r.plainText(c))
			out.end()
		case "simple-choice":
			r.attributes(c, true, "identifier", "fixed")
			r.offer(c, &r.item.Options, 0)
		default:
			r.refuse(c, "<%s> is not understood", c.written)
		}
	}
	if len(r.item.Options) < 2 {
		r.refuse(n, "%d choices; there must be two at least", len(r.item.Options))
	}
}

func (r *itemReader) offer(n *node, to *[]ImportedOption, most int) {
	if r.few(n, len(r.item.Options)+len(r.item.Withs)+1); r.refused {
		return
	}
	o := ImportedOption{Identifier: r.identifier(n, "identifier"), Text: r.plainText(n), Most: most}
	same := func(before ImportedOption) bool { return before.Identifier == o.Identifier }
	if slices.ContainsFunc(r.item.Options, same) || slices.ContainsFunc(r.item.Withs, same) {
		r.refuse(n, "identifier %q stands twice", o.Identifier)
	}
	*to = append(*to, o)
}

func (r *itemReader) matchSets(n *node, out *text) {
	r.attributes(n, true, "response-identifier", "shuffle", "max-associations", "min-associations")
	r.count(n, "max-associations", 1)
	sets := []*[]ImportedOption{&r.item.Options, &r.item.Withs}
	seen := 0
	for _, c := range n.children {
		switch {
		case c.name == "":
			if line(c.text) != "" {
				r.refuse(c, "%.40q stands between the sets", line(c.text))
			}
		case c.name == "prompt":
			out.end()
			out.say(r.plainText(c))
			out.end()
		case c.name == "simple-match-set" && seen < 2:
			r.attributes(c, true)
			for _, choice := range c.elements() {
				if choice.name != "simple-associable-choice" {
					r.refuse(choice, "<%s> is not understood", choice.written)
					continue
				}
				r.attributes(choice, true, "identifier", "fixed", "match-max", "match-min")
				if !choice.hasAttr("match-max") {
					r.refuse(choice, "<%s>: match-max is missing", choice.written)
				}
				r.offer(choice, sets[seen], r.count(choice, "match-max", 0))
			}
			seen++
		default:
			r.refuse(c, "<%s> is not understood, or one too many", c.written)
		}
	}
	if len(r.item.Options) == 0 || len(r.item.Withs) == 0 {
		r.refuse(n, "a match needs two sets with something in them")
	}
}

// modalFeedback reads what is said after an answer, and joins it with the rules that
// show it.
func (r *itemReader) modalFeedback(list []*node) {
	if len(list) > maxValues {
		r.refuse(list[maxValues], "more than %d pieces of feedback", maxValues)
		return
	}
	r.lenient = true
	for _, n := range list {
		r.attributes(n, false, "outcome-identifier", "identifier", "show-hide", "title")
		f := ImportedFeedback{Identifier: n.attr("identifier"), Text: r.plainText(n)}
		if show := n.attr("show-hide"); show != "show" {
			r.note(n, "feedback %s: show-hide is %q; only feedback to show is read", f.Identifier, show)
			continue
		}
		var when []string
		chosen := false
		for _, s := range r.shown {
			switch {
			case s.outcome != n.attr("outcome-identifier"):
			case s.chosen:
				chosen = chosen || s.when == ""
			case s.identifier == f.Identifier && len(when) < 10: // more are not told
				when = append(when, s.when)
			}
		}
		i := slices.IndexFunc(r.item.Options, func(o ImportedOption) bool { return o.Identifier == f.Identifier })
		switch {
		case chosen && i >= 0:
			r.item.Options[i].Feedback = f.Text
		case len(when) == 0:
			r.note(n, "feedback %s: no rule that is understood shows it", f.Identifier)
		default:
			f.When = cut(strings.Join(when, "; or "))
			if slices.Contains(when, "") {
				f.When = "always"
			}
			r.item.Feedback = append(r.item.Feedback, f)
		}
	}
}

// values holds the key and the mapping against what is offered.
func (r *itemReader) values() {
	n := r.responses[0]
	item := &r.item
	for i, v := range item.Correct {
		if slices.Contains(item.Correct[:i], v) {
			r.refuse(r.given, "the correct value %q stands twice", v)
		}
		if fault := item.fault(v); fault != "" {
			r.refuse(r.given, "the correct value %q: %s", v, fault)
		}
	}
	if item.cardinality == "single" && len(item.Correct) > 1 {
		r.refuse(r.given, "%d correct values for a response of cardinality single", len(item.Correct))
	}
	if item.Mapping != nil {
		for _, e := range item.Mapping.Entries {
			if fault := item.fault(e.Key); fault != "" {
				r.refuse(n, "the mapped value %q: %s", e.Key, fault)
			}
		}
	}
	switch {
	case item.Scoring == ByMap && item.Mapping == nil:
		r.refuse(n, "it is scored by a mapping, and there is none")
	case item.Scoring != ByMap && item.Scoring != "" && len(item.Correct) == 0:
		r.refuse(n, "it is scored by the correct response, and there is none")
	}
}

// fault says why a value cannot be an answer, empty if it can be one.
func (item *ImportedItem) fault(value string) string {
	known := func(list []ImportedOption, id string) bool {
		return slices.ContainsFunc(list, func(o ImportedOption) bool { return o.Identifier == id })
	}
	switch item.baseType {
	case "identifier":
		if !known(item.Options, value) {
			return "it is not among the choices"
		}
	case "directedPair":
		pair := strings.Fields(value)
		if len(pair) != 2 || !known(item.Options, pair[0]) || !known(item.Withs, pair[1]) {
			return `it is no pair "SOURCE TARGET" of what is offered`
		}
	case "float":
		if _, ok := parseFloat(value); !ok {
			return "it is no number"
		}
	case "string":
		if value == "" {
			return "it is empty"
		}
	case "integer":
		if _, err := strconv.ParseInt(value, 10, 64); err != nil {
			return "it is no whole number"
		}
	}
	return ""
}

// shows is a rule that shows feedback: that with an identifier, or that of what was
// chosen.
type shows struct {
	outcome, identifier string
	chosen              bool
	when                string // in words; empty for always
}
