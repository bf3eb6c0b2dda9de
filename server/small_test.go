package server

import (
	"fmt"
	"slices"
	"strings"
	"testing"
)

// TestPublishedCases are worked by hand from the rules of NCES 2011-603 (SLDS Technical
// Brief 3): the smallest group, the hidden cell, and that no other cell gives it away.
func TestPublishedCases(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		counts []int
		want   string
	}{
		{[]int{9, 1, 2}, "not shown, not shown, not shown"},
		{[]int{8, 1, 6}, "not shown, not shown, not shown"},          // 15 - 8 - 6 would be the 1
		{[]int{12, 0, 0}, "all but 2 at most, 2 at most, 2 at most"}, // "all of them" is about each of them
		{[]int{5, 4}, ""}, // nine learners
		{[]int{7, 3}, "7, 3"},
		{[]int{8, 2}, "all but 2 at most, 2 at most"},
		{[]int{5, 0, 7}, "5, 0, 7"}, // a nobody that is about nobody in particular
	} {
		if got := strings.Join(publish(c.counts), ", "); got != c.want {
			t.Errorf("publish(%v) = %q, want %q", c.counts, got, c.want)
		}
	}
}

// TestNothingHiddenCanBeWorkedOut searches all small tables. The attacker knows every
// cell that is shown, the number of learners, and how publish works: whatever other
// table would look the same is what remains possible. Each cell that is not shown must
// have at least two values left; and for an attacker who does not know how publish
// works, at least three.
func TestNothingHiddenCanBeWorkedOut(t *testing.T) {
	t.Parallel()
	tables, hid := 0, 0
	for cells, most := range map[int]int{2: 60, 3: 26, 4: 18, 5: 14} {
		for learners := range most + 1 {
			same := map[string][][]int{}
			rows(cells, learners, func(row []int) {
				tables++
				if shown := publish(row); shown != nil {
					key := strings.Join(shown, "|")
					same[key] = append(same[key], slices.Clone(row))
				} else if learners >= fewestLearners {
					t.Fatalf("nothing is shown of %v", row)
				}
			})
			if learners < fewestLearners && len(same) > 0 {
				t.Fatalf("counts of %d learners are shown", learners)
			}
			for key, possible := range same {
				shown := strings.Split(key, "|")
				for i, text := range shown {
					values := map[int]bool{}
					for _, row := range possible {
						values[row[i]] = true
					}
					if text == fmt.Sprint(possible[0][i]) {
						if len(values) != 1 {
							t.Fatalf("%q is shown of tables that differ there", key)
						}
						continue
					}
					hid++
					if len(values) < 2 {
						t.Fatalf("%q of %d learners: cell %d can only be %v", key, learners, i+1, values)
					}
					if low, high := feasible(shown, learners, i); high-low < 2 {
						t.Fatalf("%q of %d learners: cell %d lies between %d and %d", key, learners, i+1, low, high)
					}
				}
			}
		}
	}
	if tables < 10_000 || hid < 500 {
		t.Errorf("only %d tables with %d hidden cells were looked at", tables, hid)
	}
}

// rows calls do with every row of the given number of cells that adds up to total.
func rows(cells, total int, do func([]int)) {
	row := make([]int, cells)
	var fill func(at, left int)
	fill = func(at, left int) {
		if at == cells-1 {
			row[at] = left
			do(row)
			return
		}
		for n := range left + 1 {
			row[at] = n
			fill(at+1, left-n)
		}
	}
	fill(0, total)
}

// feasible is between what the cell i lies, by what is printed alone.
func feasible(shown []string, learners, i int) (low, high int) {
	bounds := func(text string) (low, high int) {
		switch text {
		case hiddenCount:
			return 0, learners
		case fewCount:
			return 0, 2
		case mostCount:
			return learners - 2, learners
		}
		var n int
		if _, err := fmt.Sscan(text, &n); err != nil {
			panic(err) // publish prints nothing else
		}
		return n, n
	}
	low, high = bounds(shown[i])
	restLow, restHigh := 0, 0
	for j, text := range shown {
		if j != i {
			l, h := bounds(text)
			restLow, restHigh = restLow+l, restHigh+h
		}
	}
	return max(low, learners-restHigh), min(high, learners-restLow)
}
