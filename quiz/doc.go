// Package quiz holds the questions of the course and marks answers to them.
//
// # The question file
//
// A file of the bank is named after the slug of a lesson, or after it with a hyphen
// and a word more, and holds a list of questions of that lesson. This is a whole
// file, headspace.yaml:
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
//	    competencies: [process-time, altitude]
//	    kind: choice
//	    draw:
//	      food: [tomatoes-crushed, peaches]
//	      jar: [pint, quart]
//	      feet: {from: 1100, to: 9000, step: 100}
//	    let:
//	      here: minutes(food, "hot", "boiling-water", jar, feet)
//	      sea: minutes(food, "hot", "boiling-water", jar, 0)
//	    where:
//	      - here != sea
//	    stem: How long do {{jarName(jar)}}s of {{name(food)}}, hot pack, boil at {{inFt(feet)}}?
//	    show: 3
//	    options:
//	      - {text: "{{inMin(here)}}", right: true, feedback: This is the printed time for your band.}
//	      - text: "{{inMin(sea)}}"
//	        feedback: You may think a boil is a boil. It is not. This is the time for the sea, where water boils hotter.
//	        misconception: altitude-does-not-matter
//	      - {text: "{{inMin(here + 5)}}", feedback: "You may think some more will do. No. It is not the printed time.", misconception: time-is-a-guess}
//	      - {text: "{{inMin(here + 10)}}", feedback: "You may think some more will do. No. It is not the printed time.", misconception: time-is-a-guess}
//	    why: A tested time belongs to one food, pack, jar and altitude band.
//	    source: [usda-guide-3]
//	    page: Guide {{guide(food)}}, p. {{page(food, "hot", "boiling-water", "", jar, feet)}}
//
//	  - id: headspace-93
//	    lesson: headspace
//	    competencies: [headspace, acidity]
//	    kind: number
//	    stem: How much bottled lemon juice goes in a quart of crushed tomatoes?
//	    unit: tbsp
//	    tolerance: 0.1
//	    answer:
//	      is: dose("tomatoes-crushed", "quart", "bottled-lemon-juice") / 3
//	      feedback: This is the printed dose for a quart.
//	    wrong:
//	      - is: dose("tomatoes-crushed", "pint", "bottled-lemon-juice") / 3
//	        misconception: bigger-jar-same-time
//	        feedback: >-
//	          You may think one dose fits each jar. It does not.
//	          A quart holds twice as much food as a pint.
//	    why: Tomatoes can be above pH 4.6, so each jar gets its measured dose.
//	    source: [usda-guide-3]
//	    page: Guide 3, p. 3-7
//
//	  - id: headspace-94
//	    lesson: headspace
//	    competencies: [filling]
//	    kind: order
//	    stem: Put these steps in order.
//	    items:
//	      - {key: fill, text: Fill the jar, feedback: The food goes in first.}
//	      - {key: bubbles, text: Let the bubbles out, feedback: Bubbles come out of a full jar.}
//	      - {key: wipe, text: Wipe the rim, feedback: The rim is wiped when nothing more is spilled on it.}
//	    mistakes:
//	      - early: wipe
//	        late: bubbles
//	        misconception: headspace-is-cosmetic
//	        feedback: You may think the rim can be wiped at once. No. Letting bubbles out can soil it again.
//	    why: Each step leaves the rim and the headspace ready for the next.
//	    source: [usda-guide-1]
//	    page: Guide 1, p. 1-13
//
//	  - id: headspace-95
//	    lesson: headspace
//	    competencies: [headspace]
//	    kind: match
//	    stem: Which headspace goes with which food?
//	    items:
//	      - {key: jam, text: Jam, with: "{{fact('headspace-jam')}}", feedback: Jam hardly swells.}
//	      - {key: fruit, text: Fruit, with: "{{fact('headspace-fruit')}}", feedback: Fruit swells more than jam.}
//	      - {key: beans, text: Green beans, with: "{{fact('headspace-low-acid')}}", feedback: A pressure canner is hotter.}
//	    spare: ["{{given('2 in (51 mm)')}}"]
//	    mistakes:
//	      - item: beans
//	        with: "{{fact('headspace-fruit')}}"
//	        misconception: fuller-jar-keeps-better
//	        feedback: You may think beans need no more than fruit. They do. A pressure canner is hotter.
//	    why: The hotter the canner, the more room the food needs.
//	    source: [usda-guide-1]
//	    page: Guide 1, p. 1-13
//
// These keys belong to every question:
//
//	id            small letters and hyphens, used once in the whole bank; not "next"
//	lesson        slug of the lesson, with which the file's name begins
//	competencies  what the question shows, words from the competencies of the course
//	kind          choice, choices, number, order or match
//	stem          the question, at reading grade 8 or below (Flesch-Kincaid)
//	picture       {jar, headspace, liquid, lid, layers, bubbles}: a drawn jar to
//	              look at, as in a lesson; its words say what can be seen
//	why           the reason, shown with every answer, right or wrong
//	source        ids of the publications
//	page          where in them; it names the page of a key that is looked up
//
// With choice, exactly one of the options is right. With choices, any number
// of them are, and the answer is right when all of these and no others are
// chosen. An option has:
//
//	text           one line
//	right          true for a right one, left out for a wrong one
//	when           an expression: the option is offered only when it says yes
//	feedback       shown when it is chosen, and for a right one also when it is
//	               not; for a wrong one the belief, that it is not so, and what
//	               is true and why
//	misconception  for a wrong one, the belief that leads there, an id from
//	               the misconceptions of the course
//
// With show, so many options are offered: those that are right, and of the wrong
// ones the first that read differently from the rest. One that comes to the same as
// the key gives way to the next.
//
// With number, the learner types a quantity:
//
//	unit           min, h, psi, tsp, tbsp, in, °F, ft, inHg, % or jars. A bare number
//	               is read in it. Any other unit of the same kind is converted.
//	tolerance      how far off is still right, in unit; left out, nothing is.
//	               Metric answers are often rounded, so 1/2 in needs 0.02 for a
//	               learner who writes 13 mm. A tested time has none.
//	answer, wrong  the right number, and a list of wrong ones that have a name.
//	               Each has is, an expression that gives it in unit, and feedback;
//	               each wrong one a misconception. In a drawn question a wrong one
//	               that comes too near to the key is passed over.
//
// With order, items stand in the right order and are shown in another. With match,
// each item has with, what belongs to it, and spare lists what belongs to none.
// mistakes name the wrong answers that come from a belief: early, put before late
// though it belongs behind it; or item, given with.
//
// # Drawing
//
// A question with draw is a template. Each name under draw gets a value by a seed:
// one of a list of words, of a list of numbers, or of a range {from, to, step}. Each
// name under let is computed from those above it. Each line of where must hold, or
// another draw is taken; lines are asked in order, and one computes only what it
// uses. Every text may then hold expressions between double braces. A name has
// letters only.
//
// # Expressions
//
// An expression has + - *, / by a number that is written out, comparisons, in, and,
// or, not, a ? b : c, min, max, abs, round, and these functions. Foods, packs,
// methods, gauges and jars are words as in a plan; ft is an altitude in feet. A
// look-up fails where the table has nothing that was read in a publication, or
// several figures.
//
//	minutes(food, pack, method, jar, ft)               a tested time, in minutes
//	minutesUnderPressure(food, pack, gauge, jar, ft)   the same for a pressure canner
//	psi(food, pack, gauge, jar, ft)                    a tested pressure
//	headspace(food, pack, method, jar)                 a printed headspace, in inches
//	dose(food, jar, kind)                              a printed dose of acid, in teaspoons
//	longest(food, method)                              the longest printed time of a food
//	printed(food, pack, method, gauge, jar, ft)        whether a tested process answers
//	bandFrom, bandTo(food, pack, method, gauge, jar, ft)
//	                                                   the altitude band, in feet; 0: no end
//	page(food, pack, method, gauge, jar, ft)           the page it is printed on
//	cardPage(food)                                     the page of its directions and doses
//	guide(food)                                        the number of the guide
//	verdict({"food": food, "time": "60 min", ...})     what the grader says of a plan
//	finds({...}, rule)                                 whether a rule finds something in it
//	model(demonstration, number, "key=value; ...")     a number of the bench
//	name(food), jarName(jar), say(word)                how they are called
//	fact(id)                                           a figure of practice, such as the rest before
//	                                                   the jars are lifted, as lessons draw it
//	factFrom, factTo(id)                               the first and the last number of a fact, in the
//	                                                   unit it is printed in
//	inMin, inHours, inFt, inPSI, inIn, inTsp, inF(x)   a quantity in both unit systems
//	given(text)                                        a figure of the situation, see below
//	number(x)                                          a bare number
//
// # Figures
//
// No number with a unit is typed into a question, not in the stem, not in an option, not in
// feedback, not in why: "20 minutes", "1/2 in", "twenty minutes" and "minutes: 20" are refused
// alike, written out or in an expression that only computes with numbers that are written out.
//
// What the question says is right is looked up: a right option, what an item is given with, the
// steps to put in order, all feedback and why. There a figure comes from the table, a model or a
// fact, or is computed from one that does. The answer to a number question in min, h, psi, tsp,
// tbsp or in is looked up as well.
//
// The stem, a wrong option, the item of a match, spare, and with under mistakes may besides say
// what is so in some kitchen, or what somebody thinks there: {{given("45 minutes")}}, or a number
// that is drawn, {{inMin(held)}}. That is no tested figure, and nothing that is right may say it. An
// altitude is where a kitchen stands: {{inFt(6240)}} may stand anywhere.
//
// # Asking and marking
//
// [Question.Ask] puts a question for a seed, and [Asked.Mark] takes the answer. Its
// [Result] tells about everything that was given and everything that is right, with
// the reason and the source: there is never just a tick or a cross.
package quiz
