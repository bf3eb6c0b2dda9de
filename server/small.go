package server

import (
	"slices"
	"strconv"
)

// Small counts give people away: "one of you had it wrong" is about somebody whom the
// class may know. What a class sees of itself therefore keeps the rules that schools
// use for published counts: a smallest group, no cell of one or two, and no cell that
// the others give away by subtraction (NCES, Statistical Methods for Protecting
// Personally Identifiable Information in Aggregate Reporting, SLDS Technical Brief 3,
// NCES 2011-603). The limits are within the range that the brief reports; which of them
// we take is our choice.
const (
	fewestLearners = 10 // of whom a count is shown at all; most US states take this
	smallCell      = 2  // the largest count that is hidden
)

// What stands in place of a count.
const (
	hiddenCount = "not shown"
	fewCount    = "2 at most"
	mostCount   = "all but 2 at most"
)

// publish writes the counts of one row, into which each learner of a class falls once,
// as they may be shown beside the number of learners. It gives nil for a class in which
// nothing may be shown. Rows of one page must not be added up anywhere: the function
// knows of no other margin than the row's own.
//
//   - A row in which all learners but two, or more, fall into one cell says just that:
//     also "all" and "none" tell something of everybody.
//   - A row with a cell of one or two shows none of its counts. To hide that cell and one
//     other would do against subtraction, but not against somebody who knows how the
//     other is chosen: of 2, 4, 4 it would be plain which cell was hidden with which.
func publish(counts []int) []string {
	learners := 0
	for _, n := range counts {
		learners += n
	}
	if learners < fewestLearners {
		return nil
	}
	shown := make([]string, len(counts))
	if most := slices.Index(counts, slices.Max(counts)); counts[most] >= learners-smallCell {
		for i := range shown {
			shown[i] = fewCount
		}
		shown[most] = mostCount
		return shown
	}
	small := slices.ContainsFunc(counts, func(n int) bool { return 0 < n && n <= smallCell })
	for i, n := range counts {
		shown[i] = strconv.Itoa(n)
		if small {
			shown[i] = hiddenCount
		}
	}
	return shown
}
