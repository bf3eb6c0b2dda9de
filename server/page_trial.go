package server

import (
	"cmp"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// A trial is the instructor's own question: the shortcut against the tested way. Before
// any figure its page says what the rules engine says of each way, because a shortcut
// that seals is not thereby tested. Nothing is overwritten: a mistake is replaced by a
// further entry, and both can be seen.

// How much a trial holds.
const (
	mostVariants = 4
	mostPlan     = 20_000 // bytes of a pasted plan file
	mostNote     = 1000   // letters
)

// trialWork is a trial with all that belongs to it.
type trialWork struct {
	store.Trial
	Class    store.Class
	Own      bool // the reader is the instructor
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

// trialWork is the trial of the address, for the instructor, and for members of the
// class while it is shown to them; for everybody else there is no such page.
func (s *Server) trialWork(c *gin.Context) (*trialWork, error) {
	class, p, err := s.ofClass(c)
	if err != nil {
		return nil, err
	}
	ctx := c.Request.Context()
	w := &trialWork{Class: class, Own: class.Instructor == p.Visitor}
	if w.Trial, err = s.store.Trial(ctx, class.ID, c.Param("trial")); err != nil {
		return nil, err
	}
	if !w.Own && !w.Shown {
		return nil, errNoPage
	}
	if w.Variants, err = s.store.TrialVariants(ctx, w.ID); err != nil {
		return nil, err
	}
	if w.Entries, err = s.store.TrialEntries(ctx, w.ID); err != nil {
		return nil, err
	}
	if w.Events, err = s.store.TrialEvents(ctx, w.ID); err != nil {
		return nil, err
	}
	w.Records = map[string]store.ClassRecord{}
	if !slices.ContainsFunc(w.Entries, func(e store.TrialEntry) bool { return e.Batch != "" }) {
		return w, nil
	}
	w.Records, err = s.acceptedRecords(ctx, class.ID)
	return w, err
}

func (s *Server) acceptedRecords(ctx context.Context, class string) (map[string]store.ClassRecord, error) {
	records, err := s.store.ClassRecords(ctx, class)
	byBatch := map[string]store.ClassRecord{}
	for _, r := range records {
		if r.State == store.Accepted {
			byBatch[r.Batch] = r
		}
	}
	return byBatch, err
}

// ownTrial is the trial of the address for its instructor alone.
func (s *Server) ownTrial(c *gin.Context) (*trialWork, error) {
	w, err := s.trialWork(c)
	if err == nil && !w.Own {
		err = errNoPage
	}
	return w, err
}

func (w *trialWork) path() string { return "/class/" + w.Class.ID + "/trials/" + w.ID }

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

type trialPage struct {
	page
	*trialWork
	Heading  string // the verdict on all of it
	Tested   bool   // every way, and every load that is known, is as tested
	Sides    []trialSide
	Rows     []trialRow
	Chances  []trialChance
	Loads    int
	Several  bool // more than one comparison
	SetAside []asideView
}

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

type asideView struct{ Name, Answer, Fate, Why string }

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
	for _, amiss := range side.sums.Amiss {
		side.Loads = append(side.Loads, "One of its loads was not cooked as tested: "+lowerFirst(verdictName(string(amiss)))+". "+jarsFate[amiss])
	}
	return side, report, nil
}

func lowerFirst(s string) string { return strings.ToLower(s[:1]) + s[1:] }

// trialPage is the page for the weekly demonstration: the verdicts first, then the
// question, then what was counted. No student is named on it, whoever reads it.
func (s *Server) trialPage(c *gin.Context) error {
	w, err := s.trialWork(c)
	if err != nil {
		return err
	}
	data := trialPage{page: newPage(w.Question, "/class/"+w.Class.ID), trialWork: w, Tested: true}
	for _, v := range w.Variants {
		side, _, err := s.viewSide(w, v)
		if err != nil {
			return err
		}
		if why, aside := w.aside(v.N); aside {
			data.SetAside = append(data.SetAside, asideView{side.Name, side.Answer, side.Fate, why})
			continue
		}
		data.Tested = data.Tested && side.Verdict == scenarios.AsTested && len(side.sums.Amiss) == 0
		data.Loads += side.sums.Loads
		data.Sides = append(data.Sides, side)
	}
	data.Heading = trialHeading(data.Sides)
	data.Rows = trialRows(data.Sides)
	data.Chances = trialChances(data.Sides)
	data.Several = len(data.Chances) > 1
	return s.write(c.Writer, c.Request, http.StatusOK, "trial", data)
}

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
			return trialCell{Text: "not said"}
		}
		return trialCell{fmt.Sprintf("%d of %d", k, n), strings.TrimSuffix("likely "+rangeText(k, n)+"; "+more, "; ")}
	}
	list := func(values []string, unit string) trialCell {
		if len(values) == 0 {
			return trialCell{Text: "not said"}
		}
		return trialCell{Text: strings.Join(values, ", ") + unit}
	}
	rows := []trialRow{
		row("The plan", func(t trialSide) trialCell { return trialCell{Text: t.Summary} }),
		row("Lids", func(t trialSide) trialCell { return trialCell{Text: cmp.Or(t.Lids, "not said")} }),
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
	return slices.DeleteFunc(rows, func(r trialRow) bool {
		return !slices.ContainsFunc(r.Cells, func(c trialCell) bool { return c.Text != "not said" })
	})
}

// trialChances holds every other way against the first.
func trialChances(sides []trialSide) []trialChance {
	var list []trialChance
	for i := 1; i < len(sides); i++ {
		a, b := sides[0], sides[i]
		chance := trialChance{Heading: "“" + a.Name + "” against “" + b.Name + "”"}
		if a.sums.Loads == 0 || b.sums.Loads == 0 {
			continue
		}
		for _, about := range []struct {
			did  string
			of   func(trialSums) counted
			said bool
		}{
			{"did not seal", func(t trialSums) counted {
				return counted{K: t.Unsealed, N: t.Sealed, Loads: t.LoadsSealed, LoadsWith: t.LoadsUnsealed}
			}, true},
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
		list = append(list, chance)
	}
	return list
}

type trialsPage struct {
	page
	Class store.Class
	Own   bool
	List  []trialLine
}

type trialLine struct{ Path, Question, Answer, State string }

// trialsPage lists the trials of a class; a member sees those that are shown.
func (s *Server) trialsPage(c *gin.Context) error {
	class, p, err := s.ofClass(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	data := trialsPage{page: newPage("Trials", "/class/"+class.ID), Class: class, Own: class.Instructor == p.Visitor}
	trials, err := s.store.Trials(ctx, class.ID)
	if err != nil {
		return err
	}
	for _, t := range trials {
		if !data.Own && !t.Shown {
			continue
		}
		line := trialLine{Path: "/class/" + class.ID + "/trials/" + t.ID, Question: t.Question, State: "from " + t.Made.In(zoneOf(class.Zone)).Format("2 Jan 2006")}
		if data.Own && t.Shown {
			line.State += ", shown to the class"
		}
		w := &trialWork{Trial: t, Class: class}
		if w.Variants, err = s.store.TrialVariants(ctx, t.ID); err != nil {
			return err
		}
		if w.Events, err = s.store.TrialEvents(ctx, t.ID); err != nil {
			return err
		}
		var sides []trialSide
		for _, v := range w.compared() {
			side, _, err := s.viewSide(w, v)
			if err != nil {
				return err
			}
			sides = append(sides, side)
		}
		line.Answer = trialHeading(sides)
		data.List = append(data.List, line)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "trials", data)
}

type newTrialPage struct {
	page
	Class    store.Class
	Trial    *trialWork // to which a variant is added; nil for a new trial
	Question input
	Variants []variantForm
	Versions []versionChoice
	More     bool // a further variant can be shown
	Wrong    string
}

type variantForm struct {
	N                int
	Name, Lids       input
	PlanKey, FromKey string
	Plan, From       string
	Wrong            []string // about the plan
}

type versionChoice struct{ Value, Name string }

func (s *Server) versionChoices(ctx context.Context, class string) ([]versionChoice, error) {
	versions, err := s.store.ClassVersions(ctx, class)
	list := make([]versionChoice, 0, len(versions))
	for _, v := range versions {
		list = append(list, versionChoice{fmt.Sprintf("%s/%d", v.Batch, v.N), fmt.Sprintf("%s: %s, version %d (%s, %s)", v.Student, v.Title, v.N, v.Kind, lowerFirst(verdictName(v.Verdict)))})
	}
	return list, err
}

// wrongLine says what is amiss with a line of text, "" if nothing is.
func wrongLine(text string, most int, needed string) string {
	switch {
	case text == "":
		return needed
	case utf8.RuneCountInString(text) > most:
		return fmt.Sprintf("Too long: %d letters are the most.", most)
	case strings.ContainsFunc(text, func(r rune) bool { return unicode.IsControl(r) || unicode.Is(unicode.Cf, r) }), !utf8.ValidString(text):
		return "There is a sign in it that cannot be shown. Type it again."
	}
	return ""
}

// readVariant reads one way of the form: its plan is pasted, or taken from a version of a
// batch of the class.
func (s *Server) readVariant(ctx context.Context, class string, typed url.Values, n int) (variantForm, store.TrialVariant, error) {
	key := func(name string) string { return fmt.Sprintf("%s-%d", name, n) }
	f := variantForm{N: n, PlanKey: key("plan"), FromKey: key("from"), Plan: typed.Get(key("plan")), From: typed.Get(key("from"))}
	v := store.TrialVariant{Name: cleanName(typed.Get(key("name"))), Lids: cleanName(typed.Get(key("lids"))), Version: s.course.Grader.Version(), Made: s.now()}
	f.Name = input{Key: key("name"), Label: "Its name", Means: "Short: oven, one hour.", Kind: "text", Value: typed.Get(key("name")), Wrong: wrongLine(v.Name, 60, "Give it a name."), Complete: "off"}
	f.Lids = input{Key: key("lids"), Label: "Lids", Means: "Kind, box or lot. It may stay empty.", Kind: "text", Value: typed.Get(key("lids")), Wrong: wrongLine(v.Lids, 80, ""), Complete: "off"}
	file, what := []byte(f.Plan), strings.TrimSpace(f.Plan)
	switch {
	case f.From != "" && what != "":
		f.Wrong = []string{"Paste a plan or take one from a batch, not both. Nothing was thrown away."}
	case f.From == "" && what == "":
		f.Wrong = []string{"Paste a plan file, or take the plan of a batch. Without a plan nobody can say whether this way was tested."}
	case len(f.Plan) > mostPlan:
		f.Wrong = []string{"That is too long for a plan file."}
	case f.From != "":
		batch, number, _ := strings.Cut(f.From, "/")
		at, err := strconv.Atoi(number)
		if err != nil {
			at = 0 // there is no such version
		}
		if file, err = s.store.ClassVersionFile(ctx, class, batch, at); errors.Is(err, store.ErrNotFound) {
			f.Wrong = []string{"That batch is not here any more. Choose another one."}
		} else if err != nil {
			return f, v, err
		}
	}
	if len(f.Wrong) > 0 {
		return f, v, nil
	}
	b, _, err := s.course.Grader.ParseFile("", file)
	for _, p := range scenarios.Problems(err) {
		where := ""
		if p.Line > 0 {
			where = fmt.Sprintf("Line %d: ", p.Line)
		}
		if p.Key != "" {
			where += p.Key + ": "
		}
		f.Wrong = append(f.Wrong, where+p.Message)
	}
	if err != nil && len(f.Wrong) == 0 {
		return f, v, err
	}
	if v.Plan = b.Plan.YAML(); len(v.Plan) == 0 && err == nil {
		f.Wrong = []string{"It states nothing. A plan file begins with food: tomatoes-crushed, say."}
	}
	v.Verdict = string(s.course.Grader.Grade(b.Plan).Verdict)
	return f, v, nil
}

func (f variantForm) ok() bool { return f.Name.Wrong == "" && f.Lids.Wrong == "" && len(f.Wrong) == 0 }

// blankVariant is a way of which nothing is typed yet.
func blankVariant(n int, typed url.Values) variantForm {
	key := func(name string) string { return fmt.Sprintf("%s-%d", name, n) }
	return variantForm{
		N: n, PlanKey: key("plan"), FromKey: key("from"), Plan: typed.Get(key("plan")), From: typed.Get(key("from")),
		Name: input{Key: key("name"), Label: "Its name", Means: "Short: oven, one hour.", Kind: "text", Value: typed.Get(key("name")), Complete: "off"},
		Lids: input{Key: key("lids"), Label: "Lids", Means: "Kind, box or lot. It may stay empty.", Kind: "text", Value: typed.Get(key("lids")), Complete: "off"},
	}
}

func questionInput(value, wrong string) input {
	return input{Key: "question", Label: "The question", Means: "As a student asks it: does the oven do as well as the canner?", Kind: "text", Value: value, Wrong: wrong, Complete: "off"}
}

// variantCount is how many ways the form shows.
func variantCount(typed url.Values) int {
	n, err := strconv.Atoi(typed.Get("count"))
	if err != nil {
		n = 2
	}
	return min(max(n, 2), mostVariants)
}

func (s *Server) newTrialPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	return s.showNewTrial(c, http.StatusOK, class, url.Values{}, nil)
}

// showNewTrial shows the form as it was typed; with read, what is wrong is told.
func (s *Server) showNewTrial(c *gin.Context, status int, class store.Class, typed url.Values, read *newTrialPage) error {
	data := newTrialPage{Question: questionInput(typed.Get("question"), "")}
	if read != nil {
		data = *read
	} else {
		for n := range variantCount(typed) {
			data.Variants = append(data.Variants, blankVariant(n+1, typed))
		}
	}
	data.page, data.Class, data.More = newPage("A new trial", "/class/"+class.ID), class, len(data.Variants) < mostVariants
	var err error
	if data.Versions, err = s.versionChoices(c.Request.Context(), class.ID); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, status, "trial-new", data)
}

func (s *Server) newTrial(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	if typed.Get("do") == "more" {
		typed.Set("count", strconv.Itoa(variantCount(typed)+1))
		return s.showNewTrial(c, http.StatusOK, class, typed, nil)
	}
	question := cleanName(typed.Get("question"))
	read := newTrialPage{Question: questionInput(typed.Get("question"), wrongLine(question, 200, "What is to be found out?"))}
	ok := read.Question.Wrong == ""
	var variants []store.TrialVariant
	for n := range variantCount(typed) {
		f, v, err := s.readVariant(c.Request.Context(), class.ID, typed, n+1)
		if err != nil {
			return err
		}
		if slices.ContainsFunc(variants, func(other store.TrialVariant) bool { return other.Name == v.Name }) && f.Name.Wrong == "" {
			f.Name.Wrong = "Another way has this name."
		}
		ok = ok && f.ok()
		read.Variants, variants = append(read.Variants, f), append(variants, v)
	}
	if !ok {
		return s.showNewTrial(c, http.StatusUnprocessableEntity, class, typed, &read)
	}
	t := store.Trial{ID: store.NewID(), Class: class.ID, Question: question, Made: s.now()}
	if err := s.store.AddTrial(c.Request.Context(), t, variants); err != nil {
		return err
	}
	return seeOther(c, "/class/"+class.ID+"/trials/"+t.ID+"/workbook")
}

func (s *Server) newVariantPage(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	return s.showNewVariant(c, http.StatusOK, w, blankVariant(1, url.Values{}))
}

func (s *Server) showNewVariant(c *gin.Context, status int, w *trialWork, f variantForm) error {
	data := newTrialPage{page: newPage("A further way", "/class/"+w.Class.ID), Class: w.Class, Trial: w, Variants: []variantForm{f}}
	var err error
	if data.Versions, err = s.versionChoices(c.Request.Context(), w.Class.ID); err != nil {
		return err
	}
	return s.write(c.Writer, c.Request, status, "trial-new", data)
}

func (s *Server) newVariant(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	f, v, err := s.readVariant(c.Request.Context(), w.Class.ID, typed, 1)
	if err != nil {
		return err
	}
	compared := w.compared()
	switch {
	case len(compared) >= mostVariants:
		f.Wrong = append(f.Wrong, fmt.Sprintf("There are %d ways already. Set one aside first.", mostVariants))
	case slices.ContainsFunc(compared, func(other store.TrialVariant) bool { return other.Name == v.Name }) && f.Name.Wrong == "":
		f.Name.Wrong = "Another way has this name."
	}
	if !f.ok() {
		return s.showNewVariant(c, http.StatusUnprocessableEntity, w, f)
	}
	if err := s.store.AddTrialVariant(c.Request.Context(), w.ID, v); err != nil {
		return err
	}
	return seeOther(c, w.path()+"/workbook")
}

type workbookPage struct {
	page
	*trialWork
	Reports  []variantReport
	Lines    []entryLine // the latest first
	Decided  []eventView
	Linkable []versionChoice
	Compared []store.TrialVariant
	Form     string
	Said     string
	Wrong    string
	CanAdd   bool
}

type variantReport struct {
	store.TrialVariant
	Report reportView
	Lines  []planLine
	Then   string
	Aside  string
	Off    bool
}

// entryLine is one entry of the workbook, with what it replaces and what replaced it.
type entryLine struct {
	store.TrialEntry
	Variant, When, Says, Note string
	Student, Path             string
	Otherwise                 []string // in what a linked batch's plan differs
	ReplacedBy                int
	Counts, CanCorrect        bool
}

func (s *Server) workbookPage(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	return s.showWorkbook(c, http.StatusOK, w, "", "")
}

func (s *Server) showWorkbook(c *gin.Context, status int, w *trialWork, said, wrong string) error {
	zone := zoneOf(w.Class.Zone)
	data := workbookPage{page: newPage("Workbook: "+w.Question, "/class/"+w.Class.ID), trialWork: w, Compared: w.compared(), Form: store.NewID(), Said: said, Wrong: wrong}
	data.CanAdd = len(data.Compared) < mostVariants
	names, plans := map[int]string{}, map[int]scenarios.Plan{}
	for _, v := range w.Variants {
		side, report, err := s.viewSide(w, v)
		if err != nil {
			return err
		}
		plan, err := s.course.Grader.ParsePlan("", v.Plan)
		if err != nil {
			return err
		}
		names[v.N], plans[v.N] = v.Name, plan
		view := variantReport{TrialVariant: v, Report: s.viewReport(report), Lines: s.linesOf(plan, nil), Then: side.Then}
		view.Report.NotStated, view.Report.Missing = nil, nil // their links lead to a form
		view.Aside, view.Off = w.aside(v.N)
		data.Reports = append(data.Reports, view)
	}
	linked := map[string]bool{}
	for i := len(w.Entries) - 1; i >= 0; i-- {
		e := w.Entries[i]
		load, amiss, gone, err := s.loadOf(w, e)
		if err != nil {
			return err
		}
		line := entryLine{TrialEntry: e, Variant: names[e.Variant], When: clockText(e.At, zone), Note: load.Note, ReplacedBy: w.replacedBy(e.N), Says: sayLoad(load)}
		line.Counts = w.entry(e.N) != nil && !gone && w.variant(e.Variant) != nil
		line.CanCorrect = w.entry(e.N) != nil && w.variant(e.Variant) != nil
		switch {
		case e.Kind == store.VoidEntry:
			line.Says = "Counts nothing."
		case gone:
			line.Says = "The student deleted this batch. Its jars no longer count."
		case e.Kind == store.LinkedEntry:
			record := w.Records[e.Batch]
			line.Student, line.Path = record.Student, "/batches/"+e.Batch
			if amiss != "" {
				line.Says += ". It was not cooked as tested: " + lowerFirst(verdictName(string(amiss)))
			}
			if b, _, err := s.course.Grader.ParseFile("", record.File); err == nil {
				line.Otherwise = otherwise(plans[e.Variant], b.Plan)
			}
			linked[e.Batch] = linked[e.Batch] || line.CanCorrect
		}
		data.Lines = append(data.Lines, line)
	}
	for _, e := range w.Events {
		what := map[string]string{store.TrialShown: "Shown to the class", store.TrialHidden: "No longer shown to the class", store.SetAside: "Set aside: " + names[e.Variant]}[e.What]
		data.Decided = append(data.Decided, eventView{What: what, When: clockText(e.At, zone), Says: e.Says})
	}
	records, err := s.store.ClassRecords(c.Request.Context(), w.Class.ID)
	if err != nil {
		return err
	}
	for _, r := range records {
		if r.State == store.Accepted && !linked[r.Batch] {
			data.Linkable = append(data.Linkable, versionChoice{r.Batch, r.Student + ": " + r.Title})
		}
	}
	return s.write(c.Writer, c.Request, status, "trial-workbook", data)
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

// decideTrial shows or hides a trial, sets a way aside, links a batch, or takes an entry
// out of the count.
func (s *Server) decideTrial(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	ctx := c.Request.Context()
	says := strings.TrimSpace(strings.ReplaceAll(typed.Get("says"), "\r\n", "\n"))
	refuse := func(status int, why string) error { return s.showWorkbook(c, status, w, says, why) }
	if utf8.RuneCountInString(says) > mostNote {
		return refuse(http.StatusUnprocessableEntity, "That is too long: 1 000 letters are the most. Nothing was kept, and what you wrote is below.")
	}
	n, err := strconv.Atoi(typed.Get("n"))
	if err != nil {
		n = 0 // there is none of that number
	}
	switch do := typed.Get("do"); do {
	case store.TrialShown, store.TrialHidden:
		err = s.store.AddTrialEvent(ctx, w.ID, store.TrialEvent{What: do, At: s.now()})
	case store.SetAside:
		if w.variant(n) == nil {
			return refuse(http.StatusConflict, "That way is not compared any more. Look again, and decide again.")
		}
		if says == "" {
			return refuse(http.StatusUnprocessableEntity, "Say why it is set aside. It stays on the page with your reason.")
		}
		err = s.store.AddTrialEvent(ctx, w.ID, store.TrialEvent{What: do, Variant: n, Says: says, At: s.now()})
	case "link":
		records, err := s.acceptedRecords(ctx, w.Class.ID)
		if err != nil {
			return err
		}
		if _, accepted := records[typed.Get("batch")]; !accepted || w.variant(n) == nil {
			return refuse(http.StatusUnprocessableEntity, "Choose an accepted batch and the way it was cooked.")
		}
		return s.keepEntry(c, w, store.TrialEntry{Form: typed.Get("form"), Variant: n, Kind: store.LinkedEntry, Batch: typed.Get("batch")}, refuse)
	case store.VoidEntry:
		e := w.entry(n)
		if e == nil {
			return refuse(http.StatusConflict, "That entry was replaced in the meantime. Look again, and decide again.")
		}
		if says == "" {
			return refuse(http.StatusUnprocessableEntity, "Say what was wrong with it. It stays on the page, struck through, with your reason.")
		}
		return s.keepEntry(c, w, store.TrialEntry{Form: typed.Get("form"), Variant: e.Variant, Kind: store.VoidEntry, Replaces: n, Why: says}, refuse)
	default:
		return errBadForm
	}
	if err != nil {
		return err
	}
	return seeOther(c, w.path()+"/workbook")
}

// keepEntry adds an entry, or says that something else was added in the meantime.
func (s *Server) keepEntry(c *gin.Context, w *trialWork, e store.TrialEntry, refuse func(int, string) error) error {
	if len(e.Form) != len(store.NewID()) {
		return errBadForm
	}
	if e.Load == nil {
		e.Load = []byte("{}")
	}
	e.At = s.now()
	err := s.store.AddTrialEntry(c.Request.Context(), w.ID, e)
	if errors.Is(err, store.ErrChanged) {
		return refuse(http.StatusConflict, "Something came before it: this form was sent already, or the entry was replaced or the batch linked in another window. Nothing was kept now. Look at the workbook, and send it again if it is still right.")
	}
	if err != nil {
		return err
	}
	return seeOther(c, w.path()+"/workbook#entries")
}

type entryPage struct {
	page
	*trialWork
	Form, Variant string
	Compared      []store.TrialVariant
	Replaces      int
	Why           input
	Count         input
	Jars          []jarForm
	Minutes       input
	Yield         input
	PH            input
	PHBy          choiceField
	Note          string
	Wrong         []string
}

// What can be said of a jar of a trial: as in the record of a batch.
var trialJarFields = []struct {
	name, label string
	words       []optionLine
}{
	{"sealed", "Sealed", []optionLine{{"true", "sealed"}, {"false", "not sealed"}}},
	{"liquid", "Liquid lost", []optionLine{{"none", "none"}, {"some", "some, less than half"}, {"half-or-more", "half or more"}}},
	{"watery", "Watery layer", []optionLine{{"false", "no"}, {"true", "yes"}}},
}

var phByWords = []optionLine{{"meter", "a meter"}, {"strip", "a strip"}, {"litmus", "litmus paper"}}

// entryPage is the form for a load, or for the correction of one.
func (s *Server) entryPage(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	typed := url.Values{"form": {store.NewID()}, "count": {"7"}, "variant": {c.Query("variant")}}
	if n, err := strconv.Atoi(c.Query("replaces")); err == nil {
		e := w.entry(n)
		if e == nil || e.Kind != store.TypedEntry {
			return errNoPage
		}
		load, _, _, err := s.loadOf(w, *e)
		if err != nil {
			return err
		}
		fillEntry(typed, *e, load)
	}
	return s.showEntry(c, http.StatusOK, w, typed, nil)
}

// fillEntry puts an entry that is to be corrected into the form.
func fillEntry(typed url.Values, e store.TrialEntry, load trialLoad) {
	typed.Set("replaces", strconv.Itoa(e.N))
	typed.Set("variant", strconv.Itoa(e.Variant))
	typed.Set("count", strconv.Itoa(len(load.Jars)))
	for i, j := range load.Jars {
		for name, word := range map[string]string{"sealed": j.Sealed, "liquid": j.Liquid, "watery": j.Watery} {
			typed.Set(fmt.Sprintf("%s-%d", name, i+1), word)
		}
	}
	if load.Minutes != nil {
		typed.Set("minutes", strconv.Itoa(*load.Minutes))
	}
	if load.Yield != nil {
		typed.Set("yield", plainNumber(*load.Yield))
	}
	if load.PH != nil {
		typed.Set("ph", plainNumber(*load.PH))
	}
	typed.Set("ph-by", load.PHBy)
	typed.Set("note", load.Note)
}

func (s *Server) showEntry(c *gin.Context, status int, w *trialWork, typed url.Values, wrong map[string]string) error {
	data := entryPage{page: newPage("A load: "+w.Question, "/class/"+w.Class.ID), trialWork: w, Form: typed.Get("form"), Variant: typed.Get("variant"), Compared: w.compared(), Note: typed.Get("note")}
	data.Replaces, _ = strconv.Atoi(typed.Get("replaces")) // 0 where it replaces none
	line := func(key, label, means, kind string) input {
		return input{Key: key, Label: label, Means: means, Kind: kind, Value: typed.Get(key), Wrong: wrong[key], Complete: "off"}
	}
	data.Why = line("why", "What was wrong with it", "Both stay on the page, with this reason.", "text")
	data.Count = line("count", "How many jars", "", "text")
	data.Minutes = line("minutes", "Minutes of work", "Hands at work, not waiting. It may stay empty.", "text")
	data.Yield = line("yield", "Jars filled", "6.5 if the last was half full. It may stay empty.", "text")
	data.PH = line("ph", "pH read", "4.2. It may stay empty. A reading does not make a way tested.", "text")
	data.PHBy = choiceField{Key: "ph-by", Label: "Read by", Options: phByWords, Said: typed.Get("ph-by")}
	n, err := strconv.Atoi(strings.TrimSpace(typed.Get("count")))
	if err != nil {
		n = 7
	}
	for i := 1; i <= min(max(n, 1), mostJarRows); i++ {
		jar := jarForm{N: i}
		for _, f := range trialJarFields {
			key := fmt.Sprintf("%s-%d", f.name, i)
			jar.Fields = append(jar.Fields, choiceField{Key: key, Label: f.label, Options: f.words, Said: typed.Get(key)})
		}
		data.Jars = append(data.Jars, jar)
	}
	for _, key := range []string{"variant", "why", "count", "jars", "minutes", "yield", "ph", "ph-by", "note", "entry"} {
		if wrong[key] != "" {
			data.Wrong = append(data.Wrong, wrong[key])
		}
	}
	return s.write(c.Writer, c.Request, status, "trial-entry", data)
}

func (s *Server) addEntry(c *gin.Context) error {
	w, err := s.ownTrial(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	if typed.Get("do") == "rows" {
		return s.showEntry(c, http.StatusOK, w, typed, nil)
	}
	load, wrong := readLoad(typed)
	e := store.TrialEntry{Form: typed.Get("form"), Kind: store.TypedEntry}
	if e.Variant, err = strconv.Atoi(typed.Get("variant")); err != nil || w.variant(e.Variant) == nil {
		wrong["variant"] = "Which way was it?"
	}
	if typed.Get("replaces") != "" {
		e.Why = cleanName(typed.Get("why"))
		if why := wrongLine(e.Why, 200, "Say what was wrong with the entry that this one replaces."); why != "" {
			wrong["why"] = why
		}
		e.Replaces, err = strconv.Atoi(typed.Get("replaces"))
		if err != nil {
			return errBadForm
		}
	}
	if len(wrong) > 0 {
		return s.showEntry(c, http.StatusUnprocessableEntity, w, typed, wrong)
	}
	if e.Load, err = json.Marshal(load); err != nil {
		return err
	}
	return s.keepEntry(c, w, e, func(status int, why string) error {
		typed.Set("form", store.NewID()) // so that it can be sent again on purpose
		return s.showEntry(c, status, w, typed, map[string]string{"entry": why})
	})
}

// readLoad reads the form of a load. What cannot be read is told by the form's own keys.
func readLoad(typed url.Values) (trialLoad, map[string]string) {
	var load trialLoad
	wrong := map[string]string{}
	n, err := strconv.Atoi(strings.TrimSpace(typed.Get("count")))
	if err != nil || n < 1 || n > mostJarRows {
		wrong["count"] = fmt.Sprintf("How many jars: a whole number from 1 to %d.", mostJarRows)
		n = 0
	}
	said := false
	for i := 1; i <= n; i++ {
		var jar trialJar
		for j, to := range []*string{&jar.Sealed, &jar.Liquid, &jar.Watery} {
			f := trialJarFields[j]
			*to = typed.Get(fmt.Sprintf("%s-%d", f.name, i))
			if !known(*to, f.words) {
				wrong["jars"] = fmt.Sprintf("Jar %d: choose one of the answers to “%s”.", i, f.label)
			}
			said = said || *to != ""
		}
		load.Jars = append(load.Jars, jar)
	}
	if !said && n > 0 && wrong["jars"] == "" {
		wrong["jars"] = "Say of at least one jar what came of it."
	}
	number := func(key, name string, most float64) *float64 {
		text := strings.TrimSpace(typed.Get(key))
		if text == "" {
			return nil
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || strings.Trim(text, "0123456789.") != "" || v > most {
			wrong[key] = fmt.Sprintf("%s: write a number from 0 to %s, such as 4.2.", name, plainNumber(most))
			return nil
		}
		return &v
	}
	if text := strings.TrimSpace(typed.Get("minutes")); text != "" {
		minutes, err := strconv.Atoi(text)
		if err != nil || minutes < 0 || minutes > int(48*time.Hour/time.Minute) {
			wrong["minutes"] = "Minutes of work: a whole number, such as 95."
		}
		load.Minutes = &minutes
	}
	load.Yield = number("yield", "Jars filled", mostJarRows)
	load.PH = number("ph", "pH", 14)
	load.PHBy = typed.Get("ph-by")
	switch {
	case !known(load.PHBy, phByWords):
		wrong["ph-by"] = "Choose what the pH was read by."
	case load.PH != nil && load.PHBy == "":
		wrong["ph-by"] = "Say what the pH was read by. A strip and a meter do not tell the same."
	case load.PH == nil && load.PHBy != "" && wrong["ph"] == "":
		wrong["ph"] = "You say what the pH was read by, and not what it read."
	}
	load.Note = strings.TrimSpace(strings.ReplaceAll(typed.Get("note"), "\r\n", "\n"))
	if utf8.RuneCountInString(load.Note) > mostNote {
		wrong["note"] = "The note is too long: 1 000 letters are the most."
	}
	return load, wrong
}

// known says whether a word is one of those offered, or none.
func known(word string, words []optionLine) bool {
	return word == "" || slices.ContainsFunc(words, func(o optionLine) bool { return o.Value == word })
}
