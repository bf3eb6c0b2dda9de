package store

import (
	"fmt"
	"testing"
	"time"
)

func BenchmarkSaveAnswer(b *testing.B) {
	s := openStore(b, newPath(b))
	a := Answer{Visitor: NewID(), Question: "altitude-why", Lesson: "altitude", Given: []string{"lower-boiling"}, Right: true, At: noon}
	for b.Loop() {
		if err := s.SaveAnswer(b.Context(), a); err != nil {
			b.Fatal(err)
		}
	}
}

// A learner who takes the whole course a few times over gives some 500 answers;
// ten such classmates lie between the rows.
func BenchmarkListAnswers(b *testing.B) {
	s := openStore(b, newPath(b))
	for i := range 5000 {
		a := Answer{
			Visitor: fmt.Sprint("visitor", i%10), Question: "altitude-why", Lesson: "altitude",
			Given: []string{"lower-boiling"}, At: noon.Add(time.Duration(i) * time.Second),
		}
		if err := s.SaveAnswer(b.Context(), a); err != nil {
			b.Fatal(err)
		}
	}
	for b.Loop() {
		answers, err := s.ListAnswers(b.Context(), "visitor3")
		if err != nil || len(answers) != 500 {
			b.Fatal(len(answers), err)
		}
	}
}
