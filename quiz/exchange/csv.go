package exchange

import (
	"encoding/csv"
	"io"
	"strconv"
	"strings"
)

// WriteCSV writes a row for each question, after a header; the package comment has
// the columns.
func WriteCSV(w io.Writer, set Set) error {
	out := csv.NewWriter(w)
	writeRow(out, "id", "seed", "lesson", "competencies", "kind", "stem", "key", "wrong", "why", "source", "page")
	for _, q := range set.Questions {
		stem := line(q.Stem)
		if q.Picture != nil {
			stem += "\nPicture: " + line(q.Picture.Says)
		}
		var wrong []string
		for _, o := range q.wrongAnswers() {
			wrong = append(wrong, line(o.Text)+" ["+o.Misconception+"]")
		}
		writeRow(out, q.ID, strconv.FormatUint(q.Seed, 10), q.Lesson, strings.Join(q.Competencies, " "), q.Kind,
			stem, q.key(), strings.Join(wrong, "\n"), line(q.Why), strings.Join(q.Sources, " "), line(q.Page))
	}
	out.Flush()
	return out.Error()
}

// WriteRows writes a table as CSV, in cells that no spreadsheet takes for a formula.
func WriteRows(w io.Writer, rows [][]string) error {
	out := csv.NewWriter(w)
	for _, row := range rows {
		writeRow(out, row...)
	}
	out.Flush()
	return out.Error()
}

// writeRow writes cells that no spreadsheet takes for a formula. Errors stay in the
// writer until it is flushed.
func writeRow(w *csv.Writer, cells ...string) {
	safe := make([]string, len(cells))
	for i, cell := range cells {
		safe[i] = SafeCell(cell)
	}
	_ = w.Write(safe)
}

// SafeCell puts an apostrophe before a cell that a spreadsheet might run: one that
// begins with = + - @, a tab or a carriage return (OWASP, CSV Injection).
func SafeCell(cell string) string {
	if cell != "" && strings.ContainsRune("=+-@\t\r", rune(cell[0])) {
		return "'" + cell
	}
	return cell
}
