package quiz

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"
)

func TestEveryOptionCanBeMarked(t *testing.T) {
	t.Parallel()
	for _, q := range shipped(t).Questions() {
		for _, o := range q.Options {
			result, err := q.Mark([]string{o.Text})
			if err != nil {
				t.Errorf("%s: %v", q.ID, err)
				continue
			}
			if !cmp.Equal(result.Chosen, []Option{o}) {
				t.Errorf("%s: chose %q, got %+v", q.ID, o.Text, result.Chosen)
			}
		}
		for _, w := range q.Wrong {
			typed, _, _ := strings.Cut(q.quantity.text(w.amount), " (")
			result, err := q.Mark([]string{typed})
			if err != nil {
				t.Errorf("%s: %v", q.ID, err)
				continue
			}
			if result.Right || result.Chosen[0].Misconception != w.Misconception {
				t.Errorf("%s: wrong number %v marked as %+v", q.ID, w.amount, result)
			}
		}
	}
}

func optionQuestions(t testing.TB) []*Question {
	return slices.DeleteFunc(slices.Clone(shipped(t).Questions()), func(q *Question) bool { return q.Kind == Number })
}

func numberQuestions(t testing.TB) []*Question {
	return slices.DeleteFunc(slices.Clone(shipped(t).Questions()), func(q *Question) bool { return q.Kind != Number })
}

// Marking does not depend on the order of the options or of the answer, and an
// answer is right exactly when it names all the right options and no other.
func TestMarkingIsIndependentOfOrder(t *testing.T) {
	t.Parallel()
	questions := optionQuestions(t)
	byText := cmpopts.SortSlices(func(a, b Option) bool { return a.Text < b.Text })
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom(questions).Draw(t, "question")
		chosen := rapid.SliceOfN(rapid.Bool(), len(q.Options), len(q.Options)).Draw(t, "chosen")
		var given []string
		right := true
		for i, o := range q.Options {
			if chosen[i] {
				given = append(given, o.Text)
			}
			right = right && chosen[i] == o.Right
		}
		result, err := q.Mark(given)
		wanted := len(given) == 1 || q.Kind == Choices && len(given) > 0
		if (err == nil) != wanted {
			t.Fatalf("%s: Mark(%q): %v", q.ID, given, err)
		}
		if err == nil && result.Right != right {
			t.Fatalf("%s: Mark(%q): right is %v, want %v", q.ID, given, result.Right, right)
		}

		other := *q
		other.Options = rapid.Permutation(q.Options).Draw(t, "options")
		otherResult, otherErr := other.Mark(rapid.Permutation(given).Draw(t, "given"))
		if (err == nil) != (otherErr == nil) {
			t.Fatalf("%s: in another order the error is %v, not %v", q.ID, otherErr, err)
		}
		if diff := cmp.Diff(result, otherResult, byText, cmpopts.IgnoreFields(Result{}, "Key")); diff != "" {
			t.Fatalf("%s: in another order (-one +other):\n%s", q.ID, diff)
		}
		for _, o := range slices.Concat(result.Chosen, result.Missed) {
			if o.Feedback == "" {
				t.Fatalf("%s: option %q is marked without a word", q.ID, o.Text)
			}
		}
	})
}

// A number with its unit counts as the bare number, and it is right exactly
// within the tolerance.
func TestMarkingNumbers(t *testing.T) {
	t.Parallel()
	questions := numberQuestions(t)
	rapid.Check(t, func(t *rapid.T) {
		q := rapid.SampledFrom(questions).Draw(t, "question")
		hundredths := rapid.IntRange(0, 4000).Draw(t, "hundredths of the unit")
		bare := fmt.Sprintf("%d.%02d", hundredths/100, hundredths%100)
		result, err := q.Mark([]string{bare})
		if err != nil {
			t.Fatalf("%s: Mark(%q): %v", q.ID, bare, err)
		}
		withUnit, err := q.Mark([]string{bare + " " + q.Unit})
		if err != nil {
			t.Fatalf("%s: Mark(%q): %v", q.ID, bare+" "+q.Unit, err)
		}
		if diff := cmp.Diff(result, withUnit); diff != "" {
			t.Fatalf("%s: %s with its unit (-without +with):\n%s", q.ID, bare, diff)
		}
		// What one of the unit is in the base unit the amount is kept in.
		one, err := q.quantity.parse("1 " + q.Unit)
		if err != nil {
			t.Fatalf("%s: 1 %s: %v", q.ID, q.Unit, err)
		}
		if right := math.Abs(float64(hundredths)/100-q.Answer.amount/one) <= q.Tolerance+1e-6; result.Right != right {
			t.Fatalf("%s: %s is %v, want %v", q.ID, bare, result.Right, right)
		}
	})
}

func FuzzMark(f *testing.F) {
	for _, s := range []string{"60", "60 min", "0.75 h", "1 h 5", "½", "1 1/2 in", "97 kPa", "an hour", "-1", "1e9", "6 240", "\xff", "1/0", "''", "Not sealed"} {
		f.Add(s)
	}
	questions := shipped(f).Questions()
	f.Fuzz(func(t *testing.T, typed string) {
		for _, q := range questions {
			result, err := q.Mark([]string{typed})
			if err != nil {
				var cannot *AnswerError
				if !errors.As(err, &cannot) || !slices.Equal(cannot.Given, []string{typed}) || cannot.Reason == "" {
					t.Fatalf("%s: Mark(%q): %#v", q.ID, typed, err)
				}
				continue
			}
			if result.Right != result.Chosen[0].Right && q.Kind != Choices || result.Key == "" || result.Chosen[0].Feedback == "" {
				t.Fatalf("%s: Mark(%q): %+v", q.ID, typed, result)
			}
		}
	})
}

func FuzzLoad(f *testing.F) {
	f.Add(valid)
	f.Add(exampleFile(f))
	for _, s := range []string{"", "questions:", "questions: [a]", "questions: [{}]", "questions: [[a]]", "questions:\n- &a {id: x}\n- *a", "- a", "questions: {}", "\x00", "questions:\n- options: [{}]\n", "questions: [{kind: number, unit: min, wrong: [{}]}]"} {
		f.Add(s)
	}
	options := smallOptions(f)
	f.Fuzz(func(t *testing.T, src string) {
		if len(src) > 1<<13 {
			return // deeper nesting than any file of questions has
		}
		bank, err := Load(fstest.MapFS{"a.yaml": {Data: []byte(src)}}, options)
		if err != nil {
			if !strings.HasPrefix(err.Error(), "a.yaml:") {
				t.Fatalf("problem without its place: %v", err)
			}
			return
		}
		for _, q := range bank.Questions() {
			for _, o := range q.Options {
				if _, err := q.Mark([]string{o.Text}); err != nil {
					t.Fatalf("%s: %v", q.ID, err)
				}
			}
		}
	})
}

func BenchmarkMark(b *testing.B) {
	bank := shipped(b)
	for _, bench := range []struct {
		name, id string
		given    []string
	}{
		{"choice", "testing-seals-3", []string{"Not sealed"}},
		{"choices", "testing-seals-2", []string{"Press the middle of the lid", "Look across the lid at eye level", "Tap the lid with a teaspoon"}},
		{"number", "altitude-2", []string{"1 h"}},
	} {
		b.Run(bench.name, func(b *testing.B) {
			q := question(b, bank, bench.id)
			b.ReportAllocs()
			for b.Loop() {
				if result, err := q.Mark(bench.given); err != nil || !result.Right {
					b.Fatal(result, err)
				}
			}
		})
	}
}

func BenchmarkLoad(b *testing.B) {
	options := courseOptions(b)
	for b.Loop() {
		if _, err := Load(Shipped(), options); err != nil {
			b.Fatal(err)
		}
	}
}
