package server

import (
	"fmt"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"rollingboil/server/store"
)

// TestFullDiskPage: what the store calls full is told in words, with what to do. That
// the store calls it so is tried in server/store with SQLite's max_page_count on every
// system, and below with a real disk where one can be had.
func TestFullDiskPage(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	rec := httptest.NewRecorder()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	server, err := New(Config{Course: course, Store: s.store, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	server.surround(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		server.fail(w, r, fmt.Errorf("save plan: %w", store.ErrFull))
	})).ServeHTTP(rec, httptest.NewRequest(http.MethodPost, "/plan", nil))
	checkFullPage(t, rec.Code, rec.Body.String())
}

func checkFullPage(t *testing.T, status int, body string) {
	t.Helper()
	if status != http.StatusInsufficientStorage {
		t.Errorf("status %d, want 507", status)
	}
	for _, want := range []string{"The disk is full", "could not be kept", "What was kept before is safe", "Tell whoever runs this course"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}
