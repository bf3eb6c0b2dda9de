package store

import (
	"errors"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/google/go-cmp/cmp"
)

func TestSessions(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	sessions := s.Sessions()
	var _ scs.CtxStore = sessions

	find := func(token, want string) {
		t.Helper()
		got, found, err := sessions.FindCtx(ctx, token)
		if err != nil || found != (want != "") || string(got) != want {
			t.Errorf("FindCtx(%q) = %q, %v, %v, want %q", token, got, found, err, want)
		}
		got, found, err = sessions.Find(token)
		if err != nil || found != (want != "") || string(got) != want {
			t.Errorf("Find(%q) = %q, %v, %v, want %q", token, got, found, err, want)
		}
	}
	now := time.Now()

	find("a", "")
	if err := sessions.CommitCtx(ctx, "a", []byte("first"), now.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	find("a", "first")
	if err := sessions.Commit("a", []byte("second\x00"), now.Add(time.Hour)); err != nil {
		t.Fatal(err)
	}
	find("a", "second\x00")
	find("b", "")

	if err := sessions.Commit("old", []byte("x"), now.Add(-time.Nanosecond)); err != nil {
		t.Fatal(err)
	}
	find("old", "")

	for _, remove := range []func(string) error{
		sessions.Delete,
		func(token string) error { return sessions.DeleteCtx(ctx, token) },
	} {
		if err := sessions.Commit("a", []byte("x"), now.Add(time.Hour)); err != nil {
			t.Fatal(err)
		}
		if err := remove("a"); err != nil {
			t.Fatal(err)
		}
		find("a", "")
		if err := remove("a"); err != nil {
			t.Errorf("deleting an unknown session: %v", err)
		}
	}
}

func TestSweepTakesExpiredSessionsOnly(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	s := openStore(t, newPath(t))
	// Expiry times differ by zone and by digits of the second, and still
	// compare as times.
	denver := time.FixedZone("", -6*60*60)
	for token, expires := range map[string]time.Time{
		"long ago": noon.AddDate(0, -1, 0),
		"just now": noon,
		"in Utah":  noon.In(denver),
		"a tick":   noon.Add(time.Nanosecond).In(denver),
		"second":   noon.Truncate(time.Second).Add(time.Second),
		"tomorrow": noon.AddDate(0, 0, 1),
	} {
		if err := s.Sessions().Commit(token, []byte(token), expires); err != nil {
			t.Fatal(err)
		}
	}
	if n, err := s.SweepSessions(ctx, noon); n != 3 || err != nil {
		t.Errorf("SweepSessions() = %d, %v, want 3", n, err)
	}
	left, err := queryAll(ctx, s.read, scanText, "select token from sessions order by token")
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff([]string{"a tick", "second", "tomorrow"}, left); d != "" {
		t.Errorf("left after the sweep (-want +got):\n%s", d)
	}
}

func TestSessionsReportAFullDisk(t *testing.T) {
	t.Parallel()
	s := openStore(t, newPath(t))
	if _, err := s.write.ExecContext(t.Context(), "pragma max_page_count = 30"); err != nil {
		t.Fatal(err)
	}
	err := s.Sessions().Commit("a", make([]byte, 1_000_000), noon)
	if !errors.Is(err, ErrFull) {
		t.Errorf("Commit() = %v, want ErrFull", err)
	}
}

// A file of before, in which tokens lay open, lets who is in stay in, as the session
// manager finds its sessions, and holds no token afterwards.
func TestTokensAreHashed(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	statements, err := os.ReadFile(filepath.Join("testdata", "schema-0004.sql"))
	if err != nil {
		t.Fatal(err)
	}
	data, err := scs.GobCodec{}.Encode(time.Now().Add(time.Hour), map[string]any{"visitor": "ada"})
	if err != nil {
		t.Fatal(err)
	}
	path := newPath(t)
	raw := rawDatabase(t, path)
	if _, err := raw.ExecContext(ctx, string(statements)); err != nil {
		t.Fatal(err)
	}
	if _, err := raw.ExecContext(ctx, commitSession, "an-open-token", data, timeText(time.Now().Add(time.Hour))); err != nil {
		t.Fatal(err)
	}
	if err := raw.Close(); err != nil {
		t.Fatal(err)
	}
	s := openStore(t, path)
	m := scs.New()
	m.Store, m.HashTokenInStore = s.Sessions(), true
	loaded, err := m.Load(ctx, "an-open-token")
	if err != nil || m.GetString(loaded, "visitor") != "ada" {
		t.Errorf("the session is lost: %v", err)
	}
	if _, found, err := s.Sessions().FindCtx(ctx, "an-open-token"); found || err != nil {
		t.Errorf("the token still lies open: %v", err)
	}
}
