package server

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"unicode/utf8"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// TestBank: the shipped questions can all be asked, each lesson has some, and each
// thing that a canner must be able to do is asked about.
func TestBank(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	if err := course.Bank.Check(); err != nil {
		t.Error(err)
	}
	kinds, competencies := map[string]int{}, map[string]int{}
	for _, q := range course.Bank.Questions() {
		kinds[q.Kind]++
		for _, c := range q.Competencies {
			competencies[c]++
		}
		for seed := range uint64(25) {
			asked, err := q.Ask(seed)
			if err != nil {
				t.Fatal(err)
			}
			if result, err := asked.Mark(asked.Key()); err != nil || !result.Right {
				t.Errorf("%s, seed %d: the key %q is marked %+v, %v", q.ID, seed, asked.Key(), result, err)
			}
			// An answer comes back from a page's form as it was given.
			given, err := asked.Form(asked.Fields(asked.Key()))
			if err != nil || !slices.Equal(given, asked.Key()) {
				t.Errorf("%s, seed %d: the key %q comes back from a form as %q, %v", q.ID, seed, asked.Key(), given, err)
			}
		}
	}
	for _, kind := range []string{quiz.Choice, quiz.Choices, quiz.Number} {
		if kinds[kind] < 5 {
			t.Errorf("%d questions are of the kind %s, want 5", kinds[kind], kind)
		}
	}
	for _, c := range rules.Competencies() {
		if competencies[c] == 0 {
			t.Errorf("no question is about %s", c)
		}
	}
	total := 0
	for _, l := range course.Lessons.Lessons() {
		n := len(course.Bank.Lesson(l.Slug))
		total += n
		if n < 4 {
			t.Errorf("%s has %d questions, want 4", l.Slug, n)
		}
	}
	if got := len(course.Bank.Questions()); got != total {
		t.Errorf("%d questions, of which %d belong to a lesson", got, total)
	}
}

// TestEachCompetencyIsTaughtAndTried: each thing that a canner must be able to do has a
// lesson, questions, a scenario and a rule that watches over it. One that somebody may
// come to harm by is asked about in three ways or more, so that a missed question can
// come back in another one.
func TestEachCompetencyIsTaughtAndTried(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range rules.Competencies() {
		taught := map[string]bool{}
		for _, l := range course.Lessons.Lessons() {
			if slices.Contains(l.Competencies, c) {
				taught[l.Slug] = true
			}
		}
		if len(taught) == 0 {
			t.Errorf("no lesson teaches %s", c)
		}
		kinds, asked := map[string]bool{}, 0
		for _, q := range course.Bank.Questions() {
			if slices.Contains(q.Competencies, c) {
				kinds[q.Kind] = true
				asked++
			}
		}
		if asked < 3 {
			t.Errorf("%d questions are about %s, want 3 or more", asked, c)
		}
		if slices.Contains(rules.Critical(), c) && len(kinds) < 3 {
			t.Errorf("%s is asked about in the ways %q, want 3 or more", c, slices.Sorted(maps.Keys(kinds)))
		}
		if !slices.ContainsFunc(course.Scenarios, func(s *scenarios.Scenario) bool { return slices.Contains(s.Competencies, c) }) {
			t.Errorf("no scenario is about %s", c)
		}
		if !slices.ContainsFunc(course.Grader.Rules().Rules(), func(r rules.Rule) bool { return taught[r.Lesson] }) {
			t.Errorf("no rule leads to a lesson on %s", c)
		}
	}
}

// TestEachSourceIsUsed: a publication in the list that nothing rests on would only look
// like care.
func TestEachSourceIsUsed(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	set, used := course.Grader.Rules(), map[string]bool{}
	use := func(ids ...string) {
		for _, joined := range ids {
			for id := range strings.SplitSeq(joined, ",") {
				used[strings.TrimSpace(id)] = true
			}
		}
	}
	for _, r := range set.Rules() {
		use(r.Source)
	}
	for _, m := range set.Misconceptions() {
		use(m.Source)
	}
	for _, d := range set.Disagreements() {
		for _, r := range d.Readings {
			use(r.Source)
		}
	}
	for _, l := range course.Lessons.Lessons() {
		use(l.Sources...)
	}
	for _, q := range course.Bank.Questions() {
		use(q.Sources...)
	}
	for _, u := range course.Grader.Table().UntestedFoods() {
		use(u.Sources...)
	}
	for _, s := range set.Sources() {
		if !used[s.ID] {
			t.Errorf("nothing rests on the source %s", s.ID)
		}
	}
}

// TestRightOptionDoesNotStandOut: a learner who knows nothing must not find the right option by its length or its
// place: by chance it is the longest or the shortest of four in one case of four.
func TestRightOptionDoesNotStandOut(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	longest, shortest, choices := 0, 0, 0
	places := map[int]int{}
	for _, q := range course.Bank.Questions() {
		if q.Kind != quiz.Choice {
			continue
		}
		choices++
		a, err := q.Ask(0)
		if err != nil {
			t.Fatal(err)
		}
		if n := len(a.Options); n < 3 || n > 5 {
			t.Errorf("%s has %d options, want 3 to 5", q.ID, n)
		}
		places[slices.IndexFunc(a.Options, func(o quiz.Option) bool { return o.Right })]++
		right := 0
		var wrong []int
		for _, o := range a.Options {
			if n := utf8.RuneCountInString(o.Text); o.Right {
				right = n
			} else {
				wrong = append(wrong, n)
			}
		}
		if right > slices.Max(wrong) {
			longest++
		}
		if right < slices.Min(wrong) {
			shortest++
		}
	}
	if longest*3 > choices || shortest*2 > choices {
		t.Errorf("of %d choices the right option is the longest in %d, want a third at most, and the shortest in %d, want half at most", choices, longest, shortest)
	}
	for place := range 3 {
		if places[place]*8 < choices {
			t.Errorf("of %d choices the right option is written in place %d in %d, want an eighth at least", choices, place+1, places[place])
		}
	}
}

// planned is crushed tomatoes as printed, in quarts at 6,240 ft: USDA Complete Guide
// 2015, Guide 3, p. 3-8 for the time and the headspace, p. 3-7 for the acid.
func planned(changes ...string) map[string]string {
	plan := map[string]string{
		"food": "tomatoes-crushed", "pack": "hot", "method": "boiling-water", "jar": "quart", "altitude": "6240 ft",
		"time": "60 min", "headspace": "1/2 in", "acid.kind": "bottled-lemon-juice", "acid.per_jar": "2 tbsp",
	}
	for i := 0; i < len(changes); i += 2 {
		plan[changes[i]] = changes[i+1]
	}
	return plan
}

// TestQuestionsAskTheGrader: a question gets the verdict and the findings that the
// page "Check a plan" gives.
func TestQuestionsAskTheGrader(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	grade := gradeFor(course.Grader)
	for _, test := range []struct {
		plan    map[string]string
		verdict string
		finds   string // the rule that the change sets off
	}{
		{planned(), "as-tested", ""},
		{planned("altitude", "1902 m", "headspace", "13 mm"), "as-tested", ""},
		// 55 min is printed for the band below, 50 min for pints: Guide 3, p. 3-8.
		{planned("time", "55 min"), "unsafe", "time-short"},
		{planned("acid.kind", "none", "acid.per_jar", ""), "unsafe", "acid-left-out"},
		// Half of the printed dose, which is the one for a pint: Guide 3, p. 3-7.
		{planned("acid.per_jar", "1 tbsp"), "unsafe", "acid-short"},
		// A nick in the rim lets a jar come unsealed: Guide 1, p. 1-26.
		{planned("jars.condition", "nicked"), "fix-first", "jars-nicked"},
		// The guide prints no line for half-gallons of tomatoes: Guide 1, p. 1-13.
		{planned("jar", "half-gallon"), "no-tested-process", ""},
		{map[string]string{"food": "tomatoes-crushed"}, "incomplete", ""},
	} {
		verdict, found, err := grade(test.plan)
		if err != nil || verdict != test.verdict || test.finds != "" && !slices.Contains(found, test.finds) {
			t.Errorf("%v: %s, %q, %v; want %s, %q", test.plan, verdict, found, err, test.verdict, test.finds)
		}
	}
	for key, want := range map[string]string{
		"jar": `jar: "a splash" is not a word for this; it is one of quarter-pint half-pint 12-oz pint 24-oz 28-oz quart half-gallon`, "acid.per_jar": "acid.per_jar: ",
	} {
		if _, _, err := grade(planned(key, "a splash")); err == nil || !strings.HasPrefix(err.Error(), want) {
			t.Errorf("%s: a splash: %v, want %s", key, err, want)
		}
	}
}

// verdicts is a question whose key the grader gives. Of the six draws only one is as
// printed; two leave out the acid that each jar gets: Guide 3, p. 3-7.
const verdicts = `questions:
  - id: acid-91
    lesson: acid
    competencies: [acidity, process-time]
    kind: choice
    draw:
      time: [45 min, 55 min, 60 min]
      kind: [bottled-lemon-juice, none]
    let:
      says: 'verdict({"food": "tomatoes-crushed", "pack": "hot", "method": "boiling-water", "jar": "quart", "altitude": "6240 ft", "time": time, "headspace": "1/2 in", "acid.kind": kind, "acid.per_jar": kind == "none" ? "" : "2 tbsp", "rims_wiped": true, "bubbles_removed": 2 > 1, "load.layers": 1})'
      leftOut: 'finds({"food": "tomatoes-crushed", "jar": "quart", "method": "boiling-water", "acid.kind": kind, "acid.per_jar": kind == "none" ? "" : "2 tbsp"}, "acid-left-out")'
    stem: You boil quarts for {{time}}. Is it as tested, and is the acid in?
    options:
      - {text: "{{says}}, {{leftOut ? \"left out\" : \"in\"}}", right: true, feedback: f}
      - {text: "as-tested, in", feedback: f, misconception: time-is-a-guess}
      - {text: "unsafe, in", feedback: f, misconception: time-is-a-guess}
      - {text: "unsafe, left out", feedback: f, misconception: time-is-a-guess}
    why: Time and acid are both in the tested process.
    source: [usda-guide-3]
    page: Guide 3, pp. 3-7 to 3-8
`

func TestQuestionWhoseKeyTheGraderGives(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	options := quiz.Options{Table: course.Grader.Table(), Grade: gradeFor(course.Grader)}
	bank, err := quiz.Load(fstest.MapFS{"acid.yaml": {Data: []byte(verdicts)}}, options)
	if err != nil {
		t.Fatal(err)
	}
	if err := bank.Check(); err != nil {
		t.Error(err)
	}
	q, _ := bank.Question("acid-91")
	got := map[string]string{}
	for index := range q.Space() {
		asked, err := q.AskDraw(index)
		if err != nil {
			t.Fatal(err)
		}
		if len(asked.Options) != 3 {
			t.Errorf("%s: %+v", asked.Drawn, asked.Options)
		}
		got[asked.Drawn] = asked.Key()[0]
	}
	want := map[string]string{}
	for _, time := range []string{"45 min", "55 min", "60 min"} {
		want[fmt.Sprintf("time=%s, kind=bottled-lemon-juice", time)] = "unsafe, in"
		want[fmt.Sprintf("time=%s, kind=none", time)] = "unsafe, left out"
	}
	want["time=60 min, kind=bottled-lemon-juice"] = "as-tested, in"
	if !maps.Equal(got, want) {
		t.Errorf("the keys are %v, want %v", got, want)
	}
	// What the grader cannot read is a fault of the question, and is told with its
	// place and the draw.
	for old, test := range map[string]struct{ new, want string }{
		`"jar": "quart", "altitude"`: {`"jar": "bucket", "altitude"`, `jar: "bucket" is not a word for this; it is one of quarter-pint half-pint 12-oz pint 24-oz 28-oz quart half-gallon`},
		`"load.layers": 1`:           {`"load.layers": ["1"]`, "load.layers: a value of a plan is a text, a number or true or false"},
		`"time": time`:               {`"time": "an hour"`, `time: "an hour" at 1: found "an", expected a number such as 12, 1.5, 1/2 or 1 1/2`},
	} {
		_, err := quiz.Load(fstest.MapFS{"acid.yaml": {Data: []byte(strings.Replace(verdicts, old, test.new, 1))}}, options)
		if err == nil || !strings.HasPrefix(err.Error(), "acid.yaml:2:5: question acid-91: time=45 min, kind=bottled-lemon-juice: says: ") || !strings.HasSuffix(err.Error(), test.want) {
			t.Errorf("%s: %v\nwant %s", test.new, err, test.want)
		}
	}
}

// TestGraderReadsAllOfAPlan: what a question's plan says must not be left out, or it is
// the verdict on another plan.
func TestGraderReadsAllOfAPlan(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	grade := gradeFor(course.Grader)
	for key, value := range map[string]string{"acid.knd": "none", "time": "60 min, or so"} {
		if verdict, _, err := grade(planned(key, value)); err == nil {
			t.Errorf("%s: %s is graded as %s", key, value, verdict)
		}
	}
	// The guide prints three tests of a seal, and a ping is none of them: Guide 1, p. 1-25.
	for checks, alone := range map[string]bool{"ping": true, "ping, press, look, tap": false} {
		_, found, err := grade(planned("seal_checks", checks))
		if err != nil || slices.Contains(found, "seal-by-ping-alone") != alone {
			t.Errorf("seal_checks: %s finds %q, %v", checks, found, err)
		}
	}
}

func BenchmarkBankCheck(b *testing.B) {
	course, err := shippedCourse()
	if err != nil {
		b.Fatal(err)
	}
	b.ReportAllocs()
	for b.Loop() {
		if err := course.Bank.Check(); err != nil {
			b.Fatal(err)
		}
	}
}

// TestScenarioThatCannotBeDrawn: a folder whose scenario has a text that its page cannot
// show is refused with the line, and not served.
func TestScenarioThatCannotBeDrawn(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	if err := os.Mkdir(filepath.Join(folder, "scenarios"), 0o755); err != nil {
		t.Fatal(err)
	}
	text := startsOf(store.ScenarioMaterial)[0].Text() + "\n<b>Look.</b>\n"
	if err := os.WriteFile(filepath.Join(folder, "scenarios", "90-look.md"), []byte(text), 0o644); err != nil {
		t.Fatal(err)
	}
	want := fmt.Sprintf("90-look.md:%d: raw HTML is not used", strings.Count(text, "\n"))
	if _, err := LoadCourse(folder); err == nil || !strings.Contains(err.Error(), want) {
		t.Errorf("got %v, want %s", err, want)
	}
}
