package browser_test

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rollingboil/server/store"
)

// The page where a material is written: its form, and the document in the frame beside it.
const (
	writingForm = "form[data-writing]"
	previewPage = `document.querySelector("[data-previews] iframe:not(.coming)")?.contentDocument`
)

// begins begins a material from the list of a class, and gives its path.
func (b *tab) begins(class, kind, from, name string) string {
	b.Helper()
	b.open(class+"/materials", 200)
	b.follow("Write a "+kind, 200)
	b.send("main form", map[string]string{"from": from, "called": name}, 200)
	return b.path()
}

// written is what stands in the text.
func (b *tab) written() string {
	b.Helper()
	return ask[string](b, `document.getElementById("text").value`)
}

// replaces selects some words of the text and types others in their place.
func (b *tab) replaces(old, with string) {
	b.Helper()
	if !ask[bool](b, fmt.Sprintf(`(old => {
		const text = document.getElementById("text"), at = text.value.indexOf(old);
		text.focus();
		text.setSelectionRange(at, at + old.length);
		return at >= 0;
	})(%q)`, old)) {
		b.Fatalf("%s: %q is not in the text", b.path(), old)
	}
	b.press(with)
}

// adds types at the end of the text.
func (b *tab) adds(more string) {
	b.Helper()
	ask[bool](b, `(text => { text.focus(); text.setSelectionRange(text.value.length, text.value.length); return true })(document.getElementById("text"))`)
	b.press(more)
}

// previewSays waits until the preview has the words, or, with "!" before them, has them no longer.
func (b *tab) previewSays(words string) {
	b.Helper()
	rest, not := strings.CutPrefix(words, "!")
	b.waitFor("the preview says "+words, fmt.Sprintf(`(says => says !== undefined && says.includes(%q) !== %v)(%s?.querySelector("main")?.innerText)`, rest, not, previewPage))
}

// asksBeforeLeaving tells whether the page would have the browser ask before it is left.
// HTML Living Standard, 7.4.2.4: it does if the event beforeunload is canceled.
func (b *tab) asksBeforeLeaving() bool {
	b.Helper()
	return ask[bool](b, `(event => { dispatchEvent(event); return event.defaultPrevented })(new Event("beforeunload", {cancelable: true}))`)
}

// TestAuthoring: an instructor writes a lesson and sees it beside the text; a mistake is
// shown, found, refused and mended; the class reads what was published last, and nothing
// once it is taken back.
func TestAuthoring(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, code := ida.holdClass()
	ann := ida.somebodyElse()
	ann.join(code, "Ann Orchard")
	const read = "/lessons/clock-at-the-grange"
	at := ida.begins(class, "lesson", "start lesson.md", "clock-at-the-grange")
	ida.previewSays("The tested time counts from the full boil")
	if ida.asksBeforeLeaving() {
		t.Error("the page asks before leaving although nothing was written")
	}

	// The preview follows, keeps its place and leaves the focus where it is.
	ask[bool](ida, previewPage+`.defaultView.scrollTo(0, 400) ?? true`)
	ida.replaces("Begin with the reason.", "Begin with the bubbles.")
	ida.previewSays("Begin with the bubbles.")
	if y := ask[float64](ida, previewPage+`.defaultView.scrollY`); y != 400 {
		t.Errorf("the preview was scrolled to 400 px and is drawn anew at %v", y)
	}
	if ask[string](ida, `document.activeElement.id`) != "text" {
		t.Error("the preview takes the focus")
	}
	ida.press(" Look.")
	ida.previewSays("Begin with the bubbles. Look.")
	if !ida.asksBeforeLeaving() {
		t.Error("the page does not ask before what was written is lost")
	}
	ann.open(read, 404)

	// Previews are no steps of the browser's history.
	ida.replaces("Begin with the bubbles. Look.", "Begin with the reason.")
	ida.previewSays("Begin with the reason.")
	ida.do("go back", chromedp.Evaluate[chromedp.Void](`history.back()`))
	ida.waitFor("after three previews, back leads to the page before", fmt.Sprintf(`location.pathname === %q`, class+"/materials/new"))

	// A mistake is shown at its line, and a click leads there.
	ida.open(at, 200)
	ida.adds("\nBoil it 10 minutes.\n")
	ida.previewSays(`the figure "10 minutes" is typed in`)
	wrong := ida.written()
	line := 1 + strings.Count(wrong[:strings.Index(wrong, "Boil it 10")], "\n")
	ida.previewSays(fmt.Sprintf("Line %d", line))
	ask[bool](ida, `scrollTo(0, 0) ?? true`)
	x, y := ida.placeOf(previewPage+`.querySelector("a[data-line]")`, `document.querySelector("[data-previews] iframe:not(.coming)")`)
	ida.do("click the line", chromedp.MouseClickXY(x, y))
	selected := `(text => document.activeElement === text && text.value.slice(text.selectionStart, text.selectionEnd) === "Boil it 10 minutes.")(document.getElementById("text"))`
	ida.waitFor("the line selected", selected)

	ida.follow("Keep and publish", http.StatusUnprocessableEntity)
	ida.reads("[role=alert]", "kept, but not published")
	if got := ida.written(); got != wrong {
		t.Errorf("refused, the text is\n%s", got)
	}
	ann.open(read, 404)
	ida.do("click the line of the page", chromedp.Click(named("//main", fmt.Sprintf("Line %d", line))))
	ida.waitFor("the line selected", selected)

	// Mended and published with the keyboard alone.
	ida.press("Wait for the boil.")
	ida.previewSays("Wait for the boil.")
	ida.tabTo("the button", `textContent === "Keep and publish"`)
	ida.enter("publish", 200)
	ida.reads("#state", "Published on")
	ida.previewSays("Wait for the boil.")
	ida.tabsThroughPreview()
	ann.open(read, 200)
	ann.reads("main", "Wait for the boil.")
	ann.reads(".own", "Written by the instructor of your class")

	// Revised, gone back from, and taken back.
	ida.open(at, 200)
	ida.replaces("Wait for the boil.", "Wait for a full boil.")
	ida.previewSays("Wait for a full boil.")
	ida.follow("Keep and publish", 200)
	ann.open(read, 200)
	ann.reads("main", "Wait for a full boil.")
	ida.follow("Version 1", 200)
	ida.follow("Go back to version 1", 200)
	if got := ida.written(); strings.Contains(got, "Wait for") || !strings.Contains(got, "Begin with the reason.") {
		t.Errorf("after going back the text is\n%s", got)
	}
	ann.open(read, 200)
	ann.reads("main", "Wait for a full boil.")
	ida.follow("Keep and publish", 200)
	ann.open(read, 200)
	if says := ann.text("main"); strings.Contains(says, "Wait for") {
		t.Errorf("after going back the class reads %s", says)
	}
	ida.follow("Take it back from the class", 200)
	ida.reads("#state", "Taken back")
	ann.open(read, 404)
}

// tabsThroughPreview comes into the preview and out of it again with Tab alone.
func (b *tab) tabsThroughPreview() {
	b.Helper()
	inside := false
	for range 60 {
		b.press(kb.Tab)
		switch ask[string](b, `document.activeElement.localName === "iframe" ? "inside" : document.activeElement.matches("ol a") ? "after" : ""`) {
		case "inside":
			inside = true
		case "after":
			if !inside {
				b.Error("Tab leads past the preview")
			}
			return
		}
	}
	b.Error("Tab does not lead out of the preview")
}

// TestPreviewLinks: a link to a heading leads there within the preview; others open a tab,
// so that the text stays.
func TestPreviewLinks(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, _ := ida.holdClass()
	ida.begins(class, "lesson", "start lesson.md", "clock-at-the-grange")
	ida.replaces("Begin with the reason.", "See [what people say](#what-people-say).")
	ida.previewSays("See what people say.")
	link := previewPage + `.querySelector("a[href='#what-people-say']")`
	ask[bool](ida, `scrollTo(0, 0) ?? true`)
	x, y := ida.placeOf(link, `document.querySelector("[data-previews] iframe:not(.coming)")`)
	ida.do("follow the link", chromedp.MouseClickXY(x, y))
	ida.waitFor("the heading in sight", `Math.abs(`+previewPage+`.getElementById("what-people-say").getBoundingClientRect().top) < 60`)
	if got := ask[string](ida, previewPage+`.querySelector("a[href^='/']").target || `+previewPage+`.querySelector("base").target`); got != "_blank" {
		t.Errorf("a link elsewhere opens in %q", got)
	}
}

// placeOf is where an element within a frame is drawn, after it is brought into the frame.
func (b *tab) placeOf(element, frame string) (x, y float64) {
	b.Helper()
	at := ask[[2]float64](b, fmt.Sprintf(`((element, frame) => {
		element.scrollIntoView({block: "center"});
		const inner = element.getBoundingClientRect(), outer = frame.getBoundingClientRect();
		return [outer.x + frame.clientLeft + inner.x + inner.width / 2, outer.y + frame.clientTop + inner.y + inner.height / 2];
	})(%s, %s)`, element, frame))
	return at[0], at[1]
}

// TestAuthoringWhatIsNotKept: what was typed and could not be kept, because another tab
// was quicker, is asked about before the page is left.
func TestAuthoringWhatIsNotKept(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, _ := ida.holdClass()
	at := ida.begins(class, "lesson", "start lesson.md", "clock-at-the-grange")
	other := ida.another()
	other.open(at, 200)
	other.adds("\nA word of the other tab.\n")
	other.follow("Keep this version", 200)
	if other.asksBeforeLeaving() {
		t.Error("what is kept is asked about")
	}
	ida.adds("\nA word of this tab.\n")
	ida.follow("Keep this version", http.StatusConflict)
	if !ida.asksBeforeLeaving() {
		t.Error("what was not kept is not asked about")
	}
	ida.follow("Keep this version", 200)
	if ida.asksBeforeLeaving() || !strings.Contains(ida.written(), "A word of this tab.") {
		t.Errorf("kept at last, the text is\n%s", ida.written())
	}
}

// TestAuthoringWithoutNetwork: while nothing can be previewed the page says so, keeps what
// is written, and previews again once it can.
func TestAuthoringWithoutNetwork(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, _ := ida.holdClass()
	ida.begins(class, "lesson", "start lesson.md", "clock-at-the-grange")
	ida.previewSays("Begin with the reason.")
	ida.cut.Store(true)
	ida.adds("\nA word without the network.\n")
	ida.waitFor("it is said", `document.querySelector("[data-previews] [role=status]").innerText.includes("does not answer")`)
	ida.previewSays("Begin with the reason.")
	ida.cut.Store(false)
	ida.adds("\nAnd one with it.\n")
	ida.previewSays("And one with it.")
	ida.reads("[data-previews] [role=status]", "The preview follows what you write.")
}

// tabTitled waits for another tab of the site with this title.
func (b *tab) tabTitled(title string) *tab {
	b.Helper()
	for end := time.Now().Add(patience); time.Now().Before(end); time.Sleep(20 * time.Millisecond) {
		all, err := chromedp.Targets(b.ctx)
		if err != nil {
			b.Fatal(err)
		}
		for _, info := range all {
			if info.Title != title || !strings.HasPrefix(info.URL, b.site+"/") {
				continue
			}
			ctx, closeTab := chromedp.NewContext(b.ctx, chromedp.WithTargetID(info.TargetID))
			b.Cleanup(closeTab)
			if err := chromedp.Do(ctx); err != nil {
				b.Fatalf("go to the tab %q: %v", title, err)
			}
			return &tab{T: b.T, ctx: ctx, site: b.site, store: b.store, cut: b.cut}
		}
	}
	b.Fatalf("no tab has the title %q", title)
	return nil
}

// TestAuthoringWithoutScript: the same by forms alone.
func TestAuthoringWithoutScript(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, code := ida.holdClass()
	ann := ida.somebodyElse()
	ann.join(code, "Ann Orchard")
	call(ida, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	ida.begins(class, "lesson", "start lesson.md", "clock-at-the-grange")
	if ask[bool](ida, `document.querySelector("[data-previews]").checkVisibility()`) {
		t.Error("a preview is promised that nothing draws")
	}
	ida.adds("\n```question id=process-time-11111\n```\n")
	wrong := ida.written()
	line := 1 + strings.Count(wrong[:strings.Index(wrong, "```question id=process-time-11111")], "\n")

	ida.do("preview", chromedp.Click(named("//main", "Preview in a new tab")))
	preview := ida.tabTitled("Preview · Rolling Boil")
	preview.reads("main", `no question "process-time-11111"`)
	preview.reads("main", fmt.Sprintf("Line %d", line))
	if got := ida.written(); got != wrong {
		t.Errorf("after the preview the text is\n%s", got)
	}

	ida.follow("Keep this version", 200)
	ida.reads("[data-checks]", fmt.Sprintf("Line %d", line))
	ida.reads("[data-checks]", `no question "process-time-11111"`)
	ida.replaces("process-time-11111", "process-time-2")
	ida.follow("Keep and publish", 200)
	ann.open("/lessons/clock-at-the-grange", 200)
	ann.reads(".own", "Written by the instructor of your class")
}

// TestAuthoringQuestion: a question is begun, changed, previewed with another drawing,
// published, and answered by a student.
func TestAuthoringQuestion(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, code := ida.holdClass()
	ann := ida.somebodyElse()
	ann.join(code, "Ann Orchard")
	ida.begins(class, "question", "start question-drawn.yaml", "grange-drawn")
	ida.previewSays("To the right answer")
	stem := `(says => says)(` + previewPage + `.querySelector("legend").innerText)`
	before := ask[string](ida, stem)
	for drawing := 1; ; drawing++ {
		ida.write("drawing", fmt.Sprint(drawing))
		ida.waitFor("the preview of a drawing", `!document.querySelector("iframe.coming") && `+previewPage+`?.querySelector("legend")`+` !== null`)
		if ask[string](ida, stem) != before {
			break
		}
		if drawing == 20 {
			t.Fatalf("each drawing is %q", before)
		}
	}
	if ida.asksBeforeLeaving() {
		t.Error("another drawing is taken for something written")
	}
	ida.replaces("    stem: ", "    stem: At the Grange. ")
	ida.previewSays("At the Grange.")
	ida.follow("Keep and publish", 200)
	ida.reads("#state", "Published on")

	ann.open(class+"/materials", 200)
	ann.follow("At the Grange.", 200)
	ann.reads(".own", "Written by the instructor of your class")
	ann.do("choose an answer", chromedp.Click(chromedp.CSS("#q-grange-drawn .choice")))
	ann.load("answer", 200, chromedp.Click(chromedp.CSS("#q-grange-drawn button")))
	ann.reads("#q-grange-drawn .feedback", "From:")
}

// TestAuthoringScenario: the same for a scenario.
func TestAuthoringScenario(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	class, code := ida.holdClass()
	ann := ida.somebodyElse()
	ann.join(code, "Ann Orchard")
	ida.begins(class, "scenario", "start scenario-plan.md", "tomatoes-at-the-grange")
	ida.previewSays("Settled")
	jar := `(says => says.includes("pint jars") ? "pint" : says.includes("quart jars") ? "quart" : says)(` + previewPage + `.querySelector(".prose").innerText)`
	before := ask[string](ida, jar)
	for drawing := 1; ; drawing++ {
		ida.write("drawing", fmt.Sprint(drawing))
		ida.waitFor("the preview of a drawing", `!document.querySelector("iframe.coming") && `+previewPage+`?.querySelector(".prose") !== null`)
		if ask[string](ida, jar) != before {
			break
		}
		if drawing == 20 {
			t.Fatalf("each drawing is of %q", before)
		}
	}
	ida.replaces("It is Saturday", "It is a wet Saturday")
	ida.previewSays("It is a wet Saturday")
	ida.follow("Keep and publish", 200)
	ida.reads("#state", "Published on")

	ann.open("/scenarios/tomatoes-at-the-grange", 200)
	ann.reads("main", "It is a wet Saturday")
	ann.reads(".own", "Written by the instructor of your class")
	ann.send(`form[action$="#report"]`, map[string]string{"pack": "hot", "method": "boiling-water", "time": "20 min"}, 200)
	ann.reads("#report .verdict", "Not safe as written")
}

// acceptedBatch keeps a record of a student with a jar that sealed and one that did not, which
// the instructor, who is logged in, accepts on its page.
func (b *tab) acceptedBatch(class string) {
	b.Helper()
	now := time.Now()
	keep := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	id := strings.TrimPrefix(class, "/class/")
	load := store.Assignment{ID: store.NewID(), Class: id, Kind: "batch", About: "peaches", Title: "Peaches", Settings: []byte("{}"), Opens: now, Due: now, Made: now}
	keep(b.store.Assign(b.ctx, load))
	student := store.Person{Visitor: store.NewID(), Role: store.Student, Name: "Wilhelmina Overbrook", Password: "none", Sessions: 1, Joined: now}
	keep(b.store.Join(b.ctx, id, student, false))
	batch, err := b.store.BeginBatch(b.ctx, store.Batch{ID: store.NewID(), Visitor: student.Visitor, Assignment: load.ID, Made: now})
	keep(err)
	// Peaches, hot pack, pints, below 1 000 ft: USDA Guide 2, p. 2-19.
	file := []byte(`plan: {food: peaches, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 20 min, headspace: 1/2 in}
record:
  boil_reached: 2026-08-20T14:30:00-06:00
  finished: 2026-08-20T14:50:00-06:00
  jars:
    - {n: 1, sealed: true, liquid_lost: none, checked_after: 14 h, placed: shelf}
    - {n: 2, sealed: false, liquid_lost: none, checked_after: 14 h, placed: fridge}
`)
	cooked, _, err := course.Grader.ParseFile("", file)
	keep(err)
	report, err := json.Marshal(course.Grader.GradeBatch(cooked))
	keep(err)
	keep(b.store.AddBatchVersion(b.ctx, store.BatchVersion{Batch: batch.ID, N: 1, Kind: store.RecordVersion, File: file, Report: report, At: now}, ""))
	keep(b.store.AddBatchEvent(b.ctx, batch.ID, store.BatchEvent{What: store.RecordSent, N: 1, At: now}, ""))
	b.open(class, 200)
	b.follow("A record to review", 200)
	b.follow("Accept the batch", 200)
}

// TestAuthoringFromTheKitchen: an accepted batch becomes a scenario and a trial a lesson,
// through the links on their pages, and the class can read both.
func TestAuthoringFromTheKitchen(t *testing.T) {
	t.Parallel()
	ida := openTab(t)
	trial := ida.trial()
	class := trial[:strings.Index(trial, "/trials/")]
	ida.open(class, 200)
	code := ida.text(".spelled")
	ann := ida.somebodyElse()
	ann.join(code, "Ann Orchard")

	ida.open(trial+"/workbook", 200)
	ida.follow("Make a lesson of this trial", 200)
	ida.follow("Begin", 200)
	ida.previewSays("The checks find nothing")
	ida.follow("Keep and publish", 200)
	ida.reads("#state", "Published on")
	ann.open(class+"/materials", 200)
	ann.follow("published on", 200)
	ann.reads("main", "A shortcut that seals is not thereby tested.")
	ann.reads(".own", "Written by the instructor of your class")

	ida.acceptedBatch(class)
	ida.follow("Make a scenario of this batch", 200)
	ida.follow("Begin", 200)
	if text := ida.written(); strings.Contains(text, "Wilhelmina") || strings.Contains(text, "Overbrook") {
		t.Errorf("the student is named in\n%s", text)
	}
	ida.previewSays("The checks find nothing")
	ida.follow("Keep and publish", 200)
	scenario := ask[string](ida, `document.querySelector("#state a").pathname`)
	ann.open(scenario, 200)
	ann.reads(".own", "Written by the instructor of your class")
	ann.set(`form[action$="#told"]`, "jar-1", "shelf")
	ann.set(`form[action$="#told"]`, "jar-2", "refrigerate")
	ann.send(`form[action$="#told"]`, nil, 200)
	if ann.text("#told") == "" {
		t.Error("nothing is said to what was decided")
	}
}

// materialVisits are the pages on which an instructor writes, and the list that a class has.
func materialVisits() []visit {
	// some begins a lesson, publishes it and keeps a faulty version of it.
	some := func(b *tab) (class, at string) {
		class, _ = b.holdClass()
		at = b.begins(class, "lesson", "start lesson.md", "clock-at-the-grange")
		b.follow("Keep and publish", 200)
		b.set(writingForm, "text", strings.ReplaceAll(b.written(), "minutes: 5", "minutes: 500")+"\n```question id=process-time-11111\n```\n\nBoil it 10 minutes.\n")
		b.follow("Keep this version", 200)
		return class, at
	}
	// alone shows the preview of what stands in the text without the page around it.
	alone := func(b *tab) {
		b.load("preview", 200, chromedp.Evaluate[chromedp.Void](`(button => { button.formTarget = "_self"; button.form.requestSubmit(button) })(document.querySelector("[data-preview]"))`))
	}
	begun := func(kind, start string) func(*tab) {
		return func(b *tab) {
			class, _ := b.holdClass()
			b.begins(class, kind, "start "+start, "of-the-grange")
			alone(b)
			b.reads("main", "The checks find nothing")
		}
	}
	return []visit{
		{"materials-empty", func(b *tab) { class, _ := b.holdClass(); b.open(class+"/materials", 200) }},
		{"materials", func(b *tab) { class, _ := some(b); b.open(class+"/materials", 200) }},
		{"materials-member", func(b *tab) {
			class, _ := some(b)
			b.open(class, 200)
			code := b.text(".spelled")
			b.open("/class", 200)
			b.follow("Log out", 200)
			b.join(code, "Ann Orchard")
			b.open(class+"/materials", 200)
			b.reads("main", "Your instructor wrote these")
		}},
		{"material-new", func(b *tab) { class, _ := b.holdClass(); b.open(class+"/materials/new?kind=question", 200) }},
		{"material-new-refused", func(b *tab) {
			class, _ := b.holdClass()
			b.open(class+"/materials/new?kind=scenario", 200)
			b.send("main form", map[string]string{"called": "Pears Of The Valley"}, 422)
		}},
		{"material", func(b *tab) {
			class, _ := b.holdClass()
			b.begins(class, "scenario", "start scenario-plan.md", "of-the-grange")
			b.previewSays("The checks find nothing")
		}},
		{"material-problems", func(b *tab) { some(b); b.previewSays("Line ") }},
		{"material-refused", func(b *tab) { some(b); b.follow("Keep and publish", 422); b.previewSays("Line ") }},
		{"material-version", func(b *tab) { _, at := some(b); b.open(at+"/versions/2", 200) }},
		{"material-preview-lesson", begun("lesson", "lesson.md")},
		{"material-preview-question", begun("question", "question-choice.yaml")},
		{"material-preview-scenario", begun("scenario", "scenario-what-now.md")},
		{"material-preview-problems", func(b *tab) { some(b); alone(b) }},
	}
}
