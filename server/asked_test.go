package server

import (
	"context"
	"fmt"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"rollingboil/server/store"
)

// askingClass is a site with a class, whose people each have a browser.
type askingClass struct {
	*site
	class string // its path
	jars  map[string]http.CookieJar
}

// The people of the class and around it. Their names stand in nothing else on the pages.
const (
	teacher   = "Wilhelmina Stroud"
	asker     = "Quintus Appleyard"
	classmate = "Xanthe Underhill"
	stranger  = "Zebedee Farrow"      // a student of another class
	outsider  = "Ottoline Greenacre"  // an instructor of another class
	guest     = "somebody not at all" // a guest
)

func newAskingClass(t *testing.T) *askingClass {
	t.Helper()
	r := &askingClass{site: newSite(t), jars: map[string]http.CookieJar{}}
	r.class = r.holdClass(teacher, asker, classmate)
	r.holdClass(outsider, stranger)
	return r
}

// holdClass makes an instructor with a class, and students who join it.
func (r *askingClass) holdClass(instructor string, students ...string) (path string) {
	r.t.Helper()
	link, err := Invite(context.Background(), r.site.store, time.Now())
	if err != nil {
		r.t.Fatal(err)
	}
	r.as(instructor)
	r.post(link, url.Values{"name": {instructor}, "password": {testPassword}})
	made := r.post("/class/new", url.Values{"name": {"Harrow Creek of " + link[len(link)-4:]}, "starts": {"2026-08-20"}, "weeks": {"6"}, "zone": {"America/Denver"}, "altitude": {"6240 ft"}})
	path = made.Request.URL.Path
	class, err := r.site.store.Class(context.Background(), strings.TrimPrefix(path, "/class/"))
	if err != nil {
		r.t.Fatalf("make a class: %d at %s: %v", made.StatusCode, path, err)
	}
	for _, name := range students {
		r.as(name)
		if got := r.post("/join", url.Values{"code": {class.Code}, "name": {name}, "password": {testPassword}}); got.StatusCode != http.StatusOK || got.Request.URL.Path != path {
			r.t.Fatalf("%s joins: %d at %s", name, got.StatusCode, got.Request.URL)
		}
	}
	return path
}

// as goes on in the browser of somebody.
func (r *askingClass) as(name string) *site {
	r.t.Helper()
	if r.jars[name] == nil {
		jar, err := cookiejar.New(nil)
		if err != nil {
			r.t.Fatal(err)
		}
		r.jars[name] = jar
	}
	r.client.Jar = r.jars[name]
	return r.site
}

// asks has the student ask about a lesson, and returns the path of the question.
func (r *askingClass) asks(text string) (path string) {
	r.t.Helper()
	got := r.as(asker).post(r.class+"/questions", url.Values{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {text}})
	if got.StatusCode != http.StatusOK || got.Request.URL.Path != "/lessons/headspace" {
		r.t.Fatalf("ask: %d at %s\n%s", got.StatusCode, got.Request.URL, r.log.String())
	}
	all, err := r.site.store.AskedIn(context.Background(), strings.TrimPrefix(r.class, "/class/"))
	if err != nil {
		r.t.Fatal(err)
	}
	for _, q := range all {
		if q.Text == strings.TrimSpace(strings.ReplaceAll(text, "\r\n", "\n")) {
			return r.class + "/questions/" + q.ID
		}
	}
	r.t.Fatalf("%q was not kept", text)
	return ""
}

// does posts to a question as its instructor and wants the status.
func (r *askingClass) does(path string, status int, key, value string) response {
	r.t.Helper()
	got := r.as(teacher).post(path, url.Values{key: {value}})
	if got.StatusCode != status {
		r.t.Fatalf("POST %s = %d, want %d", path, got.StatusCode, status)
	}
	return got
}

// typed lists the texts of a page that stand as they were typed.
func typed(t *testing.T, body string) (texts []string) {
	t.Helper()
	walk(parse(t, body), func(n *html.Node) {
		if attr(n, "class") == "said" {
			if n.FirstChild == nil || n.FirstChild != n.LastChild || n.FirstChild.Type != html.TextNode {
				t.Errorf("%q is more than plain text", text(n))
				return
			}
			texts = append(texts, n.FirstChild.Data)
		}
	})
	return texts
}

func wantIn(t *testing.T, where, body string, wants ...string) {
	t.Helper()
	main := text(find(parse(t, body), "main"))
	for _, want := range wants {
		if !strings.Contains(main, want) {
			t.Errorf("%s lacks %q", where, want)
		}
	}
}

func wantNotIn(t *testing.T, where, body string, not ...string) {
	t.Helper()
	for _, word := range not {
		if strings.Contains(strings.ToLower(body), strings.ToLower(word)) {
			t.Errorf("%s has %q", where, word)
		}
	}
}

// TestAskedFromLessonToAnswer goes the whole way: a student asks, the instructor sees
// that a question waits, answers, changes the answer; the student is told once.
func TestAskedFromLessonToAnswer(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	wantIn(t, "the instructor's class page with no question", r.as(teacher).get(r.class).body, "Nothing waits for you.")
	path := r.asks("Why does syrup foam?\r\n\r\nMine ran over.")
	lesson := r.as(asker).get("/lessons/headspace")
	checkPage(t, "lesson with a question", parse(t, lesson.body))
	wantIn(t, "the lesson", lesson.body, "Ask your instructor", "What you asked here", "No answer yet.")
	if got := typed(t, lesson.body); len(got) != 1 || got[0] != "Why does syrup foam?\n\nMine ran over." {
		t.Errorf("the lesson has the question as %q, want its lines kept", got)
	}
	wantNotIn(t, "another lesson", r.get("/lessons/altitude").body, "syrup foam")

	page := r.as(teacher).get(r.class).body
	wantIn(t, "the instructor's class page", page, "1 question to answer")
	if !strings.Contains(page, `href="`+r.class+`/questions"`) {
		t.Error("the class page does not lead to the questions")
	}
	list := r.get(r.class + "/questions")
	checkPage(t, "list", parse(t, list.body))
	wantIn(t, "the list", list.body, "To answer", "Why does syrup foam? Mine ran over.", asker, "Lesson: ")
	one := r.get(path)
	checkPage(t, "question", parse(t, one.body))
	wantIn(t, "the question", one.body, asker, "Why does syrup foam?", "Once it is answered")

	r.does(path+"/answer", 200, "answer", "It boils up.\nSkim it.")
	wantIn(t, "the instructor's class page after the answer", r.get(r.class).body, "Nothing waits for you.")
	back := r.as(asker).get(r.class).body
	wantIn(t, "the student's class page", back, "What came back", "An answer to your question", "Why does syrup foam?")
	r.do(r.request(http.MethodHead, "/lessons/headspace", nil)) // shows nothing, so nothing is seen
	wantIn(t, "the student's class page after a HEAD", r.get(r.class).body, "An answer to your question")
	if lesson := r.get("/lessons/headspace"); !contains(typed(t, lesson.body), "It boils up.\nSkim it.") {
		t.Errorf("the lesson has %q, want the answer", typed(t, lesson.body))
	}
	wantNotIn(t, "the student's class page after the answer was seen", r.get(r.class).body, "An answer to your question")

	r.does(path+"/answer", 200, "answer", "It boils up. Leave the headspace that is printed.")
	r.does(path+"/answer", 200, "answer", "It boils up. Leave the headspace that is printed.") // sent twice
	one = r.get(path)
	checkPage(t, "answered question", parse(t, one.body))
	wantIn(t, "the question after a change", one.body, "What you wrote before (1)", "Skim it.")
	back = r.as(asker).get(r.class).body
	wantIn(t, "the student's class page after a change", back, "An answer to your question")
	own := r.get(r.class + "/questions")
	checkPage(t, "student's list", parse(t, own.body))
	wantIn(t, "the student's list", own.body, "What you asked", "Leave the headspace that is printed.", "changed since it was first written", "Lesson: ")
	wantNotIn(t, "the student's list", own.body, "Skim it")
	wantNotIn(t, "the student's class page after the change was seen", r.get(r.class).body, "An answer to your question")
	list = r.as(teacher).get(r.class + "/questions")
	wantIn(t, "the list after the answer", list.body, "No question waits for you.", "Answered")
}

// TestAskedUnansweredComeFirst: what waits stands above what is done, the oldest first.
func TestAskedUnansweredComeFirst(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	first := r.asks("Question one")
	r.asks("Question two")
	r.asks("Question three")
	r.does(first+"/answer", 200, "answer", "So.")
	main := text(find(parse(t, r.get(r.class+"/questions").body), "main"))
	at := func(s string) int { return strings.Index(main, s) }
	if !(at("Question two") > 0 && at("Question two") < at("Question three") && at("Question three") < at("Question one")) {
		t.Errorf("the list reads %q", main)
	}
	wantIn(t, "the class page", r.get(r.class).body, "2 questions to answer")
}

// TestAskedAboutAScenario keeps the case that the student saw.
func TestAskedAboutAScenario(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	const about = "quarts-moved-uphill"
	got := r.as(asker).post(r.class+"/questions", url.Values{"kind": {"scenario"}, "about": {about}, "case": {"7"}, "ask-text": {"Why more minutes up here?"}})
	if got.StatusCode != http.StatusOK || got.Request.URL.RequestURI() != "/scenarios/"+about+"?case=7" {
		t.Fatalf("ask: %d at %s", got.StatusCode, got.Request.URL)
	}
	checkPage(t, "scenario with a question", parse(t, got.body))
	wantIn(t, "the scenario", got.body, "What you asked here", "Why more minutes up here?")
	wantIn(t, "another case of it", r.get("/scenarios/"+about+"?case=8").body, "Why more minutes up here?")
	tried := r.post("/scenarios/"+about+"?case=7", url.Values{"time": {"soon"}})
	wantIn(t, "a try that cannot be read", tried.body, "Why more minutes up here?")
	all, err := r.site.store.AskedIn(context.Background(), strings.TrimPrefix(r.class, "/class/"))
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	one := r.as(teacher).get(r.class + "/questions/" + all[0].ID).body
	if !strings.Contains(one, `href="/scenarios/`+about+`?case=7"`) {
		t.Error("the instructor is not led to the case that was asked about")
	}
	wantNotIn(t, "the lesson of that name", r.as(asker).get("/lessons/headspace").body, "more minutes up here")
}

// TestAskedAboutABatch: under one's own batch, in its class; what is shared of it does
// not lead to it.
func TestAskedAboutABatch(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	ctx, class := context.Background(), strings.TrimPrefix(r.class, "/class/")
	p, err := r.site.store.PersonByName(ctx, asker)
	if err != nil {
		t.Fatal(err)
	}
	now := time.Now()
	load := store.Assignment{ID: store.NewID(), Class: class, Kind: "batch", About: "tomatoes-crushed", Title: "One load", Settings: []byte("{}"), Opens: now, Due: now.Add(day), Made: now}
	if err := r.site.store.Assign(ctx, load); err != nil {
		t.Fatal(err)
	}
	b, err := r.site.store.BeginBatch(ctx, store.Batch{ID: store.NewID(), Visitor: p.Visitor, Assignment: load.ID, Made: now})
	if err != nil {
		t.Fatal(err)
	}
	ask := url.Values{"kind": {"batch"}, "about": {b.ID}, "ask-text": {"Jar 3 has not sealed. What now?"}}
	for _, who := range []string{classmate, stranger} {
		if got := r.as(who).post(r.class+"/questions", ask); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s asks about the batch = %d, want 404", who, got.StatusCode)
		}
	}
	got := r.as(asker).post(r.class+"/questions", ask)
	if got.StatusCode != http.StatusOK || got.Request.URL.Path != "/batches/"+b.ID {
		t.Fatalf("ask: %d at %s", got.StatusCode, got.Request.URL)
	}
	checkPage(t, "batch with a question", parse(t, got.body))
	wantIn(t, "the batch", got.body, "What you asked here", "Jar 3 has not sealed.")
	wantNotIn(t, "the instructor's view of the batch", r.as(teacher).get("/batches/"+b.ID).body, `id="ask"`)
	all, err := r.site.store.AskedIn(ctx, class)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	path := r.class + "/questions/" + all[0].ID
	if one := r.get(path); !strings.Contains(one.body, `href="/batches/`+b.ID+`"`) {
		t.Error("the question does not lead the instructor to the batch")
	}
	r.does(path+"/answer", 200, "answer", "Into the refrigerator.")
	r.does(path+"/share", 200, "shared", "What of a jar that has not sealed?")
	seen := r.as(classmate).get(r.class + "/questions")
	wantIn(t, "a classmate's list", seen.body, "What of a jar that has not sealed?", "Into the refrigerator.", "Practice batch")
	wantNotIn(t, "a classmate's list", seen.body, append(strings.Fields(asker), b.ID, "Jar 3")...)
}

// TestAskedIsSharedWithoutTheName: the class sees the instructor's wording and the last
// answer, and the name of who asked stands nowhere in what it gets.
func TestAskedIsSharedWithoutTheName(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	path := r.asks("My aunt Gwendolen fills to the brim. Is she right?")
	names := append(strings.Fields(asker), "Gwendolen")
	if got := r.does(path+"/share", 422, "shared", "Up to the brim?"); !strings.Contains(got.body, "Answer it first") {
		t.Error("what has no answer was shared without a word")
	}
	r.does(path+"/answer", 200, "answer", "No. Rhubarb climbs.")
	wantNotIn(t, "a classmate's lesson before sharing", r.as(classmate).get("/lessons/headspace").body, append(names, "Rhubarb climbs", "brim")...)

	got := r.does(path+"/share", 422, "shared", "quintus  APPLEYARD asks: to the brim?")
	wantIn(t, "a wording with the name", got.body, "The name of who asked stands in it")
	if field := byID(parse(t, got.body), "shared"); attr(field, "aria-invalid") != "true" || text(field) != "quintus APPLEYARD asks: to the brim?" {
		t.Errorf("the refused wording is not kept: %q", text(field))
	}
	r.does(path+"/answer", 200, "answer", "No, Quintus Appleyard. Rhubarb climbs.")
	wantIn(t, "sharing an answer with the name", r.does(path+"/share", 422, "shared", "Up to the brim?").body, "stands in your answer")
	r.does(path+"/answer", 200, "answer", "No. Rhubarb climbs, and air must out.")
	shared := r.does(path+"/share", 200, "shared", "May a jar be filled\nto the brim?")
	checkPage(t, "shared question", parse(t, shared.body))
	wantIn(t, "the answer with the name, once shared", r.does(path+"/answer", 422, "answer", "No, Quintus Appleyard.").body, "The class sees this answer")

	for _, at := range []string{"/lessons/headspace", r.class + "/questions"} {
		got := r.as(classmate).get(at)
		checkPage(t, at, parse(t, got.body))
		if lines := typed(t, got.body); len(lines) != 2 || lines[0] != "May a jar be filled\nto the brim?" || lines[1] != "No. Rhubarb climbs, and air must out." {
			t.Errorf("%s shows a classmate %q", at, lines)
		}
		wantNotIn(t, at+" of a classmate", got.body, names...)
		own := r.as(asker).get(at)
		if lines := typed(t, own.body); len(lines) != 2 || !strings.Contains(lines[0], "Gwendolen") {
			t.Errorf("%s shows who asked %q, want the question once, in its own words", at, lines)
		}
		wantIn(t, at+" of who asked", own.body, "Shared with the class, without your name")
	}
	wantNotIn(t, "the class page of a classmate", r.as(classmate).get(r.class).body, append(names, "An answer to your question")...)
	wantNotIn(t, "the lesson of a student of another class", r.as(stranger).get("/lessons/headspace").body, append(names, "Rhubarb climbs")...)
	wantNotIn(t, "a guest's lesson", r.as(guest).get("/lessons/headspace").body, append(names, "Rhubarb climbs", "Ask your instructor")...)
	wantNotIn(t, "the instructor's lesson", r.as(teacher).get("/lessons/headspace").body, "Rhubarb climbs", `id="ask"`)

	r.does(path+"/answer", 200, "answer", "No. Rhubarb climbs. Keep the headspace.")
	wantIn(t, "a classmate's lesson after the answer changed", r.as(classmate).get("/lessons/headspace").body, "Keep the headspace.")
	r.does(path+"/unshare", 200, "", "")
	wantNotIn(t, "a classmate's lesson after it was taken back", r.as(classmate).get("/lessons/headspace").body, append(names, "Rhubarb climbs")...)
	wantIn(t, "the lesson of who asked after it was taken back", r.as(asker).get("/lessons/headspace").body, "Keep the headspace.")
}

// TestAskedIsForNobodyElse tries every address of a question as everybody whom it does
// not concern.
func TestAskedIsForNobodyElse(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	path := r.asks("Between us?")
	ask := url.Values{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {"Let me in"}}
	answer := url.Values{"answer": {"Ha"}, "shared": {"Ha"}}
	for _, who := range []string{asker, classmate, stranger, outsider, guest} {
		r.as(who)
		inside := who == asker || who == classmate
		for _, at := range []string{path, r.class + "/questions/none"} {
			if got := r.get(at); got.StatusCode != http.StatusNotFound {
				t.Errorf("GET %s as %s = %d, want 404", at, who, got.StatusCode)
			}
		}
		for _, do := range []string{"/answer", "/share", "/unshare"} {
			if got := r.post(path+do, answer); got.StatusCode != http.StatusNotFound {
				t.Errorf("POST %s as %s = %d, want 404", do, who, got.StatusCode)
			}
		}
		want := map[bool]int{true: 200, false: 404}[inside]
		got := r.get(r.class + "/questions")
		if got.StatusCode != want || who != asker && strings.Contains(got.body, "Between us?") {
			t.Errorf("GET questions as %s = %d, want %d and nothing of others", who, got.StatusCode, want)
		}
		if inside {
			continue
		}
		if got := r.post(r.class+"/questions", ask); got.StatusCode != http.StatusNotFound {
			t.Errorf("ask as %s = %d, want 404", who, got.StatusCode)
		}
	}
	r.as(teacher)
	if got := r.post(r.class+"/questions", ask); got.StatusCode != http.StatusNotFound {
		t.Errorf("ask as the instructor = %d, want 404", got.StatusCode)
	}
	// A question of one class is not under another of the same instructor.
	other := r.post("/class/new", url.Values{"name": {"Second"}, "starts": {"2026-08-20"}, "weeks": {"6"}, "zone": {"America/Denver"}, "altitude": {"6240 ft"}}).Request.URL.Path
	moved := strings.Replace(path, r.class, other, 1)
	if got := r.get(moved); got.StatusCode != http.StatusNotFound {
		t.Errorf("GET %s = %d, want 404", moved, got.StatusCode)
	}
	if got := r.post(moved+"/answer", answer); got.StatusCode != http.StatusNotFound {
		t.Errorf("answer under another class = %d, want 404", got.StatusCode)
	}
	wantIn(t, "the class page", r.get(r.class).body, "1 question to answer")
	r.does(path+"/unshare", 404, "", "") // it is not shared
}

// TestAskedIsPlainText: hostile text comes back as text on every page that shows it.
func TestAskedIsPlainText(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	const hostile = `</p></textarea></section><script>alert(1)</script><img src=x onerror=alert(2)> [a](javascript:alert(3)) https://elsewhere.example {{.Name}} & "quoted" ` + "\u202Eback\u0301"
	path := r.asks(hostile)
	r.does(path+"/answer", 200, "answer", hostile)
	r.does(path+"/answer", 200, "answer", hostile+"!")
	r.does(path+"/share", 200, "shared", hostile)
	for _, look := range []struct{ who, at string }{
		{asker, "/lessons/headspace"},
		{asker, r.class + "/questions"},
		{asker, r.class},
		{classmate, "/lessons/headspace"},
		{classmate, r.class + "/questions"},
		{teacher, path},
		{teacher, r.class + "/questions"},
		{teacher, r.class},
	} {
		got := r.as(look.who).get(look.at)
		doc := parse(t, got.body)
		checkPage(t, look.at, doc)
		for _, shown := range typed(t, got.body) {
			if shown != hostile && shown != hostile+"!" {
				t.Errorf("%s shows %s %q", look.at, look.who, shown)
			}
		}
		walk(doc, func(n *html.Node) {
			if n.Data == "img" || n.Data == "script" && !strings.HasPrefix(attr(n, "src"), "/assets/") || n.Data == "a" && strings.Contains(attr(n, "href"), "elsewhere") {
				t.Errorf("%s: <%s> came out of a text", look.at, n.Data)
			}
		})
	}
	if n := len(typed(t, r.as(teacher).get(path).body)); n != 2 {
		t.Errorf("the instructor's page shows %d texts, want the question and the earlier answer", n)
	}
}

// TestAskedLimits: what cannot be kept comes back as it was typed, with what to do.
func TestAskedLimits(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	ask := func(kind, about, text string) response {
		return r.as(asker).post(r.class+"/questions", url.Values{"kind": {kind}, "about": {about}, "ask-text": {text}})
	}
	longest := strings.Repeat("ž", 2000)
	for _, try := range []struct{ name, text, says string }{
		{"empty", " \r\n ", "Write something here first."},
		{"a letter too long", longest + "ž", "Too long: 2 000 letters are the most, and there are 2 001."},
		{"not text", "a\xffb", "cannot be shown"},
		{"control signs", "a\x00b", "cannot be shown"},
	} {
		got := ask("lesson", "headspace", try.text)
		doc := parse(t, got.body)
		checkPage(t, try.name, doc)
		wantIn(t, try.name, got.body, try.says)
		field := byID(doc, "ask-text")
		if got.StatusCode != http.StatusUnprocessableEntity || attr(field, "aria-invalid") != "true" || attr(field, "aria-describedby") != "ask-text-wrong" {
			t.Errorf("%s = %d, want 422 with the field marked", try.name, got.StatusCode)
		}
		if try.name == "a letter too long" && text(field) != try.text {
			t.Errorf("%s: what was typed is not kept", try.name)
		}
	}
	for _, try := range [][2]string{{"lesson", "none"}, {"scenario", "headspace"}, {"recipe", "headspace"}, {"", ""}} {
		if got := ask(try[0], try[1], "?"); got.StatusCode != http.StatusNotFound {
			t.Errorf("ask about %q = %d, want 404", try, got.StatusCode)
		}
	}
	first := r.asks(longest)
	for i := 1; i < 20; i++ {
		r.asks(fmt.Sprint("Question ", i))
	}
	got := ask("lesson", "altitude", "One more?")
	if got.StatusCode != http.StatusUnprocessableEntity || text(byID(parse(t, got.body), "ask-text")) != "One more?" {
		t.Errorf("the 21st open question = %d, want 422 and the text kept", got.StatusCode)
	}
	wantIn(t, "the 21st", got.body, "20 questions here that wait for an answer", "extension service")
	r.does(first+"/answer", 200, "answer", "Yes.")
	if got := ask("lesson", "altitude", "One more?"); got.StatusCode != http.StatusOK {
		t.Errorf("after an answer = %d, want 200", got.StatusCode)
	}
	for text, says := range map[string]string{"": "Write something", strings.Repeat("a", 4001): "4 000 letters are the most, and there are 4 001"} {
		wantIn(t, "an answer", r.does(first+"/answer", 422, "answer", text).body, says)
		wantIn(t, "a wording", r.does(first+"/share", 422, "shared", text).body, strings.Replace(says, "4 000", "2 000", 1))
	}
}

// TestAskedOfWhoDeletesAllWork: the questions go, and what was shared stays without a
// trace of who asked.
func TestAskedOfWhoDeletesAllWork(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	shared, kept := r.asks("May I, of all people, use the oven?"), r.asks("And for my own ears?")
	r.does(shared+"/answer", 200, "answer", "No, and mind your brother.")
	r.does(shared+"/answer", 200, "answer", "No. Dry heat is slow.")
	r.does(shared+"/share", 200, "shared", "Does an oven do?")
	r.does(kept+"/answer", 200, "answer", "Only for you.")
	wantIn(t, "the page that asks", r.as(asker).get("/my-work/forget").body, "This stays, without your name", "what the class was shown of your questions, in the instructor’s words")
	r.post("/my-work/forget", nil)

	private := append(strings.Fields(asker), "of all people", "own ears", "your brother", "Only for you")
	if got := r.as(teacher).get(kept); got.StatusCode != http.StatusNotFound {
		t.Errorf("the question that was not shared = %d, want 404", got.StatusCode)
	}
	left := r.get(shared)
	checkPage(t, "what is left", parse(t, left.body))
	wantIn(t, "what is left", left.body, "has deleted their work", "Does an oven do?", "No. Dry heat is slow.")
	for _, look := range []struct{ who, at string }{
		{teacher, shared},
		{teacher, r.class},
		{teacher, r.class + "/questions"},
		{classmate, r.class},
		{classmate, r.class + "/questions"},
		{classmate, "/lessons/headspace"},
	} {
		got := r.as(look.who).get(look.at)
		checkPage(t, look.at, parse(t, got.body))
		wantNotIn(t, look.at+" of "+look.who, got.body, private...)
	}
	wantIn(t, "the instructor's list", r.as(teacher).get(r.class+"/questions").body, "Shared, and who asked is gone", "Does an oven do?")
	wantIn(t, "a classmate's lesson", r.as(classmate).get("/lessons/headspace").body, "Does an oven do?", "No. Dry heat is slow.")
	r.does(shared+"/answer", 404, "answer", "Still")
	r.does(shared+"/share", 404, "shared", "Still")
	r.does(shared+"/unshare", 200, "", "")
	wantNotIn(t, "a classmate's lesson after it was taken back", r.as(classmate).get("/lessons/headspace").body, "Does an oven do?")
}

// TestAskedByWhoLeaves: neither is shown the other's part any more.
func TestAskedByWhoLeaves(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	path := r.asks("Am I still here?")
	q, err := r.site.store.Asked(context.Background(), strings.TrimPrefix(r.class, "/class/"), path[strings.LastIndex(path, "/")+1:])
	if err != nil {
		t.Fatal(err)
	}
	r.does(r.class+"/students/"+q.Person+"/remove", 200, "", "")
	got := r.get(path)
	wantIn(t, "the question of who left", got.body, "Somebody who has left the class")
	wantNotIn(t, "the question of who left", got.body, append(strings.Fields(asker), q.Person)...)
	wantIn(t, "the class page", r.get(r.class).body, "Nothing waits for you.")
	wantNotIn(t, "the lesson of who left", r.as(asker).get("/lessons/headspace").body, "Am I still here", `id="ask"`)
}

// TestAskedInTwoClasses: who belongs to two chooses by the button, and sees both.
func TestAskedInTwoClasses(t *testing.T) {
	t.Parallel()
	r := newAskingClass(t)
	r.asks("In the first?")
	second := r.holdClass("Cornelius Marchbanks")
	class, err := r.site.store.Class(context.Background(), strings.TrimPrefix(second, "/class/"))
	if err != nil {
		t.Fatal(err)
	}
	r.as(asker).post("/join", url.Values{"code": {class.Code}})
	var actions []string
	walk(parse(t, r.get("/lessons/headspace").body), func(n *html.Node) {
		if a := attr(n, "formaction"); a != "" {
			actions = append(actions, a)
		}
	})
	if len(actions) != 2 || !contains(actions, r.class+"/questions") || !contains(actions, second+"/questions") {
		t.Fatalf("the buttons lead to %q", actions)
	}
	got := r.post(second+"/questions", url.Values{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {"In the second?"}})
	wantIn(t, "the lesson", got.body, "In the first?", "In the second?", "in "+class.Name)
	wantNotIn(t, "the first class's list", r.as(teacher).get(r.class+"/questions").body, "In the second?")
}

func TestHoldsName(t *testing.T) {
	t.Parallel()
	for _, try := range []struct {
		text, name string
		want       bool
	}{
		{"as Ann Lee said", "Ann Lee", true},
		{"as ANN\n lee, she said", "Ann Lee", true},
		{"(ann-lee)", "Ann Lee", true},
		{"Joann Leeward said", "Ann Lee", false},
		{"Ann said", "Ann Lee", false},
		{"ann Müller", "Ann Mu\u0308ller", true},
		{"any text", "…", false},
		{"", "Ann", false},
	} {
		if got := holdsName(try.text, try.name); got != try.want {
			t.Errorf("holdsName(%q, %q) = %v", try.text, try.name, got)
		}
	}
}

// BenchmarkLessonPageOfAMember is a lesson with what was asked under it.
func BenchmarkLessonPageOfAMember(b *testing.B) {
	s := newSite(b)
	ctx, now := b.Context(), time.Now()
	for _, err := range []error{
		s.store.AddPerson(ctx, store.Person{Visitor: "instructor", Role: store.Instructor, Name: "I", Password: "x", Joined: now}),
		s.store.AddClass(ctx, store.Class{ID: "class", Instructor: "instructor", Name: "C", Starts: "2026-08-20", Zone: "America/Denver", Weeks: 6, Code: "code", CodeUntil: now.Add(day), CodeOpen: true, Made: now}),
	} {
		if err != nil {
			b.Fatal(err)
		}
	}
	s.post("/join", url.Values{"code": {"code"}, "name": {asker}, "password": {testPassword}})
	for i := range mostOpen {
		s.post("/class/class/questions", url.Values{"kind": {"lesson"}, "about": {"headspace"}, "ask-text": {fmt.Sprint("Question ", i)}})
	}
	benchmark(b, func() (*http.Response, error) { return s.client.Get(s.URL + "/lessons/headspace") })
}
