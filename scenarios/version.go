package scenarios

import (
	"crypto/sha256"
	"encoding/hex"
	"fmt"
)

// Version names the rules and the table that a grader judges by: the same for the
// same, another as soon as a rule or a row changes. Attempts are kept with it.
func (g *Grader) Version() string { return g.version }

func versionOf(g *Grader) string {
	h := sha256.New()
	for _, r := range g.rules.Rules() {
		fmt.Fprintln(h, r.ID, r.Stage, r.Severity, r.Verdict, r.Field, r.When, r.Says, r.Why, r.Given, r.Required, r.Source)
	}
	for _, c := range g.table.Foods() {
		fmt.Fprintln(h, c.Food, c.Acidity, c.AcidIn, c.RecipeAcid, c.Prepared, c.Sterilise, c.ProduceOut)
		for _, r := range g.table.Rows(c.Food) {
			fmt.Fprintln(h, r)
		}
		for _, jar := range jarIDs() {
			fmt.Fprintln(h, c.Dose(jar))
		}
	}
	for _, u := range g.table.UntestedFoods() {
		fmt.Fprintln(h, u)
	}
	return hex.EncodeToString(h.Sum(nil)[:6])
}
