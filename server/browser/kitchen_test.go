package browser_test

import (
	"fmt"
	"math"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/emulation"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"rollingboil/server/store"
)

// beans is a plan for the pressure canner: USDA Guide 4, p. 4-9.
func beans() map[string]string {
	return map[string]string{
		"food": "snap-beans", "pack": "hot", "method": "pressure", "gauge": "dial", "jar": "pint", "altitude": "6240 ft",
		"time": "20 min", "pressure": "14 psi", "headspace": "1 in",
	}
}

// newBatch makes a class, joins it in this browser and sends in a plan for its batch. It
// gives the address of the batch.
func (b *tab) newBatch(plan map[string]string) string {
	b.Helper()
	ctx, now := b.Context(), time.Now()
	must := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	teacher := store.Person{Visitor: store.NewID(), Role: store.Instructor, Name: "Ines Harrow", Password: "none", Sessions: 1, Joined: now}
	class := store.Class{ID: store.NewID(), Instructor: teacher.Visitor, Name: "Thursday evening", Starts: "2026-08-20", Zone: "America/Denver", Weeks: 6, Code: "apple-barn-cedar", CodeUntil: now.Add(time.Hour), CodeOpen: true, Made: now}
	task := store.Assignment{ID: store.NewID(), Class: class.ID, Kind: "batch", About: plan["food"], Title: "One load", Settings: []byte("{}"), Opens: now, Due: now.Add(time.Hour), Made: now}
	must(b.store.AddPerson(ctx, teacher))
	must(b.store.AddClass(ctx, class))
	must(b.store.Assign(ctx, task))
	b.open("/join?code="+class.Code, 200)
	b.send(`form[action="/join"]`, map[string]string{"name": "Orla Creek", "password": "seven warm jars"}, 200)
	student, err := b.store.PersonByName(ctx, "Orla Creek")
	must(err)
	batch, err := b.store.BeginBatch(ctx, store.Batch{ID: store.NewID(), Visitor: student.Visitor, Assignment: task.ID, Made: now})
	must(err)
	form := url.Values{}
	for key, value := range plan {
		form.Set(key, value)
	}
	p, err := course.Grader.PlanFromForm(form)
	must(err)
	must(b.store.AddBatchVersion(ctx, store.BatchVersion{Batch: batch.ID, N: 1, Kind: store.PlanVersion, File: p.YAML(), Report: []byte(`{}`), Verdict: string(course.Grader.Grade(p).Verdict), Version: course.Grader.Version(), At: now}, ""))
	must(b.store.AddBatchEvent(ctx, batch.ID, store.BatchEvent{What: store.PlanSent, N: 1, At: now}, ""))
	return "/batches/" + batch.ID
}

// kitchen opens the sheet at the size of a telephone and waits until it is kept there.
func (b *tab) kitchen(plan map[string]string) (batch string) {
	b.Helper()
	b.look(phone, light)
	batch = b.newBatch(plan)
	b.open(batch+"/kitchen", 200)
	b.waitFor("the sheet is kept", `document.querySelector("[data-kept]").textContent.startsWith("Kept on this phone")`)
	return batch
}

// pushes presses a button of the sheet where it is drawn.
func (b *tab) pushes(text string) {
	b.Helper()
	find := fmt.Sprintf(`[...document.querySelectorAll("#kitchen button")].find(e => e.checkVisibility() && e.textContent.includes(%q))`, text)
	b.waitFor("there is the button "+text, find+` !== undefined`)
	ask[bool](b, `(() => { for (const e of document.querySelectorAll("[data-tapped]")) delete e.dataset.tapped; `+find+`.dataset.tapped = ""; return true })()`)
	b.do("tap "+text, chromedp.Click(chromedp.CSS("[data-tapped]")))
}

// again loads the sheet anew, from the network or from what was kept.
func (b *tab) again() {
	b.Helper()
	b.load("load the sheet again", 200, chromedp.Reload())
}

// shifted gives the pages that are loaded from now on a clock that differs from the real
// one.
func (b *tab) shifted(by time.Duration) {
	b.Helper()
	call(b, cdppage.AddScriptToEvaluateOnNewDocument, cdppage.AddScriptToEvaluateOnNewDocumentParams{Source: fmt.Sprintf(`{
		const Real = window.RealDate ??= Date;
		window.Date = class extends Real {
			constructor(...given) { given.length ? super(...given) : super(Real.now() + %d); }
			static now() { return Real.now() + %[1]d; }
		};
	}`, by.Milliseconds())})
}

// shows is how much the timer says is left.
func (b *tab) shows() time.Duration {
	b.Helper()
	text := ask[string](b, `[...document.querySelectorAll("[data-clock]")].find(e => e.checkVisibility())?.textContent ?? ""`)
	var minutes, seconds int
	if _, err := fmt.Sscanf(text, "%d:%d", &minutes, &seconds); err != nil {
		b.Fatalf("the clock reads %q", text)
	}
	return time.Duration(minutes)*time.Minute + time.Duration(seconds)*time.Second
}

// wantsLeft wants the timer right against the wall clock within two seconds.
func (b *tab) wantsLeft(length time.Duration, since time.Time) {
	b.Helper()
	want := length - time.Since(since)
	if got := b.shows(); math.Abs((got - want).Seconds()) > 2 {
		b.Errorf("the timer shows %v, want %v", got, want)
	}
}

// sent waits until so many times are on the server, and gives them.
func (b *tab) sent(batch string, n int) []store.BatchTime {
	b.Helper()
	for end := time.Now().Add(patience); ; time.Sleep(50 * time.Millisecond) {
		times, err := b.store.BatchTimes(b.Context(), strings.TrimPrefix(batch, "/batches/"))
		if err != nil {
			b.Fatal(err)
		}
		if len(times) >= n || time.Now().After(end) {
			return times
		}
	}
}

func whats(times []store.BatchTime) string {
	var list []string
	for _, t := range times {
		list = append(list, t.What)
	}
	return strings.Join(list, " ")
}

// TestKitchenWithoutNetwork loses the network beside the stove, and the boil too: the
// sheet and its timer are still there after a reload, and when the network is back each
// time is on the server once.
func TestKitchenWithoutNetwork(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	batch := b.kitchen(tomatoes())
	b.pushes("The boil is full and rolling")
	start := time.Now()
	b.wantsLeft(time.Hour, start) // USDA Guide 3, p. 3-8: 60 minutes
	b.sent(batch, 1)

	b.cut.Store(true)
	b.again()
	b.reads("h1", "Crushed tomatoes")
	b.wantsLeft(time.Hour, start)
	if ask[float64](b, `scrollY`) == 0 {
		t.Error("the sheet opens at its top while a timer runs")
	}
	b.pushes("The boil stopped")
	b.waitFor("the clock stands", `document.querySelector('[data-in="lost"]').checkVisibility()`)
	b.again()
	b.waitFor("the clock still stands", `document.querySelector('[data-in="lost"]').checkVisibility()`)
	b.pushes("It boils again")
	start = time.Now()
	b.wantsLeft(time.Hour, start) // the whole time, USDA Guide 1, p. 1-18
	if got := whats(b.sent(batch, 1)); got != "boil-reached" {
		t.Errorf("without a network %q came to the server", got)
	}

	b.cut.Store(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	times := b.sent(batch, 3)
	if got := whats(times); got != "boil-reached lost again" {
		t.Errorf("the server has %q", got)
	}
	if off := times[2].At.Sub(start).Abs(); off > 2*time.Second {
		t.Errorf("the boil came back %v from when it did", off)
	}
	b.again()
	b.waitFor("nothing waits", `JSON.parse(localStorage.getItem("kitchen-" + location.pathname.split("/")[2])).unsent.length === 0`)
	if got := len(b.sent(batch, 3)); got != 3 {
		t.Errorf("after another reload there are %d times, want each once", got)
	}

	// Another telephone of the student, which knows nothing: the server's times are enough.
	ask[bool](b, `localStorage.clear() ?? true`)
	b.again()
	b.wantsLeft(time.Hour, start)
}

// TestKitchenToTheEnd goes on to the seals, with clocks shifted between the pages, as
// time passes while a browser is closed.
func TestKitchenToTheEnd(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	batch := b.kitchen(tomatoes())
	b.pushes("The boil is full and rolling")
	b.sent(batch, 1)
	b.cut.Store(true) // a telephone whose clock differs from the server's would begin again
	b.shifted(59*time.Minute + 50*time.Second)
	b.again()
	if left := b.shows(); left > 10*time.Second {
		t.Errorf("after 59:50 the timer shows %v", left)
	}
	if ask[bool](b, `document.getElementById("kitchen").classList.contains("ringing")`) {
		t.Error("it rings before the time is up")
	}
	b.shifted(61 * time.Minute)
	b.again()
	b.waitFor("it rings", `document.getElementById("kitchen").classList.contains("ringing") && document.title.startsWith("Time is up")`)
	b.pushes("Stop the ring")
	b.waitFor("it is quiet", `!document.getElementById("kitchen").classList.contains("ringing")`)
	b.pushes("The heat is off")
	if left := b.shows(); left > 5*time.Minute || left < 4*time.Minute+55*time.Second {
		t.Errorf("the rest begins with %v, want 5 minutes (USDA Guide 1, p. 1-18)", left)
	}
	b.shifted(67 * time.Minute)
	b.again()
	b.pushes("The jars are out")
	b.waitFor("the seals' time is told", `document.querySelector("[data-seals]").textContent !== ""`)
	for selector, want := range map[string]string{ // USDA Guide 1, p. 1-25 and 1-26
		"[data-seals]":     `new Date(Date.now() + 12 * 3600e3)`,
		"[data-reprocess]": `new Date(Date.now() + 24 * 3600e3 - 6 * 60e3)`, // from when the heat went off
	} {
		near := ask[[]string](b, `[-60e3, 0].map(off => new Date(`+want+`.getTime() + off).toLocaleString("en-US", {weekday: "long", day: "numeric", month: "long", hour: "numeric", minute: "2-digit"}))`)
		if got := b.text(selector); got != near[0] && got != near[1] {
			t.Errorf("%s reads %q, want one of %q", selector, got, near)
		}
	}
	b.cut.Store(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	times := b.sent(batch, 4)
	if got := whats(times); got != "boil-reached time-up heat-off jars-out" {
		t.Fatalf("the server has %q", got)
	}
	if held := times[1].At.Sub(times[0].At); held != time.Hour {
		t.Errorf("the time was up after %v, want 1 h", held)
	}
	b.open(batch+"/record", 200)
	if got := ask[string](b, `document.querySelector("[name=finished]").value`); got == "" {
		t.Error("the record does not begin with the times of the kitchen")
	}
}

// TestKitchenChangedClock: a clock that is set back ends nothing, and one that is set
// while the page is open stops the timer. Then the whole time starts again.
func TestKitchenChangedClock(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	batch := b.kitchen(tomatoes())
	b.pushes("The boil is full and rolling")
	b.sent(batch, 1)
	b.cut.Store(true)
	b.shifted(-2 * time.Hour)
	b.again()
	b.waitFor("it is told", `document.querySelector('[data-in="clock-process"]').checkVisibility()`)
	b.reads("#step-process", "clock was changed")
	b.pushes("start the time again")
	if left := b.shows(); left < 59*time.Minute+55*time.Second {
		t.Errorf("after the clock was set back the time starts with %v, want all of it", left)
	}
	b.shifted(0)
	b.again()
	b.waitFor("the time is up by the clock, which was set again", `document.querySelector('[data-in="up"]').checkVisibility()`)

	// Set ahead while the page is in sight.
	b.pushes("It had stopped before the end")
	b.pushes("It boils again")
	ask[bool](b, `(() => { const real = Date.now.bind(Date); Date.now = () => real() + 3600e3; return true })()`)
	b.waitFor("it is told", `document.querySelector('[data-in="clock-process"]').checkVisibility()`)
	if ask[bool](b, `document.getElementById("kitchen").classList.contains("ringing")`) {
		t.Error("a clock that was set ahead ended the time")
	}
	b.cut.Store(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	if got := whats(b.sent(batch, 7)); strings.Count(got, "clock-changed") != 2 {
		t.Errorf("the server has %q, want it told twice", got)
	}
}

// TestKitchenOffsets stamps times in the night in which Denver's clocks go back: on the
// first Sunday of November at 2 o'clock daylight time, to 1 o'clock (15 U.S.C. 260a).
func TestKitchenOffsets(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	call(b, emulation.SetTimezoneOverride, emulation.SetTimezoneOverrideParams{TimezoneID: "America/Denver"})
	batch := b.kitchen(tomatoes())
	b.cut.Store(true)
	before := time.Date(time.Now().Year(), 11, 1, 7, 30, 0, 0, time.UTC) // 1:30, daylight time
	for before.Weekday() != time.Sunday {
		before = before.AddDate(0, 0, 1)
	}
	b.shifted(time.Until(before))
	b.again()
	b.pushes("The boil is full and rolling")
	b.reads("#step-process [data-ends]", "1:30") // an hour later it is half past one again
	b.shifted(time.Until(before.Add(40 * time.Minute)))
	b.again()
	if left := b.shows(); math.Abs((left - 20*time.Minute).Minutes()) > 1 {
		t.Errorf("40 minutes on, over the change, the timer shows %v, want about 20 minutes", left)
	}
	b.pushes("The boil stopped")
	b.cut.Store(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	times := b.sent(batch, 2)
	if got := whats(times); got != "boil-reached lost" {
		t.Fatalf("the server has %q", got)
	}
	for i, want := range []string{before.Format(time.DateOnly) + "T01:3", before.Format(time.DateOnly) + "T01:1"} {
		offset := []string{"-06:00", "-07:00"}[i]
		if got := times[i].At.Format(time.RFC3339); !strings.HasPrefix(got, want) || !strings.HasSuffix(got, offset) {
			t.Errorf("%s at %s, want %s...%s", times[i].What, got, want, offset)
		}
	}
}

// TestKitchenPressure vents, loses the pressure and opens the canner: USDA Guide 1,
// p. 1-22, in this order and no other.
func TestKitchenPressure(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	batch := b.kitchen(beans())
	b.cut.Store(true)
	if ask[bool](b, `[...document.querySelectorAll("#kitchen button")].some(e => e.checkVisibility() && e.textContent.includes("pressure"))`) {
		t.Error("the time can be started before the canner was vented")
	}
	b.pushes("Steam flows freely")
	if left := b.shows(); left < 9*time.Minute+55*time.Second {
		t.Errorf("venting begins with %v, want 10 minutes", left)
	}
	b.shifted(10*time.Minute + 5*time.Second)
	b.again()
	b.pushes("Stop the ring")
	b.pushes("The pressure is reached")
	if left := b.shows(); left > 20*time.Minute || left < 19*time.Minute+55*time.Second {
		t.Errorf("the process begins with %v, want 20 minutes (Guide 4, p. 4-9)", left)
	}
	b.pushes("The pressure fell")
	b.pushes("The pressure is back")
	b.shifted(31 * time.Minute)
	b.again()
	b.pushes("The heat is off")
	b.pushes("The weight is off")
	if left := b.shows(); left < 9*time.Minute+55*time.Second {
		t.Errorf("the wait begins with %v, want 10 minutes", left)
	}
	b.shifted(42 * time.Minute)
	b.again()
	b.pushes("The jars are out")
	b.cut.Store(false)
	ask[bool](b, `dispatchEvent(new Event("online"))`)
	if got := whats(b.sent(batch, 8)); got != "vent-began pressure-reached lost again time-up heat-off weight-off jars-out" {
		t.Errorf("the server has %q", got)
	}
}

// TestKitchenForgets: who logs out, or deletes all work, leaves no sheet on the telephone.
func TestKitchenForgets(t *testing.T) {
	t.Parallel()
	for _, leave := range []struct {
		from, button string
		forgets      bool
	}{{"/class", "Log out", false}, {"/my-work/forget", "Delete it all", true}} {
		t.Run(leave.button, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			batch := b.kitchen(tomatoes())
			b.pushes("The boil is full and rolling")
			b.open(leave.from, 200)
			b.follow(leave.button, 200)
			b.waitFor("no sheet is kept", `caches.match("`+batch+`/kitchen").then(kept => kept === undefined)`)
			if leave.forgets {
				b.waitFor("no clock times are left on the telephone", `localStorage.length === 0`)
				return
			}
			b.cut.Store(true)
			b.open(batch+"/kitchen", 503)
		})
	}
}

// TestKitchenWithoutScript has the list, and says what to do.
func TestKitchenWithoutScript(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	batch := b.newBatch(tomatoes())
	call(b, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: true})
	b.open(batch+"/kitchen", 200)
	b.reads("main", "no timers here")
	b.reads("#list", "The boil is full and rolling at")
	if ask[bool](b, `document.getElementById("kitchen").checkVisibility()`) {
		t.Error("steps that need a script are shown where none is run")
	}
}

// TestKitchenLooks: the checker finds nothing at any step, in both themes; each step fills
// a telephone, what is pressed is large, and the list is printed on two pages at most.
func TestKitchenLooks(t *testing.T) {
	t.Parallel()
	for name, plan := range map[string]map[string]string{"tomatoes": tomatoes(), "beans": beans()} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			batch := b.kitchen(plan)
			b.looksRight(name + "-before")
			b.cut.Store(true)
			if plan["method"] == "pressure" {
				b.pushes("Steam flows freely")
			} else {
				b.pushes("The boil is full and rolling")
			}
			b.looksRight(name + "-running")
			b.shifted(61 * time.Minute)
			b.again()
			b.looksRight(name + "-over")
			b.cut.Store(false)
			b.open(batch+"/kitchen", 200)
			for paper, size := range map[string][2]float64{"letter": {8.5, 11}, "A4": {8.27, 11.69}} {
				printed := call(b, cdppage.PrintToPDF, cdppage.PrintToPDFParams{PaperWidth: size[0], PaperHeight: size[1]})
				if n := pagesOf(printed.Data); n < 1 || n > 2 {
					t.Errorf("printed on %d pages of %s, want at most two", n, paper)
				}
			}
		})
	}
}

// looksRight looks at the sheet in two sizes and two color schemes, as [TestAxe] looks at
// the other pages, and in the hand.
func (b *tab) looksRight(state string) {
	b.Helper()
	ask[bool](b, axe+";true")
	for _, w := range []window{wide, phone} {
		for _, scheme := range []string{light, dark} {
			b.look(w, scheme)
			for _, fault := range append(ask[[]string](b, axeFaults), ask[[]string](b, sizeFaults)...) {
				b.Errorf("%s, %d px, %s: %s", state, w.width, scheme, fault)
			}
			if *screenshots != "" {
				b.picture(fmt.Sprintf("kitchen-%s-%d-%s.png", state, w.width, scheme))
			}
		}
	}
	// 44 px: WCAG 2.2, 2.5.5 (AAA), for wet fingers.
	for _, fault := range ask[[]string](b, `[
		...[...document.querySelectorAll(".step button, .step .tick")].filter(e => e.checkVisibility() && e.getBoundingClientRect().height < 44).map(e => "small: " + e.textContent),
		...[...document.querySelectorAll(".step")].filter(e => Math.abs(e.getBoundingClientRect().height - innerHeight) > 1).map(e => "not one screen: " + e.innerText.slice(0, 30)),
	]`) {
		b.Errorf("%s: %s", state, fault)
	}
}
