package server

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"net/http"
	"runtime/debug"
	"strings"
	"time"

	"rollingboil/server/store"
)

// maxBody is the most that a request may carry, in bytes.
const maxBody = 1 << 20

// The pages load nothing from elsewhere and run nothing that stands in them.
const policy = "default-src 'none'; object-src 'none'; style-src 'self'; script-src 'self'; img-src 'self'; connect-src 'self'; media-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// httpsOnly has browsers come by https for a year, as the OWASP ASVS 5.0, 3.4.1, asks.
const httpsOnly = "max-age=31536000; includeSubDomains"

type requestKey struct{}

// caller is what is known of a request besides its path: its id and, once it is known, the
// person's; and whether all that changed in the session is when it was last in use.
type caller struct {
	request, person string
	onlySeen        bool
}

func callerOf(ctx context.Context) *caller {
	if a, ok := ctx.Value(requestKey{}).(*caller); ok {
		return a
	}
	return &caller{}
}

func requestID(ctx context.Context) string { return callerOf(ctx).request }

// surround puts around the routes what every request goes through, outermost
// first: an id, the security headers and the log; recovery; protection against
// requests from other sites; the body limit; its turn; the session.
func (s *Server) surround(routes http.Handler) http.Handler {
	h := s.withSession(routes)
	h = s.inTurn(h)
	h = limitBody(h)
	foreign := http.NewCrossOriginProtection()
	foreign.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { s.fail(w, r, errForeign) }))
	h = foreign.Handler(h)
	h = s.recovering(h)
	return s.observed(h)
}

func (s *Server) observed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		a := &caller{request: store.NewID()[:12]}
		r = r.WithContext(context.WithValue(r.Context(), requestKey{}, a))
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(), geolocation=(), microphone=()")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cache-Control", "no-store") // pages hold what a visitor typed; assets say otherwise
		if encrypted(r) {
			h.Set("Strict-Transport-Security", httpsOnly)
		}
		start := s.now()
		rec := &statusRecorder{ResponseWriter: w, status: http.StatusOK}
		next.ServeHTTP(rec, r)
		s.log.Info("request", "request", a.request, "person", a.person, "method", r.Method, "path", loggedPath(r.URL.Path), "status", rec.status, "took", s.now().Sub(start).Round(time.Microsecond))
	})
}

type statusRecorder struct {
	http.ResponseWriter
	status int
}

// Unwrap gives the writer to [http.NewResponseController].
func (w *statusRecorder) Unwrap() http.ResponseWriter { return w.ResponseWriter }

// WriteHeader keeps the status for the log.
func (w *statusRecorder) WriteHeader(status int) {
	w.status = status
	w.ResponseWriter.WriteHeader(status)
}

func (s *Server) recovering(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			if p := recover(); p != nil {
				s.fail(w, r, fmt.Errorf("%w: %v\n%s", errPanic, p, debug.Stack()))
			}
		}()
		next.ServeHTTP(w, r)
	})
}

func limitBody(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		most := int64(maxBody)
		if bringsPhoto(r) {
			most = maxPhotoBody
		}
		r.Body = http.MaxBytesReader(w, r.Body, most)
		next.ServeHTTP(w, r)
	})
}

// bringsPhoto says whether a request may be as large as a photo.
func bringsPhoto(r *http.Request) bool {
	return r.Method == http.MethodPost && strings.HasPrefix(r.URL.Path, "/batches/") && strings.HasSuffix(r.URL.Path, "/photos")
}

// How many requests are in progress at once. A class that sends everything in the last
// minute then waits here, where that costs little, and not all together for the processor
// and for the one writer of the database. Photos are counted apart: one comes in as slowly
// as a telephone sends it, and must not keep the pages waiting.
const (
	mostRequests = 64
	mostUploads  = 4
)

// turns are places for requests in progress.
type turns struct{ pages, uploads chan struct{} }

func newTurns() turns {
	return turns{make(chan struct{}, mostRequests), make(chan struct{}, mostUploads)}
}

// requestTime is how long a request may take to come in, and to be answered.
const requestTime = time.Minute

// anew gives a photo that had to wait its time from now on, and not from when its sender
// began: the wait was ours.
func anew(w http.ResponseWriter) {
	until, conn := time.Now().Add(requestTime), http.NewResponseController(w)
	// Where there is no such limit, as in a test without a connection, none is set.
	_ = conn.SetReadDeadline(until)
	_ = conn.SetWriteDeadline(until)
}

// inTurn lets so many requests through at once; the others wait, the first the shortest,
// until their sender leaves. What takes no work does not wait. A form is read before it
// waits, so that nobody holds a place by sending slowly, and because only then the server
// sees that a sender has left.
func (s *Server) inTurn(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if r.URL.Path == "/healthz" || strings.HasPrefix(r.URL.Path, "/assets/") {
			next.ServeHTTP(w, r)
			return
		}
		places := s.turns.pages
		if bringsPhoto(r) {
			places = s.turns.uploads
		} else if r.ContentLength != 0 {
			body, err := io.ReadAll(r.Body)
			if err != nil {
				s.fail(w, r, formError(err))
				return
			}
			r.Body = io.NopCloser(bytes.NewReader(body))
		}
		select {
		case places <- struct{}{}:
			defer func() { <-places }()
			if places == s.turns.uploads {
				anew(w)
			}
			next.ServeHTTP(w, r)
		case <-r.Context().Done():
			w.WriteHeader(http.StatusServiceUnavailable) // for the log: nobody is there to read it
		}
	})
}
