package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"runtime"
	"strconv"
	"strings"
	"testing"

	"rollingboil/server"
)

// TestKilledInTheMiddle answers half of a set, kills the program as a power cut
// does, starts it again on the same file, and goes on: every answer that was
// acknowledged is there.
func TestKilledInTheMiddle(t *testing.T) {
	t.Parallel()
	program := build(t)
	file := filepath.Join(t.TempDir(), "x.db")
	jar, err := cookiejar.New(nil)
	if err != nil {
		t.Fatal(err)
	}
	browser := &http.Client{Jar: jar}
	course, err := server.LoadCourse("")
	if err != nil {
		t.Fatal(err)
	}
	base, kill := start(t, program, "127.0.0.1:0", file)
	set := send(t, browser, base+"/check", url.Values{"size": {"10"}})
	address := regexp.MustCompile(`/check/[a-z0-9]+`).FindString(set)
	if address == "" {
		t.Fatalf("no set was begun: %s", set)
	}
	answered := 0
	for n := 1; n <= 10 && answered < 5; n++ {
		page := read(t, browser, fmt.Sprintf("%s%s/%d", base, address, n))
		form := rightAnswer(t, course, page)
		if form == nil {
			continue
		}
		send(t, browser, fmt.Sprintf("%s%s/%d", base, address, n), form)
		answered++
	}
	kill()
	again, kill := start(t, program, strings.TrimPrefix(base, "http://"), file)
	defer kill()
	if got := read(t, browser, again+address); !strings.Contains(got, fmt.Sprintf("%d of 10 answered", answered)) || answered == 0 {
		t.Errorf("after it was killed, %d answers are not all there", answered)
	}
	if got := send(t, browser, again+address+"/hand-in", nil); !strings.Contains(got, fmt.Sprintf("%d of 10 right", answered)) {
		t.Errorf("handed in after it was killed: not %d right", answered)
	}
}

// rightAnswer gives the form of a right answer to the question on a page.
func rightAnswer(t *testing.T, course *server.Course, page string) url.Values {
	t.Helper()
	id := regexp.MustCompile(`name="question" value="([^"]+)"`).FindStringSubmatch(page)
	seed := regexp.MustCompile(`name="seed" value="([^"]+)"`).FindStringSubmatch(page)
	if id == nil || seed == nil {
		return nil
	}
	q, ok := course.Bank.Question(id[1])
	if !ok {
		t.Fatalf("no question %s", id[1])
	}
	n, err := strconv.ParseUint(seed[1], 10, 64)
	if err != nil {
		t.Fatal(err)
	}
	asked, err := q.Ask(n)
	if err != nil {
		t.Fatal(err)
	}
	return asked.Fields(asked.Key())
}

func read(t *testing.T, c *http.Client, address string) string {
	t.Helper()
	resp, err := c.Get(address)
	return body(t, resp, err)
}

// send posts a form and gives the address it ends at and the page there.
func send(t *testing.T, c *http.Client, address string, form url.Values) string {
	t.Helper()
	resp, err := c.PostForm(address, form)
	text := body(t, resp, err)
	return resp.Request.URL.Path + "\n" + text
}

func body(t *testing.T, resp *http.Response, err error) string {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
	raw, err := io.ReadAll(resp.Body)
	if err != nil {
		t.Fatal(err)
	}
	if err := resp.Body.Close(); err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// build builds the program.
func build(tb testing.TB) string {
	tb.Helper()
	program := filepath.Join(tb.TempDir(), "rollingboil.exe")
	if out, err := exec.CommandContext(tb.Context(), "go", "build", "-o", program, ".").CombinedOutput(); err != nil {
		tb.Fatalf("%v\n%s", err, out)
	}
	return program
}

// start starts the program and waits until it listens; kill ends it without
// asking.
func start(tb testing.TB, program, address, file string) (base string, kill func()) {
	tb.Helper()
	cmd := exec.CommandContext(tb.Context(), program, "--addr", address, "--db", file)
	out, err := cmd.StdoutPipe()
	if err != nil {
		tb.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		tb.Fatal(err)
	}
	line := bufio.NewScanner(out)
	if !line.Scan() {
		tb.Fatal("it ended before it listened")
	}
	_, rest, _ := strings.Cut(line.Text(), "Rolling Boil is at ")
	base, _, _ = strings.Cut(rest, " ")
	return base, func() {
		if err := cmd.Process.Kill(); err != nil {
			tb.Error(err)
		}
		_ = cmd.Wait() // it was killed, which is no news
	}
}

// BenchmarkServeStart starts the built program with a new database and waits for
// the line that tells it is listening. It also tells what memory the program
// holds then, where the system says so.
func BenchmarkServeStart(b *testing.B) {
	program := build(b)
	held := 0.0
	for b.Loop() {
		cmd := exec.CommandContext(b.Context(), program, "--addr", "127.0.0.1:0", "--db", filepath.Join(b.TempDir(), "x.db"))
		out, err := cmd.StdoutPipe()
		if err != nil {
			b.Fatal(err)
		}
		if err := cmd.Start(); err != nil {
			b.Fatal(err)
		}
		if line := bufio.NewScanner(out); !line.Scan() {
			b.Fatal("it ended before it listened")
		}
		held = max(held, residentMiB(b, cmd.Process.Pid))
		if err := cmd.Process.Kill(); err != nil {
			b.Fatal(err)
		}
		_ = cmd.Wait() // it was killed, which is no news
	}
	if held > 0 {
		b.ReportMetric(held, "MiB-held")
	}
}

// residentMiB is the memory a process holds; 0 where only other means would tell.
func residentMiB(b *testing.B, pid int) float64 {
	b.Helper()
	if runtime.GOOS != "linux" {
		return 0
	}
	status, err := os.ReadFile(filepath.Join("/proc", strconv.Itoa(pid), "status"))
	if err != nil {
		b.Fatal(err)
	}
	_, rest, _ := bytes.Cut(status, []byte("VmRSS:"))
	kib, err := strconv.ParseFloat(strings.Fields(string(rest))[0], 64)
	if err != nil {
		b.Fatal(err)
	}
	return kib / 1024
}
