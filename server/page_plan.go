package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/process"
	"rollingboil/server/store"
)

type planPage struct {
	page
	Summary string
	Wrong   []wrongView
	Report  *reportView
	Lines   []planLine
	Form    []section
}

// planPage shows the form: empty, with a food or an altitude already chosen, or
// with a kept plan to change.
func (s *Server) planPage(c *gin.Context) error {
	data := planPage{page: newPage("Check a plan", "/plan")}
	typed := url.Values{}
	if food := c.Query("food"); food != "" {
		if foodName(s.course.Grader.Table(), food) != "" {
			typed.Set("food", food)
		}
	}
	ctx, visitor := c.Request.Context(), s.visitor(c)
	altitude, known, err := s.altitude(ctx, visitor)
	if err != nil {
		return err
	}
	if known {
		typed.Set("altitude", altitude.String())
	}
	if id := c.Query("from"); id != "" {
		kept, err := s.store.Plan(ctx, visitor, id)
		if err != nil {
			return err
		}
		plan, err := s.course.Grader.ParsePlan("", kept.Plan)
		if err != nil {
			return err
		}
		typed = formOf(plan)
	}
	data.Form = s.fillForm(typed, nil, nil, nil)
	return s.write(c.Writer, c.Request, http.StatusOK, "plan", data)
}

// checkPlan grades what was typed, keeps it and shows the form again with the
// report above it and the tested values in it.
func (s *Server) checkPlan(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	typed := noneMeansNothing(c.Request.PostForm)
	data := planPage{page: newPage("Your plan, checked", "/plan")}
	plan, err := s.course.Grader.PlanFromForm(typed)
	if wrong := scenarios.Problems(err); len(wrong) > 0 {
		data.page = newPage("Check a plan", "/plan")
		var byKey map[string]string
		data.Wrong, byKey = viewWrong(wrong)
		data.Form = s.fillForm(c.Request.PostForm, byKey, nil, nil)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "plan", data)
	}
	advice := s.course.Grader.Advise(plan)
	if err := s.keepPlan(c, plan, advice.Report); err != nil {
		return err
	}
	view := s.viewAdvice(advice, plan)
	tested := s.course.Grader.TestedValues(plan)
	data.Report, data.Summary = &view, summary(s, plan)
	data.Lines = s.linesOf(plan, tested)
	data.Form = s.fillForm(c.Request.PostForm, nil, tested, nil)
	return s.write(c.Writer, c.Request, http.StatusOK, "plan", data)
}

// noneMeansNothing turns the tick "none of these" into a list without words: it
// states that there is nothing, where no tick states nothing.
func noneMeansNothing(typed url.Values) url.Values {
	out := url.Values{}
	for key, values := range typed {
		if len(values) == 1 && values[0] == "none" && key != "acid.kind" {
			values = []string{""}
		}
		out[key] = values
	}
	return out
}

// keepPlan appends a plan to the visitor's work, unless it is the very plan that
// was kept last.
func (s *Server) keepPlan(c *gin.Context, plan scenarios.Plan, report scenarios.Report) error {
	raw, err := json.Marshal(report)
	if err != nil {
		return err
	}
	ctx, visitor := c.Request.Context(), s.newVisitor(c)
	kept := store.SavedPlan{
		ID: store.NewID(), Visitor: visitor, Title: summary(s, plan), Plan: plan.YAML(), Report: raw, Verdict: string(report.Verdict), At: s.now(),
	}
	last, err := s.store.LastPlan(ctx, visitor)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	if bytes.Equal(last.Plan, kept.Plan) && bytes.Equal(last.Report, kept.Report) {
		return nil
	}
	return s.store.SavePlan(ctx, kept)
}

// summary names a plan by what and where.
func summary(s *Server, p scenarios.Plan) string {
	var parts []string
	if name := foodName(s.course.Grader.Table(), p.Food.Value); name != "" {
		parts = append(parts, scenarios.Sentence(name))
	}
	if p.Jar.Known {
		parts = append(parts, process.JarName(p.Jar.Value)+" jars")
	}
	if p.Method.Known {
		parts = append(parts, scenarios.Label(p.Method.Value))
	}
	if p.Altitude.Known {
		parts = append(parts, p.Altitude.Value.Both())
	}
	if len(parts) == 0 {
		return "A plan"
	}
	return strings.Join(parts, " · ")
}
