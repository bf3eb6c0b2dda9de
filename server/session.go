package server

import (
	"context"
	"errors"
	"net/http"
	"time"

	"github.com/alexedwards/scs/v2"
	"github.com/gin-gonic/gin"

	"rollingboil/scenarios/measure"
	"rollingboil/server/store"
)

const day = 24 * time.Hour

// sessionLife is how long a browser is remembered: over a canning season, from the
// first lesson in spring to the last jar.
const sessionLife = 240 * day

// A person's session ends after some time in which nothing is asked for, and in any
// case after some time, as the OWASP ASVS 5.0, V7.3, asks. An instructor sees the work
// of a whole class and is asked for the password more often.
var (
	idle     = map[string]time.Duration{store.Student: 30 * day, store.Instructor: 12 * time.Hour}
	absolute = map[string]time.Duration{store.Student: sessionLife, store.Instructor: 14 * day}
)

// seenEvery is how often it is kept that a session is in use: not with every page.
const seenEvery = 5 * time.Minute

func (s *Server) newSessions() *scs.SessionManager {
	m := scs.New()
	m.Store = s.store.Sessions()
	m.HashTokenInStore = true
	m.ErrorFunc = func(w http.ResponseWriter, r *http.Request, err error) {
		if callerOf(r.Context()).onlySeen {
			s.log.Error("keep that a session is in use", "error", err)
			return // whoever reads a lesson while the disk is full shall read it
		}
		s.fail(w, r, err)
	}
	m.Lifetime = sessionLife
	m.Cookie.Name = "rollingboil"
	m.Cookie.HttpOnly = true
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Persist = true
	return m
}

// What a session holds: the visitor, and for a person the number of the sessions it was
// begun under, when that was, and when it was last in use, in seconds since 1970: a time
// is no type that a session can hold.
const (
	visitorKey = "visitor"
	numberKey  = "number"
	begunKey   = "begun"
	seenKey    = "seen"
)

// withSession loads the session and keeps it. Where the browser came by https, it sends
// the cookie by https only, and the name's beginning has it refuse one that another host
// of the domain sets (OWASP ASVS 5.0, 3.3.1 and 3.3.3).
func (s *Server) withSession(next http.Handler) http.Handler {
	secure := *s.sessions
	secure.Cookie.Secure = true
	secure.Cookie.Name = "__Host-" + secure.Cookie.Name
	plainly, securely := s.sessions.LoadAndSave(next), secure.LoadAndSave(next)
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if encrypted(r) {
			securely.ServeHTTP(w, r)
			return
		}
		plainly.ServeHTTP(w, r)
	})
}

// encrypted says whether the browser speaks https, with us or with the proxy before us.
func encrypted(r *http.Request) bool {
	return r.TLS != nil || r.Header.Get("X-Forwarded-Proto") == "https"
}

const personKey = "person"

// knowPerson looks up who a request is from. A session that has ended, by time or by a
// new password, is a guest's.
func (s *Server) knowPerson(c *gin.Context) {
	ctx := c.Request.Context()
	number := s.sessions.GetInt(ctx, numberKey)
	if number == 0 {
		return
	}
	p, err := s.store.Person(ctx, s.sessions.GetString(ctx, visitorKey))
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		s.fail(c.Writer, c.Request, err)
		c.Abort()
		return
	}
	now := s.now()
	seen, begun := time.Unix(s.sessions.GetInt64(ctx, seenKey), 0), time.Unix(s.sessions.GetInt64(ctx, begunKey), 0)
	if err != nil || p.Sessions != number || now.Sub(seen) > idle[p.Role] || now.Sub(begun) > absolute[p.Role] {
		if err := s.sessions.Destroy(ctx); err != nil {
			s.fail(c.Writer, c.Request, err)
			c.Abort()
		}
		return
	}
	if now.Sub(seen) > seenEvery {
		s.sessions.Put(ctx, seenKey, now.Unix())
		callerOf(ctx).onlySeen = true
	}
	callerOf(ctx).person = p.Visitor
	c.Set(personKey, p)
}

// person gives who is logged in; false for a guest.
func person(c *gin.Context) (store.Person, bool) {
	v, _ := c.Get(personKey)
	p, ok := v.(store.Person)
	return p, ok
}

// logIn begins a session of a person under a new token, so that nobody who knew the old
// one is in it.
func (s *Server) logIn(c *gin.Context, p store.Person) error {
	ctx := c.Request.Context()
	callerOf(ctx).onlySeen = false
	if err := s.sessions.RenewToken(ctx); err != nil {
		return err
	}
	s.sessions.Put(ctx, visitorKey, p.Visitor)
	s.sessions.Put(ctx, numberKey, p.Sessions)
	s.sessions.Put(ctx, begunKey, s.now().Unix())
	s.sessions.Put(ctx, seenKey, s.now().Unix())
	return nil
}

// visitor gives the visitor's id, "" for one of whom nothing is kept.
func (s *Server) visitor(c *gin.Context) string {
	return s.sessions.GetString(c.Request.Context(), visitorKey)
}

// newVisitor gives the visitor's id and makes one when there is none: only when
// something is about to be kept.
func (s *Server) newVisitor(c *gin.Context) string {
	if id := s.visitor(c); id != "" {
		return id
	}
	id := store.NewID()
	s.sessions.Put(c.Request.Context(), visitorKey, id)
	return id
}

// altitude gives the altitude the visitor keeps, if one is kept.
func (s *Server) altitude(ctx context.Context, visitor string) (measure.Altitude, bool, error) {
	if visitor == "" {
		return 0, false, nil
	}
	v, err := s.store.Visitor(ctx, visitor)
	if errors.Is(err, store.ErrNotFound) {
		return 0, false, nil
	}
	return measure.Altitude(v.AltitudeFt), v.AltitudeKnown, err
}
