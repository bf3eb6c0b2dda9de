package load

import (
	"context"
	"fmt"
	"log/slog"
	"maps"
	"math/rand/v2"
	"net/http/httptest"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"rollingboil/server"
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

// TestBookFindsWhatABatchLacks: a batch goes its whole way over HTTP, and then one thing
// after the other is missing, by a book that was told of it, or is there twice.
func TestBookFindsWhatABatchLacks(t *testing.T) {
	t.Parallel()
	ctx, now := t.Context(), time.Now()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "x.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	course, err := server.LoadCourse("")
	if err != nil {
		t.Fatal(err)
	}
	class, err := MakeClass(ctx, db, now)
	if err != nil {
		t.Fatal(err)
	}
	site, err := server.New(server.Config{Course: course, Store: db, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(site.Handler())
	defer web.Close()
	book := NewBook(now, true)
	s := NewStudent(book, course, rand.New(rand.NewPCG(1, 1)))
	s.Base, s.Class = web.URL, class
	if s.Photo, err = DrawPhoto(160, 120); err != nil {
		t.Fatal(err)
	}
	for _, step := range []func(context.Context) error{s.Join, s.Batch} {
		if err := step(ctx); err != nil {
			t.Fatal(err)
		}
	}
	s.Leave()
	// An account, a member, a batch, two versions, two events and a photo.
	if got := book.Acknowledged(); got != 8 {
		t.Errorf("%d things are acknowledged, want 8: %v", got, slices.Sorted(maps.Keys(book.acknowledged)))
	}
	if err := book.Check(ctx, db); err != nil {
		t.Fatalf("with everything there: %v", err)
	}

	batches, err := db.ClassBatches(ctx, class.ID)
	if err != nil || len(batches) != 1 {
		t.Fatalf("%d batches, %v", len(batches), err)
	}
	batch, visitor := batches[0].ID, batches[0].Visitor
	says := func(want ...string) {
		t.Helper()
		err := fmt.Sprint(book.Check(ctx, db))
		for _, w := range want {
			if !strings.Contains(err, w) {
				t.Errorf("Check() does not say %q:\n%s", w, err)
			}
		}
		if n := strings.Count(err, "\n") + 1; n != len(want) {
			t.Errorf("Check() says %d things, want %d:\n%s", n, len(want), err)
		}
	}

	// A version that was acknowledged and is not kept; one that is kept and was not sent.
	missing := versionName(batch, 3, recordName("lot 99"))
	book.noteSent(missing)
	book.noteAcknowledged(missing)
	says(missing + " was acknowledged and is not there")
	if err := db.AddBatchVersion(ctx, store.BatchVersion{Batch: batch, N: 3, Kind: store.RecordVersion, Lot: "lot 98", At: now}, store.RecordSent); err != nil {
		t.Fatal(err)
	}
	nowhere := versionName(batch, 3, recordName("lot 98")) + " is there and was never sent"
	says(missing+" was acknowledged and is not there", nowhere)
	delete(book.acknowledged, missing)

	// Handed in twice.
	if err := db.AddBatchEvent(ctx, batch, store.BatchEvent{What: store.RecordSent, N: 2, At: now}, store.RecordSent); err != nil {
		t.Fatal(err)
	}
	twice := eventName(batch, store.RecordSent, 2) + " is there 2 times"
	says(nowhere, twice)

	// A photo that is not the one that was kept, and one that is gone.
	if err := db.AddBatchPhoto(ctx, store.BatchPhoto{ID: store.NewID(), Batch: batch, Jar: 2, Sum: "of another", Width: 1, Height: 1, At: now}, []byte("small"), []byte("big"), 24); err != nil {
		t.Fatal(err)
	}
	book.noteSent(photoName(batch, 2))
	says(nowhere, twice, photoName(batch, 2)+" is there and is not the picture that was kept")
	photos, err := db.BatchPhotos(ctx, batch)
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range photos {
		if err := db.DeletePhoto(ctx, batch, p.ID); err != nil {
			t.Fatal(err)
		}
	}
	gone := photoName(batch, 1) + " was acknowledged and is not there"
	says(nowhere, twice, gone)

	// A student who is in the class no more, and then nothing at all.
	if err := db.Leave(ctx, class.ID, visitor); err != nil {
		t.Fatal(err)
	}
	says(nowhere, twice, gone, memberName(class.ID, s.name)+" was acknowledged and is not there")
	if err := db.Forget(ctx, visitor); err != nil {
		t.Fatal(err)
	}
	for name := range book.acknowledged {
		if err := book.Check(ctx, db); err == nil || !strings.Contains(err.Error(), name+" was acknowledged and is not there") {
			t.Errorf("%s is not missed: %v", name, err)
		}
	}
}

// TestFindClass tells what is missing when nobody could join or cook.
func TestFindClass(t *testing.T) {
	t.Parallel()
	ctx, now := t.Context(), time.Now()
	db, err := store.Open(ctx, filepath.Join(t.TempDir(), "x.db"))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	class, err := MakeClass(ctx, db, now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := FindClass(ctx, db, "no-such-code", now); err == nil || !strings.Contains(err.Error(), `"no-such-code" opens no class`) {
		t.Errorf("another code: %v", err)
	}
	if _, err := FindClass(ctx, db, class.Code, now.AddDate(0, 0, 2)); err == nil || !strings.Contains(err.Error(), "opens no class") {
		t.Errorf("after its time: %v", err)
	}
	if err := db.TakeBack(ctx, class.ID, class.Assignment); err != nil {
		t.Fatal(err)
	}
	if _, err := FindClass(ctx, db, class.Code, now); err == nil || !strings.Contains(err.Error(), "assign a practice batch of crushed tomatoes") {
		t.Errorf("without a batch: %v", err)
	}
}
