package analysis

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/combin"
	"pgregory.net/rapid"
)

// drawMarks draws a table of marks.
func drawMarks(t *rapid.T, fewest, most int) Table {
	table := Table{Items: names(rapid.IntRange(1, 8).Draw(t, "items"))}
	for range rapid.IntRange(fewest, most).Draw(t, "learners") {
		table.Rows = append(table.Rows, rapid.SliceOfN(rapid.SampledFrom([]Answer{Wrong, Right}), len(table.Items), len(table.Items)).Draw(t, "row"))
	}
	return table
}

// drawChosen draws a table of options, with a cell empty here and there.
func drawChosen(t *rapid.T) Table {
	table := Table{Items: names(rapid.IntRange(1, 6).Draw(t, "items"))}
	letters, numbers := []Answer{1, 2, 3, None}, []Answer{Wrong, Right, Right + 6, None}
	var options [][]Answer
	for range table.Items {
		of := rapid.SampledFrom([][]Answer{letters, numbers}).Draw(t, "kind")
		options = append(options, of)
		table.Key = append(table.Key, rapid.SampledFrom(of[:3]).Draw(t, "right"))
	}
	for range rapid.IntRange(0, 40).Draw(t, "learners") {
		row := make([]Answer, len(table.Items))
		for j := range row {
			row[j] = rapid.SampledFrom(options[j]).Draw(t, "answer")
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}

func of(t *rapid.T, table Table) Analysis {
	a, err := Of(table)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// column gives the marks of one item, and the totals of all items.
func column(table Table, j int) (marks, totals []float64) {
	for _, row := range table.Rows {
		total := 0.0
		for _, a := range row {
			total += float64(a - Wrong)
		}
		marks, totals = append(marks, float64(row[j]-Wrong)), append(totals, total)
	}
	return marks, totals
}

// near compares two values that may both be undefined.
func near(a, b *float64) bool {
	if a == nil || b == nil {
		return a == b
	}
	return math.Abs(*a-*b) <= 1e-9*max(1, math.Abs(*b))
}

// varies is v, nil if any of these does not vary.
func varies(v float64, of ...[]float64) *float64 {
	for _, values := range of {
		if len(values) == 0 || slices.Min(values) == slices.Max(values) {
			return nil
		}
	}
	return &v
}

// TestAgainstAStatisticsLibrary: correlations and variances by gonum. Alpha comes out
// of variances with n-1 in both places as it does of those with n.
func TestAgainstAStatisticsLibrary(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawMarks(t, 0, 40)
		a := of(t, table)
		var sum float64
		for j, item := range a.Items {
			x, totals := column(table, j)
			rest := make([]float64, len(x))
			for i := range x {
				rest[i] = totals[i] - x[i]
			}
			sum += stat.Variance(x, nil)
			if want := varies(stat.Correlation(x, totals, nil), x, totals); !near(item.RIncl, want) {
				t.Errorf("item %s: r_incl %v, want %v", item.Name, item.RIncl, want)
			}
			want := varies(stat.Correlation(x, rest, nil), x, rest)
			if !near(item.RExcl, want) || !near(item.Options[len(item.Options)-1].RRest, want) {
				t.Errorf("item %s: r_excl %v, r_rest of the right answer %v, want %v", item.Name, item.RExcl, item.Options[1].RRest, want)
			}
		}
		_, totals := column(table, 0)
		k := float64(len(table.Items))
		want := varies(k/(k-1)*(1-sum/stat.Variance(totals, nil)), totals)
		if k == 1 {
			want = nil
		}
		if !near(a.Alpha, want) || !near(a.KR20, want) {
			t.Errorf("alpha %v, kr20 %v, want %v", a.Alpha, a.KR20, want)
		}
	})
}

// TestOptionsAddUp: every learner chose one option, and the groups are what they are
// said to be. Correlations by gonum.
func TestOptionsAddUp(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawChosen(t)
		a := of(t, table)
		rows := slices.DeleteFunc(slices.Clone(table.Rows), func(row []Answer) bool { return slices.Contains(row, None) })
		if a.N != len(rows) || a.N+a.LeftOut != len(table.Rows) {
			t.Fatalf("%d learners and %d left out of %d", a.N, a.LeftOut, len(table.Rows))
		}
		if a.N == 0 {
			return
		}
		for j, item := range a.Items {
			var n int
			var upper, lower float64
			for _, o := range item.Options {
				n, upper, lower = n+o.N, upper+*o.Upper, lower+*o.Lower
				chose, rest := make([]float64, a.N), make([]float64, a.N)
				for i, row := range rows {
					if row[j].String() == o.Option {
						chose[i] = 1
					}
					for other := range row {
						if other != j && row[other] == table.Key[other] {
							rest[i]++
						}
					}
				}
				if want := varies(stat.Correlation(chose, rest, nil), chose, rest); !near(o.RRest, want) {
					t.Errorf("item %s, option %s: r_rest %v, want %v", item.Name, o.Option, o.RRest, want)
				}
				if o.Key && !near(o.RRest, item.RExcl) {
					t.Errorf("item %s: r_rest of the key %v, r_excl %v", item.Name, o.RRest, item.RExcl)
				}
			}
			if n != a.N || !near(&upper, a.GroupN) || !near(&lower, a.GroupN) {
				t.Errorf("item %s: %d learners, %v upper, %v lower; want %d and %v twice", item.Name, n, upper, lower, a.N, *a.GroupN)
			}
		}
	})
}

// TestOrderDoesNotMatter: neither that of the learners nor that of the items.
func TestOrderDoesNotMatter(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawMarks(t, 0, 20)
		want := of(t, table)
		table.Rows = rapid.Permutation(table.Rows).Draw(t, "learners in order")
		if diff := cmp.Diff(want, of(t, table)); diff != "" {
			t.Errorf("learners in another order (-want +got):\n%s", diff)
		}
		order := make([]int, len(table.Items))
		for j := range order {
			order[j] = j
		}
		order = rapid.Permutation(order).Draw(t, "items in order")
		other := Table{Items: make([]string, len(order))}
		for place, j := range order {
			other.Items[place] = table.Items[j]
		}
		for _, row := range table.Rows {
			moved := make([]Answer, len(order))
			for place, j := range order {
				moved[place] = row[j]
			}
			other.Rows = append(other.Rows, moved)
		}
		byName := cmpopts.SortSlices(func(a, b Item) bool { return a.Name < b.Name })
		if diff := cmp.Diff(want, of(t, other), byName); diff != "" {
			t.Errorf("items in another order (-want +got):\n%s", diff)
		}
	})
}

// TestTheItemItselfRaisesItsCorrelation: an item agrees with itself.
func TestTheItemItselfRaisesItsCorrelation(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		for _, item := range of(t, drawMarks(t, 2, 40)).Items {
			if item.RIncl != nil && item.RExcl != nil && *item.RExcl > *item.RIncl+1e-12 {
				t.Errorf("r_excl %v is above r_incl %v", *item.RExcl, *item.RIncl)
			}
		}
	})
}

// TestAConstantItemChangesNoOther: when everybody has one more item right, every total
// is one more, and totals differ as before.
func TestAConstantItemChangesNoOther(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawMarks(t, 0, 30)
		before := of(t, table)
		table.Items = append(slices.Clone(table.Items), "constant")
		for i := range table.Rows {
			table.Rows[i] = append(slices.Clone(table.Rows[i]), Right)
		}
		after := of(t, table)
		if !near(after.VarN, before.VarN) || !near(after.Items[len(before.Items)].AlphaDeleted, before.Alpha) {
			t.Errorf("var_n %v, want %v; alpha without the item %v, want %v", after.VarN, before.VarN, after.Items[len(before.Items)].AlphaDeleted, before.Alpha)
		}
		reliability := cmpopts.IgnoreFields(Item{}, "AlphaDeleted")
		if diff := cmp.Diff(before.Items, after.Items[:len(before.Items)], reliability); diff != "" {
			t.Errorf("(-before +after):\n%s", diff)
		}
	})
}

// TestAlphaDeleted is alpha of the table without the item.
func TestAlphaDeleted(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawMarks(t, 0, 30)
		for j, item := range of(t, table).Items {
			if len(table.Items) == 1 {
				continue
			}
			without := Table{Items: names(len(table.Items) - 1)}
			for _, row := range table.Rows {
				without.Rows = append(without.Rows, slices.Delete(slices.Clone(row), j, j+1))
			}
			if want := of(t, without).Alpha; !near(item.AlphaDeleted, want) {
				t.Errorf("item %s: alpha_deleted %v, want %v", item.Name, item.AlphaDeleted, want)
			}
		}
	})
}

// TestTwiceTheClass: the same answers twice tell nothing new, but that they are more.
func TestTwiceTheClass(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawMarks(t, 1, 20)
		once := of(t, table)
		table.Rows = slices.Concat(table.Rows, table.Rows)
		twice := of(t, table)
		if twice.N != 2*once.N || !near(twice.Mean, once.Mean) || !near(twice.VarN, once.VarN) || !near(twice.KR20, once.KR20) || !near(twice.SEM, once.SEM) {
			t.Errorf("once %+v\ntwice %+v", once, twice)
		}
		for j, a := range once.Items {
			b := twice.Items[j]
			if !near(a.P, b.P) || !near(a.RIncl, b.RIncl) || !near(a.RExcl, b.RExcl) || !near(a.AlphaDeleted, b.AlphaDeleted) || !near(a.Discrimination, b.Discrimination) {
				t.Errorf("once %+v\ntwice %+v", a, b)
			}
			if *b.PHigh-*b.PLow >= *a.PHigh-*a.PLow {
				t.Errorf("item %s: the interval is not narrower", a.Name)
			}
		}
	})
}

// TestSharedTiesAreTheMeanOfAllOrders: slicing groups off by the order of the file, ties
// and all, gives another count for each order. Their mean is the shared count.
func TestSharedTiesAreTheMeanOfAllOrders(t *testing.T) {
	t.Parallel()
	const n = 5
	orders := combin.Permutations(n, n)
	rapid.Check(t, func(t *rapid.T) {
		table := drawMarks(t, n, n)
		size := rapid.IntRange(1, 2).Draw(t, "size of a group")
		table.Group = float64(size) / n
		_, totals := column(table, 0)
		for j, item := range of(t, table).Items {
			marks, _ := column(table, j)
			var upper, lower float64
			for _, order := range orders {
				order = slices.Clone(order)
				slices.SortStableFunc(order, func(a, b int) int { return int(totals[b] - totals[a]) })
				for _, i := range order[:size] {
					upper += marks[i]
				}
				for _, i := range order[n-size:] {
					lower += marks[i]
				}
			}
			upper, lower = upper/float64(len(orders)), lower/float64(len(orders))
			if right := item.Options[1]; !near(right.Upper, &upper) || !near(right.Lower, &lower) {
				t.Errorf("item %s: %v and %v, want %v and %v", item.Name, *right.Upper, *right.Lower, upper, lower)
			}
		}
	})
}

// TestJSONHasNoNaN: encoding/json refuses NaN and infinity.
func TestJSONHasNoNaN(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		table := drawChosen(t)
		if rapid.Bool().Draw(t, "marks") {
			table = drawMarks(t, 0, 4)
		}
		a := of(t, table)
		for _, v := range []Analysis{a, a.ForDisplay()} {
			if _, err := json.Marshal(v); err != nil {
				t.Errorf("%v", err)
			}
		}
	})
}
