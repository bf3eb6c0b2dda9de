// Package ruleset holds the rules that plans are judged by, with the sources
// and the misconceptions they name, as YAML that a canning teacher can read.
// The format is described in package rules.
package ruleset

import (
	"embed"
	"io/fs"
)

//go:embed *.yaml
var files embed.FS

// Files gives the rule files, at the root of the file system.
func Files() fs.FS { return files }
