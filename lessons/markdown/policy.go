package markdown

import (
	"regexp"

	"github.com/microcosm-cc/bluemonday"
)

// href is the shape of every link target: a place on this site, a heading on
// this page, or an https address. It is narrower than what a browser would
// follow on purpose. Two slashes or a backslash at the start would lead to
// another host, and tabs or line ends are dropped by browsers, so none of them
// is in the list of letters.
var href = regexp.MustCompile(`^(?:https://[a-z0-9][a-z0-9.-]*(?:/[A-Za-z0-9._~/?#=&%+,-]*)?|/(?:[A-Za-z0-9._~?#=&%+,-][A-Za-z0-9._~/?#=&%+,-]*)?|#[a-z0-9_-]+)$`)

// policy is the allow-list of what a lesson's Markdown may become: exactly the
// tags and attributes this package writes, nothing more.
var policy = newPolicy()

func newPolicy() *bluemonday.Policy {
	p := bluemonday.NewPolicy()
	p.AllowElements("h2", "h3", "h4", "p", "ul", "ol", "li", "strong", "em", "blockquote", "pre", "code", "hr",
		"table", "thead", "tbody", "tr", "th", "td")
	p.AllowAttrs("id").Matching(regexp.MustCompile(`^[a-z0-9_-]+$`)).OnElements("h2", "h3", "h4")
	p.AllowAttrs("start").Matching(regexp.MustCompile(`^[0-9]{1,3}$`)).OnElements("ol")
	p.AllowAttrs("class").Matching(regexp.MustCompile(`^align-(?:left|right|center)$`)).OnElements("th", "td")
	p.AllowAttrs("scope").Matching(regexp.MustCompile(`^col$`)).OnElements("th")
	// The region around a table, which tableInRegion writes.
	p.AllowElements("div")
	p.AllowAttrs("class").Matching(regexp.MustCompile(`^wide$`)).OnElements("div")
	p.AllowAttrs("tabindex").Matching(regexp.MustCompile(`^0$`)).OnElements("div")
	p.AllowAttrs("role").Matching(regexp.MustCompile(`^region$`)).OnElements("div")
	p.AllowAttrs("aria-label").Matching(regexp.MustCompile(`^Table: `)).OnElements("div")
	p.AllowAttrs("href").Matching(href).OnElements("a")
	p.AllowRelativeURLs(true)
	p.AllowURLSchemes("https")
	return p
}
