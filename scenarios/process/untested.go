package process

import (
	"io"
	"slices"
	"strings"
)

// Untested is a food that people ask about and that has no tested home process,
// or one in doubt.
type Untested struct {
	ID, Name   string
	Like       string // id of the tested food it resembles; "" for none
	Why        string // why there is none, and what to do instead
	Sources    []string
	Confidence string
}

// Untested gives an untested food by its id.
func (t *Table) Untested(id string) (Untested, bool) {
	i := slices.IndexFunc(t.untested, func(u Untested) bool { return u.ID == id })
	if i < 0 {
		return Untested{}, false
	}
	return t.untested[i], true
}

// UntestedFoods lists the untested foods in order of their names.
func (t *Table) UntestedFoods() []Untested { return slices.Clone(t.untested) }

var untestedConfidence = []string{"guide-2015", "two-copies", "one-copy"}

func (l *loader) readUntested(src io.Reader) {
	const file = "untested.csv"
	l.records(file, src, otherHeader, func(line int, field map[string]string) {
		u := Untested{ID: field["id"], Name: field["name"], Like: field["like"], Why: field["why"], Confidence: field["confidence"]}
		if !isID(u.ID) || u.Name == "" {
			l.problem(file, line, "an untested food needs an id in small letters and a name")
		}
		if _, twice := l.table.Untested(u.ID); twice {
			l.problem(file, line, "%s is listed already", u.ID)
		}
		if l.table.byID[u.ID] != nil {
			l.problem(file, line, "%s has rows in the table, so it is tested", u.ID)
		}
		if u.Like != "" && l.table.byID[u.Like] == nil {
			l.problem(file, line, "like: %q is no food of the table", u.Like)
		}
		if n := len(u.Why); n == 0 || n > 300 || !strings.HasSuffix(u.Why, ".") {
			l.problem(file, line, "why: %q is not a few sentences of at most 300 letters", u.Why)
		}
		if u.Sources = strings.Split(field["source"], "|"); !isID(u.Sources[0]) {
			l.problem(file, line, "source: %s needs the id of a source", u.ID)
		}
		l.word(file, line, "confidence", u.Confidence, untestedConfidence)
		l.table.untested = append(l.table.untested, u)
	})
	slices.SortStableFunc(l.table.untested, func(a, b Untested) int { return strings.Compare(a.Name, b.Name) })
}
