package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"time"

	"rollingboil/server"
	"rollingboil/server/store"
)

type instructorCommand struct {
	Add   instructorAddCommand   `cmd:"" help:"Print a link with which somebody makes an instructor's account."`
	Reset instructorResetCommand `cmd:"" help:"Print a code with which an instructor sets a new password."`
}

type instructorAddCommand struct {
	DB string `name:"db" env:"ROLLINGBOIL_DB" placeholder:"FILE" help:"Database file. Without it: rollingboil/rollingboil.db in your configuration folder."`
}

func (instructorAddCommand) Help() string {
	return "Example: rollingboil instructor add --db class.db\n\nThe link works once, within three days, while the server runs on the same database."
}

// Run makes a link in place of an earlier one that was not used.
func (cmd instructorAddCommand) Run(c console) error {
	file, err := orOwn(cmd.DB)
	if err != nil {
		return err
	}
	return withDatabase(file, func(ctx context.Context, db *store.Store) error {
		link, err := server.Invite(ctx, db, time.Now())
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "Open %s on the address of the course that runs with --db %s, within three days. It works once.\n", link, file)
		return nil
	})
}

type instructorResetCommand struct {
	Name string `arg:"" help:"The instructor's name."`
	DB   string `name:"db" env:"ROLLINGBOIL_DB" placeholder:"FILE" help:"Database file. Without it: rollingboil/rollingboil.db in your configuration folder."`
}

func (instructorResetCommand) Help() string {
	return "Example: rollingboil instructor reset 'Ada Field' --db class.db\n\nThe code is typed at /new-password and works once, within three days."
}

// Run makes a code for a new password; the old password works until the code is used.
func (cmd instructorResetCommand) Run(c console) error {
	file, err := orOwn(cmd.DB)
	if err != nil {
		return err
	}
	if _, err := os.Stat(file); err != nil {
		return fmt.Errorf("%w; name the database with --db", err)
	}
	return withDatabase(file, func(ctx context.Context, db *store.Store) error {
		p, err := db.PersonByName(ctx, cmd.Name)
		if errors.Is(err, store.ErrNotFound) || err == nil && p.Role != store.Instructor {
			return fmt.Errorf("no instructor is called %q; there are: %s", cmd.Name, instructorNames(ctx, db))
		}
		if err != nil {
			return err
		}
		code, err := server.PasswordCode(ctx, db, p.Visitor, time.Now())
		if err != nil {
			return err
		}
		fmt.Fprintf(c.out, "Type %s at /new-password, within three days. It works once.\n", code)
		return nil
	})
}

func instructorNames(ctx context.Context, db *store.Store) string {
	all, err := db.Instructors(ctx)
	if err != nil || len(all) == 0 {
		return "none yet; rollingboil instructor add makes one"
	}
	names := ""
	for i, p := range all {
		if i > 0 {
			names += ", "
		}
		names += p.Name
	}
	return names
}

// withDatabase opens the database for one command.
func withDatabase(file string, use func(context.Context, *store.Store) error) (err error) {
	ctx := context.Background()
	db, err := store.Open(ctx, file)
	if err != nil {
		return err
	}
	defer func() { err = errors.Join(err, db.Close()) }()
	return use(ctx, db)
}
