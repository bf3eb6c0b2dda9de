package measure

import (
	"errors"
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// parsers reads every kind of quantity to its number in the type's own unit.
var parsers = map[string]func(string) (float64, error){
	"length":      func(s string) (float64, error) { v, err := ParseLength(s); return float64(v), err },
	"volume":      func(s string) (float64, error) { v, err := ParseVolume(s); return float64(v), err },
	"temperature": func(s string) (float64, error) { v, err := ParseTemperature(s); return float64(v), err },
	"pressure":    func(s string) (float64, error) { v, err := ParsePressure(s); return float64(v), err },
	"duration":    func(s string) (float64, error) { v, err := ParseDuration(s); return float64(v), err },
	"altitude":    func(s string) (float64, error) { v, err := ParseAltitude(s); return float64(v), err },
}

// TestSpellings checks values against the factors of NIST SP 811 (2008) and
// NIST Handbook 44, Appendix C.
func TestSpellings(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		kind, in string
		want     float64
	}{
		{"length", "1/2 in", 0.5},
		{"length", "½ in", 0.5},
		{"length", "½in.", 0.5},
		{"length", ".5 inch", 0.5},
		{"length", "0.5 inches", 0.5},
		{"length", `1/2"`, 0.5},
		{"length", "1 1/4 in", 1.25},
		{"length", "1-1/4 in", 1.25},
		{"length", "1¼ in", 1.25},
		{"length", "1 ¼ in", 1.25},
		{"length", "12.7 mm", 0.5},
		{"length", "1.27 CM", 0.5},
		{"length", "⅛ in", 0.125},
		{"length", "1⁄4 in", 0.25},
		{"volume", "2 tbsp", 6},
		{"volume", "1/2 tsp", 0.5},
		{"volume", "1 cup", 48},
		{"volume", "1 fl oz", 6},
		{"volume", "1 fl. oz.", 6},
		{"volume", "2 fluid ounces", 12},
		{"volume", "4.92892159375 ml", 1},
		{"volume", "1 quart", 192},
		{"temperature", "65 F", 65},
		{"temperature", "65°F", 65},
		{"temperature", "35 °C", 95},
		{"temperature", "65° F", 65},
		{"temperature", "65 deg F", 65},
		{"temperature", "65 degree F", 65},
		{"temperature", "100 degrees C", 212},
		{"temperature", "-40 C", -40},
		{"temperature", "−40 F", -40},
		{"pressure", "11 psi", 11},
		{"pressure", "11 lb", 11},
		{"pressure", "6.894757 kPa", 1},
		{"pressure", "413.7 kPa", 60}, // the most there is, rounded
		{"duration", "60 min", 60},
		{"duration", "1 h", 60},
		{"duration", "1 h 5 min", 65},
		{"duration", "1h5min", 65},
		{"duration", "90 s", 1.5},
		{"duration", "1 1/2 hours", 90},
		{"duration", "1 day", 1440},
		{"altitude", "6240 ft", 6240},
		{"altitude", "6,240 feet", 6240},
		{"altitude", "6 240 ft", 6240},
		{"altitude", "6\u00a0240 ft", 6240},
		{"altitude", "6\u2009240 ft", 6240},
		{"altitude", "6\u202f240\u202fft", 6240},
		{"altitude", "1,902 m", 6240.16},
		{"altitude", "-1,000 ft", -1000},
		{"altitude", "1.9 m", 6.23},
		{"altitude", "1902.123 m", 6240.56},
		{"altitude", "1,902.123 m", 6240.56},
		{"altitude", "0.500 ft", 0.5},
		{"altitude", ".902 ft", 0.9},
		{"volume", "0.125 tsp", 0.125},
		{"volume", "1.125 tsp", 1.125},
		{"volume", "1 000 tsp", 1000},
		{"volume", "1000 tsp", 1000},
		{"duration", "0.333 h", 19.98},
		{"duration", "1,000,000 s", 1000000.0 / 60},
		{"altitude", "304.8 m", 1000},
		{"altitude", "1828.8 m", 6000},
		{"altitude", "1 902 m", 6240.16},
		{"altitude", "-282 ft", -282},
	} {
		got, err := parsers[tc.kind](tc.in)
		if err != nil || math.Abs(got-tc.want) > 1e-9 {
			t.Errorf("%s %q = %v, %v; want %v", tc.kind, tc.in, got, err, tc.want)
		}
	}
}

func TestErrorsNameThePlace(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		kind, in string
		pos      int
		got      string
		want     string
	}{
		{"duration", "60", 3, "", "min or h"},
		{"duration", "60 mn", 4, "mn", "min or h"},
		{"duration", "", 1, "", "a number"},
		{"duration", "soon", 1, "soon", "a number"},
		{"duration", "5 min 1 h", 7, "1", "a smaller unit"},
		{"duration", "1 h 1 h", 5, "1", "a smaller unit"},
		{"duration", "9999 days", 1, "9999 days", "0 to 1000 days"},
		{"length", "1/0 in", 2, "/0", "a fraction"},
		{"length", "1/ in", 2, "/", "a fraction"},
		{"length", "1/2 in deep", 8, "deep", "nothing more"},
		{"length", "½ ft", 3, "ft", "in or mm"},
		{"length", "-1 in", 1, "-1", "a number"},
		{"length", "50 in", 1, "50 in", "0 to 40 in"},
		{"length", "1,5 in", 2, ",5", "in or mm"},
		{"volume", "2", 2, "", "tsp, tbsp, cup or ml"},
		{"volume", "2 T", 3, "T", "tsp or tbsp, since T alone is used for both"},
		{"volume", "1 3/2 tsp", 2, "3/2", "a fraction smaller than 1"},
		{"volume", "1-4/4 tsp", 2, "-4/4", "a fraction smaller than 1"},
		{"pressure", "11 bars of", 4, "bars", "psi or kPa"},
		{"altitude", "6240", 5, "", "ft or m"},
		{"altitude", "1.902 m", 1, "1.902", "1902 or 1.9, since this can be read as either"},
		{"altitude", "6.240 ft", 1, "6.240", "6240 or 6.24, since"},
		{"altitude", "-1.000 ft", 2, "1.000", "1000 or 1, since"},
		{"altitude", "0,500 m", 1, "0,500", "0.500, with a point"},
		{"volume", "0,125 tsp", 1, "0,125", "0.125, with a point"},
		{"volume", "00,125 tsp", 1, "00,125", "with a point"},
		{"volume", "1,125 tsp", 1, "1,125", "1125 or 1.125, since this can be read as either"},
		{"volume", "0 125 tsp", 3, "125", "tsp, tbsp, cup or ml"},
		{"duration", "0,333 h", 1, "0,333", "0.333, with a point"},
		{"duration", "1 h 1,500 min", 5, "1,500", "1500 or 1.5, since"},
		{"length", "1,250 in", 1, "1,250", "1250 or 1.25, since"},
		{"length", "12,700 mm", 1, "12,700", "12700 or 12.7, since"},
		{"pressure", "75,800 kPa", 1, "75,800", "75800 or 75.8, since"},
		{"temperature", "1,000 F", 1, "1,000", "1000 or 1, since"},
		{"altitude", "NaN ft", 1, "NaN", "a number"},
		{"altitude", "40000 ft", 1, "40000 ft", "-1500 to 30000 ft"},
		{"temperature", "65 K", 4, "K", "F or C"},
	} {
		_, err := parsers[tc.kind](tc.in)
		var e *Error
		if !errors.As(err, &e) {
			t.Errorf("%s %q: error %v, want an *Error", tc.kind, tc.in, err)
			continue
		}
		if e.Pos != tc.pos || e.Got != tc.got || !strings.Contains(e.Want, tc.want) {
			t.Errorf("%s %q: at %d found %q, expected %q; want at %d %q, expected ...%s...", tc.kind, tc.in, e.Pos, e.Got, e.Want, tc.pos, tc.got, tc.want)
		}
	}
}

func TestWriting(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ got, want string }{
		{Length(0.5).Both(), "1/2 in (13 mm)"},
		{Length(1.25).Both(), "1 1/4 in (32 mm)"},
		{Length(0.125).String(), "1/8 in"},
		{Length(0.511811024).String(), "0.51 in"},
		{Volume(6).Both(), "2 tbsp (30 ml)"},
		{Volume(0.5).Both(), "1/2 tsp (2.5 ml)"},
		{Volume(0.25).String(), "1/4 tsp"},
		{Volume(3).String(), "1 tbsp"},
		{Volume(12).String(), "4 tbsp"},
		{Volume(24).String(), "1/2 cup"},
		{Volume(96).String(), "2 cups"},
		{Temperature(95).Both(), "95 °F (35 °C)"},
		{Pressure(11).Both(), "11 psi (76 kPa)"},
		{Duration(60).String(), "60 min"},
		{Duration(1440).String(), "24 h"},
		{Altitude(6240).Both(), "6\u00a0240\u00a0ft (1\u00a0902\u00a0m)"},
		{Altitude(500).Both(), "500\u00a0ft (152\u00a0m)"},
		{Altitude(-282).Both(), "-282\u00a0ft (-86\u00a0m)"},
	} {
		if tc.got != tc.want {
			t.Errorf("wrote %q, want %q", tc.got, tc.want)
		}
	}
}

// TestWrittenIsReadAgain reads what String writes.
func TestWrittenIsReadAgain(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		eighths := float64(rapid.IntRange(0, 300).Draw(t, "eighths")) / 8
		if got, err := ParseLength(Length(eighths).String()); err != nil || float64(got) != eighths {
			t.Fatalf("%s read as %v, %v", Length(eighths), got, err)
		}
		quarters := float64(rapid.IntRange(0, 1000).Draw(t, "quarters")) / 4
		if got, err := ParseVolume(Volume(quarters).String()); err != nil || math.Abs(float64(got)-quarters) > 0.01 {
			t.Fatalf("%s read as %v, %v", Volume(quarters), got, err)
		}
		feet := float64(rapid.IntRange(-1500, 30000).Draw(t, "feet"))
		if got, err := ParseAltitude(Altitude(feet).String()); err != nil || float64(got) != feet {
			t.Fatalf("%s read as %v, %v", Altitude(feet), got, err)
		}
		minutes := float64(rapid.IntRange(0, 5000).Draw(t, "minutes"))
		if got, err := ParseDuration(Duration(minutes).String()); err != nil || float64(got) != minutes {
			t.Fatalf("%s read as %v, %v", Duration(minutes), got, err)
		}
	})
}

// TestSpacingNeverMatters writes one quantity with every kind of space.
func TestSpacingNeverMatters(t *testing.T) {
	t.Parallel()
	spaces := rapid.SampledFrom([]string{"", " ", "  ", "\u00a0", "\u2009", "\u202f", "\t"})
	rapid.Check(t, func(t *rapid.T) {
		s := spaces.Draw(t, "before") + "1" + rapid.SampledFrom([]string{" ", "\u00a0", "-"}).Draw(t, "between") + "1/2" + spaces.Draw(t, "unit") + "tbsp" + spaces.Draw(t, "after")
		if got, err := ParseVolume(s); err != nil || got != 4.5 {
			t.Fatalf("%q = %v, %v; want 4.5", s, got, err)
		}
	})
}

// TestNoThousandfold writes one to three digits, a comma or a point and three digits
// more, which means a thousand times more in one country than in another. Heights
// are often in the thousands, other quantities are not: a number is read in the way
// that is usual for the quantity, or refused, and never in the other.
func TestNoThousandfold(t *testing.T) {
	t.Parallel()
	units := map[string]string{"length": "mm", "volume": "ml", "temperature": "F", "pressure": "psi", "duration": "s", "altitude": "ft"}
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom([]string{"length", "volume", "temperature", "pressure", "duration", "altitude"}).Draw(t, "kind")
		whole := rapid.StringMatching("[0-9]{1,3}").Draw(t, "whole")
		last := rapid.StringMatching("[0-9]{3}").Draw(t, "last")
		mark := rapid.SampledFrom([]string{",", "."}).Draw(t, "mark")
		got, err := parsers[kind](whole + mark + last + " " + units[kind])
		plain := whole + "." + last // as decimals
		if mark == "," {
			plain = whole + last // as thousands
		}
		height, zero := kind == "altitude", whole[0] == '0'
		if mark == "," && (!height || zero) || mark == "." && height && !zero {
			if err == nil {
				t.Fatalf("%s %s%s%s is read as %v", kind, whole, mark, last, got)
			}
			return
		}
		if height { // written so that nothing can be mistaken
			plain += map[bool]string{true: "0", false: ""}[mark == "."]
		}
		want, wantErr := parsers[kind](plain + " " + units[kind])
		if (err == nil) != (wantErr == nil) || got != want {
			t.Fatalf("%s %s%s%s is read as %v, %v; want %v, %v", kind, whole, mark, last, got, err, want, wantErr)
		}
	})
}

// TestErrorsStayShort: a form field may hold a whole book.
func TestErrorsStayShort(t *testing.T) {
	t.Parallel()
	for kind, parse := range parsers {
		if _, err := parse("5 " + strings.Repeat("½", 10000)); err == nil || len(err.Error()) > 600 {
			t.Errorf("%s: the error for a long text is %d bytes", kind, len(err.Error()))
		}
	}
}

func TestNearest(t *testing.T) {
	t.Parallel()
	words := []string{"time", "boiling-water", "pint", "quart"}
	for word, want := range map[string]string{"tiem": "time", "boiling-watr": "boiling-water", "pnt": "pint", "boilng-wtar": "boiling-water", "saucepan": ""} {
		if got := Nearest(word, words); got != want {
			t.Errorf("Nearest(%q) = %q, want %q", word, got, want)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"1/2 in", "6 240 ft", "1 h 5 min", "½ tsp", "65 °F", "11 psi", "1-1/2 fl. oz", "\xff1 in", "1 000/3 ft", "1.902 m", "0,125 tsp", "1,902 m", "1,902.5 m", "1,125 tsp", "1,000,000 s", "0 125 tsp"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		for kind, parse := range parsers {
			v, err := parse(s)
			var e *Error
			switch {
			case err == nil:
				if math.IsNaN(v) || math.IsInf(v, 0) {
					t.Errorf("%s %q = %v", kind, s, v)
				}
			case !errors.As(err, &e):
				t.Errorf("%s %q: %v is no *Error", kind, s, err)
			case e.Pos < 1 || e.Pos > len([]rune(s))+1 || e.Want == "":
				t.Errorf("%s %q: place %d, expected %q", kind, s, e.Pos, e.Want)
			}
		}
	})
}

func BenchmarkParse(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := ParseLength("1 1/2 in"); err != nil {
			b.Fatal(err)
		}
	}
}

// TestWeights: 1 lb is 0.45359237 kg (NIST Handbook 44, Appendix C).
func TestWeights(t *testing.T) {
	t.Parallel()
	for w, want := range map[Weight]string{22: "22 lb (10 kg)", 12.25: "12 1/4 lb (5.6 kg)", 17.5: "17 1/2 lb (7.9 kg)", 0.75: "3/4 lb (340 g)", 2: "2 lb (910 g)", 3: "3 lb (1.4 kg)"} {
		if got := w.Both(); got != want {
			t.Errorf("%v = %q, want %q", float64(w), got, want)
		}
	}
}
