package server

import (
	"fmt"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/net/html"
	"pgregory.net/rapid"

	"rollingboil/server/store"
)

// typedIn is what the page's form holds, by name.
func typedIn(t testing.TB, r response) map[string]string {
	t.Helper()
	held := map[string]string{}
	walk(parse(t, r.body), func(n *html.Node) {
		switch {
		case n.Data == "input" && attr(n, "type") != "radio" && attr(n, "type") != "checkbox":
			held[attr(n, "name")] = attr(n, "value")
		case n.Data == "textarea":
			held[attr(n, "name")] = text(n)
		case n.Data == "option" && has(n, "selected"):
			held[attr(n.Parent, "name")+attr(n.Parent.Parent, "name")] = attr(n, "value")
		case n.Data == "input" && has(n, "checked"):
			held[attr(n, "name")] += attr(n, "value") + " "
		}
	})
	return held
}

func has(n *html.Node, key string) bool {
	for _, a := range n.Attr {
		if a.Key == key {
			return true
		}
	}
	return false
}

// TestClassForm: what cannot be read is told beside its field, and all that was typed
// comes back.
func TestClassForm(t *testing.T) {
	t.Parallel()
	s, _ := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	for _, path := range []string{"/class/new", "/class/" + class.ID + "/change"} {
		for _, c := range []struct{ key, typed, want string }{
			{"name", "", "1 to 80 letters"},
			{"name", strings.Repeat("ö", 81), "1 to 80 letters"},
			{"name", "Autumn\u202eclass", "1 to 80 letters"},
			{"starts", "20 August", "2026-08-20"},
			{"starts", "2026-02-30", "2026-08-20"},
			{"weeks", "0", "from 1 to 52"},
			{"weeks", "53", "from 1 to 52"},
			{"weeks", "six", "from 1 to 52"},
			{"zone", "Denver", "America/Denver"},
			{"zone", "", "America/Denver"},
			{"zone", "Local", "America/Denver"}, // wherever the server stands
			{"zone", "../../etc/passwd", "America/Denver"},
			{"altitude", "6240", "an altitude unit: ft or m. Write it as 6 240 ft or 1 902 m."},
			{"altitude", "high up", "“high” is not what is expected here"},
			{"altitude", "99999 ft", "from -1500 to 30000 ft"},
			{"altitude", "", "Write it as 6 240 ft or 1 902 m."},
			{"canning-day", "in autumn", "2026-08-20"},
		} {
			form := classOf("Autumn <b>class</b>, “6 weeks”")
			form.Set(c.key, c.typed)
			got := held.post(path, form)
			if got.StatusCode != http.StatusUnprocessableEntity {
				t.Fatalf("%s with %s %q = %d", path, c.key, c.typed, got.StatusCode)
			}
			wrong := text(byID(parse(t, got.body), c.key+"-wrong"))
			if !strings.Contains(wrong, c.want) || strings.Contains(wrong, " at 1: ") || !strings.HasSuffix(wrong, ".") {
				t.Errorf("%s with %s %q says %q, want %q", path, c.key, c.typed, wrong, c.want)
			}
			for key, value := range typedIn(t, got) {
				if value != form.Get(key) {
					t.Errorf("%s with %s %q: %s comes back as %q, want %q", path, c.key, c.typed, key, value, form.Get(key))
				}
			}
			if n := strings.Count(got.body, `class="wrong"`); n != 1 {
				t.Errorf("%s with %s %q: %d fields are said to be wrong", path, c.key, c.typed, n)
			}
		}
	}
	if classes, err := s.store.Held(t.Context(), class.Instructor); err != nil || len(classes) != 1 {
		t.Errorf("%d classes, %v; want the one that was right", len(classes), err)
	}

	// A class is kept as it was typed, and its form begins with that.
	form := classOf("  Winter   class ")
	form.Set("altitude", "1902 m")
	form.Set("canning-day", "")
	form.Set("weeks", "1")
	page := held.post("/class/"+class.ID+"/change", form)
	held.wants(page, 200, "Winter class", "From 20 Aug 2026, 1 week", "1 902 m")
	again := typedIn(t, held.get("/class/"+class.ID+"/change"))
	if again["name"] != "Winter class" || again["weeks"] != "1" || again["zone"] != "America/Denver" || again["canning-day"] != "" || again["starts"] != "2026-08-20" {
		t.Errorf("the form begins with %v", again)
	}
	kept := held.post("/class/"+class.ID+"/change", url.Values{"name": {again["name"]}, "starts": {again["starts"]}, "weeks": {again["weeks"]}, "zone": {again["zone"]}, "altitude": {again["altitude"]}, "canning-day": {again["canning-day"]}})
	held.wants(kept, 200, "Winter class", "1 902 m")
}

func assignForm(what, opens, due string, students ...string) url.Values {
	form := url.Values{"what": {what}, "opens": {opens}, "due": {due}, "to": {"everyone"}, "note": {"Read it twice."}}
	if students != nil {
		form["to"], form["student"] = []string{"some"}, students
	}
	return form
}

// TestAssignForm: one of each kind, and what cannot be assigned.
func TestAssignForm(t *testing.T) {
	t.Parallel()
	s, _ := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	cora := s.browser().joins(class, "Cora Lake")
	path := "/class/" + class.ID + "/assign"
	begins := typedIn(t, held.get(path+"?what=lesson+headspace"))
	// Noon at Denver in summer is 18:00 UTC; due in a week at six in the evening.
	if begins["opens"] != "2026-08-20T12:00" || begins["due"] != "2026-08-27T18:00" || begins["what"] != "lesson headspace" {
		t.Errorf("the form begins with %v", begins)
	}
	for _, what := range []string{"lesson headspace", "questions headspace", "scenario quarts-moved-uphill", "batch tomatoes-crushed"} {
		held.wants(held.post(path, assignForm(what, "2026-08-20T12:00", "2026-08-27T18:00")), 200, "due Thu 27 Aug 2026, 18:00 MDT")
	}
	for name, c := range map[string]struct {
		change url.Values
		want   string
	}{
		"nothing":           {url.Values{"what": {""}}, "Choose what is to be done"},
		"no such kind":      {url.Values{"what": {"song headspace"}}, "Choose what is to be done"},
		"no such lesson":    {url.Values{"what": {"lesson none"}}, "Choose what is to be done"},
		"no such scenario":  {url.Values{"what": {"scenario none"}}, "Choose what is to be done"},
		"no tested process": {url.Values{"what": {"batch pumpkin-puree"}}, "Choose what is to be done"},
		"a long note":       {url.Values{"note": {strings.Repeat("ö", 2001)}}, "2 000 letters"},
		"no day":            {url.Values{"opens": {"tomorrow"}}, "2026-08-20T18:00"},
		"due first":         {url.Values{"due": {"2026-08-20T12:00"}}, "due after it opens"},
		"for nobody":        {url.Values{"to": {"some"}}, "Choose at least one student"},
		"for a stranger":    {url.Values{"to": {"some"}, "student": {class.Instructor}}, "no longer in the class"},
	} {
		form := assignForm("lesson headspace", "2026-08-20T12:00", "2026-08-27T18:00")
		for key, value := range c.change {
			form[key] = value
		}
		got := held.post(path, form)
		held.wants(got, 422, c.want)
		back := typedIn(t, got)
		for _, key := range []string{"opens", "due", "note"} {
			if back[key] != form.Get(key) {
				t.Errorf("%s: %s comes back as %.40q, want %.40q", name, key, back[key], form.Get(key))
			}
		}
	}
	if all, err := s.store.Assignments(t.Context(), class.ID); err != nil || len(all) != 4 {
		t.Errorf("%d assignments, %v; want 4", len(all), err)
	}
	// What was chosen is chosen still.
	form := assignForm("scenario quarts-moved-uphill", "2026-08-20T12:00", "2026-08-19T18:00", cora.Visitor)
	back := typedIn(t, held.post(path, form))
	if back["what"] != "scenario quarts-moved-uphill" || back["to"] != "some " || back["student"] != cora.Visitor+" " {
		t.Errorf("what was chosen comes back as %v", back)
	}
}

// TestAssignedToSome: those it is for see it, as it is: not open, due, past, done.
func TestAssignedToSome(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	cora, dan := s.browser(), s.browser()
	coraIs := cora.joins(class, "Cora Lake")
	danIs := dan.joins(class, "Dan Reed")
	path := "/class/" + class.ID
	held.wants(held.post(path+"/assign", assignForm("scenario quarts-moved-uphill", "2026-08-21T12:00", "2026-08-27T18:00", coraIs.Visitor, coraIs.Visitor)), 200, "for Cora Lake")
	held.wants(held.post(path+"/assign", assignForm("lesson altitude", "2026-08-20T12:00", "2026-08-26T18:00", coraIs.Visitor, danIs.Visitor)), 200, "for Cora Lake, Dan Reed")
	// Sent twice, it is assigned once; to others it is another.
	held.post(path+"/assign", assignForm("lesson altitude", "2026-08-20T12:00", "2026-08-26T18:00", danIs.Visitor, coraIs.Visitor))
	held.post(path+"/assign", assignForm("lesson altitude", "2026-08-20T12:00", "2026-08-26T18:00", danIs.Visitor))
	if all, err := s.store.Assignments(t.Context(), strings.TrimPrefix(path, "/class/")); err != nil || len(all) != 3 {
		t.Errorf("%d assignments, %v; want 3", len(all), err)
	}
	title := s.server.shipped.scenarioTitle("quarts-moved-uphill")
	cora.wants(cora.get(path), 200, title, "opens Fri 21 Aug 2026, 12:00 MDT", "Read it twice.", "due Wed 26 Aug 2026, 18:00 MDT")
	if got := dan.get(path); strings.Contains(says(t, got), title) || !strings.Contains(says(t, got), "due Wed 26 Aug 2026") {
		t.Errorf("the other student reads %q", says(t, got))
	}
	clock.pass(2 * day)
	held.post("/login", named("Ada Field"))
	cora.wants(cora.get(path), 200, "due Thu 27 Aug 2026, 18:00 MDT")
	clock.pass(6 * day)
	cora.wants(cora.get(path), 200, "was due Thu 27 Aug 2026, 18:00 MDT")

	// Taken out, a student sees nothing of the class, and what was for that student alone
	// is for nobody, not for everyone.
	held.post("/login", named("Ada Field"))
	held.wants(held.post(path+"/students/"+coraIs.Visitor+"/remove", nil), 200, "for nobody who is still here", "for Dan Reed")
	cora.wants(cora.get(path), 404)
	cora.wants(cora.get("/my-work"), 200)
	if got := dan.get(path); strings.Contains(says(t, got), title) {
		t.Error("what was for one student who left is for another")
	}
}

// TestBatchAssignedToNobodyAnyMore: what was assigned to one student, who has deleted
// everything since, is begun by nobody else.
func TestBatchAssignedToNobodyAnyMore(t *testing.T) {
	t.Parallel()
	s, _ := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	cora, dan := s.browser(), s.browser()
	coraIs := cora.joins(class, "Cora Lake")
	dan.joins(class, "Dan Reed")
	held.wants(held.post("/class/"+class.ID+"/assign", assignForm("batch peaches", "2026-08-20T12:00", "2026-08-26T18:00", coraIs.Visitor)), 200)
	all, err := s.store.Assignments(t.Context(), class.ID)
	if err != nil || len(all) != 1 {
		t.Fatal(all, err)
	}
	at := "/batches?assignment=" + all[0].ID
	cora.wants(cora.get(at), 200)
	dan.wants(dan.get(at), 404)
	cora.wants(cora.post("/my-work/forget", nil), 200)
	dan.wants(dan.get(at), 404)
	dan.wants(dan.post("/batches", url.Values{"assignment": {all[0].ID}}), 404)
}

// TestInstants: how the clocks of a zone run, from the time zone database (IANA tz,
// northamerica and australasia). At Denver they go forward on 8 March 2026 at 2:00
// (09:00 UTC) and back on 1 November 2026 at 2:00 (08:00 UTC); on Lord Howe Island they
// go back half an hour on 5 April 2026 at 2:00.
func TestInstants(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ zone, typed, first, last string }{
		{"America/Denver", "2026-03-08T01:59", "2026-03-08 08:59", "2026-03-08 08:59"},
		{"America/Denver", "2026-03-08T02:00", "", ""},
		{"America/Denver", "2026-03-08T02:30", "", ""},
		{"America/Denver", "2026-03-08T02:59", "", ""},
		{"America/Denver", "2026-03-08T03:00", "2026-03-08 09:00", "2026-03-08 09:00"},
		{"America/Denver", "2026-10-31T18:00", "2026-11-01 00:00", "2026-11-01 00:00"},
		{"America/Denver", "2026-11-01T00:59", "2026-11-01 06:59", "2026-11-01 06:59"},
		{"America/Denver", "2026-11-01T01:00", "2026-11-01 07:00", "2026-11-01 08:00"},
		{"America/Denver", "2026-11-01T01:30", "2026-11-01 07:30", "2026-11-01 08:30"},
		{"America/Denver", "2026-11-01T02:00", "2026-11-01 09:00", "2026-11-01 09:00"},
		{"America/Denver", "2026-11-01T18:00", "2026-11-02 01:00", "2026-11-02 01:00"},
		{"America/Phoenix", "2026-03-08T02:30", "2026-03-08 09:30", "2026-03-08 09:30"}, // changes nothing
		{"Australia/Lord_Howe", "2026-04-05T01:45", "2026-04-04 14:45", "2026-04-04 15:15"},
		{"UTC", "2026-03-08T02:30", "2026-03-08 02:30", "2026-03-08 02:30"},
	} {
		first, last, err := instants(c.typed, zoneOf(c.zone))
		if c.first == "" {
			if err == nil {
				t.Errorf("%s in %s is %v, want none", c.typed, c.zone, first)
			}
			continue
		}
		const layout = "2006-01-02 15:04"
		if got, then := first.UTC().Format(layout), last.UTC().Format(layout); err != nil || got != c.first || then != c.last {
			t.Errorf("%s in %s is %s to %s, %v; want %s to %s", c.typed, c.zone, got, then, err, c.first, c.last)
		}
	}
	rapid.Check(t, func(r *rapid.T) {
		zone := zoneOf(rapid.SampledFrom([]string{"America/Denver", "Europe/Vienna", "Australia/Lord_Howe", "Asia/Kathmandu", "America/St_Johns", "Pacific/Auckland"}).Draw(r, "zone"))
		// Minutes from 2000 to 2040.
		at := time.Unix(rapid.Int64Range(15_778_080, 36_817_920).Draw(r, "minutes")*60, 0)
		first, last, err := instants(at.In(zone).Format(localTime), zone)
		if err != nil || !first.Equal(at) && !last.Equal(at) || last.Before(first) || last.Sub(first) > time.Hour {
			r.Fatalf("%v is read as %v to %v, %v", at.In(zone), first, last, err)
		}
	})
}

// TestDueAcrossAChangeOfClocks sends such times through the form.
func TestDueAcrossAChangeOfClocks(t *testing.T) {
	t.Parallel()
	s, _ := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	class := held.makesClass("Autumn class")
	path := "/class/" + class.ID + "/assign"
	held.wants(held.post(path, assignForm("lesson headspace", "2026-03-08T02:30", "2026-03-09T18:00")), 422, "no such time")
	held.wants(held.post(path, assignForm("lesson headspace", "2026-03-07T02:30", "2026-03-08T02:30")), 422, "no such time")
	held.wants(held.post(path, assignForm("lesson headspace", "2026-10-31T18:00", "2026-11-01T18:00")), 200, "Opens Sat 31 Oct 2026, 18:00 MDT, due Sun 1 Nov 2026, 18:00 MST")
	// Shown twice by the clocks: open from the first, due at the last.
	held.wants(held.post(path, assignForm("lesson altitude", "2026-11-01T01:30", "2026-11-01T01:31")), 200, "Opens Sun 1 Nov 2026, 01:30 MDT, due Sun 1 Nov 2026, 01:31 MST")
	all, err := s.store.Assignments(t.Context(), class.ID)
	if err != nil || len(all) != 2 {
		t.Fatal(len(all), err)
	}
	for i, want := range []string{"2026-11-01T08:31:00Z", "2026-11-02T01:00:00Z"} {
		if got := all[i].Due.UTC().Format(time.RFC3339); got != want {
			t.Errorf("due at %s, want %s", got, want)
		}
	}
}

// property is a content line of a calendar, RFC 5545, 3.1.
type property struct{ name, params, value string }

// readCalendar reads a calendar as RFC 5545 has it and gives its events.
func readCalendar(t testing.TB, body string) (calendar map[string]property, events []map[string]property) {
	t.Helper()
	if !utf8.ValidString(body) || !strings.HasSuffix(body, "\r\n") {
		t.Error("the calendar is not UTF-8, or does not end with a line break")
	}
	for line := range strings.SplitSeq(strings.TrimSuffix(body, "\r\n"), "\r\n") {
		if len(line) > 75 { // 3.1: octets, without the line break
			t.Errorf("a line of %d octets: %q", len(line), line)
		}
		if strings.ContainsFunc(line, func(r rune) bool { return r < ' ' && r != '\t' || r == 0x7f }) { // 3.1: CONTROL
			t.Errorf("a control character in %q", line)
		}
	}
	unfolded := strings.NewReplacer("\r\n ", "", "\r\n\t", "").Replace(body)
	calendar = map[string]property{}
	var open []string
	here := calendar
	for line := range strings.SplitSeq(strings.TrimSuffix(unfolded, "\r\n"), "\r\n") {
		head, value, ok := strings.Cut(line, ":")
		name, params, _ := strings.Cut(head, ";")
		if !ok || name == "" || strings.Trim(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZ-") != "" {
			t.Errorf("no content line: %q", line)
			continue
		}
		switch name {
		case "BEGIN":
			if open = append(open, value); value == "VEVENT" {
				here = map[string]property{}
			}
		case "END":
			if len(open) == 0 || open[len(open)-1] != value {
				t.Fatalf("END:%s closes %v", value, open)
			}
			if open = open[:len(open)-1]; value == "VEVENT" {
				events, here = append(events, here), calendar
			}
		default:
			if _, twice := here[name]; twice {
				t.Errorf("%s stands twice", name)
			}
			here[name] = property{name, params, value}
		}
	}
	if len(open) > 0 {
		t.Errorf("not closed: %v", open)
	}
	return calendar, events
}

// plainText is a value of type TEXT, RFC 5545, 3.3.11.
func plainText(t testing.TB, value string) string {
	t.Helper()
	var b strings.Builder
	for i := 0; i < len(value); i++ {
		switch c := value[i]; {
		case c == ',' || c == ';':
			t.Errorf("%q has a %c that is not escaped", value, c)
		case c == '\\' && i+1 < len(value) && strings.IndexByte(`\;,nN`, value[i+1]) >= 0:
			if i++; value[i] == 'n' || value[i] == 'N' {
				b.WriteByte('\n')
			} else {
				b.WriteByte(value[i])
			}
		case c == '\\':
			t.Errorf("%q has a backslash that escapes nothing", value)
		default:
			b.WriteByte(c)
		}
	}
	return b.String()
}

// feedOf is the path of the calendar that the class's page shows.
func (s *site) feedOf(class store.Class) string {
	s.t.Helper()
	path := ""
	walk(parse(s.t, s.get("/class/"+class.ID).body), func(n *html.Node) {
		if n.Data == "a" && attr(n, "class") == "address" {
			path = strings.TrimPrefix(attr(n, "href"), s.URL)
		}
	})
	if path == "" {
		s.t.Fatal("the class's page shows no calendar")
	}
	return path
}

// TestCalendar: RFC 5545, with everything in the texts that has to be escaped or folded.
func TestCalendar(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	held := s.instructor("Ada Field")
	const name = `Käse; Gläser, Öl \ “and so on”: 梅干し と らっきょう, ünd einen sehr langen Nämen dazu`
	class := held.makesClass(name)
	cora, dan := s.browser(), s.browser()
	coraIs := cora.joins(class, "Cora Lake")
	dan.joins(class, "Dan Reed")
	const note = "Look at: altitude, jar; headspace.\r\nBack\\slash,\ttab, 梅干し" + "\r\nEND:VEVENT\r\n" + "a long line of words that goes on and on and on, so that it has to be folded more than once: ööööööööööööööööööööööööööööööööööööööööööööööööö"
	form := assignForm("lesson headspace", "2026-08-20T12:00", "2026-11-01T18:00")
	form.Set("note", note+"\a\v")
	path := "/class/" + class.ID
	held.post(path+"/assign", form)
	held.post(path+"/assign", assignForm("scenario quarts-moved-uphill", "2026-08-20T12:00", "2026-10-31T18:00", coraIs.Visitor))

	feeds := map[string]string{}
	for who, c := range map[string]struct {
		b      *site
		events int
	}{"instructor": {held, 3}, "the student it is for": {cora, 3}, "another student": {dan, 2}} {
		feeds[who] = c.b.feedOf(class)
		got := s.browser().get(feeds[who])
		if got.StatusCode != 200 || got.Header.Get("Content-Type") != "text/calendar; charset=utf-8" {
			t.Fatalf("%s: %d %s", who, got.StatusCode, got.Header.Get("Content-Type"))
		}
		calendar, events := readCalendar(t, got.body)
		if calendar["VERSION"].value != "2.0" || calendar["PRODID"].value == "" { // 3.6
			t.Errorf("%s: %v", who, calendar)
		}
		if got := plainText(t, calendar["X-WR-CALNAME"].value); got != name {
			t.Errorf("%s: the calendar is called %q, want %q", who, got, name)
		}
		if len(events) != c.events {
			t.Errorf("%s: %d events, want %d", who, len(events), c.events)
		}
		seen := map[string]bool{}
		for _, e := range events {
			if e["UID"].value == "" || seen[e["UID"].value] || e["DTSTAMP"].value != "20260820T180000Z" { // 3.6.1
				t.Errorf("%s: %v", who, e)
			}
			seen[e["UID"].value] = true
			summary, about := plainText(t, e["SUMMARY"].value), plainText(t, e["DESCRIPTION"].value)
			switch {
			case summary == "Canning day":
				if e["DTSTART"] != (property{"DTSTART", "VALUE=DATE", "20260926"}) || e["DTEND"] != (property{"DTEND", "VALUE=DATE", "20260927"}) || !strings.Contains(about, "tested recipe, and ask your extension service") {
					t.Errorf("%s: %v", who, e)
				}
			case strings.Contains(e["URL"].value, "/lessons/headspace"):
				// 18:00 at Denver after the clocks went back.
				if e["DTSTART"].value != "20261102T010000Z" || about != "Lesson. "+strings.ReplaceAll(note, "\r\n", "\n") {
					t.Errorf("%s: %v; it says %q", who, e, about)
				}
				if _, ends := e["DTEND"]; ends {
					t.Errorf("%s: an end at the start, which 3.8.2.2 rules out", who)
				}
			default:
				if e["DTSTART"].value != "20261101T000000Z" || e["URL"].value != s.URL+"/scenarios/quarts-moved-uphill" {
					t.Errorf("%s: %v", who, e)
				}
			}
		}
		for _, private := range []string{"Cora", "Dan Reed", "Ada Field"} {
			if strings.Contains(got.body, private) {
				t.Errorf("%s: the calendar names %s", who, private)
			}
		}
	}
	if feeds["instructor"] == feeds["another student"] || cora.feedOf(class) != feeds["the student it is for"] {
		t.Error("two people have one address, or one has two")
	}

	// Another address ends the old one, and nobody else's.
	cora.wants(cora.post(path+"/calendar", nil), 200)
	fresh := cora.feedOf(class)
	for feed, want := range map[string]int{feeds["the student it is for"]: 404, fresh: 200, feeds["another student"]: 200, fresh[:len(fresh)-4]: 404, "/calendar/none.ics": 404} {
		if got := s.browser().get(feed); got.StatusCode != want {
			t.Errorf("%s = %d, want %d", feed, got.StatusCode, want)
		}
	}
	// Who is taken out reads it no longer, and who joins again has another address.
	held.post(path+"/students/"+coraIs.Visitor+"/remove", nil)
	s.wants(s.get(fresh), 404)
	clock.pass(time.Minute)
	cora.post("/join", url.Values{"code": {class.Code}})
	if again := cora.feedOf(class); again == fresh {
		t.Error("who joins again has the old address")
	}
	if got := s.browser().get(fresh); got.StatusCode != 404 {
		t.Errorf("after joining again the old address = %d", got.StatusCode)
	}
	// A class without a canning day has none in its calendar.
	change := classOf("Autumn class")
	change.Set("canning-day", "")
	held.post(path+"/change", change)
	if _, events := readCalendar(t, s.get(held.feedOf(class)).body); len(events) != 2 {
		t.Errorf("%d events without a canning day, want 2", len(events))
	}
}

// TestCalendarOfAnything: whatever a note and a name are made of, the calendar can be read
// and says them.
func TestCalendarOfAnything(t *testing.T) {
	t.Parallel()
	at := time.Date(2026, 8, 20, 18, 0, 0, 0, time.UTC)
	rapid.Check(t, func(r *rapid.T) {
		signs := rapid.OneOf(rapid.Rune(), rapid.SampledFrom([]rune("\r\n\t\\,;:\"ö梅 ")))
		note := rapid.StringOfN(signs, 0, 200, -1).Draw(r, "note")
		name := rapid.StringOfN(signs, 0, 80, -1).Draw(r, "name")
		body, err := calendar(store.Class{ID: "class", Name: name, Made: at}, []store.Assignment{{ID: "a", Kind: lessonKind, About: "headspace", Title: name, Note: note, Opens: at, Due: at, Made: at}}, "https://course.example")
		if err != nil {
			r.Fatal(err)
		}
		head, events := readCalendar(t, body)
		if len(events) != 1 || t.Failed() {
			r.Fatalf("%d events in %q", len(events), body)
		}
		for got, want := range map[string]string{head["X-WR-CALNAME"].value: name, events[0]["SUMMARY"].value: "Due: " + name} {
			if said := plainText(t, got); said != calendarText(want) {
				r.Fatalf("%q reads as %q", want, said)
			}
		}
		if got, want := plainText(t, events[0]["DESCRIPTION"].value), calendarText(strings.TrimSpace("Lesson. "+note)); got != want {
			r.Fatalf("the note reads as %q, want %q", got, want)
		}
	})
}

// TestCodePicture reads the picture of the code back: three corners of the standard
// (ISO/IEC 18004), a quiet zone of four modules, and what it is called.
func TestCodePicture(t *testing.T) {
	t.Parallel()
	picture, err := qrPicture(`https://course.example/join?code=a-b-c&"<x>`, `to "<x>`)
	if err != nil {
		t.Fatal(err)
	}
	svg := string(picture)
	if strings.Contains(svg, "<x>") || !strings.Contains(svg, `role="img"`) {
		t.Errorf("%s", svg[:200])
	}
	var n int
	if _, err := fmt.Sscanf(svg[strings.Index(svg, "viewBox"):], `viewBox="0 0 %d`, &n); err != nil {
		t.Fatal(err)
	}
	size := n - 8
	if (size-17)%4 != 0 {
		t.Errorf("%d modules across; a symbol has 17 and four for each version", size)
	}
	black := map[[2]int]bool{}
	for _, square := range strings.Split(svg, "M")[2:] {
		var x, y int
		if _, err := fmt.Sscanf(square, "%d %dh1v1h-1z", &x, &y); err != nil {
			t.Fatal(square, err)
		}
		if x < 4 || y < 4 || x >= 4+size || y >= 4+size {
			t.Errorf("the module %d, %d is in the quiet zone", x, y)
		}
		black[[2]int{x - 4, y - 4}] = true
	}
	for _, corner := range [][2]int{{0, 0}, {size - 7, 0}, {0, size - 7}} {
		for i := range 7 {
			for j := range 7 {
				ring := max(abs(i-3), abs(j-3))
				if want := ring != 2; black[[2]int{corner[0] + i, corner[1] + j}] != want {
					t.Errorf("the corner at %v lacks its pattern at %d, %d", corner, i, j)
				}
			}
		}
	}
}

func abs(n int) int { return max(n, -n) }

// TestPlanOfTheWeeks: what is assigned stands in the week in which it opens, by the
// class's own midnight; the week that is now is marked.
func TestPlanOfTheWeeks(t *testing.T) {
	t.Parallel()
	s, clock := newSiteWithClock(t)
	class := store.Class{Starts: "2026-10-29", Weeks: 2, Zone: "America/Denver"}
	at := func(text string) time.Time {
		v, err := time.Parse(time.RFC3339, text)
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
	// The clocks go back on 2026-11-01 (tz database), so the second week begins at
	// midnight by the later offset: 7:00 UTC.
	weeks, err := s.server.weeksOf(class, []store.Assignment{
		{Kind: lessonKind, Title: "early", Opens: at("2026-10-01T00:00:00Z")},
		{Kind: lessonKind, Title: "last minute", Opens: at("2026-11-05T06:59:00Z")},
		{Kind: lessonKind, Title: "first minute", Opens: at("2026-11-05T07:00:00Z")},
		{Kind: scenarioKind, Title: "late", Opens: at("2027-01-01T00:00:00Z")},
	})
	if err != nil || len(weeks) != 2 {
		t.Fatal(weeks, err)
	}
	names := func(w weekView) (list []string) {
		for _, l := range w.Lines {
			list = append(list, l.Name)
		}
		return list
	}
	if d := cmp.Diff([]string{"Lesson: early", "Lesson: last minute"}, names(weeks[0])); d != "" {
		t.Errorf("week 1 (-want +got):\n%s", d)
	}
	if d := cmp.Diff([]string{"Lesson: first minute", "Scenario: late"}, names(weeks[1])); d != "" || weeks[1].Begins != "Thu 5 Nov 2026" {
		t.Errorf("week 2 from %s (-want +got):\n%s", weeks[1].Begins, d)
	}
	held := s.instructor("Ada Field")
	made := held.makesClass("Autumn class")
	held.post("/class/"+made.ID+"/assign", assignForm("lesson headspace", "2026-08-27T12:00", "2026-09-03T18:00"))
	clock.pass(8 * 24 * time.Hour)
	held = s.browser()
	held.post("/login", url.Values{"name": {"Ada Field"}, "password": {password}})
	if got := says(t, held.get("/class/"+made.ID)); !strings.Contains(got, "Thu 27 Aug 2026, now Lesson: How full is full?") {
		t.Errorf("the class page does not say what opens in its second week: %s", got)
	}
}
