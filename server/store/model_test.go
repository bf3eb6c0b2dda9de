package store

import (
	"cmp"
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// The store is compared with maps and slices through long random sequences of
// calls, with text, bytes and times of every sort, closing and opening the file
// in between.
func TestStoreKeepsWhatItIsGiven(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(r *rapid.T) {
		ctx := t.Context()
		path := newPath(t)
		s, err := Open(ctx, path)
		if err != nil {
			r.Fatal(err)
		}
		defer func() { s.Close() }()

		want := map[string]sample{}
		for _, v := range []string{"ada", "ben", "carol\x00 or é"} {
			want[v] = sample{Visitor: Visitor{ID: v}}
		}
		visitor := rapid.SampledFrom([]string{"ada", "ben", "carol\x00 or é"})
		name := rapid.StringN(1, 20, -1)
		id := rapid.SampledFrom([]string{"id1", "id2", "id3", "id4"})
		blobs := rapid.SliceOfN(rapid.Byte(), 0, 50)
		zones := rapid.SampledFrom([]*time.Location{time.UTC, time.FixedZone("", -6*60*60), time.FixedZone("", 5*60*60+45*60)})
		at := rapid.Custom(func(r *rapid.T) time.Time {
			seconds := rapid.Int64Range(-2_000_000_000, 4_000_000_000).Draw(r, "seconds")
			nanos := rapid.Int64Range(0, 999_999_999).Draw(r, "nanoseconds")
			return time.Unix(seconds, nanos).In(zones.Draw(r, "zone"))
		})
		planOwner := func(id string) string {
			for v, x := range want {
				if slices.ContainsFunc(x.Plans, func(p SavedPlan) bool { return p.ID == id }) {
					return v
				}
			}
			return ""
		}
		attemptOwner := func(id string) string {
			for v, x := range want {
				if slices.ContainsFunc(x.Attempts, func(a Attempt) bool { return a.ID == id }) {
					return v
				}
			}
			return ""
		}
		wantErr := func(call string, got, want error) {
			if !errors.Is(got, want) {
				r.Fatalf("%s = %v, want %v", call, got, want)
			}
		}

		r.Repeat(map[string]func(*rapid.T){
			"altitude": func(r *rapid.T) {
				v := visitor.Draw(r, "visitor")
				x := want[v]
				x.Visitor.AltitudeFt = rapid.Float64Range(-1500, 30000).Draw(r, "feet")
				x.Visitor.AltitudeKnown = true
				want[v] = x
				wantErr("SetAltitude", s.SetAltitude(ctx, v, x.Visitor.AltitudeFt), nil)
			},
			"answer": func(r *rapid.T) {
				v := visitor.Draw(r, "visitor")
				a := Answer{
					Visitor: v, Question: name.Draw(r, "question"), Lesson: rapid.String().Draw(r, "lesson"),
					Given: rapid.SliceOfN(rapid.String(), 0, 4).Draw(r, "given"), Right: rapid.Bool().Draw(r, "right"),
					Wording: rapid.StringMatching(`([a-z]{3}/[1-9])?`).Draw(r, "wording"), Beliefs: rapid.SliceOfN(rapid.String(), 0, 2).Draw(r, "beliefs"),
					At: at.Draw(r, "at"),
				}
				wantErr("SaveAnswer", s.SaveAnswer(ctx, a), nil)
				a.At = a.At.UTC()
				x := want[v]
				x.Answers = append(slices.Clone(x.Answers), a)
				slices.SortStableFunc(x.Answers, func(a, b Answer) int { return a.At.Compare(b.At) })
				want[v] = x
			},
			"plan": func(r *rapid.T) {
				v := visitor.Draw(r, "visitor")
				p := SavedPlan{
					ID: id.Draw(r, "id"), Visitor: v, Title: rapid.String().Draw(r, "title"),
					Plan: blobs.Draw(r, "plan"), Report: blobs.Draw(r, "report"), Verdict: rapid.String().Draw(r, "verdict"),
					At: at.Draw(r, "at"),
				}
				if planOwner(p.ID) != "" {
					wantErr("SavePlan", s.SavePlan(ctx, p), ErrExists)
					return
				}
				wantErr("SavePlan", s.SavePlan(ctx, p), nil)
				p.At = p.At.UTC()
				x := want[v]
				x.Plans = append(slices.Clone(x.Plans), p)
				slices.SortFunc(x.Plans, func(a, b SavedPlan) int {
					return cmp.Or(b.At.Compare(a.At), strings.Compare(a.ID, b.ID))
				})
				want[v] = x
			},
			"attempt": func(r *rapid.T) {
				v := visitor.Draw(r, "visitor")
				a := Attempt{
					ID: id.Draw(r, "id"), Visitor: v, Scenario: name.Draw(r, "scenario"),
					Plan: blobs.Draw(r, "plan"), Report: blobs.Draw(r, "report"), Verdict: rapid.String().Draw(r, "verdict"),
					Passed: rapid.Bool().Draw(r, "passed"), At: at.Draw(r, "at"),
				}
				if attemptOwner(a.ID) != "" {
					wantErr("SaveAttempt", s.SaveAttempt(ctx, a), ErrExists)
					return
				}
				wantErr("SaveAttempt", s.SaveAttempt(ctx, a), nil)
				a.At = a.At.UTC()
				x := want[v]
				x.Attempts = append(slices.Clone(x.Attempts), a)
				slices.SortFunc(x.Attempts, func(a, b Attempt) int {
					return cmp.Or(b.At.Compare(a.At), strings.Compare(a.ID, b.ID))
				})
				want[v] = x
			},
			"delete plan": func(r *rapid.T) {
				v, id := visitor.Draw(r, "visitor"), id.Draw(r, "id")
				if planOwner(id) != v {
					wantErr("DeletePlan", s.DeletePlan(ctx, v, id), ErrNotFound)
					return
				}
				wantErr("DeletePlan", s.DeletePlan(ctx, v, id), nil)
				x := want[v]
				x.Plans = slices.DeleteFunc(slices.Clone(x.Plans), func(p SavedPlan) bool { return p.ID == id })
				want[v] = x
			},
			"delete attempt": func(r *rapid.T) {
				v, id := visitor.Draw(r, "visitor"), id.Draw(r, "id")
				if attemptOwner(id) != v {
					wantErr("DeleteAttempt", s.DeleteAttempt(ctx, v, id), ErrNotFound)
					return
				}
				wantErr("DeleteAttempt", s.DeleteAttempt(ctx, v, id), nil)
				x := want[v]
				x.Attempts = slices.DeleteFunc(slices.Clone(x.Attempts), func(a Attempt) bool { return a.ID == id })
				want[v] = x
			},
			"forget": func(r *rapid.T) {
				v := visitor.Draw(r, "visitor")
				wantErr("Forget", s.Forget(ctx, v), nil)
				want[v] = sample{Visitor: Visitor{ID: v}}
			},
			"close and open": func(r *rapid.T) {
				wantErr("Close", s.Close(), nil)
				var err error
				s, err = Open(ctx, path)
				wantErr("Open", err, nil)
			},
			"": func(r *rapid.T) {
				for _, x := range want {
					if err := x.check(ctx, s); err != nil {
						r.Fatal(err)
					}
				}
			},
		})
		wantErr("Integrity", s.Integrity(ctx), nil)
	})
}
