package server

import (
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// The wall sheet is one page to hang in the kitchen: one food, one jar, one altitude.

type wallPage struct {
	page
	Foods, Jars     []optionLine
	Food, Jar       string
	Altitude, Wrong string
	Sheet           *wallSheet
}

type wallSheet struct {
	Name, Jar, Altitude string
	Ways                []wallWay
	NoWay               string // why there is none
	Acid                []string
	Directions, Note    string
	Figures             map[string]string
	LowAcid, Boils      bool
}

// wallWay is a canner and a pack with what the table prints for them.
type wallWay struct {
	Canner, Pack, Headspace, Source string
	Choices                         []wallChoice // any of them
	Row                             string       // of which jar, when the planned one is not listed
	Unconfirmed                     bool
}

// wallChoice is a time, in a pressure canner with its pressure.
type wallChoice struct{ Time, Pressure string }

func (s *Server) wallPage(c *gin.Context) error {
	data := wallPage{page: newPage("A sheet for the kitchen wall", "/times/wall"), Food: c.Query("food"), Jar: c.Query("jar"), Altitude: strings.TrimSpace(c.Query("altitude"))}
	table := s.course.Grader.Table()
	for _, card := range table.Foods() {
		data.Foods = append(data.Foods, optionLine{card.Food, scenarios.Sentence(card.Name)})
	}
	slices.SortFunc(data.Foods, func(a, b optionLine) int { return strings.Compare(a.Name, b.Name) })
	for _, jar := range process.Jars() {
		data.Jars = append(data.Jars, optionLine{jar.ID, scenarios.Sentence(jar.Name)})
	}
	if data.Jar == "" {
		data.Jar = "pint"
	}
	altitude, known, err := s.altitude(c.Request.Context(), s.visitor(c))
	if err != nil {
		return err
	}
	if data.Altitude == "" && known {
		data.Altitude = altitude.String()
	}
	if data.Food == "" {
		return s.write(c.Writer, c.Request, http.StatusOK, "wall", data)
	}
	card, ok := table.Card(data.Food)
	if !ok || !slices.ContainsFunc(data.Jars, func(o optionLine) bool { return o.Value == data.Jar }) {
		return errNoPage
	}
	if altitude, err = measure.ParseAltitude(data.Altitude); err != nil {
		data.Wrong = wrongQuantity(err)
		return s.write(c.Writer, c.Request, http.StatusUnprocessableEntity, "wall", data)
	}
	if data.Sheet, err = wallSheetOf(table, card, data.Jar, altitude); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "wall", data)
}

// wallSheetOf looks up every tested process for a food in a jar at an altitude.
func wallSheetOf(table *process.Table, card process.Card, jar string, altitude measure.Altitude) (*wallSheet, error) {
	sheet := &wallSheet{
		Name: scenarios.Sentence(card.Name), Jar: process.JarName(jar), Altitude: altitude.Both(),
		Directions: card.Directions, Note: card.Note, LowAcid: card.Acidity == "low-acid",
	}
	var err error
	if sheet.Figures, err = figuresByID(); err != nil {
		return nil, err
	}
	for _, canner := range []struct{ method, gauge, name string }{
		{"boiling-water", "", "Boiling-water canner"}, {"pressure", "dial", "Pressure canner, dial gauge"}, {"pressure", "weighted", "Pressure canner, weighted gauge"},
	} {
		for _, pack := range card.Packs {
			found := table.Lookup(process.Query{Food: card.Food, Pack: pack, Method: canner.method, Gauge: canner.gauge, Jar: jar, AltitudeFt: float64(altitude)})
			if len(found.Rows) == 0 {
				continue
			}
			first := found.Rows[0]
			way := wallWay{Canner: canner.name, Pack: scenarios.Label(first.Pack), Source: first.Source}
			if first.HeadspaceIn > 0 {
				way.Headspace = measure.Length(first.HeadspaceIn).Both()
			}
			if found.SmallerJar {
				way.Row = process.JarName(first.Jar)
			}
			for _, row := range found.Rows {
				choice := wallChoice{Time: measure.Duration(row.Minutes).String()}
				if row.PSI > 0 {
					choice.Pressure = measure.Pressure(row.PSI).Both()
				}
				way.Choices = append(way.Choices, choice)
				way.Unconfirmed = way.Unconfirmed || row.FromMemory()
			}
			sheet.Boils = sheet.Boils || canner.method == "boiling-water"
			// A row for any pack answers for each.
			if !slices.ContainsFunc(sheet.Ways, func(w wallWay) bool { return w.Canner == way.Canner && w.Pack == way.Pack }) {
				sheet.Ways = append(sheet.Ways, way)
			}
		}
	}
	if len(sheet.Ways) == 0 {
		sheet.NoWay = "No tested process is printed for this food in this jar at this altitude."
	}
	switch card.AcidIn {
	case "jar":
		for _, d := range card.Dose(jar) {
			sheet.Acid = append(sheet.Acid, measure.Volume(d.Tsp).Both()+" "+scenarios.Label(d.Kind))
		}
	case "recipe":
		sheet.Acid = []string{"all the acid of the tested recipe"}
	}
	return sheet, nil
}
