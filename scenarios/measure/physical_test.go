package measure

import (
	"errors"
	"math"
	"testing"
)

// Factors: NIST Special Publication 811 (2008), appendix B.8: the pound is
// 0.45359237 kg, the inch of mercury 3.386389 kPa, a Fahrenheit degree 5/9 of a
// Celsius one.
func TestPhysicalQuantities(t *testing.T) {
	t.Parallel()
	weight := func(s string) (float64, error) { v, err := ParseWeight(s); return float64(v), err }
	power := func(s string) (float64, error) { v, err := ParsePower(s); return float64(v), err }
	vacuum := func(s string) (float64, error) { v, err := ParseVacuum(s); return float64(v), err }
	degrees := func(s string) (float64, error) { v, err := ParseDegrees(s); return float64(v), err }
	share := func(s string) (float64, error) { v, err := ParseShare(s); return float64(v), err }
	for _, tc := range []struct {
		parse func(string) (float64, error)
		text  string
		want  float64
	}{
		{weight, "1 lb", 1},
		{weight, "0.45359237 kg", 1},
		{weight, "453.59237 g", 1},
		{weight, "8 oz", 0.5},
		{power, "2 kW", 2000},
		{power, "1,500 W", 1500},
		{vacuum, "14 inHg", 14},
		{vacuum, "33.86389 kPa", 10},
		{vacuum, "254 mmHg", 10},
		{degrees, "10 C", 10},
		{degrees, "18 °F", 10},
		{share, "0.95", 0.95},
		{share, "95 %", 0.95},
		{share, "95%", 0.95},
		{share, "1/4", 0.25},
		{ParsePercent, "0.45", 0.45},
		{ParsePercent, "0.45 %", 0.45},
	} {
		if got, err := tc.parse(tc.text); err != nil || math.Abs(got-tc.want) > 1e-9 {
			t.Errorf("%q = %v, %v; want %v", tc.text, got, err, tc.want)
		}
	}
	for _, tc := range []struct {
		parse func(string) (float64, error)
		text  string
	}{
		{weight, "12"},
		{weight, "-1 lb"},
		{weight, "3000 lb"},
		{power, "2"},
		{power, "2 hp"},
		{vacuum, "31 inHg"},
		{degrees, "10"},
		{degrees, "10 K"},
		{share, "1.2"},
		{share, "120 %"},
		{share, "95 per cent"},
		{share, ""},
		{ParsePercent, "101"},
		{ParsePercent, "a few"},
	} {
		got, err := tc.parse(tc.text)
		var told *Error
		if !errors.As(err, &told) || got != 0 {
			t.Errorf("%q = %v, %v; want an error that tells the place", tc.text, got, err)
		}
	}
}

func FuzzParsePhysical(f *testing.F) {
	for _, s := range []string{"2 kW", "14 inHg", "18 °F", "95 %", "1 1/2 lb", "%", "9e9 g"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		w, err := ParseWeight(s)
		if err == nil && !(w >= 0 && w <= 2000) {
			t.Errorf("weight %q = %v", s, w)
		}
		share, err := ParseShare(s)
		if err == nil && !(share >= 0 && share <= 1) {
			t.Errorf("share %q = %v", s, share)
		}
		for _, err := range []error{second(ParsePower(s)), second(ParseVacuum(s)), second(ParseDegrees(s)), second(ParsePercent(s))} {
			var told *Error
			if err != nil && !errors.As(err, &told) {
				t.Errorf("%q: %v is not an Error", s, err)
			}
		}
	})
}

func second[T any](_ T, err error) error { return err }
