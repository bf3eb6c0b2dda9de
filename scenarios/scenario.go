package scenarios

import (
	"bytes"
	_ "embed"
	"errors"
	"fmt"
	"io/fs"
	"path"
	"regexp"
	"slices"

	"gonum.org/v1/gonum/stat/combin"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

//go:embed doc.go
var docFile string

// Format is doc.go, whose comment describes how plans, batches and scenarios are
// written, for a page that shows it.
func Format() string { return docFile }

// The kinds of scenario.
const (
	PlanIt  = "plan"     // write the plan for a kitchen
	Worked  = "worked"   // a plan worked step by step, then the same kind with blanks
	Faults  = "faults"   // find what is wrong with a plan or a batch
	WhatNow = "what-now" // decide what becomes of each jar
)

// ScenarioKinds lists the kinds of scenario, in the order in which they are met.
func ScenarioKinds() []string { return []string{Worked, PlanIt, Faults, WhatNow} }

// Scenario is one scenario file: a kitchen on a day, or a template of such kitchens.
// [Grader.Case] makes of it what a learner meets.
type Scenario struct {
	Slug         string
	Number       int // place in reading order, from 1
	Title        string
	Kind         string
	Minutes      int
	Competencies []string
	Exercises    []string // ids of the rules it is about
	Body         []byte   // Markdown, for the learner
	BodyLine     int      // line of the file on which the body starts
	File         string

	kitchen    Plan               // what is settled
	choices    []Plan             // what this kitchen has, best first
	draws      []draw             // what is drawn of the kitchen
	temptation Plan               // plan: what somebody here wants to do
	then       []blank            // worked: the kitchens after the first
	faults     []plantable        // faults: what may be planted
	pick       int                // faults and what-now: how many are taken; 0 for all
	fields     []string           // faults: the keys that are looked at
	record     *Record            // faults and what-now: what happened; nil for a plan
	inRecord   []string           // faults: rules that the record itself breaks
	looked     []measure.Duration // what-now: when the jars are looked at, one branch each
	jars       []jarCase

	lines map[string]int // the line of the file on which each key stands
}

// draw is one key of the kitchen that is drawn.
type draw struct {
	key    string
	values []Plan // each states the key
}

// blank is a kitchen like the first, with what the learner fills in.
type blank struct {
	change Plan
	keys   []string
}

// plantable is one fault that may be planted, and the safety rules it breaks.
type plantable struct {
	set   Plan
	rules []string
}

// jarCase is one jar on the counter.
type jarCase struct {
	record JarRecord
	says   string   // what is seen of it
	lid    string   // how its lid is drawn: flat, down or domed
	want   []string // the published answer for each time it is looked at; empty when none is named
	source string   // where that is published: a source id and a page
}

// Case is a scenario as a learner meets it: drawn, and worked out with the same
// look-ups that grade everything else.
type Case struct {
	*Scenario
	Seed     uint64
	Kitchen  Plan
	Body     []byte
	Solution Solution

	Then  []WorkedKitchen // worked
	Plan  Plan            // faults: with the faults in it
	Found []Finding       // faults: the safety findings
	Batch *Batch          // faults and what-now: what happened
	Jars  []JarCase       // what-now
}

// WorkedKitchen is a kitchen whose plan the learner completes.
type WorkedKitchen struct {
	Kitchen  Plan
	Solution Solution
	Blank    []string // keys to fill in
}

// JarCase is one jar on the counter.
type JarCase struct {
	Record JarRecord
	Says   string
	Lid    string
	Source string // where the answer is published, "" when it follows from the rules
}

var slugFile = regexp.MustCompile(`^(\d\d)-([a-z0-9]+(?:-[a-z0-9]+)*)\.md$`)

// LoadScenarios reads every NN-slug.md of a folder, in order, and checks each as
// [Grader.ParseScenario] does. All problems are reported together.
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
		if i := slices.IndexFunc(list, func(other *Scenario) bool { return other.Slug == s.Slug }); i >= 0 {
			problems = append(problems, &Problem{File: name, Message: fmt.Sprintf("its name is that of %s; a scenario is found by its name without the number", list[i].File)})
			continue
		}
		s.Number = len(list) + 1
		list = append(list, s)
	}
	return list, errors.Join(problems...)
}

// ParseScenario reads and checks one scenario file: its worked answer is as tested,
// what it plants is found and nothing else, and its rules are those it names. Of a
// template some draws are looked at; [Grader.CheckScenario] looks at all.
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
	if err := s.bounded(); err != nil {
		return nil, err
	}
	for seed := range uint64(min(3, s.space())) {
		if err := g.checkCase(s, seed); err != nil {
			return nil, err
		}
	}
	return s, nil
}

// CheckScenario looks at every case of a scenario.
func (g *Grader) CheckScenario(s *Scenario) error {
	for seed := range uint64(s.space()) {
		if err := g.checkCase(s, seed); err != nil {
			return err
		}
	}
	return nil
}

// Variants reports whether the scenario is drawn anew for each learner.
func (s *Scenario) Variants() bool { return s.space() > 1 }

const (
	// mostCases bounds what a scenario draws, so that all of it is looked at in a moment.
	mostCases = 1000
	// mostSteps bounds what is worked out and looked at in all cases together.
	mostSteps = 20_000
)

// bounded holds a scenario to what can be looked at case by case.
func (s *Scenario) bounded() error {
	wrong := func(key, format string, args ...any) error {
		return &Problem{File: s.File, Line: max(1, s.lines[key]), Col: 1, Message: fmt.Sprintf(format, args...)}
	}
	cases := s.space()
	if cases > mostCases {
		key := "draw"
		if s.pick > 0 {
			key = "pick"
		}
		return wrong(key, "there are more than %d cases, counting every draw and every pick; leave some out, so that all of them can be checked", mostCases)
	}
	jars := len(s.jars)
	if s.pick > 0 {
		jars = min(jars, s.pick)
	}
	// No list has more items than the file has letters, so this is no large number.
	if steps := int64(cases) * int64(max(1, len(s.choices))) * max(int64(jars)*int64(len(s.looked)), int64(1+len(s.then))); steps > mostSteps {
		return wrong(mainKey[s.Kind], "there is too much to check, %d steps in all cases together, and %d are the most; leave out some draws, choices, jars, hours or kitchens", steps, mostSteps)
	}
	return nil
}

// space is how many cases a scenario has, and more than mostCases if there are more.
func (s *Scenario) space() int {
	n := drawsOf(s)
	if of := max(len(s.faults), len(s.jars)); s.pick > 0 && s.pick < of {
		n = times(n, picks(of, s.pick))
	}
	return n
}

func drawsOf(s *Scenario) int {
	n := 1
	for _, d := range s.draws {
		n = times(n, len(d.values))
	}
	return n
}

// times multiplies and stops counting beyond mostCases.
func times(a, b int) int {
	if a > mostCases || b > mostCases || a*b > mostCases {
		return mostCases + 1
	}
	return a * b
}

// picks is how many ways there are to take n of a list, counted as far as mostCases. Taking
// one more each time, the number of ways never falls.
func picks(of, n int) int {
	n = min(n, of-n)
	ways := 1
	for i := 1; i <= n; i++ {
		if ways = ways * (of - n + i) / i; ways > mostCases {
			return mostCases + 1
		}
	}
	return ways
}

// Case draws a scenario. Seeds count through the draws in order, so that 0 is the
// first and any that follow one another differ; larger ones come around again. A case
// whose worked solution is not as tested is an error: nobody may be taught it.
func (g *Grader) Case(s *Scenario, seed uint64) (*Case, error) {
	c := &Case{Scenario: s, Seed: seed, Kitchen: s.kitchen}
	index := int(seed % uint64(s.space()))
	for _, d := range s.draws {
		c.Kitchen = overlay(c.Kitchen, d.values[index%len(d.values)])
		index /= len(d.values)
	}
	var err error
	if c.Solution, err = g.Solve(c.Kitchen, s.choices); err != nil {
		return c, err
	}
	if v := c.Solution.Report.Verdict; v != AsTested || len(c.Solution.Report.NotStated) > 0 {
		return c, fmt.Errorf("the worked solution is %s, not stated: %v", v, c.Solution.Report.NotStated)
	}
	c.Body = g.fillIn(s.Body, c.Solution.Plan)
	switch s.Kind {
	case Worked:
		err = g.workedCase(c)
	case Faults:
		err = g.faultsCase(c, index)
	case WhatNow:
		g.whatNowCase(c, index)
	}
	return c, err
}

// picked chooses n of a list of so many, all of them for n 0. Each index below
// [combin.Binomial](of, n) gives another set, larger ones come around again.
func picked(of, n, index int) []int {
	if n == 0 || n >= of {
		n = of
	}
	return combin.IndexToCombination(nil, index%combin.Binomial(of, n), of, n)
}

var placeholder = regexp.MustCompile(`\{\{([a-z_.]+)\}\}`)

// fillIn writes values of the kitchen into a text: {{jar}}, {{altitude}}.
func (g *Grader) fillIn(body []byte, p Plan) []byte {
	return placeholder.ReplaceAllFunc(body, func(m []byte) []byte {
		return []byte(g.SayValue(p, string(m[2:len(m)-2])))
	})
}

// SayValue says the value of a key as a person reads it, in both unit systems; ""
// when the plan does not state it.
func (g *Grader) SayValue(p Plan, key string) string {
	switch key {
	case "food":
		if card, ok := g.table.Card(p.Food.Value); ok {
			return card.Name
		}
	case "jar":
		if p.Jar.Known {
			return process.JarName(p.Jar.Value)
		}
	case "altitude":
		if p.Altitude.Known {
			return p.Altitude.Value.Both()
		}
	case "time":
		if p.Time.Known {
			return p.Time.Value.Both()
		}
	case "pressure":
		if p.Pressure.Known {
			return p.Pressure.Value.Both()
		}
	case "headspace":
		if p.Headspace.Known {
			return p.Headspace.Value.Both()
		}
	case "acid.per_jar":
		if p.AcidPerJar.Known {
			return p.AcidPerJar.Value.Both()
		}
	}
	return Label(p.Text(key))
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

// mainKey is the key of each kind that says what the learner decides upon. What is
// wrong with a case is told at its line.
var mainKey = map[string]string{PlanIt: "temptation", Worked: "then", Faults: "faults", WhatNow: "jars"}

// checkCase holds one case to what the file promises.
func (g *Grader) checkCase(s *Scenario, seed uint64) error {
	wrong := func(line int, format string, args ...any) error {
		message := fmt.Sprintf(format, args...)
		if s.Variants() {
			message = fmt.Sprintf("case %d: %s", seed, message)
		}
		return &Problem{File: s.File, Line: max(1, line), Col: 1, Message: message}
	}
	if s.Title == "" {
		return wrong(s.lines["title"], "a scenario needs a title")
	}
	if len(bytes.TrimSpace(s.Body)) == 0 {
		return wrong(s.BodyLine, "a scenario needs a text for the learner")
	}
	main := s.lines[mainKey[s.Kind]]
	if main == 0 { // what is wrong with a batch may all be in its record
		main = s.lines["record"]
	}
	c, err := g.Case(s, seed)
	switch {
	case err != nil && c.Body == nil: // there is no worked solution to write into it
		return wrong(s.lines["kitchen"], "%v", err)
	case err != nil:
		return wrong(main, "%v", err)
	}
	for _, m := range placeholder.FindAllSubmatchIndex(s.Body, -1) {
		if key := string(s.Body[m[2]:m[3]]); g.SayValue(c.Solution.Plan, key) == "" {
			return wrong(s.BodyLine+bytes.Count(s.Body[:m[0]], []byte("\n")), "the text asks for {{%s}}, which the kitchen does not state", key)
		}
	}
	if before, _, left := bytes.Cut(c.Body, []byte("{{")); left {
		return wrong(s.BodyLine+bytes.Count(before, []byte("\n")), "{{ begins the name of a key, such as {{jar}}")
	}
	switch s.Kind {
	case PlanIt:
		err = g.checkPlanIt(c)
	case Worked:
		err = g.checkWorked(c)
	case Faults:
		err = g.checkFaults(c)
	case WhatNow:
		err = g.checkWhatNow(c)
	}
	if err != nil {
		return wrong(main, "%v", err)
	}
	return nil
}

// safetyRules lists the rules of the safety findings, sorted.
func safetyRules(findings []Finding) []string {
	var ids []string
	for _, f := range findings {
		if f.Severity == "safety" && !slices.Contains(ids, f.Rule) {
			ids = append(ids, f.Rule)
		}
	}
	slices.Sort(ids)
	return ids
}

func sameRules(found, want []string) error {
	want = slices.Clone(want)
	slices.Sort(want)
	want = slices.Compact(want)
	if !slices.Equal(found, want) {
		return fmt.Errorf("it sets off %v, but the file says %v", found, want)
	}
	return nil
}

func (g *Grader) checkPlanIt(c *Case) error {
	found := safetyRules(g.Grade(overlay(c.Solution.Plan, c.temptation)).Findings)
	if err := sameRules(found, c.Exercises); err != nil {
		return fmt.Errorf("the temptation: %w", err)
	}
	return nil
}
