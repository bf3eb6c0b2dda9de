package server

import (
	"errors"
	"html/template"
	"net/http"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

type lessonsPage struct {
	page
	Lessons []contentsLine
	Next    *lessons.Lesson // the first that is not done; nil when none was begun
}

// contentsLine is a lesson with how far the visitor is.
type contentsLine struct {
	*lessons.Lesson
	Own          bool
	Right, Asked int // of the questions that the lesson ends with
}

// Done reports whether every question of the lesson was right the last time.
func (l contentsLine) Done() bool { return l.Right == l.Asked }

func (s *Server) lessonsPage(c *gin.Context) error {
	data := lessonsPage{page: newPage("Lessons", "/lessons")}
	answers, err := s.store.ListAnswers(c.Request.Context(), s.visitor(c))
	if err != nil {
		return err
	}
	last := map[string]bool{}
	for _, a := range answers {
		last[a.Question] = a.Right
	}
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	for _, l := range t.Lessons.Lessons() {
		line := contentsLine{Lesson: l, Own: t.has(store.LessonMaterial, l.Slug), Asked: len(l.Questions)}
		for _, id := range l.Questions {
			if last[id] {
				line.Right++
			}
		}
		if data.Next == nil && len(answers) > 0 && !line.Done() {
			data.Next = l
		}
		data.Lessons = append(data.Lessons, line)
	}
	s.tellOfClass(c, t)
	return s.write(c.Writer, c.Request, http.StatusOK, "lessons", data)
}

// tellOfClass marks a page that may hold something written for a class, so that the browser
// keeps it no longer than its reader is logged in; see offline.js.
func (s *Server) tellOfClass(c *gin.Context, t *taught) {
	if t != s.shipped {
		c.Header("Of-Class", "yes")
	}
}

type lessonPage struct {
	page
	Lesson                  *lessons.Lesson
	Count                   int
	Parts                   []template.HTML
	Altitude, AltitudeWrong string
	Sources                 []citedSource
	Before, Next            *lessons.Lesson
	Ask                     *askPart // nil for who belongs to no class
	Own                     string   // since when it is an instructor's own; "" for one of the course
}

type citedSource struct {
	rules.Source
	At string
}

func (s *Server) lessonPage(c *gin.Context) error {
	return s.showLesson(c, http.StatusOK, c.Param("lesson"), lessonShown{})
}

// lessonShown is what a request changes on a lesson's page.
type lessonShown struct {
	question      *questionView // a question with its answer
	altitude      string        // as typed, when it could not be read
	altitudeWrong string
}

func (s *Server) showLesson(c *gin.Context, status int, slug string, shown lessonShown) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data, err := s.newLessonPage(c, t, slug, shown)
	if err != nil {
		return err
	}
	s.tellOfClass(c, t)
	return s.write(c.Writer, c.Request, status, "lesson", data)
}

func (s *Server) newLessonPage(c *gin.Context, t *taught, slug string, shown lessonShown) (lessonPage, error) {
	ready, ok := t.lessons[slug]
	if !ok {
		return lessonPage{}, errNoPage
	}
	l := ready.lesson
	data := lessonPage{page: newPage(l.Title, "/lessons/"+slug), Lesson: l, Count: len(t.lessons), Own: t.writtenFor(store.LessonMaterial, slug), Altitude: shown.altitude, AltitudeWrong: shown.altitudeWrong}
	altitude, known, err := s.altitude(c.Request.Context(), s.visitor(c))
	if err != nil {
		return data, err
	}
	if known && shown.altitude == "" {
		data.Altitude = altitude.String()
	}
	data.Parts = make([]template.HTML, len(ready.parts))
	for i, p := range ready.parts {
		data.Parts[i] = p.html
		switch {
		case known && p.marked != nil:
			data.Parts[i] = p.at(altitude)
		case shown.question != nil && p.question == shown.question.ID:
			if data.Parts[i], err = s.part("question", *shown.question); err != nil {
				return data, err
			}
		}
	}
	for _, id := range l.Sources {
		src, _ := s.course.Grader.Rules().Source(id)
		data.Sources = append(data.Sources, citedSource{src, l.Pages[id]})
	}
	all := t.Lessons.Lessons()
	if l.Number < len(all) {
		data.Next = all[l.Number]
	}
	if l.Number > 1 {
		data.Before = all[l.Number-2]
	}
	if data.Ask, err = s.askPartOf(c, lessonKind, slug, 0, ""); err != nil {
		return data, err
	}
	return data, nil
}

// answerQuestion marks an answer, keeps it and shows the lesson again with what
// is said to it.
func (s *Server) answerQuestion(c *gin.Context) error {
	slug := c.Param("lesson")
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	if _, ok := t.lessons[slug]; !ok {
		return errNoPage
	}
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	q, ok := t.Bank.Question(c.Request.PostForm.Get("question"))
	if !ok {
		return errNoPage
	}
	asked, err := q.Ask(0)
	if err != nil {
		return err
	}
	view, given, result, err := s.answered(t, asked, "/lessons/"+slug, c.Request.PostForm)
	if err != nil {
		return err
	}
	if result == nil {
		return s.showLesson(c, view.unmarked(), slug, lessonShown{question: &view})
	}
	if err := s.keepAnswer(c, t.markedAnswer(asked, given, *result)); err != nil {
		return err
	}
	return s.showLesson(c, http.StatusOK, slug, lessonShown{question: &view})
}

// keepAltitude keeps the visitor's altitude and goes back to the lesson.
func (s *Server) keepAltitude(c *gin.Context) error {
	if err := c.Request.ParseForm(); err != nil {
		return formError(err)
	}
	back, typed := c.Request.PostForm.Get("back"), c.Request.PostForm.Get("altitude")
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	if _, ok := t.lessons[back]; !ok {
		return errNoPage
	}
	altitude, err := measure.ParseAltitude(typed)
	if err != nil {
		return s.showLesson(c, http.StatusUnprocessableEntity, back, lessonShown{altitude: typed, altitudeWrong: wrongQuantity(err)})
	}
	if err := s.store.SetAltitude(c.Request.Context(), s.newVisitor(c), float64(altitude)); err != nil {
		return err
	}
	c.Redirect(http.StatusSeeOther, "/lessons/"+back)
	return nil
}

func formError(err error) error {
	var tooLarge *http.MaxBytesError
	if errors.As(err, &tooLarge) {
		return errTooLarge
	}
	return errors.Join(errBadForm, err)
}
