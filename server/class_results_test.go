package server

import (
	"archive/zip"
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"image"
	"image/jpeg"
	"io/fs"
	"maps"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/xuri/excelize/v2"

	"rollingboil/quiz"
	"rollingboil/quiz/exchange"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// student adds a member to the class, without a browser.
func (r *classroom) student(name string) string {
	r.t.Helper()
	p := store.Person{Visitor: store.NewID(), Role: store.Student, Name: name, Password: "none that fits", Joined: time.Now()}
	if err := r.store.Join(context.Background(), r.class, p, false); err != nil {
		r.t.Fatal(err)
	}
	return p.Visitor
}

// known is the visitor of a member.
func (r *classroom) known(name string) string {
	r.t.Helper()
	p, err := r.store.PersonByName(context.Background(), name)
	if err != nil {
		r.t.Fatal(err)
	}
	return p.Visitor
}

// answers keeps an answer of a visitor to each of the questions.
func (r *classroom) answers(visitor string, at time.Time, right bool, questions ...*quiz.Question) {
	r.t.Helper()
	r.keep(visitor, at, func(*quiz.Question) bool { return right }, questions...)
}

// keep hands in a set with an answer to each question.
func (r *classroom) keep(visitor string, at time.Time, right func(*quiz.Question) bool, questions ...*quiz.Question) {
	r.t.Helper()
	ctx := context.Background()
	set := store.Sitting{ID: store.NewID(), Visitor: visitor, Title: "The whole course", Begun: at}
	var list []store.Answer
	for i, q := range questions {
		seed := uint64(at.Unix()) + uint64(i)
		asked, err := q.Ask(seed)
		if err != nil {
			r.t.Fatal(err)
		}
		a := store.Answer{Visitor: visitor, Question: q.ID, Seed: seed, Lesson: q.Lesson, Given: asked.Key(), Right: right(q), At: at.Add(time.Duration(i) * time.Second)}
		if !a.Right {
			given, err := asked.Form(fields(r.t, asked, false))
			if err != nil {
				r.t.Fatal(err)
			}
			a.Given = given
		}
		list = append(list, a)
		set.Questions = append(set.Questions, store.AskedQuestion{Question: q.ID, Seed: seed})
	}
	if err := r.store.BeginSitting(ctx, set); err != nil {
		r.t.Fatal(err)
	}
	if err := r.store.SubmitSitting(ctx, set, list, at.Add(time.Hour)); err != nil {
		r.t.Fatal(err)
	}
}

// about gives questions of the bank that ask about a competency.
func aboutResults(t testing.TB, competency string, n int) []*quiz.Question {
	t.Helper()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	var list []*quiz.Question
	for _, q := range course.Bank.Questions() {
		for _, c := range q.Competencies {
			if c == competency && q.Kind == quiz.Choice && len(list) < n {
				list = append(list, q)
			}
		}
	}
	if len(list) < n {
		t.Fatalf("the bank has %d questions about %s, want %d", len(list), competency, n)
	}
	return list
}

// begun is the evening of a day of the class, which begins on 20 August 2026.
func begun(day int) time.Time {
	zone, err := time.LoadLocation("America/Denver")
	if err != nil {
		panic(err) // it is in every time zone database
	}
	return time.Date(2026, 8, 20+day, 19, 0, 0, 0, zone)
}

// clock sets the time of the server.
func (r *classroom) clock(at time.Time) { r.server.now = func() time.Time { return at } }

// TestWeeksOfAClass: weeks begin at midnight where the class is, also over the night on
// which clocks are set back: in Denver on 1 November 2026 (tz database, US rules).
func TestWeeksOfAClass(t *testing.T) {
	t.Parallel()
	class := store.Class{Starts: "2026-10-29", Zone: "America/Denver", Weeks: 3}
	for week, want := range map[int]string{1: "2026-10-29T06:00:00Z", 2: "2026-11-05T07:00:00Z", 3: "2026-11-12T07:00:00Z"} {
		got, err := weekStart(class, week)
		if err != nil || got.UTC().Format(time.RFC3339) != want {
			t.Errorf("week %d begins at %s, %v; want %s", week, got.UTC().Format(time.RFC3339), err, want)
		}
	}
	for at, want := range map[string]int{"2026-10-29T05:59:59Z": 0, "2026-10-29T06:00:00Z": 1, "2026-11-05T06:59:59Z": 1, "2026-11-05T07:00:00Z": 2, "2027-01-01T00:00:00Z": 3} {
		now, err := time.Parse(time.RFC3339, at)
		if err != nil {
			t.Fatal(err)
		}
		if got, err := weeksBegun(class, now); err != nil || got != want {
			t.Errorf("at %s %d weeks have begun, %v; want %d", at, got, err, want)
		}
	}
}

// TestResultsOfAClass counts by hand what three learners did in two weeks.
func TestResultsOfAClass(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.clock(begun(10))
	ann, ben, cleo := r.known("Ann Orchard"), r.known("Ben Orchard"), r.student("Cleo Field")
	qs := aboutResults(t, "altitude", 2)
	for day := range 2 { // right on two days in two wordings: shown, as on /ready
		r.answers(ann, begun(day), true, qs[day])
	}
	r.answers(ben, begun(0), true, qs...) // one day alone is not enough
	r.answers(cleo, begun(8), false, qs[0])

	r.as(r.instructor)
	at := "/class/" + r.class + "/results"
	page := r.get(at)
	r.wants(page, http.StatusOK)
	main := text(find(parse(t, page.body), "main"))
	if !strings.Contains(main, "3 of 3 learners") {
		t.Error("it is not said how many did something")
	}
	column := 1 // altitude is the second of the critical ones
	if rules.Critical()[column] != "altitude" {
		t.Fatal("the columns have moved")
	}
	for name, want := range map[string]string{"Ann Orchard": "shown right", "Ben Orchard": "not shown yet", "Cleo Field": "not shown yet"} {
		row := page.body[strings.Index(page.body, ">"+name+"</a>"):]
		cells := strings.Split(row[:strings.Index(row, "</tr>")], "<td>")
		if !strings.Contains(cells[1+column], want) {
			t.Errorf("altitude of %s: %s, want %s", name, cells[1+column], want)
		}
	}
	asked, err := qs[0].Ask(uint64(begun(8).Unix()))
	if err != nil {
		t.Fatal(err)
	}
	given, err := asked.Form(fields(t, asked, false))
	if err != nil {
		t.Fatal(err)
	}
	result, err := asked.Mark(given)
	if err != nil || len(result.Misconceptions()) != 1 {
		t.Fatal(result, err)
	}
	course, _ := shippedCourse()
	m, _ := course.Grader.Rules().Misconception(result.Misconceptions()[0])
	for _, want := range []string{m.Belief, "1 of 3 learners met it: 1 in answers", m.Truth, "To ask on Thursday", "2 of 3"} {
		if !strings.Contains(main, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, never := range []string{"certif", "rank"} {
		if strings.Contains(strings.ToLower(main), never) {
			t.Errorf("the page speaks of %q", never)
		}
	}

	first := text(find(parse(t, r.get(at+"?week=1").body), "main"))
	if strings.Contains(first, m.Belief) || !strings.Contains(first, "2 of 3 learners did something") {
		t.Error("week 1 has what was done in week 2")
	}
	second := text(find(parse(t, r.get(at+"?week=2").body), "main"))
	if !strings.Contains(second, m.Belief) || !strings.Contains(second, "1 of 3 learners did something") || !strings.Contains(second, "0 of 1") {
		t.Error("week 2 lacks what was done in it")
	}
	for _, week := range []string{"0", "3", "7", "two"} { // the third begins later
		r.wants(r.get(at+"?week="+week), http.StatusNotFound)
	}

	// A plan and a scenario lead to beliefs too: one that is short.
	r.as(r.ann)
	short := goodPlan()
	short.Set("time", "50 min")
	r.wants(r.post("/plan", short), http.StatusOK)
	r.as(r.instructor)
	rule, ok := course.Grader.Rules().Rule("time-short")
	if !ok || len(rule.Misconceptions) == 0 {
		t.Fatal("the rule names no belief")
	}
	m, _ = course.Grader.Rules().Misconception(rule.Misconceptions[0])
	if main := text(find(parse(t, r.get(at).body), "main")); !strings.Contains(main, m.Belief) || !strings.Contains(main, "1 in plans") {
		t.Error("the finding of a plan leads to no belief")
	}
}

// TestFirstAnswersOfAWeek: who was wrong at first in one week and right in the next was not
// right at first.
func TestFirstAnswersOfAWeek(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	q := aboutResults(t, "headspace", 1)
	for i := range 6 {
		v := r.student(fmt.Sprint("Student ", i))
		r.answers(v, begun(1), false, q...)
		r.answers(v, begun(8), true, q...)
	}
	r.clock(begun(9))
	r.as(r.instructor)
	for week, want := range map[string]string{"": "Right at first: 0 of 6", "?week=1": "Right at first: 0 of 6", "?week=2": "No question was answered for the first time in this week."} {
		if says := mainText(t, r.get("/class/"+r.class+"/results"+week)); !strings.Contains(says, want) {
			t.Errorf("%q lacks %q: %s", week, want, says)
		}
	}
}

// TestResultsAreTheInstructorsAlone: every address, for everybody.
func TestResultsAreTheInstructorsAlone(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	paths := []string{"", "/answers.csv", "/competencies.csv", "/results.xlsx", "/statements.jsonl"}
	link, err := Invite(context.Background(), r.store, time.Now())
	if err != nil {
		t.Fatal(err)
	}
	other := newBrowser(t, r.site)
	r.as(other)
	r.wants(r.post(link, url.Values{"name": {"Otto Hill"}, "password": {testPassword}}), http.StatusOK)
	for who, c := range map[string]struct {
		client *http.Client
		want   int
	}{"the instructor": {r.instructor, 200}, "a student": {r.ann, 404}, "another instructor": {other, 404}, "a guest": {newBrowser(t, r.site), 404}} {
		r.as(c.client)
		for _, path := range paths {
			if got := r.get("/class/" + r.class + "/results" + path); got.StatusCode != c.want {
				t.Errorf("%s gets %s: %d, want %d", who, path, got.StatusCode, c.want)
			} else if got.StatusCode == 200 && !strings.Contains(got.Header.Get("Cache-Control"), "no-store") {
				t.Errorf("%s may be kept by caches", path)
			}
		}
		if c.want == 404 {
			r.wants(r.post("/class/"+r.class+"/together", url.Values{"do": {"on"}}), http.StatusNotFound)
		}
	}
}

func newBrowser(t testing.TB, s *site) *http.Client {
	t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	return &http.Client{Jar: jar, Transport: s.client.Transport}
}

// hostile are names that a spreadsheet would run, by OWASP's page on CSV injection.
var hostile = []string{`=HYPERLINK("http://x.example";"Ann")`, `+1+cmd|' /C calc'!A0`, "-2+3", "@SUM(1+1)", `a","=1+1`}

// TestTablesRunNothing: no cell of any table begins like a formula, and each holds the
// name all the same.
func TestTablesRunNothing(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.clock(begun(10))
	qs := aboutResults(t, "altitude", 2)
	for _, name := range hostile {
		r.answers(r.student(name), begun(1), false, qs...)
	}
	if err := r.store.SaveAnswer(context.Background(), store.Answer{Visitor: r.known("Ann Orchard"), Question: qs[0].ID, Given: []string{"\t=1+1", "\r=1+1"}, At: begun(2)}); err != nil {
		t.Fatal(err)
	}
	r.as(r.instructor)
	at := "/class/" + r.class + "/results"
	harmless := func(where string, rows [][]string) {
		t.Helper()
		held := map[string]bool{}
		for _, row := range rows {
			for _, cell := range row {
				held[strings.TrimPrefix(cell, "'")] = true
				if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
					t.Errorf("%s: a cell is %q", where, cell)
				}
			}
		}
		for _, name := range hostile {
			if !held[name] {
				t.Errorf("%s lacks the name %q", where, name)
			}
		}
	}
	members := 2 + len(hostile)
	for path, want := range map[string]int{"/answers.csv": 1 + 2*len(hostile) + 1, "/answers.csv?week=1": 1 + 2*len(hostile) + 1, "/competencies.csv": 1 + members*16} {
		file := r.get(at + path)
		r.wants(file, http.StatusOK)
		rows, err := csv.NewReader(strings.NewReader(file.body)).ReadAll()
		if err != nil || len(rows) != want {
			t.Fatalf("%s: %d rows, %v; want %d", path, len(rows), err, want)
		}
		harmless(path, rows)
	}
	book, err := excelize.OpenReader(strings.NewReader(r.get(at + "/results.xlsx").body))
	if err != nil {
		t.Fatal(err)
	}
	defer func() {
		if err := book.Close(); err != nil {
			t.Error(err)
		}
	}()
	for _, sheet := range []string{"Answers", "Competencies"} {
		rows, err := book.GetRows(sheet)
		if err != nil {
			t.Fatal(err)
		}
		harmless(sheet, rows)
	}
	for _, sheet := range book.GetSheetList() {
		rows, err := book.GetRows(sheet)
		if err != nil || len(rows) < 2 {
			t.Errorf("sheet %s has %d rows, %v", sheet, len(rows), err)
		}
		for i, row := range rows {
			for j := range row {
				cell, err := excelize.CoordinatesToCellName(j+1, i+1)
				if err != nil {
					t.Fatal(err)
				}
				if formula, err := book.GetCellFormula(sheet, cell); err != nil || formula != "" {
					t.Errorf("%s!%s has the formula %q, %v", sheet, cell, formula, err)
				}
			}
		}
	}
}

// TestStatementsOfAClass: each is valid xAPI, none names anybody, and all members are in.
func TestStatementsOfAClass(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.clock(begun(10))
	qs := aboutResults(t, "altitude", 3)
	names := map[string]string{"Ann Orchard": r.known("Ann Orchard"), "Ben Orchard": r.known("Ben Orchard"), "Cleo Field": r.student("Cleo Field")}
	for _, visitor := range names {
		r.answers(visitor, begun(1), false, qs...)
	}
	r.as(r.instructor)
	body := r.get("/class/" + r.class + "/results/statements.jsonl").body
	lines := strings.Split(strings.TrimSpace(body), "\n")
	if want := 3 * (3 + 2); len(lines) != want { // an answer each, and the set begun and completed
		t.Errorf("%d statements, want %d", len(lines), want)
	}
	for _, line := range lines {
		if err := exchange.ValidateStatement([]byte(line)); err != nil {
			t.Errorf("statement %s: %v", line, err)
		}
	}
	for name, visitor := range names {
		if strings.Contains(body, name) || !strings.Contains(body, visitor) {
			t.Errorf("statements name %s, or lack what was done", name)
		}
	}
}

// TestTogether: who sees the page, that it waits for ten, and that it does not move with
// one answer, from which that answer could be read.
func TestTogether(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	now := begun(10)
	r.clock(now)
	at := "/class/" + r.class + "/together"
	r.as(r.ann)
	r.wants(r.get(at), http.StatusNotFound)
	r.as(r.instructor)
	r.wants(r.post(at, url.Values{"do": {"on"}}), http.StatusOK)
	r.as(newBrowser(t, r.site))
	r.wants(r.get(at), http.StatusNotFound)
	r.as(r.ann)
	if page := r.get(at); page.StatusCode != http.StatusOK || !strings.Contains(page.body, "too little to show") {
		t.Errorf("a class of two is shown something: %d", page.StatusCode)
	}

	qs := aboutResults(t, "altitude", 1)
	var students []string
	for i := range 10 { // with Ann and Ben twelve
		students = append(students, r.student(fmt.Sprintf("Learner %02d", i)))
		r.answers(students[i], begun(1).Add(time.Duration(i)*time.Minute), i >= 4, qs[0])
	}
	counts := func() string {
		t.Helper()
		page := r.get(at)
		r.wants(page, http.StatusOK)
		i := strings.Index(page.body, ">Altitude</a>")
		if i < 0 {
			t.Fatalf("the page has no line on altitude: %s", text(find(parse(t, page.body), "main")))
		}
		row := page.body[i:]
		return text(find(parse(t, "<table><tr><td>"+row[:strings.Index(row, "</tr>")]), "tr"))
	}
	if got := counts(); !strings.Contains(got, "not shown") { // 6, 4, and Ann and Ben not asked
		t.Errorf("altitude: %q, want it hidden: two are not asked yet", got)
	}
	r.answers(r.known("Ann Orchard"), begun(9), true, qs[0])
	r.answers(r.known("Ben Orchard"), begun(9), true, qs[0])
	r.clock(now.Add(25 * time.Hour))
	if got := counts(); !strings.Contains(got, "not shown") {
		t.Errorf("altitude: %q: two answers have moved the page", got)
	}
	for i := range 3 {
		r.answers(students[i], now.Add(time.Duration(1+i)*time.Hour), false, qs[0])
	}
	r.clock(now.Add(26 * time.Hour))
	if got := strings.Join(strings.Fields(counts()), " "); !strings.Contains(got, "8") || !strings.Contains(got, "4") {
		t.Errorf("altitude: %q, want 8 right and 4 not right", got)
	}
	// It stays for a day, even when somebody deletes everything.
	if err := r.store.Forget(context.Background(), students[0]); err != nil {
		t.Fatal(err)
	}
	before := r.get(at).body
	r.clock(now.Add(40 * time.Hour))
	if r.get(at).body != before {
		t.Error("the page moved when somebody left")
	}
	for _, name := range []string{"Learner 0", "Ben Orchard"} {
		if strings.Contains(before, name) {
			t.Errorf("the page names %s", name)
		}
	}
	r.as(r.instructor)
	r.wants(r.post(at, url.Values{"do": {"sideways"}}), http.StatusBadRequest)
	r.wants(r.post(at, url.Values{"do": {"off"}}), http.StatusOK)
	r.as(r.ann)
	r.wants(r.get(at), http.StatusNotFound)
}

// TestEverythingIsTakenHome opens the zip and compares it with the database.
func TestEverythingIsTakenHome(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	ctx := context.Background()
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/record", record(1)), http.StatusOK)
	r.wants(r.photo(at, "1", noise(t)), http.StatusOK)
	r.wants(r.post("/plan", goodPlan()), http.StatusOK)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	for _, sc := range course.Scenarios {
		if sc.Kind == "plan" {
			r.wants(r.post("/scenarios/"+sc.Slug+"?case=1", goodPlan()), http.StatusOK)
			break
		}
	}
	ann := r.known("Ann Orchard")
	r.answers(ann, begun(1), false, aboutResults(t, "altitude", 2)...)
	r.answers(r.known("Ben Orchard"), begun(1), false, aboutResults(t, "acidity", 1)...)

	got := r.get("/my-work/all.zip")
	r.wants(got, http.StatusOK)
	files := unzip(t, got.body)
	same := func(name string, want []byte) {
		t.Helper()
		if content, ok := files[name]; !ok || !bytes.Equal(content, want) {
			t.Errorf("%s: in the zip %t, %d bytes; want %d", name, ok, len(content), len(want))
		}
		delete(files, name)
	}
	plans, err := r.store.ListPlans(ctx, ann)
	if err != nil || len(plans) != 1 {
		t.Fatal(len(plans), err)
	}
	same("plans/"+plans[0].ID+".yaml", plans[0].Plan)
	same("plans/"+plans[0].ID+".report.json", plans[0].Report)
	var plan struct {
		Title, Verdict string
		At             time.Time
	}
	if err := json.Unmarshal(files["plans/"+plans[0].ID+".about.json"], &plan); err != nil || plan.Title != plans[0].Title || plan.Verdict != "as-tested" || !plan.At.Equal(plans[0].At) {
		t.Errorf("about.json of the plan: %+v, %v", plan, err)
	}
	attempts, err := r.store.ListAttempts(ctx, ann)
	if err != nil || len(attempts) != 1 {
		t.Fatal(len(attempts), err)
	}
	same("attempts/"+attempts[0].ID+".yaml", attempts[0].Plan)
	same("attempts/"+attempts[0].ID+".report.json", attempts[0].Report)
	same("attempts/"+attempts[0].ID+".result.json", attempts[0].Result)
	id := strings.TrimPrefix(at, "/batches/")
	versions, err := r.store.BatchVersions(ctx, id)
	if err != nil || len(versions) != 2 {
		t.Fatal(len(versions), err)
	}
	for _, v := range versions {
		name := fmt.Sprintf("batches/%s/%d-%s", id, v.N, v.Kind)
		same(name+".yaml", v.File)
		same(name+".report.json", v.Report)
	}
	photos, err := r.store.BatchPhotos(ctx, id)
	if err != nil || len(photos) != 1 {
		t.Fatal(len(photos), err)
	}
	big, err := r.store.Photo(ctx, id, photos[0].ID, false)
	if err != nil {
		t.Fatal(err)
	}
	same("batches/"+id+"/photos/"+photos[0].ID+".jpg", big)
	same("answers.csv", []byte(r.get("/my-work/answers.csv").body))
	same("statements.jsonl", []byte(r.get("/my-work/statements.jsonl").body))
	if set, err := exchange.ReadJSON(bytes.NewReader(files["questions.json"])); err != nil || len(set.Questions) != 2 {
		t.Errorf("questions.json has %d questions, %v; want the 2 that were answered", len(set.Questions), err)
	}
	var sittings []struct {
		HandedIn  time.Time `json:"handed_in"`
		Questions []struct{ Question string }
	}
	if err := json.Unmarshal(files["sittings.json"], &sittings); err != nil || len(sittings) != 1 || len(sittings[0].Questions) != 2 || !sittings[0].HandedIn.Equal(begun(1).Add(time.Hour)) {
		t.Errorf("sittings.json has %d sets, %v", len(sittings), err)
	}
	var profile struct {
		Name    string
		Classes []struct{ Name string }
	}
	if err := json.Unmarshal(files["profile.json"], &profile); err != nil || profile.Name != "Ann Orchard" || len(profile.Classes) != 1 || profile.Classes[0].Name != "Thursday evening" {
		t.Errorf("profile.json: %+v, %v", profile, err)
	}
	var batch struct{ Events, Photos, Versions []map[string]any }
	if err := json.Unmarshal(files["batches/"+id+"/about.json"], &batch); err != nil || len(batch.Events) != 1 || batch.Events[0]["what"] != store.PlanSent || len(batch.Photos) != 1 {
		t.Errorf("about.json of the batch has %d events, %v; want 1", len(batch.Events), err)
	}
	for i, v := range batch.Versions {
		of := versions[i]
		want := map[string]any{"n": float64(of.N), "kind": of.Kind, "at": of.At.Format(time.RFC3339Nano), "lot": of.Lot, "verdict": of.Verdict, "judged_by": of.Version}
		if !maps.Equal(v, want) || of.Kind == store.RecordVersion && of.Lot != "blue box" {
			t.Errorf("version %d of the batch: %v, want %v", of.N, v, want)
		}
	}
	if len(batch.Versions) != len(versions) {
		t.Errorf("about.json of the batch has %d versions, want %d", len(batch.Versions), len(versions))
	}
	for _, known := range []string{"README.txt", "profile.json", "questions.json", "sittings.json", "wordings.json", "asked.json", "plans/" + plans[0].ID + ".about.json", "batches/" + id + "/about.json", "attempts/" + attempts[0].ID + ".about.json"} {
		delete(files, known)
	}
	for name := range files {
		t.Errorf("the zip has %s, which nobody expects", name)
	}

	r.as(newBrowser(t, r.site)) // of a guest there is nothing
	if files := unzip(t, r.get("/my-work/all.zip").body); len(files) != 8 {
		t.Errorf("the zip of one of whom nothing is kept has %d files", len(files))
	}
}

func unzip(t *testing.T, body string) map[string][]byte {
	t.Helper()
	z, err := zip.NewReader(strings.NewReader(body), int64(len(body)))
	if err != nil {
		t.Fatal(err)
	}
	files := map[string][]byte{}
	for _, f := range z.File {
		content, err := fs.ReadFile(z, f.Name)
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name] = content
	}
	return files
}

// TestDeletedStudentLeavesNothing: neither the name nor a photo is in the database or
// its log, and the class is counted without them.
func TestDeletedStudentLeavesNothing(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.clock(begun(10))
	at := r.begin(r.assign(false))
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/record", record(1, "lot", "Ann Orchard’s own lids")), http.StatusOK)
	r.wants(r.photo(at, "1", noise(t)), http.StatusOK)
	ctx := context.Background()
	id := strings.TrimPrefix(at, "/batches/")
	photos, err := r.store.BatchPhotos(ctx, id)
	if err != nil || len(photos) != 1 {
		t.Fatal(len(photos), err)
	}
	big, err := r.store.Photo(ctx, id, photos[0].ID, false)
	if err != nil {
		t.Fatal(err)
	}
	ann := r.known("Ann Orchard")
	r.answers(ann, begun(1), false, aboutResults(t, "altitude", 2)...)
	r.answers(r.known("Ben Orchard"), begun(1), true, aboutResults(t, "altitude", 2)...)

	traces := map[string][]byte{
		"the name": []byte("Ann Orchard"), "the name as it is compared": []byte("ann orchard"), "the visitor": []byte(ann), "the batch": []byte(id),
		"a piece of the photo": big[len(big)/2 : len(big)/2+24],
	}
	for what, trace := range traces {
		if !bytes.Contains(r.onDisk(), trace) {
			t.Fatalf("%s is not in the files before, so that its absence would show nothing", what)
		}
	}
	r.as(r.ann)
	r.wants(r.post("/my-work/forget", nil), http.StatusOK)
	for _, what := range []string{"the name", "the name as it is compared", "the batch", "a piece of the photo"} {
		if n := bytes.Count(r.onDisk(), traces[what]); n > 0 {
			t.Errorf("%s is still there, %d times", what, n)
		}
	}
	// The session that has just ended held the visitor’s random number; the next sweep
	// takes that too.
	if _, err := r.store.SweepSessions(ctx, time.Now()); err != nil {
		t.Fatal(err)
	}
	for what, trace := range traces {
		if n := bytes.Count(r.onDisk(), trace); n > 0 {
			t.Errorf("%s is still there, %d times", what, n)
		}
	}
	r.as(r.instructor)
	main := text(find(parse(t, r.get("/class/"+r.class+"/results").body), "main"))
	if !strings.Contains(main, "1 of 1 learners") || !strings.Contains(main, "1 of 1") || strings.Contains(main, "Ann") {
		t.Errorf("the class is not counted without the student: %.300s", main)
	}
	if main := text(find(parse(t, r.get("/class/"+r.class).body), "main")); strings.Contains(main, "Ann") || !strings.Contains(main, "2 of 2") {
		t.Error("the page of the class still knows the student, or miscounts the other")
	}
	r.wants(r.get(at), http.StatusNotFound)
	if err := r.store.Integrity(ctx); err != nil {
		t.Error(err)
	}
}

// noise is a photo no piece of which is like another.
func noise(t *testing.T) []byte {
	t.Helper()
	dice := rand.New(rand.NewPCG(3, 4))
	img := image.NewGray(image.Rect(0, 0, 200, 150))
	for i := range img.Pix {
		img.Pix[i] = byte(dice.Uint32())
	}
	var out bytes.Buffer
	if err := jpeg.Encode(&out, img, nil); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// onDisk is every byte of the database file and of its log.
func (s *site) onDisk() []byte {
	s.t.Helper()
	var all []byte
	for _, name := range []string{s.file, s.file + "-wal"} {
		content, err := os.ReadFile(name)
		if err != nil {
			s.t.Fatal(err)
		}
		all = append(all, content...)
	}
	return all
}

// large is a class of 30 who have given 6 000 answers; the better ones are right more
// often.
func large(t testing.TB) *classroom {
	t.Helper()
	r := newClassroom(t)
	r.clock(begun(30))
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	questions := course.Bank.Questions()
	questions = questions[:min(100, len(questions))]
	dice := rand.New(rand.NewPCG(1, 2))
	for i := range 28 {
		name := fmt.Sprintf("Learner %02d", i)
		r.student(name)
	}
	members, err := r.store.Members(context.Background(), r.class)
	if err != nil {
		t.Fatal(err)
	}
	for i, m := range members {
		able := .4 + .5*float64(i)/float64(len(members))
		for day := range 6000 / len(members) / len(questions) {
			r.keep(m.Visitor, begun(1+9*day), func(*quiz.Question) bool { return dice.Float64() < able+.1*float64(day) }, questions...)
		}
	}
	return r
}

// TestQuestionsOfALargeClass: coefficients need twenty learners who answered the same
// questions; a key that is turned round is found.
func TestQuestionsOfALargeClass(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.clock(begun(10))
	qs := aboutResults(t, "altitude", 3)
	for i := range 22 {
		visitor := r.student(fmt.Sprintf("Learner %02d", i))
		r.keep(visitor, begun(1), func(q *quiz.Question) bool { return (i < 11) == (q == qs[2]) }, qs...)
		if i == 17 {
			r.as(r.instructor)
			if main := text(find(parse(t, r.get("/class/"+r.class+"/results").body), "main")); !strings.Contains(main, "too few learners") || !strings.Contains(main, "once twenty learners") {
				t.Error("with 18 learners coefficients are not hidden")
			}
		}
	}
	page := r.get("/class/" + r.class + "/results")
	main := text(find(parse(t, page.body), "main"))
	for _, want := range []string{"too few learners", "The 3 questions that the same 22 learners answered", "11 of 22", "31 to 69 %", "−", "do worse on the rest of the test"} {
		if !strings.Contains(main, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

func BenchmarkClassResults(b *testing.B) {
	r := large(b)
	r.as(r.instructor)
	for b.Loop() {
		r.wants(r.get("/class/"+r.class+"/results"), http.StatusOK)
	}
}

func BenchmarkClassWorkbook(b *testing.B) {
	r := large(b)
	r.as(r.instructor)
	for b.Loop() {
		if got := r.get("/class/" + r.class + "/results/results.xlsx"); got.StatusCode != http.StatusOK {
			b.Fatal(got.StatusCode)
		}
	}
}
