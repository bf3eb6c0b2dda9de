package process

import (
	"slices"
	"strings"

	"rollingboil/scenarios/measure"
)

// Row is one printed line of the process table.
type Row struct {
	Food, Name   string
	Guide        int
	Pack         string  // hot, raw or as-directed
	Method       string  // boiling-water or pressure
	Gauge        string  // dial or weighted with pressure, else ""
	Jar          string  // id of the listed jar
	Band                 // of altitude
	Minutes      int     // process time, minutes
	PSI          int     // gauge pressure, psi; 0 with boiling water
	HeadspaceIn  float64 // inches; 0: none is printed
	Confidence   string
	Page, Source string
}

// FromMemory reports that the row was read in no publication.
func (r Row) FromMemory() bool { return r.Confidence == "from-memory" }

// Band is a stretch of altitude in feet, as it is printed. ToFt 0: no printed
// upper limit.
type Band struct{ FromFt, ToFt int }

// Covers reports whether an altitude in feet lies in the band. A band holds what is above the end of the band below it, so 1 000.5 ft belongs to the
// band printed as 1,001 to 3,000; heights below the sea belong to the lowest.
func (b *Band) Covers(altitudeFt float64) bool {
	return (b.FromFt == 0 || altitudeFt > float64(b.FromFt-1)) && (b.ToFt == 0 || altitudeFt <= float64(b.ToFt))
}

// SharedBands parts the altitudes at every edge of the given bands, lowest
// first: within one of the result, each given band covers all or nothing.
func SharedBands(given []Band) []Band {
	var edges []int
	for _, b := range given {
		edges = append(edges, b.FromFt)
		if b.ToFt > 0 {
			edges = append(edges, b.ToFt+1)
		}
	}
	slices.Sort(edges)
	edges = slices.Compact(edges)
	bands := make([]Band, len(edges))
	for i, from := range edges {
		bands[i].FromFt = from
		if i+1 < len(edges) {
			bands[i].ToFt = edges[i+1] - 1
		}
	}
	return bands
}

// Jar is one size of jar, with its nominal volume in US fluid ounces.
type Jar struct {
	ID, Name string
	FlOz     int
}

var jars = []Jar{
	{"quarter-pint", "quarter-pint", 4},
	{"half-pint", "half-pint", 8},
	{"12-oz", "12 oz", 12},
	{"pint", "pint", 16},
	{"24-oz", "24 oz", 24},
	{"28-oz", "28 oz", 28},
	{"quart", "quart", 32},
	{"half-gallon", "half-gallon", 64},
}

// Jars lists the sizes of jar, smallest first.
func Jars() []Jar { return slices.Clone(jars) }

// JarName gives a jar's name in words, or the id itself for no jar of ours.
func JarName(id string) string {
	if rank := jarRank(id); rank >= 0 {
		return jars[rank].Name
	}
	return id
}

// TspIn is the nominal volume of a jar in US teaspoons, 0 for no jar of ours.
func TspIn(id string) int {
	const tspPerFlOz = 6
	if rank := jarRank(id); rank >= 0 {
		return jars[rank].FlOz * tspPerFlOz
	}
	return 0
}

// jarRank gives a jar's place in order of size, -1 for no jar of ours.
func jarRank(id string) int {
	for i := range jars {
		if jars[i].ID == id {
			return i
		}
	}
	return -1
}

// AcidDose is the printed dose of one acid for one jar, in US teaspoons.
type AcidDose struct {
	Kind   string // bottled-lemon-juice, citric-acid or vinegar-5
	Tsp    float64
	Source string
}

// Card says of a food what is the same for all its rows.
type Card struct {
	Food, Name string
	Guide      int
	Acidity    string   // acid, acidified, borderline, pickled or low-acid
	AcidIn     string   // "jar": a dose for each jar; "recipe": part of the recipe; "": none
	RecipeAcid []string // the acids of the tested recipe, all of them; empty: none, or it was not read
	Prepared   []string // how the tested directions prepare it; empty: not limited in these words
	Sterilise  string   // "under-10": jars are sterilized for a process under ten minutes
	Packs      []string // packs that have rows
	Confidence string
	Page       string
	Source     string

	Directions  string   // how the tested directions prepare it, in one line; "" when they were not read
	Load7Quarts Amounts  // pounds bought for a load of 7 quarts
	Load9Pints  Amounts  // pounds bought for a load of 9 pints
	Bushel      Amounts  // pounds in a bushel; Of names another container
	BushelYield Amounts  // quarts from that; Of is "pints" where pints are printed
	PerQuart    Amounts  // pounds for one quart; Of is "pint" where a pint is printed
	ProduceOut  []string // words of the plan for produce that is out for this food
	Note        string   // what matters for safety or for choosing, one or two sentences

	doses [8][]AcidDose // by rank of the printed jar
}

// Dose gives the printed doses of acid for one jar: alternatives, any one of
// which is enough. A jar between printed sizes takes the next larger printed
// jar's dose. Nil: no dose is printed.
func (c Card) Dose(jar string) []AcidDose {
	rank := jarRank(jar)
	if rank < 0 {
		return nil
	}
	for _, doses := range c.doses[rank:] {
		if len(doses) > 0 {
			return doses
		}
	}
	return nil
}

// Table is the process table. It does not change after it is loaded and may be
// used by many goroutines at once.
type Table struct {
	foods    []food
	byID     map[string]*food
	untested []Untested
	ids      []string // of foods, then of the untested
	number   int
}

type food struct {
	card   Card
	rows   []Row
	places []place
}

// A place is all rows of one food with the same pack, method and gauge.
type place struct {
	pack, method, gauge string
	rows                []Row
	jars                [8][]segment // by rank of the jar
}

// A segment is a stretch of altitude on which the same rows hold.
type segment struct {
	Band
	rows []Row // the alternatives, lowest pressure first
}

// Query asks for the rows of one plan.
type Query struct {
	Food, Pack, Method, Gauge, Jar string
	AltitudeFt                     float64 // feet above sea level
}

// Gap says why no row answers a query.
type Gap int

// The reasons, in the order in which they are found.
const (
	GapNone     Gap = iota
	GapFood         // no such food
	GapMethod       // the food has no row with this method
	GapGauge        // none with this gauge
	GapPack         // none for this pack
	GapJar          // the jar is larger than any listed
	GapAltitude     // the altitude is above the last band with a printed limit, or is no height on land
)

// Result answers a query. Rows are alternatives, lowest pressure first; they
// belong to the table and are not to be changed.
type Result struct {
	Rows       []Row
	Jar        string // the listed jar whose rows these are
	SmallerJar bool   // the asked jar is smaller than that
	Gap        Gap
}

// Heights on dry land, feet: the shore of the Dead Sea lies near -1 400 ft, the
// highest summit near 29 000 ft.
const (
	lowestFt  = -1500
	highestFt = 30000
)

// Lookup finds the rows for a query. An altitude below the sea, down to
// -1 500 ft, belongs to the lowest band. An atmospheric steam canner uses the
// boiling-water rows. Rows whose pack is as-directed answer for any pack.
func (t *Table) Lookup(q Query) Result {
	f, ok := t.byID[q.Food]
	if !ok {
		return Result{Gap: GapFood}
	}
	method := q.Method
	if method == "atmospheric-steam" {
		method = "boiling-water"
	}
	gap := GapMethod
	for i := range f.places {
		p := &f.places[i]
		if p.method != method {
			continue
		}
		if p.gauge != "" && p.gauge != q.Gauge {
			gap = max(gap, GapGauge)
			continue
		}
		if p.pack != q.Pack && p.pack != "as-directed" {
			gap = max(gap, GapPack)
			continue
		}
		return p.lookup(q)
	}
	return Result{Gap: gap}
}

func (p *place) lookup(q Query) Result {
	asked := jarRank(q.Jar)
	if asked < 0 {
		return Result{Gap: GapJar}
	}
	for rank := asked; rank < len(jars); rank++ {
		if len(p.jars[rank]) == 0 {
			continue
		}
		result := Result{Jar: jars[rank].ID, SmallerJar: rank > asked, Gap: GapAltitude}
		if !(q.AltitudeFt >= lowestFt && q.AltitudeFt <= highestFt) { // nor is it not-a-number
			return result
		}
		for i := range p.jars[rank] {
			if s := &p.jars[rank][i]; s.Covers(q.AltitudeFt) {
				result.Rows, result.Gap = s.rows, GapNone
			}
		}
		return result
	}
	return Result{Gap: GapJar}
}

// Card gives a food's card.
func (t *Table) Card(id string) (Card, bool) {
	f, ok := t.byID[id]
	if !ok {
		return Card{}, false
	}
	return f.card, true
}

// Foods lists all cards in the order of the table.
func (t *Table) Foods() []Card {
	cards := make([]Card, len(t.foods))
	for i := range t.foods {
		cards[i] = t.foods[i].card
	}
	return cards
}

// Rows lists a food's rows in the order of the table, nil for no such food.
func (t *Table) Rows(id string) []Row {
	f, ok := t.byID[id]
	if !ok {
		return nil
	}
	return slices.Clone(f.rows)
}

// Len is the number of rows in the table.
func (t *Table) Len() int { return t.number }

// NearestFood gives the id spelled most like word, of a food or of an untested
// one; when none is near, the first that begins with the same five letters; else
// "".
func (t *Table) NearestFood(word string) string {
	if near := measure.Nearest(word, t.ids); near != "" || len(word) < 5 {
		return near
	}
	for _, id := range t.ids {
		if strings.HasPrefix(id, word[:5]) {
			return id
		}
	}
	return ""
}

// Line is one printed line across the altitude bands: the rows of one pack,
// method, gauge, jar and, among alternatives, one time.
type Line struct {
	Pack, Method, Gauge, Jar string
	Bands                    []Row
}

// Lines groups a food's rows into lines, in the order of the table.
func (t *Table) Lines(id string) []Line {
	var lines []Line
	for _, r := range t.Rows(id) {
		if n := len(lines); n > 0 && lines[n-1].takes(r) {
			lines[n-1].Bands = append(lines[n-1].Bands, r)
			continue
		}
		lines = append(lines, Line{Pack: r.Pack, Method: r.Method, Gauge: r.Gauge, Jar: r.Jar, Bands: []Row{r}})
	}
	return lines
}

func (l Line) takes(r Row) bool {
	last := l.Bands[len(l.Bands)-1]
	return l.Pack == r.Pack && l.Method == r.Method && l.Gauge == r.Gauge && l.Jar == r.Jar &&
		last.ToFt > 0 && r.FromFt == last.ToFt+1 && (r.Method != "pressure" || r.Minutes == last.Minutes)
}
