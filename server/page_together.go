package server

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// What a class may see of itself is made at most once a day, and only when enough of its
// members have answered something since: from two pages that differ by one answer that
// answer could be read. In between the page stays as it was made, also when somebody
// joins, leaves, or deletes everything.
const (
	togetherEvery = day
	togetherNew   = 3 // members with new answers; our choice
)

// togetherCounts is the page as it is kept: counts as they may be shown, and no names.
type togetherCounts struct {
	Learners int            `json:"learners"`
	Hard     []togetherLine `json:"hard"`    // competency: right last, not right last, not asked yet
	Beliefs  []togetherLine `json:"beliefs"` // id: met it, did not
}

type togetherLine struct {
	Of     string   `json:"of"`
	Counts []string `json:"counts"`
}

type togetherPage struct {
	page
	Class    store.Class
	Learners int
	Made     string
	Hard     []hardLine
	Later    []place // what hardly anybody was asked about yet
	Beliefs  []sharedBelief
}

type hardLine struct {
	Name, Practice string
	Counts         []string
}

type sharedBelief struct {
	Belief, Not, Truth, Met string
	Lesson                  place
}

// togetherPage shows a class what it finds hard together.
func (s *Server) togetherPage(c *gin.Context) error {
	class, _, err := s.ofClass(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	kept, err := s.store.Together(ctx, class.ID)
	if err != nil {
		return err
	}
	if !kept.Shown {
		return errNoPage
	}
	if kept, err = s.renewed(ctx, class.ID, kept); err != nil {
		return err
	}
	data := togetherPage{page: newPage("What we find hard", "/class/"+class.ID), Class: class}
	c.Header("Cache-Control", "private, no-store")
	if len(kept.Page) == 0 {
		return s.write(c.Writer, c.Request, http.StatusOK, "together", data)
	}
	var counts togetherCounts
	if err := json.Unmarshal(kept.Page, &counts); err != nil {
		return fmt.Errorf("read what a class is shown: %w", err)
	}
	data.Learners, data.Made = counts.Learners, kept.Made.In(zoneOf(class.Zone)).Format("Monday 2 January")
	for _, line := range counts.Hard {
		name, practice := scenarios.Sentence(scenarios.Label(line.Of)), "/practice/next?"+scope{competency: line.Of}.query().Encode()
		if line.Counts[2] == mostCount {
			data.Later = append(data.Later, place{Path: practice, Name: name})
		} else {
			data.Hard = append(data.Hard, hardLine{name, practice, line.Counts})
		}
	}
	for _, line := range counts.Beliefs {
		m, ok := s.course.Grader.Rules().Misconception(line.Of)
		if !ok {
			continue // no longer in the list
		}
		belief := sharedBelief{Belief: m.Belief, Not: m.Not, Truth: m.Truth, Met: line.Counts[0]}
		if l, ok := s.course.Lessons.Lesson(m.Lesson); ok {
			belief.Lesson = place{Path: "/lessons/" + l.Slug, Name: l.Title}
		}
		data.Beliefs = append(data.Beliefs, belief)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "together", data)
}

// renewed gives the page anew when it is time for that, and else as it was.
func (s *Server) renewed(ctx context.Context, class string, kept store.Together) (store.Together, error) {
	now := s.now()
	if !kept.Made.IsZero() && now.Sub(kept.Made) < togetherEvery {
		return kept, nil
	}
	w, err := s.classWork(ctx, class, now)
	if err != nil {
		return kept, err
	}
	answered := people{}
	for _, a := range w.since(kept.Made).answers {
		answered[a.Visitor] = true
	}
	enough := togetherNew
	if kept.Made.IsZero() {
		enough = fewestLearners
	}
	if len(answered) < enough || len(w.members) < fewestLearners {
		return kept, nil
	}
	counts, err := s.countTogether(w)
	if err != nil {
		return kept, err
	}
	next := store.Together{Shown: true, Made: now}
	if next.Page, err = json.Marshal(counts); err != nil {
		return kept, err
	}
	err = s.store.RenewTogether(ctx, class, kept.Made, next)
	if errors.Is(err, store.ErrNotFound) { // somebody else asked at the same moment
		return s.store.Together(ctx, class)
	}
	return next, err
}

// countTogether counts a class as it may see itself. The order of the lines tells
// nothing that is hidden: competencies stand as always, and of beliefs only those that
// more than a few have met, sorted by what is printed of them.
func (s *Server) countTogether(w classWork) (togetherCounts, error) {
	out := togetherCounts{Learners: len(w.members)}
	learners := w.learners()
	for _, name := range competenciesInOrder() {
		right, wrong := 0, 0
		for _, l := range learners {
			shown := w.course.Bank.Shown(l, name)
			switch {
			case !shown.Asked:
			case shown.WrongLast:
				wrong++
			default:
				right++
			}
		}
		out.Hard = append(out.Hard, togetherLine{name, publish([]int{right, wrong, len(w.members) - right - wrong})})
	}
	met, err := s.beliefsOf(w)
	if err != nil {
		return out, err
	}
	for _, id := range met.all.byMost() {
		n := len(met.all[id])
		counts := publish([]int{n, len(w.members) - n})
		if counts[0] != fewCount {
			out.Beliefs = append(out.Beliefs, togetherLine{id, counts})
		}
	}
	// Lines that nearly all belong to are printed alike; their order must not tell them apart.
	slices.SortStableFunc(out.Beliefs, func(a, b togetherLine) int {
		if a.Counts[0] == mostCount && b.Counts[0] == mostCount {
			return strings.Compare(a.Of, b.Of)
		}
		return 0
	})
	return out, nil
}

// switchTogether lets the class see the page, or no longer.
func (s *Server) switchTogether(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	do := typed.Get("do")
	if do != "on" && do != "off" {
		return errBadForm
	}
	if err := s.store.ShowTogether(c.Request.Context(), class.ID, class.Instructor, do == "on"); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"/results#together")
}
