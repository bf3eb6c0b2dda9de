// Package process holds the published process table: which food, filled how,
// heated how, in which jar, at which altitude, for how long and at what
// pressure. It only looks rows up. Nothing here works out a time, a pressure, a
// dose of acid or a headspace.
//
// Four files are embedded:
//
//	times.csv   one row for each printed figure: food, name, guide, pack, method,
//	            gauge, jar, from_ft, to_ft (empty: no printed upper limit),
//	            minutes, psi, headspace_in (empty: none printed), confidence,
//	            page, source
//	foods.csv   one card for each food: acidity, where its acid goes (acid_in is
//	            jar, recipe or empty), which acids a recipe has (recipe_acid, by |;
//	            empty where it was not read), how the tested directions prepare
//	            it (in the plan's words, then in a line for people), whether its
//	            jars are sterilized for a process under ten minutes, the printed
//	            pounds for a load and yield of a bushel, the states of produce
//	            that are out, and what else matters
//	acid.csv    each printed dose of acid for one jar
//	untested.csv  foods people ask about that have no tested home process: id,
//	            name, like (the tested food it resembles, or empty), why,
//	            source (ids of the list of sources, by |), confidence
//
// Confidence says how a row was read: guide-2015 in two readings of the USDA
// Complete Guide to Home Canning, Agriculture Information Bulletin 539, 2015;
// guide-2015-ocr legible in one reading of it; one-copy in one copy of another
// publication; two-copies, of an untested food, in two; from-memory in none. A row from memory supports no answer.
//
// Rules of the table, from Guide 1 of that publication, pp. 1-22 to 1-24, and
// the National Center for Home Food Preservation: a jar smaller than listed
// takes the next larger listed jar's row; a larger one has no process. In the
// pressure tables of acid foods several lines (minutes and psi) stand for the
// same jar and altitude: they are alternatives.
package process
