package server

import (
	"strings"

	"github.com/gin-gonic/gin"
)

// event writes into the log what somebody looks for after a break-in, as the OWASP ASVS
// 5.0, 16.3.1, asks: what happened, to whose account, from where. A person is named by id
// alone, and nothing that was typed is written: a password may stand in the wrong field.
// Who asked for it is in the line of the request with the same id.
func (s *Server) event(c *gin.Context, what, person string) {
	s.log.Info("security", "request", requestID(c.Request.Context()), "event", what, "person", person, "from", from(c.Request))
}

// loggedPath is a path without what is secret in it. Whoever reads the log must not be
// able to take a link that makes an instructor, or to open somebody's calendar.
func loggedPath(path string) string {
	for _, secret := range []string{"/set-up/", "/calendar/"} {
		if before, _, found := strings.Cut(path, secret); found {
			return before + secret + "(secret)"
		}
	}
	return path
}
