package server

import (
	"errors"
	"net/url"
	"slices"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// word is how a plan's key is asked for on a page.
type word struct{ label, means, example string }

// words says each key of the plan in a beginner's words.
var words = map[string]word{
	"food":                      {"Food", "The tested recipe you follow. If yours is not in the list, there is no tested process to look up.", ""},
	"pack":                      {"Pack", "Hot: the food is cooked and filled hot. Raw: it goes in uncooked and hot liquid is poured over.", ""},
	"method":                    {"Method", "How the filled jars are heated.", ""},
	"gauge":                     {"Gauge", "Pressure canner only: a dial with a needle, or a weight that rocks.", ""},
	"gauge_tested":              {"Dial gauge tested", "A dial gauge is tested every year before use; a weighted one needs no test.", ""},
	"load.sizes":                {"Jars in one load", "All of one size, or mixed.", ""},
	"load.layers":               {"Layers of jars", "One, or stacked in two.", "1"},
	"water_kept":                {"Water kept over the lids?", "To the end, by adding boiling water when it falls.", ""},
	"canner_opened":             {"Canner opened meanwhile?", "Steam canner: the lid lifted during the process.", ""},
	"cooling.inverted":          {"Jars turned over?", "Stood on their lids after the canner.", ""},
	"lost_liquid":               {"A jar that lost liquid", "What you do with it.", ""},
	"opening":                   {"How you judge a jar when you open it", "Months later, at the table.", ""},
	"jar":                       {"Jar", "The size of the jars in this load.", ""},
	"altitude":                  {"Altitude", "How high your kitchen stands, in feet or meters.", "6240 ft"},
	"time":                      {"Time", "How long at the boil or at pressure, without a break.", "60 min"},
	"pressure":                  {"Pressure", "Pressure canner only: what the gauge shows.", "11 psi"},
	"headspace":                 {"Headspace", "From the rim down to the food or its liquid.", "1/2 in"},
	"acid.kind":                 {"Acid", "What you add to each jar to make it sour enough.", ""},
	"acid.per_jar":              {"Acid in each jar", "How much goes into one jar.", "2 tbsp"},
	"ph.reading":                {"pH, if you read one", "A number such as 4.2. No reading is needed.", "4.2"},
	"ph.by":                     {"Read with", "What the pH was read with.", ""},
	"produce":                   {"State of the produce", "The worst of what goes into the jars.", ""},
	"prepared":                  {"Prepared", "What is done to it before it is filled.", ""},
	"added":                     {"Added beyond the recipe", "Anything that the tested directions do not list.", ""},
	"jars.kind":                 {"Jars made for", "Home canning, or shop jars meant for one trip.", ""},
	"jars.condition":            {"Condition of the jars", "Run a finger round each rim, and hold each jar to the light.", ""},
	"sterilised":                {"Jars boiled first?", "Empty jars boiled 10 minutes, 1 minute more for each 1,000 ft above 1,000 ft. Only jams and pickles under 10 minutes need it.", ""},
	"lids.kind":                 {"Lids", "A flat lid with a band, a one-piece lid, or a reusable one with a rubber ring.", ""},
	"lids.state":                {"State of the lids", "New, used before, or bought more than five years ago.", ""},
	"bands":                     {"Bands turned down", "Fingertip-tight is as tight as your fingertips turn it, no more.", ""},
	"bubbles_removed":           {"Bubbles freed?", "A plastic spatula run between food and glass.", ""},
	"rims_wiped":                {"Rims wiped?", "With a clean, damp paper towel.", ""},
	"water_over_lids":           {"Water over the lids", "Boiling-water canner only: how deep, at the start.", "2 in"},
	"timing_starts":             {"The clock starts at", "The moment you start counting.", ""},
	"boil_interrupted":          {"If the boil or pressure drops", "What you do with the time.", ""},
	"vent":                      {"Venting", "Pressure canner only: how long steam flows before you close it.", "10 min"},
	"rest":                      {"Rest", "Heat off, before you lift the jars or open the canner.", "5 min"},
	"cooling.hours":             {"Hours left alone", "Before you touch, test or move the jars.", "12"},
	"cooling.undisturbed":       {"Left where they stand?", "Not moved, an inch apart, out of drafts.", ""},
	"cooling.forced":            {"Cooled on purpose?", "Cold water, a fan, an open window.", ""},
	"cooling.bands_retightened": {"Bands turned again while hot?", "After the jars come out.", ""},
	"seal_checks":               {"How you check each seal", "Press the center, look across the lid, tap it, lift by the lid.", ""},
	"unsealed":                  {"A jar that did not seal", "What you do with it.", ""},
	"unsealed_within":           {"How soon", "After the jars came out of the canner.", "24 h"},
	"storage.bands_off":         {"Bands off for storage?", "Jars washed, dried and labeled without their bands.", ""},
	"storage.temperature":       {"Temperature of the shelf", "The warmest it gets.", "65 F"},
	"storage.months":            {"Months kept", "How long the last jar waits.", "12"},
}

// sections is the order in which a plan is asked for.
var sections = []struct {
	name, means string
	keys        []string
}{
	{"What and where", "These decide which printed row is yours.", []string{"food", "method", "pack", "gauge", "gauge_tested", "jar", "altitude"}},
	{"The process", "What the row is compared with.", []string{"time", "pressure", "headspace"}},
	{"Acid", "Tomatoes, figs and a few others need it in every jar. In a salsa or a pickle it is part of the recipe.", []string{"acid.kind", "acid.per_jar", "ph.reading", "ph.by"}},
	{"What goes in", "A process is tested for sound food, prepared as printed.", []string{"produce", "prepared", "added"}},
	{"Jars and lids", "Most jars that fail, fail here.", []string{"jars.kind", "jars.condition", "sterilised", "lids.kind", "lids.state", "bubbles_removed", "rims_wiped", "bands"}},
	{"In the canner", "The minutes count only if they are whole.", []string{"load.sizes", "load.layers", "water_over_lids", "water_kept", "vent", "timing_starts", "boil_interrupted", "canner_opened", "rest"}},
	{"Afterward", "A jar is not done when it comes out.", []string{"cooling.hours", "cooling.undisturbed", "cooling.forced", "cooling.bands_retightened", "cooling.inverted", "seal_checks", "unsealed", "unsealed_within", "lost_liquid"}},
	{"On the shelf", "", []string{"storage.bands_off", "storage.temperature", "storage.months", "opening"}},
}

// section is one part of the form.
type section struct {
	Name, Means string
	Fields      []field
}

// field is one question of the form.
type field struct {
	Key, Label, Means, Example string
	Control                    string // select, ticks or text
	Blank                      string // select: the choice that says nothing
	Groups                     []optionGroup
	Options                    []formOption // ticks
	Value, Wrong, Tested       string
}

type optionGroup struct {
	Name    string
	Options []formOption
}

type formOption struct {
	Word, Name string
	Chosen     bool
}

// firstKey gives the first key of a group, "" for a name that is no group.
func firstKey(name string) string {
	for _, k := range scenarios.Keys() {
		if strings.HasPrefix(k.Name, name+".") {
			return k.Name
		}
	}
	return ""
}

// blankForm is the form before anything is said.
func blankForm(table *process.Table) []section {
	byName := map[string]scenarios.Key{}
	for _, k := range scenarios.Keys() {
		byName[k.Name] = k
	}
	var form []section
	for _, part := range sections {
		sec := section{Name: part.name, Means: part.means}
		for _, key := range part.keys {
			sec.Fields = append(sec.Fields, blankField(byName[key], table))
		}
		form = append(form, sec)
	}
	return form
}

func blankField(k scenarios.Key, table *process.Table) field {
	w := words[k.Name]
	f := field{Key: k.Name, Label: w.label, Means: w.means, Example: w.example, Control: "text", Blank: "not said"}
	switch k.Kind {
	case scenarios.KindFood:
		f.Control, f.Blank = "select", "choose a food"
		f.Groups = foodGroups(table)
	case scenarios.KindYesNo:
		f.Control = "select"
		f.Groups = []optionGroup{{Options: []formOption{{Word: "true", Name: "yes"}, {Word: "false", Name: "no"}}}}
	case scenarios.KindWord:
		f.Control = "select"
		f.Groups = []optionGroup{{Options: optionsOf(k.Name, k.Words)}}
	case scenarios.KindWords:
		f.Control, f.Options = "ticks", append(optionsOf(k.Name, k.Words), formOption{Word: "none", Name: "none of these"})
	}
	return f
}

func optionsOf(key string, list []string) []formOption {
	var options []formOption
	for _, word := range list {
		options = append(options, formOption{Word: word, Name: sayWord(key, word)})
	}
	return options
}

// sayWord writes a plan's word as the answer to its question.
func sayWord(key, word string) string {
	switch key + " " + word {
	case "boil_interrupted restart":
		return "bring it back and start the whole time again"
	case "boil_interrupted continue":
		return "let the clock run on"
	case "unsealed shelf":
		return "put it on the shelf"
	case "unsealed reprocess":
		return "process it again with a new lid"
	case "lost_liquid keep":
		return "keep it as it is, and use it first"
	case "lost_liquid top-up":
		return "open it and fill it up"
	case "seal_checks ping":
		return "listen for the ping"
	case "acid.kind none":
		return "no acid"
	case "pack as-directed":
		return "as the directions say"
	case "jars.kind canning":
		return "home canning"
	case "jars.kind one-trip":
		return "one trip from a shop"
	case "produce green":
		return "green, not ripe yet"
	}
	return scenarios.Label(word)
}

var guideNames = map[int]string{
	1: "For babies", 2: "Fruit", 3: "Tomatoes", 4: "Vegetables and soups", 5: "Poultry, meat and seafood", 6: "Pickles and ferments", 7: "Jams and jellies",
}

func foodGroups(table *process.Table) []optionGroup {
	var groups []optionGroup
	for guide := 1; guide <= 7; guide++ {
		g := optionGroup{Name: guideNames[guide]}
		for _, c := range table.Foods() {
			if c.Guide == guide {
				g.Options = append(g.Options, formOption{Word: c.Food, Name: scenarios.Sentence(c.Name)})
			}
		}
		slices.SortFunc(g.Options, func(a, b formOption) int { return strings.Compare(a.Name, b.Name) })
		groups = append(groups, g)
	}
	none := optionGroup{Name: noProcess}
	for _, u := range table.UntestedFoods() {
		none.Options = append(none.Options, formOption{Word: u.ID, Name: scenarios.Sentence(u.Name)})
	}
	return append(groups, none)
}

// noProcess heads the foods that people ask about and nobody has tested.
const noProcess = "No tested process"

// foodName names a food of the table or an untested one, "" for neither.
func foodName(table *process.Table, id string) string {
	if card, ok := table.Card(id); ok {
		return card.Name
	}
	untested, _ := table.Untested(id)
	return untested.Name
}

// fillForm shows the form with what was typed, what could not be read and,
// where tested is given, the tested value beside it. Keys in hidden are left
// out.
func (s *Server) fillForm(typed url.Values, wrong map[string]string, tested map[string]string, hidden func(key string) bool) []section {
	form := make([]section, 0, len(s.form))
	for _, blank := range s.form {
		sec := section{Name: blank.Name, Means: blank.Means}
		for _, f := range blank.Fields {
			if hidden != nil && hidden(f.Key) {
				continue
			}
			sec.Fields = append(sec.Fields, filled(f, typed[f.Key], wrong[f.Key], tested))
		}
		if len(sec.Fields) > 0 {
			form = append(form, sec)
		}
	}
	return form
}

func filled(f field, typed []string, wrong string, tested map[string]string) field {
	f.Wrong = wrong
	chosen := func(options []formOption) []formOption {
		options = slices.Clone(options)
		for i := range options {
			options[i].Chosen = slices.Contains(typed, options[i].Word)
		}
		return options
	}
	switch f.Control {
	case "select":
		groups := make([]optionGroup, len(f.Groups))
		known := false
		for i, g := range f.Groups {
			groups[i] = optionGroup{Name: g.Name, Options: chosen(g.Options)}
			known = known || slices.ContainsFunc(groups[i].Options, func(o formOption) bool { return o.Chosen })
		}
		if !known && len(typed) > 0 && typed[0] != "" { // a word of another sender is kept too
			groups = append(groups, optionGroup{Options: []formOption{{Word: typed[0], Name: typed[0], Chosen: true}}})
		}
		f.Groups = groups
	case "ticks":
		f.Options = chosen(f.Options)
	default:
		if len(typed) > 0 {
			f.Value = typed[0]
		}
	}
	if value, ok := tested[f.Key]; ok {
		f.Tested = sayValue(f.Key, value)
	}
	return f
}

// sayValue writes a plan file's value for people.
func sayValue(key, value string) string {
	switch value {
	case "":
		return "nothing"
	case "true":
		return "yes"
	case "false":
		return "no"
	}
	if firstKeyIsText(key) {
		return value
	}
	var out []string
	for _, word := range strings.Split(value, ", ") {
		out = append(out, sayWord(key, word))
	}
	return strings.Join(out, ", ")
}

// firstKeyIsText reports whether a key's value is a quantity or a number, which
// is shown as it was written.
func firstKeyIsText(key string) bool { return words[key].example != "" }

// formOf gives the form values that state a plan.
func formOf(p scenarios.Plan) url.Values {
	v := url.Values{}
	for _, k := range scenarios.Keys() {
		if !p.Known(k.Name) {
			continue
		}
		if k.Kind == scenarios.KindWords {
			for _, word := range strings.Split(p.Text(k.Name), ", ") {
				v.Add(k.Name, word)
			}
			continue
		}
		v.Set(k.Name, p.Text(k.Name))
	}
	return v
}

// planLine is one line of a plan beside the tested one.
type planLine struct {
	Name, Yours, Worked string
	Differs             bool
}

// linesOf sets a plan beside tested values, in the order of the form.
func (s *Server) linesOf(p scenarios.Plan, tested map[string]string) []planLine {
	var lines []planLine
	for _, part := range sections {
		for _, key := range part.keys {
			value, has := tested[key]
			if !p.Known(key) && !has {
				continue
			}
			line := planLine{Name: words[key].label}
			if p.Known(key) {
				line.Yours = sayValue(key, p.Text(key))
			}
			if name := foodName(s.course.Grader.Table(), p.Food.Value); name != "" && key == "food" {
				line.Yours = name
				if has {
					line.Worked = name
				}
				lines = append(lines, line)
				continue
			}
			if has {
				line.Worked = sayValue(key, value)
			}
			line.Differs = has && line.Yours != line.Worked
			lines = append(lines, line)
		}
	}
	return lines
}

// wrongView is one value that could not be read, with a link to its field.
type wrongView struct{ Key, Label, Message string }

// viewWrong lists what could not be read for the top of the page, and gives the
// message for each field.
func viewWrong(problems []*scenarios.Problem) (list []wrongView, byKey map[string]string) {
	byKey = map[string]string{}
	for _, p := range problems {
		message := wrongQuantity(p)
		byKey[p.Key] = message
		list = append(list, wrongView{Key: p.Key, Label: words[p.Key].label, Message: message})
	}
	return list, byKey
}

// wrongQuantity tells a person what a quantity lacks.
func wrongQuantity(err error) string {
	var m *measure.Error
	if !errors.As(err, &m) {
		return scenarios.Sentence(err.Error()) + "."
	}
	if m.Got == "" {
		return "This still needs " + m.Want + "."
	}
	return "“" + m.Got + "” is not what is expected here: " + m.Want + "."
}
