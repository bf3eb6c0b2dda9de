// Package scenarios holds the plan, the report and the kitchens in which a
// learner decides: everything between the published table and the page.
//
// # The plan file
//
// A plan says what somebody intends to do. It is YAML (JSON is read too), every
// key may be left out, and nothing that is left out is guessed:
//
//	food: tomatoes-crushed        # id from the process table
//	pack: hot                     # hot raw
//	method: boiling-water         # boiling-water atmospheric-steam pressure; open-kettle oven microwave dishwasher sun
//	gauge: dial                   # with pressure: dial weighted
//	gauge_tested: this-year       # the dial gauge: this-year earlier never
//	jar: quart                    # quarter-pint half-pint 12-oz pint 24-oz 28-oz quart half-gallon
//	altitude: 6240 ft             # or 1902 m
//	time: 60 min
//	pressure: 11 psi              # or kPa
//	headspace: 1/2 in             # or 13 mm
//	acid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}
//	ph: {reading: 4.2, by: strip} # meter strip litmus
//	produce: ripe                 # ripe green overripe frost-killed diseased white-fleshed
//	prepared: peeled              # milled peeled unpeeled blended-unpeeled mashed cubed whole
//	added: [salt]                 # anything beyond the tested directions
//	jars: {kind: canning, condition: sound}
//	sterilised: true              # jars boiled 10 min first
//	lids: {kind: two-piece, state: new}
//	bands: fingertip              # fingertip loose forced
//	bubbles_removed: true
//	rims_wiped: true
//	load: {sizes: one, layers: 1} # jars of one size or mixed; layers of jars
//	water_over_lids: 2 in
//	water_kept: true              # over the lids to the end
//	timing_starts: full-boil      # full-boil simmer jars-in steady-steam pressure-reached
//	boil_interrupted: restart     # restart continue
//	canner_opened: false          # during the process
//	vent: 10 min                  # pressure canner
//	rest: 5 min                   # heat off, before lifting the jars
//	cooling: {hours: 12, undisturbed: true, forced: false, bands_retightened: false, inverted: false}
//	seal_checks: [press, look, tap, lift]   # also ping
//	unsealed: refrigerate         # refrigerate freeze reprocess shelf
//	unsealed_within: 24 h
//	lost_liquid: keep             # a jar that lost liquid: keep top-up
//	storage: {bands_off: true, temperature: 65 F, months: 12}
//	opening: [look, smell]        # how a jar is judged when it is opened; also taste
//
// An unknown key, an unknown word or a quantity that cannot be read is an error
// with line, column and the nearest known word.
//
// # The batch file
//
// A batch says what somebody did. It is a plan under the key plan, and a record
// with clock times in RFC 3339, each with its own offset:
//
//	plan: {food: peaches, pack: hot, method: boiling-water, jar: pint, altitude: 500 ft, time: 20 min, headspace: 1/2 in}
//	record:
//	  boil_reached: 2026-08-20T14:30:00-06:00     # or pressure_reached, in a pressure canner
//	  finished: 2026-08-20T15:04:00-06:00
//	  interruptions: [{from: 2026-08-20T14:40:00-06:00, to: 2026-08-20T14:44:00-06:00}]
//	  jars:
//	    - {n: 1, sealed: true, liquid_lost: none, separated: true, checked_after: 14 h, placed: shelf}
//
// liquid_lost is none, some or half-or-more; placed is shelf, fridge, freezer,
// reprocessed, discarded or left out; looks, which may be left out, is clear,
// cloudy, bubbles, bulging, leaking or mold. An interruption is a stretch without boil
// or pressure; the time starts again at its end, so the longest unbroken stretch
// is what was held. A batch is judged by the rules for plans and by those for
// records, and each jar gets an answer.
//
// # The report
//
// [Grader.Grade] looks the plan up in the process table, lays out what it found
// as flat [Facts], has every rule evaluated on them and returns a [Report]. The
// verdict is the worst that applies, in this order: unsafe, no-tested-process,
// incomplete, fix-first, as-tested. A rule that could not run, a needed value
// that is missing and a table row that is only from memory each keep the answer
// from being as-tested.
//
// # The scenario file
//
// A scenario is a kitchen on a day: Markdown with front matter, one file each,
// named NN-slug.md (the slug is the id). These keys belong to every scenario; choices
// and draw may be left out:
//
//	title         what stands over the scenario
//	kind          worked, plan, faults or what-now
//	minutes       how long it takes, 1 to 60
//	competencies  list of what it is about, words from the competencies of the course
//	kitchen       what is settled before the learner decides, in keys of a plan
//	choices       list of what this kitchen has, best first, in keys of a plan
//	draw          what differs from learner to learner: keys of the kitchen, each with
//	              a list of values. All draws, and all that pick takes, make a
//	              thousand cases at most
//	exercises     list of the rules it is about
//
// There are four kinds. This one has the learner write the plan:
//
//	---
//	title: A first batch of crushed tomatoes
//	kind: plan
//	minutes: 10
//	competencies: [acidity, altitude, process-time]
//	kitchen:                       # what is settled before the learner decides
//	  food: tomatoes-crushed
//	  jar: quart
//	draw:                          # what differs from learner to learner; may be left out
//	  altitude: [6240 ft, 7100 ft]
//	choices:                       # what this kitchen has, best first
//	  - {method: boiling-water, pack: hot}
//	temptation: {time: 45 min}     # what somebody in this kitchen wants to do
//	exercises: [time-short]        # the rules that the temptation sets off
//	---
//	The kitchen stands at {{altitude}}. The text is for the learner.
//
// The text may hold {{food}}, {{jar}}, {{altitude}} and any other key that the
// kitchen or its worked answer states. In a worked scenario one plan is shown step
// by step, and then kitchens like it whose steps are left blank, the later the more:
//
//	---
//	title: Peaches, step by step
//	kind: worked
//	minutes: 10
//	competencies: [process-time, altitude]
//	kitchen: {food: peaches, jar: quart, altitude: 500 ft}
//	choices: [{method: boiling-water, pack: hot}]
//	then:
//	  - {kitchen: {altitude: 4200 ft}, blank: [time]}
//	  - {kitchen: {altitude: 6240 ft, jar: pint}, blank: [time, headspace]}
//	exercises: [time-short]
//	---
//	Follow the first kitchen, then finish the others.
//
// In a faults scenario the tested plan has faults planted in it, all or, with pick,
// some that the case decides. Each says what it sets and which safety rules that
// breaks, exactly. fields lists what the learner looks at. With a record it is a
// batch, and in_record names the rules that the record itself breaks:
//
//	---
//	title: What went wrong on Saturday
//	kind: faults
//	minutes: 10
//	competencies: [process-time, acidity]
//	kitchen: {food: tomatoes-crushed, jar: quart, altitude: 6240 ft}
//	choices: [{method: boiling-water, pack: hot}]
//	faults:
//	  - {set: {time: 45 min}, rules: [time-short]}
//	  - {set: {acid: {kind: none}}, rules: [acid-left-out]}
//	pick: 1
//	fields: [time, acid.kind, headspace, bands]
//	exercises: [time-short, acid-left-out]
//	---
//	Somebody hands you this plan.
//
// In a what-now scenario jars stand on the counter, and the learner says of each
// what becomes of it, at each time they are looked at, counted from the end of the
// process. A jar has the keys of a record, says (what is seen of it) and lid (flat,
// down or domed); with answer, one for each time, and source it holds the rules to
// what is published. Without a record the process went as planned:
//
//	---
//	title: The morning after
//	kind: what-now
//	minutes: 8
//	competencies: [seal-check, unsealed-jars]
//	kitchen: {food: peaches, jar: pint, altitude: 500 ft}
//	choices: [{method: boiling-water, pack: hot}]
//	looked: [14 h, 30 h]
//	jars:
//	  - {sealed: true, says: The lid is down., lid: down}
//	  - {sealed: false, says: The lid springs., lid: domed, answer: [refrigerate, discard], source: "usda-guide-1, p. 1-26"}
//	exercises: [unsealed-jar-shelved]
//	---
//	Two pints from yesterday.
//
// No worked answer is in a file: it is computed from the kitchen and its choices,
// with the same look-ups that grade everything else.
package scenarios
