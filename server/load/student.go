package load

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math/rand/v2"
	"net/http"
	"net/http/cookiejar"
	"net/url"
	"regexp"
	"strconv"
	"strings"
	"time"

	"rollingboil/server"
)

// The kinds of request.
const (
	Lesson   = "lesson"
	Question = "question"
	Answer   = "answer"
	Plan     = "plan"
	Scenario = "scenario"
	Set      = "set"
)

// Kinds lists them, in the order students come to them.
func Kinds() []string { return []string{Lesson, Question, Answer, Plan, Scenario, Set} }

// Student is one browser with cookies of its own. It is used by one goroutine.
type Student struct {
	Base string // address of the site
	// Took is told of each request that was answered, and of each that failed, unless
	// it is nil.
	Took func(kind string, took time.Duration, err error)

	book   *Book
	course *server.Course
	draw   *rand.Rand
	client *http.Client
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

// Forget throws the cookies away: from here on it is another student.
func (s *Student) Forget() {
	s.client.Jar, _ = cookiejar.New(nil) // it fails only for options
}

// Leave closes the connection.
func (s *Student) Leave() { s.client.CloseIdleConnections() }

// ask sends a request and gives the address it leads to and the page.
func (s *Student) ask(ctx context.Context, kind, method, path string, form url.Values) (leads string, page []byte, err error) {
	request, err := http.NewRequestWithContext(ctx, method, s.Base+path, strings.NewReader(form.Encode()))
	if err != nil {
		return "", nil, err
	}
	if method == http.MethodPost {
		request.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	start := time.Now()
	leads, page, err = s.answerTo(request)
	if err != nil {
		err = fmt.Errorf("%s %s: %w", method, path, err)
	}
	if s.Took != nil {
		s.Took(kind, time.Since(start), err)
	}
	return leads, page, err
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

// send posts a form and notes the names of what it brings, before and, when they are
// acknowledged, after.
func (s *Student) send(ctx context.Context, kind, path string, form url.Values, names ...string) (leads string, err error) {
	s.book.noteSent(names...)
	leads, _, err = s.ask(ctx, kind, http.MethodPost, path, form)
	if err == nil {
		s.book.noteAcknowledged(names...)
	}
	return leads, err
}

// Read reads a lesson.
func (s *Student) Read(ctx context.Context) error {
	all := s.course.Lessons.Lessons()
	_, _, err := s.ask(ctx, Lesson, http.MethodGet, "/lessons/"+all[s.draw.IntN(len(all))].Slug, nil)
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
	if _, _, err := s.ask(ctx, Question, http.MethodGet, path, nil); err != nil {
		return err
	}
	_, err = s.send(ctx, Answer, path, asked.Fields(asked.Key()), answerName(q.ID, seed))
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
	_, err := s.send(ctx, Plan, "/plan", form, name)
	return err
}

// planScenario is a scenario that asks for a plan.
const planScenario = "first-crushed-tomatoes"

// Scenario tries a scenario, each time another case of it.
func (s *Student) Scenario(ctx context.Context) error {
	form, _ := s.aPlan()
	seed := s.book.next()
	_, err := s.send(ctx, Scenario, fmt.Sprintf("/scenarios/%s?case=%d", planScenario, seed), form, attemptName(seed))
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
	leads, err := s.send(ctx, Set, "/check", url.Values{"size": {strconv.Itoa(setSize)}})
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
		_, page, err := s.ask(ctx, Question, http.MethodGet, path, nil)
		if err != nil {
			return err
		}
		form, err := s.rightOn(page)
		if err != nil {
			return fmt.Errorf("GET %s: %w", path, err)
		}
		if _, err := s.send(ctx, Set, path, form, placeName(id, place)); err != nil {
			return err
		}
	}
	_, err = s.send(ctx, Set, "/check/"+id+"/hand-in", nil, handedInName(id))
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
