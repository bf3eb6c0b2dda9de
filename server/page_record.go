package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// The record of a batch: clock times and each jar. It is written as a batch file and
// read back by the same reader that reads everybody's, so the page can neither say more
// nor less than a file.

type recordPage struct {
	page
	*work
	Zone        string
	Start       string // what the start is called: the boil, or the pressure
	Times       []input
	Gaps        [][2]input
	Jars        []jarForm
	Count       input
	Lot         input
	CheckedAt   input
	LidKind     string
	After       string // how many versions there were when the form was made
	Changed     bool
	Blocked     string // why no record can be kept now
	Method      string // of the plan that the times are asked for
	Wrong       []string
	SealsFrom   string
	TooEarly    bool
	FromKitchen bool
}

type jarForm struct {
	N      int
	Fields []choiceField
}

type choiceField struct {
	Key, Label string
	Options    []optionLine
	Said       string
}

// What can be said of a jar: the batch file's words, and how they are read.
var jarFields = []struct {
	key, name, label string
	words            []optionLine
}{
	{"sealed", "sealed", "Sealed", []optionLine{{"true", "sealed"}, {"false", "not sealed"}}},
	{"liquid_lost", "liquid", "Liquid lost", []optionLine{{"none", "none"}, {"some", "some, less than half"}, {"half-or-more", "half or more"}}},
	{"separated", "separated", "Separated", []optionLine{{"false", "no"}, {"true", "a watery layer"}}},
	{"looks", "looks", "Looks", []optionLine{{"clear", "clear"}, {"cloudy", "cloudy"}, {"bubbles", "bubbles rise"}, {"bulging", "lid bulges"}, {"leaking", "leaks"}, {"mold", "mold"}}},
	{"placed", "placed", "It went", []optionLine{{"shelf", "on the shelf"}, {"fridge", "in the refrigerator"}, {"freezer", "in the freezer"}, {"reprocessed", "back in the canner"}, {"discarded", "away"}}},
}

// gapRows is how often the boil may have been lost, in the form.
const gapRows = 3

// mostJarRows is how many jars the form shows: above any canner's load.
const mostJarRows = 30

func (s *Server) recordPage(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	if !w.cooks() {
		return seeOther(c, "/batches/"+w.ID)
	}
	typed, err := s.recordStart(c, w)
	if err != nil {
		return err
	}
	return s.showRecord(c, http.StatusOK, w, typed, nil)
}

// recordStart is what the form shows first: the last record, or the clock times of the
// kitchen sheet.
func (s *Server) recordStart(c *gin.Context, w *work) (url.Values, error) {
	zone := s.zoneFor(c, w)
	typed := url.Values{"zone": {zone.String()}, "count": {"7"}, "after": {strconv.Itoa(len(w.Versions))}}
	v := w.last(store.RecordVersion)
	if v == nil {
		r, err := s.kitchenRecord(c, w)
		if err != nil {
			return nil, err
		}
		setTimes(typed, r, zone)
		return typed, nil
	}
	b, _, err := s.course.Grader.ParseFile("", v.File)
	if err != nil {
		return nil, fmt.Errorf("read a kept batch: %w", err)
	}
	setTimes(typed, b.Record, zone)
	typed.Set("lot", v.Lot)
	typed.Set("count", strconv.Itoa(max(1, len(b.Record.Jars))))
	for _, j := range b.Record.Jars {
		set := func(key string, known bool, word string) {
			if known {
				typed.Set(fmt.Sprintf("%s-%d", key, j.N), word)
			}
		}
		set("sealed", j.Sealed.Known, strconv.FormatBool(j.Sealed.Value))
		set("liquid", j.LiquidLost.Known, j.LiquidLost.Value)
		set("separated", j.Separated.Known, strconv.FormatBool(j.Separated.Value))
		set("looks", j.Looks.Known, j.Looks.Value)
		set("placed", j.Placed.Known, j.Placed.Value)
		if j.CheckedAfter.Known {
			typed.Set("checked", j.CheckedAfter.Text)
		}
	}
	return typed, nil
}

// setTimes puts clock times into the form, to the minute as a browser shows them, and
// beside each the exact one, which counts as long as the shown one is not changed: an
// hour that comes twice in the night the clocks go back is then still the right one.
func setTimes(typed url.Values, r scenarios.Record, zone *time.Location) {
	set := func(key string, t time.Time) {
		if !t.IsZero() {
			typed.Set(key, t.In(zone).Format(localTime))
			typed.Set(key+"-exact", t.In(zone).Format(time.RFC3339))
		}
	}
	set("start", r.Start)
	set("finished", r.Finished)
	for i, gap := range r.Interruptions {
		set(fmt.Sprintf("lost-%d", i+1), gap.From)
		set(fmt.Sprintf("again-%d", i+1), gap.To)
	}
}

func (s *Server) showRecord(c *gin.Context, status int, w *work, typed url.Values, wrong map[string]string) error {
	data := recordPage{page: newPage("Record: "+w.Assignment.Title, "/class/"+w.Class.ID), work: w, Zone: typed.Get("zone")}
	plan, err := s.cookedBy(w)
	if err != nil {
		return err
	}
	data.Start, data.Method = "The boil was full and rolling", plan.Method.Value
	if plan.Method.Value == "pressure" {
		data.Start = "The pressure was reached"
	}
	if plan.Known("lids.kind") {
		data.LidKind = sayWord("lids.kind", plan.Text("lids.kind"))
	}
	zone := formZone(typed)
	clock := func(key, label string) input {
		in := input{Key: key, Label: label, Kind: "datetime-local", Value: typed.Get(key), Wrong: wrong[key], Exact: typed.Get(key + "-exact")}
		in.Readings = readings(in.Value, in.Exact, zone)
		return in
	}
	data.Times = []input{clock("start", data.Start), clock("finished", "The heat went off")}
	rows := gapRows
	for typed.Get(fmt.Sprintf("lost-%d", rows)) != "" {
		rows++
	}
	told := []string{"start", "finished"}
	for i := 1; i <= rows; i++ {
		told = append(told, fmt.Sprintf("lost-%d", i), fmt.Sprintf("again-%d", i))
		data.Gaps = append(data.Gaps, [2]input{clock(fmt.Sprintf("lost-%d", i), "Lost"), clock(fmt.Sprintf("again-%d", i), "Back again")})
	}
	data.Count = input{Key: "count", Label: "How many jars", Kind: "number", Value: typed.Get("count"), Wrong: wrong["count"]}
	data.Lot = input{Key: "lot", Label: "Lids", Means: "Box or lot, as it is printed or as you call it. With it the class sees whether lids or method fail.", Kind: "text", Value: typed.Get("lot"), Wrong: wrong["lot"], Complete: "off"}
	data.CheckedAt = input{Key: "checked", Label: "The seals were read how long after", Means: "14 h. Leave it empty while they are not read.", Kind: "text", Value: typed.Get("checked"), Wrong: wrong["checked"], Complete: "off"}
	n, err := strconv.Atoi(typed.Get("count"))
	if err != nil {
		n = 7
	}
	for i := 1; i <= min(max(n, 1), mostJarRows); i++ {
		jar := jarForm{N: i}
		for _, f := range jarFields {
			key := fmt.Sprintf("%s-%d", f.name, i)
			jar.Fields = append(jar.Fields, choiceField{Key: key, Label: f.label, Options: f.words, Said: typed.Get(key)})
		}
		data.Jars = append(data.Jars, jar)
	}
	data.After, data.Blocked = typed.Get("after"), w.recordBlocked()
	// One who was told of the change may keep this one after all.
	if data.Changed = data.Blocked == "" && (status == http.StatusConflict || overtaken(typed, w, store.RecordVersion)); data.Changed {
		data.After = strconv.Itoa(len(w.Versions))
	}
	for _, key := range append(told, "count", "checked", "lot", "record") {
		if wrong[key] != "" {
			data.Wrong = append(data.Wrong, wrong[key])
		}
	}
	if t, err := clockTime(typed, "finished", zone); err == nil && !t.IsZero() {
		from, _, err := sealTimes(t)
		if err != nil {
			return err
		}
		data.SealsFrom, data.TooEarly = clockText(from, s.zoneFor(c, w)), s.now().Before(from)
	}
	return s.write(c.Writer, c.Request, status, "record", data)
}

// cookedBy is the plan that was sent in last; an empty one before, for which nothing can
// be kept.
func (s *Server) cookedBy(w *work) (scenarios.Plan, error) {
	v := w.sentPlan()
	if v == nil {
		return scenarios.Plan{}, nil
	}
	return s.course.Grader.ParsePlan("", v.File)
}

// recordBlocked says why no record can be kept now, and what to do; "" if one can.
func (w *work) recordBlocked() string {
	if w.cooks() {
		return ""
	}
	switch w.state() {
	case store.PlanBack:
		return "Your instructor sent the plan back. Change the plan and send it in again, in another tab; then keep the record here."
	case store.RecordSent:
		return "The record is sent in, and stays as it is until your instructor has looked at it. If something in it is wrong, write that to your instructor on the batch’s page. When it comes back, you can keep this one here."
	case store.Accepted:
		return "The batch is accepted, so its record stays as it is. If something in it is wrong, write that to your instructor on the batch’s page."
	}
	return "No plan was sent in yet. Send the plan in first, in another tab; then keep the record here."
}

func (s *Server) recordBatch(c *gin.Context) error {
	w, err := s.ownBatch(c)
	if err != nil {
		return err
	}
	typed, err := form(c)
	if err != nil {
		return err
	}
	if w.recordBlocked() != "" {
		return s.showRecord(c, http.StatusConflict, w, typed, nil)
	}
	if typed.Get("do") == "rows" {
		return s.showRecord(c, http.StatusOK, w, typed, nil)
	}
	plan, err := s.cookedBy(w)
	if err != nil {
		return err
	}
	text, wrong := recordText(typed, plan.Method.Value)
	// The plan may be another one than when the form was made.
	switch pressure := plan.Method.Value == "pressure"; {
	case typed.Get("start") == "" || wrong["start"] != "" || pressure == (typed.Get("method") == "pressure"):
	case pressure:
		wrong["start"] = "By the plan that is sent in now you use a pressure canner: write when the pressure was reached."
	default:
		wrong["start"] = "By the plan that is sent in now you use no pressure canner: write when the boil was full and rolling."
	}
	lot := strings.Join(strings.Fields(typed.Get("lot")), " ")
	if utf8.RuneCountInString(lot) > 80 {
		wrong["lot"] = "Too long: 80 letters are the most."
	}
	if len(wrong) > 0 {
		return s.showRecord(c, http.StatusUnprocessableEntity, w, typed, wrong)
	}
	file := "plan:\n" + indented(string(plan.YAML())) + text
	b, _, err := s.course.Grader.ParseFile("", []byte(file))
	if problems := scenarios.Problems(err); len(problems) > 0 {
		wrong[recordField(problems[0].Key)] = problems[0].Message
		return s.showRecord(c, http.StatusUnprocessableEntity, w, typed, wrong)
	} else if err != nil {
		return err
	}
	if overtaken(typed, w, store.RecordVersion) {
		return s.showRecord(c, http.StatusConflict, w, typed, nil)
	}
	report := s.course.Grader.GradeBatch(b)
	raw, err := json.Marshal(report)
	if err != nil {
		return err
	}
	err = s.store.AddBatchVersion(c.Request.Context(), store.BatchVersion{
		Batch: w.ID, N: w.next(), Kind: store.RecordVersion, File: []byte(file), Report: raw, Verdict: string(report.Verdict), Lot: lot, Version: s.course.Grader.Version(), At: s.now(),
	}, cooking...)
	if errors.Is(err, store.ErrChanged) {
		if w, err = s.ownBatch(c); err != nil {
			return err
		}
		return s.showRecord(c, http.StatusConflict, w, typed, nil)
	}
	if err != nil {
		return err
	}
	return seeOther(c, "/batches/"+w.ID+"#record")
}

// recordField is the line of the form a problem of the file belongs to.
func recordField(key string) string {
	switch key {
	case "record.boil_reached", "record.pressure_reached":
		return "start"
	case "record.finished":
		return "finished"
	}
	return "record"
}

// formZone is the zone in which the times of a form are typed.
func formZone(typed url.Values) *time.Location {
	zone, err := time.LoadLocation(typed.Get("zone"))
	if err != nil {
		return time.UTC
	}
	return zone
}

// errTwice: the clocks went back that night and showed the time twice.
var errTwice = errors.New("the clocks of the zone showed this time twice")

// clockTime reads a clock time of the form, zero for none. The exact time beside it counts
// if it is shown so; a time that was shown twice is told by nothing else.
func clockTime(typed url.Values, key string, zone *time.Location) (time.Time, error) {
	value := strings.TrimSpace(typed.Get(key))
	if value == "" {
		return time.Time{}, nil
	}
	if exact, err := time.Parse(time.RFC3339, typed.Get(key+"-exact")); err == nil && exact.In(zone).Format(localTime) == value {
		return exact.In(zone), nil
	}
	first, last, err := instants(value, zone)
	if err != nil {
		return time.Time{}, err
	}
	if !first.Equal(last) {
		return time.Time{}, errTwice
	}
	return first, nil
}

// readings are the two times that a clock time may be of the night the clocks went back,
// to choose from; nil for every other one.
func readings(typed, exact string, zone *time.Location) []formOption {
	first, last, err := instants(strings.TrimSpace(typed), zone)
	if err != nil || first.Equal(last) {
		return nil
	}
	chosen, _ := time.Parse(time.RFC3339, exact) // zero for none
	option := func(which string, t time.Time, when string) formOption {
		o := formOption{Name: fmt.Sprintf("the %s %s, %s the clocks went back (UTC%s)", which, t.Format("15:04"), when, strings.Replace(t.Format("-07:00"), "-", "−", 1))}
		if o.Chosen = chosen.Truncate(time.Minute).Equal(t); o.Chosen {
			t = chosen.In(zone) // with its seconds
		}
		o.Word = t.Format(time.RFC3339)
		return o
	}
	return []formOption{option("first", first, "before"), option("second", last, "after")}
}

// recordText writes the form as the record of a batch file. What cannot be read is told
// by the form's own keys.
func recordText(typed url.Values, method string) (string, map[string]string) {
	wrong := map[string]string{}
	zone := formZone(typed)
	clock := func(key string) string {
		t, err := clockTime(typed, key, zone)
		switch {
		case errors.Is(err, errTwice):
			_, hour, _ := strings.Cut(strings.TrimSpace(typed.Get(key)), "T")
			wrong[key] = hour + " came twice that night: the clocks went back. Choose which of the two it was."
		case errors.Is(err, errNoSuchTime):
			wrong[key] = "There was no such time that night: the clocks went forward. Look at it again."
		case err != nil:
			wrong[key] = "Write it as day and time: 2026-08-20T14:30."
		case !t.IsZero():
			return t.Format(time.RFC3339)
		}
		return ""
	}
	var b strings.Builder
	b.WriteString("record:\n")
	start := "boil_reached"
	if method == "pressure" {
		start = "pressure_reached"
	}
	for _, line := range []struct{ name, key string }{{start, "start"}, {"finished", "finished"}} {
		if t := clock(line.key); t != "" {
			fmt.Fprintf(&b, "  %s: %s\n", line.name, t)
		}
	}
	var gaps []string
	for i := 1; i <= mostJarRows; i++ {
		lost, again := fmt.Sprintf("lost-%d", i), fmt.Sprintf("again-%d", i)
		from, to := clock(lost), clock(again)
		switch {
		case from == "" && to == "":
		case from == "" && wrong[lost] == "":
			wrong[lost] = "When was it lost?"
		case to == "" && wrong[again] == "":
			wrong[again] = "When was it back?"
		default:
			gaps = append(gaps, fmt.Sprintf("{from: %s, to: %s}", from, to))
		}
	}
	fmt.Fprintf(&b, "  interruptions: [%s]\n", strings.Join(gaps, ", "))
	n, err := strconv.Atoi(strings.TrimSpace(typed.Get("count")))
	if err != nil || n < 1 || n > mostJarRows {
		wrong["count"] = fmt.Sprintf("A whole number from 1 to %d.", mostJarRows)
		return "", wrong
	}
	b.WriteString("  jars:\n")
	for i := 1; i <= n; i++ {
		fmt.Fprintf(&b, "    - {n: %d", i)
		for _, f := range jarFields {
			if word := typed.Get(fmt.Sprintf("%s-%d", f.name, i)); word != "" {
				fmt.Fprintf(&b, ", %s: %s", f.key, strconv.Quote(word))
			}
		}
		if after := strings.TrimSpace(typed.Get("checked")); after != "" {
			fmt.Fprintf(&b, ", checked_after: %s", strconv.Quote(after))
		}
		b.WriteString("}\n")
	}
	return b.String(), wrong
}

func indented(text string) string {
	var b strings.Builder
	for line := range strings.Lines(text) {
		b.WriteString("  " + line)
	}
	return b.String()
}
