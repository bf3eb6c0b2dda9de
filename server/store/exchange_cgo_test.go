//go:build cgo

package store

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"
)

// The other driver can be built wherever this one can, so the test is run from
// this side only: it builds this test program once more without cgo.
func TestFilesAreSharedWithTheOtherDriver(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	program := filepath.Join(t.TempDir(), "purego.test.exe")
	build := exec.CommandContext(ctx, "go", "test", "-c", "-o", program, ".")
	build.Env = append(os.Environ(), "CGO_ENABLED=0")
	if out, err := build.CombinedOutput(); err != nil {
		t.Fatalf("build without cgo: %v\n%s", err, out)
	}
	otherDriver := func(path string) {
		t.Helper()
		run := exec.CommandContext(ctx, program)
		run.Env = append(os.Environ(), exchangeVariable+"="+path)
		if out, err := run.CombinedOutput(); err != nil {
			t.Fatalf("the other driver: %v\n%s", err, out)
		}
	}
	check := func(s *Store, visitors ...string) {
		t.Helper()
		for _, v := range visitors {
			if err := sampleOf(v).check(ctx, s); err != nil {
				t.Error(err)
			}
		}
		if err := s.Integrity(ctx); err != nil {
			t.Error(err)
		}
	}

	t.Run("one after the other", func(t *testing.T) {
		path := newPath(t)
		s, err := Open(ctx, path)
		if err != nil {
			t.Fatal(err)
		}
		if err := sampleOf("ada").save(ctx, s); err != nil {
			t.Fatal(err)
		}
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		otherDriver(path)
		check(openStore(t, path), "ada", "ben")
	})
	t.Run("both at once", func(t *testing.T) {
		path := newPath(t)
		s := openStore(t, path)
		if err := sampleOf("ada").save(ctx, s); err != nil {
			t.Fatal(err)
		}
		otherDriver(path)
		check(s, "ada", "ben")
	})
	t.Run("the other driver makes the file", func(t *testing.T) {
		path := newPath(t)
		otherDriver(path)
		s := openStore(t, path)
		if err := sampleOf("ada").save(ctx, s); err != nil {
			t.Fatal(err)
		}
		check(s, "ada", "ben")
	})
}
