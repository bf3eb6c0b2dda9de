package store

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/binary"
	"errors"
	"fmt"
	"math"
	"runtime"
	"slices"
	"strings"
	"unicode"
)

// Document is one thing that can be found.
type Document struct {
	Kind, Title, Path string
	Text              string
}

// Found is a document with the words around what was looked for. In Around the words
// that match stand between [MarkOpen] and [MarkClose]. Score is higher for a better
// match; it compares what one search found and nothing else.
type Found struct {
	Document
	Around string
	Score  float64
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

// NewIndex indexes the documents with the full-text module that the driver has without
// any build tag: FTS4 or FTS5, with a Porter stemmer.
func NewIndex(ctx context.Context, documents []Document) (*Index, error) {
	db, err := sql.Open(driverName, "file::memory:")
	if err != nil {
		return nil, fmt.Errorf("open the index: %w", err)
	}
	db.SetMaxOpenConns(1) // each connection would have a memory of its own
	x := &Index{db}
	if err := x.fill(ctx, documents); err != nil {
		return nil, errors.Join(fmt.Errorf("fill the index: %w", err), db.Close())
	}
	// What a class is taught goes from memory while somebody may still search in it.
	runtime.AddCleanup(x, func(db *sql.DB) { _ = db.Close() }, db)
	return x, nil
}

func (x *Index) fill(ctx context.Context, documents []Document) error {
	tx, err := x.db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	if _, err := tx.ExecContext(ctx, createIndex); err != nil {
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

// Find returns the documents that hold all the words, the best first; each word may be
// given with others that will do as well. Of a word only letters and digits count.
func (x *Index) Find(ctx context.Context, words [][]string, most int) ([]Found, error) {
	var all []string
	for _, alternatives := range words {
		var any []string
		for _, w := range alternatives {
			if w = lettersOnly(w); w != "" {
				any = append(any, beginsWith(w))
			}
		}
		if len(any) > 0 {
			all = append(all, "("+strings.Join(any, " OR ")+")")
		}
	}
	if len(all) == 0 {
		return nil, nil
	}
	rows, err := x.db.QueryContext(ctx, findInIndex, MarkOpen, MarkClose, strings.Join(all, " AND "))
	if err != nil {
		return nil, fmt.Errorf("find: %w", err)
	}
	defer rows.Close()
	var list []Found
	for rows.Next() {
		var f Found
		var rank any
		if err := rows.Scan(&f.Title, &f.Kind, &f.Path, &f.Around, &rank); err != nil {
			return nil, fmt.Errorf("find: %w", err)
		}
		switch r := rank.(type) {
		case float64: // bm25 of FTS5: the better, the further below nothing
			f.Score = -r
		case []byte: // matchinfo of FTS4
			f.Score = score(r)
		}
		list = append(list, f)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("find: %w", err)
	}
	runtime.KeepAlive(x)
	slices.SortStableFunc(list, func(a, b Found) int { return cmp.Compare(b.Score, a.Score) })
	return list[:min(most, len(list))], nil
}

func lettersOnly(word string) string {
	return strings.Map(func(r rune) rune {
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			return -1
		}
		return r
	}, word)
}

// titleWeight is how much more a word in a title counts than one in the text.
const titleWeight = 8

// score weighs matchinfo "pcnx": a rare word counts more than a common one.
func score(info []byte) float64 {
	number := func(i int) float64 { return float64(binary.NativeEndian.Uint32(info[4*i:])) }
	phrases, columns, documents := int(number(0)), int(number(1)), number(2)
	total := 0.0
	for p := range phrases {
		for c, weight := range []float64{titleWeight, 1} {
			at := 3 + 3*(c+p*columns)
			hits, holding := number(at), number(at+2)
			if hits > 0 {
				total += weight * hits / (hits + 1) * math.Log(1+documents/holding)
			}
		}
	}
	return total
}
