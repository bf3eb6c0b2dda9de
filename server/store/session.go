package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"github.com/alexedwards/scs/v2"
)

// Sessions returns the part of the store that keeps the sessions of the web
// pages, for the session manager.
func (s *Store) Sessions() scs.CtxStore {
	return sessions{s}
}

// sessions keeps the data of sessions under their tokens.
type sessions struct {
	store *Store
}

const findSession = `select data from sessions where token = ? and expires > ?`

// FindCtx returns the data of the session, and false if there is none or it has
// expired.
func (s sessions) FindCtx(ctx context.Context, token string) ([]byte, bool, error) {
	var data []byte
	err := s.store.read.QueryRowContext(ctx, findSession, token, timeText(time.Now())).Scan(&data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil, false, nil
	}
	if err != nil {
		return nil, false, fmt.Errorf("find session: %w", kind(err))
	}
	return data, true, nil
}

const commitSession = `insert into sessions (token, data, expires) values (?, ?, ?)
on conflict (token) do update set data = excluded.data, expires = excluded.expires`

// CommitCtx keeps the data of the session until the time it expires, in place
// of any earlier data.
func (s sessions) CommitCtx(ctx context.Context, token string, data []byte, expires time.Time) error {
	if err := s.store.change(ctx, commitSession, token, blob(data), timeText(expires)); err != nil {
		return fmt.Errorf("commit session: %w", err)
	}
	return nil
}

const deleteSession = `delete from sessions where token = ?`

// DeleteCtx ends the session. A session nobody knows is no error.
func (s sessions) DeleteCtx(ctx context.Context, token string) error {
	if err := s.store.change(ctx, deleteSession, token); err != nil {
		return fmt.Errorf("delete session: %w", err)
	}
	return nil
}

// Find is FindCtx without a context.
func (s sessions) Find(token string) ([]byte, bool, error) {
	return s.FindCtx(context.Background(), token)
}

// Commit is CommitCtx without a context.
func (s sessions) Commit(token string, data []byte, expires time.Time) error {
	return s.CommitCtx(context.Background(), token, data, expires)
}

// Delete is DeleteCtx without a context.
func (s sessions) Delete(token string) error {
	return s.DeleteCtx(context.Background(), token)
}

const sweepSessions = `delete from sessions where expires <= ?`

// SweepSessions deletes the sessions that have expired by now and returns how
// many those were. It also empties the write-ahead log, and wipes what [Store.Forget]
// could not. The server calls it from time to time.
func (s *Store) SweepSessions(ctx context.Context, now time.Time) (int, error) {
	var n int64
	err := s.together(ctx, func(tx *sql.Tx) error {
		result, err := tx.ExecContext(context.WithoutCancel(ctx), sweepSessions, timeText(now))
		if err != nil {
			return err
		}
		n, err = result.RowsAffected()
		return err
	})
	if err != nil {
		return 0, fmt.Errorf("sweep sessions: %w", err)
	}
	var unwiped int
	if err := s.read.QueryRowContext(ctx, isUnwiped).Scan(&unwiped); err != nil {
		return 0, fmt.Errorf("sweep sessions: %w", kind(err))
	}
	if unwiped > 0 {
		if err := s.wipe(ctx); err != nil {
			return 0, fmt.Errorf("sweep sessions: %w: %w", ErrUnwiped, err)
		}
	}
	if err := s.checkpoint(ctx); err != nil {
		return 0, fmt.Errorf("sweep sessions: %w", kind(err))
	}
	return int(n), nil
}
