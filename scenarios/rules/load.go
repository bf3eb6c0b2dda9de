package rules

import (
	"errors"
	"fmt"
	"io/fs"
	"regexp"
	"slices"
	"strings"

	"github.com/goccy/go-yaml/ast"
)

// The files that hold no rules.
const (
	misconceptionsFile = "misconceptions.yaml"
	sourcesFile        = "sources.yaml"
	disagreementsFile  = "disagreements.yaml" // may be left out
)

var (
	ruleKeys = []string{
		"id", "stage", "severity", "verdict", "field", "when", "says", "why", "given", "required",
		"lesson", "misconceptions", "source", "breaks", "keeps",
	}
	misconceptionKeys = []string{"id", "belief", "not", "truth", "lesson", "source"}
	sourceKeys        = []string{"id", "title", "publisher", "edition", "part", "read", "url"}
	disagreementKeys  = []string{"id", "about", "readings", "taken", "why"}
	readingKeys       = []string{"says", "source"}
)

// slug is the form of ids and of lessons: lower-case words joined by hyphens.
var slug = regexp.MustCompile(`^[a-z][a-z0-9]*(-[a-z0-9]+)*$`)

// Load reads every *.yaml file at the root of fsys and checks it whole: the
// files have the form that the package comment describes. All mistakes are
// reported together, in the order of files and lines, each as
// "file:line:col: rule id: message".
func Load(fsys fs.FS, o Options) (*Set, error) {
	facts, err := newCatalog(o)
	if err != nil {
		return nil, err
	}
	if len(o.Stages) == 0 || len(o.Fields) == 0 {
		return nil, errors.New("rules: Options need Stages and Fields")
	}
	files, err := fs.ReadDir(fsys, ".")
	if err != nil {
		return nil, fmt.Errorf("read the rule files: %w", err)
	}

	l := &loader{fsys: fsys, options: o, facts: facts}
	sources := l.loadSources()
	misconceptions := l.loadMisconceptions()
	var disagreements []Disagreement
	for _, f := range files {
		switch name := f.Name(); {
		case name == sourcesFile || name == misconceptionsFile:
		case name == disagreementsFile:
			disagreements = l.loadDisagreements()
		case strings.HasSuffix(name, ".yaml"):
			l.loadRules(name)
		case strings.HasSuffix(name, ".yml"):
			l.fileProblem(name, "name it .yaml, or it is not read")
		}
	}
	if len(l.rules) == 0 && len(l.problems) == 0 {
		l.fileProblem("*.yaml", "there are no rules, and a plan must not pass for want of them")
	}
	if err := joined(l.problems); err != nil {
		return nil, err
	}

	for i := range l.runnables {
		l.runnables[i].rule = &l.rules[i]
	}
	set := newSet(facts, slices.Clone(o.Stages), l.rules, l.runnables)
	set.sources, set.misconceptions, set.disagreements = sources, misconceptions, disagreements
	return set, nil
}

// A loader collects what the files hold and what is wrong with them.
type loader struct {
	fsys             fs.FS
	options          Options
	facts            *catalog
	sourceIDs        []string // nil while they could not be read
	misconceptionIDs []string // nil while they could not be read
	rules            []Rule
	runnables        []runnable // in step with rules
	ruleIDs          map[string]place
	problems         []problem
}

func (l *loader) fileProblem(file, message string) {
	l.problems = append(l.problems, problem{at: place{file: file}, message: message})
}

// open gives the items of the list under a file's only key.
func (l *loader) open(file, key string) (*reader, []ast.Node) {
	source, err := fs.ReadFile(l.fsys, file)
	if err != nil {
		l.fileProblem(file, err.Error())
		return nil, nil
	}
	return readFile(file, source, key, &l.problems)
}

func (l *loader) loadSources() []Source {
	r, items := l.open(sourcesFile, "sources")
	var sources []Source
	for i, item := range items {
		rec, ok := r.record(item, "source", i+1, sourceKeys)
		if !ok {
			continue
		}
		s := Source{
			ID:        rec.slug("id"),
			Title:     rec.text("title", "what it is called"),
			Publisher: rec.text("publisher", "who published it"),
			Edition:   rec.text("edition", "which edition or year"),
			Part:      rec.text("part", "the pages or sections meant"),
			Read:      rec.oneOf("read", readings),
			URL:       rec.optional("url", "where it is to be found, or leave it out"),
		}
		rec.unique(s.ID, l.sourceIDs)
		l.sourceIDs = append(l.sourceIDs, s.ID)
		sources = append(sources, s)
	}
	return sources
}

func (l *loader) loadMisconceptions() []Misconception {
	r, items := l.open(misconceptionsFile, "misconceptions")
	var misconceptions []Misconception
	for i, item := range items {
		rec, ok := r.record(item, "misconception", i+1, misconceptionKeys)
		if !ok {
			continue
		}
		m := Misconception{
			ID:     rec.slug("id"),
			Belief: rec.text("belief", "the belief, in the learner's words"),
			Not:    rec.text("not", "that it is not so"),
			Truth:  rec.text("truth", "what is true, and why"),
			Lesson: rec.slug("lesson"),
			Source: l.source(rec),
		}
		rec.unique(m.ID, l.misconceptionIDs)
		l.misconceptionIDs = append(l.misconceptionIDs, m.ID)
		misconceptions = append(misconceptions, m)
	}
	return misconceptions
}

func (l *loader) loadDisagreements() []Disagreement {
	r, items := l.open(disagreementsFile, "disagreements")
	var disagreements []Disagreement
	var ids []string
	for i, item := range items {
		rec, ok := r.record(item, "disagreement", i+1, disagreementKeys)
		if !ok {
			continue
		}
		d := Disagreement{
			ID:       rec.slug("id"),
			About:    rec.text("about", "what the sources differ about"),
			Readings: l.readings(rec),
			Taken:    rec.text("taken", "the reading that is taken"),
			Why:      rec.text("why", "what decided"),
		}
		rec.unique(d.ID, ids)
		ids = append(ids, d.ID)
		disagreements = append(disagreements, d)
	}
	return disagreements
}

// readings reads what each side of a disagreement says. One side is none.
func (l *loader) readings(rec record) []Reading {
	var readings []Reading
	items := rec.items("readings")
	for i, item := range items {
		side, ok := rec.record(item, rec.subject+": reading", i+1, readingKeys)
		if !ok {
			continue
		}
		readings = append(readings, Reading{Says: side.text("says", "what the source says, in your own words"), Source: l.source(side)})
	}
	if len(items) == 1 {
		rec.problem(rec.entries["readings"].at, rec.subject, "readings has one item: it takes two to disagree")
	}
	return readings
}

func (l *loader) loadRules(file string) {
	r, items := l.open(file, "rules")
	for i, item := range items {
		rec, ok := r.record(item, "rule", i+1, ruleKeys)
		if !ok {
			continue
		}
		rule := Rule{
			ID:             rec.slug("id"),
			Stage:          rec.oneOf("stage", l.options.Stages),
			Severity:       rec.oneOf("severity", severities),
			Field:          rec.oneOf("field", l.options.Fields),
			When:           rec.text("when", "the condition that is true when the rule is broken"),
			Says:           rec.text("says", "what is the matter with the plan"),
			Why:            rec.text("why", "the reason, in plain words"),
			Given:          rec.optional("given", "the value the plan states, or leave it out"),
			Required:       rec.optional("required", "the value that was tested, or leave it out"),
			Lesson:         rec.slug("lesson"),
			Misconceptions: rec.words("misconceptions", l.misconceptionIDs),
			Source:         l.source(rec),
			Breaks:         rec.examples("breaks"),
			Keeps:          rec.examples("keeps"),
			File:           file,
			Line:           rec.at.line,
		}
		if e, stated := rec.entries["verdict"]; rule.Severity == safety {
			rule.Verdict = rec.oneOf("verdict", verdicts)
		} else if stated {
			rec.problem(e.at, rec.subject, "verdict is for safety rules only: leave it out")
		}
		if first, again := l.ruleIDs[rule.ID]; again {
			rec.problem(rec.entries["id"].at, rec.subject, "the id is taken by the rule at %s:%d", first.file, first.line)
		} else if rule.ID != "" {
			if l.ruleIDs == nil {
				l.ruleIDs = map[string]place{}
			}
			l.ruleIDs[rule.ID] = rec.at
		}
		l.rules = append(l.rules, rule)
		l.runnables = append(l.runnables, l.prepare(rec, rule))
	}
}

// prepare compiles a rule's condition and texts.
func (l *loader) prepare(rec record, rule Rule) runnable {
	run := runnable{stage: slices.Index(l.options.Stages, rule.Stage)}
	if rule.When != "" {
		var faults []fault
		run.condition, faults = l.facts.compile(rule.When)
		for _, f := range faults {
			rec.problem(rec.within(rec.entries["when"], rule.When, f.offset), rec.subject, "when: %s", f.message)
		}
	}
	for _, t := range []struct {
		key, source string
		text        *text
	}{{"says", rule.Says, &run.says}, {"why", rule.Why, &run.why}, {"given", rule.Given, &run.given}, {"required", rule.Required, &run.required}} {
		var err error
		if *t.text, err = l.facts.newText(t.source); err != nil {
			rec.problem(rec.entries[t.key].at, rec.subject, "%s: %v", t.key, err)
		}
	}
	return run
}

// source reads one source or a list of them.
func (l *loader) source(rec record) string {
	if _, stated := rec.entries["source"]; !stated {
		rec.problem(rec.at, rec.subject, "source is missing: write the id of a publication in %s", sourcesFile)
		return ""
	}
	return strings.Join(rec.words("source", l.sourceIDs), ", ")
}

// slug reads an obligatory id.
func (r record) slug(key string) string {
	id := r.text(key, "a short name such as time-short")
	if id != "" && !slug.MatchString(id) {
		r.problem(r.entries[key].at, r.subject, "%s: %q is not a name of lower-case words joined by hyphens", key, id)
	}
	return id
}

// unique notes an id that stands in its file twice.
func (r record) unique(id string, before []string) {
	if id != "" && slices.Contains(before, id) {
		r.problem(r.entries["id"].at, r.subject, "the id is taken further up in this file")
	}
}
