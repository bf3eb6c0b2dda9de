package server

import (
	"net/http"
	"regexp"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
)

type rulesPage struct {
	page
	Count  int
	Groups []ruleGroup
}

type ruleGroup struct {
	Name, Means string
	Rules       []ruleLine
}

type ruleLine struct{ ID, Title string }

func (s *Server) rulesPage(c *gin.Context) error {
	list := s.course.Grader.Rules().Rules()
	data := rulesPage{page: newPage("Rules", "/rules"), Count: len(list)}
	for _, g := range []struct{ severity, verdict, name, means string }{
		{"safety", "unsafe", "Not safe as written", "Food canned against one of these could make somebody ill."},
		{"safety", "no-tested-process", "No tested process", "Nothing published covers a plan that sets one of these off."},
		{"safety", "fix-first", "Fix first", "Something must change before the stove is lit."},
		{"quality", "", "For a better jar", "These do not keep a plan from being as tested."},
		{"note", "", "Good to know", "Reminders, and how a row was read."},
	} {
		group := ruleGroup{Name: g.name, Means: g.means}
		for _, r := range list {
			if r.Severity == g.severity && r.Verdict == g.verdict {
				group.Rules = append(group.Rules, ruleLine{r.ID, ruleTitle(r.ID)})
			}
		}
		data.Groups = append(data.Groups, group)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "rules", data)
}

// ruleTitle reads a rule's id as words.
func ruleTitle(id string) string { return scenarios.Sentence(strings.ReplaceAll(id, "-", " ")) }

type rulePage struct {
	page
	rules.Rule
	Kind, Heading, Follows string
	Why                    string
	Sources                []rules.Source
	Lesson                 *lessons.Lesson
	Beliefs                []rules.Misconception
	Breaks, Keeps          []string
}

// placeholders are the facts that a rule's text writes in.
var placeholders = regexp.MustCompile(`\{\{\.?(\w+)[^}]*\}\}`)

func (s *Server) rulePage(c *gin.Context) error {
	set := s.course.Grader.Rules()
	r, ok := set.Rule(c.Param("rule"))
	if !ok {
		return errNoPage
	}
	data := rulePage{
		page: newPage(ruleTitle(r.ID), "/rules/"+r.ID), Rule: r, Heading: ruleTitle(r.ID), Why: placeholders.ReplaceAllString(r.Why, "(…)"),
		Kind: map[string]string{"safety": "Safety", "quality": "Quality", "note": "Note"}[r.Severity], Sources: s.sourcesNamed(strings.Split(r.Source, ",")),
	}
	data.Lesson, _ = s.course.Lessons.Lesson(r.Lesson)
	switch r.Verdict {
	case "unsafe":
		data.Follows = "The plan is not safe as written."
	case "no-tested-process":
		data.Follows = "The plan has no tested process."
	case "fix-first":
		data.Follows = "The plan must be changed first."
	default:
		data.Follows = "The plan can still be as tested."
	}
	for _, id := range r.Misconceptions {
		if m, ok := set.Misconception(id); ok {
			data.Beliefs = append(data.Beliefs, m)
		}
	}
	for _, e := range r.Breaks {
		data.Breaks = append(data.Breaks, strings.TrimSpace(string(e.YAML)))
	}
	for _, e := range r.Keeps {
		data.Keeps = append(data.Keeps, strings.TrimSpace(string(e.YAML)))
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "rule", data)
}

type sourcesPage struct {
	page
	Sources       []rules.Source
	Disagreements []disagreementView
}

type disagreementView struct {
	rules.Disagreement
	Readings []readingView
}

type readingView struct {
	Says    string
	Sources []rules.Source
}

func (s *Server) sourcesPage(c *gin.Context) error {
	set := s.course.Grader.Rules()
	data := sourcesPage{page: newPage("Sources", "/sources"), Sources: set.Sources()}
	for _, d := range set.Disagreements() {
		view := disagreementView{Disagreement: d}
		for _, r := range d.Readings {
			view.Readings = append(view.Readings, readingView{r.Says, s.sourcesNamed(strings.Split(r.Source, ","))})
		}
		data.Disagreements = append(data.Disagreements, view)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "sources", data)
}
