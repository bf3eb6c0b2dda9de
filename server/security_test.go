package server

import (
	"io/fs"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"golang.org/x/net/html"

	"rollingboil/assets"
	"rollingboil/server/store"
)

// TestSecurityTable holds the list in DEVELOPERS.md to the tests there are: each line
// names a requirement of the OWASP ASVS 5.0.0, once, and at least one test with its file.
func TestSecurityTable(t *testing.T) {
	t.Parallel()
	const root = ".."
	text, err := os.ReadFile(filepath.Join(root, "DEVELOPERS.md"))
	if err != nil {
		t.Fatal(err)
	}
	_, section, found := strings.Cut(string(text), "\n## Security, requirement by requirement\n")
	if !found {
		t.Fatal("DEVELOPERS.md has no such chapter")
	}
	section, _, _ = strings.Cut(section, "\n## ")
	_, table, _ := strings.Cut(section, "|---|---|---|\n")
	table, _, _ = strings.Cut(table, "\n\n")
	number := regexp.MustCompile(`\bV\d+\.\d+\.\d+\b`)
	named := regexp.MustCompile("`[^`]+`|\\bTest\\w+")
	seen := map[string]bool{}
	for line := range strings.Lines(table) {
		cells := strings.Split(strings.Trim(strings.TrimSpace(line), "|"), "|")
		if len(cells) != 3 {
			t.Errorf("%d cells, want requirement, what the program does, tests: %s", len(cells), line)
			continue
		}
		numbers := number.FindAllString(cells[0], -1)
		if len(numbers) == 0 {
			t.Errorf("no requirement is named: %s", line)
		}
		for _, n := range numbers {
			if seen[n] {
				t.Errorf("%s stands twice", n)
			}
			seen[n] = true
		}
		file, content, tests := "", "", 0
		for _, word := range named.FindAllString(cells[2], -1) {
			if strings.HasPrefix(word, "`") {
				file = strings.Trim(word, "`")
				source, err := os.ReadFile(filepath.Join(root, file))
				if err != nil || !strings.HasSuffix(file, "_test.go") {
					t.Errorf("%s: %s is no file of tests: %v", cells[0], file, err)
				}
				content = string(source)
				continue
			}
			tests++
			if !strings.Contains(content, "\nfunc "+word+"(t *testing.T) {") {
				t.Errorf("%s: there is no %s in %q", cells[0], word, file)
			}
		}
		if tests == 0 {
			t.Errorf("%s: no test", cells[0])
		}
	}
	if len(seen) < 80 {
		t.Errorf("%d requirements were read, want the whole table", len(seen))
	}
}

// TestLogTellsEventsAndNoSecrets: OWASP ASVS 5.0, 16.2.5 and 16.3.1 to 16.3.3. Everything
// that a password, a code or a token belongs to is done once, right and wrong; the log has
// each event, and not one of the secrets or names.
func TestLogTellsEventsAndNoSecrets(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	link, err := Invite(t.Context(), s.store, clock.now())
	if err != nil {
		t.Fatal(err)
	}
	const (
		wrong   = "a guess that is wrong"
		third   = "ladle beside the window"
		badCode = "walnut-anvil-harbor"
	)
	var tokens []string
	as := func(b *site) {
		if token := b.token(); token == "" {
			t.Fatal("no session")
		} else {
			tokens = append(tokens, token)
		}
	}
	held, b, guesser := s.browser(), s.browser(), s.browser()
	held.get(link)
	held.wants(held.post(link, named("Ada Field")), 200)
	as(held)
	held.wants(held.post(link, named("Ben Moss")), 404)
	class := held.makesClass("Autumn class")
	cora := b.joins(class, "Cora Lake")
	as(b)
	b.wants(b.get("/join?code="+class.Code), 200)
	b.get("/class/" + class.ID)
	feed, err := s.store.Feed(t.Context(), class.ID, cora.Visitor)
	if err != nil || feed == "" {
		t.Fatal(feed, err)
	}
	b.post("/join", url.Values{"code": {class.Code}})
	guesser.wants(guesser.get("/calendar/"+feed+".ics"), 200)
	guesser.wants(guesser.get("/calendar/"+feed), 404)
	guesser.wants(guesser.get(link), 404)
	guesser.wants(guesser.get(link+"/slip"), 404)

	clock.pass(2 * time.Minute)
	login := func(name, password string) url.Values {
		return url.Values{"name": {name}, "password": {password}}
	}
	guesser.wants(guesser.post("/login", login("Cora Lake", wrong)), 422)
	guesser.wants(guesser.post("/login", login(wrong, "Cora Lake")), 422) // typed into the wrong fields
	guesser.wants(guesser.post("/join", url.Values{"code": {badCode}, "name": {"Eve Stone"}, "password": {wrong}}), 422)
	guesser.wants(guesser.post("/new-password", url.Values{"code": {badCode}, "password": {wrong}}), 422)
	b.wants(b.post("/account", url.Values{"current": {wrong}, "password": {another}}), 422)
	b.wants(b.post("/account", url.Values{"current": {password}, "password": {another}}), 200)
	as(b)
	b.post("/logout", nil)
	clock.pass(2 * time.Minute)
	b.wants(b.post("/login", login("Cora Lake", another)), 200)
	as(b)
	page := held.post("/class/"+class.ID+"/students/"+cora.Visitor+"/password", nil)
	code := ""
	walk(parse(t, page.body), func(n *html.Node) {
		if attr(n, "class") == "spelled" {
			code = text(n)
		}
	})
	if strings.Count(code, "-") != 3 {
		t.Fatalf("the code is %q", code)
	}
	clock.pass(2 * time.Minute)
	b.wants(b.post("/new-password", url.Values{"code": {code}, "password": {third}}), 200)
	as(b)
	r := b.request(http.MethodPost, "/login", strings.NewReader("name=Cora+Lake&password=%zz"))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	b.wants(b.do(r), 400)
	b.wants(b.get("/class/"+class.ID+"/results"), 404) // not hers
	held.post("/class/"+class.ID+"/students/"+cora.Visitor+"/remove", nil)
	b.post("/my-work/forget", nil)
	for range 25 {
		guesser.post("/login", login("Ada Field", wrong))
	}
	ada := s.person("Ada Field")
	if err := s.store.Close(); err != nil { // what fails is logged with its cause
		t.Fatal(err)
	}
	s.closed = true
	guesser.wants(guesser.get(link), 429)
	b.wants(b.post("/login", login("Cora Lake", third)), 429)
	clock.pass(2 * time.Minute)
	guesser.wants(guesser.get(link), 500)
	b.wants(b.post("/login", login("Cora Lake", third)), 500)
	s.Close() // each request has its line now
	log := s.log.String()

	secrets := append(tokens, password, another, third, wrong, code, class.Code, badCode, feed, strings.TrimPrefix(link, "/set-up/"))
	for _, secret := range append(secrets, "Ada Field", "Cora Lake", "Eve Stone", "Ada+Field", "argon2id") {
		for _, form := range []string{secret, url.QueryEscape(secret), store.KnownAs(secret)} {
			if strings.Contains(strings.ToLower(log), strings.ToLower(form)) {
				t.Errorf("the log has %q", form)
			}
		}
	}
	var events []string
	line := regexp.MustCompile(`msg=security request=\S{12} event="?([a-z -]+?)"? person=(\S*) from=127\.0\.0\.1\n`)
	for _, m := range line.FindAllStringSubmatch(log, -1) {
		who, ok := map[string]string{ada.Visitor: "Ada", cora.Visitor: "Cora", `""`: "nobody"}[m[2]]
		if !ok {
			t.Errorf("an event is about %q", m[2])
		}
		events = append(events, m[1]+": "+who)
	}
	want := []string{
		"account made: Ada", "code refused: nobody", "account made: Cora", "class joined: Cora", "code refused: nobody",
		"log-in failed: Cora", "log-in failed: nobody", "code refused: nobody", "code refused: nobody", "password refused: Cora", "password changed: Cora",
		"logged out: Cora", "logged in: Cora", "code given: Cora", "password set by code: Cora", "student removed: Cora", "account deleted: Cora",
	}
	if len(events) < len(want) || !slices.Equal(events[:len(want)], want) {
		t.Errorf("the events are\n%q\nwant\n%q", events, want)
	}
	for _, part := range []string{
		`path=/set-up/(secret) status=200`, `path=/calendar/(secret) status=200`,
		"person=" + cora.Visitor + " from=127.0.0.1 path=/class/" + class.ID + "/results status=404", // authorization refused
		`path=/login status=429 error="too many tries"`,
		"person=" + ada.Visitor + " method=POST path=/class/" + class.ID + "/students/" + cora.Visitor + "/password status=200", // who gave the code
		"level=ERROR",
	} {
		if !strings.Contains(log, part) {
			t.Errorf("the log lacks %s", part)
		}
	}
}

// TestLogLinesCannotBeForged: OWASP ASVS 5.0, 16.4.1: a line break in what is asked for
// begins no line.
func TestLogLinesCannotBeForged(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.get("/none%0atime=2026-08-20%20level=INFO%20msg=security%20event=forged")
	s.Close()
	for line := range strings.Lines(s.log.String()) {
		if !strings.HasPrefix(line, "time=") || strings.HasPrefix(line, "time=2026-08-20 ") || strings.Contains(line, " event=forged\n") && !strings.Contains(line, `\ntime=2026`) {
			t.Errorf("a line of the log is %q", line)
		}
	}
	if n := strings.Count(s.log.String(), "\n"); n != 2 {
		t.Errorf("%d lines for one request that is refused, want 2", n)
	}
}

// TestByHTTPS: OWASP ASVS 5.0, 3.3.1, 3.3.3 and 3.4.1. By https the cookie has the name
// that browsers bind to this host, only that one counts, and browsers are told to come by
// https for a year (31 536 000 s). By http none of it, as RFC 6797, 7.2, asks.
func TestByHTTPS(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.instructor("Ada Field")
	by := func(proto, method, path, cookie string, form url.Values) response {
		r := s.request(method, path, strings.NewReader(form.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("X-Forwarded-Proto", proto)
		if cookie != "" {
			r.Header.Set("Cookie", cookie)
		}
		return s.browser().staying().do(r)
	}
	for proto, want := range map[string]struct{ cookie, transport string }{
		"https": {"__Host-rollingboil", "max-age=31536000; includeSubDomains"},
		"http":  {"rollingboil", ""},
	} {
		entered := by(proto, http.MethodPost, "/login", "", named("Ada Field"))
		cookies := entered.Cookies()
		if len(cookies) != 1 || cookies[0].Name != want.cookie || cookies[0].Path != "/" || cookies[0].Domain != "" {
			t.Fatalf("by %s: %v", proto, cookies)
		}
		for _, path := range []string{"/", "/none", "/healthz", s.server.assets.byName["style/main.css"]} {
			if got := by(proto, http.MethodGet, path, "", nil).Header.Get("Strict-Transport-Security"); got != want.transport {
				t.Errorf("by %s, %s: Strict-Transport-Security %q, want %q", proto, path, got, want.transport)
			}
		}
		for _, name := range []string{"rollingboil", "__Host-rollingboil"} {
			status := http.StatusSeeOther // to the page for logging in
			if name == want.cookie {
				status = http.StatusOK
			}
			if got := by(proto, http.MethodGet, "/account", name+"="+cookies[0].Value, nil); got.StatusCode != status {
				t.Errorf("by %s with the cookie %s: %d, want %d", proto, name, got.StatusCode, status)
			}
		}
		by(proto, http.MethodPost, "/logout", want.cookie+"="+cookies[0].Value, nil)
		if got := by(proto, http.MethodGet, "/account", want.cookie+"="+cookies[0].Value, nil); got.StatusCode != http.StatusSeeOther {
			t.Errorf("by %s: logged in after logging out: %d", proto, got.StatusCode)
		}
	}
}

// TestEveryAnswerIsClosed asks every address as a guest and as an instructor: nothing is
// kept by a browser or a proxy but what is the same for all (OWASP ASVS 5.0, 14.3.2 and
// 14.2.2), each answer says what kind it is (4.1.1), and no other site may read one (3.4.2).
func TestEveryAnswerIsClosed(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	engine := gin.New()
	s.server.routes(engine)
	parts := strings.NewReplacer(":class", class.ID, ":lesson", "headspace", ":food", "tomatoes-crushed", ":scenario", "quarts-moved-uphill", ":question", "headspace-1", ":rule", "time-short", ":demo", "gauge", "*file", strings.TrimPrefix(s.server.assets.byName["style/main.css"], "/assets/"))
	public := map[string]string{"/assets/*file": "public, max-age=31536000, immutable", "/offline.js": "no-cache"}
	for _, route := range engine.Routes() {
		if route.Method != http.MethodGet {
			continue
		}
		for _, b := range []*site{s, held} {
			r := b.request(http.MethodGet, parts.Replace(route.Path), nil)
			r.Header.Set("Origin", "https://elsewhere.example")
			got := b.staying().do(r)
			want := "no-store"
			if kept := public[route.Path]; kept != "" {
				want = kept
			}
			if h := strings.TrimPrefix(got.Header.Get("Cache-Control"), "private, "); h != want {
				t.Errorf("%s: Cache-Control %q, want %q", route.Path, h, want)
			}
			kind := got.Header.Get("Content-Type")
			if kind == "" && got.body != "" || strings.HasPrefix(kind, "text/") && !strings.Contains(kind, "charset=utf-8") {
				t.Errorf("%s: Content-Type %q", route.Path, kind)
			}
			for _, header := range []string{"Access-Control-Allow-Origin", "Server", "X-Powered-By"} {
				if h := got.Header.Get(header); h != "" {
					t.Errorf("%s: %s is %q", route.Path, header, h)
				}
			}
			if got.Header.Get("X-Content-Type-Options") != "nosniff" || got.Header.Get("Content-Security-Policy") != policy {
				t.Errorf("%s: headers %v", route.Path, got.Header)
			}
		}
	}
}

// TestNothingElseIsServed: OWASP ASVS 5.0, chapter V13.4: no traces of the source, no
// lists of folders, no pages for debugging, no TRACE; and methods that no route has.
func TestNothingElseIsServed(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, path := range []string{"/.git/config", "/.git/HEAD", "/DEVELOPERS.md", "/go.mod", "/assets/", "/assets/style/", "/assets/style/main.css", "/assets/../server/routes.go", "/assets/%2e%2e/embed.go", "/debug/pprof/", "/debug/vars", "/metrics", "/.env"} {
		if got := s.get(path); got.StatusCode != http.StatusNotFound {
			t.Errorf("GET %s = %d, want 404", path, got.StatusCode)
		}
	}
	for _, method := range []string{http.MethodTrace, http.MethodOptions, http.MethodPut, http.MethodPatch, http.MethodDelete} {
		for _, path := range []string{"/", "/plan", "/login", "/class", "/api/grade"} {
			if got := s.do(s.request(method, path, nil)); got.StatusCode != http.StatusMethodNotAllowed {
				t.Errorf("%s %s = %d, want 405", method, path, got.StatusCode)
			}
		}
	}
	if got := s.get("/healthz").body; strings.TrimSpace(got) != `{"status":"ok"}` {
		t.Errorf("/healthz tells %s", got)
	}
}

// TestFormsTakeOnlyTheirFields: OWASP ASVS 5.0, 15.3.3 and 15.3.7. A field that no form
// has gives nobody a role, and what stands in the address is not what was sent.
func TestFormsTakeOnlyTheirFields(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	class := s.instructor("Ada Field").makesClass("Autumn class")
	form := named("Cora Lake")
	for key, value := range map[string]string{"code": class.Code, "role": store.Instructor, "Role": store.Instructor, "visitor": s.person("Ada Field").Visitor, "sessions": "7"} {
		form.Set(key, value)
	}
	b := s.browser()
	b.wants(b.post("/join", form), 200)
	if cora := s.person("Cora Lake"); cora.Role != store.Student || cora.Visitor == form.Get("visitor") || cora.Sessions != 1 {
		t.Errorf("joined as %+v", cora)
	}
	guest := s.browser()
	guest.wants(guest.post("/login?password="+url.QueryEscape(password), url.Values{"name": {"Cora Lake"}}), 422)
	form = url.Values{"name": {"Cora Lake"}, "password": {another, password}}
	guest.wants(guest.post("/login", form), 422) // the first of two counts
}

// TestRedirectsStayHere: OWASP ASVS 5.0, 3.7.2.
func TestRedirectsStayHere(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	b := s.staying()
	for _, back := range []string{"//elsewhere.example", "https://elsewhere.example/", `/\elsewhere.example`, "headspace/../../..//elsewhere.example"} {
		if got := b.post("/altitude", url.Values{"back": {back}, "altitude": {"6240 ft"}}); got.StatusCode != http.StatusNotFound {
			t.Errorf("back to %s = %d to %q, want 404", back, got.StatusCode, got.Header.Get("Location"))
		}
		if got := b.post("/review/day", url.Values{"back": {back}, "day": {"2026-09-26"}}); got.Header.Get("Location") != "/review" {
			t.Errorf("back to %s leads to %q, want /review", back, got.Header.Get("Location"))
		}
	}
	for _, path := range []string{"//elsewhere.example/", "//elsewhere.example/lessons/", "/lessons//elsewhere.example/"} {
		r := s.request(http.MethodGet, "/", nil)
		r.URL.Path = path
		got := b.do(r)
		if to := got.Header.Get("Location"); strings.HasPrefix(to, "//") || strings.Contains(to, ":") {
			t.Errorf("%s leads to %q", path, to)
		}
	}
}

// TestNobodyIsThereAtFirst: OWASP ASVS 5.0, 6.3.2: no account comes with the program.
func TestNobodyIsThereAtFirst(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	if all, err := s.store.Instructors(t.Context()); err != nil || len(all) != 0 {
		t.Errorf("%d instructors in a new database, %v", len(all), err)
	}
	for _, name := range []string{"admin", "root", "sa", "instructor"} {
		s.wants(s.post("/login", url.Values{"name": {name}, "password": {name}}), 422)
	}
}

// TestPanicIsAPlainPage: OWASP ASVS 5.0, 16.5.1 and 16.5.3: what breaks in the middle is
// answered by a page that tells nothing of the cause.
func TestPanicIsAPlainPage(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	rec := httptest.NewRecorder()
	s.server.surround(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { panic("the cause") })).ServeHTTP(rec, httptest.NewRequest(http.MethodGet, "/plan", nil))
	if rec.Code != http.StatusInternalServerError || strings.Contains(rec.Body.String(), "the cause") || strings.Contains(rec.Body.String(), "goroutine") {
		t.Errorf("%d: %s", rec.Code, rec.Body.String())
	}
	if !strings.Contains(s.log.String(), "the cause") {
		t.Error("the cause is not in the log")
	}
}

// TestScriptsWriteNoMarkup: OWASP ASVS 5.0, 3.2.2 and 1.3.2. The scripts put text into
// pages as text, run none, and do not touch the session's cookie (14.3.3).
func TestScriptsWriteNoMarkup(t *testing.T) {
	t.Parallel()
	forbidden := regexp.MustCompile(`innerHTML|outerHTML|insertAdjacentHTML|document\.write|setHTML|createContextualFragment|\beval\(|new Function|document\.cookie|sessionStorage|https?://`)
	files, err := fs.Glob(assets.Files, "script/*.js")
	if err != nil || len(files) < 6 {
		t.Fatal(len(files), err)
	}
	for _, file := range files {
		script, err := fs.ReadFile(assets.Files, file)
		if err != nil {
			t.Fatal(err)
		}
		if found := forbidden.FindString(string(script)); found != "" {
			t.Errorf("%s has %s", file, found)
		}
	}
}
