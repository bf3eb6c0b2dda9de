package server

import (
	"bytes"
	"fmt"
	"strconv"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/xuri/excelize/v2"

	"rollingboil/quiz/exchange"
	"rollingboil/scenarios/rules"
)

// Results leave the page as tables that any spreadsheet opens, and as statements for a
// learning record store. Tables name the learners; statements only their random numbers.

// classAnswersFile has a row for each answer given in the period.
func (s *Server) classAnswersFile(c *gin.Context) error {
	_, p, upTo, err := s.inPeriod(c)
	if err != nil {
		return err
	}
	return s.tableFile(c, "answers.csv", upTo.since(p.From).answerTable())
}

// classShownFile has a row for each learner and competency, as of the end of the period.
func (s *Server) classShownFile(c *gin.Context) error {
	_, _, upTo, err := s.inPeriod(c)
	if err != nil {
		return err
	}
	return s.tableFile(c, "competencies.csv", upTo.shownTable())
}

func (s *Server) tableFile(c *gin.Context, name string, rows [][]string) error {
	var out bytes.Buffer
	if err := exchange.WriteRows(&out, rows); err != nil {
		return fmt.Errorf("write %s: %w", name, err)
	}
	return s.download(c, name, "text/csv; charset=utf-8", out.Bytes())
}

func (w classWork) answerTable() [][]string {
	names := map[string]string{}
	for _, m := range w.members {
		names[m.Visitor] = m.Name
	}
	answers := make([]exchange.Answer, len(w.answers))
	for i, a := range w.answers {
		answers[i] = exchange.Answer{
			Learner: names[a.Visitor], Question: a.Question, Seed: a.Seed, Lesson: a.Lesson, Sitting: a.Sitting,
			Given: a.Given, Right: a.Right, Misconceptions: w.course.wrongBeliefs(a), At: a.At,
		}
	}
	return exchange.AnswerRows(answers)
}

func (w classWork) shownTable() [][]string {
	rows := [][]string{{"learner", "competency", "so far", "days", "wordings"}}
	for i, shown := range w.shownBy(rules.Competencies()) {
		for _, of := range shown {
			says := "not shown yet"
			if of.Enough() {
				says = "shown right"
			}
			rows = append(rows, []string{w.members[i].Name, of.Competency, says, strconv.Itoa(of.Days), strconv.Itoa(of.Wordings)})
		}
	}
	return rows
}

// beliefTable has a row for each belief that was met.
func (s *Server) beliefTable(w classWork) ([][]string, error) {
	met, err := s.beliefsOf(w)
	if err != nil {
		return nil, err
	}
	rows := [][]string{{"misconception", "belief", "lesson", "met by", "of", "in answers", "in plans", "in scenarios"}}
	active := strconv.Itoa(len(w.active()))
	for _, id := range met.all.byMost() {
		if m, ok := s.course.Grader.Rules().Misconception(id); ok {
			rows = append(rows, []string{
				id, m.Belief, m.Lesson, strconv.Itoa(len(met.all[id])), active,
				strconv.Itoa(len(met.inAnswers[id])), strconv.Itoa(len(met.inPlans[id])), strconv.Itoa(len(met.inScenarios[id])),
			})
		}
	}
	return rows, nil
}

// questionTable has a row for each question that was answered for the first time after a
// time.
func (s *Server) questionTable(w classWork, from time.Time) ([][]string, error) {
	stats, err := s.questionsOf(w, from)
	if err != nil {
		return nil, err
	}
	rows := [][]string{{"question", "lesson", "right at first", "of", "low 95 %", "high 95 %", "r with rest"}}
	for _, stat := range stats.List {
		r := ""
		if stat.Item != nil && stat.Item.RExcl != nil {
			r = decimals(*stat.Item.RExcl)
		}
		rows = append(rows, []string{stat.Question.ID, stat.Question.Lesson, strconv.Itoa(stat.Right), strconv.Itoa(stat.Of), decimals(stat.Low), decimals(stat.High), r})
	}
	return rows, nil
}

func decimals(x float64) string { return strconv.FormatFloat(x, 'f', 4, 64) }

// figures are the columns of the workbook that hold numbers, by their heading.
var figures = map[string]bool{
	"right": true, "seconds": true, "days": true, "wordings": true, "met by": true, "of": true, "in answers": true, "in plans": true, "in scenarios": true,
	"right at first": true, "low 95 %": true, "high 95 %": true, "r with rest": true,
}

// workbookFile has all tables as sheets of one workbook (ECMA-376).
func (s *Server) workbookFile(c *gin.Context) error {
	_, p, upTo, err := s.inPeriod(c)
	if err != nil {
		return err
	}
	in := upTo.since(p.From)
	believed, err := s.beliefTable(in)
	if err != nil {
		return err
	}
	asked, err := s.questionTable(upTo, p.From)
	if err != nil {
		return err
	}
	book, err := workbook([]sheet{{"Competencies", upTo.shownTable()}, {"Misconceptions", believed}, {"Questions", asked}, {"Answers", in.answerTable()}})
	if err != nil {
		return fmt.Errorf("write the workbook: %w", err)
	}
	return s.download(c, "results.xlsx", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", book)
}

type sheet struct {
	name string
	rows [][]string
}

// workbook writes sheets with their first rows kept in sight. A text is a text, whatever
// it begins with; it is made safe all the same, since somebody may save it as CSV.
func workbook(sheets []sheet) (file []byte, err error) {
	book := excelize.NewFile()
	defer func() {
		if closing := book.Close(); err == nil {
			err = closing
		}
	}()
	for i, sheet := range sheets {
		if i == 0 {
			err = book.SetSheetName("Sheet1", sheet.name)
		} else {
			_, err = book.NewSheet(sheet.name)
		}
		if err != nil {
			return nil, err
		}
		if err := fill(book, sheet); err != nil {
			return nil, err
		}
	}
	var out bytes.Buffer
	if err := book.Write(&out); err != nil {
		return nil, err
	}
	return out.Bytes(), nil
}

func fill(book *excelize.File, sheet sheet) error {
	stream, err := book.NewStreamWriter(sheet.name)
	if err != nil {
		return err
	}
	if err := stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"}); err != nil {
		return err
	}
	if err := stream.SetColWidth(1, 2, 24); err != nil {
		return err
	}
	for i, row := range sheet.rows {
		cells := make([]any, len(row))
		for j, text := range row {
			cells[j] = exchange.SafeCell(text)
			if number, err := strconv.ParseFloat(text, 64); err == nil && figures[sheet.rows[0][j]] {
				cells[j] = number
			}
		}
		if err := stream.SetRow("A"+strconv.Itoa(i+1), cells); err != nil {
			return err
		}
	}
	return stream.Flush()
}

// classStatementsFile is all that the class did as xAPI statements. A record store keeps
// each statement once, so it is never given by the week.
func (s *Server) classStatementsFile(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	var done workDone
	if done.course, err = s.taughtIn(ctx, class.ID); err != nil {
		return err
	}
	if done.answers, err = s.store.ClassAnswers(ctx, class.ID, time.Time{}); err != nil {
		return err
	}
	if done.sittings, err = s.store.ClassSittings(ctx, class.ID); err != nil {
		return err
	}
	if done.attempts, err = s.store.ClassAttempts(ctx, class.ID, time.Time{}); err != nil {
		return err
	}
	lines, err := s.statements(c.Request, done)
	if err != nil {
		return err
	}
	return s.download(c, "statements.jsonl", "application/jsonl; charset=utf-8", lines)
}
