package quiz

import (
	"embed"
	"io/fs"
)

//go:embed bank/*.yaml
var files embed.FS

//go:embed doc.go
var docFile string

// Format is doc.go, whose comment describes how a question is written, for a page that
// shows it.
func Format() string { return docFile }

// Shipped is the question bank that comes with the program, with its files at
// the root.
func Shipped() fs.FS {
	sub, err := fs.Sub(files, "bank")
	if err != nil {
		panic(err) // only for a path that is not valid, and this one is
	}
	return sub
}

// Bank is a loaded question bank. It does not change and may be used by many
// goroutines at once.
type Bank struct {
	options   Options
	questions []*Question
	byID      map[string]*Question
	byLesson  map[string][]*Question
}

// Question gives the question with this id.
func (b *Bank) Question(id string) (*Question, bool) {
	q, ok := b.byID[id]
	return q, ok
}

// Lesson lists a lesson's questions in the order of its file, none for a
// lesson that has no questions.
func (b *Bank) Lesson(slug string) []*Question { return b.byLesson[slug] }

// Questions lists all questions, by file name and then in the order of the
// file.
func (b *Bank) Questions() []*Question { return b.questions }
