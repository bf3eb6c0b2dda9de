package analysis

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"testing"
	"testing/iotest"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
)

func TestReadCSV(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, key, text string
		items           string
		rows            []string
		leftOut         int
	}{
		{"marks alone", "", "1,0\n0,0\n", "1 2", []string{"1,0", "0,0"}, 0},
		{"header", "", "jars,lids\n1,0\n", "jars lids", []string{"1,0"}, 0},
		{"header and ids", "", "who,jars,lids\nann,1,0\nbo,0,1\n", "jars lids", []string{"1,0", "0,1"}, 0},
		{"ids without a header", "", "s1,1,0\n7,0,1\n", "1 2", []string{"1,0", "0,1"}, 0},
		{"ids without a title", "", ",,lids\nann,1,0\n", "1 lids", []string{"1,0"}, 0},
		{"an empty cell", "", "a,b\n1,0\n1,\n ,1\n0,1\n", "a b", []string{"1,0", "0,1"}, 2},
		{"an empty id", "", "who,b\nann,1\n,1\n", "b", []string{"1", "1"}, 0},
		{"nobody complete", "", "who,b,c\nann,1,\n", "b c", nil, 1},
		{"spaces, byte order mark, line ends of other systems", "", "\ufeffa,b\r\n 1 ,0\r\n", "a b", []string{"1,0"}, 0},
		{"names over lines", "", "\"a\n\x1b[31mb\",c\n1,0\n", "a [31mb c", []string{"1,0"}, 0},
		{"letters", "A,b", "who,q1,q2\nann,a,C\nbo,B,b\n", "q1 q2", []string{"A,C", "B,B"}, 0},
		// Numbers are no answers here, so they can name learners and items.
		{"letters and numbered learners", "A,B", "who,1,2\n1,A,C\n2,B,B\n", "1 2", []string{"A,C", "B,B"}, 0},
		{"numbers", "1,12", "ann,2,12\nbo,1,3\n", "1 2", []string{"2,12", "1,3"}, 0},
		{"letters and numbers", "A,12", "B,12\nA,3\n", "1 2", []string{"B,12", "A,3"}, 0},
		{"marks with a key", "1,0,1", "1,0,1\n0,0,1\n", "1 2 3", []string{"1,0,1", "0,0,1"}, 0},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var right []Answer
			if test.key != "" {
				right = key(t, test.key)
			}
			got, err := ReadCSV(strings.NewReader(test.text), "class.csv", right)
			if err != nil {
				t.Fatal(err)
			}
			want := Table{Key: right, LeftOut: test.leftOut}
			for _, row := range test.rows {
				want.Rows = append(want.Rows, key(t, row))
			}
			if items := strings.Join(got.Items, " "); items != test.items {
				t.Errorf("items %q, want %q", items, test.items)
			}
			got.Items = nil
			if diff := cmp.Diff(want, got, cmpopts.EquateEmpty()); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestReadCSVRefuses(t *testing.T) {
	t.Parallel()
	const marksOnly = "write 0 or 1, or leave it empty; for options that were chosen give the key"
	for _, test := range []struct{ name, key, text, want string }{
		{"empty", "", "", "class.csv: no row with answers; write a row for each learner, a column for each item"},
		{"header alone", "", "a,b\n", "class.csv: no row with answers; write a row for each learner, a column for each item"},
		{"ids alone", "", "who\nann\n", "class.csv: only learners' ids, no answers; without a key an answer is 0 or 1"},
		{"not a mark", "", "who,jars\nann,1\nbo,2\n", `class.csv:3:4: column 2 (jars): "2" is not an answer; ` + marksOnly},
		{"letters without a key", "", "B,A\nC,D\n", `class.csv:2:3: column 2 (A): "D" is not an answer; ` + marksOnly},
		{"not a mark in the first column", "", "1,0\nx,0\n", `class.csv:2:1: column 1: "x" is not an answer; ` + marksOnly + `. If this column holds the learners' ids: "1" on line 1 is an answer, so it was taken for an item; use ids that are no answers, such as learner-1`},
		{"not a letter", "A,B", "A,B\nA,BC\n", `class.csv:2:3: column 2: "BC" is not an answer; write a letter A to Z, as the key B is one, or leave it empty`},
		{"number for a letter", "A,12", "who,q1,q2\nann,A,12\nbo,12,12\n", `class.csv:3:4: column 2 (q1): "12" is not an answer; write a letter A to Z, as the key A is one, or leave it empty`},
		{"letter for a number", "A,12", "who,q1,q2\nann,A,12\nbo,B,B\n", `class.csv:3:6: column 3 (q2): "B" is not an answer; write a whole number 0 to 99, as the key 12 is one, or leave it empty`},
		{"number too large", "1", "1\n100\n", `class.csv:2:1: column 1: "100" is not an answer; write a whole number 0 to 99, as the key 1 is one, or leave it empty. If this column holds the learners' ids: "1" on line 1 is an answer, so it was taken for an item; use ids that are no answers, such as learner-1`},
		{"negative number", "1,1", "1,1\n1,-1\n", `class.csv:2:3: column 2: "-1" is not an answer; write a whole number 0 to 99, as the key 1 is one, or leave it empty`},
		{"long value", "", "0,0\n0," + strings.Repeat("y", 1000), `class.csv:2:3: column 2: "` + strings.Repeat("y", 40) + `" is not an answer; ` + marksOnly},
		{"short row", "", "1,0\n1\n", "class.csv:2:1: 1 cells, but the first row has 2; leave a cell empty where there is no answer"},
		{"long row", "", "a,b\n1,0,1\n", "class.csv:2:1: 3 cells, but the first row has 2; leave a cell empty where there is no answer"},
		{"key too short", "A,B", "A,B,C,D\n", "class.csv:1:1: 4 columns, but the key has 2 right answers; give one for each item"},
		{"key too short by one", "A,B", "A,B,C\n", `class.csv:1:1: "A" is an answer, so the first column is an item, and there are 3 items; but the key has 2 right answers. Give one for each item, or ids that are no answers, such as learner-1`},
		{"key too long", "A,B", "who,q\nann,B\n", "class.csv: no row has an answer in the first column, so it holds the learners' ids, and there are 1 items; but the key has 2 right answers. Give one for each item"},
		{"quotes", "", "a,b\n1,0\"\n", `class.csv:2:4: bare " in non-quoted-field; a cell with quotes in it needs quotes around it, and each of its own twice`},
		{"too wide", "", strings.Repeat("0,", 1001) + "0\n", "class.csv:1:1: 1002 columns; at most 1000 items and the learners' ids are allowed"},
		{"too many items", "", strings.Repeat("0,", 1000) + "0\n", "class.csv: 1001 items; at most 1000 are allowed"},
		{"too long", "", "a\n" + strings.Repeat("0\n", 100_001), "class.csv:100002:1: more than 100000 learners; analyze fewer at a time"},
	} {
		t.Run(test.name, func(t *testing.T) {
			t.Parallel()
			var right []Answer
			if test.key != "" {
				right = key(t, test.key)
			}
			_, err := ReadCSV(strings.NewReader(test.text), "class.csv", right)
			if err == nil || err.Error() != test.want {
				t.Errorf("got  %v\nwant %s", err, test.want)
			}
		})
	}
}

func TestReadCSVAtItsLimits(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		name, text      string
		learners, items int
	}{
		{"long", "a\n" + strings.Repeat("0\n", 100_000), 100_000, 1},
		{"wide", "who" + strings.Repeat(",0", 1000) + "\n", 1, 1000},
	} {
		got, err := ReadCSV(strings.NewReader(test.text), "class.csv", nil)
		if err != nil {
			t.Errorf("%s: %v", test.name, err)
			continue
		}
		if a := analyze(t, got); a.N != test.learners || len(a.Items) != test.items {
			t.Errorf("%s: %d learners, %d items; want %d and %d", test.name, a.N, len(a.Items), test.learners, test.items)
		}
	}
}

func TestReadCSVOfAFileThatBreaksOff(t *testing.T) {
	t.Parallel()
	broken := errors.New("the disk is gone")
	_, err := ReadCSV(iotest.ErrReader(broken), "class.csv", nil)
	if !errors.Is(err, broken) || !strings.HasPrefix(err.Error(), "class.csv: ") {
		t.Errorf("got %v, want the reader's error with the name of the file", err)
	}
}

func TestParseAnswer(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ text, want string }{
		{"", ""}, {"  ", ""}, {"A", "A"}, {"z", "Z"}, {" q ", "Q"}, {"0", "0"}, {"1", "1"}, {"99", "99"}, {"07", "7"},
	} {
		if got, err := ParseAnswer(test.text); err != nil || got.String() != test.want {
			t.Errorf("ParseAnswer(%q) = %q, %v, want %q", test.text, got, err, test.want)
		}
	}
	for _, text := range []string{"AB", "100", "-1", "+1", "1.0", "1e1", "é", "@", "[", "`", "{", "!", "\x00", "٣"} {
		if got, err := ParseAnswer(text); err == nil {
			t.Errorf("ParseAnswer(%q) = %q, want an error", text, got)
		}
	}
}

func TestParseKeyRefuses(t *testing.T) {
	t.Parallel()
	for _, test := range []struct{ text, want string }{
		{"A,,C", "right answer 2 is empty; write one for each item, parted by commas, such as B,A,D"},
		{"A,BC", `right answer 2: "BC" is not an answer; write a letter A to Z or a whole number 0 to 99`},
	} {
		if _, err := ParseKey(test.text); err == nil || err.Error() != test.want {
			t.Errorf("ParseKey(%q): %v, want %s", test.text, err, test.want)
		}
	}
}

// FuzzReadCSV: whatever the file holds, reading it ends in a table or in an error that
// begins with its name. A table can be analyzed, its JSON has no NaN, and written out
// with a header and ids it reads back as the same table.
func FuzzReadCSV(f *testing.F) {
	for _, seed := range []struct{ text, key string }{
		{"1,0\n0,1\n", ""},
		{"who,q1,q2\nann,1,0\nbo,,1\n", ""},
		{"who,q1,q2\nann,A,3\nbo,B,4\n", "A,4"},
		{"\ufeff\"a\nb\",\"c\"\"d\"\r\n1,0\r\n", ""},
		{"1,0\nx,1\n", ""},
		{"1\n\n0", "1"},
		{"A,B\n", "A"},
	} {
		f.Add(seed.text, seed.key)
	}
	f.Fuzz(func(t *testing.T, text, keyText string) {
		var right []Answer
		if keyText != "" {
			var err error
			if right, err = ParseKey(keyText); err != nil {
				return
			}
		}
		table, err := ReadCSV(strings.NewReader(text), "class.csv", right)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "class.csv:") {
				t.Errorf("error without the file: %v", err)
			}
			return
		}
		a := analyze(t, table)
		if a.N != len(table.Rows) || a.LeftOut != table.LeftOut || len(a.Items) != len(table.Items) {
			t.Errorf("%d learners, %d left out, %d items of table %+v", a.N, a.LeftOut, len(a.Items), table)
		}
		if _, err := json.Marshal(a); err != nil {
			t.Error(err)
		}
		var out bytes.Buffer
		w := csv.NewWriter(&out)
		header := []string{"learner"}
		for j := range table.Items {
			header = append(header, fmt.Sprintf("item-%d", j+1))
		}
		records := [][]string{header}
		for i, row := range table.Rows {
			record := []string{fmt.Sprintf("learner-%d", i+1)}
			for _, answer := range row {
				record = append(record, answer.String())
			}
			records = append(records, record)
		}
		if len(records) == 1 {
			return
		}
		if err := w.WriteAll(records); err != nil {
			t.Fatal(err)
		}
		again, err := ReadCSV(&out, "again.csv", right)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(table.Rows, again.Rows); diff != "" || !slices.Equal(again.Items, header[1:]) {
			t.Errorf("read back %q (-want +got):\n%s", again.Items, diff)
		}
	})
}

func BenchmarkReadCSV(b *testing.B) {
	table := bigClass()
	var text bytes.Buffer
	for i, row := range table.Rows {
		text.WriteString("learner-" + strconv.Itoa(i+1))
		for _, a := range row {
			text.WriteString("," + a.String())
		}
		text.WriteString("\n")
	}
	b.SetBytes(int64(text.Len()))
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ReadCSV(bytes.NewReader(text.Bytes()), "class.csv", table.Key); err != nil {
			b.Fatal(err)
		}
	}
}
