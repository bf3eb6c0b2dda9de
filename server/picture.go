package server

import (
	"fmt"
	"html/template"
	"strings"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// Pictures of a lesson that are not a jar. What they say in figures comes from the
// lessons' figures and the process table, as the text beside them does.

// picturePart draws one of the pictures that are always the same.
func (s *Server) picturePart(set map[string]string) (readyPart, error) {
	figures, err := figuresByID()
	if err != nil {
		return readyPart{}, err
	}
	picture, err := s.part(set["show"], figures)
	if err != nil {
		return readyPart{}, err
	}
	return s.drawn("picture", struct {
		Picture template.HTML
		Caption string
	}{picture, set["caption"]})
}

// figuresByID gives the lessons' figures as they are written in a text, with the
// hyphens of their ids as underscores, which a template can name.
func figuresByID() (map[string]string, error) {
	facts, err := lessons.Facts()
	if err != nil {
		return nil, err
	}
	figures := map[string]string{}
	for _, f := range facts {
		figures[strings.ReplaceAll(f.ID, "-", "_")] = f.Text()
	}
	return figures, nil
}

// dayLine is a day at the canner, drawn from top to bottom.
type dayLine struct {
	Says, Title string
	Stops       []dayStop
	Height      int
}

type dayStop struct {
	Y, BarHeight int
	Kind         string // work, boil, wait: how its bar is filled
	What, Long   string
	More         string
}

// dayPart draws the timeline of a day for one food, jar and altitude.
func (s *Server) dayPart(set map[string]string) (readyPart, error) {
	altitude, err := measure.ParseAltitude(set["altitude"])
	if err != nil {
		return readyPart{}, err
	}
	table := s.course.Grader.Table()
	card, _ := table.Card(set["food"])
	found := table.Lookup(process.Query{Food: set["food"], Pack: set["pack"], Method: "boiling-water", Jar: set["jar"], AltitudeFt: float64(altitude)})
	if len(found.Rows) != 1 {
		return readyPart{}, fmt.Errorf("%d rows for the day of %s", len(found.Rows), set["food"])
	}
	figures, err := figuresByID()
	if err != nil {
		return readyPart{}, err
	}
	v := dayLine{Title: fmt.Sprintf("%s, %s pack, %s jars at %s", scenarios.Sentence(card.Name), set["pack"], process.JarName(set["jar"]), altitude.Both())}
	for _, stop := range []dayStop{
		{Kind: "work", What: "Heat the water and fill the jars", Long: "", More: "The clock is not running yet."},
		{Kind: "work", What: "Jars in, up to the full boil", Long: figures["come_to_boil"], More: "Still not: wait for the full rolling boil."},
		{Kind: "boil", What: "The full boil, unbroken", Long: measure.Duration(found.Rows[0].Minutes).String(), More: "If it stops, the whole time starts again."},
		{Kind: "wait", What: "Heat off, lid off, jars rest", Long: figures["rest"], More: "Inside the jars it still boils."},
		{Kind: "wait", What: "On a towel, nobody touches them", Long: figures["cool"], More: "No tightening, no tilting, no testing."},
		{Kind: "work", What: "Test every seal, and label", Long: "", More: "Not sealed? " + figures["reprocess"] + " from the canner."},
	} {
		stop.Y, stop.BarHeight = v.Height, 62
		v.Height += 66
		v.Stops = append(v.Stops, stop)
	}
	var says []string
	for _, stop := range v.Stops {
		says = append(says, strings.TrimSuffix(stop.What+" ("+stop.Long+")", " ()"))
	}
	v.Says = v.Title + ". " + strings.Join(says, ", then ") + "."
	return s.drawn("day-line", v)
}

type yieldLine struct{ Food, Name, Quarts, Pints, Bushel string }

// yieldsPart tells what a load takes, and what a bushel gives.
func (s *Server) yieldsPart(foods string) (readyPart, error) {
	var lines []yieldLine
	for _, food := range strings.Split(foods, ",") {
		card, ok := s.course.Grader.Table().Card(food)
		if !ok {
			return readyPart{}, fmt.Errorf("there is no food %q", food)
		}
		line := yieldLine{Food: food, Name: scenarios.Sentence(card.Name)}
		for _, l := range scenarios.CardLines(card) {
			switch {
			case l.Term == "For 7 quarts":
				line.Quarts = l.Text
			case l.Term == "For 9 pints":
				line.Pints = l.Text
			case strings.HasPrefix(l.Term, "One "):
				line.Bushel = l.Term + ": " + l.Text
			}
		}
		lines = append(lines, line)
	}
	return s.drawn("yields", lines)
}

// workedExample is a kitchen of a worked scenario, its last step left to the reader.
type workedExample struct {
	Slug, Title string
	Settled     []settled
	Steps       []scenarios.Step
	Ask, Answer string
	Why         string
}

// workedPart draws the first kitchen that a worked scenario leaves to the learner.
func (s *Server) workedPart(t *taught, slug string) (readyPart, error) {
	sc := t.scenario(slug)
	if sc == nil || sc.Kind != scenarios.Worked {
		return readyPart{}, fmt.Errorf("there is no worked scenario %q", slug)
	}
	kase, err := s.course.Grader.Case(sc, 0)
	if err != nil {
		return readyPart{}, err
	}
	kitchen := kase.Then[0]
	v := workedExample{Slug: slug, Title: kase.Title, Settled: s.settledOf(kitchen.Kitchen, nil)}
	for _, step := range kitchen.Solution.Steps {
		if step.Key == kitchen.Blank[len(kitchen.Blank)-1] {
			v.Ask, v.Answer, v.Why = step.Ask, step.Answer, step.Why
			continue
		}
		v.Steps = append(v.Steps, step)
	}
	return s.drawn("worked-example", v)
}
