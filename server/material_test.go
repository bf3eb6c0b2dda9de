package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// begins begins a material as the instructor and gives its address.
func (r *classroom) begins(kind, from, name string) string {
	r.t.Helper()
	r.as(r.instructor)
	page := r.post("/class/"+r.class+"/materials/new", url.Values{"kind": {kind}, "from": {from}, "called": {name}})
	r.wants(page, http.StatusOK)
	return page.Request.URL.Path
}

// writtenIn is what stands in the text of a page where a material is written, and the
// version it follows.
func writtenIn(t testing.TB, page response) (source, after string) {
	t.Helper()
	walk(parse(t, page.body), func(n *html.Node) {
		switch {
		case n.Data == "textarea":
			for c := range n.ChildNodes() {
				source += c.Data
			}
		case n.Data == "input" && attr(n, "name") == "after":
			after = attr(n, "value")
		}
	})
	return source, after
}

// changes keeps a further version, and publishes it when do is "publish".
func (r *classroom) changes(at, do string, change func(string) string) response {
	r.t.Helper()
	r.as(r.instructor)
	source, after := writtenIn(r.t, r.get(at))
	return r.post(at, url.Values{"text": {change(source)}, "after": {after}, "do": {do}})
}

func same(text string) string { return text }

// replacing changes a text, which must hold what is to be changed.
func replacing(t testing.TB, old, with string) func(string) string {
	return func(text string) string {
		t.Helper()
		if !strings.Contains(text, old) {
			t.Fatalf("%q is not in\n%s", old, text)
		}
		return strings.ReplaceAll(text, old, with)
	}
}

// outsider is a student of another class.
func (r *classroom) outsider() *http.Client {
	r.t.Helper()
	jar, err := cookiejar.New(nil)
	if err != nil {
		r.t.Fatal(err)
	}
	s := *r.site
	s.client = &http.Client{Jar: jar, Transport: r.site.client.Transport}
	holds := s.instructor("Una Stone")
	class := holds.makesClass("Another class")
	s.joins(class, "Olaf Reed")
	return s.client
}

const ownQuestion = `questions:
  - id: grange-rims
    lesson: headspace
    competencies: [headspace]
    kind: choice
    stem: You filled a jar of peaches to the rim. What is likely?
    options:
      - text: Food climbs out under the lid
        right: true
        feedback: Heat makes the food swell, and this jar has no room for it.
      - text: Nothing, because a fuller jar keeps better
        feedback: You may think a fuller jar keeps better. It does not. Food swells in the canner and climbs out.
        misconception: fuller-jar-keeps-better
    why: Food needs room to swell in the canner.
    source: [usda-guide-1]
    page: Guide 1, p. 1-13
`

// TestMaterialFromDraftToClass: a question is written, published, answered, changed, put
// back and taken back, and at each step the class reads what was published last.
func TestMaterialFromDraftToClass(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	outsider := r.outsider()
	at := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.wants(r.changes(at, "keep", func(string) string { return ownQuestion }), http.StatusOK)
	read := "/practice/grange-rims"
	for name, who := range map[string]*http.Client{"a member": r.ann, "the instructor": r.instructor} {
		r.as(who)
		if got := r.get(read); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s reads a draft: %d", name, got.StatusCode)
		}
	}

	r.wants(r.changes(at, "publish", same), http.StatusOK)
	r.as(r.ann)
	page := r.get(read)
	r.wants(page, http.StatusOK)
	if says := mainText(t, page); !strings.Contains(says, "to the rim") || !strings.Contains(says, "Written by the instructor of your class") {
		t.Errorf("a member reads %s", says)
	}
	r.wants(r.post(read, url.Values{"answer": {"Nothing, because a fuller jar keeps better"}}), http.StatusOK)
	if says := mainText(t, r.get("/class/"+r.class+"/materials")); !strings.Contains(says, "You filled a jar of peaches") {
		t.Errorf("the list of a member reads %s", says)
	}
	for name, who := range map[string]*http.Client{"a student of another class": outsider, "a guest": {}} {
		r.as(who)
		if got := r.get(read); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s reads it: %d", name, got.StatusCode)
		}
	}
	r.as(r.instructor)
	if says := mainText(t, r.get("/class/"+r.class+"/results")); !strings.Contains(says, "You filled a jar of peaches to the rim") || !strings.Contains(says, "fuller") {
		t.Errorf("the results do not tell of it: %s", says)
	}

	// A draft beside what is published changes nothing for the class.
	r.wants(r.changes(at, "keep", replacing(t, "What is likely?", "What comes of it?")), http.StatusOK)
	r.as(r.ann)
	for _, page := range []string{read, "/class/" + r.class + "/materials"} {
		if says := mainText(t, r.get(page)); !strings.Contains(says, "What is likely?") || strings.Contains(says, "What comes of it?") {
			t.Errorf("the class reads a draft on %s: %s", page, says)
		}
	}
	r.as(r.instructor)
	r.wants(r.post(at+"/publish", url.Values{"n": {"3"}}), http.StatusOK)
	r.as(r.ann)
	if says := mainText(t, r.get(read)); !strings.Contains(says, "What comes of it?") {
		t.Errorf("the class reads %s", says)
	}

	// Going back keeps the older version once more, as the last.
	r.as(r.instructor)
	if says := mainText(t, r.get(at+"/versions/3")); !strings.Contains(says, "- stem: You filled a jar of peaches to the rim. What is likely? + stem: You filled a jar of peaches to the rim. What comes of it?") {
		t.Errorf("the changes read %s", says)
	}
	r.wants(r.post(at+"/versions/2", url.Values{"after": {"3"}}), http.StatusOK)
	if source, after := writtenIn(t, r.get(at)); source != ownQuestion || after != "4" {
		t.Errorf("after going back version %s stands there:\n%s", after, source)
	}
	r.wants(r.post(at+"/publish", url.Values{"n": {"4"}}), http.StatusOK)
	r.as(r.ann)
	if says := mainText(t, r.get(read)); !strings.Contains(says, "What is likely?") {
		t.Errorf("after going back the class reads %s", says)
	}
	r.as(r.instructor)
	if got := r.get(at + "/versions/2/file"); got.body != ownQuestion || !strings.Contains(got.Header.Get("Content-Disposition"), "grange-rims.yaml") {
		t.Errorf("the file is %s\n%s", got.Header.Get("Content-Disposition"), got.body)
	}

	r.wants(r.post(at+"/take-back", nil), http.StatusOK)
	r.as(r.ann)
	if got := r.get(read); got.StatusCode != http.StatusNotFound {
		t.Errorf("after it is taken back a member reads it: %d", got.StatusCode)
	}
	if got := r.get("/my-work/answers.csv"); !strings.Contains(got.body, "grange-rims") {
		t.Error("the answer given to it is gone")
	}
}

// TestClassReadsItsOwnLesson: a lesson of the course that was changed for a class stands
// in its place for that class, and for nobody else.
func TestClassReadsItsOwnLesson(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("lesson", "course headspace", "")
	lesson, _ := r.server.course.Lessons.Lesson("headspace")
	shipped, err := r.server.courseText(store.LessonMaterial, "headspace")
	if err != nil {
		t.Fatal(err)
	}
	if source, _ := writtenIn(t, r.get(at)); source != shipped {
		t.Errorf("it does not begin with the lesson of the course:\n%s", source)
	}
	title := regexp.MustCompile(`(?m)^title:.*$`)
	r.wants(r.changes(at, "publish", func(text string) string { return title.ReplaceAllString(text, "title: Room at the Grange") }), http.StatusOK)
	for _, page := range []string{"/lessons/headspace", "/lessons", "/find", "/find?q=headspace", "/booklet"} {
		r.as(r.ann)
		if says := mainText(t, r.get(page)); !strings.Contains(says, "Room at the Grange") || page == "/lessons" && strings.Contains(says, lesson.Title) {
			t.Errorf("a member reads on %s: %s", page, says)
		}
		r.as(&http.Client{})
		if says := mainText(t, r.get(page)); strings.Contains(says, "Room at the Grange") || !strings.Contains(says, lesson.Title) {
			t.Errorf("a guest reads on %s: %s", page, says)
		}
	}
	r.as(r.ann)
	for page, want := range map[string]string{
		"/find?q=room+at+the+grange": "Room at the Grange Lesson · your instructor’s own",
		"/booklet":                   "Written by the instructor of your class",
	} {
		if says := mainText(t, r.get(page)); !strings.Contains(says, want) {
			t.Errorf("%s does not say %q: %s", page, want, says)
		}
	}
	// What the class answers there is kept as before.
	id := lesson.Questions[0]
	q, _ := r.server.course.Bank.Question(id)
	asked, err := q.Ask(0)
	if err != nil {
		t.Fatal(err)
	}
	form := url.Values(asked.Fields(asked.Key()))
	form.Set("question", id)
	got := r.post("/lessons/headspace", form)
	r.wants(got, http.StatusOK)
	if says := mainText(t, got); !strings.Contains(says, "That is right.") || !strings.Contains(says, "Room at the Grange") {
		t.Errorf("after an answer: %s", says)
	}
}

// TestPublishedQuestionStandsInTheLesson: a lesson of the course that asks a question asks
// the class's own in its place.
func TestPublishedQuestionStandsInTheLesson(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	lesson, _ := r.server.course.Lessons.Lesson("headspace")
	id := lesson.Questions[0]
	at := r.begins("question", "course "+id, "")
	stem := regexp.MustCompile(`(?m)^(    stem: ).*$(\n      .*$)*`)
	r.wants(r.changes(at, "publish", func(text string) string { return stem.ReplaceAllString(text, "${1}What does the Grange say of it?") }), http.StatusOK)
	for _, page := range []string{"/lessons/headspace", "/booklet"} {
		r.as(r.ann)
		if says := mainText(t, r.get(page)); !strings.Contains(says, "What does the Grange say of it?") || !strings.Contains(says, "Written by the instructor of your class") {
			t.Errorf("%s asks the class another: %s", page, says)
		}
		r.as(&http.Client{})
		if says := mainText(t, r.get(page)); strings.Contains(says, "Grange say of it") {
			t.Errorf("%s asks everybody", page)
		}
	}
}

// TestChangedQuestionIsCountedAnew: what a class answered before its instructor changed a
// question stays as it was marked then, with the belief that was behind it. The analysis of
// the question counts only answers to the wording that is taught.
func TestChangedQuestionIsCountedAnew(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	lesson, _ := r.server.course.Lessons.Lesson("headspace")
	var asked *quiz.Asked
	for _, id := range lesson.Questions {
		q, _ := r.server.course.Bank.Question(id)
		a, err := q.Ask(0)
		if err != nil {
			t.Fatal(err)
		}
		if q.Kind == quiz.Choice && !q.Variants() && len(a.Believed()) > 0 {
			asked = a
		}
	}
	if asked == nil {
		t.Fatal("no question of the lesson has a belief behind a wrong answer")
	}
	id, wrong := asked.Question.ID, asked.Believed()[0]
	belief, _ := r.server.course.Grader.Rules().Misconception(wrong.Misconception)
	results := "/class/" + r.class + "/results"

	r.as(r.ann)
	set := store.Sitting{ID: store.NewID(), Visitor: r.known("Ann Orchard"), Title: "On headspace", Questions: []store.AskedQuestion{{Question: id}}, Begun: time.Now(), Answers: map[int]store.SittingAnswer{}}
	if err := r.store.BeginSitting(t.Context(), set); err != nil {
		t.Fatal(err)
	}
	r.wants(r.post("/check/"+set.ID+"/1", url.Values(asked.Fields(wrong.Given))), http.StatusOK)
	r.wants(r.post("/check/"+set.ID+"/hand-in", nil), http.StatusOK)

	at := r.begins("question", "course "+id, "")
	options := regexp.MustCompile(`(?m)^(      - text: ).*$`)
	rewritten := 0
	r.wants(r.changes(at, "publish", func(text string) string {
		return options.ReplaceAllStringFunc(text, func(string) string {
			rewritten++
			return fmt.Sprintf("      - text: The Grange says so, %d", rewritten)
		})
	}), http.StatusOK)
	says := mainText(t, r.get(results))
	if !strings.Contains(says, belief.Belief) {
		t.Errorf("the belief behind the answer is gone: %s", says)
	}
	if strings.Contains(says, "0 of 1") || strings.Contains(says, "Right at first") {
		t.Errorf("the answer to the question as it read before is counted: %s", says)
	}
	if got := r.get(results + "/answers.csv"); !strings.Contains(got.body, wrong.Misconception) {
		t.Errorf("the answers lack the belief:\n%s", got.body)
	}

	r.as(r.ann)
	if says := mainText(t, r.get("/check/"+set.ID)); !strings.Contains(says, "0 of 1 right") || !strings.Contains(says, "has changed this question since") || !strings.Contains(says, "not right as it was asked then") {
		t.Errorf("the set that was handed in reads %s", says)
	}
	page := r.get("/practice/" + id)
	r.wants(page, http.StatusOK)
	q, err := r.server.taughtIn(t.Context(), r.class)
	if err != nil {
		t.Fatal(err)
	}
	changed, _ := q.Bank.Question(id)
	now, err := changed.Ask(0)
	if err != nil {
		t.Fatal(err)
	}
	r.wants(r.post("/practice/"+id, url.Values(now.Fields(now.Key()))), http.StatusOK)
	r.as(r.instructor)
	if says := mainText(t, r.get(results)); !strings.Contains(says, "Right at first: 1 of 1") || !strings.Contains(says, "answers to another wording are not counted here") {
		t.Errorf("the results read %s", says)
	}

	// Taken back, it is the question of the course again, with the answer it had before.
	r.wants(r.post(at+"/take-back", nil), http.StatusOK)
	if says := mainText(t, r.get(results)); !strings.Contains(says, "Right at first: 0 of 1") || !strings.Contains(says, belief.Belief) {
		t.Errorf("after it is taken back the results read %s", says)
	}
}

// TestMaterialWithFaultsIsKeptAndNotPublished: what the checks find is told at its line,
// the text stays, and the class reads what it read before.
func TestMaterialWithFaultsIsKeptAndNotPublished(t *testing.T) {
	t.Parallel()
	for name, tc := range map[string]struct {
		kind, from, called string
		change             func(string) string
		line               int
		says               string
	}{
		"a typed time":        {"lesson", "course headspace", "", func(s string) string { return s + "\nBoil it 10 minutes.\n" }, -1, "10 minutes"},
		"an unknown question": {"lesson", "course headspace", "", func(s string) string { return s + "\n```question id=headspace-11111\n```\n" }, -2, `no question "headspace-11111"`},
		"raw HTML":            {"lesson", "course headspace", "", func(s string) string { return s + "\n<script>alert(1)</script>\n" }, -1, "HTML"},
		"a key that is not":   {"question", "start question-choice.yaml", "grange-rims", func(string) string { return strings.Replace(ownQuestion, "stem:", "stm:", 1) }, 6, `did you mean "stem"?`},
		"another id":          {"question", "start question-choice.yaml", "grange-rims", func(string) string { return strings.Replace(ownQuestion, "id: grange-rims", "id: grange", 1) }, 2, "write id: grange-rims"},
		"two questions": {"question", "start question-choice.yaml", "grange-rims", func(string) string {
			return ownQuestion + strings.Replace(strings.TrimPrefix(ownQuestion, "questions:\n"), "grange-rims", "b", 1)
		}, 1, "write one"},
		"a lesson there is not":  {"question", "start question-choice.yaml", "grange-rims", func(string) string { return strings.Replace(ownQuestion, "lesson: headspace", "lesson: headspaces", 1) }, 3, "headspace"},
		"no YAML at all":         {"question", "start question-choice.yaml", "grange-rims", func(string) string { return "questions:\n  - id: [\n" }, 0, ""},
		"an unknown rule":        {"scenario", "course quarts-moved-uphill", "", func(s string) string { return strings.Replace(s, "exercises: [", "exercises: [no-such-rule, ", 1) }, 0, "no-such-rule"},
		"HTML in a scenario":     {"scenario", "course quarts-moved-uphill", "", func(s string) string { return s + "\n<b>Look.</b>\n" }, -1, "raw HTML is not used"},
		"a link in a scenario":   {"scenario", "course quarts-moved-uphill", "", func(s string) string { return s + "\n[Look](javascript:look).\n" }, -1, "https://"},
		"nothing but a headline": {"scenario", "course quarts-moved-uphill", "", func(string) string { return "# A kitchen\n" }, 1, "front matter"},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := newClassroom(t)
			at := r.begins(tc.kind, tc.from, tc.called)
			begun, _ := writtenIn(t, r.get(at))
			text := tc.change(begun)
			r.as(r.instructor)
			got := r.post(at, url.Values{"text": {text}, "after": {"1"}, "do": {"publish"}})
			r.wants(got, http.StatusUnprocessableEntity)
			if source, after := writtenIn(t, got); source != text || after != "2" {
				t.Errorf("version %s stands there:\n%s", after, source)
			}
			says := mainText(t, got)
			want := tc.line
			if want < 0 { // counted from the end
				want += strings.Count(text, "\n") + 1
			}
			if want > 0 && !strings.Contains(says, fmt.Sprintf("Line %d : ", want)) || !strings.Contains(says, tc.says) {
				t.Errorf("line %d: %q is not in %s", want, tc.says, says)
			}
			id := at[strings.LastIndex(at, "/")+1:]
			if v, err := r.store.MaterialVersion(context.Background(), id, 2); err != nil || v.Source != text {
				t.Errorf("kept is %q, %v", v.Source, err)
			}
			if list, err := r.store.TaughtIn(context.Background(), r.class); err != nil || len(list) != 0 {
				t.Errorf("published are %+v, %v", list, err)
			}
		})
	}
}

// TestMaterialInTwoTabs: of two tabs the later one keeps what was typed and is told so.
func TestMaterialInTwoTabs(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.wants(r.post(at, url.Values{"text": {ownQuestion}, "after": {"1"}, "do": {"keep"}}), http.StatusOK)
	mine := strings.Replace(ownQuestion, "peaches", "pears", 1)
	got := r.post(at, url.Values{"text": {mine}, "after": {"1"}, "do": {"publish"}})
	r.wants(got, http.StatusConflict)
	if source, after := writtenIn(t, got); source != mine || after != "2" {
		t.Errorf("version %s stands there:\n%s", after, source)
	}
	if list, err := r.store.TaughtIn(context.Background(), r.class); err != nil || len(list) != 0 {
		t.Errorf("published are %+v, %v", list, err)
	}
	r.wants(r.post(at, url.Values{"text": {mine}, "after": {"2"}, "do": {"publish"}}), http.StatusOK)
	for _, text := range []string{"", " \r\n", strings.Repeat("p", mostText+1)} {
		got := r.post(at, url.Values{"text": {text}, "after": {"3"}, "do": {"keep"}})
		r.wants(got, http.StatusUnprocessableEntity)
		if source, _ := writtenIn(t, got); source != strings.ReplaceAll(text, "\r", "") {
			t.Errorf("of %d bytes %d stand there", len(text), len(source))
		}
	}
}

// TestMaterialLoggedOut: a session that has ended takes nothing of what was written.
func TestMaterialLoggedOut(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.post("/logout", nil)
	got := r.post(at, url.Values{"text": {ownQuestion}, "after": {"1"}, "do": {"keep"}})
	r.wants(got, http.StatusNotFound)
	checkPage(t, "unsaved", parse(t, got.body))
	if says := mainText(t, got); !strings.Contains(says, "Log in in a new tab") || !strings.Contains(says, "You may think a fuller jar keeps better.") {
		t.Errorf("it reads %s", says)
	}
	again := hiddenIn(t, got)
	r.wants(r.post("/login", url.Values{"name": {"Ida Field"}, "password": {testPassword}}), http.StatusOK)
	r.wants(r.post(at, again), http.StatusOK)
	if source, after := writtenIn(t, r.get(at)); source != ownQuestion || after != "2" {
		t.Errorf("sent again, version %s stands there:\n%s", after, source)
	}
}

// hiddenIn are the hidden fields of the forms of a page.
func hiddenIn(t testing.TB, page response) url.Values {
	t.Helper()
	fields := url.Values{}
	walk(parse(t, page.body), func(n *html.Node) {
		if n.Data == "input" && attr(n, "type") == "hidden" {
			fields.Add(attr(n, "name"), attr(n, "value"))
		}
	})
	return fields
}

// TestUnsavedShowsNoPassword: what is given back on the page holds no password.
func TestUnsavedShowsNoPassword(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.post("/logout", nil)
	got := r.post("/class/"+r.class+"/change", url.Values{"name": {"The <b>class"}, "new-password": {"willow-ember"}})
	r.wants(got, http.StatusNotFound)
	if !strings.Contains(got.body, "The &lt;b&gt;class") || strings.Contains(got.body, "willow-ember") {
		t.Error(got.body)
	}
}

const twoJars = "---\ntitle: Own jars\nkind: what-now\nminutes: 8\ncompetencies: [seal-check]\nkitchen: {food: peaches, jar: pint, altitude: 500 ft}\nchoices: [{method: boiling-water, pack: hot}]\nlooked: [14 h]\njars:\n%sexercises: [unsealed-jar-shelved]\n---\nTwo pints.\n"

// TestChangedWhileOpen: what a student has open when its instructor changes it is not
// marked by what was not on the page, and what was typed stays.
func TestChangedWhileOpen(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	down, up := "  - {sealed: true, says: The lid is down., lid: down}\n", "  - {sealed: false, says: The lid springs., lid: domed}\n"
	jars := r.begins("scenario", "start scenario-what-now.md", "own-jars")
	r.wants(r.changes(jars, "publish", func(string) string { return fmt.Sprintf(twoJars, down+up) }), http.StatusOK)
	question := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.wants(r.changes(question, "publish", func(string) string { return ownQuestion }), http.StatusOK)
	lesson := r.begins("lesson", "start lesson.md", "pears-own")
	r.wants(r.changes(lesson, "publish", same), http.StatusOK)

	r.as(r.ann)
	jarForm, questionForm := hiddenIn(t, r.get("/scenarios/own-jars?case=0")), hiddenIn(t, r.get("/practice/grange-rims"))
	jarForm.Set("jar-1", "shelf")
	jarForm.Set("jar-2", "refrigerate")
	questionForm.Set("answer", "Food climbs out under the lid")

	r.wants(r.changes(jars, "publish", func(string) string { return fmt.Sprintf(twoJars, up+down) }), http.StatusOK)
	r.wants(r.changes(question, "publish", replacing(t, "What is likely?", "What is not likely?")), http.StatusOK)
	r.wants(r.post(lesson+"/take-back", nil), http.StatusOK)

	r.as(r.ann)
	for path, form := range map[string]url.Values{"/scenarios/own-jars?case=0": jarForm, "/practice/grange-rims": questionForm} {
		got := r.post(path, form)
		r.wants(got, http.StatusConflict)
		if says := mainText(t, got); !strings.Contains(says, "Nothing was counted") || strings.Contains(says, "not this") {
			t.Errorf("%s: %s", path, says)
		}
		// Sent from the page as it is now, it counts.
		now := hiddenIn(t, got)
		for key, values := range form {
			if !now.Has(key) {
				now[key] = values
			}
		}
		r.wants(r.post(path, now), http.StatusOK)
	}
	visitor := r.known("Ann Orchard")
	answers, err := r.store.ListAnswers(t.Context(), visitor)
	if err != nil || len(answers) != 1 {
		t.Errorf("%d answers, %v; want 1", len(answers), err)
	}
	attempts, err := r.store.ListAttempts(t.Context(), visitor)
	if err != nil || len(attempts) != 1 {
		t.Errorf("%d attempts, %v; want 1", len(attempts), err)
	}
	asked := r.post("/class/"+r.class+"/questions", url.Values{"kind": {"lesson"}, "about": {"pears-own"}, "ask-text": {"Why do my pears float so high?"}})
	r.wants(asked, http.StatusOK)
	if !strings.Contains(mainText(t, asked), "Why do my pears float so high?") {
		t.Error("what was asked about a lesson that was taken back meanwhile is lost")
	}
}

// TestReadyGoesByTheCourse: what was shown by questions and scenarios of an instructor's
// own does not make ready, in the class or after it.
func TestReadyGoesByTheCourse(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	var q *quiz.Question
	for _, other := range r.server.course.Bank.Questions() {
		if slices.Equal(other.Competencies, []string{"acidity"}) {
			q = other
		}
	}
	at := r.begins("question", "course "+q.ID, "")
	r.wants(r.changes(at, "publish", func(string) string {
		return strings.NewReplacer("grange-rims", q.ID, "competencies: [headspace]", "competencies: [acidity]").Replace(ownQuestion)
	}), http.StatusOK)
	r.as(r.ann)
	r.wants(r.post("/practice/"+q.ID, url.Values{"answer": {"Food climbs out under the lid"}}), http.StatusOK)
	const want = "Acidity Not shown yet: no question on it was answered."
	if says := mainText(t, r.get("/ready")); !strings.Contains(says, want) {
		t.Errorf("in the class: %s", says)
	}
	if err := r.store.Leave(t.Context(), r.class, r.known("Ann Orchard")); err != nil {
		t.Fatal(err)
	}
	if says := mainText(t, r.get("/ready")); !strings.Contains(says, want) {
		t.Errorf("after it: %s", says)
	}
	// And what was answered to the course, before joining, is no answer to the class's own.
	r.answers(r.student("Zoe Marsh"), time.Now().Add(-time.Hour), true, q)
	r.as(r.instructor)
	if says := mainText(t, r.get("/class/"+r.class+"/results")); strings.Contains(says, "Right at first") {
		t.Errorf("the results count it: %s", says)
	}
}

// TestMaterialNames: a name is the class's own, has the form of names, and does not hide
// a thing of the course by chance.
func TestMaterialNames(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.begins("lesson", "start lesson.md", "pears")
	for name, tc := range map[string]struct {
		from, called string
		status       int
		says         string
	}{
		"none":                {"start lesson.md", "", http.StatusUnprocessableEntity, "Give it a name"},
		"capitals":            {"start lesson.md", "Pears", http.StatusUnprocessableEntity, "small letters"},
		"a path":              {"start lesson.md", "../pears", http.StatusUnprocessableEntity, "small letters"},
		"long":                {"start lesson.md", strings.Repeat("p", 61), http.StatusUnprocessableEntity, "too long"},
		"the course's":        {"start lesson.md", "headspace", http.StatusUnprocessableEntity, "The course has a lesson of this name"},
		"there already":       {"start lesson.md", "pears", http.StatusConflict, "go on with pears"},
		"begins with nothing": {"", "plums", http.StatusUnprocessableEntity, "Choose what it begins with"},
		"no such start":       {"start scenario-plan.md", "plums", http.StatusUnprocessableEntity, "Choose what it begins with"},
	} {
		r.as(r.instructor)
		got := r.post("/class/"+r.class+"/materials/new", url.Values{"kind": {"lesson"}, "from": {tc.from}, "called": {tc.called}})
		if got.StatusCode != tc.status || !strings.Contains(mainText(t, got), tc.says) {
			t.Errorf("%s: %d %s", name, got.StatusCode, mainText(t, got))
		}
		if !strings.Contains(got.body, `value="`+tc.called+`"`) {
			t.Errorf("%s: what was typed is gone", name)
		}
	}
	for _, from := range []string{"course no-such-lesson", "trial no-such", "own " + r.class + " none", "own none none"} {
		if got := r.post("/class/"+r.class+"/materials/new", url.Values{"kind": {"lesson"}, "from": {from}, "called": {"plums"}}); got.StatusCode != http.StatusNotFound {
			t.Errorf("begun with %q: %d", from, got.StatusCode)
		}
	}
}

// TestWhatIsNeededIsNotTakenBack: a question that a published lesson asks stays.
func TestWhatIsNeededIsNotTakenBack(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	question := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.wants(r.changes(question, "publish", func(string) string { return ownQuestion }), http.StatusOK)
	lesson := r.begins("lesson", "course headspace", "")
	r.wants(r.changes(lesson, "publish", func(text string) string { return text + "\n```question id=grange-rims\n```\n" }), http.StatusOK)
	r.as(r.ann)
	if says := mainText(t, r.get("/lessons/headspace")); !strings.Contains(says, "to the rim. What is likely?") {
		t.Errorf("the lesson does not ask it: %s", says)
	}
	r.as(r.instructor)
	got := r.post(question+"/take-back", nil)
	r.wants(got, http.StatusConflict)
	if says := mainText(t, got); !strings.Contains(says, `lesson headspace: there is no question "grange-rims"`) {
		t.Errorf("it is refused with %s", says)
	}
	r.wants(r.post(lesson+"/take-back", nil), http.StatusOK)
	r.wants(r.post(question+"/take-back", nil), http.StatusOK)
	r.as(r.ann)
	r.wants(r.get("/lessons/headspace"), http.StatusOK)
}

// TestMaterialThatFailsAfterAnUpdate: what no longer passes the checks, because the rules
// or the tables changed since it was published, is not read; what else was published is.
func TestMaterialThatFailsAfterAnUpdate(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	good := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.wants(r.changes(good, "publish", func(string) string { return ownQuestion }), http.StatusOK)
	bad := r.begins("lesson", "course headspace", "")
	id := bad[strings.LastIndex(bad, "/")+1:]
	ctx := context.Background()
	if err := r.store.AddMaterialVersion(ctx, id, store.MaterialVersion{N: 2, Title: "x", Source: "Boil it 10 minutes.", Made: r.server.now()}); err != nil {
		t.Fatal(err)
	}
	if err := r.store.PublishMaterial(ctx, id, store.MaterialEvent{N: 2, At: r.server.now()}); err != nil {
		t.Fatal(err)
	}
	r.as(r.ann)
	lesson, _ := r.server.course.Lessons.Lesson("headspace")
	if says := mainText(t, r.get("/lessons/headspace")); !strings.Contains(says, lesson.Title) || strings.Contains(says, "Boil it 10 minutes") {
		t.Errorf("the class reads %s", says)
	}
	r.wants(r.get("/practice/grange-rims"), http.StatusOK)
	r.as(r.instructor)
	if says := mainText(t, r.get("/class/"+r.class+"/materials")); !strings.Contains(says, "no longer passes the checks: the class does not read it") {
		t.Errorf("the instructor is not told: %s", says)
	}
	r.wants(r.changes(good, "publish", replacing(t, "likely", "to be expected")), http.StatusOK)
}

// TestMaterialThatFailsAloneIsLeftOut: where what fails is a part of the course that shows
// a material, the others are taught all the same.
func TestMaterialThatFailsAloneIsLeftOut(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	good := r.begins("question", "start question-choice.yaml", "grange-rims")
	r.wants(r.changes(good, "publish", func(string) string { return ownQuestion }), http.StatusOK)
	var worked, plan string
	for _, sc := range r.server.course.Scenarios {
		if sc.Kind == scenarios.PlanIt {
			plan = sc.Slug
		}
	}
	for _, l := range r.server.course.Lessons.Lessons() {
		for _, p := range l.Parts {
			if p.Block != nil && p.Block.Kind == "worked" {
				worked = p.Block.Settings["scenario"]
			}
		}
	}
	source, err := r.server.courseText(store.ScenarioMaterial, plan)
	if err != nil {
		t.Fatal(err)
	}
	at := r.begins("scenario", "course "+worked, "")
	id := at[strings.LastIndex(at, "/")+1:]
	// The checks would not let it through: it is as if they had been changed.
	if err := r.store.AddMaterialVersion(t.Context(), id, store.MaterialVersion{N: 2, Title: "x", Source: source, Made: time.Now()}); err != nil {
		t.Fatal(err)
	}
	if err := r.store.PublishMaterial(t.Context(), id, store.MaterialEvent{N: 2, At: time.Now()}); err != nil {
		t.Fatal(err)
	}
	if says := mainText(t, r.get(at)); !strings.Contains(says, "no longer passes the checks") {
		t.Errorf("the instructor is not told: %s", says)
	}
	if says := mainText(t, r.get(good)); strings.Contains(says, "no longer passes the checks") {
		t.Errorf("a faultless question goes with it: %s", says)
	}
	r.as(r.ann)
	r.wants(r.get("/practice/grange-rims"), http.StatusOK)
	r.wants(r.get("/scenarios/"+worked), http.StatusOK)
}

// TestOwnWorkDoesNotMakeReady: DESIGN §8: ready goes by what the course itself has checked.
func TestOwnWorkDoesNotMakeReady(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("scenario", "course quarts-moved-uphill", "")
	r.as(r.ann)
	r.wants(r.post("/scenarios/quarts-moved-uphill", url.Values{"time": {"25 min"}}), http.StatusOK)
	if says := mainText(t, r.get("/ready")); strings.Contains(says, "Only the course’s own") {
		t.Errorf("before anything is published: %s", says)
	}
	r.wants(r.changes(at, "publish", replacing(t, "title: ", "title: Own ")), http.StatusOK)
	r.as(r.ann)
	if says := mainText(t, r.get("/ready")); !strings.Contains(says, "Only the course’s own questions and scenarios count here") {
		t.Errorf("after: %s", says)
	}
	if says := mainText(t, r.get("/scenarios")); !strings.Contains(says, "Own ") || !strings.Contains(says, "your instructor’s own") {
		t.Errorf("the scenarios read %s", says)
	}
}

// TestPreviewRunsNothing: OWASP ASVS 5.0, 3.4.3: a preview may stand in a page of this
// site, runs no script, sends no form, and loads from nowhere else.
func TestPreviewRunsNothing(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("lesson", "course headspace", "")
	source, _ := writtenIn(t, r.get(at))
	got := r.post(at+"/preview", url.Values{"text": {source}})
	r.wants(got, http.StatusOK)
	csp := got.Header.Get("Content-Security-Policy")
	for _, want := range []string{"default-src 'none'", "form-action 'none'", "base-uri 'none'", "frame-ancestors 'self'"} {
		if !strings.Contains(csp, want) {
			t.Errorf("the policy %q lacks %s", csp, want)
		}
	}
	if strings.Contains(csp, "script-src") || strings.Contains(csp, "connect-src") || strings.Contains(got.body, "<script") {
		t.Errorf("it could run something: %s", csp)
	}
	if says := mainText(t, got); !strings.Contains(says, "The checks find nothing") {
		t.Errorf("the preview reads %.600s", says)
	}
	if v, err := r.store.MaterialVersions(context.Background(), at[strings.LastIndex(at, "/")+1:]); err != nil || len(v) != 1 {
		t.Errorf("a preview keeps %d versions, %v", len(v), err)
	}
	if page := r.get(at); !strings.Contains(page.Header.Get("Content-Security-Policy"), "frame-src 'self'") || !strings.Contains(page.Header.Get("Content-Security-Policy"), "frame-ancestors 'none'") {
		t.Errorf("the page where it is written has %q", page.Header.Get("Content-Security-Policy"))
	}
}

// TestWholeCourseCanBeWrittenOn: each lesson, question and scenario of the course can be
// begun with, and passes the checks as it is.
func TestWholeCourseCanBeWrittenOn(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	try := func(kind, name string) {
		t.Helper()
		text, err := r.server.courseText(kind, name)
		if err != nil {
			t.Errorf("%s %s: %v", kind, name, err)
			return
		}
		if _, problems := r.server.build([]ownText{{store.TaughtMaterial{Kind: kind, Name: name, N: 1}, withName(kind, name, text)}}); problems != nil {
			t.Errorf("%s %s: %v", kind, name, problems)
		}
	}
	for _, l := range r.server.course.Lessons.Lessons() {
		try(store.LessonMaterial, l.Slug)
	}
	for i, q := range r.server.course.Bank.Questions() {
		if i%5 == 0 { // each file of the bank has several
			try(store.QuestionMaterial, q.ID)
		}
	}
	for _, sc := range r.server.course.Scenarios {
		try(store.ScenarioMaterial, sc.Slug)
	}
}

// BenchmarkCheckText: what a pause in writing costs, for a lesson of the course and with
// nothing else written for the class.
func BenchmarkCheckText(b *testing.B) {
	r := newClassroom(b)
	for _, tc := range []struct{ kind, name string }{{store.LessonMaterial, "headspace"}, {store.QuestionMaterial, "altitude-91"}, {store.ScenarioMaterial, "quarts-moved-uphill"}} {
		text, err := r.server.courseText(tc.kind, tc.name)
		if tc.kind == store.QuestionMaterial {
			text, err = startsOf(tc.kind)[5].Text(), nil
		}
		if err != nil {
			b.Fatal(err)
		}
		b.Run(tc.kind, func(b *testing.B) {
			for b.Loop() {
				found, err := r.server.checkText(b.Context(), store.Material{ID: "m", Class: r.class, Kind: tc.kind, Name: tc.name}, text)
				if err != nil || len(found.Problems) > 0 {
					b.Fatal(found.Problems, err)
				}
			}
		})
	}
}
