package server

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"slices"
	"strconv"
	"strings"

	"github.com/gin-gonic/gin"

	"rollingboil/scenarios"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/physics"
	"rollingboil/scenarios/rules"
	"rollingboil/server/store"
)

// What the jars of a class teach: unsealed jars counted by what they have in common.
// The page tells how often chance alone would make such a difference. It never says
// what the cause is: the figures cannot.

// What an answer about chance is held to: one false alarm in twenty, four true
// differences in five found. A convention of statistics, not of canning.
const (
	falseAlarm = 0.05
	foundOften = 0.8
	howSure    = 0.95
	hardlyEver = 0.01 // below this a difference is as good as never found
)

// sealWays are the ways in which jars are told apart.
var sealWays = []struct{ key, name, head string }{
	{"lids", "By kind of lid", "Lid"},
	{"lot", "By box or lot of lids", "Box or lot"},
	{"food", "By food", "Food"},
	{"headspace", "By headspace as planned", "Headspace"},
	{"altitude", "By altitude band of the tested row", "Altitude"},
}

// sealGroup is a name that jars are counted under: id to compare, name to read.
type sealGroup struct{ id, name string }

var notStatedGroup = sealGroup{"", "not stated"}

// sealLoad is one load of a class, as far as its seals go.
type sealLoad struct {
	groups         map[string]sealGroup // by way
	unsealed, jars int                  // jars of which the record says whether they sealed
	notSaid        int
}

// sealCount is how many jars and loads there are under a name.
type sealCount struct {
	sealGroup
	Unsealed, Jars   int
	Loads, LoadsWith int // LoadsWith have at least one unsealed jar
}

func (c *sealCount) add(l sealLoad) {
	c.Unsealed += l.unsealed
	c.Jars += l.jars
	c.Loads++
	if l.unsealed > 0 {
		c.LoadsWith++
	}
}

// ID is the group as an address names it.
func (c sealCount) ID() string { return c.id }

// Name is the group as it is read.
func (c sealCount) Name() string { return c.name }

// Range is where the true share may lie, by Wilson's interval.
func (c sealCount) Range() string { return rangeText(c.Unsealed, c.Jars) }

// rangeText is Wilson's interval of k of n in words, "" where there is none.
func rangeText(k, n int) string {
	low, high, err := physics.Wilson(k, n, howSure)
	if err != nil {
		return ""
	}
	return fmt.Sprintf("%.0f to %.0f %%", 100*low, 100*high)
}

type sealsPage struct {
	page
	Class    store.Class
	All      sealCount
	NotSaid  int
	Tables   []sealTable
	Compared *comparison
	Against  string   // what was compared
	Differ   []string // in what else the compared loads differ
	Wrong    string
	Survey   rules.Source
	Causes   rules.Source
}

type sealTable struct {
	Key, Name, Head string
	Groups          []sealCount
	A, B            string // chosen
}

// sealsPage counts the jars of the class, for its instructor.
func (s *Server) sealsPage(c *gin.Context) error {
	class, err := s.held(c)
	if err != nil {
		return err
	}
	records, err := s.store.ClassRecords(c.Request.Context(), class.ID)
	if err != nil {
		return err
	}
	data := sealsPage{page: newPage("What the jars teach", "/class/"+class.ID), Class: class}
	data.Survey, _ = s.course.Grader.Rules().Source("nchfp")
	data.Causes, _ = s.course.Grader.Rules().Source("arizona-extension")
	loads := make([]sealLoad, 0, len(records))
	for _, r := range records {
		load, err := s.sealLoad(r)
		if err != nil {
			return err
		}
		data.NotSaid += load.notSaid
		if load.jars > 0 {
			data.All.add(load)
			loads = append(loads, load)
		}
	}
	by, a, b := c.Query("by"), c.Query("a"), c.Query("b")
	for _, way := range sealWays {
		table := sealTable{Key: way.key, Name: way.name, Head: way.head, Groups: sealGroups(loads, way.key)}
		if by == way.key {
			table.A, table.B = a, b
			data.compare(table, loads)
		}
		data.Tables = append(data.Tables, table)
	}
	return s.write(c.Writer, c.Request, http.StatusOK, "seals", data)
}

// compare holds two groups of a table against each other.
func (p *sealsPage) compare(table sealTable, loads []sealLoad) {
	find := func(id string) int {
		return slices.IndexFunc(table.Groups, func(g sealCount) bool { return g.id == id })
	}
	a, b := find(table.A), find(table.B)
	if a < 0 || b < 0 || a == b || table.A == "" || table.B == "" {
		p.Wrong = "Choose two that are not the same. Nothing was compared."
		return
	}
	first, second := table.Groups[a], table.Groups[b]
	p.Against = first.name + " against " + second.name
	compared := compareJars("did not seal", first.asCounted(), second.asCounted())
	p.Compared = &compared
	for _, way := range sealWays {
		if way.key == table.Key {
			continue
		}
		in := func(id string) (names []string) {
			for _, l := range loads {
				if l.groups[table.Key].id == id {
					names = append(names, l.groups[way.key].id)
				}
			}
			slices.Sort(names)
			return slices.Compact(names)
		}
		// Only where all loads of both have one and the same is it ruled out.
		if one, other := in(first.id), in(second.id); len(one) > 1 || !slices.Equal(one, other) || one[0] == "" {
			p.Differ = append(p.Differ, strings.ToLower(way.head))
		}
	}
}

func (c sealCount) asCounted() counted {
	return counted{Name: c.name, K: c.Unsealed, N: c.Jars, Loads: c.Loads, LoadsWith: c.LoadsWith}
}

// sealGroups counts the loads by one way, those of which it is not stated last.
func sealGroups(loads []sealLoad, way string) []sealCount {
	at := map[string]int{}
	var groups []sealCount
	for _, l := range loads {
		g := l.groups[way]
		i, seen := at[g.id]
		if !seen {
			i = len(groups)
			at[g.id] = i
			groups = append(groups, sealCount{sealGroup: g})
		}
		groups[i].add(l)
	}
	slices.SortFunc(groups, func(a, b sealCount) int {
		switch "" {
		case a.id:
			return 1
		case b.id:
			return -1
		}
		return cmp.Or(b.Jars-a.Jars, strings.Compare(a.name, b.name))
	})
	return groups
}

// Stated are the groups that can be compared: all but the loads of which it is not stated.
func (t sealTable) Stated() []sealCount {
	return slices.DeleteFunc(slices.Clone(t.Groups), func(g sealCount) bool { return g.id == "" })
}

// sealLoad reads what a record says of its seals, and what the plan says of the load.
func (s *Server) sealLoad(r store.ClassRecord) (sealLoad, error) {
	b, _, err := s.course.Grader.ParseFile("", r.File)
	if err != nil {
		return sealLoad{}, fmt.Errorf("read a kept batch: %w", err)
	}
	var report scenarios.Report
	if err := json.Unmarshal(r.Report, &report); err != nil {
		return sealLoad{}, fmt.Errorf("read a kept report: %w", err)
	}
	load := sealLoad{groups: map[string]sealGroup{}}
	for _, way := range sealWays {
		load.groups[way.key] = notStatedGroup
	}
	set := func(way, id, name string) { load.groups[way] = sealGroup{id, name} }
	if b.Plan.LidsKind.Known {
		set("lids", b.Plan.LidsKind.Value, sayWord("lids.kind", b.Plan.LidsKind.Value))
	}
	// "Blue Box" and "blue  box" are one lot.
	if lot := strings.Join(strings.Fields(r.Lot), " "); lot != "" {
		set("lot", strings.ToLower(lot), lot)
	}
	if b.Plan.Food.Known {
		set("food", b.Plan.Food.Value, scenarios.Sentence(foodName(s.course.Grader.Table(), b.Plan.Food.Value)))
	}
	// 1/2 in, 0.5 in and 13 mm are one headspace: to the sixteenth of an inch, as rulers have it.
	if b.Plan.Headspace.Known {
		inches := measure.Length(math.Round(float64(b.Plan.Headspace.Value)*16) / 16)
		set("headspace", inches.String(), inches.Both())
	}
	if len(report.Tested) > 0 {
		band := report.Tested[0].Altitudes()
		set("altitude", band, band)
	}
	for _, jar := range b.Record.Jars {
		switch {
		case !jar.Sealed.Known:
			load.notSaid++
		case !jar.Sealed.Value:
			load.unsealed++
			load.jars++
		default:
			load.jars++
		}
	}
	return load, nil
}

// counted is one group of jars and how many of them did something.
type counted struct {
	Name             string
	K, N             int
	Loads, LoadsWith int // LoadsWith have at least one such jar
}

// comparison is two groups held against each other, in words.
type comparison struct {
	Says  string // by jars
	Needs string // how many more jars would tell
	Loads string // the same by loads
	Finds string // how often so few jars would find such a difference
}

// compareJars asks of two groups how often chance alone would make so large a difference
// in jars that did something, such as "did not seal", and how many jars would tell.
func compareJars(did string, a, b counted) comparison {
	for _, g := range []counted{a, b} {
		if g.N == 0 {
			return comparison{Says: fmt.Sprintf("Of “%s” it is not recorded how many jars %s, so there is nothing to compare.", g.Name, did)}
		}
	}
	out := comparison{Says: fmt.Sprintf("%d of %d against %d of %d %s: ", a.K, a.N, b.K, b.N, did)}
	chance, err := chanceAlone(a.K, a.N, b.K, b.N)
	if err != nil {
		out.Says += "that is more than can be reckoned here."
		return out
	}
	p1, p2 := float64(a.K)/float64(a.N), float64(b.K)/float64(b.N)
	if a.K*b.N == b.K*a.N {
		out.Says += "no difference was seen. That does not show that there is none."
		return out
	}
	out.Says += "chance alone would do this " + often(chance) + "."
	needed, err := physics.JarsNeeded(p1, p2, falseAlarm, foundOften)
	switch more := needed - min(a.N, b.N); {
	case chance <= falseAlarm:
		out.Needs = "So the two differ in something more than luck. The figures do not say in what."
	case err != nil:
		out.Needs = "No number of jars that a class cans would tell so small a difference."
	case more > 0:
		out.Needs = fmt.Sprintf("It would take about %s jars of each to tell, %s more.", about(needed), about(more))
	default:
		out.Needs = "Some more jars of each, in more loads, would tell."
	}
	if power, err := physics.FisherPower(a.N, b.N, p1, p2, falseAlarm); err == nil && chance > falseAlarm {
		out.Finds = fmt.Sprintf("If the true difference is as large as it looks, %d and %d jars show it %s.", a.N, b.N, often(power))
		if power < hardlyEver {
			out.Finds = fmt.Sprintf("However large the difference looks, %d and %d jars are too few to show it.", a.N, b.N)
		}
	}
	if a.Loads > 0 && b.Loads > 0 {
		if chance, err := chanceAlone(a.LoadsWith, a.Loads, b.LoadsWith, b.Loads); err == nil {
			out.Loads = fmt.Sprintf("By loads with such a jar, the safer count: %d of %d against %d of %d, %s.", a.LoadsWith, a.Loads, b.LoadsWith, b.Loads, often(chance))
		}
	}
	return out
}

// about is a count that is not known to the last jar: above a hundred in tens, above a
// thousand in hundreds.
func about(n int) string {
	switch {
	case n < 100:
		return strconv.Itoa(n)
	case n < 1000:
		return strconv.Itoa((n + 5) / 10 * 10)
	}
	n = (n + 50) / 100 * 100
	return fmt.Sprintf("%d\u00a0%03d", n/1000, n%1000)
}

func chanceAlone(a, n1, b, n2 int) (float64, error) {
	_, twoSided, err := physics.Fisher(a, n1, b, n2)
	return twoSided, err
}

// often is a probability as people say it.
func often(p float64) string {
	switch {
	case p > 0.95:
		return "nearly every time"
	case p < 1e-6:
		return bench.OneIn(p) // less than one time in a million
	}
	return "about " + bench.OneIn(p)
}
