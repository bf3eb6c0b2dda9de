package browser_test

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"rollingboil/server"
	"rollingboil/server/store"
)

var screenshots = flag.String("screenshots", "", "write a picture of every page that TestAxe looks at into this `folder`")

// What all tests share: one browser, one loaded course, and the accessibility
// checker's script. Each test has its own server, database, tab and cookies.
var (
	chromium context.Context
	course   *server.Course
	axe      string
)

// tabs bounds how many tabs are open at once: each takes about as much as one
// processor gives.
var tabs = make(chan struct{}, 2)

// patience is how long one step may take on a slow and busy machine, and
// testTime how long a whole test may.
const (
	patience = 30 * time.Second
	testTime = 4 * time.Minute
)

func TestMain(m *testing.M) {
	flag.Parse()
	code, err := runTests(m)
	if err != nil {
		fmt.Fprintf(os.Stderr, "browser tests: %v\n", err)
		code = 1
	}
	os.Exit(code)
}

func runTests(m *testing.M) (code int, err error) {
	program, axeFile := os.Getenv("ROLLINGBOIL_CHROMIUM"), os.Getenv("ROLLINGBOIL_AXE")
	if program == "" || axeFile == "" {
		return 1, errors.New("ROLLINGBOIL_CHROMIUM and ROLLINGBOIL_AXE must name Chromium and axe.min.js; `go run ./cmd/verify -only browser` finds or installs both and runs these tests")
	}
	script, err := os.ReadFile(axeFile)
	if err != nil {
		return 1, fmt.Errorf("read ROLLINGBOIL_AXE: %w; `go run ./cmd/verify -only browser` fetches it", err)
	}
	axe = string(script)
	if course, err = server.LoadCourse(""); err != nil {
		return 1, fmt.Errorf("load the course: %w", err)
	}
	profile, err := os.MkdirTemp("", "rollingboil-browser-")
	if err != nil {
		return 1, err
	}
	defer func() { err = errors.Join(err, os.RemoveAll(profile)) }()

	allocator, stop := chromedp.NewExecAllocator(context.Background(),
		chromedp.ExecPath(program),
		chromedp.UserDataDir(profile),
		chromedp.Flag("headless", "new"),
		chromedp.Flag("no-sandbox", true), // root in a container has no right to one
		chromedp.Flag("disable-gpu", true),
		chromedp.Flag("disable-quic", true),
		chromedp.Flag("no-first-run", true),
		chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true),
		chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("hide-scrollbars", true), // so that a window of 390 px is 390 px of page
		// A tab behind another one is used like the one in front.
		chromedp.Flag("disable-renderer-backgrounding", true),
		chromedp.Flag("disable-backgrounding-occluded-windows", true),
		chromedp.Flag("disable-background-timer-throttling", true),
	)
	defer stop()
	var closeBrowser context.CancelFunc
	chromium, closeBrowser = chromedp.NewContext(allocator)
	defer closeBrowser()
	if err := chromedp.Do(chromium); err != nil {
		return 1, fmt.Errorf("start %s: %w", program, err)
	}
	return m.Run(), nil
}

// tab is a browser tab with cookies of its own, on a server of its own.
type tab struct {
	*testing.T
	ctx   context.Context
	site  string // "http://127.0.0.1:12345"
	store *store.Store
	cut   *atomic.Bool // there is no network

	mu    sync.Mutex
	amiss []string // what the browser complained about
}

// openTab starts a server and opens a tab, which shows nothing yet. At the end
// of the test it fails if a page broke the content security policy, threw an
// exception or asked for something from elsewhere.
func openTab(t *testing.T) *tab {
	t.Helper()
	tabs <- struct{}{}
	t.Cleanup(func() { <-tabs })

	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "work.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	site, err := server.New(server.Config{Course: course, Store: db, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	var cut atomic.Bool
	web := httptest.NewServer(gate(&cut, site.Handler()))
	t.Cleanup(web.Close)
	return newTab(t, web.URL, db, &cut)
}

// somebodyElse opens a tab with cookies of its own on the same server.
func (b *tab) somebodyElse() *tab {
	b.Helper()
	return newTab(b.T, b.site, b.store, b.cut)
}

func newTab(t *testing.T, site string, db *store.Store, cut *atomic.Bool) *tab {
	t.Helper()
	ctx, closeTab := chromedp.NewContext(chromium, chromedp.WithNewBrowserContext())
	t.Cleanup(closeTab)
	if err := chromedp.Do(ctx); err != nil {
		t.Fatalf("open a tab: %v", err)
	}
	ctx, cancel := context.WithTimeout(ctx, testTime)
	t.Cleanup(cancel)
	b := &tab{T: t, ctx: ctx, site: site, store: db, cut: cut}
	if err := chromedp.Listen(ctx, b.notice); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		b.mu.Lock()
		defer b.mu.Unlock()
		for _, a := range b.amiss {
			t.Errorf("the browser complained: %s", a)
		}
	})
	b.look(wide, light)
	return b
}

// gate breaks every connection while there is no network.
func gate(cut *atomic.Bool, site http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if cut.Load() {
			panic(http.ErrAbortHandler)
		}
		site.ServeHTTP(w, r)
	})
}

// notice writes down what must not happen on any page.
func (b *tab) notice(event any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := event.(type) {
	case *runtime.EventExceptionThrown:
		b.amiss = append(b.amiss, e.ExceptionDetails.Text)
	case *cdplog.EventEntryAdded:
		if e.Entry.Source == cdplog.EntrySourceSecurity {
			b.amiss = append(b.amiss, e.Entry.Text)
		}
	case *network.EventRequestWillBeSent:
		if !strings.HasPrefix(e.Request.URL, b.site+"/") && !strings.HasPrefix(e.Request.URL, "data:") {
			b.amiss = append(b.amiss, "asked for "+e.Request.URL)
		}
	}
}

// The windows and the color schemes the pages are made for.
var (
	phone = window{390, 844}
	wide  = window{1280, 900}
)

type window struct{ width, height int64 }

const (
	light = "light"
	dark  = "dark"
)

// look sets the size of the window and the color scheme the reader prefers.
func (b *tab) look(w window, scheme string) {
	b.Helper()
	b.do("set the window", chromedp.EmulateViewport(w.width, w.height))
	call(b, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{
		{Name: "prefers-color-scheme", Value: scheme},
		{Name: "prefers-reduced-motion", Value: "reduce"},
	}})
}

// open goes to a path, as if it had been typed into the address bar, and wants
// the status.
func (b *tab) open(path string, status int64) {
	b.Helper()
	b.load("open "+path, status, chromedp.Navigate(b.site+path))
}

// load does what makes another page load, and wants its status.
func (b *tab) load(what string, status int64, steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	response, err := chromedp.RunResponse(ctx, steps...)
	if err != nil {
		b.Fatalf("%s: %v", what, err)
	}
	if response == nil || response.Status != status {
		b.Fatalf("%s: got the response %+v, want status %d", what, response, status)
	}
}

func (b *tab) do(what string, steps ...chromedp.Action[chromedp.Void]) {
	b.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	if err := chromedp.Do(ctx, steps...); err != nil {
		b.Fatalf("%s: %v", what, err)
	}
}

// call sends the browser a command about the tab.
func call[P, R any](b *tab, command cdp.Command[P, R], params P) R {
	b.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	r, err := chromedp.Call(ctx, command, params)
	if err != nil {
		b.Fatalf("%s: %v", command.Method, err)
	}
	return r
}

// ask evaluates an expression in the page. The browser does so for the test even
// where a page's own scripts are not run.
func ask[T any](b *tab, expression string) T {
	b.Helper()
	ctx, cancel := context.WithTimeout(b.ctx, patience)
	defer cancel()
	v, err := chromedp.Run(ctx, chromedp.Evaluate[T](expression, chromedp.EvalAwaitPromise))
	if err != nil {
		b.Fatalf("evaluate %.300s: %v", expression, err)
	}
	return v
}

// waitFor waits until an expression is true in the page.
func (b *tab) waitFor(what, expression string) {
	b.Helper()
	for end := time.Now().Add(patience); !ask[bool](b, expression); {
		if time.Now().After(end) {
			b.Fatalf("%s: is not so at %s", what, b.path())
		}
		time.Sleep(20 * time.Millisecond)
	}
}

// path is where the tab is, with the part after "#".
func (b *tab) path() string {
	b.Helper()
	return ask[string](b, `location.pathname + location.search + location.hash`)
}

// text is what can be read in the element.
func (b *tab) text(selector string) string {
	b.Helper()
	return ask[string](b, fmt.Sprintf(`document.querySelector(%q)?.innerText ?? ""`, selector))
}

// reads wants the text in the element.
func (b *tab) reads(selector, want string) {
	b.Helper()
	if got := b.text(selector); !strings.Contains(got, want) {
		b.Fatalf("%s: %s reads %q, want %q in it", b.path(), selector, got, want)
	}
}

// follow clicks the link or the button of that text in the page's main part and
// waits for the page it leads to. The mouse goes to where it is drawn.
func (b *tab) follow(text string, status int64) {
	b.Helper()
	b.load("follow "+text, status, chromedp.Click(named("//main", text)))
}

// goTo is follow for the navigation at the top.
func (b *tab) goTo(text string) {
	b.Helper()
	b.load("go to "+text, 200, chromedp.Click(named("//header", text)))
}

// named finds a link or a button by its text. One of that text to begin with is
// enough: a line of a list is one long link.
func named(under, text string) chromedp.Search {
	return chromedp.Search(fmt.Sprintf(`(%s//*[self::a or self::button][contains(normalize-space(), %s)])[1]`, under, quoted(text)))
}

// quoted writes a string for XPath, which has no escapes.
func quoted(s string) string {
	if !strings.Contains(s, `"`) {
		return `"` + s + `"`
	}
	return `'` + s + `'`
}

// typeIn replaces what stands in a text field of the plan form.
func (b *tab) typeIn(key, value string) {
	b.Helper()
	field := field(key)
	b.do("type into "+key, chromedp.Clear(field), chromedp.SendKeys(field, value))
}

// choose picks an option of a list of the plan form.
func (b *tab) choose(key, option string) {
	b.Helper()
	b.do("go to "+key, chromedp.Focus(field(key)))
	b.pick(option)
}

// pick picks an option of the list that has the focus, as the keyboard does:
// letters lead to the first option that begins with them, which may be a longer
// word, and the arrow from there to the one meant.
func (b *tab) pick(option string) {
	b.Helper()
	b.press(option)
	for range 20 {
		if ask[string](b, `document.activeElement.selectedOptions[0].text`) == option {
			return
		}
		b.press(kb.ArrowDown)
	}
	b.Fatalf("%s: the list %s has no %q", b.path(), ask[string](b, `document.activeElement.id`), option)
}

func (b *tab) press(keys string) {
	b.Helper()
	b.do("press "+keys, chromedp.KeyEvent(keys))
}

// field finds a field of the plan form; its id is the plan's key, and some have
// a dot.
func field(key string) chromedp.CSS { return chromedp.CSS(fmt.Sprintf("[id=%q]", key)) }

// send sets fields of a form and sends it, without the mouse and the keyboard:
// for tests that are about the page that follows.
func (b *tab) send(form string, values map[string]string, status int64) {
	b.Helper()
	for name, value := range values {
		b.set(form, name, value)
	}
	submit := fmt.Sprintf(`document.querySelector(%q).requestSubmit()`, form)
	b.load("send the form "+form, status, chromedp.Evaluate[chromedp.Void](submit))
}

// set sets one field of a form, or one of the ticks of that name.
func (b *tab) set(form, name, value string) {
	b.Helper()
	ok := ask[bool](b, fmt.Sprintf(`((form, name, value) => {
		const fields = [...document.querySelector(form).elements].filter(e => e.name === name);
		for (const e of fields) {
			if (e.type !== "radio" && e.type !== "checkbox") {
				e.value = value;
			} else if (e.value === value) {
				e.checked = true;
			}
		}
		return fields.some(e => e.value === value);
	})(%q, %q, %q)`, form, name, value))
	if !ok {
		b.Fatalf("%s: the form %s cannot say %s: %s", b.path(), form, name, value)
	}
}
