package load

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/netip"
	"net/url"
	"regexp"
	"strconv"
	"time"

	"rollingboil/server"
)

// The kinds of request.
const (
	Join      = "join"
	Lesson    = "lesson"
	Question  = "question"
	Answer    = "answer"
	Plan      = "plan"
	Scenario  = "scenario"
	Set       = "set"
	Begin     = "begin"
	BatchPlan = "batch plan"
	Record    = "record"
	Photo     = "photo"
	HandIn    = "hand in"
	Page      = "page" // of the class and its batches, opened before and after each of these
)

// Kinds lists them, in the order students come to them.
func Kinds() []string {
	return []string{Join, Lesson, Question, Answer, Plan, Scenario, Set, Begin, BatchPlan, Record, Photo, HandIn, Page}
}

// Student is one browser with cookies and an address of its own. It is used by one
// goroutine.
type Student struct {
	Base  string // address of the site
	Class Class  // which the student joins
	Photo []byte // JPEG that goes with a record; none does when it is nil
	// Took is told of each request that was answered, and of each that failed, unless
	// it is nil.
	Took func(kind string, took time.Duration, err error)

	book   *Book
	course *server.Course
	draw   *rand.Rand
	client *http.Client
	from   string // the student's address
	name   string // "" before the student has joined
}

// NewStudent makes a student who answers the questions of the course. What the student
// does is drawn.
func NewStudent(book *Book, course *server.Course, draw *rand.Rand) *Student {
	s := &Student{book: book, course: course, draw: draw}
	s.client = &http.Client{
		Transport:     &http.Transport{MaxIdleConnsPerHost: 1}, // and no proxy
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
	s.Forget()
	return s
}

// Forget throws the cookies away: from here on it is another student, at another address.
func (s *Student) Forget() {
	s.client.Jar, _ = cookiejar.New(nil) // it fails only for options
	n := s.book.next()
	s.from, s.name = netip.AddrFrom4([4]byte{10, byte(n >> 16), byte(n >> 8), byte(n)}).String(), ""
}

// Leave closes the connection.
func (s *Student) Leave() { s.client.CloseIdleConnections() }

// request is what a student asks for or sends.
type request struct {
	kind, method, path string
	contentType        string // of the body
	body               []byte
	leadsTo            string // where the answer must lead; "" for anywhere
}

func formTo(kind, path string, form url.Values) request {
	return request{kind: kind, method: http.MethodPost, path: path, contentType: "application/x-www-form-urlencoded", body: []byte(form.Encode())}
}

// ask sends a request and gives the address it leads to and the page. It comes as through
// a proxy on the same machine, which names the student's address: the server counts tries
// by it, and a class does not sit behind one address.
func (s *Student) ask(ctx context.Context, r request) (leads string, page []byte, err error) {
	sent, err := http.NewRequestWithContext(ctx, r.method, s.Base+r.path, bytes.NewReader(r.body))
	if err != nil {
		return "", nil, err
	}
	if r.contentType != "" {
		sent.Header.Set("Content-Type", r.contentType)
	}
	sent.Header.Set("X-Forwarded-For", s.from)
	start := time.Now()
	leads, page, err = s.answerTo(sent)
	if err == nil && r.leadsTo != "" && leads != r.leadsTo {
		err = fmt.Errorf("it leads to %q, not to %s", leads, r.leadsTo)
	}
	if err != nil {
		err = fmt.Errorf("%s %s: %w", r.method, r.path, err)
	}
	if s.Took != nil {
		s.Took(r.kind, time.Since(start), err)
	}
	return leads, page, err
}

// get opens a page.
func (s *Student) get(ctx context.Context, kind, path string) (page []byte, err error) {
	_, page, err = s.ask(ctx, request{kind: kind, method: http.MethodGet, path: path})
	return page, err
}

func (s *Student) answerTo(request *http.Request) (leads string, page []byte, err error) {
	resp, err := s.client.Do(request)
	if err != nil {
		return "", nil, err
	}
	page, err = io.ReadAll(resp.Body)
	if err := errors.Join(err, resp.Body.Close()); err != nil {
		return "", nil, err
	}
	if resp.StatusCode/100 != 2 && resp.StatusCode/100 != 3 {
		return "", nil, errors.New(resp.Status)
	}
	return resp.Header.Get("Location"), page, nil
}

// send sends a request and notes the names of what it brings, before and, when they are
// acknowledged, after.
func (s *Student) send(ctx context.Context, r request, names ...string) (leads string, err error) {
	s.book.noteSent(names...)
	leads, _, err = s.ask(ctx, r)
	if err == nil {
		s.book.noteAcknowledged(names...)
	}
	return leads, err
}

// Read reads a lesson.
func (s *Student) Read(ctx context.Context) error {
	all := s.course.Lessons.Lessons()
	_, err := s.get(ctx, Lesson, "/lessons/"+all[s.draw.IntN(len(all))].Slug)
	return err
}

// Answer reads a question and answers it.
func (s *Student) Answer(ctx context.Context) error {
	all := s.course.Bank.Questions()
	q, seed := all[s.draw.IntN(len(all))], s.book.next()
	asked, err := q.Ask(seed)
	if err != nil {
		return err
	}
	path := fmt.Sprintf("/practice/%s?seed=%d", q.ID, seed)
	if _, err := s.get(ctx, Question, path); err != nil {
		return err
	}
	_, err = s.send(ctx, formTo(Answer, path, asked.Fields(asked.Key())), answerName(q.ID, seed))
	return err
}

// aPlan is a plan that no other is like, by its altitude and time.
func (s *Student) aPlan() (form url.Values, name string) {
	n := s.book.next()
	altitude, minutes := strconv.FormatUint(1000+n%8000, 10), strconv.FormatUint(40+n/8000, 10)
	return url.Values{
		"food": {"tomatoes-crushed"}, "pack": {"hot"}, "method": {"boiling-water"}, "jar": {"quart"}, "altitude": {altitude + " ft"},
		"time": {minutes + " min"}, "headspace": {"1/2 in"}, "acid.kind": {"bottled-lemon-juice"}, "acid.per_jar": {"2 tbsp"},
	}, planName(altitude, minutes)
}

// Plan has a plan checked.
func (s *Student) Plan(ctx context.Context) error {
	form, name := s.aPlan()
	_, err := s.send(ctx, formTo(Plan, "/plan", form), name)
	return err
}

// planScenario is a scenario that asks for a plan.
const planScenario = "first-crushed-tomatoes"

// Scenario tries a scenario, each time another case of it.
func (s *Student) Scenario(ctx context.Context) error {
	form, _ := s.aPlan()
	seed := s.book.next()
	_, err := s.send(ctx, formTo(Scenario, fmt.Sprintf("/scenarios/%s?case=%d", planScenario, seed), form), attemptName(seed))
	return err
}

const setSize = 10

var (
	setAddress   = regexp.MustCompile(`^/check/([a-z0-9]+)/1$`)
	questionOnIt = regexp.MustCompile(`name="question" value="([^"]+)"`)
	seedOnIt     = regexp.MustCompile(`name="seed" value="([^"]+)"`)
)

// Set begins a set of questions, answers some of it and hands it in.
func (s *Student) Set(ctx context.Context) error {
	leads, err := s.send(ctx, formTo(Set, "/check", url.Values{"size": {strconv.Itoa(setSize)}}))
	if err != nil {
		return err
	}
	found := setAddress.FindStringSubmatch(leads)
	if found == nil {
		return fmt.Errorf("a set leads to %q", leads)
	}
	id := found[1]
	s.book.noteAcknowledged(setName(id))
	for _, place := range s.draw.Perm(setSize)[:1+s.draw.IntN(4)] {
		path := fmt.Sprintf("/check/%s/%d", id, place+1)
		page, err := s.get(ctx, Question, path)
		if err != nil {
			return err
		}
		form, err := s.rightOn(page)
		if err != nil {
			return fmt.Errorf("GET %s: %w", path, err)
		}
		if _, err := s.send(ctx, formTo(Set, path, form), placeName(id, place)); err != nil {
			return err
		}
	}
	_, err = s.send(ctx, formTo(Set, "/check/"+id+"/hand-in", nil), handedInName(id))
	return err
}

// rightOn gives the form of a right answer to the question on a page.
func (s *Student) rightOn(page []byte) (url.Values, error) {
	id, seed := questionOnIt.FindSubmatch(page), seedOnIt.FindSubmatch(page)
	if id == nil || seed == nil {
		return nil, errors.New("there is no question on the page")
	}
	q, ok := s.course.Bank.Question(string(id[1]))
	if !ok {
		return nil, fmt.Errorf("no question %s", id[1])
	}
	n, err := strconv.ParseUint(string(seed[1]), 10, 64)
	if err != nil {
		return nil, err
	}
	asked, err := q.Ask(n)
	if err != nil {
		return nil, err
	}
	return asked.Fields(asked.Key()), nil
}
