package server

import (
	"context"
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"rsc.io/qr"

	"rollingboil/scenarios/measure"
	"rollingboil/server/store"
)

// codeLife is how long a class code opens the class, from when it was made.
const codeLife = 30 * day

type classesPage struct {
	page
	Guest      bool
	Instructor bool
	Name       string
	Classes    []classLine
}

type classLine struct{ ID, Name, About string }

// classesPage is where a person begins: the classes held or joined.
func (s *Server) classesPage(c *gin.Context) error {
	p, in := person(c)
	data := classesPage{page: newPage("Class", "/class"), Guest: !in, Instructor: p.Role == store.Instructor, Name: p.Name}
	if in {
		list := s.store.Joined
		if data.Instructor {
			list = s.store.Held
		}
		classes, err := list(c.Request.Context(), p.Visitor)
		if err != nil {
			return err
		}
		for _, class := range classes {
			data.Classes = append(data.Classes, classLine{class.ID, class.Name, classAbout(class)})
		}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "classes", data)
}

// classAbout is a class in a line.
func classAbout(c store.Class) string {
	about := fmt.Sprintf("From %s, %d %s · %s", dayText(c.Starts), c.Weeks, plural(c.Weeks, "week", "weeks"), measure.Altitude(c.AltitudeFt).Both())
	if c.CanningDay != "" {
		about += " · canning on " + dayText(c.CanningDay)
	}
	return about
}

func plural(n int, one, more string) string {
	if n == 1 {
		return one
	}
	return more
}

// dayText is a day such as 2026-08-20 as it is read.
func dayText(text string) string {
	if t, err := time.Parse(time.DateOnly, text); err == nil {
		return t.Format("2 Jan 2006")
	}
	return text
}

// held is the class of the address, if it is the instructor's own. For everybody else
// there is no such page.
func (s *Server) held(c *gin.Context) (store.Class, error) {
	p, in := person(c)
	if !in || p.Role != store.Instructor {
		return store.Class{}, errNoPage
	}
	class, err := s.store.Class(c.Request.Context(), c.Param("class"))
	if err == nil && class.Instructor != p.Visitor {
		err = errNoPage
	}
	return class, err
}

// ofClass is the class of the address for its instructor and its members.
func (s *Server) ofClass(c *gin.Context) (class store.Class, p store.Person, err error) {
	p, in := person(c)
	if !in {
		return class, p, errNoPage
	}
	class, err = s.store.Class(c.Request.Context(), c.Param("class"))
	if err != nil || class.Instructor == p.Visitor {
		return class, p, err
	}
	member, err := s.store.IsMember(c.Request.Context(), class.ID, p.Visitor)
	if err == nil && !member {
		err = errNoPage
	}
	return class, p, err
}

// instructor is who asks, if it is one.
func instructor(c *gin.Context) (store.Person, error) {
	p, in := person(c)
	if !in || p.Role != store.Instructor {
		return p, errNoPage
	}
	return p, nil
}

// classForm reads what is typed about a class; what cannot be read is told beside it.
func classForm(typed map[string]string, class *store.Class) []input {
	inputs := []input{
		{Key: "name", Label: "What the class is called", Kind: "text", Complete: "off"},
		{Key: "starts", Label: "The first day", Kind: "date"},
		{Key: "weeks", Label: "Weeks", Kind: "number"},
		{Key: "zone", Label: "Time zone", Means: "Opening and due times go by it. Write it as America/Denver.", Kind: "text", Complete: "off"},
		{Key: "altitude", Label: "Altitude of the class’s own kitchen", Means: "In feet or meters. Students keep their own.", Kind: "text", Complete: "off"},
		{Key: "canning-day", Label: "The first canning day", Means: "Reviewing leads up to it. It may stay empty.", Kind: "date"},
	}
	for i := range inputs {
		in := &inputs[i]
		in.Value = strings.TrimSpace(typed[in.Key])
		switch in.Key {
		case "name":
			class.Name = cleanName(in.Value)
			if class.Name == "" || utf8.RuneCountInString(class.Name) > 80 || unshown(class.Name) {
				in.Wrong = "Give it a name of 1 to 80 letters."
			}
		case "starts":
			class.Starts = in.Value
			if _, err := time.Parse(time.DateOnly, in.Value); err != nil {
				in.Wrong = "Write it as year, month, day: 2026-08-20."
			}
		case "weeks":
			n, err := strconv.Atoi(in.Value)
			class.Weeks = n
			if err != nil || n < 1 || n > 52 {
				in.Wrong = "A whole number from 1 to 52."
			}
		case "zone":
			class.Zone = in.Value
			// "Local" would be wherever the server stands.
			if _, err := time.LoadLocation(in.Value); err != nil || in.Value == "" || in.Value == "Local" {
				in.Wrong = "No such time zone. Name one such as America/Denver, America/Chicago or Europe/Vienna."
			}
		case "altitude":
			a, err := measure.ParseAltitude(in.Value)
			class.AltitudeFt = float64(a)
			if err != nil {
				in.Wrong = wrongQuantity(err) + " Write it as 6 240 ft or 1 902 m."
			}
		case "canning-day":
			class.CanningDay = in.Value
			if _, err := time.Parse(time.DateOnly, in.Value); err != nil && in.Value != "" {
				in.Wrong = "Write it as year, month, day: 2026-08-20, or leave it empty."
			}
		}
	}
	return inputs
}

func plainInputs(inputs []input) []input {
	for i := range inputs {
		inputs[i].Wrong = ""
	}
	return inputs
}

func classFormPage(heading, button string, inputs []input) formPage {
	return formPage{Heading: heading, Inputs: inputs, Button: button}
}

func firstOf(values map[string][]string) map[string]string {
	first := map[string]string{}
	for key, v := range values {
		if len(v) > 0 {
			first[key] = v[0]
		}
	}
	return first
}

func (s *Server) newClassPage(c *gin.Context) error {
	if _, err := instructor(c); err != nil {
		return err
	}
	var none store.Class
	const zone = "America/Denver"
	start := map[string]string{"starts": s.now().In(zoneOf(zone)).Format(time.DateOnly), "weeks": "6", "zone": zone}
	return s.writeForm(c, http.StatusOK, classFormPage("A new class", "Make the class", plainInputs(classForm(start, &none))))
}

func (s *Server) newClass(c *gin.Context) error {
	p, err := instructor(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	now := s.now()
	class := store.Class{ID: store.NewID(), Instructor: p.Visitor, Code: newCode(3), CodeUntil: now.Add(codeLife), CodeOpen: true, Made: now}
	if inputs := classForm(firstOf(typed), &class); wrongs(inputs) {
		return s.writeForm(c, http.StatusUnprocessableEntity, classFormPage("A new class", "Make the class", inputs))
	}
	if err := s.store.AddClass(c.Request.Context(), class); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID)
}

func (s *Server) changeClassPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	as := map[string]string{"name": class.Name, "starts": class.Starts, "weeks": strconv.Itoa(class.Weeks), "zone": class.Zone, "altitude": measure.Altitude(class.AltitudeFt).String(), "canning-day": class.CanningDay}
	return s.writeForm(c, http.StatusOK, classFormPage("Change "+class.Name, "Keep it", plainInputs(classForm(as, &class))))
}

func (s *Server) changeClass(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	if inputs := classForm(firstOf(typed), &class); wrongs(inputs) {
		return s.writeForm(c, http.StatusUnprocessableEntity, classFormPage("Change the class", "Keep it", inputs))
	}
	if err := s.store.ChangeClass(c.Request.Context(), class); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID)
}

type classPage struct {
	page
	Class       store.Class
	About       string
	Instructor  bool
	Name        string
	Needs       []needLine
	Members     []memberLine
	Assignments []assignmentLine
	Past        []assignmentLine // the instructor's, whose time is over
	Ready       string
	Feed        string
	CodeState   string
	Weeks       []weekView
	Together    bool // the class may see what it finds hard
	Written     bool // something was written for the class
}

// needLine is something that waits for the reader.
type needLine struct{ Path, What, About string }

type memberLine struct {
	Visitor, Name string
	store.WorkOf
	LastText string
}

func (s *Server) classPage(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	data := classPage{page: newPage(class.Name, "/class/"+class.ID), Class: class, About: classAbout(class), Instructor: class.Instructor == p.Visitor, Name: p.Name}
	if data.Feed, err = s.feedAddress(c, class, p); err != nil {
		return err
	}
	if data.Needs, err = s.needs(ctx, class, p, data.Instructor); err != nil {
		return err
	}
	together, err := s.store.Together(ctx, class.ID)
	if err != nil {
		return err
	}
	data.Together = together.Shown
	reads, err := s.taughtIn(ctx, class.ID)
	if err != nil {
		return err
	}
	data.Written = len(reads.own) > 0
	if !data.Instructor {
		if data.Assignments, err = s.assignmentsOf(c, class, p.Visitor); err != nil {
			return err
		}
		mine, err := s.store.AssignedTo(ctx, class.ID, p.Visitor)
		if err != nil {
			return err
		}
		if data.Weeks, err = s.weeksOf(class, mine); err != nil {
			return err
		}
		return s.write(c.Writer, c.Request, http.StatusOK, "class", data)
	}
	assignments, err := s.store.Assignments(ctx, class.ID)
	if err != nil {
		return err
	}
	if data.Weeks, err = s.weeksOf(class, assignments); err != nil {
		return err
	}
	people, err := s.store.Members(ctx, class.ID)
	if err != nil {
		return err
	}
	work, err := s.store.ClassWork(ctx, class.ID)
	if err != nil {
		return err
	}
	zone, names, workOf := zoneOf(class.Zone), map[string]string{}, map[string]store.WorkOf{}
	for _, w := range work {
		workOf[w.Person] = w
	}
	for _, m := range people {
		names[m.Visitor] = m.Name
		line := memberLine{Visitor: m.Visitor, Name: m.Name, WorkOf: workOf[m.Visitor], LastText: "nothing yet"}
		if !line.Last.IsZero() {
			line.LastText = line.Last.In(zone).Format("2 Jan, 15:04")
		}
		data.Members = append(data.Members, line)
	}
	for _, a := range assignments {
		line := s.assignmentLine(a, class)
		line.For = forWhom(a, names)
		if line.Late {
			data.Past = append(data.Past, line)
		} else {
			data.Assignments = append(data.Assignments, line)
		}
	}
	data.CodeState = codeState(class, s.now())
	return s.write(c.Writer, c.Request, http.StatusOK, "class", data)
}

// weekView is one week of the class's plan.
type weekView struct {
	N      int
	Begins string
	Now    bool
	Lines  []place // what opens in it
}

// weeksOf lays what is assigned out by the weeks of the class in which it opens. What
// opens before the class stands in the first week, what opens after it in the last.
func (s *Server) weeksOf(class store.Class, list []store.Assignment) ([]weekView, error) {
	now, weeks := s.now(), make([]weekView, class.Weeks)
	starts := make([]time.Time, class.Weeks+1)
	for i := range starts {
		var err error
		if starts[i], err = weekStart(class, i+1); err != nil {
			return nil, err
		}
	}
	weekAt := func(t time.Time) int {
		after := slices.IndexFunc(starts[1:], t.Before)
		if after < 0 {
			return class.Weeks - 1
		}
		return after
	}
	for i := range weeks {
		weeks[i] = weekView{N: i + 1, Begins: starts[i].Format("Mon 2 Jan 2006"), Now: !now.Before(starts[i]) && now.Before(starts[i+1])}
	}
	for _, a := range list {
		w := &weeks[weekAt(a.Opens)]
		w.Lines = append(w.Lines, place{Path: assignmentPath(a), Name: assignmentKinds[a.Kind] + ": " + a.Title})
	}
	return weeks, nil
}

// needs is what waits for a reader: plans, records and questions for the instructor, what
// came back for the student.
func (s *Server) needs(ctx context.Context, class store.Class, p store.Person, instructor bool) ([]needLine, error) {
	visitor := p.Visitor
	if instructor {
		visitor = ""
	}
	batches, err := s.store.BatchStates(ctx, visitor, class.ID)
	if err != nil {
		return nil, err
	}
	waits := map[string]string{store.PlanBack: "The plan came back", store.RecordBack: "The record came back", store.PlanFine: "The plan was looked at: cook, then record"}
	if instructor {
		waits = map[string]string{store.PlanSent: "A plan to look at", store.RecordSent: "A record to review"}
	}
	var list []needLine
	for _, b := range batches {
		if what := waits[b.State]; what != "" {
			about := b.Title + ", " + b.At.In(zoneOf(class.Zone)).Format("2 Jan, 15:04")
			if instructor {
				about = b.Student + ": " + about
			}
			list = append(list, needLine{Path: "/batches/" + b.ID, What: what, About: about})
		}
	}
	asked, err := s.needsOfAsked(ctx, class, p, instructor)
	return append(list, asked...), err
}

// codeState says whether students can join.
func codeState(class store.Class, now time.Time) string {
	switch {
	case !class.CodeOpen:
		return "closed: nobody can join"
	case !now.Before(class.CodeUntil):
		return "ended on " + class.CodeUntil.In(zoneOf(class.Zone)).Format("2 Jan 2006")
	}
	return "open until " + class.CodeUntil.In(zoneOf(class.Zone)).Format("2 Jan 2006")
}

type codePage struct {
	page
	Class   store.Class
	State   string
	Open    bool
	Address string
	Picture template.HTML
}

// codePage shows the class code large, to be read aloud or printed, and as a picture
// for telephones.
func (s *Server) codePage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	data := codePage{page: newPage("How to join "+class.Name, "/class/"+class.ID), Class: class, State: codeState(class, s.now()), Open: class.CodeOpen && s.now().Before(class.CodeUntil)}
	data.Address = siteOf(c.Request) + "/join?code=" + class.Code
	if data.Picture, err = qrPicture(data.Address, "A picture that leads a telephone to "+data.Address); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "code", data)
}

// siteOf is this site's own address, as the reader's browser named it.
func siteOf(r *http.Request) string {
	scheme := "http"
	if encrypted(r) {
		scheme = "https"
	}
	return scheme + "://" + r.Host
}

// qrPicture draws a QR code (ISO/IEC 18004) as SVG, with the quiet zone of four modules
// that the standard asks for.
func qrPicture(text, says string) (template.HTML, error) {
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return "", fmt.Errorf("draw the code: %w", err)
	}
	var b strings.Builder
	n := code.Size + 8
	fmt.Fprintf(&b, `<svg class="code-picture" viewBox="0 0 %d %d" role="img" aria-label="%s" shape-rendering="crispEdges"><path fill="#fff" d="M0 0h%dv%dH0z"/><path fill="#000" d="`, n, n, template.HTMLEscapeString(says), n, n)
	for y := range code.Size {
		for x := range code.Size {
			if code.Black(x, y) {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x+4, y+4)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String()), nil
}

// changeCode opens or closes the class, or gives it another code; the old one ends.
func (s *Server) changeCode(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	switch typed.Get("do") {
	case "close":
		class.CodeOpen = false
	case "open":
		class.CodeOpen, class.CodeUntil = true, s.now().Add(codeLife)
	case "change":
		class.Code, class.CodeOpen, class.CodeUntil = newCode(3), true, s.now().Add(codeLife)
	default:
		return errBadForm
	}
	if err := s.store.SetClassCode(c.Request.Context(), class); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"/code")
}

type studentPage struct {
	page
	Class    store.Class
	Student  store.Person
	Code     string // a code for a new password, shown once
	Altitude string // of the student's own kitchen, "" if it is not known
	Batches  []needLine
	Answers  []answersLine
	Attempts []keptLine
	Assigned []assignmentLine
}

// student is the member of the class in the address, for the instructor.
func (s *Server) student(c *gin.Context) (class store.Class, p store.Person, err error) {
	class, err = s.held(c)
	if err != nil {
		return class, p, err
	}
	member, err := s.store.IsMember(c.Request.Context(), class.ID, c.Param("student"))
	if err == nil && !member {
		err = errNoPage
	}
	if err != nil {
		return class, p, err
	}
	p, err = s.store.Person(c.Request.Context(), c.Param("student"))
	return class, p, err
}

func (s *Server) studentPage(c *gin.Context) error {
	class, p, err := s.student(c)
	if err != nil {
		return err
	}
	return s.showStudent(c, class, p, "")
}

func (s *Server) showStudent(c *gin.Context, class store.Class, p store.Person, code string) error {
	data := studentPage{page: newPage(p.Name, "/class/"+class.ID), Class: class, Student: p, Code: code}
	t, err := s.taughtIn(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	if data.Answers, err = s.answersByLesson(c, t, p.Visitor); err != nil {
		return err
	}
	attempts, err := s.store.ListAttempts(c.Request.Context(), p.Visitor)
	if err != nil {
		return err
	}
	for _, a := range attempts {
		line := keptLine{ID: a.ID, Mark: "▲", Title: t.scenarioTitle(a.Scenario), When: a.At.In(zoneOf(class.Zone)).Format("2 Jan 2006, 15:04"), Answer: "not passed"}
		if a.Passed {
			line.Mark, line.Answer = "✓", "passed"
		}
		data.Attempts = append(data.Attempts, line)
	}
	if data.Assigned, err = s.assignmentsOf(c, class, p.Visitor); err != nil {
		return err
	}
	altitude, known, err := s.altitude(c.Request.Context(), p.Visitor)
	if err != nil {
		return err
	}
	if known {
		data.Altitude = altitude.Both()
	}
	batches, err := s.store.BatchStates(c.Request.Context(), p.Visitor, class.ID)
	if err != nil {
		return err
	}
	for _, b := range batches {
		data.Batches = append(data.Batches, needLine{Path: "/batches/" + b.ID, What: b.Title, About: batchStates[b.State] + ", " + b.At.In(zoneOf(class.Zone)).Format("2 Jan, 15:04")})
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "student", data)
}

// studentAttempt shows the instructor one attempt of a student, as it was judged then.
func (s *Server) studentAttempt(c *gin.Context) error {
	class, p, err := s.student(c)
	if err != nil {
		return err
	}
	return s.showAttempt(c, p.Visitor, place{Path: "/class/" + class.ID + "/students/" + p.Visitor, Name: p.Name})
}

// resetPassword gives a student a code for a new password, shown this once.
func (s *Server) resetPassword(c *gin.Context) error {
	class, p, err := s.student(c)
	if err != nil {
		return err
	}
	code, err := PasswordCode(c.Request.Context(), s.store, p.Visitor, s.now())
	if err != nil {
		return err
	}
	s.event(c, "code given", p.Visitor)
	return s.showStudent(c, class, p, code)
}

// removeStudent takes a student out of the class. The work stays the student's own.
func (s *Server) removeStudent(c *gin.Context) error {
	class, p, err := s.student(c)
	if err != nil {
		return err
	}
	if err := s.store.Leave(c.Request.Context(), class.ID, p.Visitor); err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	s.event(c, "student removed", p.Visitor)
	return seeOther(c, "/class/"+class.ID)
}
