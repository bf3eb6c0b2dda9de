package server

import (
	"errors"
	"fmt"
	"html/template"
	"net/url"
	"slices"
	"strings"
	"sync"

	"rollingboil/lessons"
	"rollingboil/lessons/markdown"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// readyLesson is a lesson with everything drawn that does not depend on the
// visitor.
type readyLesson struct {
	lesson *lessons.Lesson
	parts  []readyPart
}

// readyPart is one stretch of a lesson: plain HTML, a question, or a table in
// which the visitor's band is marked.
type readyPart struct {
	html     template.HTML // drawn for a visitor of whom nothing is known
	question string        // id, "" for no question
	marked   []markedTable
}

// markedTable is a table with one band marked. A dial and a weighted gauge, say,
// have bands of their own: no table of a piece changes its band within this one.
type markedTable struct {
	process.Band
	html template.HTML
}

// at gives the drawing for an altitude.
func (p readyPart) at(altitude measure.Altitude) template.HTML {
	for _, m := range p.marked {
		if m.Covers(float64(altitude)) {
			return m.html
		}
	}
	return p.html
}

// prepareLessons draws of each lesson what is the same for every visitor, side by side,
// since nobody is listened to before it is done.
func (s *Server) prepareLessons() error {
	s.terms = newTermLinker(s.course.Glossary)
	s.shipped = s.newTaught(s.course, map[string]*readyLesson{})
	all := s.course.Lessons.Lessons()
	ready, problems := make([]*readyLesson, len(all)), make([]error, len(all))
	var together sync.WaitGroup
	for i, l := range all {
		together.Go(func() { ready[i], problems[i] = s.readyLesson(s.shipped, l) })
	}
	together.Wait()
	for _, r := range ready {
		if r != nil {
			s.shipped.lessons[r.lesson.Slug] = r
		}
	}
	return errors.Join(problems...)
}

// readyLesson draws a lesson.
func (s *Server) readyLesson(t *taught, l *lessons.Lesson) (*readyLesson, error) {
	ready := &readyLesson{lesson: l}
	linked := map[string]bool{}
	for _, p := range l.Parts {
		part, err := s.readyPart(t, l, p)
		if err == nil && p.Block == nil {
			part.html, err = s.terms.link(part.html, linked)
		}
		if err != nil && p.Block != nil {
			return nil, fmt.Errorf("%s:%d: %w", l.File, p.Block.Line, err)
		}
		if err != nil {
			return nil, fmt.Errorf("%s: %w", l.File, err)
		}
		// Neighboring stretches of plain HTML are one.
		if last := len(ready.parts) - 1; last >= 0 && part.plain() && ready.parts[last].plain() {
			ready.parts[last].html += part.html
			continue
		}
		ready.parts = append(ready.parts, part)
	}
	return ready, nil
}

func (p readyPart) plain() bool { return p.question == "" && p.marked == nil }

func (s *Server) readyPart(t *taught, l *lessons.Lesson, p markdown.Part) (readyPart, error) {
	if p.Block == nil {
		return readyPart{html: p.HTML}, nil
	}
	set := p.Block.Settings
	switch p.Block.Kind {
	case "times":
		return s.timesPart(set)
	case "jar":
		headspace, err := measure.ParseLength(set["headspace"])
		if err != nil {
			return readyPart{}, err
		}
		jar, err := s.part("jar", drawJar(fmt.Sprintf("jar-%d", p.Block.Line), jarLook{
			Size: set["jar"], Headspace: headspace, Liquid: set["liquid"], Lid: set["lid"],
			Layers: set["layers"] == "true", Bubbles: set["bubbles"] == "true",
		}))
		if err != nil {
			return readyPart{}, err
		}
		return s.drawn("drawn", struct {
			Jar     template.HTML
			Caption string
		}{jar, set["caption"]})
	case "bench":
		return s.benchPart(p.Block)
	case "picture":
		return s.picturePart(set)
	case "day":
		return s.dayPart(set)
	case "yields":
		return s.yieldsPart(set["food"])
	case "worked":
		return s.workedPart(t, set["scenario"])
	case "answer":
		return s.drawn("answer", p.Block.BodyHTML)
	case "refute":
		m, ok := s.course.Grader.Rules().Misconception(set["id"])
		if !ok {
			return readyPart{}, fmt.Errorf("there is no misconception %q", set["id"])
		}
		return s.drawn("refute", m)
	case "caution":
		return s.drawn("caution", p.Block.BodyHTML)
	case "acid":
		card, ok := s.course.Grader.Table().Card(set["food"])
		if !ok {
			return readyPart{}, fmt.Errorf("there is no food %q", set["food"])
		}
		return s.drawn("acid", acidOf(card))
	case "boiling":
		rows, err := boilingRows()
		if err != nil {
			return readyPart{}, err
		}
		return s.drawn("boiling", rows)
	case "question":
		q, ok := t.Bank.Question(set["id"])
		if !ok {
			return readyPart{}, fmt.Errorf("there is no question %q", set["id"])
		}
		asked, err := q.Ask(0)
		if err != nil {
			return readyPart{}, err
		}
		view, err := s.viewQuestion(t, asked, "/lessons/"+l.Slug)
		if err != nil {
			return readyPart{}, err
		}
		html, err := s.part("question", view)
		return readyPart{html: html, question: q.ID}, err
	}
	return readyPart{}, fmt.Errorf("nobody draws the piece %q", p.Block.Kind)
}

func (s *Server) drawn(name string, data any) (readyPart, error) {
	html, err := s.part(name, data)
	return readyPart{html: html}, err
}

// benchPart draws a demonstration as a lesson shows it, with a link to its page.
func (s *Server) benchPart(block *markdown.Block) (readyPart, error) {
	demo, err := s.bench.Demo(block.Settings["show"])
	if err != nil {
		return readyPart{}, err
	}
	given := map[string]string{}
	if with := block.Settings["with"]; with != "" {
		if given, err = lessons.Values(with); err != nil {
			return readyPart{}, err
		}
	}
	result, err := s.bench.Run(demo, given)
	if err != nil {
		return readyPart{}, err
	}
	html, err := s.drawBench(fmt.Sprintf("%s-%d", demo.Name, block.Line), result)
	if err != nil {
		return readyPart{}, err
	}
	address := url.Values{}
	for key, value := range given {
		address.Set(key, value)
	}
	return s.drawn("bench", struct {
		Demo    *bench.Demo
		Result  template.HTML
		Address string
	}{demo, html, "/bench/" + demo.Name + "?" + address.Encode()})
}

// timesPart draws the tables a lesson asks for, once plain and once for each
// altitude band.
func (s *Server) timesPart(set map[string]string) (readyPart, error) {
	table := s.course.Grader.Table()
	card, ok := table.Card(set["food"])
	if !ok {
		return readyPart{}, fmt.Errorf("there is no food %q", set["food"])
	}
	var jars []string
	if set["jar"] != "" {
		jars = strings.Split(set["jar"], ",")
	}
	method := set["method"]
	if method == "atmospheric-steam" {
		method = "boiling-water" // steam canners use the same rows
	}
	lines := slices.DeleteFunc(table.Lines(card.Food), func(l process.Line) bool {
		return l.Method != method || set["pack"] != "" && l.Pack != set["pack"] ||
			set["gauge"] != "" && l.Gauge != set["gauge"] || len(jars) > 0 && !slices.Contains(jars, l.Jar)
	})
	tables := tablesOf(card, lines)
	if len(tables) == 0 {
		return readyPart{}, fmt.Errorf("no row for %s", card.Food)
	}
	var bands []process.Band
	for _, t := range tables {
		for _, b := range t.Bands {
			bands = append(bands, b.Band)
		}
	}
	var part readyPart
	var err error
	if part.html, err = s.drawTables(tables); err != nil {
		return readyPart{}, err
	}
	for _, band := range process.SharedBands(bands) {
		html, err := s.drawTables(at(tables, measure.Altitude(band.FromFt)))
		if err != nil {
			return readyPart{}, err
		}
		part.marked = append(part.marked, markedTable{band, html})
	}
	return part, nil
}

func (s *Server) drawTables(tables []timesTable) (html template.HTML, err error) {
	for _, t := range tables {
		drawn, err := s.part("times", t)
		if err != nil {
			return "", err
		}
		html += drawn
	}
	return html, nil
}

type boilingRow struct{ Altitude, Boils string }

// boilingRows reads the printed boiling points from the lessons' figures.
func boilingRows() ([]boilingRow, error) {
	facts, err := lessons.Facts()
	if err != nil {
		return nil, err
	}
	var rows []boilingRow
	for _, f := range facts {
		if f.AltitudeFt == nil {
			continue
		}
		row := boilingRow{Altitude: "Sea level", Boils: f.Text()}
		if *f.AltitudeFt > 0 {
			row.Altitude = measure.Altitude(*f.AltitudeFt).Both()
		}
		rows = append(rows, row)
	}
	return rows, nil
}
