package browser_test

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/process"
	"rollingboil/server"
	"rollingboil/server/store"
)

// TestReadingWay reads the course as it is meant to be read: from the contents to the
// first lesson, and on with the button at the end of each, to the last and into a kitchen.
func TestReadingWay(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.look(phone, light)
	b.open("/lessons", 200)
	all := course.Lessons.Lessons()
	b.follow(all[0].Title, 200)
	for i, l := range all {
		b.reads("h1", l.Title)
		b.reads(".eyebrow", fmt.Sprintf("Lesson %d of %d", i+1, len(all)))
		b.follow("Next: ", 200)
	}
	if got := b.path(); got != "/scenarios" {
		t.Errorf("after the last lesson the way goes on to %s, want /scenarios", got)
	}
}

// TestLessonLinksArrive follows every link of every lesson that leads to a place of this
// site: the page is there, and the part of it that the link names.
func TestLessonLinksArrive(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	places := map[string]map[string]string{} // path: part of the page: a lesson with such a link
	for _, l := range course.Lessons.Lessons() {
		b.open("/lessons/"+l.Slug, 200)
		links := ask[[]string](b, `[...document.querySelectorAll("a[href]")].filter(a => a.origin === location.origin)
			.map(a => a.pathname + a.search + a.hash)`)
		if len(links) < 20 {
			t.Errorf("%s has %d links, of which the navigation alone has as many", l.Slug, len(links))
		}
		for _, link := range links {
			path, part, _ := strings.Cut(link, "#")
			if places[path] == nil {
				places[path] = map[string]string{}
			}
			places[path][part] = l.Slug
		}
	}
	for _, path := range slices.Sorted(maps.Keys(places)) {
		parts := places[path]
		missing := ask[[]string](b, fmt.Sprintf(`fetch(%q).then(async answer => {
			if (answer.status !== 200) return ["the page: " + answer.status];
			const page = new DOMParser().parseFromString(await answer.text(), "text/html");
			return %s.filter(part => part && !page.getElementById(part));
		})`, path, list(slices.Sorted(maps.Keys(parts)))))
		for _, part := range missing {
			t.Errorf("a lesson, such as %s, links to %s, which lacks #%s", parts[part], path, part)
		}
	}
}

// list writes strings as a list of a script.
func list(items []string) string {
	quoted := make([]string, len(items))
	for i, item := range items {
		quoted[i] = fmt.Sprintf("%q", item)
	}
	return "[" + strings.Join(quoted, ", ") + "]"
}

// TestLessonsAreDrawnAndAsk looks at the pictures of each lesson on a phone and on a desk,
// and answers, with the mouse, each question that the lesson asks.
func TestLessonsAreDrawnAndAsk(t *testing.T) {
	t.Parallel()
	for _, l := range course.Lessons.Lessons() {
		t.Run(l.Slug, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			for _, w := range []window{wide, phone} {
				b.look(w, light)
				b.open("/lessons/"+l.Slug, 200)
				ask[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true) ?? true`)
				for _, fault := range ask[[]string](b, pictureFaults) {
					t.Errorf("%d px wide: %s", w.width, fault)
				}
			}
			for _, id := range l.Questions {
				b.answer(l, id)
			}
		})
	}
}

// pictureFaults lists pictures without words for those who do not see them, pictures
// without a size, and words in a drawing that lie on each other or stick out of it.
const pictureFaults = `(() => {
	const faults = [];
	const pictures = [...document.querySelectorAll("main svg, main img")];
	if (pictures.length === 0) faults.push("there is no picture");
	for (const p of pictures) {
		const is = p.outerHTML.slice(0, 120), at = p.getBoundingClientRect();
		const named = (p.getAttribute("aria-labelledby") ?? "").split(" ").filter(id => id)
			.map(id => document.getElementById(id)?.textContent ?? "").join(" ");
		const says = (p.getAttribute("aria-label") ?? p.getAttribute("alt") ?? named).trim();
		if (p.getAttribute("aria-hidden") !== "true" && (says.length < 10 || p.localName === "svg" && p.getAttribute("role") !== "img")) {
			faults.push("nothing is said of the picture " + is);
		}
		if (at.width < 24 || at.height < 8) faults.push(at.width + " by " + at.height + " px is no size for the picture " + is);
		if (!p.matches(".picture, .jar")) continue;
		const words = [...p.querySelectorAll("text")].map(t => [t.textContent, t.getBoundingClientRect()]);
		words.forEach(([text, r], i) => {
			if (r.left < at.left - 1 || r.right > at.right + 1 || r.top < at.top - 1 || r.bottom > at.bottom + 1) {
				faults.push(text + " sticks out of the picture " + is);
			}
			if (p.matches(".picture") && r.height < 15) faults.push(text + " is " + r.height + " px high in the picture " + is);
			for (const [other, o] of words.slice(0, i)) {
				const across = Math.min(r.right, o.right) - Math.max(r.left, o.left);
				const down = Math.min(r.bottom, o.bottom) - Math.max(r.top, o.top);
				if (across > -4 && down > 4) faults.push(text + " lies on " + other + " or touches it");
			}
		});
	}
	return faults;
})()`

// TestLessonWithoutNetwork takes the network away from somebody who reads: what was opened
// is still there, what was not says so, and with the network back all is new again.
func TestLessonWithoutNetwork(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.open("/lessons", 200)
	b.waitFor("the browser keeps what is opened", `navigator.serviceWorker.controller !== null`)
	b.waitFor("the contents are kept", `caches.match("/lessons").then(kept => kept !== undefined)`)
	first, second := course.Lessons.Lessons()[0], course.Lessons.Lessons()[1]
	b.follow(first.Title, 200)

	b.cut.Store(true)
	reload := func() { b.load("reload", 200, chromedp.Reload()) }
	reload()
	b.reads("h1", first.Title)
	if !ask[bool](b, `getComputedStyle(document.querySelector("main")).maxWidth !== "none"`) {
		t.Error("without a network the lesson has no style")
	}
	b.open("/lessons", 200)
	b.reads("h1", "Lessons")
	b.open("/lessons/"+second.Slug, 503)
	b.reads("h1", "No network, and this page was not opened before")
	b.reads("body", "ask your extension service")

	// Back on the network the page is asked for anew: what is kept does not know the
	// altitude, and the new one does.
	b.cut.Store(false)
	b.open("/lessons/"+first.Slug, 200)
	b.do("type an altitude", chromedp.SendKeys(chromedp.CSS("aside #altitude"), "6240 ft"))
	b.follow("Keep it", 200)
	b.reads("main .here", "your band")
	b.cut.Store(true)
	reload()
	b.reads("main .here", "your band")
}

// TestClassLessonWithoutNetwork: a lesson that was written for a class is there without a
// network, too, and no longer once its reader has logged out.
func TestClassLessonWithoutNetwork(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	class := strings.TrimPrefix(classWithAnswers(b, 0), "/class/")
	lesson, _ := course.Lessons.Lesson("headspace")
	source, err := fs.ReadFile(lessons.Shipped(), lesson.File)
	if err != nil {
		t.Fatal(err)
	}
	m := store.Material{ID: "own", Class: class, Kind: store.LessonMaterial, Name: "headspace", Made: time.Now()}
	own := regexp.MustCompile(`(?m)^title: .*$`).ReplaceAllString(string(source), "title: Room at the Grange")
	if err := b.store.AddMaterial(t.Context(), m, store.MaterialVersion{N: 1, Title: m.Name, Source: own, Made: m.Made}); err != nil {
		t.Fatal(err)
	}
	if err := b.store.PublishMaterial(t.Context(), m.ID, store.MaterialEvent{N: 1, At: time.Now()}); err != nil {
		t.Fatal(err)
	}
	b.waitFor("the browser keeps what is opened", `navigator.serviceWorker.controller !== null`)
	b.open("/lessons/headspace", 200)
	b.waitFor("the lesson is kept", `caches.match("/lessons/headspace").then(kept => kept !== undefined)`)
	b.cut.Store(true)
	b.open("/lessons/headspace", 200)
	b.reads("h1", "Room at the Grange")
	b.cut.Store(false)
	b.open("/class", 200)
	b.follow("Log out", 200)
	b.waitFor("it is not kept", `caches.match("/lessons/headspace").then(kept => kept === undefined)`)
	b.cut.Store(true)
	b.open("/lessons/headspace", 503)
}

// TestTextTwiceAsLarge sets all text to twice its size, as a reader with weak eyes does.
// Nothing has to be scrolled sideways but a wide table within its own frame: WCAG 2.2,
// 1.4.4 Resize Text and 1.4.10 Reflow.
func TestTextTwiceAsLarge(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	pages := []func(*tab){}
	for _, path := range []string{
		"/", "/lessons", "/practice", "/practice/altitude-1?seed=7", "/check", "/review", "/ready", "/scenarios", "/plan",
		"/times", "/times/tomato-juice", "/times/snap-beans?altitude=6240+ft", "/rules", "/rules/time-short", "/sources", "/glossary", "/find", "/find?q=hedspace",
		"/wall", "/wall?food=tomatoes-crushed&jar=quart&altitude=6240+ft", "/booklet", "/bench", "/bench/ear?round=7",
		"/bench/heating?then=cooling", "/bench/seals?a=2%2F14&b=0%2F14", "/my-work", "/class", "/login", "/join",
	} {
		pages = append(pages, at(path, 200))
	}
	for _, l := range course.Lessons.Lessons() {
		pages = append(pages, at("/lessons/"+l.Slug, 200))
	}
	for _, d := range bench.New(course.Grader.Table()).Demos() {
		pages = append(pages, at("/bench/"+d.Name, 200))
	}
	for _, kind := range scenarios.ScenarioKinds() {
		pages = append(pages, at("/scenarios/"+firstOf(kind).Slug+"?case=1", 200))
	}
	pages = append(pages, graded(but(tomatoes(), "time", "45 min", "acid.kind", "none", "acid.per_jar", ""), "Not safe as written"))
	for _, page := range []string{"", "/change", "/code", "/assign"} {
		pages = append(pages, func(b *tab) { b.open(b.class()+page, 200) })
	}
	for _, open := range pages {
		open(b)
		for _, w := range []window{wide, phone} {
			b.look(w, light)
			got := ask[float64](b, `(document.documentElement.style.fontSize = "200%", document.scrollingElement.scrollWidth)`)
			if got > float64(w.width) {
				t.Errorf("%s is %v px wide in a window of %d px, with text twice as large", b.path(), got, w.width)
			}
		}
	}
}

// class makes an instructor and a class of hers, once, and gives the class's path.
func (b *tab) class() string {
	b.Helper()
	b.open("/class", 200)
	if b.text("main a[href='/class/new']") == "" {
		address, err := server.Invite(b.ctx, b.store, time.Now())
		if err != nil {
			b.Fatal(err)
		}
		b.open(address, 200)
		b.send(`main form`, map[string]string{"name": "Wilhelmina of the Harrow Creek Grange", "password": "seven jars on a towel"}, 200)
		b.open("/class/new", 200)
		b.send(`main form`, map[string]string{"name": "Thursday evening", "starts": "2026-09-03", "weeks": "6", "zone": "America/Denver", "altitude": "6240 ft"}, 200)
		return b.path()
	}
	return ask[string](b, `[...document.querySelectorAll("main a[href^='/class/']")].map(a => a.pathname).find(path => path !== "/class/new")`)
}

// TestWallSheetIsOnePage prints the sheets that have the most to say.
func TestWallSheetIsOnePage(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	cards := course.Grader.Table().Foods()
	much := func(c process.Card) int { return len(c.Directions) + len(c.Note) + 150*len(c.Packs) }
	slices.SortFunc(cards, func(a, b process.Card) int { return much(b) - much(a) })
	sheets := []string{"food=tomatoes-crushed&jar=quart&altitude=6240+ft", "food=snap-beans&jar=pint&altitude=2500+ft", "food=peaches&jar=half-gallon&altitude=0+ft"}
	for _, c := range cards[:8] {
		sheets = append(sheets, "food="+c.Food+"&jar=pint&altitude=500+ft")
	}
	for _, sheet := range sheets {
		b.open("/wall?"+sheet, 200)
		if n := pagesOf(b.print()); n != 1 {
			t.Errorf("the sheet %s takes %d pages, want one to hang up", sheet, n)
		}
	}
}

// TestBookletHasPageNumbers prints the booklet as it is and without what is written below
// its pages: each page but for that has less on it.
func TestBookletHasPageNumbers(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.open("/booklet", 200)
	numbered := b.print()
	n := pagesOf(numbered)
	if lessons := len(course.Lessons.Lessons()); n < 2*lessons {
		t.Fatalf("the booklet of %d lessons has %d pages", lessons, n)
	}
	ask[bool](b, `(() => {
		const sheet = document.styleSheets[0];
		sheet.insertRule("@page booklet { @bottom-center { content: none; } }", sheet.cssRules.length);
		return true;
	})()`)
	bare := b.print()
	if got := pagesOf(bare); got != n {
		t.Fatalf("without page numbers the booklet has %d pages instead of %d", got, n)
	}
	if got := textsOf(t, numbered) - textsOf(t, bare); got < n {
		t.Errorf("on %d pages there are %d page numbers", n, got)
	}
}

// print prints the page as the button on it does.
func (b *tab) print() []byte {
	b.Helper()
	pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
	if err != nil {
		b.Fatalf("print %s: %v", b.path(), err)
	}
	return pdf
}

var pdfPage = regexp.MustCompile(`/Type\s*/Page\b`)

// pagesOf counts the pages of a PDF: each is an object of its own, ISO 32000-1, 7.7.3.3.
func pagesOf(pdf []byte) int { return len(pdfPage.FindAll(pdf, -1)) }

var pdfStream = regexp.MustCompile(`/Length (\d+)[^<>]*>>\s*stream\r?\n`)

// textsOf counts the operators that show text in a PDF's streams, ISO 32000-1, 9.4.3.
func textsOf(t *testing.T, pdf []byte) (n int) {
	t.Helper()
	for _, at := range pdfStream.FindAllSubmatchIndex(pdf, -1) {
		length, err := strconv.Atoi(string(pdf[at[2]:at[3]]))
		if err != nil {
			t.Fatal(err)
		}
		unpacked, err := zlib.NewReader(bytes.NewReader(pdf[at[1] : at[1]+length]))
		if err != nil {
			continue // not packed, as the description of the file
		}
		content, err := io.ReadAll(unpacked)
		if err != nil {
			t.Fatal(err)
		}
		n += bytes.Count(content, []byte(" Tj\n"))
	}
	return n
}
