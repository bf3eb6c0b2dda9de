package server

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"strconv"
	"strings"
	"time"

	"github.com/gin-gonic/gin"
	"github.com/rogpeppe/go-internal/diff"

	"rollingboil/server/store"
)

type materialsPage struct {
	page
	Class      store.Class
	Instructor bool
	Groups     []materialGroup
}

type materialGroup struct {
	Kind, Name string
	Lines      []materialLine
}

// materialLine is a material in a list; Path is where it is written, or read.
type materialLine struct{ Path, Title, State string }

var materialNames = map[string][2]string{ // one, and several
	store.LessonMaterial:   {"lesson", "Lessons"},
	store.QuestionMaterial: {"question", "Questions"},
	store.ScenarioMaterial: {"scenario", "Scenarios"},
}

// readPath is where a material is read.
func readPath(kind, name string) string {
	switch kind {
	case store.LessonMaterial:
		return "/lessons/" + name
	case store.QuestionMaterial:
		return "/practice/" + name
	}
	return "/scenarios/" + name
}

// materialsPage lists what was written for a class: everything for its instructor, what is
// published for its members.
func (s *Server) materialsPage(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	all, err := s.store.Materials(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	reads, err := s.taughtIn(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	data := materialsPage{page: newPage("Written for "+class.Name, "/class/"+class.ID), Class: class, Instructor: class.Instructor == p.Visitor}
	zone := zoneOf(class.Zone)
	for _, kind := range materialKinds {
		group := materialGroup{Kind: kind, Name: materialNames[kind][1]}
		for _, m := range all {
			taught := reads.has(m.Kind, m.Name)
			switch {
			case m.Kind != kind:
			case data.Instructor:
				group.Lines = append(group.Lines, materialLine{materialPath(m), m.Title, materialState(m, taught, zone)})
			case taught:
				group.Lines = append(group.Lines, materialLine{readPath(m.Kind, m.Name), m.Reads, "published on " + m.Since.In(zone).Format("2 Jan 2006")})
			}
		}
		if data.Instructor || len(group.Lines) > 0 {
			data.Groups = append(data.Groups, group)
		}
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "materials", data)
}

func materialPath(m store.Material) string { return "/class/" + m.Class + "/materials/" + m.ID }

// materialState says in a line how far a material is; taught, whether the class reads it.
func materialState(m store.Material, taught bool, zone *time.Location) string {
	switch {
	case m.Published > 0 && !taught:
		return "version " + strconv.Itoa(m.Published) + " is published, but no longer passes the checks: the class does not read it"
	case m.Published == 0 && m.Since.IsZero():
		return "a draft, changed on " + m.Changed.In(zone).Format("2 Jan, 15:04")
	case m.Published == 0:
		return "taken back on " + m.Since.In(zone).Format("2 Jan, 15:04")
	case m.Published < m.Last:
		return fmt.Sprintf("the class reads version %d of %d", m.Published, m.Last)
	}
	return "published on " + m.Since.In(zone).Format("2 Jan, 15:04")
}

// heldMaterial is the material of the address, for the instructor of its class.
func (s *Server) heldMaterial(c *gin.Context) (store.Class, store.Material, error) {
	class, err := s.held(c)
	if err != nil {
		return class, store.Material{}, err
	}
	m, err := s.store.Material(c.Request.Context(), class.ID, c.Param("material"))
	return class, m, err
}

type materialPage struct {
	page
	Class    store.Class
	Material store.Material
	KindName string
	State    string
	Read     string // where the class reads it; "" while it does not
	Course   bool   // the course has one of this name
	Text     string
	After    int  // the version that was changed
	Unkept   bool // the text is not kept
	Problems []problemView
	Draws    bool // it may be drawn anew
	Wrong    string
	Taken    []problem // why it cannot be taken back
	Versions []materialVersionLine
	Events   []string
}

type materialVersionLine struct {
	N           int
	Title, When string
	Here        bool // the class reads it
}

// problemView is a problem with the line it is about.
type problemView struct {
	problem
	Text string
}

func viewProblems(list []problem, text string) []problemView {
	lines := strings.Split(text, "\n")
	var views []problemView
	for _, p := range list {
		v := problemView{problem: p}
		if p.Line > 0 && p.Line <= len(lines) {
			v.Text = beginning(strings.TrimSpace(lines[p.Line-1]))
		}
		views = append(views, v)
	}
	return views
}

func (s *Server) materialPage(c *gin.Context) error {
	class, m, err := s.heldMaterial(c)
	if err != nil {
		return err
	}
	v, err := s.store.MaterialVersion(c.Request.Context(), m.ID, m.Last)
	if err != nil {
		return err
	}
	return s.showMaterial(c, http.StatusOK, class, m, materialPage{Text: v.Source, After: v.N})
}

func (s *Server) showMaterial(c *gin.Context, status int, class store.Class, m store.Material, data materialPage) error {
	ctx, zone := c.Request.Context(), zoneOf(class.Zone)
	found, err := s.checkText(ctx, m, data.Text)
	if err != nil {
		return err
	}
	reads, err := s.taughtIn(ctx, class.ID)
	if err != nil {
		return err
	}
	versions, err := s.store.MaterialVersions(ctx, m.ID)
	if err != nil {
		return err
	}
	events, err := s.store.MaterialEvents(ctx, m.ID)
	if err != nil {
		return err
	}
	data.page = newPage("Write: "+m.Title, "/class/"+class.ID)
	data.Script = "script/write.js"
	data.Class, data.Material, data.KindName, data.Problems = class, m, materialNames[m.Kind][0], viewProblems(found.Problems, data.Text)
	data.State, data.Course, data.Draws = materialState(m, reads.has(m.Kind, m.Name), zone), s.courseHas(m.Kind, m.Name), m.Kind != store.LessonMaterial
	if reads.has(m.Kind, m.Name) {
		data.Read = readPath(m.Kind, m.Name)
	}
	for _, v := range versions {
		data.Versions = append(data.Versions, materialVersionLine{v.N, v.Title, v.Made.In(zone).Format("2 Jan 2006, 15:04"), v.N == m.Published})
	}
	for _, e := range events {
		says := fmt.Sprintf("version %d published", e.N)
		if e.N == 0 {
			says = "taken back"
		}
		data.Events = append(data.Events, e.At.In(zone).Format("2 Jan 2006, 15:04")+": "+says)
	}
	c.Header("Content-Security-Policy", policy+"; frame-src 'self'") // for the preview
	return s.write(c.Writer, c.Request, status, "material", data)
}

// typedSource reads a text as it was typed, with the line ends of the course's files.
func typedSource(typed string) string { return strings.ReplaceAll(typed, "\r\n", "\n") }

// saveMaterial keeps what was written as a further version, whether or not the checks find
// fault with it; what cannot be kept stays on the page.
func (s *Server) saveMaterial(c *gin.Context) error {
	typed, err := form(c)
	if err != nil {
		return err
	}
	text := typedSource(typed.Get("text"))
	class, m, err := s.heldMaterial(c)
	if err != nil {
		return err
	}
	after, err := strconv.Atoi(typed.Get("after"))
	if err != nil {
		return errBadForm
	}
	again := materialPage{Text: text, After: after}
	switch {
	case len(text) > mostText:
		again.Unkept = true
		again.Wrong = "This is too long to keep: " + thousands(mostText) + " letters are the most. Nothing you typed is lost; make two of it."
		return s.showMaterial(c, http.StatusUnprocessableEntity, class, m, again)
	case strings.TrimSpace(text) == "":
		again.Wrong = "There is nothing to keep: the text is empty. The versions below are as they were."
		return s.showMaterial(c, http.StatusUnprocessableEntity, class, m, again)
	}
	last, err := s.store.MaterialVersion(c.Request.Context(), m.ID, m.Last)
	if err != nil {
		return err
	}
	if last.N == after && last.Source == text { // nothing was changed since
		return s.saved(c, class, m, typed.Get("do"), last.N)
	}
	v := store.MaterialVersion{N: after + 1, Title: titleIn(m.Name, text), Source: text, Made: s.now()}
	err = s.store.AddMaterialVersion(c.Request.Context(), m.ID, v)
	if errors.Is(err, store.ErrChanged) {
		if m, err = s.store.Material(c.Request.Context(), class.ID, m.ID); err != nil {
			return err
		}
		again.After, again.Unkept = m.Last, true
		again.Wrong = fmt.Sprintf("Somebody, perhaps you in another tab, has kept version %d meanwhile. What you typed is below and not kept yet. Look at version %d first; if yours is to follow it, keep it now.", m.Last, m.Last)
		return s.showMaterial(c, http.StatusConflict, class, m, again)
	}
	if err != nil {
		return err
	}
	return s.saved(c, class, m, typed.Get("do"), v.N)
}

// saved goes on from a version that is kept.
func (s *Server) saved(c *gin.Context, class store.Class, m store.Material, do string, n int) error {
	if do == "publish" {
		return s.publish(c, class, m, n)
	}
	return seeOther(c, materialPath(m))
}

// publishMaterial has the class read a version from now on.
func (s *Server) publishMaterial(c *gin.Context) error {
	class, m, err := s.heldMaterial(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	n, err := strconv.Atoi(typed.Get("n"))
	if err != nil || n < 1 {
		return errBadForm
	}
	return s.publish(c, class, m, n)
}

// publish has the class read a version, if the checks find nothing in it.
func (s *Server) publish(c *gin.Context, class store.Class, m store.Material, n int) error {
	ctx := c.Request.Context()
	v, err := s.store.MaterialVersion(ctx, m.ID, n)
	if err != nil {
		return err
	}
	found, err := s.checkText(ctx, m, v.Source)
	if err != nil {
		return err
	}
	if len(found.Problems) > 0 {
		if m, err = s.store.Material(ctx, class.ID, m.ID); err != nil {
			return err
		}
		return s.showMaterial(c, http.StatusUnprocessableEntity, class, m, materialPage{
			Text: v.Source, After: m.Last, Wrong: fmt.Sprintf("Version %d is kept, but not published: the checks find fault with it. See below.", n),
		})
	}
	if err := s.store.PublishMaterial(ctx, m.ID, store.MaterialEvent{N: n, At: s.now()}); err != nil {
		return err
	}
	return seeOther(c, materialPath(m)+"#state")
}

// takeBackMaterial has the class read it no longer.
func (s *Server) takeBackMaterial(c *gin.Context) error {
	class, m, err := s.heldMaterial(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	needed, err := s.takeBackProblems(ctx, m)
	if err != nil {
		return err
	}
	if len(needed) > 0 {
		v, err := s.store.MaterialVersion(ctx, m.ID, m.Last)
		if err != nil {
			return err
		}
		return s.showMaterial(c, http.StatusConflict, class, m, materialPage{Text: v.Source, After: v.N, Taken: needed})
	}
	if m.Published > 0 {
		if err := s.store.PublishMaterial(ctx, m.ID, store.MaterialEvent{At: s.now()}); err != nil {
			return err
		}
	}
	return seeOther(c, materialPath(m)+"#state")
}

type materialVersionPage struct {
	page
	Class    store.Class
	Material store.Material
	Version  store.MaterialVersion
	When     string
	Here     bool // the class reads it
	Last     bool
	Problems []problemView
	Changes  string // from the version before, as a unified diff
	Before   int
}

// versionOf is the version of the address.
func (s *Server) versionOf(c *gin.Context) (class store.Class, m store.Material, v store.MaterialVersion, err error) {
	if class, m, err = s.heldMaterial(c); err != nil {
		return class, m, v, err
	}
	n, err := strconv.Atoi(c.Param("n"))
	if err != nil {
		return class, m, v, errNoPage
	}
	v, err = s.store.MaterialVersion(c.Request.Context(), m.ID, n)
	return class, m, v, err
}

func (s *Server) materialVersionPage(c *gin.Context) error {
	class, m, v, err := s.versionOf(c)
	if err != nil {
		return err
	}
	data := materialVersionPage{
		page: newPage(fmt.Sprintf("Version %d of %s", v.N, m.Title), "/class/"+class.ID), Class: class, Material: m, Version: v,
		When: v.Made.In(zoneOf(class.Zone)).Format("2 Jan 2006, 15:04"), Here: v.N == m.Published, Last: v.N == m.Last,
	}
	found, err := s.checkText(c.Request.Context(), m, v.Source)
	if err != nil {
		return err
	}
	data.Problems = viewProblems(found.Problems, v.Source)
	if v.N > 1 {
		before, err := s.store.MaterialVersion(c.Request.Context(), m.ID, v.N-1)
		if err != nil {
			return err
		}
		data.Before = v.N - 1
		data.Changes = string(diff.Diff(fmt.Sprintf("version %d", before.N), []byte(before.Source), fmt.Sprintf("version %d", v.N), []byte(v.Source)))
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "material-version", data)
}

// goBack keeps an older version once more as the last one, to go on from there.
func (s *Server) goBack(c *gin.Context) error {
	class, m, v, err := s.versionOf(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	after, err := strconv.Atoi(typed.Get("after"))
	if err != nil {
		return errBadForm
	}
	err = s.store.AddMaterialVersion(c.Request.Context(), m.ID, store.MaterialVersion{N: after + 1, Title: v.Title, Source: v.Source, Made: s.now()})
	if errors.Is(err, store.ErrChanged) {
		last, err := s.store.MaterialVersion(c.Request.Context(), m.ID, m.Last)
		if err != nil {
			return err
		}
		return s.showMaterial(c, http.StatusConflict, class, m, materialPage{Text: last.Source, After: last.N, Wrong: fmt.Sprintf("Version %d was kept meanwhile, so nothing was changed. Look at it first.", m.Last)})
	}
	if err != nil {
		return err
	}
	return seeOther(c, materialPath(m))
}

// fileEnding is what the names of files of a kind end with.
func fileEnding(kind string) string {
	if kind == store.QuestionMaterial {
		return ".yaml"
	}
	return ".md"
}

// materialFile is a version as a file of a course folder.
func (s *Server) materialFile(c *gin.Context) error {
	_, m, v, err := s.versionOf(c)
	if err != nil {
		return err
	}
	name := m.Name + fileEnding(m.Kind)
	if m.Kind != store.QuestionMaterial {
		name = "90-" + name
	}
	return s.download(c, name, "text/plain; charset=utf-8", []byte(v.Source))
}

type previewPage struct {
	page
	Kind, KindName string
	Problems       []problemView
	Body           template.HTML
}

// previewPolicy is for a page that stands in the page where a material is written: it runs
// nothing and sends nothing, whatever was typed.
const previewPolicy = "default-src 'none'; style-src 'self'; img-src 'self'; form-action 'none'; base-uri 'none'; frame-ancestors 'self'"

// keptPreview shows the version that was kept last as the class would read it: so that a
// link within a preview leads somewhere.
func (s *Server) keptPreview(c *gin.Context) error {
	_, m, err := s.heldMaterial(c)
	if err != nil {
		return err
	}
	v, err := s.store.MaterialVersion(c.Request.Context(), m.ID, m.Last)
	if err != nil {
		return err
	}
	return s.showPreview(c, m, v.Source, "")
}

// previewMaterial shows a text as the class would read it, and what the checks find in it.
// Nothing is kept.
func (s *Server) previewMaterial(c *gin.Context) error {
	_, m, err := s.heldMaterial(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	text := typedSource(typed.Get("text"))
	if len(text) > mostText {
		return errTooLarge
	}
	return s.showPreview(c, m, text, typed.Get("drawing"))
}

func (s *Server) showPreview(c *gin.Context, m store.Material, text, drawing string) error {
	found, err := s.checkText(c.Request.Context(), m, text)
	if err != nil {
		return err
	}
	data := previewPage{page: newPage("Preview", ""), Kind: m.Kind, KindName: materialNames[m.Kind][0], Problems: viewProblems(found.Problems, text)}
	if found.taught != nil {
		seed, _ := strconv.ParseUint(drawing, 10, 32) // nothing, or no number: the first
		if data.Body, err = s.previewOf(c, found.taught, m, seed); err != nil {
			return err
		}
	}
	c.Header("Content-Security-Policy", previewPolicy)
	return s.writeIn(c.Writer, c.Request, "frame", http.StatusOK, "material-preview", data)
}

// previewOf draws a material.
func (s *Server) previewOf(c *gin.Context, t *taught, m store.Material, seed uint64) (template.HTML, error) {
	switch m.Kind {
	case store.LessonMaterial:
		data, err := s.newLessonPage(c, t, m.Name, lessonShown{})
		if err != nil {
			return "", err
		}
		return s.mainOf("lesson", data)
	case store.ScenarioMaterial:
		kase, err := s.course.Grader.Case(t.scenario(m.Name), seed)
		if err != nil {
			return "", err
		}
		data, err := s.newScenarioPage(c, t, kase)
		if err != nil {
			return "", err
		}
		return s.mainOf("scenario", data)
	}
	q, _ := t.Bank.Question(m.Name)
	asked, err := q.Ask(seed)
	if err != nil {
		return "", err
	}
	view, err := s.viewQuestion(t, asked, "")
	if err != nil {
		return "", err
	}
	data := previewQuestion{Question: view}
	tell := func(given []string, belief string) error {
		marked, err := asked.Mark(given)
		if err != nil {
			return err
		}
		data.Answers = append(data.Answers, previewAnswer{Given: strings.Join(given, ", "), Belief: belief, Told: s.viewResult(asked, marked)})
		return nil
	}
	if err := tell(asked.Key(), ""); err != nil {
		return "", err
	}
	for _, b := range asked.Believed() {
		belief, _ := s.course.Grader.Rules().Misconception(b.Misconception)
		if err := tell(b.Given, belief.Belief); err != nil {
			return "", err
		}
	}
	return s.part("preview-question", data)
}

// previewQuestion is a question with what is said to the answers that have a name.
type previewQuestion struct {
	Question questionView
	Answers  []previewAnswer // the right one first
}

type previewAnswer struct {
	Given, Belief string
	Told          *answeredView
}
