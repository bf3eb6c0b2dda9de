//go:build cgo

package store

import (
	"errors"
	"net/url"
	"strconv"

	"github.com/mattn/go-sqlite3"
)

const driverName = "sqlite3"

// dataSource names the database at the path. The pragmas are part of the name
// because every connection of the pool must have them.
func dataSource(path string, readOnly bool) string {
	q := url.Values{
		"_journal_mode":  {"WAL"},
		"_foreign_keys":  {"on"},
		"_busy_timeout":  {strconv.FormatInt(busyTimeout.Milliseconds(), 10)},
		"_synchronous":   {"FULL"},
		"_secure_delete": {"on"},
		"_txlock":        {"immediate"},
		// A page asks about the same few dozen things each time.
		"_stmt_cache_size": {"128"},
	}
	if readOnly {
		q.Set("_query_only", "on")
	}
	return fileURI(path, q)
}

// resultCode returns the extended SQLite result code of the error, or 0 if the
// error does not come from the database.
func resultCode(err error) int {
	var e sqlite3.Error
	if !errors.As(err, &e) {
		return 0
	}
	if e.ExtendedCode == 0 {
		return int(e.Code)
	}
	return int(e.ExtendedCode)
}

// The full-text module of this driver is FTS4.
const (
	createIndex = `create virtual table documents using fts4(title, body, kind, path, notindexed=kind, notindexed=path, tokenize=porter)`
	findInIndex = `select title, kind, path, snippet(documents, ?, ?, ' … ', 1, 24), matchinfo(documents, 'pcnx') from documents where documents match ?`
)

func beginsWith(word string) string { return `"` + word + `*"` }
