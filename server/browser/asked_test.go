package browser_test

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rollingboil/server"
)

// askingClass makes a class with an instructor and a student in two tabs, the second of
// which it returns: the tabs share the server and no cookies.
func askingClass(b *tab) (student *tab, class string) {
	b.Helper()
	link, err := server.Invite(b.Context(), b.store, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	b.open(link, 200)
	b.send("main form", map[string]string{"name": "June Alder", "password": classPassword}, 200)
	b.open("/class/new", 200)
	b.send("main form", map[string]string{"name": "Harrow Creek, Thursdays", "starts": "2026-08-20", "altitude": "6240 ft"}, 200)
	class = b.path()
	code := b.text(".spelled")
	student = b.somebodyElse()
	student.look(phone, light)
	student.open("/join", 200)
	student.send("main form", map[string]string{"code": code, "name": "Tom Reed", "password": classPassword}, 200)
	return student, class
}

// writes types into an empty field of several lines.
func (b *tab) writes(key, text string) {
	b.Helper()
	b.do("write into "+key, chromedp.SendKeys(field(key), text))
}

// sound runs the checker and looks at sizes, on a telephone and a desk, light and dark.
func (b *tab) sound(name string) {
	b.Helper()
	ask[bool](b, axe+";true")
	ask[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true) ?? true`)
	for _, w := range []window{phone, wide} {
		for _, scheme := range []string{light, dark} {
			b.look(w, scheme)
			for _, fault := range slices.Concat(ask[[]string](b, axeFaults), ask[[]string](b, sizeFaults)) {
				b.Errorf("%s at %s, %d px wide, %s: %s", name, b.path(), w.width, scheme, fault)
			}
			if *screenshots != "" {
				b.picture(fmt.Sprintf("%s-%d-%s.png", name, w.width, scheme))
			}
		}
	}
	b.look(phone, light)
}

// TestAskedOnAPhone goes from a question under a lesson to the shared answer, on a
// telephone, and looks at each page on the way. The browser keeps the lesson for the
// kitchen, and nothing of what was asked under it.
func TestAskedOnAPhone(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	b.look(phone, light)
	student, class := askingClass(b)

	student.open("/lessons/headspace", 200)
	student.writes("ask-text", "Why is the headspace of jam so small?\n\nMine always ran over when I filled it higher, and a long word such as Marmeladenglasdeckelverschlussring stood in my notes.")
	student.follow("Ask", 200)
	if got := student.path(); got != "/lessons/headspace#ask" {
		t.Errorf("asking led to %s", got)
	}
	student.reads("#ask", "No answer yet.")
	student.sound("asked-lesson")
	if lines := ask[int](student, `document.querySelector("#ask .said").getClientRects().length && document.querySelector("#ask .said").innerText.split("\n").length`); lines != 3 {
		t.Errorf("the question is shown in %d lines, want the 3 that were typed", lines)
	}
	student.open("/scenarios/first-crushed-tomatoes?case=1", 200)
	student.sound("asked-scenario")

	b.open(class, 200)
	b.reads("main", "1 question to answer")
	b.sound("asked-class")
	b.follow("1 question to answer", 200)
	b.sound("asked-list")
	b.follow("Why is the headspace", 200)
	b.sound("asked-open")
	b.writes("answer", "Jam is thin when it is hot, and hardly swells.")
	b.follow("Answer", 200)
	b.send(`form[action$="/answer"]`, map[string]string{"answer": "Jam hardly swells.\nKeep the headspace that the recipe prints."}, 200)
	b.send(`form[action$="/share"]`, map[string]string{"shared": "tom reed asks why"}, 422)
	b.sound("asked-refused")
	b.send(`form[action$="/share"]`, map[string]string{"shared": "Why is the headspace of jam so small?"}, 200)
	b.sound("asked-shared")

	student.open(class, 200)
	student.reads("main", "An answer to your question")
	student.sound("asked-class-student")
	student.follow("An answer to your question", 200)
	student.reads("main", "Keep the headspace that the recipe prints.")
	student.sound("asked-list-student")
	student.open("/lessons/headspace", 200)
	student.send("#ask form", map[string]string{"ask-text": " "}, 422)
	student.sound("asked-unreadable")

	student.waitFor("the browser keeps pages", `navigator.serviceWorker.ready.then(() => navigator.serviceWorker.controller !== null)`)
	student.open("/lessons/headspace", 200)
	student.reads("#ask", "Keep the headspace that the recipe prints.")
	const kept = `caches.open("course-1").then(c => c.match("/lessons/headspace")).then(r => r ? r.text() : "")`
	student.waitFor("the lesson is kept", `(`+kept+`).then(text => text.includes("</article>") && text.includes("When in doubt"))`)
	if ask[bool](student, `(`+kept+`).then(text => /id="ask"|ran over|that the recipe prints/.test(text))`) {
		t.Error("what was asked is kept in the browser with the lesson")
	}
}
