package main

import (
	"bufio"
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"testing"
	"time"
)

// manyPlans writes a file of n plans, one to a line, of which every tenth is ten
// minutes short.
func manyPlans(t testing.TB, n int) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "many.jsonl")
	file, err := os.Create(name)
	if err != nil {
		t.Fatal(err)
	}
	w := bufio.NewWriter(file)
	for i := range n {
		minutes := 60
		if i%10 == 9 {
			minutes = 50
		}
		fmt.Fprintf(w, `{"food":"tomatoes-crushed","pack":"hot","method":"boiling-water","jar":"quart","altitude":"%d ft","time":"%d min","headspace":"1/2 in","acid":{"kind":"bottled-lemon-juice","per_jar":"2 tbsp"}}`+"\n", 6001+i%3000, minutes)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	if err := file.Close(); err != nil {
		t.Fatal(err)
	}
	return name
}

// lineCounter counts lines, checks that they come in order and looks at the heap
// now and then.
type lineCounter struct {
	t            *testing.T
	lines, short int
	every        int
	heap         []uint64 // bytes in use after collecting, one each `every` lines
}

// Write takes one line.
func (c *lineCounter) Write(p []byte) (int, error) {
	for line := range bytes.Lines(p) {
		if len(bytes.TrimSpace(line)) == 0 {
			continue
		}
		c.lines++
		if !bytes.Contains(line[:100], fmt.Appendf(nil, "many.jsonl:%d\",", c.lines)) && c.short >= 0 {
			c.t.Errorf("line %d is %.100s", c.lines, line)
			c.short = -1
		}
		if bytes.Contains(line, []byte(`"verdict":"unsafe"`)) && c.short >= 0 {
			c.short++
		}
		if c.lines%c.every == 0 {
			runtime.GC()
			var m runtime.MemStats
			runtime.ReadMemStats(&m)
			c.heap = append(c.heap, m.HeapAlloc)
		}
	}
	return len(p), nil
}

// TestHundredThousandPlans grades 100 000 plans in one run: all are answered, in
// order, and what is held in memory does not grow with them.
func TestHundredThousandPlans(t *testing.T) {
	const n = 100_000
	out := &lineCounter{t: t, every: n / 20}
	if code := run([]string{"grade", "--jsonl", manyPlans(t, n)}, console{out, io.Discard}); code != exitNot {
		t.Errorf("exit %d, want %d", code, exitNot)
	}
	if out.lines != n || out.short != n/10 {
		t.Errorf("%d lines, %d of them short, want %d and %d", out.lines, out.short, n, n/10)
	}
	const most = 2 << 20 // bytes; the reports of all lines would be a hundred times as much
	if least, last := slices.Min(out.heap), slices.Max(out.heap); last > least+most {
		t.Errorf("the heap grew from %d to %d bytes: %v", least, last, out.heap)
	}
	t.Logf("heap in use at each twentieth, bytes: %v", out.heap)
}

// TestInOrder: answers come in the order of the items, before many more are read.
func TestInOrder(t *testing.T) {
	t.Parallel()
	read := 0
	items := func(yield func(int) bool) {
		for read = 0; read < 10_000; read++ {
			if !yield(read) {
				return
			}
		}
	}
	slowWhenEven := func(n int) int {
		if n%2 == 0 {
			time.Sleep(10 * time.Microsecond)
		}
		return n
	}
	want := 0
	for got := range inOrder(items, slowWhenEven) {
		if got != want {
			t.Fatalf("item %d came as number %d", got, want)
		}
		want++
		if want == 5000 {
			break
		}
	}
	if held := read - want; held < 0 || held > 8*runtime.GOMAXPROCS(0) {
		t.Errorf("%d items had been read when %d were taken", read, want)
	}
	n := 0
	for range inOrder(slices.Values([]int{}), slowWhenEven) {
		n++
	}
	if n != 0 {
		t.Errorf("%d of nothing", n)
	}
}

type brokenPipe struct{}

func (brokenPipe) Write([]byte) (int, error) { return 0, io.ErrClosedPipe }

// TestNobodyReads: when reports cannot be written, grading ends at once.
func TestNobodyReads(t *testing.T) {
	t.Parallel()
	var said strings.Builder
	if code := run([]string{"grade", "--jsonl", manyPlans(t, 1000)}, console{brokenPipe{}, &said}); code != exitTrouble || !strings.Contains(said.String(), "write a report") {
		t.Errorf("exit %d, %s", code, said.String())
	}
}

// TestLongLine: a line that is longer than a plan may be is named, and what was
// before it is graded.
func TestLongLine(t *testing.T) {
	t.Parallel()
	name := filepath.Join(t.TempDir(), "long.jsonl")
	if err := os.WriteFile(name, []byte(`{"food":"peaches"}`+"\n"+strings.Repeat("a", maxPlan+1)+"\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	var out, said strings.Builder
	code := run([]string{"grade", "--jsonl", name}, console{&out, &said})
	if code != exitTrouble || strings.Count(out.String(), "\n") != 1 || !strings.Contains(said.String(), name+":2: ") {
		t.Errorf("exit %d\n%s\n%.200s", code, out.String(), said.String())
	}
}

// TestListsAreJSON: several files give one JSON list, whatever could not be read.
func TestListsAreJSON(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	for name, text := range map[string]string{"a.yaml": "food: peaches\n", "b.yaml": "tiem: 3\n", "c.json": `{"food":"pears"}`} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for _, tc := range []struct {
		args  []string
		want  []string // files with a report, in order
		exits int
	}{
		{[]string{dir}, []string{"a.yaml", "c.json"}, exitTrouble},
		{[]string{filepath.Join(dir, "c.json"), filepath.Join(dir, "a.yaml")}, []string{"c.json", "a.yaml"}, exitNot},
		{[]string{filepath.Join(dir, "b.yaml"), filepath.Join(dir, "b.yaml")}, nil, exitTrouble},
	} {
		var out strings.Builder
		code := run(append([]string{"grade", "--json"}, tc.args...), console{&out, io.Discard})
		var list []struct{ File string }
		if err := json.Unmarshal([]byte(out.String()), &list); err != nil || code != tc.exits {
			t.Errorf("%v: exit %d, %v\n%s", tc.args, code, err, out.String())
		}
		var got []string
		for _, r := range list {
			got = append(got, filepath.Base(r.File))
		}
		if !slices.Equal(got, tc.want) {
			t.Errorf("%v: reports on %v, want %v", tc.args, got, tc.want)
		}
	}
}

func BenchmarkGradeLines(b *testing.B) {
	name := manyPlans(b, 10_000)
	b.ReportAllocs()
	for b.Loop() {
		if code := run([]string{"grade", "--jsonl", name}, console{io.Discard, io.Discard}); code != exitNot {
			b.Fatal(code)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/10_000, "ns/plan")
}
