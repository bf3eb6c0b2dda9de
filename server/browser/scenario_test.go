package browser_test

import (
	"context"
	"fmt"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rollingboil/scenarios"
)

// firstOf is the first shipped scenario of a kind.
func firstOf(kind string) *scenarios.Scenario {
	i := slices.IndexFunc(course.Scenarios, func(s *scenarios.Scenario) bool { return s.Kind == kind })
	return course.Scenarios[i]
}

// caseHere is the case of a scenario that the tab shows.
func (b *tab) caseHere(s *scenarios.Scenario) *scenarios.Case {
	b.Helper()
	address, err := url.Parse(b.path())
	if err != nil {
		b.Fatal(err)
	}
	seed := uint64(0)
	if text := address.Query().Get("case"); text != "" {
		if seed, err = strconv.ParseUint(text, 10, 64); err != nil {
			b.Fatal(err)
		}
	}
	c, err := course.Grader.Case(s, seed)
	if err != nil {
		b.Fatal(err)
	}
	return c
}

// round is one form of a scenario's page: what is filled in, what is pressed, and
// what is said to it.
type round struct {
	at     string // the address, after the case; "" for the page as it is
	form   string // selector
	fields map[string]string
	says   string
}

// roundsOf are the forms of a case, filled in as they are worked out. Of a plan only
// what is needed is said.
func roundsOf(c *scenarios.Case) []round {
	switch c.Kind {
	case scenarios.Worked:
		var list []round
		for i, w := range c.Then {
			r := round{form: fmt.Sprintf("#kitchen-%d form", i+1), fields: map[string]string{}, says: "As the table has it."}
			for _, key := range w.Blank {
				r.fields[fmt.Sprintf("kitchen-%d-%s", i+1, key)] = w.Solution.Plan.Text(key)
			}
			list = append(list, r)
		}
		return list
	case scenarios.Faults:
		r := round{form: `form[action$="#told"]`, fields: map[string]string{}, says: "and no false alarm."}
		for key, said := range course.Grader.BestFaults(c) {
			if said.Wrong {
				r.fields["wrong-"+key] = "wrong"
				r.fields["fix-"+key] = said.Value
			}
		}
		return []round{r}
	case scenarios.WhatNow:
		var list []round
		for n, looked := range c.Looked() {
			r := round{at: fmt.Sprintf("&at=%d", n), form: `form[action$="#told"]`, fields: map[string]string{}, says: fmt.Sprintf("%d of %d jars", len(c.Jars), len(c.Jars))}
			for i, a := range course.Grader.Answers(c, looked) {
				r.fields[fmt.Sprintf("jar-%d", i+1)] = a.Answer
			}
			list = append(list, r)
		}
		return list
	}
	r := round{form: `form[action$="#report"]`, fields: map[string]string{}, says: "As tested"}
	for _, key := range []string{"pack", "method", "gauge", "time", "pressure", "headspace", "acid.kind", "acid.per_jar"} {
		if c.Solution.Plan.Known(key) && !c.Kitchen.Known(key) {
			r.fields[key] = c.Solution.Plan.Text(key)
		}
	}
	return []round{r}
}

// controls lists what a form asks for, in the order in which Tab comes to it: each as
// its name, for ticks with the value.
func (b *tab) controls(form string) []control {
	b.Helper()
	raw := ask[[][]string](b, fmt.Sprintf(`[...document.querySelector(%q).elements].filter(e => e.name && e.type !== "hidden").map(e => [e.name, e.type, e.value])`, form))
	var list []control
	for _, r := range raw {
		list = append(list, control{r[0], r[1], r[2]})
	}
	return list
}

type control struct{ name, kind, value string }

// wanted reports whether a control is to be used, and with what.
func (r round) wanted(c control) (value string, ok bool) {
	value, ok = r.fields[c.name]
	switch c.kind {
	case "radio":
		return value, ok && c.value == value
	case "checkbox":
		return value, ok && slices.Contains(strings.Split(value, ", "), c.value)
	}
	return value, ok && value != ""
}

// optionText is what can be read of an option of the list that has the focus.
func (b *tab) optionText(value string) string {
	b.Helper()
	return ask[string](b, fmt.Sprintf(`[...document.activeElement.options].find(o => o.value === %q)?.text ?? ""`, value))
}

// told wants what is said in sight, where the eye is after the form was sent.
func (b *tab) told(kind, says string) {
	b.Helper()
	b.reads("main", says)
	place := map[string]string{scenarios.PlanIt: "#report", scenarios.Worked: "section[id^=kitchen]:has(.feedback)"}[kind]
	if place == "" {
		place = "#told"
	}
	b.reads(place, says)
	b.inSight(place)
}

// TestScenariosByKeyboard does one scenario of each kind with the keyboard alone, from
// the list to what is said to the answer.
func TestScenariosByKeyboard(t *testing.T) {
	t.Parallel()
	for _, kind := range scenarios.ScenarioKinds() {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			s := firstOf(kind)
			b.open("/scenarios", 200)
			b.tabTo("the scenario", fmt.Sprintf(`matches("main a") && document.activeElement.textContent.includes(%q)`, s.Title))
			b.enter("open the scenario", 200)
			b.reads("h1", s.Title)
			c := b.caseHere(s)
			for i, r := range roundsOf(c) {
				if i > 0 && r.at != "" {
					b.tabTo("the next look", fmt.Sprintf(`matches("main .ways a[href$='%s']")`, r.at))
					b.enter("look later", 200)
				}
				for _, field := range b.controls(r.form) {
					value, ok := r.wanted(field)
					if !ok {
						continue
					}
					switch field.kind {
					case "select-one":
						b.tabTo(field.name, fmt.Sprintf(`name === %q`, field.name))
						b.pick(b.optionText(value))
					case "radio": // Tab comes to the one that is chosen, the arrow to the next
						b.tabTo(field.name, fmt.Sprintf(`name === %q`, field.name))
						for ask[string](b, `document.activeElement.value`) != value {
							b.press(kb.ArrowDown)
						}
					case "checkbox":
						b.tabTo(field.name, fmt.Sprintf(`name === %q && document.activeElement.value === %q`, field.name, field.value))
						b.press(" ")
					default:
						b.tabTo(field.name, fmt.Sprintf(`name === %q`, field.name))
						b.press(value)
					}
				}
				b.tabTo("the button", fmt.Sprintf(`matches(%q)`, r.form+" button"))
				b.enter("send the answer", 200)
				b.told(kind, r.says)
			}
			b.open("/scenarios", 200)
			b.reads("main", fmt.Sprintf("1 of %d", len(course.Scenarios)))
		})
	}
}

// tap touches the middle of an element, which must be as large as a fingertip needs:
// at least 24 by 24 CSS pixels (WCAG 2.2, 2.5.8).
func (b *tab) tap(selector string) chromedp.Action[chromedp.Void] {
	b.Helper()
	place := ask[[]float64](b, fmt.Sprintf(`(async () => {
		const e = document.querySelector(%q);
		e.scrollIntoView({block: "center"});
		for (let frame = 0; frame < 2; frame++) { // until it is drawn where it now is
			await new Promise(drawn => requestAnimationFrame(drawn));
		}
		const r = e.getBoundingClientRect();
		return [r.x + r.width / 2, r.y + r.height / 2, r.width, r.height, r.right];
	})()`, selector))
	if place[2] < 24 || place[3] < 24 {
		b.Errorf("%s: %s is %.0f by %.0f px, too small for a finger", b.path(), selector, place[2], place[3])
	}
	if place[4] > float64(phone.width) {
		b.Errorf("%s: %s ends %.0f px to the right", b.path(), selector, place[4])
	}
	return func(ctx context.Context, _ *chromedp.Target) (none chromedp.Void, err error) {
		time.Sleep(400 * time.Millisecond) // two touches in the same place within 300 ms are a double tap
		finger := []*input.TouchPoint{{X: place[0], Y: place[1]}}
		if _, err = chromedp.Call(ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: "touchStart", TouchPoints: finger}); err != nil {
			return none, err
		}
		_, err = chromedp.Call(ctx, input.DispatchTouchEvent, input.DispatchTouchEventParams{Type: "touchEnd", TouchPoints: []*input.TouchPoint{}})
		return none, err
	}
}

// TestScenariosByTouch does one scenario of each kind on a phone: every field, every
// choice and every button with a fingertip. The words of a list are picked with keys,
// since the list that opens is the phone's own.
func TestScenariosByTouch(t *testing.T) {
	t.Parallel()
	for _, kind := range scenarios.ScenarioKinds() {
		t.Run(kind, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			b.look(phone, light)
			call(b, emulation.SetTouchEmulationEnabled, emulation.SetTouchEmulationEnabledParams{Enabled: true})
			s := firstOf(kind)
			b.open("/scenarios", 200)
			b.load("open the scenario", 200, b.tap(fmt.Sprintf(`main a[href="/scenarios/%s"]`, s.Slug)))
			b.reads("h1", s.Title)
			c := b.caseHere(s)
			for i, r := range roundsOf(c) {
				if i > 0 && r.at != "" {
					b.load("look later", 200, b.tap(fmt.Sprintf(`main .ways a[href$="%s"]`, r.at)))
				}
				if width := ask[int64](b, `document.documentElement.scrollWidth`); width > phone.width {
					b.Errorf("%s: the page is %d px wide", b.path(), width)
				}
				for _, field := range b.controls(r.form) {
					value, ok := r.wanted(field)
					if !ok {
						continue
					}
					one := fmt.Sprintf(`%s [name=%q]`, r.form, field.name)
					switch field.kind {
					case "select-one":
						b.do("go to "+field.name, chromedp.Focus(chromedp.CSS(one)))
						b.pick(b.optionText(value))
					case "radio", "checkbox":
						b.do("touch "+field.name, b.tap(fmt.Sprintf(`%s label:has([name=%q][value=%q])`, r.form, field.name, field.value)))
					default:
						b.do("touch "+field.name, b.tap(one))
						b.waitFor("the field is open", fmt.Sprintf(`document.activeElement.name === %q`, field.name))
						b.press(value)
					}
				}
				b.load("send the answer", 200, b.tap(r.form+" button"))
				b.told(kind, r.says)
			}
			if width := ask[int64](b, `document.documentElement.scrollWidth`); width > phone.width {
				b.Errorf("%s: the answered page is %d px wide", b.path(), width)
			}
			b.open("/scenarios", 200)
			b.reads("main", fmt.Sprintf("1 of %d", len(course.Scenarios)))
		})
	}
}

// TestScenarioAgain: a wrong answer, the right one, and what changed; then the first
// is read again under "My work", as it was.
func TestScenarioAgain(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	s := firstOf(scenarios.Faults)
	b.open("/scenarios/"+s.Slug+"?case=0", 200)
	c := b.caseHere(s)
	right := roundsOf(c)[0]
	b.follow("Check what I found", 200) // nothing marked
	b.reads("#told", "0 of 2 faults found")
	for name, value := range right.fields {
		b.set(right.form, name, value)
	}
	b.follow("Check what I found", 200)
	b.reads("#told", "2 of 2 faults found")
	b.reads(`[aria-label="Since your last try"]`, "before sound")
	b.goTo("My work")
	b.follow("Fix first", 200)
	b.reads("main", "0 of 2 faults found")
	b.follow("Try it again", 200)
	b.reads("h1", s.Title)
}
