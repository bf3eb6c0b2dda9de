package server

import (
	"errors"
	"fmt"
	"html/template"
	"net/http"
	"net/url"
	"slices"
	"strings"

	"rollingboil/quiz"
	"rollingboil/scenarios"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// questionView is a question on a page, with the answer just given if there is
// one.
type questionView struct {
	ID, Action, Kind, Stem string
	Seed                   uint64
	Picture                template.HTML
	Unit, Typed, Wrong     string
	Options                []optionView
	Items                  []itemView
	Button                 string // what the button says
	Own                    string // since when it is an instructor’s own; "" for one of the course
	Wording                string // see taught.wording
	Changed                bool   // since the form was opened
	Answered               *answeredView
}

// optionView is an option, or a place or a partner in a list. It is named by its
// text.
type optionView struct {
	Text   string
	Chosen bool
}

// itemView is one thing to be put in order or to be given another, with the list
// it is done by.
type itemView struct {
	Name, Text string
	Options    []optionView
}

type answeredView struct {
	Right     bool
	Heading   string
	Says      []said
	Why, Page string
	Sources   []rules.Source
}

type said struct{ Option, Text string }

// viewQuestion shows a question that is not answered yet.
func (s *Server) viewQuestion(t *taught, a *quiz.Asked, action string) (questionView, error) {
	return s.filledQuestion(t, a, action, nil)
}

// filledQuestion shows a question with what is chosen or typed so far.
func (s *Server) filledQuestion(t *taught, a *quiz.Asked, action string, fields url.Values) (questionView, error) {
	q := a.Question
	v := questionView{ID: q.ID, Action: action, Kind: q.Kind, Stem: a.Stem, Unit: q.Unit, Seed: a.Seed, Button: "Answer"}
	v.Own, v.Wording = t.writtenFor(store.QuestionMaterial, q.ID), t.wording(store.QuestionMaterial, q.ID)
	if a.Picture != nil {
		p := a.Picture
		var err error
		v.Picture, err = s.part("jar", drawJar("jar-"+q.ID, jarLook{Size: p.Jar, Headspace: p.Headspace, Liquid: p.Liquid, Lid: p.Lid, Layers: p.Layers, Bubbles: p.Bubbles}))
		if err != nil {
			return v, err
		}
	}
	for _, o := range a.Options {
		v.Options = append(v.Options, optionView{o.Text, slices.Contains(fields["answer"], o.Text)})
	}
	if q.Kind == quiz.Number && len(fields["answer"]) > 0 {
		v.Typed = fields["answer"][0]
	}
	for _, item := range a.Items {
		view := itemView{Name: "with-" + item.Key, Text: item.Text}
		offered := a.Withs
		if q.Kind == quiz.Order {
			view.Name, offered = "place-"+item.Key, nil
			for n := range a.Items {
				offered = append(offered, fmt.Sprint(n+1))
			}
		}
		for _, o := range offered {
			view.Options = append(view.Options, optionView{o, slices.Contains(fields[view.Name], o)})
		}
		v.Items = append(v.Items, view)
	}
	return v, nil
}

// answered shows a question with an answer and what is said to it. The result is
// nil when the answer could not be marked, or was given to another wording; the view then
// says why.
func (s *Server) answered(t *taught, a *quiz.Asked, action string, fields url.Values) (v questionView, given []string, result *quiz.Result, err error) {
	if v, err = s.filledQuestion(t, a, action, fields); err != nil {
		return v, nil, nil, err
	}
	if v.Changed = t.stale(fields, store.QuestionMaterial, v.ID); v.Changed {
		return v, nil, nil, nil
	}
	given, err = a.Form(fields)
	var marked quiz.Result
	if err == nil {
		marked, err = a.Mark(given)
	}
	if answer, ok := errors.AsType[*quiz.AnswerError](err); ok {
		v.Wrong = scenarios.Sentence(answer.Reason) + "."
		return v, nil, nil, nil
	}
	if err != nil {
		return v, nil, nil, err
	}
	v.Answered, v.Button = s.viewResult(a, marked), "Answer again"
	return v, given, &marked, nil
}

// unmarked is the status of a page with an answer that was not marked.
func (v questionView) unmarked() int {
	if v.Changed {
		return http.StatusConflict
	}
	return http.StatusUnprocessableEntity
}

// markedAnswer is an answer as it was marked, to be kept. Whose it is and when it was
// given is for the caller to say.
func (t *taught) markedAnswer(asked *quiz.Asked, given []string, result quiz.Result) store.Answer {
	return store.Answer{
		Question: asked.Question.ID, Seed: asked.Seed, Lesson: asked.Question.Lesson,
		Given: given, Right: result.Right, Beliefs: append([]string{}, result.Misconceptions()...),
		Wording: t.wording(store.QuestionMaterial, asked.Question.ID),
	}
}

// viewResult puts a marked answer into words.
func (s *Server) viewResult(a *quiz.Asked, result quiz.Result) *answeredView {
	view := &answeredView{Right: result.Right, Why: result.Why, Page: result.Page, Sources: s.sourcesNamed(result.Sources), Heading: "That is right."}
	if !result.Right {
		view.Heading = "Not this one."
		if result.Key != "" && a.Question.Kind == quiz.Number {
			view.Heading = "Not this one. It is " + result.Key + "."
		}
	}
	for _, o := range result.Chosen {
		view.Says = append(view.Says, saidOf(a.Question, o))
	}
	for _, o := range result.Missed {
		view.Says = append(view.Says, saidOf(a.Question, o))
	}
	if !result.Right && a.Question.Kind == quiz.Order {
		view.Says = append(view.Says, said{Option: "In order:", Text: result.Key})
	}
	return view
}

func saidOf(q *quiz.Question, o quiz.Option) said {
	if q.Kind == quiz.Number {
		return said{Text: o.Feedback}
	}
	return said{Option: o.Text + ":", Text: o.Feedback}
}

func (s *Server) sourcesNamed(ids []string) []rules.Source {
	var list []rules.Source
	for _, id := range ids {
		if src, ok := s.course.Grader.Rules().Source(strings.TrimSpace(id)); ok {
			list = append(list, src)
		}
	}
	return list
}
