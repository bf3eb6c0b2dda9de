package main

import (
	"bytes"
	"regexp"
	"strings"
	"testing"
	"time"
)

// TestSmallClass plays a small class on a server of its own: nobody is left out, and
// five things of each student are kept.
func TestSmallClass(t *testing.T) {
	t.Parallel()
	var out bytes.Buffer
	f := flags{Students: 12, Within: 200 * time.Millisecond, Most: time.Minute, Answers: 3, Seed: 7}
	if err := run(t.Context(), f, &out); err != nil {
		t.Fatalf("%v\n%s", err, out.String())
	}
	for _, want := range []string{`(?m)^lesson +12 `, `(?m)^question +36 `, `(?m)^answer +36 `, `(?m)^plan +12 `, `(?m)^scenario +12 `, `(?m)^all +108 `, `12 of 12 students done in .*; 0 failed`, `60 things were acknowledged; all are in the database`} {
		if !regexp.MustCompile(want).MatchString(out.String()) {
			t.Errorf("the report lacks %s:\n%s", want, out.String())
		}
	}
}

// TestNobodyElseIsLoaded: only this machine, and only with its database.
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
	err := run(t.Context(), flags{Students: 1, Most: time.Second, Addr: "127.0.0.1:9"}, &bytes.Buffer{})
	if err == nil || !strings.Contains(err.Error(), "--db") {
		t.Errorf("without the database: %v", err)
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
