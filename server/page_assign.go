package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	ics "github.com/arran4/golang-ical"
	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/server/store"
)

// The kinds of assignment.
const (
	lessonKind    = "lesson"
	questionsKind = "questions"
	scenarioKind  = "scenario"
	batchKind     = "batch"
)

var assignmentKinds = map[string]string{lessonKind: "Lesson", questionsKind: "Set of questions", scenarioKind: "Scenario", batchKind: "Practice batch"}

type assignmentLine struct {
	ID, Kind, Title, Note, Path string
	Opens, Due                  string
	For                         string
	NotOpen, Late, Done         bool
	State                       string
	TakeBack                    string // where the instructor takes it back
}

// localTime is how a browser writes a time in a field for one.
const localTime = "2006-01-02T15:04"

func (s *Server) assignmentLine(a store.Assignment, class store.Class) assignmentLine {
	zone, now := zoneOf(class.Zone), s.now()
	return assignmentLine{
		ID: a.ID, Kind: assignmentKinds[a.Kind], Title: a.Title, Note: a.Note, Path: assignmentPath(a),
		Opens: clockText(a.Opens, zone), Due: clockText(a.Due, zone),
		NotOpen: now.Before(a.Opens), Late: now.After(a.Due),
		TakeBack: "/class/" + class.ID + "/assignments/" + a.ID + "/take-back",
	}
}

// forWhom names those an assignment is for.
func forWhom(a store.Assignment, names map[string]string) string {
	switch {
	case a.Everyone:
		return "everyone"
	case len(a.For) == 0:
		return "nobody who is still here"
	}
	var list []string
	for _, visitor := range a.For {
		list = append(list, names[visitor])
	}
	slices.Sort(list)
	return strings.Join(list, ", ")
}

// assignmentPath is where an assignment is done.
func assignmentPath(a store.Assignment) string {
	switch a.Kind {
	case lessonKind:
		return "/lessons/" + a.About
	case questionsKind:
		return "/check?lesson=" + url.QueryEscape(a.About)
	case scenarioKind:
		return "/scenarios/" + a.About
	}
	return "/batches?assignment=" + a.ID
}

// assignmentsOf is what a class has for one member, with what is done of it.
func (s *Server) assignmentsOf(c *gin.Context, class store.Class, visitor string) ([]assignmentLine, error) {
	ctx := c.Request.Context()
	all, err := s.store.AssignedTo(ctx, class.ID, visitor)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	done, err := s.doneBy(c, visitor)
	if err != nil {
		return nil, err
	}
	var lines []assignmentLine
	for _, a := range all {
		line := s.assignmentLine(a, class)
		line.Done = done(a)
		switch {
		case line.Done:
			line.State = "done"
		case line.NotOpen:
			line.State = "opens " + line.Opens
		case line.Late:
			line.State = "was due " + line.Due
		default:
			line.State = "due " + line.Due
		}
		lines = append(lines, line)
	}
	// What is still to be done comes first.
	slices.SortStableFunc(lines, func(a, b assignmentLine) int {
		switch {
		case a.Done == b.Done:
			return 0
		case a.Done:
			return 1
		}
		return -1
	})
	return lines, nil
}

// doneBy tells which assignments a visitor has done: a lesson when each of its questions
// was right once, a set when one on it was handed in since it was assigned, a scenario
// when it is passed, a batch when the instructor accepted it.
func (s *Server) doneBy(c *gin.Context, visitor string) (func(store.Assignment) bool, error) {
	ctx := c.Request.Context()
	passed, err := s.passedScenarios(c, visitor, func(store.Attempt) bool { return true })
	if err != nil {
		return nil, err
	}
	answers, err := s.store.ListAnswers(ctx, visitor)
	if err != nil {
		return nil, err
	}
	sittings, err := s.store.ListSittings(ctx, visitor)
	if err != nil {
		return nil, err
	}
	accepted, err := s.acceptedBatches(ctx, visitor)
	if err != nil {
		return nil, err
	}
	right := map[string]bool{}
	for _, a := range answers {
		if a.Right {
			right[a.Question] = true
		}
	}
	t, err := s.taughtPerson(ctx, visitor)
	if err != nil {
		return nil, err
	}
	return func(a store.Assignment) bool {
		switch a.Kind {
		case lessonKind:
			l, ok := t.Lessons.Lesson(a.About)
			return ok && !slices.ContainsFunc(l.Questions, func(id string) bool { return !right[id] })
		case questionsKind:
			return slices.ContainsFunc(sittings, func(v store.Sitting) bool {
				return !v.Submitted.IsZero() && v.Submitted.After(a.Opens) && v.Title == t.scopeName(scope{lesson: a.About})
			})
		case scenarioKind:
			return passed[a.About]
		case batchKind:
			return accepted[a.ID]
		}
		return false
	}, nil
}

type assignPage struct {
	page
	Class     store.Class
	Lessons   []lessonChoice
	Scenarios []lessonChoice
	Foods     []optionGroup
	What      string
	Inputs    []input
	Note      string
	Members   []store.Person
	Chosen    map[string]bool
	Wrong     string
	AsTested  bool
}

type lessonChoice struct{ Value, Name string }

func (s *Server) assignPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	zone := zoneOf(class.Zone)
	now := s.now().In(zone)
	due := time.Date(now.Year(), now.Month(), now.Day()+7, 18, 0, 0, 0, zone)
	return s.showAssign(c, http.StatusOK, class, assignPage{What: c.Query("what"), Inputs: timeInputs(now.Format(localTime), due.Format(localTime))})
}

var errNoSuchTime = errors.New("no clock of the zone shows this time")

// instants reads a time as a clock of the zone shows it. When the clocks are set back
// one hour is shown twice: then first and last differ. When they are set forward one
// is never shown.
func instants(typed string, zone *time.Location) (first, last time.Time, err error) {
	shown, err := time.Parse(localTime, typed)
	if err != nil {
		return first, last, err
	}
	// By the clock of the day before and by that of the day after.
	for _, near := range []time.Time{shown.Add(-day), shown.Add(day)} {
		_, offset := near.In(zone).Zone()
		t := shown.Add(-time.Duration(offset) * time.Second).In(zone)
		if t.Format(localTime) != typed {
			continue
		}
		if first.IsZero() || t.Before(first) {
			first = t
		}
		if t.After(last) {
			last = t
		}
	}
	if first.IsZero() {
		return first, last, errNoSuchTime
	}
	return first, last, nil
}

func timeInputs(opens, due string) []input {
	return []input{
		{Key: "opens", Label: "Opens", Kind: "datetime-local", Value: opens},
		{Key: "due", Label: "Due", Kind: "datetime-local", Value: due},
	}
}

func (s *Server) showAssign(c *gin.Context, status int, class store.Class, data assignPage) error {
	data.page, data.Class = newPage("Assign something", "/class/"+class.ID), class
	t, err := s.taughtIn(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	for _, l := range t.Lessons.Lessons() {
		data.Lessons = append(data.Lessons, lessonChoice{l.Slug, fmt.Sprintf("%d. %s", l.Number, l.Title)})
	}
	for _, sc := range t.Scenarios {
		data.Scenarios = append(data.Scenarios, lessonChoice{sc.Slug, sc.Title})
	}
	data.Foods = s.foodOptions()
	if data.Members, err = s.store.Members(c.Request.Context(), class.ID); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, status, "assign", data)
}

// foodOptions lists the foods as the plan form does.
func (s *Server) foodOptions() []optionGroup {
	for _, section := range s.form {
		for _, f := range section.Fields {
			if f.Key == "food" {
				return f.Groups
			}
		}
	}
	return nil
}

// batchSettings are the limits an instructor sets for a practice batch.
type batchSettings struct {
	AsTested bool `json:"as_tested"` // the plan must be as tested to be sent in
}

func (s *Server) assign(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	zone := zoneOf(class.Zone)
	a := store.Assignment{ID: store.NewID(), Class: class.ID, Note: strings.TrimSpace(typed.Get("note")), Settings: []byte("{}"), Made: s.now()}
	again := assignPage{What: typed.Get("what"), Inputs: timeInputs(typed.Get("opens"), typed.Get("due")), Note: a.Note, Chosen: map[string]bool{}, AsTested: typed.Get("as-tested") != ""}
	var told bool
	a.Kind, a.About, _ = strings.Cut(typed.Get("what"), " ")
	t, err := s.taughtIn(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	if a.Title, told = t.assignmentTitle(a); !told {
		again.Wrong = "Choose what is to be done."
	}
	if utf8.RuneCountInString(a.Note) > 2000 {
		again.Wrong = "The note is too long: 2 000 letters are the most."
	}
	for i, to := range []*time.Time{&a.Opens, &a.Due} {
		first, last, err := instants(again.Inputs[i].Value, zone)
		switch {
		case errors.Is(err, errNoSuchTime):
			again.Inputs[i].Wrong = "That night the clocks are set forward and there is no such time. Choose an hour later."
		case err != nil:
			again.Inputs[i].Wrong = "Write it as day and time: 2026-08-20T18:00."
		}
		// Where the clocks are set back, nobody is late who reads it the other way.
		*to = first
		if to == &a.Due {
			*to = last
		}
	}
	if !wrongs(again.Inputs) && !a.Due.After(a.Opens) {
		again.Inputs[1].Wrong = "It must be due after it opens."
	}
	if typed.Get("to") == "some" {
		a.For = slices.Compact(slices.Sorted(slices.Values(typed["student"])))
		for _, v := range a.For {
			again.Chosen[v] = true
		}
		if len(a.For) == 0 {
			again.Wrong = "Choose at least one student, or everyone."
		}
	}
	if again.Wrong != "" || wrongs(again.Inputs) {
		return s.showAssign(c, http.StatusUnprocessableEntity, class, again)
	}
	if a.Kind == batchKind {
		if a.Settings, err = json.Marshal(batchSettings{AsTested: again.AsTested}); err != nil {
			return err
		}
	}
	if err := s.store.Assign(c.Request.Context(), a); errors.Is(err, store.ErrNotFound) {
		again.Wrong = "One of the students you chose is no longer in the class. Look at the list and send it again."
		return s.showAssign(c, http.StatusUnprocessableEntity, class, again)
	} else if err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID)
}

// assignmentTitle names what is assigned; false if there is no such thing.
func (t *taught) assignmentTitle(a store.Assignment) (string, bool) {
	switch a.Kind {
	case lessonKind, questionsKind:
		l, ok := t.Lessons.Lesson(a.About)
		return titleOf(l), ok
	case scenarioKind:
		if sc := t.scenario(a.About); sc != nil {
			return sc.Title, true
		}
	case batchKind:
		card, ok := t.Grader.Table().Card(a.About)
		return "One load: " + card.Name, ok
	}
	return "", false
}

func titleOf(l *lessons.Lesson) string {
	if l == nil {
		return ""
	}
	return l.Title
}

func (s *Server) takeBack(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	err = s.store.TakeBack(c.Request.Context(), class.ID, c.Param("id"))
	if errors.Is(err, store.ErrChanged) {
		return errWorkedOn
	}
	if err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID)
}

// feedAddress is the address of the class's calendar for one person; one is made when
// there is none.
func (s *Server) feedAddress(c *gin.Context, class store.Class, p store.Person) (string, error) {
	ctx := c.Request.Context()
	secret, err := s.store.Feed(ctx, class.ID, p.Visitor)
	if err != nil {
		return "", err
	}
	if secret == "" {
		if secret, err = s.store.FirstFeed(ctx, class.ID, p.Visitor, store.NewID()); err != nil {
			return "", err
		}
	}
	return siteOf(c.Request) + "/calendar/" + secret + ".ics", nil
}

// changeFeed gives the calendar another address; the old one ends.
func (s *Server) changeFeed(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	if err := s.store.SetFeed(c.Request.Context(), class.ID, p.Visitor, store.NewID()); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"#calendar")
}

// calendarFile is the class's calendar (RFC 5545) as the person sees it whose address
// this is. Whoever has the address may read it: titles and times, no work and no names.
func (s *Server) calendarFile(c *gin.Context) error {
	ctx := c.Request.Context()
	secret, ok := strings.CutSuffix(c.Param("secret"), ".ics")
	if !ok {
		return errNoPage
	}
	id, visitor, err := s.store.FeedOf(ctx, secret)
	if err != nil {
		return err
	}
	class, err := s.store.Class(ctx, id)
	if err != nil {
		return err
	}
	list, err := s.calendarOf(ctx, class, visitor)
	if err != nil {
		return err
	}
	text, err := calendar(class, list, siteOf(c.Request))
	if err != nil {
		return err
	}
	c.Header("Content-Disposition", `attachment; filename="class.ics"`)
	c.Data(http.StatusOK, "text/calendar; charset=utf-8", []byte(text))
	return nil
}

// calendarText is a text without what no calendar may hold: control characters, but for
// tabs and line breaks of one kind (RFC 5545, 3.1 and 3.3.11).
func calendarText(text string) string {
	text = strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.ToValidUTF8(text, ""))
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' {
			return -1
		}
		return r
	}, text)
}

func (s *Server) calendarOf(ctx context.Context, class store.Class, visitor string) ([]store.Assignment, error) {
	if class.Instructor == visitor {
		return s.store.Assignments(ctx, class.ID)
	}
	return s.store.AssignedTo(ctx, class.ID, visitor)
}

// calendar writes when things are due, and the canning day. Times are in UTC, so that
// no calendar has to know the class's zone.
func calendar(class store.Class, list []store.Assignment, site string) (string, error) {
	cal := ics.NewCalendarFor("Rolling Boil")
	cal.SetMethod(ics.MethodPublish)
	cal.SetXWRCalName(calendarText(class.Name))
	for _, a := range list {
		e := cal.AddEvent(a.ID + "@rolling-boil")
		e.SetDtStampTime(a.Made)
		e.SetStartAt(a.Due) // and no end, which would have to be later: RFC 5545, 3.8.2.2
		e.SetSummary(calendarText("Due: " + a.Title))
		e.SetDescription(calendarText(strings.TrimSpace(assignmentKinds[a.Kind] + ". " + a.Note)))
		e.SetURL(site + assignmentPath(a))
	}
	if class.CanningDay != "" {
		on, err := time.Parse(time.DateOnly, class.CanningDay)
		if err != nil {
			return "", errors.Join(errors.New("read the canning day"), err)
		}
		e := cal.AddEvent(class.ID + "-canning@rolling-boil")
		e.SetDtStampTime(class.Made)
		e.SetAllDayStartAt(on)
		e.SetAllDayEndAt(on.AddDate(0, 0, 1))
		e.SetSummary("Canning day")
		e.SetDescription("Follow the tested recipe, and ask your extension service. When in doubt, throw it out.")
	}
	return cal.Serialize(ics.WithNewLineWindows), nil
}
