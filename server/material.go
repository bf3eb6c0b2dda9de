package server

import (
	"context"
	"fmt"
	"io/fs"
	"regexp"
	"runtime/debug"
	"slices"
	"strings"

	"rollingboil/server/store"
)

// A material is a lesson, a question or a scenario that an instructor writes for a class,
// in the format of the course's own files. Every version is kept; the class reads the one
// that was published, and only what the checks find nothing in is published.

// mostText is how long a material may be, in bytes. The longest lesson of the course has
// about a twentieth of it.
const mostText = 200_000

var materialKinds = []string{store.LessonMaterial, store.QuestionMaterial, store.ScenarioMaterial}

// checked is what the checks find in a text.
type checked struct {
	Problems []problem
	taught   *taught // the class's course with the text in it; nil if there are problems
}

// checkText holds a text to everything that lint holds a course to, as if the class read it.
func (s *Server) checkText(ctx context.Context, m store.Material, source string) (checked, error) {
	texts, err := s.otherTexts(ctx, m)
	if err != nil {
		return checked{}, err
	}
	own := ownText{store.TaughtMaterial{ID: m.ID, Class: m.Class, Kind: m.Kind, Name: m.Name, Since: s.now()}, source}
	var t *taught
	var problems map[string][]problem
	var failed error
	found := s.guarded(own, func() error {
		var found error
		if t, problems = s.build(append(texts, own)); problems == nil {
			found, failed = s.checkDraws(ctx, t, own)
		}
		return found
	})
	if failed != nil {
		return checked{}, failed
	}
	if found != nil {
		problems = problemsIn(found)
	}
	out := checked{Problems: problems[own.file()], taught: t}
	for file, list := range problems {
		if file == own.file() {
			continue
		}
		for _, p := range list {
			at := ""
			if p.Line > 0 {
				at = fmt.Sprintf(", line %d", p.Line)
			}
			out.Problems = append(out.Problems, problem{Says: fmt.Sprintf("With this the %s%s no longer passes the checks: %s", strings.TrimSuffix(file, ".md"), at, p.Says)})
		}
	}
	if len(out.Problems) > 0 {
		out.taught = nil
	}
	return out, nil
}

// guarded runs checks of a text. Where they panic, that is told as a problem of the text: the
// page on which it can be mended has to open.
func (s *Server) guarded(own ownText, checks func() error) (found error) {
	defer func() {
		if p := recover(); p != nil {
			s.log.Error("the checks of a material panic", "material", own.file(), "error", fmt.Errorf("%w: %v\n%s", errPanic, p, debug.Stack()))
			found = fmt.Errorf("%s: the checks fail on this text. Take back what you changed last; if they fail again, tell who runs the program", own.file())
		}
	}()
	return checks()
}

// otherTexts are the materials that the class of one reads besides it. What no longer
// passes the checks itself is not in the way of others.
func (s *Server) otherTexts(ctx context.Context, m store.Material) ([]ownText, error) {
	list, err := s.store.TaughtIn(ctx, m.Class)
	if err != nil {
		return nil, err
	}
	reads, err := s.taughtBy(ctx, list)
	if err != nil {
		return nil, err
	}
	return s.textsOf(ctx, slices.DeleteFunc(list, func(o store.TaughtMaterial) bool { return o.ID == m.ID || !reads.has(o.Kind, o.Name) }))
}

// checkDraws looks over what a question or a scenario draws. A question may belong to a
// lesson that is only being written: one of the two has to be published first.
func (s *Server) checkDraws(ctx context.Context, t *taught, own ownText) (found, err error) {
	switch own.Kind {
	case store.QuestionMaterial:
		all, err := s.store.Materials(ctx, own.Class)
		if err != nil {
			return nil, err
		}
		var slugs []string
		for _, l := range t.Lessons.Lessons() {
			slugs = append(slugs, l.Slug)
		}
		for _, m := range all {
			if m.Kind == store.LessonMaterial {
				slugs = append(slugs, m.Name)
			}
		}
		bank, q, found := s.course.Bank.With(own.file(), []byte(own.source), slugs)
		if found == nil {
			found = bank.CheckQuestion(q)
		}
		return found, nil
	case store.ScenarioMaterial:
		return s.course.Grader.CheckScenario(t.scenario(own.Name)), nil
	}
	return nil, nil
}

// takeBackProblems is what would no longer pass the checks without a material that the
// class reads: a lesson that asks a question of it, say.
func (s *Server) takeBackProblems(ctx context.Context, m store.Material) ([]problem, error) {
	texts, err := s.otherTexts(ctx, m)
	if err != nil {
		return nil, err
	}
	_, problems := s.build(texts)
	var all []problem
	for file, list := range problems {
		for _, p := range list {
			all = append(all, problem{Says: file + ": " + p.Says})
		}
	}
	slices.SortFunc(all, func(a, b problem) int { return strings.Compare(a.Says, b.Says) })
	return all, nil
}

// nameForm is what names have: in addresses, and as ids of questions.
var nameForm = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)

// mostName is how long a name may be.
const mostName = 60

// courseHas tells whether the course itself has a thing of a name.
func (s *Server) courseHas(kind, name string) bool {
	switch kind {
	case store.LessonMaterial:
		_, ok := s.course.Lessons.Lesson(name)
		return ok
	case store.QuestionMaterial:
		_, ok := s.course.Bank.Question(name)
		return ok
	}
	return s.shipped.scenario(name) != nil
}

// courseText is the source of a thing of the course.
func (s *Server) courseText(kind, name string) (string, error) {
	switch kind {
	case store.LessonMaterial:
		l, ok := s.course.Lessons.Lesson(name)
		if !ok {
			return "", errNoPage
		}
		return readText(s.course.files.lessons, l.File)
	case store.QuestionMaterial:
		q, ok := s.course.Bank.Question(name)
		if !ok {
			return "", errNoPage
		}
		file, err := readText(s.course.files.questions, q.File)
		return oneQuestion(file, q.Line), err
	}
	sc := s.shipped.scenario(name)
	if sc == nil {
		return "", errNoPage
	}
	return readText(s.course.files.kitchens, sc.File)
}

func readText(files fs.FS, name string) (string, error) {
	text, err := fs.ReadFile(files, name)
	return strings.ReplaceAll(string(text), "\r\n", "\n"), err
}

// oneQuestion cuts the question that begins on a line out of a file of the bank.
func oneQuestion(file string, line int) string {
	lines := strings.Split(file, "\n")
	if line < 1 || line > len(lines) {
		return file
	}
	first := lines[line-1]
	begin, _, ok := strings.Cut(first, "- ")
	if !ok || strings.TrimSpace(begin) != "" {
		return file // written in another way: all of it, to be cut by hand
	}
	begin += "- "
	text := "questions:\n" + first + "\n"
	for _, l := range lines[line:] {
		if strings.HasPrefix(l, begin) {
			break
		}
		text += l + "\n"
	}
	return strings.TrimRight(text, "\n") + "\n"
}

var idLine = regexp.MustCompile(`(?m)^(\s*- id:).*$`)

// withName gives a text the name it is kept under, which only a question holds itself.
func withName(kind, name, text string) string {
	if kind != store.QuestionMaterial {
		return text
	}
	if at := idLine.FindStringSubmatchIndex(text); at != nil {
		return text[:at[3]] + " " + name + text[at[1]:]
	}
	return text
}

// titleLine finds the title of a lesson or a scenario and the stem of a question, for lists.
var titleLine = regexp.MustCompile(`(?m)^\s*(?:title|stem):[ \t]*(?:>-?|\|-?)?\s*(.+)$`)

// drawnText is what is drawn into a text.
var drawnText = regexp.MustCompile(`\{\{[^}]*\}\}`)

// titleIn is a title as far as it can be read of a text that may be no good yet.
func titleIn(name, text string) string {
	m := titleLine.FindStringSubmatch(text)
	if m == nil {
		return name
	}
	title := drawnText.ReplaceAllString(strings.Trim(strings.TrimSpace(m[1]), `"'`), "…")
	if title == "" {
		return name
	}
	return beginning(title)
}
