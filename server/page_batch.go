package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/server/store"
)

// A practice batch goes from plan to record: the student plans until the plan can be
// sent in, cooks by the kitchen sheet, records what happened jar by jar; the instructor
// looks at both and accepts or sends back. Everything is a new version; nothing is
// written over.

// work is a batch with all that belongs to it.
type work struct {
	store.Batch
	Assignment store.Assignment
	Class      store.Class
	Settings   batchSettings
	Versions   []store.BatchVersion // for the instructor those that were sent in
	Events     []store.BatchEvent
	Mine       bool // the reader is the student, not the instructor
	Student    store.Person
	Said       string // what was typed and could not be sent
}

// last is the latest version of a kind, nil if there is none.
func (w *work) last(kind string) *store.BatchVersion {
	for i := len(w.Versions) - 1; i >= 0; i-- {
		if w.Versions[i].Kind == kind {
			return &w.Versions[i]
		}
	}
	return nil
}

// lastStep is what was last done with the batch, comments aside; nil for nothing.
func (w *work) lastStep() *store.BatchEvent {
	for i := len(w.Events) - 1; i >= 0; i-- {
		if w.Events[i].What != store.Comment {
			return &w.Events[i]
		}
	}
	return nil
}

// state names that step; "" for none.
func (w *work) state() string {
	if e := w.lastStep(); e != nil {
		return e.What
	}
	return ""
}

// lastSent is the event that sent a plan or a record in last, nil before.
func (w *work) lastSent(what string) *store.BatchEvent {
	for i := len(w.Events) - 1; i >= 0; i-- {
		if w.Events[i].What == what {
			return &w.Events[i]
		}
	}
	return nil
}

// sent is the version that such an event sent in last, nil before.
func (w *work) sent(what string) *store.BatchVersion {
	if e := w.lastSent(what); e != nil {
		for i := range w.Versions {
			if w.Versions[i].N == e.N {
				return &w.Versions[i]
			}
		}
	}
	return nil
}

// sentPlan is the version of the plan that was sent in last, nil before.
func (w *work) sentPlan() *store.BatchVersion { return w.sent(store.PlanSent) }

// wasSent says whether a version was ever sent in.
func (w *work) wasSent(v store.BatchVersion) bool {
	return slices.ContainsFunc(w.Events, func(e store.BatchEvent) bool {
		return e.N == v.N && (e.What == store.PlanSent || e.What == store.RecordSent)
	})
}

// waiting is the version that waits for the instructor's decision, nil for none.
func (w *work) waiting() *store.BatchVersion {
	if what := w.state(); what == store.PlanSent || what == store.RecordSent {
		return w.sent(what)
	}
	return nil
}

// next is the number of the version that would come next, for the student who has all.
func (w *work) next() int { return len(w.Versions) + 1 }

// The states in which the plan may still be changed, and those in which it stands and the
// day may be recorded.
var (
	planning = []string{"", store.PlanBack, store.PlanSent, store.PlanFine}
	cooking  = []string{store.PlanSent, store.PlanFine, store.RecordBack}
)

// cooks says whether the plan stands and the day may be recorded.
func (w *work) cooks() bool { return slices.Contains(cooking, w.state()) }

// plans says whether the plan may still be changed.
func (w *work) plans() bool { return slices.Contains(planning, w.state()) }

// batchStates names what a batch waits for.
var batchStates = map[string]string{
	"": "Being planned", store.PlanSent: "The plan is sent in", store.PlanBack: "The plan came back", store.PlanFine: "The plan was looked at",
	store.RecordSent: "The record is sent in", store.RecordBack: "The record came back", store.Accepted: "Accepted",
}

// batchWork is the batch of the address, for its student and the instructor of the
// class; for everybody else there is no such page.
func (s *Server) batchWork(c *gin.Context) (*work, error) {
	p, in := person(c)
	if !in {
		return nil, errNoPage
	}
	ctx := c.Request.Context()
	b, err := s.store.Batch(ctx, c.Param("batch"))
	if err != nil {
		return nil, err
	}
	w := &work{Batch: b, Mine: b.Visitor == p.Visitor}
	if w.Assignment, err = s.store.Assignment(ctx, b.Assignment); err != nil {
		return nil, err
	}
	if w.Class, err = s.store.Class(ctx, w.Assignment.Class); err != nil {
		return nil, err
	}
	if !w.Mine && w.Class.Instructor != p.Visitor {
		return nil, errNoPage
	}
	if err := json.Unmarshal(w.Assignment.Settings, &w.Settings); err != nil {
		return nil, fmt.Errorf("read the limits of a batch: %w", err)
	}
	if w.Student, err = s.store.Person(ctx, b.Visitor); err != nil {
		return nil, err
	}
	if w.Versions, err = s.store.BatchVersions(ctx, b.ID); err != nil {
		return nil, err
	}
	if w.Events, err = s.store.BatchEvents(ctx, b.ID); err != nil {
		return nil, err
	}
	if !w.Mine { // a draft is the student's own until it is sent in
		w.Versions = slices.DeleteFunc(w.Versions, func(v store.BatchVersion) bool { return !w.wasSent(v) })
	}
	return w, nil
}

// ownBatch is the batch of the address for its student alone.
func (s *Server) ownBatch(c *gin.Context) (*work, error) {
	w, err := s.batchWork(c)
	if err == nil && !w.Mine {
		err = errNoPage
	}
	return w, err
}

// beginPage leads to the batch of an assignment, or offers to begin it.
func (s *Server) beginPage(c *gin.Context) error {
	a, class, p, err := s.toCook(c, c.Query("assignment"))
	if err != nil {
		return err
	}
	own, err := s.store.ListBatches(c.Request.Context(), p.Visitor)
	if err != nil {
		return err
	}
	for _, b := range own {
		if b.Assignment == a.ID {
			return seeOther(c, "/batches/"+b.ID)
		}
	}
	line := s.assignmentLine(a, class)
	f := formPage{
		Heading: a.Title, Lead: "A practice batch: you plan it, the plan is checked at once, you send it in, cook one load, and record each jar.",
		Action: "/batches", Hidden: map[string]string{"assignment": a.ID}, Button: "Begin",
	}
	if line.NotOpen {
		f.Wrong = "It opens " + line.Opens + "."
	}
	return s.writeForm(c, http.StatusOK, f)
}

// toCook is an assignment of a batch that is for whoever asks.
func (s *Server) toCook(c *gin.Context, id string) (a store.Assignment, class store.Class, p store.Person, err error) {
	p, in := person(c)
	if !in {
		return a, class, p, errNoPage
	}
	ctx := c.Request.Context()
	if a, err = s.store.Assignment(ctx, id); err != nil {
		return a, class, p, err
	}
	if class, err = s.store.Class(ctx, a.Class); err != nil {
		return a, class, p, err
	}
	member, err := s.store.IsMember(ctx, class.ID, p.Visitor)
	if err == nil && (!member || a.Kind != batchKind || !a.Everyone && !slices.Contains(a.For, p.Visitor)) {
		err = errNoPage
	}
	return a, class, p, err
}

func (s *Server) beginBatch(c *gin.Context) error {
	typed, err := form(c)
	if err != nil {
		return err
	}
	a, _, p, err := s.toCook(c, typed.Get("assignment"))
	if err != nil {
		return err
	}
	if s.now().Before(a.Opens) {
		return seeOther(c, "/batches?assignment="+a.ID)
	}
	b, err := s.store.BeginBatch(c.Request.Context(), store.Batch{ID: store.NewID(), Visitor: p.Visitor, Assignment: a.ID, Made: s.now()})
	if err != nil {
		return err
	}
	return seeOther(c, "/batches/"+b.ID+"/plan")
}

type batchPage struct {
	page
	*work
	State      string
	Plan       *versionView
	Record     *recordView
	Photos     []photoView
	Course     []eventView
	Older      []eventView
	CanSend    bool
	WhyNot     string
	CanCook    bool
	CanPlan    bool
	Accepted   bool   // and the reader is the instructor
	SealsFrom  string // when the seals may be read
	SealsUntil string // until when a jar may be reprocessed
	TooEarly   bool
	Judge      string // what the instructor may decide about: plan, record or ""
	Judged     int    // its version
	MostPhotos int
	Wrong      string
	Ask        *askPart // nil for the instructor, and for who has left the class
}

type versionView struct {
	store.BatchVersion
	When    string
	Report  reportView
	Lines   []planLine
	Older   bool // judged by other rules than today's
	Summary string
	Answer  string
}

type recordView struct {
	versionView
	Held string
	Jars []jarAnswerView
	Lot  string
}

type jarAnswerView struct {
	N           int
	Answer, Why string
	Until       string
	Says        string
}

type eventView struct{ Who, What, When, Says, Path string }

type photoView struct {
	ID, Says string
	W, H     int
}

func (s *Server) batchPage(c *gin.Context) error {
	w, err := s.batchWork(c)
	if err != nil {
		return err
	}
	return s.showBatch(c, http.StatusOK, w, "")
}

func (s *Server) showBatch(c *gin.Context, status int, w *work, wrong string) error {
	data := batchPage{page: newPage(w.Assignment.Title, "/class/"+w.Class.ID), work: w, State: batchStates[w.state()], CanPlan: w.Mine && w.plans(), Wrong: wrong, MostPhotos: mostPhotos}
	zone := s.zoneFor(c, w)
	plan, record := w.last(store.PlanVersion), w.last(store.RecordVersion)
	if !w.Mine {
		plan, record = w.sentPlan(), w.sent(store.RecordSent)
	}
	if v := plan; v != nil {
		view, _, err := s.viewVersion(*v, zone)
		if err != nil {
			return err
		}
		data.Plan = &view
		if w.Mine {
			data.WhyNot = cannotSend(*v, w.Settings)
			data.CanSend = data.WhyNot == "" && w.plans() && (w.sentPlan() == nil || w.sentPlan().N < v.N)
		}
	}
	data.CanCook, data.Accepted = w.Mine && w.cooks(), !w.Mine && w.state() == store.Accepted
	if v := record; v != nil {
		view, err := s.viewRecord(*v, zone)
		if err != nil {
			return err
		}
		data.Record = &view
	}
	if v := w.waiting(); v != nil && !w.Mine {
		data.Judge, data.Judged = v.Kind, v.N
	}
	if finished := s.finishedAt(c, w); !finished.IsZero() {
		from, until, err := sealTimes(finished)
		if err != nil {
			return err
		}
		data.SealsFrom, data.SealsUntil = clockText(from, zone), clockText(until, zone)
		data.TooEarly = s.now().Before(from)
	}
	if w.Mine {
		var err error
		if data.Ask, err = s.askPartOf(c, batchKind, w.ID, 0, w.Class.ID); err != nil {
			return err
		}
	}
	photos, err := s.photosOf(c, w)
	if err != nil {
		return err
	}
	for _, p := range photos {
		data.Photos = append(data.Photos, photoView{ID: p.ID, Says: photoSays(p.Jar), W: p.Width, H: p.Height})
	}
	for i := len(w.Events) - 1; i >= 0; i-- {
		data.Course = append(data.Course, s.viewEvent(w, w.Events[i], zone))
	}
	for _, v := range w.Versions {
		data.Older = append(data.Older, eventView{What: fmt.Sprintf("%d. %s: %s", v.N, scenarios.Sentence(v.Kind), verdictName(v.Verdict)), When: clockText(v.At, zone), Path: fmt.Sprintf("/batches/%s/versions/%d", w.ID, v.N)})
	}
	return s.write(c.Writer, c.Request, status, "batch", data)
}

// sealTimes tells from when the seals of a load may be read, and until when food of an
// unsealed jar can be processed again, by the same figures as the kitchen sheet.
func sealTimes(finished time.Time) (from, until time.Time, err error) {
	figures, err := kitchenFigures()
	if err != nil {
		return from, until, err
	}
	after := func(d measure.Duration) time.Time {
		return finished.Add(time.Duration(float64(d) * float64(time.Minute)))
	}
	return after(figures.Cool), after(figures.Reprocess), nil
}

func photoSays(jar int) string {
	if jar == 0 {
		return "The whole batch"
	}
	return fmt.Sprintf("Jar %d", jar)
}

// zoneFor is the zone in which times of a batch are told: the student's own, or the
// class's where it is not known.
func (s *Server) zoneFor(c *gin.Context, w *work) *time.Location {
	v, err := s.store.Visitor(c.Request.Context(), w.Visitor)
	if err == nil && v.TimeZone != "" {
		return zoneOf(v.TimeZone)
	}
	return zoneOf(w.Class.Zone)
}

func clockText(t time.Time, zone *time.Location) string {
	return t.In(zone).Format("Mon 2 Jan 2006, 15:04 MST")
}

// cannotSend says why a plan cannot be sent in, "" if it can.
func cannotSend(v store.BatchVersion, limits batchSettings) string {
	switch verdict := scenarios.Verdict(v.Verdict); {
	case verdict == scenarios.Unsafe:
		return "This plan is not safe as written, so it cannot be sent in. The report says what to change."
	case limits.AsTested && verdict != scenarios.AsTested:
		return "Your instructor wants a plan that is as tested before it is sent in. The report says what it lacks."
	}
	return ""
}

func (s *Server) viewEvent(w *work, e store.BatchEvent, zone *time.Location) eventView {
	says := map[string]string{
		store.PlanSent: "sent the plan in", store.PlanBack: "sent the plan back", store.PlanFine: "looked at the plan and has nothing against it",
		store.RecordSent: "sent the record in", store.RecordBack: "sent the record back", store.Accepted: "accepted the batch", store.Comment: "says",
	}
	who := w.Student.Name
	if e.ByInstructor {
		who = "The instructor"
	}
	return eventView{Who: who, What: says[e.What], When: clockText(e.At, zone), Says: e.Says}
}

// viewVersion reads a kept version back: the report as it was given then.
func (s *Server) viewVersion(v store.BatchVersion, zone *time.Location) (versionView, scenarios.Batch, error) {
	view := versionView{BatchVersion: v, When: clockText(v.At, zone), Older: v.Version != s.course.Grader.Version()}
	var report scenarios.Report
	if err := json.Unmarshal(v.Report, &report); err != nil {
		return view, scenarios.Batch{}, fmt.Errorf("read a kept report: %w", err)
	}
	b, _, err := s.course.Grader.ParseFile("", v.File)
	if err != nil {
		return view, b, fmt.Errorf("read a kept batch: %w", err)
	}
	if v.Kind == store.RecordVersion {
		view.Report = s.viewBatchReport(report)
	} else {
		view.Report = s.viewReport(report)
	}
	view.Report.NotStated, view.Report.Missing = nil, nil // their links lead to a form
	view.Lines = s.linesOf(b.Plan, nil)
	view.Summary, view.Answer = summary(s, b.Plan), strings.ToLower(verdictName(v.Verdict))
	return view, b, nil
}

func (s *Server) viewRecord(v store.BatchVersion, zone *time.Location) (recordView, error) {
	version, b, err := s.viewVersion(v, zone)
	if err != nil {
		return recordView{}, err
	}
	view := recordView{versionView: version, Lot: v.Lot}
	var report scenarios.BatchReport
	if err := json.Unmarshal(v.Report, &report); err != nil {
		return view, fmt.Errorf("read a kept report: %w", err)
	}
	if report.HeldMinutes != nil {
		view.Held = measure.Duration(*report.HeldMinutes).String()
	}
	for i, a := range report.Jars {
		line := jarAnswerView{N: a.N, Answer: scenarios.Label(a.Answer), Why: a.Why}
		if a.Until != nil {
			line.Until = clockText(*a.Until, zone)
		}
		if i < len(b.Record.Jars) {
			line.Says = sayJar(b.Record.Jars[i])
		}
		view.Jars = append(view.Jars, line)
	}
	return view, nil
}

// sayJar is what was recorded of a jar, in words.
func sayJar(j scenarios.JarRecord) string {
	var parts []string
	if j.Sealed.Known {
		parts = append(parts, map[bool]string{true: "sealed", false: "not sealed"}[j.Sealed.Value])
	}
	if j.LiquidLost.Known {
		parts = append(parts, "liquid lost: "+strings.ReplaceAll(j.LiquidLost.Value, "-", " "))
	}
	if j.Separated.Known && j.Separated.Value {
		parts = append(parts, "separated")
	}
	if j.Looks.Known {
		parts = append(parts, j.Looks.Value)
	}
	if j.Placed.Known {
		parts = append(parts, "put: "+j.Placed.Value)
	}
	return strings.Join(parts, ", ")
}

// finishedAt is when the heat went off, by the record or else by the kitchen sheet;
// zero when neither says.
func (s *Server) finishedAt(c *gin.Context, w *work) time.Time {
	if v := w.last(store.RecordVersion); v != nil {
		if b, _, err := s.course.Grader.ParseFile("", v.File); err == nil && !b.Record.Finished.IsZero() {
			return b.Record.Finished
		}
	}
	if w.sentPlan() != nil {
		if r, err := s.kitchenRecord(c, w); err == nil {
			return r.Finished
		}
	}
	return time.Time{}
}

type versionPage struct {
	page
	*work
	Plan   *versionView
	Record *recordView
}

// versionPage shows one version as it was, with the report it was given then.
func (s *Server) versionPage(c *gin.Context) error {
	w, err := s.batchWork(c)
	if err != nil {
		return err
	}
	for _, v := range w.Versions {
		if fmt.Sprint(v.N) != c.Param("n") {
			continue
		}
		data := versionPage{page: newPage(fmt.Sprintf("%s, version %d", w.Assignment.Title, v.N), "/class/"+w.Class.ID), work: w}
		zone := s.zoneFor(c, w)
		if v.Kind == store.PlanVersion {
			view, _, err := s.viewVersion(v, zone)
			if err != nil {
				return err
			}
			data.Plan = &view
		} else {
			view, err := s.viewRecord(v, zone)
			if err != nil {
				return err
			}
			data.Record = &view
		}
		return s.write(c.Writer, c.Request, http.StatusOK, "batch-version", data)
	}
	return errNoPage
}

type batchPlanPage struct {
	page
	*work
	Wrong   []wrongView
	Changed bool // another tab added a version in the meantime
	Report  *reportView
	Form    []section
	After   string // how many versions there were when this form was made
	Blocked string // why no plan can be kept now
}

func (s *Server) batchPlanPage(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	if !w.plans() {
		return seeOther(c, "/batches/"+w.ID)
	}
	typed := url.Values{"food": {w.Assignment.About}}
	if altitude, known, err := s.altitude(c.Request.Context(), w.Visitor); err != nil {
		return err
	} else if known {
		typed.Set("altitude", altitude.String())
	}
	data := batchPlanPage{page: newPage("Plan: "+w.Assignment.Title, "/class/"+w.Class.ID), work: w, After: strconv.Itoa(len(w.Versions))}
	var tested map[string]string
	if v := w.last(store.PlanVersion); v != nil {
		plan, err := s.course.Grader.ParsePlan("", v.File)
		if err != nil {
			return err
		}
		typed = formOf(plan)
		advice := s.course.Grader.Advise(plan)
		view := s.viewAdvice(advice, plan)
		data.Report, tested = &view, s.course.Grader.TestedValues(plan)
	}
	data.Form = s.fillForm(typed, nil, tested, nil)
	return s.write(c.Writer, c.Request, http.StatusOK, "batch-plan", data)
}

// overtaken says whether a version of a kind was added since a form was made. Such a
// form is kept on the page, and nothing is written over.
func overtaken(typed url.Values, w *work, kind string) bool {
	n, err := strconv.Atoi(typed.Get("after"))
	last := w.last(kind)
	return err != nil || n > len(w.Versions) || last != nil && n < last.N
}

// planBlocked says why no plan can be kept now, and what to do; "" if one can.
func (w *work) planBlocked() string {
	if w.plans() {
		return ""
	}
	return "A record of this batch was sent in, so its plan stays as it is. If you planned or cooked otherwise, write that to your instructor on the batch’s page."
}

func (s *Server) planBatch(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	posted, err := form(c)
	if err != nil {
		return err
	}
	data := batchPlanPage{page: newPage("Plan: "+w.Assignment.Title, "/class/"+w.Class.ID), work: w, After: posted.Get("after"), Blocked: w.planBlocked()}
	again := func() error {
		// One who was told of the change may keep this one after all.
		if data.Changed = data.Blocked == ""; data.Changed {
			data.After = strconv.Itoa(len(data.Versions))
		}
		data.Form = s.fillForm(posted, nil, nil, nil)
		return s.write(c.Writer, c.Request, http.StatusConflict, "batch-plan", data)
	}
	if data.Blocked != "" {
		return again()
	}
	typed := noneMeansNothing(posted)
	typed.Set("food", w.Assignment.About)
	plan, err := s.course.Grader.PlanFromForm(withoutKey(typed, "after"))
	if wrong := scenarios.Problems(err); len(wrong) > 0 {
		var byKey map[string]string
		data.Wrong, byKey = viewWrong(wrong)
		data.Form = s.fillForm(posted, byKey, nil, nil)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "batch-plan", data)
	}
	if overtaken(posted, w, store.PlanVersion) {
		return again()
	}
	report := s.course.Grader.Grade(plan)
	raw, err := json.Marshal(report)
	if err != nil {
		return err
	}
	err = s.store.AddBatchVersion(c.Request.Context(), store.BatchVersion{
		Batch: w.ID, N: w.next(), Kind: store.PlanVersion, File: plan.YAML(), Report: raw, Verdict: string(report.Verdict), Version: s.course.Grader.Version(), At: s.now(),
	}, planning...)
	if errors.Is(err, store.ErrChanged) {
		if data.work, err = s.ownBatch(c); err != nil {
			return err
		}
		data.Blocked = data.planBlocked()
		return again()
	}
	if err != nil {
		return err
	}
	return seeOther(c, "/batches/"+w.ID+"#plan")
}

func withoutKey(values url.Values, keys ...string) url.Values {
	out := url.Values{}
	for key, v := range values {
		if !slices.Contains(keys, key) {
			out[key] = v
		}
	}
	return out
}

// mostSaid is how many letters may be said with a step.
const mostSaid = 4000

// act takes a step with a batch: the student sends in, the instructor judges, both
// comment.
func (s *Server) act(c *gin.Context) error {
	w, err := s.batchWork(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	says := strings.TrimSpace(strings.ReplaceAll(typed.Get("says"), "\r\n", "\n"))
	e := store.BatchEvent{What: typed.Get("do"), ByInstructor: !w.Mine, Says: says, At: s.now()}
	if n := len(w.Versions); n > 0 {
		e.N = w.Versions[n-1].N
	}
	step, ok := steps[e.What]
	if !ok || step.instructor == w.Mine && e.What != store.Comment {
		return errBadForm
	}
	refuse := func(why string) error {
		w.Said = says
		return s.showBatch(c, http.StatusUnprocessableEntity, w, why)
	}
	changed := func() error {
		w, err := s.batchWork(c)
		if err != nil {
			return err
		}
		w.Said = says
		return s.showBatch(c, http.StatusConflict, w, s.meanwhile(c, w))
	}
	if step.instructor {
		// What is decided is about the version that was on the page.
		if e.N, err = strconv.Atoi(typed.Get("version")); err != nil {
			e.N = 0 // there is none of that number
		}
		if v := w.waiting(); v == nil || v.N != e.N {
			return changed()
		}
	}
	if utf8.RuneCountInString(says) > mostSaid {
		return refuse("That is too long: 4 000 letters are the most. Nothing was sent, and what you wrote is below.")
	}
	switch e.What {
	case store.Comment:
		if says == "" {
			return refuse("There was nothing to say. Write it first.")
		}
	case store.PlanSent:
		v := w.last(store.PlanVersion)
		if v == nil {
			return refuse("There is no plan yet.")
		}
		if why := cannotSend(*v, w.Settings); why != "" {
			return refuse(why)
		}
		e.N = v.N
	case store.RecordSent:
		v := w.last(store.RecordVersion)
		if v == nil {
			return refuse("There is no record yet.")
		}
		e.N = v.N
	case store.PlanBack, store.RecordBack:
		if says == "" {
			return refuse("Say what is to be changed, so that it can be.")
		}
	}
	if err := s.store.AddBatchEvent(c.Request.Context(), w.ID, e, step.after...); errors.Is(err, store.ErrChanged) {
		return changed()
	} else if err != nil {
		return err
	}
	return seeOther(c, "/batches/"+w.ID)
}

// meanwhile tells what was last done with a batch, to somebody who did not know of it.
func (s *Server) meanwhile(c *gin.Context, w *work) string {
	last := w.lastStep()
	if last == nil {
		return "Nothing was sent: no plan of this batch was sent in yet."
	}
	e := s.viewEvent(w, *last, s.zoneFor(c, w))
	return fmt.Sprintf("Nothing was sent: the batch is no longer as the page showed it. %s %s (%s). Look at it, and decide again.", e.Who, e.What, e.When)
}

// steps says who takes a step, and on what it follows.
var steps = map[string]struct {
	instructor bool
	after      []string
}{
	store.PlanSent:   {false, planning},
	store.PlanBack:   {true, []string{store.PlanSent}},
	store.PlanFine:   {true, []string{store.PlanSent}},
	store.RecordSent: {false, cooking},
	store.RecordBack: {true, []string{store.RecordSent}},
	store.Accepted:   {true, []string{store.RecordSent}},
	store.Comment:    {false, nil},
}

// reminder is a calendar file that rings when the seals may be read.
func (s *Server) reminder(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	finished := s.finishedAt(c, w)
	if finished.IsZero() {
		return errNoPage
	}
	from, until, err := sealTimes(finished)
	if err != nil {
		return err
	}
	cal := ics.NewCalendarFor("Rolling Boil")
	e := cal.AddEvent(w.ID + "-seals@rolling-boil")
	e.SetDtStampTime(s.now())
	e.SetStartAt(from)
	e.SetEndAt(until)
	e.SetSummary("Read the seals: " + w.Assignment.Title)
	e.SetDescription("Press, look and tap each lid, band off. A jar that is not sealed is refrigerated, frozen or processed again within 24 hours. When in doubt, throw it out.")
	alarm := e.AddAlarm()
	alarm.SetAction(ics.ActionDisplay)
	alarm.SetTrigger("PT0S")
	alarm.SetProperty(ics.ComponentPropertyDescription, "Read the seals")
	c.Header("Content-Disposition", `attachment; filename="seals.ics"`)
	c.Data(http.StatusOK, "text/calendar; charset=utf-8", []byte(cal.Serialize(ics.WithNewLineWindows)))
	return nil
}

// acceptedBatches are the assignments of which a visitor's batch was accepted.
func (s *Server) acceptedBatches(ctx context.Context, visitor string) (map[string]bool, error) {
	states, err := s.store.BatchStates(ctx, visitor, "")
	accepted := map[string]bool{}
	for _, b := range states {
		accepted[b.Assignment] = accepted[b.Assignment] || b.State == store.Accepted
	}
	return accepted, err
}
