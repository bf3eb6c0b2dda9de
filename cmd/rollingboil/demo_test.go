package main

import (
	"bufio"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// TestDemo starts the program with the invented class and logs in with what it prints.
func TestDemo(t *testing.T) {
	t.Parallel()
	cmd := exec.CommandContext(t.Context(), build(t), "--demo", "--addr", "127.0.0.1:0", "--db", filepath.Join(t.TempDir(), "demo.db"))
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := cmd.Process.Kill(); err != nil {
			t.Error(err)
		}
		_ = cmd.Wait() // it was killed, which is no news
	})
	said := ""
	for lines := bufio.NewScanner(out); !strings.Contains(said, "shown this once") && lines.Scan(); {
		said += lines.Text() + "\n"
	}
	if !strings.Contains(said, "invented example") {
		t.Errorf("it does not say that the class is invented:\n%s", said)
	}
	base := regexp.MustCompile(`http://[0-9.:]+`).FindString(said)
	logins := regexp.MustCompile(`as (?:the instructor|a student) +(.+), password ([a-z-]+)`).FindAllStringSubmatch(said, -1)
	if len(logins) != 2 {
		t.Fatalf("it does not tell how to log in:\n%s", said)
	}
	for _, login := range logins {
		jar, err := cookiejar.New(nil)
		if err != nil {
			t.Fatal(err)
		}
		browser := &http.Client{Jar: jar}
		page := send(t, browser, base+"/login", url.Values{"name": {login[1]}, "password": {login[2]}})
		if !strings.Contains(page, "(invented example)") {
			t.Errorf("%s is not led to the class: %.200s", login[1], page)
		}
	}
}
