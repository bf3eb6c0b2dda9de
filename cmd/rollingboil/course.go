package main

import (
	"fmt"

	"rollingboil/server"
)

type courseCommand struct {
	Export courseExportCommand `cmd:"" help:"Write the lessons, questions and scenarios into a folder, to change them."`
}

type courseExportCommand struct {
	Folder string `arg:"" name:"dir" help:"A folder that is new or empty."`
}

func (courseExportCommand) Help() string {
	return "Change what you like, take away what you do not change, and teach from it:\n\n  rollingboil course export mine\n  rollingboil lint --course mine\n  rollingboil serve --course mine\n\nA file replaces the shipped one of the same name. Rules and process times stay the shipped ones."
}

// Run writes the course.
func (cmd courseExportCommand) Run(c console) error {
	if err := server.WriteCourse(cmd.Folder); err != nil {
		return err
	}
	_, err := fmt.Fprintf(c.out, "The course is in %[1]s. Change it, check it with rollingboil lint --course %[1]s, and teach from it with rollingboil serve --course %[1]s.\n", cmd.Folder)
	return err
}
