package exchange

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"iter"
	"slices"
	"strings"
)

// node is an element or a text of a document that was read.
type node struct {
	written  string // name of the element as it is written; empty for a text
	space    string // namespace
	name     string // by the names of this package, "?" for what is not QTI; empty for a text
	attrs    []attribute
	text     string
	children []*node
	line     int
}

type attribute struct {
	written, name, value string // name as for a node, xml:lang and so on for those of XML
}

// attr gives the value of an attribute, empty if there is none.
func (n *node) attr(name string) string {
	for _, a := range n.attrs {
		if a.name == name {
			return a.value
		}
	}
	return ""
}

func (n *node) hasAttr(name string) bool {
	return slices.ContainsFunc(n.attrs, func(a attribute) bool { return a.name == name })
}

// elements are the children without texts.
func (n *node) elements() []*node {
	var list []*node
	for _, c := range n.children {
		if c.name != "" {
			list = append(list, c)
		}
	}
	return list
}

// all goes over the node and everything in it.
func (n *node) all() iter.Seq[*node] {
	return func(yield func(*node) bool) { n.walk(yield) }
}

func (n *node) walk(yield func(*node) bool) bool {
	if !yield(n) {
		return false
	}
	for _, c := range n.children {
		if !c.walk(yield) {
			return false
		}
	}
	return true
}

// plain is all text in the node.
func (n *node) plain() string {
	var b strings.Builder
	for c := range n.all() {
		b.WriteString(c.text)
	}
	return b.String()
}

// placed is an error on a line. It reads "12: message", to follow the file's name and
// a colon.
type placed struct {
	line    int
	message string
}

func (p *placed) Error() string { return fmt.Sprintf("%d: %s", p.line, p.message) }

func lineOf(err error) int {
	var p *placed
	if errors.As(err, &p) {
		return p.line
	}
	return 0
}

// messageOf is the message of an error without the file and the line.
func messageOf(err error, file string) string {
	var p *placed
	if errors.As(err, &p) {
		return p.message
	}
	return strings.TrimPrefix(err.Error(), file+": ")
}

// parseXML reads a document whole. Document types are refused, and with them all
// entities but the five of XML itself. The error begins with the line.
func parseXML(data []byte) (*node, error) {
	d := xml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
	p := parser{decoder: d}
	for {
		line, _ := d.InputPos()
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err == nil {
			err = p.token(token, line)
		}
		if err != nil {
			var at *placed
			if errors.As(err, &at) {
				return nil, err
			}
			line, _ = d.InputPos()
			var syntax *xml.SyntaxError
			if errors.As(err, &syntax) {
				return nil, &placed{syntax.Line, syntax.Msg}
			}
			return nil, &placed{line, err.Error()}
		}
	}
	if p.root == nil {
		return nil, &placed{1, "there is no element in it; this program reads QTI packages and single items"}
	}
	return p.root, nil
}

type parser struct {
	decoder *xml.Decoder
	root    *node
	open    []*node
	count   int
	dialect *dialect // by the namespace of the root; nil for another document
}

func (p *parser) token(token xml.Token, line int) error {
	switch t := token.(type) {
	case xml.Directive:
		return &placed{line, "document types and entities are refused; take out <!DOCTYPE ...>"}
	case xml.StartElement:
		return p.start(t, line)
	case xml.EndElement:
		p.open = p.open[:len(p.open)-1]
	case xml.CharData:
		if len(p.open) == 0 {
			if len(bytes.TrimSpace(t)) > 0 {
				return &placed{line, "text outside of the root element"}
			}
			return nil
		}
		return p.attach(&node{text: string(t), line: line})
	}
	return nil
}

func (p *parser) attach(n *node) error {
	if p.count++; p.count > maxElements {
		return &placed{n.line, fmt.Sprintf("more than %d elements and texts", maxElements)}
	}
	parent := p.open[len(p.open)-1]
	parent.children = append(parent.children, n)
	return nil
}

func (p *parser) start(t xml.StartElement, line int) error {
	switch {
	case len(p.open) == 0 && p.root != nil:
		return &placed{line, "a second root element"}
	case len(p.open) == maxDepth:
		return &placed{line, fmt.Sprintf("more than %d elements in each other", maxDepth)}
	case len(t.Attr) > maxAttributes:
		return &placed{line, fmt.Sprintf("more than %d attributes", maxAttributes)}
	}
	n := &node{written: t.Name.Local, space: t.Name.Space, name: "?", line: line}
	if p.root == nil {
		p.root = n
		if i := slices.IndexFunc(dialects, func(d *dialect) bool { return d.namespace == n.space }); i >= 0 {
			p.dialect = dialects[i]
		}
	} else if err := p.attach(n); err != nil {
		return err
	}
	if p.dialect != nil && n.space == p.dialect.namespace {
		n.name = p.dialect.elementName(n.written)
	}
	for i, a := range t.Attr {
		if slices.ContainsFunc(t.Attr[:i], func(b xml.Attr) bool { return b.Name == a.Name }) {
			return &placed{line, fmt.Sprintf("attribute %s stands twice", a.Name.Local)}
		}
		if a.Name.Space == "xmlns" || a.Name.Space == "" && a.Name.Local == "xmlns" || a.Name.Space == "http://www.w3.org/2001/XMLSchema-instance" {
			continue
		}
		n.attrs = append(n.attrs, attribute{a.Name.Local, p.attributeName(a.Name), a.Value})
	}
	p.open = append(p.open, n)
	return nil
}

func (p *parser) attributeName(name xml.Name) string {
	switch {
	case name.Space == "http://www.w3.org/XML/1998/namespace":
		return "xml:" + name.Local
	case name.Space != "":
		return "?"
	case p.dialect == nil:
		return name.Local
	}
	return p.dialect.attributeName(name.Local)
}
