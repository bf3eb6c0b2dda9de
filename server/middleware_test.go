package server

import (
	"context"
	"io"
	"net/http"
	"net/http/httptest"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"
)

// gate is a handler that holds every request until it may leave, behind what surrounds
// all routes, on a real port.
type gate struct {
	*httptest.Server
	*site
	t           *testing.T
	leave       chan struct{} // one for each that may leave
	inside, top atomic.Int64
	mu          sync.Mutex
	came        []string // in this order
	all         sync.WaitGroup
}

func newGate(t *testing.T) *gate {
	t.Helper()
	g := &gate{site: newSite(t), t: t, leave: make(chan struct{})}
	g.Server = httptest.NewServer(g.server.surround(http.HandlerFunc(func(_ http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/healthz" || strings.HasPrefix(r.URL.Path, "/assets/") {
			return
		}
		g.mu.Lock()
		g.came = append(g.came, r.URL.Path)
		g.mu.Unlock()
		now := g.inside.Add(1)
		for top := g.top.Load(); now > top && !g.top.CompareAndSwap(top, now); top = g.top.Load() {
		}
		<-g.leave
		g.inside.Add(-1)
	})))
	t.Cleanup(g.Server.Close)
	return g
}

// send sends a request and does not wait for its answer, which must be 200 unless the
// sender leaves.
func (g *gate) send(ctx context.Context, method, path string, body io.Reader) {
	r, err := http.NewRequestWithContext(ctx, method, g.Server.URL+path, body)
	if err != nil {
		g.t.Fatal(err)
	}
	g.all.Go(func() {
		resp, err := g.Server.Client().Do(r)
		if ctx.Err() != nil {
			return
		}
		if err != nil {
			g.t.Error(err)
			return
		}
		if resp.StatusCode != http.StatusOK {
			g.t.Errorf("%s %s = %d", method, path, resp.StatusCode)
		}
		if err := resp.Body.Close(); err != nil {
			g.t.Error(err)
		}
	})
}

func (g *gate) until(what string, is func() bool) {
	g.t.Helper()
	for end := time.Now().Add(30 * time.Second); !is(); time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			g.t.Fatalf("it never comes to this: %s", what)
		}
	}
}

func (g *gate) empty() {
	close(g.leave)
	g.all.Wait()
}

// waiting is how many requests wait for their turn.
func waiting() int {
	stacks := make([]byte, 8<<20)
	stacks = stacks[:runtime.Stack(stacks, true)]
	n := 0
	for one := range strings.SplitSeq(string(stacks), "\n\n") {
		lines := strings.SplitN(one, "\n", 3)
		if strings.Contains(lines[0], "[select") && strings.Contains(lines[1], "inTurn") {
			n++
		}
	}
	return n
}

// These tests are not run beside others: they count what waits in the whole process.

func TestRequestsWaitForTheirTurn(t *testing.T) {
	g := newGate(t)
	const sent = 3 * mostRequests
	for range sent {
		g.send(t.Context(), http.MethodGet, "/plan", nil)
	}
	g.until("all places are taken and the others wait", func() bool { return g.inside.Load() == mostRequests && waiting() == sent-mostRequests })
	for _, path := range []string{"/healthz", "/assets/any"} { // these do not wait
		g.send(t.Context(), http.MethodGet, path, nil)
	}
	for range 3 * mostUploads {
		g.send(t.Context(), http.MethodPost, "/batches/any/photos", strings.NewReader("a photo"))
	}
	g.until("photos come in beside the pages", func() bool { return g.inside.Load() == mostRequests+mostUploads })
	g.until("the other photos wait", func() bool { return waiting() == sent-mostRequests+2*mostUploads })
	g.empty()
	if top := g.top.Load(); top != mostRequests+mostUploads {
		t.Errorf("%d requests were in progress at once, want %d and %d photos", top, mostRequests, mostUploads)
	}
	if len(g.came) != sent+3*mostUploads {
		t.Errorf("%d requests came through, want all %d", len(g.came), sent+3*mostUploads)
	}
}

// TestPhotoThatWaitedHasItsTime: a photo that waits for its turn longer than a request may
// take is read whole and answered.
func TestPhotoThatWaitedHasItsTime(t *testing.T) {
	t.Parallel()
	const limit = 4 * time.Second // long enough to begin five uploads on a busy machine
	s := newSite(t)
	holds := make(chan struct{})
	web := httptest.NewUnstartedServer(s.server.surround(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/batches/first/photos" {
			<-holds
		}
		body, err := io.ReadAll(r.Body)
		if err != nil {
			http.Error(w, err.Error(), http.StatusBadRequest)
			return
		}
		w.Header().Set("Read", strconv.Itoa(len(body)))
	})))
	web.Config.ReadTimeout, web.Config.WriteTimeout = limit, limit
	web.Start()
	defer web.Close()
	var all sync.WaitGroup
	send := func(path string, check func(*http.Response, error)) {
		all.Go(func() {
			// Larger than what the system holds for the server, so that it has to be read late.
			resp, err := web.Client().Post(web.URL+path, "image/jpeg", strings.NewReader(strings.Repeat("p", 8<<20)))
			if check != nil {
				check(resp, err)
			}
			if err == nil {
				err = resp.Body.Close()
			}
			if err != nil {
				t.Error(err)
			}
		})
	}
	for range mostUploads {
		send("/batches/first/photos", nil)
	}
	for end := time.Now().Add(time.Minute); len(s.server.turns.uploads) < mostUploads; time.Sleep(time.Millisecond) {
		if time.Now().After(end) {
			close(holds)
			t.Fatal("the first uploads do not come in")
		}
	}
	send("/batches/second/photos", func(resp *http.Response, err error) {
		if err == nil && (resp.StatusCode != http.StatusOK || resp.Header.Get("Read") != strconv.Itoa(8<<20)) {
			t.Errorf("the photo that waited: %d, %s bytes read", resp.StatusCode, resp.Header.Get("Read"))
		}
	})
	time.Sleep(limit + limit/2)
	close(holds)
	all.Wait()
}

func TestTurnsComeInOrder(t *testing.T) {
	g := newGate(t)
	for range mostRequests {
		g.send(t.Context(), http.MethodGet, "/plan", nil)
	}
	g.until("all places are taken", func() bool { return g.inside.Load() == mostRequests })
	gone, leave := context.WithCancel(t.Context())
	defer leave()
	var want []string
	for i, path := range []string{"/first", "/second", "/left", "/third", "/fourth"} {
		ctx := t.Context()
		if path == "/left" {
			ctx = gone
		} else {
			want = append(want, path)
		}
		g.send(ctx, http.MethodPost, path, strings.NewReader("food=peaches"))
		g.until(path+" waits", func() bool { return waiting() == i+1 })
	}
	leave()
	g.until("who left waits no longer", func() bool { return waiting() == len(want) })
	for i := range want {
		g.leave <- struct{}{}
		g.until("the next one comes", func() bool { return g.inside.Load() == mostRequests && waiting() == len(want)-i-1 })
	}
	g.empty()
	if got := g.came[mostRequests:]; !slices.Equal(got, want) {
		t.Errorf("they came in the order %q, want %q", got, want)
	}
}

// TestSlowSendersHoldNoPlace: somebody on a bad line keeps nobody else waiting.
func TestSlowSendersHoldNoPlace(t *testing.T) {
	g := newGate(t)
	var ends []*io.PipeWriter
	for range mostRequests {
		read, write := io.Pipe()
		ends = append(ends, write)
		g.send(t.Context(), http.MethodPost, "/slow", read)
		if _, err := io.WriteString(write, "food="); err != nil {
			t.Fatal(err)
		}
	}
	g.send(t.Context(), http.MethodGet, "/plan", nil)
	g.until("a page is asked for and comes", func() bool { return g.inside.Load() == 1 })
	for _, end := range ends {
		if err := end.Close(); err != nil {
			t.Fatal(err)
		}
	}
	g.until("what was sent slowly comes too", func() bool { return g.inside.Load() == mostRequests })
	g.empty()
	if len(g.came) != mostRequests+1 || g.came[0] != "/plan" {
		t.Errorf("%d came, the first %q; want %d and the page first", len(g.came), g.came[0], mostRequests+1)
	}
}
