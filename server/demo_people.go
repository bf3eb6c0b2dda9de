package server

import (
	"net/url"
	"slices"
	"strings"

	"rollingboil/scenarios"
)

// The people of the invented class. None of them is a real person, and none of the
// places is one.

const (
	demoClassName  = "Harrow Creek Grange, Thursday evenings (invented example)"
	demoInstructor = "Thessaly Brandreth"
)

// demoStudent is one student: where the kitchen stands, how much of what is assigned
// gets done, how often an answer goes wrong without a reason, and what is believed when
// the class begins. Shares are of a thousand.
type demoStudent struct {
	name     string
	altitude int // feet
	jar      string
	steady   int
	slips    int
	beliefs  []string // ids of misconceptions

	id        string // of the visitor
	lids, lot string
}

// demoStudents are the class, the steadiest first: who comes earlier in the list gets
// further with the practice batches.
func demoStudents() []*demoStudent {
	var list []*demoStudent
	for line := range strings.Lines(demoRoll) {
		f := strings.Split(strings.TrimSpace(line), "|")
		list = append(list, &demoStudent{
			name: f[0], altitude: wholeNumber(f[1]), jar: f[2], steady: wholeNumber(f[3]), slips: wholeNumber(f[4]), beliefs: strings.Fields(f[5]),
		})
	}
	return list
}

const demoRoll = `Aldith Corran|6240|quart|990|60|ping-proves-seal
Fenna Marchbury|6310|pint|985|70|bands-hold-the-seal unsealed-means-bad-lids
Joris Hathwell|5870|quart|980|90|longer-is-always-better retighten-after
Calla Wintrow|6450|quart|975|80|watery-layer-is-spoiled ripe-tomatoes-are-acid-enough
Benno Quarrie|7120|pint|970|110|altitude-does-not-matter fuller-jar-keeps-better
Kerensa Oakden|6240|quart|960|60|lost-liquid-means-spoiled
Odalys Brennick|6020|quart|955|120|time-is-a-guess cool-fast-is-better tighter-band-better-seal
Dagny Ferrow|4890|pint|950|70|altitude-does-not-matter a-little-onion-is-harmless
Nils Cawdrey|6580|quart|940|130|lids-can-be-reused it-never-hurt-us longer-is-always-better
Ilka Pemberly|6240|pint|935|90|water-level-does-not-matter headspace-is-cosmetic
Mirela Standen|5410|quart|930|80|bigger-jar-same-time sealed-means-safe
Gideon Ashlock|6390|quart|920|150|short-break-does-not-count time-starts-when-jars-go-in
Hanneke Dorrow|8260|pint|910|90|boil-longer-instead-of-pressure time-is-a-guess
Edric Solvane|6150|quart|900|140|tighter-band-better-seal unsealed-means-bad-lids retighten-after
Quilla Marsten|6240|pint|890|110|strip-replaces-acid fresh-lemon-is-better
Lorne Tibbick|6700|quart|870|160|time-is-a-guess it-never-hurt-us inversion-seals
Sunniva Tarrow|5690|pint|860|100|more-headspace-is-safer check-seals-hot
Perrin Hollowell|6240|quart|840|150|unsealed-can-wait sealed-means-safe
Rufus Endicombe|7480|quart|820|170|altitude-does-not-matter longer-is-always-better any-vinegar-will-do
Tamsin Groveland|6290|pint|800|120|skins-do-no-harm thicken-before-canning
Yara Fensome|4620|quart|770|130|altitude-does-not-matter bubbles-do-no-harm
Ulric Penhale|6240|pint|720|190|lids-can-be-reused refill-lost-liquid any-jar-that-fits
Verity Loxcombe|6830|quart|640|160|bands-hold-the-seal look-and-smell-tell fuller-jar-keeps-better
Wystan Dunmere|6110|pint|520|220|time-is-a-guess ripe-tomatoes-are-acid-enough unsealed-can-wait short-break-does-not-count
`

// wholeNumber reads a number of the roll.
func wholeNumber(digits string) int {
	n := 0
	for _, r := range digits {
		n = 10*n + int(r-'0')
	}
	return n
}

// Two lots of lids went around in the class; the second seals a little worse. A few have
// reusable lids of their own. How often a lid fails is invented, of a thousand.
var demoLots = []struct {
	name  string
	fails int
}{{"blue box, lot 4417", 20}, {"gray box, lot 5203", 150}}

// fails is how many lids of a thousand do not seal, whatever is done.
func (st *demoStudent) fails() int {
	const always = 15
	for _, lot := range demoLots {
		if lot.name == st.lot {
			return always + lot.fails
		}
	}
	return always
}

// demoBelief is what a belief puts into a plan: a value, or one that is looked up in the
// wrong place.
type demoBelief struct {
	key, value string
	lookup     url.Values // the time is looked up as if the plan said this
}

var demoBeliefs = map[string]demoBelief{
	"altitude-does-not-matter":      {key: "time", lookup: url.Values{"altitude": {"500 ft"}}},
	"bigger-jar-same-time":          {key: "time", lookup: url.Values{"jar": {"pint"}}},
	"time-is-a-guess":               {key: "time", value: "30 min"},
	"ripe-tomatoes-are-acid-enough": {key: "acid.kind", value: "none"},
	"strip-replaces-acid":           {key: "acid.kind", value: "none"},
	"fresh-lemon-is-better":         {key: "acid.kind", value: "fresh-lemon-juice"},
	"any-vinegar-will-do":           {key: "acid.kind", value: "vinegar-weak"},
	"lids-can-be-reused":            {key: "lids.state", value: "used"},
	"tighter-band-better-seal":      {key: "bands", value: "forced"},
	"retighten-after":               {key: "cooling.bands_retightened", value: "true"},
	"cool-fast-is-better":           {key: "cooling.forced", value: "true"},
	"inversion-seals":               {key: "cooling.inverted", value: "true"},
	"bands-hold-the-seal":           {key: "storage.bands_off", value: "false"},
	"fuller-jar-keeps-better":       {key: "headspace", value: "1/4 in"},
	"more-headspace-is-safer":       {key: "headspace", value: "1 in"},
	"time-starts-when-jars-go-in":   {key: "timing_starts", value: "jars-in"},
	"short-break-does-not-count":    {key: "boil_interrupted", value: "continue"},
	"water-level-does-not-matter":   {key: "water_over_lids", value: "1/2 in"},
	"a-little-onion-is-harmless":    {key: "added", value: "onion"},
	"thicken-before-canning":        {key: "added", value: "flour"},
	"skins-do-no-harm":              {key: "prepared", value: "unpeeled"},
	"bubbles-do-no-harm":            {key: "bubbles_removed", value: "false"},
	"refill-lost-liquid":            {key: "lost_liquid", value: "top-up"},
	"any-jar-that-fits":             {key: "jars.kind", value: "one-trip"},
	"ping-proves-seal":              {key: "seal_checks", value: "ping"},
	"unsealed-can-wait":             {key: "unsealed_within", value: "48 h"},
	"look-and-smell-tell":           {key: "opening", value: "taste"},
}

// demoForgets are the lines of a plan that somebody in a hurry leaves out.
var demoForgets = []string{"seal_checks", "cooling.undisturbed", "cooling.hours", "boil_interrupted", "rest", "water_over_lids", "rims_wiped", "unsealed", "lids.state"}

// mistaken is a right plan as a student writes it: with what is believed, and without
// what is forgotten.
func (d *demo) mistaken(st *demoStudent, week int, right scenarios.Plan) url.Values {
	form := formOf(right)
	for _, id := range st.beliefs {
		b, about := demoBeliefs[id]
		if !about || !right.Known(b.key) || !d.holds(week) {
			continue
		}
		value := b.value
		if b.lookup != nil {
			value = d.lookedUp(form, b.lookup)
		}
		if b.key == "acid.kind" {
			if form.Get("acid.per_jar") == "" {
				continue // the recipe has its own
			}
			if value == "none" {
				form.Del("acid.per_jar")
			}
			if id == "strip-replaces-acid" {
				form.Set("ph.reading", "4.2")
				form.Set("ph.by", "strip")
			}
		}
		form.Set(b.key, value)
	}
	for _, key := range demoForgets {
		if d.chance(st.slipsIn(week) / 3) {
			form.Del(key)
		}
	}
	return noneMeansNothing(form)
}

// lookedUp is the printed time for a plan that says something else in one place; the
// plan's own where nothing is printed for that.
func (d *demo) lookedUp(form, instead url.Values) string {
	other := url.Values{}
	for key, values := range form {
		other[key] = values
	}
	for key, values := range instead {
		other[key] = values
	}
	if plan, err := d.course.Grader.PlanFromForm(noneMeansNothing(other)); err == nil {
		if time := d.course.Grader.TestedValues(plan)["time"]; time != "" {
			return time
		}
	}
	return form.Get("time")
}

// believes says whether a student began with a belief.
func (st *demoStudent) believes(id string) bool { return slices.Contains(st.beliefs, id) }

// slipsIn is how many answers of a thousand go wrong for no reason: fewer every week.
func (st *demoStudent) slipsIn(week int) int { return st.slips * max(2, 9-week) / 9 }
