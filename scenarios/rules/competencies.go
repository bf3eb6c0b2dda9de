package rules

import "slices"

// Competencies lists the things a canner must be able to do. Lessons, questions
// and scenarios name them; this is the one list.
func Competencies() []string { return slices.Clone(competencies) }

var competencies = []string{
	"acidity", "altitude", "process-time", "jars-and-lids", "headspace", "filling", "loading-and-boil", "pressure",
	"siphoning", "cooling", "seal-check", "unsealed-jars", "separation", "storage-and-spoilage", "recipe-changes", "low-acid",
}

// Critical lists the competencies without which somebody may come to harm.
func Critical() []string { return slices.Clone(critical) }

var critical = []string{"acidity", "altitude", "process-time", "seal-check", "unsealed-jars", "recipe-changes", "low-acid", "pressure"}
