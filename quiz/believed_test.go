package quiz

import (
	"slices"
	"testing"
)

// TestBelieved marks the answers of each belief in every question of the shipped bank: each is wrong
// and shows the belief it is said to show.
func TestBelieved(t *testing.T) {
	t.Parallel()
	bank := shipped(t)
	seen := map[string]int{}
	for _, q := range bank.Questions() {
		for seed := range uint64(4) {
			asked, err := q.Ask(seed)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range asked.Believed() {
				result, err := asked.Mark(m.Given)
				if err != nil || result.Right || !slices.Contains(result.Misconceptions(), m.Misconception) {
					t.Errorf("%s, seed %d: %q is marked right %v with %v, want %s; %v", q.ID, seed, m.Given, result.Right, result.Misconceptions(), m.Misconception, err)
				}
				seen[q.Kind]++
			}
		}
	}
	for _, kind := range []string{"choice", "choices", "number", "order", "match"} {
		if seen[kind] == 0 {
			t.Errorf("no question of kind %s names a belief", kind)
		}
	}
}
