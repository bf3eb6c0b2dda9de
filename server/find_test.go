package server

import (
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rollingboil/lessons"
)

// TestFind looks for what cooks ask in their own words, and for words that are
// misspelled. Where it should lead is our own content; the words are from daily life.
func TestFind(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for typed, path := range map[string]string{
		"headspace":                "/lessons/headspace",
		"hedspace":                 "/lessons/headspace",
		"altitude":                 "/lessons/altitude",
		"altitute band":            "/lessons/altitude",
		"liquid lost siphon":       "/lessons/liquid-loss",
		"spaghetti sauce":          "/times/spaghetti-sauce-without-meat",
		"spagetti sauce":           "/times/spaghetti-sauce-without-meat",
		"peaches":                  "/times/peaches",
		"pumpkin butter":           "/times/pumpkin-butter",
		"litmus strip":             "/lessons/acid",
		"did not seal":             "/lessons/unsealed-jars",
		"boiling point":            "/bench/boiling-point",
		"Does my lid PING?":        "/lessons/testing-seals",
		"green beans three hours":  "/lessons/low-acid",
		"thicken with flour":       "/lessons/recipe-changes",
		"bigger jar":               "/lessons/process-time",
		"how long do I boil salsa": "/times/chile-salsa",
	} {
		page := s.get("/find?q=" + url.QueryEscape(typed))
		if page.StatusCode != http.StatusOK || !strings.Contains(string(page.body), `href="`+path) {
			t.Errorf("%q leads to %v, not to %s", typed, leads(t, page), path)
		}
	}
	if got := leads(t, s.get("/find?q=headspace")); len(got) == 0 || !strings.HasPrefix(got[0], "/lessons/headspace") && !strings.HasPrefix(got[0], "/glossary#headspace") {
		t.Errorf("headspace leads first to %v", got)
	}
}

// leads lists the addresses that were found.
func leads(t *testing.T, page response) []string {
	t.Helper()
	var list []string
	walk(parse(t, page.body), func(n *html.Node) {
		if n.Data == "section" && attr(n, "id") == "found" {
			walk(n, func(n *html.Node) {
				if n.Data == "a" {
					list = append(list, attr(n, "href"))
				}
			})
		}
	})
	return list
}

// TestFindTakesAnything: whatever is typed is looked for, never run.
func TestFindTakesAnything(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, typed := range []string{
		"", " ", `"`, `'`, "(", "a OR", "NEAR/2", "title:x", "*", "-jar", `"jar`, "the of and", "<script>alert(1)</script>", "%", "\x00", strings.Repeat("jar ", 500),
		"über 水", "jar AND", "jar\"*", "'; drop table documents; --",
	} {
		page := s.get("/find?q=" + url.QueryEscape(typed))
		if page.StatusCode != http.StatusOK || strings.Contains(string(page.body), "<script>alert") {
			t.Errorf("%q = %d", typed, page.StatusCode)
		}
	}
	if body := string(s.get("/find?q=xqzzyw").body); !strings.Contains(body, "Nothing found") || !strings.Contains(body, "extension service") {
		t.Error("nothing found does not say what to do")
	}
}

// TestWallSheet: figures of the USDA Complete Guide, 2015: p. 3-8 crushed tomatoes,
// quarts above 6 000 ft, 60 min, 1/2 in, 2 tablespoons of bottled lemon juice; p. 4-9 snap beans, hot pack, pints, dial gauge,
// 2 001 to 4 000 ft, 20 min at 12 psi.
func TestWallSheet(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for address, wants := range map[string][]string{
		"food=tomatoes-crushed&jar=quart&altitude=6240+ft":  {"Crushed tomatoes", "6 240 ft (1 902 m)", "60 min", "1/2 in (13 mm)", "2 tbsp (30 ml) bottled lemon juice", "Test every seal"},
		"food=snap-beans&jar=pint&altitude=2500+ft":         {"20 min at 12 psi (83 kPa)", "1 in (25 mm)", "Vent steam for 10 minutes"},
		"food=tomatoes-crushed&jar=half-pint&altitude=0+ft": {"From the row for the pint jar"},
		"food=peaches&jar=half-gallon&altitude=0+ft":        {"No tested process is printed", "extension service"},
	} {
		page := s.get("/wall?" + address)
		got := strings.ReplaceAll(text(find(parse(t, page.body), "main")), "\u00a0", " ")
		for _, want := range wants {
			if page.StatusCode != http.StatusOK || !strings.Contains(got, want) {
				t.Errorf("%s = %d, lacks %q: %s", address, page.StatusCode, want, got)
			}
		}
	}
	if got := s.get("/wall?food=peaches&jar=pint&altitude=high"); got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(string(got.body), `value="high"`) {
		t.Errorf("an altitude that cannot be read = %d, and must stay typed", got.StatusCode)
	}
	for _, address := range []string{"food=nothing&jar=pint&altitude=0", "food=peaches&jar=bucket&altitude=0"} {
		if got := s.get("/wall?" + address); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s = %d, want 404", address, got.StatusCode)
		}
	}
}

// TestWallSheetsHaveTheTablesFigures lays every sheet beside the rows it comes from.
func TestWallSheetsHaveTheTablesFigures(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	table := course.Grader.Table()
	for _, card := range table.Foods() {
		for _, row := range table.Rows(card.Food) {
			sheet, err := wallSheetOf(table, card, row.Jar, 500)
			if err != nil {
				t.Fatal(err)
			}
			if row.FromFt > 500 || row.ToFt != 0 && row.ToFt < 500 {
				continue
			}
			found := false
			for _, way := range sheet.Ways {
				for _, c := range way.Choices {
					found = found || c.Time == fmt.Sprintf("%d min", row.Minutes) && strings.HasPrefix(c.Pressure, pressureOf(row.PSI)) && way.Unconfirmed == row.FromMemory()
				}
			}
			if !found {
				t.Errorf("%s, %s, %s %s: %d min at %d psi is not among %+v", card.Food, row.Jar, row.Method, row.Gauge, row.Minutes, row.PSI, sheet.Ways)
			}
		}
	}
}

func pressureOf(psi int) string {
	if psi == 0 {
		return ""
	}
	return fmt.Sprintf("%d psi", psi)
}

// TestGlossaryIsLinkedFromFirstUse: each word once in a lesson, never inside a link or
// a heading, and every link arrives.
func TestGlossaryIsLinkedFromFirstUse(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	ids := map[string]bool{}
	walk(parse(t, s.get("/glossary").body), func(n *html.Node) {
		if id := attr(n, "id"); id != "" {
			ids[id] = true
		}
	})
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	linked := map[string]bool{}
	for _, l := range course.Lessons.Lessons() {
		here := map[string]bool{}
		walk(parse(t, s.get("/lessons/"+l.Slug).body), func(n *html.Node) {
			if n.Data != "a" || attr(n, "class") != "term" {
				return
			}
			id := strings.TrimPrefix(attr(n, "href"), "/glossary#")
			if here[id] {
				t.Errorf("%s links %s twice", l.Slug, id)
			}
			if !ids[id] {
				t.Errorf("%s links %s, which the glossary does not have", l.Slug, id)
			}
			here[id], linked[id] = true, true
			for p := n.Parent; p != nil; p = p.Parent {
				if p.Data == "a" || regexp.MustCompile(`^h[1-6]$`).MatchString(p.Data) {
					t.Errorf("%s links %s inside <%s>", l.Slug, id, p.Data)
				}
			}
		})
	}
	for _, term := range course.Glossary {
		if !linked[term.ID()] {
			t.Errorf("no lesson uses the word %q", term.Term)
		}
	}
}

func TestTermLinker(t *testing.T) {
	t.Parallel()
	l := newTermLinker([]lessons.Term{{Term: "headspace", Forms: []string{"headspaces"}}, {Term: "jar"}, {Term: "half-pint jar"}})
	for in, want := range map[string]string{
		"<p>Headspace and headspaces</p>":              `<p><a class="term" href="/glossary#headspace">Headspace</a> and headspaces</p>`,
		"<h2>headspace</h2><p>a headspaced jar</p>":    `<h2>headspace</h2><p>a headspaced <a class="term" href="/glossary#jar">jar</a></p>`,
		`<p><a href="/x">jar</a> &amp; <b>jar</b></p>`: `<p><a href="/x">jar</a> &amp; <b><a class="term" href="/glossary#jar">jar</a></b></p>`,
		"<p>a half-pint jar<br>&lt;jar&gt;</p>":        `<p>a <a class="term" href="/glossary#half-pint-jar">half-pint jar</a><br>&lt;<a class="term" href="/glossary#jar">jar</a>&gt;</p>`,
	} {
		got, err := l.link("<p></p>", map[string]bool{})
		if err != nil || got != "<p></p>" {
			t.Errorf("nothing to link: %s, %v", got, err)
		}
		if got, err := l.link(template.HTML(in), map[string]bool{}); err != nil || string(got) != want {
			t.Errorf("%s\n got %s, %v\nwant %s", in, got, err, want)
		}
	}
}

// TestLessonsTellHowFarOneIs: the contents count what was right from memory and lead on.
func TestLessonsTellHowFarOneIs(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	if body := string(s.get("/lessons").body); strings.Contains(body, "Go on:") || strings.Contains(body, "right from memory") {
		t.Error("one of whom nothing is known is told how far he is")
	}
	first := course.Lessons.Lessons()[0]
	for i, id := range first.Questions {
		q, _ := course.Bank.Question(id)
		asked, err := q.Ask(0)
		if err != nil {
			t.Fatal(err)
		}
		form := fields(t, asked, true)
		form.Set("question", id)
		s.post("/lessons/"+first.Slug, form)
		want := fmt.Sprintf("%d of %d right from memory", i+1, len(first.Questions))
		if got := text(find(parse(t, s.get("/lessons").body), "main")); !strings.Contains(got, want) {
			t.Errorf("the contents do not say %q", want)
		}
	}
	if got := text(find(parse(t, s.get("/lessons").body), "main")); !strings.Contains(got, "Go on: "+course.Lessons.Lessons()[1].Title) || !strings.Contains(got, "✓") {
		t.Error("the contents do not lead on to the second lesson")
	}
}

func BenchmarkFind(b *testing.B) {
	s := newSite(b)
	benchmark(b, func() (*http.Response, error) { return s.client.Get(s.URL + "/find?q=hedspace+in+quarts") })
}
