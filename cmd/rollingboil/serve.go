package main

import (
	"context"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"os/signal"
	"path/filepath"
	"runtime/debug"
	"syscall"
	"time"

	"rollingboil/server"
	"rollingboil/server/store"
)

type serveCommand struct {
	Addr   string `default:"127.0.0.1:8080" env:"ROLLINGBOIL_ADDR" help:"Address to listen on."`
	DB     string `name:"db" env:"ROLLINGBOIL_DB" placeholder:"FILE" help:"Database file; made when it is not there. Without it: rollingboil/rollingboil.db in your configuration folder."`
	Course string `env:"ROLLINGBOIL_COURSE" placeholder:"DIR" help:"A folder with lessons, quiz and scenarios of your own, laid over the shipped ones."`
	Demo   bool   `help:"Fill an empty database with an invented class of six weeks, to look around in."`
}

func (serveCommand) Help() string {
	return "Example: rollingboil serve --addr 127.0.0.1:9000 --db class.db\n\nStops when it is interrupted; what was answered until then is kept."
}

// Run loads and checks all content, opens the database, and serves until a
// signal asks it to stop.
func (cmd serveCommand) Run(c console) error {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	defer stop()
	log := slog.New(slog.NewTextHandler(c.err, nil))
	course, err := server.LoadCourse(cmd.Course)
	if err != nil {
		return err
	}
	file, err := orOwn(cmd.DB)
	if err != nil {
		return err
	}
	db, err := store.Open(ctx, file)
	if err != nil {
		return err
	}
	site, err := server.New(server.Config{Course: course, Store: db, Log: log})
	if err != nil {
		return errors.Join(err, db.Close())
	}
	var listening net.ListenConfig
	listener, err := listening.Listen(ctx, "tcp", cmd.Addr)
	if err != nil {
		return errors.Join(fmt.Errorf("listen on %s: %w; choose another address with --addr", cmd.Addr, err), db.Close())
	}
	var login server.DemoLogin
	if cmd.Demo {
		if login, err = site.FillDemo(ctx); err != nil {
			return errors.Join(fmt.Errorf("%s: %w", file, err), listener.Close(), db.Close())
		}
	}
	web := site.Web()
	fmt.Fprintf(c.out, "Rolling Boil is at http://%s (work is kept in %s)\n", listener.Addr(), file)
	if cmd.Demo {
		fmt.Fprintf(c.out, "It holds an invented example: nobody in this class is real, and nothing in it was cooked.\nLog in at http://%s/login\n  as the instructor  %s, password %s\n  as a student       %s, password %s\nThe passwords are shown this once.\n",
			listener.Addr(), login.Instructor, login.InstructorPassword, login.Student, login.StudentPassword)
	}
	instructors, err := db.Instructors(ctx)
	if err != nil {
		return errors.Join(err, db.Close())
	}
	if len(instructors) == 0 {
		link, err := server.Invite(ctx, db, time.Now())
		if err != nil {
			return errors.Join(err, db.Close())
		}
		fmt.Fprintf(c.out, "To hold a class, make an instructor's account at http://%s%s (works once, within three days)\n", listener.Addr(), link)
	}
	swept := make(chan struct{})
	go func() {
		defer close(swept)
		if err := site.Warm(); err != nil {
			log.Error("make the index of the search", "error", err)
		}
		debug.FreeOSMemory() // loading leaves a good deal behind that is never needed again
		site.Sweep(ctx)
	}()
	ended := make(chan error, 1)
	go func() { ended <- web.Serve(listener) }()
	select {
	case err = <-ended:
		stop()
	case <-ctx.Done():
		// Requests under way get ten seconds to end.
		shut, cancel := context.WithTimeout(context.Background(), 10*time.Second)
		defer cancel()
		if err = web.Shutdown(shut); errors.Is(err, context.DeadlineExceeded) {
			err = web.Close()
			fmt.Fprintln(c.out, "Stopped. Requests that had not ended after ten seconds were cut off; what was not answered may not be kept.")
			break
		}
		fmt.Fprintln(c.out, "Stopped.")
	}
	<-swept
	if errors.Is(err, http.ErrServerClosed) {
		err = nil
	}
	return errors.Join(err, db.Close())
}

// orOwn is the file that was named or, without a name, the database in the program's
// own folder.
func orOwn(file string) (string, error) {
	if file != "" {
		return file, nil
	}
	dir, err := os.UserConfigDir()
	if err != nil {
		return "", fmt.Errorf("find a folder for the database: %w; name a file with --db", err)
	}
	return filepath.Join(dir, "rollingboil", "rollingboil.db"), nil
}
