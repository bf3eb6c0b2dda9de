package server

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
)

type timesPage struct {
	page
	Rows, Foods int
	Find        string
	Guides      []guideList
	Untested    []foodLine
}

type guideList struct {
	Number int
	Name   string
	Foods  []foodLine
}

type foodLine struct{ Food, Name string }

func (s *Server) timesPage(c *gin.Context) error {
	table := s.course.Grader.Table()
	data := timesPage{page: newPage("Tested times", "/times"), Rows: table.Len(), Foods: len(table.Foods()), Find: strings.TrimSpace(c.Query("find"))}
	wanted := strings.ToLower(data.Find)
	for guide := 1; guide <= 7; guide++ {
		g := guideList{Number: guide, Name: guideNames[guide]}
		for _, card := range table.Foods() {
			if card.Guide == guide && (wanted == "" || strings.Contains(strings.ToLower(card.Name+" "+card.Food), wanted)) {
				g.Foods = append(g.Foods, foodLine{card.Food, scenarios.Sentence(card.Name)})
			}
		}
		if len(g.Foods) > 0 {
			data.Guides = append(data.Guides, g)
		}
	}
	for _, u := range table.UntestedFoods() {
		if wanted == "" || strings.Contains(strings.ToLower(u.Name+" "+u.ID), wanted) {
			data.Untested = append(data.Untested, foodLine{u.ID, scenarios.Sentence(u.Name)})
		}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "times", data)
}

type foodPage struct {
	page
	Name, Acidity, Read     string
	Card                    process.Card
	Lines                   []scenarios.CardLine
	Acid                    *acidTable
	Unconfirmed             bool
	Altitude, AltitudeWrong string
	Tables                  []timesTable
}

func (s *Server) foodPage(c *gin.Context) error {
	table := s.course.Grader.Table()
	card, ok := table.Card(c.Param("food"))
	if untested, known := table.Untested(c.Param("food")); known {
		return s.untestedPage(c, untested)
	}
	if !ok {
		return errNoPage
	}
	data := foodPage{page: newPage(scenarios.Sentence(card.Name), "/times/"+card.Food), Name: scenarios.Sentence(card.Name), Card: card, Acidity: acidityWords(card), Lines: scenarios.CardLines(card), Tables: s.tables[card.Food]}
	var sources []string
	for _, r := range table.Rows(card.Food) {
		data.Unconfirmed = data.Unconfirmed || r.FromMemory()
		if len(sources) == 0 || sources[len(sources)-1] != r.Source {
			sources = append(sources, r.Source)
		}
	}
	data.Read = strings.Join(sources, "; ")
	if card.AcidIn == "jar" {
		acid := acidOf(card)
		data.Acid = &acid
	}
	status := http.StatusOK
	altitude, known, err := s.altitude(c.Request.Context(), s.visitor(c))
	if err != nil {
		return err
	}
	if typed := strings.TrimSpace(c.Query("altitude")); typed != "" {
		data.Altitude = typed
		if altitude, err = measure.ParseAltitude(typed); err != nil {
			data.AltitudeWrong, known, status = wrongQuantity(err), false, http.StatusUnprocessableEntity
		} else {
			known = true
		}
	} else if known {
		data.Altitude = altitude.String()
	}
	if known {
		data.Tables = at(data.Tables, altitude)
	}
	return s.write(c.Writer, c.Request, status, "food", data)
}

type untestedPage struct {
	page
	Name    string
	Food    process.Untested
	Like    foodLine // of the tested food it resembles; empty for none
	Sources []rules.Source
	OneCopy bool
	Heading string
}

// untestedPage says of a food why there is no tested process for it.
func (s *Server) untestedPage(c *gin.Context, food process.Untested) error {
	data := untestedPage{page: newPage(scenarios.Sentence(food.Name), "/times/"+food.ID), Name: scenarios.Sentence(food.Name), Food: food, Heading: noProcess}
	data.Sources, data.OneCopy = s.sourcesNamed(food.Sources), food.Confidence == "one-copy"
	if like, ok := s.course.Grader.Table().Card(food.Like); ok {
		data.Like = foodLine{like.Food, scenarios.Sentence(like.Name)}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "untested", data)
}

func acidityWords(card process.Card) string {
	switch card.Acidity {
	case "low-acid":
		return "Low-acid food: canned under pressure only. Boiling water never gets hot enough, however long it boils."
	case "borderline":
		return "Close to the line at pH 4.6: acid goes into every jar, whichever canner you use."
	case "acid":
		return "Acid food."
	}
	return scenarios.Sentence(scenarios.Label(card.Acidity)) + ": the acid that is added is what makes it fit for boiling water."
}
