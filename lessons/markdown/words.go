package markdown

import (
	"bytes"
	"html"
	"regexp"
	"strings"

	"github.com/yuin/goldmark/ast"
	tables "github.com/yuin/goldmark/extension/ast"
	"github.com/yuin/goldmark/text"
)

// Words is a stretch of a text as it is read, without its marks: a paragraph, a heading, the
// row of a table, a cell, a line of code, or the settings of a piece.
type Words struct {
	Text string // with its line breaks
	Line int    // of its first word, in the file
	// Under is what names the numbers in it: the heading of a cell's column, or the sentence
	// or heading that a list follows; "" if nothing does.
	Under string
	Row   string // of a cell, the first one of its row
	Piece string // the piece whose settings these are; "" for what stands on the page
}

// ReadWords gives all words of a text, whether or not [Render] would take it. line is the
// number of its first line in the file.
func ReadWords(src []byte, line int) []Words {
	w := wordReader{renderer: renderer{src: src, line: line}}
	w.blocks(goldmarkdown.Parser().Parse(text.NewReader(src)), "")
	return w.words
}

type wordReader struct {
	renderer
	words []Words
}

func (w *wordReader) add(n ast.Node, text, under string) {
	if strings.TrimSpace(text) != "" {
		w.words = append(w.words, Words{Text: text, Line: w.lineOf(n), Under: under})
	}
}

// blocks reads what stands in a node, under words that name the numbers in it.
func (w *wordReader) blocks(parent ast.Node, under string) {
	before := "" // the paragraph or heading before
	for n := parent.FirstChild(); n != nil; n = n.NextSibling() {
		read := ""
		switch n := n.(type) {
		case *ast.FencedCodeBlock:
			w.fence(n)
		case *ast.CodeBlock, *ast.HTMLBlock:
			w.add(n, string(n.Lines().Value(w.src)), under)
		case *tables.Table:
			w.table(n)
		case *ast.List:
			w.blocks(n, before)
		case *ast.ListItem, *ast.Blockquote:
			w.blocks(n, under)
		default:
			read = w.read(n)
			w.add(n, read, under)
		}
		before = ""
		if _, heading := n.(*ast.Heading); heading || strings.HasSuffix(strings.TrimSpace(read), ":") {
			before = read
		}
	}
}

// fence reads the settings of a piece, and what stands in it.
func (w *wordReader) fence(fence *ast.FencedCodeBlock) {
	body := fence.Lines().Value(w.src)
	line := w.lineOf(fence)
	if fence.Info == nil {
		w.add(fence, string(body), "")
		return
	}
	kind, settings, _ := strings.Cut(strings.TrimSpace(string(fence.Info.Segment.Value(w.src))), " ")
	w.words = append(w.words, Words{Text: settings, Line: line, Piece: kind})
	w.words = append(w.words, ReadWords(body, line+1)...)
}

func (w *wordReader) table(table *tables.Table) {
	var columns []string
	for row := table.FirstChild(); row != nil; row = row.NextSibling() {
		var cells []string
		_, header := row.(*tables.TableHeader)
		for cell := row.FirstChild(); cell != nil; cell = cell.NextSibling() {
			read := strings.TrimSpace(w.read(cell))
			if header {
				columns = append(columns, read)
			} else {
				under := ""
				if i := len(cells); i < len(columns) {
					under = columns[i]
				}
				w.add(cell, read, under)
				if len(cells) > 0 && strings.TrimSpace(read) != "" {
					w.words[len(w.words)-1].Row = cells[0]
				}
			}
			cells = append(cells, read)
		}
		if !header {
			w.add(row, strings.Join(cells, " | "), "")
		}
	}
}

var tag = regexp.MustCompile(`<[^>]*>`)

// read is a paragraph, a heading or a cell as a reader sees it: drawn, without its tags.
func (w *wordReader) read(n ast.Node) string {
	var out bytes.Buffer
	if err := goldmarkdown.Renderer().Render(&out, w.src, n); err != nil {
		return string(n.Lines().Value(w.src)) // into memory there is none
	}
	return html.UnescapeString(tag.ReplaceAllString(out.String(), ""))
}
