package server

import (
	"net/http"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

type timesPage struct {
	page
	Rows, Foods int
	Find        string
	Guides      []guideList
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
				g.Foods = append(g.Foods, foodLine{card.Food, upper(card.Name)})
			}
		}
		if len(g.Foods) > 0 {
			data.Guides = append(data.Guides, g)
		}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "times", data)
}

type foodPage struct {
	page
	Name, Acidity, Read     string
	Card                    process.Card
	Acid                    *acidTable
	Unconfirmed             bool
	Altitude, AltitudeWrong string
	Tables                  []timesTable
}

func (s *Server) foodPage(c *gin.Context) error {
	table := s.course.Grader.Table()
	card, ok := table.Card(c.Param("food"))
	if !ok {
		return errNoPage
	}
	data := foodPage{page: newPage(upper(card.Name), "/times/"+card.Food), Name: upper(card.Name), Card: card, Acidity: acidityWords(card), Tables: s.tables[card.Food]}
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
		marked := make([]timesTable, len(data.Tables))
		for i, t := range data.Tables {
			marked[i] = t.at(altitude)
		}
		data.Tables = marked
	}
	return s.write(c.Writer, c.Request, status, "food", data)
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
	return upper(scenarios.Label(card.Acidity)) + ": the acid that is added is what makes it fit for boiling water."
}
