package server

import (
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rollingboil/server/storetest"
)

// linksIn lists where the main part of a page leads.
func linksIn(t *testing.T, page response) (list []string) {
	t.Helper()
	walk(find(parse(t, page.body), "main"), func(n *html.Node) {
		if n.Data == "a" {
			list = append(list, attr(n, "href"))
		}
	})
	return list
}

// leadsTo says whether the main part of a page has a link to a path.
func leadsTo(t *testing.T, page response, path string) bool {
	t.Helper()
	return slices.Contains(linksIn(t, page), path)
}

// TestMyWorkIsTrueOfWhoReadsIt: a person is told that the account keeps it and who sees it,
// a visitor without one that this browser does. Where anything is kept, be it an account,
// an altitude, a batch or a question, it can be taken along and deleted.
func TestMyWorkIsTrueOfWhoReadsIt(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	about := func(who *http.Client, kept bool, says, not []string) response {
		t.Helper()
		r.as(who)
		page := r.get("/my-work")
		r.wants(page, http.StatusOK)
		main := mainText(t, page)
		for _, want := range says {
			if !strings.Contains(main, want) {
				t.Errorf("it does not say %q: %s", want, main)
			}
		}
		for _, word := range not {
			if strings.Contains(main, word) {
				t.Errorf("it says %q: %s", word, main)
			}
		}
		for _, path := range []string{"/my-work/all.zip", "/my-work/forget"} {
			if leadsTo(t, page, path) != kept {
				t.Errorf("a link to %s: %t, want %t", path, !kept, kept)
			}
		}
		return page
	}
	ofBrowser := []string{"this browser only", "without an account", "a random number"}
	student := []string{"Kept with the account of Ann Orchard", "in every browser you log in with", "The instructor of a class you belong to sees your name, your altitude, the questions you answered", "Your practice batches with their photos, and what you ask, are seen by the instructor", "Delete my account and all my work"}

	guest := newBrowser(t, r.site)
	about(guest, false, []string{"Kept for this browser only", "Nothing yet", "without an account"}, nil)
	r.wants(r.post("/altitude", url.Values{"back": {"headspace"}, "altitude": {"6240 ft"}}), http.StatusOK)
	about(guest, true, []string{"Kept for this browser only", "Nothing yet", "no name is with it", "Delete all my work"}, []string{"account of", "instructor"})

	// Of a student there is an account before there is anything else.
	about(r.ann, true, append(student, "Nothing yet"), ofBrowser)
	at := "/class/" + r.class
	r.wants(r.post(at+"/questions", url.Values{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {"Why not fill it up?"}}), http.StatusOK)
	page := about(r.ann, true, append(student, "What you asked", "Why not fill it up?", "Thursday evening, no answer yet"), append(ofBrowser, "Nothing yet"))
	if !slices.ContainsFunc(linksIn(t, page), func(path string) bool { return strings.HasPrefix(path, at+"/questions#asked-") }) {
		t.Error("what was asked leads nowhere")
	}
	assigned := r.assign(false)
	r.as(r.ben)
	batch := r.begin(assigned)
	page = about(r.ben, true, []string{"Kept with the account of Ben Orchard", "Practice batches", "One load: ", "Being planned"}, append(ofBrowser, "Nothing yet"))
	if !leadsTo(t, page, batch) {
		t.Error("a batch leads nowhere")
	}

	// What was done for a class stays the student's after it was left.
	r.as(r.instructor)
	for _, name := range []string{"Ann Orchard", "Ben Orchard"} {
		r.wants(r.post(at+"/students/"+r.known(name)+"/remove", nil), http.StatusOK)
	}
	page = about(r.ann, true, append(student, "Why not fill it up?"), ofBrowser)
	if strings.Contains(page.body, at+"/questions") {
		t.Error("what was asked leads into a class that was left")
	}
	page = about(r.ben, true, []string{"One load: "}, nil)
	if !leadsTo(t, page, batch) || r.get(batch).StatusCode != http.StatusOK {
		t.Error("the batch of a class that was left cannot be opened")
	}
	r.as(r.instructor)
	if r.get(batch).StatusCode != http.StatusOK || !strings.Contains(r.get(at+"/questions").body, "Why not fill it up?") {
		t.Error("the page says that the instructor sees batches and questions afterwards, and that is not so")
	}

	about(r.instructor, true, []string{"Kept with the account of Ida Field", "and no class", "with assignments, trials and materials", "Your account stays while you hold a class"}, append(ofBrowser, "practice batches", "Delete my account"))
}

// TestForgetSaysWhatGoesAndWhatStays holds the page that asks against the database before
// and after.
func TestForgetSaysWhatGoesAndWhatStays(t *testing.T) {
	t.Parallel()
	r, _, _ := filledClass(t)
	db := storetest.Open(t, r.file)
	batch := db.Values("batches", "id")[0]
	r.trial("plan-1", "", "from-1", batch+"/1")
	asks := func(who *http.Client, says, not []string) response {
		t.Helper()
		r.as(who)
		page := r.get("/my-work/forget")
		r.wants(page, http.StatusOK)
		main := mainText(t, page)
		for _, want := range says {
			if !strings.Contains(main, want) {
				t.Errorf("it does not say %q: %s", want, main)
			}
		}
		for _, word := range not {
			if strings.Contains(main, word) {
				t.Errorf("it says %q: %s", word, main)
			}
		}
		return page
	}
	asks(newBrowser(t, r.site), []string{"Delete all my work?", "of this browser are removed", "a browser without an account"}, []string{"your account", "instructor", "photos"})

	// A student's account.
	asks(r.ann, []string{
		"Delete your account and all your work?", "The account of Ann Orchard is removed for good", "for every browser you log in with",
		"your name and your password", "answers, sets, scenarios and plans, your altitude and your canning day", "your place in each of your classes",
		"all your practice batches: every plan and record, what was said about them, clock times and photos", "what you asked your instructor, with the answers",
		"This stays, without your name: a plan of yours that was copied into a trial",
	}, []string{"of this browser"})
	stays := []string{"trial_variants.plan", "asked_shared.text", "asked_shared.answer", "material_versions.source", "assignments.title"}
	before := map[string][]string{}
	for _, column := range stays {
		table, name, _ := strings.Cut(column, ".")
		before[column] = db.Values(table, name)
	}
	ann := r.known("Ann Orchard")
	r.wants(r.post("/my-work/forget", nil), http.StatusOK)
	for _, column := range stays {
		table, name, _ := strings.Cut(column, ".")
		if after := db.Values(table, name); len(after) == 0 || !slices.Equal(after, before[column]) {
			t.Errorf("%s: %d rows before, %d after, or they are others", column, len(before[column]), len(after))
		}
	}
	for _, table := range []string{"answers", "plans", "attempts", "sittings", "sitting_answers", "batches", "batch_versions", "batch_events", "batch_times", "batch_photos", "asked", "asked_answers", "assigned", "once_codes"} {
		for _, c := range db.Columns() {
			if c.Table == table && len(db.Values(table, c.Name)) > 0 {
				t.Errorf("there is still something in %s.%s", table, c.Name)
			}
		}
	}
	for _, c := range db.Columns() {
		if c.Table == "sessions" {
			continue // other browsers' are swept when they end
		}
		for _, v := range db.Values(c.Table, c.Name) {
			if strings.Contains(v, "Ann Orchard") || strings.Contains(v, ann) {
				t.Errorf("%s.%s still has the student: %.80q", c.Table, c.Name, v)
			}
		}
	}
	r.as(newBrowser(t, r.site))
	r.wants(r.post("/login", named("Ann Orchard")), http.StatusUnprocessableEntity)

	// An instructor who holds a class is told so before anything is pressed.
	page := asks(r.instructor, []string{"Your account stays while you hold a class", "Evening of the kettles"}, []string{"Delete it all", "is removed"})
	if !leadsTo(t, page, "/my-work/all.zip") || strings.Contains(page.body, `action="/my-work/forget"`) {
		t.Error("there is no zip to take along, or a button that deletes nothing")
	}
	r.wants(r.post("/my-work/forget", nil), http.StatusConflict)
	free := r.site.instructor("Una Stone").client
	asks(free, []string{"The account of Una Stone is removed for good", "your name and your password"}, []string{"photos", "your place in", "instructor"})
	r.wants(r.post("/my-work/forget", nil), http.StatusOK)
	if slices.Contains(db.Values("people", "name"), "Una Stone") {
		t.Error("an instructor without a class is not deleted")
	}
}
