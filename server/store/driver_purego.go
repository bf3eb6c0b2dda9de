//go:build !cgo

package store

import (
	"errors"
	"net/url"
	"strconv"

	"modernc.org/sqlite"
)

const driverName = "sqlite"

// dataSource names the database at the path. The pragmas are part of the name
// because every connection of the pool must have them.
func dataSource(path string, readOnly bool) string {
	q := url.Values{
		"_journal_mode": {"WAL"},
		"_foreign_keys": {"on"},
		"_busy_timeout": {strconv.FormatInt(busyTimeout.Milliseconds(), 10)},
		"_synchronous":  {"FULL"},
		"_pragma":       {"secure_delete(on)"},
		"_txlock":       {"immediate"},
	}
	if readOnly {
		q.Set("_query_only", "on")
	}
	return fileURI(path, q)
}

// resultCode returns the extended SQLite result code of the error, or 0 if the
// error does not come from the database.
func resultCode(err error) int {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return 0
	}
	return e.Code()
}

// The full-text module of this driver is FTS5.
const (
	createIndex = `create virtual table documents using fts5(title, body, kind unindexed, path unindexed, tokenize='porter unicode61')`
	findInIndex = `select title, kind, path, snippet(documents, 1, ?, ?, ' … ', 24), bm25(documents, 8.0, 1.0) from documents where documents match ?`
)

func beginsWith(word string) string { return `"` + word + `"*` }
