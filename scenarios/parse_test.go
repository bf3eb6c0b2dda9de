package scenarios

import (
	"fmt"
	"net/url"
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// docPlan is the plan file in the package comment.
func docPlan(t *testing.T) string {
	t.Helper()
	src, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(src), "//	food:")
	block, _, ok := strings.Cut("//	food:"+rest, "\n//\n")
	if !ok {
		t.Fatal("no plan file in the package comment")
	}
	return strings.ReplaceAll(strings.ReplaceAll(block, "//	", ""), "//\n", "\n")
}

func TestDocPlanIsRead(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	plan, err := g.ParsePlan("doc.yaml", []byte(docPlan(t)))
	if err != nil {
		t.Fatal(err)
	}
	for _, k := range keys {
		if !plan.Known(k.Name) {
			t.Errorf("the plan file in the package comment does not state %s", k.Name)
		}
	}
}

// TestDocBatchIsRead reads the batch file in the package comment.
func TestDocBatchIsRead(t *testing.T) {
	t.Parallel()
	src, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(src), "//	plan: {food")
	block, _, _ := strings.Cut("//	plan: {food"+rest, "\n//\n")
	got := gradeBatch(t, strings.ReplaceAll(block, "//	", "")+"\n")
	if got.HeldMinutes == nil || *got.HeldMinutes != 20 || len(got.Jars) != 1 || got.Jars[0].Answer != "shelf" {
		t.Errorf("held %v, jars %+v; want 20 minutes and one jar for the shelf", got.HeldMinutes, got.Jars)
	}
}

// TestDocScenariosAreRead reads the scenario files in the package comment, one of
// each kind, and looks at every case of them.
func TestDocScenariosAreRead(t *testing.T) {
	t.Parallel()
	src, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	g := shipped(t)
	kinds := map[string]bool{}
	rest := string(src)
	for n := 1; ; n++ {
		_, after, found := strings.Cut(rest, "//	---\n")
		if !found {
			break
		}
		block, next, _ := strings.Cut(after, "\n//\n")
		rest = next
		text := strings.ReplaceAll("//	---\n"+block+"\n", "//	", "")
		s, err := g.ParseScenario(fmt.Sprintf("%02d-doc.md", n), []byte(text))
		if err != nil {
			t.Fatalf("%s\n%v", text, err)
		}
		if err := g.CheckScenario(s); err != nil {
			t.Error(err)
		}
		kinds[s.Kind] = true
	}
	for _, kind := range ScenarioKinds() {
		if !kinds[kind] {
			t.Errorf("no example of kind %s", kind)
		}
	}
}

func TestPlanErrors(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	for _, tc := range []struct{ name, src, want string }{
		{"unknown key", "food: peaches\ntiem: 20 min\n", `p.yaml:2:1: there is no key "tiem" here; the nearest is "time"`},
		{"unknown key in a group", "cooling: {hour: 12}\n", `p.yaml:1:11: cooling: there is no key "hour" here; the nearest is "hours"`},
		{"unknown food", "food: tomatos-crushed\n", `p.yaml:1:7: food: "tomatos-crushed" is not a food of the process table; the nearest is "tomatoes-crushed"`},
		{"unknown word", "method: boiling-watr\n", `p.yaml:1:9: method: "boiling-watr" is not a word for this; the nearest is "boiling-water"`},
		{"unknown word in a list", "seal_checks: [press, lok]\n", `p.yaml:1:22: seal_checks: "lok" is not a word for this; the nearest is "look"`},
		{"list for a value", "jar: [pint]\n", `p.yaml:1:6: jar: expected a single value`},
		{"value for a group", "cooling: 12\n", `p.yaml:1:10: cooling: expected keys with values, such as cooling: {hours: ...}`},
		{"not a boolean", "rims_wiped: maybe\n", `p.yaml:1:13: rims_wiped: "maybe" is neither true nor false`},
		{"not a number", "cooling: {hours: twelve}\n", `p.yaml:1:18: cooling.hours: "twelve" is not a number from 0 to 10000`},
		{"pH out of range", "ph: {reading: 15}\n", `p.yaml:1:15: ph.reading: "15" is not a number from 0 to 14`},
		{"stated twice", "jar: pint\njar: quart\n", `p.yaml:2:1:`},
		{"second document", "jar: pint\n---\njar: quart\n", `a second document; write one plan to a file`},
		{"anchor", "jar: &j pint\n", `anchors, aliases, tags and merge keys are not used`},
		{"no mapping", "- jar\n", `p.yaml:1:1: expected keys with values, such as food: tomatoes-crushed`},
		{"JSON place", "{\n\t\"food\": \"peaches\",\n\t\"jar\": \"pnt\"\n}", `p.yaml:3:9: jar: "pnt" is not a word for this; the nearest is "pint"`},
		{"JSON twice", `{"jar":"pint","jar":"quart"}`, `"jar" is stated twice`},
		{"too deep", strings.Repeat("[", 5000), `nested more than 24 deep`},
		{"dashes too deep", strings.Repeat("- ", 5000), `nested more than 24 deep`},
		{"too large", strings.Repeat("#", maxFile+1), `the file is 1048577 bytes`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			_, err := g.ParsePlan("p.yaml", []byte(tc.src))
			if err == nil || !strings.Contains(err.Error(), tc.want) {
				t.Errorf("ParsePlan error = %v, want it to contain %q", err, tc.want)
			}
			if len(Problems(err)) == 0 {
				t.Error("no Problem in the error")
			}
		})
	}
}

func TestAllPlanErrorsAreReported(t *testing.T) {
	t.Parallel()
	_, err := shipped(t).ParsePlan("p.yaml", []byte("food: nowt\npack: warm\ntime: 20\naltitude: high\n"))
	if got := len(Problems(err)); got != 4 {
		t.Errorf("%d problems, want 4: %v", got, err)
	}
}

func TestQuantityErrorsNameThePosition(t *testing.T) {
	t.Parallel()
	_, err := shipped(t).ParsePlan("p.yaml", []byte("time: 20\n"))
	list := Problems(err)
	if len(list) != 1 || list[0].Key != "time" || list[0].Line != 1 || list[0].Col != 7 || list[0].Value != "20" {
		t.Fatalf("problems = %+v, want one for time at 1:7", list)
	}
	if !strings.Contains(list[0].Message, "min") {
		t.Errorf("message %q does not say which units are possible", list[0].Message)
	}
}

// TestJSONAndYAMLAgree reads one plan both ways.
func TestJSONAndYAMLAgree(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	y, err := g.ParsePlan("p", []byte("food: peaches\nheadspace: 1/2 in\nrims_wiped: true\nph: {reading: 4.2, by: meter}\nadded: [salt]\ncooling:\n  hours: 12\n"))
	if err != nil {
		t.Fatal(err)
	}
	j, err := g.ParsePlan("p", []byte("{\n\t\"food\":\"peaches\",\"headspace\":\"1\\/2 in\",\"rims_wiped\":true,\"ph\":{\"reading\":4.2,\"by\":\"meter\"},\"added\":[\"salt\"],\"cooling\":{\"hours\":12}}"))
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(y, j); diff != "" {
		t.Errorf("YAML and JSON differ:\n%s", diff)
	}
}

func TestFormKeepsWhatItCanRead(t *testing.T) {
	t.Parallel()
	plan, err := shipped(t).PlanFromForm(url.Values{
		"food": {"peaches"}, "time": {"twenty"}, "headspace": {" 1/2 in "}, "seal_checks": {"press", "look"}, "rims_wiped": {"true"}, "vent": {""},
	})
	list := Problems(err)
	if len(list) != 1 || list[0].Key != "time" || list[0].Value != "twenty" {
		t.Fatalf("problems = %v, want one for time", err)
	}
	if plan.Food.Value != "peaches" || plan.Headspace.Text != "1/2 in" || len(plan.SealChecks.Value) != 2 || plan.Vent.Known {
		t.Errorf("plan = %+v", plan)
	}
}

// TestYAMLRoundTrip writes random plans as plan files and reads them again.
func TestYAMLRoundTrip(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	quantities := map[Kind][]string{
		KindAltitude: {"6240 ft", "1 902 m", "0 ft"}, KindDuration: {"1 h 5 min", "20 min"}, KindPressure: {"11 psi", "76 kPa"},
		KindLength: {"1/2 in", "½ in", "13 mm"}, KindVolume: {"2 tbsp", "1 1/2 tsp", "30 ml"}, KindTemperature: {"65 F", "18 °C"},
		KindNumber: {"12", "4.2"}, KindYesNo: {"true", "false"}, KindFood: {"peaches", "tomato-sauce"},
	}
	rapid.Check(t, func(t *rapid.T) {
		form := url.Values{}
		for _, k := range keys {
			if !rapid.Bool().Draw(t, k.Name) {
				continue
			}
			choices := k.Words
			if k.Words == nil {
				choices = quantities[k.Kind]
			}
			form.Set(k.Name, rapid.SampledFrom(choices).Draw(t, k.Name+" value"))
		}
		plan, err := g.PlanFromForm(form)
		if err != nil {
			t.Fatal(err)
		}
		again, err := g.ParsePlan("", plan.YAML())
		if err != nil {
			t.Fatalf("%s\n%v", plan.YAML(), err)
		}
		if diff := cmp.Diff(plan, again); diff != "" {
			t.Fatalf("%s\n%s", plan.YAML(), diff)
		}
	})
}

func FuzzParsePlan(f *testing.F) {
	g := shipped(f)
	f.Add([]byte("food: peaches\npack: hot\nacid: {kind: none}\n"))
	f.Add([]byte(`{"food":"peaches","cooling":{"hours":12}}`))
	f.Add([]byte("a: [b, {c: d}]\n? x\n: y\n"))
	f.Add([]byte("x: |\n  y\n--- !!t &a *b\n"))
	f.Add([]byte("altitude: 1.902 m\ntime: 0,333 h\nacid: {per_jar: \"0,125 tsp\"}\n"))
	f.Add([]byte(peachPlan + "record: {boil_reached: 2026-08-20T14:30:00Z, interruptions: [{from: 1, to: 2}], jars: [{n: 1, sealed: true}]}\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		b, batch, err := g.ParseFile("fuzz", src)
		for _, p := range Problems(err) {
			if p.Line < 1 || p.Message == "" {
				t.Errorf("problem without place or message: %+v", p)
			}
		}
		if err != nil && len(Problems(err)) == 0 {
			t.Errorf("error without a Problem: %v", err)
		}
		r := g.Grade(b.Plan)
		if batch {
			r = g.GradeBatch(b).Report
		}
		if r.Verdict == AsTested && len(r.Tested) == 0 {
			t.Errorf("as tested without a tested row: %s", src)
		}
	})
}
