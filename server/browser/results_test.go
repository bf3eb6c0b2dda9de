package browser_test

import (
	"fmt"
	"strings"
	"time"

	"rollingboil/quiz"
	"rollingboil/server"
	"rollingboil/server/store"
)

// classWithAnswers makes an instructor, who is logged in then, and a class with members who have
// answered questions, some of them wrong; it returns the address of the class.
func classWithAnswers(b *tab, members int) string {
	b.Helper()
	link, err := server.Invite(b.ctx, b.store, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	b.open(link, 200)
	b.send("main form", map[string]string{"name": "Ida Field", "password": "kettle harbor velvet"}, 200)
	b.open("/class/new", 200)
	b.send("main form", map[string]string{"name": "Thursday evening at the Grange", "altitude": "6240 ft"}, 200)
	at := b.path()
	names := []string{"Ann Orchard", "Ben Orchard-Featherstonehaugh", "Cleo Field", "Dora Lane", "Emil Brook"}
	for i := range members {
		p := store.Person{Visitor: store.NewID(), Role: store.Student, Name: fmt.Sprintf("%s %d", names[i%len(names)], i), Password: "none that fits", Joined: time.Now()}
		if err := b.store.Join(b.ctx, strings.TrimPrefix(at, "/class/"), p, false); err != nil {
			b.Fatal(err)
		}
		answersOf(b, p.Visitor, i)
	}
	return at
}

// answersOf keeps answers on two days: everybody is right about something else.
func answersOf(b *tab, visitor string, i int) {
	b.Helper()
	for j, q := range course.Bank.Questions() {
		if j >= 40 || q.Kind != quiz.Choice {
			continue
		}
		for day := range 2 {
			a := store.Answer{Visitor: visitor, Question: q.ID, Seed: uint64(1 + day), Lesson: q.Lesson, Right: (i*7+j*3)%10 > 2+j%4, At: time.Now().Add(time.Duration(day-1) * 24 * time.Hour)}
			asked, err := q.Ask(a.Seed)
			if err != nil {
				b.Fatal(err)
			}
			right, wrong := answersTo(asked)
			a.Given = right["answer"]
			if !a.Right {
				a.Given = wrong["answer"]
			}
			if err := b.store.SaveAnswer(b.ctx, a); err != nil {
				b.Fatal(err)
			}
		}
	}
}

// together switches on what the class sees of itself, and looks at it.
func together(b *tab, members int) {
	b.Helper()
	at := classWithAnswers(b, members)
	b.open(at+"/results", 200)
	b.send(`form[action$="/together"]`, map[string]string{}, 200)
	b.open(at+"/together", 200)
}
