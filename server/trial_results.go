package server

import (
	"cmp"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// trialWork is a trial with all that belongs to it.
type trialWork struct {
	store.Trial
	Class    store.Class
	Own      bool          // the reader is the instructor
	Few      bool          // loads of students are left out, since they are of too few
	Tens     map[int][]ten // by way: what the class is told of instead of the loads of students
	Variants []store.TrialVariant
	Entries  []store.TrialEntry
	Events   []store.TrialEvent
	Records  map[string]store.ClassRecord // linked batches that can be read
}

// aside says whether a variant was set aside, and why.
func (w *trialWork) aside(n int) (says string, yes bool) {
	for _, e := range w.Events {
		if e.What == store.SetAside && e.Variant == n {
			return e.Says, true
		}
	}
	return "", false
}

// variant is a variant that is still compared, nil if there is none of the number.
func (w *trialWork) variant(n int) *store.TrialVariant {
	if _, aside := w.aside(n); aside {
		return nil
	}
	for i := range w.Variants {
		if w.Variants[i].N == n {
			return &w.Variants[i]
		}
	}
	return nil
}

// compared lists the variants that are not set aside.
func (w *trialWork) compared() []store.TrialVariant {
	return slices.DeleteFunc(slices.Clone(w.Variants), func(v store.TrialVariant) bool { _, aside := w.aside(v.N); return aside })
}

// replacedBy is the entry that replaces an entry, 0 if none does.
func (w *trialWork) replacedBy(n int) int {
	for _, e := range w.Entries {
		if e.Replaces == n {
			return e.N
		}
	}
	return 0
}

// entry is an entry that counts: neither replaced nor void.
func (w *trialWork) entry(n int) *store.TrialEntry {
	for i, e := range w.Entries {
		if e.N == n && e.Kind != store.VoidEntry && w.replacedBy(n) == 0 {
			return &w.Entries[i]
		}
	}
	return nil
}

// Students is how many students have a load in the counts.
func (w *trialWork) Students() int {
	from := people{}
	for _, e := range w.Entries {
		if record, ok := w.Records[e.Batch]; ok && w.entry(e.N) != nil && w.variant(e.Variant) != nil {
			from[record.Student] = true
		}
	}
	return len(from)
}

// trialLoad is what was seen of one load. What was not said is empty or nil.
type trialLoad struct {
	Jars    []trialJar `json:"jars"`
	Minutes *int       `json:"minutes,omitempty"` // of work
	Yield   *float64   `json:"yield,omitempty"`   // in jars
	PH      *float64   `json:"ph,omitempty"`
	PHBy    string     `json:"ph_by,omitempty"`
	Note    string     `json:"note,omitempty"`
}

// trialJar has the words of a batch file: "true", "false", or "" for not said.
type trialJar struct {
	Sealed string `json:"sealed,omitempty"`
	Liquid string `json:"liquid,omitempty"` // none, some or half-or-more
	Watery string `json:"watery,omitempty"`
}

// loadOf reads what an entry saw. gone is true for a linked batch that its student has
// deleted; amiss is the verdict on a linked batch that was not as tested.
func (s *Server) loadOf(w *trialWork, e store.TrialEntry) (load trialLoad, amiss scenarios.Verdict, gone bool, err error) {
	switch e.Kind {
	case store.TypedEntry:
		if err := json.Unmarshal(e.Load, &load); err != nil {
			return load, "", false, fmt.Errorf("read an entry of a trial: %w", err)
		}
	case store.LinkedEntry:
		record, ok := w.Records[e.Batch]
		if !ok {
			return load, "", true, nil
		}
		b, _, err := s.course.Grader.ParseFile("", record.File)
		if err != nil {
			return load, "", false, fmt.Errorf("read a kept batch: %w", err)
		}
		if verdict := s.course.Grader.GradeBatch(b).Verdict; verdict != scenarios.AsTested {
			amiss = verdict
		}
		load = loadOfBatch(b)
	}
	return load, amiss, false, nil
}

// loadOfBatch takes from a student's batch what a trial asks for.
func loadOfBatch(b scenarios.Batch) trialLoad {
	filled := float64(len(b.Record.Jars))
	load := trialLoad{Yield: &filled}
	for _, j := range b.Record.Jars {
		var jar trialJar
		if j.Sealed.Known {
			jar.Sealed = strconv.FormatBool(j.Sealed.Value)
		}
		if j.LiquidLost.Known {
			jar.Liquid = j.LiquidLost.Value
		}
		if j.Separated.Known {
			jar.Watery = strconv.FormatBool(j.Separated.Value)
		}
		load.Jars = append(load.Jars, jar)
	}
	if b.Plan.PHReading.Known {
		load.PH, load.PHBy = &b.Plan.PHReading.Value, b.Plan.PHBy.Value
	}
	return load
}

// trialSums are all loads of one variant together.
type trialSums struct {
	Loads, Gone                   int
	Unsealed, Lost, Half, Watery  int // jars
	Sealed, LiquidSaid, WaterSaid int // jars of which it is said
	LoadsUnsealed, LoadsLost      int
	LoadsWatery                   int
	LoadsSealed, LoadsLiquid      int // loads of which it is said
	LoadsWater                    int
	Minutes, Yields, PHs          []string
	Amiss                         []scenarios.Verdict
}

func (t *trialSums) add(load trialLoad) {
	t.Loads++
	before := *t
	for _, j := range load.Jars {
		t.Sealed += truth(j.Sealed != "")
		t.Unsealed += truth(j.Sealed == "false")
		t.LiquidSaid += truth(j.Liquid != "")
		t.Lost += truth(j.Liquid == "some" || j.Liquid == "half-or-more")
		t.Half += truth(j.Liquid == "half-or-more")
		t.WaterSaid += truth(j.Watery != "")
		t.Watery += truth(j.Watery == "true")
	}
	t.LoadsSealed += truth(t.Sealed > before.Sealed)
	t.LoadsUnsealed += truth(t.Unsealed > before.Unsealed)
	t.LoadsLiquid += truth(t.LiquidSaid > before.LiquidSaid)
	t.LoadsLost += truth(t.Lost > before.Lost)
	t.LoadsWater += truth(t.WaterSaid > before.WaterSaid)
	t.LoadsWatery += truth(t.Watery > before.Watery)
	if load.Minutes != nil {
		t.Minutes = append(t.Minutes, strconv.Itoa(*load.Minutes))
	}
	if load.Yield != nil {
		t.Yields = append(t.Yields, plainNumber(*load.Yield))
	}
	if load.PH != nil {
		reading := plainNumber(*load.PH)
		if load.PHBy != "" {
			reading += " by " + load.PHBy
		}
		t.PHs = append(t.PHs, reading)
	}
}

// truth counts a yes as one.
func truth(b bool) int {
	if b {
		return 1
	}
	return 0
}

func plainNumber(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// trialSide is one way: what the engine says of it, and its loads together.
type trialSide struct {
	N             int
	Name, Lids    string
	Verdict       scenarios.Verdict
	Answer, Short string
	Fate          string   // what becomes of its jars
	Faults        []string // what leaves the tested process
	Summary       string
	Then          string // the verdict on the day it was made, where another
	Loads         []string
	sums          trialSums
	tens          []tenSeen
}

type trialRow struct {
	Label string
	Cells []trialCell
}

type trialCell struct{ Text, Small string }

type trialChance struct {
	Heading  string
	Compared []comparison
}

// What becomes of the jars of a way that is not as tested.
var jarsFate = map[scenarios.Verdict]string{
	scenarios.Unsafe:          "Its jars are not for eating and not for the shelf, whatever the seals say.",
	scenarios.NoTestedProcess: "Its jars are not for eating and not for the shelf, whatever the seals say.",
	scenarios.Incomplete:      "Until it can be judged, its jars are not for eating and not for the shelf, whatever the seals say.",
	scenarios.FixFirst:        "Until that is put right, none of its jars goes on the shelf, whatever the seals say.",
}

// mostFaults is how many faults of a way the page for the class shows; the workbook has
// them all.
const mostFaults = 3

// viewSide judges a variant by today's rules, and sums up its loads.
func (s *Server) viewSide(w *trialWork, v store.TrialVariant) (trialSide, scenarios.Report, error) {
	plan, err := s.course.Grader.ParsePlan("", v.Plan)
	if err != nil {
		return trialSide{}, scenarios.Report{}, fmt.Errorf("read the plan of a trial: %w", err)
	}
	report := s.course.Grader.Grade(plan)
	side := trialSide{N: v.N, Name: v.Name, Lids: v.Lids, Verdict: report.Verdict, Fate: jarsFate[report.Verdict], Summary: summary(s, plan)}
	if plan.Time.Known {
		side.Summary += " · " + plan.Time.Text
	}
	side.Answer, _ = verdictWords(report)
	side.Short = verdictName(string(report.Verdict))
	if v.Verdict != string(report.Verdict) {
		side.Then = verdictName(v.Verdict)
	}
	for _, f := range report.Findings {
		if (f.Severity == "safety" || f.Severity == "not-checked") && len(side.Faults) < mostFaults {
			side.Faults = append(side.Faults, f.Says)
		}
	}
	for _, e := range w.Entries {
		if e.Variant != v.N || w.entry(e.N) == nil {
			continue
		}
		load, amiss, gone, err := s.loadOf(w, e)
		switch {
		case err != nil:
			return side, report, err
		case gone:
			side.sums.Gone++
			continue
		case amiss != "":
			side.sums.Amiss = append(side.sums.Amiss, amiss)
		}
		side.sums.add(load)
	}
	for _, t := range w.Tens[v.N] {
		seen, err := s.seenOf(w, t)
		if err != nil {
			return side, report, err
		}
		side.tens = append(side.tens, seen)
	}
	for _, amiss := range side.sums.Amiss {
		side.Loads = append(side.Loads, "One of its loads was not cooked as tested: "+lowerFirst(verdictName(string(amiss)))+". "+jarsFate[amiss])
	}
	return side, report, nil
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// trialHeading is the verdict on the trial as a whole: the worst of its ways.
func trialHeading(sides []trialSide) string {
	named := func(verdicts ...scenarios.Verdict) string {
		var names []string
		for _, side := range sides {
			if slices.Contains(verdicts, side.Verdict) {
				names = append(names, "“"+side.Name+"”")
			}
		}
		if n := len(names); n > 1 {
			return strings.Join(names[:n-1], ", ") + " and " + names[n-1]
		}
		return strings.Join(names, "")
	}
	if unsafe := named(scenarios.Unsafe); strings.Contains(unsafe, "” and “") {
		return "Not safe as written: " + unsafe
	} else if unsafe != "" {
		return unsafe + " is not safe as written"
	}
	if off := named(scenarios.NoTestedProcess, scenarios.Incomplete, scenarios.FixFirst); off != "" {
		return "Not as tested: " + off
	}
	if slices.ContainsFunc(sides, func(side trialSide) bool { return len(side.sums.Amiss) > 0 }) {
		return "Every way is planned as tested, but not every load was cooked so"
	}
	return "As planned, every way here is as tested"
}

// trialRows lays the ways side by side.
func trialRows(sides []trialSide) []trialRow {
	row := func(label string, cell func(trialSide) trialCell) trialRow {
		r := trialRow{Label: label}
		for _, side := range sides {
			r.Cells = append(r.Cells, cell(side))
		}
		return r
	}
	share := func(k, n int, more string) trialCell {
		if n == 0 {
			return trialCell{Text: notSaid}
		}
		return trialCell{fmt.Sprintf("%d of %d", k, n), strings.TrimSuffix("likely "+rangeText(k, n)+"; "+more, "; ")}
	}
	list := func(values []string, unit string) trialCell {
		if len(values) == 0 {
			return trialCell{Text: notSaid}
		}
		return trialCell{Text: strings.Join(values, ", ") + unit}
	}
	rows := []trialRow{
		row("The plan", func(t trialSide) trialCell { return trialCell{Text: t.Summary} }),
		row("Lids", func(t trialSide) trialCell { return trialCell{Text: cmp.Or(t.Lids, notSaid)} }),
		row("Loads", func(t trialSide) trialCell {
			cell := trialCell{Text: strconv.Itoa(t.sums.Loads)}
			if t.sums.Gone > 0 {
				cell.Small = fmt.Sprintf("%d more deleted by the student", t.sums.Gone)
			}
			return cell
		}),
		row("Jars that did not seal", func(t trialSide) trialCell { return share(t.sums.Unsealed, t.sums.Sealed, "") }),
		row("Jars that lost liquid", func(t trialSide) trialCell {
			return share(t.sums.Lost, t.sums.LiquidSaid, fmt.Sprintf("half or more: %d", t.sums.Half))
		}),
		row("Jars with a watery layer", func(t trialSide) trialCell { return share(t.sums.Watery, t.sums.WaterSaid, "") }),
		row("Work, each load", func(t trialSide) trialCell { return list(t.sums.Minutes, " min") }),
		row("Jars filled, each load", func(t trialSide) trialCell { return list(t.sums.Yields, "") }),
		row("pH read", func(t trialSide) trialCell { return list(t.sums.PHs, "") }),
	}
	return slices.DeleteFunc(append(rows, tensRows(sides)...), func(r trialRow) bool {
		return !slices.ContainsFunc(r.Cells, func(c trialCell) bool { return c.Text != notSaid })
	})
}

// trialChances holds every other way against the first.
func trialChances(sides []trialSide) []trialChance {
	var list []trialChance
	for i := 1; i < len(sides); i++ {
		a, b := sides[0], sides[i]
		chance := trialChance{Heading: "“" + a.Name + "” against “" + b.Name + "”"}
		for _, about := range []struct {
			did  string
			of   func(trialSums) counted
			said bool
		}{
			{"did not seal", func(t trialSums) counted {
				return counted{K: t.Unsealed, N: t.Sealed, Loads: t.LoadsSealed, LoadsWith: t.LoadsUnsealed}
			}, a.sums.Loads > 0 && b.sums.Loads > 0},
			{"lost liquid", func(t trialSums) counted {
				return counted{K: t.Lost, N: t.LiquidSaid, Loads: t.LoadsLiquid, LoadsWith: t.LoadsLost}
			}, a.sums.LiquidSaid > 0 && b.sums.LiquidSaid > 0},
			{"have a watery layer", func(t trialSums) counted {
				return counted{K: t.Watery, N: t.WaterSaid, Loads: t.LoadsWater, LoadsWith: t.LoadsWatery}
			}, a.sums.WaterSaid > 0 && b.sums.WaterSaid > 0},
		} {
			if !about.said {
				continue
			}
			first, second := about.of(a.sums), about.of(b.sums)
			first.Name, second.Name = a.Name, b.Name
			chance.Compared = append(chance.Compared, compareJars(about.did, first, second))
		}
		chance.Compared = append(chance.Compared, tensCompared(a, b)...)
		if len(chance.Compared) > 0 {
			list = append(list, chance)
		}
	}
	return list
}

// otherwise names the keys in which a batch was planned otherwise than the variant it
// is linked to.
func otherwise(variant, batch scenarios.Plan) []string {
	var list []string
	for _, key := range []string{"food", "pack", "method", "jar", "altitude", "time", "pressure", "headspace", "acid.kind", "acid.per_jar", "lids.kind"} {
		if variant.Text(key) != batch.Text(key) {
			list = append(list, strings.ToLower(strings.TrimSuffix(words[key].label, "?")))
		}
	}
	return list
}

// sayLoad is what was seen of a load, in a line.
func sayLoad(l trialLoad) string {
	var sums trialSums
	sums.add(l)
	parts := []string{fmt.Sprintf("%d %s", len(l.Jars), plural(len(l.Jars), "jar", "jars"))}
	count := func(k, n int, did string) {
		if n > 0 {
			parts = append(parts, fmt.Sprintf("%d of %d %s", k, n, did))
		}
	}
	count(sums.Unsealed, sums.Sealed, "did not seal")
	count(sums.Lost, sums.LiquidSaid, "lost liquid")
	count(sums.Watery, sums.WaterSaid, "have a watery layer")
	for _, more := range []struct {
		values []string
		name   string
	}{{sums.Minutes, "minutes of work: "}, {sums.Yields, "jars filled: "}, {sums.PHs, "pH "}} {
		if len(more.values) > 0 {
			parts = append(parts, more.name+more.values[0])
		}
	}
	return strings.Join(parts, ", ")
}
