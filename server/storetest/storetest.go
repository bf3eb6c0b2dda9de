// Package storetest reads a database file as it is, table by table and column by column.
// Tests use it to hold what the program says of the database against the database; the
// program does not.
package storetest

import (
	"database/sql"
	"fmt"
	"net/url"
	"testing"

	_ "rollingboil/server/store" // registers the driver
)

// Column is a column of a table.
type Column struct {
	Table, Name string
	RefersTo    string // the table whose rows it names, "" for none
}

// File is an open database file.
type File struct {
	t  testing.TB
	db *sql.DB
}

// Open opens a file for reading, beside whoever else has it open, until the test ends.
func Open(t testing.TB, path string) File {
	t.Helper()
	db, err := sql.Open(sql.Drivers()[0], (&url.URL{Scheme: "file", Path: path, RawQuery: "mode=ro"}).String())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		if err := db.Close(); err != nil {
			t.Error(err)
		}
	})
	return File{t, db}
}

// Columns lists the columns of all tables but those of SQLite itself. One that refers to
// several tables is listed once for each.
func (f File) Columns() []Column {
	f.t.Helper()
	rows, err := f.db.QueryContext(f.t.Context(), `
		select m.name, c.name, coalesce(k."table", '')
		from sqlite_schema m join pragma_table_xinfo(m.name) c left join pragma_foreign_key_list(m.name) k on k."from" = c.name
		where m.type = 'table' and m.name not like 'sqlite\_%' escape '\' order by m.name, c.cid`)
	if err != nil {
		f.t.Fatal(err)
	}
	defer rows.Close()
	var list []Column
	for rows.Next() {
		var c Column
		if err := rows.Scan(&c.Table, &c.Name, &c.RefersTo); err != nil {
			f.t.Fatal(err)
		}
		list = append(list, c)
	}
	if err := rows.Err(); err != nil {
		f.t.Fatal(err)
	}
	return list
}

// Values lists what stands in a column, row by row, as text; nothing for what is null.
func (f File) Values(table, column string) []string {
	f.t.Helper()
	rows, err := f.db.QueryContext(f.t.Context(), fmt.Sprintf(`select cast(%q as text) from %q where %[1]q is not null`, column, table))
	if err != nil {
		f.t.Fatal(err)
	}
	defer rows.Close()
	var list []string
	for rows.Next() {
		var value string
		if err := rows.Scan(&value); err != nil {
			f.t.Fatal(err)
		}
		list = append(list, value)
	}
	if err := rows.Err(); err != nil {
		f.t.Fatal(err)
	}
	return list
}
