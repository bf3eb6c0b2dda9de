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
//	  boil_reached: 2026-08-20T14:30:00-06:00     # or pressure_reached
//	  finished: 2026-08-20T15:04:00-06:00
//	  interruptions: [{from: 2026-08-20T14:40:00-06:00, to: 2026-08-20T14:44:00-06:00}]
//	  jars:
//	    - {n: 1, sealed: true, liquid_lost: none, separated: true, checked_after: 14 h, placed: shelf}
//
// liquid_lost is none, some or half-or-more; placed is shelf, fridge, freezer,
// reprocessed, discarded or left out; looks, which may be left out, is clear,
// cloudy, bubbles, bulging, leaking or mold. An interruption is a stretch without boil
// or pressure; the time starts again at its end, so the longest unbroken stretch
// is what was held. [Grader.GradeBatch] runs the rules of both stages and answers
// for each jar.
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
// named NN-slug.md (the slug is the id):
//
//	---
//	title: A first batch of crushed tomatoes
//	kind: plan                     # the learner writes the plan
//	minutes: 10
//	competencies: [acidity, altitude, process-time]
//	kitchen:                       # what is settled before the learner decides
//	  food: tomatoes-crushed
//	  jar: quart
//	  altitude: 6240 ft
//	choices:                       # what this kitchen has, best first
//	  - {method: boiling-water, pack: hot}
//	temptation: {time: 45 min}     # what somebody in this kitchen wants to do
//	exercises: [time-short]        # the rules that the temptation sets off
//	---
//	The text of the kitchen, for the learner.
//
// The worked solution is not in the file: [Grader.Solve] computes it from the
// kitchen and its choices with the same look-ups that grade everything else.
package scenarios
