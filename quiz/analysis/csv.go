package analysis

import (
	"bufio"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"unicode"
)

// ReadCSV reads a table; the package comment has the format. The key is nil for a
// table of marks. file is the name that errors begin with, as file:line:column: what
// is wrong, what is allowed. Learners with an empty cell are counted in LeftOut and
// not kept.
func ReadCSV(r io.Reader, file string, key []Answer) (Table, error) {
	s := sheet{file: file, key: key, csv: csv.NewReader(withoutMark(r))}
	s.csv.FieldsPerRecord = -1 // lengths are checked here, with a message that says what to do
	s.csv.ReuseRecord = true
	for learners := 0; ; {
		record, err := s.csv.Read()
		if errors.Is(err, io.EOF) {
			return s.table()
		}
		if err != nil {
			return Table{}, s.unreadable(err)
		}
		if s.width == 0 {
			if err := s.begin(record); err != nil {
				return Table{}, err
			}
			if s.header != nil {
				continue
			}
		}
		if learners++; learners > MaxLearners {
			return Table{}, s.wrong(0, "more than %d learners; analyze fewer at a time", MaxLearners)
		}
		if err := s.row(record); err != nil {
			return Table{}, err
		}
	}
}

// withoutMark passes over the byte order mark that spreadsheets write first.
func withoutMark(r io.Reader) io.Reader {
	b := bufio.NewReader(r)
	if start, err := b.Peek(3); err == nil && string(start) == "\ufeff" {
		_, _ = b.Discard(3) // they have just been read
	}
	return b
}

// sheet is a table while it is read. Whether its first column holds ids is known only
// at the end, so until then that column stays in the rows.
type sheet struct {
	file string
	key  []Answer
	csv  *csv.Reader

	width   int      // cells of each row
	header  []string // nil if there is none
	ids     bool     // the key says that the first column holds ids
	rows    [][]Answer
	leftOut int

	firstAnswer string // what makes the first column an item, with its line; "" if nothing does
	notAnswer   error  // the first cell of the first column that is no answer, if that is an item
}

// wrong is an error at a cell of the row just read.
func (s *sheet) wrong(cell int, format string, args ...any) error {
	line, column := s.csv.FieldPos(cell)
	return fmt.Errorf("%s:%d:%d: %s", s.file, line, column, fmt.Sprintf(format, args...))
}

func (s *sheet) unreadable(err error) error {
	var parse *csv.ParseError
	if errors.As(err, &parse) {
		return fmt.Errorf("%s:%d:%d: %w; a cell with quotes in it needs quotes around it, and each of its own twice", s.file, parse.Line, parse.Column, parse.Err)
	}
	return fmt.Errorf("%s: %w", s.file, err)
}

// begin learns from the first row how wide the table is, and whether that row is a
// header.
func (s *sheet) begin(record []string) error {
	s.width = len(record)
	switch {
	case s.width > MaxItems+1:
		return s.wrong(0, "%d columns; at most %d items and the learners' ids are allowed", s.width, MaxItems)
	case s.key != nil && s.width != len(s.key) && s.width != len(s.key)+1:
		return s.wrong(0, "%d columns, but the key has %d right answers; give one for each item", s.width, len(s.key))
	}
	s.ids = s.key != nil && s.width == len(s.key)+1
	if slices.ContainsFunc(record, func(text string) bool { _, ok := s.answer(text); return ok }) {
		return nil
	}
	s.header = make([]string, s.width)
	for i, text := range record {
		s.header[i] = oneLine(text)
	}
	return nil
}

// oneLine keeps what can be printed on one line.
func oneLine(text string) string {
	text = strings.Join(strings.Fields(text), " ")
	return strings.Map(func(r rune) rune {
		if !unicode.IsPrint(r) {
			return -1
		}
		return r
	}, text)
}

// answer reads a cell that may be an answer to some item.
func (s *sheet) answer(text string) (Answer, bool) {
	a, err := ParseAnswer(text)
	if err != nil || a == None {
		return None, false
	}
	if s.key == nil {
		return a, a == Wrong || a == Right
	}
	return a, slices.ContainsFunc(s.key, func(right Answer) bool { return right.letter() == a.letter() })
}

// fits reports whether an answer may stand in a column.
func (s *sheet) fits(column int, a Answer) bool {
	right := s.right(column)
	return right == None || right.letter() == a.letter()
}

// right is the key of a column, None if it has none.
func (s *sheet) right(column int) Answer {
	if s.ids {
		column--
	}
	if s.key == nil || column < 0 {
		return None
	}
	return s.key[column]
}

// row keeps the answers of one learner.
func (s *sheet) row(record []string) error {
	if len(record) != s.width {
		return s.wrong(0, "%d cells, but the first row has %d; leave a cell empty where there is no answer", len(record), s.width)
	}
	row, missing := make([]Answer, s.width), false
	for i, text := range record {
		a, ok := s.answer(text)
		ok = ok && s.fits(i, a)
		switch {
		case i == 0:
			if err := s.first(text, ok); err != nil {
				return err
			}
		case ok:
		case strings.TrimSpace(text) == "":
			missing = true
		default:
			return s.notAllowed(i, text)
		}
		if ok {
			row[i] = a
		}
	}
	if missing {
		s.leftOut++
		return nil
	}
	s.rows = append(s.rows, row)
	return nil
}

// first notes what the first cell of a row says about the first column.
func (s *sheet) first(text string, ok bool) error {
	switch {
	case ok && s.ids:
		return s.wrong(0, "%.40q is an answer, so the first column is an item, and there are %d items; but the key has %d right answers. Give one for each item, or ids that are no answers, such as learner-1", text, s.width, len(s.key))
	case ok && s.firstAnswer == "":
		line, _ := s.csv.FieldPos(0)
		s.firstAnswer = fmt.Sprintf("%.40q on line %d", strings.TrimSpace(text), line)
	case !ok && !s.ids && strings.TrimSpace(text) != "" && s.notAnswer == nil:
		s.notAnswer = s.notAllowed(0, text)
	}
	return nil
}

func (s *sheet) notAllowed(cell int, text string) error {
	name := ""
	if s.header != nil && s.header[cell] != "" {
		name = fmt.Sprintf(" (%.40s)", s.header[cell])
	}
	allowed := "write 0 or 1, or leave it empty; for options that were chosen give the key"
	switch right := s.right(cell); {
	case right.letter():
		allowed = fmt.Sprintf("write a letter A to Z, as the key %s is one, or leave it empty", right)
	case right != None:
		allowed = fmt.Sprintf("write a whole number 0 to 99, as the key %s is one, or leave it empty", right)
	}
	return s.wrong(cell, "column %d%s: %.40q is not an answer; %s", cell+1, name, text, allowed)
}

// table is what was read, once all of it was.
func (s *sheet) table() (Table, error) {
	if len(s.rows)+s.leftOut == 0 {
		return Table{}, fmt.Errorf("%s: no row with answers; write a row for each learner, a column for each item", s.file)
	}
	ids := s.firstAnswer == ""
	switch {
	case ids && s.key != nil && !s.ids:
		return Table{}, fmt.Errorf("%s: no row has an answer in the first column, so it holds the learners' ids, and there are %d items; but the key has %d right answers. Give one for each item", s.file, s.width-1, len(s.key))
	case ids && s.width == 1:
		return Table{}, fmt.Errorf("%s: only learners' ids, no answers; without a key an answer is 0 or 1", s.file)
	case !ids && s.notAnswer != nil:
		return Table{}, fmt.Errorf("%w. If this column holds the learners' ids: %s is an answer, so it was taken for an item; use ids that are no answers, such as learner-1", s.notAnswer, s.firstAnswer)
	case !ids && s.width > MaxItems:
		return Table{}, fmt.Errorf("%s: %d items; at most %d are allowed", s.file, s.width, MaxItems)
	}
	t := Table{Rows: s.rows, LeftOut: s.leftOut, Key: s.key}
	begin := 0
	if ids {
		begin = 1
		for i := range t.Rows {
			t.Rows[i] = t.Rows[i][1:]
		}
	} else {
		t.Rows = slices.DeleteFunc(t.Rows, func(row []Answer) bool { return row[0] == None })
		t.LeftOut += len(s.rows) - len(t.Rows)
	}
	for i := begin; i < s.width; i++ {
		name := strconv.Itoa(i - begin + 1)
		if s.header != nil && s.header[i] != "" {
			name = s.header[i]
		}
		t.Items = append(t.Items, name)
	}
	return t, nil
}
