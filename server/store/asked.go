package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// AskedInClass is something a student asked the instructor of a class, with the last
// answer to it. (The questions that the course asks are known here by id only.)
type AskedInClass struct {
	ID       string // from [NewID]
	Class    string
	Person   string // visitor of who asked
	Name     string // of who asked, "" for one who has left the class; set when read
	Kind     string // lesson, scenario or batch
	About    string // the slug of the lesson or scenario, the id of the batch
	Seed     uint64 // which case of the scenario; below 2^63
	Text     string
	At       time.Time
	Answer   string    // "" while there is none
	Version  int       // of the answer, from 1; 0 while there is none
	Answered time.Time // when that version was written
	Seen     int       // the version that who asked has seen
	Shared   string    // the wording the class sees, "" when it is not shared
}

// SharedInClass is a question with its answer as a whole class sees it. Nothing in it
// tells who asked.
type SharedInClass struct {
	ID     string // of the question, which may be gone with who asked it
	Class  string
	Kind   string
	About  string // "" for a batch, which would tell whose it is
	Text   string // the instructor's wording
	Answer string
	At     time.Time // when it was first shared
}

// AnswerVersion is an answer as it was at some time.
type AnswerVersion struct {
	Version int
	Text    string
	At      time.Time
}

// ErrLimit means that there are as many as there may be; nothing was kept.
var ErrLimit = errors.New("as many as there may be")

const (
	sameOpen = `select count(*) from asked q where class = ? and person = ? and kind = ? and about = ? and text = ? and not exists (select 1 from asked_answers where asked = q.id)`
	openOf   = `select count(*) from asked q where class = ? and person = ? and not exists (select 1 from asked_answers where asked = q.id)`
	addAsked = `insert into asked (id, class, person, kind, about, seed, text, at) select ?, class, person, ?, ?, ?, ?, ? from members where class = ? and person = ?`
	openIn   = `select count(*) from asked q join members m on m.class = q.class and m.person = q.person where q.class = ? and not exists (select 1 from asked_answers where asked = q.id)`

	selectAsked = `select q.id, q.class, q.person, coalesce(p.name, ''), q.kind, q.about, q.seed, q.text, q.at, coalesce(a.text, ''), coalesce(a.version, 0), coalesce(a.at, ''), q.seen, coalesce(s.text, '')
from asked q
left join members m on m.class = q.class and m.person = q.person
left join people p on p.visitor = m.person
left join asked_answers a on a.asked = q.id and a.version = (select max(version) from asked_answers where asked = q.id)
left join asked_shared s on s.id = q.id`

	getAsked   = selectAsked + ` where q.class = ? and q.id = ?`
	listAsked  = selectAsked + ` where q.class = ? order by a.version is not null, case when a.version is null then q.at end, a.at desc, q.id`
	listOwn    = selectAsked + ` where q.class = ? and q.person = ? order by q.at desc, q.id`
	listAllOwn = selectAsked + ` where q.person = ? order by q.at, q.id`
	listOwnFor = selectAsked + ` where q.person = ? and q.kind = ? and q.about = ? and m.person is not null order by q.at, q.id`

	addAnswer    = `insert into asked_answers (asked, version, text, at) select id, 1 + (select coalesce(max(version), 0) from asked_answers where asked = id), ?, ? from asked where class = ? and id = ?`
	answerShared = `update asked_shared set answer = ? where class = ? and id = ?`
	listAnswered = `select version, text, at from asked_answers where asked = ? order by version`
	seeAnswer    = `update asked set seen = max(seen, ?) where id = ? and person = ?`

	share = `insert into asked_shared (id, class, kind, about, text, answer, at)
select q.id, q.class, q.kind, iif(q.kind = 'batch', '', q.about), ?, a.text, ?
from asked q join asked_answers a on a.asked = q.id and a.version = (select max(version) from asked_answers where asked = q.id)
where q.class = ? and q.id = ?
on conflict (id) do update set text = excluded.text, answer = excluded.answer`
	unshare = `delete from asked_shared where class = ? and id = ?`

	selectShared  = `select id, class, kind, about, text, answer, at from asked_shared`
	getShared     = selectShared + ` where class = ? and id = ?`
	listShared    = selectShared + ` where class = ? order by at, id`
	listSharedFor = selectShared + ` where class in (select class from members where person = ?) and kind = ? and about = ? order by at, id`
)

// Ask keeps what a member asks. It is [ErrLimit] when as many as most of the member's
// questions in the class have no answer yet, and [ErrNotFound] from who is no member.
// The same question sent twice is kept once.
func (s *Store) Ask(ctx context.Context, q AskedInClass, most int) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		var same, open int
		if err := tx.QueryRowContext(ctx, sameOpen, q.Class, q.Person, q.Kind, q.About, q.Text).Scan(&same); err != nil || same > 0 {
			return err
		}
		if err := tx.QueryRowContext(ctx, openOf, q.Class, q.Person).Scan(&open); err != nil {
			return err
		}
		if open >= most {
			return ErrLimit
		}
		return s.changeOne(ctx, tx, addAsked, q.ID, q.Kind, q.About, int64(q.Seed), q.Text, timeText(q.At), q.Class, q.Person)
	})
	if err != nil {
		return fmt.Errorf("ask: %w", err)
	}
	return nil
}

// Asked returns a question asked in the class, or [ErrNotFound].
func (s *Store) Asked(ctx context.Context, class, id string) (AskedInClass, error) {
	q, err := scanAsked(s.read.QueryRowContext(ctx, getAsked, class, id))
	if err != nil {
		return AskedInClass{}, fmt.Errorf("asked: %w", kind(err))
	}
	return q, nil
}

// AskedIn lists everything asked in a class: first what has no answer, the oldest
// first, then what was answered, the latest first.
func (s *Store) AskedIn(ctx context.Context, class string) ([]AskedInClass, error) {
	return s.listAsked(ctx, listAsked, class)
}

// AskedBy lists what one person asked in a class, the latest first.
func (s *Store) AskedBy(ctx context.Context, class, person string) ([]AskedInClass, error) {
	return s.listAsked(ctx, listOwn, class, person)
}

// AskedOf lists everything that one person asked in any class, the oldest first, also in
// classes the person has left.
func (s *Store) AskedOf(ctx context.Context, person string) ([]AskedInClass, error) {
	return s.listAsked(ctx, listAllOwn, person)
}

// AskedAbout lists what one person asked about something, in all classes the person
// belongs to, the oldest first.
func (s *Store) AskedAbout(ctx context.Context, person, kind, about string) ([]AskedInClass, error) {
	return s.listAsked(ctx, listOwnFor, person, kind, about)
}

func (s *Store) listAsked(ctx context.Context, query string, args ...any) ([]AskedInClass, error) {
	all, err := queryAll(ctx, s.read, scanAsked, query, args...)
	if err != nil {
		return nil, fmt.Errorf("list what was asked: %w", kind(err))
	}
	return all, nil
}

// Unanswered counts what members of a class asked and nobody answered.
func (s *Store) Unanswered(ctx context.Context, class string) (int, error) {
	var n int
	if err := s.read.QueryRowContext(ctx, openIn, class).Scan(&n); err != nil {
		return 0, fmt.Errorf("count what has no answer: %w", kind(err))
	}
	return n, nil
}

// AnswerAsked adds an answer, or another version of it, and puts it into what the class
// sees when the question is shared.
func (s *Store) AnswerAsked(ctx context.Context, class, id, text string, at time.Time) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if err := s.changeOne(ctx, tx, addAnswer, text, timeText(at), class, id); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, answerShared, text, class, id)
		return err
	})
	if err != nil {
		return fmt.Errorf("answer: %w", err)
	}
	return nil
}

// AnswerVersions lists an answer as it was, from the first version to the last.
func (s *Store) AnswerVersions(ctx context.Context, id string) ([]AnswerVersion, error) {
	all, err := queryAll(ctx, s.read, func(r row) (v AnswerVersion, err error) {
		var at string
		if err := r.Scan(&v.Version, &v.Text, &at); err != nil {
			return v, err
		}
		v.At, err = time.Parse(timeLayout, at)
		return v, err
	}, listAnswered, id)
	if err != nil {
		return nil, fmt.Errorf("list the versions of an answer: %w", kind(err))
	}
	return all, nil
}

// SeeAnswer keeps that who asked has seen the answer up to a version.
func (s *Store) SeeAnswer(ctx context.Context, person, id string, version int) error {
	if err := s.changeAlone(ctx, seeAnswer, version, id, person); err != nil {
		return fmt.Errorf("see an answer: %w", err)
	}
	return nil
}

// Share shows a question in the given wording, and its last answer, to the class. A
// question without an answer is [ErrNotFound]. Sharing again changes the wording.
func (s *Store) Share(ctx context.Context, class, id, text string, at time.Time) error {
	if err := s.changeAlone(ctx, share, text, timeText(at), class, id); err != nil {
		return fmt.Errorf("share: %w", err)
	}
	return nil
}

// Unshare takes a question away from the class again.
func (s *Store) Unshare(ctx context.Context, class, id string) error {
	if err := s.changeAlone(ctx, unshare, class, id); err != nil {
		return fmt.Errorf("unshare: %w", err)
	}
	return nil
}

// Shared returns what a class sees of a question, or [ErrNotFound].
func (s *Store) Shared(ctx context.Context, class, id string) (SharedInClass, error) {
	q, err := scanShared(s.read.QueryRowContext(ctx, getShared, class, id))
	if err != nil {
		return SharedInClass{}, fmt.Errorf("shared: %w", kind(err))
	}
	return q, nil
}

// SharedIn lists what a class shares, the first shared first.
func (s *Store) SharedIn(ctx context.Context, class string) ([]SharedInClass, error) {
	return s.listShared(ctx, listShared, class)
}

// SharedAbout lists what is shared about something in the classes a person belongs to.
func (s *Store) SharedAbout(ctx context.Context, person, kind, about string) ([]SharedInClass, error) {
	return s.listShared(ctx, listSharedFor, person, kind, about)
}

func (s *Store) listShared(ctx context.Context, query string, args ...any) ([]SharedInClass, error) {
	all, err := queryAll(ctx, s.read, scanShared, query, args...)
	if err != nil {
		return nil, fmt.Errorf("list what is shared: %w", kind(err))
	}
	return all, nil
}

func scanAsked(r row) (AskedInClass, error) {
	var q AskedInClass
	var seed int64
	var at, answered string
	if err := r.Scan(&q.ID, &q.Class, &q.Person, &q.Name, &q.Kind, &q.About, &seed, &q.Text, &at, &q.Answer, &q.Version, &answered, &q.Seen, &q.Shared); err != nil {
		return AskedInClass{}, err
	}
	q.Seed = uint64(seed)
	var err error
	if answered != "" {
		if q.Answered, err = time.Parse(timeLayout, answered); err != nil {
			return AskedInClass{}, err
		}
	}
	q.At, err = time.Parse(timeLayout, at)
	return q, err
}

func scanShared(r row) (SharedInClass, error) {
	var q SharedInClass
	var at string
	if err := r.Scan(&q.ID, &q.Class, &q.Kind, &q.About, &q.Text, &q.Answer, &at); err != nil {
		return SharedInClass{}, err
	}
	var err error
	q.At, err = time.Parse(timeLayout, at)
	return q, err
}
