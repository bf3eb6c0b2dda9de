// Package rules loads, checks and runs the rules that plans are judged by. It
// knows nothing of plans: it is told which facts there are and what words they
// hold, and it answers which rules a set of facts breaks.
//
// Rules are data that a canning teacher can read and write. This page is the
// whole of the format.
//
// # The files
//
// [Load] reads every file named *.yaml in one folder. The file sources.yaml
// lists publications, misconceptions.yaml lists wrong beliefs,
// disagreements.yaml, which may be left out, lists what publications differ about,
// and every other file lists rules. A file has one key, with a list under it:
//
//	# time.yaml
//	rules:
//	  - id: time-short
//	    stage: plan
//	    severity: safety
//	    verdict: unsafe
//	    field: time
//	    when: time_known and process_found and minutes < required_minutes
//	    says: "{{.Time}} is shorter than the tested {{.RequiredTime}}."
//	    why: >-
//	      The tested time is what the middle of the jar needs to get hot and stay
//	      hot.
//	    given: "{{.Time}}"
//	    required: "{{.RequiredTime}}"
//	    lesson: process-time
//	    misconceptions: [time-is-a-guess]
//	    source: usda-guide-1
//	    breaks:
//	      - {food: tomatoes-crushed, jar: quart, altitude: 6240 ft, time: 50 min}
//	    keeps:
//	      - food: tomatoes-crushed
//	        jar: quart
//	        altitude: 6240 ft
//	        time: 60 min
//
//	# misconceptions.yaml
//	misconceptions:
//	  - id: time-is-a-guess
//	    belief: The time in the table is a guess, so I can use my own.
//	    not: It is not a guess.
//	    truth: It was measured in the middle of the jar, for this food and jar.
//	    lesson: process-time
//	    source: [usda-guide-1]
//
//	# sources.yaml
//	sources:
//	  - id: usda-guide-1
//	    title: "Complete Guide to Home Canning, Guide 1: Principles of Home Canning"
//	    publisher: US Department of Agriculture
//	    edition: Agriculture Information Bulletin 539, revised 2015
//	    part: pp. 1-5 to 1-35
//	    read: two-copies
//	  - id: old-leaflet
//	    title: Canning tomatoes
//	    publisher: a county office
//	    edition: 1990
//	    part: whole
//	    read: one-copy
//
//	# disagreements.yaml
//	disagreements:
//	  - id: crushed-quarts-time
//	    about: Crushed tomatoes in quarts above 6,000 ft
//	    readings:
//	      - {says: 60 minutes., source: usda-guide-1}
//	      - {says: 50 minutes., source: old-leaflet}
//	    taken: 60 minutes.
//	    why: The guide is newer than the leaflet.
//
// The keys of a rule:
//
//   - id: its name, lower-case words joined by hyphens, unique in all files
//   - stage: plan or batch, as the caller's [Options] have it. A rule of an
//     earlier stage also runs in every later one.
//   - severity: safety, quality or note
//   - verdict: with safety only, and there obligatory: unsafe, no-tested-process
//     or fix-first
//   - field: the plan's key that the finding points at
//   - when: the condition. True means that the rule is broken.
//   - says: what is the matter with this plan (a text)
//   - why: the reason, in plain words (a text)
//   - given, required: the value stated and the value tested (texts); may be
//     left out
//   - lesson: the slug of the lesson that teaches it
//   - misconceptions: ids from misconceptions.yaml, one or a list; may be left
//     out
//   - source: ids from sources.yaml, one or a list
//   - breaks, keeps: a list of plans that break the rule and of plans that keep
//     it, each with at least one. They are kept as they are written, for the
//     caller to grade.
//
// The keys of a misconception are those above, all of them obligatory. So are
// those of a source; read says how it was read, one-copy, two-copies or
// from-memory, and url may be added. Those of a disagreement are all obligatory:
// what it is about, two or more readings with their sources, the reading taken,
// and why.
//
// An unknown key, a key stated twice, a missing or empty value, an unknown word
// or id: each is an error with file, line and column, and the nearest known
// word. Anchors, aliases and tags are not used.
//
// # Conditions
//
// A condition is made of facts and words:
//
//	time_known and not from_memory         and, or, not and brackets, with yes-or-no facts
//	minutes < required_minutes             == != < <= > >= with number facts
//	psi > 0                                the only number that may be written is 0
//	method == "pressure"                   == != with a word
//	gauge != ""                            the empty word means that it is not stated
//	pack in ["hot", "raw"]                 one of several words; also: not in
//	"onion" in added                       a word in a list
//	any(added, # in ["onion", "garlic"])   # is an item of the list
//	all(added, # == "salt")                true of an empty list as well
//	len(added) == 0                        how many are in the list
//
// Nothing else is allowed. A threshold is a fact, looked up where its source is
// named, and so is everything that needs arithmetic. The caller lists the facts
// in a flat struct ([Options]); [Set.Facts] describes them:
//
//	type Facts struct {
//		TimeKnown bool    `expr:"time_known" doc:"the plan states a time"`
//		Minutes   float64 `expr:"minutes" doc:"planned time, minutes"`
//		Label     string  `expr:"-"` // for texts only
//	}
//
// A fact is a bool, int, float64, string or []string. A value that may be
// unstated comes as a pair, like the two above. Unexported fields and the
// struct's methods are invisible to conditions.
//
// # Texts
//
// A text may fill in the facts by the names of their Go fields and of the
// struct's methods without arguments: {{.Time}}. It may choose,
// {{if .TimeKnown}}...{{else}}...{{end}}, with and, or and not, and lay out with
// printf. It does not compare: a text that judges would be a rule without
// examples. Each text is written once when it is loaded.
//
// # Holes that are closed
//
// The expression library would accept some mistakes that make a rule silent, and
// a silent rule passes a bad plan. Each of these is refused when the rules are
// loaded:
//
//   - a misspelt word, as in method == "presure", which equals nothing: words
//     are compared with their fact's list, and a word beside a fact without a
//     list is refused
//   - the key of a map that is not there, which is zero: facts hold no maps, and
//     neither . nor [ ] nor $env may be written
//   - division by zero, which is infinite: there is no arithmetic
//   - a result of unknown type, as of low_acid ? true : 1: there is no ?, and
//     the result must be yes or no
//   - a list of mixed types, as ["hot", 3]: only words stand in a list
//   - two word facts compared that have no word in common
//   - nil, ??, let, pipes to other functions, methods and every other function
//
// And when they are run ([Set.Evaluate]) a rule is never dropped: one that fails
// to run, or whose facts hold a word outside their list or a number that is NaN
// or infinite, gives a finding that says so.
package rules
