package rules

import (
	"errors"
	"fmt"
	"io/fs"
	"reflect"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

const (
	maxFile    = 1 << 20
	maxNesting = 24
)

// Problem is one thing wrong in a rule file.
type Problem struct {
	File      string
	Line, Col int // 1-based
	Message   string
}

// Error gives file:line:col: message.
func (p *Problem) Error() string {
	return fmt.Sprintf("%s:%d:%d: %s", p.File, p.Line, p.Col, p.Message)
}

// loader reads the files of one set.
type loader struct {
	options  Options
	set      *Set
	zero     any // pointer to zero facts, to try texts on
	file     string
	problems []error
}

// Load reads every .yaml file at the root of files and checks the whole set.
// Every problem is reported as a [Problem], joined in one error in the order of
// the files.
func Load(files fs.FS, o Options) (*Set, error) {
	l := &loader{options: o, set: &Set{stages: slices.Clone(o.Stages), facts: factDocs(o)}, zero: reflect.New(reflect.TypeOf(o.Facts)).Interface()}
	names, err := fs.Glob(files, "*.yaml")
	if err != nil {
		return nil, err
	}
	slices.SortFunc(names, func(a, b string) int {
		// Rules name sources and misconceptions, which are read first.
		if a, b := before(a), before(b); a != b {
			return a - b
		}
		return strings.Compare(a, b)
	})
	for _, name := range names {
		src, err := fs.ReadFile(files, name)
		if err != nil {
			l.problems = append(l.problems, fmt.Errorf("read %s: %w", name, err))
			continue
		}
		l.read(name, src)
	}
	rank := func(c compiled) int { return slices.Index([]string{"safety", "quality", "note"}, c.Severity) }
	slices.SortStableFunc(l.set.rules, func(a, b compiled) int { return rank(a) - rank(b) })
	if len(l.problems) > 0 {
		return nil, errors.Join(l.problems...)
	}
	return l.set, nil
}

func before(name string) int {
	return slices.Index([]string{"sources.yaml", "misconceptions.yaml", ""}, name) & 3
}

func (l *loader) problem(n ast.Node, format string, args ...any) {
	pos := n.GetToken().Position
	l.at(pos.Line, pos.Column, format, args...)
}

func (l *loader) at(line, col int, format string, args ...any) {
	l.problems = append(l.problems, &Problem{File: l.file, Line: line, Col: col, Message: fmt.Sprintf(format, args...)})
}

func (l *loader) read(name string, src []byte) {
	l.file = name
	list := "rules"
	if before(name) < 2 {
		list = strings.TrimSuffix(name, ".yaml")
	}
	if len(src) > maxFile {
		l.at(1, 1, "the file has %d bytes; part it into files of at most %d", len(src), maxFile)
		return
	}
	if line := tooDeep(src); line > 0 {
		l.at(line, 1, "nested more than %d deep", maxNesting)
		return
	}
	parsed, err := parser.ParseBytes(src, 0)
	if err != nil {
		line, col := 1, 1
		first, _, _ := strings.Cut(err.Error(), "\n")
		if _, scan := fmt.Sscanf(first, "[%d:%d]", &line, &col); scan == nil {
			_, first, _ = strings.Cut(first, "] ")
		}
		l.at(line, col, "not readable as YAML: %s", first)
		return
	}
	if len(parsed.Docs) != 1 || parsed.Docs[0].Body == nil {
		l.at(1, 1, "expected one document with the key %s", list)
		return
	}
	top := l.mapping(parsed.Docs[0].Body, "the file", []string{list})
	if top == nil {
		return
	}
	entries, ok := top[list].(*ast.SequenceNode)
	if !ok {
		l.problem(parsed.Docs[0].Body, "expected a list under %s", list)
		return
	}
	for _, item := range entries.Values {
		switch list {
		case "sources":
			l.source(item)
		case "misconceptions":
			l.misconception(item)
		default:
			l.rule(item)
		}
	}
}

// tooDeep gives the first line whose brackets or list dashes nest beyond
// maxNesting, 0 for none: no file may lead the parser down without end.
func tooDeep(src []byte) int {
	depth := 0
	for i, line := range strings.Split(string(src), "\n") {
		lead := strings.TrimLeft(line, " \t-?:!&*")
		if dashes := len(line) - len(lead); dashes > 2*maxNesting {
			return i + 1
		}
		for _, c := range line {
			switch c {
			case '[', '{':
				depth++
			case ']', '}':
				depth = max(0, depth-1)
			}
			if depth > maxNesting {
				return i + 1
			}
		}
	}
	return 0
}

// mapping gives the values of a mapping by key; unknown and repeated keys are
// problems. Nil: the node is no mapping.
func (l *loader) mapping(n ast.Node, what string, keys []string) map[string]ast.Node {
	var values []*ast.MappingValueNode
	switch m := n.(type) {
	case *ast.MappingNode:
		values = m.Values
	case *ast.MappingValueNode:
		values = []*ast.MappingValueNode{m}
	default:
		l.problem(n, "%s: expected keys with values", what)
		return nil
	}
	out := map[string]ast.Node{}
	for _, v := range values {
		key := v.Key.GetToken().Value
		switch {
		case !slices.Contains(keys, key):
			message := fmt.Sprintf("%s: there is no key %q", what, key)
			if near := nearest(key, keys); near != "" {
				message += fmt.Sprintf("; the nearest is %q", near)
			}
			l.problem(v.Key, "%s", message)
		case out[key] != nil:
			l.problem(v.Key, "%s: %q is stated twice", what, key)
		default:
			out[key] = v.Value
		}
	}
	return out
}

// entry reads one mapping of a list, value by value.
type entry struct {
	loader *loader
	node   ast.Node
	what   string
	values map[string]ast.Node
}

var idSyntax = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

func (l *loader) entry(n ast.Node, kind string, keys []string) (*entry, bool) {
	e := &entry{loader: l, node: n, what: kind}
	before := len(l.problems)
	e.values = l.mapping(n, kind, keys)
	if e.values == nil {
		return nil, false
	}
	if id, ok := e.values["id"]; ok {
		if text, scalar := scalarText(id); scalar && idSyntax.MatchString(text) {
			e.what = kind + " " + text
		} else {
			l.problem(id, "%s: an id has small letters, digits and hyphens", kind)
		}
	} else {
		l.problem(n, "%s: needs an id", kind)
	}
	return e, len(l.problems) == before
}

func scalarText(n ast.Node) (string, bool) {
	switch v := n.(type) {
	case *ast.StringNode:
		return v.Value, true
	case *ast.LiteralNode:
		return strings.TrimSpace(v.Value.Value), true
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode:
		return v.GetToken().Value, true
	}
	return "", false
}

// text reads a key's text; needed texts may not be empty.
func (e *entry) text(key string, needed bool) string {
	n, ok := e.values[key]
	if !ok {
		if needed {
			e.loader.problem(e.node, "%s: needs %s", e.what, key)
		}
		return ""
	}
	s, scalar := scalarText(n)
	if !scalar || s == "" {
		e.loader.problem(n, "%s: %s: expected a text", e.what, key)
	}
	return s
}

// word reads a key's text that must be one of some words.
func (e *entry) word(key string, words []string) string {
	s := e.text(key, true)
	if s == "" || slices.Contains(words, s) {
		return s
	}
	e.unknown(e.values[key], key, s, words)
	return s
}

func (e *entry) unknown(n ast.Node, key, word string, words []string) {
	if near := nearest(word, words); near != "" {
		e.loader.problem(n, "%s: %s: %q is not known; the nearest is %q", e.what, key, word, near)
		return
	}
	e.loader.problem(n, "%s: %s: %q is not known", e.what, key, word)
}

// list reads a key's list of words, or a single one.
func (e *entry) list(key string, words []string) []string {
	n, ok := e.values[key]
	if !ok {
		e.loader.problem(e.node, "%s: needs %s", e.what, key)
		return nil
	}
	items := []ast.Node{n}
	if seq, ok := n.(*ast.SequenceNode); ok {
		items = seq.Values
	}
	if len(items) == 0 {
		e.loader.problem(n, "%s: %s: needs at least one", e.what, key)
	}
	var out []string
	for _, item := range items {
		s, _ := scalarText(item)
		if !slices.Contains(words, s) {
			e.unknown(item, key, s, words)
		}
		out = append(out, s)
	}
	return out
}

func (l *loader) source(n ast.Node) {
	e, _ := l.entry(n, "source", []string{"id", "title", "publisher", "edition", "part", "read", "url"})
	if e == nil {
		return
	}
	s := Source{
		ID: e.text("id", false), Title: e.text("title", true), Publisher: e.text("publisher", true), Edition: e.text("edition", true),
		Part: e.text("part", true), Read: e.word("read", []string{"two-copies", "one-copy", "from-memory"}), URL: e.text("url", false),
	}
	if _, twice := l.set.Source(s.ID); twice {
		l.problem(n, "source %s: the id is used twice", s.ID)
	}
	l.set.sources = append(l.set.sources, s)
}

func (l *loader) sourceIDs() []string {
	var ids []string
	for _, s := range l.set.sources {
		ids = append(ids, s.ID)
	}
	return ids
}

func (l *loader) misconception(n ast.Node) {
	e, _ := l.entry(n, "misconception", []string{"id", "belief", "not", "truth", "lesson", "source"})
	if e == nil {
		return
	}
	m := Misconception{
		ID: e.text("id", false), Belief: e.text("belief", true), Not: e.text("not", true), Truth: e.text("truth", true),
		Lesson: e.slug("lesson"), Source: strings.Join(e.list("source", l.sourceIDs()), ", "),
	}
	if _, twice := l.set.Misconception(m.ID); twice {
		l.problem(n, "misconception %s: the id is used twice", m.ID)
	}
	l.set.misconceptions = append(l.set.misconceptions, m)
}

func (e *entry) slug(key string) string {
	s := e.text(key, true)
	if s != "" && !idSyntax.MatchString(s) {
		e.loader.problem(e.values[key], "%s: %s: %q is no slug", e.what, key, s)
	}
	return s
}

var ruleKeys = []string{
	"id", "stage", "severity", "verdict", "field", "when", "given", "required", "says", "why",
	"lesson", "misconceptions", "source", "breaks", "keeps",
}

func (l *loader) rule(n ast.Node) {
	e, _ := l.entry(n, "rule", ruleKeys)
	if e == nil {
		return
	}
	var beliefs []string
	for _, m := range l.set.misconceptions {
		beliefs = append(beliefs, m.ID)
	}
	c := compiled{Rule: Rule{
		ID: e.text("id", false), Stage: e.word("stage", l.options.Stages), Severity: e.word("severity", []string{"safety", "quality", "note"}),
		Field: e.word("field", l.options.Fields), When: e.text("when", true),
		Says: e.text("says", true), Why: e.text("why", true), Given: e.text("given", false), Required: e.text("required", false),
		Lesson: e.slug("lesson"), Misconceptions: e.list("misconceptions", beliefs), Source: strings.Join(e.list("source", l.sourceIDs()), ", "),
		Breaks: e.examples("breaks"), Keeps: e.examples("keeps"),
		File: l.file, Line: n.GetToken().Position.Line,
	}}
	if c.Severity == "safety" {
		c.Verdict = e.word("verdict", []string{"unsafe", "no-tested-process", "fix-first"})
	} else if v, stated := e.values["verdict"]; stated {
		l.problem(v, "%s: only a safety rule has a verdict", e.what)
	}
	if _, twice := l.set.Rule(c.ID); twice {
		l.problem(n, "rule %s: the id is used twice", c.ID)
	}
	c.says, c.why, c.given, c.required = e.template("says"), e.template("why"), e.template("given"), e.template("required")
	if c.When != "" {
		var wrong []*conditionError
		c.program, wrong = l.compile(c.When)
		for _, w := range wrong {
			l.inCondition(e, w)
		}
	}
	l.set.rules = append(l.set.rules, c)
}

// inCondition places a problem of a condition in the file: at its very letter
// when the condition stands on one line.
func (l *loader) inCondition(e *entry, w *conditionError) {
	n := e.values["when"]
	pos := n.GetToken().Position
	col := pos.Column
	if s, ok := n.(*ast.StringNode); ok && !strings.Contains(s.Value, "\n") {
		col += w.column
		if origin := strings.TrimLeft(s.Token.Origin, " \t"); strings.HasPrefix(origin, `"`) || strings.HasPrefix(origin, `'`) {
			col++
		}
	}
	l.at(pos.Line, col, "%s: when: %s", e.what, w.message)
}

// examples keeps the text of a list of cases.
func (e *entry) examples(key string) []Example {
	n, ok := e.values[key]
	if !ok {
		e.loader.problem(e.node, "%s: needs %s", e.what, key)
		return nil
	}
	seq, ok := n.(*ast.SequenceNode)
	if !ok || len(seq.Values) == 0 {
		e.loader.problem(n, "%s: %s: expected a list of cases", e.what, key)
		return nil
	}
	var out []Example
	for _, item := range seq.Values {
		switch item.(type) {
		case *ast.MappingNode, *ast.MappingValueNode:
			out = append(out, Example{YAML: []byte(item.String()), Line: item.GetToken().Position.Line})
		default:
			e.loader.problem(item, "%s: %s: a case is a mapping", e.what, key)
		}
	}
	return out
}

// template reads a text with facts in it and tries it on zero facts, so that a
// name that is no fact is found now.
func (e *entry) template(key string) text {
	n, ok := e.values[key]
	if !ok {
		return text{}
	}
	s, _ := scalarText(n)
	t, err := parseText(s)
	if err == nil {
		_, err = t.write(e.loader.zero)
	}
	if err != nil {
		_, message, _ := strings.Cut(err.Error(), "text:")
		e.loader.problem(n, "%s: %s: %s", e.what, key, strings.TrimSpace(message))
	}
	return t
}

// nearest gives the known word spelled most like word, "" when none is near: at
// most two letters, or a third of them, differ (Levenshtein 1966).
func nearest(word string, known []string) string {
	if len(word) > 60 {
		return ""
	}
	best, least := "", max(2, len(word)/3)+1
	for _, k := range known {
		row := make([]int, len(k)+1)
		for j := range row {
			row[j] = j
		}
		for i := range len(word) {
			diagonal := row[0]
			row[0] = i + 1
			for j := range len(k) {
				cost := diagonal
				if word[i] != k[j] {
					cost++
				}
				diagonal, row[j+1] = row[j+1], min(cost, row[j]+1, row[j+1]+1)
			}
		}
		if row[len(k)] < least {
			best, least = k, row[len(k)]
		}
	}
	return best
}
