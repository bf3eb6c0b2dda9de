package rules

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strings"
)

// A place is a line and a column in a rule file, both from 1; columns count
// characters. Line 0 means the file as a whole.
type place struct {
	file      string
	line, col int
}

// A problem is one mistake in the rule files.
type problem struct {
	at      place
	subject string // "rule time-short", or "" for the file
	message string
}

// Error gives file:line:col: subject: message.
func (p problem) Error() string {
	var b strings.Builder
	b.WriteString(p.at.file + ":")
	if p.at.line > 0 {
		fmt.Fprintf(&b, "%d:%d:", p.at.line, p.at.col)
	}
	b.WriteByte(' ')
	if p.subject != "" {
		b.WriteString(p.subject + ": ")
	}
	b.WriteString(p.message)
	return b.String()
}

// joined gives all problems as one error, in the order of files and lines, or
// nil when there are none.
func joined(problems []problem) error {
	slices.SortStableFunc(problems, func(a, b problem) int {
		return cmp.Or(cmp.Compare(a.at.file, b.at.file), cmp.Compare(a.at.line, b.at.line), cmp.Compare(a.at.col, b.at.col))
	})
	errs := make([]error, len(problems))
	for i, p := range problems {
		errs[i] = p
	}
	return errors.Join(errs...)
}

// insteadOf ends a message about an unknown word: the nearest known one, or all
// of them when none is near.
func insteadOf(word string, known []string) string {
	if len(known) == 0 {
		return "; there are none"
	}
	best, distance := "", 1+max(2, len(word)/3)
	for _, k := range known {
		if d := edits(word, k); d < distance {
			best, distance = k, d
		}
	}
	if best != "" {
		return fmt.Sprintf("; the nearest is %q", best)
	}
	const most = 12
	if len(known) > most {
		return fmt.Sprintf("; there are %d, among them %s", len(known), strings.Join(known[:most], ", "))
	}
	return "; there are " + strings.Join(known, ", ")
}

// edits counts the letters to put in, take out or change to get from a to b.
func edits(a, b string) int {
	from, to := []rune(a), []rune(b)
	row := make([]int, len(to)+1)
	for j := range row {
		row[j] = j
	}
	for i, letter := range from {
		diagonal := row[0]
		row[0] = i + 1
		for j, other := range to {
			change := diagonal
			if letter != other {
				change++
			}
			diagonal = row[j+1]
			row[j+1] = min(change, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(to)]
}
