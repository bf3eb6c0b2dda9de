package markdown

import (
	"bytes"
	"fmt"
	"html/template"
	"maps"
	"slices"
	"strings"

	"github.com/yuin/goldmark"
	"github.com/yuin/goldmark/ast"
	"github.com/yuin/goldmark/extension"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/parser"
	nodes "github.com/yuin/goldmark/renderer"
	"github.com/yuin/goldmark/text"
	"github.com/yuin/goldmark/util"
)

// Part is one stretch of a lesson: either HTML that is safe to put on the page
// as it is, or a Block that the server draws. Exactly one of the two is set.
type Part struct {
	HTML  template.HTML
	Block *Block
	// Headings and Links are those of this part, in reading order.
	Headings []Heading
	Links    []Link
}

// Block is one interactive piece.
type Block struct {
	Kind     string            // the piece's name, such as "jar"
	Settings map[string]string // as written, and held against the piece's spec
	Body     string            // what stands in the fence, as written
	BodyHTML template.HTML     // the same as safe HTML, for pieces with a body
	Line     int               // line of the fence in the file
}

// Heading is one heading, for a table of contents.
type Heading struct {
	Level int    // 2 to 4
	ID    string // the anchor
	Text  string
	Line  int
}

// Link is one link's target as written, so that its end can be checked.
type Link struct {
	Target string
	Line   int
}

var goldmarkdown = goldmark.New(
	goldmark.WithExtensions(extension.NewTable(extension.WithTableCellAlignMethod(extension.TableCellAlignNone))),
	goldmark.WithParserOptions(parser.WithAutoHeadingID()),
	goldmark.WithRendererOptions(nodes.WithNodeRenderers(util.Prioritized(tableInRegion{}, 100))),
)

// tableInRegion puts a table into a part of the page that scrolls sideways by itself,
// so that a wide table does not take the page with it on a phone. The keyboard reaches
// it, and it is named by the table's columns.
type tableInRegion struct{}

func (tableInRegion) RegisterFuncs(r nodes.NodeRendererFuncRegisterer) {
	r.Register(tables.KindTable, func(out util.BufWriter, src []byte, n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			_, err := out.WriteString("</table>\n</div>\n")
			return ast.WalkContinue, err
		}
		var columns []string
		for cell := n.FirstChild().FirstChild(); cell != nil; cell = cell.NextSibling() {
			columns = append(columns, plainText(cell, src))
		}
		label := util.EscapeHTML([]byte("Table: " + strings.Join(columns, ", ")))
		_, err := fmt.Fprintf(out, "<div class=\"wide\" tabindex=\"0\" role=\"region\" aria-label=\"%s\">\n<table>\n", label)
		return ast.WalkContinue, err
	})
}

// Render turns Markdown into parts. The name and the number of its first line
// are for messages. The error holds every problem found, as [Problems]; the
// parts are nil then.
func Render(name string, src []byte, line int, pieces map[string]PieceSpec) ([]Part, error) {
	r := renderer{name: name, src: src, line: line, pieces: pieces}
	parts := r.parts()
	if err := r.problems.Err(); err != nil {
		return nil, err
	}
	return parts, nil
}

type renderer struct {
	name     string
	src      []byte
	line     int // of the first line of src, in the file
	pieces   map[string]PieceSpec
	inside   string // the piece whose body this is, or ""
	problems Problems
}

func (r *renderer) complain(line int, format string, args ...any) {
	r.problems.Add(r.name, line, format, args...)
}

// parts renders the source whatever is wrong with it, so that the tests can
// look at what hostile text would become.
func (r *renderer) parts() []Part {
	doc := goldmarkdown.Parser().Parse(text.NewReader(r.src))
	var parts []Part
	var open *Part // the HTML part being filled
	var out bytes.Buffer
	closeOpen := func() {
		if open != nil {
			open.HTML = template.HTML(policy.SanitizeBytes(out.Bytes()))
			parts = append(parts, *open)
			open = nil
		}
	}
	for n := doc.FirstChild(); n != nil; n = n.NextSibling() {
		if fence, ok := n.(*ast.FencedCodeBlock); ok && fence.Info != nil {
			closeOpen()
			parts = append(parts, r.piece(fence))
			continue
		}
		if open == nil {
			open = &Part{}
			out.Reset()
		}
		r.walk(n, open)
		if err := goldmarkdown.Renderer().Render(&out, r.src, n); err != nil {
			r.complain(r.lineOf(n), "cannot be drawn: %v", err)
		}
	}
	closeOpen()
	return parts
}

// walk looks at every node below n: it notes headings and links, gives table
// cells their class, and complains of whatever is not allowed.
func (r *renderer) walk(n ast.Node, part *Part) {
	_ = ast.Walk(n, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Heading:
			r.heading(n, part)
		case *ast.Link:
			if len(n.Title) > 0 {
				r.complain(r.lineOf(n), "a link's title is not shown; write it in the sentence")
			}
			r.link(string(n.Destination), n, part)
		case *ast.AutoLink:
			r.link(string(n.URL(r.src)), n, part)
		case *ast.FencedCodeBlock:
			if n.Info != nil {
				r.complain(r.lineOf(n), "a piece stands inside a list or a quotation; move it out to the left")
			}
			r.closed(n)
		case *ast.Paragraph, *ast.TextBlock:
			// Markdown takes such a line for plain words, not for a fence.
			for _, segment := range n.Lines().Sliced(0, n.Lines().Len()) {
				if bytes.HasPrefix(segment.Value(r.src), []byte("```")) {
					r.complain(r.lineAt(segment.Start), "a fence may have no ` in its first line")
				}
			}
		case *tables.TableCell:
			if n.Alignment != tables.AlignNone {
				n.SetAttributeString("class", []byte("align-"+n.Alignment.String()))
			}
			if _, header := n.Parent().(*tables.TableHeader); header {
				n.SetAttributeString("scope", []byte("col"))
				if plainText(n, r.src) == "" {
					r.complain(r.lineOf(n), "a column of a table without a name")
				}
			}
		case *ast.Text:
			if n.HardLineBreak() {
				r.complain(r.lineOf(n), "two spaces or a backslash at the end of a line break it; begin a new paragraph")
			}
		case *ast.RawHTML, *ast.HTMLBlock:
			r.complain(r.lineOf(n), "raw HTML is not used; write it as Markdown")
		case *ast.Image:
			r.complain(r.lineOf(n), "pictures are drawn by pieces; see the list of pieces")
		case *ast.CodeBlock:
			r.complain(r.lineOf(n), "text set in by four spaces becomes code; use a fence or move it to the left")
		}
		return ast.WalkContinue, nil
	})
}

func (r *renderer) heading(n *ast.Heading, part *Part) {
	line := r.lineOf(n)
	if r.inside != "" {
		r.complain(line, "%s: no heading may stand in a piece", r.inside)
	}
	if n.Level < 2 || n.Level > 4 {
		r.complain(line, "a heading of level %d; the page has its own title, so use ## to ####", n.Level)
	}
	id, _ := n.AttributeString("id")
	anchor, _ := id.([]byte)
	title := plainText(n, r.src)
	if title == "" {
		r.complain(line, "a heading without words")
	}
	part.Headings = append(part.Headings, Heading{Level: n.Level, ID: string(anchor), Text: title, Line: line})
}

func (r *renderer) link(target string, n ast.Node, part *Part) {
	line := r.lineOf(n)
	if !href.MatchString(target) {
		r.complain(line, "link to %q; use /a/place/here, #a-heading or https://", target)
		return
	}
	if plainText(n, r.src) == "" && n.Kind() != ast.KindAutoLink {
		r.complain(line, "link to %q without words", target)
	}
	part.Links = append(part.Links, Link{Target: target, Line: line})
}

// piece turns a fence that has words after it into a block.
func (r *renderer) piece(fence *ast.FencedCodeBlock) Part {
	line := r.lineOf(fence)
	kind, settings, _ := strings.Cut(strings.TrimSpace(string(fence.Info.Segment.Value(r.src))), " ")
	body := string(fence.Lines().Value(r.src))
	block := &Block{Kind: kind, Body: body, Line: line}
	part := Part{Block: block}
	if !r.closed(fence) {
		return part
	}
	if r.inside != "" {
		r.complain(line, "%s: no piece may stand in a piece", r.inside)
		return part
	}
	spec, known := r.pieces[kind]
	if !known {
		r.complain(line, "unknown piece %q; %s", kind, DidYouMean(kind, slices.Sorted(maps.Keys(r.pieces))))
		return part
	}
	values, messages := ParseSettings(settings, spec)
	for _, m := range messages {
		r.complain(line, "%s: %s", kind, m)
	}
	block.Settings = values

	empty := strings.TrimSpace(body) == ""
	switch {
	case spec.Body && empty:
		r.complain(line, "%s: nothing stands in the fence", kind)
	case !spec.Body && !empty:
		r.complain(line, "%s: the fence must be empty", kind)
	case spec.Body:
		block.BodyHTML = r.body(kind, []byte(body), line+1, &part)
	}
	return part
}

// body renders the Markdown inside a piece's fence, where further pieces and
// headings have no place.
func (r *renderer) body(kind string, src []byte, line int, part *Part) template.HTML {
	inner := renderer{name: r.name, src: src, line: line, inside: kind}
	var out template.HTML
	for _, p := range inner.parts() {
		part.Links = append(part.Links, p.Links...)
		out += p.HTML
	}
	r.problems = append(r.problems, inner.problems...)
	return out
}

// closed reports whether a fence has its closing line. Markdown itself lets an
// open fence swallow the rest of the file.
func (r *renderer) closed(fence *ast.FencedCodeBlock) bool {
	var rest []byte
	if n := fence.Lines().Len(); n > 0 {
		rest = r.src[fence.Lines().At(n-1).Stop:]
	} else {
		_, rest, _ = bytes.Cut(r.src[max(fence.Pos(), 0):], []byte("\n"))
	}
	rest = bytes.TrimLeft(rest, "> \t\r\n")
	if bytes.HasPrefix(rest, []byte("```")) || bytes.HasPrefix(rest, []byte("~~~")) {
		return true
	}
	r.complain(r.lineOf(fence), "the fence is not closed")
	return false
}

// lineOf returns the line of the file a node begins on. A few nodes do not
// know their place; the nearest one around them does.
func (r *renderer) lineOf(n ast.Node) int {
	for ; n != nil; n = n.Parent() {
		if t, ok := n.(*ast.Text); ok {
			return r.lineAt(t.Segment.Start)
		}
		if at := n.Pos(); at >= 0 {
			return r.lineAt(at)
		}
	}
	return r.line
}

func (r *renderer) lineAt(offset int) int {
	return r.line + bytes.Count(r.src[:min(offset, len(r.src))], []byte("\n"))
}

// plainText is the text of a node without its marks.
func plainText(n ast.Node, src []byte) string {
	var b strings.Builder
	_ = ast.Walk(n, func(n ast.Node, entering bool) (ast.WalkStatus, error) {
		if !entering {
			return ast.WalkContinue, nil
		}
		switch n := n.(type) {
		case *ast.Text:
			b.Write(n.Segment.Value(src))
			if n.SoftLineBreak() {
				b.WriteByte(' ')
			}
		case *ast.String:
			b.Write(n.Value)
		}
		return ast.WalkContinue, nil
	})
	return strings.TrimSpace(b.String())
}
