package server

import (
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"

	"rollingboil/lessons"
	"rollingboil/lessons/markdown"
	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/kitchens"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/rules"
)

// Course is all content, loaded, checked and joined. It does not change.
type Course struct {
	Grader    *scenarios.Grader
	Lessons   *lessons.Library
	Glossary  []lessons.Term
	Finder    lessons.Finder
	Bank      *quiz.Bank
	Scenarios []*scenarios.Scenario

	files courseFiles
}

// courseFiles are the sources of a course.
type courseFiles struct{ lessons, questions, kitchens fs.FS }

// LoadCourse loads the shipped course. A folder, if one is named, is laid over
// it: its lessons/, quiz/ and scenarios/ add files or replace those of the same
// name. Rules and the process table cannot be replaced: they are what keeps an
// answer from being wrong. All problems are reported together.
func LoadCourse(folder string) (*Course, error) {
	lessonFiles, questionFiles, kitchenFiles := lessons.Shipped(), quiz.Shipped(), kitchens.Files()
	if folder != "" {
		var err error
		if lessonFiles, questionFiles, kitchenFiles, err = layOver(folder, lessonFiles, questionFiles, kitchenFiles); err != nil {
			return nil, err
		}
	}
	grader, err := scenarios.Shipped()
	if err != nil {
		return nil, err
	}
	course := &Course{Grader: grader, files: courseFiles{lessonFiles, questionFiles, kitchenFiles}}
	var problems [5]error
	if course.Lessons, problems[0] = lessons.Load(lessonFiles); problems[0] != nil {
		course.Lessons = nil
	}
	var together sync.WaitGroup
	together.Go(func() { course.Scenarios, problems[1] = grader.LoadScenarios(kitchenFiles) })
	set := grader.Rules()
	options := quiz.Options{Table: grader.Table(), Bench: bench.New(grader.Table()), Grade: gradeFor(grader)}
	facts, err := lessons.Facts()
	if err != nil {
		return nil, err
	}
	options.Facts = map[string]string{}
	for _, f := range facts {
		options.Facts[f.ID] = f.Text()
	}
	for _, m := range set.Misconceptions() {
		options.Misconceptions = append(options.Misconceptions, m.ID)
	}
	for _, s := range set.Sources() {
		options.Sources = append(options.Sources, s.ID)
	}
	if course.Lessons != nil {
		for _, l := range course.Lessons.Lessons() {
			options.Lessons = append(options.Lessons, l.Slug)
		}
	}
	course.Glossary, problems[3] = lessons.Glossary()
	course.Finder, problems[4] = lessons.Find()
	course.Bank, problems[2] = quiz.Load(questionFiles, options)
	together.Wait()
	if err := errors.Join(problems[:]...); err != nil {
		return nil, err
	}
	return course, course.check()
}

// gradeFor lets questions ask the grader about plans.
func gradeFor(grader *scenarios.Grader) quiz.Grade {
	return func(said map[string]string) (verdict string, found []string, err error) {
		form := url.Values{}
		for key, value := range said {
			i := slices.IndexFunc(scenarios.Keys(), func(k scenarios.Key) bool { return k.Name == key })
			if i < 0 {
				return "", nil, fmt.Errorf("a plan has no key %q", key)
			}
			form[key] = []string{value}
			if scenarios.Keys()[i].Kind == scenarios.KindWords {
				form[key] = strings.Split(value, ", ")
			}
		}
		plan, err := grader.PlanFromForm(form)
		if err != nil {
			return "", nil, err
		}
		report := grader.Grade(plan)
		for _, f := range report.Findings {
			found = append(found, f.Rule)
		}
		return string(report.Verdict), found, nil
	}
}

// check follows what one part of the content says of another.
func (c *Course) check() error {
	var problems []error
	problem := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	set := c.Grader.Rules()
	for _, r := range set.Rules() {
		if _, ok := c.Lessons.Lesson(r.Lesson); !ok {
			problem("%s:%d: rule %s: there is no lesson %q", r.File, r.Line, r.ID, r.Lesson)
		}
	}
	for _, m := range set.Misconceptions() {
		if _, ok := c.Lessons.Lesson(m.Lesson); !ok {
			problem("misconceptions.yaml: %s: there is no lesson %q", m.ID, m.Lesson)
		}
	}
	for _, t := range c.Glossary {
		if _, ok := c.Lessons.Lesson(t.Lesson); !ok {
			problem("glossary.yaml: %s: there is no lesson %q", t.Term, t.Lesson)
		}
	}
	for _, l := range c.Lessons.Lessons() {
		problems = append(problems, c.checkLesson(l))
	}
	for _, sc := range c.Scenarios {
		problems = append(problems, checkScenario(sc))
	}
	facts, err := lessons.Facts()
	problems = append(problems, err)
	for _, f := range facts {
		if _, ok := set.Source(f.Source); !ok {
			problem("facts.yaml: %s: there is no source %q", f.ID, f.Source)
		}
	}
	return errors.Join(problems...)
}

// checkLesson follows what a lesson says of the other parts of the content.
func (c *Course) checkLesson(l *lessons.Lesson) error {
	var problems markdown.Problems
	for _, p := range l.Parts {
		if p.Block == nil {
			continue
		}
		switch id := p.Block.Settings["id"]; p.Block.Kind {
		case "question":
			if _, ok := c.Bank.Question(id); !ok {
				problems.Add(l.File, p.Block.Line, "there is no question %q%s", id, nearest(id, c.Bank.Questions(), func(q *quiz.Question) string { return q.ID }))
			}
		case "refute":
			if _, ok := c.Grader.Rules().Misconception(id); !ok {
				problems.Add(l.File, p.Block.Line, "there is no misconception %q%s", id, nearest(id, c.Grader.Rules().Misconceptions(), func(m rules.Misconception) string { return m.ID }))
			}
		}
	}
	for _, id := range l.Sources {
		if _, ok := c.Grader.Rules().Source(id); !ok {
			problems.Add(l.File, 1, "there is no source %q%s", id, nearest(id, c.Grader.Rules().Sources(), func(src rules.Source) string { return src.ID }))
		}
	}
	return problems.Err()
}

// checkScenario reads the text of a scenario as its page does.
func checkScenario(sc *scenarios.Scenario) error {
	_, err := markdown.Render(sc.File, sc.Body, sc.BodyLine, nil)
	return err
}

// nearest is the end of a message about a name that is not known.
func nearest[T any](name string, list []T, id func(T) string) string {
	var names []string
	for _, one := range list {
		names = append(names, id(one))
	}
	if near := measure.Nearest(name, names); near != "" {
		return fmt.Sprintf("; did you mean %q?", near)
	}
	return ""
}

// WriteCourse writes the shipped lessons, questions and scenarios into a folder, which
// [LoadCourse] then takes. It makes the folder, and overwrites nothing in it.
func WriteCourse(folder string) error {
	for name, files := range map[string]fs.FS{"lessons": lessons.Shipped(), "quiz": quiz.Shipped(), "scenarios": kitchens.Files()} {
		if err := os.CopyFS(filepath.Join(folder, name), files); err != nil {
			if errors.Is(err, fs.ErrExist) {
				return fmt.Errorf("%w: nothing is overwritten; name a folder that is new or empty", err)
			}
			return err
		}
	}
	return nil
}

// layOver puts an instructor's folder over the shipped files.
func layOver(folder string, lessonFiles, questionFiles, kitchenFiles fs.FS) (fs.FS, fs.FS, fs.FS, error) {
	entries, err := os.ReadDir(folder)
	if err != nil {
		return nil, nil, nil, fmt.Errorf("open the course folder: %w", err)
	}
	known := []string{"lessons", "quiz", "scenarios"}
	for _, e := range entries {
		if !slices.Contains(known, e.Name()) {
			return nil, nil, nil, fmt.Errorf("course folder %s: %s is not used; it may hold lessons, quiz and scenarios (rules and tables stay the shipped ones)", folder, e.Name())
		}
	}
	own := os.DirFS(folder)
	over := func(name string, shipped fs.FS) (fs.FS, error) {
		sub, err := fs.Sub(own, name)
		if err != nil {
			return nil, err
		}
		if _, err := fs.Stat(own, name); errors.Is(err, fs.ErrNotExist) {
			return shipped, nil
		}
		return overlay{over: sub, under: shipped}, nil
	}
	l, err := over("lessons", lessonFiles)
	if err != nil {
		return nil, nil, nil, err
	}
	q, err := over("quiz", questionFiles)
	if err != nil {
		return nil, nil, nil, err
	}
	k, err := over("scenarios", kitchenFiles)
	return l, q, k, err
}

// overlay is a flat folder laid over another: a file is taken from over if it is
// there, else from under.
type overlay struct{ over, under fs.FS }

// Open opens a file of either folder; over wins.
func (o overlay) Open(name string) (fs.File, error) {
	f, err := o.over.Open(name)
	if errors.Is(err, fs.ErrNotExist) {
		return o.under.Open(name)
	}
	return f, err
}

// ReadDir lists the files of both folders by name.
func (o overlay) ReadDir(name string) ([]fs.DirEntry, error) {
	list, err := fs.ReadDir(o.over, name)
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return nil, err
	}
	under, err := fs.ReadDir(o.under, name)
	if err != nil {
		return nil, err
	}
	for _, e := range under {
		if !slices.ContainsFunc(list, func(have fs.DirEntry) bool { return have.Name() == e.Name() }) {
			list = append(list, e)
		}
	}
	slices.SortFunc(list, func(a, b fs.DirEntry) int {
		if a.Name() < b.Name() {
			return -1
		}
		return 1
	})
	return list, nil
}
