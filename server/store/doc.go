// Package store keeps what visitors do: their settings, their answers, the
// plans they saved, their attempts at the scenarios, and their sessions. All
// the SQL of the program is here and nothing else is: the package knows no
// lesson, question or rule, ids are plain strings, and plans and reports are
// bytes it never looks into.
//
// # One file, two handles
//
// The database is one SQLite file. SQLite allows one writer at a time, so the
// store holds one handle with a single connection for writing, where writers
// queue in Go and not on a locked file, and a second handle with several
// connections for reading. One goroutine makes all changes: those that arrive
// together are committed together, each undone alone if it fails, and each
// answered only when the commit is on the disk. Rebuilding the file and emptying
// the log cannot be part of a transaction; they wait for the same connection. The readers are query_only: a statement that writes
// cannot slip in through them. The file is in WAL mode, so readers never wait
// for the writer, and synchronous is FULL, so a saved plan survives a power
// cut. All of this is set in the data source name and not by a statement after
// opening, because database/sql opens connections when it likes and a pragma
// holds only for the connection it was run on.
//
// # Two drivers
//
// With a C compiler the driver is driver_cgo.go, without one it is
// driver_purego.go. Each gives a name, a data source name and the result code
// of an error; nothing else may differ, and each opens the files of the other.
//
// # Keeping and forgetting
//
// Answers, saved plans and attempts are appended and never changed: what was
// judged, and the judgement as it was given on that day, stay readable after
// the rules have moved on. Everything a visitor owns hangs on the row in the
// table visitors, so [Store.Forget] is one deletion, and a table added later
// is included by its foreign key; a test holds every table with a visitor
// column to that. Forget also wipes the text out of the file, as far as a
// program above a file system can.
//
// Times come from the caller, except where the session library gives none, and
// are kept as UTC text of fixed width with nanoseconds, so that the order of
// the text is the order of time.
//
// # Changing the schema
//
// Add the next numbered file to migrations; never edit one that has shipped,
// and write no way down: who wants an older program restores an older copy of
// the file. Then run the tests once with -update, which writes the new schema
// with sample rows into testdata. Those dumps are never changed afterwards
// either: every later program is tested by opening each of them.
package store
