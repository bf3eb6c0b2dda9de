package server

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/html"

	"rollingboil/quiz"
	"rollingboil/server/store"
)

var shippedCourse = sync.OnceValues(func() (*Course, error) { return LoadCourse("") })

// site is a whole server on a real port with a real database, and one browser's
// worth of cookies.
type site struct {
	*httptest.Server
	server *Server
	file   string // of the database
	t      testing.TB
	client *http.Client
	store  *store.Store
	log    *bytes.Buffer
	closed bool // the test has closed the database
}

func newSite(t testing.TB) *site {
	t.Helper()
	return newSiteAt(t, filepath.Join(t.TempDir(), "test.db"), nil)
}

// newSiteAt is newSite with its database at a certain path, and a clock of the test's own.
func newSiteAt(t testing.TB, file string, now func() time.Time) *site {
	t.Helper()
	course, err := shippedCourse()
	if err != nil {
		t.Fatalf("load the course: %v", err)
	}
	db, err := store.Open(context.Background(), file)
	if err != nil {
		t.Fatal(err)
	}
	var lines lockedBuffer
	server, err := New(Config{Course: course, Store: db, Log: slog.New(slog.NewTextHandler(&lines, nil)), Now: now})
	if err != nil {
		t.Fatal(err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(server.Handler())
	client := web.Client()
	client.Jar = jar
	s := &site{Server: web, server: server, file: file, t: t, client: client, store: db, log: &lines.Buffer}
	t.Cleanup(func() {
		web.Close()
		if s.closed {
			return
		}
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

type lockedBuffer struct {
	bytes.Buffer
	mu sync.Mutex
}

// Write appends a log line.
func (b *lockedBuffer) Write(p []byte) (int, error) {
	b.mu.Lock()
	defer b.mu.Unlock()
	return b.Buffer.Write(p)
}

// response is an answer read to its end.
type response struct {
	*http.Response
	body string
}

func (s *site) do(r *http.Request) response {
	s.t.Helper()
	resp, err := s.client.Do(r)
	if err != nil {
		s.t.Fatal(err)
	}
	body, err := io.ReadAll(resp.Body)
	if err := resp.Body.Close(); err != nil {
		s.t.Fatal(err)
	}
	if err != nil {
		s.t.Fatal(err)
	}
	return response{resp, string(body)}
}

func (s *site) request(method, path string, body io.Reader) *http.Request {
	s.t.Helper()
	r, err := http.NewRequestWithContext(context.Background(), method, s.URL+path, body)
	if err != nil {
		s.t.Fatal(err)
	}
	return r
}

func (s *site) get(path string) response {
	s.t.Helper()
	return s.do(s.request(http.MethodGet, path, nil))
}

func (s *site) post(path string, form url.Values) response {
	s.t.Helper()
	r := s.request(http.MethodPost, path, strings.NewReader(form.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	return s.do(r)
}

func (s *site) api(contentType, body string) response {
	s.t.Helper()
	r := s.request(http.MethodPost, "/api/grade", strings.NewReader(body))
	r.Header.Set("Content-Type", contentType)
	return s.do(r)
}

// goodPlan is a plan that follows USDA Guide 3, p. 3-8: crushed tomatoes, hot,
// quarts, above 6,000 ft.
func goodPlan() url.Values {
	return url.Values{
		"food": {"tomatoes-crushed"}, "pack": {"hot"}, "method": {"boiling-water"}, "jar": {"quart"}, "altitude": {"6240 ft"},
		"time": {"60 min"}, "headspace": {"1/2 in"}, "acid.kind": {"bottled-lemon-juice"}, "acid.per_jar": {"2 tbsp"},
	}
}

func TestStatus(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for path, want := range map[string]int{
		"/": 200, "/lessons": 200, "/lessons/headspace": 200, "/lessons/none": 404, "/scenarios": 200, "/scenarios/none": 404,
		"/plan": 200, "/my-work": 200, "/times": 200, "/times?find=bean": 200, "/times/none": 404, "/times/pumpkin-butter": 200, "/times?find=papaya": 200, "/times/snap-beans?altitude=high": 422,
		"/rules": 200, "/rules/time-short": 200, "/rules/none": 404, "/sources": 200, "/healthz": 200, "/none": 404,
		"/my-work/plans/none": 404, "/my-work/attempts/none": 404, "/plan?from=none": 404, "/assets/none/style.css": 404, "/lessons/": 200,
	} {
		if got := s.get(path); got.StatusCode != want {
			t.Errorf("GET %s = %d, want %d", path, got.StatusCode, want)
		}
	}
	if got := s.do(s.request(http.MethodDelete, "/plan", nil)); got.StatusCode != http.StatusMethodNotAllowed {
		t.Errorf("DELETE /plan = %d, want 405", got.StatusCode)
	}
	if got := s.do(s.request(http.MethodHead, "/plan", nil)); got.StatusCode != http.StatusOK || got.body != "" {
		t.Errorf("HEAD /plan = %d with %d bytes, want 200 with none", got.StatusCode, len(got.body))
	}
}

// TestCardOnThePage: what USDA Guide 3, p. 3-7 prints of crushed tomatoes, in
// both units; 1 lb is 0.45359237 kg.
func TestCardOnThePage(t *testing.T) {
	t.Parallel()
	body := text(find(parse(t, newSite(t).get("/times/tomatoes-crushed").body), "main"))
	for _, want := range []string{"For 7 quarts", "22 lb (10 kg)", "For 9 pints", "14 lb (6.4 kg)", "53 lb (24 kg) gives 17 to 20 quarts", "overripe, frost-killed, diseased"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// TestUntestedFood follows a food without a process through the pages: mashed
// pumpkin (USDA Guide 4, p. 4-18: cubes only).
func TestUntestedFood(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for path, wants := range map[string][]string{
		"/times":                    {"No tested process", "/times/pumpkin-puree"},
		"/times?find=puréed":        {"/times/pumpkin-puree"},
		"/times/pumpkin-puree":      {"cubes only", "/times/pumpkin-winter-squash-cubed", "ask your extension service", "/sources#usda-guide-4"},
		"/plan?food=pumpkin-puree":  {`<optgroup label="No tested process">`, `<option value="pumpkin-puree" selected>`},
		"/sources":                  {`id="cdc-2004"`},
		"/times/persimmons":         {"Read in one copy"},
		"/rules/food-untested":      {"Food untested"},
		"/times?find=no-such-thing": {"No food here has that in its name"},
	} {
		body := s.get(path).body
		for _, want := range wants {
			if !strings.Contains(body, want) {
				t.Errorf("GET %s lacks %q", path, want)
			}
		}
	}
	plan := goodPlan()
	plan.Set("food", "pumpkin-puree")
	main := text(find(parse(t, s.post("/plan", plan).body), "main"))
	for _, want := range []string{"No tested process", "there is no tested home process to go by", "Pumpkin or winter squash, mashed or puréed", "cubes only", "Guide 4"} {
		if !strings.Contains(main, want) {
			t.Errorf("the graded plan lacks %q", want)
		}
	}
}

func TestSecurityHeaders(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, path := range []string{"/", "/none", "/healthz", "/plan"} {
		h := s.get(path).Header
		csp := h.Get("Content-Security-Policy")
		for _, want := range []string{"default-src 'none'", "style-src 'self'", "script-src 'self'", "frame-ancestors 'none'", "form-action 'self'", "base-uri 'none'"} {
			if !strings.Contains(csp, want) {
				t.Errorf("%s: policy %q lacks %s", path, csp, want)
			}
		}
		if strings.Contains(csp, "unsafe") || h.Get("X-Content-Type-Options") != "nosniff" || h.Get("Referrer-Policy") == "" {
			t.Errorf("%s: headers %v", path, h)
		}
	}
}

func TestForeignPostIsRefused(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, path := range []string{"/plan", "/lessons/headspace", "/altitude", "/scenarios/first-crushed-tomatoes", "/my-work/forget", "/api/grade"} {
		r := s.request(http.MethodPost, path, strings.NewReader("a=b"))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		r.Header.Set("Sec-Fetch-Site", "cross-site")
		r.Header.Set("Origin", "https://elsewhere.example")
		if got := s.do(r); got.StatusCode != http.StatusForbidden {
			t.Errorf("POST %s from another site = %d, want 403", path, got.StatusCode)
		}
	}
}

func TestBodyLimit(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	big := strings.Repeat("a", maxBody+1)
	if got := s.post("/plan", url.Values{"food": {big}}); got.StatusCode != http.StatusRequestEntityTooLarge {
		t.Errorf("POST /plan with %d bytes = %d, want 413", len(big), got.StatusCode)
	}
	if got := s.api("application/yaml", big); got.StatusCode != http.StatusRequestEntityTooLarge || !json.Valid([]byte(got.body)) {
		t.Errorf("POST /api/grade with %d bytes = %d %q, want 413 in JSON", len(big), got.StatusCode, got.body)
	}
}

// TestErrorPage closes the database under the server: the page gives a number
// to quote and nothing of the cause, which is in the log under that number.
func TestErrorPage(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	if err := s.store.Close(); err != nil {
		t.Fatal(err)
	}
	s.closed = true
	got := s.get("/my-work")
	if got.StatusCode != http.StatusInternalServerError {
		t.Fatalf("GET /my-work without a database = %d, want 500", got.StatusCode)
	}
	doc := parse(t, got.body)
	id := text(find(doc, "code"))
	if len(id) != 12 || !strings.Contains(s.log.String(), "request="+id) {
		t.Errorf("the page quotes %q, which is not in the log", id)
	}
	for _, cause := range []string{"sql", "database is closed", "SELECT", "goroutine"} {
		if strings.Contains(strings.ToLower(got.body), strings.ToLower(cause)) {
			t.Errorf("the page tells the cause: %s", cause)
		}
	}
}

func TestPlanIsGradedAndKept(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	got := s.post("/plan", goodPlan())
	if got.StatusCode != http.StatusOK || verdictOn(t, got.body) != "As tested, as far as you told us" {
		t.Fatalf("POST /plan = %d, verdict %q", got.StatusCode, verdictOn(t, got.body))
	}
	short := goodPlan()
	short.Set("time", "50 min")
	got = s.post("/plan", short)
	if verdictOn(t, got.body) != "Not safe as written" {
		t.Errorf("ten minutes short: verdict %q", verdictOn(t, got.body))
	}
	if beside := text(byID(parse(t, got.body), "time-tested")); beside != "Tested: 60 min" {
		t.Errorf("beside the time stands %q, want the tested value", beside)
	}
	if again := s.post("/plan", short); again.StatusCode != http.StatusOK {
		t.Fatal(again.StatusCode)
	}
	plans, err := s.store.ListPlans(context.Background(), s.visitor())
	if err != nil || len(plans) != 2 {
		t.Fatalf("%d plans kept, %v; want 2: the same plan sent twice is kept once", len(plans), err)
	}
	kept := s.get("/my-work/plans/" + plans[0].ID)
	if verdictOn(t, kept.body) != "Not safe as written" {
		t.Errorf("the kept plan shows %q", verdictOn(t, kept.body))
	}
	again := parse(t, s.get("/plan?from="+plans[0].ID).body)
	if v := attr(byID(again, "time"), "value"); v != "50 min" {
		t.Errorf("the form made from a kept plan has time %q, want 50 min", v)
	}
	if got := s.post("/my-work/plans/"+plans[0].ID+"/delete", nil); got.StatusCode != http.StatusOK {
		t.Errorf("delete = %d", got.StatusCode)
	}
	if got := s.get("/my-work/plans/" + plans[0].ID); got.StatusCode != http.StatusNotFound {
		t.Errorf("deleted plan = %d, want 404", got.StatusCode)
	}
}

// visitor reads the visitor's id out of the database's only session.
func (s *site) visitor() string {
	s.t.Helper()
	base, err := url.Parse(s.URL)
	if err != nil {
		s.t.Fatal(err)
	}
	for _, c := range s.client.Jar.Cookies(base) {
		sum := sha256.Sum256([]byte(c.Value)) // the token is kept hashed
		raw, ok, err := s.store.Sessions().FindCtx(context.Background(), base64.RawURLEncoding.EncodeToString(sum[:]))
		if err != nil || !ok {
			s.t.Fatalf("no session for the cookie: %v", err)
		}
		// The session is a gob; the id is its only run of 26 letters and digits.
		for i := 0; i+26 <= len(raw); i++ {
			run := string(raw[i : i+26])
			if strings.Trim(run, "abcdefghijklmnopqrstuvwxyz234567") == "" {
				return run
			}
		}
	}
	s.t.Fatal("no visitor")
	return ""
}

func TestWhatWasTypedIsKeptWhenItCannotBeRead(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	form := goodPlan()
	form.Set("time", "sixty")
	form.Set("altitude", "up <high>")
	form.Set("seal_checks", "press")
	got := s.post("/plan", form)
	if got.StatusCode != http.StatusUnprocessableEntity {
		t.Fatalf("POST /plan = %d, want 422", got.StatusCode)
	}
	doc := parse(t, got.body)
	for key, want := range map[string]string{"time": "sixty", "altitude": "up <high>", "headspace": "1/2 in", "acid.per_jar": "2 tbsp"} {
		if v := attr(byID(doc, key), "value"); v != want {
			t.Errorf("%s = %q, want %q", key, v, want)
		}
	}
	for _, key := range []string{"time", "altitude"} {
		if attr(byID(doc, key), "aria-invalid") != "true" || text(byID(doc, key+"-wrong")) == "" {
			t.Errorf("%s is not marked as unreadable", key)
		}
	}
	if s.client.Jar.Cookies(mustURL(t, s.URL)) != nil {
		t.Error("a plan that could not be read made a session")
	}
}

func mustURL(t *testing.T, raw string) *url.URL {
	t.Helper()
	u, err := url.Parse(raw)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

func TestNoneOfTheseIsAnAnswer(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	form := goodPlan()
	form.Set("added", "none")
	form.Set("seal_checks", "none")
	body := s.post("/plan", form).body
	if !strings.Contains(body, "/rules/seals-not-tested") {
		t.Error("no check of the seals: the rule is not named")
	}
	if strings.Contains(body, `href="#added"`) {
		t.Error("nothing added was said, and is still asked for")
	}
}

// TestAnswerIsMarkedAndKept answers, in its lesson, a question of each kind that a
// lesson asks.
func TestAnswerIsMarkedAndKept(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	tried := map[string]bool{}
	for _, l := range course.Lessons.Lessons() {
		for _, id := range l.Questions {
			q, _ := course.Bank.Question(id)
			if tried[q.Kind] || q.Lesson != l.Slug {
				continue
			}
			tried[q.Kind] = true
			t.Run(q.Kind, func(t *testing.T) {
				t.Parallel()
				s := newSite(t)
				asked, err := q.Ask(0)
				if err != nil {
					t.Fatal(err)
				}
				post := func(form url.Values) response {
					form.Set("question", q.ID)
					return s.post("/lessons/"+l.Slug, form)
				}
				got := post(fields(t, asked, false))
				if got.StatusCode != http.StatusOK || !strings.Contains(text(find(parse(t, got.body), "main")), "Not this one.") {
					t.Errorf("a wrong answer = %d without its feedback", got.StatusCode)
				}
				got = post(fields(t, asked, true))
				if main := text(find(parse(t, got.body), "main")); !strings.Contains(main, "That is right.") || !strings.Contains(main, strings.Join(strings.Fields(asked.Why), " ")) {
					t.Errorf("a right answer is not answered with the reason")
				}
				if got := post(url.Values{}); got.StatusCode != http.StatusUnprocessableEntity {
					t.Errorf("no answer = %d, want 422", got.StatusCode)
				}
				answers, err := s.store.ListAnswers(context.Background(), s.visitor())
				if err != nil || len(answers) != 2 || answers[0].Right || !answers[1].Right {
					t.Errorf("kept answers %+v, %v; want a wrong and a right one", answers, err)
				}
				want := fmt.Sprintf("1 of %d", len(course.Bank.Lesson(l.Slug)))
				if work := text(find(parse(t, s.get("/my-work").body), "main")); !strings.Contains(work, want) {
					t.Errorf("My work says %q, want %s right", work, want)
				}
			})
		}
	}
	for _, kind := range []string{quiz.Choice, quiz.Choices, quiz.Number} {
		if !tried[kind] {
			t.Errorf("no lesson asks a question of the kind %s", kind)
		}
	}
}

func TestAltitudeMarksTheBand(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	if got := s.post("/altitude", url.Values{"back": {"altitude"}, "altitude": {"high"}}); got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("unreadable altitude = %d, want 422", got.StatusCode)
	}
	got := s.post("/altitude", url.Values{"back": {"altitude"}, "altitude": {"1902 m"}})
	if got.StatusCode != http.StatusOK || !strings.Contains(got.body, "your band") {
		t.Errorf("after keeping an altitude: %d, no band is marked", got.StatusCode)
	}
	if v := attr(byID(parse(t, s.get("/plan").body), "altitude"), "value"); !strings.HasPrefix(v, "6\u00a0240") {
		t.Errorf("the plan form begins with altitude %q, want the kept one", v)
	}
}

func TestScenario(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	path := "/scenarios/first-crushed-tomatoes"
	if strings.Contains(s.get(path).body, "The worked answer") {
		t.Error("the worked answer stands there before a try")
	}
	got := s.post(path, url.Values{"method": {"boiling-water"}, "pack": {"hot"}, "time": {"45 min"}, "headspace": {"1/2 in"}, "acid.kind": {"none"}, "jar": {"pint"}})
	main := text(find(parse(t, got.body), "main"))
	if verdictOn(t, got.body) != "Not safe as written" || !strings.Contains(main, "The worked answer") || !strings.Contains(main, "60 min") {
		t.Errorf("a short plan: verdict %q, or no worked answer", verdictOn(t, got.body))
	}
	if strings.Contains(main, "pint jar of") {
		t.Error("what the kitchen has settled was changed by the form")
	}
	good := goodPlan()
	got = s.post(path, good)
	if v := verdictOn(t, got.body); v != "As tested, as far as you told us" {
		t.Errorf("the right plan: verdict %q", v)
	}
	attempts, err := s.store.ListAttempts(context.Background(), s.visitor())
	if err != nil || len(attempts) != 2 {
		t.Fatalf("%d attempts, %v; want 2", len(attempts), err)
	}
	if slices.ContainsFunc(attempts, func(a store.Attempt) bool { return a.Passed != (a.Verdict == "as-tested") }) {
		t.Errorf("attempts %+v", attempts)
	}
	if got := s.get("/my-work/attempts/" + attempts[0].ID); got.StatusCode != http.StatusOK {
		t.Errorf("a kept attempt = %d", got.StatusCode)
	}
}

func TestForget(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	visitor := s.visitor()
	if got := s.get("/my-work/forget"); got.StatusCode != http.StatusOK {
		t.Fatal(got.StatusCode)
	}
	if plans, _ := s.store.ListPlans(context.Background(), visitor); len(plans) != 1 {
		t.Fatal("asking whether to delete has deleted")
	}
	s.post("/my-work/forget", nil)
	if plans, err := s.store.ListPlans(context.Background(), visitor); err != nil || len(plans) != 0 {
		t.Errorf("%d plans left, %v", len(plans), err)
	}
	if !strings.Contains(s.get("/my-work").body, "Nothing yet") {
		t.Error("My work is not empty")
	}
}

// TestOneVisitorNeverSeesAnother asks for another browser's plan.
func TestOneVisitorNeverSeesAnother(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	plans, err := s.store.ListPlans(context.Background(), s.visitor())
	if err != nil || len(plans) != 1 {
		t.Fatal(plans, err)
	}
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	s.client.Jar = jar
	for _, path := range []string{"/my-work/plans/" + plans[0].ID, "/plan?from=" + plans[0].ID} {
		if got := s.get(path); got.StatusCode != http.StatusNotFound {
			t.Errorf("GET %s as somebody else = %d, want 404", path, got.StatusCode)
		}
	}
	if got := s.post("/my-work/plans/"+plans[0].ID+"/delete", nil); got.StatusCode != http.StatusNotFound {
		t.Errorf("delete as somebody else = %d, want 404", got.StatusCode)
	}
}

func TestSessionCookie(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	if c := s.get("/lessons/headspace").Header.Get("Set-Cookie"); c != "" {
		t.Errorf("reading a lesson sets a cookie: %s", c)
	}
	c := s.post("/plan", goodPlan()).Header.Get("Set-Cookie")
	if !strings.Contains(c, "HttpOnly") || !strings.Contains(c, "SameSite=Lax") || !strings.Contains(c, "Max-Age") {
		t.Errorf("cookie %q", c)
	}
}

func TestAPI(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, tc := range []struct{ name, contentType, body string }{
		{"YAML", "application/yaml", "food: snap-beans\nmethod: boiling-water\n"},
		{"JSON", "application/json", `{"food":"snap-beans","method":"boiling-water"}`},
		{"unsaid", "application/x-www-form-urlencoded", "food: snap-beans\nmethod: boiling-water\n"},
	} {
		got := s.api(tc.contentType, tc.body)
		var report struct{ Verdict string }
		if err := json.Unmarshal([]byte(got.body), &report); err != nil || got.StatusCode != http.StatusOK || report.Verdict != "unsafe" {
			t.Errorf("%s: %d %s", tc.name, got.StatusCode, got.body)
		}
	}
	for _, tc := range []struct {
		name, contentType, body string
		status                  int
		want                    string
	}{
		{"unknown key", "application/yaml", "food: snap-beans\ntiem: 20 min\n", 400, `"line":2,"column":1`},
		{"nearest word", "application/json", `{"food":"snap-bean"}`, 400, `snap-beans`},
		{"no JSON", "application/json", `{"food":`, 400, "not JSON"},
		{"empty", "application/yaml", " ", 400, "empty"},
		{"picture", "image/png", "x", 415, "application/yaml"},
	} {
		got := s.api(tc.contentType, tc.body)
		if got.StatusCode != tc.status || !strings.Contains(got.body, tc.want) || !json.Valid([]byte(got.body)) {
			t.Errorf("%s: %d %s, want %d with %s", tc.name, got.StatusCode, got.body, tc.status, tc.want)
		}
	}
}

// TestAssets follows the addresses in a page: they are found, may be kept for
// good, and change with their content.
func TestAssets(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	doc := parse(t, s.get("/").body)
	n := 0
	walk(doc, func(node *html.Node) {
		for _, key := range []string{"href", "src"} {
			if u := attr(node, key); strings.HasPrefix(u, "/assets/") {
				n++
				got := s.get(u)
				if got.StatusCode != http.StatusOK || !strings.Contains(got.Header.Get("Cache-Control"), "immutable") || got.Header.Get("Content-Type") == "" {
					t.Errorf("GET %s = %d, %v", u, got.StatusCode, got.Header)
				}
			}
		}
	})
	if n != 4 {
		t.Errorf("%d assets in a page, want 4", n)
	}
}

// TestCrawl walks every link from the first page, and the pages that only a
// form leads to. Every page carries the caution and the deferral, and is sound
// HTML: one main heading, headings that nest, labels for inputs, ids used once,
// nothing inline.
func TestCrawl(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	s.post("/scenarios/green-beans-in-a-hurry", url.Values{"method": {"pressure"}})
	s.post("/lessons/headspace", url.Values{"question": {"headspace-1"}, "answer": {"none of these"}})
	seen := map[string]bool{"/": true}
	queue := []string{"/", "/none", "/my-work/forget", "/writing"}
	for len(queue) > 0 {
		path := queue[0]
		queue = queue[1:]
		got := s.get(path)
		if got.StatusCode != http.StatusOK && path != "/none" {
			t.Errorf("a link leads to %s: %d", path, got.StatusCode)
		}
		if !strings.HasPrefix(got.Header.Get("Content-Type"), "text/html") {
			continue
		}
		doc := parse(t, got.body)
		checkPage(t, path, doc)
		walk(doc, func(n *html.Node) {
			href := attr(n, "href")
			if n.Data != "a" || !strings.HasPrefix(href, "/") {
				return
			}
			href, _, _ = strings.Cut(href, "#")
			// A drawn scenario leads on to its other cases without end: one is enough.
			if scenario, drawn, _ := strings.Cut(href, "?case="); seen[scenario] && drawn != "" && !strings.Contains(drawn, "&at=") {
				return
			}
			if !seen[href] {
				seen[href] = true
				queue = append(queue, href)
			}
		})
	}
	// 156 foods, 34 without a process, 76 rules, the lessons and scenarios, and the pages around them.
	if len(seen) < 240 {
		t.Errorf("only %d pages were reached", len(seen))
	}
	for name, got := range map[string]response{
		"graded plan":     s.post("/plan", goodPlan()),
		"unreadable plan": s.post("/plan", url.Values{"time": {"soon"}}),
		"tried scenario":  s.post("/scenarios/quarts-moved-uphill", url.Values{"time": {"25 min"}}),
		"refused":         s.do(s.request(http.MethodDelete, "/plan", nil)),
	} {
		checkPage(t, name, parse(t, got.body))
	}
}

func checkPage(t *testing.T, path string, doc *html.Node) {
	t.Helper()
	footer := strings.ToLower(text(find(doc, "footer")))
	for _, want := range []string{"does not approve your jars", "tested recipe", "extension service", "when in doubt, throw it out"} {
		if !strings.Contains(footer, want) {
			t.Errorf("%s: the footer lacks %q", path, want)
		}
	}
	level, mains := 0, 0
	ids := map[string]bool{}
	labels := map[string]bool{}
	walk(doc, func(n *html.Node) {
		if n.Data == "label" {
			labels[attr(n, "for")] = true
		}
	})
	walk(doc, func(n *html.Node) {
		if n.Type != html.ElementNode {
			return
		}
		if id := attr(n, "id"); id != "" {
			if ids[id] {
				t.Errorf("%s: the id %q stands twice", path, id)
			}
			ids[id] = true
		}
		for _, a := range n.Attr {
			if a.Key == "style" || strings.HasPrefix(a.Key, "on") {
				t.Errorf("%s: <%s> has %s", path, n.Data, a.Key)
			}
		}
		switch n.Data {
		case "h1", "h2", "h3", "h4", "h5", "h6":
			next := int(n.Data[1] - '0')
			if next > level+1 {
				t.Errorf("%s: h%d follows h%d: %q", path, next, level, text(n))
			}
			level = next
			if next == 1 {
				mains++
			}
		case "style":
			t.Errorf("%s: a style element", path)
		case "script":
			if attr(n, "src") == "" {
				t.Errorf("%s: an inline script", path)
			}
		case "input", "select", "textarea":
			if kind := attr(n, "type"); kind != "hidden" && !labels[attr(n, "id")] && !within(n, "label") {
				t.Errorf("%s: no label for the input %s", path, attr(n, "name"))
			}
		}
	})
	if mains != 1 {
		t.Errorf("%s: %d main headings", path, mains)
	}
	if attr(find(doc, "html"), "lang") != "en" {
		t.Errorf("%s: no language", path)
	}
}

func parse(t testing.TB, body string) *html.Node {
	t.Helper()
	doc, err := html.Parse(strings.NewReader(body))
	if err != nil {
		t.Fatal(err)
	}
	return doc
}

func walk(n *html.Node, visit func(*html.Node)) {
	visit(n)
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		walk(c, visit)
	}
}

func find(n *html.Node, tag string) (found *html.Node) {
	walk(n, func(n *html.Node) {
		if found == nil && n.Type == html.ElementNode && n.Data == tag {
			found = n
		}
	})
	return found
}

func byID(n *html.Node, id string) (found *html.Node) {
	walk(n, func(n *html.Node) {
		if attr(n, "id") == id {
			found = n
		}
	})
	return found
}

func within(n *html.Node, tag string) bool {
	for n = n.Parent; n != nil; n = n.Parent {
		if n.Data == tag {
			return true
		}
	}
	return false
}

func attr(n *html.Node, key string) string {
	if n == nil {
		return ""
	}
	for _, a := range n.Attr {
		if a.Key == key {
			return a.Val
		}
	}
	return ""
}

// text is what a node says, its white space folded.
func text(n *html.Node) string {
	if n == nil {
		return ""
	}
	var b strings.Builder
	walk(n, func(n *html.Node) {
		if n.Type == html.TextNode {
			b.WriteString(n.Data + " ")
		}
	})
	return strings.Join(strings.Fields(b.String()), " ")
}

// verdictOn is the heading beside the verdict's sign.
func verdictOn(t testing.TB, body string) (verdict string) {
	t.Helper()
	walk(parse(t, body), func(n *html.Node) {
		if attr(n, "class") == "verdict" {
			verdict = text(find(n, "h2")) + text(find(n, "h3"))
		}
	})
	return verdict
}

func BenchmarkLessonPage(b *testing.B) {
	s := newSite(b)
	benchmark(b, func() (*http.Response, error) { return s.client.Get(s.URL + "/lessons/headspace") })
}

func BenchmarkAPIGrade(b *testing.B) {
	s := newSite(b)
	body := "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"
	benchmark(b, func() (*http.Response, error) {
		return s.client.Post(s.URL+"/api/grade", "application/yaml", strings.NewReader(body))
	})
}

func benchmark(b *testing.B, request func() (*http.Response, error)) {
	b.ReportAllocs()
	for b.Loop() {
		resp, err := request()
		if err != nil {
			b.Fatal(err)
		}
		if _, err := io.Copy(io.Discard, resp.Body); err != nil {
			b.Fatal(err)
		}
		if err := resp.Body.Close(); err != nil || resp.StatusCode != http.StatusOK {
			b.Fatal(err, resp.StatusCode)
		}
	}
}

// TestSweep removes a session that has ended.
func TestSweep(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	n, err := s.store.SweepSessions(context.Background(), time.Now().Add(sessionLife+time.Hour))
	if err != nil || n != 1 {
		t.Errorf("swept %d sessions, %v; want 1", n, err)
	}
}

func TestOverlayCourse(t *testing.T) {
	t.Parallel()
	if _, err := LoadCourse(filepath.Join(t.TempDir(), "none")); err == nil {
		t.Error("a course folder that is not there is taken")
	}
	if _, err := LoadCourse("testdata/course-with-rules"); err == nil || !strings.Contains(err.Error(), "rules and tables stay the shipped ones") {
		t.Errorf("a folder with rules: %v", err)
	}
	course, err := LoadCourse("testdata/course")
	if err != nil {
		t.Fatal(err)
	}
	last := course.Scenarios[len(course.Scenarios)-1]
	shipped, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	if last.Slug != "pears-at-the-coast" || len(course.Scenarios) != len(shipped.Scenarios)+1 {
		t.Errorf("%d scenarios, the last %q; want the own one after the %d shipped", len(course.Scenarios), last.Slug, len(shipped.Scenarios))
	}
	if _, err := LoadCourse("testdata/broken-course"); err == nil || strings.Count(err.Error(), "\n") < 1 || !strings.Contains(err.Error(), "09-broken.md:4:1") {
		t.Errorf("a broken folder: %v; want every problem with its line", err)
	}
}

func TestRenderFailsWhole(t *testing.T) {
	t.Parallel()
	s := &Server{}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		t.Fatal(err)
	}
	if err := s.loadTemplates(); err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	if err := s.write(w, httptest.NewRequestWithContext(context.Background(), http.MethodGet, "/", nil), http.StatusOK, "lesson", struct{ page }{}); err == nil || w.Body.Len() > 0 {
		t.Errorf("a page that cannot be rendered: error %v, %d bytes sent; want an error and none", err, w.Body.Len())
	}
}

// TestFromMemoryIsSaid: the rows of papaya were read in no publication. Wherever
// they stand, that stands beside them.
func TestFromMemoryIsSaid(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	page := parse(t, s.get("/times/papaya").body)
	if said := text(page); !strings.Contains(said, "Unconfirmed.") {
		t.Errorf("/times/papaya does not warn")
	}
	cells := 0
	walk(page, func(n *html.Node) {
		if n.Data == "td" && strings.Contains(text(n), "min") {
			cells++
			if !strings.Contains(text(n), "(from memory)") {
				t.Errorf("/times/papaya: the cell %q does not say how it was read", text(n))
			}
		}
	})
	if cells == 0 {
		t.Error("/times/papaya has no times")
	}
	report := s.post("/plan", url.Values{
		"food": {"papaya"}, "pack": {"hot"}, "method": {"boiling-water"}, "jar": {"pint"}, "altitude": {"500 ft"}, "time": {"15 min"}, "headspace": {"1/2 in"},
	}).body
	if said := text(parse(t, report)); verdictOn(t, report) != "No tested process" || !strings.Contains(said, "Unconfirmed, from memory") {
		t.Errorf("the report on papaya: %s; %s", verdictOn(t, report), said)
	}
}

// TestSourcesPage: each publication says how it was read, and what they differ
// about stands beneath, with links to them.
func TestSourcesPage(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	set := course.Grader.Rules()
	page := parse(t, s.get("/sources").body)
	said := text(page)
	for _, want := range []string{"Read: two copies", "Read: one copy", "Read: from memory"} {
		if !strings.Contains(said, want) {
			t.Errorf("the page does not say %q", want)
		}
	}
	for _, d := range set.Disagreements() {
		if head := byID(page, "differ-"+d.ID); text(head) != d.About || head.Data != "h3" {
			t.Errorf("%s: heading %q", d.ID, text(head))
		}
		for _, r := range d.Readings {
			if !strings.Contains(said, r.Says) {
				t.Errorf("%s: the page does not say %q", d.ID, r.Says)
			}
		}
		if !strings.Contains(said, "Taken: "+d.Taken+" "+d.Why) {
			t.Errorf("%s: the page does not say what is taken and why", d.ID)
		}
	}
	walk(page, func(n *html.Node) {
		if id, within := strings.CutPrefix(attr(n, "href"), "#"); within && byID(page, id) == nil {
			t.Errorf("a link leads to #%s, which is not there", id)
		}
	})
}
