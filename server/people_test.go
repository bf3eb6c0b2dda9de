package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"net"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/gin-gonic/gin"
	"golang.org/x/net/html"

	"rollingboil/server/store"
)

// clock is a server's clock that a test sets forward.
type clock struct {
	mu sync.Mutex
	at time.Time
}

func (c *clock) now() time.Time {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.at
}

func (c *clock) pass(d time.Duration) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.at = c.at.Add(d)
}

// The tests begin on a Thursday noon in August, at the Harrow Creek Grange.
func newSiteWithClock(t testing.TB) (*site, *clock) {
	t.Helper()
	c := &clock{at: time.Date(2026, 8, 20, 18, 0, 0, 0, time.UTC)}
	return newSiteAt(t, filepath.Join(t.TempDir(), "test.db"), c.now), c
}

// browser is another browser on the same site.
func (s *site) browser() *site { return s.browserAt("") }

// browserAt is another browser, on a machine with another address.
func (s *site) browserAt(address string) *site {
	s.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		s.t.Fatal(err)
	}
	transport := http.DefaultTransport.(*http.Transport).Clone()
	if address != "" {
		dialer := net.Dialer{LocalAddr: &net.TCPAddr{IP: net.ParseIP(address)}}
		transport.DialContext = dialer.DialContext
	}
	s.t.Cleanup(transport.CloseIdleConnections)
	return &site{Server: s.Server, server: s.server, file: s.file, t: s.t, client: &http.Client{Jar: jar, Transport: transport}, store: s.store, log: s.log}
}

// staying is the same browser, which shows a redirect and does not follow it.
func (s *site) staying() *site {
	client := *s.client
	client.CheckRedirect = func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }
	b := *s
	b.client = &client
	return &b
}

const (
	password = "seven copper kettles"
	another  = "rhubarb under the stairs"
)

func named(name string) url.Values { return url.Values{"name": {name}, "password": {password}} }

// path is where a response is from, after all redirects.
func (r response) path() string { return r.Request.URL.Path }

// says is what the page's main part reads.
func says(t testing.TB, r response) string {
	t.Helper()
	return text(find(parse(t, r.body), "main"))
}

func (s *site) wants(r response, status int, parts ...string) {
	s.t.Helper()
	if r.StatusCode != status {
		s.t.Fatalf("%s %s = %d, want %d: %s", r.Request.Method, r.path(), r.StatusCode, status, says(s.t, r))
	}
	for _, part := range parts {
		if !strings.Contains(says(s.t, r), part) {
			s.t.Errorf("%s %s reads %q, want %q in it", r.Request.Method, r.path(), says(s.t, r), part)
		}
	}
}

// instructor makes an instructor through a link and gives the browser that is logged in.
func (s *site) instructor(name string) *site {
	s.t.Helper()
	b := s.browser()
	link, err := Invite(context.Background(), s.store, s.server.now())
	if err != nil {
		s.t.Fatal(err)
	}
	if got := b.post(link, named(name)); got.path() != "/class" {
		s.t.Fatalf("the link leads to %s: %s\n%s", got.path(), says(s.t, got), s.log.String())
	}
	return b
}

func classOf(name string) url.Values {
	return url.Values{"name": {name}, "starts": {"2026-08-20"}, "weeks": {"6"}, "zone": {"America/Denver"}, "altitude": {"6240 ft"}, "canning-day": {"2026-09-26"}}
}

// makesClass makes a class and gives it as it is kept.
func (s *site) makesClass(name string) store.Class {
	s.t.Helper()
	got := s.post("/class/new", classOf(name))
	class, err := s.store.Class(context.Background(), strings.TrimPrefix(got.path(), "/class/"))
	if err != nil {
		s.t.Fatalf("the class form leads to %s: %v", got.path(), err)
	}
	return class
}

// joins makes a student of a class, in this browser.
func (s *site) joins(class store.Class, name string) store.Person {
	s.t.Helper()
	form := named(name)
	form.Set("code", class.Code)
	if got := s.post("/join", form); got.path() != "/class/"+class.ID {
		s.t.Fatalf("joining leads to %s: %s", got.path(), says(s.t, got))
	}
	return s.person(name)
}

func (s *site) person(name string) store.Person {
	s.t.Helper()
	p, err := s.store.PersonByName(context.Background(), name)
	if err != nil {
		s.t.Fatal(err)
	}
	return p
}

// token is the session's cookie, "" for none.
func (s *site) token() string {
	s.t.Helper()
	base, err := url.Parse(s.URL)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, c := range s.client.Jar.Cookies(base) {
		if c.Name == "rollingboil" {
			return c.Value
		}
	}
	return ""
}

// loggedIn says whether the account's page is shown.
func (s *site) loggedIn() bool { return s.get("/account").path() == "/account" }

// TestRoutesByRole asks every route of the program as everybody. "self" is a student of
// the class, whose work and whose class are in the addresses; "other" is a student of
// another class, "held" the class's instructor, "holds" another class's.
func TestRoutesByRole(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	held, holds, self, other, guest := s.instructor("Ada Field"), s.instructor("Ben Moss"), s.browser(), s.browser(), s.browser()
	class := held.makesClass("Autumn class")
	student := self.joins(class, "Cora Lake")
	other.joins(holds.makesClass("Another class"), "Dan Reed")
	ctx := t.Context()

	self.post("/plan", goodPlan())
	plans, err := s.store.ListPlans(ctx, student.Visitor)
	if err != nil || len(plans) != 1 {
		t.Fatal(len(plans), err)
	}
	self.post("/scenarios/quarts-moved-uphill", url.Values{"time": {"25 min"}})
	attempts, err := s.store.ListAttempts(ctx, student.Visitor)
	if err != nil || len(attempts) != 1 {
		t.Fatal(len(attempts), err)
	}
	check := self.post("/check", url.Values{"lesson": {"headspace"}}).path()
	sitting := strings.Split(check, "/")[2]
	held.post("/class/"+class.ID+"/assign", url.Values{"what": {"lesson headspace"}, "opens": {"2026-08-20T12:00"}, "due": {"2026-08-27T18:00"}, "to": {"everyone"}})
	assignments, err := s.store.Assignments(ctx, class.ID)
	if err != nil || len(assignments) != 1 {
		t.Fatal(len(assignments), err)
	}
	held.post("/class/"+class.ID+"/assign", url.Values{"what": {"batch tomatoes-crushed"}, "opens": {"2026-08-20T12:00"}, "due": {"2026-08-27T18:00"}, "to": {"everyone"}})
	toCook, err := s.store.Assignments(ctx, class.ID)
	if err != nil || len(toCook) != 2 {
		t.Fatal(len(toCook), err)
	}
	cooked := toCook[slices.IndexFunc(toCook, func(a store.Assignment) bool { return a.Kind == batchKind })].ID
	batch := strings.Split(self.post("/batches", url.Values{"assignment": {cooked}}).path(), "/")[2]
	self.post("/batches/"+batch+"/plan", planForm(0))
	self.post("/batches/"+batch, url.Values{"do": {store.PlanSent}})
	self.post("/batches/"+batch+"/record", record(1))
	self.post("/class/"+class.ID+"/questions", url.Values{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {"How full is full?"}})
	asked, err := s.store.AskedIn(ctx, class.ID)
	if err != nil || len(asked) != 1 {
		t.Fatal(len(asked), err)
	}
	if err := s.store.AddBatchPhoto(ctx, store.BatchPhoto{ID: "aphoto", Batch: batch, Sum: "s", At: clock.now()}, []byte("small"), []byte("big"), 9); err != nil {
		t.Fatal(err)
	}
	trial := strings.Split(held.post("/class/"+class.ID+"/trials/new", trialForm()).path(), "/")[4]
	material := strings.Split(held.post("/class/"+class.ID+"/materials/new", url.Values{"kind": {"lesson"}, "from": {"course headspace"}}).path(), "/")[4]
	self.get("/class/" + class.ID)
	feed, err := s.store.Feed(ctx, class.ID, student.Visitor)
	if err != nil || feed == "" {
		t.Fatal(feed, err)
	}
	link, err := Invite(ctx, s.store, clock.now())
	if err != nil {
		t.Fatal(err)
	}
	parts := strings.NewReplacer(
		":trial", trial, ":material", material, ":batch", batch, ":photo", "aphoto", "versions/:n", "versions/1", "questions/:id", "questions/"+asked[0].ID,
		":class", class.ID, ":student", student.Visitor, "plans/:id", "plans/"+plans[0].ID, "attempts/:id", "attempts/"+attempts[0].ID, "assignments/:id", "assignments/"+assignments[0].ID,
		":secret", feed+".ics", "set-up/:code", strings.TrimPrefix(link, "/"), ":check", sitting, ":n", "1", ":lesson", "headspace", ":question", "headspace-1", ":scenario", "quarts-moved-uphill",
		":demo", "gauge", ":round", "7", ":food", "tomatoes-crushed", ":rule", "time-short", ":kind", "question", "*file", strings.TrimPrefix(s.server.assets.byName["style/main.css"], "/assets/"),
	)
	// Statuses of guest, self, other, held and holds; one stands for all.
	everybody := func(status string) []string { return []string{status, status, status, status, status} }
	mine := []string{"404", "200", "404", "404", "404"}
	myPost := []string{"404", "303", "404", "404", "404"}
	own := []string{"404", "404", "404", "200", "404"}
	ownPost := []string{"404", "404", "404", "303", "404"}
	persons := []string{"303 /login", "200", "200", "200", "200"}
	instructors := []string{"404", "404", "404", "200", "200"}
	joining := []string{"422", "422", "422", "303 /class", "303 /class"}
	type line struct {
		route string
		form  url.Values
		want  []string
	}
	lines := []line{
		{"GET /", nil, everybody("200")},
		{"GET /lessons", nil, everybody("200")},
		{"GET /lessons/:lesson", nil, everybody("200")},
		{"POST /lessons/:lesson", url.Values{"question": {"headspace-1"}}, everybody("422")},
		{"POST /altitude", url.Values{"back": {"headspace"}, "altitude": {"6240 ft"}}, everybody("303")},
		{"GET /practice", nil, everybody("200")},
		{"GET /practice/next", nil, everybody("303")},
		{"GET /practice/:question", nil, everybody("200")},
		{"POST /practice/:question", nil, everybody("422")},
		{"GET /check", nil, everybody("200")},
		{"POST /check", url.Values{"lesson": {"headspace"}}, everybody("303")},
		{"GET /check/:check", nil, mine},
		{"GET /check/:check/:n", nil, mine},
		{"POST /check/:check/:n", nil, []string{"404", "422", "404", "404", "404"}},
		{"POST /check/:check/hand-in", nil, myPost},
		{"GET /review", nil, everybody("200")},
		{"GET /review/next", nil, everybody("303")},
		{"POST /review/day", url.Values{"day": {"2026-09-26"}, "zone": {"America/Denver"}}, everybody("303")},
		{"GET /ready", nil, everybody("200")},
		{"GET /scenarios", nil, everybody("200")},
		{"GET /scenarios/:scenario", nil, everybody("200")},
		{"POST /scenarios/:scenario", nil, everybody("200")},
		{"GET /plan", nil, everybody("200")},
		{"POST /plan", goodPlan(), everybody("200")},
		{"POST /api/grade", nil, everybody("400")},
		{"GET /api/plan.schema.json", nil, everybody("200")},
		{"GET /api/batch.schema.json", nil, everybody("200")},
		{"GET /api/openapi.json", nil, everybody("200")},
		{"GET /bench", nil, everybody("200")},
		{"GET /bench/ear", nil, everybody("200")},
		{"POST /bench/ear", nil, everybody("404")},
		{"GET /bench/ear/:round", nil, everybody("404")},
		{"GET /bench/:demo", nil, everybody("200")},
		{"GET /my-work", nil, everybody("200")},
		{"GET /my-work/answers.csv", nil, everybody("200")},
		{"GET /my-work/statements.jsonl", nil, everybody("200")},
		{"GET /my-work/all.zip", nil, everybody("200")},
		{"GET /my-work/plans/:id", nil, mine},
		{"GET /my-work/attempts/:id", nil, mine},
		{"GET /my-work/forget", nil, everybody("200")},
		{"GET /times", nil, everybody("200")},
		{"GET /times/:food", nil, everybody("200")},
		{"GET /rules", nil, everybody("200")},
		{"GET /rules/:rule", nil, everybody("200")},
		{"GET /sources", nil, everybody("200")},
		{"GET /glossary", nil, everybody("200")},
		{"GET /find", nil, everybody("200")},
		{"GET /writing", nil, everybody("200")},
		{"GET /writing/:kind", nil, everybody("200")},
		{"GET /wall", nil, everybody("200")},
		{"GET /booklet", nil, everybody("200")},
		{"GET /healthz", nil, everybody("200")},
		{"GET /assets/*file", nil, everybody("200")},
		{"GET /offline.js", nil, everybody("200")},

		{"GET /set-up/:code", nil, everybody("200")},
		{"POST /set-up/:code", nil, everybody("422")},
		{"GET /login", nil, []string{"200", "303 /class", "303 /class", "303 /class", "303 /class"}},
		{"POST /login", nil, everybody("422")},
		{"GET /join", nil, []string{"200", "200", "200", "303 /class", "303 /class"}},
		{"POST /join", nil, joining},
		{"GET /new-password", nil, everybody("200")},
		{"POST /new-password", nil, everybody("422")},
		{"GET /account", nil, persons},
		{"POST /account", nil, []string{"303 /login", "422", "422", "422", "422"}},

		{"GET /class", nil, everybody("200")},
		{"GET /class/new", nil, instructors},
		{"POST /class/new", nil, []string{"404", "404", "404", "422", "422"}},
		{"GET /class/:class", nil, []string{"404", "200", "404", "200", "404"}},
		{"GET /class/:class/change", nil, own},
		{"POST /class/:class/change", classOf("Autumn class"), ownPost},
		{"GET /class/:class/code", nil, own},
		{"POST /class/:class/code", url.Values{"do": {"open"}}, ownPost},
		{"GET /class/:class/assign", nil, own},
		{"POST /class/:class/assign", nil, []string{"404", "404", "404", "422", "404"}},
		{"GET /class/:class/students/:student", nil, own},
		{"GET /class/:class/students/:student/attempts/:id", nil, own},
		{"POST /class/:class/students/:student/password", nil, own},
		{"GET /class/:class/materials", nil, []string{"404", "200", "404", "200", "404"}},
		{"GET /class/:class/materials/new", url.Values{"kind": {"lesson"}}, own},
		{"POST /class/:class/materials/new", url.Values{"kind": {"lesson"}, "from": {"course altitude"}}, ownPost},
		{"GET /class/:class/materials/:material", nil, own},
		{"POST /class/:class/materials/:material", url.Values{"text": {"x"}, "after": {"1"}}, []string{"404", "404", "404", "303", "404"}},
		{"GET /class/:class/materials/:material/preview", nil, own},
		{"POST /class/:class/materials/:material/preview", url.Values{"text": {"x"}}, own},
		{"POST /class/:class/materials/:material/publish", url.Values{"n": {"1"}}, ownPost},
		{"POST /class/:class/materials/:material/take-back", nil, ownPost},
		{"GET /class/:class/materials/:material/versions/:n", nil, own},
		{"POST /class/:class/materials/:material/versions/:n", url.Values{"after": {"2"}}, ownPost},
		{"GET /class/:class/materials/:material/versions/:n/file", nil, own},
		{"GET /calendar/:secret", nil, everybody("200")},
		{"GET /class/:class/questions", nil, []string{"404", "200", "404", "200", "404"}},
		{"POST /class/:class/questions", url.Values{"kind": {"lesson"}, "about": {"headspace"}}, []string{"404", "422", "404", "404", "404"}},
		{"GET /class/:class/questions/:id", nil, own},
		{"POST /class/:class/questions/:id/answer", url.Values{"answer": {"To the line."}}, ownPost},
		{"POST /class/:class/questions/:id/share", url.Values{"shared": {"How full?"}}, ownPost},
		{"POST /class/:class/questions/:id/unshare", nil, ownPost},
		{"GET /class/:class/results", nil, own},
		{"GET /class/:class/results/answers.csv", nil, own},
		{"GET /class/:class/results/competencies.csv", nil, own},
		{"GET /class/:class/results/results.xlsx", nil, own},
		{"GET /class/:class/results/statements.jsonl", nil, own},
		{"GET /class/:class/together", nil, everybody("404")}, // while it is off
		{"POST /class/:class/together", url.Values{"do": {"off"}}, ownPost},
		{"GET /class/:class/seals", nil, own},
		{"GET /class/:class/trials", nil, []string{"404", "200", "404", "200", "404"}},
		{"GET /class/:class/trials/new", nil, own},
		{"POST /class/:class/trials/new", nil, []string{"404", "404", "404", "422", "404"}},
		{"GET /class/:class/trials/:trial", nil, own}, // while it is not shown
		{"GET /class/:class/trials/:trial/workbook", nil, own},
		{"POST /class/:class/trials/:trial/workbook", nil, []string{"404", "404", "404", "400", "404"}},
		{"GET /class/:class/trials/:trial/variant", nil, own},
		{"POST /class/:class/trials/:trial/variant", nil, []string{"404", "404", "404", "422", "404"}},
		{"GET /class/:class/trials/:trial/entry", nil, own},
		{"POST /class/:class/trials/:trial/entry", nil, []string{"404", "404", "404", "422", "404"}},
		{"GET /batches", nil, everybody("404")},
		{"POST /batches", nil, everybody("404")},
		{"GET /batches/:batch", nil, []string{"404", "200", "404", "200", "404"}},
		{"POST /batches/:batch", url.Values{"do": {store.Comment}, "says": {"Well."}}, []string{"404", "303", "404", "303", "404"}},
		{"GET /batches/:batch/plan", nil, mine},
		{"POST /batches/:batch/plan", planForm(0), []string{"404", "409", "404", "404", "404"}},
		{"GET /batches/:batch/record", nil, mine},
		{"POST /batches/:batch/record", record(0), []string{"404", "409", "404", "404", "404"}},
		{"GET /batches/:batch/versions/:n", nil, []string{"404", "200", "404", "200", "404"}},
		{"GET /batches/:batch/seals.ics", nil, mine},
		{"GET /batches/:batch/kitchen", nil, mine},
		{"POST /batches/:batch/times", nil, []string{"404", "415", "404", "404", "404"}},
		{"POST /batches/:batch/photos", nil, []string{"404", "400", "404", "404", "404"}},
		{"GET /batches/:batch/photos/:photo", nil, mine}, // while its record is not sent in
		{"POST /batches/:batch/photos/:photo/delete", nil, myPost},
		{"POST /class/:class/calendar", nil, []string{"404", "303", "404", "303", "404"}},

		// What ends something comes last.
		{"POST /my-work/plans/:id/delete", nil, myPost},
		{"POST /my-work/attempts/:id/delete", nil, myPost},
		{"POST /class/:class/assignments/:id/take-back", nil, ownPost},
		{"POST /class/:class/students/:student/remove", nil, ownPost},
		{"POST /my-work/forget", nil, []string{"303 /my-work", "303 /my-work", "303 /my-work", "409", "409"}},
		{"POST /logout", nil, everybody("303 /")},
	}

	engine := gin.New()
	s.server.routes(engine)
	listed := map[string]bool{}
	for _, l := range lines {
		listed[l.route] = true
	}
	for _, r := range engine.Routes() {
		route := strings.Replace(r.Method, http.MethodHead, http.MethodGet, 1) + " " + r.Path
		if !listed[route] {
			t.Errorf("%s stands in no line of this test", route)
		}
	}

	for _, l := range lines {
		method, path, _ := strings.Cut(l.route, " ")
		path = parts.Replace(path)
		// Those who may not come first: had they done something, it would be gone.
		for _, i := range []int{0, 4, 2, 1, 3} {
			b := []*site{guest, self, other, held, holds}[i].staying()
			clock.pass(7 * time.Second) // one more try each time
			r := b.request(method, path, strings.NewReader(l.form.Encode()))
			if l.form != nil || method == http.MethodPost && path != "/api/grade" {
				r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
			}
			got := b.do(r)
			status, location, _ := strings.Cut(l.want[i], " ")
			if fmt.Sprint(got.StatusCode) != status || location != "" && got.Header.Get("Location") != location {
				t.Errorf("%s as %s = %d %s, want %s", l.route, []string{"guest", "self", "other", "held", "holds"}[i], got.StatusCode, got.Header.Get("Location"), l.want[i])
			}
			if method == http.MethodGet {
				if head := b.do(b.request(http.MethodHead, path, nil)); head.StatusCode != got.StatusCode || head.body != "" {
					t.Errorf("HEAD %s = %d with %d bytes, want %d with none", path, head.StatusCode, len(head.body), got.StatusCode)
				}
			}
		}
	}
}

// TestForeignPostsAreRefused sends every form of the program from another site.
func TestForeignPostsAreRefused(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	engine := gin.New()
	s.server.routes(engine)
	for _, route := range engine.Routes() {
		if route.Method != http.MethodPost {
			continue
		}
		r := s.request(http.MethodPost, route.Path, strings.NewReader("a=b"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		r.Header.Set("Origin", "https://elsewhere.example")
		if got := s.do(r); got.StatusCode != http.StatusForbidden {
			t.Errorf("POST %s from another site = %d, want 403", route.Path, got.StatusCode)
		}
	}
}

func TestSetUpLink(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	invite := func() string {
		link, err := Invite(t.Context(), s.store, clock.now())
		if err != nil {
			t.Fatal(err)
		}
		return link
	}
	old := invite()
	link := invite()
	s.wants(s.get(old), 404)
	s.wants(s.post(old, named("Ada Field")), 404)

	// Looking at it, and a form with a slip in it, do not use it up.
	s.wants(s.get(link), 200, "works once")
	short := s.post(link, url.Values{"name": {"Ada Field"}, "password": {"short"}})
	s.wants(short, 422, "at least 10")
	if got := attr(byID(parse(t, short.body), "name"), "value"); got != "Ada Field" {
		t.Errorf("the name comes back as %q", got)
	}
	if strings.Contains(short.body, `"short"`) {
		t.Error("the page shows the password that was typed")
	}
	clock.pass(InvitedUntil - time.Second)
	s.wants(s.post(link, named("Ada Field")), 200, "Classes you hold", "Ada Field")
	for _, b := range []*site{s, s.browser()} {
		b.wants(b.get(link), 404)
		b.wants(b.post(link, named("Eve Stone")), 404)
	}

	// A name that is taken leaves the link as it was.
	next := invite()
	taken := s.browser()
	taken.wants(taken.post(next, named("  ada   FIELD ")), 422, "Choose another")
	taken.wants(taken.get(next), 200)
	clock.pass(InvitedUntil)
	taken.wants(taken.get(next), 404)
	taken.wants(taken.post(next, named("Ben Moss")), 404)

	// A code for a password makes no instructor.
	code, err := PasswordCode(t.Context(), s.store, s.person("Ada Field").Visitor, clock.now())
	if err != nil {
		t.Fatal(err)
	}
	taken.wants(taken.post("/set-up/"+code, named("Ben Moss")), 404)
}

func TestJoin(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	join := func(b *site, code, name string) response {
		clock.pass(time.Minute) // ten more tries
		form := named(name)
		form.Set("code", code)
		return b.post("/join", form)
	}
	const noClass = "No class is open under this code"

	// The code as it may be typed or heard.
	for i, code := range []string{class.Code, strings.ToUpper(class.Code), "  " + strings.ReplaceAll(class.Code, "-", "  ") + " ", strings.ReplaceAll(class.Code, "-", " – "), strings.ReplaceAll(class.Code, "-", ".")} {
		if got := join(s.browser(), code, fmt.Sprint("Student ", string(rune('a'+i)))); got.path() != "/class/"+class.ID {
			t.Errorf("the code %q leads to %s: %s", code, got.path(), says(t, got))
		}
	}
	b := s.browser()
	wrong := join(b, "no such code", "Cora Lake")
	b.wants(wrong, 422, noClass)
	doc := parse(t, wrong.body)
	if code, name := attr(byID(doc, "code"), "value"), attr(byID(doc, "name"), "value"); code != "no-such-code" || name != "Cora Lake" {
		t.Errorf("what was typed comes back as %q, %q", code, name)
	}

	// Names.
	for _, name := range []string{"Student a", "STUDENT A", " student   a", "Stu\u0064ent\u00a0a", "Ｓtudent a"} {
		b.wants(join(b, class.Code, name), 422, "Somebody here has this name")
	}
	for name, want := range map[string]string{
		"": "Write a name", "\u00a0 ": "Write a name", "Cora\u0000Lake": "cannot be shown", "Cora\u202eLake": "cannot be shown", "Cora\u0085\u0007": "cannot be shown", "Cora\xff": "cannot be shown",
		strings.Repeat("ö", 61): "60 letters are the most", strings.Repeat("o\u0308", 61): "60 letters are the most",
	} {
		b.wants(join(b, class.Code, name), 422, want)
	}
	for _, name := range []string{strings.Repeat("ö", 60), strings.Repeat("o\u0308", 59) + "u", "Åsa Ødegård-O’Neil", "李 小龍"} {
		if got := join(s.browser(), class.Code, name); got.StatusCode != 200 || got.path() != "/class/"+class.ID {
			t.Errorf("the name %q: %d %s", name, got.StatusCode, says(t, got))
		}
	}

	// Who has joined joins another class with the code alone; joining again changes nothing.
	second := held.makesClass("Winter class")
	known := s.browser()
	cora := known.joins(class, "Cora Lake")
	known.wants(known.get("/join?code="+second.Code), 200, "the code is all it takes")
	if got := known.post("/join", url.Values{"code": {second.Code}}); got.path() != "/class/"+second.ID {
		t.Errorf("a second class leads to %s", got.path())
	}
	known.post("/join", url.Values{"code": {second.Code}})
	joined, err := s.store.Joined(t.Context(), cora.Visitor)
	if err != nil || len(joined) != 2 {
		t.Errorf("a student of %d classes, %v; want 2", len(joined), err)
	}
	known.wants(known.post("/join", url.Values{"code": {"no such code"}}), 422, noClass)

	// Closed, opened, changed and expired.
	do := func(what string) { held.post("/class/"+class.ID+"/code", url.Values{"do": {what}}) }
	do("close")
	b.wants(join(b, class.Code, "Dan Reed"), 422, noClass)
	do("open")
	join(s.browser(), class.Code, "Dan Reed")
	s.person("Dan Reed")
	do("change")
	b.wants(join(b, class.Code, "Finn Hill"), 422, noClass)
	changed, err := s.store.Class(t.Context(), class.ID)
	if err != nil || changed.Code == class.Code {
		t.Fatalf("the code is %q as before, %v", changed.Code, err)
	}
	clock.pass(codeLife - 3*time.Minute)
	if got := join(s.browser(), changed.Code, "Finn Hill"); got.path() != "/class/"+class.ID {
		t.Errorf("a minute before it ends the code leads to %s", got.path())
	}
	clock.pass(time.Minute)
	b.wants(join(b, changed.Code, "Gil Wood"), 422, noClass)
}

// TestWorkComesAlong: joining keeps what was done in the browser, logging in takes it
// along when it is asked to, and nobody's work goes to another person.
func TestWorkComesAlong(t *testing.T) {
	t.Parallel()
	s, _ := newSiteWithClock(t)
	class := s.instructor("Ada Field").makesClass("Autumn class")
	plan := func(b *site) {
		b.wants(b.post("/plan", goodPlan()), 200)
	}
	plans := func(p store.Person) int {
		all, err := s.store.ListPlans(t.Context(), p.Visitor)
		if err != nil {
			t.Fatal(err)
		}
		return len(all)
	}
	first := s.browser()
	plan(first)
	cora := first.joins(class, "Cora Lake")
	if plans(cora) != 1 {
		t.Errorf("%d plans after joining, want the one from before", plans(cora))
	}

	const asks = "Add what was done in this browser"
	elsewhere := s.browser()
	if got := elsewhere.get("/login"); strings.Contains(got.body, asks) {
		t.Error("a browser with no work is asked whether to add it")
	}
	plan(elsewhere)
	guest := elsewhere.visitor()
	elsewhere.wants(elsewhere.get("/login"), 200, asks)
	elsewhere.post("/login", named("Cora Lake"))
	if plans(cora) != 1 {
		t.Errorf("%d plans after logging in without the tick, want 1", plans(cora))
	}
	if left, err := s.store.ListPlans(t.Context(), guest); err != nil || len(left) != 1 {
		t.Errorf("the guest's plan: %d, %v; want it left as it was", len(left), err)
	}

	third := s.browser()
	plan(third)
	guest = third.visitor()
	// A wrong password moves nothing, and asks again.
	form := named("Cora Lake")
	form.Set("take-along", "yes")
	form.Set("password", another)
	third.wants(third.post("/login", form), 422, asks)
	if plans(cora) != 1 {
		t.Errorf("%d plans after a wrong password, want 1", plans(cora))
	}
	form.Set("password", password)
	third.post("/login", form)
	if plans(cora) != 2 {
		t.Errorf("%d plans after logging in with the tick, want 2", plans(cora))
	}
	if _, err := s.store.Visitor(t.Context(), guest); err == nil {
		t.Error("the visitor whose work was taken along is still there")
	}

	// Logged in as one and logging in as another, with the tick.
	dan := s.browser().joins(class, "Dan Reed")
	form.Set("name", "Dan Reed")
	third.post("/login", form)
	if plans(cora) != 2 || plans(dan) != 0 {
		t.Errorf("%d plans of one person and %d of the other, want 2 and 0", plans(cora), plans(dan))
	}

	// A guest who logs out stays who they are.
	fourth := s.browser()
	plan(fourth)
	guest = fourth.visitor()
	fourth.post("/logout", nil)
	if fourth.visitor() != guest {
		t.Error("logging out, not being logged in, loses the work")
	}
}

// TestNoPasswordFieldRefusesPasting: OWASP ASVS 5.0, 6.2.6 and 6.2.7, masked fields into
// which may be pasted and which password managers fill in.
func TestNoPasswordFieldRefusesPasting(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	held := s.instructor("Ada Field")
	fields := 0
	for path, b := range map[string]*site{"/login": s, "/join": s, "/new-password": s, "/account": held} {
		walk(parse(t, b.get(path).body), func(n *html.Node) {
			key := attr(n, "name")
			if n.Data != "input" || key != "password" && key != "current" {
				return
			}
			fields++
			for _, a := range n.Attr {
				if !slices.Contains([]string{"type", "id", "name", "autocomplete", "autocapitalize", "spellcheck"}, a.Key) {
					t.Errorf("%s: the field %s has %s", path, key, a.Key)
				}
			}
			if complete := attr(n, "autocomplete"); attr(n, "type") != "password" || complete != "new-password" && complete != "current-password" {
				t.Errorf("%s: the field %s is of type %q and completed as %q", path, key, attr(n, "type"), complete)
			}
		})
	}
	if fields != 5 {
		t.Errorf("%d password fields, want 5", fields)
	}
}

// TestPasswordIsTheSameHoweverComposed types é in one sign and in two (Unicode UAX #15).
func TestPasswordIsTheSameHoweverComposed(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	class := s.instructor("Ada Field").makesClass("Autumn class")
	b := s.browser()
	b.post("/join", url.Values{"code": {class.Code}, "name": {"Zoé Lake"}, "password": {"caf\u00e9 at the corner"}})
	b = s.browser()
	if got := b.post("/login", url.Values{"name": {"ZOE\u0301 LAKE"}, "password": {"cafe\u0301 at the corner"}}); got.path() != "/class" {
		t.Errorf("the same name and password, otherwise composed, lead to %s", got.path())
	}
	b = s.browser()
	if got := b.post("/login", url.Values{"name": {"Zoé Lake"}, "password": {"Caf\u00e9 at the corner"}}); got.path() != "/login" {
		t.Errorf("a password with another capital leads to %s", got.path())
	}
}

// TestWrongNameIsAsWrongPassword: OWASP ASVS 5.0, 6.3.8: nobody learns who has an account.
// The answers are the same, and both wait for a place to hash at.
func TestWrongNameIsAsWrongPassword(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.instructor("Ada Field")
	form := func(name, password string) url.Values {
		return url.Values{"name": {name}, "password": {password}}
	}
	for _, wrong := range []string{another, "", strings.Repeat("long ", 100)} {
		known, unknown := s.post("/login", form("Ada Field", wrong)), s.post("/login", form("Eva Field", wrong))
		if known.StatusCode != 422 || unknown.StatusCode != 422 || strings.ReplaceAll(known.body, "Ada Field", "Eva Field") != unknown.body {
			t.Errorf("a wrong password of %d letters: %d for a name there is, %d for none, or the pages differ", len(wrong), known.StatusCode, unknown.StatusCode)
		}
	}

	places := s.server.hasher.places
	for range cap(places) {
		places <- struct{}{}
	}
	for _, name := range []string{"Ada Field", "Eva Field"} {
		ctx, cancel := context.WithTimeout(t.Context(), 300*time.Millisecond)
		r := s.request(http.MethodPost, "/login", strings.NewReader(form(name, another).Encode())).WithContext(ctx)
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		resp, err := s.client.Do(r)
		if err == nil {
			resp.Body.Close()
			t.Errorf("%s: answered while nothing could be hashed", name)
		}
		cancel()
	}
	waiting := make(chan response)
	go func() { waiting <- s.post("/login", form("Ada Field", password)) }()
	select {
	case <-waiting:
		t.Error("logged in while nothing could be hashed")
	case <-time.After(200 * time.Millisecond):
		<-places
		if got := <-waiting; got.path() != "/class" {
			t.Errorf("after a place was free: %s", got.path())
		}
	}
}

// TestTries: OWASP ASVS 5.0, 6.3.1. Guessing is slowed down by name and by address, and
// waiting helps.
func TestTries(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	clock.pass(time.Hour)
	guess := named("Ada Field")
	guess.Set("password", another)
	guesser := s.browserAt("127.0.0.2")
	for i := range 20 {
		if got := guesser.post("/login", guess); got.StatusCode != 422 {
			t.Fatalf("try %d = %d", i+1, got.StatusCode)
		}
	}
	for _, path := range []string{"/login", "/join", "/new-password"} {
		got := guesser.post(path, guess)
		guesser.wants(got, 429, "Wait a minute")
		if got.Header.Get("Retry-After") != "60" {
			t.Errorf("%s: Retry-After %q", path, got.Header.Get("Retry-After"))
		}
	}
	guesser.wants(guesser.get("/set-up/none"), 429)
	guesser.wants(guesser.get("/lessons"), 200)

	// The right password, from anywhere: too many tries at this name.
	ada := s.browserAt("127.0.0.3")
	ada.wants(ada.post("/login", named("Ada Field")), 429)
	// Others are not held up, nor is Ada where she is logged in.
	other := s.browserAt("127.0.0.4")
	other.joins(class, "Cora Lake")
	held.wants(held.get("/class/"+class.ID), 200)

	clock.pass(time.Minute) // as Retry-After says
	if got := ada.post("/login", named("Ada Field")); got.path() != "/class" {
		t.Errorf("after a minute the right password leads to %s: %s", got.path(), says(t, got))
	}
	if got := guesser.post("/login", guess); got.StatusCode != 422 {
		t.Errorf("after a minute a guess = %d", got.StatusCode)
	}

	// Behind a proxy on the same machine each browser has its own tries. What a browser
	// itself says stands before what the proxy adds.
	clock.pass(time.Hour)
	through := func(forwarded string) int {
		r := s.request(http.MethodPost, "/join", strings.NewReader("code=x"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("X-Forwarded-For", forwarded)
		return s.do(r).StatusCode
	}
	for i := range 20 {
		if got := through(fmt.Sprintf("192.0.2.%d, 198.51.100.7", i)); got != 422 {
			t.Fatalf("try %d through a proxy = %d", i+1, got)
		}
	}
	if got := through("192.0.2.99, 198.51.100.7"); got != 429 {
		t.Errorf("try 21 through a proxy = %d, want 429", got)
	}
	if got := through("198.51.100.8"); got != 422 {
		t.Errorf("another browser's first try through a proxy = %d, want 422", got)
	}
}

// TestSessions: OWASP ASVS 5.0, V7.
func TestSessions(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	b := s.browser()
	b.post("/plan", goodPlan())
	asGuest := b.token()
	cora := b.joins(class, "Cora Lake")
	joined := b.token()
	if asGuest == "" || joined == asGuest {
		t.Error("the token is the same before and after joining")
	}
	stale := s.browser()
	stale.use(asGuest)
	if stale.loggedIn() || stale.get("/class/"+class.ID).StatusCode != 404 {
		t.Error("the token from before joining is a person's")
	}

	// Kept hashed: with the file alone nobody is logged in.
	for _, file := range []string{s.file, s.file + "-wal"} {
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if bytes.Contains(content, []byte(joined)) {
			t.Errorf("%s holds a session's token", file)
		}
	}
	sum := sha256.Sum256([]byte(joined))
	if _, ok, err := s.store.Sessions().FindCtx(t.Context(), base64.RawURLEncoding.EncodeToString(sum[:])); err != nil || !ok {
		t.Errorf("the hashed token is not kept: %v", err)
	}
	b.post("/logout", nil)
	if b.loggedIn() {
		t.Error("still logged in after logging out")
	}
	stale.use(joined)
	if stale.loggedIn() {
		t.Error("the token of a session that was logged out works on")
	}

	login := func(name, password string) *site {
		clock.pass(time.Minute)
		b := s.browser()
		if got := b.post("/login", url.Values{"name": {name}, "password": {password}}); got.path() != "/class" {
			t.Fatalf("%s cannot log in: %s", name, says(t, got))
		}
		return b
	}

	// A new password ends the other sessions and keeps this one, under another token.
	here, there := login("Cora Lake", password), login("Cora Lake", password)
	before := here.token()
	change := url.Values{"current": {another}, "password": {another}}
	here.wants(here.post("/account", change), 422, "not the password of this account")
	if !there.loggedIn() {
		t.Error("a change that was refused ended a session")
	}
	change.Set("current", password)
	here.wants(here.post("/account", change), 200, "The password is changed")
	if !here.loggedIn() || there.loggedIn() || here.token() == before {
		t.Error("after a new password: this session ended, or another did not, or the token is the same")
	}
	if got := s.browser().post("/login", named("Cora Lake")); got.StatusCode != 422 {
		t.Errorf("the old password = %d", got.StatusCode)
	}

	// The instructor's code sets a new password once and ends all sessions.
	path := "/class/" + class.ID + "/students/" + cora.Visitor
	page := held.post(path+"/password", nil)
	held.wants(page, 200, "shown only now")
	code := ""
	walk(parse(t, page.body), func(n *html.Node) {
		if attr(n, "class") == "spelled" {
			code = text(n)
		}
	})
	if strings.Contains(held.get(path).body, code) || strings.Count(code, "-") != 3 {
		t.Errorf("the code %q is shown again, or is not four words", code)
	}
	reset := url.Values{"code": {strings.ToUpper(strings.ReplaceAll(code, "-", " "))}, "password": {"short"}}
	fresh := s.browser()
	got := fresh.post("/new-password", reset)
	fresh.wants(got, 422, "at least 10")
	if kept := attr(byID(parse(t, got.body), "code"), "value"); kept != code {
		t.Errorf("the code comes back as %q", kept)
	}
	reset.Set("password", "CORA  lake")
	fresh.wants(fresh.post("/new-password", reset), 422, "That is your name")
	if !here.loggedIn() {
		t.Error("a code that was not used ended a session")
	}
	reset.Set("password", password)
	if got := fresh.post("/new-password", reset); got.path() != "/class" {
		t.Errorf("the code leads to %s: %s", got.path(), says(t, got))
	}
	if here.loggedIn() {
		t.Error("a new password by code left a session open")
	}
	again := s.browser()
	again.wants(again.post("/new-password", reset), 422, "was used")
	held.post(path+"/password", nil)
	late, err := PasswordCode(t.Context(), s.store, cora.Visitor, clock.now())
	if err != nil {
		t.Fatal(err)
	}
	clock.pass(InvitedUntil)
	reset.Set("code", late)
	again.wants(again.post("/new-password", reset), 422, "too old")
	link, err := Invite(t.Context(), s.store, clock.now())
	if err != nil {
		t.Fatal(err)
	}
	reset.Set("code", strings.TrimPrefix(link, "/set-up/"))
	again.wants(again.post("/new-password", reset), 422)
}

// use puts a session's token into the browser.
func (s *site) use(token string) {
	s.t.Helper()
	base, err := url.Parse(s.URL)
	if err != nil {
		s.t.Fatal(err)
	}
	s.client.Jar.SetCookies(base, []*http.Cookie{{Name: "rollingboil", Value: token, Path: "/"}})
}

// TestSessionsEnd: OWASP ASVS 5.0, 7.3.1 and 7.3.2, by the times that session.go gives.
func TestSessionsEnd(t *testing.T) {
	t.Parallel()
	for role, ends := range map[string]struct{ idle, absolute time.Duration }{
		store.Instructor: {12 * time.Hour, 14 * day},
		store.Student:    {30 * day, 240 * day},
	} {
		t.Run(role, func(t *testing.T) {
			t.Parallel()
			s, clock := newSiteWithClock(t)
			b := s.instructor("Ada Field")
			if role == store.Student {
				class := b.makesClass("Autumn class")
				b = s.browser()
				b.joins(class, "Cora Lake")
			}
			name := map[string]string{store.Instructor: "Ada Field", store.Student: "Cora Lake"}[role]
			clock.pass(ends.idle - time.Minute)
			if !b.loggedIn() {
				t.Error("ended before its time")
			}
			clock.pass(ends.idle + time.Minute)
			if b.loggedIn() {
				t.Error("did not end, though nothing was asked for")
			}
			b.post("/login", named(name))
			for passed := time.Duration(0); passed < ends.absolute-ends.idle; passed += ends.idle / 2 {
				if !b.loggedIn() {
					t.Fatalf("ended after %v in use", passed)
				}
				clock.pass(ends.idle / 2)
			}
			for range 3 {
				b.loggedIn()
				clock.pass(ends.idle / 2)
			}
			if b.loggedIn() {
				t.Errorf("did not end after %v in use", ends.absolute)
			}
		})
	}
}

// TestCookie: OWASP ASVS 5.0, V3.3.
func TestCookie(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for proto, secure := range map[string]bool{"": false, "http": false, "https": true} {
		b := s.browser()
		r := b.request(http.MethodPost, "/altitude", strings.NewReader("back=headspace&altitude=6240+ft"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		if proto != "" {
			r.Header.Set("X-Forwarded-Proto", proto)
		}
		cookies := b.staying().do(r).Cookies()
		if len(cookies) != 1 || !cookies[0].HttpOnly || cookies[0].SameSite != http.SameSiteLaxMode || cookies[0].Secure != secure || cookies[0].Domain != "" {
			t.Errorf("by %q: %v", proto, cookies)
		}
	}
}

// TestStudentDeletesEverything: the class works on, and no byte of the name stays in the
// database's files.
func TestStudentDeletesEverything(t *testing.T) {
	t.Parallel()
	s, _ := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	b, elsewhere := s.browser(), s.browser()
	const name = "Xanthippe Quill"
	p := b.joins(class, name)
	s.browser().joins(class, "Cora Lake")
	elsewhere.post("/login", named(name))
	b.post("/plan", goodPlan())
	b.post("/scenarios/quarts-moved-uphill", url.Values{"time": {"25 min"}})
	form := url.Values{"what": {"lesson headspace"}, "opens": {"2026-08-20T12:00"}, "due": {"2026-08-27T18:00"}, "to": {"some"}, "student": {p.Visitor, p.Visitor}}
	held.wants(held.post("/class/"+class.ID+"/assign", form), 200, "for "+name)
	held.post("/class/"+class.ID+"/students/"+p.Visitor+"/password", nil)
	b.get("/class/" + class.ID)
	feed, err := s.store.Feed(t.Context(), class.ID, p.Visitor)
	if err != nil || feed == "" {
		t.Fatal(feed, err)
	}

	b.wants(b.post("/my-work/forget", nil), 200, "Nothing yet")
	if b.loggedIn() || elsewhere.loggedIn() {
		t.Error("a session of the deleted student goes on")
	}
	held.wants(held.get("/class/"+class.ID), 200, "Cora Lake", "for nobody who is still here")
	held.wants(held.get("/class/"+class.ID+"/students/"+p.Visitor), 404)
	s.wants(s.get("/calendar/"+feed+".ics"), 404)
	if err := s.store.Integrity(t.Context()); err != nil {
		t.Error(err)
	}
	for _, file := range []string{s.file, s.file + "-wal"} {
		content, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		for _, part := range []string{"Xanthippe", "xanthippe", "Quill", "quill", p.Visitor, p.Password} {
			// The visitor's id is in the sessions of other browsers until these are swept.
			if part == p.Visitor {
				continue
			}
			if bytes.Contains(content, []byte(part)) {
				t.Errorf("%s holds %q", file, part)
			}
		}
	}
	// The name is free again.
	s.browser().joins(class, name)

	// An instructor who holds a class is not deleted.
	held.wants(held.post("/my-work/forget", nil), 409, "still hold a class")
	held.wants(held.get("/class/"+class.ID), 200)
}
