package store

import (
	"context"
	"database/sql"
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"
)

// Document is one thing that can be found.
type Document struct {
	Kind, Title, Path string
	Text              string
}

// Found is a document with the words around what was looked for. In Around the words
// that match stand between [MarkOpen] and [MarkClose].
type Found struct {
	Document
	Around string
}

// Marks around a word that matches. No text holds them: they are control characters.
const (
	MarkOpen  = "\x02"
	MarkClose = "\x03"
)

// Index is a full-text index that is kept in memory: it is made anew from the content
// whenever the program starts. Many goroutines may use it.
type Index struct {
	db *sql.DB
}

// NewIndex indexes the documents, with the full-text module (FTS4, Porter stemmer)
// that both drivers have without any build tag.
func NewIndex(ctx context.Context, documents []Document) (*Index, error) {
	db, err := sql.Open(driverName, "file::memory:")
	if err != nil {
		return nil, fmt.Errorf("open the index: %w", err)
	}
	db.SetMaxOpenConns(1) // each connection would have a memory of its own
	x := &Index{db}
	if err := x.fill(ctx, documents); err != nil {
		return nil, fmt.Errorf("fill the index: %w", err)
	}
	return x, nil
}

func (x *Index) fill(ctx context.Context, documents []Document) error {
	tx, err := x.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	if _, err := tx.ExecContext(ctx, `create virtual table documents using fts4(title, body, kind, path, notindexed=kind, notindexed=path, tokenize=porter)`); err != nil {
		return err
	}
	insert, err := tx.PrepareContext(ctx, `insert into documents (title, body, kind, path) values (?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer insert.Close()
	for _, d := range documents {
		if _, err := insert.ExecContext(ctx, d.Title, d.Text, d.Kind, d.Path); err != nil {
			return fmt.Errorf("%s: %w", d.Path, err)
		}
	}
	return tx.Commit()
}

// Close ends the index.
func (x *Index) Close() error { return x.db.Close() }

// Find returns the documents that hold all the words, the best first; each word may be
// given with others that will do as well. Words are letters and digits only.
func (x *Index) Find(ctx context.Context, words [][]string, most int) ([]Found, error) {
	if len(words) == 0 {
		return nil, nil
	}
	var all []string
	for _, alternatives := range words {
		var any []string
		for _, w := range alternatives {
			any = append(any, `"`+strings.ReplaceAll(w, `"`, "")+`*"`)
		}
		all = append(all, "("+strings.Join(any, " OR ")+")")
	}
	rows, err := x.db.QueryContext(ctx, `select title, kind, path, snippet(documents, ?, ?, ' … ', 1, 24), matchinfo(documents, 'pcnx') from documents where documents match ?`,
		MarkOpen, MarkClose, strings.Join(all, " AND "))
	if err != nil {
		return nil, fmt.Errorf("find: %w", err)
	}
	defer rows.Close()
	type scored struct {
		Found
		score float64
	}
	var list []scored
	for rows.Next() {
		var s scored
		var info []byte
		if err := rows.Scan(&s.Title, &s.Kind, &s.Path, &s.Around, &info); err != nil {
			return nil, fmt.Errorf("find: %w", err)
		}
		s.score = score(info)
		list = append(list, s)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("find: %w", err)
	}
	slices.SortStableFunc(list, func(a, b scored) int {
		switch {
		case a.score > b.score:
			return -1
		case a.score < b.score:
			return 1
		}
		return 0
	})
	var found []Found
	for _, s := range list[:min(most, len(list))] {
		found = append(found, s.Found)
	}
	return found, nil
}

// score weighs matchinfo "pcnx": a rare word counts more than a common one, and one in
// the title eight times as much as one in the text.
func score(info []byte) float64 {
	number := func(i int) float64 { return float64(binary.NativeEndian.Uint32(info[4*i:])) }
	phrases, columns, documents := int(number(0)), int(number(1)), number(2)
	total := 0.0
	for p := range phrases {
		for c, weight := range []float64{8, 1} {
			at := 3 + 3*(c+p*columns)
			hits, holding := number(at), number(at+2)
			if hits > 0 {
				total += weight * hits / (hits + 1) * math.Log(1+documents/holding)
			}
		}
	}
	return total
}
