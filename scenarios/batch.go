package scenarios

import (
	"slices"
	"time"

	"rollingboil/scenarios/rules"
)

// BatchReport is the report on a batch: that on its plan, judged together with
// what happened, and an answer for each jar.
type BatchReport struct {
	Report
	HeldMinutes *float64    `json:"held_minutes"` // the longest unbroken stretch; null when the record does not say
	Jars        []JarAnswer `json:"jars"`
}

// JarAnswer says what to do with one jar.
type JarAnswer struct {
	N      int        `json:"n"`
	Answer string     `json:"answer"` // shelf, use-first, refrigerate, reprocess, freeze, discard or detoxify-and-discard
	Until  *time.Time `json:"until"`  // the time by which it must be done; null when there is none
	Why    string     `json:"why"`

	also []string // other answers that the reason names as right
}

// GradeBatch judges what somebody did: every rule for plans, the rules for
// batches, and each jar by itself.
func (g *Grader) GradeBatch(b Batch) BatchReport {
	b.Record = b.Record.startedFor(b.Plan.Method)
	found, looked := g.lookup(&b.Plan)
	facts := g.factsOf(&b.Plan, found, looked)
	facts.batch(&b.Record)
	out := BatchReport{Report: g.report(&b.Plan, &facts, found, looked, "batch"), Jars: []JarAnswer{}}
	held, known := b.Record.Held()
	if known {
		out.HeldMinutes = &held
	} else {
		out.Verdict = worse(out.Verdict, Incomplete)
	}
	if b.Record.Start.IsZero() {
		out.Missing = append(out.Missing, "record."+startKey(b.Plan.Method.Value))
	}
	if b.Record.Finished.IsZero() {
		out.Missing = append(out.Missing, "record.finished")
	}
	judge := jarJudge{fault: processFault(out.Findings, g.rules), finished: b.Record.Finished}
	notChecked := slices.ContainsFunc(out.Findings, func(f Finding) bool { return f.Severity == "not-checked" })
	judge.sound = len(out.Missing) == 0 && facts.ProcessFound && !notChecked && judge.fault == noFault
	judge.toxic = facts.LowAcid || facts.TomatoFood || facts.Acidity == "borderline" || facts.FoodUntested
	for _, jar := range b.Record.Jars {
		out.Jars = append(out.Jars, judge.answer(jar))
	}
	return out
}

func startKey(method string) string {
	if method == "pressure" {
		return "pressure_reached"
	}
	return "boil_reached"
}

// fault says what the findings mean for the food in every jar of a batch.
type fault int

const (
	noFault    fault = iota
	doubtful         // the record does not show that the tested heat was given
	underdone        // too little heat: the whole process can be given again, soon
	untestable       // no tested process, or food that was not fit for one
)

// faultIn says what a broken safety rule on a field means for the food. A rule
// that only says "fix first" of a plan counts as much: what was to be put right
// before the canning day has happened by now. A field that is not named here
// makes the batch untestable.
var faultIn = map[string]fault{
	"time": underdone, "pressure": underdone, "timing_starts": underdone, "boil_interrupted": underdone,
	"canner_opened": underdone, "vent": underdone, "water_over_lids": underdone, "water_kept": underdone,
	"sterilised": underdone, "record.finished": underdone,
	// The jars of the planned size may have got their heat, others may not.
	"load.sizes": doubtful,
	// A gauge can still be tested; cold water after the process may or may not
	// have cut the heat short. Under pressure it did, and the cooling is untestable.
	"gauge_tested": doubtful, "cooling.forced": doubtful,
	// These show in the seal or in the liquid of a jar, which is judged by itself.
	"headspace": noFault, "jars.kind": noFault, "jars.condition": noFault, "lids.state": noFault, "bands": noFault,
	"cooling.bands_retightened": noFault,
	// These are about what is done with the jars, not about what is in them.
	"unsealed": noFault, "unsealed_within": noFault, "lost_liquid": noFault, "seal_checks": noFault,
	"storage.temperature": noFault, "opening": noFault, "record.jars": noFault,
}

// faultOf is as faultIn for single rules that mean something else than their field.
var faultOf = map[string]fault{
	// More pressure is more heat, if the gauge that shows so much can be trusted.
	"pressure-above-ceiling": doubtful,
}

func processFault(findings []Finding, set *rules.Set) fault {
	worst := noFault
	for _, f := range findings {
		if f.Severity != "safety" {
			continue
		}
		found, named := faultOf[f.Rule]
		if !named {
			found, named = faultIn[f.Field]
		}
		rule, _ := set.Rule(f.Rule)
		if !named || found == doubtful && rule.Verdict != "fix-first" {
			found = untestable
		}
		worst = max(worst, found)
	}
	return worst
}

// jarJudge answers for the jars of one batch. Where several answers are right,
// the one that costs least is given and the others are named in the reason.
type jarJudge struct {
	fault    fault
	sound    bool // enough is known to call the process sound
	toxic    bool // suspect jars of this food are treated as holding the toxin
	finished time.Time
}

// Hours within which food can be put right: an unsealed jar of a sound process
// (USDA Guide 1, p. 1-26), and food whose process was wrong (University of
// Nebraska-Lincoln Extension).
const (
	unsealedHours  = 24
	underdoneHours = 2
)

func (j jarJudge) answer(jar JarRecord) JarAnswer {
	a := JarAnswer{N: jar.N}
	sealed := jar.Sealed.Known && jar.Sealed.Value
	closed := sealed && jar.Looks.Value != "leaking"
	switch {
	case j.fault == underdone && j.before(jar, underdoneHours) && !suspect(jar):
		a.Answer, a.Until = "reprocess", j.deadline(underdoneHours)
		a.also = []string{"refrigerate", "freeze"}
		a.Why = "The jars did not get the tested heat. Within 2 hours the whole process can be given again, with new lids and for the whole time. Or refrigerate or freeze the food now."
	case j.fault >= underdone && j.toxic && closed:
		a.Answer = "discard"
		a.Why = "This was not a tested process, and food like this can hold the botulism toxin without a sign. " + bagIt
	case j.fault >= underdone && j.toxic:
		a.Answer = "detoxify-and-discard"
		a.Why = "This was not a tested process, and the jar is not sealed. Treat it as holding the botulism toxin: " + boilIt
	case j.fault >= underdone:
		a.Answer = "discard"
		a.Why = "This was not a tested process, so the jar does not keep. Throw it out, and do not taste it."
	case suspect(jar) && j.toxic && closed:
		a.Answer = "discard"
		a.Why = "It shows a sign of spoilage, and food like this can hold the botulism toxin. " + bagIt
	case suspect(jar) && j.toxic:
		a.Answer = "detoxify-and-discard"
		a.Why = "It shows a sign of spoilage and is not sealed. Treat it as holding the botulism toxin: " + boilIt
	case suspect(jar):
		a.Answer = "discard"
		a.Why = "It shows a sign of spoilage. Do not taste it; throw it out."
	case !sealed && !j.before(jar, unsealedHours):
		j.unsealedTooLong(&a, jar.Sealed.Known)
	case !jar.Sealed.Known:
		a.Answer, a.Until = "refrigerate", j.deadline(unsealedHours)
		a.Why = "The record does not say whether it sealed. Test it; until then treat it as unsealed."
	case !sealed:
		j.unsealed(jar, &a)
	case !j.sound && !j.before(jar, unsealedHours):
		a.Answer = "discard"
		a.Why = "The record does not show that the whole process was given, and the day in which the food could be put right is over. Do not taste it; throw it out."
		if j.toxic {
			a.Why = "The record does not show that the whole process was given, and food like this can hold the botulism toxin without a sign. " + bagIt
		}
	case jar.LiquidLost.Value == "half-or-more" && j.toxic && !j.before(jar, unsealedHours):
		a.Answer = "discard"
		a.Why = "Half of the liquid or more is gone, so the food may not have got the tested heat. The day in which it could go to the refrigerator is over, and food like this can hold the botulism toxin without a sign. " + bagIt
	case jar.LiquidLost.Value == "half-or-more":
		a.Answer = "refrigerate"
		a.Why = "Half of the liquid or more is gone, so the food may not have got the tested heat. Refrigerate it and eat it within 2 to 3 days."
	case !j.sound:
		a.Answer, a.Until = "refrigerate", j.deadline(unsealedHours)
		a.Why = "The record does not show that the whole process was given. Until it does, the jar does not go on the shelf."
	case jar.LiquidLost.Value == "some":
		a.Answer = "use-first"
		a.Why = "Sealed, with less than half of the liquid lost: it keeps, but the food at the top may darken. Do not open it to fill it up."
	default:
		a.Answer = "shelf"
		a.Why = "Sealed after the whole tested process."
		if jar.Separated.Value {
			a.Why += " A watery layer is a matter of looks: shake it and use it."
		}
		if jar.CheckedAfter.Known && float64(jar.CheckedAfter.Value) < coolingLeastH*60 {
			a.Why += " It was checked before 12 hours: test it again when it has stood that long."
		}
	}
	return a
}

// What is done with a jar that may hold the toxin (USDA Guide 1, p. 1-27).
const (
	bagIt  = "Do not open or taste it: put the sealed jar in a heavy bag, close it and throw it out."
	boilIt = "with gloves, boil jar and lid for 30 minutes under water, then throw all of it out. Do not taste it."
)

// unsealedTooLong answers for a jar that is not sealed, or not known to be, after the
// hours in which its food could be put right.
func (j jarJudge) unsealedTooLong(a *JarAnswer, known bool) {
	stood := "It stood unsealed for more than 24 hours"
	if !known {
		stood = "Nobody knows that it is sealed, and it stood for more than 24 hours"
	}
	a.Answer = "discard"
	a.Why = stood + ". Nothing makes it good again: do not taste it, throw it out."
	if j.toxic {
		a.Answer = "detoxify-and-discard"
		a.Why = stood + ", and food like this can hold the botulism toxin without a sign: " + boilIt
	}
}

func (j jarJudge) unsealed(jar JarRecord, a *JarAnswer) {
	a.Until = j.deadline(unsealedHours)
	switch jar.Placed.Value {
	case "freezer":
		a.Answer = "freeze"
		a.also = []string{"refrigerate", "reprocess"}
		a.Why = "Freezing keeps an unsealed jar, with the headspace raised to 1 1/2 inches (38 mm). Refrigerating it, or the whole process again with a new lid, would do as well."
	case "reprocessed":
		a.Answer = "reprocess"
		a.also = []string{"refrigerate", "freeze"}
		a.Why = "The whole process again within 24 hours, with the rim checked and a new lid. Refrigerating or freezing it would do as well."
	default:
		days := "several days"
		if jar.LiquidLost.Value == "half-or-more" {
			days = "2 to 3 days"
		}
		a.Answer = "refrigerate"
		a.also = []string{"freeze", "reprocess"}
		a.Why = "It did not seal. Refrigerate it and eat it within " + days + ". Or freeze it with 1 1/2 inches (38 mm) of headspace, or give it the whole process again with a new lid, in either case within 24 hours of the canner."
	}
}

// suspect reports a sign of spoilage that can be seen from outside (USDA Guide 1,
// p. 1-26).
func suspect(jar JarRecord) bool { return jar.Looks.Known && jar.Looks.Value != "clear" }

// before reports whether the jar was looked at within some hours of the heat
// going off. A jar of which the record does not say counts as looked at in time:
// the answer then carries the deadline.
func (j jarJudge) before(jar JarRecord, hours int) bool {
	return !jar.CheckedAfter.Known || float64(jar.CheckedAfter.Value) <= float64(hours*60)
}

func (j jarJudge) deadline(hours int) *time.Time {
	if j.finished.IsZero() {
		return nil
	}
	t := j.finished.Add(time.Duration(hours) * time.Hour)
	return &t
}

// batch adds to the facts what the record says.
func (f *Facts) batch(r *Record) {
	held, known := r.Held()
	f.HeldKnown, f.Held = known, held
	f.HeldShort = known && f.ProcessFound && held < f.RequiredMinutes-timeToleranceMin
	f.Interrupted = len(r.Interruptions) > 0
	for _, jar := range r.Jars {
		unsealed := jar.Sealed.Known && !jar.Sealed.Value
		hours := float64(jar.CheckedAfter.Value) / 60
		late := jar.CheckedAfter.Known && hours > unsealedLongestH
		f.UnsealedOnShelf = f.UnsealedOnShelf || unsealed && jar.Placed.Value == "shelf"
		f.UnsealedKept = f.UnsealedKept || unsealed && late && slices.Contains([]string{"fridge", "freezer", "reprocessed"}, jar.Placed.Value)
		f.HalfLostOnShelf = f.HalfLostOnShelf || jar.LiquidLost.Value == "half-or-more" && jar.Placed.Value == "shelf"
		f.SuspectKept = f.SuspectKept || suspect(jar) && jar.Placed.Known && jar.Placed.Value != "discarded"
		f.CheckedEarly = f.CheckedEarly || jar.CheckedAfter.Known && hours < coolingLeastH
		f.SealUnknown = f.SealUnknown || !jar.Sealed.Known
		f.SomeSeparated = f.SomeSeparated || jar.Separated.Value
		f.SomeLiquidLost = f.SomeLiquidLost || jar.LiquidLost.Value == "some"
	}
}
