// Command rollingboil is a teaching-course companion for home canning: it
// serves the course, grades plans, prints process times and checks content.
package main

import (
	"fmt"
	"io"
	"os"
	_ "time/tzdata" // a canning day ends at its own midnight, on systems without the database, too

	"github.com/alecthomas/kong"
)

// Exit codes, told in the help of each command.
const (
	exitOK      = 0 // all went well; every plan is as tested
	exitNot     = 1 // some plan is not as tested, or a check found problems
	exitTrouble = 2 // a file could not be read, or the program could not run
)

// commands is the whole command line.
type commands struct {
	Serve      serveCommand      `cmd:"" default:"withargs" help:"Serve the course on a web address (what happens without a command)."`
	Grade      gradeCommand      `cmd:"" help:"Grade plan and batch files against the tested processes."`
	Times      timesCommand      `cmd:"" help:"Print the tested times of a food."`
	Bench      benchCommand      `cmd:"" help:"Compute a demonstration: boiling point, heat in a jar, vacuum, lids, acid, seals."`
	Analyse    analyseCommand    `cmd:"" help:"Item analysis of a class's answers."`
	Bank       bankCommand       `cmd:"" help:"Write the questions for use elsewhere, or read some that come from elsewhere."`
	Schema     schemaCommand     `cmd:"" help:"Print the JSON Schema of plan or batch files, for editors."`
	Draft      draftCommand      `cmd:"" help:"Make a draft of a scenario out of a batch."`
	Course     courseCommand     `cmd:"" help:"Write the shipped course into a folder, to change it."`
	Instructor instructorCommand `cmd:"" help:"Make an instructor's account, or let one set a new password."`
	Backup     backupCommand     `cmd:"" help:"Copy the database, also while the server runs."`
	Restore    restoreCommand    `cmd:"" help:"Put a backup in the place of the database."`
	Lint       lintCommand       `cmd:"" help:"Check lessons, questions, scenarios, rules and tables."`
}

// console is where a command writes; it returns its exit code.
type console struct {
	out, err io.Writer
}

func main() {
	os.Exit(run(os.Args[1:], console{os.Stdout, os.Stderr}))
}

func run(args []string, c console) (code int) {
	var cmd commands
	exited := -1
	parser, err := kong.New(
		&cmd,
		kong.Name("rollingboil"),
		kong.Description("A teaching-course companion for home canning. It teaches and looks up tested processes; it never invents one. Follow a tested recipe, and ask your extension service."),
		kong.Writers(c.out, c.err),
		kong.Exit(func(code int) { exited = code; panic(exitRequest{}) }),
		kong.ConfigureHelp(kong.HelpOptions{Compact: true}),
	)
	if err != nil {
		fmt.Fprintln(c.err, "rollingboil:", err)
		return exitTrouble
	}
	// Help ends the program through kong's Exit, which may not return.
	defer func() {
		if r := recover(); r != nil {
			if _, asked := r.(exitRequest); !asked {
				panic(r)
			}
			code = exited
		}
	}()
	ctx, err := parser.Parse(args)
	if err != nil {
		fmt.Fprintf(c.err, "rollingboil: %v\nrollingboil --help lists the commands\n", err)
		return exitTrouble
	}
	code = exitOK
	ctx.Bind(c)
	if err := ctx.Run(&code); err != nil {
		fmt.Fprintln(c.err, "rollingboil:", err)
		return exitTrouble
	}
	return code
}

type exitRequest struct{}
