package server

import (
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// readyScenario is a scenario with its text and worked answer drawn.
type readyScenario struct {
	scenario *scenarios.Scenario
	text     template.HTML
	settled  []settled
	worked   map[string]string // the worked answer by key
}

type settled struct{ Name, Value string }

func (s *Server) prepareScenarios() error {
	s.kitchens = map[string]*readyScenario{}
	for _, sc := range s.course.Scenarios {
		ready := &readyScenario{scenario: sc, worked: map[string]string{}}
		parts, err := markdown.Render(sc.File, sc.Body, sc.BodyLine, nil)
		if err != nil {
			return err
		}
		for _, p := range parts {
			ready.text += p.HTML
		}
		for _, k := range scenarios.Keys() {
			if sc.Kitchen.Known(k.Name) {
				value := sayValue(k.Name, sc.Kitchen.Text(k.Name))
				switch k.Name {
				case "food":
					card, _ := s.course.Grader.Table().Card(sc.Kitchen.Food.Value)
					value = card.Name
				case "altitude":
					value = sc.Kitchen.Altitude.Value.Both()
				}
				ready.settled = append(ready.settled, settled{words[k.Name].label, value})
			}
			if sc.Solution.Plan.Known(k.Name) {
				ready.worked[k.Name] = sc.Solution.Plan.Text(k.Name)
			}
		}
		if added := sc.Solution.Plan.Added; added.Known && len(added.Value) == 0 {
			ready.worked["added"] = ""
		}
		s.kitchens[sc.Slug] = ready
	}
	return nil
}

type scenariosPage struct {
	page
	Scenarios []scenarioLine
}

type scenarioLine struct {
	*scenarios.Scenario
	Settled string
}

func (s *Server) scenariosPage(c *gin.Context) error {
	data := scenariosPage{page: newPage("Scenarios", "/scenarios")}
	for _, sc := range s.course.Scenarios {
		var values []string
		for _, set := range s.kitchens[sc.Slug].settled {
			values = append(values, set.Value)
		}
		data.Scenarios = append(data.Scenarios, scenarioLine{sc, scenarios.Sentence(strings.Join(values, ", "))})
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "scenarios", data)
}

type scenarioPage struct {
	page
	Scenario *scenarios.Scenario
	Count    int
	Text     template.HTML
	Settled  []settled
	Wrong    []wrongView
	Report   *reportView
	Solution *solutionView
	Form     []section
}

type solutionView struct {
	Steps []scenarios.Step
	Lines []planLine
}

func (s *Server) scenarioPage(c *gin.Context) error {
	ready, ok := s.kitchens[c.Param("scenario")]
	if !ok {
		return errNoPage
	}
	data := s.newScenarioPage(ready)
	data.Form = s.fillForm(url.Values{}, nil, nil, ready.isSettled)
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}

func (s *Server) newScenarioPage(ready *readyScenario) scenarioPage {
	sc := ready.scenario
	return scenarioPage{page: newPage(sc.Title, "/scenarios/"+sc.Slug), Scenario: sc, Count: len(s.kitchens), Text: ready.text, Settled: ready.settled}
}

func (r *readyScenario) isSettled(key string) bool { return r.scenario.Kitchen.Known(key) }

// tryScenario grades the learner's plan for the kitchen, keeps the attempt and
// shows the report and then the worked answer.
func (s *Server) tryScenario(c *gin.Context) error {
	ready, ok := s.kitchens[c.Param("scenario")]
	if !ok {
		return errNoPage
	}
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	data := s.newScenarioPage(ready)
	sc := ready.scenario
	answer := noneMeansNothing(c.Request.PostForm)
	for key, values := range formOf(sc.Kitchen) { // what is settled cannot be changed
		answer[key] = values
	}
	plan, err := s.course.Grader.PlanFromForm(answer)
	if wrong := scenarios.Problems(err); len(wrong) > 0 {
		var byKey map[string]string
		data.Wrong, byKey = viewWrong(wrong)
		data.Form = s.fillForm(c.Request.PostForm, byKey, nil, ready.isSettled)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "scenario", data)
	}
	report := s.course.Grader.Grade(plan)
	raw, err := json.Marshal(report)
	if err != nil {
		return err
	}
	err = s.store.SaveAttempt(c.Request.Context(), store.Attempt{
		ID: store.NewID(), Visitor: s.newVisitor(c), Scenario: sc.Slug, Plan: plan.YAML(), Report: raw,
		Verdict: string(report.Verdict), Passed: report.Verdict == scenarios.AsTested, At: s.now(),
	})
	if err != nil {
		return fmt.Errorf("keep the attempt: %w", err)
	}
	view := s.viewReport(report)
	data.Report = &view
	data.Solution = &solutionView{Steps: sc.Solution.Steps, Lines: s.linesOf(plan, ready.worked)}
	data.Form = s.fillForm(c.Request.PostForm, nil, nil, ready.isSettled)
	return s.write(c.Writer, c.Request, http.StatusOK, "scenario", data)
}
