package bench

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func TestUnknownDemonstration(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for name, want := range map[string]string{
		"boilng-point":  `"boiling-point"`,
		"gage":          `"gauge"`,
		"seal":          `"seals"`,
		"cookdown":      `"cook-down"`,
		"Lid":           `"lid"`,
		"thermodynamic": "there are: boiling-point, gauge",
		"":              "there are: boiling-point, gauge",
	} {
		demo, err := b.Demo(name)
		if err == nil || demo != nil {
			t.Errorf("%q: %v, %v; want an error", name, demo, err)
			continue
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want %s in it", name, err, want)
		}
	}
}

func TestUnknownKey(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct{ demo, given, key, want string }{
		{"boiling-point", "altitud=5000 ft", "altitud", `the nearest is "altitude"`},
		{"heating", "half-height=54 mm", "half-height", `the nearest is "half_height"`},
		{"lid", "vaccuum=14 inHg", "vaccuum", `the nearest is "vacuum"`},
		{"gauge", "temperature_of_the_steam=240 F", "temperature_of_the_steam", "the keys are altitude, pressure, temp"},
		{"seals", "canned=7", "canned", "the keys are unsealed"},
	} {
		told := KeyErrors(refused(t, b, tc.demo, tc.given))
		if len(told) != 1 || told[0].Key != tc.key || !strings.Contains(told[0].Error(), tc.want) {
			t.Errorf("%s %s: %v; want %q in it", tc.demo, tc.given, told, tc.want)
		}
	}
}

// bare are the keys whose values are numbers, counts, shares or words; every other
// value has a unit.
var bare = map[string][]string{
	"heating":   {"alpha", "k", "u", "u_air", "then"},
	"jars":      {"food"},
	"lethality": {"j", "curve"},
	"vacuum":    {"residual_air"},
	"lid":       {"wet"},
	"acid":      {"ta", "ph", "add"},
	"seals":     {"unsealed", "jars", "a", "b", "confidence", "power", "difference"},
	"cook-down": {"from", "to"},
}

// eachKey hands out every key of every demonstration.
func eachKey(b *Bench, check func(d *Demo, k Key)) {
	for _, d := range b.Demos() {
		for _, k := range d.Keys {
			check(d, k)
		}
	}
}

// TestQuantityWithoutUnit: a number without its unit is an error, never a guess.
func TestQuantityWithoutUnit(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	eachKey(b, func(d *Demo, k Key) {
		if slices.Contains(bare[d.Name], k.Name) {
			return
		}
		for _, text := range []string{"12", "0", "1/2"} {
			told := KeyErrors(refused(t, b, d.Name, k.Name+"="+text))
			if len(told) != 1 || told[0].Key != k.Name || told[0].Text != text || !strings.Contains(told[0].Error(), "unit") &&
				!strings.Contains(told[0].Error(), "degrees") && !strings.Contains(told[0].Error(), "such as") {
				t.Errorf("%s %s=%s: %v; want it told under %s, with the unit to give", d.Name, k.Name, text, told, k.Name)
			}
		}
		// Nor is a unit of another kind taken.
		for _, text := range []string{"12 furlongs", "3 quarts of tomatoes", "12 ft lb"} {
			told := KeyErrors(refused(t, b, d.Name, k.Name+"="+text))
			if len(told) != 1 || told[0].Key != k.Name {
				t.Errorf("%s %s=%s: %v; want it told under %s", d.Name, k.Name, text, told, k.Name)
			}
		}
	})
}

// TestNotANumber: whatever is no number, or one without end, is told under its key.
func TestNotANumber(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	eachKey(b, func(d *Demo, k Key) {
		for _, text := range []string{
			"NaN", "nan", "Inf", "inf", "+Inf", "-inf", "infinity", "1e999", "0x1p-2 ft", "1e400 C", "NaN ft", "inf psi", "nan min", "NaN/7", "7/NaN",
			"lots", "-", "--5 F", "1..2 in", "5-10 min", "\x00", "\xff", "½½", "٣ ft", strings.Repeat("9", 400) + " ft", "{{.}}", "<script>",
		} {
			if k.Name == "u" && (text == "Inf" || text == "inf") {
				continue // holds the surface at the bath's temperature
			}
			told := KeyErrors(refused(t, b, d.Name, k.Name+"="+text))
			if len(told) == 0 || told[0].Key != k.Name {
				t.Errorf("%s %s=%q: %v; want it told under %s", d.Name, k.Name, text, told, k.Name)
			}
		}
	})
	held := ask(t, b, "heating", "u=inf")
	if wide := ask(t, b, "heating", "u= INF "); wide.num("center_c") != held.num("center_c") {
		t.Errorf("inf in capitals gives %v, in small letters %v", wide.num("center_c"), held.num("center_c"))
	}
}

// TestAllWrongValuesAreTold together, in the order of the keys, after unknown keys.
func TestAllWrongValuesAreTold(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	err := refused(t, b, "vacuum", "headspace=40", "close=hot", "cool=20 C", "altitude=high", "lid=tight", "residual_air=2")
	var keys []string
	for _, e := range KeyErrors(err) {
		keys = append(keys, e.Key)
		if !strings.HasPrefix(e.Error(), e.Key+": ") || e.Unwrap() == nil {
			t.Errorf("%q: %v", e.Key, e)
		}
	}
	if want := []string{"lid", "close", "headspace", "altitude", "residual_air"}; !slices.Equal(keys, want) {
		t.Errorf("told are %q, want %q", keys, want)
	}
	if lines := strings.Count(err.Error(), "\n"); lines != 4 {
		t.Errorf("%d lines for five faults: %v", lines+1, err)
	}
}

// TestWords: a word that is none of those allowed is told with the nearest.
func TestWords(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct{ demo, given, want string }{
		{"acid", "add=lemmon", `"lemon"`},
		{"acid", "add=Citric", `"citric"`},
		{"acid", "add=sulfuric", "lemon, citric, vinegar"},
		{"lid", "wet=yes", "true, false"},
		{"lid", "wet=True", `"true"`},
		{"jars", "food=thik", `"thick"`},
		{"heating", "then=colling", `"cooling"`},
	} {
		key, _, _ := strings.Cut(tc.given, "=")
		told := KeyErrors(refused(t, b, tc.demo, tc.given))
		if len(told) != 1 || told[0].Key != key || !strings.Contains(told[0].Error(), tc.want) {
			t.Errorf("%s %s: %v; want %s in it", tc.demo, tc.given, told, tc.want)
		}
	}
}

// TestOutsideTheModel: a value that can be read, and that the model does not hold
// for, is refused with the range. The message names the value or what it is of.
func TestOutsideTheModel(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct{ demo, given, key, want string }{
		{"boiling-point", "altitude=40 000 ft", "altitude", "30000 ft"},
		{"boiling-point", "altitude=-2000 ft", "altitude", "-1500"},
		{"boiling-point", "boiling=250 F", "boiling", "boiling point"},
		{"boiling-point", "boiling=20 C", "boiling", "boiling point"},
		{"gauge", "pressure=61 psi", "pressure", "60 psi"},
		{"gauge", "temp=90 C", "temp", "steam temperature"},
		{"gauge", "temp=400 F", "temp", "steam temperature"},
		{"jars", "altitude=10 000 ft;start=95 C", "start", "nothing to warm"},
		{"jars", "start=-90 F", "start", "temperature at the start"},
		{"jars", "time=101 min", "time", "1 to 100"},
		{"jars", "time=30 s", "time", "1 to 100"},
		{"heating", "radius=0.5 mm", "", "radius"},
		{"heating", "half_height=40 in", "", "half height"},
		{"heating", "alpha=1", "", "diffusivity"},
		{"heating", "alpha=-1.5e-7", "", "diffusivity"},
		{"heating", "k=0", "", "conductivity"},
		{"heating", "u=-1", "", "heat transfer coefficient"},
		{"heating", "time=100 days", "time", "time"},
		{"heating", "then=cooling;u_air=0", "", "heat transfer coefficient"},
		{"heating", "then=cooling;cool_time=100 days", "cool_time", "time"},
		{"lethality", "ref=201 C", "", "reference temperature"},
		{"lethality", "z=0 C", "", "z"},
		{"lethality", "d=0 min", "d", ""},
		{"lethality", "fh=0 min", "", "fh"},
		{"lethality", "j=6", "", "j"},
		{"lethality", "bath=80 C", "", "bath above start"},
		{"vacuum", "close=90 C;cool=95 C", "", "cold jar"},
		{"vacuum", "close=95 C;altitude=8000 ft", "", "closing jar"},
		{"vacuum", "cool=-1 C", "", "cold jar"},
		{"vacuum", "jar=5 l", "", "jar"},
		{"vacuum", "headspace=1 l", "", "headspace"},
		{"lid", "diameter=1 in", "", "diameter"},
		{"lid", "thickness=1 mm", "", "thickness"},
		{"lid", "vacuum=29.99 inHg", "", "vacuum"},
		{"lid", "vacuum=31 inHg", "vacuum", "30 inHg"},
		{"acid", "ta=4", "", "acidity"},
		{"acid", "ph=8", "", "pH"},
		{"acid", "ph=-1", "", "pH"},
		{"acid", "amount=0 tbsp", "", "amount"},
		{"acid", "amount=1 quart", "", "juice"},
		{"seals", "jars=0;unsealed=0", "", "jars"},
		{"seals", "jars=7;unsealed=8", "", "jars"},
		{"seals", "jars=100001", "", "100000"},
		{"seals", "unsealed=-1", "unsealed", "whole number"},
		{"seals", "unsealed=1.5", "unsealed", "whole number"},
		{"seals", "confidence=40 %", "", "confidence"},
		{"seals", "confidence=100 %", "", "confidence"},
		{"seals", "difference=10 %;power=20 %", "", "power"},
		{"seals", "a=8/7;b=0/7", "a", "2/14"},
		{"seals", "a=2 of 14;b=0/14", "a", "2/14"},
		{"seals", "a=0/7;b=0/0", "b", "2/14"},
		{"seals", "a=0/7;b=1/200000", "b", "100000"},
		{"cook-down", "from=60 %", "", "solids at the start"},
		{"cook-down", "from=5;to=4", "", "solids at the end"},
		{"cook-down", "from=5;to=60", "", "solids at the end"},
		{"cook-down", "mass=1 g", "", "weight"},
		{"cook-down", "power=1 W", "", "power"},
		{"cook-down", "start=110 C", "", "start"},
		{"fit", "canner=1 in", "", "canner"},
		{"fit", "jar=5 mm", "", "jar"},
		{"fit", "canner=100 mm;jar=110 mm", "", "not one jar"},
		{"fit", "canner=30 in;jar=3 in", "", "20 jars"},
		{"fit", "spacing=5 in", "", "space"},
	} {
		err := refused(t, b, tc.demo, strings.Split(tc.given, ";")...)
		told := KeyErrors(err)
		if len(told) != 1 || told[0].Key != tc.key || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s %s: %q told under %q; want %q told under %q", tc.demo, tc.given, err, keysOf(told), tc.want, tc.key)
		}
	}
}

func keysOf(told []*KeyError) (keys []string) {
	for _, e := range told {
		keys = append(keys, e.Key)
	}
	return keys
}

// TestAlternatives: each of two values gives the other, so only one may be given.
func TestAlternatives(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct{ demo, given, want string }{
		{"boiling-point", "altitude=5000 ft;boiling=203 F", "not both"},
		{"gauge", "altitude=5000 ft;pressure=11 psi;temp=240 F", "not both"},
		{"seals", "a=2/14", "both a and b"},
		{"seals", "b=2/14", "both a and b"},
		{"seals", "unsealed=2;jars=14;a=2/14;b=0/14", "not all of them"},
		{"seals", "jars=14;a=2/14;b=0/14", "not all of them"},
	} {
		err := refused(t, b, tc.demo, strings.Split(tc.given, ";")...)
		if told := KeyErrors(err); len(told) != 1 || told[0].Key != "" || !strings.Contains(err.Error(), tc.want) {
			t.Errorf("%s %s: %v; want %q", tc.demo, tc.given, err, tc.want)
		}
	}
	// An empty field of a form is not given, and a default never stands against what is.
	for _, given := range [][]string{{"altitude=", "boiling=203 F"}, {"altitude= ", "boiling=203 F"}, {"boiling=203 F"}} {
		ask(t, b, "boiling-point", given...).near("boiling_f", 203, 1e-6)
	}
	ask(t, b, "seals", "unsealed=", "jars=", "a=3/4", "b=1/4").near("fisher_two_sided", 0.4857143, 1e-6)
}

// TestKeyErrors finds what is joined, and nothing in other errors.
func TestKeyErrors(t *testing.T) {
	t.Parallel()
	if got := KeyErrors(nil); got != nil {
		t.Errorf("of no error: %v", got)
	}
	if got := KeyErrors(os.ErrNotExist); got != nil {
		t.Errorf("of another error: %v", got)
	}
	err := refused(t, shipped(t), "gauge", "altitude=5", "pressure=3")
	if got := KeyErrors(fmt.Errorf("gauge: %w", err)); len(got) == 0 {
		t.Errorf("of %v, wrapped: none", err)
	}
}

// TestSpellings: one quantity in many spellings.
func TestSpellings(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, tc := range []struct {
		demo, key string
		texts     []string
	}{
		{"boiling-point", "altitude", []string{"6240 ft", "6,240 ft", "6 240 feet", "6\u202f240\u00a0ft", " 6240' ", "6240 FT", "1901.952 m", "1 901.952 meters"}},
		{"boiling-point", "boiling", []string{"203 F", "203F", "203 °F", "203 degrees F", "95 C", "95.0 °c"}},
		{"gauge", "pressure", []string{"11 psi", "11 PSI", "11psi", "11 lb", "75.842327 kPa", "0.75842327 bar"}},
		{"gauge", "temp", []string{"240.8 F", "116 C", "116 °C"}},
		{"heating", "radius", []string{"38.1 mm", "1 1/2 in", "1½ in", "1.5 inches", "3.81 cm", `1-1/2"`}},
		{"heating", "time", []string{"65 min", "1 h 5 min", "1 hour 5 minutes", "3900 s"}},
		{"heating", "alpha", []string{"1.5e-7", "0.00000015", "1.5E-7 m2/s", "1.5e-7m2/s"}},
		{"heating", "u", []string{"350", "350.0", "3.5e2 W/m2K", "350W/m2K"}},
		{"lethality", "z", []string{"10 C", "18 F", "18 degrees F"}},
		{"vacuum", "jar", []string{"1 quart", "4 cups", "32 fl oz", "2 pints", "0.946352946 l", "946.352946 ml"}},
		{"vacuum", "residual_air", []string{"0.25", "25 %", "1/4", "¼", "25%"}},
		{"lid", "vacuum", []string{"14 inHg", "14inhg", "355.6 mmHg", "47.409446 kPa"}},
		{"acid", "amount", []string{"2 tbsp", "6 tsp", "1 fl oz", "1/8 cup", "29.5735295625 ml"}},
		{"cook-down", "mass", []string{"22 lb", "9.97903214 kg", "352 oz", "9979.03214 g"}},
		{"cook-down", "power", []string{"1500 W", "1.5 kW", "1 1/2 kW", "1,500 watts"}},
		{"seals", "a", []string{"2/14", " 2 / 14 ", "2 /14"}},
		{"fit", "canner", []string{"12 1/2 in", "317.5 mm", "31.75 cm"}},
	} {
		given := func(text string) []string {
			if tc.key == "a" {
				return []string{"a=" + text, "b=0/14"}
			}
			return []string{tc.key + "=" + text}
		}
		want := ask(t, b, tc.demo, given(tc.texts[0])...)
		for _, text := range tc.texts[1:] {
			if got := ask(t, b, tc.demo, given(text)...); !alike(got.json, want.json, 1e-6) {
				t.Errorf("%s is %v, and %s is %v", got.asked, got.json, want.asked, want.json)
			}
		}
	}
}

// alike compares JSON whose numbers may differ by a part of themselves, or of 1.
func alike(a, b any, part float64) bool {
	switch a := a.(type) {
	case float64:
		b, ok := b.(float64)
		return ok && math.Abs(a-b) <= part*max(1, math.Abs(a))
	case map[string]any:
		b, ok := b.(map[string]any)
		if !ok || len(a) != len(b) {
			return false
		}
		for key := range a {
			if !alike(a[key], b[key], part) {
				return false
			}
		}
		return true
	case []any:
		b, ok := b.([]any)
		return ok && slices.EqualFunc(a, b, func(a, b any) bool { return alike(a, b, part) })
	}
	return a == b
}

// TestUSAndMetricAgree: any value in the other unit system gives the same numbers.
// The factors are those of NIST SP 811 (2008), Appendix B.
func TestUSAndMetricAgree(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	scale := func(unit string, factor float64) func(float64) string {
		return func(v float64) string { return fmt.Sprintf("%.9f %s", v*factor, unit) }
	}
	celsius := func(f float64) string { return fmt.Sprintf("%.9f C", (f-32)/1.8) }
	systems := []struct {
		demo, key  string
		with       string // what else is given
		low, high  float64
		us, metric func(float64) string
	}{
		{"gauge", "pressure", "", 0, 60, scale("psi", 1), scale("kPa", 6.894757)},
		{"gauge", "temp", "altitude=1000 m", 210, 300, scale("F", 1), celsius},
		{"boiling-point", "boiling", "", 160, 214, scale("F", 1), celsius},
		{"jars", "start", "", 0, 200, scale("F", 1), celsius},
		{"heating", "radius", "", 0.1, 9, scale("in", 1), scale("mm", 25.4)},
		{"heating", "half_height", "", 0.1, 9, scale("inches", 1), scale("cm", 2.54)},
		{"heating", "start", "", -40, 1190, scale("°F", 1), celsius},
		{"heating", "bath", "then=cooling", -40, 1190, scale("F", 1), celsius},
		{"heating", "air", "then=cooling", -40, 200, scale("F", 1), celsius},
		{"lethality", "ref", "", 150, 260, scale("F", 1), celsius},
		{"lethality", "z", "", 10, 40, scale("F", 1), scale("C", 1/1.8)},
		{"lethality", "bath", "", 190, 260, scale("F", 1), celsius},
		{"vacuum", "close", "", 100, 211, scale("F", 1), celsius},
		{"vacuum", "cool", "close=90 C", 33, 104, scale("F", 1), celsius},
		{"vacuum", "jar", "", 0.2, 4, scale("quarts", 1), scale("ml", 946.352946)},
		{"vacuum", "headspace", "", 1, 60, scale("tsp", 1), scale("ml", 4.92892159375)},
		{"lid", "diameter", "vacuum=30 kPa", 1.6, 4.7, scale("in", 1), scale("mm", 25.4)},
		{"lid", "thickness", "vacuum=30 kPa", 0.004, 0.0196, scale("in", 1), scale("mm", 25.4)},
		{"lid", "vacuum", "wet=true", 0, 29.9, scale("inHg", 1), scale("kPa", 3.386389)},
		{"acid", "amount", "add=lemon", 0.1, 6, scale("tbsp", 1), scale("ml", 14.78676478125)},
		{"acid", "amount", "add=citric", 0.01, 2, scale("oz", 1), scale("g", 28.349523125)},
		{"acid", "volume", "", 1, 16, scale("cups", 1), scale("l", 0.2365882365)},
		{"cook-down", "mass", "", 0.1, 1900, scale("lb", 1), scale("kg", 0.45359237)},
		{"cook-down", "start", "", 33, 211, scale("F", 1), celsius},
		{"fit", "canner", "", 4, 19, scale("in", 1), scale("mm", 25.4)},
		{"fit", "jar", "", 2.4, 11.8, scale("in", 1), scale("mm", 25.4)},
	}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom(systems).Draw(t, "system")
		v := rapid.Float64Range(s.low, s.high).Draw(t, "value")
		us := ask(t, b, s.demo, s.key+"="+s.us(v), s.with)
		metric := ask(t, b, s.demo, s.key+"="+s.metric(v), s.with)
		if !alike(us.json, metric.json, 1e-5) {
			t.Fatalf("%s is %v, and %s is %v", us.asked, us.json, metric.asked, metric.json)
		}
	})
	// Altitudes are kept to a hundredth of a foot.
	rapid.Check(t, func(t *rapid.T) {
		ft := float64(rapid.IntRange(-1500, 30_000).Draw(t, "feet"))
		for _, s := range []struct {
			demo string
			with string
		}{{"boiling-point", ""}, {"gauge", "pressure=12 psi"}, {"vacuum", "close=60 C"}, {"jars", "start=20 C"}} {
			us := ask(t, b, s.demo, fmt.Sprintf("altitude=%.0f ft", ft), s.with)
			metric := ask(t, b, s.demo, fmt.Sprintf("altitude=%.4f m", ft*0.3048), s.with)
			if !alike(us.json, metric.json, 1e-9) {
				t.Fatalf("%s is %v, and %s is %v", us.asked, us.json, metric.asked, metric.json)
			}
		}
	})
}

// FuzzRun gives two keys of a demonstration any text. Whatever it is, the run ends, an
// error can be read and belongs to a key of the demonstration or to none, and a result
// can be written as JSON.
func FuzzRun(f *testing.F) {
	b := shipped(f)
	for i, d := range b.Demos() {
		for j, k := range d.Keys {
			for _, text := range []string{k.Default, "", "0", "NaN", "inf", "-1 ft", "1e300", "0,85\n10,95\n", "0,NaN\n1,2\n", "2/14", "0/100000", "1e-9 g", "99.97 C", "50", "100 %", "0 min"} {
				f.Add(uint8(i), uint8(j), text, uint8(j+1), "")
				f.Add(uint8(i), uint8(j), text, uint8(j+1), "100000/100000")
				f.Add(uint8(i), uint8(j), text, uint8(j+2), "11 min")
			}
		}
	}
	f.Fuzz(func(t *testing.T, demo, key uint8, text string, other uint8, otherText string) {
		d := b.Demos()[int(demo)%len(b.Demos())]
		given := map[string]string{}
		for _, g := range []struct {
			key  uint8
			text string
		}{{key, text}, {other, otherText}} {
			k := d.Keys[int(g.key)%len(d.Keys)]
			given[k.Name] = g.text
			if k.Command { // the text becomes the file
				given[k.Name] = filepath.Join(t.TempDir(), "readings.csv")
				if err := os.WriteFile(given[k.Name], []byte(g.text), 0o600); err != nil {
					t.Fatal(err)
				}
			}
		}
		r, err := b.Run(d, given)
		if err != nil {
			told := KeyErrors(err)
			if len(told) == 0 {
				t.Errorf("%s %q: %v is no *KeyError", d.Name, given, err)
			}
			for _, e := range told {
				if e.Key != "" && !slices.ContainsFunc(d.Keys, func(k Key) bool { return k.Name == e.Key }) {
					t.Errorf("%s %q: told of %q, which is no key", d.Name, given, e.Key)
				}
				if len(e.Cause.Error()) < 10 {
					t.Errorf("%s %q: %q tells nothing", d.Name, given, e)
				}
			}
			return
		}
		if _, err := json.Marshal(r); err != nil {
			t.Errorf("%s %q: %v", d.Name, given, err)
		}
		for _, row := range r.Table.Rows {
			if len(row.Cells) != len(r.Table.Head) {
				t.Errorf("%s %q: %q below %q", d.Name, given, row.Cells, r.Table.Head)
			}
		}
		for _, p := range places(r) {
			if math.IsNaN(p.X) || math.IsNaN(p.Y) || math.IsInf(p.X, 0) || math.IsInf(p.Y, 0) {
				t.Errorf("%s %q: a place in the picture is %v", d.Name, given, p)
			}
		}
	})
}
