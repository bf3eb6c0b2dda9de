package store

import (
	"context"
	"errors"
	"path/filepath"
	"testing"
)

// TestBulk fills a database in bulk: it is no longer empty, what went wrong is told, and
// afterwards each change waits for the disk again (2 is FULL,
// https://www.sqlite.org/pragma.html#pragma_synchronous).
func TestBulk(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s, err := Open(ctx, filepath.Join(t.TempDir(), "bulk.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	if empty, err := s.Empty(ctx); err != nil || !empty {
		t.Errorf("a new database is empty: %v, %v", empty, err)
	}
	stop := errors.New("stop")
	err = s.InBulk(ctx, func() error {
		return errors.Join(s.SetAltitude(ctx, "ann", 6240), stop)
	})
	if !errors.Is(err, stop) {
		t.Errorf("the error of the fill is lost: %v", err)
	}
	if empty, err := s.Empty(ctx); err != nil || empty {
		t.Errorf("a filled database is empty: %v, %v", empty, err)
	}
	var level int
	if err := s.write.QueryRowContext(ctx, `pragma synchronous`).Scan(&level); err != nil || level != 2 {
		t.Errorf("synchronous = %d, %v; want 2", level, err)
	}
}
