package exchange

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// TestNoCellIsAFormula: OWASP, CSV Injection: cells that begin with = + - @, tab or
// carriage return.
func TestNoCellIsAFormula(t *testing.T) {
	t.Parallel()
	for cell, want := range map[string]string{
		`=1+1`: `'=1+1`, `=HYPERLINK("https://example.org/"&A1,"x")`: `'=HYPERLINK("https://example.org/"&A1,"x")`,
		`+1`: `'+1`, `-1`: `'-1`, `@SUM(A1)`: `'@SUM(A1)`, "\t=1": "'\t=1", "\r=1": "'\r=1",
		`a=1`: `a=1`, `'=1`: `'=1`, ``: ``, `1/2 in`: `1/2 in`, ` =1`: ` =1`, `–1`: `–1`,
	} {
		if got := SafeCell(cell); got != want {
			t.Errorf("cell %q is written %q, want %q", cell, got, want)
		}
	}
}

func readCSV(t interface{ Fatal(...any) }, data []byte) [][]string {
	rows, err := csv.NewReader(bytes.NewReader(data)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows
}

func dangerous(cell string) bool {
	return cell != "" && strings.Contains("=+-@\t\r", cell[:1])
}

// TestCSVOfQuestions: every row has the cells of the header (RFC 4180, section 2), says
// what the question says, and no cell is a formula.
func TestCSVOfQuestions(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		set, err := Variants(anyBank(t).Questions(), 2)
		if err != nil {
			t.Fatal(err)
		}
		i := rapid.IntRange(0, len(set.Questions)-1).Draw(t, "question")
		set.Questions[i].Stem = rapid.SampledFrom([]string{"=cmd|' /C calc'!A0", "@x", "+1", "-1", "\t=1", "\r=1"}).Draw(t, "stem")
		var out bytes.Buffer
		if err := WriteCSV(&out, set); err != nil {
			t.Fatal(err)
		}
		rows := readCSV(t, out.Bytes())
		if want := []string{"id", "seed", "lesson", "competencies", "kind", "stem", "key", "wrong", "why", "source", "page"}; !slices.Equal(rows[0], want) {
			t.Fatalf("header %v", rows[0])
		}
		for i, q := range set.Questions {
			row := rows[i+1]
			for _, cell := range row {
				if dangerous(cell) {
					t.Fatalf("cell %q", cell)
				}
			}
			if row[0] != q.ID || row[1] != strconv.FormatUint(q.Seed, 10) || row[4] != q.Kind || !strings.Contains(row[5], line(q.Stem)) || strings.Count(row[7], "[m-") != len(q.wrongAnswers()) {
				t.Fatalf("row %q of %+v", row, q)
			}
		}
	})
}

// TestCSVOfAnswers: learners type what they like.
func TestCSVOfAnswers(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 8, 20, 9, 30, 0, 250e6, time.FixedZone("", -6*3600))
	answers := []Answer{
		{Learner: "-aB3", Question: "a-1", Seed: 1<<64 - 1, Lesson: "a", Given: []string{"=1+1", "b, \"c\""}, Right: true, At: at, Took: 8500 * time.Millisecond},
		{Learner: "x", Question: "a-2", Sitting: "s-1", Given: []string{"\t@x"}, Misconceptions: []string{"m-1", "m-2"}, At: at},
	}
	var out bytes.Buffer
	if err := WriteAnswers(&out, answers); err != nil {
		t.Fatal(err)
	}
	rows := readCSV(t, out.Bytes())
	want := [][]string{
		{"learner", "question", "seed", "lesson", "sitting", "given", "right", "misconceptions", "at", "seconds"},
		{"'-aB3", "a-1", "18446744073709551615", "a", "", "'=1+1\nb, \"c\"", "1", "", "2026-08-20T15:30:00.250Z", "8.5"},
		{"x", "a-2", "0", "", "s-1", "'@x", "0", "m-1 m-2", "2026-08-20T15:30:00.250Z", ""},
	}
	if !slices.EqualFunc(rows, want, slices.Equal) {
		t.Errorf("rows\n%q\nwant\n%q", rows, want)
	}
}
