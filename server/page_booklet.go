package server

import (
	"html/template"
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
)

// The booklet is the whole course on one page, to be printed.

type bookletPage struct {
	page
	Lessons []bookletLesson
}

type bookletLesson struct {
	*lessons.Lesson
	Parts []template.HTML
}

func (s *Server) bookletPage(c *gin.Context) error {
	data, err := s.booklet()
	if err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "booklet", data)
}

// makeBooklet draws all lessons once, when somebody first asks for them.
func (s *Server) makeBooklet() (bookletPage, error) {
	data := bookletPage{page: newPage("The course as a booklet", "/lessons")}
	for _, l := range s.course.Lessons.Lessons() {
		// What is named once in a lesson is named many times in the booklet, and the
		// lesson's title stands above its headings.
		own := strings.NewReplacer(` id="`, ` id="`+l.Slug+`-`, `href="#`, `href="#`+l.Slug+`-`, `url(#`, `url(#`+l.Slug+`-`,
			// Paper cannot be opened.
			`<details class="answer">`, `<details class="answer" open>`, "Work it out, then open this", "Work it out, then read on", "before you open the answer", "before you read the answer",
			"<h2", "<h3", "</h2", "</h3", "<h3", "<h4", "</h3", "</h4", "<h4", "<h5", "</h4", "</h5")
		line := bookletLesson{Lesson: l}
		for _, p := range s.shipped.lessons[l.Slug].parts {
			if p.question == "" {
				line.Parts = append(line.Parts, template.HTML(own.Replace(string(p.html))))
				continue
			}
			q, _ := s.course.Bank.Question(p.question)
			asked, err := q.Ask(0)
			if err != nil {
				return data, err
			}
			html, err := s.part("printed-question", asked)
			if err != nil {
				return data, err
			}
			line.Parts = append(line.Parts, html)
		}
		data.Lessons = append(data.Lessons, line)
	}
	return data, nil
}
