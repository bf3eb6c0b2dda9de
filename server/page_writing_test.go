package server

import (
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"golang.org/x/net/html"

	"rollingboil/lessons"
	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/kitchens"
	"rollingboil/scenarios/rules"
)

// goSymbol is how a comment names a symbol of a package, which says nothing to
// somebody who writes a lesson.
var goSymbol = regexp.MustCompile(`\[(\w+\.)?[A-Z]\w*(\.\w+)?\]`)

// TestFormatPages: each page has the sections of its package comment, in which nothing
// speaks to programmers, and each word that its files are checked against.
func TestFormatPages(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	course := s.server.course
	set := course.Grader.Rules()
	var sources, beliefs, ruleIDs, foods, slugs, questions, factIDs, demonstrations, jars []string
	for _, source := range set.Sources() {
		sources = append(sources, source.ID)
	}
	for _, m := range set.Misconceptions() {
		beliefs = append(beliefs, m.ID)
	}
	for _, r := range set.Rules() {
		ruleIDs = append(ruleIDs, r.ID)
	}
	for _, f := range course.Grader.Table().Foods() {
		foods = append(foods, f.Food)
	}
	for _, l := range course.Lessons.Lessons() {
		slugs = append(slugs, l.Slug)
	}
	for _, q := range course.Bank.Questions() {
		questions = append(questions, q.ID)
	}
	facts, err := lessons.Facts()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range facts {
		factIDs = append(factIDs, f.ID)
	}
	for _, d := range s.server.bench.Demos() {
		demonstrations = append(demonstrations, d.Name)
	}
	for _, k := range scenarios.Keys() {
		if k.Name == "jar" {
			jars = []string{strings.Join(k.Words, ", ")}
		}
	}
	slices.Sort(questions)
	for _, test := range []struct {
		kind, doc string
		without   []string // sections that are about the program
		code      string   // something that stands in an example
		words     map[string][]string
	}{
		{"lesson", lessons.Format(), nil, "title: Rest before lifting", map[string][]string{"competencies": rules.Competencies(), "sources": sources, "facts": factIDs, "foods": foods, "demonstrations": demonstrations, "misconceptions": beliefs, "questions": questions, "lessons": slugs}},
		{"question", quiz.Format(), []string{"Asking and marking"}, "id: headspace-92", map[string][]string{"competencies": rules.Competencies(), "sources": sources, "misconceptions": beliefs, "foods": foods, "lessons": slugs, "rules": ruleIDs, "demonstrations": demonstrations, "questions": questions}},
		{"scenario", scenarios.Format(), []string{"The report"}, "kind: what-now", map[string][]string{"competencies": rules.Competencies(), "rules": ruleIDs, "foods": foods, "sources": sources, "jar-answers": scenarios.JarAnswers()}},
	} {
		got := s.get("/writing/" + test.kind)
		if got.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d", test.kind, got.StatusCode)
		}
		doc := parse(t, got.body)
		main := find(doc, "main")
		var headings []string
		walk(main, func(n *html.Node) {
			if n.Data == "h2" {
				headings = append(headings, text(n))
			}
		})
		want := []string{}
		for line := range strings.Lines(test.doc) {
			if heading, ok := strings.CutPrefix(strings.TrimSpace(line), "// # "); ok && !slices.Contains(test.without, heading) {
				want = append(want, heading)
			}
		}
		want = append(want, "Texts to start from", "Words that may be used")
		slices.Sort(headings)
		slices.Sort(want)
		if !slices.Equal(headings, want) {
			t.Errorf("%s: the sections are %q, want %q", test.kind, headings, want)
		}
		if said := goSymbol.FindString(text(main)); said != "" {
			t.Errorf("%s: the page speaks of %s", test.kind, said)
		}
		if !strings.Contains(got.body, test.code) {
			t.Errorf("%s: the example lacks %q", test.kind, test.code)
		}
		words := wordsOnPage(main)
		for id, list := range test.words {
			if id == "questions" { // they stand by lesson
				slices.Sort(words[id])
			}
			if !slices.Equal(words[id], list) {
				t.Errorf("%s: the words of %s are %q, want %q", test.kind, id, words[id], list)
			}
		}
		if !strings.Contains(text(main), jars[0]) {
			t.Errorf("%s: the page lacks the jars %q", test.kind, jars[0])
		}
	}
	if got := s.get("/writing/poem"); got.StatusCode != http.StatusNotFound {
		t.Errorf("a kind that is none: %d", got.StatusCode)
	}
}

// wordsOnPage lists the words of each table by the id of its heading.
func wordsOnPage(main *html.Node) map[string][]string {
	words := map[string][]string{}
	id := ""
	walk(main, func(n *html.Node) {
		switch {
		case n.Data == "h3":
			id = attr(n, "id")
		case n.Data == "th" && attr(n, "scope") == "row":
			words[id] = append(words[id], text(n))
		}
	})
	return words
}

// TestKeyLines tells explanations of keys from pieces of files.
func TestKeyLines(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, code string
		want       []keyLine
	}{
		{"keys", "title     what stands over it\nminutes   time to read it,\n          1 to 60\n", []keyLine{{"title", "what stands over it"}, {"minutes", "time to read it, 1 to 60"}}},
		{"a key on a line of its own", "acid food\n          the printed doses\nboiling   by altitude\n", []keyLine{{"acid food", "the printed doses"}, {"boiling", "by altitude"}}},
		{"a plan", "pack: hot   # or raw\ntime: 60 min\n", nil},
		{"a list", "questions:\n  - id: headspace-91\n    kind: choice\n", nil},
		{"front matter", "---\ntitle: Peaches\n---\n", nil},
		{"two parts", "pack: hot   # or raw\n\njar: pint   # or quart\n", nil},
	} {
		if got := keyLines(test.code); !slices.Equal(got, test.want) {
			t.Errorf("%s: %q, want %q", test.name, got, test.want)
		}
	}
}

// TestStarts: each text to start from, laid over the shipped course, is read, and
// nothing is wrong with any of its draws. A question has one question in its file.
func TestStarts(t *testing.T) {
	t.Parallel()
	shipped, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	files, err := startFiles.ReadDir("starts")
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != len(allStarts) {
		t.Errorf("%d files and %d starts", len(files), len(allStarts))
	}
	set := shipped.Grader.Rules()
	options := quiz.Options{Table: shipped.Grader.Table(), Bench: bench.New(shipped.Grader.Table()), Grade: gradeFor(shipped.Grader), Facts: map[string]string{}}
	facts, err := lessons.Facts()
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range facts {
		options.Facts[f.ID] = f.Text()
	}
	for _, m := range set.Misconceptions() {
		options.Misconceptions = append(options.Misconceptions, m.ID)
	}
	for _, source := range set.Sources() {
		options.Sources = append(options.Sources, source.ID)
	}
	for _, l := range shipped.Lessons.Lessons() {
		options.Lessons = append(options.Lessons, l.Slug)
	}
	for _, kind := range []string{"lesson", "question", "scenario"} {
		if len(startsOf(kind)) == 0 {
			t.Errorf("nothing to start a %s from", kind)
		}
		for _, start := range startsOf(kind) {
			t.Run(start.Name, func(t *testing.T) {
				t.Parallel()
				file := func(name string) fstest.MapFS { return fstest.MapFS{name: {Data: []byte(start.Text())}} }
				switch kind {
				case "lesson":
					library, err := lessons.Load(overlay{file("90-start.md"), lessons.Shipped()})
					if err != nil {
						t.Fatal(err)
					}
					course := *shipped
					course.Lessons = library
					if err := course.check(); err != nil {
						t.Error(err)
					}
				case "question":
					lesson := regexp.MustCompile(`lesson: (\S+)`).FindStringSubmatch(start.Text())
					added := file(lesson[1] + "-start.yaml")
					bank, err := quiz.Load(overlay{added, quiz.Shipped()}, options)
					if err != nil {
						t.Fatal(err)
					}
					alone, err := quiz.Load(added, options)
					if err != nil {
						t.Fatal(err)
					}
					if err := alone.Check(); err != nil { // the others are checked elsewhere
						t.Error(err)
					}
					if got, before := len(bank.Questions()), len(shipped.Bank.Questions()); got != before+1 {
						t.Errorf("%d questions were added, want one", got-before)
					}
				case "scenario":
					list, err := shipped.Grader.LoadScenarios(overlay{file("90-start.md"), kitchens.Files()})
					if err != nil {
						t.Fatal(err)
					}
					if err := shipped.Grader.CheckScenario(list[len(list)-1]); err != nil {
						t.Error(err)
					}
					if got := list[len(list)-1]; got.Slug != "start" || got.Kind != strings.TrimSuffix(strings.TrimPrefix(start.Name, "scenario-"), ".md") {
						t.Errorf("the last scenario is %s, of kind %s", got.Slug, got.Kind)
					}
				}
			})
		}
	}
}
