package analysis

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

// marks makes a table of marks from rows such as "11010".
func marks(rows ...string) Table {
	t := Table{Items: names(len(rows[0]))}
	for _, row := range rows {
		learner := make([]Answer, len(row))
		for j, c := range row {
			learner[j] = Wrong + Answer(c-'0')
		}
		t.Rows = append(t.Rows, learner)
	}
	return t
}

func names(items int) []string {
	all := make([]string, items)
	for j := range all {
		all[j] = strconv.Itoa(j + 1)
	}
	return all
}

// lsat6 is section 6 of the Law School Admission Test, five items and 1 000 learners:
// how often each pattern of right and wrong answers occurred (R. D. Bock and
// M. Lieberman, Psychometrika 35 (1970), 179-197; all counts).
func lsat6() Table {
	var rows []string
	for _, p := range []struct {
		pattern string
		times   int
	}{
		{"00000", 3},
		{"00001", 6},
		{"00010", 2},
		{"00011", 11},
		{"00100", 1},
		{"00101", 1},
		{"00110", 3},
		{"00111", 4},
		{"01000", 1},
		{"01001", 8},
		{"01010", 0},
		{"01011", 16},
		{"01100", 0},
		{"01101", 3},
		{"01110", 2},
		{"01111", 15},
		{"10000", 10},
		{"10001", 29},
		{"10010", 14},
		{"10011", 81},
		{"10100", 3},
		{"10101", 28},
		{"10110", 15},
		{"10111", 80},
		{"11000", 16},
		{"11001", 56},
		{"11010", 21},
		{"11011", 173},
		{"11100", 11},
		{"11101", 61},
		{"11110", 28},
		{"11111", 298},
	} {
		rows = append(rows, slices.Repeat([]string{p.pattern}, p.times)...)
	}
	return marks(rows...)
}

// eight is a class of eight, small enough to work out on paper.
func eight() Table {
	return marks("11111", "11110", "11101", "11010", "10100", "11000", "01000", "00000")
}

func analyze(t testing.TB, table Table) Analysis {
	t.Helper()
	a, err := Of(table)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

// isNear checks a value that is known to so many digits.
func isNear(t testing.TB, what string, got *float64, want, tolerance float64) {
	t.Helper()
	if got == nil {
		t.Errorf("%s is not defined, want %v", what, want)
	} else if !(math.Abs(*got-want) <= tolerance) {
		t.Errorf("%s = %v, want %v", what, *got, want)
	}
}

func areNear(t testing.TB, what string, a Analysis, value func(Item) *float64, want ...float64) {
	t.Helper()
	for j, item := range a.Items {
		isNear(t, fmt.Sprintf("%s of item %s", what, item.Name), value(item), want[j], 5.1e-5)
	}
}

// TestLSAT6: the numbers of right answers follow from the published counts. Alpha is
// usually quoted as .295 (from memory); to more digits it, and all that follows, was
// computed independently, alpha and correlations with two statistics systems.
func TestLSAT6(t *testing.T) {
	t.Parallel()
	a := analyze(t, lsat6())
	if a.N != 1000 || a.LeftOut != 0 || a.Label != "" {
		t.Errorf("%d learners, %d left out, label %q; want 1000, 0 and none", a.N, a.LeftOut, a.Label)
	}
	isNear(t, "mean", a.Mean, 3.819, 5e-13)
	isNear(t, "var_n", a.VarN, 1.070239, 5e-7)
	isNear(t, "alpha", a.Alpha, 0.294997, 5e-7)
	isNear(t, "kr20", a.KR20, 0.294997, 5e-7)
	isNear(t, "sem", a.SEM, 0.8686, 5e-5)
	isNear(t, "group_n", a.GroupN, 270, 1e-9)
	areNear(t, "p", a, func(i Item) *float64 { return i.P }, .924, .709, .553, .763, .870)
	areNear(t, "r_incl", a, func(i Item) *float64 { return i.RIncl }, .3620, .5668, .6184, .5344, .4354)
	areNear(t, "r_excl", a, func(i Item) *float64 { return i.RExcl }, .1128, .1532, .1728, .1444, .1216)
	areNear(t, "alpha_deleted", a, func(i Item) *float64 { return i.AlphaDeleted }, .2754, .2376, .2168, .2459, .2663)
	areNear(t, "discrimination", a, func(i Item) *float64 { return i.Discrimination }, .1966, .6315, .8109, .5370, .3203)
	for j, right := range []int{924, 709, 553, 763, 870} {
		o := a.Items[j].Options
		if len(o) != 2 || o[0].Option != "0" || o[0].Key || o[0].N != 1000-right || o[1].Option != "1" || !o[1].Key || o[1].N != right {
			t.Errorf("item %d: options %+v, want %d right", j+1, o, right)
		}
	}
}

// TestEightLearners: computed independently, twice. The same class with n-1 in the
// variance of the totals, but not in p(1-p), would seem to have a KR-20 of .789112.
// The discrimination is that of halves, which no tie parts here.
func TestEightLearners(t *testing.T) {
	t.Parallel()
	table := eight()
	table.Group = 0.5
	a := analyze(t, table)
	isNear(t, "mean", a.Mean, 2.625, 0)
	isNear(t, "var_n", a.VarN, 2.484375, 0)
	isNear(t, "kr20", a.KR20, 0.723270, 5e-7)
	isNear(t, "alpha", a.Alpha, 0.723270, 5e-7)
	isNear(t, "sem", a.SEM, 0.8292, 5e-5)
	areNear(t, "p", a, func(i Item) *float64 { return i.P }, .75, .75, .5, .375, .25)
	areNear(t, "r_incl", a, func(i Item) *float64 { return i.RIncl }, .7784, .5952, .7137, .6757, .6868)
	areNear(t, "r_excl", a, func(i Item) *float64 { return i.RExcl }, .6258, .3705, .4927, .4472, .4932)
	areNear(t, "discrimination", a, func(i Item) *float64 { return i.Discrimination }, .5, .5, .5, .75, .5)
}

// TestStandardError: two tests with a standard deviation of 12 and 10 and a reliability
// of .84 and .91, by hand.
func TestStandardError(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ sd, reliability, want float64 }{{12, .84, 4.8}, {10, .91, 3}} {
		got := standardError(test.sd*test.sd, test.reliability)
		isNear(t, "standard error", &got, test.want, 1e-12)
	}
}

// TestIntervalOfP: Wilson's interval, by the formula of Newcombe, Statist. Med. 17
// (1998), 857-872, method 3, computed independently.
func TestIntervalOfP(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		right, n  int
		low, high float64
	}{
		{8, 10, .4902, .9433},
		{3, 5, .2307, .8824},
		{20, 20, .8389, 1},
		{0, 10, 0, .2775},
		{45, 50, .7864, .9565},
	} {
		item := analyze(t, marks(append(slices.Repeat([]string{"1"}, test.right), slices.Repeat([]string{"0"}, test.n-test.right)...)...)).Items[0]
		isNear(t, fmt.Sprintf("low end of %d/%d", test.right, test.n), item.PLow, test.low, 5e-5)
		isNear(t, fmt.Sprintf("high end of %d/%d", test.right, test.n), item.PHigh, test.high, 5e-5)
	}
}

// TestTiesAreShared: by hand. Of five learners the upper group of two is the one with
// 3 and a third of each of the three with 2, the lower group the one with 1 and a third
// of each of them. Items 1 to 3 are right for the best and for two of the three.
func TestTiesAreShared(t *testing.T) {
	t.Parallel()
	table := marks("1110", "1100", "1010", "0110", "0001")
	table.Group = 0.4
	a := analyze(t, table)
	isNear(t, "group_n", a.GroupN, 2, 1e-12)
	for j, want := range []struct{ upper, lower float64 }{{1 + 2./3, 2. / 3}, {1 + 2./3, 2. / 3}, {1 + 2./3, 2. / 3}, {0, 1}} {
		right := a.Items[j].Options[1]
		isNear(t, fmt.Sprintf("upper of item %d", j+1), right.Upper, want.upper, 1e-12)
		isNear(t, fmt.Sprintf("lower of item %d", j+1), right.Lower, want.lower, 1e-12)
		isNear(t, fmt.Sprintf("discrimination of item %d", j+1), a.Items[j].Discrimination, (want.upper-want.lower)/2, 1e-12)
	}
}

// chose is a test of five items: four of marks, of which a learner has 0 to 4 right,
// and before them one that 40 learners answered, eight with each rest, from the weakest
// to the strongest.
func chose(t *testing.T, answers string) Table {
	t.Helper()
	answers = strings.ReplaceAll(answers, " ", "")
	table := Table{
		Items:   names(5),
		Key:     key(t, "A,1,1,1,1"),
		Offered: [][]Answer{key(t, "A,B,C,D"), {Wrong, Right}, {Wrong, Right}, {Wrong, Right}, {Wrong, Right}},
	}
	for i, c := range answers {
		row := []Answer{firstLetter + Answer(c-'A'), Wrong, Wrong, Wrong, Wrong}
		for j := range i / 8 {
			row[j+1] = Right
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}

func key(t testing.TB, text string) []Answer {
	t.Helper()
	parsed, err := ParseKey(text)
	if err != nil {
		t.Fatal(err)
	}
	return parsed
}

// TestFlags: classes made up to have one fault each; which flags are due follows by
// hand from the limits in the package comment.
func TestFlags(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name    string
		answers string
		want    map[string][]Flag // "" stands for the item
	}{
		{"nothing wrong", "BCDBCDBA BCDBCDAA BCDAAAAA BADAAAAA AAAAAAAA", map[string][]Flag{}},
		{"an option for nobody", "BCCBCCBA BCCBCCAA BCCAAAAA BACAAAAA AAAAAAAA", map[string][]Flag{"D": {NeverChosen}}},
		{"an option for one of 40", "BCDBCCBA BCCBCCAA BCCAAAAA BACAAAAA AAAAAAAA", map[string][]Flag{"D": {RarelyChosen}}},
		{"an option for two of 40 is not rare", "BCDBCDBA BCCBCCAA BCCAAAAA BACAAAAA AAAAAAAA", map[string][]Flag{}},
		{"an option for the stronger", "BCBBCCBA BCBBCCAA BCBAAAAA BACAAADD AAAAAADD", map[string][]Flag{"D": {DrawsStronger}}},
		{"a slip in the key", "ACDACDAA ACDACDBB ACDBBBBB BADBBBBB BBBBBBBB", map[string][]Flag{
			"": {SeparatesLittle}, "A": {KeyRepels, KeyOutdrawn}, "B": {DrawsStronger, OutdrawsKey},
		}},
		{"too easy", "BAAAAAAA AAAAAAAA AAAAAAAA AAAAAAAA AAAAAAAA", map[string][]Flag{
			"": {TooEasy, SeparatesLittle}, "B": {RarelyChosen}, "C": {NeverChosen}, "D": {NeverChosen},
		}},
		{"too hard", "BCDBCDBC DBCDBCDB CDBCDBCD BCDBCDBC AAADAAAA", map[string][]Flag{
			"": {TooHard},
		}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			item := analyze(t, chose(t, test.answers)).Items[0]
			got := map[string][]Flag{}
			if len(item.Flags) > 0 {
				got[""] = item.Flags
			}
			for _, o := range item.Options {
				if len(o.Flags) > 0 {
					got[o.Option] = o.Flags
				}
			}
			if diff := cmp.Diff(test.want, got); diff != "" {
				t.Errorf("flags (-want +got):\n%s%+v", diff, item)
			}
		})
	}
}

// TestEbelsGuide: a discrimination of .20 is marginal, .19 is poor (Ebel's guide, from
// memory). LSAT6's first item has .1966, which is printed as .20. In the other class, of
// 100 and parted in halves, the best 50 have all else right and the others nothing else.
func TestEbelsGuide(t *testing.T) {
	t.Parallel()
	if flags := analyze(t, lsat6()).Items[0].Flags; slices.Contains(flags, SeparatesLittle) {
		t.Errorf("flags %q for a discrimination of .1966", flags)
	}
	for _, test := range []struct {
		upper, lower   int // who have it right
		discrimination float64
		flagged        bool
	}{
		{30, 20, .20, false},
		{29, 20, .18, true},
		{20, 30, -.20, true},
	} {
		table := marks(slices.Concat(
			slices.Repeat([]string{"1111"}, test.upper), slices.Repeat([]string{"0111"}, 50-test.upper),
			slices.Repeat([]string{"1000"}, test.lower), slices.Repeat([]string{"0000"}, 50-test.lower),
		)...)
		table.Group = 0.5
		item := analyze(t, table).Items[0]
		isNear(t, "discrimination", item.Discrimination, test.discrimination, 1e-12)
		if slices.Contains(item.Flags, SeparatesLittle) != test.flagged {
			t.Errorf("flags %q for a discrimination of %v", item.Flags, test.discrimination)
		}
	}
}

func TestMarksHaveNoOptionsToFlag(t *testing.T) {
	t.Parallel()
	// Item 1 is right for the weak only, and everybody has item 2 right.
	item := analyze(t, marks("1100", "1100", "0111", "0111", "0111")).Items
	if got, want := item[0].Options[1].Flags, []Flag{KeyRepels}; !slices.Equal(got, want) {
		t.Errorf("flags of the right answer %q, want %q", got, want)
	}
	for _, i := range item {
		if len(i.Options[0].Flags) > 0 {
			t.Errorf("item %s: the mark 0 has flags %q", i.Name, i.Options[0].Flags)
		}
	}
}

func TestEveryFlagHasWords(t *testing.T) {
	t.Parallel()
	for _, f := range []Flag{TooEasy, TooHard, SeparatesLittle, KeyRepels, KeyOutdrawn, NeverChosen, RarelyChosen, DrawsStronger, OutdrawsKey} {
		if says := f.Says(); says == string(f) || !strings.Contains(says, " ") {
			t.Errorf("%s says %q", f, says)
		}
	}
}

func TestOptionsOffered(t *testing.T) {
	t.Parallel()
	options := func(table Table, j int) string {
		var all []string
		for _, o := range analyze(t, table).Items[j].Options {
			all = append(all, o.Option)
		}
		return strings.Join(all, "")
	}
	row := func(text string) []Answer { return key(t, text) }
	table := Table{Items: names(3), Key: row("A,C,7"), Rows: [][]Answer{row("B,C,7"), row("A,B,9")}}
	if got := options(table, 0); got != "ABC" {
		t.Errorf("options %q, want those of all items with letters: ABC", got)
	}
	if got := options(table, 2); got != "79" {
		t.Errorf("options %q, want 7 and 9", got)
	}
	table.Offered = [][]Answer{row("A,B"), row("B,C,D"), row("7,9")}
	if got := options(table, 0); got != "AB" {
		t.Errorf("options %q, want those offered: AB", got)
	}
	if got := options(table, 1); got != "BCD" {
		t.Errorf("options %q, want those offered: BCD", got)
	}
}

// TestSmallClasses: the limits of 20 and 30 learners are our choice.
func TestSmallClasses(t *testing.T) {
	t.Parallel()
	all := lsat6()
	for _, test := range []struct {
		n      int
		label  string
		hidden bool
	}{
		{0, TooFew, true},
		{19, TooFew, true},
		{20, TooFew, false},
		{29, TooFew, false},
		{30, "", false},
	} {
		table := all
		table.Rows = nil
		for i := range test.n {
			table.Rows = append(table.Rows, all.Rows[i*33])
		}
		a := analyze(t, table)
		shown := a.ForDisplay()
		if a.Label != test.label || shown.Label != test.label {
			t.Errorf("%d learners: label %q, shown %q, want %q", test.n, a.Label, shown.Label, test.label)
		}
		if a.Hidden() != test.hidden {
			t.Errorf("%d learners: hidden is %v, want %v", test.n, a.Hidden(), test.hidden)
		}
		if !test.hidden && !cmp.Equal(a, shown) {
			t.Errorf("%d learners: something is hidden", test.n)
		}
		if !test.hidden || test.n == 0 {
			continue
		}
		if a.KR20 == nil || a.Items[4].RExcl == nil || a.Items[4].Options[1].Upper == nil {
			t.Errorf("%d learners: the analysis itself has lost its numbers", test.n)
		}
		item := shown.Items[4]
		for _, hidden := range []*float64{shown.Alpha, shown.KR20, shown.SEM, shown.GroupN, item.RIncl, item.RExcl, item.AlphaDeleted, item.Discrimination, item.Options[1].RRest, item.Options[1].Upper, item.Options[1].Lower} {
			if hidden != nil {
				t.Errorf("%d learners: %v is shown", test.n, *hidden)
			}
		}
		for _, i := range shown.Items {
			if len(i.Flags)+len(i.Options[0].Flags)+len(i.Options[1].Flags) > 0 {
				t.Errorf("%d learners: flags are shown", test.n)
			}
		}
		if shown.Mean == nil || item.P == nil || item.PLow == nil || item.Options[1].Share == nil {
			t.Errorf("%d learners: counts and shares are hidden", test.n)
		}
	}
}

func TestUndefinedIsNull(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name  string
		table Table
		null  []string
	}{
		{"nobody", Table{Items: names(3)}, []string{"mean", "var_n", "alpha", "kr20", "sem", "group_n", "p", "p_low", "p_high", "r_incl", "r_excl", "alpha_deleted", "discrimination", "share", "r_rest", "upper", "lower"}},
		{"one learner", marks("101"), []string{"alpha", "kr20", "sem", "r_incl", "r_excl", "alpha_deleted", "discrimination", "r_rest"}},
		{"equal totals", marks("100", "010", "001"), []string{"alpha", "kr20", "sem", "r_incl", "discrimination"}},
		{"one item", marks("1", "0"), []string{"alpha", "kr20", "sem", "r_excl", "alpha_deleted", "r_rest"}},
		{"two items", marks("11", "10", "01", "00"), []string{"alpha_deleted"}},
		{"all right", marks("111", "111"), []string{"alpha", "kr20", "sem", "r_incl", "r_excl", "alpha_deleted", "discrimination", "r_rest"}},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			text, err := json.Marshal(analyze(t, test.table))
			if err != nil {
				t.Fatal(err)
			}
			var whole map[string]any
			if err := json.Unmarshal(text, &whole); err != nil {
				t.Fatal(err)
			}
			item := whole["items"].([]any)[0].(map[string]any)
			options := item["options"].([]any)
			var got []string
			for _, in := range []map[string]any{whole, item, options[len(options)-1].(map[string]any)} {
				for name, value := range in {
					if value == nil {
						got = append(got, name)
					}
				}
			}
			slices.Sort(got)
			slices.Sort(test.null)
			if diff := cmp.Diff(test.null, got); diff != "" {
				t.Errorf("null (-want +got):\n%s%s", diff, text)
			}
		})
	}
}

// TestPerfectAgreement: items that all say the same have reliability 1, and no error
// is left, whatever the rounding.
func TestPerfectAgreement(t *testing.T) {
	t.Parallel()
	for items := 2; items <= 60; items++ {
		for right := 1; right < 12; right++ {
			rows := slices.Repeat([]string{strings.Repeat("1", items)}, right)
			rows = append(rows, slices.Repeat([]string{strings.Repeat("0", items)}, 12-right)...)
			a := analyze(t, marks(rows...))
			isNear(t, "kr20", a.KR20, 1, 1e-12)
			isNear(t, "sem", a.SEM, 0, 1e-6)
			isNear(t, "r_incl", a.Items[0].RIncl, 1, 1e-12)
			if *a.KR20 > 1 || *a.Items[0].RIncl > 1 {
				t.Fatalf("%d items, %d right: kr20 %v, r_incl %v", items, right, *a.KR20, *a.Items[0].RIncl)
			}
		}
	}
}

func TestLeftOut(t *testing.T) {
	t.Parallel()
	table := eight()
	table.LeftOut = 2
	table.Rows = slices.Insert(table.Rows, 3, []Answer{Right, None, Right, Right, Right}, []Answer{None, None, None, None, None})
	a := analyze(t, table)
	if a.N != 8 || a.LeftOut != 4 {
		t.Errorf("%d learners, %d left out; want 8 and 4", a.N, a.LeftOut)
	}
	a.LeftOut = 0
	if diff := cmp.Diff(analyze(t, eight()), a); diff != "" {
		t.Errorf("those left out count (-want +got):\n%s", diff)
	}
}

func TestOfRefuses(t *testing.T) {
	t.Parallel()
	abc := key(t, "A,B,C")
	for _, test := range []struct {
		name  string
		table Table
		want  string
	}{
		{"no items", Table{}, "the table has no items"},
		{"too many items", Table{Items: names(1001)}, "the table has 1001 items; at most 1000 can be analyzed"},
		{"too many learners", Table{Items: names(1), Rows: make([][]Answer, 100_001)}, "the table has 100001 learners; at most 100000 can be analyzed"},
		{"left out", Table{Items: names(1), LeftOut: -1}, "-1 learners were left out; write 0 or more"},
		{"key too short", Table{Items: names(4), Key: abc}, "the key has 3 right answers, but the table has 4 items"},
		{"hole in the key", Table{Items: names(2), Key: []Answer{Right, None}}, `item "2" has no right answer in the key`},
		{"no answer in the key", Table{Items: names(1), Key: []Answer{200}}, `item "1" has no right answer in the key`},
		{"group", Table{Items: names(1), Group: 0.6}, "group is 0.6; write a share of the learners above 0, and 0.5 at most"},
		{"group that is none", Table{Items: names(1), Group: math.NaN()}, "group is NaN; write a share of the learners above 0, and 0.5 at most"},
		{"options of marks", Table{Items: names(1), Offered: [][]Answer{abc}}, "options are listed for 1 items of 1; list those of each item, with a key"},
		{"options of some", Table{Items: names(3), Key: abc, Offered: [][]Answer{abc}}, "options are listed for 1 items of 3; list those of each item, with a key"},
		{"option that is none", Table{Items: names(1), Key: abc[:1], Offered: [][]Answer{{255}}}, `item "1" offers an option that is no letter or number`},
		{"key not offered", Table{Items: names(1), Key: abc[:1], Offered: [][]Answer{abc[1:]}}, `item "1" does not offer A, its right answer`},
		{"short row", Table{Items: names(3), Key: abc, Rows: [][]Answer{abc, abc[:2]}}, "learner 2 has 2 answers, but the table has 3 items"},
		{"letter among marks", Table{Items: names(3), Rows: [][]Answer{abc}}, `learner 1 answered "A" to item "1", which does not offer it`},
		{"number for a letter", Table{Items: names(3), Key: abc, Rows: [][]Answer{{abc[0], Right, abc[2]}}}, `learner 1 answered "1" to item "2", which does not offer it`},
		{"not offered", Table{Items: names(1), Key: abc[:1], Offered: [][]Answer{abc[:2]}, Rows: [][]Answer{abc[2:]}}, `learner 1 answered "C" to item "1", which does not offer it`},
		{"beyond all answers", Table{Items: names(1), Key: abc[:1], Rows: [][]Answer{{answers}}}, `learner 1 answered "100" to item "1", which does not offer it`},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			_, err := Of(test.table)
			if err == nil || err.Error() != test.want {
				t.Errorf("got %v\nwant %s", err, test.want)
			}
		})
	}
}

// bigClass has options for 10 000 learners and 100 items.
func bigClass() Table {
	random := rand.New(rand.NewPCG(1, 2))
	table := Table{Items: names(100)}
	for range table.Items {
		table.Key = append(table.Key, firstLetter+Answer(random.IntN(4)))
	}
	for range 10_000 {
		knows := random.Float64()
		row := make([]Answer, len(table.Items))
		for j := range row {
			row[j] = firstLetter + Answer(random.IntN(4))
			if random.Float64() < knows {
				row[j] = table.Key[j]
			}
		}
		table.Rows = append(table.Rows, row)
	}
	return table
}

func BenchmarkOf(b *testing.B) {
	table := bigClass()
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Of(table); err != nil {
			b.Fatal(err)
		}
	}
}
