package store

import (
	"context"
	"encoding/json"
	"fmt"
	"time"
)

// Answer is one answer of a visitor to a question, as it was marked then.
type Answer struct {
	Visitor  string
	Question string    // id of the question
	Seed     uint64    // what the question was drawn with; 0 as it is written
	Lesson   string    // slug of the lesson it was asked in, empty if in none
	Sitting  string    // id of the sitting it was handed in with, empty if with none
	Given    []string  // what was chosen or typed, in the order given
	Right    bool      // whether it was marked right
	At       time.Time // comes back in UTC
}

const saveAnswer = `insert into answers (visitor, question, lesson, given, correct, at, seed, sitting) values (?, ?, ?, ?, ?, ?, ?, ?)`

// SaveAnswer appends an answer. A question answered again is another answer.
func (s *Store) SaveAnswer(ctx context.Context, a Answer) error {
	given, err := json.Marshal(a.Given)
	if err != nil {
		return fmt.Errorf("save answer to %s: %w", a.Question, err)
	}
	err = s.writeFor(ctx, a.Visitor, saveAnswer,
		a.Visitor, a.Question, a.Lesson, string(given), a.Right, timeText(a.At), int64(a.Seed), a.Sitting)
	if err != nil {
		return fmt.Errorf("save answer to %s: %w", a.Question, err)
	}
	return nil
}

const listAnswers = `select visitor, question, lesson, given, correct, at, seed, sitting from answers where visitor = ? order by at, id`

// ListAnswers returns all answers of the visitor, the earliest first.
func (s *Store) ListAnswers(ctx context.Context, visitor string) ([]Answer, error) {
	all, err := queryAll(ctx, s.read, scanAnswer, listAnswers, visitor)
	if err != nil {
		return nil, fmt.Errorf("list answers: %w", kind(err))
	}
	return all, nil
}

func scanAnswer(r row) (Answer, error) {
	var a Answer
	var given, at string
	var seed int64 // the same 64 bits; SQLite has no integers without a sign
	if err := r.Scan(&a.Visitor, &a.Question, &a.Lesson, &given, &a.Right, &at, &seed, &a.Sitting); err != nil {
		return Answer{}, err
	}
	a.Seed = uint64(seed)
	if err := json.Unmarshal([]byte(given), &a.Given); err != nil {
		return Answer{}, err
	}
	var err error
	a.At, err = time.Parse(timeLayout, at)
	return a, err
}
