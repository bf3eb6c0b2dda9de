package main

import (
	"bytes"
	"errors"
	"regexp"
	"strings"
	"testing"
	"time"

	"rollingboil/server/load"
)

// TestSmallClass plays a small class on a server of its own: nobody is left out. Of each
// student are kept an account and a membership; three answers, a plan and a scenario; a
// batch with two versions, sent in twice; and of every fourth a photo: twelve things of
// each, and three photos.
func TestSmallClass(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	f := flags{Students: 12, Within: 200 * time.Millisecond, Most: time.Minute, Answers: 3, Late: 25, Photos: 25, Seed: 7}
	if err := run(t.Context(), f, &out); err != nil {
		t.Fatalf("%v\n%s", err, out.String())
	}
	before, deadline, found := strings.Cut(out.String(), "The deadline.")
	if !found {
		t.Fatalf("the deadline is not told of apart:\n%s", out.String())
	}
	for _, part := range []struct {
		of   string
		says []string
	}{
		{before, []string{`(?m)^join +9 .* 0$`, `9 of 9 students done in .*; 0 failed`}},
		{deadline, []string{
			`(?m)^join +3 `, `(?m)^lesson +12 `, `(?m)^question +36 `, `(?m)^answer +36 `, `(?m)^plan +12 `, `(?m)^scenario +12 `,
			`(?m)^begin +12 `, `(?m)^batch plan +12 `, `(?m)^record +12 `, `(?m)^photo +3 `, `(?m)^hand in +24 `,
			`12 of 12 students done in .*; 0 failed`, `147 things were acknowledged; all are in the database`,
		}},
	} {
		for _, want := range part.says {
			if !regexp.MustCompile(want).MatchString(part.of) {
				t.Errorf("the report lacks %s:\n%s", want, out.String())
			}
		}
	}
}

// TestFailuresAreTold: each kind with its own number, and a student who was sent home is
// not passed over.
func TestFailuresAreTold(t *testing.T) {
	t.Parallel()
	s := newSeen()
	s.students, s.took = 2, time.Second
	s.note(load.Plan, time.Millisecond, nil)
	s.oneDone()
	if err := s.wrong(); err == nil || !strings.Contains(err.Error(), "1 of 2 students were not done") {
		t.Errorf("one was sent home: %v", err)
	}
	s.note(load.Photo, time.Millisecond, errors.New("503 Service Unavailable"))
	s.note(load.Photo, time.Millisecond, errors.New("429 Too Many Requests"))
	if err := s.wrong(); err == nil || !strings.Contains(err.Error(), "2 requests failed, the first: 503") {
		t.Errorf("two failed: %v", err)
	}
	var out bytes.Buffer
	s.tell(&out, "The deadline.")
	for _, want := range []string{`(?m)^plan +1 .* 0$`, `(?m)^photo +0 +- +- +- +- +2$`, `(?m)^all +1 .* 2$`, `1 of 2 students done in 1s; 1 requests a second; 2 failed`} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("the report lacks %s:\n%s", want, out.String())
		}
	}
}

// TestFalls: so many of a hundred, whatever the number, and spread over all.
func TestFalls(t *testing.T) {
	t.Parallel()
	for _, percent := range []int{0, 5, 20, 33, 100} {
		n := 0
		for i := range 300 {
			if falls(i, percent) {
				n++
			}
			if want := (i + 1) * percent / 100; n != want {
				t.Fatalf("%d of a hundred: %d of the first %d, want %d", percent, n, i+1, want)
			}
		}
	}
}

// TestNobodyElseIsLoaded: only this machine, and only with its database and the code of a class.
func TestNobodyElseIsLoaded(t *testing.T) {
	t.Parallel()
	for _, addr := range []string{"192.0.2.1:80", "example.org:80", "0.0.0.0:80", "[2001:db8::1]:80", "127.0.0.1"} {
		if base, err := onThisMachine(addr); err == nil {
			t.Errorf("%s is let through as %s", addr, base)
		}
	}
	for addr, want := range map[string]string{"127.0.0.1:8080": "http://127.0.0.1:8080", "localhost:1": "http://127.0.0.1:1", "[::1]:2": "http://[::1]:2"} {
		if base, err := onThisMachine(addr); err != nil || base != want {
			t.Errorf("%s: %s, %v, want %s", addr, base, err, want)
		}
	}
	f := flags{Students: 1, Most: time.Second, Addr: "127.0.0.1:9"}
	for _, lacks := range []string{"--db", "--code"} {
		if err := run(t.Context(), f, &bytes.Buffer{}); err == nil || !strings.Contains(err.Error(), lacks) {
			t.Errorf("without %s: %v", lacks, err)
		}
		f.DB = "class.db"
	}
}

// TestPercentile by the nearest rank: of 1 to 10, half do not exceed 5.
func TestPercentile(t *testing.T) {
	t.Parallel()
	var ten []time.Duration
	for i := range 10 {
		ten = append(ten, time.Duration(i+1))
	}
	for p, want := range map[int]time.Duration{50: 5, 95: 10, 99: 10, 1: 1} {
		if got := percentile(ten, p); got != want {
			t.Errorf("percentile %d is %d, want %d", p, got, want)
		}
	}
	if got := percentile(ten[:1], 50); got != 1 {
		t.Errorf("of one: %d", got)
	}
}
