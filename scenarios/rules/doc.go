// Package rules is the rules engine: it reads rule files, checks them whole
// before anything runs, and evaluates every rule on the facts of one case. It
// knows nothing of plans, jars or food: the caller says which facts there are.
//
// # The rule file
//
// A rule file is YAML that a canning teacher can read. Files whose names end in
// .yaml hold rules under the key rules, except two: sources.yaml lists the
// publications under sources, and misconceptions.yaml the wrong beliefs under
// misconceptions. This is a whole rule:
//
//	rules:
//	  - id: time-short
//	    stage: plan
//	    severity: safety
//	    verdict: unsafe
//	    field: time
//	    when: time_known and minutes < required_minutes
//	    given: "{{.Time}}"
//	    required: "{{.RequiredTime}}"
//	    says: "{{.Time}} is shorter than the tested {{.RequiredTime}}."
//	    why: "The middle of the jar needs the whole time to get hot."
//	    lesson: process-time
//	    misconceptions: [time-is-a-guess]
//	    source: usda-guide-1
//	    breaks:
//	      - {time: 50 min}
//	    keeps:
//	      - {time: 60 min}
//
// The keys:
//
//	id              small letters and hyphens, used once
//	stage           when the rule applies; the caller names the stages. Rules of
//	                the first stage apply in every later one too.
//	severity        safety, quality or note
//	verdict         with safety: unsafe, no-tested-process or fix-first
//	field           what the finding is about; the caller names the fields
//	when            the condition; true means that there is a finding
//	says, why       what the reader is told, and the reason in plain words
//	given, required what was given and what is tested; may be left out
//	lesson          slug of the lesson that teaches it
//	misconceptions  ids from misconceptions.yaml
//	source          one id from sources.yaml, or a list
//	breaks, keeps   at least one case each that sets the rule off, and that does
//	                not; the caller reads them and tests run them
//
// says, why, given and required are templates over the facts (text/template):
// {{.Name}} writes a fact's Go field or calls its method.
//
// # Conditions
//
// A condition is an expression over the facts: and, or, not, ==, !=, <, <=, >,
// >=, in with a list of words, and any(list, # == "word"). It has to come out
// true or false for every case, so what could quietly go wrong is refused when
// the file is loaded: arithmetic, numbers (a limit is a fact, never a figure in
// a rule), calls other than any, all and none, words that the fact cannot hold,
// and facts that do not exist. The only index that can be written is into a
// list of words; if it runs past the end the rule could not run, and its
// finding is "not-checked".
package rules
