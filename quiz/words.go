package quiz

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
	"rollingboil/scenarios/rules"
)

// Grade judges a plan, given by its keys, and names the rules that found
// something: the grader that everything else uses.
type Grade func(plan map[string]string) (verdict string, found []string, err error)

// words are the functions that a question's expressions may call. Each look-up
// fails where the table has no printed figure, or several: a question then has no
// one right answer.
type words struct {
	table *process.Table
	bench *bench.Bench
	grade Grade
	facts map[string]string
	pages *pages
}

// pages notes where looked-up figures are printed while a bank is loaded, so that
// a question can be held to naming the page of its key.
type pages struct {
	on   bool
	seen []string
}

func (p *pages) note(page string) {
	if p.on && page != "" && !slices.Contains(p.seen, page) {
		p.seen = append(p.seen, page)
	}
}

func newLanguage(w words) *rules.Language {
	return rules.NewLanguage(map[string]any{
		// The process table.
		"minutes": func(food, pack, method, jar string, ft float64) (float64, error) {
			return w.rows(food, pack, method, "", jar, ft, "time", func(r process.Row) float64 { return float64(r.Minutes) })
		},
		"minutesUnderPressure": func(food, pack, gauge, jar string, ft float64) (float64, error) {
			return w.rows(food, pack, "pressure", gauge, jar, ft, "time", func(r process.Row) float64 { return float64(r.Minutes) })
		},
		"psi": func(food, pack, gauge, jar string, ft float64) (float64, error) {
			return w.rows(food, pack, "pressure", gauge, jar, ft, "pressure", func(r process.Row) float64 { return float64(r.PSI) })
		},
		"headspace": w.headspace,
		"dose":      w.dose,
		"printed":   w.printed,
		"longest":   w.longest,
		"bandFrom": func(food, pack, method, gauge, jar string, ft float64) (float64, error) {
			b, err := w.band(food, pack, method, gauge, jar, ft)
			return float64(b.FromFt), err
		},
		"bandTo": func(food, pack, method, gauge, jar string, ft float64) (float64, error) {
			b, err := w.band(food, pack, method, gauge, jar, ft)
			return float64(b.ToFt), err
		},
		"page":     w.page,
		"cardPage": func(food string) (string, error) { c, err := w.card(food); return c.Page, err },
		"guide":    func(food string) (float64, error) { c, err := w.card(food); return float64(c.Guide), err },
		// The grader and the models.
		"verdict": func(plan map[string]any) (string, error) { verdict, _, err := w.judge(plan); return verdict, err },
		"finds": func(plan map[string]any, rule string) (bool, error) {
			_, found, err := w.judge(plan)
			return slices.Contains(found, rule), err
		},
		"model": w.model,
		// Other figures of the course, and those of the situation.
		"fact":     w.fact,
		"factFrom": func(id string) (float64, error) { return w.factNumber(id, false) },
		"factTo":   func(id string) (float64, error) { return w.factNumber(id, true) },
		"given":    func(figure string) string { return figure },
		// How things are said.
		"name":    func(food string) (string, error) { c, err := w.card(food); return c.Name, err },
		"jarName": jarName,
		"say":     func(word string) string { return strings.ReplaceAll(word, "-", " ") },
		"inMin":   func(v float64) string { return measure.Duration(v).Both() },
		"inHours": func(v float64) string { return plain(v) + "\u00a0h" },
		"inFt":    func(v float64) string { return measure.Altitude(v).Both() },
		"inPSI":   func(v float64) string { return measure.Pressure(v).Both() },
		"inIn":    func(v float64) string { return measure.Length(v).Both() },
		"inTsp":   func(v float64) string { return measure.Volume(v).Both() },
		"inF":     func(v float64) string { return measure.Temperature(v).Both() },
		"number":  plain,
	})
}

// plain writes a number without an exponent and without idle zeros.
func plain(v float64) string {
	return strconv.FormatFloat(math.Round(v*1e6)/1e6, 'f', -1, 64)
}

func (w words) card(food string) (process.Card, error) {
	if w.table == nil {
		return process.Card{}, errors.New("needs the process table, and none is loaded")
	}
	card, ok := w.table.Card(food)
	if !ok {
		return card, unknown("food", food, w.table.NearestFood(food))
	}
	return card, nil
}

func jarName(jar string) (string, error) {
	var ids []string
	for _, j := range process.Jars() {
		ids = append(ids, j.ID)
	}
	if !slices.Contains(ids, jar) {
		return "", unlisted("jar", jar, ids)
	}
	return process.JarName(jar), nil
}

// lookup gives the rows that answer, refusing rows that nobody read in a
// publication.
func (w words) lookup(food, pack, method, gauge, jar string, ft float64) ([]process.Row, error) {
	if _, err := w.card(food); err != nil {
		return nil, err
	}
	found := w.table.Lookup(process.Query{Food: food, Pack: pack, Method: method, Gauge: gauge, Jar: jar, AltitudeFt: ft})
	switch found.Gap {
	case process.GapNone:
	case process.GapMethod:
		return nil, fmt.Errorf("%s has no tested process with method %q", food, method)
	case process.GapGauge:
		return nil, fmt.Errorf("%s has no tested process with gauge %q", food, gauge)
	case process.GapPack:
		return nil, fmt.Errorf("%s has no tested process for pack %q", food, pack)
	case process.GapJar:
		return nil, fmt.Errorf("%s has no tested process in jar %q", food, jar)
	default:
		return nil, fmt.Errorf("%s has no tested process at %s", food, measure.Altitude(ft))
	}
	for _, r := range found.Rows {
		if r.FromMemory() {
			return nil, fmt.Errorf("the row for %s was read in no publication and cannot be a key", food)
		}
	}
	return found.Rows, nil
}

// rows gives the one figure that all rows which answer agree on.
func (w words) rows(food, pack, method, gauge, jar string, ft float64, what string, figure func(process.Row) float64) (float64, error) {
	found, err := w.lookup(food, pack, method, gauge, jar, ft)
	if err != nil {
		return 0, err
	}
	for _, r := range found {
		if figure(r) != figure(found[0]) {
			return 0, fmt.Errorf("the table prints alternatives for %s, so there is no one %s", food, what)
		}
	}
	if figure(found[0]) <= 0 {
		return 0, fmt.Errorf("the table prints no %s for %s", what, food)
	}
	w.pages.note(found[0].Page)
	return figure(found[0]), nil
}

// headspace is what all rows of a food in this pack, canner and jar agree on, in
// inches.
func (w words) headspace(food, pack, method, jar string) (float64, error) {
	if _, err := w.card(food); err != nil {
		return 0, err
	}
	inches, page := 0.0, ""
	for _, r := range w.table.Rows(food) {
		if r.Pack != pack || r.Method != method || r.Jar != jar || r.FromMemory() || r.HeadspaceIn == 0 {
			continue
		}
		if inches != 0 && inches != r.HeadspaceIn {
			return 0, fmt.Errorf("the table prints several headspaces for %s", food)
		}
		inches, page = r.HeadspaceIn, r.Page
	}
	if inches == 0 {
		return 0, fmt.Errorf("the table prints no headspace for %s, %s pack, %s, %s", food, pack, method, jar)
	}
	w.pages.note(page)
	return inches, nil
}

// dose is the printed dose of an acid for one jar, in teaspoons.
func (w words) dose(food, jar, kind string) (float64, error) {
	card, err := w.card(food)
	if err != nil {
		return 0, err
	}
	for _, d := range card.Dose(jar) {
		if d.Kind == kind {
			if strings.HasSuffix(d.Source, "p. "+card.Page) { // some doses are printed elsewhere
				w.pages.note(card.Page)
			}
			return d.Tsp, nil
		}
	}
	return 0, fmt.Errorf("no dose of %q is printed for %s in jar %q", kind, food, jar)
}

// printed reports whether a tested process answers. A word that no row has is an
// error: misspelled, it would make a question say that nothing is printed.
func (w words) printed(food, pack, method, gauge, jar string, ft float64) (bool, error) {
	if _, err := w.card(food); err != nil {
		return false, err
	}
	for _, word := range []struct {
		what, got string
		known     []string
	}{
		{"pack", pack, []string{"raw", "hot", ""}},
		{"method", method, []string{"boiling-water", "atmospheric-steam", "pressure"}},
		{"gauge", gauge, []string{"dial", "weighted", ""}},
		{"jar", jar, jarIDs()},
	} {
		if !slices.Contains(word.known, word.got) {
			return false, fmt.Errorf("there is no %s %q; use one of: %s", word.what, word.got, strings.Join(word.known, ", "))
		}
	}
	_, err := w.lookup(food, pack, method, gauge, jar, ft)
	return err == nil, nil
}

func jarIDs() []string {
	var ids []string
	for _, j := range process.Jars() {
		ids = append(ids, j.ID)
	}
	return ids
}

// longest is the longest printed time of a food with a method, in minutes.
func (w words) longest(food, method string) (float64, error) {
	if _, err := w.card(food); err != nil {
		return 0, err
	}
	longest := 0
	for _, r := range w.table.Rows(food) {
		if r.Method == method && !r.FromMemory() {
			longest = max(longest, r.Minutes)
		}
	}
	if longest == 0 {
		return 0, fmt.Errorf("%s has no tested process with method %q", food, method)
	}
	return float64(longest), nil
}

func (w words) band(food, pack, method, gauge, jar string, ft float64) (process.Band, error) {
	found, err := w.lookup(food, pack, method, gauge, jar, ft)
	if err != nil {
		return process.Band{}, err
	}
	return found[0].Band, nil
}

// page is the page a process is printed on, such as "3-8".
func (w words) page(food, pack, method, gauge, jar string, ft float64) (string, error) {
	found, err := w.lookup(food, pack, method, gauge, jar, ft)
	if err != nil {
		return "", err
	}
	return found[0].Page, nil
}

func (w words) judge(plan map[string]any) (verdict string, found []string, err error) {
	if w.grade == nil {
		return "", nil, errors.New("needs the grader, and none is given")
	}
	said := make(map[string]string, len(plan))
	for key, value := range plan {
		switch v := value.(type) {
		case string:
			said[key] = v
		case bool:
			said[key] = strconv.FormatBool(v)
		case int:
			said[key] = strconv.Itoa(v)
		case float64:
			said[key] = plain(v)
		default:
			return "", nil, fmt.Errorf("%s: a value of a plan is a text, a number or true or false", key)
		}
	}
	return w.grade(said)
}

// model gives one number of a demonstration for values written as a lesson writes
// them, "close=90 C; headspace=40 ml".
func (w words) model(name, number, with string) (float64, error) {
	if w.bench == nil {
		return 0, errors.New("needs the bench, and none is given")
	}
	demo, err := w.bench.Demo(name)
	if err != nil {
		return 0, err
	}
	given := map[string]string{}
	for _, part := range strings.Split(with, ";") {
		if strings.TrimSpace(part) == "" {
			continue
		}
		key, value, found := strings.Cut(part, "=")
		if !found {
			return 0, fmt.Errorf("%q is not key=value", strings.TrimSpace(part))
		}
		given[strings.TrimSpace(key)] = strings.TrimSpace(value)
	}
	result, err := w.bench.Run(demo, given)
	if err != nil {
		return 0, err
	}
	for _, n := range result.Numbers {
		if n.Key == number {
			switch v := n.Value.(type) {
			case float64:
				return v, nil
			case int:
				return float64(v), nil
			}
		}
	}
	return 0, fmt.Errorf("the demonstration %s has no number %q", name, number)
}

// unknown is the error for a word that is not in a list, with the nearest that
// is.
func unknown(what, word, nearest string) error {
	if nearest == "" {
		return fmt.Errorf("unknown %s %q", what, word)
	}
	return fmt.Errorf("unknown %s %q; did you mean %q?", what, word, nearest)
}

// unlisted is the error for a word that is not in a short list.
func unlisted(what, word string, list []string) error {
	if nearest := measure.Nearest(word, list); nearest != "" {
		return unknown(what, word, nearest)
	}
	return fmt.Errorf("unknown %s %q; use one of: %s", what, word, strings.Join(list, ", "))
}
