package server

import (
	"fmt"
	"slices"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// timesTable is a printed table of one food: lines of jars, columns of altitude
// bands.
type timesTable struct {
	Caption, Note string
	Heads         []string
	Bands         []bandCell
	Lines         []timesLine
}

type bandCell struct {
	Text     string
	Here     bool
	from, to int
}

type timesLine struct {
	Cells   []string
	Figures []bandCell
}

// allTables draws the tables of every food once.
func allTables(t *process.Table) map[string][]timesTable {
	all := map[string][]timesTable{}
	for _, c := range t.Foods() {
		all[c.Food] = tablesOf(c, t.Lines(c.Food))
	}
	return all
}

// tablesOf groups lines with the same canner, gauge and bands into tables.
func tablesOf(card process.Card, lines []process.Line) []timesTable {
	var tables []timesTable
	byKind := map[string]int{}
	for _, l := range lines {
		kind := l.Method + "|" + l.Gauge
		for _, r := range l.Bands {
			kind += fmt.Sprintf("|%d-%d", r.FromFt, r.ToFt)
		}
		i, ok := byKind[kind]
		if !ok {
			i = len(tables)
			byKind[kind] = i
			tables = append(tables, newTable(card, l))
		}
		tables[i].Lines = append(tables[i].Lines, lineOf(l))
	}
	return tables
}

func newTable(card process.Card, l process.Line) timesTable {
	t := timesTable{Heads: []string{"Jar", "Pack", "Headspace"}}
	t.Caption = upper(card.Name) + ", " + scenarios.Label(l.Method)
	if l.Method == "pressure" {
		t.Caption += ", " + l.Gauge + " gauge"
		t.Note = "Minutes at pounds of pressure (psi)."
	} else {
		t.Note = "Minutes at a full rolling boil."
	}
	for _, r := range l.Bands {
		text := scenarios.BandText(r.FromFt, r.ToFt)
		t.Bands = append(t.Bands, bandCell{Text: text, from: r.FromFt, to: r.ToFt})
	}
	return t
}

func lineOf(l process.Line) timesLine {
	first := l.Bands[0]
	headspace := "as the recipe says"
	if first.HeadspaceIn > 0 {
		headspace = measure.Length(first.HeadspaceIn).Both()
	}
	line := timesLine{Cells: []string{upper(jarName(l.Jar)), upper(scenarios.Label(l.Pack)), headspace}}
	for _, r := range l.Bands {
		text := fmt.Sprintf("%d min", r.Minutes)
		if r.PSI > 0 {
			text += fmt.Sprintf(" at %d psi", r.PSI)
		}
		if r.FromMemory() {
			text += " (from memory)"
		} else if r.Confidence != "guide-2015" {
			text += " (one copy)"
		}
		line.Figures = append(line.Figures, bandCell{Text: text, from: r.FromFt, to: r.ToFt})
	}
	return line
}

func jarName(id string) string {
	for _, j := range process.Jars() {
		if j.ID == id {
			return j.Name
		}
	}
	return id
}

func upper(s string) string {
	if s == "" {
		return s
	}
	return strings.ToUpper(s[:1]) + s[1:]
}

// at gives the table with the band of an altitude marked.
func (t timesTable) at(altitude measure.Altitude) timesTable {
	here := func(cells []bandCell) []bandCell {
		cells = slices.Clone(cells)
		for i := range cells {
			row := process.Row{FromFt: cells[i].from, ToFt: cells[i].to}
			cells[i].Here = row.Covers(float64(altitude))
		}
		return cells
	}
	t.Bands = here(t.Bands)
	t.Lines = slices.Clone(t.Lines)
	for i := range t.Lines {
		t.Lines[i].Figures = here(t.Lines[i].Figures)
	}
	return t
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
		t.Kinds = append(t.Kinds, upper(scenarios.Label(d.Kind)))
	}
	for _, jar := range []string{"half-pint", "pint", "quart"} {
		line := acidLine{Jar: upper(jarName(jar))}
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
