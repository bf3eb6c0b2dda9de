// Package kitchens holds the shipped scenarios, one Markdown file each; the
// format is described in package scenarios.
package kitchens

import (
	"embed"
	"io/fs"
)

//go:embed *.md
var files embed.FS

// Files gives the scenario files, at the root of the file system.
func Files() fs.FS { return files }
