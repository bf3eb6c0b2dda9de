package figures

import (
	"strings"
	"testing"
)

// What people write where a lesson has to draw: each of these is one figure or more.
func TestIn(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"Boil 20 minutes":                        "20 minutes",
		"Boil for 20 to 25 minutes.":             "25 minutes",
		"a 20-minute boil":                       "20-minute",
		"a 20–minute boil":                       "20–minute",
		"a 20\u2011minute boil":                  "20\u2011minute",
		"20\u2009minutes":                        "20\u2009minutes",
		"20\u00a0min.":                           "20\u00a0min",
		"20\u200b minutes":                       "20\u200b minutes",
		"２０ minutes":                             "２０ minutes",
		"٢٠ minutes":                             "٢٠ minutes",
		"20\nminutes":                            "20\nminutes",
		"(20) minutes":                           "20) minutes",
		"20 whole minutes, 5 more minutes":       "20 whole minutes|5 more minutes",
		"boil 20m, or 1h20":                      "20m|1h",
		"Boil quarts for thirteen minutes":       "thirteen minutes",
		"fourteen minutes or eighteen minutes":   "fourteen minutes|eighteen minutes",
		"twenty-five minutes":                    "twenty-five minutes",
		"one and a half hours":                   "one and a half hours",
		"half an hour":                           "half an hour",
		"a quarter of an hour":                   "quarter of an hour",
		"a half-inch headspace, a quarter inch":  "half-inch|quarter inch",
		"three quarters of an inch":              "three quarters of an inch",
		"an eighth of an inch":                   "eighth of an inch",
		"⅜ inch, 1½ in":                          "⅜ inch|1½ in",
		"1 1/2 in":                               "1 1/2 in",
		`leave 1/2" or 2" of room`:               `1/2"|2"`,
		`“the way “4” of 7, a "2"`:               "",
		"leave 1/2” of room":                     "1/2”",
		"boil 20′":                               "20′",
		"2 T of juice, 2 Tbs. and 2 Tbls":        "2 T|2 Tbs|2 Tbls",
		"5 lb/in² or 35 kilopascals or 1 bar":    "5 lb|35 kilopascals|1 bar",
		"3 fl oz, 2 fluid ounces, 10 g":          "3 fl|2 fluid ounces|10 g",
		"6 240 ft, 6,240 feet and 1\u202f902 m":  "6 240 ft|6,240 feet|1\u202f902 m",
		"at 212°, 100 ℃ or 212 F":                "212°|100 ℃|212 F",
		"Minutes at the boil: 20.":               "Minutes at the boil: 20",
		"Headspace, in inches: 2":                "Headspace, in inches: 2",
		"a headspace of 1/2, and the psi is 11":  "headspace of 1/2|psi is 11",
		"pH 4.6, page 3-8, jar 2 of 7, 3:20":     "",
		"7 quarts and 9 pints in 12-oz jars":     "",
		"“at least 20” and \"some 20\"":          "",
		"for a minute, an hour, a day":           "",
		"the second minute, the third cup":       "",
		"Guide 1, p. 1-18; 5 percent; 4 jars in": "",
		"in 2015 the guide":                      "",
	} {
		var got []string
		for _, f := range In(text) {
			got = append(got, f.Text)
			if text[f.From:f.To] != f.Text {
				t.Errorf("%q: %q is not at %d to %d", text, f.Text, f.From, f.To)
			}
		}
		if joined := strings.Join(got, "|"); joined != want {
			t.Errorf("In(%q) = %q, want %q", text, joined, want)
		}
	}
}

func TestColumns(t *testing.T) {
	t.Parallel()
	for heading, want := range map[string]bool{"Minutes": true, "Time (min)": true, "psi": true, "Headspace": true, "Inches": true, "Jar": false, "What you see": false, "Page": false} {
		if NamesUnit(heading) != want {
			t.Errorf("NamesUnit(%q) = %t", heading, !want)
		}
	}
	for cell, want := range map[string]int{"20": 1, "20 to 25": 2, "twenty": 1, "½": 1, "pint": 0, "the same": 0} {
		if got := Numbers(cell); len(got) != want {
			t.Errorf("Numbers(%q) = %v", cell, got)
		}
	}
}

// A long text of nothing but figures takes no more than a moment.
func TestInIsLinear(t *testing.T) {
	t.Parallel()
	for _, part := range []string{`2" `, "2 in ", "one ", "minutes at the boil ", "1 ", "half "} {
		In(strings.Repeat(part, 200_000/len(part)))
	}
}
