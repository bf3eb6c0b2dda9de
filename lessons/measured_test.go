package lessons

import (
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// No figure is drawn without the words that it is measured, whatever is asked for.
func TestMeasuredAlwaysSaysSo(t *testing.T) {
	t.Parallel()
	says := regexp.MustCompile(`^[^()]+ \((?:[^();]+; )?measured, not tested\)$`)
	pieces := rapid.SampledFrom([]string{"47", "1/2", "1 1/2", "½", "180", "min", "h", "psi", "kPa", "in", "mm", "°F", "°C", "tbsp", "ml", "cup", "c", "lb", "ft", " ", "(tested)", ";", "-", ","})
	rapid.Check(t, func(t *rapid.T) {
		text := strings.TrimSpace(strings.Join(rapid.SliceOfN(pieces, 0, 6).Draw(t, "pieces"), ""))
		if drawn, err := drawMeasured(text); err == nil && !says.MatchString(drawn) {
			t.Errorf("%q is drawn %q", text, drawn)
		}
	})
}

func TestSplitFigures(t *testing.T) {
	t.Parallel()
	tests := map[string]string{
		"Oven, 60 min":                          "Oven, [[measured 60 min]]",
		"one hour":                              "[[measured 1 hour]]",
		"half an inch":                          "[[measured 1/2 inch]]",
		"1 1/2 in less":                         "[[measured 1 1/2 in]] less",
		"1-1/2 in":                              "[[measured 1-1/2 in]]",
		"a 10-min rest":                         "a [[measured 10 min]] rest",
		"5 to 10 min":                           "[[measured 5 min]] to [[measured 10 min]]",
		"5-10 min":                              "[[measured 5 min]]-[[measured 10 min]]",
		"at -5 °C":                              "at [[measured -5 °C]]",
		"at 6 240 ft":                           "at [[altitude 6 240 ft]]",
		"60 min_x":                              "[[measured 60 min]]_x",
		"6min6min":                              "[[measured 6 min]][[measured 6 min]]",
		"4 of 7 jars, pH 4.2":                   "4 of 7 jars, pH 4.2",
		"20 lb of fruit":                        "? of fruit",
		"twenty-five minutes":                   "?",
		"two hundred feet":                      "?",
		"1⁄2 in":                                "[[measured 1⁄2 in]]",
		"1:30 h":                                "?",
		"1,5 h":                                 "?",
		"70 psi":                                "?",
		"212 degrees":                           "?",
		"30 min at 10 psi, then 5 min":          "[[measured 30 min]] at [[measured 10 psi]], then [[measured 5 min]]",
		"no figure: an hour, 9 quarts":          "no figure: an hour, 9 quarts",
		"**60** minutes and sixty\u00a0minutes": "**[[measured 60 minutes]] and [[measured 60 minutes]]",
	}
	for text, want := range tests {
		var got, same strings.Builder
		for _, s := range SplitFigures(text) {
			same.WriteString(s.Text)
			switch {
			case !s.Figure:
				got.WriteString(s.Text)
			case s.Reference == "":
				got.WriteString("?")
			default:
				got.WriteString(s.Reference)
			}
		}
		if got.String() != want || same.String() != text {
			t.Errorf("%q becomes %q, want %q", text, got.String(), want)
		}
	}
}

// Whatever is typed, what SplitFigures leaves as words can stand in a lesson, and each of
// its references can be drawn.
func TestSplitFiguresLeavesNoFigure(t *testing.T) {
	t.Parallel()
	once, err := shared()
	if err != nil {
		t.Fatal(err)
	}
	pieces := rapid.SampledFrom([]string{
		"6", "60", "240", "1/2", "½", "⁄", ".", ",", "-", "−", " ", "\u00a0", "\n", "> ", "*", "_", ")", "(", "[[", "]]", "min", "minutes", "in", "h", "ft", "psi", "lb", "° F", "°c", "degrees",
		"half an", "half a", "one", "sixty", "Twenty", "hundred", "to", "or", "x", "and", "tbsp", "ml", "e", "é",
	})
	rapid.Check(t, func(t *rapid.T) {
		text := strings.Join(rapid.SliceOfN(pieces, 0, 12).Draw(t, "pieces"), "")
		var same, words strings.Builder
		for _, s := range SplitFigures(text) {
			same.WriteString(s.Text)
			if !s.Figure {
				words.WriteString(s.Text)
				continue
			}
			words.WriteString("(left out)")
			for _, m := range reference.FindAllStringSubmatch(s.Reference, -1) {
				if _, _, err := once.figure(m[1]); err != nil {
					t.Errorf("%q has %s: %v", text, s.Reference, err)
				}
			}
		}
		if same.String() != text {
			t.Fatalf("%q is cut into %q", text, same.String())
		}
		l := loader{}
		if l.checkFigures("a.md", []byte(goodFront+words.String()+"\n")); len(l.problems) > 0 {
			t.Errorf("%q leaves %q: %v", text, words.String(), l.problems)
		}
	})
}

// Crushed tomatoes, hot, quarts, above 6,000 ft: 60 minutes (Guide 3, p. 3-8).
func TestTimeReference(t *testing.T) {
	t.Parallel()
	table, err := process.Shipped()
	if err != nil {
		t.Fatal(err)
	}
	ref, minutes, source, ok := TimeReference(table, "tomatoes-crushed", "hot", "boiling-water", "quart", 6240)
	if want := `[[min food=tomatoes-crushed pack=hot method=boiling-water jar=quart altitude="6240 ft"]]`; !ok || ref != want || minutes != "60 minutes" || source != "usda-guide-3" {
		t.Errorf("got %s, %s, %s, %t; want %s", ref, minutes, source, ok, want)
	}
	library, err := load(map[string]string{"01-a.md": goodFront + "Give it " + ref + ".\n"})
	if err != nil || !strings.Contains(string(library.Lessons()[0].Parts[0].HTML), "60\u00a0minutes") {
		t.Errorf("the reference is not drawn: %v", err)
	}
	for name, of := range map[string][4]string{
		"an oven":           {"tomatoes-crushed", "hot", "oven", "quart"},
		"no such pack":      {"tomatoes-crushed", "raw", "boiling-water", "quart"},
		"a jar too large":   {"tomatoes-crushed", "hot", "boiling-water", "half-gallon"},
		"a smaller jar":     {"tomatoes-crushed", "hot", "boiling-water", "half-pint"},
		"from memory":       {"papaya", "hot", "boiling-water", "pint"},
		"another publisher": {"chow-chow-relish", "hot", "boiling-water", "pint"},
		"nothing said":      {"", "", "", ""},
	} {
		if ref, _, _, ok := TimeReference(table, of[0], of[1], of[2], of[3], measure.Altitude(0)); ok {
			t.Errorf("%s has %s", name, ref)
		}
	}
}
