package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/signal"
	"syscall"
	"time"

	"rollingboil/server/store"
)

type backupCommand struct {
	File string `arg:"" help:"The copy to make; a file that exists is not overwritten."`
	DB   string `name:"db" env:"ROLLINGBOIL_DB" placeholder:"FILE" help:"Database file. Without it: rollingboil/rollingboil.db in your configuration folder."`
}

func (backupCommand) Help() string {
	return "Example: rollingboil backup class-2026-08-20.db --db class.db\n\nThe server may run on the same database: the copy is of one moment. It holds all that people did, their names and hashed passwords too, so keep it as private as the database."
}

// Run makes the copy, checks it and tells what it holds.
func (cmd backupCommand) Run(c console) error {
	file, err := orOwn(cmd.DB)
	if err != nil {
		return err
	}
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	held, err := store.Backup(ctx, file, cmd.File)
	if err != nil {
		return notOver(err)
	}
	fmt.Fprintf(c.out, "%s is a whole copy of %s, checked. ", cmd.File, file)
	tell(c.out, held)
	return nil
}

// notOver tells what to do where a file would have been overwritten.
func notOver(err error) error {
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("%w; nothing is overwritten, name another file", err)
	}
	return err
}

type restoreCommand struct {
	File string `arg:"" help:"The backup to restore; it stays as it is."`
	DB   string `name:"db" env:"ROLLINGBOIL_DB" placeholder:"FILE" help:"Database file. Without it: rollingboil/rollingboil.db in your configuration folder."`
}

func (restoreCommand) Help() string {
	return "Example: rollingboil restore class-2026-08-20.db --db class.db\n\nStop the server first. The database that is there is kept beside the new one, as NAME.before-TIME. What people did after the backup was made is only in that one; what they deleted after it is there again."
}

// Run puts the backup in the place of the database and tells what it holds.
func (cmd restoreCommand) Run(c console) error {
	file, err := orOwn(cmd.DB)
	if err != nil {
		return err
	}
	r, err := store.Restore(context.Background(), file, cmd.File, time.Now())
	if err != nil {
		return err
	}
	fmt.Fprintf(c.out, "%s is restored from %s, checked. ", file, cmd.File)
	tell(c.out, r.Contents)
	if r.Before != "" {
		fmt.Fprintf(c.out, "What was there before is now %s\n", r.Before)
	}
	return nil
}

// tell writes what a database holds.
func tell(out io.Writer, held store.Contents) {
	fmt.Fprintf(out, "Schema %d, with:\n", held.Schema)
	for _, n := range held.Rows {
		fmt.Fprintf(out, "%8d %s\n", n.Rows, n.Table)
	}
}
