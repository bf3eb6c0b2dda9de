package store

import (
	"context"
	"errors"
	"fmt"
)

const (
	countAll = `select (select count(*) from visitors) + (select count(*) from people) + (select count(*) from classes)`

	waitSeldom = `pragma synchronous = normal`
	waitAlways = `pragma synchronous = full`
)

// Empty says whether nothing is kept for anybody: no visitor, no person and no class.
func (s *Store) Empty(ctx context.Context) (bool, error) {
	var n int
	if err := s.read.QueryRowContext(ctx, countAll).Scan(&n); err != nil {
		return false, fmt.Errorf("look whether the database is empty: %w", kind(err))
	}
	return n == 0, nil
}

// InBulk runs a fill of thousands of changes without waiting for the disk after each.
// When it returns everything is on the disk; a power cut before that can lose the
// latest changes, of whoever made them, but never damages the file. It is for a
// database that nobody uses yet.
func (s *Store) InBulk(ctx context.Context, fill func() error) error {
	if _, err := s.write.ExecContext(ctx, waitSeldom); err != nil {
		return fmt.Errorf("fill the database: %w", kind(err))
	}
	err := fill()
	whatever := context.WithoutCancel(ctx)
	_, back := s.write.ExecContext(whatever, waitAlways)
	return errors.Join(err, kind(back), kind(s.checkpoint(whatever)))
}
