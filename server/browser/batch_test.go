package browser_test

import (
	"bytes"
	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/jpeg"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"rollingboil/server"
)

const classPassword = "kettle harbor velvet"

// fill types into the fields of the form that has the focus of the page: by their ids,
// with the keyboard.
func (b *tab) write(values ...string) {
	b.Helper()
	for i := 0; i < len(values); i += 2 {
		ask[bool](b, fmt.Sprintf(`(document.getElementById(%q).value = "") === ""`, values[i]))
		b.do("type into "+values[i], chromedp.SendKeys(field(values[i]), values[i+1]))
	}
}

// setDates sets fields for days and times, which browsers draw in ways of their own.
func (b *tab) setDates(values ...string) {
	b.Helper()
	for i := 0; i < len(values); i += 2 {
		ask[bool](b, fmt.Sprintf(`(document.getElementById(%q).value = %q) !== ""`, values[i], values[i+1]))
	}
}

// holdClass makes an account and a class, and returns the class's address and code.
func (b *tab) holdClass() (class, code string) {
	b.Helper()
	link, err := server.Invite(b.Context(), b.store, time.Now())
	if err != nil {
		b.Fatal(err)
	}
	b.open(link, 200)
	b.write("name", "Ida Field", "password", classPassword)
	b.follow("Make the account", 200)
	b.follow("Make a class", 200)
	b.write("name", "Thursday evening", "altitude", "6240 ft")
	b.follow("Make the class", 200)
	b.reads("h1", "Thursday evening")
	return b.path(), b.text(".spelled")
}

// join joins a class as a student.
func (b *tab) join(code, name string) {
	b.Helper()
	b.open("/class", 200)
	b.follow("Join with a class code", 200)
	b.write("code", code, "name", name, "password", classPassword)
	b.follow("Join", 200)
}

// assignBatch assigns one load of crushed tomatoes that must be as tested.
func (b *tab) assignBatch(class string) {
	b.Helper()
	b.open(class+"/assign", 200)
	ask[bool](b, `(document.getElementById("what").value = "batch tomatoes-crushed") !== ""`)
	b.do("as tested", chromedp.Click(chromedp.CSS("input[name=as-tested]")))
	b.setDates("opens", "2026-01-01T08:00", "due", "2099-01-01T08:00")
	b.follow("Assign it", 200)
}

// writePlan writes the plan of a batch and keeps it.
func (b *tab) writePlan(acid string) {
	b.Helper()
	b.choose("pack", "hot")
	b.choose("method", "boiling water")
	b.choose("jar", "quart")
	b.typeIn("altitude", "6240 ft")
	b.typeIn("time", "60 min") // USDA Guide 3, p. 3-8
	b.typeIn("headspace", "1/2 in")
	b.choose("acid.kind", acid)
	if acid != "no acid" {
		b.typeIn("acid.per_jar", "2 tbsp")
	}
	b.follow("Check and keep this plan", 200)
}

// TestBatchFromEndToEnd: an instructor makes a class, two students join, one of them
// with work from before; a batch is assigned, planned, refused, mended, recorded with a
// photo, sent back and accepted. All at the width of a phone.
func TestBatchFromEndToEnd(t *testing.T) {
	t.Parallel()
	teacher := openTab(t)
	teacher.look(phone, light)
	class, code := teacher.holdClass()

	ann := teacher.somebodyElse()
	ann.look(phone, light)
	checked(tomatoes(), 200)(ann) // work from before
	ann.join(code, "Ann Orchard")
	ann.open("/my-work", 200)
	ann.reads("main", "Crushed tomatoes")
	ben := teacher.somebodyElse()
	ben.look(phone, dark)
	ben.join(code, "Ben Orchard")

	teacher.assignBatch(class)
	teacher.reads("main", "One load: crushed tomatoes")

	ann.open(class, 200)
	ann.follow("One load", 200)
	ann.follow("Begin", 200)
	ann.writePlan("no acid")
	ann.reads("main", "cannot be sent in")
	ann.follow("Change the plan", 200)
	ann.writePlan("bottled lemon juice")
	ann.follow("Send the plan in", 200)
	batch, _, _ := strings.Cut(ann.path(), "#")
	ben.open(batch, 404)

	teacher.open(class, 200)
	teacher.follow("A plan to look at", 200)
	teacher.reads("main", "Ann Orchard")
	teacher.follow("Nothing against it", 200)

	ann.open(batch, 200)
	ann.follow("Write the record", 200)
	ann.setDates("start", "2026-08-20T14:30", "finished", "2026-08-20T15:30")
	ann.write("lot", "blue box", "count", "2")
	ann.follow("Show so many jars", 200)
	ann.write("checked", "14 h")
	for n, sealed := range map[int]string{1: "sealed", 2: "not sealed"} {
		ann.choose(fmt.Sprintf("sealed-%d", n), sealed)
		ann.choose(fmt.Sprintf("liquid-%d", n), "none")
		ann.choose(fmt.Sprintf("looks-%d", n), "clear")
	}
	ann.choose("placed-1", "on the shelf")
	ann.choose("placed-2", "in the refrigerator")
	ann.follow("Keep the record", 200)
	ann.reads("main", "blue box")

	ann.choosePhoto(jarPhoto(t))
	ann.follow("Add the photo", 200)
	ann.waitFor("the photo", `document.querySelector(".photos img")?.complete && document.querySelector(".photos img").naturalWidth > 0`)
	ann.follow("Send the record in", 200)

	teacher.open(class, 200)
	teacher.follow("A record to review", 200)
	teacher.write("judge-says", "Which box were the lids from?")
	teacher.follow("Send the record back", 200)
	ann.open(class, 200)
	ann.follow("The record came back", 200)
	ann.reads("main", "Which box were the lids from?")
	ann.follow("Change the record", 200)
	if got := ask[string](ann, `document.getElementById("lot").value`); got != "blue box" {
		t.Errorf("the record begins with the lot %q, want what was kept", got)
	}
	ann.write("lot", "blue box, second row")
	ann.follow("Keep the record", 200)
	ann.follow("Send the record in", 200)
	teacher.open(batch, 200)
	teacher.follow("Accept the batch", 200)
	ann.open(class, 200)
	ann.reads("main", "done")
}

// choosePhoto puts a file into the field for a photo, as choosing it does.
func (b *tab) choosePhoto(file string) {
	b.Helper()
	b.do("choose a photo", chromedp.SetUploadFiles(chromedp.CSS("#photo"), []string{file}))
}

// batchVisits are the pages of a batch in its states.
func batchVisits() []visit {
	begun := func(b *tab) (batch string) {
		class, code := b.holdClass()
		b.assignBatch(class)
		b.open("/class", 200)
		b.follow("Log out", 200)
		b.join(code, "Ann Orchard")
		b.follow("One load", 200)
		b.follow("Begin", 200)
		return strings.TrimSuffix(b.path(), "/plan")
	}
	planned := func(b *tab) string {
		batch := begun(b)
		b.send("main form", map[string]string{"pack": "hot", "method": "boiling-water", "jar": "quart", "altitude": "6240 ft", "time": "60 min", "headspace": "1/2 in", "acid.kind": "bottled-lemon-juice", "acid.per_jar": "2 tbsp"}, 200)
		b.follow("Send the plan in", 200)
		return batch
	}
	return []visit{
		{"batch-plan", func(b *tab) { begun(b) }},
		{"batch-new", func(b *tab) { b.open(begun(b), 200) }},
		{"batch-sent", func(b *tab) { planned(b) }},
		{"batch-record", func(b *tab) { b.open(planned(b)+"/record", 200) }},
		{"batch-recorded", func(b *tab) {
			b.open(planned(b)+"/record", 200)
			b.send("main form", map[string]string{"start": "2026-08-20T14:30", "finished": "2026-08-20T15:30", "count": "7", "checked": "14 h", "sealed-1": "true", "liquid-1": "none", "sealed-2": "false", "placed-2": "shelf"}, 200)
		}},
		{"batch-record-twice", func(b *tab) { // in Denver the clocks went back that night
			b.open(planned(b)+"/record", 200)
			b.send("main form", map[string]string{"zone": "America/Denver", "start": "2026-11-01T01:30", "finished": "2026-11-01T02:10", "lost-1": "2026-11-01T01:45", "again-1": "2026-11-01T01:50", "count": "1"}, 422)
		}},
		{"batch-version", func(b *tab) { b.open(planned(b)+"/versions/1", 200) }},
	}
}

// jarPhoto is a file with a photo, or what passes for one.
func jarPhoto(t *testing.T) string {
	t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, 800, 1200))
	draw.Draw(picture, picture.Bounds(), image.NewUniform(color.RGBA{R: 190, G: 60, B: 40, A: 255}), image.Point{}, draw.Src)
	var b bytes.Buffer
	if err := jpeg.Encode(&b, picture, nil); err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "jar.jpg")
	if err := os.WriteFile(file, b.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	return file
}
