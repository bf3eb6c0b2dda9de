package measure

import (
	"fmt"
	"regexp"
	"testing"

	"pgregory.net/rapid"
)

var patterns = map[string]string{
	"length": LengthPattern, "volume": VolumePattern, "temperature": TemperaturePattern,
	"pressure": PressurePattern, "duration": DurationPattern, "altitude": AltitudePattern,
}

// TestPatternsFollowTheParsers: a text that a parser reads matches its pattern,
// and one that has no unit, or another kind's, does not.
func TestPatternsFollowTheParsers(t *testing.T) {
	t.Parallel()
	texts := []string{
		"1/2 in", "1 1/2 in", "1-1/2 inches", "1½ in", "½ in", "13 mm", "1.3 cm", `1"`, ".5 in", "2 tbsp", "1/2 tsp", "30 ml", "1 FL OZ", "2 fl. oz",
		"65 F", "18 °C", "-4 ° C", "65 degrees F", "11 psi", "76 kPa", "10 lb.", "60 min", "1 h 5 min", "90 s", "2 days", "6240 ft", "1 902 m",
		"6,240 feet", "6\u202f240 ft", "6'", "-300 ft", "−90 m", "60", "", "soon", "5-10 min", "1/2", "min", "1 in 2", "60 min x", "1..5 in",
		"1,902 m", "1.902 m", "1.9 m", "1.9020 m", "1902.123 m", "1,902.123 m", "0.500 ft", ".902 ft", "0,500 ft", "0,125 tsp", "1,125 tsp", "1.125 tsp",
		"1 125 tsp", "0 125 tsp", "1,125.5 tsp", "1234,567 tsp", "1234 567 ft", "1,000,000 s", "1,000 000 s", "0,333 h", "1 h 1,500 min", "1,250 in", "12,5 psi", "65,000 F",
	}
	for kind, pattern := range patterns {
		re := regexp.MustCompile(pattern)
		for _, text := range texts {
			_, err := parsers[kind](text)
			if matches := re.MatchString(text); matches != (err == nil) {
				t.Errorf("%s %q: matches %t, but the parser says %v", kind, text, matches, err)
			}
		}
	}
}

// TestWhatIsWrittenMatches: whatever String and Metric write matches.
func TestWhatIsWrittenMatches(t *testing.T) {
	t.Parallel()
	write := map[string]func(float64) fmt.Stringer{
		"length":   func(v float64) fmt.Stringer { return Length(v / 1000) },
		"volume":   func(v float64) fmt.Stringer { return Volume(v / 100) },
		"pressure": func(v float64) fmt.Stringer { return Pressure(v / 1000) },
		"duration": func(v float64) fmt.Stringer { return Duration(v) },
		"altitude": func(v float64) fmt.Stringer { return Altitude(v - 1500) },
	}
	rapid.Check(t, func(t *rapid.T) {
		v := rapid.Float64Range(0, 30000).Draw(t, "value")
		for kind, s := range write {
			text := s(v).String()
			if !regexp.MustCompile(patterns[kind]).MatchString(text) {
				t.Fatalf("%s %q does not match", kind, text)
			}
		}
	})
}
