package server

import (
	"fmt"
	"strings"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
)

// reportView is a report in words, for the page.
type reportView struct {
	Verdict        scenarios.Verdict
	Heading, Means string
	Recorded       bool // it is on what was done, not on what is planned
	Tested         []testedView
	Acid           string
	Groups         []findingGroup
	Remedies       []string // what would make it as tested, the least first
	NoRemedy       bool     // nothing would; say so
	Missing        []askView
	NotStated      []askView
}

type testedView struct{ Figures, Row, Read string }

type findingGroup struct {
	Name     string
	Findings []findingView
}

type findingView struct {
	scenarios.Finding
	Did         string // names what was given
	Kind, Shape string
	Wrong       bool
	Sources     []rules.Source
	Lesson      *lessons.Lesson
}

type askView struct{ Key, Name, Asks string }

// toChange heads what breaks a safety rule in a plan.
const toChange = "What to change"

func (s *Server) viewReport(r scenarios.Report) reportView {
	v := reportView{Verdict: r.Verdict}
	v.Heading, v.Means = verdictWords(r)
	for _, t := range r.Tested {
		v.Tested = append(v.Tested, viewTested(t))
	}
	if len(v.Tested) > 1 {
		v.Means += " The lines below are alternatives: keep to one of them, whole."
	}
	for _, d := range r.Acid.PerJar {
		amount := measure.Volume(d.Tbsp*3 + d.Tsp)
		if v.Acid != "" {
			v.Acid += ", or "
		}
		v.Acid += amount.Both() + " of " + scenarios.Label(d.Kind)
	}
	for _, g := range []struct{ severity, name string }{
		{"safety", toChange}, {"not-checked", "What could not be checked"}, {"quality", "For a better jar"}, {"note", "Good to know"},
	} {
		group := findingGroup{Name: g.name}
		for _, f := range r.Findings {
			if f.Severity == g.severity {
				group.Findings = append(group.Findings, s.viewFinding(f))
			}
		}
		if len(group.Findings) > 0 {
			v.Groups = append(v.Groups, group)
		}
	}
	v.Missing, v.NotStated = asks(r.Missing), asks(r.NotStated)
	return v
}

// verdictWords says the verdict to one cook, and what to do next.
func verdictWords(r scenarios.Report) (heading, means string) {
	switch r.Verdict {
	case scenarios.AsTested:
		if len(r.NotStated) > 0 {
			return "As tested, as far as you told us", "A published process was found, and every rule that your answers reach held. There are things you did not say; they count too."
		}
		return "As tested", "A published process was found and every rule held. Keep to the plan, and write down what happens."
	case scenarios.FixFirst:
		return "Fix this first", "A published process was found, but something else must change before the stove is lit."
	case scenarios.Incomplete:
		return "It cannot be judged yet", "Something is missing that a verdict needs. Nothing was guessed in its place."
	case scenarios.NoTestedProcess:
		return "No tested process", "Nothing published covers this as planned. Do not work out a time of your own: change the plan to something printed, or ask your extension service."
	}
	return "Not safe as written", "Food canned this way could make somebody ill. Change what is marked below before the stove is lit."
}

func viewTested(t scenarios.Tested) testedView {
	figures := fmt.Sprintf("%d min", t.Minutes)
	if t.PSI > 0 {
		figures += fmt.Sprintf(" at %s", measure.Pressure(t.PSI).Both())
	}
	if t.HeadspaceIn != nil {
		figures += ", headspace " + measure.Length(*t.HeadspaceIn).Both()
	}
	row := []string{scenarios.Label(t.Pack) + " pack", scenarios.Label(t.Method)}
	if t.Gauge != "" {
		row = append(row, t.Gauge+" gauge")
	}
	row = append(row, process.JarName(t.Jar), t.Altitudes())
	read := t.Source + "."
	switch t.Confidence {
	case "from-memory":
		read = "Unconfirmed, from memory: look it up in the published guide. " + read
	case "guide-2015-ocr", "one-copy":
		read = "Read in one copy: lay it beside the published guide. " + read
	}
	return testedView{Figures: figures, Row: scenarios.Sentence(strings.Join(row, ", ")) + ".", Read: read}
}

func (s *Server) viewFinding(f scenarios.Finding) findingView {
	v := findingView{Finding: f, Did: "you planned", Kind: "Note:", Shape: "circle", Sources: s.sourcesNamed(strings.Split(f.Source, ","))}
	v.Given, v.Required = yesOrNo(f.Given), yesOrNo(f.Required)
	switch f.Severity {
	case "safety":
		v.Kind, v.Shape, v.Wrong = "Safety:", "triangle", true
	case "quality":
		v.Kind, v.Shape = "Quality:", "square"
	case "not-checked":
		v.Kind, v.Shape = "Not checked:", "question"
	}
	v.Lesson, _ = s.course.Lessons.Lesson(f.Lesson)
	return v
}

// yesOrNo says a truth value of a plan file as people do.
func yesOrNo(value string) string {
	switch value {
	case "true":
		return "yes"
	case "false":
		return "no"
	}
	return value
}

// viewBatchReport is the report on a record: the jars are filled, so it speaks of what
// was done, and sends the reader to the answer for each jar.
func (s *Server) viewBatchReport(r scenarios.Report) reportView {
	v := s.viewReport(r)
	v.Recorded = true
	v.Heading, v.Means = batchVerdictWords(r)
	if len(v.Tested) > 1 {
		v.Means += " The lines below are alternatives: one of them, whole, is a tested process."
	}
	for _, g := range v.Groups {
		for i := range g.Findings {
			g.Findings[i].Did = "recorded"
		}
	}
	if len(v.Groups) > 0 && v.Groups[0].Name == toChange {
		v.Groups[0].Name = "What was not as tested"
	}
	return v
}

// batchVerdictWords says the verdict on what was done, and what to do next.
func batchVerdictWords(r scenarios.Report) (heading, means string) {
	switch r.Verdict {
	case scenarios.AsTested:
		if len(r.NotStated) > 0 {
			return "As tested, as far as you told us", "A published process was found, and every rule that the record reaches held. There are things it does not say; they count too. What to do with each jar is said jar by jar."
		}
		return "As tested", "A published process was found, and every rule held in what was recorded. What to do with each jar is said jar by jar."
	case scenarios.FixFirst:
		return "Fix this before the next load", "A published process was found, but something else was not done as it must be. Do with each jar what is said of it; what to put right is marked below."
	case scenarios.Incomplete:
		return "It cannot be judged yet", "Something is missing in the record that a verdict needs. Nothing was guessed in its place. Add it to the record; until then, do with each jar what is said of it."
	case scenarios.NoTestedProcess:
		return "No tested process", "Nothing published covers this as it was done, and no time worked out afterwards makes it tested. Do with each jar what is said of it, and ask your extension service."
	}
	return "Not safe as recorded", "Food canned this way could make somebody ill. Do with each jar what is said of it, before anything else. What was not as tested is marked below."
}

// viewAdvice is a report with what would make its plan as tested.
func (s *Server) viewAdvice(a scenarios.Advice, p scenarios.Plan) reportView {
	v := s.viewReport(a.Report)
	if v.Verdict == scenarios.AsTested {
		return v
	}
	for _, r := range a.Remedies {
		var parts []string
		for _, c := range r.Changes {
			parts = append(parts, sayChange(c))
		}
		v.Remedies = append(v.Remedies, scenarios.Sentence(strings.Join(parts, "; "))+".")
	}
	v.NoRemedy = len(v.Remedies) == 0 && p.Food.Known && p.Altitude.Known
	return v
}

func sayChange(c scenarios.Change) string {
	label := strings.TrimSuffix(strings.ToLower(words[c.Field].label), "?")
	switch {
	case c.To == "":
		return label + ": leave it out"
	case c.From == "":
		return label + ": " + sayValue(c.Field, c.To)
	}
	return label + ": " + sayValue(c.Field, c.To) + ", not " + sayValue(c.Field, c.From)
}

func asks(names []string) []askView {
	var list []askView
	for _, name := range names {
		key := name
		if first := firstKey(name); first != "" {
			key = first
		}
		w := words[key]
		list = append(list, askView{Key: key, Name: w.label, Asks: w.means})
	}
	return list
}
