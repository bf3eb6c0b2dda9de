package server

import (
	"context"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gin-gonic/gin"
	"golang.org/x/text/unicode/norm"

	"rollingboil/server/store"
)

// Accounts: an instructor makes one with a link that works once, a student with the
// code of a class. Nobody needs an e-mail address; who forgets a password gets a code
// from the instructor.

// input is one line of a short form.
type input struct {
	Key, Label, Means, Kind string // Kind is of the HTML input
	Value, Wrong            string
	Complete                string       // what a browser may fill in
	Exact                   string       // for a time: the exact one, while the shown one is not changed
	Readings                []formOption // for a time that was shown twice: the two exact ones
}

// formPage is a page that is one short form.
type formPage struct {
	page
	Heading, Lead string
	Action        string
	Hidden        map[string]string
	Inputs        []input
	Tick          *tick
	Button        string
	Links         []place
	Wrong         string // about the form as a whole
}

// tick is one thing that may be ticked.
type tick struct {
	Key, Label string
	On         bool
}

func (s *Server) writeForm(c *gin.Context, status int, f formPage) error {
	f.page = newPage(f.Heading, "/class")
	return s.write(c.Writer, c.Request, status, "form", f)
}

// wrongs says whether something is wrong with any line.
func wrongs(inputs []input) bool {
	for _, in := range inputs {
		if in.Wrong != "" {
			return true
		}
	}
	return false
}

func nameInput(value, wrong string) input {
	return input{Key: "name", Label: "Your name", Means: "As the class is to see it. You use it to log in.", Kind: "text", Value: value, Wrong: wrong, Complete: "username"}
}

func newPasswordInput(wrong string) input {
	return input{Key: "password", Label: "A password", Means: "At least 10 letters or signs, of any kind. A few words that do not belong together are good. It can be pasted.", Kind: "password", Wrong: wrong, Complete: "new-password"}
}

// otherPasswordInput asks for a new password in place of one there is.
func otherPasswordInput(wrong string) input {
	in := newPasswordInput(wrong)
	in.Label = "The new password"
	return in
}

// wrongName says what is amiss with a name.
func wrongName(name string) string {
	n := utf8.RuneCountInString(name)
	switch {
	case name == "":
		return "Write a name, so that the class knows who you are."
	case n > 60:
		return "Too long: 60 letters are the most."
	case unshown(name):
		return "There is a sign in it that cannot be shown. Type it again."
	}
	return ""
}

// unshown says whether a text of one line holds something that no page can show.
func unshown(text string) bool {
	return !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) })
}

const nameTaken = "Somebody here has this name. If it is you, log in first and then type the code. If not, add a letter or your family name."

// cleanName is a name as it is kept.
func cleanName(typed string) string { return norm.NFC.String(strings.Join(strings.Fields(typed), " ")) }

func form(c *gin.Context) (url.Values, error) {
	if err := c.Request.ParseForm(); err != nil {
		return nil, errors.Join(errBadForm, err)
	}
	return c.Request.PostForm, nil
}

func seeOther(c *gin.Context, path string) error {
	c.Redirect(http.StatusSeeOther, path)
	return nil
}

// within slows down guessing: by the address it comes from, and by what is guessed at.
func (s *Server) within(c *gin.Context, at string) error {
	if !s.tries.allow("from "+from(c.Request)) || at != "" && !s.tries.allow(at) {
		c.Header("Retry-After", "60")
		return errTooMany
	}
	return nil
}

// InvitedUntil is how long the link works that makes an instructor.
const InvitedUntil = 3 * day

// Invite makes the link, under /set-up/, that makes an instructor once.
func Invite(ctx context.Context, db *store.Store, now time.Time) (string, error) {
	code := store.NewID()
	if err := db.GiveCode(ctx, code, "", now, now.Add(InvitedUntil)); err != nil {
		return "", err
	}
	return "/set-up/" + code, nil
}

// PasswordCode makes a code with which a person sets a new password once.
func PasswordCode(ctx context.Context, db *store.Store, visitor string, now time.Time) (string, error) {
	code := newCode(4)
	return code, db.GiveCode(ctx, code, visitor, now, now.Add(InvitedUntil))
}

func setUpForm(inputs ...input) formPage {
	return formPage{Heading: "Make an instructor’s account", Lead: "This link works once. The account holds classes, and sees the work of the students who join them.", Inputs: inputs, Button: "Make the account"}
}

// invited says whether the link makes an instructor. A code for a password does not.
func (s *Server) invited(c *gin.Context) error {
	person, err := s.store.Code(c.Request.Context(), c.Param("code"), s.now())
	if err == nil && person != "" {
		err = store.ErrNotFound
	}
	if errors.Is(err, store.ErrNotFound) {
		s.event(c, "code refused", person)
	}
	return err
}

func (s *Server) setUpPage(c *gin.Context) error {
	if err := s.within(c, ""); err != nil {
		return err
	}
	if err := s.invited(c); err != nil {
		return err
	}
	return s.writeForm(c, http.StatusOK, setUpForm(nameInput("", ""), newPasswordInput("")))
}

func (s *Server) setUp(c *gin.Context) error {
	typed, err := form(c)
	if err != nil {
		return err
	}
	if err := s.within(c, ""); err != nil {
		return err
	}
	ctx, now := c.Request.Context(), s.now()
	if err := s.invited(c); err != nil {
		return err
	}
	name := cleanName(typed.Get("name"))
	inputs := []input{nameInput(name, wrongName(name)), newPasswordInput(wrongPassword(typed.Get("password"), name))}
	if wrongs(inputs) {
		return s.writeForm(c, http.StatusUnprocessableEntity, setUpForm(inputs...))
	}
	hash, err := s.hasher.hash(ctx, typed.Get("password"))
	if err != nil {
		return err
	}
	p := store.Person{Visitor: store.NewID(), Role: store.Instructor, Name: name, Password: hash, Sessions: 1, Joined: now}
	err = s.store.SetUp(ctx, c.Param("code"), p, now)
	if errors.Is(err, store.ErrExists) {
		return s.writeForm(c, http.StatusUnprocessableEntity, setUpForm(nameInput(name, "Somebody here has this name. Choose another."), newPasswordInput("")))
	}
	if err != nil {
		return err
	}
	s.event(c, "account made", p.Visitor)
	if err := s.logIn(c, p); err != nil {
		return err
	}
	return seeOther(c, "/class")
}

func (s *Server) logInForm(c *gin.Context, name, wrong string) (formPage, error) {
	f := formPage{
		Heading: "Log in", Lead: "With the name and the password you chose when you joined.", Action: "/login", Wrong: wrong,
		Inputs: []input{
			{Key: "name", Label: "Your name", Kind: "text", Value: name, Complete: "username"},
			{Key: "password", Label: "Your password", Kind: "password", Complete: "current-password"},
		},
		Button: "Log in",
		Links:  []place{{Path: "/join", Name: "I have a class code and no account"}, {Path: "/new-password", Name: "I have a code for a new password"}},
	}
	if v := s.visitor(c); v != "" {
		has, err := s.store.HasWork(c.Request.Context(), v)
		if err != nil {
			return f, err
		}
		if has {
			f.Tick = &tick{Key: "take-along", Label: "Add what was done in this browser to my own work"}
		}
	}
	return f, nil
}

func (s *Server) logInPage(c *gin.Context) error {
	if _, in := person(c); in {
		return seeOther(c, "/class")
	}
	f, err := s.logInForm(c, "", "")
	if err != nil {
		return err
	}
	return s.writeForm(c, http.StatusOK, f)
}

func (s *Server) enter(c *gin.Context) error {
	typed, err := form(c)
	if err != nil {
		return err
	}
	ctx, name := c.Request.Context(), cleanName(typed.Get("name"))
	at := ""
	if wrongName(name) == "" {
		at = "name " + store.KnownAs(name) // nobody has another: its tries need not be remembered
	}
	if err := s.within(c, at); err != nil {
		return err
	}
	p, err := s.store.PersonByName(ctx, name)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	right, err := s.hasher.matches(ctx, typed.Get("password"), p.Password)
	if err != nil {
		return err
	}
	if !right {
		s.event(c, "log-in failed", p.Visitor)
		f, err := s.logInForm(c, name, "Name and password do not belong together. Look at both and try again; your instructor can give you a code for a new password.")
		if err != nil {
			return err
		}
		return s.writeForm(c, http.StatusUnprocessableEntity, f)
	}
	if before := s.visitor(c); before != "" && before != p.Visitor && typed.Get("take-along") != "" {
		if err := s.store.TakeAlong(ctx, before, p.Visitor); err != nil {
			return err
		}
	}
	if err := s.logIn(c, p); err != nil {
		return err
	}
	s.event(c, "logged in", p.Visitor)
	return seeOther(c, "/class")
}

// logOut ends a person's session. A guest's stays: all that is kept hangs on it.
func (s *Server) logOut(c *gin.Context) error {
	p, in := person(c)
	if !in {
		return seeOther(c, "/")
	}
	if err := s.sessions.Destroy(c.Request.Context()); err != nil {
		return err
	}
	s.event(c, "logged out", p.Visitor)
	return seeOther(c, "/")
}

func codeInput(value, wrong string) input {
	return input{Key: "code", Label: "The class code", Means: "Words with a dash between them, from your instructor.", Kind: "text", Value: value, Wrong: wrong, Complete: "off"}
}

const noSuchCode = "No class is open under this code. Look at each word; your instructor may have changed or closed it."

func joinForm(known bool, inputs ...input) formPage {
	f := formPage{
		Heading: "Join a class", Lead: "What you have done in this browser so far stays yours and comes along.", Action: "/join", Inputs: inputs, Button: "Join",
		Links: []place{{Path: "/login", Name: "I have an account already: log in first"}},
	}
	if known {
		f.Lead, f.Links = "You stay who you are here; the code is all it takes.", nil
	}
	return f
}

func (s *Server) joinPage(c *gin.Context) error {
	code := readCode(c.Query("code"))
	p, in := person(c)
	switch {
	case in && p.Role == store.Instructor:
		return seeOther(c, "/class")
	case in:
		return s.writeForm(c, http.StatusOK, joinForm(true, codeInput(code, "")))
	}
	return s.writeForm(c, http.StatusOK, joinForm(false, codeInput(code, ""), nameInput("", ""), newPasswordInput("")))
}

func (s *Server) join(c *gin.Context) error {
	typed, err := form(c)
	if err != nil {
		return err
	}
	if err := s.within(c, ""); err != nil {
		return err
	}
	ctx, now := c.Request.Context(), s.now()
	p, known := person(c)
	if known && p.Role == store.Instructor {
		return seeOther(c, "/class")
	}
	code := readCode(typed.Get("code"))
	class, err := s.store.ClassByCode(ctx, code, now)
	wrongCode := ""
	if errors.Is(err, store.ErrNotFound) {
		wrongCode = noSuchCode
		s.event(c, "code refused", p.Visitor)
	} else if err != nil {
		return err
	}
	if known {
		if wrongCode != "" {
			return s.writeForm(c, http.StatusUnprocessableEntity, joinForm(true, codeInput(code, wrongCode)))
		}
		p.Joined = now
		if err := s.store.Join(ctx, class.ID, p, true); err != nil {
			return err
		}
		s.event(c, "class joined", p.Visitor)
		return seeOther(c, "/class/"+class.ID)
	}
	name := cleanName(typed.Get("name"))
	inputs := []input{codeInput(code, wrongCode), nameInput(name, wrongName(name)), newPasswordInput(wrongPassword(typed.Get("password"), name))}
	if wrongs(inputs) {
		return s.writeForm(c, http.StatusUnprocessableEntity, joinForm(false, inputs...))
	}
	hash, err := s.hasher.hash(ctx, typed.Get("password"))
	if err != nil {
		return err
	}
	p = store.Person{Visitor: s.newVisitor(c), Role: store.Student, Name: name, Password: hash, Sessions: 1, Joined: now}
	err = s.store.Join(ctx, class.ID, p, false)
	if errors.Is(err, store.ErrExists) {
		return s.writeForm(c, http.StatusUnprocessableEntity, joinForm(false, codeInput(code, ""), nameInput(name, nameTaken), newPasswordInput("")))
	}
	if err != nil {
		return err
	}
	s.event(c, "account made", p.Visitor)
	if err := s.logIn(c, p); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID)
}

func newPasswordForm(wrong string, inputs ...input) formPage {
	return formPage{Heading: "A new password", Lead: "With the code your instructor gave you. It works once, and ends what is open in other browsers.", Action: "/new-password", Inputs: inputs, Button: "Set it and log in", Wrong: wrong}
}

func (s *Server) newPasswordPage(c *gin.Context) error {
	return s.writeForm(c, http.StatusOK, newPasswordForm("", personCodeInput(""), otherPasswordInput("")))
}

func personCodeInput(value string) input {
	return input{Key: "code", Label: "Your code", Means: "Four words with a dash between them.", Kind: "text", Value: value, Complete: "off"}
}

func (s *Server) newPassword(c *gin.Context) error {
	typed, err := form(c)
	if err != nil {
		return err
	}
	if err := s.within(c, ""); err != nil {
		return err
	}
	ctx, now, code := c.Request.Context(), s.now(), readCode(typed.Get("code"))
	again := func(wrong string, password input) error {
		return s.writeForm(c, http.StatusUnprocessableEntity, newPasswordForm(wrong, personCodeInput(code), password))
	}
	const used = "This code was used, is too old, or has a slip in it. Ask your instructor for another."
	visitor, err := s.store.Code(ctx, code, now)
	if errors.Is(err, store.ErrNotFound) || err == nil && visitor == "" {
		s.event(c, "code refused", "")
		return again(used, otherPasswordInput(""))
	}
	if err != nil {
		return err
	}
	p, err := s.store.Person(ctx, visitor)
	if err != nil {
		return err
	}
	if wrong := wrongPassword(typed.Get("password"), p.Name); wrong != "" {
		return again("", otherPasswordInput(wrong))
	}
	hash, err := s.hasher.hash(ctx, typed.Get("password"))
	if err != nil {
		return err
	}
	if err := s.store.UseCode(ctx, code, visitor, hash, now); errors.Is(err, store.ErrNotFound) {
		s.event(c, "code refused", visitor)
		return again(used, otherPasswordInput(""))
	} else if err != nil {
		return err
	}
	s.event(c, "password set by code", visitor)
	if p, err = s.store.Person(ctx, visitor); err != nil {
		return err
	}
	if err := s.logIn(c, p); err != nil {
		return err
	}
	return seeOther(c, "/class")
}

func accountForm(p store.Person, inputs ...input) formPage {
	return formPage{
		Heading: "Your account", Lead: "You are " + p.Name + ", " + p.Role + ". A new password ends what is open in other browsers.", Action: "/account", Inputs: inputs, Button: "Change the password",
	}
}

func currentPasswordInput(wrong string) input {
	return input{Key: "current", Label: "The password until now", Kind: "password", Wrong: wrong, Complete: "current-password"}
}

func (s *Server) accountPage(c *gin.Context) error {
	p, in := person(c)
	if !in {
		return seeOther(c, "/login")
	}
	f := accountForm(p, currentPasswordInput(""), otherPasswordInput(""))
	if c.Query("changed") != "" {
		f.Lead = "The password is changed. What was open in other browsers has ended."
	}
	return s.writeForm(c, http.StatusOK, f)
}

func (s *Server) changePassword(c *gin.Context) error {
	p, in := person(c)
	if !in {
		return seeOther(c, "/login")
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	if err := s.within(c, "name "+store.KnownAs(p.Name)); err != nil {
		return err
	}
	ctx := c.Request.Context()
	right, err := s.hasher.matches(ctx, typed.Get("current"), p.Password)
	if err != nil {
		return err
	}
	wrong := ""
	if !right {
		wrong = "This is not the password of this account."
		s.event(c, "password refused", p.Visitor)
	}
	inputs := []input{currentPasswordInput(wrong), otherPasswordInput(wrongPassword(typed.Get("password"), p.Name))}
	if wrongs(inputs) {
		return s.writeForm(c, http.StatusUnprocessableEntity, accountForm(p, inputs...))
	}
	hash, err := s.hasher.hash(ctx, typed.Get("password"))
	if err != nil {
		return err
	}
	if p.Sessions, err = s.store.SetPassword(ctx, p.Visitor, hash); err != nil {
		return err
	}
	s.event(c, "password changed", p.Visitor)
	if err := s.logIn(c, p); err != nil {
		return err
	}
	return seeOther(c, "/account?changed=1")
}
