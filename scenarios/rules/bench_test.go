package rules

import (
	"fmt"
	"strings"
	"testing"
)

// BenchmarkEvaluate measures one plan against 60 rules whose conditions are
// those of a real rule book: one to three facts, a word or a list.
func BenchmarkEvaluate(b *testing.B) {
	conditions := []string{
		`time_known and process_found and minutes < required_minutes`,
		`low_acid and method == "oven"`,
		`not process_found`,
		`pack == "raw" and method in ["boiling-water", "oven"]`,
		`any(added, # in ["onion", "garlic"])`,
		`jars > 0 and not time_known`,
	}
	book := func(conditions []string) *Set {
		file := strings.Builder{}
		file.WriteString("rules:\n")
		for i := range 60 {
			rule := probeWith(fmt.Sprintf("  - id: rule-%d", i), "    when: |\n      "+conditions[i%len(conditions)],
				`    says: "{{.Time}} is shorter than the tested {{.RequiredTime}}."`)
			file.WriteString(strings.TrimPrefix(rule, "rules:\n"))
		}
		return mustLoad(b, folder(file.String()))
	}
	sound := kitchen{
		TimeKnown: true, ProcessFound: true, Minutes: 60, RequiredMinutes: 60, Jars: 7,
		Food: "pears", Pack: "hot", Method: "boiling-water", UsualMethod: "boiling-water", Added: []string{"salt"},
	}
	run := func(name string, set *Set, facts kitchen, findings int) {
		b.Run(name, func(b *testing.B) {
			b.ReportAllocs()
			var buffer [64]Finding
			for b.Loop() {
				if got := set.Evaluate(&facts, "plan", buffer[:0]); len(got) != findings {
					b.Fatalf("%d findings, want %d", len(got), findings)
				}
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/60, "ns/rule")
		})
	}
	mixed := book(conditions)
	run("mixed", mixed, sound, 0)
	run("three terms", book(conditions[:1]), sound, 0)
	run("lists", book(conditions[4:5]), sound, 0)
	short := sound
	short.Minutes = 50
	run("ten findings", mixed, short, 10)
}
