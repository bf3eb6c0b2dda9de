package load

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"rollingboil/server/store"
)

// TestBookFinds what is lost, what is there twice, and what was never sent.
func TestBookFinds(t *testing.T) {
	t.Parallel()
	ctx, now := t.Context(), time.Now()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "x.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	save := func(question string, seed uint64, at time.Time) {
		t.Helper()
		if err := db.SaveAnswer(ctx, store.Answer{Visitor: "ada", Question: question, Seed: seed, At: at}); err != nil {
			t.Fatal(err)
		}
	}
	save("from-before", 1, now.Add(-time.Hour))
	save("kept", 2, now)
	save("twice", 3, now)
	save("twice", 3, now)
	save("from-nowhere", 4, now)
	b := NewBook(now, true)
	for _, name := range []string{answerName("kept", 2), answerName("twice", 3), attemptName(5), planName("6240", "60")} {
		b.noteSent(name)
		b.noteAcknowledged(name)
	}
	b.noteSent(setName("unanswered")) // may be there or not
	err = b.Check(ctx, db)
	if err == nil {
		t.Fatal("Check() = nil")
	}
	for _, want := range []string{"attempt 5 was acknowledged and is not there", "plan 6240 60 was acknowledged and is not there", "answer twice 3 is there 2 times", "answer from-nowhere 4 is there and was never sent"} {
		if !strings.Contains(err.Error(), want) {
			t.Errorf("Check() does not say %q", want)
		}
	}
	if n := strings.Count(err.Error(), "\n") + 1; n != 4 {
		t.Errorf("Check() says %d things, want 4:\n%v", n, err)
	}
}
