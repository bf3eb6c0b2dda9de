package server

import (
	"encoding/json"
	"fmt"
	"log/slog"
	"net/http"
	"net/http/cookiejar"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// caseNamed gives a case of a shipped scenario.
func caseNamed(t testing.TB, slug string, seed uint64) *scenarios.Case {
	t.Helper()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	i := slices.IndexFunc(course.Scenarios, func(s *scenarios.Scenario) bool { return s.Slug == slug })
	if i < 0 {
		t.Fatalf("there is no scenario %s", slug)
	}
	c, err := course.Grader.Case(course.Scenarios[i], seed)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// answerAt is where the answer to a case is sent; of jars the last look, of worked
// kitchens the last kitchen, since those are kept.
func answerAt(c *scenarios.Case) string {
	if c.Kind == scenarios.WhatNow {
		return scenarioAddress(c.Slug, c.Seed, fmt.Sprintf("&at=%d", len(c.Looked())-1))
	}
	return scenarioAddress(c.Slug, c.Seed, "")
}

// bestAnswer is the form of the worked answer.
func bestAnswer(c *scenarios.Case) url.Values {
	course, _ := shippedCourse()
	form := url.Values{}
	set := func(name string, p scenarios.Plan, key string) {
		form[name] = formOf(p)[key]
		if len(form[name]) == 0 {
			form.Set(name, "none")
		}
	}
	switch c.Kind {
	case scenarios.PlanIt:
		return formOf(c.Solution.Plan)
	case scenarios.Worked:
		last := len(c.Then) - 1
		form.Set("kitchen", fmt.Sprint(last+1))
		for _, key := range c.Then[last].Blank {
			set(blankName(last, key), c.Then[last].Solution.Plan, key)
		}
	case scenarios.Faults:
		for key, said := range course.Grader.BestFaults(c) {
			form.Set("wrong-"+key, map[bool]string{true: "wrong", false: "sound"}[said.Wrong])
			if said.Wrong && c.Solution.Plan.Known(key) {
				set("fix-"+key, c.Solution.Plan, key)
			}
		}
	case scenarios.WhatNow:
		for i, a := range course.Grader.Answers(c, c.Looked()[len(c.Looked())-1]) {
			form.Set(fmt.Sprintf("jar-%d", i+1), a.Answer)
		}
	}
	return form
}

// TestEveryScenarioOnThePage opens each shipped scenario, answers it as worked, and
// has it passed and kept.
func TestEveryScenarioOnThePage(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	for n, sc := range course.Scenarios {
		c := caseNamed(t, sc.Slug, uint64(n+3))
		page := s.get(answerAt(c))
		if page.StatusCode != http.StatusOK {
			t.Errorf("%s: %d", sc.Slug, page.StatusCode)
			continue
		}
		checkPage(t, sc.Slug, parse(t, page.body))
		got := s.post(answerAt(c), bestAnswer(c))
		checkPage(t, sc.Slug+", answered", parse(t, got.body))
		kept, err := s.store.LastAttempt(t.Context(), s.visitor(), sc.Slug)
		if got.StatusCode != http.StatusOK || err != nil || !kept.Passed || kept.Verdict != "as-tested" {
			t.Errorf("%s, case %d: the worked answer is not passed: %d, %+v, %v\n%v", sc.Slug, c.Seed, got.StatusCode, kept.Verdict, err, bestAnswer(c))
			continue
		}
		if kept.Kind != sc.Kind || kept.Seed != c.Seed || kept.Version != course.Grader.Version() || len(kept.Plan) == 0 {
			t.Errorf("%s: kept as %+v", sc.Slug, kept)
		}
		if strings.Contains(got.body, "not this") || strings.Contains(got.body, "not shown yet") {
			t.Errorf("%s: passed, and something in it is not", sc.Slug)
		}
	}
	if got := text(find(parse(t, s.get("/scenarios").body), "main")); !strings.Contains(got, fmt.Sprintf("%d of %d", len(course.Scenarios), len(course.Scenarios))) {
		t.Errorf("the list does not count them all passed: %.300s", got)
	}
}

// kindTest is one scenario of a kind, with answers to it.
type kindTest struct {
	slug              string
	seed              uint64
	wrong, blank, bad url.Values
	says              string // what is said to the wrong answer
	typed             string // what must still stand in the page after bad input
	blankStatus       int
	changed           string // what is said of the right answer after the wrong one
	right             string // what is said to the right one
}

// kindTests: every figure is that of USDA Complete Guide to Home Canning, 2015, on the
// page named.
var kindTests = []kindTest{{
	// Peaches at 2 500 ft, raw, quarts: 35 min, p. 2-19.
	slug: "peaches-two-packs", seed: 0,
	wrong:       url.Values{"kitchen": {"2"}, "kitchen-2-time": {"20 min"}, "kitchen-2-headspace": {"1/2 in"}},
	blank:       url.Values{"kitchen": {"2"}},
	bad:         url.Values{"kitchen": {"2"}, "kitchen-2-time": {"a good while"}, "kitchen-2-headspace": {"1/2 in"}},
	says:        "Better: 35 min",
	typed:       `value="a good while"`,
	blankStatus: http.StatusOK,
	changed:     "35 min, before 20 min",
	right:       "As the table has it.",
}, {
	// Crushed tomatoes in quarts above 6 000 ft: 60 min, pp. 3-7 to 3-8.
	slug: "first-crushed-tomatoes", seed: 0,
	wrong:       url.Values{"method": {"boiling-water"}, "pack": {"hot"}, "time": {"45 min"}, "headspace": {"1/2 in"}, "acid.kind": {"bottled-lemon-juice"}, "acid.per_jar": {"2 tbsp"}},
	blank:       url.Values{},
	bad:         url.Values{"method": {"boiling-water"}, "pack": {"hot"}, "time": {"until it is dark"}, "headspace": {"1/2 in"}},
	says:        "Not safe as written",
	typed:       `value="until it is dark"`,
	blankStatus: http.StatusOK,
	changed:     "60 min, before 45 min",
	right:       "As tested",
}, {
	// The first pick of two: 45 min for 50 at 2 600 ft, p. 3-8, and half of the acid.
	slug: "card-from-the-coast", seed: 0,
	wrong:       url.Values{"wrong-time": {"wrong"}, "fix-time": {"46 min"}, "wrong-headspace": {"wrong"}},
	blank:       url.Values{},
	bad:         url.Values{"wrong-time": {"wrong"}, "fix-time": {"a bit more"}, "wrong-acid.per_jar": {"wrong"}, "fix-acid.per_jar": {"2 tbsp"}},
	says:        "1 of 2 faults found, and one false alarm.",
	typed:       `value="a bit more"`,
	blankStatus: http.StatusOK,
	changed:     "wrong, should be 50 min, before wrong, should be 46 min",
	right:       "2 of 2 faults found, and no false alarm.",
}, {
	// Jars of an acid food after 30 hours, pp. 1-25 to 1-26.
	slug: "is-it-the-lids", seed: 0,
	wrong:       url.Values{"jar-1": {"shelf"}, "jar-2": {"shelf"}, "jar-3": {"shelf"}, "jar-4": {"shelf"}},
	blank:       url.Values{},
	bad:         url.Values{"jar-1": {"discard"}, "jar-2": {"on the porch"}, "jar-3": {"shelf"}, "jar-4": {"shelf"}},
	says:        "1 of 4 jars, 30 h after the canner.",
	typed:       `<option value="discard" selected>`,
	blankStatus: http.StatusUnprocessableEntity,
	changed:     "Jar 1: thrown out, unopened and untasted, before on the shelf",
	right:       "4 of 4 jars, 30 h after the canner.",
}}

// TestEachKind goes through one scenario of each kind as a learner might: nothing, a
// slip of the pen, a wrong answer, the right one; and looks at what was kept.
func TestEachKind(t *testing.T) {
	t.Parallel()
	for _, k := range kindTests {
		c := caseNamed(t, k.slug, k.seed)
		t.Run(c.Kind, func(t *testing.T) {
			t.Parallel()
			s := newSite(t)
			s.post("/plan", goodPlan()) // from here on there is a visitor
			place := answerAt(c)
			kept := func() []store.Attempt {
				list, err := s.store.ListAttempts(t.Context(), s.visitor())
				if err != nil {
					t.Fatal(err)
				}
				return list
			}
			main := func(r response) string { return text(find(parse(t, r.body), "main")) }

			got := s.post(place, k.bad)
			if got.StatusCode != http.StatusUnprocessableEntity || !strings.Contains(got.body, k.typed) {
				t.Errorf("bad input: %d; %s is gone, or it was taken", got.StatusCode, k.typed)
			}
			if n := len(kept()); n > 0 {
				t.Errorf("%d attempts are kept of what could not be read", n)
			}

			got = s.post(place, k.blank)
			if got.StatusCode != k.blankStatus {
				t.Errorf("a blank answer: %d", got.StatusCode)
			}
			for _, a := range kept() {
				if a.Passed {
					t.Error("a blank answer passes")
				}
			}

			got = s.post(place, k.wrong)
			if got.StatusCode != http.StatusOK || !strings.Contains(main(got), k.says) {
				t.Errorf("a wrong answer: %d, want %q in %.1500s", got.StatusCode, k.says, main(got))
			}
			first := kept()[0]
			if first.Passed || first.Verdict == "as-tested" {
				t.Errorf("a wrong answer is kept as %+v", first)
			}

			got = s.post(place, bestAnswer(c))
			said := main(got)
			if got.StatusCode != http.StatusOK || !strings.Contains(said, k.right) || !strings.Contains(said, "Since your last try") || !strings.Contains(said, k.changed) {
				t.Errorf("the right answer: %d, want %q and %q in %.2500s", got.StatusCode, k.right, k.changed, said)
			}
			all := kept()
			if !all[0].Passed && !all[1].Passed || len(all) < 2 {
				t.Errorf("the right answer is not kept as passed: %+v", all)
			}

			// Both are to be read again, each as it was judged, and lead to the same case.
			for _, a := range all {
				page := s.get("/my-work/attempts/" + a.ID)
				if page.StatusCode != http.StatusOK || !strings.Contains(main(page), "As it was checked then.") || strings.Contains(page.body, "have changed since") {
					t.Errorf("a kept attempt: %d", page.StatusCode)
				}
				if !strings.Contains(page.body, scenarioAddress(c.Slug, c.Seed, "")) {
					t.Error("a kept attempt does not lead to its case")
				}
			}

			// An answer names its case and something that is there.
			for _, path := range []string{"/scenarios/" + c.Slug + "?case=-1", "/scenarios/" + c.Slug + "?case=x", "/scenarios/no-such"} {
				if got := s.post(path, bestAnswer(c)); got.StatusCode != http.StatusNotFound {
					t.Errorf("POST %s = %d", path, got.StatusCode)
				}
			}
			if c.Variants() {
				if got := s.post("/scenarios/"+c.Slug, bestAnswer(c)); got.StatusCode != http.StatusNotFound {
					t.Errorf("an answer to no case = %d", got.StatusCode)
				}
				if got := s.get("/scenarios/" + c.Slug); got.StatusCode != http.StatusOK || got.Request.URL.Query().Get("case") == "" {
					t.Errorf("a case is not drawn: %d at %s", got.StatusCode, got.Request.URL)
				}
			}

			// Somebody else sees none of it.
			jar, err := cookiejar.New(nil)
			if err != nil {
				t.Fatal(err)
			}
			s.client.Jar = jar
			s.post("/plan", goodPlan())
			for _, a := range all {
				if got := s.get("/my-work/attempts/" + a.ID); got.StatusCode != http.StatusNotFound {
					t.Errorf("another's attempt = %d", got.StatusCode)
				}
				if got := s.post("/my-work/attempts/"+a.ID+"/delete", nil); got.StatusCode != http.StatusNotFound {
					t.Errorf("to delete another's attempt = %d", got.StatusCode)
				}
			}
			if got := s.post(place, bestAnswer(c)); strings.Contains(main(got), "Since your last try") {
				t.Error("what somebody else answered is compared with")
			}
		})
	}
}

// TestOldAttempts: an attempt that was judged by other rules opens as it was judged
// then, whatever today's would say, and it is said that they have changed.
func TestOldAttempts(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	for _, k := range kindTests {
		c := caseNamed(t, k.slug, k.seed)
		s.post(answerAt(c), k.wrong)
		old, err := s.store.LastAttempt(t.Context(), s.visitor(), c.Slug)
		if err != nil {
			t.Fatal(err)
		}
		// As if the rules of last year had liked it, in words that no rule has now.
		old.ID, old.Version, old.Passed, old.Verdict = store.NewID(), "of last year", true, "as-tested"
		const words = "The moon was right for it."
		if c.Kind == scenarios.PlanIt {
			var report scenarios.Report
			if err := json.Unmarshal(old.Report, &report); err != nil {
				t.Fatal(err)
			}
			report.Verdict = scenarios.AsTested
			report.Findings = []scenarios.Finding{{Rule: "time-short", Severity: "note", Field: "time", Says: words, Why: words, Lesson: "process-time", Source: "usda-guide-1"}}
			old.Report, err = json.Marshal(report)
		} else {
			var result scenarioResult
			if err := json.Unmarshal(old.Result, &result); err != nil {
				t.Fatal(err)
			}
			result.Heading, result.Lines[0].Why, result.Lines[0].Right = words, words, true
			old.Result, err = json.Marshal(result)
		}
		if err != nil {
			t.Fatal(err)
		}
		if err := s.store.SaveAttempt(t.Context(), old); err != nil {
			t.Fatal(err)
		}
		got := s.get("/my-work/attempts/" + old.ID)
		body := text(find(parse(t, got.body), "main"))
		if got.StatusCode != http.StatusOK || !strings.Contains(body, words) || !strings.Contains(body, "The rules or the table have changed since.") {
			t.Errorf("%s: %d, not as it was: %.800s", c.Kind, got.StatusCode, body)
		}
		if c.Kind == scenarios.PlanIt && verdictOn(t, got.body) != "As tested, as far as you told us" {
			t.Errorf("the old verdict reads %q", verdictOn(t, got.body))
		}
		// Opened or not, it is the same to the byte.
		again, err := s.store.Attempt(t.Context(), s.visitor(), old.ID)
		if err != nil || string(again.Result) != string(old.Result) || string(again.Report) != string(old.Report) || again.Version != old.Version {
			t.Errorf("%s: it was changed: %v", c.Kind, err)
		}
	}
}

// TestWhatCostsACompetency: a plan that is too short shows neither the altitude nor
// the time, and the page says which finding cost it and what would have been as tested.
func TestWhatCostsACompetency(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	got := s.post("/scenarios/first-crushed-tomatoes?case=0", kindTests[1].wrong)
	showed := text(find(parse(t, got.body), "main"))
	for _, want := range []string{"Acidity : shown here.", "Headspace : shown here.", "Altitude : not shown yet. 45 min is shorter", "Process time : not shown yet. 45 min is shorter", "Time: 60 min, not 45 min."} {
		if !strings.Contains(showed, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
}

// TestJarsInTime: the same jars after two hours, after a night and after more than a
// day. Another look is not a second try.
func TestJarsInTime(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	c := caseNamed(t, "hands-off-the-towel", 0)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	answers := func(at int) url.Values {
		form := url.Values{}
		for i, a := range course.Grader.Answers(c, c.Looked()[at]) {
			form.Set(fmt.Sprintf("jar-%d", i+1), a.Answer)
		}
		return form
	}
	if len(c.Looked()) != 3 {
		t.Fatalf("looked at %v", c.Looked())
	}
	for at := range c.Looked() {
		path := scenarioAddress(c.Slug, 0, fmt.Sprintf("&at=%d", at))
		page := s.get(path)
		if !strings.Contains(page.body, fmt.Sprintf(`at=%d" aria-current="true"`, at)) {
			t.Errorf("%s does not say where it is in time", path)
		}
		wrong := url.Values{}
		for name := range answers(at) {
			wrong.Set(name, "shelf")
		}
		if got := s.post(path, wrong); strings.Contains(got.body, "Since your last try") {
			t.Errorf("%s is compared with another time", path)
		}
		got := s.post(path, answers(at))
		if !strings.Contains(got.body, "5 of 5 jars") || !strings.Contains(got.body, "Since your last try") {
			t.Errorf("%s: the right answers are not told so", path)
		}
		// By two hours none of the jars is lost, by 30 those that did not seal are.
		if lost := strings.Contains(text(byID(parse(t, got.body), "told")), "detoxified, then thrown out"); lost != (at == 2) {
			t.Errorf("%s: a jar is thrown out: %t", path, lost)
		}
		kept, err := s.store.LastAttempt(t.Context(), s.visitor(), c.Slug)
		if err != nil || kept.Passed != (at == 2) {
			t.Errorf("%s: kept as passed: %t, %v; the last look is what counts", path, kept.Passed, err)
		}
	}
}

// TestSteps: what a worked page shows and what it leaves blank.
func TestSteps(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	s.post("/plan", goodPlan())
	place := scenarioAddress("peaches-two-packs", 0, "")
	body := text(find(parse(t, s.get(place).body), "main"))
	for _, want := range []string{"One, worked whole", "Which canner?", "Which altitude band?", "Now you: 1 step left blank", "Now you: 2 steps left blank", "p. 2-19"} {
		if !strings.Contains(body, want) {
			t.Errorf("the page lacks %q", want)
		}
	}
	for _, kitchen := range []string{"", "0", "3", "two"} {
		if got := s.post(place, url.Values{"kitchen": {kitchen}, "kitchen-2-time": {"35 min"}}); got.StatusCode != http.StatusNotFound {
			t.Errorf("kitchen %q = %d", kitchen, got.StatusCode)
		}
	}
	// The first kitchen is practice: it is told whether it is right, and not kept.
	if got := s.post(place, url.Values{"kitchen": {"1"}, "kitchen-1-time": {"25 min"}}); !strings.Contains(got.body, "As the table has it.") {
		t.Error("the first kitchen is not told that it is right")
	}
	if list, err := s.store.ListAttempts(t.Context(), s.visitor()); err != nil || len(list) > 0 {
		t.Errorf("%d attempts, %v", len(list), err)
	}
}

// TestPassedCountsOnTheList: one passed, one not.
func TestPassedCountsOnTheList(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	right, wrong := caseNamed(t, "quarts-moved-uphill", 0), caseNamed(t, "is-it-the-lids", 0)
	s.post(answerAt(right), bestAnswer(right))
	s.post(answerAt(wrong), kindTests[3].wrong)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	body := text(find(parse(t, s.get("/scenarios").body), "main"))
	if !strings.Contains(body, fmt.Sprintf("1 of %d", len(course.Scenarios))) {
		t.Errorf("the list: %.400s", body)
	}
	// The last try is the one that counts.
	s.post(answerAt(right), url.Values{"time": {"1 min"}})
	if again := text(find(parse(t, s.get("/scenarios").body), "main")); !strings.Contains(again, fmt.Sprintf("0 of %d", len(course.Scenarios))) {
		t.Errorf("after a worse try: %.400s", again)
	}
}

// TestKitchenWithNothingAdded: a kitchen may settle that nothing is added, which is a
// list without words. The list is taken as it stands, and its form does not ask for it.
func TestKitchenWithNothingAdded(t *testing.T) {
	t.Parallel()
	folder := t.TempDir()
	if err := os.Mkdir(filepath.Join(folder, "scenarios"), 0o750); err != nil {
		t.Fatal(err)
	}
	const file = "---\ntitle: Plain pears\nkind: plan\nminutes: 5\ncompetencies: [process-time]\nkitchen: {food: pears, jar: pint, altitude: 30 ft, added: []}\n" +
		"choices:\n  - {method: boiling-water, pack: hot}\ntemptation: {pack: raw}\nexercises: [process-missing-pack]\n---\n\nA box of pears, and nothing else goes into the jars.\n"
	if err := os.WriteFile(filepath.Join(folder, "scenarios", "90-plain-pears.md"), []byte(file), 0o600); err != nil {
		t.Fatal(err)
	}
	course, err := LoadCourse(folder)
	if err != nil {
		t.Fatal(err)
	}
	s := newSite(t)
	own, err := New(Config{Course: course, Store: s.store, Log: slog.New(slog.DiscardHandler)})
	if err != nil {
		t.Fatal(err)
	}
	web := httptest.NewServer(own.Handler())
	t.Cleanup(web.Close)
	s.URL = web.URL
	if body := s.get("/scenarios/plain-pears").body; strings.Contains(body, `name="added"`) || !strings.Contains(body, `name="time"`) {
		t.Error("the form asks for what is settled")
	}
	// Pears, hot, pints, to 1,000 ft: 20 minutes, 1/2 inch (USDA Guide 2, p. 2-20).
	got := s.post("/scenarios/plain-pears?case=0", url.Values{"pack": {"hot"}, "method": {"boiling-water"}, "time": {"20 min"}, "headspace": {"1/2 in"}, "added": {"flour"}})
	if got.StatusCode != http.StatusOK || verdictOn(t, got.body) != "As tested, as far as you told us" {
		t.Errorf("a right plan = %d, verdict %q", got.StatusCode, verdictOn(t, got.body))
	}
}
