package browser_test

import (
	"fmt"
	"strconv"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rollingboil/quiz"
)

// asked gives the question that is on the page.
func asked(b *tab) *quiz.Asked {
	b.Helper()
	id := ask[string](b, `document.querySelector("[name=question]").value`)
	seed, err := strconv.ParseUint(ask[string](b, `document.querySelector("[name=seed]")?.value ?? "0"`), 10, 64)
	if err != nil {
		b.Fatal(err)
	}
	q, ok := course.Bank.Question(id)
	if !ok {
		b.Fatalf("the page asks %q, which is not in the bank", id)
	}
	a, err := q.Ask(seed)
	if err != nil {
		b.Fatal(err)
	}
	return a
}

// TestSetByKeyboard does a whole set with the keyboard alone: begins it, answers
// each question, hands it in.
func TestSetByKeyboard(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.look(phone, light)
	b.open("/check", 200)
	b.tabTo("the size", `id === "size"`)
	b.pick("5")
	b.tabTo("begin", `textContent === "Begin"`)
	b.enter("begin the set", 200)
	for range 5 {
		a := asked(b)
		fields := a.Fields(a.Key())
		switch a.Question.Kind {
		case quiz.Number:
			b.tabTo("the number", `type === "text"`)
			b.press(fields["answer"][0])
		case quiz.Choice:
			b.tabTo("the options", `type === "radio"`)
			b.press(" ")
			for range a.Options {
				if ask[string](b, `document.activeElement.value`) == fields["answer"][0] {
					break
				}
				b.press(kb.ArrowDown)
			}
		case quiz.Choices:
			for range a.Options {
				b.tabTo("an option", `type === "checkbox"`)
				value := ask[string](b, `document.activeElement.value`)
				for _, right := range fields["answer"] {
					if value == right {
						b.press(" ")
					}
				}
			}
		default:
			for range a.Items {
				b.tabTo("a list", `localName === "select"`)
				b.pick(fields[ask[string](b, `document.activeElement.name`)][0])
			}
		}
		b.tabTo("keep", `textContent === "Keep this answer"`)
		b.enter("keep the answer", 200)
	}
	b.reads("main", "All are answered.")
	b.tabTo("hand in", `textContent === "Hand it in"`)
	b.enter("hand it in", 200)
	b.reads(".lead", "5 of 5 right")
}

// TestSetInTwoTabs answers a question in one tab, changes it in another, hands the
// set in there, and goes on in the first: nothing is lost and nothing doubled.
func TestSetInTwoTabs(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.open("/check", 200)
	b.follow("Begin", 200)
	place := b.path()
	set := strings.TrimSuffix(place, "/1")
	first := asked(b)
	other := b.another()
	other.open(place, 200)
	other.fill(first, first.Key())
	other.follow("Keep this answer", 200)
	other.open(set, 200)
	other.reads(".lead", "1 of 10 answered")
	other.follow("Hand it in", 200)
	other.reads(".lead", "1 of 10 right")

	b.fill(first, first.Key())
	b.follow("Keep this answer", 200)
	b.reads(".lead", "1 of 10 right") // the results, not an error
	b.open("/my-work", 200)
}

// another opens a second tab of the same visitor.
func (b *tab) another() *tab {
	b.Helper()
	ctx, closeTab := chromedp.NewContext(b.ctx)
	b.Cleanup(closeTab)
	if err := chromedp.Do(ctx); err != nil {
		b.Fatalf("open another tab: %v", err)
	}
	other := &tab{T: b.T, ctx: ctx, site: b.site, store: b.store, cut: b.cut}
	if err := chromedp.Listen(ctx, other.notice); err != nil {
		b.Fatal(err)
	}
	return other
}

// fill answers the question on the page.
func (b *tab) fill(a *quiz.Asked, key []string) {
	b.Helper()
	for name, values := range a.Fields(key) {
		for _, v := range values {
			b.set(fmt.Sprintf(`[id="q-%s"] form`, a.Question.ID), name, v)
		}
	}
}

// TestPracticeOnAPhone answers questions of every kind the bank has, by touch, and
// wants the answer's words in sight.
func TestPracticeOnAPhone(t *testing.T) {
	t.Parallel()
	kinds := map[string]bool{}
	for _, q := range course.Bank.Questions() {
		if kinds[q.Kind] {
			continue
		}
		kinds[q.Kind] = true
		t.Run(q.Kind, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			b.look(phone, dark)
			b.open("/practice/"+q.ID+"?seed=7", 200)
			a := asked(b)
			b.fill(a, a.Key())
			b.follow("Answer", 200)
			b.reads(".feedback", "That is right.")
			b.follow("Next question", 200)
		})
	}
}
