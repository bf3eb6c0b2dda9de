package server

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"
)

// onSmallDisk names the folder of the disk to the test that is started again.
const onSmallDisk = "ROLLINGBOIL_SMALL_DISK"

const cannotMount = "cannot mount a small disk: "

// TestFullDisk fills a real disk while the site runs on it. The disk is a small one in
// memory, which this test mounts where nobody else sees it: it starts itself again as
// the root of a name space of its own, which most systems let anybody do.
func TestFullDisk(t *testing.T) {
	if folder := os.Getenv(onSmallDisk); folder != "" {
		fillTheDisk(t, folder)
		return
	}
	cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestFullDisk$", "-test.v")
	cmd.Env = append(os.Environ(), onSmallDisk+"="+t.TempDir())
	cmd.SysProcAttr = &syscall.SysProcAttr{
		Cloneflags:  syscall.CLONE_NEWUSER | syscall.CLONE_NEWNS,
		UidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getuid(), Size: 1}},
		GidMappings: []syscall.SysProcIDMap{{ContainerID: 0, HostID: os.Getgid(), Size: 1}},
	}
	out, err := cmd.CombinedOutput()
	var exit *exec.ExitError
	switch {
	case err == nil && strings.Contains(string(out), "--- PASS: TestFullDisk"):
	case err != nil && !errors.As(err, &exit), strings.Contains(string(out), cannotMount):
		t.Logf("no disk can be mounted on this system (%v): TestFullDiskPage and max_page_count in server/store stand in for it\n%s", err, out)
	default:
		t.Errorf("on a small disk: %v\n%s", err, out)
	}
}

func fillTheDisk(t *testing.T, folder string) {
	if err := syscall.Mount("tmpfs", folder, "tmpfs", 0, "size=4m"); err != nil {
		t.Fatal(cannotMount, err)
	}
	t.Cleanup(func() {
		if err := syscall.Unmount(folder, 0); err != nil {
			t.Error(err)
		}
	})
	c := &clock{at: time.Date(2026, 8, 20, 18, 0, 0, 0, time.UTC)}
	s := newSiteAt(t, filepath.Join(folder, "x.db"), c.now)
	class := s.browser().instructor("Ada Field").makesClass("Autumn class")
	cora := s.browser()
	cora.joins(class, "Cora Lakeshore")
	kept := 0
	plan := func() response {
		form := goodPlan()
		form.Set("altitude", fmt.Sprintf("%d ft", 6100+kept))
		got := s.post("/plan", form)
		if got.StatusCode == http.StatusOK {
			kept++
		}
		return got
	}
	for range 5 {
		plan()
	}
	if kept != 5 {
		t.Fatalf("%d of 5 plans are kept while there is room", kept)
	}
	filler, err := os.Create(filepath.Join(folder, "filler"))
	if err != nil {
		t.Fatal(err)
	}
	size, err := io.Copy(filler, zeros{})
	if !errors.Is(err, syscall.ENOSPC) {
		t.Fatalf("filling the disk: %v", err)
	}
	if err := filler.Close(); err != nil {
		t.Fatal(err)
	}
	got := plan()
	for n := 0; n < 50 && got.StatusCode == http.StatusOK; n++ { // the last block may have room
		got = plan()
	}
	checkFullPage(t, got.StatusCode, got.body)
	held := func(when string) {
		t.Helper()
		visitors, err := s.store.Visitors(t.Context())
		if err != nil || len(visitors) < 2 {
			t.Fatalf("%s: visitors %v, %v", when, visitors, err)
		}
		plans, err := s.store.ListPlans(t.Context(), s.visitor())
		if err != nil || len(plans) != kept {
			t.Errorf("%s: %d plans are kept, %v; %d were acknowledged", when, len(plans), err, kept)
		}
		if err := s.store.Integrity(t.Context()); err != nil {
			t.Errorf("%s: %v", when, err)
		}
	}
	held("on the full disk")
	for _, path := range []string{"/lessons/headspace", "/my-work", "/times"} {
		if got := s.get(path); got.StatusCode != http.StatusOK {
			t.Errorf("on the full disk: GET %s = %d", path, got.StatusCode)
		}
	}
	c.pass(2 * seenEvery) // so that it is to be kept that her session is in use
	for _, path := range []string{"/lessons/headspace", "/class/" + class.ID} {
		cora.wants(cora.get(path), http.StatusOK)
	}

	// With room to delete and not to rebuild the file, it is told so and done later.
	if err := os.Truncate(filler.Name(), size-200<<10); err != nil {
		t.Fatal(err)
	}
	cora.wants(cora.post("/my-work/forget", nil), http.StatusAccepted, "It is deleted", "tried again every hour")
	if got := cora.get("/class/" + class.ID); got.StatusCode != http.StatusNotFound {
		t.Errorf("after it is deleted, the class is %d", got.StatusCode)
	}
	if err := os.Remove(filler.Name()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.store.SweepSessions(t.Context(), c.now()); err != nil {
		t.Fatal(err)
	}
	for _, file := range []string{"x.db", "x.db-wal"} {
		if held, err := os.ReadFile(filepath.Join(folder, file)); err != nil || bytes.Contains(held, []byte("Lakeshore")) {
			t.Errorf("%s holds the name, or cannot be read: %v", file, err)
		}
	}
	if got := plan(); got.StatusCode != http.StatusOK {
		t.Errorf("with room again: POST /plan = %d", got.StatusCode)
	}
	held("with room again")
}

// zeros never ends.
type zeros struct{}

// Read gives nothing but zeros.
func (zeros) Read(p []byte) (int, error) {
	clear(p)
	return len(p), nil
}
