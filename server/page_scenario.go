package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"html/template"
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// Scenarios of four kinds share one address and one page; what is asked and what is
// said to the answer is the kind's. A case is named by its seed in the address, so
// that a class does not share one answer and a page that is loaded again asks the
// same.

type scenariosPage struct {
	page
	Kinds  []scenarioGroup
	Shown  []progressLine
	Passed int
	Of     int
}

type scenarioGroup struct {
	Name, Means string
	Scenarios   []scenarioLine
}

type scenarioLine struct {
	*scenarios.Scenario
	Passed, Own bool
}

// progressLine is how many scenarios on a competency are passed.
type progressLine struct {
	Name       string
	Passed, Of int
}

var kindNames = map[string][2]string{
	scenarios.Worked:  {"Worked step by step", "Read one whole, finish the next, and then the next."},
	scenarios.PlanIt:  {"Write the plan", "Somebody else’s kitchen, your decision, checked by the same rules as your own."},
	scenarios.Faults:  {"Find the faults", "A plan or a finished batch in which something is wrong."},
	scenarios.WhatNow: {"The morning after", "Jars on the counter. What becomes of each?"},
}

func (s *Server) scenariosPage(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data := scenariosPage{page: newPage("Scenarios", "/scenarios"), Of: len(t.Scenarios)}
	passed, err := s.passedScenarios(c, s.visitor(c), func(a store.Attempt) bool {
		return a.Wording == t.wording(store.ScenarioMaterial, a.Scenario)
	})
	if err != nil {
		return err
	}
	by := map[string]*progressLine{}
	for _, kind := range scenarios.ScenarioKinds() {
		group := scenarioGroup{Name: kindNames[kind][0], Means: kindNames[kind][1]}
		for _, sc := range t.Scenarios {
			if sc.Kind != kind {
				continue
			}
			group.Scenarios = append(group.Scenarios, scenarioLine{sc, passed[sc.Slug], t.has(store.ScenarioMaterial, sc.Slug)})
			if passed[sc.Slug] {
				data.Passed++
			}
			for _, name := range sc.Competencies {
				if by[name] == nil {
					by[name] = &progressLine{Name: scenarios.Label(name)}
				}
				by[name].Of++
				if passed[sc.Slug] {
					by[name].Passed++
				}
			}
		}
		if len(group.Scenarios) > 0 {
			data.Kinds = append(data.Kinds, group)
		}
	}
	if data.Passed > 0 {
		for _, name := range rules.Competencies() {
			if by[name] != nil {
				data.Shown = append(data.Shown, *by[name])
			}
		}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "scenarios", data)
}

type scenarioPage struct {
	page
	Scenario *scenarios.Scenario
	KindName string
	Count    int
	Case     uint64
	Text     template.HTML
	Settled  []settled
	Wrong    []wrongView
	Result   *scenarioResult
	Changed  []string
	Again    string // another case; "" where there is only one
	Sheet    worksheet
	Own      string   // since when it is an instructor's own; "" for one of the course
	Wording  string   // see taught.wording
	Stale    bool     // changed since the form was opened
	Ask      *askPart // nil for who belongs to no class

	Form     []section     // plan
	Report   *reportView   // plan
	Solution *solutionView // plan
	Steps    []scenarios.Step
	Kitchens []workedView // worked
	Fields   []faultView  // faults
	Record   []settled    // faults of a batch
	Looked   []lookedView // what-now
	At       int
	When     string
	Jars     []jarView
	Answers  []optionLine
}

type settled struct{ Name, Value string }

type solutionView struct {
	Steps []scenarios.Step
	Lines []planLine
}

// workedView is a kitchen to be finished.
type workedView struct {
	N       int
	Settled []settled
	Steps   []scenarios.Step // with what is worked out
	Fields  []field          // what is left blank
	Result  *scenarioResult
}

// faultView is one thing that is looked at.
type faultView struct {
	Key, Name, Value string
	Wrong            bool
	Fix              *field // to give the right value; nil for things of the record
}

type lookedView struct {
	N    int
	Name string
	Here bool
}

type jarView struct {
	N       int
	Picture template.HTML
	Says    string
	Said    string
}

// scenarioResult is what is said to an answer. It is kept as it is and shown again
// as it was, whatever the rules become.
type scenarioResult struct {
	Part    string             `json:"part"` // of the scenario, where it is answered in parts
	Passed  bool               `json:"passed"`
	Heading string             `json:"heading"`
	Lines   []resultLine       `json:"lines"`
	Credits []scenarios.Credit `json:"credits"`
}

// resultLine is one thing that was answered.
type resultLine struct {
	Name   string `json:"name"`
	Said   string `json:"said"`
	Right  bool   `json:"right"`
	Answer string `json:"answer"` // the right one, where it differs
	Why    string `json:"why"`
	Source string `json:"source"`
}

// caseOf finds the case of an address. A template without one named is drawn.
func (s *Server) caseOf(c *gin.Context) (kase *scenarios.Case, drawn bool, err error) {
	t, err := s.taughtTo(c)
	if err != nil {
		return nil, false, err
	}
	sc := t.scenario(c.Param("scenario"))
	if sc == nil {
		return nil, false, errNoPage
	}
	seed := uint64(0)
	if text := c.Query("case"); text != "" {
		if seed, err = strconv.ParseUint(text, 10, 32); err != nil {
			return nil, false, errNoPage
		}
	} else if sc.Variants() {
		seed, drawn = uint64(rand.Uint32()), true
	}
	kase, err = s.course.Grader.Case(sc, seed)
	return kase, drawn, err
}

func scenarioAddress(slug string, seed uint64, more string) string {
	return "/scenarios/" + slug + "?case=" + strconv.FormatUint(seed, 10) + more
}

func (s *Server) scenarioPage(c *gin.Context) error {
	kase, drawn, err := s.caseOf(c)
	if err != nil {
		return err
	}
	if drawn {
		c.Redirect(http.StatusSeeOther, scenarioAddress(kase.Slug, kase.Seed, ""))
		return nil
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data, err := s.newScenarioPage(c, t, kase)
	if err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}

func (s *Server) newScenarioPage(c *gin.Context, t *taught, kase *scenarios.Case) (scenarioPage, error) {
	data := scenarioPage{
		page: newPage(kase.Title, "/scenarios/"+kase.Slug), Scenario: kase.Scenario, KindName: kindNames[kase.Kind][0],
		Count: len(t.Scenarios), Own: t.writtenFor(store.ScenarioMaterial, kase.Slug), Wording: t.wording(store.ScenarioMaterial, kase.Slug), Case: kase.Seed, Settled: s.settledOf(kase.Kitchen, nil),
	}
	if kase.Variants() {
		data.Again = scenarioAddress(kase.Slug, uint64(rand.Uint32()), "")
	}
	data.Sheet = s.worksheetOf(kase)
	var err error
	if data.Ask, err = s.askPartOf(c, scenarioKind, kase.Slug, kase.Seed, ""); err != nil {
		return data, err
	}
	parts, err := markdown.Render(kase.File, kase.Body, kase.BodyLine, nil)
	if err != nil {
		return data, err
	}
	for _, p := range parts {
		data.Text += p.HTML
	}
	switch kase.Kind {
	case scenarios.PlanIt:
		data.Form = s.fillForm(url.Values{}, nil, nil, kase.Kitchen.Known)
	case scenarios.Worked:
		data.Steps = kase.Solution.Steps
		for i := range kase.Then {
			data.Kitchens = append(data.Kitchens, s.viewWorked(kase, i, nil, nil))
		}
	case scenarios.Faults:
		s.viewFaults(&data, kase, nil, nil)
	case scenarios.WhatNow:
		err = s.viewWhatNow(c, &data, kase, nil)
	}
	return data, err
}

// settledOf lists what a kitchen has settled, or of it what another has not.
func (s *Server) settledOf(kitchen scenarios.Plan, like *scenarios.Plan) []settled {
	var list []settled
	for _, k := range scenarios.Keys() {
		if !kitchen.Known(k.Name) || like != nil && like.Text(k.Name) == kitchen.Text(k.Name) {
			continue
		}
		list = append(list, settled{words[k.Name].label, s.sayPlan(kitchen, k.Name)})
	}
	return list
}

// sayPlan says a value of a plan as its form does, in both unit systems.
func (s *Server) sayPlan(p scenarios.Plan, key string) string {
	if firstKeyIsText(key) || key == "food" || key == "jar" {
		return s.course.Grader.SayValue(p, key)
	}
	return sayValue(key, p.Text(key))
}

func (s *Server) viewWorked(kase *scenarios.Case, i int, typed url.Values, wrong map[string]string) workedView {
	w := kase.Then[i]
	v := workedView{N: i + 1, Settled: s.settledOf(w.Kitchen, &kase.Kitchen)}
	for _, step := range w.Solution.Steps {
		if !slices.Contains(w.Blank, step.Key) {
			v.Steps = append(v.Steps, step)
		}
	}
	for _, key := range w.Blank {
		f := filled(s.fieldOf(key), typed[key], wrong[key], nil)
		f.Key = blankName(i, key)
		v.Fields = append(v.Fields, f)
	}
	return v
}

// blankName names the field of a blank: the same key is asked for in several kitchens.
func blankName(i int, key string) string { return fmt.Sprintf("kitchen-%d-%s", i+1, key) }

// fieldOf is the empty field of one key.
func (s *Server) fieldOf(key string) field {
	for _, sec := range s.form {
		for _, f := range sec.Fields {
			if f.Key == key {
				return f
			}
		}
	}
	return field{Key: key, Label: key, Control: "text"}
}

var recordNames = map[string]string{"record.finished": "How long the boil or the pressure was held", "record.interruptions": "What was done when the boil or the pressure was lost", "record.jars": "What became of the jars"}

func (s *Server) viewFaults(data *scenarioPage, kase *scenarios.Case, typed url.Values, wrong map[string]string) {
	data.Fields = nil
	for _, key := range kase.Fields() {
		v := faultView{Key: key, Wrong: typed.Get("wrong-"+key) == "wrong"}
		if name, ok := recordNames[key]; ok {
			v.Name, v.Value = name, s.sayRecord(kase, key)
		} else {
			v.Name, v.Value = words[key].label, s.sayPlan(kase.Plan, key)
			fix := filled(s.fieldOf(key), typed["fix-"+key], wrong[key], nil)
			fix.Key, fix.Label, fix.Means = "fix-"+key, "What should it be?", ""
			v.Fix = &fix
		}
		data.Fields = append(data.Fields, v)
	}
	if kase.Batch != nil {
		data.Record = s.recordOf(kase)
	}
}

// sayRecord says one part of what happened.
func (s *Server) sayRecord(kase *scenarios.Case, key string) string {
	r := kase.Batch.Record
	switch key {
	case "record.finished":
		return fmt.Sprintf("from %s to %s", r.Start.Format("15:04"), r.Finished.Format("15:04"))
	case "record.interruptions":
		var list []string
		for _, i := range r.Interruptions {
			list = append(list, fmt.Sprintf("lost at %s, back at %s", i.From.Format("15:04"), i.To.Format("15:04")))
		}
		if len(list) == 0 {
			return "never lost"
		}
		return strings.Join(list, "; ")
	}
	var list []string
	for _, j := range r.Jars {
		list = append(list, s.sayJar(j))
	}
	return strings.Join(list, "; ")
}

func (s *Server) sayJar(j scenarios.JarRecord) string {
	text := fmt.Sprintf("jar %d: ", j.N)
	if j.Sealed.Known {
		text += map[bool]string{true: "sealed", false: "not sealed"}[j.Sealed.Value]
	} else {
		text += "seal not tested"
	}
	for _, word := range []string{j.LiquidLost.Value, j.Looks.Value} {
		if word != "" && word != "none" && word != "clear" {
			text += ", " + scenarios.Label(word)
		}
	}
	if j.LiquidLost.Value == "some" || j.LiquidLost.Value == "half-or-more" {
		text += " of the liquid lost"
	}
	if j.Separated.Value {
		text += ", parted into layers"
	}
	if j.CheckedAfter.Known {
		text += ", looked at after " + j.CheckedAfter.Value.String()
	}
	if j.Placed.Known {
		text += ", then " + scenarios.Label(j.Placed.Value)
	}
	return text
}

func (s *Server) recordOf(kase *scenarios.Case) []settled {
	r := kase.Batch.Record
	list := []settled{{"Held", s.sayRecord(kase, "record.finished")}}
	if len(r.Interruptions) > 0 {
		list = append(list, settled{"Boil or pressure", s.sayRecord(kase, "record.interruptions")})
	}
	for _, j := range r.Jars {
		list = append(list, settled{fmt.Sprintf("Jar %d", j.N), strings.TrimPrefix(s.sayJar(j), fmt.Sprintf("jar %d: ", j.N))})
	}
	return list
}

var answerNames = map[string]string{
	"shelf": "on the shelf", "use-first": "on the shelf, used first", "refrigerate": "in the refrigerator", "reprocess": "processed again",
	"freeze": "in the freezer", "discard": "thrown out, unopened and untasted", "detoxify-and-discard": "detoxified, then thrown out",
}

func (s *Server) viewWhatNow(c *gin.Context, data *scenarioPage, kase *scenarios.Case, said []string) error {
	looked := kase.Looked()
	data.At, _ = strconv.Atoi(c.Query("at"))
	if data.At < 0 || data.At >= len(looked) {
		data.At = 0
	}
	for i, d := range looked {
		data.Looked = append(data.Looked, lookedView{i, d.String() + " after the canner", i == data.At})
	}
	data.When = kase.Batch.Record.Finished.Add(0).Format("Monday 15:04")
	for _, a := range scenarios.JarAnswers() {
		data.Answers = append(data.Answers, optionLine{a, scenarios.Sentence(answerNames[a])})
	}
	for i, j := range kase.Jars {
		picture, err := s.part("jar", drawJar(fmt.Sprintf("jar-%d", i+1), lookOf(kase, j)))
		if err != nil {
			return err
		}
		v := jarView{N: i + 1, Picture: picture, Says: j.Says}
		if i < len(said) {
			v.Said = said[i]
		}
		data.Jars = append(data.Jars, v)
	}
	return nil
}

func lookOf(kase *scenarios.Case, j scenarios.JarCase) jarLook {
	l := jarLook{Size: kase.Plan.Jar.Value, Headspace: kase.Plan.Headspace.Value, Liquid: "full", Lid: j.Lid, Layers: j.Record.Separated.Value, Bubbles: j.Record.Looks.Value == "bubbles"}
	switch j.Record.LiquidLost.Value {
	case "some":
		l.Liquid = "third-down"
	case "half-or-more":
		l.Liquid = "half-down"
	}
	return l
}

// tryScenario judges an answer, keeps the attempt, and shows what is said to it and
// what changed since the last try.
func (s *Server) tryScenario(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	kase, drawn, err := s.caseOf(c)
	if err != nil {
		return err
	}
	if drawn {
		return errNoPage // an answer names its case
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data, err := s.newScenarioPage(c, t, kase)
	if err != nil {
		return err
	}
	data.Stale = t.stale(c.Request.PostForm, store.ScenarioMaterial, kase.Slug)
	switch kase.Kind {
	case scenarios.Worked:
		return s.tryWorked(c, kase, data)
	case scenarios.Faults:
		return s.tryFaults(c, kase, data)
	case scenarios.WhatNow:
		return s.tryWhatNow(c, kase, data)
	}
	return s.tryPlan(c, kase, data)
}

func (s *Server) tryPlan(c *gin.Context, kase *scenarios.Case, data scenarioPage) error {
	typed := noneMeansNothing(c.Request.PostForm)
	for key, values := range noneMeansNothing(formOf(kase.Kitchen)) { // what is settled cannot be changed
		typed[key] = values
	}
	plan, err := s.course.Grader.PlanFromForm(typed)
	if wrong := scenarios.Problems(err); len(wrong) > 0 {
		var byKey map[string]string
		data.Wrong, byKey = viewWrong(wrong)
		data.Form = s.fillForm(c.Request.PostForm, byKey, nil, kase.Kitchen.Known)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "scenario", data)
	}
	if data.Stale {
		data.Form = s.fillForm(c.Request.PostForm, nil, nil, kase.Kitchen.Known)
		return s.write(c.Writer, c.Request, http.StatusConflict, "scenario", data)
	}
	advice := s.course.Grader.Advise(plan)
	answer := s.judgePlan(kase, plan, advice.Report)
	if data.Changed, err = s.keepAttempt(c, data, kase, answer); err != nil {
		return err
	}
	view := s.viewAdvice(advice, plan)
	worked := map[string]string{}
	for _, k := range scenarios.Keys() {
		if kase.Solution.Plan.Known(k.Name) {
			worked[k.Name] = kase.Solution.Plan.Text(k.Name)
		}
	}
	data.Report, data.Result = &view, &answer.result
	data.Solution = &solutionView{Steps: kase.Solution.Steps, Lines: s.linesOf(plan, worked)}
	data.Form = s.fillForm(c.Request.PostForm, nil, nil, kase.Kitchen.Known)
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}

// judged is an answer with what is said to it, before it is kept.
type judged struct {
	answer  []byte
	report  any // on a plan; nil for what is no plan
	verdict string
	result  scenarioResult
	counts  bool // whether passing this passes the scenario, or a part of it only
}

// judgePlan judges a plan that was written for a kitchen, by the report on it.
func (s *Server) judgePlan(kase *scenarios.Case, plan scenarios.Plan, report scenarios.Report) judged {
	result := scenarioResult{Passed: report.Verdict == scenarios.AsTested, Credits: kase.Credits(plan, report)}
	for _, k := range scenarios.Keys() {
		if plan.Known(k.Name) && !kase.Kitchen.Known(k.Name) {
			result.Lines = append(result.Lines, resultLine{Name: words[k.Name].label, Said: s.sayPlan(plan, k.Name)})
		}
	}
	return judged{answer: plan.YAML(), report: report, verdict: string(report.Verdict), result: result, counts: true}
}

func (s *Server) tryWorked(c *gin.Context, kase *scenarios.Case, data scenarioPage) error {
	i, err := strconv.Atoi(c.Request.PostForm.Get("kitchen"))
	if err != nil || i < 1 || i > len(kase.Then) {
		return errNoPage
	}
	blank := url.Values{}
	for _, key := range kase.Then[i-1].Blank {
		blank[key] = c.Request.PostForm[blankName(i-1, key)]
	}
	given, err := s.course.Grader.PlanFromForm(noneMeansNothing(blank))
	if wrong := scenarios.Problems(err); len(wrong) > 0 {
		var byKey map[string]string
		data.Wrong, byKey = viewWrong(wrong)
		for n := range data.Wrong {
			data.Wrong[n].Key = blankName(i-1, data.Wrong[n].Key)
		}
		data.Kitchens[i-1] = s.viewWorked(kase, i-1, blank, byKey)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "scenario", data)
	}
	if data.Stale {
		data.Kitchens[i-1] = s.viewWorked(kase, i-1, blank, nil)
		return s.write(c.Writer, c.Request, http.StatusConflict, "scenario", data)
	}
	answer := s.judgeWorked(kase, i, given)
	if data.Changed, err = s.keepAttempt(c, data, kase, answer); err != nil {
		return err
	}
	data.Kitchens[i-1] = s.viewWorked(kase, i-1, blank, nil)
	data.Kitchens[i-1].Result = &answer.result
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}

// judgeWorked judges what was filled into a kitchen, counted from 1.
func (s *Server) judgeWorked(kase *scenarios.Case, kitchen int, given scenarios.Plan) judged {
	marked := s.course.Grader.MarkWorked(kase, kitchen-1, given)
	result := scenarioResult{Part: fmt.Sprintf("kitchen %d", kitchen), Passed: marked.Passed, Heading: "As the table has it."}
	if !marked.Passed {
		result.Heading = "Not yet as tested."
	}
	for _, m := range marked.Marks {
		line := resultLine{Name: words[m.Key].label, Said: m.Given, Right: m.Right, Why: m.Why}
		if !m.Right {
			line.Answer = m.Tested
		}
		result.Lines = append(result.Lines, line)
	}
	// The last kitchen is the one that counts: it has the most blanks.
	return judged{answer: given.YAML(), verdict: verdictOf(marked.Passed), result: result, counts: kitchen == len(kase.Then)}
}

// verdictOf puts an attempt without a plan's verdict into the words of one.
func verdictOf(passed bool) string {
	if passed {
		return string(scenarios.AsTested)
	}
	return string(scenarios.FixFirst)
}

func (s *Server) tryFaults(c *gin.Context, kase *scenarios.Case, data scenarioPage) error {
	form := c.Request.PostForm
	said := map[string]scenarios.FaultAnswer{}
	fixes := url.Values{}
	for _, key := range kase.Fields() {
		values := slices.DeleteFunc(slices.Clone(form["fix-"+key]), func(v string) bool { return strings.TrimSpace(v) == "" })
		if len(values) > 1 { // "none of these" beside others says nothing
			values = slices.DeleteFunc(values, func(v string) bool { return v == "none" })
		}
		said[key] = scenarios.FaultAnswer{Wrong: form.Get("wrong-"+key) == "wrong", Value: strings.TrimSpace(strings.Join(values, ", "))}
		if said[key].Wrong {
			fixes[key] = values
		}
	}
	if _, err := s.course.Grader.PlanFromForm(noneMeansNothing(fixes)); err != nil {
		var byKey map[string]string
		data.Wrong, byKey = viewWrong(scenarios.Problems(err))
		for n := range data.Wrong {
			data.Wrong[n].Key = "fix-" + data.Wrong[n].Key
		}
		s.viewFaults(&data, kase, form, byKey)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "scenario", data)
	}
	s.viewFaults(&data, kase, form, nil)
	if data.Stale {
		return s.write(c.Writer, c.Request, http.StatusConflict, "scenario", data)
	}
	answer, err := s.judgeFaults(kase, said)
	if err != nil {
		return err
	}
	if data.Changed, err = s.keepAttempt(c, data, kase, answer); err != nil {
		return err
	}
	data.Result = &answer.result
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}

// judgeFaults judges a search for faults.
func (s *Server) judgeFaults(kase *scenarios.Case, said map[string]scenarios.FaultAnswer) (judged, error) {
	marked := s.course.Grader.MarkFaults(kase, said)
	result := scenarioResult{Passed: marked.Passed, Heading: fmt.Sprintf("%d of %d faults found, %s.", marked.Hits, marked.Hits+marked.Misses, alarms(marked.FalseAlarm))}
	for _, m := range marked.Marks {
		result.Lines = append(result.Lines, s.faultLine(kase, m))
	}
	raw, err := json.Marshal(said)
	return judged{answer: raw, verdict: verdictOf(marked.Passed), result: result, counts: true}, err
}

func alarms(n int) string {
	switch n {
	case 0:
		return "and no false alarm"
	case 1:
		return "and one false alarm"
	}
	return fmt.Sprintf("and %d false alarms", n)
}

func (s *Server) faultLine(kase *scenarios.Case, m scenarios.FaultMark) resultLine {
	name := recordNames[m.Key]
	if name == "" {
		name = words[m.Key].label
	}
	line := resultLine{Name: name, Said: "sound", Right: m.Right()}
	if m.Said.Wrong {
		line.Said = "wrong"
		if m.Said.Value != "" {
			line.Said += ", should be " + sayValue(m.Key, m.Said.Value)
		}
	}
	var whys, sources []string
	for _, f := range m.Findings {
		whys = append(whys, f.Says+" "+f.Why)
		for _, source := range s.sourcesNamed(strings.Split(f.Source, ",")) {
			sources = append(sources, source.Title)
		}
	}
	slices.Sort(sources)
	sources = slices.Compact(sources)
	switch {
	case m.Faulty:
		line.Why, line.Source = strings.Join(whys, " "), strings.Join(sources, "; ")
	case len(m.Findings) > 0:
		line.Why, line.Source = "Nobody gets ill of this, so it is no fault here. But: "+strings.Join(whys, " "), strings.Join(sources, "; ")
	case m.Said.Wrong:
		line.Why = "This is as tested: a false alarm."
	}
	if m.Faulty && !line.Right && m.Tested != "" {
		line.Answer = "wrong; tested is " + sayValue(m.Key, m.Tested)
	} else if m.Faulty && !line.Right {
		line.Answer = "wrong"
	}
	return line
}

func (s *Server) tryWhatNow(c *gin.Context, kase *scenarios.Case, data scenarioPage) error {
	var said []string
	for i := range kase.Jars {
		answer := c.Request.PostForm.Get(fmt.Sprintf("jar-%d", i+1))
		if !slices.Contains(scenarios.JarAnswers(), answer) { // none, or a word of another sender
			answer = ""
		}
		said = append(said, answer)
	}
	data.Looked, data.Jars, data.Answers = nil, nil, nil
	if err := s.viewWhatNow(c, &data, kase, said); err != nil {
		return err
	}
	if slices.Contains(said, "") {
		data.Wrong = []wrongView{{Label: "Jars", Message: "Say what becomes of each of them."}}
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "scenario", data)
	}
	if data.Stale {
		return s.write(c.Writer, c.Request, http.StatusConflict, "scenario", data)
	}
	answer, err := s.judgeWhatNow(kase, data.At, said)
	if err != nil {
		return err
	}
	if data.Changed, err = s.keepAttempt(c, data, kase, answer); err != nil {
		return err
	}
	data.Result = &answer.result
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}

// judgeWhatNow judges what was said of each jar at one of the times they are looked at.
func (s *Server) judgeWhatNow(kase *scenarios.Case, at int, said []string) (judged, error) {
	looked := kase.Looked()[at]
	marked := s.course.Grader.MarkWhatNow(kase, looked, said)
	result := scenarioResult{Part: looked.String(), Passed: marked.Passed, Heading: fmt.Sprintf("%d of %d jars, %s after the canner.", marked.Right, len(marked.Marks), looked)}
	for i, m := range marked.Marks {
		line := resultLine{Name: fmt.Sprintf("Jar %d", i+1), Said: answerNames[m.Said], Right: m.Right, Why: m.Why, Source: s.placeInSource(kase.Jars[i].Source)}
		if !m.Right || m.Other {
			line.Answer = answerNames[m.Answer]
		}
		if m.Until != nil {
			line.Why += " By " + m.Until.Format("15:04") + " on " + m.Until.Format("2 January") + "."
		}
		result.Lines = append(result.Lines, line)
	}
	raw, err := json.Marshal(said)
	// The last look counts: by then all that was left to chance has happened.
	return judged{answer: raw, verdict: verdictOf(marked.Passed), result: result, counts: at == len(kase.Looked())-1}, err
}

// placeInSource writes "usda-guide-1, p. 1-26" with the title of the source.
func (s *Server) placeInSource(text string) string {
	id, page, _ := strings.Cut(text, ", ")
	if source, ok := s.course.Grader.Rules().Source(id); ok {
		return source.Title + ", " + page
	}
	return text
}

// keepAttempt keeps an attempt with what was said to it and by which rules, and
// tells what is answered otherwise than in the last one of the same case. Of a part
// that does not count for the whole, what is right is not kept.
func (s *Server) keepAttempt(c *gin.Context, page scenarioPage, kase *scenarios.Case, answer judged) (changed []string, err error) {
	ctx, visitor := c.Request.Context(), s.newVisitor(c)
	last, err := s.store.LastAttempt(ctx, visitor, kase.Slug)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return nil, err
	}
	if err == nil && last.Seed == kase.Seed && last.Wording == page.Wording {
		changed = changedSince(last.Result, answer.result)
	}
	if answer.result.Passed && !answer.counts {
		return changed, nil
	}
	attempt, err := s.attemptOf(kase, answer)
	if err != nil {
		return nil, err
	}
	attempt.ID, attempt.Visitor, attempt.Wording, attempt.At = store.NewID(), visitor, page.Wording, s.now()
	if err := s.store.SaveAttempt(ctx, attempt); err != nil {
		return nil, fmt.Errorf("keep the attempt: %w", err)
	}
	return changed, nil
}

// attemptOf is an answer as it is kept, without whose it is and when it was given.
func (s *Server) attemptOf(kase *scenarios.Case, answer judged) (attempt store.Attempt, err error) {
	attempt = store.Attempt{
		Scenario: kase.Slug, Kind: kase.Kind, Seed: kase.Seed, Version: s.course.Grader.Version(),
		Plan: answer.answer, Report: []byte("null"), Verdict: answer.verdict, Passed: answer.result.Passed,
	}
	if answer.report != nil {
		if attempt.Report, err = json.Marshal(answer.report); err != nil {
			return attempt, err
		}
	}
	attempt.Result, err = json.Marshal(answer.result)
	return attempt, err
}

// changedSince lists what is answered otherwise than in a kept result.
func changedSince(kept []byte, now scenarioResult) []string {
	var before scenarioResult
	if json.Unmarshal(kept, &before) != nil || before.Part != now.Part { // an attempt of an older kind has none
		return nil
	}
	old := map[string]string{}
	for _, l := range before.Lines {
		old[l.Name] = l.Said
	}
	var changed []string
	for _, l := range now.Lines {
		switch said, was := old[l.Name]; {
		case was && said != l.Said:
			changed = append(changed, fmt.Sprintf("%s: %s, before %s", l.Name, orNothing(l.Said), orNothing(said)))
		case !was:
			changed = append(changed, fmt.Sprintf("%s: %s, before not said", l.Name, orNothing(l.Said)))
		}
		delete(old, l.Name)
	}
	for _, l := range before.Lines {
		if _, gone := old[l.Name]; gone {
			changed = append(changed, l.Name+": not said any more")
		}
	}
	return changed
}

func orNothing(s string) string {
	if s == "" {
		return "nothing"
	}
	return s
}
