package server

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/lessons/markdown"
	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// taught is the course as somebody is taught it: with what the instructors of their
// classes wrote, in place of the course's own or beside it. It does not change.
type taught struct {
	*Course
	lessons  map[string]*readyLesson
	own      map[written]store.TaughtMaterial // what is not the course's own
	asked    []askedLine                      // the index by question
	search   func() (*search, error)          // made when somebody first looks for something
	booklet  func() (bookletPage, error)      // drawn when somebody first asks for it
	believed believed
}

// newTaught is a course as it is taught, before its index is filled and more lessons are
// drawn.
func (s *Server) newTaught(course *Course, lessons map[string]*readyLesson) *taught {
	t := &taught{Course: course, lessons: lessons, own: map[written]store.TaughtMaterial{}}
	t.search = sync.OnceValues(func() (*search, error) { return s.makeSearch(t) })
	t.booklet = sync.OnceValues(func() (bookletPage, error) { return s.makeBooklet(t) })
	return t
}

// written names a thing that an instructor may write.
type written struct{ kind, name string }

// writtenFor tells since when a thing is an instructor's own; "" for one of the course.
func (t *taught) writtenFor(kind, name string) string {
	if m, ok := t.own[written{kind, name}]; ok {
		return m.Since.UTC().Format("2 January 2006")
	}
	return ""
}

// wording tells which wording of a thing is taught: "" for the course's own, else the
// material and its version.
func (t *taught) wording(kind, name string) string {
	m, ok := t.own[written{kind, name}]
	if !ok {
		return ""
	}
	return m.ID + "/" + strconv.Itoa(m.N)
}

// readsOtherwise reports whether a question was answered in another wording than the one
// that is taught.
func (t *taught) readsOtherwise(a store.Answer) bool {
	return a.Wording != t.wording(store.QuestionMaterial, a.Question)
}

// stale reports whether a form was opened before its instructor changed what it is about.
func (t *taught) stale(form url.Values, kind, name string) bool {
	return form.Has("wording") && form.Get("wording") != t.wording(kind, name)
}

// scenario finds a scenario; nil if there is none.
func (t *taught) scenario(slug string) *scenarios.Scenario {
	i := slices.IndexFunc(t.Scenarios, func(sc *scenarios.Scenario) bool { return sc.Slug == slug })
	if i < 0 {
		return nil
	}
	return t.Scenarios[i]
}

// ownText is a material with what is written in it.
type ownText struct {
	store.TaughtMaterial
	source string
}

// file is the name of a material in messages.
func (o ownText) file() string { return o.Kind + " " + o.Name }

// problem is something that the checks find in a text, at a line of it, 0 for none.
type problem struct {
	Line int
	Says string
}

// placedProblem is a line of an error of the loaders: file:line:column: what is wrong.
var placedProblem = regexp.MustCompile(`^([^:]+):(?:(\d+):(?:\d+:)?)? (.*)$`)

// problemsIn sorts what loaders say by the file it is about.
func problemsIn(err error) map[string][]problem {
	found := map[string][]problem{}
	if err == nil {
		return found
	}
	for _, line := range strings.Split(err.Error(), "\n") {
		file, p := "", problem{Says: line}
		if m := placedProblem.FindStringSubmatch(line); m != nil {
			file, p.Says = m[1], m[3]
			p.Line, _ = strconv.Atoi(m[2]) // digits, or nothing
		}
		if !slices.Contains(found[file], p) {
			found[file] = append(found[file], p)
		}
	}
	for _, list := range found {
		slices.SortStableFunc(list, func(a, b problem) int { return cmp.Compare(a.Line, b.Line) })
	}
	return found
}

// build puts texts into the course, all or none. The problems are by file.
func (s *Server) build(texts []ownText) (*taught, map[string][]problem) {
	course := *s.course
	t := s.newTaught(&course, maps.Clone(s.shipped.lessons))
	var problems []error
	var files []lessons.File
	course.Scenarios = slices.Clone(course.Scenarios)
	for _, o := range texts {
		t.own[written{o.Kind, o.Name}] = o.TaughtMaterial
		switch o.Kind {
		case store.LessonMaterial:
			files = append(files, lessons.File{Name: o.file(), Slug: o.Name, Source: []byte(o.source)})
		case store.QuestionMaterial:
			bank, q, err := course.Bank.With(o.file(), []byte(o.source), nil)
			switch {
			case err != nil:
				problems = append(problems, err)
			case q.ID != o.Name:
				problems = append(problems, fmt.Errorf("%s:%d: its id is %q, but it is kept as %q; write id: %s", o.file(), q.Line, q.ID, o.Name, o.Name))
			default:
				course.Bank = bank
			}
		case store.ScenarioMaterial:
			sc, err := s.readScenario(o)
			if err != nil {
				problems = append(problems, err)
				continue
			}
			if i := slices.IndexFunc(course.Scenarios, func(other *scenarios.Scenario) bool { return other.Slug == sc.Slug }); i >= 0 {
				sc.Number, course.Scenarios[i] = course.Scenarios[i].Number, sc
				continue
			}
			course.Scenarios = append(course.Scenarios, sc)
			sc.Number = len(course.Scenarios)
		}
	}
	library, err := course.Lessons.With(files...)
	if err != nil {
		return nil, problemsIn(errors.Join(append(problems, err)...))
	}
	course.Lessons = library
	if len(problems) == 0 {
		problems = append(problems, t.fillAsked(), s.drawOwn(t))
	}
	if err := errors.Join(problems...); err != nil {
		return nil, problemsIn(err)
	}
	return t, nil
}

// readScenario reads a scenario under the name it is kept by.
func (s *Server) readScenario(o ownText) (*scenarios.Scenario, error) {
	file := "90-" + o.Name + ".md" // its own number is found when it is put into the course
	sc, err := s.course.Grader.ParseScenario(file, []byte(o.source))
	if err == nil {
		sc.File = o.file()
		return sc, checkScenario(sc)
	}
	return nil, errors.New(strings.ReplaceAll(err.Error(), file, o.file()))
}

// drawOwn draws the lessons that are the class's own, and those that show something of it.
func (s *Server) drawOwn(t *taught) error {
	var problems []error
	for _, l := range t.Lessons.Lessons() {
		shows := slices.ContainsFunc(l.Parts, func(p markdown.Part) bool {
			if p.Block == nil {
				return false
			}
			return p.Block.Kind == "question" && t.has(store.QuestionMaterial, p.Block.Settings["id"]) ||
				p.Block.Kind == "worked" && t.has(store.ScenarioMaterial, p.Block.Settings["scenario"])
		})
		if !shows && !t.has(store.LessonMaterial, l.Slug) {
			continue
		}
		if err := t.checkLesson(l); err != nil {
			problems = append(problems, err)
			continue
		}
		ready, err := s.readyLesson(t, l)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		t.lessons[l.Slug] = ready
	}
	return errors.Join(problems...)
}

func (t *taught) has(kind, name string) bool {
	_, ok := t.own[written{kind, name}]
	return ok
}

// teach puts into the course what it can. What passed the checks once and no longer does,
// after the program was changed, is left out: the course's own stands there again.
func (s *Server) teach(texts []ownText) *taught {
	t, problems := s.build(texts)
	if problems == nil {
		return t
	}
	for file, list := range problems {
		s.log.Error("what is published for a class no longer passes the checks", "where", file, "problem", list[0].Says)
	}
	t, _ = s.build(s.passing(texts))
	return t
}

// passing are those texts that pass the checks together: one after the other, as long as
// there is one that the others can stand with, since a lesson may need a question.
func (s *Server) passing(texts []ownText) []ownText {
	var passing, left []ownText
	for {
		for _, o := range texts {
			if _, problems := s.build(append(slices.Clone(passing), o)); problems == nil {
				passing = append(passing, o)
				continue
			}
			left = append(left, o)
		}
		if len(left) == len(texts) || len(left) == 0 {
			return passing
		}
		texts, left = left, nil
	}
}

// taughtCache keeps what classes are taught. The key names every material with its
// version, so nothing in it is ever out of date.
type taughtCache struct {
	mu    sync.Mutex
	known map[string]func() (*taught, error)
}

const mostTaught = 64

func (c *taughtCache) get(key string, build func() (*taught, error)) (*taught, error) {
	c.mu.Lock()
	f, ok := c.known[key]
	if !ok {
		if c.known == nil || len(c.known) >= mostTaught {
			c.known = map[string]func() (*taught, error){}
		}
		f = sync.OnceValues(build)
		c.known[key] = f
	}
	c.mu.Unlock()
	t, err := f()
	if err != nil {
		c.mu.Lock()
		delete(c.known, key) // the next one tries again
		c.mu.Unlock()
	}
	return t, err
}

const taughtKey = "taught"

// taughtTo is the course as who asks is taught it.
func (s *Server) taughtTo(c *gin.Context) (*taught, error) {
	if t, ok := c.Get(taughtKey); ok {
		return t.(*taught), nil
	}
	p, in := person(c)
	if !in {
		return s.shipped, nil
	}
	t, err := s.taughtPerson(c.Request.Context(), p.Visitor)
	if err == nil {
		c.Set(taughtKey, t)
	}
	return t, err
}

// taughtPerson is the course as a person is taught it. Of what several classes have under
// one name, that of the latest class counts.
func (s *Server) taughtPerson(ctx context.Context, visitor string) (*taught, error) {
	list, err := s.store.TaughtTo(ctx, visitor)
	if err != nil {
		return nil, err
	}
	return s.taughtBy(ctx, list)
}

// taughtIn is the course as a class is taught it.
func (s *Server) taughtIn(ctx context.Context, class string) (*taught, error) {
	list, err := s.store.TaughtIn(ctx, class)
	if err != nil {
		return nil, err
	}
	return s.taughtBy(ctx, list)
}

func (s *Server) taughtBy(ctx context.Context, list []store.TaughtMaterial) (*taught, error) {
	var reads []store.TaughtMaterial
	seen := map[written]bool{}
	key := ""
	for _, m := range list {
		name := written{m.Kind, m.Name}
		if m.N == 0 || seen[name] {
			continue
		}
		seen[name] = true
		reads = append(reads, m)
		key += fmt.Sprintf("%s %d ", m.ID, m.N)
	}
	if len(reads) == 0 {
		return s.shipped, nil
	}
	return s.classes.get(key, func() (*taught, error) {
		texts, err := s.textsOf(context.WithoutCancel(ctx), reads)
		if err != nil {
			return nil, err
		}
		return s.teach(texts), nil
	})
}

// textsOf reads what is written in materials.
func (s *Server) textsOf(ctx context.Context, list []store.TaughtMaterial) ([]ownText, error) {
	var texts []ownText
	for _, m := range list {
		v, err := s.store.MaterialVersion(ctx, m.ID, m.N)
		if err != nil {
			return nil, err
		}
		texts = append(texts, ownText{m, v.Source})
	}
	return texts, nil
}
