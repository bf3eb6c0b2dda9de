package lessons

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"

	"rollingboil/lessons/markdown"
	"rollingboil/scenarios/bench"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

var (
	packs = []string{"hot", "raw", "as-directed"}
	yesNo = []string{"true", "false"}
	id    = regexp.MustCompile(`^[a-z0-9]+(?:-[a-z0-9]+)*$`)
)

// pieces are the interactive pieces a lesson may hold and their settings. The
// server draws each of them.
func pieces(table *process.Table, demonstrations *bench.Bench) map[string]markdown.PieceSpec {
	food := markdown.Setting{Required: true, Words: foodIDs(table)}
	name := markdown.Setting{Required: true, Check: func(v string) error {
		if !id.MatchString(v) {
			return fmt.Errorf("%q is no id; use lower-case words with hyphens", v)
		}
		return nil
	}}
	var shown []string
	for _, d := range demonstrations.Demos() {
		shown = append(shown, d.Name)
	}
	return map[string]markdown.PieceSpec{
		"bench": {Settings: map[string]markdown.Setting{
			"show": {Required: true, Words: shown},
			"with": {Check: func(v string) error {
				_, err := Values(v)
				return err
			}},
		}},
		"times": {Settings: map[string]markdown.Setting{
			"food":   food,
			"jar":    {List: true, Words: jarIDs()},
			"pack":   {Words: packs},
			"method": {Required: true, Words: []string{"boiling-water", "atmospheric-steam", "pressure"}},
			"gauge":  {Words: []string{"dial", "weighted"}},
		}},
		"jar": {Settings: map[string]markdown.Setting{
			"jar": {Required: true, Words: jarIDs()},
			"headspace": {Required: true, Check: func(v string) error {
				_, err := measure.ParseLength(v)
				return err
			}},
			"liquid":  {Words: []string{"full", "third-down", "half-down"}},
			"lid":     {Required: true, Words: []string{"flat", "down", "domed"}},
			"layers":  {Words: yesNo},
			"bubbles": {Words: yesNo},
			"caption": {Required: true},
		}},
		"acid":   {Settings: map[string]markdown.Setting{"food": food}},
		"answer": {Body: true},
		"worked": {Settings: map[string]markdown.Setting{"scenario": name}},
		"yields": {Settings: map[string]markdown.Setting{"food": {Required: true, List: true, Words: foodIDs(table)}}},
		"picture": {Settings: map[string]markdown.Setting{
			"show":    {Required: true, Words: []string{"water-over-lids", "headspace-ruler", "lid-and-rim"}},
			"caption": {Required: true},
		}},
		"day": {Settings: map[string]markdown.Setting{
			"food": food, "pack": {Required: true, Words: packs}, "jar": {Required: true, Words: jarIDs()},
			"altitude": {Required: true, Check: func(v string) error {
				_, err := measure.ParseAltitude(v)
				return err
			}},
		}},
		"boiling":  {},
		"caution":  {Body: true},
		"question": {Settings: map[string]markdown.Setting{"id": name}},
		"refute":   {Settings: map[string]markdown.Setting{"id": name}},
	}
}

// block notes what a piece asks for and checks what its settings say together.
func (l *loader) block(lesson *Lesson, block *markdown.Block) []citation {
	complain := func(format string, args ...any) {
		l.problems.Add(lesson.File, block.Line, block.Kind+": "+format, args...)
	}
	switch block.Kind {
	case "question":
		if slices.Contains(lesson.Questions, block.Settings["id"]) {
			complain("%q stands twice in this lesson", block.Settings["id"])
		}
		lesson.Questions = append(lesson.Questions, block.Settings["id"])
	case "refute":
		if slices.Contains(lesson.Refutations, block.Settings["id"]) {
			complain("%q stands twice in this lesson", block.Settings["id"])
		}
		lesson.Refutations = append(lesson.Refutations, block.Settings["id"])
	case "acid":
		card, _ := l.table.Card(block.Settings["food"])
		if len(card.Dose("quart")) == 0 && len(card.Dose("pint")) == 0 {
			complain("no dose per jar is printed for %s", block.Settings["food"])
			return nil
		}
		source, err := guideSource(card.Source)
		if err != nil {
			complain("%v", err)
			return nil
		}
		return []citation{{what: "the acid table", source: source, line: block.Line}}
	case "day":
		settings := maps.Clone(block.Settings)
		settings["method"] = "boiling-water"
		_, source, err := l.minutes(settings)
		if err != nil {
			complain("%v", err)
			return nil
		}
		return []citation{{what: "the time of the day", source: source, line: block.Line}}
	case "yields":
		return l.yields(block, complain)
	case "bench":
		if err := l.checkBench(block.Settings); err != nil {
			complain("%v", err)
		}
	case "times":
		source, err := l.checkTimes(block.Settings)
		if err != nil {
			complain("%v", err)
			return nil
		}
		return []citation{{what: "the table of times", source: source, line: block.Line}}
	}
	return nil
}

// yields holds that each food of a table of yields has some, and cites their pages.
func (l *loader) yields(block *markdown.Block, complain func(string, ...any)) []citation {
	var cited []citation
	for _, food := range strings.Split(block.Settings["food"], ",") {
		card, _ := l.table.Card(food)
		if len(card.Load7Quarts)+len(card.Load9Pints) == 0 {
			complain("no load is printed for %s", food)
			continue
		}
		source, err := guideSource(card.Source)
		if err != nil {
			complain("%v", err)
			continue
		}
		cited = append(cited, citation{what: "the yields of " + food, source: source, line: block.Line})
	}
	return cited
}

// Values reads the values of a demonstration as a lesson writes them, "altitude=
// 6240 ft; pressure=11 psi".
func Values(text string) (map[string]string, error) {
	values := map[string]string{}
	for _, part := range strings.Split(text, ";") {
		key, value, found := strings.Cut(part, "=")
		key, value = strings.TrimSpace(key), strings.TrimSpace(value)
		if _, twice := values[key]; !found || key == "" || value == "" || twice {
			return nil, fmt.Errorf(`%q is not key=value, with a ; before the next, each key once`, strings.TrimSpace(part))
		}
		values[key] = value
	}
	return values, nil
}

// checkBench runs a demonstration with the values a lesson gives it.
func (l *loader) checkBench(s map[string]string) error {
	demo, err := l.bench.Demo(s["show"])
	if err != nil {
		return err
	}
	values := map[string]string{}
	if s["with"] != "" {
		if values, err = Values(s["with"]); err != nil {
			return err
		}
	}
	for _, k := range demo.Keys {
		if k.Command && values[k.Name] != "" {
			return fmt.Errorf("%s goes with the command line only", k.Name)
		}
	}
	_, err = l.bench.Run(demo, values)
	return err
}

// checkTimes holds that a table of times would have rows for every jar it
// names, none of them from memory, and returns the source they are printed in.
func (l *loader) checkTimes(s map[string]string) (source string, err error) {
	pressure := s["method"] == "pressure"
	if pressure != (s["gauge"] != "") {
		return "", fmt.Errorf("gauge goes with method=pressure, and only there")
	}
	method := s["method"]
	if method == "atmospheric-steam" {
		method = "boiling-water" // steam canners use the same rows
	}
	var jars []string
	if s["jar"] != "" {
		jars = strings.Split(s["jar"], ",")
	}
	found := map[string]bool{}
	for _, row := range l.table.Rows(s["food"]) {
		if row.Method != method || row.Gauge != s["gauge"] || (s["pack"] != "" && row.Pack != s["pack"]) ||
			(jars != nil && !slices.Contains(jars, row.Jar)) {
			continue
		}
		if source, err = rowSource(row); err != nil {
			return "", err
		}
		found[row.Jar] = true
	}
	if len(found) == 0 {
		return "", fmt.Errorf("there is no tested process to show")
	}
	for _, jar := range jars {
		if !found[jar] {
			return "", fmt.Errorf("there is no tested process for the %s jar", jar)
		}
	}
	return source, nil
}

func foodIDs(table *process.Table) []string {
	var ids []string
	for _, card := range table.Foods() {
		ids = append(ids, card.Food)
	}
	return ids
}

func jarIDs() []string {
	var ids []string
	for _, jar := range process.Jars() {
		ids = append(ids, jar.ID)
	}
	return ids
}
