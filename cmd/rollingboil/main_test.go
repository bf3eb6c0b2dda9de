package main

import (
	"bufio"
	"context"
	"io"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"rollingboil/server/store"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){
		"rollingboil": func() { os.Exit(run(os.Args[1:], console{os.Stdout, os.Stderr})) },
	})
}

// TestCommands runs the scripts in testdata: what a person types and sees.
func TestCommands(t *testing.T) {
	t.Parallel()
	testscript.Run(t, testscript.Params{
		Dir: "testdata",
		Setup: func(e *testscript.Env) error {
			e.Setenv("HOME", e.WorkDir)
			e.Setenv("XDG_CONFIG_HOME", e.WorkDir+"/config")
			return nil
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){"visited": visited},
	})
}

// visited makes a database in which one visitor has kept something.
func visited(ts *testscript.TestScript, _ bool, args []string) {
	db, err := store.Open(context.Background(), ts.MkAbs(args[0]))
	ts.Check(err)
	ts.Check(db.SetAltitude(context.Background(), store.NewID(), 6240))
	ts.Check(db.Close())
}

// TestServeStopsOnASignal starts the program, asks it for a page and interrupts
// it.
func TestServeStopsOnASignal(t *testing.T) {
	out, in := io.Pipe()
	ended := make(chan int, 1)
	go func() {
		ended <- run([]string{"--addr", "127.0.0.1:0", "--db", filepath.Join(t.TempDir(), "data", "x.db")}, console{in, io.Discard})
	}()
	lines := bufio.NewScanner(out)
	if !lines.Scan() {
		t.Fatal("no first line")
	}
	_, rest, _ := strings.Cut(lines.Text(), "Rolling Boil is at ")
	address, _, _ := strings.Cut(rest, " ")
	if !lines.Scan() || !strings.Contains(lines.Text(), address+"/set-up/") {
		t.Errorf("without an instructor it does not tell how to become one: %q", lines.Text())
	}
	resp, err := http.Get(address + "/healthz")
	if err != nil {
		t.Fatalf("%s: %v", lines.Text(), err)
	}
	if err := resp.Body.Close(); err != nil || resp.StatusCode != http.StatusOK {
		t.Errorf("GET /healthz = %d, %v", resp.StatusCode, err)
	}
	me, err := os.FindProcess(os.Getpid())
	if err != nil {
		t.Fatal(err)
	}
	if err := me.Signal(os.Interrupt); err != nil {
		t.Fatal(err)
	}
	if !lines.Scan() || lines.Text() != "Stopped." {
		t.Errorf("after the signal: %q, want Stopped.", lines.Text())
	}
	if code := <-ended; code != exitOK {
		t.Errorf("exit %d, want 0", code)
	}
}
