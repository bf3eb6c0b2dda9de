package server

import (
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"

	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"rollingboil/server/hostiletest"
)

// hostileTexts are the texts and the drafts they are put in.
func hostileTexts(t testing.TB) (texts []string, drafts []hostiletest.Draft) {
	t.Helper()
	texts, err := hostiletest.Texts()
	if err != nil {
		t.Fatal(err)
	}
	if drafts, err = hostiletest.Drafts(); err != nil {
		t.Fatal(err)
	}
	return texts, drafts
}

// harmless fills every place of a draft with words.
func harmless(d hostiletest.Draft) []string {
	return slices.Repeat([]string{hostiletest.Harmless}, d.Places)
}

// previewed previews a source, and gives the lines that the checks find fault with; passes
// tells whether they find nothing.
func (r *classroom) previewed(t testing.TB, at, source string) (page response, lines []int, passes bool) {
	t.Helper()
	page = r.post(at+"/preview", url.Values{"text": {source}})
	if page.StatusCode != http.StatusOK {
		t.Fatalf("the preview answers %d to\n%q", page.StatusCode, source)
	}
	walk(parse(t, page.body), func(n *html.Node) {
		if line, err := strconv.Atoi(attr(n, "data-line")); err == nil {
			lines = append(lines, line)
		}
	})
	return page, lines, strings.Contains(page.body, "The checks find nothing")
}

// markdownNames are the elements that Markdown in a material may become, as
// lessons/markdown has them.
var markdownNames = []string{"h2", "h3", "h4", "p", "ul", "ol", "li", "strong", "em", "blockquote", "pre", "code", "hr", "table", "thead", "tbody", "tr", "th", "td", "div", "a"}

// problemNames are those in which problems are listed.
var problemNames = []string{"section", "h1", "ul", "li", "a", "code"}

// namesIn are the names of all elements of a page.
func namesIn(doc *html.Node) map[string]int {
	names := map[string]int{}
	walk(doc, func(n *html.Node) {
		if n.Type == html.ElementNode {
			names[n.Data]++
		}
	})
	return names
}

// addressed are the attributes of HTML and SVG by which something is asked for or led to.
var addressed = []string{"href", "src", "srcset", "srcdoc", "action", "formaction", "data", "poster", "background", "ping", "cite", "longdesc", "manifest", "codebase"}

// brokenOut lists what a page holds beyond what the pages of the course are made of: an
// element that the same page does not have when everything in it is harmless, something
// that runs, an address elsewhere other than a link with https.
func brokenOut(doc *html.Node, allowed map[string]int) (found []string) {
	for name, n := range namesIn(doc) {
		usual := allowed[name]
		if usual == 0 && !slices.Contains(markdownNames, name) && !slices.Contains(problemNames, name) {
			found = append(found, "an element <"+name+">")
		}
		if slices.Contains([]string{"script", "link", "meta", "base", "form"}, name) && n > usual {
			found = append(found, "one <"+name+"> more")
		}
	}
	walk(doc, func(n *html.Node) {
		for _, a := range n.Attr {
			value := strings.ToLower(strings.TrimSpace(a.Val))
			switch {
			case strings.HasPrefix(a.Key, "on") || a.Key == "style" || a.Key == "http-equiv":
				found = append(found, "<"+n.Data+"> has "+a.Key)
			case !slices.Contains(addressed, a.Key):
			case n.Data == "a" && a.Key == "href" && strings.HasPrefix(value, "https://"):
			case strings.HasPrefix(value, "#"), strings.HasPrefix(value, "/") && !strings.HasPrefix(value, "//") && !strings.ContainsAny(value, "\\\t\n"):
			default:
				found = append(found, "<"+n.Data+"> leads to "+a.Val)
			}
		}
	})
	return found
}

// TestHostileTextsStayText: whatever stands in whatever place of a material, the preview
// and what the class reads hold nothing but the elements of the course's own pages. The
// texts are those of server/hostiletest; what they could become is in the HTML Living
// Standard, 4 and 13.2, and OWASP ASVS 5.0, 1.2 and 1.3.
func TestHostileTextsStayText(t *testing.T) {
	t.Parallel()
	texts, drafts := hostileTexts(t)
	for _, d := range drafts {
		t.Run(d.Name, func(t *testing.T) {
			t.Parallel()
			r := newClassroom(t)
			at := r.begins(d.Kind, "start "+startsOf(d.Kind)[0].Name, d.Name)
			source, _ := d.With(harmless(d))
			r.wants(r.changes(at, "publish", func(string) string { return source }), http.StatusOK)
			preview, _, passes := r.previewed(t, at, source)
			if !passes {
				t.Fatalf("the draft itself does not pass: %s", mainText(t, preview))
			}
			previewNames := namesIn(parse(t, preview.body))
			r.as(r.ann)
			pageNames := namesIn(parse(t, r.get(readPath(d.Kind, d.Name)).body))
			published := 0
			for shift := range d.Places {
				for _, filled := range d.Mixed(texts, shift) {
					r.as(r.instructor)
					for range 2 * d.Places {
						source, places := d.With(filled)
						page, lines, passes := r.previewed(t, at, source)
						for _, fault := range brokenOut(parse(t, page.body), previewNames) {
							t.Errorf("the preview has %s, of\n%.3000q", fault, source)
						}
						if passes || shift > 0 { // what else passes was seen with the first
							break
						}
						filled = hostiletest.Mended(filled, lines, places)
					}
					if shift > 0 {
						continue
					}
					source, _ := d.With(filled)
					r.wants(r.changes(at, "publish", func(string) string { return source }), http.StatusOK)
					r.as(r.ann)
					page := r.get(readPath(d.Kind, d.Name))
					r.wants(page, http.StatusOK)
					for _, fault := range brokenOut(parse(t, page.body), pageNames) {
						t.Errorf("the class reads %s, of\n%.3000q", fault, source)
					}
					for _, text := range filled {
						if text != hostiletest.Harmless {
							published++
						}
					}
				}
			}
			if published < len(texts)/4 {
				t.Errorf("only %d of %d texts are read by the class: the checks refuse more than they should, or the test puts them wrong", published, len(texts))
			}
		})
	}
}

// TestPreviewOfAnything: the same for arbitrary texts.
func TestPreviewOfAnything(t *testing.T) {
	t.Parallel()
	texts, drafts := hostileTexts(t)
	r := newClassroom(t)
	at, names := map[string]string{}, map[string]map[string]int{}
	for _, d := range drafts {
		at[d.Name] = r.begins(d.Kind, "start "+startsOf(d.Kind)[0].Name, d.Name)
		source, _ := d.With(harmless(d))
		page, _, _ := r.previewed(t, at[d.Name], source)
		names[d.Name] = namesIn(parse(t, page.body))
	}
	piece := rapid.OneOf(rapid.String(), rapid.StringN(0, 3, 8), rapid.SampledFrom(texts), rapid.SampledFrom([]string{"\n", "---\n", "```", "~~~", "[[", "]]", "{{", "}}", "<", ">", "&", "\"", "'", "](", "\t", "- ", ": "}))
	rapid.Check(t, func(rt *rapid.T) {
		d := rapid.SampledFrom(drafts).Draw(rt, "draft")
		filled := harmless(d)
		for range rapid.IntRange(1, 4).Draw(rt, "texts") {
			i := rapid.IntRange(0, d.Places-1).Draw(rt, "place")
			filled[i] = strings.Join(rapid.SliceOfN(piece, 1, 4).Draw(rt, "text"), "")
		}
		source, _ := d.With(filled)
		if rapid.IntRange(0, 9).Draw(rt, "cut") == 0 {
			source = source[:rapid.IntRange(0, len(source)).Draw(rt, "at")]
		}
		page := r.post(at[d.Name]+"/preview", url.Values{"text": {source}})
		if page.StatusCode != http.StatusOK {
			rt.Fatalf("the preview answers %d to\n%q", page.StatusCode, source)
		}

		doc, err := html.Parse(strings.NewReader(page.body))
		if err != nil {
			rt.Fatal(err)
		}
		for _, fault := range brokenOut(doc, names[d.Name]) {
			rt.Errorf("the preview has %s, of\n%q", fault, source)
		}
	})
}
