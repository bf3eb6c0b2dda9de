package browser_test

import (
	"strings"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"rollingboil/scenarios/bench"
)

// TestBenchWithoutScript changes a value with the button, in a browser that runs no
// script, and judges a lid.
func TestBenchWithoutScript(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	b.look(phone, light)
	b.open("/", 200)
	b.goTo("Bench")
	b.follow("Why does altitude matter?", 200)
	b.reads(".says", "6\u00a0240\u00a0ft")
	b.typeIn("altitude", "2000 ft")
	b.follow("Show", 200)
	b.reads(".says", "208.3\u00a0°F") // extension sheets print 208
	b.typeIn("altitude", "up there")
	b.follow("Show", 422)
	b.reads("#wrong", "One thing could not be read.")
	b.follow("Start over", 200)
	for _, d := range bench.New(course.Grader.Table()).Demos() {
		b.open("/bench/"+d.Name, 200)
		before := b.text(".says")
		b.follow("Show", 200)
		if after := b.text(".says"); after == "" || after != before {
			t.Errorf("%s: the button shows %q, the page had %q", d.Name, after, before)
		}
	}

	b.open("/bench/ear", 200)
	b.follow("Look at the sound", 200)
	b.reads("main", "hertz")
	b.follow("It is not sealed", 200)
	b.reads("main", "So far")
	b.follow("Another lid", 200)
	b.follow("Press the lid instead", 200)
	b.reads("main", "You press the middle")
	b.follow("It is sealed", 200)
}

// TestBenchInPlace types a value: the answer follows without a page being loaded,
// what cannot be read is said beside the field and goes when it is put right, and
// the address keeps up.
func TestBenchInPlace(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.open("/bench/gauge", 200)
	ask[bool](b, `window.untouched = true`)
	retype(b, "altitude", "1000 ft")
	b.waitFor("the answer for another altitude", `document.querySelector(".says").textContent.includes("1\u00a0000\u00a0ft")`)
	b.reads(".says", "240.4\u00a0°F") // 11 psi at 1000 ft: 240.41 by IAPWS-IF97
	retype(b, "altitude", "1000")
	b.waitFor("what is wrong", `document.querySelector("[data-key=altitude] .wrong") !== null`)
	if got := ask[string](b, `document.getElementById("altitude").value`); got != "1000" {
		t.Errorf("the field holds %q, want what was typed", got)
	}
	retype(b, "altitude", "8000 ft")
	b.waitFor("the answer after the fault", `document.querySelector("[data-key=altitude] .wrong") === null && document.querySelector(".says")?.textContent.includes("8\u00a0000\u00a0ft")`)
	if !ask[bool](b, `window.untouched === true`) {
		t.Error("the page was loaded anew")
	}
	if got := ask[string](b, `location.search`); !strings.Contains(got, "altitude=8000") {
		t.Errorf("the address is %q", got)
	}
	b.do("go elsewhere and come back", chromedp.Navigate(origin(b)+"/bench"), chromedp.NavigateBack())
	b.waitFor("the values are back", `document.getElementById("altitude").value === "8000 ft"`)
}

// retype types over what somebody has typed into a field.
func retype(b *tab, key, value string) {
	b.Helper()
	ask[bool](b, `document.getElementById("`+key+`").select() ?? true`)
	b.do("type over "+key, chromedp.SendKeys(field(key), value))
}

func origin(b *tab) string { return ask[string](b, `location.origin`) }

// TestEarBySound: the sound loads when it is asked for, has the length it says, and
// does not play by itself.
func TestEarBySound(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.open("/bench/ear?how=hear", 200)
	if !ask[bool](b, `document.querySelector("audio").paused && !document.querySelector("audio").autoplay`) {
		t.Error("the sound plays by itself")
	}
	ask[bool](b, `document.querySelector("audio").load() ?? true`)
	ask[bool](b, `(document.querySelector("audio").preload = "auto") !== ""`)
	b.waitFor("the sound", `document.querySelector("audio").readyState >= 2`)
	if got := ask[float64](b, `document.querySelector("audio").duration`); got < 0.55 || got > 0.65 {
		t.Errorf("the sound lasts %v s, want 0.6", got)
	}
	b.follow("It is sealed", 200)
	b.reads("#told", "This lid was")
}
