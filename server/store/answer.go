package store

import (
	"context"
	"database/sql"
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
	Beliefs  []string  // ids of the misconceptions behind it; nil where they were not kept
	Wording  string    // of the question: "" for the course's own, else of a material and its version
	At       time.Time // comes back in UTC
}

const answerColumns = `visitor, question, lesson, given, correct, at, seed, sitting, beliefs, wording`

const saveAnswer = `insert into answers (` + answerColumns + `) values (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`

// columns are what saveAnswer writes.
func (a Answer) columns() ([]any, error) {
	given, err := json.Marshal(a.Given)
	if err != nil {
		return nil, err
	}
	var beliefs any
	if a.Beliefs != nil {
		list, err := json.Marshal(a.Beliefs)
		if err != nil {
			return nil, err
		}
		beliefs = string(list)
	}
	return []any{a.Visitor, a.Question, a.Lesson, string(given), a.Right, timeText(a.At), int64(a.Seed), a.Sitting, beliefs, a.Wording}, nil
}

// SaveAnswer appends an answer. A question answered again is another answer.
func (s *Store) SaveAnswer(ctx context.Context, a Answer) error {
	columns, err := a.columns()
	if err == nil {
		err = s.writeFor(ctx, a.Visitor, saveAnswer, columns...)
	}
	if err != nil {
		return fmt.Errorf("save answer to %s: %w", a.Question, err)
	}
	return nil
}

const listAnswers = `select ` + answerColumns + ` from answers where visitor = ? order by at, id`

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
	var beliefs sql.NullString
	var seed int64 // the same 64 bits; SQLite has no integers without a sign
	if err := r.Scan(&a.Visitor, &a.Question, &a.Lesson, &given, &a.Right, &at, &seed, &a.Sitting, &beliefs, &a.Wording); err != nil {
		return Answer{}, err
	}
	a.Seed = uint64(seed)
	if err := json.Unmarshal([]byte(given), &a.Given); err != nil {
		return Answer{}, err
	}
	if beliefs.Valid {
		if err := json.Unmarshal([]byte(beliefs.String), &a.Beliefs); err != nil {
			return Answer{}, err
		}
	}
	var err error
	a.At, err = time.Parse(timeLayout, at)
	return a, err
}
