// Package server is the web side of the course: routes, pages, forms and the
// JSON door to the grader. Everything that can be worked out beforehand is
// worked out in New, before the server listens.
package server

import (
	"context"
	"fmt"
	"html/template"
	"log/slog"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"

	"rollingboil/scenarios/bench"
	"rollingboil/server/store"
)

// Config is what a Server is made from.
type Config struct {
	Course *Course
	Store  *store.Store
	Log    *slog.Logger
	Now    func() time.Time // the clock; time.Now when nil
}

// Server answers requests. It is made by New.
type Server struct {
	course   *Course
	store    *store.Store
	log      *slog.Logger
	now      func() time.Time
	sessions *scs.SessionManager
	hasher   hasher
	tries    *tries
	turns    turns
	pages    map[string]*template.Template
	parts    *template.Template
	assets   *assetFiles
	shipped  *taught     // the course as it is taught to who belongs to no class
	classes  taughtCache // and with what was written for classes
	terms    *termLinker
	home     homePage
	glossary glossaryPage
	formats  []formatPage // how lessons, questions and scenarios are written
	tables   map[string][]timesTable
	form     []section // the plan form, empty
	bench    *bench.Bench
	handler  http.Handler
}

// New joins the parts, draws what does not depend on the visitor and returns a
// server that is ready to listen.
func New(c Config) (*Server, error) {
	s := &Server{course: c.Course, store: c.Store, log: c.Log, now: c.Now}
	if s.now == nil {
		s.now = time.Now
	}
	var err error
	if s.assets, err = loadAssets(); err != nil {
		return nil, err
	}
	if err := s.loadTemplates(); err != nil {
		return nil, err
	}
	s.tables = allTables(c.Course.Grader.Table())
	s.form = blankForm(c.Course.Grader.Table())
	s.bench = bench.New(c.Course.Grader.Table())
	if err := s.prepareLessons(); err != nil {
		return nil, fmt.Errorf("prepare lessons: %w", err)
	}
	if err := s.shipped.fillAsked(); err != nil {
		return nil, fmt.Errorf("prepare the index by question: %w", err)
	}
	s.prepareGlossary()
	if err := s.prepareFormats(); err != nil {
		return nil, fmt.Errorf("prepare the pages about writing: %w", err)
	}
	if err := s.prepareHome(); err != nil {
		return nil, fmt.Errorf("prepare the first page: %w", err)
	}
	s.sessions = s.newSessions()
	s.hasher = newHasher()
	s.tries = newTries(s.now, 6*time.Second, 20)
	s.turns = newTurns()
	gin.SetMode(gin.ReleaseMode)
	engine := gin.New()
	engine.HandleMethodNotAllowed = true
	engine.RedirectTrailingSlash = true
	engine.Use(s.knowPerson)
	s.routes(engine)
	s.handler = s.surround(engine)
	return s, nil
}

// Warm makes what New leaves to the first who needs it: the index of the search.
func (s *Server) Warm() error {
	_, err := s.shipped.search()
	return err
}

// Handler answers every request.
func (s *Server) Handler() http.Handler { return s.handler }

// Web is the HTTP server of the site, with the time that a request may take. Whoever
// makes it listen closes it.
func (s *Server) Web() *http.Server {
	return &http.Server{
		Handler:           s.handler,
		ReadHeaderTimeout: 10 * time.Second,
		ReadTimeout:       requestTime,
		WriteTimeout:      requestTime,
		IdleTimeout:       2 * time.Minute,
		ErrorLog:          slog.NewLogLogger(s.log.Handler(), slog.LevelWarn),
	}
}

// Sweep removes ended sessions, at once and then every hour, until ctx is done.
func (s *Server) Sweep(ctx context.Context) {
	tick := time.NewTicker(time.Hour)
	defer tick.Stop()
	for {
		if _, err := s.store.SweepSessions(ctx, s.now()); err != nil && ctx.Err() == nil {
			s.log.Error("sweep sessions", "error", err)
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}
