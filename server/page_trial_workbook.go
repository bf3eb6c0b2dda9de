package server

import (
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

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
