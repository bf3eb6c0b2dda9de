package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rollingboil/server/store"
)

// testedPlan follows USDA Guide 3, p. 3-8: crushed tomatoes, hot, quarts, above 6,000 ft.
const testedPlan = "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"

// ovenPlan is canning in an oven, which USDA Guide 1, p. 1-10, does not recommend.
const ovenPlan = "food: tomatoes-crushed\npack: hot\nmethod: oven\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"

func trialForm(changes ...string) url.Values {
	form := url.Values{
		"count": {"2"}, "question": {"Does the oven do as well?"},
		"name-1": {"Canner"}, "lids-1": {"blue box"}, "plan-1": {testedPlan}, "from-1": {""},
		"name-2": {"Oven"}, "lids-2": {"blue box"}, "plan-2": {ovenPlan}, "from-2": {""},
	}
	for i := 0; i < len(changes); i += 2 {
		form.Set(changes[i], changes[i+1])
	}
	return form
}

// trial makes a trial as the instructor and gives its address.
func (r *classroom) trial(changes ...string) string {
	r.t.Helper()
	r.as(r.instructor)
	page := r.post("/class/"+r.class+"/trials/new", trialForm(changes...))
	r.wants(page, http.StatusOK)
	return strings.TrimSuffix(page.Request.URL.Path, "/workbook")
}

// loadForm is a load of so many jars, of which some did not seal.
func loadForm(variant, unsealed, jars int, changes ...string) url.Values {
	form := url.Values{"form": {store.NewID()}, "variant": {fmt.Sprint(variant)}, "count": {fmt.Sprint(jars)}}
	for i := range jars {
		form.Set(fmt.Sprintf("sealed-%d", i+1), fmt.Sprint(i >= unsealed))
	}
	for i := 0; i < len(changes); i += 2 {
		form.Set(changes[i], changes[i+1])
	}
	return form
}

func mainText(t testing.TB, page response) string {
	t.Helper()
	return strings.Join(strings.Fields(text(find(parse(t, page.body), "main"))), " ")
}

// TestTrialSentTwice makes one trial of a form that was sent twice, and another of one that
// differs in a way.
func TestTrialSentTwice(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	first := r.trial()
	if again := r.trial(); again != first {
		t.Errorf("sent twice, it is %s and %s", first, again)
	}
	if other := r.trial("name-2", "Another name"); other == first {
		t.Error("one that differs is taken for the same")
	}
}

// TestTrialPutsTheVerdictFirst: the engine's answer heads the page, before the question
// and before any figure, and an unsafe way that seals better is still not to be eaten.
func TestTrialPutsTheVerdictFirst(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.trial()
	r.wants(r.post(at+"/entry", loadForm(1, 2, 7)), http.StatusOK)
	r.wants(r.post(at+"/entry", loadForm(1, 0, 7)), http.StatusOK)
	r.wants(r.post(at+"/entry", loadForm(2, 0, 7, "minutes", "40", "yield", "6.5", "ph", "4.2", "ph-by", "strip")), http.StatusOK)
	r.wants(r.post(at+"/entry", loadForm(2, 0, 7)), http.StatusOK)

	page := r.get(at)
	r.wants(page, http.StatusOK)
	doc := parse(t, page.body)
	checkPage(t, "trial", doc)
	var order []string
	walk(find(doc, "main"), func(n *html.Node) {
		switch {
		case n.Data == "h1":
			order = append(order, "verdict: "+text(n))
		case attr(n, "class") == "fate":
			order = append(order, "fate: "+text(n))
		case attr(n, "class") == "question":
			order = append(order, "question")
		case n.Data == "table":
			order = append(order, "figures")
		}
	})
	want := []string{"verdict: “Oven” is not safe as written", "fate: Its jars are not for eating and not for the shelf, whatever the seals say.", "question", "figures"}
	if strings.Join(order, "\n") != strings.Join(want, "\n") {
		t.Errorf("the page goes %q, want %q", order, want)
	}
	all := mainText(t, page)
	// Fisher's two-sided probability of 2/14 against 0/14: (91+91)/378 by hand, since two
	// unsealed of 28 fall into one group in 91 of 378 ways.
	for _, want := range []string{
		"A shortcut that seals is not thereby tested", "2 of 14", "0 of 14", "chance alone would do this about one time in two",
		"the safer count: 1 of 2 against 0 of 2, nearly every time", "40 min", "6.5", "4.2 by strip",
		"likely 4 to 40 %", // Wilson's 0.04009 to 0.39941
		"It does not say what heat the food got",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the page does not say %q:\n%s", want, all)
		}
	}
	if body := mainText(t, r.get("/class/"+r.class+"/trials")); !strings.Contains(body, "“Oven” is not safe as written") {
		t.Errorf("the list does not say the verdict: %s", body)
	}
}

// TestTrialVerdicts: a way that is not as tested is told for each reason, and only ways
// that are all as tested are called so.
func TestTrialVerdicts(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	for name, tc := range map[string]struct{ plan, want string }{
		"as tested":  {testedPlan, "As planned, every way here is as tested"},
		"short":      {strings.Replace(testedPlan, "60 min", "45 min", 1), "“Oven” is not safe as written"},
		"no row":     {strings.Replace(testedPlan, "jar: quart", "jar: half-gallon", 1), "Not as tested: “Oven”"},
		"used lids":  {testedPlan + "lids: {kind: two-piece, state: used}\n", "Not as tested: “Oven”"},
		"incomplete": {"food: tomatoes-crushed\n", "Not as tested: “Oven”"},
	} {
		at := r.trial("plan-2", tc.plan)
		doc := parse(t, r.get(at).body)
		if got := text(find(doc, "h1")); got != tc.want {
			t.Errorf("%s: %q, want %q", name, got, tc.want)
		}
		if fate := strings.Contains(text(find(doc, "main")), "whatever the seals say"); fate != (name != "as tested") {
			t.Errorf("%s: what becomes of the jars is told: %t", name, fate)
		}
	}
}

// TestTrialIsOnlyAddedTo: a correction replaces an entry in sight of it, one entry is
// replaced once, and what is set aside stays with its verdict.
func TestTrialIsOnlyAddedTo(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.trial()
	r.wants(r.post(at+"/entry", loadForm(2, 7, 7, "note", "the first load")), http.StatusOK)
	form := r.get(at + "/entry?replaces=1")
	r.wants(form, http.StatusOK)
	if !strings.Contains(form.body, "the first load") || strings.Count(form.body, `value="false" selected`) != 7 {
		t.Error("the entry to correct is not in the form")
	}
	r.wants(r.post(at+"/entry", loadForm(2, 3, 7, "replaces", "1")), http.StatusUnprocessableEntity) // it must be said why
	again := loadForm(2, 3, 7, "replaces", "1", "why", "miscounted")
	r.wants(r.post(at+"/entry", again), http.StatusOK)
	r.wants(r.post(at+"/entry", again), http.StatusOK) // sent twice, kept once
	if again.Set("note", "otherwise"); r.post(at+"/entry", again).StatusCode != http.StatusConflict {
		t.Error("a form that was sent is sent again with another content, and nobody is told")
	}
	r.wants(r.post(at+"/entry", loadForm(2, 1, 7, "replaces", "1", "why", "again")), http.StatusConflict)
	book := mainText(t, r.get(at+"/workbook"))
	for _, want := range []string{"7 of 7 did not seal", "3 of 7 did not seal", "Replaces entry 1: miscounted", "Replaced by entry 2"} {
		if !strings.Contains(book, want) {
			t.Errorf("the workbook lacks %q: %s", want, book)
		}
	}
	if page := mainText(t, r.get(at)); !strings.Contains(page, "3 of 7") || strings.Contains(page, "7 of 7") {
		t.Errorf("a replaced entry still counts: %s", page)
	}
	decide := func(status int, values url.Values) { t.Helper(); r.wants(r.post(at+"/workbook", values), status) }
	decide(http.StatusUnprocessableEntity, url.Values{"do": {"void"}, "n": {"2"}, "form": {strings.Repeat("v", 26)}})
	decide(http.StatusOK, url.Values{"do": {"void"}, "n": {"2"}, "form": {strings.Repeat("v", 26)}, "says": {"it was another food"}})
	decide(http.StatusConflict, url.Values{"do": {"void"}, "n": {"1"}, "form": {strings.Repeat("w", 26)}, "says": {"twice"}})
	if page := mainText(t, r.get(at)); strings.Contains(page, "3 of 7") {
		t.Error("a void entry still counts")
	}
	decide(http.StatusUnprocessableEntity, url.Values{"do": {"set-aside"}, "n": {"2"}})
	decide(http.StatusOK, url.Values{"do": {"set-aside"}, "n": {"2"}, "says": {"the plan was mistyped"}})
	decide(http.StatusConflict, url.Values{"do": {"set-aside"}, "n": {"2"}, "says": {"again"}})
	page := mainText(t, r.get(at))
	for _, want := range []string{"Set aside", "Oven: Not safe as written", "not for the shelf", "the plan was mistyped"} {
		if !strings.Contains(page, want) {
			t.Errorf("the page lacks %q: %s", want, page)
		}
	}
	r.wants(r.post(at+"/variant", url.Values{"name-1": {"Canner"}, "plan-1": {testedPlan}}), http.StatusUnprocessableEntity) // the name is taken
	r.wants(r.post(at+"/variant", url.Values{"name-1": {"Short"}, "plan-1": {strings.Replace(testedPlan, "60 min", "45 min", 1)}}), http.StatusOK)
	if page := mainText(t, r.get(at)); !strings.Contains(page, "“Short” is not safe as written") {
		t.Errorf("a further way is not judged: %s", page)
	}
	entries, err := r.store.TrialEntries(context.Background(), at[strings.LastIndex(at, "/")+1:])
	if err != nil || len(entries) != 3 {
		t.Errorf("%d entries, %v; want 3, none of them gone", len(entries), err)
	}
}

// TestTrialKeepsWhatCannotBeRead: nothing typed is lost, nothing is guessed.
func TestTrialKeepsWhatCannotBeRead(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.trial()
	for key, bad := range map[string]string{
		"minutes": "an hour", "yield": "6,5", "ph": "1e1", "count": "many",
	} {
		for _, value := range []string{bad, "-1", "NaN", "99999", "0x4"} {
			page := r.post(at+"/entry", loadForm(1, 0, 3, "minutes", "40", "yield", "3", "ph", "4", "ph-by", "meter", "note", "kept note", key, value))
			r.wants(page, http.StatusUnprocessableEntity)
			input := byID(parse(t, page.body), key)
			if attr(input, "value") != value || attr(input, "aria-invalid") != "true" || !strings.Contains(page.body, "kept note") {
				t.Errorf("%s %q: the form has %q", key, value, attr(input, "value"))
			}
		}
	}
	for _, changes := range [][]string{{"ph", "4.2"}, {"ph-by", "meter"}, {"ph", "4.2", "ph-by", "nose"}, {"sealed-1", "perhaps"}, {"variant", "9"}, {"variant", ""}, {"note", strings.Repeat("n", 1001)}} {
		r.wants(r.post(at+"/entry", loadForm(1, 0, 3, changes...)), http.StatusUnprocessableEntity)
	}
	r.wants(r.post(at+"/entry", url.Values{"form": {strings.Repeat("f", 26)}, "variant": {"1"}, "count": {"3"}}), http.StatusUnprocessableEntity)
	r.wants(r.post(at+"/entry", loadForm(1, 0, 3, "form", "short")), http.StatusBadRequest)
	if page := mainText(t, r.get(at)); !strings.Contains(page, "No load has been entered yet") {
		t.Error("something was kept of what could not be read")
	}

	page := r.post("/class/"+r.class+"/trials/new", trialForm("plan-2", "food: tomatoes-crushed\ntime: soon\nheat: high\n", "question", ""))
	r.wants(page, http.StatusUnprocessableEntity)
	for _, want := range []string{"time: soon", "Line 2", "Line 3", "What is to be found out", "Canner"} {
		if !strings.Contains(page.body, want) {
			t.Errorf("the form lacks %q", want)
		}
	}
	for _, changes := range [][]string{
		{"plan-2", ""},
		{"plan-2", "# nothing\n"},
		{"from-2", "none/1"},
		{"plan-2", "", "from-2", "none/x"},
		{"name-2", "Canner"},
		{"name-2", ""},
		{"name-1", "Canner\u202e"},
		{"plan-2", testedPlan + strings.Repeat("#", mostPlan)},
		{"question", strings.Repeat("q", 201)},
	} {
		r.wants(r.post("/class/"+r.class+"/trials/new", trialForm(changes...)), http.StatusUnprocessableEntity)
	}
	page = r.post("/class/"+r.class+"/trials/new", trialForm("do", "more"))
	r.wants(page, http.StatusOK)
	if !strings.Contains(page.body, `name="plan-3"`) || !strings.Contains(page.body, "method: oven") {
		t.Error("one more way is not shown, or what was typed is lost")
	}
}

// TestTrialShowsHostileText: what is typed is shown as text.
func TestTrialShowsHostileText(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	const hostile = `<script>alert(1)</script>"'>`
	at := r.trial("question", hostile, "name-1", hostile, "lids-1", hostile)
	r.wants(r.post(at+"/entry", loadForm(1, 0, 3, "note", hostile)), http.StatusOK)
	r.wants(r.post(at+"/entry", loadForm(1, 0, 3, "replaces", "1", "why", hostile)), http.StatusOK)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"set-aside"}, "n": {"2"}, "says": {hostile}}), http.StatusOK)
	for _, path := range []string{at, at + "/workbook", at + "/entry", at + "/entry?replaces=2", at + "/variant", "/class/" + r.class + "/trials"} {
		page := r.get(path)
		r.wants(page, http.StatusOK)
		checkPage(t, path, parse(t, page.body))
		if strings.Contains(page.body, "<script>alert") {
			t.Errorf("%s: the script stands in the page", path)
		}
	}
}

// accepted brings a batch of a student to its end, with a lot of lids, and gives its
// address: two jars, the second unsealed.
func (r *classroom) accepted(student *http.Client, assigned, lot string, changes ...string) string {
	r.t.Helper()
	r.as(student)
	at := r.begin(assigned)
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/record", record(1, append([]string{"lot", lot}, changes...)...)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"record-sent"}}), http.StatusOK)
	r.as(r.instructor)
	r.wants(r.judge(at, "accepted", ""), http.StatusOK)
	return at
}

// TestTrialTakesNoDraft: a plan that its student did not send in is neither offered nor
// taken as a way to compare.
func TestTrialTakesNoDraft(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begin(r.assign(false))
	batch := strings.TrimPrefix(at, "/batches/")
	r.wants(r.post(at+"/plan", planForm(0)), http.StatusOK)
	r.wants(r.post(at, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(at+"/plan", planForm(1, "time", "17 min")), http.StatusOK)
	r.as(r.instructor)
	form := r.get("/class/" + r.class + "/trials/new").body
	if !strings.Contains(form, batch+"/1") || strings.Contains(form, batch+"/2") {
		t.Error("the plan that was sent in is not offered, or the draft is")
	}
	r.wants(r.post("/class/"+r.class+"/trials/new", trialForm("plan-1", "", "from-1", batch+"/2")), http.StatusUnprocessableEntity)
	r.trial("plan-1", "", "from-1", batch+"/1")
}

// TestTrialIsTheInstructors: nobody else works on it; members see it while it is shown,
// without any student's name.
func TestTrialIsTheInstructors(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	assigned := r.assign(false)
	batch := strings.TrimPrefix(r.accepted(r.ann, assigned, "green box"), "/batches/")
	r.as(r.instructor)
	// A way can be taken from a version of a batch.
	at := r.trial("plan-1", "", "from-1", batch+"/1")
	link := url.Values{"do": {"link"}, "batch": {batch}, "n": {"1"}, "form": {strings.Repeat("a", 26)}}
	r.wants(r.post(at+"/workbook", link), http.StatusOK)
	link.Set("form", strings.Repeat("b", 26))
	r.wants(r.post(at+"/workbook", link), http.StatusConflict)
	r.wants(r.post(at+"/entry", loadForm(2, 0, 7, "note", "Ann Orchard lent the oven")), http.StatusOK)
	if book := mainText(t, r.get(at+"/workbook")); !strings.Contains(book, "Ann Orchard’s batch") || !strings.Contains(book, "1 of 2 did not seal") {
		t.Errorf("the linked batch is not in the workbook: %s", book)
	}

	paths := []string{at, at + "/workbook", at + "/entry", at + "/variant", "/class/" + r.class + "/trials/new", "/class/" + r.class + "/seals"}
	other := r.stranger()
	for name, c := range map[string]*http.Client{"a member": r.ann, "a stranger": other} {
		r.as(c)
		for _, path := range paths {
			r.wants(r.get(path), http.StatusNotFound)
		}
		for _, path := range []string{at + "/workbook", at + "/entry", at + "/variant", "/class/" + r.class + "/trials/new"} {
			if got := r.post(path, url.Values{"do": {"shown"}}); got.StatusCode != http.StatusNotFound {
				t.Errorf("%s posts to %s: %d", name, path, got.StatusCode)
			}
		}
	}
	r.as(r.instructor)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"shown"}}), http.StatusOK)
	r.as(r.ben)
	if list := r.get("/class/" + r.class + "/trials"); !strings.Contains(list.body, at) {
		t.Error("a member does not see the trial that is shown")
	}
	page := r.get(at)
	r.wants(page, http.StatusOK)
	if strings.Contains(page.body, "Orchard") || strings.Contains(page.body, "Workbook") {
		t.Error("a member sees a name or the workbook")
	}
	// One student's jars are somebody's jars: what learners see is of ten at least (NCES
	// 2011-603, see small.go).
	if strings.Contains(page.body, "1 of 2") || !strings.Contains(page.body, "they are of too few students") {
		t.Error("a member sees the jars of the only student who sent some")
	}
	for _, path := range paths[1:] {
		r.wants(r.get(path), http.StatusNotFound)
	}
	r.as(other)
	r.wants(r.get(at), http.StatusNotFound)
	// The instructor's page for the class has no name either: it is shown on a screen.
	r.as(r.instructor)
	if own := r.get(at).body; !strings.Contains(own, "1 of 2") || !strings.Contains(own, "Loads of 1 student are in the counts") {
		t.Error("the instructor does not see the jars, or is not told who else does")
	}
	if strings.Contains(r.get(at).body, "Ann Orchard") {
		t.Error("the page to show names a student")
	}

	// A load that was not cooked as its plan says is told with the verdicts: 55 minutes
	// where USDA Guide 3, p. 3-8, has 60.
	short := strings.TrimPrefix(r.accepted(r.ben, assigned, "green box", "finished", "2026-08-20T15:25"), "/batches/")
	both := r.trial("plan-2", testedPlan)
	r.wants(r.post(both+"/workbook", url.Values{"do": {"link"}, "batch": {short}, "n": {"2"}, "form": {strings.Repeat("c", 26)}}), http.StatusOK)
	if all := mainText(t, r.get(both)); !strings.Contains(all, "not every load was cooked so") || !strings.Contains(all, "One of its loads was not cooked as tested: not safe as written. Its jars are not for eating") {
		t.Errorf("a linked load that was cut short is not told of: %s", all)
	}

	// Who deletes the account takes the batch along; the trial stays and says so.
	if err := r.store.Forget(context.Background(), r.cook("Ann Orchard")); err != nil {
		t.Fatal(err)
	}
	page = r.get(at)
	r.wants(page, http.StatusOK)
	if all := mainText(t, page); !strings.Contains(all, "1 more deleted by the student") || strings.Contains(all, "1 of 2") {
		t.Errorf("a deleted batch still counts: %s", all)
	}
	r.as(r.instructor)
	r.wants(r.post(at+"/workbook", url.Values{"do": {"hidden"}}), http.StatusOK)
	r.as(r.ben)
	r.wants(r.get(at), http.StatusNotFound)
}

// stranger is somebody with a browser and no account.
func (r *classroom) stranger() *http.Client {
	r.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		r.t.Fatal(err)
	}
	return &http.Client{Jar: jar, Transport: r.client.Transport}
}

// cook is the id of a member by name.
func (r *classroom) cook(name string) string {
	r.t.Helper()
	members, err := r.store.Members(context.Background(), r.class)
	if err != nil {
		r.t.Fatal(err)
	}
	for _, m := range members {
		if m.Name == name {
			return m.Visitor
		}
	}
	r.t.Fatalf("nobody is called %s", name)
	return ""
}

// TestSealsOfAClass: jars by what they have in common, from records that were sent in;
// chance is told, a cause never.
func TestSealsOfAClass(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.as(r.instructor)
	at := "/class/" + r.class + "/seals"
	if page := mainText(t, r.get(at)); !strings.Contains(page, "No record with read seals") {
		t.Errorf("an empty class: %s", page)
	}
	assigned := r.assign(false)
	r.accepted(r.ann, assigned, "Green  Box")
	// A record that was not sent in does not count; one that was sent in does.
	r.as(r.ben)
	batch := r.begin(assigned)
	r.wants(r.post(batch+"/plan", planForm(0, "headspace", "13 mm")), http.StatusOK)
	r.wants(r.post(batch, url.Values{"do": {"plan-sent"}}), http.StatusOK)
	r.wants(r.post(batch+"/record", record(1, "lot", `<b>blue</b> box`, "sealed-2", "true", "count", "3", "sealed-3", "")), http.StatusOK)
	r.as(r.instructor)
	if page := mainText(t, r.get(at)); !strings.Contains(page, "1 of 2 jars did not seal, in 1 of 1 loads") {
		t.Errorf("a record that was not sent in counts: %s", page)
	}
	r.as(r.ben)
	r.wants(r.post(batch, url.Values{"do": {"record-sent"}}), http.StatusOK)
	r.as(r.instructor)
	page := r.get(at)
	r.wants(page, http.StatusOK)
	checkPage(t, at, parse(t, page.body))
	all := mainText(t, page)
	for _, want := range []string{
		"1 of 4 jars did not seal, in 1 of 2 loads", "Of 1 more jars the record does not say",
		"They do not say why a jar did not seal", "Jars of one load share the canner", "has not been published",
	} {
		if !strings.Contains(all, want) {
			t.Errorf("the page lacks %q: %s", want, all)
		}
	}
	// Both headspaces are one, 1/2 in and 13 mm, and lots are read without case.
	if n := strings.Count(all, "1/2 in (13 mm)"); n != 1 {
		t.Errorf("1/2 in and 13 mm are counted %d times", n)
	}
	compared := r.get(at + "?by=lot&a=green+box&b=" + url.QueryEscape("<b>blue</b> box"))
	r.wants(compared, http.StatusOK)
	all = mainText(t, compared)
	for _, want := range []string{"Green Box against <b>blue</b> box", "1 of 2 against 0 of 2 did not seal", "nearly every time", "the safer count: 1 of 1 against 0 of 1"} {
		if !strings.Contains(all, want) {
			t.Errorf("the comparison lacks %q: %s", want, all)
		}
	}
	if strings.Contains(compared.body, "<b>blue") || regexp.MustCompile(`(?i)bad lids|lids are (bad|the cause)`).MatchString(all) {
		t.Error("hostile text stands in the page, or the lids are blamed")
	}
	for _, query := range []string{"?by=lot&a=green+box&b=green+box", "?by=lot", "?by=lot&a=none&b=green+box"} {
		if all := mainText(t, r.get(at+query)); !strings.Contains(all, "Nothing was compared") {
			t.Errorf("%s: nobody is told", query)
		}
	}
}

// TestCompareJars holds the sentences against figures published or worked out apart:
// the tasting of tea has 0.4857 for 3 of 4 against 1 of 4 and 0.0286 for 4 of 4 against
// none (Fisher, The Design of Experiments, 1935); 14 loads of nothing tell nothing.
func TestCompareJars(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		a, n1, b, n2 int
		want         []string
	}{
		{3, 4, 1, 4, []string{"3 of 4 against 1 of 4 did not seal", "about one time in two", "jars of each to tell", "more."}},
		{4, 4, 0, 4, []string{"about one time in 35", "in something more than luck", "do not say in what"}},
		{7, 7, 4, 7, []string{"about one time in 5"}}, // 0.1923, not significant
		{2, 14, 2, 14, []string{"no difference was seen", "does not show that there is none"}},
		{0, 0, 2, 14, []string{"nothing to compare"}},
	} {
		got := compareJars("did not seal", counted{Name: "a", K: tc.a, N: tc.n1}, counted{Name: "b", K: tc.b, N: tc.n2})
		for _, want := range tc.want {
			if !strings.Contains(got.Says+" "+got.Needs, want) {
				t.Errorf("%+v: %q %q lacks %q", tc, got.Says, got.Needs, want)
			}
		}
	}
	// Wilson's limits of 0/20, 1/29, 15/148 and 81/263, Newcombe, Statist. Med. 17 (1998).
	for _, tc := range []struct {
		k, n int
		want string
	}{{0, 20, "0 to 16 %"}, {1, 29, "1 to 17 %"}, {15, 148, "6 to 16 %"}, {81, 263, "26 to 37 %"}} {
		if got := rangeText(tc.k, tc.n); got != tc.want {
			t.Errorf("%d of %d: %s, want %s", tc.k, tc.n, got, tc.want)
		}
	}
}
