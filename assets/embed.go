// Package assets holds the templates, style sheets, scripts and pictures of the
// pages. It has no logic: the server reads and serves them.
package assets

import "embed"

// Files holds templates/, style/, script/ and pictures/.
//
//go:embed templates style script pictures
var Files embed.FS
