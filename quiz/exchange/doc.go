// Package exchange writes questions and answers so that they can be used elsewhere,
// and reads questions that come from elsewhere.
//
// # What is written of questions
//
// A [Set] is a list of questions, each drawn for a seed, computed and written out:
// nothing in it has to be computed by whoever reads it. [Pick] takes questions with
// given seeds; [Variants] takes a template several times, three unless told otherwise.
//
// JSON, by [WriteJSON] and read again by [ReadJSON], is one object:
//
//	format     "rollingboil questions 1"
//	title      of the set
//	caution    for whoever teaches with it
//	questions  a list of objects, with these keys in this order:
//
//	  id, seed, drawn          the question; the seed as a string; the draw in words
//	  lesson, competencies     where it belongs
//	  kind                     choice, choices, number, order or match
//	  stem                     the question
//	  picture                  {jar, headspace_in, liquid, lid, layers, bubbles, says}
//	  options                  choice, choices: {text, right, feedback, misconception},
//	                           in the order shown
//	  number                   {unit, tolerance, answer, wrong}; answer and each of
//	                           wrong are {amount, text, feedback, misconception}.
//	                           Amounts and tolerance are in unit. The tolerance holds
//	                           the millionth by which numbers may be off that were
//	                           converted
//	  items                    order, match: {key, text, with, feedback}, in the order
//	                           shown; with belongs to match
//	  order                    order: the keys in the right order
//	  withs                    match: all that can be given to an item
//	  mistakes                 order: {early, late, feedback, misconception}, where early
//	                           was put before late; match: {item, with, feedback,
//	                           misconception}
//	  why, sources, page       the reason, and where it can be looked up
//
// A key without a value is left out, but for those that every question has.
//
// CSV, by [WriteCSV], has a header and a row for each question (RFC 4180, with plain
// line ends; UTF-8): id, seed, lesson, competencies, kind, stem, key, wrong, why,
// source, page. In wrong each line is a wrong answer with its misconception in
// brackets. A cell that begins with = + - @, a tab or a carriage return gets an
// apostrophe before it, so that no spreadsheet runs it; take it away to get the cell
// as it was.
//
// Markdown, by [WriteMarkdown], is a sheet to print, and with keys a second one. Texts
// are escaped: none of them makes a heading, a link or anything else.
//
// QTI 3.0 and 2.2, by [WriteQTI], is a package: a zip with imsmanifest.xml, an item in
// items/ID-sSEED.xml for each question, a test in test.xml with a section for each
// lesson, pictures as items/pictures/ID-sSEED.svg, and bank.csv and bank.md for people,
// which the manifest does not list. Items use this part of QTI:
//
//	choice   qti-choice-interaction, cardinality single
//	choices  the same, multiple; right when exactly the right ones are chosen
//	number   qti-text-entry-interaction, float; right within an absolute tolerance. A
//	         unit cannot be typed, so the item asks for the number in the unit
//	order    qti-order-interaction, ordered
//	match    qti-match-interaction, multiple pairs
//
// The response is RESPONSE. SCORE is 1 for the answers that the course marks right,
// else 0. FEEDBACK shows what is said of each option, and always WHY: the key, the
// reason and the source. The scoring template match_correct is named for readers that
// know no rules.
//
// # What is read
//
// [Import] reads the same part of QTI 3.0 and 2.2, from a package or a single item, and
// also items that are scored by map_response, with the bounds of their mapping, texts
// that are typed in, and relative and uneven tolerances. [ImportedItem.Score] scores
// answers to what was read. Whatever was not understood is in the report; an item in
// which this might change the score is left out whole. Document types, and with them
// entities, are refused, and packages that are too large or have names that lead out
// of them.
//
// # What is written of answers
//
// [WriteAnswers] writes CSV, as safe as that above: learner, question, seed, lesson,
// sitting, given (a line for each part), right (1 or 0), misconceptions, at (UTC),
// seconds. [AnswerRows] gives the same as a table; [WriteRows] writes any table as safe,
// and [SafeCell] makes a single cell so.
//
// [Publisher] makes xAPI 2.0 statements, and [WriteStatements] writes them as JSON
// lines. A learner is an account with an opaque id; names and mail addresses are
// refused. Ids of statements are made from their content (UUID version 5), so that
// what is sent twice is kept once.
package exchange
