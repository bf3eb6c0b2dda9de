package scenarios

import (
	"bytes"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/rules"
)

// Scenario is a kitchen on a day in which the learner writes the plan. The
// worked solution is computed when the scenario is loaded.
type Scenario struct {
	Slug         string
	Number       int // place in reading order, from 1
	Title        string
	Minutes      int
	Competencies []string
	Kitchen      Plan   // what is settled
	Choices      []Plan // what this kitchen has, best first
	Temptation   Plan   // what somebody here wants to do
	Exercises    []string
	Body         []byte // Markdown, for the learner
	BodyLine     int    // line of the file on which the body starts
	File         string
	Solution     Solution
}

var slugFile = regexp.MustCompile(`^(\d\d)-([a-z0-9]+(?:-[a-z0-9]+)*)\.md$`)

// LoadScenarios reads every NN-slug.md of a folder, in order. It checks each:
// the worked solution is as tested, and the temptation sets off exactly the
// safety rules that the file says it exercises. All problems are reported
// together.
func (g *Grader) LoadScenarios(files fs.FS) ([]*Scenario, error) {
	names, err := fs.Glob(files, "*.md")
	if err != nil {
		return nil, err
	}
	slices.Sort(names)
	var list []*Scenario
	var problems []error
	for _, name := range names {
		src, err := fs.ReadFile(files, name)
		if err != nil {
			problems = append(problems, fmt.Errorf("read scenario %s: %w", name, err))
			continue
		}
		s, err := g.ParseScenario(name, src)
		if err != nil {
			problems = append(problems, err)
			continue
		}
		s.Number = len(list) + 1
		list = append(list, s)
	}
	return list, errors.Join(problems...)
}

// ParseScenario reads and checks one scenario file.
func (g *Grader) ParseScenario(file string, src []byte) (*Scenario, error) {
	named := slugFile.FindStringSubmatch(path.Base(file))
	if named == nil {
		return nil, &Problem{File: file, Message: "a scenario file is named NN-slug.md, such as 03-first-batch.md"}
	}
	s := &Scenario{Slug: named[2], File: file}
	front, body, line, err := splitFront(src)
	if err != nil {
		return nil, &Problem{File: file, Line: 1, Col: 1, Message: err.Error()}
	}
	s.Body, s.BodyLine = body, line
	root, err := readTree(front)
	if err != nil {
		var p *Problem
		if errors.As(err, &p) {
			p.File, p.Line = file, p.Line+1
		}
		return nil, err
	}
	r := scenarioReader{grader: g, scenario: s, binder: binder{table: g.table}}
	r.read(root)
	if err := r.err(file); err != nil {
		return nil, err
	}
	return s, g.check(s)
}

// splitFront parts the front matter from the body and gives the body's line.
func splitFront(src []byte) (front, body []byte, bodyLine int, err error) {
	src = bytes.ReplaceAll(src, []byte("\r\n"), []byte("\n"))
	rest, ok := bytes.CutPrefix(src, []byte("---\n"))
	if !ok {
		return nil, nil, 0, errors.New("the file begins with front matter between two lines of ---")
	}
	front, body, ok = bytes.Cut(rest, []byte("\n---\n"))
	if !ok {
		return nil, nil, 0, errors.New("the front matter is not closed by a line of ---")
	}
	return front, body, 3 + bytes.Count(front, []byte("\n")) + 1, nil
}

// scenarioReader fills a Scenario from its front matter.
type scenarioReader struct {
	grader   *Grader
	scenario *Scenario
	binder
}

var scenarioKeys = []string{"title", "kind", "minutes", "competencies", "kitchen", "choices", "temptation", "exercises"}

func (r *scenarioReader) read(root node) {
	if root.shape != shapeMap {
		r.problem(root, "", "expected front matter with %s", strings.Join(scenarioKeys, " "))
		return
	}
	seen := map[string]bool{}
	for _, e := range root.entries {
		seen[e.key] = true
		r.entry(e)
	}
	for _, key := range scenarioKeys {
		if !seen[key] && key != "choices" {
			r.problem(root, key, "is needed")
		}
	}
}

func (r *scenarioReader) entry(e entry) {
	s := r.scenario
	switch e.key {
	case "title":
		s.Title = e.value.text
	case "kind":
		if e.value.text != "plan" {
			r.problem(e.value, e.key, "%q is not a kind of scenario; it is plan", e.value.text)
		}
	case "minutes":
		n, err := strconv.Atoi(e.value.text)
		if err != nil || n < 1 || n > 60 {
			r.problem(e.value, e.key, "expected whole minutes from 1 to 60")
		}
		s.Minutes = n
	case "competencies":
		s.Competencies = r.words(e, rules.Competencies())
	case "exercises":
		var ids []string
		for _, rule := range r.grader.rules.Rules() {
			ids = append(ids, rule.ID)
		}
		s.Exercises = r.words(e, ids)
	case "kitchen":
		s.Kitchen = r.partial(e.value)
	case "temptation":
		s.Temptation = r.partial(e.value)
	case "choices":
		for _, item := range e.value.items {
			s.Choices = append(s.Choices, r.partial(item))
		}
		if e.value.shape != shapeList {
			r.problem(e.value, e.key, "expected a list of choices, best first")
		}
	default:
		r.problem(node{line: e.line, col: e.col}, "", "there is no key %q in a scenario; the nearest is %q", e.key, measure.Nearest(e.key, scenarioKeys))
	}
}

func (r *scenarioReader) words(e entry, known []string) []string {
	var words []string
	for _, item := range e.value.items {
		if !slices.Contains(known, item.text) {
			r.problem(item, e.key, "%q is not known; the nearest is %q", item.text, measure.Nearest(item.text, known))
		}
		words = append(words, item.text)
	}
	if len(words) == 0 {
		r.problem(e.value, e.key, "expected a list")
	}
	return words
}

// partial reads the part of a plan that stands inside a scenario file.
func (r *scenarioReader) partial(n node) Plan {
	var p Plan
	b := binder{table: r.grader.table, plan: &p}
	b.tree("", n)
	r.problems = append(r.problems, b.problems...)
	return p
}

// err shifts places to the file: the front matter starts on its second line.
func (r *scenarioReader) err(file string) error {
	err := r.binder.err(file)
	for _, p := range Problems(err) {
		p.Line++
	}
	return err
}

// check holds a scenario to what it promises.
func (g *Grader) check(s *Scenario) error {
	wrong := func(format string, args ...any) error {
		return &Problem{File: s.File, Line: 1, Col: 1, Message: fmt.Sprintf(format, args...)}
	}
	if s.Title == "" || len(bytes.TrimSpace(s.Body)) == 0 {
		return wrong("a scenario needs a title and a text for the learner")
	}
	var err error
	if s.Solution, err = g.Solve(s.Kitchen, s.Choices); err != nil {
		return wrong("%v", err)
	}
	if v := s.Solution.Report.Verdict; v != AsTested || len(s.Solution.Report.NotStated) > 0 {
		return wrong("the worked solution is %s, not stated: %v", v, s.Solution.Report.NotStated)
	}
	var fired []string
	for _, f := range g.Grade(overlay(s.Solution.Plan, s.Temptation)).Findings {
		if f.Severity == "safety" {
			fired = append(fired, f.Rule)
		}
	}
	want := slices.Clone(s.Exercises)
	slices.Sort(want)
	slices.Sort(fired)
	if !slices.Equal(want, fired) {
		return wrong("the temptation sets off %v, but the file says it exercises %v", fired, want)
	}
	return nil
}
