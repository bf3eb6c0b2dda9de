package server

import (
	"fmt"
	"html/template"
	"net/http"
	"regexp"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"rollingboil/lessons"
)

type glossaryPage struct {
	page
	Terms []termLine
}

type termLine struct {
	lessons.Term
	LessonTitle string
}

func (s *Server) glossaryPage(c *gin.Context) error {
	return s.write(c.Writer, c.Request, http.StatusOK, "glossary", s.glossary)
}

func (s *Server) prepareGlossary() {
	s.glossary = glossaryPage{page: newPage("Glossary", "/glossary")}
	for _, t := range s.course.Glossary {
		lesson, _ := s.course.Lessons.Lesson(t.Lesson)
		s.glossary.Terms = append(s.glossary.Terms, termLine{t, lesson.Title})
	}
}

// termLinker links the words of the glossary where they are first used.
type termLinker struct {
	word *regexp.Regexp
	ids  map[string]string // by a form in lower case
}

func newTermLinker(terms []lessons.Term) *termLinker {
	l := &termLinker{ids: map[string]string{}}
	var forms []string
	for _, t := range terms {
		for _, form := range append([]string{t.Term}, t.Forms...) {
			l.ids[strings.ToLower(form)] = t.ID()
			forms = append(forms, regexp.QuoteMeta(form))
		}
	}
	slices.SortFunc(forms, func(a, b string) int { return len(b) - len(a) }) // the longest that fits
	l.word = regexp.MustCompile(`(?i)\b(?:` + strings.Join(forms, "|") + `)\b`)
	return l
}

// unlinked are the elements in which no word is linked: those that are links or
// controls already, and headings, which are read on their own.
var unlinked = map[atom.Atom]bool{
	atom.A: true, atom.H1: true, atom.H2: true, atom.H3: true, atom.H4: true, atom.H5: true, atom.H6: true,
	atom.Code: true, atom.Pre: true, atom.Svg: true, atom.Th: true, atom.Button: true, atom.Label: true, atom.Summary: true,
}

// link links each word that is not in seen, once, and notes it there.
func (l *termLinker) link(text template.HTML, seen map[string]bool) (template.HTML, error) {
	tokens := html.NewTokenizer(strings.NewReader(string(text)))
	var out strings.Builder
	within := 0
	for {
		switch tokens.Next() {
		case html.ErrorToken:
			if err := tokens.Err(); err.Error() != "EOF" {
				return "", fmt.Errorf("link the words of the glossary: %w", err)
			}
			return template.HTML(out.String()), nil
		case html.StartTagToken:
			raw := string(tokens.Raw())
			if name, _ := tokens.TagName(); unlinked[atom.Lookup(name)] {
				within++
			}
			out.WriteString(raw)
		case html.EndTagToken:
			raw := string(tokens.Raw())
			if name, _ := tokens.TagName(); unlinked[atom.Lookup(name)] {
				within--
			}
			out.WriteString(raw)
		case html.TextToken:
			raw := string(tokens.Raw())
			if within > 0 {
				out.WriteString(raw)
				continue
			}
			out.WriteString(l.word.ReplaceAllStringFunc(raw, func(word string) string {
				id := l.ids[strings.ToLower(word)]
				if seen[id] {
					return word
				}
				seen[id] = true
				return `<a class="term" href="/glossary#` + id + `">` + word + `</a>`
			}))
		default:
			out.Write(tokens.Raw())
		}
	}
}
