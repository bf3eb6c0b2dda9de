package server

import (
	"cmp"
	"context"
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"rollingboil/server/store"
)

// What students ask their instructor, at the foot of a lesson, a scenario or a batch.
// It is plain text from end to end: shown as it was typed, and never made into links or
// marks. What the class is to see is a wording of the instructor's own.

const (
	mostOpen  = 20   // questions of one student in one class that wait for an answer
	askLength = 2000 // letters of a question
	sayLength = 4000 // letters of an answer
)

// askPart is "Ask your instructor" as one student sees it.
type askPart struct {
	Kind, About string
	Seed        uint64
	Classes     []classLine // to ask in
	Field       textField
	Own         []ownLine
	Shared      []sharedLine
}

// ownLine is a question to who asked it.
type ownLine struct {
	ID     string
	Class  string // where it was asked, when there are several to ask in
	About  place
	Text   string
	When   string
	Answer string
	Since  string // when the answer was written
	Again  bool   // it was changed since the first
	Shared bool
}

// sharedLine is a question as the class sees it.
type sharedLine struct {
	ID     string
	About  place
	Text   string
	Answer string
}

// textField is a field of several lines.
type textField struct {
	Key, Label, Means string
	Value, Wrong      string
}

func askField(value, wrong string) textField {
	return textField{"ask-text", "Your question", "Up to " + thousands(askLength) + " letters. Your instructor sees it with your name. The class may see it later, in the instructor’s words and without your name.", value, wrong}
}

// askPartOf is what a page about something shows to a student who belongs to a class, or
// to the one class it is about; nil for everybody else. The answers on it are then seen.
func (s *Server) askPartOf(c *gin.Context, kind, about string, seed uint64, only string) (*askPart, error) {
	p, in := person(c)
	if !in || p.Role != store.Student {
		return nil, nil
	}
	ctx := c.Request.Context()
	classes, err := s.store.Joined(ctx, p.Visitor)
	if only != "" {
		classes = slices.DeleteFunc(classes, func(class store.Class) bool { return class.ID != only })
	}
	if err != nil || len(classes) == 0 {
		return nil, err
	}
	part := &askPart{Kind: kind, About: about, Seed: seed, Field: askField("", "")}
	byID := map[string]store.Class{}
	for _, class := range classes {
		part.Classes = append(part.Classes, classLine{ID: class.ID, Name: class.Name})
		byID[class.ID] = class
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return nil, err
	}
	own, err := s.store.AskedAbout(ctx, p.Visitor, kind, about)
	if err != nil {
		return nil, err
	}
	for _, q := range own {
		line := t.ownLine(q, byID[q.Class])
		line.About = place{} // it stands on that page
		if len(classes) > 1 {
			line.Class = byID[q.Class].Name
		}
		part.Own = append(part.Own, line)
	}
	shared, err := s.store.SharedAbout(ctx, p.Visitor, kind, about)
	if err != nil {
		return nil, err
	}
	part.Shared = t.sharedLines(shared, own)
	for i := range part.Shared {
		part.Shared[i].About = place{}
	}
	return part, s.answersSeen(c, own)
}

func (t *taught) ownLine(q store.AskedInClass, class store.Class) ownLine {
	zone := zoneOf(class.Zone)
	line := ownLine{ID: q.ID, About: t.askedAbout(q.Kind, q.About, q.Seed), Text: q.Text, When: q.At.In(zone).Format("2 Jan, 15:04"), Answer: q.Answer, Again: q.Version > 1, Shared: q.Shared != ""}
	if q.Version > 0 {
		line.Since = q.Answered.In(zone).Format("2 Jan, 15:04")
	}
	return line
}

// sharedLines leaves out what stands among the reader's own questions.
func (t *taught) sharedLines(shared []store.SharedInClass, own []store.AskedInClass) []sharedLine {
	var lines []sharedLine
	for _, q := range shared {
		if !slices.ContainsFunc(own, func(o store.AskedInClass) bool { return o.ID == q.ID }) {
			lines = append(lines, sharedLine{q.ID, t.askedAbout(q.Kind, q.About, 0), q.Text, q.Answer})
		}
	}
	return lines
}

// answersSeen keeps which answers the student has been shown.
func (s *Server) answersSeen(c *gin.Context, own []store.AskedInClass) error {
	if c.Request.Method == http.MethodHead {
		return nil
	}
	for _, q := range own {
		if q.Version > q.Seen {
			if err := s.store.SeeAnswer(c.Request.Context(), q.Person, q.ID, q.Version); err != nil {
				return err
			}
		}
	}
	return nil
}

// askedAbout names what a question is about and where that stands. What is no longer in
// the course has no path.
func (t *taught) askedAbout(kind, about string, seed uint64) place {
	switch kind {
	case lessonKind:
		if l, ok := t.Lessons.Lesson(about); ok {
			return place{Path: "/lessons/" + about, Name: "Lesson: " + l.Title}
		}
	case scenarioKind:
		if sc := t.scenario(about); sc != nil {
			at := place{Path: "/scenarios/" + about, Name: "Scenario: " + sc.Title}
			if seed > 0 {
				at.Path = scenarioAddress(about, seed, "")
			}
			return at
		}
	case batchKind:
		if about != "" {
			return place{Path: "/batches/" + about, Name: assignmentKinds[kind]}
		}
	}
	return place{Name: assignmentKinds[kind]}
}

// typedText reads a text of some lines; what is wrong with it is told beside it.
func typedText(typed string, most int) (text, wrong string) {
	text = strings.TrimSpace(strings.ReplaceAll(typed, "\r\n", "\n"))
	switch {
	case text == "":
		return text, "Write something here first."
	case utf8.RuneCountInString(text) > most:
		return text, "Too long: " + thousands(most) + " letters are the most, and there are " + thousands(utf8.RuneCountInString(text)) + ". Make it shorter, or send it in two parts."
	case !utf8.ValidString(text), strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) && r != '\n' && r != '\t' }):
		return text, "There is a sign in it that cannot be shown. Type it again."
	}
	return text, ""
}

// thousands writes a number with a space at the thousands.
func thousands(n int) string {
	text := strconv.Itoa(n)
	if len(text) > 3 {
		text = text[:len(text)-3] + " " + text[len(text)-3:]
	}
	return text
}

type askPage struct {
	page
	Back place
	Ask  *askPart
}

// askInstructor keeps what a student of the class asks and goes back to what it is about.
func (s *Server) askInstructor(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	if p.Role != store.Student {
		return errNoPage
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	q := store.AskedInClass{ID: store.NewID(), Class: class.ID, Person: p.Visitor, Kind: typed.Get("kind"), About: typed.Get("about"), At: s.now()}
	if seed := typed.Get("case"); seed != "" {
		if q.Seed, err = strconv.ParseUint(seed, 10, 32); err != nil {
			return errNoPage
		}
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	about := t.askedAbout(q.Kind, q.About, q.Seed)
	if about.Path == "" {
		// Taken back while the question was being written, it can still be asked about.
		if _, err := s.store.MaterialNamed(c.Request.Context(), class.ID, q.Kind, q.About); err != nil {
			return err
		}
		about.Path = "/class/" + class.ID + "/questions"
	}
	if q.Kind == batchKind {
		if err := s.ownBatchIn(c, class, p, q.About); err != nil {
			return err
		}
	}
	var wrong string
	if q.Text, wrong = typedText(typed.Get("ask-text"), askLength); wrong == "" {
		err = s.store.Ask(c.Request.Context(), q, mostOpen)
		if errors.Is(err, store.ErrLimit) {
			wrong, err = "You have "+strconv.Itoa(mostOpen)+" questions here that wait for an answer. That is the most. Wait for an answer, or ask your extension service.", nil
		}
		if err != nil {
			return err
		}
	}
	if wrong != "" {
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "ask", askPage{
			page: newPage("Ask your instructor", "/class/"+class.ID), Back: about,
			Ask: &askPart{Kind: q.Kind, About: q.About, Seed: q.Seed, Classes: []classLine{{ID: class.ID, Name: class.Name}}, Field: askField(q.Text, wrong)},
		})
	}
	return seeOther(c, about.Path+"#ask")
}

// ownBatchIn refuses a batch that is not this student's own for this class.
func (s *Server) ownBatchIn(c *gin.Context, class store.Class, p store.Person, id string) error {
	b, err := s.store.Batch(c.Request.Context(), id)
	if err != nil {
		return err
	}
	a, err := s.store.Assignment(c.Request.Context(), b.Assignment)
	if err == nil && (b.Visitor != p.Visitor || a.Class != class.ID) {
		err = errNoPage
	}
	return err
}

type askedListPage struct {
	page
	Class      store.Class
	Instructor bool
	Open, Done []heldLine // for the instructor
	Left       []heldLine // shared, and who asked is gone
	Own        []ownLine  // for a student
	Shared     []sharedLine
}

// heldLine is a question in the instructor's list.
type heldLine struct {
	Path, Begins, Who, When, About string
	Shared                         bool
}

// whoAsked names a student who still belongs to the class.
func whoAsked(q store.AskedInClass) string {
	if q.Name == "" {
		return "Somebody who has left the class"
	}
	return q.Name
}

// askedListPage lists all that was asked in a class for its instructor, and for a student
// what is the student's own or the class's.
func (s *Server) askedListPage(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	data := askedListPage{page: newPage("Questions of "+class.Name, "/class/"+class.ID), Class: class, Instructor: class.Instructor == p.Visitor}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	shared, err := s.store.SharedIn(ctx, class.ID)
	if err != nil {
		return err
	}
	if !data.Instructor {
		own, err := s.store.AskedBy(ctx, class.ID, p.Visitor)
		if err != nil {
			return err
		}
		for _, q := range own {
			data.Own = append(data.Own, t.ownLine(q, class))
		}
		data.Shared = t.sharedLines(shared, own)
		if err := s.answersSeen(c, own); err != nil {
			return err
		}
		return s.write(c.Writer, c.Request, http.StatusOK, "questions", data)
	}
	all, err := s.store.AskedIn(ctx, class.ID)
	if err != nil {
		return err
	}
	at := "/class/" + class.ID + "/questions/"
	for _, q := range all {
		line := heldLine{at + q.ID, beginning(q.Text), whoAsked(q), q.At.In(zoneOf(class.Zone)).Format("2 Jan, 15:04"), t.askedAbout(q.Kind, q.About, q.Seed).Name, q.Shared != ""}
		if q.Version == 0 {
			data.Open = append(data.Open, line)
		} else {
			data.Done = append(data.Done, line)
		}
	}
	for _, q := range t.sharedLines(shared, all) {
		data.Left = append(data.Left, heldLine{Path: at + q.ID, Begins: beginning(q.Text), About: q.About.Name})
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "questions", data)
}

// beginning is the first words of a text, in one line.
func beginning(text string) string {
	line := []rune(strings.Join(strings.Fields(text), " "))
	if len(line) > 140 {
		return strings.TrimSpace(string(line[:140])) + "…"
	}
	return string(line)
}

type askedPage struct {
	page
	ID       string
	Class    store.Class
	Asked    store.AskedInClass
	Who      string
	When     string
	About    place
	Earlier  []answerLine
	Since    string
	Answer   textField
	Sharing  textField
	ShareBad string      // why it cannot be shared as it is
	Left     *sharedLine // who asked is gone; only this is left
}

type answerLine struct{ When, Text string }

func answerField(value, wrong string) textField {
	return textField{"answer", "Your answer", "Up to " + thousands(sayLength) + " letters. When you change it, what you wrote before is kept, and the student sees the last.", value, wrong}
}

func sharingField(value, wrong string) textField {
	return textField{"shared", "The question as the class is to see it", "In your own words, if you like. Nothing that tells who asked.", value, wrong}
}

// askedPage is one question, for the instructor to answer and share.
func (s *Server) askedPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	q, err := s.store.Asked(c.Request.Context(), class.ID, c.Param("id"))
	if errors.Is(err, store.ErrNotFound) {
		return s.showLeft(c, class)
	}
	if err != nil {
		return err
	}
	return s.showAsked(c, http.StatusOK, class, q, askedPage{Answer: answerField(q.Answer, ""), Sharing: sharingField(cmp.Or(q.Shared, q.Text), "")})
}

// showLeft shows what is left of a question whose asker is gone: what the class sees.
func (s *Server) showLeft(c *gin.Context, class store.Class) error {
	q, err := s.store.Shared(c.Request.Context(), class.ID, c.Param("id"))
	if err != nil {
		return err
	}
	left := sharedLine{ID: q.ID, Text: q.Text, Answer: q.Answer}
	return s.write(c.Writer, c.Request, http.StatusOK, "asked", askedPage{page: newPage("A shared question", "/class/"+class.ID), ID: q.ID, Class: class, Left: &left})
}

func (s *Server) showAsked(c *gin.Context, status int, class store.Class, q store.AskedInClass, data askedPage) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	versions, err := s.store.AnswerVersions(c.Request.Context(), q.ID)
	if err != nil {
		return err
	}
	zone := zoneOf(class.Zone)
	say := func(t time.Time) string { return t.In(zone).Format("2 Jan 2006, 15:04") }
	data.page, data.ID, data.Class, data.Asked = newPage("A question", "/class/"+class.ID), q.ID, class, q
	data.Who, data.When, data.About = whoAsked(q), say(q.At), t.askedAbout(q.Kind, q.About, q.Seed)
	for i, v := range versions {
		if i == len(versions)-1 {
			data.Since = say(v.At)
			break
		}
		data.Earlier = append(data.Earlier, answerLine{say(v.At), v.Text})
	}
	return s.write(c.Writer, c.Request, status, "asked", data)
}

// heldAsked is the question of the address, for the instructor of its class.
func (s *Server) heldAsked(c *gin.Context) (class store.Class, q store.AskedInClass, err error) {
	if class, err = s.held(c); err != nil {
		return class, q, err
	}
	q, err = s.store.Asked(c.Request.Context(), class.ID, c.Param("id"))
	return class, q, err
}

const nameStandsIn = "The name of who asked stands in it. Take it out, so that the class does not learn it."

// tellsWho says whether the name of who asked stands in a text, however it is
// capitalized and spaced.
func (s *Server) tellsWho(c *gin.Context, q store.AskedInClass, text string) (bool, error) {
	p, err := s.store.Person(c.Request.Context(), q.Person)
	if err != nil {
		return false, err
	}
	return holdsName(text, p.Name), nil
}

// holdsName looks for a name among the words of a text.
func holdsName(text, name string) bool {
	words := func(s string) string {
		return " " + strings.Join(strings.FieldsFunc(store.KnownAs(s), func(r rune) bool { return !unicode.IsLetter(r) && !unicode.IsMark(r) && !unicode.IsDigit(r) }), " ") + " "
	}
	return strings.TrimSpace(words(name)) != "" && strings.Contains(words(text), words(name))
}

// answerAsked adds an answer, or another version of it.
func (s *Server) answerAsked(c *gin.Context) error {
	class, q, err := s.heldAsked(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	text, wrong := typedText(typed.Get("answer"), sayLength)
	if wrong == "" && q.Shared != "" {
		told, err := s.tellsWho(c, q, text)
		if err != nil {
			return err
		}
		if told {
			wrong = nameStandsIn + " The class sees this answer."
		}
	}
	if wrong != "" {
		return s.showAsked(c, http.StatusUnprocessableEntity, class, q, askedPage{Answer: answerField(text, wrong), Sharing: sharingField(cmp.Or(q.Shared, q.Text), "")})
	}
	if text != q.Answer {
		if err := s.store.AnswerAsked(c.Request.Context(), class.ID, q.ID, text, s.now()); err != nil {
			return err
		}
	}
	return seeOther(c, "/class/"+class.ID+"/questions/"+q.ID)
}

// shareAsked shows the question, as the instructor words it, and its answer to the
// class.
func (s *Server) shareAsked(c *gin.Context) error {
	class, q, err := s.heldAsked(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	text, wrong := typedText(typed.Get("shared"), askLength)
	data := askedPage{Answer: answerField(q.Answer, "")}
	if q.Version == 0 {
		data.ShareBad = "Answer it first: the class sees the question with its answer."
	}
	for _, look := range []struct {
		text string
		to   *string
		says string
	}{{text, &wrong, nameStandsIn}, {q.Answer, &data.ShareBad, "The name of who asked stands in your answer. Take it out there first."}} {
		told, err := s.tellsWho(c, q, look.text)
		if err != nil {
			return err
		}
		if told {
			*look.to = look.says
		}
	}
	if wrong != "" || data.ShareBad != "" {
		data.Sharing = sharingField(text, wrong)
		return s.showAsked(c, http.StatusUnprocessableEntity, class, q, data)
	}
	if err := s.store.Share(c.Request.Context(), class.ID, q.ID, text, s.now()); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"/questions/"+q.ID)
}

// unshareAsked takes a question away from the class again.
func (s *Server) unshareAsked(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	if err := s.store.Unshare(c.Request.Context(), class.ID, c.Param("id")); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"/questions")
}

// needsOfAsked says how many questions of a class wait for the instructor, or lists the
// answers that a student has not seen.
func (s *Server) needsOfAsked(ctx context.Context, class store.Class, p store.Person, instructor bool) ([]needLine, error) {
	at := "/class/" + class.ID + "/questions"
	if instructor {
		n, err := s.store.Unanswered(ctx, class.ID)
		if err != nil || n == 0 {
			return nil, err
		}
		return []needLine{{at, strconv.Itoa(n) + plural(n, " question", " questions") + " to answer", "What students asked about lessons, scenarios and batches"}}, nil
	}
	own, err := s.store.AskedBy(ctx, class.ID, p.Visitor)
	if err != nil {
		return nil, err
	}
	var lines []needLine
	for _, q := range own {
		if q.Version > q.Seen {
			lines = append(lines, needLine{at + "#asked-" + q.ID, "An answer to your question", beginning(q.Text)})
		}
	}
	return lines, nil
}
