package markdown

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios/measure"
)

// Problem is one thing wrong in a content file, with the line a writer has to
// look at.
type Problem struct {
	File    string
	Line    int // from 1; 0 when the whole file is meant
	Message string
}

func (p Problem) Error() string {
	if p.Line == 0 {
		return p.File + ": " + p.Message
	}
	return fmt.Sprintf("%s:%d: %s", p.File, p.Line, p.Message)
}

// Problems collects everything wrong in one or more files, so that a writer
// sees all of it at once.
type Problems []Problem

// Add notes one problem.
func (p *Problems) Add(file string, line int, format string, args ...any) {
	*p = append(*p, Problem{File: file, Line: line, Message: fmt.Sprintf(format, args...)})
}

// Err returns the problems sorted by file and line, each once, or nil if there
// are none.
func (p Problems) Err() error {
	if len(p) == 0 {
		return nil
	}
	sorted := slices.Clone(p)
	slices.SortStableFunc(sorted, func(a, b Problem) int {
		return cmp.Or(cmp.Compare(a.File, b.File), cmp.Compare(a.Line, b.Line))
	})
	return slices.Compact(sorted)
}

func (p Problems) Error() string {
	lines := make([]string, len(p))
	for i, problem := range p {
		lines[i] = problem.Error()
	}
	return strings.Join(lines, "\n")
}

// DidYouMean is the end of a message about an unknown word: the nearest right
// word, or the whole list when none is near.
func DidYouMean(word string, words []string) string {
	if near := measure.Nearest(word, words); near != "" {
		return fmt.Sprintf("did you mean %q?", near)
	}
	return "use one of: " + strings.Join(words, ", ")
}
