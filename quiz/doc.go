// Package quiz holds the questions of the course and marks answers to them.
//
// # The question file
//
// Each lesson has one YAML file in the folder bank, named after the lesson's
// slug. It holds a list of questions. This is a whole file, headspace.yaml:
//
//	questions:
//	  - id: headspace-91
//	    lesson: headspace
//	    competencies: [headspace]
//	    kind: choice
//	    stem: You filled a jar of peaches to the rim. What is likely to happen?
//	    options:
//	      - text: Nothing bad, because a fuller jar keeps better
//	        feedback: >-
//	          You may think a fuller jar keeps better. It does not.
//	          Food swells in the canner, and with no room it climbs out.
//	        misconception: fuller-jar-keeps-better
//	      - text: Food climbs out under the lid
//	        right: true
//	        feedback: Heat makes the food swell, and this jar has no room for it.
//	    why: Food needs room to swell in the canner.
//	    source: [usda-guide-1]
//	    page: Guide 1, p. 1-13
//
//	  - id: headspace-92
//	    lesson: headspace
//	    competencies: [headspace, acidity]
//	    kind: number
//	    stem: How much bottled lemon juice goes in a quart of crushed tomatoes?
//	    unit: tbsp
//	    tolerance: 0.1
//	    answer:
//	      acid: {food: tomatoes-crushed, jar: quart, kind: bottled-lemon-juice}
//	      feedback: This is the printed dose for a quart.
//	    wrong:
//	      - acid: {food: tomatoes-crushed, jar: pint, kind: bottled-lemon-juice}
//	        misconception: bigger-jar-same-time
//	        feedback: >-
//	          You may think one dose fits each jar. It does not.
//	          A quart holds twice as much food as a pint.
//	    why: Tomatoes can be above pH 4.6, so each jar gets its measured dose.
//	    source: [usda-guide-3]
//	    page: Guide 3, p. 3-7
//
// These keys belong to every question:
//
//	id            small letters and hyphens, used once in the whole bank
//	lesson        slug of the lesson, the same as the file's name
//	competencies  what the question shows, from the list of the course
//	kind          choice, choices or number
//	stem          the question, at reading grade 8 or below (Flesch-Kincaid)
//	why           the reason, shown with every answer, right or wrong
//	source        ids of the publications
//	page          where in them
//
// With choice, exactly one of the options is right. With choices, any number
// of them are, and the answer is right when all of these and no others are
// chosen. An option has:
//
//	text           one line; no two options of a question have the same
//	right          true for a right one, left out for a wrong one
//	feedback       shown when it is chosen, and for a right one also when it is
//	               not; for a wrong one the belief, that it is not so, and what
//	               is true and why
//	misconception  for a wrong one, the belief that leads there, an id from
//	               misconceptions.yaml
//
// With number, the learner types a quantity:
//
//	unit           min, h, psi, tsp, tbsp, in, °F or ft. A bare number is read in
//	               it. Any other unit of the same kind is converted.
//	tolerance      how far off is still right, in unit; left out, nothing is.
//	               Metric answers are often rounded, so 1/2 in needs 0.02 for a
//	               learner who writes 13 mm. A tested time has none.
//	answer, wrong  the right number, and a list of wrong ones that have a name.
//	               Each has feedback, each wrong one a misconception.
//
// A number is given in one of these ways. All but the last are looked up in the
// process table when the bank is loaded, so that a question cannot disagree
// with it:
//
//	times: {food, pack, method, gauge, jar, altitude}      the tested minutes
//	pressure: {food, pack, method, gauge, jar, altitude}   the tested gauge pressure
//	headspace: {food, pack, method, gauge, jar, altitude}  the tested headspace
//	acid: {food, jar, kind}                                the printed dose for a jar
//	value: 5 min                                           a figure that is in no table
//
// gauge is needed with method pressure only. A key that is not in the table,
// rests on a row that was read in no publication, or has several tested
// alternatives is an error. For a key from the table, page has to name the page
// it stands on.
//
// # Marking
//
// [Question.Mark] takes the texts of the options chosen, or the number as it
// was typed. Its [Result] tells about every option chosen and every right one,
// with the reason and the source: there is never just a tick or a cross.
package quiz
