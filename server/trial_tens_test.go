package server

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"rollingboil/server/store"
)

// TestNoTwoLooksTellOfOneStudent writes workbooks as they may come about, looks at each
// after every step as a member does, and holds each ten that is told of against all that
// ever were: ten students, never others, and no other ten shares a student of its way or a
// load with it. What two looks differ in is then always of ten students.
func TestNoTwoLooksTellOfOneStudent(t *testing.T) {
	t.Parallel()
	looks, told, gone := 0, 0, 0
	for seed := range uint64(300) {
		random := rand.New(rand.NewPCG(seed, 8))
		cooks := 10 + random.IntN(30)
		w := &trialWork{Variants: []store.TrialVariant{{N: 1}, {N: 2}}, Records: map[string]store.ClassRecord{}}
		var batches []string
		owner := map[string]string{} // of each batch, also after it was deleted
		for i := range cooks {
			for j := range 2 {
				batch, student := fmt.Sprintf("batch %d of %d", j, i), fmt.Sprint("student ", i)
				batches = append(batches, batch)
				owner[batch], w.Records[batch] = student, store.ClassRecord{Batch: batch, Student: student}
			}
		}
		linkedAs := map[int]string{} // batch by entry, also after it was deleted
		ever := map[string]ten{}
		shown := map[string]bool{}
		for range 100 {
			step := random.IntN(100)
			switch {
			case step < 90: // a batch is linked, once at a time (AddTrialEntry)
				batch := batches[random.IntN(len(batches))]
				if _, accepted := w.Records[batch]; !accepted || slices.ContainsFunc(w.Entries, func(e store.TrialEntry) bool { return e.Batch == batch && w.entry(e.N) != nil }) {
					continue
				}
				e := store.TrialEntry{N: len(w.Entries) + 1, Kind: store.LinkedEntry, Batch: batch, Variant: 1 + truth(seed%2 == 0 && step%3 == 0)}
				w.Entries, linkedAs[e.N] = append(w.Entries, e), e.Batch
			case step < 98: // an entry is taken out, or replaced by a typed one
				if len(w.Entries) == 0 {
					continue
				}
				e := w.entry(1 + random.IntN(len(w.Entries)))
				if e == nil {
					continue
				}
				batch, other := e.Batch, 3-e.Variant
				kind := []string{store.VoidEntry, store.TypedEntry}[random.IntN(2)]
				w.Entries = append(w.Entries, store.TrialEntry{N: len(w.Entries) + 1, Kind: kind, Variant: e.Variant, Replaces: e.N})
				if batch != "" && step%2 == 0 { // it was linked to the wrong way
					w.Entries = append(w.Entries, store.TrialEntry{N: len(w.Entries) + 1, Kind: store.LinkedEntry, Variant: other, Batch: batch})
					linkedAs[len(w.Entries)] = batch
				}
			case step < 99: // a student deletes everything
				student := fmt.Sprint("student ", random.IntN(cooks))
				for i, e := range w.Entries {
					if e.Batch != "" && owner[e.Batch] == student {
						w.Entries[i].Batch = ""
					}
				}
				for batch, of := range owner {
					if of == student {
						delete(w.Records, batch)
					}
				}
			case random.IntN(4) == 0:
				w.Events = []store.TrialEvent{{What: store.SetAside, Variant: 2}}
			}

			look := *w
			look.forClass()
			looks++
			if slices.ContainsFunc(look.Entries, func(e store.TrialEntry) bool { return e.Kind == store.LinkedEntry }) {
				t.Fatalf("a linked load is told of by itself")
			}
			now := map[string]bool{}
			for way, tens := range look.Tens {
				for _, one := range tens {
					var loads []string
					students := people{}
					for _, e := range one.loads {
						if w.entry(e.N) == nil || e.Batch == "" || e.Variant != way || w.variant(way) == nil {
							t.Fatalf("entry %d does not count, and is in a ten", e.N)
						}
						loads, students[owner[linkedAs[e.N]]] = append(loads, linkedAs[e.N]), true
					}
					if len(students) != 10 || len(loads) != 10 {
						t.Fatalf("%d loads of %d students", len(loads), len(students))
					}
					key := fmt.Sprint(way, loads)
					now[key], ever[key] = true, one
					for other, before := range ever {
						if other == key {
							continue
						}
						for _, e := range before.loads {
							if before.way == way && students[owner[linkedAs[e.N]]] || slices.Contains(loads, linkedAs[e.N]) {
								t.Fatalf("%s shares %s with %s, which was told of", key, linkedAs[e.N], other)
							}
						}
					}
				}
			}
			for _, v := range w.compared() {
				has := slices.ContainsFunc(w.Entries, func(e store.TrialEntry) bool {
					return e.Kind == store.LinkedEntry && e.Variant == v.N && w.entry(e.N) != nil
				})
				if has && len(now) > 0 && len(look.Tens[v.N]) == 0 {
					t.Fatalf("way %d has loads of too few students, and others are told of", v.N)
				}
				if has && len(now) == 0 && !look.Few {
					t.Fatal("loads are left out, and nobody is told")
				}
			}
			for key := range shown {
				gone += truth(!now[key])
			}
			told += len(now)
			shown = now
		}
	}
	if looks < 10_000 || told < 1000 || gone < 50 {
		t.Errorf("in %d looks tens were told of %d times and no more %d times: too little was tried", looks, told, gone)
	}
}

// TestNoStudentOfATenCanBeWorkedOut searches all tables of ten students: how many had such a
// jar, had none, or did not say, in each of two ways. The attacker knows all that is printed,
// the likely ranges and the sentence about chance too, and how it is made. Whatever other
// tables print the same remain possible: each count that is not printed must have two values
// left at least, and one that is printed is of three students or more on either side, or of
// nobody.
func TestNoStudentOfATenCanBeWorkedOut(t *testing.T) {
	t.Parallel()
	var tables [][]int
	rows(3, fewestLearners, func(row []int) { tables = append(tables, slices.Clone(row)) })
	side := func(name string, row []int) trialSide {
		seen := tenSeen{Off: publish([]int{row[0], row[1] + row[2]}), Unsealed: publish(row), Lost: publish([]int{0, 0, 10}), Watery: publish([]int{0, 0, 10})}
		return trialSide{Name: name, tens: []tenSeen{seen}}
	}
	printed := func(a, b []int) string {
		sides := []trialSide{side("a", a), side("b", b)}
		return fmt.Sprint(trialRows(sides), trialChances(sides))
	}
	same := map[string][][2][]int{}
	for _, a := range tables {
		for _, b := range tables {
			key := printed(a, b)
			same[key] = append(same[key], [2][]int{a, b})
		}
	}
	hidden, counts := 0, 0
	for key, possible := range same {
		for way := range 2 {
			for cell := range 3 {
				values := map[int]bool{}
				for _, p := range possible {
					values[p[way][cell]] = true
				}
				if len(values) > 1 {
					hidden++
					continue
				}
				counts++
				if n := possible[0][way][cell]; n != 0 && (n <= smallCell || n >= fewestLearners-smallCell) {
					t.Fatalf("%v can be worked out of %s", possible[0], key)
				}
			}
		}
	}
	if hidden < 100 || counts < 100 {
		t.Errorf("%d counts are hidden and %d told: too little was looked at", hidden, counts)
	}
	// Ways and tens print nothing together that they do not print apart.
	for _, a := range tables {
		two := tensCell([][]string{publish(a), publish([]int{5, 5, 0})})
		if one := tensCell([][]string{publish(a)}); one.Text != notSaid && two.Text != one.Text+"; 5 of 10" {
			t.Errorf("%v beside another ten is %q, and alone %q", a, two.Text, one.Text)
		}
	}
	if text := printed([]int{4, 6, 0}, []int{1, 6, 3}); !strings.Contains(text, "4 of 10") || strings.Contains(text, "against") {
		t.Errorf("a count that is not shown is compared: %s", text)
	}
}
