// Package assets holds the templates, style sheets, scripts and pictures of the
// pages. It has no logic: the server reads and serves them.
package assets

import "embed"

// Files holds templates/, style/, script/ and the drawn pictures/. The
// screenshot for the README lies beside them and is not embedded.
//
//go:embed templates style script pictures/*.svg
var Files embed.FS
