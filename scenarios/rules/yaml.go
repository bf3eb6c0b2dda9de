package rules

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/goccy/go-yaml"
	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

const (
	// maxFile bounds what is parsed, in bytes; a real rule file has about 10 000.
	maxFile = 1 << 18
	// maxNesting bounds brackets and list dashes within each other, so that no
	// file can exhaust the parser's stack.
	maxNesting = 64
)

// A reader reads the parts of one YAML file and notes every mistake it meets.
type reader struct {
	file     string
	lines    [][]rune
	problems *[]problem
}

// readFile parses a file and gives the list that stands under its only key. It
// gives nil when there is no such list, having noted why.
func readFile(file string, source []byte, key string, problems *[]problem) (*reader, []ast.Node) {
	text := strings.ReplaceAll(strings.TrimPrefix(string(source), "\ufeff"), "\r\n", "\n")
	r := &reader{file: file, problems: problems}
	for line := range strings.SplitSeq(text, "\n") {
		r.lines = append(r.lines, []rune(line))
	}
	if len(text) > maxFile {
		r.problem(r.at(1, 1), "", "the file has %d bytes; at most %d are read", len(text), maxFile)
		return r, nil
	}
	if line := tooDeep(text); line > 0 {
		r.problem(r.at(line, 1), "", "brackets or dashes nest more than %d deep", maxNesting)
		return r, nil
	}
	parsed, err := parser.ParseBytes([]byte(text), 0, parser.AllowDuplicateMapKey()) // record reports repeated keys
	if err != nil {
		at, message := r.at(1, 1), err.Error()
		if located, ok := errors.AsType[yaml.Error](err); ok {
			at, message = r.at(located.GetToken().Position.Line, located.GetToken().Position.Column), located.GetMessage()
		}
		r.problem(at, "", "not readable as YAML: %s", message)
		return r, nil
	}
	var bodies []ast.Node
	for _, doc := range parsed.Docs {
		if doc.Body != nil {
			bodies = append(bodies, doc.Body)
		}
	}
	if len(bodies) != 1 {
		r.problem(r.at(1, 1), "", "expected one document with the key %s, found %d documents", key, len(bodies))
		return r, nil
	}
	top, ok := r.record(bodies[0], "", 0, []string{key})
	if !ok {
		return r, nil
	}
	return r, top.items(key)
}

// tooDeep gives the first line whose brackets or leading dashes nest beyond
// maxNesting, or 0. Brackets within quotes count too: no rule comes near.
func tooDeep(text string) int {
	brackets, dashes, line, atStart := 0, 0, 1, true
	for _, c := range text {
		switch c {
		case '\n':
			line++
			dashes, atStart = 0, true
			continue
		case ' ', '\t':
			continue
		case '[', '{':
			brackets++
		case ']', '}':
			brackets = max(0, brackets-1)
		}
		atStart = atStart && strings.ContainsRune("-?:", c)
		if atStart {
			dashes++
		}
		if brackets > maxNesting || dashes > maxNesting {
			return line
		}
	}
	return 0
}

func (r *reader) problem(at place, subject, format string, args ...any) {
	*r.problems = append(*r.problems, problem{at: at, subject: subject, message: fmt.Sprintf(format, args...)})
}

func (r *reader) at(line, col int) place { return place{file: r.file, line: line, col: col} }

// start is where a node begins: a block mapping at its first key.
func (r *reader) start(n ast.Node) place {
	token := n.GetToken()
	if m, ok := n.(*ast.MappingNode); ok && !m.IsFlowStyle && len(m.Values) > 0 {
		token = m.Values[0].Key.GetToken()
	}
	return r.at(token.Position.Line, token.Position.Column)
}

// A record is one mapping with a known set of keys: a rule, a source or the
// file as a whole.
type record struct {
	*reader
	subject string // "rule time-short"
	at      place
	entries map[string]entry
}

// An entry is the value of one key.
type entry struct {
	node ast.Node
	at   place
}

// record reads a mapping and notes unknown and repeated keys. noun and count
// name it in messages until its id is known.
func (r *reader) record(n ast.Node, noun string, count int, keys []string) (record, bool) {
	rec := record{reader: r, at: r.start(n), entries: map[string]entry{}}
	if noun != "" {
		rec.subject = fmt.Sprintf("%s number %d", noun, count)
	}
	mapping, ok := n.(*ast.MappingNode)
	if !ok {
		r.problem(rec.at, rec.subject, "expected keys with values: %s", strings.Join(keys, ", "))
		return rec, false
	}
	for _, pair := range mapping.Values {
		if key, _ := scalar(pair.Key); key == "id" && noun != "" {
			if id, _ := scalar(pair.Value); id != "" {
				rec.subject = noun + " " + id
				break
			}
		}
	}
	for _, pair := range mapping.Values {
		at := r.start(pair.Key)
		key, plain := scalar(pair.Key)
		_, again := rec.entries[key]
		switch {
		case !plain:
			r.problem(at, rec.subject, "a key must be a plain word")
		case !slices.Contains(keys, key):
			r.problem(at, rec.subject, "there is no key %q%s", key, insteadOf(key, keys))
		case again:
			r.problem(at, rec.subject, "%s is stated twice: keep one", key)
		default:
			rec.entries[key] = entry{node: pair.Value, at: r.start(pair.Value)}
		}
	}
	return rec, true
}

// text reads an obligatory text; hint says what to write when it is missing.
func (r record) text(key, hint string) string {
	e, stated := r.entries[key]
	if !stated {
		r.problem(r.at, r.subject, "%s is missing: write %s", key, hint)
		return ""
	}
	text, ok := scalar(e.node)
	switch {
	case !ok:
		r.problem(e.at, r.subject, "%s must be one text: write %s", key, hint)
	case text == "":
		r.problem(e.at, r.subject, "%s is empty: write %s", key, hint)
	}
	return text
}

// optional reads a text that may be left out, but not left empty.
func (r record) optional(key, hint string) string {
	if _, stated := r.entries[key]; !stated {
		return ""
	}
	return r.text(key, hint)
}

// oneOf reads an obligatory word from a list.
func (r record) oneOf(key string, known []string) string {
	text := r.text(key, "one of "+strings.Join(known, ", "))
	if text != "" && !slices.Contains(known, text) {
		r.problem(r.entries[key].at, r.subject, "%s: %q is not known%s", key, text, insteadOf(text, known))
	}
	return text
}

// words reads one word or a list of words and checks each against a list; a nil
// list lets all pass, for when it could not be read itself.
func (r record) words(key string, known []string) []string {
	e, stated := r.entries[key]
	if !stated {
		return nil
	}
	nodes := []ast.Node{e.node}
	if sequence, ok := e.node.(*ast.SequenceNode); ok {
		nodes = sequence.Values
	}
	var words []string
	for _, n := range nodes {
		text, ok := scalar(n)
		switch {
		case !ok || text == "":
			r.problem(r.start(n), r.subject, "%s must be one word or a list of words", key)
		case known != nil && !slices.Contains(known, text):
			r.problem(r.start(n), r.subject, "%s: %q is not known%s", key, text, insteadOf(text, known))
		case slices.Contains(words, text):
			r.problem(r.start(n), r.subject, "%s: %q is named twice", key, text)
		default:
			words = append(words, text)
		}
	}
	return words
}

// items reads an obligatory list with at least one item.
func (r record) items(key string) []ast.Node {
	e, stated := r.entries[key]
	if !stated {
		r.problem(r.at, r.subject, "%s is missing: write a list with at least one item", key)
		return nil
	}
	sequence, ok := e.node.(*ast.SequenceNode)
	if !ok || len(sequence.Values) == 0 {
		r.problem(e.at, r.subject, "%s must be a list with at least one item", key)
		return nil
	}
	return sequence.Values
}

// examples reads a list of plans as they are written.
func (r record) examples(key string) []Example {
	var examples []Example
	for _, n := range r.items(key) {
		m, ok := n.(*ast.MappingNode)
		if !ok {
			r.problem(r.start(n), r.subject, "each of %s must be a plan, with keys and values", key)
			continue
		}
		at := r.start(n)
		examples = append(examples, Example{YAML: r.cut(at, r.end(m, at)), Line: at.line})
	}
	return examples
}

// end is the last place of a mapping that starts at a place: its closing
// bracket or, for a block, the last line that is indented as far as its keys.
func (r *reader) end(m *ast.MappingNode, at place) place {
	if m.IsFlowStyle {
		return r.at(m.End.Position.Line, m.End.Position.Column)
	}
	last := at.line
	for number := at.line + 1; number <= len(r.lines); number++ {
		line := string(r.lines[number-1])
		content := strings.TrimLeft(line, " ")
		switch {
		case strings.TrimSpace(content) == "":
		case len(line)-len(content) >= at.col-1:
			last = number
		case content[0] != '#':
			return r.at(last, len(r.lines[last-1]))
		}
	}
	return r.at(last, len(r.lines[last-1]))
}

// cut gives the text between two places, both included, with spaces in front so
// that columns stay as they are in the file.
func (r *reader) cut(from, to place) []byte {
	var b strings.Builder
	b.WriteString(strings.Repeat(" ", from.col-1))
	for number := from.line; number <= to.line; number++ {
		line := r.lines[number-1]
		if number == to.line {
			line = line[:to.col]
		}
		if number == from.line {
			line = line[from.col-1:]
		}
		b.WriteString(string(line) + "\n")
	}
	return []byte(b.String())
}

// within finds the place of a character of a text that stands on one line, plain
// or quoted without escapes. Any other text is placed where its value starts.
func (r *reader) within(e entry, text string, offset int) place {
	line := r.lines[e.at.line-1]
	rest, col := string(line[e.at.col-1:]), e.at.col
	if strings.HasPrefix(rest, `"`) || strings.HasPrefix(rest, `'`) {
		rest, col = rest[1:], col+1
	}
	if !strings.HasPrefix(rest, text) {
		return e.at
	}
	return r.at(e.at.line, col+offset)
}

// scalar gives a single value as it was written, without the space around it;
// ok is false for lists, mappings, and for anchors, aliases and tags, which
// these files do without.
func scalar(n ast.Node) (text string, ok bool) {
	switch v := n.(type) {
	case *ast.StringNode:
		text = v.Value
	case *ast.LiteralNode:
		text = v.Value.Value
	case *ast.NullNode:
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		text = v.GetToken().Value
	default:
		return "", false
	}
	return strings.TrimSpace(text), true
}
