package measure

import (
	"errors"
	"fmt"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestConversionFactors: NIST SP 811 (2008), Appendix B, and NIST Handbook 44,
// Appendix C. The inch, the foot and the teaspoon are exact; the psi is rounded
// there to seven digits.
func TestConversionFactors(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		kind, us, metric string
		within           float64 // in the kind's own unit
	}{
		{"length", "1 in", "25.4 mm", 0},
		{"length", "10 in", "25.4 cm", 0},
		{"altitude", "1 ft", "0.3048 m", 0},
		{"altitude", "1000 ft", "304.8 m", 0},
		{"altitude", "6000 ft", "1828.8 m", 0},
		{"pressure", "1 psi", "6.894757 kPa", 0},
		{"pressure", "14.503774 psi", "1 bar", 1e-6},
		{"volume", "1 tsp", "4.92892159375 ml", 0},
		{"volume", "1 tsp", "4.92892 ml", 1e-6},
		{"volume", "1 quart", "0.946352946 l", 1e-6},
		{"temperature", "32 F", "0 C", 0},
		{"temperature", "212 F", "100 C", 0},
		{"temperature", "240 F", "115.56 C", 0.01},
	} {
		us, err := parsers[tc.kind](tc.us)
		if err != nil {
			t.Fatal(err)
		}
		metric, err := parsers[tc.kind](tc.metric)
		if err != nil {
			t.Fatal(err)
		}
		if math.Abs(us-metric) > tc.within {
			t.Errorf("%s is %v and %s is %v; want them within %v", tc.us, us, tc.metric, metric, tc.within)
		}
	}
}

// TestUSAndMetricAgree writes one quantity in both systems, with six decimals.
func TestUSAndMetricAgree(t *testing.T) {
	t.Parallel()
	systems := []struct {
		kind, us, metric string
		low, high        float64
		toMetric         func(float64) float64
	}{
		{"length", "in", "mm", 0, 39, func(v float64) float64 { return v * 25.4 }},
		{"volume", "tsp", "ml", 0, 3000, func(v float64) float64 { return v * 4.92892159375 }},
		{"temperature", "F", "C", -99, 599, func(v float64) float64 { return (v - 32) / 1.8 }},
		{"pressure", "psi", "kPa", 0, 59, func(v float64) float64 { return v * 6.894757 }},
		{"altitude", "ft", "m", -1499, 29999, func(v float64) float64 { return v * 0.3048 }},
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(systems).Draw(t, "system")
		v := rapid.Float64Range(s.low, s.high).Draw(t, "value")
		us, err := parsers[s.kind](fmt.Sprintf("%.6f %s", v, s.us))
		if err != nil {
			t.Fatal(err)
		}
		metric, err := parsers[s.kind](fmt.Sprintf("%.6f %s", s.toMetric(v), s.metric))
		if err != nil {
			t.Fatal(err)
		}
		// An altitude is kept to a hundredth of a foot: the two may round apart.
		if math.Abs(us-metric) > 0.010001 || s.kind != "altitude" && math.Abs(us-metric) > 1e-5 {
			t.Fatalf("%v %s is %v and its metric spelling %v", v, s.us, us, metric)
		}
	})
}

// TestAnyValueIsReadAgain: String is for people and rounds; what it writes is
// still a quantity, and as near as its last place.
func TestAnyValueIsReadAgain(t *testing.T) {
	t.Parallel()
	written := []struct {
		kind      string
		low, high float64
		within    float64
		write     func(float64) string
	}{
		{"length", 0, 40, 0.005, func(v float64) string { return Length(v).String() }},
		{"temperature", -100, 600, 0.05, func(v float64) string { return Temperature(v).String() }},
		{"pressure", 0, 60, 0.005, func(v float64) string { return Pressure(v).String() }},
		{"duration", 0, 5000, 0.005, func(v float64) string { return Duration(v).String() }},
		{"altitude", -1500, 30000, 0.5, func(v float64) string { return Altitude(v).String() }},
	}
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.SampledFrom(written).Draw(t, "kind")
		v := rapid.Float64Range(w.low, w.high).Draw(t, "value")
		got, err := parsers[w.kind](w.write(v))
		if err != nil || math.Abs(got-v) > w.within+1e-9 {
			t.Fatalf("%s %v is written %q and read as %v, %v", w.kind, v, w.write(v), got, err)
		}
	})
}

// TestWholePressuresAndTemperaturesAreReadAgain completes the exact grid of
// TestWrittenIsReadAgain.
func TestWholePressuresAndTemperaturesAreReadAgain(t *testing.T) {
	t.Parallel()
	for v := 0; v <= 60; v++ {
		if got, err := ParsePressure(Pressure(v).String()); err != nil || got != Pressure(v) {
			t.Errorf("%s read as %v, %v", Pressure(v), got, err)
		}
	}
	for v := -100; v <= 600; v++ {
		if got, err := ParseTemperature(Temperature(v).String()); err != nil || got != Temperature(v) {
			t.Errorf("%s read as %v, %v", Temperature(v), got, err)
		}
	}
}

// TestCaseNeverMatters: units are read in capitals and in small letters.
func TestCaseNeverMatters(t *testing.T) {
	t.Parallel()
	for kind, texts := range map[string][]string{
		"length":      {"1 in", "2 inches", "13 mm", "1.3 cm"},
		"volume":      {"1 tsp", "2 tablespoons", "1 cup", "30 ml", "1 fl oz", "1 quart"},
		"temperature": {"65 f", "18 °c"},
		"pressure":    {"11 psi", "76 kpa", "11 pounds"},
		"duration":    {"60 min", "1 h 5 min", "90 s", "2 days"},
		"altitude":    {"6240 ft", "1902 meters"},
	} {
		for _, text := range texts {
			small, err := parsers[kind](text)
			if err != nil {
				t.Fatal(err)
			}
			if capital, err := parsers[kind](strings.ToUpper(text)); err != nil || capital != small {
				t.Errorf("%s is %v, in capitals %v, %v", text, small, capital, err)
			}
		}
	}
}

// TestEveryKindRefuses: what no parser may take for a quantity.
func TestEveryKindRefuses(t *testing.T) {
	t.Parallel()
	for kind, parse := range parsers {
		for _, text := range []string{
			"", " ", "\u00a0", ".", "-", "/", "1", "1/2", "½", "NaN", "Inf", "NaN min", "+1 psi", "1e3 ft", "0x10 ft",
			"1//2 in", "1/0 in", "0/0 tsp", "1,2,3 ft", "1..5 in", "5-10 min", "about 5 min", "٣ ft", "１ in", "\xff", "1 \xff",
			strings.Repeat("9", 400) + " ft", "1/" + strings.Repeat("9", 400) + " in", strings.Repeat("1 h ", 1000),
		} {
			v, err := parse(text)
			var e *Error
			if !errors.As(err, &e) {
				t.Errorf("%s %q = %v, %v; want an *Error", kind, text, v, err)
				continue
			}
			if v != 0 || e.Input != text || e.Pos < 1 || e.Pos > len([]rune(text))+1 || e.Want == "" {
				t.Errorf("%s %q = %v, error %+v", kind, text, v, e)
			}
		}
	}
}

func BenchmarkParsers(b *testing.B) {
	for _, bc := range []struct{ kind, text string }{
		{"length", "1/2 in"},
		{"volume", "2 tbsp"},
		{"temperature", "18 °C"},
		{"pressure", "76 kPa"},
		{"duration", "1 h 5 min"},
		{"altitude", "6 240 ft"},
		{"altitude", "6240"},
	} {
		parse := parsers[bc.kind]
		b.Run(bc.kind+"/"+bc.text, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				_, _ = parse(bc.text)
			}
		})
	}
}

func BenchmarkBoth(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		_ = Altitude(6240).Both()
	}
}
