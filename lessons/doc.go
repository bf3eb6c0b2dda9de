// Package lessons holds the course: lesson files in Markdown and how they are
// read, checked and made ready for the page.
//
// # The file
//
// A lesson is one file in the course folder, named NN-slug.md. The number only
// sets the order; the slug is the lesson's id in links and never changes. The
// file begins with front matter between two lines of ---:
//
//	title         what stands over the lesson
//	question      the one question it answers, ending in a question mark
//	lead          the answer in a sentence or two
//	minutes       time to read it and answer the questions, 1 to 60
//	able          list: what the reader will be able to do
//	competencies  list of what it teaches, words from the competencies of the course
//	sources       list of {id, at}: a publication's id, and the part and page used
//	cautions      list: what can go wrong, and who knows
//	reviewed      date of the last check against the sources, as 2026-08-20
//
// All of them must be there, and no other key may be. What follows is Markdown:
// headings from ## to ####, going down one level at a time; paragraphs, lists,
// emphasis, tables, quotations, code, and links to /a/place/here, #a-heading or
// https://. Raw HTML and pictures are refused. A link to another lesson must lead
// to one, and a heading that is named must stand there.
//
// # Pieces
//
// A fenced block that begins with the name of a piece is drawn by the server.
// Settings are key=value or key="two words"; those in brackets may be left out.
//
//	times food method [jar] [pack] [gauge]
//	          tested times by altitude; jar may be a list, pint,quart; gauge goes
//	          with method=pressure
//	jar jar headspace lid caption [liquid] [layers] [bubbles]
//	          a drawn jar; lid is flat, down or domed; liquid is full, third-down
//	          or half-down; layers and bubbles are true or false
//	acid food
//	          the printed doses of acid per jar
//	bench show [with]
//	          a demonstration that computes; with is
//	          "altitude=6240 ft; pressure=11 psi"
//	boiling   the boiling point of water by altitude
//	question id
//	          a question to answer from memory
//	refute id
//	          a wrong belief, that it is not so, and what is true
//	worked scenario
//	          the second kitchen of a worked scenario, its last step left to the
//	          reader
//	answer    what the reader has worked out first; its fence holds the text, in
//	          Markdown
//	yields food
//	          what a load takes and a bushel gives; food may be a list
//	day food pack jar altitude
//	          a day at the boiling-water canner as a timeline
//	picture show caption
//	          show is water-over-lids, headspace-ruler or lid-and-rim
//	caution   its fence holds the text, in Markdown
//
// Only caution and answer have anything in their fence. A table of times must have
// rows in the process table for every jar it names.
//
// # Figures
//
// No number with a unit is typed into a lesson, not in the text, not in a table, not in
// the front matter, not in a caption: the loader refuses "10 minutes", "ten minutes",
// "half an inch", "1/2 in", "minutes: 10" and "6000 ft" alike, and a bare number in a
// column that is headed Minutes. It looks at the lesson as it is read, so links, marks
// and signs between a number and its unit make no difference. A reference in double
// square brackets, on one line, draws the figure when the lesson is loaded:
//
//	[[min food=F pack=P method=M jar=J altitude="6240 ft"]]  a tested time
//	[[acid food=F jar=J kind=bottled-lemon-juice]]           acid for one jar
//	[[headspace food=F]]      the tested headspace of a food
//	[[fact rest]]             a figure from facts.yaml, with its own source
//	[[altitude 6240 ft]]      a height in an example, in feet and meters
//	[[length 3/4 in]]         a length in an example, in inches and millimeters
//	[[measured 47 min]]       a figure that somebody measured, and that is no tested one
//
// The first four come from a publication, and the lesson must list it among its
// sources. Of the process table a lesson may teach only what the USDA guide
// prints; rows from memory or from another publication are refused. A [[length ...]]
// is refused in a sentence about headspace: draw the tested one.
//
// A measured figure is what a clock, a gauge, a ruler, a thermometer or a spoon said in
// some kitchen: a time, a pressure, a length, a temperature or a volume. It is drawn with
// the words that it is measured and not tested, "47 min (measured, not tested)" or
// "11 psi (76 kPa; measured, not tested)", and these words cannot be left out: it tells
// what was seen, and nobody can take it for what to do. Pounds are refused, since they may
// be a weight or a pressure. A bare number, such as a pH, needs no reference.
//
// The figures that are typed are a drawn jar's headspace, since that jar may be a wrong
// one, the values that a demonstration is shown with, and the altitude of a day.
//
// # Example
//
// This is a whole lesson:
//
//	---
//	title: Rest before lifting
//	question: Why do the jars wait in the canner?
//	lead: "The boil inside a jar ends later than the boil outside: give it [[fact rest]]."
//	minutes: 4
//	able:
//	  - Say why a jar is not lifted at once.
//	competencies: [cooling, siphoning]
//	sources:
//	  - {id: usda-guide-1, at: "p. 1-18"}
//	  - {id: usda-guide-3, at: "p. 3-8"}
//	cautions:
//	  - Your canner's own directions come first. Ask your extension service if they differ.
//	reviewed: 2026-08-20
//	---
//
//	## Why they wait
//
//	A jar fresh from the boil is still boiling inside. Wait [[fact rest]].
//
//	```jar jar=pint headspace="1/2 in" lid=down caption="A pint that was left to rest."
//	```
//
//	At [[altitude 6240 ft]] this pint had [[min food=tomatoes-crushed pack=hot method=boiling-water jar=pint altitude="6240 ft"]] before its rest.
//
//	```times food=tomatoes-crushed jar=pint,quart pack=hot method=boiling-water
//	```
//
//	```caution
//	A rest does not make up for a **short boil**.
//	```
//
//	## From memory
//
//	```question id=resting-1
//	```
package lessons
