package browser_test

import (
	"context"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rollingboil/quiz"
	"rollingboil/server"
)

const (
	classForm = `main form:not([action="/logout"])`
	password  = "seven copper kettles"
)

// classVisits lists the pages of accounts and classes, as everybody sees them.
func classVisits() []visit {
	return []visit{
		{"class-guest", at("/class", 200)},
		{"login", at("/login", 200)},
		{"login-wrong", func(b *tab) {
			workOf(b)
			b.open("/login", 200)
			b.send(classForm, map[string]string{"name": "Ada Field", "password": "something else"}, 422)
		}},
		{"join", at("/join", 200)},
		{"join-wrong", func(b *tab) {
			b.open("/join", 200)
			b.send(classForm, map[string]string{"code": "no such code", "password": "short"}, 422)
		}},
		{"new-password", at("/new-password", 200)},
		{"set-up", func(b *tab) { b.open(b.invite(), 200) }},
		{"account", func(b *tab) { b.instructor(); b.open("/account", 200) }},
		{"classes", func(b *tab) { b.school(); b.open("/class", 200) }},
		{"class-new-unreadable", func(b *tab) {
			b.instructor()
			b.open("/class/new", 200)
			b.send(classForm, map[string]string{"weeks": "0", "zone": "Denver", "altitude": "high up"}, 422)
		}},
		{"class-instructor", func(b *tab) { b.open(b.school(), 200) }},
		{"class-instructor-empty", func(b *tab) { b.instructor(); b.makeClass() }},
		{"class-student", func(b *tab) {
			path := b.school()
			b.open("/class", 200)
			b.follow("Log out", 200)
			b.open("/login", 200)
			b.send(classForm, map[string]string{"name": "Cora Lake", "password": password}, 200)
			b.open(path, 200)
		}},
		{"class-code", func(b *tab) { b.open(b.school()+"/code", 200) }},
		{"class-code-closed", func(b *tab) { b.open(b.school()+"/code", 200); b.follow("Close the class", 200) }},
		{"class-assign", func(b *tab) { b.open(b.school()+"/assign", 200) }},
		{"class-assign-wrong", func(b *tab) {
			b.open(b.school()+"/assign", 200)
			b.send(classForm, map[string]string{"to": "some", "due": "2020-01-01T18:00"}, 422)
		}},
		{"class-student-of-mine", func(b *tab) {
			b.open(b.school(), 200)
			b.follow("Cora Lake", 200)
			b.follow("Make a code", 200)
		}},
	}
}

// invite is the path that makes an instructor.
func (b *tab) invite() string {
	b.Helper()
	link, err := server.Invite(context.Background(), b.store, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	return link
}

// instructor makes Ada Field an instructor and logs her in.
func (b *tab) instructor() {
	b.Helper()
	b.open(b.invite(), 200)
	b.send(classForm, map[string]string{"name": "Ada Field", "password": password}, 200)
}

// makeClass makes a class and gives its path and its code.
func (b *tab) makeClass() (path, code string) {
	b.Helper()
	b.open("/class/new", 200)
	b.send(classForm, map[string]string{"name": "Autumn class at the Grange", "altitude": "6240 ft", "canning-day": "2030-09-26"}, 200)
	return b.path(), b.text(".spelled")
}

// school is a class with one student, Cora Lake, who has worked, and two assignments. Ada
// Field, who holds it, is logged in at the end.
func (b *tab) school() string {
	b.Helper()
	b.instructor()
	path, code := b.makeClass()
	b.open("/class", 200)
	b.follow("Log out", 200)
	workOf(b)
	b.open("/join?code="+code, 200)
	b.send(classForm, map[string]string{"name": "Cora Lake", "password": password}, 200)
	b.open("/class", 200)
	b.follow("Log out", 200)
	b.open("/login", 200)
	b.send(classForm, map[string]string{"name": "Ada Field", "password": password}, 200)
	for _, what := range []string{"lesson headspace", "batch tomatoes-crushed"} {
		b.open(path+"/assign", 200)
		b.send(classForm, map[string]string{"what": what, "note": "Look at the rim of each jar before you fill it."}, 200)
	}
	return path
}

// TestClassFromLinkToWork: an instructor makes a class through the link; a student who
// has answered already joins on a telephone, with the keyboard; something is assigned,
// done, and seen by the instructor.
func TestClassFromLinkToWork(t *testing.T) {
	t.Parallel()
	ada := openTab(t)
	ada.open(ada.invite(), 200)
	ada.typeIn("name", "Ada Field")
	ada.typeIn("password", password)
	ada.follow("Make the account", 200)
	ada.follow("Make a class", 200)
	ada.typeIn("name", "Autumn class at the Grange")
	ada.typeIn("altitude", "up here")
	ada.follow("Make the class", 422)
	ada.reads("#altitude-wrong", "Write it as 6 240 ft or 1 902 m.")
	if got := ask[string](ada, `document.getElementById("name").value`); got != "Autumn class at the Grange" {
		t.Errorf("the name comes back as %q", got)
	}
	ada.typeIn("altitude", "6240 ft")
	ada.follow("Make the class", 200)
	class := ada.path()
	code := ada.text(".spelled")

	// The student, by keyboard at 390 px, with one answer from before.
	cora := ada.somebodyElse()
	cora.look(phone, light)
	asked := questionOf(quiz.Choice)
	right, _ := answersTo(asked)
	answering(asked, right, 200)(cora)
	cora.tabTo("Class", `matches("header a[href='/class']")`)
	cora.enter("go to the class", 200)
	cora.tabTo("joining", `textContent === "Join with a class code"`)
	cora.enter("join", 200)
	for _, f := range []struct{ key, typed string }{{"code", strings.ToUpper(strings.ReplaceAll(code, "-", " "))}, {"name", "Cora Lake"}, {"password", password}} {
		cora.tabTo(f.key, `id === "`+f.key+`"`)
		cora.press(f.typed)
	}
	cora.enter("send it with Enter", 200)
	cora.reads("h1", "Autumn class at the Grange")
	cora.reads("main", "Nothing is assigned to you.")
	if ask[bool](cora, `document.scrollingElement.scrollWidth > innerWidth`) {
		t.Error("the class is wider than the telephone")
	}
	if lines := ask[int](cora, `new Set([...document.querySelectorAll("header a:not(.name)")].map(a => a.offsetTop)).size`); lines > 2 {
		t.Errorf("the navigation takes %d lines of the telephone", lines)
	}

	// Assigned with the mouse, and seen.
	ada.open(class, 200)
	ada.reads("main table", "1 of 1")
	ada.follow("Assign something", 200)
	lesson, _ := course.Lessons.Lesson("headspace")
	ada.do("set what", chromedp.Focus(chromedp.CSS("#what")))
	ada.set(classForm, "what", "lesson headspace")
	ada.set(classForm, "note", "Measure it with a ruler once.")
	ada.follow("Assign it", 200)
	ada.reads("main", lesson.Title)
	cora.open(class, 200)
	cora.reads("main", "Measure it with a ruler once.")
	cora.tabTo("the lesson", `matches("main a[href='/lessons/headspace']")`)
	cora.enter("open the lesson", 200)
	cora.reads("h1", lesson.Title)

	// The code, with its picture, at another window: nothing has to be scrolled sideways.
	ada.look(phone, dark)
	ada.open(class+"/code", 200)
	ada.reads(".spelled", code)
	if width := ask[float64](ada, `document.querySelector(".code-picture").getBoundingClientRect().width`); width < 150 || width > 390 {
		t.Errorf("the picture of the code is %v px wide", width)
	}
}
