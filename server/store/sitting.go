package store

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"time"
)

// Sitting is a set of questions that a visitor answers one by one and hands in
// once.
type Sitting struct {
	ID        string // from [NewID]
	Visitor   string
	Title     string
	Questions []AskedQuestion // in the order asked
	Begun     time.Time
	Submitted time.Time // zero until it is handed in
	Answers   map[int]SittingAnswer
}

// AskedQuestion is a question and what it was drawn with.
type AskedQuestion struct {
	Question string `json:"question"`
	Seed     uint64 `json:"seed"`
}

// SittingAnswer is what was answered to the question at one place, last.
type SittingAnswer struct {
	Given []string
	At    time.Time
}

const saveSitting = `insert into sittings (id, visitor, title, questions, begun) values (?, ?, ?, ?, ?)`

// BeginSitting keeps a new set of questions. An id in use is [ErrExists].
func (s *Store) BeginSitting(ctx context.Context, v Sitting) error {
	questions, err := json.Marshal(v.Questions)
	if err != nil {
		return fmt.Errorf("begin sitting: %w", err)
	}
	if err := s.writeFor(ctx, v.Visitor, saveSitting, v.ID, v.Visitor, v.Title, string(questions), timeText(v.Begun)); err != nil {
		return fmt.Errorf("begin sitting %s: %w", v.ID, err)
	}
	return nil
}

const (
	getSitting        = `select id, visitor, title, questions, begun, submitted from sittings where visitor = ? and id = ?`
	listSittings      = `select id, visitor, title, questions, begun, submitted from sittings where visitor = ? order by begun desc, id`
	getSittingAnswers = `select place, given, at from sitting_answers where sitting = ?`
)

// Sitting returns one sitting of the visitor with its answers, or [ErrNotFound] if
// there is no such sitting or it is another visitor's.
func (s *Store) Sitting(ctx context.Context, visitor, id string) (Sitting, error) {
	v, err := scanSitting(s.read.QueryRowContext(ctx, getSitting, visitor, id))
	if err != nil {
		return Sitting{}, fmt.Errorf("sitting %s: %w", id, kind(err))
	}
	if v.Answers, err = s.sittingAnswers(ctx, id); err != nil {
		return Sitting{}, fmt.Errorf("sitting %s: %w", id, kind(err))
	}
	return v, nil
}

// ListSittings returns all sittings of the visitor with their answers, the latest
// first.
func (s *Store) ListSittings(ctx context.Context, visitor string) ([]Sitting, error) {
	all, err := queryAll(ctx, s.read, scanSitting, listSittings, visitor)
	if err != nil {
		return nil, fmt.Errorf("list sittings: %w", kind(err))
	}
	for i := range all {
		if all[i].Answers, err = s.sittingAnswers(ctx, all[i].ID); err != nil {
			return nil, fmt.Errorf("list sittings: %w", kind(err))
		}
	}
	return all, nil
}

func (s *Store) sittingAnswers(ctx context.Context, id string) (map[int]SittingAnswer, error) {
	type placed struct {
		place int
		SittingAnswer
	}
	all, err := queryAll(ctx, s.read, func(r row) (p placed, err error) {
		var given, at string
		if err := r.Scan(&p.place, &given, &at); err != nil {
			return p, err
		}
		if err := json.Unmarshal([]byte(given), &p.Given); err != nil {
			return p, err
		}
		p.At, err = time.Parse(timeLayout, at)
		return p, err
	}, getSittingAnswers, id)
	answers := make(map[int]SittingAnswer, len(all))
	for _, p := range all {
		answers[p.place] = p.SittingAnswer
	}
	return answers, err
}

func scanSitting(r row) (Sitting, error) {
	var v Sitting
	var questions, begun string
	var submitted sql.NullString
	if err := r.Scan(&v.ID, &v.Visitor, &v.Title, &questions, &begun, &submitted); err != nil {
		return Sitting{}, err
	}
	if err := json.Unmarshal([]byte(questions), &v.Questions); err != nil {
		return Sitting{}, err
	}
	var err error
	if v.Begun, err = time.Parse(timeLayout, begun); err != nil || !submitted.Valid {
		return v, err
	}
	v.Submitted, err = time.Parse(timeLayout, submitted.String)
	return v, err
}

// The condition stands in the statement, so that an answer that comes at the very
// moment of handing in is either in time or refused.
const saveSittingAnswer = `insert into sitting_answers (sitting, place, given, at)
select id, ?, ?, ? from sittings where id = ? and visitor = ? and submitted is null
on conflict (sitting, place) do update set given = excluded.given, at = excluded.at`

// SaveSittingAnswer keeps an answer to the question at a place, in place of an
// earlier one. A sitting that has been handed in, that is not there or is another
// visitor's is [ErrNotFound], and nothing is changed.
func (s *Store) SaveSittingAnswer(ctx context.Context, visitor, id string, place int, a SittingAnswer) error {
	given, err := json.Marshal(a.Given)
	if err != nil {
		return fmt.Errorf("save an answer in sitting %s: %w", id, err)
	}
	if err := s.changeAlone(ctx, saveSittingAnswer, place, string(given), timeText(a.At), id, visitor); err != nil {
		return fmt.Errorf("save an answer in sitting %s: %w", id, err)
	}
	return nil
}

const (
	submitSitting = `update sittings set submitted = ? where id = ? and visitor = ? and submitted is null`
	answersIn     = `select count(*), coalesce(max(at), '') from sitting_answers where sitting = ?`
)

// SubmitSitting hands a sitting in and keeps its answers, as they were marked, among all
// others, both or neither. One that has been handed in already is [ErrNotFound]: what is
// sent twice counts once. One that has had another answer since it was read is [ErrChanged]:
// none is left out. Nothing is changed then.
func (s *Store) SubmitSitting(ctx context.Context, v Sitting, answers []Answer, at time.Time) error {
	var last time.Time
	for _, a := range v.Answers {
		if a.At.After(last) {
			last = a.At
		}
	}
	err := s.together(ctx, func(tx *sql.Tx) error {
		if err := s.changeOne(ctx, tx, submitSitting, timeText(at), v.ID, v.Visitor); err != nil {
			return err
		}
		var n int
		var latest string
		if err := tx.QueryRowContext(ctx, answersIn, v.ID).Scan(&n, &latest); err != nil {
			return err
		}
		if n != len(v.Answers) || n > 0 && latest != timeText(last) {
			return ErrChanged
		}
		for _, a := range answers {
			a.Visitor, a.Sitting = v.Visitor, v.ID
			columns, err := a.columns()
			if err != nil {
				return err
			}
			if _, err := tx.ExecContext(ctx, saveAnswer, columns...); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return fmt.Errorf("hand in sitting %s: %w", v.ID, err)
	}
	return nil
}
