package store

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// WorkOf is what one member of a class has done, counted.
type WorkOf struct {
	Person         string
	Answered       int // answers given
	Right          int // of them right
	Scenarios      int // scenarios passed
	Plans          int
	Last           time.Time // when something was last done; zero for never
	SetsHandedIn   int
	LessonsTouched int
}

const classWork = `select m.person,
	(select count(*) from answers a where a.visitor = m.person),
	(select count(*) from answers a where a.visitor = m.person and correct = 1),
	(select count(distinct scenario) from attempts t where t.visitor = m.person and passed = 1),
	(select count(*) from plans p where p.visitor = m.person),
	(select max(at) from (select max(at) at from answers where visitor = m.person union all select max(at) from attempts where visitor = m.person union all select max(at) from plans where visitor = m.person)),
	(select count(*) from sittings s where s.visitor = m.person and submitted is not null),
	(select count(distinct lesson) from answers a where a.visitor = m.person)
from members m join people p on p.visitor = m.person where m.class = ? order by p.known_as`

// ClassWork counts what each member of a class has done, by name.
func (s *Store) ClassWork(ctx context.Context, class string) ([]WorkOf, error) {
	all, err := queryAll(ctx, s.read, func(r row) (w WorkOf, err error) {
		var last sql.NullString
		if err := r.Scan(&w.Person, &w.Answered, &w.Right, &w.Scenarios, &w.Plans, &last, &w.SetsHandedIn, &w.LessonsTouched); err != nil || !last.Valid {
			return w, err
		}
		w.Last, err = time.Parse(timeLayout, last.String)
		return w, err
	}, classWork, class)
	if err != nil {
		return nil, fmt.Errorf("class work: %w", kind(err))
	}
	return all, nil
}
