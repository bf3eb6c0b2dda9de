package server

import (
	"html/template"
	"net/http"

	"github.com/gin-gonic/gin"
)

type homePage struct {
	page
	First      lessonLine
	Jar        template.HTML
	JarCaption string
	Foods      int
	Rules      int
}

type lessonLine struct {
	Slug, Title, Question string
	Minutes               int
}

// prepareHome draws the first page's data, which is the same for everybody.
func (s *Server) prepareHome() error {
	jar, err := s.part("jar", drawJar("jar-home", jarLook{Size: "quart", Headspace: 0.5, Liquid: "full", Lid: "down"}))
	if err != nil {
		return err
	}
	first := s.course.Lessons.Lessons()[0]
	s.home = homePage{
		page:  newPage("Is your plan one that was tested?", "/"),
		First: lessonLine{first.Slug, first.Title, first.Question, first.Minutes}, Jar: jar,
		JarCaption: "A quart, half an inch below the rim, its lid pulled down by the vacuum: what you are after.",
		Foods:      len(s.course.Grader.Table().Foods()), Rules: len(s.course.Grader.Rules().Rules()),
	}
	return nil
}

func (s *Server) homePage(c *gin.Context) error {
	return s.write(c.Writer, c.Request, http.StatusOK, "home", s.home)
}
