package server

import (
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// timesTable is a printed table of one food, one pack and one canner: a line for
// each altitude band, a column for each jar.
type timesTable struct {
	Caption, Note string
	Jars          []jarColumn
	Bands         []bandLine
}

type jarColumn struct{ Name, Headspace string }

// bandLine is one altitude band with a cell for each jar. A cell lists the
// alternatives that are printed for that jar.
type bandLine struct {
	process.Band
	Text  string
	Here  bool
	Cells [][]string
}

// allTables draws the tables of every food once.
func allTables(t *process.Table) map[string][]timesTable {
	all := map[string][]timesTable{}
	for _, c := range t.Foods() {
		all[c.Food] = tablesOf(c, t.Lines(c.Food))
	}
	return all
}

// tablesOf groups printed lines by canner, gauge and pack, in the order of the
// table.
func tablesOf(card process.Card, lines []process.Line) []timesTable {
	type kind struct{ method, gauge, pack string }
	var order []kind
	groups := map[kind][]process.Line{}
	for _, l := range lines {
		k := kind{l.Method, l.Gauge, l.Pack}
		if groups[k] == nil {
			order = append(order, k)
		}
		groups[k] = append(groups[k], l)
	}
	var tables []timesTable
	for _, k := range order {
		tables = append(tables, tableOf(card, groups[k]))
	}
	return tables
}

func tableOf(card process.Card, lines []process.Line) timesTable {
	first := lines[0]
	t := timesTable{Caption: scenarios.Sentence(card.Name) + ", " + scenarios.Label(first.Pack) + " pack, " + scenarios.Label(first.Method), Note: "Minutes at a full rolling boil."}
	if first.Method == "pressure" {
		t.Caption += ", " + first.Gauge + " gauge"
		t.Note = "Minutes at pounds of pressure (psi). Where a jar has several, each is a tested process of its own."
	}
	var jars []string
	var bands []process.Band
	for _, l := range lines {
		if !slices.Contains(jars, l.Jar) {
			jars = append(jars, l.Jar)
			t.Jars = append(t.Jars, jarColumn{scenarios.Sentence(process.JarName(l.Jar)), headspaceText(l.Bands[0])})
		}
		for _, r := range l.Bands {
			bands = append(bands, r.Band)
		}
	}
	for _, band := range process.SharedBands(bands) {
		line := bandLine{Band: band, Text: scenarios.BandText(band.FromFt, band.ToFt)}
		printed := false
		for _, jar := range jars {
			cell := figuresAt(lines, jar, band.FromFt)
			printed = printed || len(cell) > 0
			line.Cells = append(line.Cells, cell)
		}
		if printed { // above the last printed limit there is nothing to show
			t.Bands = append(t.Bands, line)
		}
	}
	return t
}

// figuresAt lists what is printed for one jar at an altitude.
func figuresAt(lines []process.Line, jar string, ft int) []string {
	var out []string
	for _, l := range lines {
		for _, r := range l.Bands {
			if l.Jar == jar && r.Covers(float64(ft)) {
				out = append(out, figure(r))
			}
		}
	}
	return out
}

func figure(r process.Row) string {
	text := fmt.Sprintf("%d\u00a0min", r.Minutes)
	if r.PSI > 0 {
		text += fmt.Sprintf(" at %d\u00a0psi", r.PSI)
	}
	if r.FromMemory() {
		return text + " (from memory)"
	}
	if r.Confidence != "guide-2015" {
		return text + " (one copy)"
	}
	return text
}

func headspaceText(r process.Row) string {
	if r.HeadspaceIn == 0 {
		return "headspace as the recipe says"
	}
	return "headspace " + strings.ReplaceAll(measure.Length(r.HeadspaceIn).Both(), " mm", "\u00a0mm")
}

// at gives the table with the band of an altitude marked.
func (t timesTable) at(altitude measure.Altitude) timesTable {
	t.Bands = slices.Clone(t.Bands)
	for i := range t.Bands {
		t.Bands[i].Here = t.Bands[i].Covers(float64(altitude))
	}
	return t
}

// at gives tables with the band of an altitude marked in each.
func at(tables []timesTable, altitude measure.Altitude) []timesTable {
	marked := make([]timesTable, len(tables))
	for i, t := range tables {
		marked[i] = t.at(altitude)
	}
	return marked
}

// acidTable is the doses of acid of one food by jar.
type acidTable struct {
	Caption string
	Kinds   []string
	Lines   []acidLine
}

type acidLine struct {
	Jar   string
	Doses []string
}

func acidOf(card process.Card) acidTable {
	t := acidTable{Caption: "Acid for " + card.Name}
	var kinds []string
	for _, d := range card.Dose("half-pint") {
		kinds = append(kinds, d.Kind)
		t.Kinds = append(t.Kinds, scenarios.Sentence(scenarios.Label(d.Kind)))
	}
	for _, jar := range []string{"half-pint", "pint", "quart"} {
		line := acidLine{Jar: scenarios.Sentence(process.JarName(jar))}
		doses := card.Dose(jar)
		for _, kind := range kinds {
			i := slices.IndexFunc(doses, func(d process.AcidDose) bool { return d.Kind == kind })
			if i < 0 {
				line.Doses = append(line.Doses, "none printed")
				continue
			}
			line.Doses = append(line.Doses, measure.Volume(doses[i].Tsp).Both())
		}
		if len(doses) > 0 {
			t.Lines = append(t.Lines, line)
		}
	}
	return t
}
