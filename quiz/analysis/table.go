package analysis

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
)

// What a table may hold at most.
const (
	MaxLearners = 100_000
	MaxItems    = 1_000
)

// Answer is one cell of a table: a letter A to Z, a whole number 0 to 99, or None.
type Answer uint8

// Nobody answered, and the two marks.
const (
	None  Answer = 0
	Wrong Answer = firstNumber     // 0
	Right Answer = firstNumber + 1 // 1
)

const (
	firstLetter = 1
	firstNumber = firstLetter + 26
	answers     = firstNumber + 100 // how many there are, with None
)

// ParseAnswer reads an answer: one letter in either case, or a whole number 0 to 99,
// with or without spaces around it. An empty text is None.
func ParseAnswer(text string) (Answer, error) {
	text = strings.TrimSpace(text)
	if text == "" {
		return None, nil
	}
	if len(text) == 1 {
		if c := text[0] | 0x20; 'a' <= c && c <= 'z' { // 0x20 makes a small letter of a capital
			return firstLetter + Answer(c-'a'), nil
		}
	}
	if n, err := strconv.ParseUint(text, 10, 8); err == nil && n < 100 {
		return firstNumber + Answer(n), nil
	}
	return None, fmt.Errorf("%.40q is not an answer; write a letter A to Z or a whole number 0 to 99", text)
}

// String gives the letter or the number, "" for None.
func (a Answer) String() string {
	switch {
	case a == None:
		return ""
	case a < firstNumber:
		return string(rune('A' + a - firstLetter))
	}
	return strconv.Itoa(int(a - firstNumber))
}

// letter reports whether an answer is a letter.
func (a Answer) letter() bool { return firstLetter <= a && a < firstNumber }

// ParseKey reads the right answers, parted by commas, such as "B,A,D".
func ParseKey(text string) ([]Answer, error) {
	var key []Answer
	for i, part := range strings.Split(text, ",") {
		a, err := ParseAnswer(part)
		if err != nil {
			return nil, fmt.Errorf("right answer %d: %w", i+1, err)
		}
		if a == None {
			return nil, fmt.Errorf("right answer %d is empty; write one for each item, parted by commas, such as B,A,D", i+1)
		}
		key = append(key, a)
	}
	return key, nil
}

// Table is what a class answered.
type Table struct {
	// Items are the names of the items, one for each column.
	Items []string
	// Rows has the answers of a learner in each row.
	Rows [][]Answer
	// LeftOut is how many learners were left out before, because an answer of theirs
	// was missing. Rows that have None are left out too.
	LeftOut int
	// Key is the right answer to each item. It is nil for a table of marks.
	Key []Answer
	// Offered lists the options of each item, if that is known. If it is nil, an item
	// whose key is a letter is taken to offer every letter that anybody chose or the
	// key names, in any item, and one whose key is a number every such number.
	Offered [][]Answer
	// Group is how large a share of the learners the upper and the lower group are,
	// up to 0.5. 0 stands for 0.27. Halves, 0.5, use all answers of a small class.
	Group float64
}

// check looks over everything but the rows.
func (t Table) check() error {
	switch {
	case len(t.Items) == 0:
		return errors.New("the table has no items")
	case len(t.Items) > MaxItems:
		return fmt.Errorf("the table has %d items; at most %d can be analyzed", len(t.Items), MaxItems)
	case len(t.Rows) > MaxLearners:
		return fmt.Errorf("the table has %d learners; at most %d can be analyzed", len(t.Rows), MaxLearners)
	case t.LeftOut < 0:
		return fmt.Errorf("%d learners were left out; write 0 or more", t.LeftOut)
	case t.Key != nil && len(t.Key) != len(t.Items):
		return fmt.Errorf("the key has %d right answers, but the table has %d items", len(t.Key), len(t.Items))
	case t.Offered != nil && (t.Key == nil || len(t.Offered) != len(t.Items)):
		return fmt.Errorf("options are listed for %d items of %d; list those of each item, with a key", len(t.Offered), len(t.Items))
	case t.Group != 0 && !(t.Group > 0 && t.Group <= 0.5):
		return fmt.Errorf("group is %v; write a share of the learners above 0, and 0.5 at most", t.Group)
	}
	for j, a := range t.Key {
		if a == None || a >= answers {
			return fmt.Errorf("item %q has no right answer in the key", t.Items[j])
		}
	}
	return nil
}

// choices is which answers an item may have.
type choices [answers]bool

// choices gives those of each item.
func (t Table) choices() ([]choices, error) {
	all := make([]choices, len(t.Items))
	for j := range all {
		switch {
		case t.Key == nil:
			all[j][Wrong], all[j][Right] = true, true
		case t.Offered == nil:
			for a := range all[j] {
				all[j][a] = Answer(a) != None && Answer(a).letter() == t.Key[j].letter()
			}
		default:
			for _, a := range t.Offered[j] {
				if a == None || a >= answers {
					return nil, fmt.Errorf("item %q offers an option that is no letter or number", t.Items[j])
				}
				all[j][a] = true
			}
			if !all[j][t.Key[j]] {
				return nil, fmt.Errorf("item %q does not offer %s, its right answer", t.Items[j], t.Key[j])
			}
		}
	}
	return all, nil
}

// complete gives the rows without an empty cell, and how many others there are.
func (t Table) complete(all []choices) (rows [][]Answer, leftOut int, err error) {
	rows = make([][]Answer, 0, len(t.Rows))
	for i, row := range t.Rows {
		if len(row) != len(t.Items) {
			return nil, 0, fmt.Errorf("learner %d has %d answers, but the table has %d items", i+1, len(row), len(t.Items))
		}
		missing := false
		for j, a := range row {
			if a == None {
				missing = true
			} else if a >= answers || !all[j][a] {
				return nil, 0, fmt.Errorf("learner %d answered %q to item %q, which does not offer it", i+1, a, t.Items[j])
			}
		}
		if !missing {
			rows = append(rows, row)
		}
	}
	return rows, len(t.Rows) - len(rows), nil
}
