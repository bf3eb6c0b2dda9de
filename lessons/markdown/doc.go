// Package markdown turns a lesson's Markdown into pieces of safe HTML with the
// interactive pieces named between them.
//
// Only a small part of Markdown is taken: headings of level 2 to 4, paragraphs,
// lists, emphasis, links, tables, block quotes, code and rules. A table gets a
// region of its own to scroll in, named by its columns. Everything
// else, raw HTML and pictures above all, is reported as a problem and not
// quietly dropped, so that a writer never loses a sentence. Two belts hold the
// page: goldmark is told to leave raw HTML out, and what it writes then passes
// an allow-list that knows only the tags and attributes this package means to
// write.
//
// A fenced block whose first word is the name of a piece becomes a [Block]:
//
//	```jar jar=pint headspace="1/2 in" caption="A pint, filled right."
//	```
//
// A fence without any word after it is plain code. A fence that begins with a
// word that is no piece is a problem: a misspelt piece must not turn into a
// grey box with code in it.
package markdown
