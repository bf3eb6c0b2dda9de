package browser_test

import (
	"bytes"
	"fmt"
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rollingboil/lessons"
	"rollingboil/quiz"
	"rollingboil/scenarios"
)

// TestWholeWay goes the way of a newcomer, with the mouse, from the first page
// to a plan that is as tested, and deletes it all in the end.
func TestWholeWay(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.look(phone, light)
	b.open("/", 200)

	// A lesson, each of its questions, and the next lesson.
	b.follow("Begin with a lesson", 200)
	first := course.Lessons.Lessons()[0]
	b.reads("h1", first.Title)
	for _, id := range first.Questions {
		b.answer(first, id)
	}
	b.follow("Next: ", 200)
	b.reads("h1", course.Lessons.Lessons()[1].Title)

	// A scenario: a first try with two faults in it, and the worked answer.
	b.goTo("Scenarios")
	scenario := firstOf(scenarios.PlanIt)
	b.follow(scenario.Title, 200)
	b.reads("h1", scenario.Title)
	b.choose("pack", "hot")
	b.choose("method", "boiling water")
	b.typeIn("time", "45 min")
	b.typeIn("headspace", "1/2 in")
	b.choose("acid.kind", "no acid")
	b.follow("Check my plan", 200)
	b.reads("#report .verdict", "Not safe as written")
	b.reads("#report", "45 min")
	b.reads("#report", "60 min") // USDA Complete Guide 2015, Guide 3, p. 3-8
	b.reads(`[aria-label="The worked answer"]`, "60 min")
	b.do("open the whole plan", chromedp.Click(chromedp.CSS("main summary:last-of-type")))

	// A plan of one's own, corrected until it is as tested.
	b.goTo("Check a plan")
	b.choose("food", "Crushed tomatoes (no added liquid)")
	b.choose("method", "boiling water")
	b.follow("Check this plan", 200)
	b.reads("#report .verdict", "It cannot be judged yet")
	b.choose("pack", "hot")
	b.choose("jar", "quart")
	b.typeIn("altitude", "as high as it gets")
	b.follow("Check this plan", 422)
	b.reads("#wrong", "One thing could not be read.")
	if got := ask[string](b, `document.getElementById("altitude").value`); got != "as high as it gets" {
		t.Errorf("the field holds %q after it could not be read, want what was typed", got)
	}
	b.typeIn("altitude", "6,240 feet")
	b.typeIn("time", "50 min")
	b.typeIn("headspace", "1/2 in")
	b.choose("acid.kind", "bottled lemon juice")
	b.typeIn("acid.per_jar", "1 tbsp")
	b.follow("Check this plan", 200)
	b.reads("#report .verdict", "Not safe as written")
	b.reads("#time-tested", "60 min")
	b.typeIn("time", "60 min")
	b.typeIn("acid.per_jar", "2 tbsp") // Guide 3, p. 3-7
	b.follow("Check this plan", 200)
	b.reads("#report .verdict", "As tested")

	// All of it is in "My work", and a kept plan reads as it was checked.
	b.goTo("My work")
	if got := ask[int](b, `document.querySelectorAll("a[href^='/my-work/plans/']").length`); got != 3 {
		t.Errorf("%d plans are kept, want the 3 that could be read", got)
	}
	b.reads("main", scenario.Title)
	b.reads("main table", first.Title)
	b.reads("main table", fmt.Sprintf("%d of %d", len(first.Questions), len(course.Bank.Lesson(first.Slug))))
	b.follow("As tested", 200)
	b.reads(".verdict", "As tested")
	b.reads("main table", "6,240 feet") // as it was typed
	b.follow("Change it and check again", 200)
	if got := ask[string](b, `document.getElementById("time").value`); got != "60 min" {
		t.Errorf("the kept plan comes back with the time %q, want 60 min", got)
	}

	// Gone, and gone for good.
	b.goTo("My work")
	b.follow("Delete all my work", 200)
	b.follow("Delete it all", 200)
	b.reads("main", "Nothing yet.")
	b.open("/plan", 200)
	if got := ask[string](b, `document.getElementById("altitude").value`); got != "" {
		t.Errorf("after all was deleted the plan still begins with the altitude %q", got)
	}
}

// answer gives the right answer to a question of the lesson, with the mouse.
func (b *tab) answer(l *lessons.Lesson, id string) {
	b.Helper()
	q, _ := course.Bank.Question(id)
	asked := put(q)
	right, _ := answersTo(asked)
	form := fmt.Sprintf(`[id="q-%s"]`, id)
	switch q.Kind {
	case quiz.Number:
		b.do("type the answer", chromedp.SendKeys(chromedp.CSS(form+" input[type=text]"), right["answer"][0]))
	case quiz.Order, quiz.Match:
		for name, values := range right {
			b.do("go to "+name, chromedp.Focus(chromedp.CSS(fmt.Sprintf("%s select[name=%s]", form, cssString(name)))))
			b.pick(values[0])
		}
	default:
		for _, o := range right["answer"] {
			b.do("choose the answer", chromedp.Click(chromedp.CSS(fmt.Sprintf("%s input[value=%s]", form, cssString(o)))))
		}
	}
	b.load("answer "+id+" in "+l.Slug, 200, chromedp.Click(chromedp.CSS(form+" button")))
	b.reads(form+" .feedback", "That is right.")
}

// cssString writes a string for a CSS selector.
func cssString(s string) string {
	return `"` + strings.NewReplacer(`\`, `\\`, `"`, `\"`).Replace(s) + `"`
}

// TestKeyboardOnly does without a mouse: Tab, the arrows, Space, Enter and the
// letters. Whatever has the focus shows it.
func TestKeyboardOnly(t *testing.T) {
	t.Parallel()
	b := openTab(t)

	// The first stop is the link past the navigation.
	b.open("/", 200)
	b.press(kb.Tab)
	if got := ask[string](b, `document.activeElement.className`); got != "skip" {
		t.Fatalf("the first stop has the class %q, want the skip link", got)
	}
	if got := ask[float64](b, `document.activeElement.getBoundingClientRect().left`); got < 0 {
		t.Errorf("the skip link has the focus %v px to the left of the window", got)
	}
	b.press(kb.Enter)
	b.waitFor("the skip link leads to the page", `document.activeElement.id === "main"`)
	b.tabTo("the link to the lesson", `textContent === "Begin with a lesson"`)
	b.enter("open the lesson", 200)

	// A question, and what is said to the answer is where the eye is.
	asked := questionOf(quiz.Choice)
	q := asked.Question
	if !strings.HasPrefix(b.path(), "/lessons/"+q.Lesson) {
		b.open("/lessons/"+q.Lesson, 200)
	}
	form := fmt.Sprintf(`[id="q-%s"]`, q.ID)
	b.tabTo("the first answer", fmt.Sprintf(`closest(%q) !== null && document.activeElement.type === "radio"`, form))
	right := asked.Key()[0]
	b.press(" ")
	for range asked.Options {
		if ask[string](b, `document.activeElement.value`) == right {
			break
		}
		b.press(kb.ArrowDown)
	}
	if got := ask[string](b, fmt.Sprintf(`document.querySelector(%q)?.value ?? ""`, form+" input:checked")); got != right {
		t.Fatalf("the arrows chose %q, want %q", got, right)
	}
	b.tabTo("the button", fmt.Sprintf(`matches(%q)`, form+" button"))
	b.enter("answer", 200)
	b.reads(form+" .feedback", "That is right.")
	b.inSight(form)
	b.press(kb.Tab)
	if !ask[bool](b, fmt.Sprintf(`document.activeElement.closest(%q) !== null`, form)) {
		t.Errorf("after the answer, Tab goes on from %s, want it to go on in the question", ask[string](b, `document.activeElement.outerHTML.slice(0, 100)`))
	}

	// A short plan.
	b.open("/lessons", 200)
	b.tabTo("the link to the plan", `textContent === "Check a plan"`)
	b.enter("go to the plan", 200)
	for _, f := range []struct{ key, value string }{
		{"food", "Crushed tomatoes (no added liquid)"},
		{"method", "boiling water"},
		{"pack", "hot"},
		{"jar", "quart"},
		{"altitude", "6240 ft"},
		{"time", "60 min"},
		{"headspace", "1/2 in"},
		{"acid.kind", "bottled lemon juice"},
		{"acid.per_jar", "2 tbsp"},
	} {
		b.tabTo(f.key, fmt.Sprintf(`id === %q`, f.key))
		if ask[string](b, `document.activeElement.localName`) == "select" {
			b.pick(f.value)
		} else {
			b.press(f.value)
		}
	}
	b.tabTo("the button", `textContent === "Check this plan"`)
	b.enter("check the plan", 200)
	b.reads("#report .verdict", "As tested")
	b.inSight("#report .verdict")
}

// enter presses Enter, which loads a page.
func (b *tab) enter(what string, status int64) {
	b.Helper()
	b.load(what, status, chromedp.KeyEvent(kb.Enter))
}

// tabTo presses Tab until the element with the focus is the one meant, and wants
// the focus to be seen at every stop. The test is one on the element.
func (b *tab) tabTo(what, test string) {
	b.Helper()
	for range 120 {
		b.press(kb.Tab)
		if unseen := ask[string](b, `(() => {
			const e = document.activeElement, s = getComputedStyle(e);
			return e === document.body || s.outlineStyle !== "none" && parseFloat(s.outlineWidth) >= 2 ? "" : e.outerHTML.slice(0, 100);
		})()`); unseen != "" {
			b.Errorf("%s: the focus is not to be seen on %s", b.path(), unseen)
		}
		if ask[bool](b, `document.activeElement.`+test) {
			return
		}
	}
	b.Fatalf("%s: Tab does not come to %s", b.path(), what)
}

// inSight wants the top of an element in the window.
func (b *tab) inSight(selector string) {
	b.Helper()
	b.waitFor(selector+" in sight", fmt.Sprintf(`(() => {
		const top = document.querySelector(%q).getBoundingClientRect().top;
		return top >= -1 && top < innerHeight;
	})()`, selector))
}

// TestWithoutScript learns, plans and deletes in a browser that runs no script.
func TestWithoutScript(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})

	b.open("/", 200)
	b.follow("Begin with a lesson", 200)
	first := course.Lessons.Lessons()[0]
	b.answer(first, first.Questions[0])
	b.do("type an altitude", chromedp.SendKeys(chromedp.CSS("aside #altitude"), "6240 ft"))
	b.follow("Keep it", 200)
	b.reads("main .here", "your band")

	b.goTo("Check a plan")
	if got := ask[string](b, `document.getElementById("altitude").value`); got != "6\u00a0240 ft" {
		t.Errorf("the plan begins with the altitude %q, want the one that was kept", got)
	}
	b.choose("food", "Crushed tomatoes (no added liquid)")
	b.choose("method", "boiling water")
	b.choose("pack", "hot")
	b.choose("jar", "quart")
	b.typeIn("time", "60 min")
	b.typeIn("headspace", "1/2 in")
	b.choose("acid.kind", "bottled lemon juice")
	b.typeIn("acid.per_jar", "2 tbsp")
	b.follow("Check this plan", 200)
	b.reads("#report .verdict", "As tested")
	if ask[bool](b, `document.querySelector("[data-print]").checkVisibility()`) {
		t.Error("a button that needs a script is shown where none is run")
	}

	b.goTo("Scenarios")
	b.follow(firstOf(scenarios.PlanIt).Title, 200)
	b.follow("Check my plan", 200)
	b.reads("#report .verdict", "It cannot be judged yet")
	b.do("open the whole plan", chromedp.Click(chromedp.Search(`//summary[contains(., "The whole plan")]`)))
	b.waitFor("the whole plan is open", `document.querySelector("details table").checkVisibility()`)

	b.goTo("My work")
	b.follow("As tested", 200)
	b.follow("Delete it", 200)
	b.goTo("My work")
	if b.text(`a[href^="/my-work/plans/"]`) != "" {
		t.Error("the deleted plan is still there")
	}
	b.follow("Delete all my work", 200)
	b.follow("Delete it all", 200)
	b.reads("main", "Nothing yet.")
}

// TestPrint prints a plan and a lesson for the kitchen: what is to be done and
// what to beware of is on the paper, what is to be clicked is not.
func TestPrint(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	altitude, _ := course.Lessons.Lesson("altitude")
	for _, page := range []struct {
		name  string
		reach func(*tab)
		shown []string // selectors of what is on the paper
		reads string   // what can be read there
	}{
		{
			"a plan as tested", graded(tomatoes(), "As tested"),
			[]string{"#report .verdict", ".only-print table", "footer strong"},
			"60 min",
		},
		{
			"an unsafe plan", graded(but(tomatoes(), "time", "45 min"), "Not safe as written"),
			[]string{"#report .verdict", ".finding", ".only-print table", "footer strong"},
			"45 min",
		},
		{
			"a lesson", at("/lessons/"+altitude.Slug, 200),
			[]string{"article .caution", "article table", "footer strong"},
			altitude.Cautions[0],
		},
	} {
		page.reach(b)
		if page.shown[0] == "#report .verdict" && !ask[bool](b, `document.querySelector("[data-print]").checkVisibility()`) {
			t.Errorf("%s: there is no button that prints", page.name)
		}
		pdf, err := chromedp.Run(b.ctx, chromedp.PrintToPDF())
		if err != nil {
			t.Fatalf("%s: print: %v", page.name, err)
		}
		if !bytes.HasPrefix(pdf, []byte("%PDF-")) || !bytes.Contains(pdf, []byte("/Page")) {
			t.Errorf("%s: what is printed is no PDF: %.20q", page.name, pdf)
		}

		call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"})
		for _, selector := range page.shown {
			if !ask[bool](b, fmt.Sprintf(`document.querySelector(%q)?.checkVisibility() ?? false`, selector)) {
				t.Errorf("%s: %s is not on the paper", page.name, selector)
			}
		}
		b.reads("main", page.reads)
		// A question may be answered with a pencil: by a tick, or on the line a list leaves.
		if left := ask[[]string](b, `[...document.querySelectorAll("nav a:not(.name), .skip, button, .button, select:not(section.label select), input:not(section.label input)")]
			.filter(e => e.checkVisibility()).map(e => e.outerHTML.slice(0, 100))`); len(left) > 0 {
			t.Errorf("%s: on the paper, but of no use there: %s", page.name, strings.Join(left, " "))
		}
		b.look(wide, light)
	}
}
