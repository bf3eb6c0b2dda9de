package scenarios

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/goccy/go-yaml/ast"
	"github.com/goccy/go-yaml/parser"
)

// A node is one value of a plan or scenario file with its place, whether the
// file was YAML or JSON.
type node struct {
	shape     shape
	text      string // scalars, as written
	line, col int    // 1-based
	entries   []entry
	items     []node
}

type shape int

const (
	shapeScalar shape = iota
	shapeEmpty        // nothing, null or ~
	shapeMap
	shapeList
)

type entry struct {
	key       string
	line, col int
	value     node
}

const (
	// maxFile bounds what is parsed: far above any real plan or batch.
	maxFile = 1 << 20
	// maxNesting bounds brackets and list dashes within each other, so that no
	// file can exhaust the parser's stack.
	maxNesting = 24
)

// readTree reads YAML or JSON. It refuses what a plan has no use for and what
// makes files hard to judge: several documents, anchors, aliases, tags, merge
// keys and repeated keys.
func readTree(src []byte) (node, error) {
	if len(src) > maxFile {
		return node{}, at(1, 1, "the file is %d bytes; a plan has at most %d", len(src), maxFile)
	}
	if line, deep := tooDeep(src); deep {
		return node{}, at(line, 1, "nested more than %d deep; a plan has two levels at most", maxNesting)
	}
	if trimmed := bytes.TrimLeft(src, " \t\r\n"); len(trimmed) > 0 && trimmed[0] == '{' && json.Valid(src) {
		r := jsonReader{src: src, dec: json.NewDecoder(bytes.NewReader(src))}
		r.dec.UseNumber()
		return r.value()
	}
	file, err := parser.ParseBytes(src, 0)
	if err != nil {
		return node{}, yamlError(err)
	}
	docs := file.Docs[:0:0]
	for _, d := range file.Docs {
		if d.Body != nil {
			docs = append(docs, d)
		}
	}
	switch len(docs) {
	case 0:
		return node{shape: shapeEmpty, line: 1, col: 1}, nil
	case 1:
		return yamlNode(docs[0].Body)
	}
	tok := docs[1].Body.GetToken()
	return node{}, at(tok.Position.Line, tok.Position.Column, "a second document; write one plan to a file")
}

// tooDeep finds the first line whose brackets or list dashes nest beyond
// maxNesting. Brackets inside quotes count too: no plan comes near the limit.
func tooDeep(src []byte) (line int, deep bool) {
	line = 1
	depth, dashes, atStart := 0, 0, true
	for _, c := range src {
		switch c {
		case '\n':
			line++
			dashes, atStart = 0, true
			continue
		case '[', '{':
			depth++
		case ']', '}':
			depth = max(0, depth-1)
		case '-', '?', ':':
			if atStart {
				dashes++
			}
		case ' ', '\t':
			continue
		}
		if c != '-' && c != '?' && c != ':' {
			atStart = false
		}
		if depth > maxNesting || dashes > maxNesting {
			return line, true
		}
	}
	return 0, false
}

// yamlError keeps the place and the first line of the YAML reader's message.
func yamlError(err error) error {
	var located interface {
		GetMessage() string
	}
	line, col := 1, 1
	message := err.Error()
	if errors.As(err, &located) {
		message = located.GetMessage()
	}
	first, _, _ := strings.Cut(err.Error(), "\n")
	if _, scanErr := fmt.Sscanf(first, "[%d:%d]", &line, &col); scanErr != nil {
		line, col = 1, 1
	}
	return at(line, col, "not readable as YAML: %s", message)
}

func yamlNode(n ast.Node) (node, error) {
	tok := n.GetToken()
	out := node{line: tok.Position.Line, col: tok.Position.Column}
	switch v := n.(type) {
	case *ast.NullNode:
		out.shape = shapeEmpty
	case *ast.MappingNode:
		out.shape = shapeMap
		for _, mv := range v.Values {
			if err := addYAMLEntry(&out, mv); err != nil {
				return out, err
			}
		}
	case *ast.MappingValueNode:
		out.shape = shapeMap
		if err := addYAMLEntry(&out, v); err != nil {
			return out, err
		}
	case *ast.SequenceNode:
		out.shape = shapeList
		for _, item := range v.Values {
			child, err := yamlNode(item)
			if err != nil {
				return out, err
			}
			out.items = append(out.items, child)
		}
	case *ast.LiteralNode:
		out.text = v.Value.Value
	case *ast.StringNode:
		out.text = v.Value
	case *ast.IntegerNode, *ast.FloatNode, *ast.BoolNode, *ast.InfinityNode, *ast.NanNode:
		out.text = tok.Value
	default:
		return out, at(out.line, out.col, "anchors, aliases, tags and merge keys are not used in these files; write the value out")
	}
	return out, nil
}

func addYAMLEntry(out *node, mv *ast.MappingValueNode) error {
	tok := mv.Key.GetToken()
	key := entry{key: tok.Value, line: tok.Position.Line, col: tok.Position.Column}
	if s, ok := mv.Key.(*ast.StringNode); ok {
		key.key = s.Value
	} else if _, scalar := mv.Key.(ast.ScalarNode); !scalar {
		return at(key.line, key.col, "a key must be a plain word")
	}
	for _, e := range out.entries {
		if e.key == key.key {
			return at(key.line, key.col, "%q is stated twice (first on line %d); keep one", key.key, e.line)
		}
	}
	value, err := yamlNode(mv.Value)
	if err != nil {
		return err
	}
	key.value = value
	out.entries = append(out.entries, key)
	return nil
}

// jsonReader builds the same tree from JSON, whose tabs and escapes a YAML
// reader may refuse.
type jsonReader struct {
	src []byte
	dec *json.Decoder
}

// place gives line and column of the next token.
func (r *jsonReader) place() (line, col int) {
	off := int(r.dec.InputOffset())
	for off < len(r.src) && strings.IndexByte(" \t\r\n,:", r.src[off]) >= 0 {
		off++
	}
	before := r.src[:off]
	return 1 + bytes.Count(before, []byte("\n")), off - bytes.LastIndexByte(before, '\n')
}

func (r *jsonReader) value() (node, error) {
	var out node
	out.line, out.col = r.place()
	tok, err := r.dec.Token()
	if err != nil {
		if errors.Is(err, io.EOF) {
			err = io.ErrUnexpectedEOF
		}
		return out, at(out.line, out.col, "not readable as JSON: %v", err)
	}
	switch v := tok.(type) {
	case nil:
		out.shape = shapeEmpty
	case string:
		out.text = v
	case json.Number:
		out.text = v.String()
	case bool:
		out.text = fmt.Sprint(v)
	case json.Delim:
		if v == '[' {
			out.shape = shapeList
			for r.dec.More() {
				item, err := r.value()
				if err != nil {
					return out, err
				}
				out.items = append(out.items, item)
			}
		} else {
			out.shape = shapeMap
			for r.dec.More() {
				line, col := r.place()
				key, err := r.dec.Token()
				if err != nil {
					return out, at(line, col, "not readable as JSON: %v", err)
				}
				e := entry{key: fmt.Sprint(key), line: line, col: col}
				for _, old := range out.entries {
					if old.key == e.key {
						return out, at(line, col, "%q is stated twice (first on line %d); keep one", e.key, old.line)
					}
				}
				if e.value, err = r.value(); err != nil {
					return out, err
				}
				out.entries = append(out.entries, e)
			}
		}
		if _, err := r.dec.Token(); err != nil {
			return out, at(out.line, out.col, "not readable as JSON: %v", err)
		}
	}
	return out, nil
}
