package browser_test

import (
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/bench"
)

// visit is one page as somebody sees it, and how to get there.
type visit struct {
	name  string
	reach func(*tab)
}

// at opens a path.
func at(path string, status int64) func(*tab) {
	return func(b *tab) { b.open(path, status) }
}

// checked sends a plan on the page "Check a plan".
func checked(plan map[string]string, status int64) func(*tab) {
	return func(b *tab) {
		b.open("/plan", http.StatusOK)
		b.send(planForm, plan, status)
	}
}

const planForm = `form[action="/plan#report"]`

// graded sends a plan and wants the heading of the verdict.
func graded(plan map[string]string, verdict string) func(*tab) {
	return func(b *tab) {
		checked(plan, http.StatusOK)(b)
		b.reads("#report .verdict", verdict)
	}
}

// The plan of crushed tomatoes that the guides print, USDA Complete Guide 2015,
// Guide 3, p. 3-8 for the time and p. 3-7 for the acid.
func tomatoes() map[string]string {
	return map[string]string{
		"food": "tomatoes-crushed", "pack": "hot", "method": "boiling-water", "jar": "quart", "altitude": "6240 ft",
		"time": "60 min", "headspace": "1/2 in", "acid.kind": "bottled-lemon-juice", "acid.per_jar": "2 tbsp",
	}
}

// but is a plan with some fields said otherwise.
func but(plan map[string]string, changes ...string) map[string]string {
	for i := 0; i < len(changes); i += 2 {
		plan[changes[i]] = changes[i+1]
	}
	return plan
}

// visits lists every kind of page in every state a visitor can bring it to.
func visits() []visit {
	list := []visit{
		{"home", at("/", 200)},
		{"lessons", at("/lessons", 200)},
		{"scenarios", at("/scenarios", 200)},
		{"plan", at("/plan", 200)},
		{"plan-unreadable", checked(but(tomatoes(), "altitude", "high up", "time", "an hour", "headspace", "1/2", "acid.per_jar", "a splash"), 422)},
		{"plan-as-tested", graded(tomatoes(), "As tested, as far as you told us")},
		{"plan-unsafe", graded(but(tomatoes(), "acid.kind", "none", "acid.per_jar", "", "time", "45 min", "rest", "0 min", "cooling.forced", "true", "ph.reading", "4.2", "ph.by", "strip"), "Not safe as written")},
		{"plan-fix-first", graded(but(tomatoes(), "jars.condition", "nicked", "lids.state", "used"), "Fix this first")},
		{"plan-no-tested-process", graded(but(tomatoes(), "jar", "half-gallon"), "No tested process")},
		{"plan-incomplete", graded(map[string]string{"food": "tomatoes-crushed"}, "It cannot be judged yet")},
		{"plan-pressure", graded(map[string]string{"food": "snap-beans", "pack": "hot", "method": "pressure", "gauge": "dial", "jar": "pint", "altitude": "3400 ft", "time": "20 min", "pressure": "11 psi", "headspace": "1 in"}, "No")},
		{"times", at("/times", 200)},
		{"times-found", at("/times?find=tomato", 200)},
		{"times-nothing-found", at("/times?find=pudding", 200)},
		{"times-food", at("/times/tomato-juice", 200)},
		{"times-food-at-altitude", at("/times/tomato-juice?altitude=6240+ft", 200)},
		{"times-food-altitude-unreadable", at("/times/tomato-juice?altitude=high", 422)},
		{"times-untested", at("/times/"+course.Grader.Table().UntestedFoods()[0].ID, 200)},
		{"rules", at("/rules", 200)},
		{"rule", at("/rules/"+course.Grader.Rules().Rules()[0].ID, 200)},
		{"sources", at("/sources", 200)},
		{"writing", at("/writing", 200)},
		{"writing-lesson", at("/writing/lesson", 200)},
		{"writing-question", at("/writing/question", 200)},
		{"writing-scenario", at("/writing/scenario", 200)},
		{"work-empty", at("/my-work", 200)},
		{"work", func(b *tab) { workOf(b); b.open("/my-work", 200) }},
		{"work-plan", func(b *tab) { workOf(b); b.open("/my-work", 200); b.follow("Crushed tomatoes", 200) }},
		{"work-student", func(b *tab) { b.newBatch(tomatoes()); b.open("/my-work", 200) }},
		{"work-instructor", func(b *tab) { classWithAnswers(b, 0); b.open("/my-work", 200) }},
		{"work-forget", at("/my-work/forget", 200)},
		{"work-forget-student", func(b *tab) { b.newBatch(tomatoes()); b.open("/my-work/forget", 200) }},
		{"work-forget-instructor", func(b *tab) { classWithAnswers(b, 0); b.open("/my-work/forget", 200) }},
		{"bench", at("/bench", 200)},
		{"bench-unreadable", at("/bench/gauge?altitude=high+up&pressure=11", 422)},
		{"bench-cooling", at("/bench/heating?then=cooling", 200)},
		{"bench-compare", at("/bench/seals?a=2%2F14&b=0%2F14", 200)},
		{"ear", at("/bench/ear?round=7", 200)},
		{"ear-see", at("/bench/ear?round=7&how=see", 200)},
		{"ear-press", at("/bench/ear?round=7&how=press", 200)},
		{"ear-told", func(b *tab) { b.open("/bench/ear?round=7", 200); b.follow("It is not sealed", 200) }},
		{"class-results-empty", func(b *tab) { b.open(classWithAnswers(b, 0)+"/results", 200) }},
		{"class-results", func(b *tab) { b.open(classWithAnswers(b, 24)+"/results", 200) }},
		{"class-results-week", func(b *tab) { b.open(classWithAnswers(b, 3)+"/results?week=1", 200) }},
		{"class-together-too-few", func(b *tab) { together(b, 3) }},
		{"class-together", func(b *tab) { together(b, 24) }},
		{"not-found", at("/nowhere", 404)},
	}
	for _, d := range bench.New(course.Grader.Table()).Demos() {
		list = append(list, visit{"bench-" + d.Name, at("/bench/"+d.Name, 200)})
	}
	for _, l := range course.Lessons.Lessons() {
		list = append(list, visit{"lesson-" + l.Slug, at("/lessons/"+l.Slug, 200)})
	}
	for _, kind := range []string{quiz.Choice, quiz.Choices, quiz.Number, quiz.Order, quiz.Match} {
		asked := questionOf(kind)
		if asked == nil {
			continue // no lesson asks one
		}
		right, wrong := answersTo(asked)
		list = append(
			list,
			visit{"answer-right-" + kind, answering(asked, right, 200)},
			visit{"answer-wrong-" + kind, answering(asked, wrong, 200)},
			visit{"answer-none-" + kind, answering(asked, nil, 422)},
		)
	}
	for _, kind := range scenarios.ScenarioKinds() {
		first := scenarioState{firstOf(kind)}
		list = append(
			list,
			visit{"scenario-" + kind, first.open},
			visit{"scenario-right-" + kind, first.right},
			visit{"scenario-wrong-" + kind, first.wrong},
			visit{"scenario-unreadable-" + kind, first.unreadable},
			visit{"work-attempt-" + kind, first.kept},
		)
	}
	return slices.Concat(list, classVisits(), batchVisits(), trialVisits(), materialVisits())
}

// scenarioState brings a scenario's page to the states in which it can be.
type scenarioState struct{ *scenarios.Scenario }

func (s scenarioState) open(b *tab) { b.open("/scenarios/"+s.Slug+"?case=1", 200) }

// last is the form that counts, filled in as it is worked out.
func (s scenarioState) last(b *tab) round {
	s.open(b)
	rounds := roundsOf(b.caseHere(s.Scenario))
	r := rounds[len(rounds)-1]
	b.open("/scenarios/"+s.Slug+"?case=1"+r.at, 200)
	return r
}

func (s scenarioState) right(b *tab) {
	r := s.last(b)
	b.send(r.form, r.fields, 200)
	b.reads("main", r.says)
	ask[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true) ?? true`)
}

func (s scenarioState) wrong(b *tab) {
	r := s.last(b)
	for name := range r.fields {
		switch {
		case s.Kind == scenarios.WhatNow:
			r.fields[name] = "reprocess"
		case strings.HasSuffix(name, "time"):
			r.fields[name] = "1 min"
		}
	}
	if s.Kind == scenarios.Faults {
		r.fields = map[string]string{"wrong-headspace": "wrong"}
	}
	b.send(r.form, r.fields, 200)
	ask[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true) ?? true`)
}

func (s scenarioState) unreadable(b *tab) {
	r := s.last(b)
	fields := map[string]string{
		scenarios.Worked: strings.TrimSuffix(strings.TrimPrefix(r.form, "#"), " form") + "-time", scenarios.PlanIt: "time", scenarios.Faults: "fix-time",
	}
	switch s.Kind {
	case scenarios.WhatNow: // nothing can be misspelled, but left out
		r.fields = nil
	case scenarios.Faults:
		r.fields = map[string]string{"wrong-time": "wrong", fields[s.Kind]: "until noon"}
	default:
		r.fields[fields[s.Kind]] = "until noon"
	}
	b.send(r.form, r.fields, 422)
}

func (s scenarioState) kept(b *tab) {
	s.wrong(b)
	b.open("/my-work", 200)
	b.follow(s.Title, 200)
}

// workOf leaves one of everything behind.
func workOf(b *tab) {
	asked := questionOf(quiz.Choice)
	right, _ := answersTo(asked)
	answering(asked, right, 200)(b)
	checked(tomatoes(), 200)(b)
	b.open("/scenarios/"+firstOf(scenarios.PlanIt).Slug, 200)
	b.send(`form[action$="#report"]`, map[string]string{"pack": "hot", "method": "boiling-water"}, 200)
}

// questionOf puts the first question of the kind that stands in a lesson, as the
// lesson does; nil if there is none.
func questionOf(kind string) *quiz.Asked {
	for _, l := range course.Lessons.Lessons() {
		for _, id := range l.Questions {
			if q, ok := course.Bank.Question(id); ok && q.Kind == kind && q.Lesson == l.Slug {
				return put(q)
			}
		}
	}
	return nil
}

// put asks a question as its lesson does.
func put(q *quiz.Question) *quiz.Asked {
	asked, err := q.Ask(0)
	if err != nil {
		panic(err) // a course that loads can be asked
	}
	return asked
}

// answersTo gives the fields of a right answer to a question and of a wrong one.
func answersTo(asked *quiz.Asked) (right, wrong map[string][]string) {
	right, wrong = map[string][]string{}, map[string][]string{}
	switch asked.Question.Kind {
	case quiz.Number:
		right["answer"] = asked.Key()
		wrong["answer"] = []string{"1 " + asked.Question.Unit}
		if result, err := asked.Mark(wrong["answer"]); err == nil && result.Right {
			wrong["answer"] = []string{"2 " + asked.Question.Unit}
		}
	case quiz.Order:
		for i, item := range asked.Items {
			right["place-"+item.Key] = []string{fmt.Sprint(1 + slices.Index(asked.Key(), item.Text))}
			wrong["place-"+item.Key] = []string{fmt.Sprint(i + 1)} // shown in a wrong order
		}
	case quiz.Match:
		for _, item := range asked.Items {
			right["with-"+item.Key] = []string{item.With}
			wrong["with-"+item.Key] = []string{asked.Withs[0]} // not all belong to one
		}
	default:
		right["answer"] = asked.Key()
		for _, o := range asked.Options {
			if !o.Right {
				wrong["answer"] = []string{o.Text}
			}
		}
	}
	return right, wrong
}

// answering opens the lesson and sends an answer to its question.
func answering(asked *quiz.Asked, answer map[string][]string, status int64) func(*tab) {
	return func(b *tab) {
		b.open("/lessons/"+asked.Question.Lesson, 200)
		form := fmt.Sprintf(`[id="q-%s"] form`, asked.Question.ID)
		for name, values := range answer {
			for _, value := range values {
				b.set(form, name, value)
			}
		}
		b.send(form, nil, status)
		want := ".wrong"
		if status == 200 {
			want = ".feedback"
		}
		if b.text(form+" "+want) == "" {
			b.Fatalf("%s: nothing is said to the answer %q", b.path(), answer)
		}
	}
}

// TestAxe looks at every page in two sizes and two color schemes. The
// accessibility checker finds nothing, nothing has to be scrolled sideways, and
// nothing to press is smaller than 24 by 24 px.
func TestAxe(t *testing.T) {
	t.Parallel()
	for _, v := range visits() {
		t.Run(v.name, func(t *testing.T) {
			t.Parallel()
			b := openTab(t)
			v.reach(b)
			// The checker comes in through the browser, not through the page,
			// whose policy runs nothing that is not its own.
			ask[bool](b, axe+";true")
			for _, w := range []window{wide, phone} {
				for _, scheme := range []string{light, dark} {
					b.look(w, scheme)
					in := fmt.Sprintf("%s, %d px wide, %s", b.path(), w.width, scheme)
					for _, fault := range ask[[]string](b, axeFaults) {
						t.Errorf("%s: %s", in, fault)
					}
					if scheme == light { // what is where does not hang on the color
						for _, fault := range ask[[]string](b, sizeFaults) {
							t.Errorf("%s: %s", in, fault)
						}
					}
					if *screenshots != "" {
						b.picture(fmt.Sprintf("%s-%d-%s.png", v.name, w.width, scheme))
					}
				}
			}
		})
	}
}

// axeFaults runs the checker and lists what it finds, one line for each element.
const axeFaults = `axe.run(document, {
	runOnly: {type: "tag", values: ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]},
	resultTypes: ["violations"],
}).then(found => found.violations.flatMap(v => v.nodes.map(n =>
	v.id + ": " + n.html.slice(0, 200) + ": " + n.failureSummary.replace(/\s+/g, " "))))`

// sizeFaults lists what sticks out of the page and what is too small to press. A
// link in running text is as high as its line, which is allowed, since the
// text around it keeps others away: so a link counts as one in running text
// only if its block has words that are not links. A tick is pressed by the
// label around it.
const sizeFaults = `(() => {
	const faults = [];
	const root = document.scrollingElement;
	if (root.scrollWidth > innerWidth) {
		faults.push("the page is " + root.scrollWidth + " px wide in a window of " + innerWidth);
	}
	const running = link => {
		if (getComputedStyle(link).display !== "inline") return false;
		let block = link.parentElement;
		while (getComputedStyle(block).display.startsWith("inline")) block = block.parentElement;
		const words = document.createTreeWalker(block, NodeFilter.SHOW_TEXT);
		while (words.nextNode()) {
			if (!words.currentNode.parentElement.closest("a") && /\p{L}/u.test(words.currentNode.data)) return true;
		}
		return false;
	};
	for (const e of document.querySelectorAll("a[href], button, input:not([type=hidden]), select, summary")) {
		if (!e.checkVisibility() || e.localName === "a" && running(e)) continue;
		const pressed = ["checkbox", "radio"].includes(e.type) ? e.closest("label") ?? e : e;
		const r = pressed.getBoundingClientRect();
		if (r.width < 24 || r.height < 24) {
			faults.push(r.width.toFixed(1) + " by " + r.height.toFixed(1) + " px is too small to press: " + e.outerHTML.slice(0, 120));
		}
	}
	return faults;
})()`

// picture writes the whole page into the folder for pictures.
func (b *tab) picture(name string) {
	b.Helper()
	image, err := chromedp.Run(b.ctx, chromedp.FullScreenshot(100))
	if err == nil {
		err = os.MkdirAll(*screenshots, 0o755)
	}
	if err == nil {
		err = os.WriteFile(filepath.Join(*screenshots, name), image, 0o644)
	}
	if err != nil {
		b.Fatalf("write a picture: %v", err)
	}
}
