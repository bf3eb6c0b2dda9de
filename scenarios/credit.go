package scenarios

import (
	"slices"
	"strings"
)

// Credit says whether an answer showed a competency.
type Credit struct {
	Competency string
	Right      bool
	Why        string // what stands against it; "" when nothing does
}

// competencyOf names the competency that a finding on a field speaks of. A field
// that is not here stands with its group.
var competencyOf = map[string]string{
	"food": "low-acid", "method": "low-acid", "pack": "process-time", "gauge": "pressure", "gauge_tested": "pressure",
	"jar": "process-time", "altitude": "altitude", "time": "process-time", "pressure": "pressure", "vent": "pressure",
	"headspace": "headspace", "acid": "acidity", "ph": "acidity", "produce": "recipe-changes", "prepared": "recipe-changes", "added": "recipe-changes",
	"jars": "jars-and-lids", "sterilised": "jars-and-lids", "lids": "jars-and-lids", "bands": "jars-and-lids",
	"bubbles_removed": "filling", "rims_wiped": "filling",
	"load": "loading-and-boil", "water_over_lids": "loading-and-boil", "water_kept": "loading-and-boil", "timing_starts": "loading-and-boil",
	"boil_interrupted": "loading-and-boil", "canner_opened": "loading-and-boil",
	"rest": "siphoning", "lost_liquid": "siphoning", "cooling": "cooling", "seal_checks": "seal-check",
	"unsealed": "unsealed-jars", "unsealed_within": "unsealed-jars", "storage": "storage-and-spoilage", "opening": "storage-and-spoilage",
	"record.finished": "process-time", "record.interruptions": "loading-and-boil", "record.jars": "unsealed-jars",
}

// CompetencyOf names the competency that a key of the plan or the record belongs
// to; "" for one that is no key.
func CompetencyOf(key string) string {
	if name, ok := competencyOf[key]; ok {
		return name
	}
	group, _, _ := strings.Cut(key, ".")
	return competencyOf[group]
}

// Credits tells, for each competency of a scenario, whether a plan written for it
// showed it: something that belongs to it is said that the kitchen had not settled,
// nothing that it needs is left out, and no safety finding speaks of it. A plan that is
// too long where the point was the time shows it all the same.
func (c *Case) Credits(p Plan, r Report) []Credit {
	var list []Credit
	for _, name := range c.Competencies {
		credit := Credit{Competency: name, Right: true}
		for _, f := range r.Findings {
			if f.Severity == "safety" && speaksOf(f.Field, name) {
				credit.Right, credit.Why = false, f.Says
				break
			}
		}
		silent := slices.Concat(r.Missing, r.NotStated)
		if i := slices.IndexFunc(silent, func(key string) bool { return speaksOf(key, name) }); credit.Right && i >= 0 {
			credit.Right, credit.Why = false, "Not said: "+Label(silent[i])+"."
		}
		said := func(k Key) bool { // the altitude is settled; the time or the pressure for it is needed anyway
			return p.Known(k.Name) && !c.Kitchen.Known(k.Name) && (CompetencyOf(k.Name) == name || name == "altitude")
		}
		if credit.Right && !slices.ContainsFunc(keys, said) {
			credit.Right, credit.Why = false, "Nothing in the plan speaks of it."
		}
		list = append(list, credit)
	}
	return list
}

// speaksOf reports whether a key that is said, left out or found fault with speaks of
// a competency. A time or a pressure is right for one altitude, so it speaks of that
// too. The canner decides what time, pressure and water there are to be right about.
func speaksOf(key, competency string) bool {
	of := CompetencyOf(key)
	return of == competency ||
		competency == "altitude" && (of == "process-time" || of == "pressure") ||
		key == "method" && slices.Contains([]string{"process-time", "altitude", "pressure", "loading-and-boil"}, competency)
}
