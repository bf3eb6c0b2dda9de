package browser_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"rollingboil/server/hostiletest"
)

// inScript writes a value as JavaScript does.
func inScript(t *testing.T, value any) string {
	t.Helper()
	b, err := json.Marshal(value)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// showsPreviewOf puts a source into the text and waits for its preview.
func (b *tab) showsPreviewOf(source string) {
	b.Helper()
	before := ask[string](b, `(source => {
		const text = document.getElementById("text"), name = [...document.querySelectorAll("[data-previews] iframe")].at(-1)?.name ?? "";
		text.value = source;
		text.dispatchEvent(new Event("input"));
		return name;
	})(`+inScript(b.T, source)+`)`)
	b.waitFor("the preview", fmt.Sprintf(`![%q, undefined].includes(document.querySelector("[data-previews] iframe:not(.coming)")?.name) && !document.querySelector("iframe.coming")`, before))
}

// namesIn lists the elements of a document, each once.
const namesIn = `(page => [...new Set([...page.querySelectorAll("*")].map(e => e.localName))].sort())`

// brokenOut lists what a document holds beyond what the pages of the course are made of:
// an element that is not among the allowed, something that runs or ran, an address
// elsewhere other than a link with https.
const brokenOut = `((page, allowed) => {
	const found = [];
	for (const e of page.querySelectorAll("*")) {
		if (!allowed.includes(e.localName)) found.push("an element <" + e.localName + ">");
		for (const a of e.attributes) {
			if (a.name.startsWith("on") || ["style", "srcdoc", "http-equiv", "ping", "background", "poster"].includes(a.name)) found.push(e.localName + " has " + a.name + "=" + a.value);
			if (!["href", "src", "srcset", "action", "formaction", "data", "xlink:href"].includes(a.name)) continue;
			let to;
			try { to = new URL(a.value, location.href) } catch { found.push(e.localName + " leads to " + a.value); continue }
			if (to.origin !== location.origin && !(e.localName === "a" && a.value.startsWith("https://") && to.protocol === "https:")) found.push(e.localName + " leads to " + a.value);
		}
	}
	if (window.hit || page.defaultView.hit) found.push("a script has run");
	return found;
})`

// becomes are the elements that Markdown may become, and those in which problems are listed.
var becomes = []string{"h1", "h2", "h3", "h4", "p", "ul", "ol", "li", "strong", "em", "blockquote", "pre", "code", "hr", "table", "thead", "tbody", "tr", "th", "td", "div", "a", "section"}

// TestHostileTexts: what is put into a lesson, a question and a scenario to run something
// or to ask for something from elsewhere is text in the preview, among the problems, and on
// the page that a student reads. That nothing was asked for and no rule of the content
// security policy broken is seen by every tab of these tests; see notice.
func TestHostileTexts(t *testing.T) {
	t.Parallel()
	texts, err := hostiletest.Texts()
	if err != nil {
		t.Fatal(err)
	}
	drafts, err := hostiletest.Drafts()
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range drafts {
		t.Run(d.Name, func(t *testing.T) {
			t.Parallel()
			ida := openTab(t)
			var framed atomic.Int64 // what the previews asked for
			if err := chromedp.Listen(ida.ctx, func(event any) {
				switch e := event.(type) {
				case *network.EventRequestWillBeSent:
					if strings.HasSuffix(e.Request.URL, "/preview") {
						framed.Add(1)
					}
				case *page.EventJavascriptDialogOpening:
					t.Errorf("a dialog says %q", e.Message)
				}
			}); err != nil {
				t.Fatal(err)
			}
			class, code := ida.holdClass()
			ann := ida.somebodyElse()
			ann.join(code, "Ann Orchard")
			start := map[string]string{"lesson": "start lesson.md", "question": "start question-choice.yaml", "scenario": "start scenario-plan.md"}[d.Kind]
			at := ida.begins(class, d.Kind, start, d.Name)
			read := map[string]string{"lesson": "/lessons/", "question": "/practice/", "scenario": "/scenarios/"}[d.Kind] + d.Name

			plain := make([]string, d.Places)
			for i := range plain {
				plain[i] = hostiletest.Harmless
			}
			source, _ := d.With(plain)
			ida.hurries()
			ida.showsPreviewOf(source)
			ida.previewSays("The checks find nothing")
			allowed := slices.Concat(becomes, ask[[]string](ida, namesIn+`(`+previewPage+`)`))
			ida.publishes(at)
			ann.open(read, 200)
			allowedRead := slices.Concat(becomes, ask[[]string](ann, namesIn+`(document)`))

			shifts := 1
			if d.Kind == "lesson" { // it has the most places
				shifts = 2
			}
			refused, published := 0, 0
			for shift := range shifts {
				for _, filled := range d.Mixed(texts, shift*3) {
					source, places := d.With(filled)
					ida.hurries()
					ida.showsPreviewOf(source)
					for _, fault := range ask[[]string](ida, brokenOut+`(`+previewPage+`,`+inScript(t, allowed)+`)`) {
						t.Errorf("the preview has %s, of\n%.3000q", fault, source)
					}
					refused += ida.problemsAreText(source)
					for range 2 * d.Places { // to what passes
						lines := ida.problemLines(at, source)
						if lines == nil {
							break
						}
						filled = hostiletest.Mended(filled, lines, places)
						source, places = d.With(filled)
					}
					ida.showsPreviewOf(source)
					ida.previewSays("The checks find nothing")
					for _, fault := range ask[[]string](ida, brokenOut+`(`+previewPage+`,`+inScript(t, allowed)+`)`) {
						t.Errorf("the preview has %s, of\n%.3000q", fault, source)
					}
					ida.publishes(at)
					ann.open(read, 200)
					for _, fault := range ask[[]string](ann, brokenOut+`(document,`+inScript(t, allowedRead)+`)`) {
						t.Errorf("the class reads %s, of\n%.3000q", fault, source)
					}
					for _, text := range filled {
						if text != hostiletest.Harmless {
							published++
						}
					}
				}
			}
			t.Logf("%d problems, %d texts published, %d previews", refused, published, framed.Load())
			if published < len(texts)/3 {
				t.Errorf("the class reads %d texts of %d: the test puts them wrong", published, len(texts))
			}
			if framed.Load() < 4 {
				t.Errorf("what frames ask for is not seen: %d previews", framed.Load())
			}

			ida.previewSays("The checks find nothing")
			// That the tab would complain: a picture from elsewhere in the preview.
			ask[bool](ida, `(page => { const picture = page.createElement("img"); picture.src = "https://evil.example/x.png"; page.body.append(picture); return true })(`+previewPage+`)`)
			ida.waitFor("the picture is refused", `document.querySelector("iframe:not(.coming)").contentDocument.querySelector("img").complete`)
			ida.mu.Lock()
			if !slices.ContainsFunc(ida.amiss, func(a string) bool { return strings.Contains(a, "evil.example") }) {
				t.Errorf("nobody complains of a picture from elsewhere in a preview: %q", ida.amiss)
			}
			ida.amiss = slices.DeleteFunc(ida.amiss, func(a string) bool { return strings.Contains(a, "https://evil.example/x.png") })
			ida.mu.Unlock()
		})
	}
}

// hurries leaves out the pause before a preview, which is for writers.
func (b *tab) hurries() {
	b.Helper()
	ask[bool](b, `(later => { window.setTimeout = f => later(f, 0); return true })(window.setTimeout.bind(window))`)
}

// publishes keeps and publishes what stands in the text.
func (b *tab) publishes(at string) {
	b.Helper()
	b.load("publish", 200, chromedp.Evaluate[chromedp.Void](`document.querySelector("button[value=publish]").click()`))
	b.reads("#state", "Published on")
	if got := ask[string](b, "location.pathname"); got != at {
		b.Fatalf("published, the page is %s", got)
	}
}

// problemsAreText wants of each problem of the preview the beginning of its line, as text,
// and gives how many there are.
func (b *tab) problemsAreText(source string) int {
	b.Helper()
	type listed struct {
		Line  int
		Text  string
		Names []string
	}
	lines := strings.Split(source, "\n")
	all := ask[[]listed](b, `[...`+previewPage+`.querySelectorAll(".problems li")].map(li => ({
		Line: Number(li.querySelector("a")?.dataset.line ?? 0), Text: li.querySelector("code")?.textContent ?? "", Names: [...li.querySelectorAll("*")].map(e => e.localName),
	}))`)
	for _, p := range all {
		if slices.ContainsFunc(p.Names, func(name string) bool { return name != "a" && name != "code" }) {
			b.Errorf("the problem of line %d is made of %q", p.Line, p.Names)
		}
		if p.Line == 0 || p.Text == "" {
			continue
		}
		// HTML Living Standard, 13.2.5: a null byte in text is not drawn or is drawn as U+FFFD.
		line := strings.Join(strings.Fields(lines[p.Line-1]), " ")
		shown := strings.NewReplacer("\x00", "", "\uFFFD", "")
		if want := shown.Replace(line); !strings.HasPrefix(want, strings.TrimSpace(shown.Replace(strings.TrimSuffix(p.Text, "…")))) {
			b.Errorf("line %d is shown as %q, want the beginning of %q", p.Line, p.Text, want)
		}
	}
	return len(all)
}

// problemLines lists the lines that the checks find fault with, 0 for none; nil if they find
// nothing.
func (b *tab) problemLines(at, source string) []int {
	b.Helper()
	return ask[[]int](b, `fetch(`+inScript(b.T, at+"/preview")+`, {method: "POST", body: new URLSearchParams({text: `+inScript(b.T, source)+`})}).then(r => r.text()).then(text => {
		const page = new DOMParser().parseFromString(text, "text/html");
		const list = [...page.querySelectorAll(".problems li")].map(li => Number(li.querySelector("a")?.dataset.line ?? 0));
		return list.length ? list : null;
	})`)
}
