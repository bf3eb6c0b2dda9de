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

// sessionDays is how long a browser is remembered: over a canning season, from
// the first lesson in spring to the last jar.
const sessionDays = 240

func (s *Server) newSessions() *scs.SessionManager {
	m := scs.New()
	m.Store = s.store.Sessions()
	m.ErrorFunc = s.fail
	m.Lifetime = sessionDays * 24 * time.Hour
	m.Cookie.Name = "rollingboil"
	m.Cookie.HttpOnly = true
	m.Cookie.SameSite = http.SameSiteLaxMode
	m.Cookie.Persist = true
	return m
}

const visitorKey = "visitor"

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
