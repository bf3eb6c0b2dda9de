package store

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
)

var update = flag.Bool("update", false, "write testdata/schema-NNNN.sql for a new newest schema")

// migrationNumbers returns the numbers of the migrations, which must run from 1
// without a gap.
func migrationNumbers(t *testing.T) []string {
	t.Helper()
	files, err := migrationFiles.ReadDir("migrations")
	if err != nil {
		t.Fatal(err)
	}
	numbers := []string{fmt.Sprintf("%04d", hashTokens.Version)}
	for _, f := range files {
		number, _, _ := strings.Cut(f.Name(), "_")
		numbers = append(numbers, number)
	}
	slices.Sort(numbers)
	for i, number := range numbers {
		if want := fmt.Sprintf("%04d", i+1); number != want {
			t.Fatalf("the migrations are %v, want them from 1 without a gap", numbers)
		}
	}
	return numbers
}

// rawDatabase opens a file with the bare driver, without our schema.
func rawDatabase(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open(driverName, fileURI(path, nil))
	if err != nil {
		t.Fatal(err)
	}
	db.SetMaxOpenConns(1)
	return db
}

// schemaOf returns the statements that made the tables and indexes.
func schemaOf(t *testing.T, db *sql.DB) []string {
	t.Helper()
	all, err := queryAll(t.Context(), db, scanText,
		"select sql from sqlite_schema where sql is not null and name not like 'sqlite_%' order by rowid")
	if err != nil {
		t.Fatal(err)
	}
	return all
}

// dump returns the statements that make the database anew, rows included.
func dump(t *testing.T, db *sql.DB) string {
	t.Helper()
	ctx := t.Context()
	var out strings.Builder
	fmt.Fprintf(&out, "pragma application_id = %d;\n", applicationID)
	for _, statement := range schemaOf(t, db) {
		fmt.Fprintf(&out, "%s;\n", statement)
	}
	tables, err := queryAll(ctx, db, scanText,
		"select name from sqlite_schema where type = 'table' and name not like 'sqlite_%' order by rowid")
	if err != nil {
		t.Fatal(err)
	}
	for _, table := range tables {
		columns, err := queryAll(ctx, db, scanText, "select name from pragma_table_info(?)", table)
		if err != nil {
			t.Fatal(err)
		}
		list := strings.Join(columns, ", ")
		quoted := "quote(" + strings.Join(columns, ") || ', ' || quote(") + ")"
		rows, err := queryAll(ctx, db, scanText, "select "+quoted+" from "+table)
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			fmt.Fprintf(&out, "insert into %s (%s) values (%s);\n", table, list, row)
		}
	}
	return out.String()
}

// Every schema that ever shipped is kept as a dump with the sample of a visitor
// called ada in it. Each must open, with the rows as they were, and end up with
// the very schema a new file gets.
func TestEveryOlderSchemaIsBroughtUpToDate(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	fresh := openStore(t, newPath(t))
	if err := sampleOf("ada").save(ctx, fresh); err != nil {
		t.Fatal(err)
	}

	numbers := migrationNumbers(t)
	for i, number := range numbers {
		file := filepath.Join("testdata", "schema-"+number+".sql")
		statements, err := os.ReadFile(file)
		if errors.Is(err, os.ErrNotExist) && *update && i == len(numbers)-1 {
			statements = []byte(dump(t, fresh.write))
			err = os.WriteFile(file, statements, 0o644)
		}
		if err != nil {
			t.Fatalf("%v; a new schema is dumped with go test ./server/store -update", err)
		}

		path := newPath(t)
		raw := rawDatabase(t, path)
		if _, err := raw.ExecContext(ctx, string(statements)); err != nil {
			t.Fatalf("%s: %v", file, err)
		}
		if err := raw.Close(); err != nil {
			t.Fatal(err)
		}
		s := openStore(t, path)
		if err := sampleOf("ada").check(ctx, s); err != nil {
			t.Errorf("%s: %v", file, err)
		}
		if d := cmp.Diff(schemaOf(t, fresh.read), schemaOf(t, s.read)); d != "" {
			t.Errorf("%s: schema of a new file and of this one differ (-new +this):\n%s", file, d)
		}
		if err := s.Integrity(ctx); err != nil {
			t.Errorf("%s: %v", file, err)
		}
		if err := sampleOf("ben").save(ctx, s); err != nil {
			t.Errorf("%s: %v", file, err)
		}
	}
}

func TestANewerDatabaseIsRefusedAndLeftAlone(t *testing.T) {
	t.Parallel()
	ctx := t.Context()
	path := newPath(t)
	s, err := Open(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	if err := sampleOf("ada").save(ctx, s); err != nil {
		t.Fatal(err)
	}
	for _, statement := range []string{
		"insert into goose_db_version (version_id, is_applied) values (9999, 1)",
		"create table of_a_later_time (id integer primary key)",
	} {
		if _, err := s.write.ExecContext(ctx, statement); err != nil {
			t.Fatal(err)
		}
	}
	before := dump(t, s.write)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}

	_, err = Open(ctx, path)
	if !errors.Is(err, ErrNewer) || !strings.Contains(err.Error(), "schema 9999") {
		t.Errorf("Open() = %v, want ErrNewer and the number of the schema", err)
	}
	raw := rawDatabase(t, path)
	defer raw.Close()
	if d := cmp.Diff(before, dump(t, raw)); d != "" {
		t.Errorf("the refused database was changed (-before +after):\n%s", d)
	}
}

func TestTheDatabaseOfAnotherProgramIsRefusedAndLeftAlone(t *testing.T) {
	t.Parallel()
	path := newPath(t)
	raw := rawDatabase(t, path)
	if _, err := raw.ExecContext(t.Context(), "create table recipes (id integer primary key, name text)"); err != nil {
		t.Fatal(err)
	}
	if err := raw.Close(); err != nil {
		t.Fatal(err)
	}
	before, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	_, err = Open(t.Context(), path)
	if err == nil || !strings.Contains(err.Error(), "another program") {
		t.Errorf("Open() = %v, want it to speak of another program", err)
	}
	after, err := os.ReadFile(path)
	if err != nil || !bytes.Equal(before, after) {
		t.Errorf("the refused file was changed: %v", err)
	}
}

func TestOpeningAgainChangesNothing(t *testing.T) {
	t.Parallel()
	path := newPath(t)
	var dumps []string
	for range 3 {
		s, err := Open(context.Background(), path)
		if err != nil {
			t.Fatal(err)
		}
		dumps = append(dumps, dump(t, s.write))
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		if _, err := os.Stat(path + "-wal"); !errors.Is(err, os.ErrNotExist) {
			t.Errorf("the log is still there after Close: %v", err)
		}
	}
	if dumps[0] != dumps[1] || dumps[1] != dumps[2] {
		t.Errorf("dumps differ:\n%s\n%s\n%s", dumps[0], dumps[1], dumps[2])
	}
}
