package scenarios

import (
	"encoding/json"
	"fmt"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// PlanSchema is the JSON Schema (2020-12) of a plan file, for editors and for
// programs that write plans. It is built from [Keys] and the foods of a table.
// It holds keys, words and the form of quantities; the ranges of quantities are
// left to the reader of plans, whose answer decides.
func PlanSchema(table *process.Table) []byte {
	s := planSchema(table)
	s["$schema"] = schemaDialect
	s["title"] = "Rolling Boil plan file"
	s["description"] = "What somebody intends to do. Every key may be left out; nothing that is left out is guessed."
	return writeSchema(s)
}

// BatchSchema is the JSON Schema (2020-12) of a batch file: a plan and the record
// of the day.
func BatchSchema(table *process.Table) []byte {
	plan := planSchema(table)
	plan["type"] = []string{"object", "null"}
	plan["description"] = "What was intended, as in a plan file."
	return writeSchema(schema{
		"$schema":              schemaDialect,
		"title":                "Rolling Boil batch file",
		"description":          "What somebody did: the plan, and the record of the day.",
		"type":                 "object",
		"properties":           schema{"plan": plan, "record": recordSchema()},
		"additionalProperties": false,
		"anyOf":                []schema{{"required": []string{"plan"}}, {"required": []string{"record"}}},
	})
}

type schema map[string]any

const schemaDialect = "https://json-schema.org/draft/2020-12/schema"

func writeSchema(s schema) []byte {
	raw, err := json.MarshalIndent(s, "", "  ")
	if err != nil {
		panic(fmt.Sprintf("write a schema: %v", err)) // maps, lists and texts only: they can always be written
	}
	return append(raw, '\n')
}

func planSchema(table *process.Table) schema {
	top := schema{}
	for _, k := range keys {
		value := keySchema(k, table)
		value["description"] = describe[k.Name]
		group, leaf, nested := strings.Cut(k.Name, ".")
		if !nested {
			top[k.Name] = value
			continue
		}
		if top[group] == nil {
			top[group] = schema{"description": describe[group], "type": []string{"object", "null"}, "properties": schema{}, "additionalProperties": false}
		}
		top[group].(schema)["properties"].(schema)[leaf] = value
	}
	return schema{"type": "object", "properties": top, "additionalProperties": false}
}

// keySchema is what may stand for one key. A key without a value, null in JSON,
// is not stated.
func keySchema(k Key, table *process.Table) schema {
	switch k.Kind {
	case KindFood:
		var foods []string
		for _, c := range table.Foods() {
			foods = append(foods, c.Food)
		}
		for _, u := range table.UntestedFoods() {
			foods = append(foods, u.ID)
		}
		return wordSchema(foods)
	case KindWord:
		return wordSchema(k.Words)
	case KindWords:
		return schema{"anyOf": []schema{wordSchema(k.Words), {"type": "array", "items": schema{"enum": k.Words}}}}
	case KindYesNo:
		return schema{"enum": []any{true, false, "true", "false", "yes", "no", nil}}
	case KindNumber:
		return schema{"type": []string{"number", "string", "null"}, "minimum": 0, "maximum": topNumber(k.Name), "pattern": `^[0-9]+(?:\.[0-9]*)?$`}
	}
	return schema{"type": []string{"string", "null"}, "pattern": patternOf[k.Kind]}
}

func wordSchema(words []string) schema {
	list := make([]any, 0, len(words)+1)
	for _, w := range words {
		list = append(list, w)
	}
	return schema{"enum": append(list, nil)}
}

var patternOf = map[Kind]string{
	KindAltitude:    measure.AltitudePattern,
	KindDuration:    measure.DurationPattern,
	KindPressure:    measure.PressurePattern,
	KindLength:      measure.LengthPattern,
	KindVolume:      measure.VolumePattern,
	KindTemperature: measure.TemperaturePattern,
}

func recordSchema() schema {
	clock := func(what string) schema {
		return schema{
			"type": []string{"string", "null"}, "format": "date-time", "description": what,
			"pattern": `^[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}(?:\.[0-9]+)?(?:Z|[+-][0-9]{2}:[0-9]{2})$`,
		}
	}
	jar := schema{
		"n":             schema{"type": []string{"integer", "string"}, "minimum": 1, "maximum": maxJars, "pattern": "^[0-9]{1,3}$"},
		"sealed":        keySchema(Key{Kind: KindYesNo}, nil),
		"liquid_lost":   wordSchema(liquidWords),
		"separated":     keySchema(Key{Kind: KindYesNo}, nil),
		"checked_after": keySchema(Key{Kind: KindDuration}, nil),
		"looks":         wordSchema(looksWords),
		"placed":        wordSchema(placedWords),
	}
	for name, value := range jar {
		value.(schema)["description"] = describe["record.jars."+name]
	}
	moment := clock("RFC 3339, with its offset.")
	moment["type"] = "string"
	return schema{
		"description": "What happened, with clock times in RFC 3339, each with its own offset.",
		"type":        "object",
		"properties": schema{
			"boil_reached":     clock("When the full boil, or the steady column of steam, was reached."),
			"pressure_reached": clock("When the pressure was reached in a pressure canner; instead of boil_reached."),
			"finished":         clock("When the heat went off."),
			"interruptions": schema{
				"description": "Stretches without boil or pressure. The time starts again at the end of each.",
				"type":        []string{"array", "null"},
				"items":       schema{"type": "object", "properties": schema{"from": moment, "to": moment}, "required": []string{"from", "to"}, "additionalProperties": false},
			},
			"jars": schema{
				"description": "What was seen of each jar.",
				"type":        []string{"array", "null"},
				"maxItems":    maxJars,
				"items":       schema{"type": "object", "properties": jar, "required": []string{"n"}, "additionalProperties": false},
			},
		},
		"not":                  schema{"required": []string{"boil_reached", "pressure_reached"}},
		"additionalProperties": false,
	}
}

// describe says what each key of a plan, each group and each key of a jar's
// record means.
var describe = map[string]string{
	"food":            "Id of the food in the process table, or of a food that has no tested process.",
	"pack":            "How the food goes into the jar: hot, raw, or as the directions of the food say.",
	"method":          "The canner. Only boiling-water, atmospheric-steam and pressure have tested processes; the others are ways that people use and that have none.",
	"gauge":           "The gauge of a pressure canner.",
	"gauge_tested":    "When the dial gauge was last tested.",
	"jar":             "Jar size.",
	"altitude":        "Height above sea level, in feet or meters: 6240 ft, 1902 m.",
	"time":            "Process time: 60 min, 1 h 5 min.",
	"pressure":        "Gauge pressure, in psi or kPa: 11 psi.",
	"headspace":       "Empty space below the rim, in inches or millimeters: 1/2 in, 13 mm.",
	"acid":            "The acid that goes into each jar.",
	"acid.kind":       "What the acid is.",
	"acid.per_jar":    "How much goes into each jar: 2 tbsp, 1/2 tsp, 30 ml.",
	"ph":              "A pH reading taken at home. It never takes the place of the acid.",
	"ph.reading":      "The reading, 0 to 14.",
	"ph.by":           "What it was taken with.",
	"produce":         "The state of the fruit or vegetables.",
	"prepared":        "How the food is prepared.",
	"added":           "What goes in beyond the tested directions.",
	"jars":            "The jars.",
	"jars.kind":       "Canning jars, or one-trip jars that food was sold in.",
	"jars.condition":  "Their rims and their glass.",
	"sterilised":      "Whether the jars are boiled first: 10 minutes below 1,000 ft, longer above.",
	"lids":            "The lids.",
	"lids.kind":       "What kind they are.",
	"lids.state":      "New, used before, or old stock.",
	"bands":           "How tight the bands are screwed on.",
	"bubbles_removed": "Whether air bubbles are let out of the filled jars.",
	"rims_wiped":      "Whether the rims are wiped before the lids go on.",
	"load":            "How the canner is loaded.",
	"load.sizes":      "Jars of one size, or mixed.",
	"load.layers":     "How many layers of jars.",
	"water_over_lids": "Water over the lids in a boiling-water canner: 2 in.",
	"water_kept":      "Whether that water is kept over the lids to the end.",

	"timing_starts":             "What starts the clock.",
	"boil_interrupted":          "What is done with the clock if the boil or the pressure is lost.",
	"canner_opened":             "Whether the canner is opened during the process.",
	"vent":                      "How long a pressure canner is vented before the pressure is let rise: 10 min.",
	"rest":                      "How long the jars rest with the heat off before they are lifted: 5 min.",
	"cooling":                   "How the jars cool.",
	"cooling.hours":             "Hours left to cool before the seals are tested.",
	"cooling.undisturbed":       "Whether they are left alone.",
	"cooling.forced":            "Whether cooling is hurried, as with cold water.",
	"cooling.bands_retightened": "Whether the bands are tightened again on the hot jars.",
	"cooling.inverted":          "Whether the jars are turned upside down.",
	"seal_checks":               "How the seals are tested.",
	"unsealed":                  "What is done with a jar that did not seal.",
	"unsealed_within":           "How soon that is done: 24 h.",
	"lost_liquid":               "What is done with a jar that lost liquid.",
	"storage":                   "How the jars are kept.",
	"storage.bands_off":         "Whether the bands are taken off.",
	"storage.temperature":       "How warm the place is, in Fahrenheit or Celsius: 65 F, 18 °C.",
	"storage.months":            "How many months they are kept.",
	"opening":                   "How a jar is judged when it is opened.",

	"record.jars.n":             "The jar's number, from 1.",
	"record.jars.sealed":        "Whether it sealed.",
	"record.jars.liquid_lost":   "How much liquid it lost.",
	"record.jars.separated":     "Whether the food has parted from the liquid.",
	"record.jars.checked_after": "How long after the heat went off it was looked at: 14 h.",
	"record.jars.looks":         "What can be seen from outside.",
	"record.jars.placed":        "Where it went.",
}
