package server

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
)

// TestTypedFiguresAreNotPublished: what an instructor writes teaches no figure that is not
// looked up, in a question, a number to type or a lesson. The text itself is kept.
func TestTypedFiguresAreNotPublished(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	number := `questions:
  - id: grange-number
    lesson: headspace
    competencies: [process-time]
    kind: number
    stem: How long do quarts of crushed tomatoes boil at the Grange?
    unit: min
    answer: {is: "20", feedback: That is the tested time.}
    wrong:
      - {is: "60", feedback: You may think more is better. It is not., misconception: longer-is-always-better}
    why: The table has the time.
    source: [usda-guide-3]
    page: Guide 3, p. 3-8
`
	lesson := func(body string) func(string) string {
		return func(text string) string { return text + "\n" + body + "\n" }
	}
	question := func(old, with string) func(string) string {
		return func(string) string { return strings.Replace(ownQuestion, old, with, 1) }
	}
	materials := map[string]string{
		"lesson":   r.begins("lesson", "start lesson.md", "own-lesson"),
		"question": r.begins("question", "start question-choice.yaml", "grange-rims"),
		"number":   r.begins("question", "start question-number.yaml", "grange-number"),
	}
	for name, tc := range map[string]struct {
		what   string
		change func(string) string
		want   string
	}{
		"a right option":          {"question", question("text: Food climbs out under the lid", "text: 20 minutes"), `the figure "20 minutes" is typed in`},
		"what is given, as right": {"question", question("text: Food climbs out under the lid", "text: Boil it for {{given('20 minutes')}}"), "is typed in"},
		"feedback":                {"question", question("this jar has no room for it", "this jar needs 2 inches of headspace"), `the figure "2 inches" is typed in`},
		"why":                     {"question", question("Food needs room", "After {{inMin(20)}} food needs room"), "is typed in"},
		"a stem":                  {"question", question("to the rim.", "to the rim, and it boiled twenty minutes."), `the figure "twenty minutes" is typed in`},
		"a number":                {"number", func(string) string { return number }, "the answer, in min, is looked up"},
		"a table":                 {"lesson", lesson("| Jar | Minutes |\n|---|---|\n| pint | 20 |"), `the figure "20" is typed in`},
		"a link":                  {"lesson", lesson("Boil quarts 20 [minutes](/lessons/altitude)."), `the figure "20 minutes" is typed in`},
		"a length":                {"lesson", lesson("Leave a headspace of [[length 2 in]]."), "[[length ...]] gives a length of an example"},
	} {
		got := r.changes(materials[tc.what], "publish", tc.change)
		if !strings.Contains(mainText(t, got), tc.want) {
			t.Errorf("%s: %d, want %q in\n%s", name, got.StatusCode, tc.want, mainText(t, got))
		}
	}
	r.as(r.ann)
	for _, path := range []string{"/practice/grange-rims", "/practice/grange-number", "/lessons/own-lesson"} {
		r.wants(r.get(path), http.StatusNotFound)
	}
	// What somebody thinks may be said, as such.
	got := r.changes(materials["question"], "publish", question("text: Nothing, because", "text: It needs {{given('20 minutes')}} more, because"))
	r.wants(got, http.StatusOK)
	r.as(r.ann)
	if page := r.get("/practice/grange-rims"); page.StatusCode != http.StatusOK || !strings.Contains(mainText(t, page), "It needs 20 minutes more") {
		t.Errorf("the question is not asked: %d %s", page.StatusCode, mainText(t, page))
	}
}

// TestScenarioThatIsTooLargeCanBeMended: what cannot be checked is told at the text, its page
// opens, and a smaller one is published.
func TestScenarioThatIsTooLargeCanBeMended(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("scenario", "start scenario-what-now.md", "own-jars")
	jars := func(n, pick int) func(string) string {
		return func(string) string {
			var list strings.Builder
			for i := range n {
				fmt.Fprintf(&list, "  - {sealed: %v, says: One of them., lid: down}\n", i%2 == 0)
			}
			return fmt.Sprintf("---\ntitle: Own jars\nkind: what-now\nminutes: 8\ncompetencies: [seal-check]\nkitchen: {food: peaches, jar: pint, altitude: 500 ft}\nchoices: [{method: boiling-water, pack: hot}]\nlooked: [14 h]\npick: %d\njars:\n%sexercises: [unsealed-jar-shelved]\n---\n\nLook at the jars.\n", pick, list.String())
		}
	}
	got := r.changes(at, "keep", jars(70, 35))
	if r.wants(got, http.StatusOK); !strings.Contains(mainText(t, got), "there are more than 1000 cases") {
		t.Errorf("the page does not tell what is wrong:\n%s", mainText(t, got))
	}
	r.wants(r.get(at), http.StatusOK)
	r.wants(r.changes(at, "publish", jars(4, 4)), http.StatusOK)
	r.as(r.ann)
	r.wants(r.get("/scenarios/own-jars"), http.StatusOK)
}

// TestLastCaseIsCheckedBeforePublishing: of nine hundred kitchens the second half has no
// tested process.
func TestLastCaseIsCheckedBeforePublishing(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	at := r.begins("scenario", "start scenario-plan.md", "many")
	var heights []string
	for i := range 450 {
		heights = append(heights, fmt.Sprintf("%d ft", 6010+i))
	}
	src := "---\ntitle: Many\nkind: plan\nminutes: 8\ncompetencies: [altitude]\nkitchen: {food: tomatoes-crushed, jar: quart}\nchoices: [{method: boiling-water, pack: hot}]\ndraw:\n  altitude: [" + strings.Join(heights, ", ") +
		"]\n  prepared: [peeled, unpeeled]\ntemptation: {time: 5 min}\nexercises: [time-short]\n---\n\nWrite the plan.\n"
	got := r.changes(at, "publish", func(string) string { return src })
	if !strings.Contains(mainText(t, got), "case 450: the worked solution is") {
		t.Errorf("%d: %s", got.StatusCode, mainText(t, got))
	}
	r.as(r.ann)
	r.wants(r.get("/scenarios/many"), http.StatusNotFound)
}

// TestQuestionIsNotNamedNext: under that name the next question is found.
func TestQuestionIsNotNamedNext(t *testing.T) {
	t.Parallel()
	r := newClassroom(t)
	r.as(r.instructor)
	got := r.post("/class/"+r.class+"/materials/new", url.Values{"kind": {"question"}, "from": {"start question-choice.yaml"}, "called": {"next"}})
	if r.wants(got, http.StatusUnprocessableEntity); !strings.Contains(mainText(t, got), "A question cannot be called next") {
		t.Errorf("got %s", mainText(t, got))
	}
	r.begins("lesson", "start lesson.md", "next") // another thing may be
}

// TestChecksThatPanicAreTold: a fault of the program's own is told at the text and leaves the
// page open.
func TestChecksThatPanicAreTold(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	own := ownText{}
	own.Kind, own.Name = "scenario", "own-jars"
	err := s.server.guarded(own, func() error { panic("this and that") })
	problems := problemsIn(err)["scenario own-jars"]
	if len(problems) != 1 || !strings.Contains(problems[0].Says, "the checks fail on this text") || strings.Contains(problems[0].Says, "this and that") {
		t.Errorf("got %v", problems)
	}
}
