package server

import (
	"encoding/json"
	"fmt"
	"maps"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"golang.org/x/net/html"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// newKitchen is a class of which one student, who asks next, has begun a batch; it
// returns the batch's address.
func newKitchen(t *testing.T) (*classroom, string) {
	t.Helper()
	r := newClassroom(t)
	return r, r.begin(r.assign(false))
}

// sendIn writes a plan, in place of the one before, and sends it in.
func (r *classroom) sendIn(batch string, after int, plan url.Values) {
	r.t.Helper()
	plan.Set("after", fmt.Sprint(after))
	r.wants(r.post(batch+"/plan", plan), http.StatusOK)
	r.wants(r.post(batch, url.Values{"do": {"plan-sent"}}), http.StatusOK)
}

// keepSent keeps a plan, of whatever food, as the first one and as sent in.
func (r *classroom) keepSent(batch string, form url.Values) {
	r.t.Helper()
	course, err := shippedCourse()
	if err != nil {
		r.t.Fatal(err)
	}
	plan, err := course.Grader.PlanFromForm(form)
	if err != nil {
		r.t.Fatal(err)
	}
	id := strings.TrimPrefix(batch, "/batches/")
	v := store.BatchVersion{Batch: id, N: 1, Kind: store.PlanVersion, File: plan.YAML(), Report: []byte("{}"), Verdict: string(course.Grader.Grade(plan).Verdict), At: time.Now()}
	if err := r.store.AddBatchVersion(r.t.Context(), v, ""); err != nil {
		r.t.Fatal(err)
	}
	if err := r.store.AddBatchEvent(r.t.Context(), id, store.BatchEvent{What: store.PlanSent, N: 1, At: time.Now()}, ""); err != nil {
		r.t.Fatal(err)
	}
}

// kitchenTimes are the times kept of a batch.
func (r *classroom) kitchenTimes(batch string) []store.BatchTime {
	r.t.Helper()
	kept, err := r.store.BatchTimes(r.t.Context(), strings.TrimPrefix(batch, "/batches/"))
	if err != nil {
		r.t.Fatal(err)
	}
	return kept
}

// sendTimes sends clock times as the page's script does.
func (s *site) sendTimes(batch, body string) (response, timesAnswer) {
	s.t.Helper()
	r := s.request(http.MethodPost, batch+"/times", strings.NewReader(body))
	r.Header.Set("Content-Type", "application/json")
	got := s.do(r)
	var answer timesAnswer
	if strings.HasPrefix(got.Header.Get("Content-Type"), "application/json") {
		if err := json.Unmarshal([]byte(got.body), &answer); err != nil {
			s.t.Fatalf("%q: %v", got.body, err)
		}
	}
	return got, answer
}

func timesBody(t *testing.T, times ...kitchenTime) string {
	t.Helper()
	raw, err := json.Marshal(times)
	if err != nil {
		t.Fatal(err)
	}
	return string(raw)
}

// TestKitchenSheetIsTheStudentsOwn: nobody else sees the plan or adds to its times, the
// instructor neither.
func TestKitchenSheetIsTheStudentsOwn(t *testing.T) {
	t.Parallel()
	r, batch := newKitchen(t)
	r.sendIn(batch, 0, goodPlan())
	r.wants(r.get(batch+"/kitchen"), http.StatusOK)
	r.wants(r.get("/batches/"+store.NewID()+"/kitchen"), http.StatusNotFound)
	one := timesBody(t, kitchenTime{store.NewID(), lostTime, time.Now().Format(time.RFC3339)})
	for who, client := range map[string]*http.Client{"a guest": {Transport: r.client.Transport}, "another student of the class": r.ben, "the instructor": r.instructor} {
		r.as(client)
		if got := r.get(batch + "/kitchen"); got.StatusCode != http.StatusNotFound || strings.Contains(got.body, "tomatoes") {
			t.Errorf("%s gets the sheet: %d", who, got.StatusCode)
		}
		if got, _ := r.sendTimes(batch, one); got.StatusCode != http.StatusNotFound {
			t.Errorf("%s sends times: %d, want 404", who, got.StatusCode)
		}
	}
	if kept := r.kitchenTimes(batch); len(kept) > 0 {
		t.Errorf("kept %v, want nothing", kept)
	}
}

// TestKitchenSheetNeedsATestedPlan: no plan, a plan that was not sent in, one that is not
// as tested: no sheet and no timer. Of several plans the one sent in last counts.
func TestKitchenSheetNeedsATestedPlan(t *testing.T) {
	t.Parallel()
	r, batch := newKitchen(t)
	none := func(why string) {
		t.Helper()
		got := r.get(batch + "/kitchen")
		if got.StatusCode != http.StatusConflict || strings.Contains(got.body, "data-minutes") || !strings.Contains(got.body, why) {
			t.Errorf("the sheet = %d, want 409 without a timer and with %q", got.StatusCode, why)
		}
	}
	none("No plan was sent in yet")
	r.wants(r.post(batch+"/plan", planForm(0)), http.StatusOK)
	none("No plan was sent in yet")
	// A nicked jar is to be mended first (USDA Guide 1, p. 1-14); this class takes such plans.
	r.sendIn(batch, 1, planForm(1, "jars.condition", "nicked"))
	none("not as tested")
	r.sendIn(batch, 2, planForm(2))
	if got := r.get(batch + "/kitchen"); got.StatusCode != http.StatusOK || strings.Contains(got.body, "sent this plan back") {
		t.Errorf("the third plan's sheet = %d", got.StatusCode)
	}
	r.as(r.instructor)
	r.wants(r.judge(batch, "plan-back", "Which lids?"), http.StatusOK)
	r.as(r.ann)
	if got := r.get(batch + "/kitchen"); got.StatusCode != http.StatusOK || !strings.Contains(got.body, "sent this plan back") {
		t.Errorf("a plan sent back = %d, want the sheet with a word about it", got.StatusCode)
	}
}

// TestKitchenSheetSaysThePlan: each figure of the plan, and what is printed beside it.
// Crushed tomatoes, quarts, above 6,000 ft: USDA Guide 3, p. 3-7 and 3-8; the water, the
// rest and the cooling: Guide 1, p. 1-18; preheating for a hot pack: 180 °F, p. 1-18.
// Green beans in a pressure canner: Guide 4, p. 4-9; venting and opening: Guide 1, p. 1-22.
func TestKitchenSheetSaysThePlan(t *testing.T) {
	t.Parallel()
	beans := url.Values{
		"food": {"snap-beans"}, "pack": {"hot"}, "method": {"pressure"}, "gauge": {"dial"}, "jar": {"pint"}, "altitude": {"6240 ft"},
		"time": {"20 min"}, "pressure": {"14 psi"}, "headspace": {"1 in"}, "cooling.hours": {"16"}, "rest": {"15 min"},
	}
	jam := url.Values{
		"food": {"jam-no-added-pectin"}, "pack": {"hot"}, "method": {"atmospheric-steam"}, "jar": {"half-pint"}, "altitude": {"500 ft"},
		"time": {"5 min"}, "headspace": {"1/4 in"}, "lids.kind": {"reusable-gasket"},
	}
	jamUphill := maps.Clone(jam)
	jamUphill.Set("altitude", "6240 ft")
	jamUphill.Set("time", "15 min")
	for _, tt := range []struct {
		name    string
		plan    url.Values
		says    []string
		lacks   []string
		numbers map[string]string
	}{
		{
			"crushed tomatoes", goodPlan(),
			[]string{"Crushed tomatoes", "hot pack", "quart jars", "6 240 ft (1 902 m)", "60 min", "2 tbsp (30 ml) of bottled lemon juice", "1/2 in (13 mm)", "2 in (51 mm) over the lids", "180 °F (82 °C)", "3-8", "Wait 5 min", "not read before", "24 h", "fingertip-tight", "by hand", "Not sealed"},
			[]string{"Vent", "Weight off"},
			map[string]string{"minutes": "60", "rest": "5", "cool-hours": "12", "reprocess-hours": "24", "method": "boiling-water"},
		},
		{
			"green beans", beans,
			[]string{"14 psi (97 kPa) by the dial gauge", "Vent 10 min, then close", "2 to 3 in (51 to 76 mm) of hot water", "The pressure falls by itself", "Wait 15 min, then open the lid away from your face"},
			[]string{"full and rolling", "over the lids", "In each jar"},
			map[string]string{"minutes": "20", "vent": "10", "rest": "15", "cool-hours": "16", "method": "pressure"},
		},
		{
			// USDA Guide 7, p. 7-7: 5 minutes up to 1,000 ft; Guide 1, p. 1-14 and 1-15: jars are
			// boiled 10 minutes before a process under 10, a minute more for each 1,000 ft.
			"jam by steam", jam,
			[]string{"boiled first: 10 minutes, and 1 minute more", "The steam flows in a full, steady column at", "reusable gasket", "1/4 in (6 mm)"},
			[]string{"over the lids", "In each jar", "Lids: new"},
			map[string]string{"minutes": "5", "rest": "5", "method": "atmospheric-steam"},
		},
		{
			// USDA Guide 7, p. 7-7: 15 minutes above 6,000 ft, into boiled jars as in every band.
			"jam uphill", jamUphill,
			[]string{"boiled first: 10 minutes, and 1 minute more"},
			nil,
			map[string]string{"minutes": "15"},
		},
	} {
		r, batch := newKitchen(t)
		r.keepSent(batch, tt.plan)
		got := r.get(batch + "/kitchen")
		if got.StatusCode != http.StatusOK {
			t.Fatalf("%s: %d %s", tt.name, got.StatusCode, text(find(parse(t, got.body), "main")))
		}
		page := parse(t, got.body)
		main := strings.Join(strings.Fields(strings.ReplaceAll(text(find(page, "main")), "\u00a0", " ")), " ")
		for _, want := range tt.says {
			if !strings.Contains(main, want) {
				t.Errorf("%s: the sheet lacks %q", tt.name, want)
			}
		}
		for _, other := range tt.lacks {
			if strings.Contains(main, other) {
				t.Errorf("%s: the sheet says %q", tt.name, other)
			}
		}
		if t.Failed() {
			t.Logf("%s", main)
		}
		given := kitchenData(page)
		for key, want := range tt.numbers {
			if given["data-"+key] != want {
				t.Errorf("%s: data-%s = %q, want %q", tt.name, key, given["data-"+key], want)
			}
		}
	}
}

// kitchenData gives what the page tells its script.
func kitchenData(n *html.Node) map[string]string {
	data := map[string]string{}
	for _, a := range n.Attr {
		data[a.Key] = a.Val
	}
	if data["id"] == "kitchen" {
		return data
	}
	for c := n.FirstChild; c != nil; c = c.NextSibling {
		if found := kitchenData(c); found != nil {
			return found
		}
	}
	return nil
}

// TestKitchenTimesAreKeptOnce: sent twice, and in two orders, a time is kept once, with
// the telephone's own offset, and comes back in the page.
func TestKitchenTimesAreKeptOnce(t *testing.T) {
	t.Parallel()
	r, batch := newKitchen(t)
	r.sendIn(batch, 0, goodPlan())
	now := time.Now().Truncate(time.Second)
	zone := time.FixedZone("", -6*3600)
	first := kitchenTime{"0b6ff0c4-0000-4000-8000-000000000001", boilReachedTime, now.Add(-time.Hour).In(zone).Format(time.RFC3339)}
	second := kitchenTime{"0b6ff0c4-0000-4000-8000-000000000002", lostTime, now.Add(-30 * time.Minute).In(zone).Format(time.RFC3339)}
	for _, body := range []string{timesBody(t, second), timesBody(t, first, second), timesBody(t, second, first), "[]"} {
		got, answer := r.sendTimes(batch, body)
		var sent []kitchenTime
		if err := json.Unmarshal([]byte(body), &sent); err != nil {
			t.Fatal(err)
		}
		if got.StatusCode != http.StatusOK || answer.Kept == nil || len(answer.Kept) != len(sent) {
			t.Errorf("sent %s: %d %s", body, got.StatusCode, got.body)
		}
	}
	// Under an id that is kept already nothing else can be told.
	changed := first
	changed.What = heatOffTime
	if got, answer := r.sendTimes(batch, timesBody(t, changed)); got.StatusCode != http.StatusOK || !slices.Equal(answer.Kept, []string{first.ID}) {
		t.Errorf("sent again with another meaning: %d %s", got.StatusCode, got.body)
	}
	var back []kitchenTime
	given := kitchenData(parse(t, r.get(batch+"/kitchen").body))
	if err := json.Unmarshal([]byte(given["data-times"]), &back); err != nil {
		t.Fatal(err)
	}
	if want := []kitchenTime{first, second}; !slices.Equal(back, want) {
		t.Errorf("the page gives %v, want %v", back, want)
	}
}

// TestKitchenTimesAreChecked: what is not a time of this kitchen is refused, and named,
// and then nothing of what came with it is kept.
func TestKitchenTimesAreChecked(t *testing.T) {
	t.Parallel()
	r, batch := newKitchen(t)
	at := time.Now().Format(time.RFC3339)
	good := kitchenTime{"good-good", heatOffTime, at}
	for name, bad := range map[string]kitchenTime{
		"another word":         {"bad-bad-bad", "supper", at},
		"no word":              {"bad-bad-bad", "", at},
		"no time":              {"bad-bad-bad", heatOffTime, ""},
		"a time without zone":  {"bad-bad-bad", heatOffTime, "2026-08-20T14:30:00"},
		"more than a year ago": {"bad-bad-bad", heatOffTime, time.Now().AddDate(-1, 0, -2).Format(time.RFC3339)},
		"in more than a year":  {"bad-bad-bad", heatOffTime, time.Now().AddDate(1, 0, 2).Format(time.RFC3339)},
		"a short id":           {"bad", heatOffTime, at},
		"an id that is markup": {"<b>bad bad</b>", heatOffTime, at},
	} {
		got, answer := r.sendTimes(batch, timesBody(t, good, bad))
		if got.StatusCode != http.StatusUnprocessableEntity || !slices.Equal(answer.Which, []string{bad.ID}) || answer.Error == "" {
			t.Errorf("%s: %d %s, want 422 naming %q", name, got.StatusCode, got.body, bad.ID)
		}
	}
	for body, want := range map[string]int{"": 400, "{}": 400, `"x"`: 400, "[{]": 400, "null": 200, "[" + strings.Repeat(" ", maxBody) + "]": 413} {
		if got, _ := r.sendTimes(batch, body); got.StatusCode != want {
			t.Errorf("body %.20q = %d, want %d", body, got.StatusCode, want)
		}
	}
	many := func(n int, prefix string) string {
		var list []kitchenTime
		for i := range n {
			list = append(list, kitchenTime{fmt.Sprintf("%s-%06d", prefix, i), againTime, at})
		}
		return timesBody(t, list...)
	}
	if got, _ := r.sendTimes(batch, many(maxTimesSent+1, "a")); got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("%d times at once = %d, want 422", maxTimesSent+1, got.StatusCode)
	}
	if kept := r.kitchenTimes(batch); len(kept) > 0 {
		t.Errorf("kept %v, want nothing yet", kept)
	}
	for i := range maxTimesKept / maxTimesSent {
		if got, _ := r.sendTimes(batch, many(maxTimesSent, fmt.Sprint("b", i))); got.StatusCode != http.StatusOK {
			t.Fatalf("%d times at once = %d %s", maxTimesSent, got.StatusCode, got.body)
		}
	}
	if got, _ := r.sendTimes(batch, many(1, "c")); got.StatusCode != http.StatusUnprocessableEntity {
		t.Errorf("time %d of the batch = %d, want 422", maxTimesKept+1, got.StatusCode)
	}
	for kind, from := range map[string]string{"text/plain": "same-origin", "application/x-www-form-urlencoded": "same-origin", "application/json": "cross-site"} {
		request := r.request(http.MethodPost, batch+"/times", strings.NewReader("[]"))
		request.Header.Set("Content-Type", kind)
		request.Header.Set("Sec-Fetch-Site", from)
		if got := r.do(request); got.StatusCode != http.StatusUnsupportedMediaType && got.StatusCode != http.StatusForbidden {
			t.Errorf("%s from %s = %d, want 415 or 403", kind, from, got.StatusCode)
		}
	}
}

// TestRecordFromTimes: the time starts again when the boil or the pressure comes back,
// USDA Guide 1, p. 1-18 (boil) and 1-22 (pressure). The tested time here is 60 minutes;
// what counts is how long the record says the load was held without a break.
func TestRecordFromTimes(t *testing.T) {
	t.Parallel()
	begin := time.Date(2026, 8, 20, 14, 0, 0, 0, time.FixedZone("", -6*3600))
	times := func(parts ...any) []store.BatchTime {
		var list []store.BatchTime
		for i := 0; i < len(parts); i += 2 {
			list = append(list, store.BatchTime{ID: fmt.Sprint(i), What: parts[i].(string), At: begin.Add(time.Duration(parts[i+1].(int)) * time.Minute)})
		}
		return list
	}
	for _, tt := range []struct {
		name     string
		method   string
		times    []store.BatchTime
		start    int
		finished int // -1: not known
		breaks   []int
		held     float64
	}{
		{"one whole boil", "boiling-water", times(boilReachedTime, 0, timeUpTime, 60, heatOffTime, 62, jarsOutTime, 67), 0, 62, nil, 62},
		{"heat off not told", "boiling-water", times(boilReachedTime, 0, timeUpTime, 60), 0, 60, nil, 60},
		{"lost and regained", "boiling-water", times(boilReachedTime, 0, lostTime, 20, againTime, 24, timeUpTime, 84, heatOffTime, 85), 0, 85, []int{20, 24}, 61},
		{"lost twice", "boiling-water", times(boilReachedTime, 0, lostTime, 20, againTime, 24, lostTime, 50, againTime, 55, timeUpTime, 115), 0, 115, []int{20, 24, 50, 55}, 60},
		{"lost by two telephones", "boiling-water", times(boilReachedTime, 0, lostTime, 20, lostTime, 21, againTime, 24, timeUpTime, 84), 0, 84, []int{20, 24}, 60},
		{"lost and given up", "boiling-water", times(boilReachedTime, 0, lostTime, 50, heatOffTime, 52), 0, 52, []int{50, 52}, 50},
		{"lost, and no more is known", "boiling-water", times(boilReachedTime, 0, lostTime, 50), 0, -1, nil, 0},
		{"found cold when the time was up", "boiling-water", times(boilReachedTime, 0, timeUpTime, 60, lostTime, 61, heatOffTime, 70), 0, 70, []int{0, 70}, 0},
		{"found cold, and the whole time again", "boiling-water", times(boilReachedTime, 0, timeUpTime, 60, lostTime, 61, againTime, 70, timeUpTime, 130), 0, 130, []int{0, 70}, 60},
		{"start pressed again", "boiling-water", times(boilReachedTime, 0, boilReachedTime, 10, timeUpTime, 70), 0, 70, []int{10, 10}, 60},
		{"heat off and lit again", "boiling-water", times(boilReachedTime, 0, heatOffTime, 30, againTime, 40, timeUpTime, 100), 0, 100, []int{30, 40}, 60},
		{"over midnight", "boiling-water", times(boilReachedTime, 590, timeUpTime, 650), 590, 650, nil, 60},
		{"steam", "atmospheric-steam", times(boilReachedTime, 0, timeUpTime, 35), 0, 35, nil, 35},
		{"pressure", "pressure", times(ventBeganTime, 0, pressureReachedTime, 15, lostTime, 20, againTime, 22, timeUpTime, 82, heatOffTime, 83, weightOffTime, 120, jarsOutTime, 130), 15, 83, []int{20, 22}, 61},
		{"the boil is no pressure", "pressure", times(boilReachedTime, 0, timeUpTime, 60), -1, -1, nil, 0},
		{"another load", "boiling-water", times(boilReachedTime, 0, lostTime, 5, newLoadTime, 200, boilReachedTime, 210, timeUpTime, 270), 210, 270, nil, 60},
		{"a changed clock, then another load", "boiling-water", times(boilReachedTime, 0, clockChangedTime, 5, newLoadTime, 200, boilReachedTime, 210, timeUpTime, 270), 210, 270, nil, 60},
		{"nothing", "boiling-water", nil, -1, -1, nil, 0},
		{"not begun", "boiling-water", times(lostTime, 0, againTime, 1, timeUpTime, 61, heatOffTime, 62), -1, -1, nil, 0},
	} {
		minutes := func(at time.Time) int {
			if at.IsZero() {
				return -1
			}
			return int(at.Sub(begin) / time.Minute)
		}
		r := recordFromTimes(tt.times, tt.method)
		var breaks []int
		for _, i := range r.Interruptions {
			breaks = append(breaks, minutes(i.From), minutes(i.To))
		}
		if minutes(r.Start) != tt.start || minutes(r.Finished) != tt.finished || !slices.Equal(breaks, tt.breaks) {
			t.Errorf("%s: from %d to %d with %v, want from %d to %d with %v", tt.name, minutes(r.Start), minutes(r.Finished), breaks, tt.start, tt.finished, tt.breaks)
		}
		if held, _ := r.Held(); held != tt.held {
			t.Errorf("%s: held %v minutes, want %v", tt.name, held, tt.held)
		}
	}
	changed := times(boilReachedTime, 0, clockChangedTime, 5, boilReachedTime, 10, timeUpTime, 70)
	if r := recordFromTimes(changed, "boiling-water"); !r.Start.IsZero() || !r.Finished.IsZero() || len(r.Interruptions) > 0 {
		t.Errorf("with a changed clock: %+v, want nothing", r)
	}
}

// TestRecordFromTimesIsRead: what the times give can be written as a batch file and read.
func TestRecordFromTimesIsRead(t *testing.T) {
	t.Parallel()
	begin := time.Date(2026, 11, 1, 1, 30, 0, 0, time.FixedZone("", -6*3600)) // the hour that comes twice
	later := func(minutes int, offset int) time.Time {
		return begin.Add(time.Duration(minutes) * time.Minute).In(time.FixedZone("", offset*3600))
	}
	r := recordFromTimes([]store.BatchTime{
		{What: boilReachedTime, At: begin}, {What: timeUpTime, At: later(60, -7)}, {What: lostTime, At: later(61, -7)}, {What: againTime, At: later(65, -7)}, {What: boilReachedTime, At: later(66, -7)}, {What: timeUpTime, At: later(126, -7)},
	}, "boiling-water")
	file := "plan: {food: tomatoes-crushed}\nrecord:\n  boil_reached: " + r.Start.Format(time.RFC3339) + "\n  finished: " + r.Finished.Format(time.RFC3339) + "\n  interruptions:\n"
	for _, i := range r.Interruptions {
		file += "    - {from: " + i.From.Format(time.RFC3339) + ", to: " + i.To.Format(time.RFC3339) + "}\n"
	}
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	batch, isBatch, err := course.Grader.ParseFile("", []byte(file))
	if err != nil || !isBatch {
		t.Fatalf("%s\n%v", file, scenarios.Problems(err))
	}
	if held, known := batch.Record.Held(); held != 60 || !known {
		t.Errorf("held %v, %v, want 60 minutes", held, known)
	}
}
