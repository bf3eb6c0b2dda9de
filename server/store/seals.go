package store

import (
	"context"
	"fmt"
	"time"
)

// ClassRecord is what one member of a class recorded of a batch that was sent in.
type ClassRecord struct {
	Batch, Student string // Student is the name
	Title          string // of the assignment
	State          string // RecordSent or Accepted
	File           []byte // the batch file of the latest record
	Report         []byte // JSON, as given on that day
	Lot            string // of the lids
	At             time.Time
}

const classRecords = `select batch, student, title, state, file, report, lot, at from (
	select b.id batch, p.name student, a.title title, v.file, v.report, v.lot, v.at at,
		(select what from batch_events e where e.batch = b.id and what <> 'comment' order by e.id desc limit 1) state
	from batches b join assignments a on a.id = b.assignment join people p on p.visitor = b.visitor
	join batch_versions v on v.batch = b.id and v.n = (select max(n) from batch_versions where batch = b.id and kind = 'record')
	where a.class = ?
) where state in ('record-sent', 'accepted') order by at, batch`

// ClassRecords lists the latest record of each batch of a class that is sent in or
// accepted, the earliest first.
func (s *Store) ClassRecords(ctx context.Context, class string) ([]ClassRecord, error) {
	all, err := queryAll(ctx, s.read, func(r row) (c ClassRecord, err error) {
		var at string
		if err := r.Scan(&c.Batch, &c.Student, &c.Title, &c.State, &c.File, &c.Report, &c.Lot, &at); err != nil {
			return c, err
		}
		c.At, err = time.Parse(timeLayout, at)
		return c, err
	}, classRecords, class)
	if err != nil {
		return nil, fmt.Errorf("list the records of a class: %w", kind(err))
	}
	return all, nil
}

// ClassVersion is a version of a batch of a class, without its files.
type ClassVersion struct {
	Batch, Student, Title string
	N                     int
	Kind, Verdict         string
}

const (
	wasSent       = `exists (select 1 from batch_events e where e.batch = v.batch and e.n = v.n and e.what in ('plan-sent', 'record-sent'))`
	classVersions = `select v.batch, p.name, a.title, v.n, v.kind, v.verdict
from batch_versions v join batches b on b.id = v.batch join assignments a on a.id = b.assignment join people p on p.visitor = b.visitor
where a.class = ? and ` + wasSent + ` order by p.known_as, a.due, a.id, v.n desc`
	classVersionFile = `select v.file from batch_versions v join batches b on b.id = v.batch join assignments a on a.id = b.assignment
where a.class = ? and v.batch = ? and v.n = ? and ` + wasSent
)

// ClassVersions lists the versions of the batches of a class that were sent in, by student
// and the latest first.
func (s *Store) ClassVersions(ctx context.Context, class string) ([]ClassVersion, error) {
	all, err := queryAll(ctx, s.read, func(r row) (v ClassVersion, err error) {
		err = r.Scan(&v.Batch, &v.Student, &v.Title, &v.N, &v.Kind, &v.Verdict)
		return v, err
	}, classVersions, class)
	if err != nil {
		return nil, fmt.Errorf("list the versions of a class: %w", kind(err))
	}
	return all, nil
}

// ClassVersionFile is the plan or batch file of one version, or [ErrNotFound] where the
// batch is not of the class or the version was never sent in.
func (s *Store) ClassVersionFile(ctx context.Context, class, batch string, n int) ([]byte, error) {
	var file []byte
	if err := s.read.QueryRowContext(ctx, classVersionFile, class, batch, n).Scan(&file); err != nil {
		return nil, fmt.Errorf("version of a batch of a class: %w", kind(err))
	}
	return file, nil
}
