package server

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/gin-gonic/gin"

	"rollingboil/lessons"
	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/server/store"
)

// The kitchen sheet is a batch's plan for the day: a list to print, and on a telephone
// large steps with timers. The telephone keeps the clock times itself and sends them
// when it has a network.

// What a clock time from the kitchen can be of.
const (
	newLoadTime         = "new-load" // what came before is of another load
	ventBeganTime       = "vent-began"
	boilReachedTime     = "boil-reached"
	pressureReachedTime = "pressure-reached"
	lostTime            = "lost" // the boil or the pressure; after the time was up: before that, unseen
	againTime           = "again"
	timeUpTime          = "time-up"
	heatOffTime         = "heat-off"
	weightOffTime       = "weight-off"
	jarsOutTime         = "jars-out"
	clockChangedTime    = "clock-changed" // no time of this load can be trusted
)

var kitchenTimeWords = []string{
	newLoadTime, ventBeganTime, boilReachedTime, pressureReachedTime, lostTime, againTime, timeUpTime, heatOffTime, weightOffTime, jarsOutTime, clockChangedTime,
}

// Limits of what a telephone sends.
const (
	maxTimesSent = 200  // at once
	maxTimesKept = 2000 // for one batch
	timesWithin  = 365 * day
)

// kitchenNumbers are the figures of canning practice that the timers run by.
type kitchenNumbers struct {
	Vent, Rest, OpenWait, LongProcess measure.Duration
	Cool, Reprocess                   measure.Duration
	Text                              map[string]string // every figure as it is read, by its id
}

var kitchenFigures = sync.OnceValues(func() (kitchenNumbers, error) {
	var n kitchenNumbers
	facts, err := lessons.Facts()
	if err != nil {
		return n, err
	}
	if n.Text, err = figuresByID(); err != nil {
		return n, err
	}
	for id, to := range map[string]*measure.Duration{
		"vent": &n.Vent, "rest": &n.Rest, "open-wait": &n.OpenWait, "long-process": &n.LongProcess, "cool": &n.Cool, "reprocess": &n.Reprocess,
	} {
		i := slices.IndexFunc(facts, func(f lessons.Fact) bool { return f.ID == id })
		if i < 0 {
			return n, fmt.Errorf("the kitchen sheet needs the fact %s", id)
		}
		if *to, err = leastDuration(facts[i].US); err != nil {
			return n, fmt.Errorf("fact %s: %w", id, err)
		}
	}
	return n, nil
})

// leastDuration reads "12 to 24 hours" as 12 hours.
func leastDuration(text string) (measure.Duration, error) {
	if least, rest, spread := strings.Cut(text, " to "); spread {
		_, unit, _ := strings.Cut(rest, " ")
		text = least + " " + unit
	}
	return measure.ParseDuration(text)
}

type kitchenPage struct {
	page
	Batch    string
	Wait     string // why there is no sheet
	SentBack bool   // by the instructor, since it was sent in
	Sheet    *kitchenSheet
	Times    string // the kept clock times, JSON
}

// kitchenSheet is one plan, ready to be followed.
type kitchenSheet struct {
	Food, Facts, Method                string
	Pressure, Steam                    bool
	Pack, Jar, Lids, Headspace, Water  string
	Acid, Gauge, Preheat, Directions   string
	Time, Row, Source                  string
	Minutes, Vent, Rest                float64 // that the timers run for
	VentText, RestText                 string
	CoolHours, ReprocessHours          float64
	CoolText, ReprocessText, Half      string
	SealChecks, Unsealed, FreezeAt     string
	JarGap, SterileFirst, CannerWater  string
	Starts, Stops, Again, StartedEvent string // the moment the clock starts at, in three sentences, and its word
	Keep                               []string
}

// kitchenPage shows the sheet of the plan that was sent in last, to the student whose
// batch it is and to nobody else.
func (s *Server) kitchenPage(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	data := kitchenPage{page: newPage("In the kitchen", "/class/"+w.Class.ID), Batch: w.ID, SentBack: w.state() == store.PlanBack}
	version := w.sentPlan()
	if version == nil {
		return s.noSheet(c, data, "No plan was sent in yet. The sheet is made from the plan: send it in first.")
	}
	plan, err := s.course.Grader.ParsePlan("", version.File)
	if err != nil {
		return fmt.Errorf("read the plan of a batch: %w", err)
	}
	// The rules and the table may have changed since. A sheet needs both answers.
	report := s.course.Grader.Grade(plan)
	if version.Verdict != string(scenarios.AsTested) || report.Verdict != scenarios.AsTested {
		return s.noSheet(c, data, "The plan that was sent in is not as tested, so there is no sheet to can by. Change the plan, check it and send it in again.")
	}
	if data.Sheet, err = s.kitchenSheet(plan, report); err != nil {
		return err
	}
	kept, err := s.store.BatchTimes(c.Request.Context(), w.ID)
	if err != nil {
		return err
	}
	times := make([]kitchenTime, len(kept))
	for i, t := range kept {
		times[i] = kitchenTime{t.ID, t.What, t.At.Format(time.RFC3339Nano)}
	}
	raw, err := json.Marshal(times)
	if err != nil {
		return err
	}
	data.Times, data.Script = string(raw), "script/kitchen.js"
	return s.write(c.Writer, c.Request, http.StatusOK, "kitchen", data)
}

func (s *Server) noSheet(c *gin.Context, data kitchenPage, why string) error {
	data.Wait = why
	return s.write(c.Writer, c.Request, http.StatusConflict, "kitchen", data)
}

// kitchenSheet lays out a plan that is as tested. What the plan does not say comes from
// the table, the food's card or the figures of practice.
func (s *Server) kitchenSheet(p scenarios.Plan, r scenarios.Report) (*kitchenSheet, error) {
	figures, err := kitchenFigures()
	if err != nil {
		return nil, err
	}
	card, ok := s.course.Grader.Table().Card(p.Food.Value)
	if !ok || len(r.Tested) == 0 {
		return nil, errors.New("a plan that is as tested has no row")
	}
	text := figures.Text
	rest := max(p.Rest.Value, figures.Rest)
	sheet := &kitchenSheet{
		Food: scenarios.Sentence(card.Name), Method: p.Method.Value, Directions: card.Directions,
		Pack: scenarios.Label(p.Pack.Value), Jar: process.JarName(p.Jar.Value), Headspace: p.Headspace.Value.Both(),
		Time: p.Time.Value.String(), Minutes: float64(p.Time.Value), SealChecks: "press the center, look across the lid, tap it",
		ReprocessHours: float64(figures.Reprocess) / 60, ReprocessText: figures.Reprocess.String(), Half: text["half_lost"], FreezeAt: text["freeze_headspace"], JarGap: text["jar_gap"],
	}
	sheet.Facts = scenarios.Sentence(strings.Join([]string{sheet.Pack + " pack", sheet.Jar + " jars", scenarios.Label(p.Method.Value), p.Altitude.Value.Both()}, " · "))
	row := testedRow(p, r)
	figure := viewTested(row)
	sheet.Row, sheet.Source = figure.Figures+": "+figure.Row, figure.Read
	switch p.Method.Value {
	case "pressure":
		rest = max(p.Rest.Value, figures.OpenWait)
		sheet.Pressure, sheet.CannerWater = true, text["pressure_water"]
		sheet.Gauge = p.Pressure.Value.Both() + " by the " + p.Gauge.Value + " gauge"
		sheet.Starts, sheet.Stops, sheet.Again, sheet.StartedEvent = "The pressure is reached", "The pressure fell", "The pressure is back", pressureReachedTime
	case "atmospheric-steam":
		sheet.Steam = true
		sheet.Starts, sheet.Stops, sheet.Again, sheet.StartedEvent = "The steam flows in a full, steady column", "The steam stopped", "The steam is full and steady again", boilReachedTime
	default:
		sheet.Preheat = text["preheat_raw"]
		if p.Pack.Value == "hot" {
			sheet.Preheat = text["preheat_hot"]
		}
		sheet.Starts, sheet.Stops, sheet.Again, sheet.StartedEvent = "The boil is full and rolling", "The boil stopped", "It boils again", boilReachedTime
	}
	vent := max(p.Vent.Value, figures.Vent)
	sheet.Vent, sheet.VentText, sheet.Rest, sheet.RestText = float64(vent), vent.String(), float64(rest), rest.String()
	cool := max(measure.Duration(p.CoolingHours.Value*60), figures.Cool)
	sheet.CoolHours, sheet.CoolText = float64(cool)/60, cool.String()
	switch {
	case p.WaterOverLids.Known:
		sheet.Water = p.WaterOverLids.Value.Both()
	case p.Time.Value > figures.LongProcess:
		sheet.Water = text["water_over_long"]
	default:
		sheet.Water = text["water_over"]
	}
	if p.Sterilised.Value || slices.Contains(r.NotStated, "sterilised") { // asked where the jars have to be boiled
		sheet.SterileFirst = text["sterile_boil"] + ", and " + text["sterile_step"] + " more for each 1,000 ft above 1,000 ft"
	}
	sheet.Lids = lidsOf(p)
	switch {
	case card.AcidIn == "jar":
		sheet.Acid = p.AcidPerJar.Value.Both() + " of " + sayWord("acid.kind", p.AcidKind.Value)
	case card.AcidIn == "recipe":
		sheet.Acid = "all the acid of the tested recipe"
	}
	if len(p.SealChecks.Value) > 0 {
		sheet.SealChecks = sayValue("seal_checks", p.Text("seal_checks"))
	}
	sheet.Unsealed = "refrigerate it, freeze it, or give it the whole process again with a new lid"
	if p.Unsealed.Known {
		sheet.Unsealed = sayWord("unsealed", p.Unsealed.Value)
	}
	if card.Note != "" {
		sheet.Keep = append(sheet.Keep, card.Note)
	}
	for _, f := range r.Findings {
		sheet.Keep = append(sheet.Keep, f.Says)
	}
	return sheet, nil
}

// lidsOf says which lids the plan names: new ones, unless it says otherwise or they are
// made to be used again.
func lidsOf(p scenarios.Plan) string {
	var parts []string
	switch {
	case p.LidsState.Known:
		parts = append(parts, sayWord("lids.state", p.LidsState.Value))
	case p.LidsKind.Value != "reusable-gasket":
		parts = append(parts, "new")
	}
	if p.LidsKind.Known {
		parts = append(parts, sayWord("lids.kind", p.LidsKind.Value))
	}
	return strings.Join(parts, ", ")
}

// testedRow is the row that a plan which is as tested keeps to: of the alternatives the
// one at its pressure, or the highest below it.
func testedRow(p scenarios.Plan, r scenarios.Report) scenarios.Tested {
	rows := slices.Clone(r.Tested)
	slices.SortStableFunc(rows, func(a, b scenarios.Tested) int { return cmp.Compare(a.PSI, b.PSI) })
	fits := rows[0]
	for _, row := range rows {
		if float64(row.PSI) <= float64(p.Pressure.Value) {
			fits = row
		}
	}
	return fits
}

// kitchenTime is a clock time as a telephone sends it.
type kitchenTime struct {
	ID   string `json:"id"`
	What string `json:"what"`
	At   string `json:"at"` // RFC 3339, with the telephone's own offset
}

// timesAnswer says which of the sent times are kept, or which cannot be.
type timesAnswer struct {
	Kept  []string `json:"kept,omitzero"`
	Error string   `json:"error,omitempty"`
	Which []string `json:"which,omitempty"`
}

// timeID is what a telephone may name a time: a UUID fits.
var timeID = regexp.MustCompile(`^[0-9A-Za-z-]{8,64}$`)

// keepTimes keeps clock times from the kitchen, all or none. What was kept before stays
// as it was and counts as kept, so that a telephone may send until it hears so.
func (s *Server) keepTimes(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	if c.ContentType() != "application/json" {
		return writeJSON(c, http.StatusUnsupportedMediaType, timesAnswer{Error: "send the times as application/json"})
	}
	var sent []kitchenTime
	if err := json.NewDecoder(c.Request.Body).Decode(&sent); err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return err
		}
		return writeJSON(c, http.StatusBadRequest, timesAnswer{Error: "the body is not a list of times"})
	}
	if len(sent) > maxTimesSent {
		return writeJSON(c, http.StatusUnprocessableEntity, timesAnswer{Error: fmt.Sprintf("at most %d times at once", maxTimesSent)})
	}
	ctx, now := c.Request.Context(), s.now()
	answer := timesAnswer{Kept: []string{}}
	var times []store.BatchTime
	for _, t := range sent {
		at, err := time.Parse(time.RFC3339, t.At)
		if err != nil || at.Sub(now).Abs() > timesWithin || !timeID.MatchString(t.ID) || !slices.Contains(kitchenTimeWords, t.What) {
			answer.Which = append(answer.Which, t.ID)
			continue
		}
		times = append(times, store.BatchTime{ID: t.ID, What: t.What, At: at})
		answer.Kept = append(answer.Kept, t.ID)
	}
	if len(answer.Which) > 0 {
		return writeJSON(c, http.StatusUnprocessableEntity, timesAnswer{Error: "not a time of this kitchen within a year of now", Which: answer.Which})
	}
	kept, err := s.store.BatchTimes(ctx, w.ID)
	if err != nil {
		return err
	}
	if len(kept)+len(times) > maxTimesKept {
		return writeJSON(c, http.StatusUnprocessableEntity, timesAnswer{Error: "too many times for one batch"})
	}
	if err := s.store.AddBatchTimes(ctx, w.ID, times, now); err != nil {
		return err
	}
	return writeJSON(c, http.StatusOK, answer)
}

// kitchenRecord is what the clock times from the kitchen tell of a batch whose plan was
// sent in.
func (s *Server) kitchenRecord(c *gin.Context, w *work) (scenarios.Record, error) {
	times, err := s.store.BatchTimes(c.Request.Context(), w.ID)
	if err != nil {
		return scenarios.Record{}, err
	}
	plan, err := s.course.Grader.ParsePlan("", w.sentPlan().File)
	if err != nil {
		return scenarios.Record{}, fmt.Errorf("read the plan of a batch: %w", err)
	}
	return recordFromTimes(times, plan.Method.Value), nil
}

// recordFromTimes fills in of a record what the clock times of the last load tell: the
// start, the interruptions and the end. What is not known stays zero; when the clock
// itself was changed that is everything, and the times have to be typed.
//
// The time starts again whenever the full boil or the pressure comes back (USDA Guide 1,
// p. 1-18 and 1-22), so every press of the start parts the time.
func recordFromTimes(times []store.BatchTime, method string) scenarios.Record {
	start := boilReachedTime
	if method == "pressure" {
		start = pressureReachedTime
	}
	var r scenarios.Record
	var stretch, lost, up, off time.Time
	changed := false
	for _, t := range times {
		begun := !r.Start.IsZero()
		switch {
		case t.What == newLoadTime:
			r, changed = scenarios.Record{}, false
			stretch, lost, up, off = time.Time{}, time.Time{}, time.Time{}, time.Time{}
		case t.What == clockChangedTime:
			changed = true
		case t.What == start && !begun:
			r.Start, stretch = t.At, t.At
		case !begun:
			// Nothing counts before the start.
		case t.What == start || t.What == againTime:
			from := t.At
			switch {
			case !lost.IsZero():
				from = lost
			case !off.IsZero():
				from = off
			}
			r.Interruptions = append(r.Interruptions, scenarios.Interruption{From: from, To: t.At})
			stretch, lost, up, off = t.At, time.Time{}, time.Time{}, time.Time{}
		case t.What == lostTime && lost.IsZero() && off.IsZero():
			lost = t.At
			if !up.IsZero() {
				// It was found when the time was up; nobody saw when it happened, so
				// nothing of this stretch counts.
				lost, up = stretch, time.Time{}
			}
		case t.What == timeUpTime && lost.IsZero() && off.IsZero():
			up = t.At
		case t.What == heatOffTime && off.IsZero():
			off = t.At
		}
	}
	if changed {
		return scenarios.Record{}
	}
	r.Finished = up
	if !off.IsZero() {
		r.Finished = off
		if !lost.IsZero() {
			r.Interruptions = append(r.Interruptions, scenarios.Interruption{From: lost, To: off})
		}
	}
	return r
}
