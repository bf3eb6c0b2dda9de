package server

import (
	"bytes"
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"strings"
	"testing"
	"time"

	"rollingboil/scenarios"
	"rollingboil/server/store"
)

// newDemo is a site filled with the invented class.
func newDemo(t *testing.T) (*site, *Server, DemoLogin) {
	t.Helper()
	s := newSite(t)
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	server, err := New(Config{Course: course, Store: s.store})
	if err != nil {
		t.Fatal(err)
	}
	login, err := server.FillDemo(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return s, server, login
}

// classWorks is everything that is kept for a class, person by person, without what is
// different in every database: passwords, photos' bytes are told by their sums.
type classWorks struct {
	Class       store.Class
	Assignments []store.Assignment
	People      []personWorks
	Trials      []trialWorks
	Materials   []materialWorks
}

type materialWorks struct {
	Material store.Material
	Versions []store.MaterialVersion
	Events   []store.MaterialEvent
}

type trialWorks struct {
	Trial    store.Trial
	Variants []store.TrialVariant
	Entries  []store.TrialEntry
	Events   []store.TrialEvent
}

type personWorks struct {
	Name     string
	Joined   time.Time
	Visitor  store.Visitor
	Answers  []store.Answer
	Plans    []store.SavedPlan
	Attempts []store.Attempt
	Sittings []store.Sitting
	Batches  []batchWorks
}

type batchWorks struct {
	Batch    store.Batch
	Versions []store.BatchVersion
	Events   []store.BatchEvent
	Times    []store.BatchTime
	Photos   []store.BatchPhoto
}

// worksOf reads all that is kept for the class.
func worksOf(t *testing.T, db *store.Store, login DemoLogin) classWorks {
	t.Helper()
	ctx := context.Background()
	must := func(err error) {
		t.Helper()
		if err != nil {
			t.Fatal(err)
		}
	}
	var all classWorks
	var err error
	all.Class, err = db.Class(ctx, strings.TrimPrefix(login.Class, "/class/"))
	must(err)
	all.Assignments, err = db.Assignments(ctx, all.Class.ID)
	must(err)
	members, err := db.Members(ctx, all.Class.ID)
	must(err)
	for _, m := range members {
		p := personWorks{Name: m.Name, Joined: m.Joined}
		p.Visitor, err = db.Visitor(ctx, m.Visitor)
		must(err)
		p.Answers, err = db.ListAnswers(ctx, m.Visitor)
		must(err)
		p.Plans, err = db.ListPlans(ctx, m.Visitor)
		must(err)
		p.Attempts, err = db.ListAttempts(ctx, m.Visitor)
		must(err)
		p.Sittings, err = db.ListSittings(ctx, m.Visitor)
		must(err)
		batches, err := db.ListBatches(ctx, m.Visitor)
		must(err)
		for _, one := range batches {
			b := batchWorks{Batch: one}
			b.Versions, err = db.BatchVersions(ctx, one.ID)
			must(err)
			b.Events, err = db.BatchEvents(ctx, one.ID)
			must(err)
			b.Times, err = db.BatchTimes(ctx, one.ID)
			must(err)
			b.Photos, err = db.BatchPhotos(ctx, one.ID)
			must(err)
			p.Batches = append(p.Batches, b)
		}
		all.People = append(all.People, p)
	}
	trials, err := db.Trials(ctx, all.Class.ID)
	must(err)
	for _, one := range trials {
		w := trialWorks{Trial: one}
		w.Variants, err = db.TrialVariants(ctx, one.ID)
		must(err)
		w.Entries, err = db.TrialEntries(ctx, one.ID)
		must(err)
		w.Events, err = db.TrialEvents(ctx, one.ID)
		must(err)
		all.Trials = append(all.Trials, w)
	}
	materials, err := db.Materials(ctx, all.Class.ID)
	must(err)
	for _, one := range materials {
		w := materialWorks{Material: one}
		for n := range one.Last {
			v, err := db.MaterialVersion(ctx, one.ID, n+1)
			must(err)
			w.Versions = append(w.Versions, v)
		}
		w.Events, err = db.MaterialEvents(ctx, one.ID)
		must(err)
		all.Materials = append(all.Materials, w)
	}
	return all
}

// TestDemoIsTheSameEachTime fills two databases and finds the same in both.
func TestDemoIsTheSameEachTime(t *testing.T) {
	t.Parallel()
	var dumps [2][]byte
	var logins [2]DemoLogin
	for i := range dumps {
		s, _, login := newDemo(t)
		var err error
		if dumps[i], err = json.MarshalIndent(worksOf(t, s.store, login), "", " "); err != nil {
			t.Fatal(err)
		}
		logins[i] = login
	}
	if len(dumps[0]) < 1_000_000 {
		t.Errorf("the class kept %d bytes only", len(dumps[0]))
	}
	if !bytes.Equal(dumps[0], dumps[1]) {
		a, b := strings.Split(string(dumps[0]), "\n"), strings.Split(string(dumps[1]), "\n")
		for i := range min(len(a), len(b)) {
			if a[i] != b[i] {
				t.Fatalf("two databases differ: %.300s\n%.300s", a[i], b[i])
			}
		}
		t.Fatal("two databases differ in length")
	}
	if logins[0].InstructorPassword == logins[1].InstructorPassword || logins[0].StudentPassword == logins[1].StudentPassword {
		t.Error("two databases have the same passwords")
	}
}

// TestDemoNames looks up every belief that is named: one mistyped would never be held.
func TestDemoNames(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	known := func(id string) {
		if _, ok := course.Grader.Rules().Misconception(id); !ok {
			t.Errorf("there is no misconception %q", id)
		}
	}
	for _, st := range demoStudents() {
		for _, id := range st.beliefs {
			known(id)
		}
	}
	for id := range demoBeliefs {
		known(id)
	}
	for _, b := range demoJarBeliefs {
		known(b.id)
	}
}

func TestDemo(t *testing.T) {
	t.Parallel()
	s, server, login := newDemo(t)
	works := worksOf(t, s.store, login)

	t.Run("counts", func(t *testing.T) { demoCounts(t, works) })
	t.Run("beliefs", func(t *testing.T) { demoHeld(t, server, works) })
	t.Run("trials", func(t *testing.T) { demoTried(t, server, works) })
	t.Run("seals", func(t *testing.T) { demoSeals(t, server, works) })

	if _, err := server.FillDemo(t.Context()); !errors.Is(err, ErrNotEmpty) {
		t.Errorf("a full database is filled again: %v", err)
	}

	// Everything opens for the instructor.
	got := s.post("/login", url.Values{"name": {login.Instructor}, "password": {login.InstructorPassword}})
	if got.StatusCode != http.StatusOK {
		t.Fatalf("the instructor cannot log in: %d", got.StatusCode)
	}
	opens := func(path, want string) {
		t.Helper()
		if page := s.get(path); page.StatusCode != http.StatusOK || !strings.Contains(page.body, want) {
			t.Errorf("GET %s = %d, without %q", path, page.StatusCode, want)
		}
	}
	opens(login.Class, "(invented example)")
	for _, w := range works.Trials {
		opens(login.Class+"/trials/"+w.Trial.ID, "What chance alone would do")
		opens(login.Class+"/trials/"+w.Trial.ID+"/workbook", w.Trial.Question)
	}
	for _, w := range works.Materials {
		opens(login.Class+"/materials/"+w.Material.ID, "Nothing. It can be published.")
	}
	for path, want := range map[string]string{
		"/lessons/lemon-juice-and-strips": "“Without lemon juice” is not safe as written", "/practice/strip-or-juice": "it read 4.2", login.Class + "/materials": "a draft, changed on",
	} {
		opens(path, want)
	}
	list := mainText(t, s.get(login.Class+"/trials"))
	for _, want := range []string{"“Without lemon juice” is not safe as written", "As planned, every way here is as tested"} {
		if !strings.Contains(list, want) {
			t.Errorf("the list of trials lacks %q: %s", want, list)
		}
	}
	for _, p := range works.People {
		of := login.Class + "/students/" + p.Visitor.ID
		opens(of, p.Name)
		for _, a := range p.Attempts {
			opens(of+"/attempts/"+a.ID, p.Name)
		}
		for _, b := range p.Batches {
			opens("/batches/"+b.Batch.ID, p.Name)
			for _, photo := range b.Photos {
				opens("/batches/"+b.Batch.ID+"/photos/"+photo.ID, "\xff\xd8\xff") // a JPEG
			}
		}
	}
}

func demoCounts(t *testing.T, works classWorks) {
	kinds, states := map[string]int{}, map[string]int{}
	for _, a := range works.Assignments {
		kinds[a.Kind]++
	}
	for _, kind := range []string{lessonKind, questionsKind, scenarioKind, batchKind} {
		if kinds[kind] == 0 {
			t.Errorf("no %s is assigned", kind)
		}
	}
	if len(works.People) != 24 {
		t.Errorf("%d students, want 24", len(works.People))
	}
	lower, higher, attempts, passed, handedIn, open, plans, photos, times := 0, 0, 0, 0, 0, 0, 0, 0, 0
	of := map[string]bool{}
	for _, p := range works.People {
		if p.Visitor.AltitudeFt < 6000 {
			lower++
		} else if p.Visitor.AltitudeFt > 6500 {
			higher++
		}
		for _, a := range p.Attempts {
			attempts++
			of[a.Kind] = true
			if a.Passed {
				passed++
			}
		}
		for _, v := range p.Sittings {
			if v.Submitted.IsZero() {
				open++
			} else {
				handedIn++
			}
		}
		plans += len(p.Plans)
		for _, b := range p.Batches {
			w := work{Events: b.Events}
			states[w.state()]++
			photos += len(b.Photos)
			times += len(b.Times)
		}
	}
	for name, n := range map[string]int{
		"kitchens below 6 000 ft": lower, "kitchens above 6 500 ft": higher, "sets handed in": handedIn, "sets not handed in": open,
		"attempts that failed": attempts - passed, "attempts that passed": passed, "plans": plans, "photos": photos, "clock times": times,
	} {
		if n == 0 {
			t.Errorf("there are no %s", name)
		}
	}
	for _, kind := range scenarios.ScenarioKinds() {
		if !of[kind] {
			t.Errorf("nobody tried a scenario of kind %s", kind)
		}
	}
	for state, name := range batchStates {
		if states[state] == 0 {
			t.Errorf("no batch is in the state %q", name)
		}
	}
}

// demoHeld holds what the class is about: who believes something answers so more often
// than the others, and everybody gets better.
func demoHeld(t *testing.T, server *Server, works classWorks) {
	beliefs := map[string][]string{}
	for _, st := range demoStudents() {
		beliefs[st.name] = st.beliefs
	}
	var asked, shown [2]int // by those who do not hold a belief, and by those who do
	var all, right [2]int   // in the first two weeks, and after the fourth
	for _, p := range works.People {
		for _, a := range p.Answers {
			q, _ := server.course.Bank.Question(a.Question)
			put, err := q.Ask(a.Seed)
			if err != nil {
				t.Fatal(err)
			}
			marked, err := put.Mark(a.Given)
			if err != nil || marked.Right != a.Right {
				t.Errorf("%s answered %s with %q: marked %v, kept as %v, %v", p.Name, a.Question, a.Given, marked.Right, a.Right, err)
			}
			for _, b := range put.Believed() {
				holds := 0
				if strings.Contains(" "+strings.Join(beliefs[p.Name], " ")+" ", " "+b.Misconception+" ") {
					holds = 1
				}
				asked[holds]++
				if strings.Contains(" "+strings.Join(marked.Misconceptions(), " ")+" ", " "+b.Misconception+" ") {
					shown[holds]++
				}
			}
			starts := time.Date(2026, 7, 16, 0, 0, 0, 0, time.UTC)
			switch week := int(a.At.Sub(starts).Hours()) / (7 * 24); {
			case week < 2:
				all[0]++
				if a.Right {
					right[0]++
				}
			case week > 3:
				all[1]++
				if a.Right {
					right[1]++
				}
			}
		}
	}
	if shown[1]*asked[0] < 4*shown[0]*asked[1] {
		t.Errorf("beliefs show in %d of %d answers of who holds them, in %d of %d of the others", shown[1], asked[1], shown[0], asked[0])
	}
	if right[1]*all[0] <= right[0]*all[1] {
		t.Errorf("right are %d of %d in the first two weeks, %d of %d in the last two", right[0], all[0], right[1], all[1])
	}
}

// demoTried holds what the trials are to teach: the shortcut without acid is not safe
// though its jars seal (USDA Guide 3, p. 3-5, wants the acid in every jar), and a rest
// before the jars are lifted, which no verdict hangs on, shows in the liquid.
func demoTried(t *testing.T, server *Server, works classWorks) {
	if len(works.Trials) != 2 {
		t.Fatalf("%d trials, want 2", len(works.Trials))
	}
	shown := 0
	for _, w := range works.Trials {
		shown += truth(w.Trial.Shown)
		var sums [2]trialSums
		for _, e := range w.Entries {
			var load trialLoad
			if err := json.Unmarshal(e.Load, &load); err != nil {
				t.Fatal(err)
			}
			if len(load.Jars) != demoLoad["quart"] {
				t.Errorf("%s: a load of %d jars", w.Trial.Question, len(load.Jars))
			}
			sums[e.Variant-1].add(load)
		}
		for i, v := range w.Variants {
			plan, err := server.course.Grader.ParsePlan("", v.Plan)
			if err != nil {
				t.Fatal(err)
			}
			want := scenarios.AsTested
			if plan.AcidKind.Value == "none" {
				want = scenarios.Unsafe
			}
			report := server.course.Grader.Grade(plan)
			if report.Verdict != want || len(report.NotStated) > 0 || v.Verdict != string(want) {
				t.Errorf("%s, %s: %s, kept as %s, not stated %q; want %s of a whole plan", w.Trial.Question, v.Name, report.Verdict, v.Verdict, report.NotStated, want)
			}
			if n := sums[i].Loads; n < 3 || n > 6 {
				t.Errorf("%s, %s: %d loads, want a handful", w.Trial.Question, v.Name, n)
			}
			if 10*sums[i].Unsealed > sums[i].Sealed {
				t.Errorf("%s, %s: %d of %d did not seal; it is to seal well", w.Trial.Question, v.Name, sums[i].Unsealed, sums[i].Sealed)
			}
			if want == scenarios.Unsafe && len(sums[i].PHs) == 0 {
				t.Errorf("%s: no pH is read", w.Trial.Question)
			}
		}
		if plain := w.Variants[0].Verdict == w.Variants[1].Verdict; plain && sums[1].Lost < 2*sums[0].Lost {
			t.Errorf("%s: %d lost liquid, against %d", w.Trial.Question, sums[1].Lost, sums[0].Lost)
		}
	}
	if shown != 1 {
		t.Errorf("%d trials are shown to the class, want one", shown)
	}
}

// demoSeals counts jars: each record has a full load, none that did not seal is told to
// go on the shelf, and the gray lot fails more often than the blue one.
func demoSeals(t *testing.T, server *Server, works classWorks) {
	jars, failed := map[string]int{}, map[string]int{}
	for _, p := range works.People {
		for _, b := range p.Batches {
			w := work{Versions: b.Versions}
			v := w.last(store.RecordVersion)
			if v == nil {
				continue
			}
			read, _, err := server.course.Grader.ParseFile("", v.File)
			if err != nil {
				t.Fatal(err)
			}
			var report scenarios.BatchReport
			if err := json.Unmarshal(v.Report, &report); err != nil {
				t.Fatal(err)
			}
			if again, err := json.Marshal(server.course.Grader.GradeBatch(read)); err != nil || !bytes.Equal(again, v.Report) {
				t.Errorf("%s: the report kept is not the grader's; %v", p.Name, err)
			}
			if want := demoLoad[read.Plan.Jar.Value]; len(read.Record.Jars) != want || len(report.Jars) != want {
				t.Errorf("%s: %d jars are recorded and %d answered, want %d of both", p.Name, len(read.Record.Jars), len(report.Jars), want)
			}
			for i, j := range read.Record.Jars {
				jars[v.Lot]++
				if !j.Sealed.Value {
					failed[v.Lot]++
					if report.Jars[i].Answer == "shelf" || report.Jars[i].Answer == "use-first" {
						t.Errorf("%s: jar %d did not seal and is to go on the shelf", p.Name, j.N)
					}
				}
			}
		}
	}
	blue, gray := demoLots[0].name, demoLots[1].name
	if failed[blue] == 0 || 2*failed[gray]*jars[blue] < 3*failed[blue]*jars[gray] {
		t.Errorf("of the lids %d of %d of one lot failed, %d of %d of the other", failed[blue], jars[blue], failed[gray], jars[gray])
	}
}
