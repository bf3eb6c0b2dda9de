package server

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/server/store"
)

// A material begins with a small whole text, with something of the course, with a trial or
// an accepted batch of the class, or with what was written for another class.

type materialNewPage struct {
	page
	Class    store.Class
	Kind     string
	KindName string
	From     []optionGroup // what it may begin with
	Name     input
	Wrong    string
	There    *place // the material that has the name already
}

func kindOf(word string) (string, error) {
	if !slices.Contains(materialKinds, word) {
		return "", errNoPage
	}
	return word, nil
}

func (s *Server) newMaterialPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	kind, err := kindOf(c.DefaultQuery("kind", store.LessonMaterial))
	if err != nil {
		return err
	}
	return s.showNewMaterial(c, http.StatusOK, class, kind, c.Query("from"), materialNewPage{Name: input{Value: suggestedName(c.Query("from"))}})
}

// suggestedName is a name for what begins with something of the class.
func suggestedName(from string) string {
	switch what, id, _ := strings.Cut(from, " "); what {
	case "trial", "batch":
		return what + "-" + id[:min(6, len(id))]
	}
	return ""
}

func (s *Server) showNewMaterial(c *gin.Context, status int, class store.Class, kind, from string, data materialNewPage) error {
	data.page, data.Class, data.Kind, data.KindName = newPage("Write a "+materialNames[kind][0], "/class/"+class.ID), class, kind, materialNames[kind][0]
	data.Name.Key, data.Name.Label, data.Name.Kind, data.Name.Complete = "called", "Its name", "text", "off"
	data.Name.Means = "Small letters, digits and hyphens, such as pears-of-the-valley. It stands in the address and does not change. Leave it empty for one of the course’s own, which keeps its name."
	var err error
	if data.From, err = s.beginnings(c, class, kind); err != nil {
		return err
	}
	for _, g := range data.From {
		for i := range g.Options {
			g.Options[i].Chosen = g.Options[i].Word == from
		}
	}
	return s.write(c.Writer, c.Request, status, "material-new", data)
}

// beginnings lists what a material may begin with.
func (s *Server) beginnings(c *gin.Context, class store.Class, kind string) ([]optionGroup, error) {
	ctx := c.Request.Context()
	var groups []optionGroup
	add := func(name string, options []formOption) {
		if len(options) > 0 {
			groups = append(groups, optionGroup{Name: name, Options: options})
		}
	}
	var list []formOption
	for _, st := range startsOf(kind) {
		list = append(list, formOption{Word: "start " + st.Name, Name: st.Title})
	}
	add("A new one", list)
	switch kind {
	case store.LessonMaterial:
		trials, err := s.store.Trials(ctx, class.ID)
		if err != nil {
			return nil, err
		}
		list = nil
		for _, t := range trials {
			list = append(list, formOption{Word: "trial " + t.ID, Name: "Trial: " + beginning(t.Question)})
		}
		add("A trial of the class", list)
		list = nil
		for _, l := range s.course.Lessons.Lessons() {
			list = append(list, formOption{Word: "course " + l.Slug, Name: fmt.Sprintf("%d. %s", l.Number, l.Title)})
		}
		add("A lesson of the course, to change it for the class", list)
	case store.QuestionMaterial:
		for _, l := range s.course.Lessons.Lessons() {
			list = nil
			for _, q := range s.course.Bank.Lesson(l.Slug) {
				list = append(list, formOption{Word: "course " + q.ID, Name: q.ID + ": " + beginning(q.Stem)})
			}
			add("Change a question of: "+l.Title, list)
		}
	case store.ScenarioMaterial:
		records, err := s.acceptedRecords(ctx, class.ID)
		if err != nil {
			return nil, err
		}
		list = nil
		zone := zoneOf(class.Zone)
		for _, r := range byTime(records) {
			name := fmt.Sprintf("%s, %s, by %s", r.Title, r.At.In(zone).Format("2 Jan"), r.Student)
			list = append(list, formOption{Word: "batch " + r.Batch + " what-now", Name: name + ": what becomes of its jars"}, formOption{Word: "batch " + r.Batch + " faults", Name: name + ": what went wrong"})
		}
		add("An accepted batch; no name goes into it", list)
		list = nil
		for _, sc := range s.course.Scenarios {
			list = append(list, formOption{Word: "course " + sc.Slug, Name: sc.Title})
		}
		add("A scenario of the course, to change it for the class", list)
	}
	classes, err := s.store.Held(ctx, class.Instructor)
	if err != nil {
		return nil, err
	}
	for _, other := range classes {
		if other.ID == class.ID {
			continue
		}
		all, err := s.store.Materials(ctx, other.ID)
		if err != nil {
			return nil, err
		}
		list = nil
		for _, m := range all {
			if m.Kind == kind {
				list = append(list, formOption{Word: "own " + other.ID + " " + m.ID, Name: m.Title})
			}
		}
		add("Written for "+other.Name, list)
	}
	return groups, nil
}

func byTime(records map[string]store.ClassRecord) []store.ClassRecord {
	var list []store.ClassRecord
	for _, r := range records {
		list = append(list, r)
	}
	slices.SortFunc(list, func(a, b store.ClassRecord) int {
		if !a.At.Equal(b.At) {
			return b.At.Compare(a.At)
		}
		return strings.Compare(a.Batch, b.Batch)
	})
	return list
}

// errNoBeginning says why nothing can be begun with what was chosen.
type errNoBeginning struct{ says string }

func (e errNoBeginning) Error() string { return e.says }

// begun writes the first text of a material, and gives the name it has if it is one of the
// course's own or of another class.
func (s *Server) begun(c *gin.Context, class store.Class, kind, from string) (text, keeps string, err error) {
	ctx := c.Request.Context()
	what, rest, _ := strings.Cut(from, " ")
	switch what {
	case "start":
		i := slices.IndexFunc(startsOf(kind), func(st start) bool { return st.Name == rest })
		if i < 0 {
			return "", "", errNoBeginning{"Choose what it begins with."}
		}
		return startsOf(kind)[i].Text(), "", nil
	case "course":
		text, err = s.courseText(kind, rest)
		return text, rest, err
	case "trial":
		w, err := s.trialOf(ctx, class, rest)
		if err != nil || kind != store.LessonMaterial {
			return "", "", cmp.Or(err, errNoPage)
		}
		draft, err := s.trialLesson(w, s.now().In(zoneOf(class.Zone)))
		return string(draft), "", err
	case "batch":
		id, ofKind, _ := strings.Cut(rest, " ")
		records, err := s.acceptedRecords(ctx, class.ID)
		if err != nil {
			return "", "", err
		}
		record, ok := records[id]
		if !ok || kind != store.ScenarioMaterial {
			return "", "", errNoPage
		}
		b, _, err := s.course.Grader.ParseFile("", record.File)
		if err != nil {
			return "", "", fmt.Errorf("read the record of batch %s: %w", id, err)
		}
		draft, err := s.course.Grader.Draft(b, ofKind)
		if err != nil {
			return "", "", errNoBeginning{"No scenario can be made of this batch: " + err.Error() + "."}
		}
		return string(draft), "", nil
	case "own":
		id, material, _ := strings.Cut(rest, " ")
		other, err := s.store.Class(ctx, id)
		if err != nil || other.Instructor != class.Instructor {
			return "", "", cmp.Or(err, errNoPage)
		}
		m, err := s.store.Material(ctx, other.ID, material)
		if err != nil || m.Kind != kind {
			return "", "", cmp.Or(err, errNoPage)
		}
		v, err := s.store.MaterialVersion(ctx, m.ID, m.Last)
		return v.Source, m.Name, err
	}
	return "", "", errNoBeginning{"Choose what it begins with."}
}

// newMaterial begins a material and leads to where it is written.
func (s *Server) newMaterial(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	kind, err := kindOf(typed.Get("kind"))
	if err != nil {
		return err
	}
	from, name := typed.Get("from"), strings.TrimSpace(typed.Get("called"))
	again := materialNewPage{Name: input{Value: name}}
	refuse := func(status int) error { return s.showNewMaterial(c, status, class, kind, from, again) }
	text, keeps, err := s.begun(c, class, kind, from)
	if no := (errNoBeginning{}); errors.As(err, &no) {
		again.Wrong = no.says
		return refuse(http.StatusUnprocessableEntity)
	}
	if err != nil {
		return err
	}
	if name == "" {
		name = keeps
	}
	switch {
	case name == "":
		again.Name.Wrong = "Give it a name."
	case len(name) > mostName:
		again.Name.Wrong = fmt.Sprintf("The name is too long: %d letters are the most.", mostName)
	case !nameForm.MatchString(name):
		again.Name.Wrong = "A name has small letters, digits and single hyphens: pears-of-the-valley."
	case kind == store.QuestionMaterial && name == "next":
		again.Name.Wrong = "A question cannot be called next: that is the address of the next question. Take another name."
	case name != keeps && s.courseHas(kind, name):
		again.Name.Wrong = "The course has a " + materialNames[kind][0] + " of this name. Choose it above to change it for the class, or take another name."
	}
	if again.Name.Wrong != "" {
		return refuse(http.StatusUnprocessableEntity)
	}
	text = withName(kind, name, text)
	m := store.Material{ID: store.NewID(), Class: class.ID, Kind: kind, Name: name, Made: s.now()}
	err = s.store.AddMaterial(c.Request.Context(), m, store.MaterialVersion{N: 1, Title: titleIn(name, text), Source: text, Made: s.now()})
	if errors.Is(err, store.ErrExists) {
		id, err := s.store.MaterialNamed(c.Request.Context(), class.ID, kind, name)
		if err != nil {
			return err
		}
		again.There = &place{Path: "/class/" + class.ID + "/materials/" + id, Name: name}
		return refuse(http.StatusConflict)
	}
	if err != nil {
		return err
	}
	return seeOther(c, materialPath(m))
}
