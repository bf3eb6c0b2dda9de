package server

import (
	"errors"
	"maps"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/server/store"
)

// handler answers one request or says why it cannot. What it returns is logged;
// the visitor sees only our own words.
type handler func(*gin.Context) error

var (
	errNoPage   = errors.New("no such page")
	errNoMethod = errors.New("method not allowed")
	errTooLarge = errors.New("request body too large")
	errForeign  = errors.New("request from another site")
	errPanic    = errors.New("panic")
	errBadForm  = errors.New("form could not be read")

	errWorkedOn   = errors.New("an assignment with batches cannot be taken back")
	errHoldsClass = errors.New("an instructor with a class cannot be deleted")
)

// answerTo maps a kind of error to its status and what the page says. This is
// the only place that does.
func answerTo(err error) (status int, heading, says string) {
	var tooLarge *http.MaxBytesError
	switch {
	case errors.Is(err, errNoPage), errors.Is(err, store.ErrNotFound):
		return http.StatusNotFound, "There is no such page", "It may have been moved, or the address has a slip in it. Kept plans and answers can be seen only in the browser they were made in."
	case errors.Is(err, errNoMethod):
		return http.StatusMethodNotAllowed, "That cannot be done here", "This address takes another kind of request."
	case errors.Is(err, errTooLarge), errors.As(err, &tooLarge):
		return http.StatusRequestEntityTooLarge, "That is too much at once", "A plan or an answer is far smaller than a megabyte. Nothing was kept."
	case errors.Is(err, errForeign):
		return http.StatusForbidden, "This did not come from our own page", "For your safety, changes are taken only from the pages of this site. Open the page here and try again."
	case errors.Is(err, errTooMany):
		return http.StatusTooManyRequests, "Too many tries just now", "Wait a minute and try again. Nobody is locked out."
	case errors.Is(err, errWorkedOn):
		return http.StatusConflict, "Somebody has begun it", "A practice batch that somebody works on stays, so that no plan and no record is lost. Nothing was changed."
	case errors.Is(err, errHoldsClass):
		return http.StatusConflict, "You still hold a class", "An instructor’s account stays while there is a class whose work hangs on it. Nothing was deleted."
	case errors.Is(err, errBadForm):
		return http.StatusBadRequest, "The form could not be read", "Go back, load the page again and send it once more."
	case errors.Is(err, store.ErrUnwiped):
		return http.StatusAccepted, "It is deleted", "Nothing of it can be seen any more. Its last traces could not be wiped from the file yet, perhaps because the disk is nearly full: that is tried again every hour. Tell whoever runs this course."
	case errors.Is(err, store.ErrBusy):
		return http.StatusServiceUnavailable, "Too busy just now", "What you sent could not be kept this time. Go back and send it once more in a moment."
	case errors.Is(err, store.ErrFull):
		return http.StatusInsufficientStorage, "The disk is full", "What you sent could not be kept. What was kept before is safe. Tell whoever runs this course."
	}
	return http.StatusInternalServerError, "Something went wrong here", "It is not your doing. What was kept before is safe. Try again in a moment."
}

// handle turns a handler into gin's kind and answers its errors.
func (s *Server) handle(h handler) gin.HandlerFunc {
	return func(c *gin.Context) {
		if err := h(c); err != nil {
			s.fail(c.Writer, c.Request, err)
		}
	}
}

type errorPage struct {
	page
	Status                 int
	Heading, Says, Request string
}

// fail logs an error under the request's id and writes the error page, or JSON
// where programs ask.
func (s *Server) fail(w http.ResponseWriter, r *http.Request, err error) {
	status, heading, says := answerTo(err)
	a, path := callerOf(r.Context()), loggedPath(r.URL.Path)
	id := a.request
	if status >= 500 {
		s.log.Error("request", "request", id, "path", path, "status", status, "error", err)
	} else {
		s.log.Info("request refused", "request", id, "person", a.person, "from", from(r), "path", path, "status", status, "error", err)
	}
	if strings.HasPrefix(r.URL.Path, "/api/") {
		s.failJSON(w, status, says, id)
		return
	}
	name, data := "error", any(errorPage{page: newPage(heading, ""), Status: status, Heading: heading, Says: says, Request: id})
	if status == http.StatusNotFound {
		if sent := sentFields(r); len(sent) > 0 {
			name, data = "unsaved", unsavedPage{newPage("This is not kept", ""), r.URL.RequestURI(), a.person == "", sent}
		}
	}
	if err := s.write(w, r, status, name, data); err != nil {
		s.log.Error("write the error page", "request", id, "error", err)
	}
}

// unsavedPage gives back what was sent to a page that is not there for who sent it: a
// session has ended, or something was taken back meanwhile.
type unsavedPage struct {
	page
	Path      string
	LoggedOut bool
	Sent      []sentField
}

// sentField is a value of a form. Told says whether it is one that was typed, as far as
// that can be told.
type sentField struct {
	Name, Value string
	Told        bool
}

// sentFields are the values of a form that was sent, but for passwords.
func sentFields(r *http.Request) []sentField {
	if r.Method != http.MethodPost || r.ParseForm() != nil {
		return nil
	}
	var sent []sentField
	for _, name := range slices.Sorted(maps.Keys(r.PostForm)) {
		if strings.Contains(name, "password") {
			continue
		}
		for _, value := range r.PostForm[name] {
			sent = append(sent, sentField{name, value, strings.ContainsAny(strings.TrimSpace(value), " \n")})
		}
	}
	return sent
}
