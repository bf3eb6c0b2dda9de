package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"
)

// The kinds of material.
const (
	LessonMaterial   = "lesson"
	QuestionMaterial = "question"
	ScenarioMaterial = "scenario"
)

// Material is a lesson, a question or a scenario that an instructor writes for a class.
type Material struct {
	ID    string // from [NewID]
	Class string
	Kind  string
	Name  string // a lesson's or scenario's slug, a question's id
	Made  time.Time

	Title     string // of the last version
	Last      int    // number of the last version
	Changed   time.Time
	Published int       // number of the version that the class reads, 0 for none
	Reads     string    // title of that version
	Since     time.Time // when that was decided; zero if nothing ever was
}

// MaterialVersion is a material as it was kept once.
type MaterialVersion struct {
	N      int // counts up from 1
	Title  string
	Source string
	Made   time.Time
}

// MaterialEvent says what a class reads from some time on.
type MaterialEvent struct {
	N  int // the version, 0 for none
	At time.Time
}

// TaughtMaterial is a material that was published to a class, in the version that the
// class reads; N is 0 if it was taken back.
type TaughtMaterial struct {
	ID, Class, Kind, Name string
	N                     int
	Since                 time.Time
}

const (
	materialColumns = `m.id, m.class, m.kind, m.name, m.made, v.title, v.n, v.made, coalesce(e.n, 0), coalesce(e.at, ''), coalesce(reads.title, '')`
	ofMaterials     = ` from materials m join material_versions v on v.material = m.id and v.n = (select max(n) from material_versions where material = m.id)
left join material_events e on e.id = (select max(id) from material_events where material = m.id)
left join material_versions reads on reads.material = m.id and reads.n = e.n`
	addMaterial          = `insert into materials (id, class, kind, name, made) values (?, ?, ?, ?, ?)`
	addMaterialVersion   = `insert into material_versions (material, n, title, source, made) select ?1, ?2, ?3, ?4, ?5 where ?2 = (select coalesce(max(n), 0) + 1 from material_versions where material = ?1)`
	getMaterial          = `select ` + materialColumns + ofMaterials + ` where m.class = ? and m.id = ?`
	listMaterials        = `select ` + materialColumns + ofMaterials + ` where m.class = ? order by m.kind, m.name`
	findMaterial         = `select id from materials where class = ? and kind = ? and name = ?`
	getSource            = `select n, title, source, made from material_versions where material = ? and n = ?`
	listMaterialVersions = `select n, title, '', made from material_versions where material = ? order by n desc`
	addPublished         = `insert into material_events (material, n, at) select ?1, ?2, ?3 where ?2 = 0 or exists (select 1 from material_versions where material = ?1 and n = ?2)`
	listPublished        = `select n, at from material_events where material = ? order by id`
	taughtColumns        = `select m.id, m.class, m.kind, m.name, e.n, e.at from materials m join material_events e on e.id = (select max(id) from material_events where material = m.id) join classes c on c.id = m.class`
	listTaughtTo         = taughtColumns + ` where m.class in (select class from members where person = ?1 union select id from classes where instructor = ?1) order by c.starts desc, c.id, m.kind, m.name`
	listTaughtIn         = taughtColumns + ` where m.class = ? order by m.kind, m.name`
)

// AddMaterial keeps a new material with its first version. A class has each name of a kind
// once: for one that is there it is [ErrExists].
func (s *Store) AddMaterial(ctx context.Context, m Material, first MaterialVersion) error {
	err := s.together(ctx, func(tx *sql.Tx) error {
		if _, err := tx.ExecContext(ctx, addMaterial, m.ID, m.Class, m.Kind, m.Name, timeText(m.Made)); err != nil {
			return err
		}
		return s.changeOne(ctx, tx, addMaterialVersion, m.ID, 1, first.Title, first.Source, timeText(first.Made))
	})
	if err != nil {
		return fmt.Errorf("add a material: %w", err)
	}
	return nil
}

// AddMaterialVersion keeps a further version, under its number. If the last one is not the
// one before it, somebody else was first, and it is [ErrChanged].
func (s *Store) AddMaterialVersion(ctx context.Context, material string, v MaterialVersion) error {
	err := s.changeAlone(ctx, addMaterialVersion, material, v.N, v.Title, v.Source, timeText(v.Made))
	if errors.Is(err, ErrNotFound) {
		err = ErrChanged
	}
	if err != nil {
		return fmt.Errorf("add a version of a material: %w", err)
	}
	return nil
}

// PublishMaterial decides what the class reads from now on: the version with this number,
// none for 0. A version that is not there is [ErrNotFound].
func (s *Store) PublishMaterial(ctx context.Context, material string, e MaterialEvent) error {
	if err := s.changeAlone(ctx, addPublished, material, e.N, timeText(e.At)); err != nil {
		return fmt.Errorf("publish a material: %w", err)
	}
	return nil
}

// Material returns a material of a class, or [ErrNotFound].
func (s *Store) Material(ctx context.Context, class, id string) (Material, error) {
	m, err := scanMaterial(s.read.QueryRowContext(ctx, getMaterial, class, id))
	if err != nil {
		return Material{}, fmt.Errorf("material: %w", kind(err))
	}
	return m, nil
}

// MaterialNamed gives the id of the material of a class with a name, or [ErrNotFound].
func (s *Store) MaterialNamed(ctx context.Context, class, ofKind, name string) (id string, err error) {
	if err := s.read.QueryRowContext(ctx, findMaterial, class, ofKind, name).Scan(&id); err != nil {
		return "", fmt.Errorf("material by name: %w", kind(err))
	}
	return id, nil
}

// Materials lists the materials of a class, by kind and name.
func (s *Store) Materials(ctx context.Context, class string) ([]Material, error) {
	all, err := queryAll(ctx, s.read, scanMaterial, listMaterials, class)
	if err != nil {
		return nil, fmt.Errorf("list materials: %w", kind(err))
	}
	return all, nil
}

func scanMaterial(r row) (m Material, err error) {
	var made, changed, since string
	if err := r.Scan(&m.ID, &m.Class, &m.Kind, &m.Name, &made, &m.Title, &m.Last, &changed, &m.Published, &since, &m.Reads); err != nil {
		return m, err
	}
	if m.Made, err = time.Parse(timeLayout, made); err != nil {
		return m, err
	}
	if m.Changed, err = time.Parse(timeLayout, changed); err != nil || since == "" {
		return m, err
	}
	m.Since, err = time.Parse(timeLayout, since)
	return m, err
}

// MaterialVersion returns one version, or [ErrNotFound].
func (s *Store) MaterialVersion(ctx context.Context, material string, n int) (MaterialVersion, error) {
	v, err := scanMaterialVersion(s.read.QueryRowContext(ctx, getSource, material, n))
	if err != nil {
		return v, fmt.Errorf("version of a material: %w", kind(err))
	}
	return v, nil
}

// MaterialVersions lists all versions, the latest first, without their source.
func (s *Store) MaterialVersions(ctx context.Context, material string) ([]MaterialVersion, error) {
	all, err := queryAll(ctx, s.read, scanMaterialVersion, listMaterialVersions, material)
	if err != nil {
		return nil, fmt.Errorf("list the versions of a material: %w", kind(err))
	}
	return all, nil
}

func scanMaterialVersion(r row) (v MaterialVersion, err error) {
	var made string
	if err := r.Scan(&v.N, &v.Title, &v.Source, &made); err != nil {
		return v, err
	}
	v.Made, err = time.Parse(timeLayout, made)
	return v, err
}

// MaterialEvents lists what was published and taken back, the first first.
func (s *Store) MaterialEvents(ctx context.Context, material string) ([]MaterialEvent, error) {
	all, err := queryAll(ctx, s.read, func(r row) (e MaterialEvent, err error) {
		var at string
		if err := r.Scan(&e.N, &at); err != nil {
			return e, err
		}
		e.At, err = time.Parse(timeLayout, at)
		return e, err
	}, listPublished, material)
	if err != nil {
		return nil, fmt.Errorf("list what was published: %w", kind(err))
	}
	return all, nil
}

// TaughtTo lists what was published to the classes that a person holds or belongs to, the
// latest class first.
func (s *Store) TaughtTo(ctx context.Context, person string) ([]TaughtMaterial, error) {
	return s.taught(ctx, listTaughtTo, person)
}

// TaughtIn lists what was published to a class.
func (s *Store) TaughtIn(ctx context.Context, class string) ([]TaughtMaterial, error) {
	return s.taught(ctx, listTaughtIn, class)
}

func (s *Store) taught(ctx context.Context, query, of string) ([]TaughtMaterial, error) {
	all, err := queryAll(ctx, s.read, func(r row) (m TaughtMaterial, err error) {
		var since string
		if err := r.Scan(&m.ID, &m.Class, &m.Kind, &m.Name, &m.N, &since); err != nil {
			return m, err
		}
		m.Since, err = time.Parse(timeLayout, since)
		return m, err
	}, query, of)
	if err != nil {
		return nil, fmt.Errorf("list what is taught: %w", kind(err))
	}
	return all, nil
}
