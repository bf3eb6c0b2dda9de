package server

import (
	"embed"
	"path"
	"strings"
)

//go:embed starts
var startFiles embed.FS

// start is a text to begin a lesson, a question or a scenario with: small, whole, and
// without a fault as it stands.
type start struct {
	Name  string // its file in the folder starts
	Kind  string // lesson, question or scenario
	Title string
	Means string // what it is good for
}

var allStarts = []start{
	{"lesson.md", "lesson", "A lesson", "One question, why, a worked example, a wrong belief and a question from memory."},
	{"question-choice.yaml", "question", "A choice with one right answer", "Each wrong answer comes from a belief that has a name."},
	{"question-choices.yaml", "question", "A choice with several right answers", "All of them are to be marked, and no others."},
	{"question-number.yaml", "question", "A number to type", "It is looked up in the tables, in a unit that you choose."},
	{"question-order.yaml", "question", "Steps to put in order", "The order is the answer."},
	{"question-match.yaml", "question", "Things that belong together", "Each is given what belongs to it."},
	{"question-drawn.yaml", "question", "A question drawn anew for each learner", "A food, a jar and an altitude are drawn, and the answer is looked up."},
	{"scenario-worked.md", "scenario", "A plan worked step by step", "The first kitchen is worked out. The learner finishes the next ones."},
	{"scenario-plan.md", "scenario", "A plan to write", "Somebody in the kitchen wants to do it another way."},
	{"scenario-faults.md", "scenario", "Faults to find in a plan", "Some lines hold, and some do not."},
	{"scenario-what-now.md", "scenario", "Jars to decide about", "The learner says what becomes of each jar."},
}

// startsOf lists the texts to begin one kind of file with, in the order in which a form
// offers them.
func startsOf(kind string) []start {
	var list []start
	for _, s := range allStarts {
		if s.Kind == kind {
			list = append(list, s)
		}
	}
	return list
}

// Text is the whole text.
func (s start) Text() string {
	text, err := startFiles.ReadFile(path.Join("starts", s.Name))
	if err != nil {
		panic(err) // the folder is embedded above, so this is a fault in the program
	}
	return strings.TrimSpace(string(text)) + "\n"
}
