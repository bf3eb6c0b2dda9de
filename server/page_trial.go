package server

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// A trial is the instructor's own question: the shortcut against the tested way. Before
// any figure its page says what the rules engine says of each way, because a shortcut
// that seals is not thereby tested. Nothing is overwritten: a mistake is replaced by a
// further entry, and both can be seen.

// How much a trial holds.
const (
	mostVariants = 4
	mostPlan     = 20_000 // bytes of a pasted plan file
	mostNote     = 1000   // letters
)

// trialWork is the trial of the address, for the instructor, and for members of the
// class while it is shown to them; for everybody else there is no such page.
func (s *Server) trialWork(c *gin.Context) (*trialWork, error) {
	class, p, err := s.ofClass(c)
	if err != nil {
		return nil, err
	}
	w, err := s.trialOf(c.Request.Context(), class, c.Param("trial"))
	if err != nil {
		return nil, err
	}
	w.Own = class.Instructor == p.Visitor
	if !w.Own && !w.Shown {
		return nil, errNoPage
	}
	if !w.Own {
		w.forClass()
	}
	return w, nil
}

// trialOf is a trial of a class with all that belongs to it.
func (s *Server) trialOf(ctx context.Context, class store.Class, id string) (*trialWork, error) {
	w := &trialWork{Class: class}
	var err error
	if w.Trial, err = s.store.Trial(ctx, class.ID, id); err != nil {
		return nil, err
	}
	if w.Variants, err = s.store.TrialVariants(ctx, w.ID); err != nil {
		return nil, err
	}
	if w.Entries, err = s.store.TrialEntries(ctx, w.ID); err != nil {
		return nil, err
	}
	if w.Events, err = s.store.TrialEvents(ctx, w.ID); err != nil {
		return nil, err
	}
	w.Records = map[string]store.ClassRecord{}
	if !slices.ContainsFunc(w.Entries, func(e store.TrialEntry) bool { return e.Batch != "" }) {
		return w, nil
	}
	w.Records, err = s.acceptedRecords(ctx, class.ID)
	return w, err
}

func (s *Server) acceptedRecords(ctx context.Context, class string) (map[string]store.ClassRecord, error) {
	records, err := s.store.ClassRecords(ctx, class)
	byBatch := map[string]store.ClassRecord{}
	for _, r := range records {
		if r.State == store.Accepted {
			byBatch[r.Batch] = r
		}
	}
	return byBatch, err
}

// ownTrial is the trial of the address for its instructor alone.
func (s *Server) ownTrial(c *gin.Context) (*trialWork, error) {
	w, err := s.trialWork(c)
	if err == nil && !w.Own {
		err = errNoPage
	}
	return w, err
}

func (w *trialWork) path() string { return "/class/" + w.Class.ID + "/trials/" + w.ID }

type trialPage struct {
	page
	*trialWork
	Heading  string // the verdict on all of it
	Tested   bool   // every way, and every load that is known, is as tested
	Sides    []trialSide
	Rows     []trialRow
	Chances  []trialChance
	Loads    int
	AsClass  bool // the instructor reads what the class does
	Several  bool // more than one comparison
	SetAside []asideView
}

type asideView struct{ Name, Answer, Fate, Why string }

// trialPage is the page for the weekly demonstration: the verdicts first, then the
// question, then what was counted. No student is named on it, whoever reads it. The
// instructor reads of every load, or, to show or print the page, what the class reads.
func (s *Server) trialPage(c *gin.Context) error {
	w, err := s.trialWork(c)
	if err != nil {
		return err
	}
	data := trialPage{page: newPage(w.Question, "/class/"+w.Class.ID), trialWork: w, Tested: true}
	if data.AsClass = w.Own && c.Query("as") == "class"; data.AsClass {
		w.forClass()
	}
	for _, v := range w.Variants {
		side, _, err := s.viewSide(w, v)
		if err != nil {
			return err
		}
		if why, aside := w.aside(v.N); aside {
			data.SetAside = append(data.SetAside, asideView{side.Name, side.Answer, side.Fate, why})
			continue
		}
		data.Tested = data.Tested && side.Verdict == scenarios.AsTested && len(side.sums.Amiss) == 0
		data.Loads += side.sums.Loads
		data.Sides = append(data.Sides, side)
	}
	data.Heading = trialHeading(data.Sides)
	data.Rows = trialRows(data.Sides)
	data.Chances = trialChances(data.Sides)
	data.Several = len(data.Chances) > 1
	return s.write(c.Writer, c.Request, http.StatusOK, "trial", data)
}

type trialsPage struct {
	page
	Class store.Class
	Own   bool
	List  []trialLine
}

type trialLine struct{ Path, Question, Answer, State string }

// trialsPage lists the trials of a class; a member sees those that are shown.
func (s *Server) trialsPage(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	data := trialsPage{page: newPage("Trials", "/class/"+class.ID), Class: class, Own: class.Instructor == p.Visitor}
	trials, err := s.store.Trials(ctx, class.ID)
	if err != nil {
		return err
	}
	for _, t := range trials {
		if !data.Own && !t.Shown {
			continue
		}
		line := trialLine{Path: "/class/" + class.ID + "/trials/" + t.ID, Question: t.Question, State: "from " + t.Made.In(zoneOf(class.Zone)).Format("2 Jan 2006")}
		if data.Own && t.Shown {
			line.State += ", shown to the class"
		}
		w := &trialWork{Trial: t, Class: class}
		if w.Variants, err = s.store.TrialVariants(ctx, t.ID); err != nil {
			return err
		}
		if w.Events, err = s.store.TrialEvents(ctx, t.ID); err != nil {
			return err
		}
		var sides []trialSide
		for _, v := range w.compared() {
			side, _, err := s.viewSide(w, v)
			if err != nil {
				return err
			}
			sides = append(sides, side)
		}
		line.Answer = trialHeading(sides)
		data.List = append(data.List, line)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "trials", data)
}

type newTrialPage struct {
	page
	Class    store.Class
	Trial    *trialWork // to which a variant is added; nil for a new trial
	Question input
	Variants []variantForm
	Versions []versionChoice
	More     bool // a further variant can be shown
	Wrong    string
}

type variantForm struct {
	N                int
	Name, Lids       input
	PlanKey, FromKey string
	Plan, From       string
	Wrong            []string // about the plan
}

type versionChoice struct{ Value, Name string }

func (s *Server) versionChoices(ctx context.Context, class string) ([]versionChoice, error) {
	versions, err := s.store.ClassVersions(ctx, class)
	list := make([]versionChoice, 0, len(versions))
	for _, v := range versions {
		list = append(list, versionChoice{fmt.Sprintf("%s/%d", v.Batch, v.N), fmt.Sprintf("%s: %s, version %d (%s, %s)", v.Student, v.Title, v.N, v.Kind, lowerFirst(verdictName(v.Verdict)))})
	}
	return list, err
}

// wrongLine says what is amiss with a line of text, "" if nothing is.
func wrongLine(text string, most int, needed string) string {
	switch {
	case text == "":
		return needed
	case utf8.RuneCountInString(text) > most:
		return fmt.Sprintf("Too long: %d letters are the most.", most)
	case strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) }), !utf8.ValidString(text):
		return "There is a sign in it that cannot be shown. Type it again."
	}
	return ""
}

// readVariant reads one way of the form: its plan is pasted, or taken from a version of a
// batch of the class.
func (s *Server) readVariant(ctx context.Context, class string, typed url.Values, n int) (variantForm, store.TrialVariant, error) {
	key := func(name string) string { return fmt.Sprintf("%s-%d", name, n) }
	f := variantForm{N: n, PlanKey: key("plan"), FromKey: key("from"), Plan: typed.Get(key("plan")), From: typed.Get(key("from"))}
	v := store.TrialVariant{Name: cleanName(typed.Get(key("name"))), Lids: cleanName(typed.Get(key("lids"))), Version: s.course.Grader.Version(), Made: s.now()}
	f.Name = input{Key: key("name"), Label: "Its name", Means: "Short: oven, one hour.", Kind: "text", Value: typed.Get(key("name")), Wrong: wrongLine(v.Name, 60, "Give it a name."), Complete: "off"}
	f.Lids = input{Key: key("lids"), Label: "Lids", Means: "Kind, box or lot. It may stay empty.", Kind: "text", Value: typed.Get(key("lids")), Wrong: wrongLine(v.Lids, 80, ""), Complete: "off"}
	file, what := []byte(f.Plan), strings.TrimSpace(f.Plan)
	switch {
	case f.From != "" && what != "":
		f.Wrong = []string{"Paste a plan or take one from a batch, not both. Nothing was thrown away."}
	case f.From == "" && what == "":
		f.Wrong = []string{"Paste a plan file, or take the plan of a batch. Without a plan nobody can say whether this way was tested."}
	case len(f.Plan) > mostPlan:
		f.Wrong = []string{"That is too long for a plan file."}
	case f.From != "":
		batch, number, _ := strings.Cut(f.From, "/")
		at, err := strconv.Atoi(number)
		if err != nil {
			at = 0 // there is no such version
		}
		if file, err = s.store.ClassVersionFile(ctx, class, batch, at); errors.Is(err, store.ErrNotFound) {
			f.Wrong = []string{"That batch is not here any more. Choose another one."}
		} else if err != nil {
			return f, v, err
		}
	}
	if len(f.Wrong) > 0 {
		return f, v, nil
	}
	b, _, err := s.course.Grader.ParseFile("", file)
	for _, p := range scenarios.Problems(err) {
		where := ""
		if p.Line > 0 {
			where = fmt.Sprintf("Line %d: ", p.Line)
		}
		if p.Key != "" {
			where += p.Key + ": "
		}
		f.Wrong = append(f.Wrong, where+p.Message)
	}
	if err != nil && len(f.Wrong) == 0 {
		return f, v, err
	}
	if v.Plan = b.Plan.YAML(); len(v.Plan) == 0 && err == nil {
		f.Wrong = []string{"It states nothing. A plan file begins with food: tomatoes-crushed, say."}
	}
	v.Verdict = string(s.course.Grader.Grade(b.Plan).Verdict)
	return f, v, nil
}

func (f variantForm) ok() bool { return f.Name.Wrong == "" && f.Lids.Wrong == "" && len(f.Wrong) == 0 }

// blankVariant is a way of which nothing is typed yet.
func blankVariant(n int, typed url.Values) variantForm {
	key := func(name string) string { return fmt.Sprintf("%s-%d", name, n) }
	return variantForm{
		N: n, PlanKey: key("plan"), FromKey: key("from"), Plan: typed.Get(key("plan")), From: typed.Get(key("from")),
		Name: input{Key: key("name"), Label: "Its name", Means: "Short: oven, one hour.", Kind: "text", Value: typed.Get(key("name")), Complete: "off"},
		Lids: input{Key: key("lids"), Label: "Lids", Means: "Kind, box or lot. It may stay empty.", Kind: "text", Value: typed.Get(key("lids")), Complete: "off"},
	}
}

func questionInput(value, wrong string) input {
	return input{Key: "question", Label: "The question", Means: "As a student asks it: does the oven do as well as the canner?", Kind: "text", Value: value, Wrong: wrong, Complete: "off"}
}

// variantCount is how many ways the form shows.
func variantCount(typed url.Values) int {
	n, err := strconv.Atoi(typed.Get("count"))
	if err != nil {
		n = 2
	}
	return min(max(n, 2), mostVariants)
}

func (s *Server) newTrialPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	return s.showNewTrial(c, http.StatusOK, class, url.Values{}, nil)
}

// showNewTrial shows the form as it was typed; with read, what is wrong is told.
func (s *Server) showNewTrial(c *gin.Context, status int, class store.Class, typed url.Values, read *newTrialPage) error {
	data := newTrialPage{Question: questionInput(typed.Get("question"), "")}
	if read != nil {
		data = *read
	} else {
		for n := range variantCount(typed) {
			data.Variants = append(data.Variants, blankVariant(n+1, typed))
		}
	}
	data.page, data.Class, data.More = newPage("A new trial", "/class/"+class.ID), class, len(data.Variants) < mostVariants
	var err error
	if data.Versions, err = s.versionChoices(c.Request.Context(), class.ID); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, status, "trial-new", data)
}

func (s *Server) newTrial(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	if typed.Get("do") == "more" {
		typed.Set("count", strconv.Itoa(variantCount(typed)+1))
		return s.showNewTrial(c, http.StatusOK, class, typed, nil)
	}
	question := cleanName(typed.Get("question"))
	read := newTrialPage{Question: questionInput(typed.Get("question"), wrongLine(question, 200, "What is to be found out?"))}
	ok := read.Question.Wrong == ""
	var variants []store.TrialVariant
	for n := range variantCount(typed) {
		f, v, err := s.readVariant(c.Request.Context(), class.ID, typed, n+1)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(variants, func(other store.TrialVariant) bool { return other.Name == v.Name }) && f.Name.Wrong == "" {
			f.Name.Wrong = "Another way has this name."
		}
		ok = ok && f.ok()
		read.Variants, variants = append(read.Variants, f), append(variants, v)
	}
	if !ok {
		return s.showNewTrial(c, http.StatusUnprocessableEntity, class, typed, &read)
	}
	t := store.Trial{ID: store.NewID(), Class: class.ID, Question: question, Made: s.now()}
	id, err := s.store.AddTrial(c.Request.Context(), t, variants)
	if err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"/trials/"+id+"/workbook")
}

func (s *Server) newVariantPage(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	return s.showNewVariant(c, http.StatusOK, w, blankVariant(1, url.Values{}))
}

func (s *Server) showNewVariant(c *gin.Context, status int, w *trialWork, f variantForm) error {
	data := newTrialPage{page: newPage("A further way", "/class/"+w.Class.ID), Class: w.Class, Trial: w, Variants: []variantForm{f}}
	var err error
	if data.Versions, err = s.versionChoices(c.Request.Context(), w.Class.ID); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, status, "trial-new", data)
}

func (s *Server) newVariant(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	f, v, err := s.readVariant(c.Request.Context(), w.Class.ID, typed, 1)
	if err != nil {
		return err
	}
	compared := w.compared()
	switch {
	case len(compared) >= mostVariants:
		f.Wrong = append(f.Wrong, fmt.Sprintf("There are %d ways already. Set one aside first.", mostVariants))
	case slices.ContainsFunc(compared, func(other store.TrialVariant) bool { return other.Name == v.Name }) && f.Name.Wrong == "":
		f.Name.Wrong = "Another way has this name."
	}
	if !f.ok() {
		return s.showNewVariant(c, http.StatusUnprocessableEntity, w, f)
	}
	if err := s.store.AddTrialVariant(c.Request.Context(), w.ID, v); err != nil {
		return err
	}
	return seeOther(c, w.path()+"/workbook")
}
