package server

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/jpeg"
	"mime/multipart"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"golang.org/x/net/html"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// classroom is a class with an instructor and two students, each with a browser of
// their own, on one server.
type classroom struct {
	*site
	instructor, ann, ben *http.Client
	class                string // its id
}

const testPassword = "kettle harbor velvet"

func newClassroom(t testing.TB) *classroom {
	t.Helper()
	s := newSite(t)
	r := &classroom{site: s}
	for _, c := range []**http.Client{&r.instructor, &r.ann, &r.ben} {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		*c = &http.Client{Jar: jar, Transport: s.client.Transport}
	}
	link, err := Invite(context.Background(), s.store, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	r.as(r.instructor)
	r.wants(r.post(link, url.Values{"name": {"Ida Field"}, "password": {testPassword}}), http.StatusOK)
	page := r.post("/class/new", url.Values{"name": {"Thursday evening"}, "starts": {"2026-08-20"}, "weeks": {"6"}, "zone": {"America/Denver"}, "altitude": {"6240 ft"}})
	r.wants(page, http.StatusOK)
	r.class = strings.TrimPrefix(page.Request.URL.Path, "/class/")
	code := regexp.MustCompile(`[a-z]+-[a-z]+-[a-z]+</strong>`).FindString(page.body)
	code = strings.TrimSuffix(code, "</strong>")
	for name, c := range map[string]*http.Client{"Ann Orchard": r.ann, "Ben Orchard": r.ben} {
		r.as(c)
		r.wants(r.post("/join", url.Values{"code": {code}, "name": {name}, "password": {testPassword}}), http.StatusOK)
	}
	return r
}

// as lets the next requests come from this browser.
func (r *classroom) as(c *http.Client) { r.client = c }

func (r *classroom) wants(got response, status int) {
	r.t.Helper()
	if got.StatusCode != status {
		r.t.Fatalf("%s %s = %d, want %d\n%.900s", got.Request.Method, got.Request.URL.Path, got.StatusCode, status, text(find(parse(r.t, got.body), "main")))
	}
}

// assign gives the class one load of crushed tomatoes and returns where it is begun.
func (r *classroom) assign(asTested bool) string {
	r.t.Helper()
	r.as(r.instructor)
	form := url.Values{"what": {"batch tomatoes-crushed"}, "opens": {"2026-01-01T08:00"}, "due": {"2099-01-01T08:00"}, "to": {"everyone"}}
	if asTested {
		form.Set("as-tested", "yes")
	}
	r.wants(r.post("/class/"+r.class+"/assign", form), http.StatusOK)
	r.as(r.ann)
	page := r.get("/class/" + r.class)
	address := regexp.MustCompile(`/batches\?assignment=[a-z0-9]+`).FindString(page.body)
	if address == "" {
		r.t.Fatal("the student does not see the batch that was assigned")
	}
	return address
}

// begin begins the batch as the student who asks, and returns its address.
func (r *classroom) begin(assigned string) string {
	r.t.Helper()
	page := r.post("/batches", url.Values{"assignment": {strings.TrimPrefix(assigned, "/batches?assignment=")}})
	r.wants(page, http.StatusOK)
	return strings.TrimSuffix(page.Request.URL.Path, "/plan")
}

// judge decides upon what the batch's page shows, as the instructor who asks does.
func (r *classroom) judge(at, do, says string) response {
	r.t.Helper()
	version := regexp.MustCompile(`name="version" value="([0-9]+)"`).FindStringSubmatch(r.get(at).body)
	if version == nil {
		r.t.Fatal("nothing waits for the instructor's decision")
	}
	return r.post(at, url.Values{"do": {do}, "version": {version[1]}, "says": {says}})
}

// events are what was done with a batch, comments aside: what, and with which version.
func (r *classroom) events(at string) []string {
	r.t.Helper()
	all, err := r.store.BatchEvents(r.t.Context(), strings.TrimPrefix(at, "/batches/"))
	if err != nil {
		r.t.Fatal(err)
	}
	var list []string
	for _, e := range all {
		if e.What != store.Comment {
			list = append(list, fmt.Sprintf("%s %d", e.What, e.N))
		}
	}
	return list
}

// filledIn is what the form of a page would send if its button were pressed as it is.
func filledIn(t testing.TB, page response) url.Values {
	t.Helper()
	form := url.Values{}
	walk(find(parse(t, page.body), "main"), func(n *html.Node) {
		switch n.Data {
		case "input":
			form.Set(attr(n, "name"), attr(n, "value"))
		case "select":
			form.Set(attr(n, "name"), chosenIn(n))
		}
	})
	return form
}

// chosenIn is the value of the option of a list that is chosen, or else of the first.
func chosenIn(list *html.Node) string {
	var options []*html.Node
	walk(list, func(n *html.Node) {
		if n.Data == "option" {
			options = append(options, n)
		}
	})
	for _, o := range options {
		if slices.ContainsFunc(o.Attr, func(a html.Attribute) bool { return a.Key == "selected" }) {
			return attr(o, "value")
		}
	}
	return attr(options[0], "value")
}

func planForm(after int, changes ...string) url.Values {
	form := goodPlan()
	form.Set("after", fmt.Sprint(after))
	for i := 0; i < len(changes); i += 2 {
		form.Set(changes[i], changes[i+1])
	}
	return form
}

// record is the form of a record that keeps USDA Guide 3, p. 3-8: 60 minutes for
// quarts above 6,000 ft.
func record(after int, changes ...string) url.Values {
	form := url.Values{
		"after": {fmt.Sprint(after)}, "zone": {"America/Denver"}, "start": {"2026-08-20T14:30"}, "finished": {"2026-08-20T15:30"},
		"count": {"2"}, "lot": {"blue box"}, "checked": {"14 h"},
		"sealed-1": {"true"}, "liquid-1": {"none"}, "looks-1": {"clear"}, "placed-1": {"shelf"},
		"sealed-2": {"false"}, "liquid-2": {"some"}, "looks-2": {"clear"}, "placed-2": {"fridge"},
	}
	for i := 0; i < len(changes); i += 2 {
		form.Set(changes[i], changes[i+1])
	}
	return form
}

// TestBatchFromPlanToAccepted goes the whole way: refused, mended, sent in, sent back,
// recorded, judged, accepted; and each version is still there in the end.
func TestBatchFromPlanToAccepted(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(true))

	// A plan that is not safe is kept and cannot be sent in.
	page := r.post(at+"/plan", planForm(0, "acid.kind", "none", "acid.per_jar", ""))
	r.wants(page, http.StatusOK)
	if !strings.Contains(page.body, "cannot be sent in") || strings.Contains(page.body, `value="plan-sent"`) {
		t.Error("an unsafe plan may be sent in")
	}
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusUnprocessableEntity)

	// One that is short is safe enough for some, not where as tested is asked for.
	r.wants(r.post(at+"/plan", planForm(1, "lids.state", "used")), http.StatusOK)
	got := r.post(at, url.Values{"do": {"plan-sent"}})
	r.wants(got, http.StatusUnprocessableEntity)
	if !strings.Contains(got.body, "as tested") {
		t.Error("it is not said why the plan cannot be sent in")
	}

	r.wants(r.post(at+"/plan", planForm(2)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)

	r.as(r.instructor)
	if body := r.get("/class/" + r.class).body; !strings.Contains(body, "A plan to look at") || !strings.Contains(body, "Ann Orchard") {
		t.Error("the instructor is not told of the plan")
	}
	r.wants(r.judge(at, "plan-back", ""), http.StatusUnprocessableEntity) // it must be said why
	r.wants(r.judge(at, "plan-back", "Say how the jars are cooled."), http.StatusOK)

	r.as(r.ann)
	if body := r.get("/class/" + r.class).body; !strings.Contains(body, "The plan came back") {
		t.Error("the student is not told that the plan came back")
	}
	r.wants(r.post(at+"/plan", planForm(3, "cooling.hours", "12", "cooling.undisturbed", "true")), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.as(r.instructor)
	r.wants(r.judge(at, "plan-fine", "Good."), http.StatusOK)

	// The record: a minute short is judged, in the words of the engine.
	r.as(r.ann)
	r.wants(r.post(at+"/record", record(4, "finished", "2026-08-20T15:25")), http.StatusOK)
	page = r.get(at)
	if !strings.Contains(page.body, "55 min") {
		t.Error("the record does not say how long the boil was held")
	}
	r.wants(r.post(at+"/record", record(5)), http.StatusOK)
	page = r.get(at)
	for _, want := range []string{"blue box", "Shelf", "refrigerate", "Send the record in"} {
		if !strings.Contains(strings.ToLower(page.body), strings.ToLower(want)) {
			t.Errorf("the batch does not show %q", want)
		}
	}
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)

	r.as(r.instructor)
	page = r.get(at)
	for _, want := range []string{"The plan", "The record", "blue box", "Accept the batch"} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the instructor's page lacks %q", want)
		}
	}
	r.wants(r.judge(at, "record-back", "Which lid was it?"), http.StatusOK)
	r.as(r.ann)
	r.wants(r.post(at+"/record", record(6, "lot", "blue box, second row")), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	r.as(r.instructor)
	r.wants(r.judge(at, "accepted", "Well kept."), http.StatusOK)

	r.as(r.ann)
	if body := r.get("/class/" + r.class).body; !strings.Contains(body, ">done") {
		t.Error("an accepted batch is not done")
	}
	for n, want := range map[int]string{1: "Not safe as written", 2: "Fix this first", 3: "As tested", 5: "55 min", 7: "blue box, second row"} {
		page := r.get(fmt.Sprintf("%s/versions/%d", at, n))
		r.wants(page, http.StatusOK)
		if !strings.Contains(page.body, want) {
			t.Errorf("version %d lacks %q", n, want)
		}
	}
	r.wants(r.get(at+"/versions/8"), http.StatusNotFound)
	// Nothing can be changed any more.
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusConflict)
	r.wants(r.post(at+"/record", record(7)), http.StatusConflict)
	r.wants(r.post(at+"/plan", planForm(7)), http.StatusConflict)
	if v, err := r.store.BatchVersions(t.Context(), strings.TrimPrefix(at, "/batches/")); err != nil || len(v) != 7 {
		t.Errorf("%d versions of an accepted batch, %v, want 7", len(v), err)
	}
}

// TestBatchInTwoTabs: what is sent from an older form is neither kept nor lost.
func TestBatchInTwoTabs(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	got := r.post(at+"/plan", planForm(0, "time", "85 min"))
	r.wants(got, http.StatusConflict)
	if !strings.Contains(got.body, "85 min") || !strings.Contains(got.body, "another window") {
		t.Error("what was typed in the other tab is lost")
	}
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/record", record(1)), http.StatusOK)
	got = r.post(at+"/record", record(1, "lot", "the green box"))
	r.wants(got, http.StatusConflict)
	if !strings.Contains(got.body, "the green box") {
		t.Error("the record typed in the other tab is lost")
	}
	b, err := r.store.BatchVersions(context.Background(), strings.TrimPrefix(at, "/batches/"))
	if err != nil || len(b) != 2 {
		t.Errorf("%d versions, %v, want 2", len(b), err)
	}
}

// TestInstructorJudgesWhatWasSent: a draft is the student's own until it is sent in, and
// what is decided is about the version that was on the page.
func TestInstructorJudgesWhatWasSent(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	picture := noise(t)
	seen := func(want, never string, versions ...int) {
		t.Helper()
		page := r.get(at)
		if main := mainText(t, page); !strings.Contains(main, want) || strings.Contains(main, never) {
			t.Errorf("the instructor's page lacks %q or has %q: %s", want, never, main)
		}
		for n := 1; n <= 6; n++ {
			path, status := fmt.Sprintf("%s/versions/%d", at, n), http.StatusNotFound
			if slices.Contains(versions, n) {
				status = http.StatusOK
			}
			r.wants(r.get(path), status)
			if strings.Contains(page.body, path) != (status == http.StatusOK) {
				t.Errorf("version %d is listed, or is not and should be", n)
			}
		}
	}
	photos := func() []string {
		t.Helper()
		return regexp.MustCompile(at+`/photos/[a-z0-9]{26}"`).FindAllString(r.get(at).body, -1)
	}

	// One minute more than the tested time was sent in (USDA Guide 3, p. 3-8), ten were not.
	r.wants(r.post(at+"/plan", planForm(0, "time", "61 min")), http.StatusOK)
	r.as(r.instructor)
	seen("Nothing waits for you here", "61 min")
	r.as(r.ann)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/plan", planForm(1, "time", "17 min")), http.StatusOK)
	r.as(r.instructor)
	seen("61 min", "17 min", 1)
	r.wants(r.judge(at, "plan-fine", ""), http.StatusOK)

	// The student sends another plan in while the instructor reads the one before.
	r.as(r.ann)
	r.wants(r.post(at+"/plan", planForm(2, "time", "62 min")), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.as(r.instructor)
	for _, old := range []url.Values{
		{"do": {"plan-fine"}, "version": {"1"}, "says": {"Sixty-one is fine."}},
		{"do": {"plan-fine"}, "version": {"2"}, "says": {"Sixty-one is fine."}},
		{"do": {"plan-fine"}, "says": {"Sixty-one is fine."}},
		{"do": {"plan-back"}, "version": {"1"}, "says": {"Sixty-one is fine."}},
	} {
		got := r.post(at, old)
		r.wants(got, http.StatusConflict)
		kept := text(byID(parse(t, got.body), "judge-says"))
		if main := mainText(t, got); kept != "Sixty-one is fine." || !strings.Contains(main, "Ann Orchard sent the plan in") || !strings.Contains(main, "62 min") {
			t.Errorf("%v: what was typed is %q on: %s", old, kept, main)
		}
	}
	seen("62 min", "17 min", 1, 3)
	r.wants(r.judge(at, "plan-fine", "Sixty-two, then."), http.StatusOK)

	// The same with records: one that came back is changed, and not sent in yet.
	r.as(r.ann)
	r.wants(r.photo(at, "1", picture), http.StatusOK)
	r.wants(r.post(at+"/record", record(3)), http.StatusOK)
	r.as(r.instructor)
	seen("62 min", "blue box", 1, 3)
	r.as(r.ann)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	r.as(r.instructor)
	seen("blue box", "gray box", 1, 3, 4)
	r.wants(r.judge(at, "record-back", "Which lids?"), http.StatusOK)
	r.as(r.ann)
	r.wants(r.photo(at, "2", picture), http.StatusOK)
	both := photos()
	r.wants(r.post(at+"/record", record(4, "lot", "gray box")), http.StatusOK)
	r.as(r.instructor)
	seen("blue box", "gray box", 1, 3, 4)
	first := photos()
	if len(first) != 1 || len(both) != 2 {
		t.Fatalf("the instructor sees %d photos of %d, want the one of the record that was sent in", len(first), len(both))
	}
	for _, p := range both {
		status := http.StatusNotFound
		if p == first[0] {
			status = http.StatusOK
		}
		r.wants(r.get(strings.TrimSuffix(p, `"`)), status)
	}
	r.as(r.ann)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	r.as(r.instructor)
	got := r.post(at, url.Values{"do": {"accepted"}, "version": {"4"}, "says": {"Well kept."}})
	r.wants(got, http.StatusConflict)
	if kept := text(byID(parse(t, got.body), "judge-says")); kept != "Well kept." {
		t.Errorf("what was typed is %q", kept)
	}
	seen("gray box", "17 min", 1, 3, 4, 5)
	if n := len(photos()); n != 2 {
		t.Errorf("%d photos of a record that was sent in, want 2", n)
	}
	r.wants(r.judge(at, "accepted", "Well kept."), http.StatusOK)
	want := []string{"plan-sent 1", "plan-fine 1", "plan-sent 3", "plan-fine 3", "record-sent 4", "record-back 4", "record-sent 5", "accepted 5"}
	if got := r.events(at); !slices.Equal(got, want) {
		t.Errorf("the course of the batch is %v, want %v", got, want)
	}

	// For its student everything is there.
	r.as(r.ann)
	for n := range 5 {
		r.wants(r.get(fmt.Sprintf("%s/versions/%d", at, n+1)), http.StatusOK)
	}
}

// TestRecordTypedWhileThePlanCameBack: it stays on the page with the reason, and is kept
// from there once the plan is sent in again.
func TestRecordTypedWhileThePlanCameBack(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	none := r.post(at+"/record", record(0, "lot", "the green box"))
	r.wants(none, http.StatusConflict)
	if main := mainText(t, none); !strings.Contains(main, "Send the plan in first") || !strings.Contains(none.body, "the green box") {
		t.Errorf("before any plan was sent in: %s", main)
	}
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	open := filledIn(t, r.get(at+"/record"))
	r.as(r.instructor)
	r.wants(r.judge(at, "plan-back", "Which lids?"), http.StatusOK)

	r.as(r.ann)
	typed := record(0, "do", "keep", "lot", "the green box", "finished", "2026-08-20T15:41", "placed-2", "freezer", "lost-1", "2026-08-20T14:35", "again-1", "2026-08-20T14:40")
	for _, key := range []string{"after", "zone", "method"} {
		typed.Set(key, open.Get(key))
	}
	got := r.post(at+"/record", typed)
	r.wants(got, http.StatusConflict)
	if main := mainText(t, got); !strings.Contains(main, "was not kept") || !strings.Contains(main, "sent the plan back") || !strings.Contains(main, "send it in again") {
		t.Errorf("it is not said why the record is not kept, and what to do: %s", main)
	}
	again := filledIn(t, got)
	for key := range typed {
		if key != "do" && again.Get(key) != typed.Get(key) {
			t.Errorf("%s was typed as %q and is now %q", key, typed.Get(key), again.Get(key))
		}
	}
	checkPage(t, at+"/record", parse(t, got.body))

	// In another tab the plan is changed and sent in again.
	r.wants(r.post(at+"/plan", planForm(1, "lids.state", "new")), http.StatusOK)
	r.wants(r.post(at+"/record", again), http.StatusConflict) // kept alone is not enough
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	if got := r.post(at+"/record", again); got.Request.URL.Path != at || !strings.Contains(got.body, "the green box") {
		t.Errorf("the record is not kept from the very form: %d %s", got.StatusCode, mainText(t, got))
	}
	v, err := r.store.BatchVersions(t.Context(), strings.TrimPrefix(at, "/batches/"))
	if err != nil || len(v) != 3 || !strings.Contains(string(v[2].File), "2026-08-20T15:41:00-06:00") || !strings.Contains(string(v[2].File), "freezer") {
		t.Errorf("%d versions, %v, want the record as the third", len(v), err)
	}

	// A record of another tab that was kept meanwhile is still not written over unseen.
	r.wants(r.post(at+"/record", again), http.StatusConflict)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	got = r.post(at+"/record", again)
	r.wants(got, http.StatusConflict)
	if main := mainText(t, got); !strings.Contains(main, "The record is sent in") || !strings.Contains(got.body, "the green box") {
		t.Errorf("after the record was sent in: %s", main)
	}
}

// TestRecordTypedForAnotherMethod: a time that was asked for as the boil is not taken for
// the pressure when the plan that is sent in meanwhile is for a pressure canner.
// Crushed tomatoes, hot pack, quarts, dial gauge, 6,001 to 8,000 ft: 20 min at 9 psi
// (USDA Guide 3, p. 3-8).
func TestRecordTypedForAnotherMethod(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	open := record(1, "method", filledIn(t, r.get(at+"/record")).Get("method"))
	r.wants(r.post(at+"/plan", planForm(1, "method", "pressure", "gauge", "dial", "pressure", "9 psi", "time", "20 min")), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	got := r.post(at+"/record", open)
	r.wants(got, http.StatusUnprocessableEntity)
	if main := mainText(t, got); !strings.Contains(main, "when the pressure was reached") {
		t.Errorf("the time of the boil is taken for that of the pressure: %s", main)
	}
	r.wants(r.post(at+"/record", filledIn(t, got)), http.StatusOK) // looked at, and sent again
}

// TestPlanTypedWhileTheRecordWasSent: it stays on the page with the reason.
func TestPlanTypedWhileTheRecordWasSent(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/record", record(1)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	got := r.post(at+"/plan", planForm(1, "time", "85 min", "headspace", "5/8 in"))
	r.wants(got, http.StatusConflict)
	main := mainText(t, got)
	for _, want := range []string{"was not kept", "record of this batch was sent in", "write that to your instructor"} {
		if !strings.Contains(main, want) {
			t.Errorf("the page lacks %q: %s", want, main)
		}
	}
	page := parse(t, got.body)
	checkPage(t, at+"/plan", page)
	for id, want := range map[string]string{"time": "85 min", "headspace": "5/8 in"} {
		if v := attr(byID(page, id), "value"); v != want {
			t.Errorf("%s was typed as %q and is now %q", id, want, v)
		}
	}
	v, err := r.store.BatchVersions(t.Context(), strings.TrimPrefix(at, "/batches/"))
	if err != nil || len(v) != 2 {
		t.Errorf("%d versions, %v, want 2", len(v), err)
	}
}

// TestBatchIsOnlyTheStudentsAndTheInstructors: nobody else has such a page.
func TestBatchIsOnlyTheStudentsAndTheInstructors(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	assigned := r.assign(false)
	at := r.begin(assigned)
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.as(r.ben)
	for _, path := range []string{at, at + "/plan", at + "/record", at + "/versions/1", at + "/seals.ics"} {
		r.wants(r.get(path), http.StatusNotFound)
	}
	for _, path := range []string{at, at + "/plan", at + "/record", at + "/photos"} {
		r.wants(r.post(path, record(1)), http.StatusNotFound)
	}
	r.as(r.instructor)
	r.wants(r.get(at), http.StatusOK)
	for _, path := range []string{at + "/plan", at + "/record"} { // the student's to write
		r.wants(r.get(path), http.StatusNotFound)
	}
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusBadRequest)
	// An assignment on which somebody works stays.
	r.wants(r.post("/class/"+r.class+"/assignments/"+strings.TrimPrefix(assigned, "/batches?assignment=")+"/take-back", nil), http.StatusConflict)
}

// TestRecordKeepsWhatCannotBeRead: a time that is none, a count that is none.
func TestRecordKeepsWhatCannotBeRead(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	for _, changes := range [][]string{
		{"start", "at noon"},
		{"finished", "2026-08-20T14:00"}, // before it began
		{"count", "many"},
		{"checked", "a while"},
		{"lost-1", "2026-08-20T14:40"}, // and never back
		{"sealed-1", "perhaps"},
		// The clocks went forward at 2:00 (tz database, America/Denver, 2026-03-08).
		{"start", "2026-03-08T02:30", "finished", "2026-03-08T05:00"},
	} {
		got := r.post(at+"/record", record(1, changes...))
		r.wants(got, http.StatusUnprocessableEntity)
		if changes[0] != "sealed-1" && !strings.Contains(got.body, `value="`+changes[1]+`"`) {
			t.Errorf("%q is lost", changes[1])
		}
	}
	// More rows are only shown, not kept.
	r.wants(r.post(at+"/record", record(1, "do", "rows", "count", "9")), http.StatusOK)
	v, err := r.store.BatchVersions(context.Background(), strings.TrimPrefix(at, "/batches/"))
	if err != nil || len(v) != 1 {
		t.Errorf("%d versions, %v, want the plan alone", len(v), err)
	}
}

// TestNightTheClocksWentBack: 1:30 came twice on 2026-11-01 in Denver (tz database). The
// exact time counts as long as the shown one is not changed.
func TestNightTheClocksWentBack(t *testing.T) {
	t.Parallel()
	text, wrong := recordText(record(0, "start", "2026-11-01T01:30", "start-exact", "2026-11-01T01:30:00-07:00", "finished", "2026-11-01T02:30", "finished-exact", ""), "boiling-water")
	if len(wrong) > 0 || !strings.Contains(text, "boil_reached: 2026-11-01T01:30:00-07:00") {
		t.Errorf("the second 1:30 is lost: %v\n%s", wrong, text)
	}
	text, _ = recordText(record(0, "start", "2026-11-01T00:45", "start-exact", "2026-11-01T01:30:00-07:00", "finished", "2026-11-01T02:30"), "boiling-water")
	if !strings.Contains(text, "boil_reached: 2026-11-01T00:45:00-06:00") {
		t.Errorf("a time that was changed is not what was typed:\n%s", text)
	}
}

// TestTimeThatCameTwice: at 2:00 on 2026-11-01 the clocks of Denver went back to 1:00 (tz
// database), so 1:30 came at UTC−6 and again at UTC−7. Which one it was decides between
// 40 minutes and 100, and is asked.
func TestTimeThatCameTwice(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	versions := func() []store.BatchVersion {
		t.Helper()
		v, err := r.store.BatchVersions(t.Context(), strings.TrimPrefix(at, "/batches/"))
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	night := func(more ...string) url.Values {
		return record(1, append([]string{"start", "2026-11-01T01:30", "finished", "2026-11-01T02:10"}, more...)...)
	}
	got := r.post(at+"/record", night())
	r.wants(got, http.StatusUnprocessableEntity)
	page := parse(t, got.body)
	checkPage(t, at+"/record", page)
	which := byID(page, "start-exact")
	if attr(byID(page, "start"), "value") != "2026-11-01T01:30" || which == nil || chosenIn(which) != "" || byID(page, "finished-exact") != nil {
		t.Fatalf("it is not asked which 1:30 it was: %s", mainText(t, got))
	}
	for _, want := range []string{"01:30 came twice", "the first 01:30", "UTC−06:00", "the second 01:30", "UTC−07:00"} {
		if !strings.Contains(mainText(t, got), want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	if len(versions()) != 1 {
		t.Error("a time of which nobody knows is kept")
	}

	// The answer counts for the time it was given for, and for no other.
	r.wants(r.post(at+"/record", night("start", "2026-11-01T01:20", "start-exact", "2026-11-01T01:30:00-07:00")), http.StatusUnprocessableEntity)
	for i, tt := range []struct{ exact, held string }{{"2026-11-01T01:30:00-07:00", "40 min"}, {"2026-11-01T01:30:00-06:00", "100 min"}} {
		form := night("start-exact", tt.exact)
		form.Set("after", fmt.Sprint(i+1))
		page := r.post(at+"/record", form)
		r.wants(page, http.StatusOK)
		if main := mainText(t, page); !strings.Contains(main, "held for "+tt.held) {
			t.Errorf("%s: held for other than %s: %s", tt.exact, tt.held, main)
		}
		if v := versions(); len(v) != i+2 || !strings.Contains(string(v[i+1].File), "boil_reached: "+tt.exact) || (v[i+1].Verdict == string(scenarios.AsTested)) != (i == 1) {
			t.Errorf("%s: %d versions, the last is %s", tt.exact, len(v), v[len(v)-1].Verdict)
		}
		// The form that is opened again knows which one it was.
		if again := filledIn(t, r.get(at+"/record")); again.Get("start-exact") != tt.exact {
			t.Errorf("opened again the start is %q, want %s", again.Get("start-exact"), tt.exact)
		}
	}

	// Every clock time of the record is asked for.
	kept := len(versions())
	for _, times := range [][]string{
		{"start", "2026-11-01T00:30", "finished", "2026-11-01T01:50"},
		{"start", "2026-11-01T00:30", "finished", "2026-11-01T03:50", "lost-1", "2026-11-01T01:10", "again-1", "2026-11-01T02:20"},
		{"start", "2026-11-01T00:30", "finished", "2026-11-01T03:50", "lost-2", "2026-11-01T00:50", "again-2", "2026-11-01T01:10"},
	} {
		form := night(times...)
		form.Set("after", fmt.Sprint(kept))
		got := r.post(at+"/record", form)
		r.wants(got, http.StatusUnprocessableEntity)
		page := parse(t, got.body)
		for i := 0; i < len(times); i += 2 {
			asked := strings.HasPrefix(times[i+1], "2026-11-01T01:")
			if attr(byID(page, times[i]), "value") != times[i+1] || (byID(page, times[i]+"-exact") != nil) != asked {
				t.Errorf("%s at %s: lost, or asked %t", times[i], times[i+1], !asked)
			}
		}
		main := mainText(t, got)
		if known := times[3] != "2026-11-01T01:50"; !strings.Contains(main, "Not kept yet") || strings.Contains(main, "The seals may be read since") != known {
			t.Errorf("%v: %s", times, main)
		}
	}
	if n := len(versions()); n != kept {
		t.Errorf("%d versions, want %d", n, kept)
	}
}

func (r *classroom) photo(at, jar string, content []byte) response {
	r.t.Helper()
	var body bytes.Buffer
	form := multipart.NewWriter(&body)
	if err := form.WriteField("jar", jar); err != nil {
		r.t.Fatal(err)
	}
	file, err := form.CreateFormFile("photo", "jar.jpg")
	if err != nil {
		r.t.Fatal(err)
	}
	if _, err := file.Write(content); err != nil {
		r.t.Fatal(err)
	}
	if err := form.Close(); err != nil {
		r.t.Fatal(err)
	}
	req := r.request(http.MethodPost, at+"/photos", &body)
	req.Header.Set("Content-Type", form.FormDataContentType())
	return r.do(req)
}

// TestPhotosOfABatch: a picture comes back as JPEG for student and instructor, what is
// none is refused, and nobody else sees it.
func TestPhotosOfABatch(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	var picture bytes.Buffer
	if err := jpeg.Encode(&picture, image.NewRGBA(image.Rect(0, 0, 900, 600)), nil); err != nil {
		t.Fatal(err)
	}
	r.wants(r.photo(at, "1", picture.Bytes()), http.StatusUnprocessableEntity) // before the plan is sent in
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	page := r.photo(at, "1", picture.Bytes())
	r.wants(page, http.StatusOK)
	path := regexp.MustCompile(at + `/photos/[a-z0-9]{26}`).FindString(page.body)
	if path == "" {
		t.Fatal("the photo is not on the page")
	}
	r.wants(r.photo(at, "1", picture.Bytes()), http.StatusOK) // once more is still once
	if n := strings.Count(r.get(at).body, "?size=small"); n != 1 {
		t.Errorf("%d photos, want 1", n)
	}
	for _, bad := range []string{"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>", "not a photo", ""} {
		r.wants(r.photo(at, "1", []byte(bad)), http.StatusUnprocessableEntity)
	}
	r.wants(r.photo(at, "many", picture.Bytes()), http.StatusUnprocessableEntity)
	// It belongs to the record, which is the student's own until it is sent in.
	r.as(r.instructor)
	r.wants(r.get(path), http.StatusNotFound)
	r.as(r.ann)
	r.wants(r.post(at+"/record", record(1)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	for _, c := range []*http.Client{r.ann, r.instructor} {
		r.as(c)
		got := r.get(path + "?size=small")
		r.wants(got, http.StatusOK)
		if c, err := jpeg.DecodeConfig(strings.NewReader(got.body)); err != nil || got.Header.Get("Content-Type") != "image/jpeg" || c.Width != 320 {
			t.Errorf("small photo: %v, %+v", err, c)
		}
	}
	r.as(r.ben)
	r.wants(r.get(path), http.StatusNotFound)
	r.as(r.ann)
	r.wants(r.post(path+"/delete", nil), http.StatusUnprocessableEntity) // it stays with what was sent in
	r.as(r.instructor)
	r.wants(r.judge(at, "record-back", "Which jar is it?"), http.StatusOK)
	r.as(r.ann)
	r.wants(r.post(path+"/delete", nil), http.StatusOK)
	r.wants(r.get(path), http.StatusNotFound)
}

// TestReminderToReadTheSeals: not before twelve hours (USDA Guide 1, p. 1-25).
func TestReminderToReadTheSeals(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.get(at+"/seals.ics"), http.StatusNotFound)
	r.wants(r.post(at+"/record", record(1)), http.StatusOK)
	got := r.get(at + "/seals.ics")
	r.wants(got, http.StatusOK)
	// 15:30 in Denver in summer is 21:30 UTC; twelve hours later it is 9:30.
	if !strings.Contains(got.body, "DTSTART:20260821T093000Z") || !strings.Contains(got.body, "BEGIN:VALARM") {
		t.Errorf("the reminder:\n%s", got.body)
	}
	if page := r.get(at); !strings.Contains(page.body, "Fri 21 Aug 2026, 03:30 MDT") {
		t.Error("the page does not say when the seals may be read")
	}
}

// TestManyAtOnceOnOneAssignment: two students begin the same batch at once, each in two
// tabs that keep a plan at the same moment. Each student has one batch, and of each pair
// of plans one is kept and one is told that the other came first.
func TestManyAtOnceOnOneAssignment(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	assignment := strings.TrimPrefix(r.assign(false), "/batches?assignment=")
	post := func(c *http.Client, path string, form url.Values) (at string, status int) {
		resp, err := c.PostForm(r.URL+path, form)
		if err != nil {
			t.Error(err)
			return "", 0
		}
		if err := resp.Body.Close(); err != nil {
			t.Error(err)
		}
		return resp.Request.URL.Path, resp.StatusCode
	}
	var all sync.WaitGroup
	batches := make([]string, 4)
	students := []*http.Client{r.ann, r.ben, r.ann, r.ben}
	for i, c := range students {
		all.Go(func() {
			at, status := post(c, "/batches", url.Values{"assignment": {assignment}})
			if status != http.StatusOK {
				t.Errorf("begin = %d", status)
			}
			batches[i] = strings.TrimSuffix(at, "/plan")
		})
	}
	all.Wait()
	if batches[0] != batches[2] || batches[1] != batches[3] || batches[0] == batches[1] {
		t.Fatalf("the batches are %v, want one for each student", batches)
	}
	statuses := make([]int, 4)
	for i, c := range students {
		all.Go(func() { _, statuses[i] = post(c, batches[i]+"/plan", planForm(0, "time", fmt.Sprintf("%d min", 60+i))) })
	}
	all.Wait()
	for i := range 2 {
		if pair := statuses[i] + statuses[i+2]; pair != http.StatusOK+http.StatusConflict {
			t.Errorf("two tabs got %d and %d, want one kept and one told", statuses[i], statuses[i+2])
		}
		v, err := r.store.BatchVersions(context.Background(), strings.TrimPrefix(batches[i], "/batches/"))
		if err != nil || len(v) != 1 {
			t.Errorf("%d versions, %v, want 1", len(v), err)
		}
	}
}

// TestRecordSpeaksOfWhatWasDone: the report on a plan is for before the stove is lit, the
// report on a record for jars that are filled.
func TestRecordSpeaksOfWhatWasDone(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	const print = "Print for the kitchen"
	// Bands are not tightened again after the canner: USDA Guide 1, p. 1-16.
	r.wants(r.post(at+"/plan", planForm(0, "cooling.bands_retightened", "true")), http.StatusOK)
	page := r.get(at)
	if main := mainText(t, page); !strings.Contains(main, "you planned yes") || strings.Contains(main, "true") || strings.Count(page.body, print) != 1 {
		t.Errorf("the report on a plan: %s", main)
	}
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/record", record(1)), http.StatusOK)
	for _, path := range []string{at, at + "/versions/2"} {
		page := r.get(path)
		main := mainText(t, page)
		for _, want := range []string{"recorded yes", "What was not as tested", "Fix this before the next load", "Do with each jar what is said of it"} {
			if !strings.Contains(main, want) {
				t.Errorf("%s lacks %q: %s", path, want, main)
			}
		}
		for _, of := range []string{"you planned", "true", "before the stove is lit", "What to change"} {
			if strings.Contains(main, of) {
				t.Errorf("%s says %q of what was done: %s", path, of, main)
			}
		}
		if strings.Contains(page.body, print) {
			t.Errorf("%s offers to print a record for the kitchen", path)
		}
	}
}

// TestRecordVerdicts: no verdict on a record speaks of a plan that is still to be kept to.
func TestRecordVerdicts(t *testing.T) {
	t.Parallel()
	seen := map[string]bool{}
	for _, r := range []scenarios.Report{
		{Verdict: scenarios.AsTested},
		{Verdict: scenarios.AsTested, NotStated: []string{"rest"}},
		{Verdict: scenarios.FixFirst},
		{Verdict: scenarios.Incomplete},
		{Verdict: scenarios.NoTestedProcess},
		{Verdict: scenarios.Unsafe},
	} {
		heading, means := batchVerdictWords(r)
		for _, of := range []string{"plan", "stove", "written", "write down"} {
			if strings.Contains(heading+" "+means, of) {
				t.Errorf("%s says %q: %s. %s", r.Verdict, of, heading, means)
			}
		}
		if !strings.Contains(means, "each jar") || seen[means] {
			t.Errorf("%s does not lead to the jars, or says what another says: %s", r.Verdict, means)
		}
		seen[means] = true
	}
}
