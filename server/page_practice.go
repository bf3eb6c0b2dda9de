package server

import (
	"math/rand/v2"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// Practice has no end: any lesson, any competency, one question after the other,
// each answered at once. A question and its seed stand in the address, so that a
// page that is loaded again asks the same.

// scope is what a visitor practices.
type scope struct{ lesson, competency string }

// scopeOf reads a scope; one that names nothing known is the whole course.
func (t *taught) scopeOf(from url.Values) scope {
	of := scope{from.Get("lesson"), from.Get("competency")}
	if _, ok := t.Lessons.Lesson(of.lesson); !ok {
		of.lesson = ""
	}
	if !slices.Contains(rules.Competencies(), of.competency) {
		of.competency = ""
	}
	return of
}

func (s scope) wants(q *quiz.Question) bool {
	return (s.lesson == "" || q.Lesson == s.lesson) && (s.competency == "" || slices.Contains(q.Competencies, s.competency))
}

// query is the scope as a part of an address.
func (s scope) query() url.Values {
	v := url.Values{}
	if s.lesson != "" {
		v.Set("lesson", s.lesson)
	}
	if s.competency != "" {
		v.Set("competency", s.competency)
	}
	return v
}

// name says the scope.
func (t *taught) scopeName(of scope) string {
	if l, ok := t.Lessons.Lesson(of.lesson); ok {
		return l.Title
	}
	if of.competency != "" {
		return scenarios.Sentence(scenarios.Label(of.competency))
	}
	return "The whole course"
}

type practicePage struct {
	page
	Lessons      []scopeLine
	Competencies []scopeLine
	Questions    int
	Due          int
}

// scopeLine is one thing to practice.
type scopeLine struct {
	Name, Address string
	Questions     int
	Critical      bool
}

func (s *Server) practicePage(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data := practicePage{page: newPage("Practice", "/practice"), Questions: len(t.Bank.Questions())}
	line := func(of scope) scopeLine {
		l := scopeLine{Name: t.scopeName(of), Address: "/practice/next?" + of.query().Encode(), Critical: slices.Contains(rules.Critical(), of.competency)}
		for _, q := range t.Bank.Questions() {
			if of.wants(q) {
				l.Questions++
			}
		}
		return l
	}
	for _, l := range t.Lessons.Lessons() {
		data.Lessons = append(data.Lessons, line(scope{lesson: l.Slug}))
	}
	for _, name := range rules.Competencies() {
		if l := line(scope{competency: name}); l.Questions > 0 {
			data.Competencies = append(data.Competencies, l)
		}
	}
	learner, _, err := s.learner(c, everyAnswer)
	if err != nil {
		return err
	}
	data.Due = len(t.Bank.Due(learner))
	return s.write(c.Writer, c.Request, http.StatusOK, "practice", data)
}

// nextQuestion chooses a question and leads to it.
func (s *Server) nextQuestion(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	of := t.scopeOf(c.Request.URL.Query())
	learner, _, err := s.learner(c, everyAnswer)
	if err != nil {
		return err
	}
	q := t.Bank.Next(of.wants, learner.Answers, c.Query("after"), rand.Float64())
	if q == nil {
		return errNoPage
	}
	c.Redirect(http.StatusSeeOther, questionAddress(q.ID, newSeed(), of.query()))
	return nil
}

// newSeed draws a seed that is short to write.
func newSeed() uint64 { return seedFrom(freshRandom()) }

func seedFrom(random *rand.Rand) uint64 { return uint64(random.Uint32()) + 1 }

func questionAddress(id string, seed uint64, more url.Values) string {
	more.Set("seed", strconv.FormatUint(seed, 10))
	return "/practice/" + id + "?" + more.Encode()
}

type practiceQuestionPage struct {
	page
	Scope    string
	Question questionView
	Answered bool
	Next     string
	Back     string
	BackName string
}

// askedFrom finds the question of an address.
func (t *taught) askedFrom(c *gin.Context) (*quiz.Asked, error) {
	q, ok := t.Bank.Question(c.Param("question"))
	if !ok {
		return nil, errNoPage
	}
	seed, err := strconv.ParseUint(c.Query("seed"), 10, 64)
	if err != nil && c.Query("seed") != "" {
		return nil, errNoPage
	}
	return q.Ask(seed)
}

func (s *Server) questionPage(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	asked, err := t.askedFrom(c)
	if err != nil {
		return err
	}
	view, err := s.viewQuestion(t, asked, t.here(c))
	if err != nil {
		return err
	}
	return s.showQuestion(c, http.StatusOK, asked, view)
}

// here is the address of a question with what it was chosen by.
func (t *taught) here(c *gin.Context) string {
	query := t.scopeOf(c.Request.URL.Query()).query()
	query.Set("seed", c.Query("seed"))
	if c.Query("review") != "" {
		query.Set("review", "1")
	}
	return c.Request.URL.Path + "?" + query.Encode()
}

func (s *Server) showQuestion(c *gin.Context, status int, asked *quiz.Asked, view questionView) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	of := t.scopeOf(c.Request.URL.Query())
	data := practiceQuestionPage{page: newPage(t.scopeName(of), "/practice/question"), Scope: t.scopeName(of), Question: view, Answered: view.Answered != nil}
	next := of.query()
	next.Set("after", asked.Question.ID)
	data.Next, data.Back, data.BackName = "/practice/next?"+next.Encode(), "/practice", "Practice"
	if c.Query("review") != "" {
		data.Scope, data.Next, data.Back, data.BackName = "Review", "/review/next", "/review", "Review"
	}
	return s.write(c.Writer, c.Request, status, "question", data)
}

// practise marks an answer, keeps it, and says what is to be said at once.
func (s *Server) practise(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	asked, err := t.askedFrom(c)
	if err != nil {
		return err
	}
	view, given, result, err := s.answered(t, asked, t.here(c), c.Request.PostForm)
	if err != nil {
		return err
	}
	if result == nil {
		return s.showQuestion(c, view.unmarked(), asked, view)
	}
	if err := s.keepAnswer(c, t.markedAnswer(asked, given, *result)); err != nil {
		return err
	}
	return s.showQuestion(c, http.StatusOK, asked, view)
}

// keepAnswer keeps an answer of whoever asks, given now.
func (s *Server) keepAnswer(c *gin.Context, a store.Answer) error {
	a.Visitor, a.At = s.newVisitor(c), s.now()
	return s.store.SaveAnswer(c.Request.Context(), a)
}

func everyAnswer(store.Answer) bool { return true }

// learner gives what reviewing goes by, of the answers that count, and the visitor's
// settings.
func (s *Server) learner(c *gin.Context, counts func(store.Answer) bool) (quiz.Learner, store.Visitor, error) {
	l, id := quiz.Learner{Zone: zoneOf(""), Today: s.now()}, s.visitor(c)
	if id == "" {
		return l, store.Visitor{}, nil
	}
	ctx := c.Request.Context()
	v, err := s.visitorSettings(ctx, id)
	if err != nil {
		return l, v, err
	}
	l.Zone = zoneOf(v.TimeZone)
	if day, err := parseDay(v.CanningDay, l.Zone); err == nil {
		l.Canning = day
	}
	answers, err := s.store.ListAnswers(ctx, id)
	for _, a := range answers {
		if !counts(a) {
			continue
		}
		l.Answers = append(l.Answers, quiz.Answered{Question: a.Question, Seed: a.Seed, Right: a.Right, At: a.At})
	}
	return l, v, err
}

func trimmed(c *gin.Context, field string) string {
	return strings.TrimSpace(c.Request.PostForm.Get(field))
}
