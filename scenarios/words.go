package scenarios

import (
	"strings"

	"rollingboil/scenarios/process"
)

// The words a plan file may use, in the order in which pages offer them.
var (
	packs       = []string{"hot", "raw", "as-directed"}
	methods     = []string{"boiling-water", "atmospheric-steam", "pressure", "open-kettle", "oven", "microwave", "dishwasher", "sun"}
	gauges      = []string{"dial", "weighted"}
	acidKinds   = []string{"bottled-lemon-juice", "citric-acid", "vinegar-5", "fresh-lemon-juice", "vinegar-weak", "none"}
	phBy        = []string{"meter", "strip", "litmus"}
	produce     = []string{"ripe", "green", "overripe", "frost-killed", "diseased", "white-fleshed"}
	prepared    = []string{"peeled", "milled", "whole", "cubed", "mashed", "unpeeled", "blended-unpeeled"}
	added       = []string{"salt", "sugar", "dried-spice", "onion", "garlic", "pepper", "celery", "mushroom", "oil", "butter", "flour", "starch", "cream", "pasta", "rice"}
	jarKinds    = []string{"canning", "one-trip"}
	jarStates   = []string{"sound", "nicked", "cracked"}
	lidKinds    = []string{"two-piece", "one-piece", "reusable-gasket"}
	lidStates   = []string{"new", "used", "old"}
	bands       = []string{"fingertip", "loose", "forced"}
	timingFrom  = []string{"full-boil", "steady-steam", "pressure-reached", "simmer", "jars-in"}
	interrupted = []string{"restart", "continue"}
	sealChecks  = []string{"press", "look", "tap", "lift", "ping"}
	gaugeTested = []string{"this-year", "earlier", "never"}
	loadSizes   = []string{"one", "mixed"}
	lostLiquid  = []string{"keep", "top-up"}
	openingBy   = []string{"look", "smell", "taste"}
	unsealed    = []string{"refrigerate", "freeze", "reprocess", "shelf"}
)

func jarIDs() []string {
	ids := make([]string, 0, 8)
	for _, j := range process.Jars() {
		ids = append(ids, j.ID)
	}
	return ids
}

// Kind says how a plan key's value is written.
type Kind string

// The kinds of value a plan key can have.
const (
	KindFood        Kind = "food"        // an id of the process table, or of the foods without one
	KindWord        Kind = "word"        // one word of a list
	KindWords       Kind = "words"       // several words of a list
	KindYesNo       Kind = "yes-no"      // true or false
	KindNumber      Kind = "number"      // a plain number
	KindAltitude    Kind = "altitude"    // feet or meters
	KindDuration    Kind = "duration"    // minutes or hours
	KindPressure    Kind = "pressure"    // psi or kPa
	KindLength      Kind = "length"      // inches or millimeters
	KindVolume      Kind = "volume"      // spoons or milliliters
	KindTemperature Kind = "temperature" // Fahrenheit or Celsius
)

// Key is one value of the plan file: its dotted name, how it is written and,
// for word kinds, the words it may be.
type Key struct {
	Name  string
	Kind  Kind
	Words []string
}

// Keys lists every value a plan can state, in the order of the plan file. Keys
// of a nested group are dotted: acid.kind, cooling.hours.
func Keys() []Key {
	return append([]Key(nil), keys...)
}

// groups lists the keys of each nested group.
var groups = func() map[string][]string {
	out := map[string][]string{}
	for _, k := range keys {
		if group, _, nested := strings.Cut(k.Name, "."); nested {
			out[group] = append(out[group], k.Name)
		}
	}
	return out
}()

var keys = []Key{
	{"food", KindFood, nil},
	{"pack", KindWord, packs},
	{"method", KindWord, methods},
	{"gauge", KindWord, gauges},
	{"gauge_tested", KindWord, gaugeTested},
	{"jar", KindWord, jarIDs()},
	{"altitude", KindAltitude, nil},
	{"time", KindDuration, nil},
	{"pressure", KindPressure, nil},
	{"headspace", KindLength, nil},
	{"acid.kind", KindWord, acidKinds},
	{"acid.per_jar", KindVolume, nil},
	{"ph.reading", KindNumber, nil},
	{"ph.by", KindWord, phBy},
	{"produce", KindWord, produce},
	{"prepared", KindWord, prepared},
	{"added", KindWords, added},
	{"jars.kind", KindWord, jarKinds},
	{"jars.condition", KindWord, jarStates},
	{"sterilised", KindYesNo, nil},
	{"lids.kind", KindWord, lidKinds},
	{"lids.state", KindWord, lidStates},
	{"bands", KindWord, bands},
	{"bubbles_removed", KindYesNo, nil},
	{"rims_wiped", KindYesNo, nil},
	{"load.sizes", KindWord, loadSizes},
	{"load.layers", KindNumber, nil},
	{"water_over_lids", KindLength, nil},
	{"water_kept", KindYesNo, nil},
	{"timing_starts", KindWord, timingFrom},
	{"boil_interrupted", KindWord, interrupted},
	{"canner_opened", KindYesNo, nil},
	{"vent", KindDuration, nil},
	{"rest", KindDuration, nil},
	{"cooling.hours", KindNumber, nil},
	{"cooling.undisturbed", KindYesNo, nil},
	{"cooling.forced", KindYesNo, nil},
	{"cooling.bands_retightened", KindYesNo, nil},
	{"cooling.inverted", KindYesNo, nil},
	{"seal_checks", KindWords, sealChecks},
	{"unsealed", KindWord, unsealed},
	{"unsealed_within", KindDuration, nil},
	{"lost_liquid", KindWord, lostLiquid},
	{"storage.bands_off", KindYesNo, nil},
	{"storage.temperature", KindTemperature, nil},
	{"storage.months", KindNumber, nil},
	{"opening", KindWords, openingBy},
}
