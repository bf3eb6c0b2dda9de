package lessons

import (
	"bytes"
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios/figures"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// A reference stands in a sentence where a figure belongs. The figure is drawn
// from the process table or from facts.yaml when the lesson is loaded, so no
// number with a unit is ever typed into a lesson.
var reference = regexp.MustCompile(`\[\[([^\[\]\n]*)\]\]`)

// expand puts the figures in the places of the references. Lines stay where
// they are, so that later messages still name the right one.
func (l *loader) expand(file string, src []byte) ([]byte, []citation) {
	var cited []citation
	var out bytes.Buffer
	at := 0
	for _, m := range reference.FindAllSubmatchIndex(src, -1) {
		out.Write(src[at:m[0]])
		at = m[1]
		line := lineAt(src, m[0])
		text, source, err := l.figure(string(src[m[2]:m[3]]))
		if err != nil {
			l.problems.Add(file, line, "%s: %v", src[m[0]:m[1]], err)
			continue
		}
		out.WriteString(joinUnit.ReplaceAllString(text, "$1\u00a0$2"))
		if source != "" {
			cited = append(cited, citation{what: string(src[m[0]:m[1]]), source: source, line: line})
		}
	}
	out.Write(src[at:])
	rest := reference.ReplaceAllFunc(src, mask)
	for _, open := range [][]byte{[]byte("[["), []byte("]]")} {
		if i := bytes.Index(rest, open); i >= 0 {
			l.problems.Add(file, lineAt(src, i), "%s stands alone; a reference is written [[fact rest]], on one line", open)
		}
	}
	return out.Bytes(), cited
}

// joinUnit finds the space between a number and its unit, which must not break
// at the end of a line.
var joinUnit = regexp.MustCompile(`([0-9]) ([^ ])`)

// figure draws the text of one reference and says which source it comes from.
// A source of "" means the writer's own number: one in an example, or a measured one.
func (l *loader) figure(text string) (figure, source string, err error) {
	kind, rest, _ := strings.Cut(strings.TrimSpace(text), " ")
	rest = strings.TrimSpace(rest)
	switch kind {
	case "fact":
		fact, known := l.facts[rest]
		if !known {
			return "", "", fmt.Errorf("unknown fact %q; %s", rest, markdown.DidYouMean(rest, slices.Sorted(maps.Keys(l.facts))))
		}
		return fact.Text(), fact.Source, nil
	case "altitude":
		altitude, err := measure.ParseAltitude(rest)
		if err != nil {
			return "", "", err
		}
		return altitude.Both(), "", nil
	case "length":
		length, err := measure.ParseLength(rest)
		if err != nil {
			return "", "", err
		}
		return length.Both(), "", nil
	case "measured":
		figure, err = drawMeasured(rest)
		return figure, "", err
	}

	spec, known := l.references[kind]
	if !known {
		words := append(slices.Sorted(maps.Keys(l.references)), "fact", "altitude", "length", "measured")
		return "", "", fmt.Errorf("unknown reference %q; %s", kind, markdown.DidYouMean(kind, words))
	}
	settings, messages := markdown.ParseSettings(rest, spec)
	if len(messages) > 0 {
		return "", "", fmt.Errorf("%s", strings.Join(messages, "; "))
	}
	switch kind {
	case "min":
		return l.minutes(settings)
	case "acid":
		return l.acid(settings)
	default:
		return l.headspace(settings)
	}
}

// references are the kinds of reference that take settings.
func references(table *process.Table) map[string]markdown.PieceSpec {
	food := markdown.Setting{Required: true, Words: foodIDs(table)}
	jar := markdown.Setting{Required: true, Words: jarIDs()}
	return map[string]markdown.PieceSpec{
		"min": {Settings: map[string]markdown.Setting{
			"food": food, "jar": jar,
			"pack":   {Required: true, Words: packs},
			"method": {Required: true, Words: []string{"boiling-water", "atmospheric-steam"}},
			"altitude": {Required: true, Check: func(v string) error {
				_, err := measure.ParseAltitude(v)
				return err
			}},
		}},
		"acid":      {Settings: map[string]markdown.Setting{"food": food, "jar": jar, "kind": {Required: true}}},
		"headspace": {Settings: map[string]markdown.Setting{"food": food}},
	}
}

// minutes looks up one tested time.
func (l *loader) minutes(s map[string]string) (figure, source string, err error) {
	altitude, err := measure.ParseAltitude(s["altitude"])
	if err != nil {
		return "", "", err
	}
	result := l.table.Lookup(process.Query{
		Food: s["food"], Pack: s["pack"], Method: s["method"], Jar: s["jar"], AltitudeFt: float64(altitude),
	})
	if len(result.Rows) != 1 {
		return "", "", fmt.Errorf("the process table has %d rows for this; a reference needs exactly one", len(result.Rows))
	}
	if result.SmallerJar {
		return "", "", fmt.Errorf("the table lists no %s jar; name the %s, whose time it takes", s["jar"], result.Jar)
	}
	source, err = rowSource(result.Rows[0])
	return fmt.Sprintf("%d minutes", result.Rows[0].Minutes), source, err
}

// acid looks up how much of one kind of acid goes into a jar.
func (l *loader) acid(s map[string]string) (figure, source string, err error) {
	card, _ := l.table.Card(s["food"])
	var kinds []string
	for _, dose := range card.Dose(s["jar"]) {
		if dose.Kind == s["kind"] {
			source, err = guideSource(dose.Source)
			return measure.Volume(dose.Tsp).Both(), source, err
		}
		kinds = append(kinds, dose.Kind)
	}
	if len(kinds) == 0 {
		return "", "", fmt.Errorf("no dose per jar is printed for %s", s["food"])
	}
	return "", "", fmt.Errorf("no dose of %q is printed; %s", s["kind"], markdown.DidYouMean(s["kind"], kinds))
}

// headspace looks up the headspace of a food, which must be the same in all of
// its rows.
func (l *loader) headspace(s map[string]string) (figure, source string, err error) {
	rows := l.table.Rows(s["food"])
	if len(rows) == 0 || rows[0].HeadspaceIn == 0 {
		return "", "", fmt.Errorf("no headspace is printed for %s", s["food"])
	}
	for _, row := range rows {
		if row.HeadspaceIn != rows[0].HeadspaceIn {
			return "", "", fmt.Errorf("%s has more than one headspace; show a table of times instead", s["food"])
		}
		if source, err = rowSource(row); err != nil {
			return "", "", err
		}
	}
	return measure.Length(rows[0].HeadspaceIn).Both(), source, nil
}

// rowSource is the source id of a row, and an error if a lesson may not teach
// it.
func rowSource(row process.Row) (string, error) {
	if row.FromMemory() {
		return "", fmt.Errorf("the row for the %s jar is from memory; a lesson may not teach it", row.Jar)
	}
	return guideSource(row.Source)
}

var usdaGuide = regexp.MustCompile(`^USDA Complete Guide to Home Canning, .*Guide ([1-7]),`)

// guideSource turns the source printed in the process table into its id. Lessons
// teach only what the USDA Complete Guide to Home Canning prints.
func guideSource(printed string) (string, error) {
	match := usdaGuide.FindStringSubmatch(printed)
	if match == nil {
		return "", fmt.Errorf("the figure comes from %q; a lesson teaches only figures of the USDA guide", printed)
	}
	return "usda-guide-" + match[1], nil
}

// Signs that no text has, in the place of what is drawn when the words of a lesson are
// looked over: one that joins no number to a unit.
const (
	drawnSign  = "\uE000"
	lengthSign = "\uE001" // a [[length ...]], which says nothing of a headspace
)

// jarHeadspace is the setting that may hold a figure: the headspace of a drawn jar, since
// that jar may be a wrong one.
var jarHeadspace = regexp.MustCompile(`(?:^| )headspace=(?:"[^"]*"|[^ "]+)`)

// ofHeadspace is a sentence that gives a length of an example as a headspace.
var ofHeadspace = regexp.MustCompile(`(?i)headspace[^.!?]*` + lengthSign + `|` + lengthSign + `[^.!?]*headspace`)

// checkFigures complains of every number with a unit that is typed into a lesson, as it is
// read: its front matter decoded and its Markdown drawn. Where such a number comes from
// could not be told, and a second copy of a tested figure is one that can go wrong on its
// own.
func (l *loader) checkFigures(file string, src []byte) {
	front, body, bodyLine := splitFrontMatter(withoutDrawn(src))
	if front == nil {
		return // which is told elsewhere
	}
	for _, w := range frontMatterWords(front) {
		l.checkWords(file, w)
	}
	for _, w := range markdown.ReadWords(body, bodyLine) {
		switch w.Piece {
		case "bench", "day": // their values explain only, or a time is looked up for them
			continue
		case "jar":
			w.Text = jarHeadspace.ReplaceAllString(w.Text, "")
		}
		l.checkWords(file, w)
	}
}

// withoutDrawn puts a sign in the place of each reference.
func withoutDrawn(src []byte) []byte {
	return reference.ReplaceAllFunc(src, func(ref []byte) []byte {
		kind, _, _ := strings.Cut(strings.TrimSpace(string(ref[2:len(ref)-2])), " ")
		if kind == "length" {
			return []byte(lengthSign)
		}
		return []byte(drawnSign)
	})
}

func (l *loader) checkWords(file string, w markdown.Words) {
	found := figures.In(w.Text)
	row, _, _ := strings.Cut(w.Row, " ") // more words tell something of their own, as the name of a way does
	if len(found) == 0 && (figures.NamesUnit(w.Under) || figures.NamesUnit(row)) {
		found = figures.Numbers(w.Text)
	}
	for _, f := range found {
		l.problems.Add(file, w.Line+strings.Count(w.Text[:f.From], "\n"),
			"the figure %q is typed in; draw it with a reference such as [[fact rest]]", strings.Join(strings.Fields(f.Text), " "))
	}
	if at := ofHeadspace.FindStringIndex(w.Text); at != nil {
		l.problems.Add(file, w.Line+strings.Count(w.Text[:at[0]], "\n"),
			"[[length ...]] gives a length of an example and no headspace; draw a headspace with [[headspace food=...]] or a fact, and one that somebody measured with [[measured ...]]")
	}
}

// mask hides a stretch of text and keeps its length, with a sign that joins no number to a
// unit.
func mask(text []byte) []byte { return bytes.Repeat([]byte(";"), len(text)) }

func lineAt(src []byte, offset int) int { return 1 + bytes.Count(src[:offset], []byte("\n")) }
