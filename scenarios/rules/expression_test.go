package rules

import (
	"errors"
	"maps"
	"math"
	"strings"
	"testing"
)

func language() *Language {
	return NewLanguage(map[string]any{
		"double":  func(v float64) float64 { return 2 * v },
		"say":     func(s string) (string, error) { return s + "!", nil },
		"missing": func() (float64, error) { return 0, errors.New("nothing is printed") },
		"size":    func(m map[string]any) float64 { return float64(len(m)) },
		"huge":    func() float64 { return math.MaxFloat64 },
	}).With(map[string]any{"feet": 0.0, "jar": "", "hot": false})
}

func TestExpressions(t *testing.T) {
	t.Parallel()
	values := with(language(), map[string]any{"feet": 6240.0, "jar": "quart", "hot": true})
	for _, tc := range []struct {
		source string
		want   any
	}{
		{"feet", 6240.0},
		{"feet + 10 * 2", 6260.0},
		{"feet / 2", 3120.0},
		{"double(feet) - 480", 12000.0},
		{"max(feet, 7000)", 7000.0},
		{"round(6.6)", 7.0},
		{"3", 3.0},
		{`jar == "quart" ? "big" : "small"`, "big"},
		{`say(jar)`, "quart!"},
		{`jar + "s"`, "quarts"},
		{`feet > 6000 and hot`, true},
		{`jar in ["pint", "half-pint"]`, false},
		{`not hot`, false},
		{`size({"food": jar, "time": "60 min"})`, 2.0},
	} {
		e, err := language().Compile(tc.source)
		if err != nil {
			t.Errorf("%s: %v", tc.source, err)
			continue
		}
		if got, err := e.Run(values); err != nil || got != tc.want {
			t.Errorf("%s = %v, %v; want %v", tc.source, got, err, tc.want)
		}
	}
}

// Each hole that the library leaves open is refused with its place.
func TestExpressionsThatAreRefused(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		source, want string
		offset       int
	}{
		{"feat + 1", `there is no feat; the nearest is "feet"`, 0},
		{"duoble(1)", `there is no function duoble; the nearest is "double"`, 0},
		{"1 / feet", "divide only by a number that is written out", 2},
		{"1 / 0", "divide only by a number that is written out", 2},
		{"feet % 2", "% is not used here", 5},
		{"double", "double is a function", 0},
		{`double("a")`, "", 0},
		{`feet == "a"`, "", 0},
		{`{"a": 1}.b`, "cannot be used", 0},
		{`$env["feet"]`, "", 0},
		{`len([1])`, "len", 0},
		{`filter([1], # > 0)`, "filter", 0},
		{`hot ? 1 : "a"`, "", 0},
		{`[1, 2]`, "neither a number nor a text", 0},
		{`feet +`, "stops too early", 0},
		{`feet = 2`, "write ==", 0},
		{`let x = 1; x`, "", 0},
		{`feet ?? 1`, "", 0},
		{strings.Repeat("1+", 1500) + "1", "at most 2000", 0},
	} {
		_, err := language().Compile(tc.source)
		var told *ExpressionError
		if !errors.As(err, &told) || !strings.Contains(err.Error(), tc.want) || tc.offset > 0 && told.Offset != tc.offset {
			t.Errorf("%.40s: %v, want %q at %d", tc.source, err, tc.want, tc.offset)
		}
	}
}

func TestExpressionsThatFailWhenRun(t *testing.T) {
	t.Parallel()
	for source, want := range map[string]string{
		"missing()":     "nothing is printed",
		"huge() * 10":   "no number",
		"huge() + feet": "",
	} {
		e, err := language().Compile(source)
		if err != nil {
			t.Fatal(err)
		}
		_, err = e.Run(with(language(), map[string]any{"feet": 1.0, "jar": "", "hot": false}))
		if want == "" && err != nil || want != "" && (err == nil || !strings.Contains(err.Error(), want)) {
			t.Errorf("%s: %v, want %q", source, err, want)
		}
	}
}

func with(l *Language, values map[string]any) Values {
	v := l.Values()
	maps.Copy(v, values)
	return v
}

func TestExpressionUses(t *testing.T) {
	t.Parallel()
	e, err := language().Compile(`double(feet) > 3 and (jar == "pint" or feet > 1)`)
	if err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(e.Uses(), " "); got != "feet jar" {
		t.Errorf("uses %q", got)
	}
	if e.Sample() != false {
		t.Errorf("sample %v", e.Sample())
	}
}

func FuzzExpression(f *testing.F) {
	for _, s := range []string{"feet+1", `say(jar)`, `{"a":1}`, "1/0", "((", "hot?1:2", "-feet", "not not hot"} {
		f.Add(s)
	}
	l := language()
	f.Fuzz(func(t *testing.T, source string) {
		e, err := l.Compile(source)
		if err != nil {
			if err.Error() == "" {
				t.Error("an error without words")
			}
			return
		}
		got, err := e.Run(with(l, map[string]any{"feet": 6240.0, "jar": "quart", "hot": true}))
		if err != nil {
			return
		}
		if v, ok := got.(float64); ok && (math.IsNaN(v) || math.IsInf(v, 0)) {
			t.Errorf("%q = %v", source, v)
		}
	})
}

func BenchmarkExpression(b *testing.B) {
	e, err := language().Compile(`double(feet) > 3 and jar == "quart"`)
	if err != nil {
		b.Fatal(err)
	}
	values := with(language(), map[string]any{"feet": 6240.0, "jar": "quart", "hot": true})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := e.Run(values); err != nil {
			b.Fatal(err)
		}
	}
}
