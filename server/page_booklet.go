package server

import (
	"html/template"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/quiz"
	"rollingboil/server/store"
)

// The booklet is the whole course on one page, to be printed.

type bookletPage struct {
	page
	Lessons []bookletLesson
}

type bookletLesson struct {
	*lessons.Lesson
	Own   string // since when it is an instructor's own; "" for one of the course
	Parts []template.HTML
}

// printedQuestion is a question with room for an answer.
type printedQuestion struct {
	*quiz.Asked
	Own string // since when it is an instructor's own; "" for one of the course
}

func (s *Server) bookletPage(c *gin.Context) error {
	t, err := s.taughtTo(c)
	if err != nil {
		return err
	}
	data, err := t.booklet()
	if err != nil {
		return err
	}
	s.tellOfClass(c, t)
	return s.write(c.Writer, c.Request, http.StatusOK, "booklet", data)
}

// makeBooklet draws all lessons once, when somebody first asks for them.
func (s *Server) makeBooklet(t *taught) (bookletPage, error) {
	data := bookletPage{page: newPage("The course as a booklet", "/lessons")}
	for _, l := range t.Lessons.Lessons() {
		// What is named once in a lesson is named many times in the booklet, and the
		// lesson's title stands above its headings.
		own := strings.NewReplacer(` id="`, ` id="`+l.Slug+`-`, `href="#`, `href="#`+l.Slug+`-`, `url(#`, `url(#`+l.Slug+`-`,
			// Paper cannot be opened.
			`<details class="answer">`, `<details class="answer" open>`, "Work it out, then open this", "Work it out, then read on", "before you open the answer", "before you read the answer",
			"<h2", "<h3", "</h2", "</h3", "<h3", "<h4", "</h3", "</h4", "<h4", "<h5", "</h4", "</h5")
		line := bookletLesson{Lesson: l, Own: t.writtenFor(store.LessonMaterial, l.Slug)}
		for _, p := range t.lessons[l.Slug].parts {
			if p.question == "" {
				line.Parts = append(line.Parts, template.HTML(own.Replace(string(p.html))))
				continue
			}
			q, _ := t.Bank.Question(p.question)
			asked, err := q.Ask(0)
			if err != nil {
				return data, err
			}
			html, err := s.part("printed-question", printedQuestion{asked, t.writtenFor(store.QuestionMaterial, q.ID)})
			if err != nil {
				return data, err
			}
			line.Parts = append(line.Parts, html)
		}
		data.Lessons = append(data.Lessons, line)
	}
	return data, nil
}
