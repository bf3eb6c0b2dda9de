package main

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"rollingboil/server"
	"rollingboil/server/load"
)

// command runs one command of the program and gives what it wrote.
func command(args ...string) (code int, out, errs string) {
	var o, e bytes.Buffer
	code = run(args, console{&o, &e})
	return code, o.String(), e.String()
}

// TestBackupWhileServing: students are at work while the built program serves and copies
// are made. Each copy holds what was acknowledged before it was begun, sets handed in
// are there with all their answers, and the program serves on. The copy is restored when
// the program has ended, not before.
func TestBackupWhileServing(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	file, copied := filepath.Join(folder, "x.db"), ""
	course, err := server.LoadCourse("")
	if err != nil {
		t.Fatal(err)
	}
	book := load.NewBook(time.Now(), true)
	class := busyClass(t, book, course, file, killSeed, 4)
	base, kill := start(t, build(t), "127.0.0.1:0", file)
	ctx, end := context.WithCancel(t.Context())
	var working sync.WaitGroup
	for _, s := range class {
		s.Base = base
		working.Go(func() {
			for ctx.Err() == nil {
				if err := s.oneThing(t.Context()); err != nil {
					t.Error(err)
					return
				}
			}
			s.Leave()
		})
	}
	var sofar *load.Book
	for n := range 3 {
		select {
		case <-book.After(30):
		case <-time.After(time.Minute):
			t.Fatal("nothing is acknowledged any more")
		}
		sofar, copied = book.SoFar(), filepath.Join(folder, fmt.Sprint("copy", n, ".db"))
		if code, out, errs := command("backup", copied, "--db", file); code != exitOK || !strings.Contains(out, "is a whole copy") {
			t.Fatalf("backup: exit %d\n%s%s", code, out, errs)
		}
		checkBook(t, sofar, copied)
	}
	if code, _, errs := command("restore", copied, "--db", file); code != exitTrouble || !strings.Contains(errs, "must be stopped first") {
		t.Errorf("restore while it serves: exit %d, %s", code, errs)
	}
	end()
	working.Wait()
	checkBook(t, book, file)
	kill()
	code, out, errs := command("restore", copied, "--db", file)
	_, before, found := strings.Cut(out, "What was there before is now ")
	if code != exitOK || !found {
		t.Fatalf("restore: exit %d\n%s%s", code, out, errs)
	}
	checkBook(t, sofar, file)
	checkBook(t, book, strings.TrimSpace(before))
}
