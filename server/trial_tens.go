package server

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// What a class sees of its students' loads in a trial. A count of few is about somebody,
// and so is the difference between two looks at a count, when one load was linked or
// deleted in between. To show the state of last midnight would not help: one load a day is
// linked as well as one an hour. A sum that grows by several students would not help
// either: of the three that came last, one or all may have had the jar that did not seal.
//
// Therefore students are told of in tens. The first ten students whose loads are linked to
// a way are a ten, the next ten are another, and so on; what is over waits. Of each ten the
// page tells how many students had such a jar, by the rules of [publish]: each student falls
// once into a row, and the row is all that is ever told of these ten.
//
//   - Nothing adds tens to each other or to the instructor's own loads, so there is nothing
//     to subtract.
//   - A ten is told whole and as it was, or not at all: a look differs from another by tens.
//     It is made by the order of the workbook, from records that are accepted, which nobody
//     can change. Is a load of it taken out or deleted, the ten is told of no more.
//   - No load is in two tens of a trial, and no student in two tens of a way, also when one
//     of them is told of no more: tens that share nine students would tell of the tenth.
//   - Who deletes everything leaves a load in the workbook that is nobody's. Which tens were
//     made from there on cannot be known any more, so none is told.

// ten are the loads of ten students that were cooked in one way, one load of each.
type ten struct {
	way   int
	loads []store.TrialEntry
}

// tens goes through the workbook as it was written and gives the tens, the first first.
func (w *trialWork) tens() []ten {
	var tens []ten
	waiting := map[int][]store.TrialEntry{} // by way: linked loads that are in no ten yet
	students := map[int]people{}            // by way: who is in a ten
	batches := map[string]bool{}            // that are in a ten
	for _, e := range w.Entries {
		for way := range waiting {
			waiting[way] = slices.DeleteFunc(waiting[way], func(before store.TrialEntry) bool { return before.N == e.Replaces })
		}
		if e.Kind != store.LinkedEntry || batches[e.Batch] || students[e.Variant][w.Records[e.Batch].Student] {
			continue
		}
		waiting[e.Variant] = append(waiting[e.Variant], e)
		next, of, deleted := ten{way: e.Variant}, people{}, false
		for _, load := range waiting[e.Variant] {
			record, known := w.Records[load.Batch]
			if !of[record.Student] || !known { // a deleted load may have been of a student more
				next.loads = append(next.loads, load)
			}
			of[record.Student], deleted = true, deleted || !known
		}
		switch {
		case len(next.loads) < fewestLearners:
			continue
		case deleted:
			return w.whole(tens)
		}
		for _, load := range next.loads {
			batches[load.Batch] = true
		}
		if students[e.Variant] == nil {
			students[e.Variant] = people{}
		}
		maps.Copy(students[e.Variant], of)
		delete(waiting, e.Variant)
		tens = append(tens, next)
	}
	return w.whole(tens)
}

// whole leaves those out of which a load was taken out since.
func (w *trialWork) whole(tens []ten) []ten {
	return slices.DeleteFunc(tens, func(t ten) bool {
		return slices.ContainsFunc(t.loads, func(load store.TrialEntry) bool { return w.entry(load.N) == nil })
	})
}

// forClass leaves the loads of students out, but for tens, and for these as well while one
// of the ways that are compared has loads of students and no ten: then what is told would
// be held against somebody.
func (w *trialWork) forClass() {
	tens := map[int][]ten{}
	for _, t := range w.tens() {
		if w.variant(t.way) != nil {
			tens[t.way] = append(tens[t.way], t)
		}
	}
	w.Few = slices.ContainsFunc(w.Entries, func(e store.TrialEntry) bool {
		return e.Kind == store.LinkedEntry && w.entry(e.N) != nil && w.variant(e.Variant) != nil && len(tens[e.Variant]) == 0
	})
	if !w.Few {
		w.Tens = tens
	}
	w.Entries = slices.DeleteFunc(slices.Clone(w.Entries), func(e store.TrialEntry) bool { return e.Kind == store.LinkedEntry })
}

// ofStudents says whether the class is told of loads of students, or that they are left out.
func (w *trialWork) ofStudents() bool { return w.Few || len(w.Tens) > 0 }

// tenSeen is what the class is told of a ten: each row as [publish] writes it.
type tenSeen struct {
	Off                    []string // load not as tested, as tested
	Unsealed, Lost, Watery []string // had such a jar, had none, did not say
}

// seenOf counts the students of a ten.
func (s *Server) seenOf(w *trialWork, t ten) (tenSeen, error) {
	off := make([]int, 2)
	unsealed, lost, watery := make([]int, 3), make([]int, 3), make([]int, 3)
	for _, e := range t.loads {
		load, _, _, err := s.loadOf(w, e)
		if err != nil {
			return tenSeen{}, err
		}
		// The answer of the day it was sent in: that of today could change, for one of them.
		var report scenarios.Report
		if err := json.Unmarshal(w.Records[e.Batch].Report, &report); err != nil {
			return tenSeen{}, fmt.Errorf("read the report on a batch: %w", err)
		}
		off[truth(report.Verdict == scenarios.AsTested)]++
		var sums trialSums
		sums.add(load)
		for _, about := range []struct {
			row     []int
			k, said int
		}{{unsealed, sums.Unsealed, sums.Sealed}, {lost, sums.Lost, sums.LiquidSaid}, {watery, sums.Watery, sums.WaterSaid}} {
			switch {
			case about.k > 0:
				about.row[0]++
			case about.said > 0:
				about.row[1]++
			default:
				about.row[2]++
			}
		}
	}
	return tenSeen{publish(off), publish(unsealed), publish(lost), publish(watery)}, nil
}

// tenText is a row of a ten in words. It is made of what may be shown, and of nothing else.
func tenText(row []string) string {
	switch {
	case row[0] == hiddenCount:
		return hiddenCount
	case len(row) > 2 && row[2] == mostCount:
		return notSaid
	case len(row) == 2, row[2] == "0":
		return fmt.Sprintf("%s of %d", row[0], fewestLearners)
	}
	return fmt.Sprintf("%s of %d, not said of %s", row[0], fewestLearners, row[2])
}

// tensCell tells a row of all tens of a way, each by itself.
func tensCell(rows [][]string) trialCell {
	var texts []string
	for _, row := range rows {
		texts = append(texts, tenText(row))
	}
	if !slices.ContainsFunc(texts, func(text string) bool { return text != notSaid }) {
		return trialCell{Text: notSaid}
	}
	cell := trialCell{Text: strings.Join(texts, "; ")}
	if k, n := tensCounted(rows); n > 0 {
		cell.Small = "likely " + rangeText(k, n)
	}
	return cell
}

// tensCounted adds up the students of all tens that had such a jar, and those that said
// whether they had. It gives 0 of 0 unless every one of these counts is shown.
func tensCounted(rows [][]string) (k, n int) {
	for _, row := range rows {
		had, err := strconv.Atoi(row[0])
		none, err2 := strconv.Atoi(row[1])
		if err != nil || err2 != nil {
			return 0, 0
		}
		k, n = k+had, n+had+none
	}
	return k, n
}

// tensRows are the rows about students, none where no way has a ten.
func tensRows(sides []trialSide) []trialRow {
	if !slices.ContainsFunc(sides, func(t trialSide) bool { return len(t.tens) > 0 }) {
		return nil
	}
	students := trialRow{Label: "Students, in tens"}
	for _, side := range sides {
		texts := []string{"none"}
		for i := range side.tens {
			texts = append(texts[:i], strconv.Itoa(fewestLearners))
		}
		students.Cells = append(students.Cells, trialCell{Text: strings.Join(texts, "; ")})
	}
	rows := []trialRow{students}
	for _, about := range []struct {
		label string
		of    func(tenSeen) []string
	}{
		{"Load not cooked as tested", func(t tenSeen) []string { return t.Off }},
		{"Had a jar that did not seal", func(t tenSeen) []string { return t.Unsealed }},
		{"Had a jar that lost liquid", func(t tenSeen) []string { return t.Lost }},
		{"Had a jar with a watery layer", func(t tenSeen) []string { return t.Watery }},
	} {
		row := trialRow{Label: about.label}
		for _, side := range sides {
			row.Cells = append(row.Cells, tensCell(each(side.tens, about.of)))
		}
		rows = append(rows, row)
	}
	return rows
}

func each(tens []tenSeen, of func(tenSeen) []string) [][]string {
	var rows [][]string
	for _, t := range tens {
		rows = append(rows, of(t))
	}
	return rows
}

// tensCompared holds the tens of two ways against each other, where their counts are shown.
// Students are counted, not jars, so nothing is said of how many jars would tell.
func tensCompared(a, b trialSide) []comparison {
	var list []comparison
	for _, about := range []struct {
		did string
		of  func(tenSeen) []string
	}{
		{"students had a jar that did not seal", func(t tenSeen) []string { return t.Unsealed }},
		{"students had a jar that lost liquid", func(t tenSeen) []string { return t.Lost }},
		{"students had a jar with a watery layer", func(t tenSeen) []string { return t.Watery }},
	} {
		var first, second counted
		first.K, first.N = tensCounted(each(a.tens, about.of))
		second.K, second.N = tensCounted(each(b.tens, about.of))
		if first.N > 0 && second.N > 0 {
			list = append(list, comparison{Says: compareJars(about.did, first, second).Says})
		}
	}
	return list
}
