package scenarios

import (
	"slices"
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/rules"
)

// scenarioReader fills a Scenario from its front matter.
type scenarioReader struct {
	grader   *Grader
	scenario *Scenario
	binder
}

// scenarioKeys are the keys of front matter, and the kinds that have each; none
// for one that every kind has.
var scenarioKeys = []struct {
	name   string
	needed bool
	kinds  []string
}{
	{"title", true, nil},
	{"kind", true, nil},
	{"minutes", true, nil},
	{"competencies", true, nil},
	{"kitchen", true, nil},
	{"choices", false, nil},
	{"draw", false, nil},
	{"exercises", true, nil},
	{"temptation", true, []string{PlanIt}},
	{"then", true, []string{Worked}},
	{"faults", false, []string{Faults}},
	{"fields", true, []string{Faults}},
	{"in_record", false, []string{Faults}},
	{"record", false, []string{Faults, WhatNow}},
	{"pick", false, []string{Faults, WhatNow}},
	{"looked", true, []string{WhatNow}},
	{"jars", true, []string{WhatNow}},
}

func scenarioKeyNames() []string {
	var names []string
	for _, k := range scenarioKeys {
		names = append(names, k.name)
	}
	return names
}

func (r *scenarioReader) read(root node) {
	if root.shape != shapeMap {
		r.problem(root, "", "expected front matter with title, kind, minutes, competencies, kitchen and what its kind needs")
		return
	}
	seen := map[string]node{}
	r.scenario.lines = map[string]int{}
	for _, e := range root.entries {
		seen[e.key] = node{line: e.line, col: e.col}
		r.scenario.lines[e.key] = e.line + 1 // the front matter starts on the second line
		r.entry(e)
	}
	for _, k := range scenarioKeys {
		place, there := seen[k.name]
		belongs := k.kinds == nil || slices.Contains(k.kinds, r.scenario.Kind)
		switch {
		case there && !belongs && r.scenario.Kind != "":
			r.problem(place, k.name, "belongs to kind %s", strings.Join(k.kinds, " and "))
		case !there && k.needed && belongs:
			r.problem(node{line: root.line, col: 1}, k.name, "is needed")
		}
	}
}

func (r *scenarioReader) entry(e entry) {
	s := r.scenario
	switch e.key {
	case "title":
		s.Title = e.value.text
	case "kind":
		if !slices.Contains(ScenarioKinds(), e.value.text) {
			r.problem(e.value, e.key, "%q is not a kind of scenario; there are %s", e.value.text, strings.Join(ScenarioKinds(), ", "))
		}
		s.Kind = e.value.text
	case "minutes":
		s.Minutes = r.number(e, 1, 60)
	case "pick":
		s.pick = r.number(e, 1, 50)
	case "competencies":
		s.Competencies = r.distinct(e, rules.Competencies())
	case "exercises":
		s.Exercises = r.distinct(e, r.ruleIDs())
	case "in_record":
		s.inRecord = r.distinct(e, r.ruleIDs())
	case "fields":
		s.fields = r.distinct(e, append(planKeyNames(), recordFields...))
	case "kitchen":
		s.kitchen = r.partial(e.value)
	case "temptation":
		s.temptation = r.partial(e.value)
	case "choices":
		for _, item := range r.list(e) {
			s.choices = append(s.choices, r.partial(item))
		}
	case "draw":
		r.draws(e.value)
	case "then":
		for _, item := range r.list(e) {
			s.then = append(s.then, r.blank(item))
		}
	case "faults":
		for _, item := range r.list(e) {
			s.faults = append(s.faults, r.plantable(item))
		}
	case "record":
		s.record = &Record{}
		r.record(s.record, e.value)
	case "looked":
		for _, item := range r.list(e) {
			d, err := measure.ParseDuration(item.text)
			if err != nil {
				r.problem(item, e.key, "%v", err)
			}
			s.looked = append(s.looked, d)
		}
	case "jars":
		for _, item := range r.list(e) {
			s.jars = append(s.jars, r.jarCase(item))
		}
	default:
		r.problem(node{line: e.line, col: e.col}, "", "there is no key %q in a scenario; the nearest is %q", e.key, measure.Nearest(e.key, scenarioKeyNames()))
	}
}

// recordFields are what may be looked at of a record, besides the keys of the plan.
var recordFields = []string{"record.finished", "record.interruptions", "record.jars"}

func planKeyNames() []string {
	var names []string
	for _, k := range keys {
		names = append(names, k.Name)
	}
	return names
}

func (r *scenarioReader) ruleIDs() []string {
	var ids []string
	for _, rule := range r.grader.rules.Rules() {
		ids = append(ids, rule.ID)
	}
	return ids
}

func (r *scenarioReader) number(e entry, low, high int) int {
	n, err := strconv.Atoi(e.value.text)
	if err != nil || n < low || n > high {
		r.problem(e.value, e.key, "expected a whole number from %d to %d", low, high)
	}
	return n
}

func (r *scenarioReader) list(e entry) []node {
	if e.value.shape != shapeList || len(e.value.items) == 0 {
		r.problem(e.value, e.key, "expected a list")
	}
	return e.value.items
}

func (r *scenarioReader) words(e entry, known []string) []string {
	var words []string
	for _, item := range e.value.items {
		if !slices.Contains(known, item.text) {
			if near := measure.Nearest(item.text, known); near != "" {
				r.problem(item, e.key, "%q is not known; the nearest is %q", item.text, near)
			} else {
				r.problem(item, e.key, "%q is not known; there are %s", item.text, strings.Join(known, ", "))
			}
		}
		words = append(words, item.text)
	}
	if len(words) == 0 {
		r.problem(e.value, e.key, "expected a list")
	}
	return words
}

// distinct reads words of which none stands twice.
func (r *scenarioReader) distinct(e entry, known []string) []string {
	words := r.words(e, known)
	for i, item := range e.value.items {
		if slices.Contains(words[:i], item.text) {
			r.problem(item, e.key, "%q stands here twice", item.text)
		}
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

// draws reads lists of values by key, each as a plan that states just that.
func (r *scenarioReader) draws(n node) {
	if n.shape != shapeMap {
		r.problem(n, "draw", "expected keys of the kitchen, each with a list of values")
		return
	}
	for _, e := range n.entries {
		d := draw{key: e.key}
		for _, item := range r.list(e) {
			d.values = append(d.values, r.partial(node{shape: shapeMap, line: e.line, col: e.col, entries: []entry{{key: e.key, line: e.line, col: e.col, value: item}}}))
		}
		if len(d.values) > 0 {
			r.scenario.draws = append(r.scenario.draws, d)
		}
	}
}

// fieldsOf reads a mapping that has each of the keys and no other.
func (r *scenarioReader) fieldsOf(n node, what string, known ...string) map[string]node {
	fields := map[string]node{}
	if n.shape != shapeMap {
		r.problem(n, what, "expected keys: %s", strings.Join(known, ", "))
		return fields
	}
	for _, e := range n.entries {
		if !slices.Contains(known, e.key) {
			r.problem(node{line: e.line, col: e.col}, what, "there is no key %q here; there are %s", e.key, strings.Join(known, ", "))
		}
		fields[e.key] = e.value
	}
	for _, key := range known {
		if _, there := fields[key]; !there {
			r.problem(n, what, "%s is needed here", key)
		}
	}
	return fields
}

func (r *scenarioReader) blank(n node) blank {
	f := r.fieldsOf(n, "then", "kitchen", "blank")
	if len(f) != 2 {
		return blank{}
	}
	return blank{change: r.partial(f["kitchen"]), keys: r.distinct(entry{key: "then", value: f["blank"]}, planKeyNames())}
}

func (r *scenarioReader) plantable(n node) plantable {
	f := r.fieldsOf(n, "faults", "set", "rules")
	if len(f) != 2 {
		return plantable{}
	}
	return plantable{set: r.partial(f["set"]), rules: r.distinct(entry{key: "faults", value: f["rules"]}, r.ruleIDs())}
}

// jarCase reads one jar on the counter: what a record says of it, what is seen, how
// its lid is drawn, and the published answer.
func (r *scenarioReader) jarCase(n node) jarCase {
	var c jarCase
	// Its number is that of its place on the counter, which the case decides.
	record := node{shape: shapeMap, line: n.line, col: n.col, entries: []entry{{key: "n", value: node{text: "1"}}}}
	for _, e := range n.entries {
		switch e.key {
		case "n":
			r.problem(e.value, "jars", "a jar has its number by its place on the counter")
		case "says":
			c.says = e.value.text
		case "lid":
			c.lid = e.value.text
		case "source":
			c.source = e.value.text
		case "answer":
			c.want = r.words(entry{key: "jars", value: listOf(e.value)}, jarAnswers)
		default:
			record.entries = append(record.entries, e)
		}
	}
	if c.says == "" || !slices.Contains([]string{"flat", "down", "domed"}, c.lid) {
		r.problem(n, "jars", "a jar needs says, what is seen of it, and lid: flat, down or domed")
	}
	if (c.want == nil) != (c.source == "") {
		r.problem(n, "jars", "answer and source go together: what is published, and where")
	}
	if id, page, _ := strings.Cut(c.source, ", "); c.source != "" {
		if _, known := r.grader.rules.Source(id); !known || page == "" {
			r.problem(n, "jars", "source %q: write the id of a source and the page, such as usda-guide-1, p. 1-26", c.source)
		}
	}
	c.record = r.jar(record)
	return c
}

// listOf takes one value for a list of one.
func listOf(n node) node {
	if n.shape == shapeScalar {
		return node{shape: shapeList, line: n.line, col: n.col, items: []node{n}}
	}
	return n
}

// jarAnswers are what may become of a jar.
var jarAnswers = []string{"shelf", "use-first", "refrigerate", "reprocess", "freeze", "discard", "detoxify-and-discard"}

// JarAnswers lists what may become of a jar.
func JarAnswers() []string { return slices.Clone(jarAnswers) }

// err shifts places to the file: the front matter starts on its second line.
func (r *scenarioReader) err(file string) error {
	err := r.binder.err(file)
	for _, p := range Problems(err) {
		p.Line++
	}
	return err
}
