package browser_test

import (
	"context"
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/cdproto/page"

	"rollingboil/server"
	"rollingboil/server/store"
)

// The page for a class of trials: the plan of crushed tomatoes that the guides print,
// USDA Guide 3, p. 3-8, and the same in an oven, which has no tested process.
const (
	trialTested   = "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"
	trialShortcut = "food: tomatoes-crushed\npack: hot\nmethod: oven\njar: quart\naltitude: 6240 ft\ntime: 60 min\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"
	trialFormAt   = "main form"
)

// trialVisits lists the pages on which an instructor counts jars.
func trialVisits() []visit {
	return []visit{
		{"seals-empty", func(b *tab) { b.open(b.trialClass()+"/seals", 200) }},
		{"seals", func(b *tab) { b.open(b.sealedClass()+"/seals", 200) }},
		{"seals-compared", func(b *tab) {
			b.open(b.sealedClass()+"/seals?by=lot&a=blue+box&b=green+box", 200)
			b.reads("#compared", "chance alone")
		}},
		{"trials-empty", func(b *tab) { b.open(b.trialClass()+"/trials", 200) }},
		{"trials", func(b *tab) { b.trial(); b.follow(": trials", 200) }},
		{"trial-new", func(b *tab) { b.open(b.trialClass()+"/trials/new", 200) }},
		{"trial-new-unreadable", func(b *tab) {
			b.open(b.trialClass()+"/trials/new", 200)
			b.send(trialFormAt, map[string]string{"question": "", "name-1": "", "plan-1": "time: soon\nheat: high"}, 422)
		}},
		{"trial", func(b *tab) { b.open(b.trial(), 200); b.reads("h1", "not safe as written") }},
		{"trial-of-tens", func(b *tab) { b.open(b.trialOfTens()+"?as=class", 200); b.reads("main", "Students, in tens") }},
		{"trial-with-every-load", func(b *tab) { b.open(b.trialOfTens(), 200); b.reads("main", "the page as the class sees it") }},
		{"trial-workbook", func(b *tab) {
			b.open(b.trial()+"/workbook", 200)
			ask[bool](b, `document.querySelectorAll("details").forEach(d => d.open = true) ?? true`)
		}},
		{"trial-entry", func(b *tab) { b.open(b.trial()+"/entry?variant=2", 200) }},
		{"trial-entry-unreadable", func(b *tab) {
			b.open(b.trial()+"/entry", 200)
			b.keepLoad(map[string]string{"minutes": "an hour", "ph": "sour", "yield": "all"}, 422)
		}},
		{"trial-entry-again", func(b *tab) { b.open(b.trial()+"/entry?replaces=1", 200) }},
		{"trial-variant", func(b *tab) { b.open(b.trial()+"/variant", 200) }},
	}
}

// trialClass makes an instructor with a class, and gives its path.
func (b *tab) trialClass() string {
	b.Helper()
	link, err := server.Invite(context.Background(), b.store, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	b.open(link, 200)
	b.send(trialFormAt, map[string]string{"name": "Ida Field", "password": "kettle harbor velvet"}, 200)
	b.open("/class/new", 200)
	b.send(trialFormAt, map[string]string{"name": "Thursday at the Grange", "altitude": "6240 ft"}, 200)
	return b.path()
}

// sealedClass is a class of which two students have each sent in a load, with lids of
// different boxes.
func (b *tab) sealedClass() string {
	b.Helper()
	path := b.trialClass()
	class := path[strings.LastIndex(path, "/")+1:]
	for name, lot := range map[string]string{"Cora Lake": "blue box", "Dell Brook": "green box"} {
		b.cooked(class, name, lot, lot == "green box")
	}
	return path
}

// cooked adds a student to a class with a record of three jars that was sent in, and gives
// the batch.
func (b *tab) cooked(class, name, lot string, sealed bool) string {
	b.Helper()
	now := time.Now()
	keep := func(err error) {
		b.Helper()
		if err != nil {
			b.Fatal(err)
		}
	}
	load := store.Assignment{ID: store.NewID(), Class: class, Kind: "batch", About: "tomatoes-crushed", Title: "Crushed tomatoes", Settings: []byte("{}"), Opens: now, Due: now, Made: now}
	keep(b.store.Assign(b.ctx, load))
	student := store.Person{Visitor: store.NewID(), Role: store.Student, Name: name, Password: "none", Sessions: 1, Joined: now}
	keep(b.store.Join(b.ctx, class, student, false))
	batch, err := b.store.BeginBatch(b.ctx, store.Batch{ID: store.NewID(), Visitor: student.Visitor, Assignment: load.ID, Made: now})
	keep(err)
	file := []byte("plan:\n  " + strings.ReplaceAll(strings.TrimSpace(trialTested), "\n", "\n  ") + "\nrecord:\n  jars: [{n: 1, sealed: true}, {n: 2, sealed: " + strconv.FormatBool(sealed) + "}, {n: 3, sealed: true}]\n")
	record, _, err := course.Grader.ParseFile("", file)
	keep(err)
	report, err := json.Marshal(course.Grader.GradeBatch(record))
	keep(err)
	keep(b.store.AddBatchVersion(b.ctx, store.BatchVersion{Batch: batch.ID, N: 1, Kind: store.RecordVersion, File: file, Report: report, Lot: lot, At: now}, ""))
	keep(b.store.AddBatchEvent(b.ctx, batch.ID, store.BatchEvent{What: store.RecordSent, N: 1, At: now}, ""))
	return batch.ID
}

// trialOfTens is a trial with loads of ten students in each of its two ways.
func (b *tab) trialOfTens() string {
	b.Helper()
	path := b.trial()
	parts := strings.Split(path, "/")
	for i := range 20 {
		batch := b.cooked(parts[2], fmt.Sprintf("Cook Number %d", i+1), "blue box", i%3 == 0)
		if err := b.store.AddBatchEvent(b.ctx, batch, store.BatchEvent{What: store.Accepted, N: 1, ByInstructor: true, At: time.Now()}, store.RecordSent); err != nil {
			b.Fatal(err)
		}
		e := store.TrialEntry{Form: store.NewID(), Variant: 1 + i%2, Kind: store.LinkedEntry, Batch: batch, Load: []byte("{}"), At: time.Now()}
		if err := b.store.AddTrialEntry(b.ctx, parts[4], e); err != nil {
			b.Fatal(err)
		}
	}
	return path
}

// trial makes a trial with two loads of each of two ways, and gives its path.
func (b *tab) trial() string {
	b.Helper()
	b.open(b.trialClass()+"/trials/new", 200)
	b.send(trialFormAt, map[string]string{
		"question": "Does the oven do as well?", "name-1": "Canner", "lids-1": "blue box", "plan-1": trialTested, "name-2": "Oven", "plan-2": trialShortcut,
	}, 200)
	path := strings.TrimSuffix(b.path(), "/workbook")
	for i, way := range []string{"1", "1", "2", "2"} {
		b.open(path+"/entry", 200)
		load := map[string]string{"variant": way, "minutes": "95", "yield": "7", "ph": "4.2", "ph-by": "meter", "note": "The third jar stood near the wall."}
		for _, jar := range []string{"1", "2", "3", "4", "5", "6", "7"} {
			load["sealed-"+jar], load["liquid-"+jar], load["watery-"+jar] = "true", "none", "false"
		}
		if i == 0 {
			load["sealed-1"], load["sealed-2"], load["liquid-3"], load["watery-4"] = "false", "false", "half-or-more", "true"
		}
		b.keepLoad(load, 200)
	}
	return path
}

// keepLoad fills in the form for a load and keeps it.
func (b *tab) keepLoad(load map[string]string, status int64) {
	b.Helper()
	for key, value := range load {
		b.set(trialFormAt, key, value)
	}
	b.follow("Keep the load", status)
}

// pageObject is a page in a PDF (ISO 32000, 7.7.3.3), not the tree of pages.
var pageObject = regexp.MustCompile(`/Type\s*/Page\b`)

// TestTrialOnOneSheet: printed, the page of a trial fits one sheet, with the verdict and
// the cautions on it, and leaves the navigation out.
func TestTrialOnOneSheet(t *testing.T) {
	t.Parallel()
	b := openTab(t)
	path := b.trial()
	b.onOneSheet(path)
	b.open(path+"/variant", 200)
	b.send(trialFormAt, map[string]string{"name-1": "Half the time, no acid", "plan-1": "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\ntime: 30 min\nheadspace: 1/2 in\nacid: {kind: none}\nlids: {state: used}\n"}, 200)
	b.open(path+"/entry", 200)
	b.keepLoad(map[string]string{"variant": "3", "sealed-1": "false", "sealed-2": "true", "liquid-1": "some", "liquid-2": "none", "watery-1": "true", "watery-2": "false"}, 200)
	b.onOneSheet(path)
	tens := openTab(t)
	tens.onOneSheet(tens.trialOfTens() + "?as=class")
}

// onOneSheet prints a page on both usual papers.
func (b *tab) onOneSheet(path string) {
	b.Helper()
	b.open(path, 200)
	for _, paper := range []struct {
		name          string
		width, height float64
	}{{"Letter", 8.5, 11}, {"A4", 8.27, 11.69}} {
		// Chromium tells how many pages a PDF has only in the PDF: each is an object of the type Page.
		pdf := call(b, page.PrintToPDF, page.PrintToPDFParams{PaperWidth: paper.width, PaperHeight: paper.height, GenerateTaggedPDF: new(bool)}).Data
		if n := len(pageObject.FindAll(pdf, -1)); n != 1 {
			b.Errorf("%s: the trial takes %d sheets, want 1", paper.name, n)
		}
	}
}
