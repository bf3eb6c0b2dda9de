package scenarios

import (
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
	"golang.org/x/tools/txtar"

	"rollingboil/scenarios/rules"
	"rollingboil/scenarios/schematest"
)

// asJSON turns a plan or batch file into JSON.
func asJSON(t testing.TB, src string) []byte {
	t.Helper()
	var value any
	if err := yaml.Unmarshal([]byte(src), &value); err != nil {
		t.Fatalf("%s\n%v", src, err)
	}
	raw, err := json.Marshal(value)
	if err != nil {
		t.Fatal(err)
	}
	return raw
}

// docBatch is the batch file in the package comment.
func docBatch(t *testing.T) string {
	t.Helper()
	src, err := os.ReadFile("doc.go")
	if err != nil {
		t.Fatal(err)
	}
	_, rest, _ := strings.Cut(string(src), "//	plan: {food")
	block, _, _ := strings.Cut("//	plan: {food"+rest, "\n//\n")
	return strings.ReplaceAll(block, "//	", "") + "\n"
}

// TestSchemaHasEveryKey: each key of the format, each group and each key of the
// record is in the schema with a description and the words it may be, and
// nothing else is.
func TestSchemaHasEveryKey(t *testing.T) {
	t.Parallel()
	type property struct {
		Description          string
		Properties           map[string]property
		AdditionalProperties *bool
		Enum                 []any
		AnyOf                []property
	}
	var plan, batch property
	if err := json.Unmarshal(PlanSchema(shipped(t).Table()), &plan); err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(BatchSchema(shipped(t).Table()), &batch); err != nil {
		t.Fatal(err)
	}
	for _, at := range []struct {
		name string
		top  property
	}{{"plan", plan}, {"batch", batch.Properties["plan"]}} {
		n := 0
		for _, k := range Keys() {
			p := at.top
			for part := range strings.SplitSeq(k.Name, ".") {
				if p.AdditionalProperties == nil || *p.AdditionalProperties {
					t.Errorf("%s: beside %s any key may stand", at.name, k.Name)
				}
				p = p.Properties[part]
				if p.Description == "" {
					t.Errorf("%s: %s has no description of %s", at.name, k.Name, part)
				}
			}
			n++
			if k.Kind == KindWords {
				p = p.AnyOf[0]
			}
			for _, w := range k.Words {
				if !strings.Contains(strings.Join(texts(p.Enum), " "), w) {
					t.Errorf("%s: %s lacks the word %s", at.name, k.Name, w)
				}
			}
		}
		for _, p := range at.top.Properties {
			n -= max(1, len(p.Properties))
		}
		if n != 0 {
			t.Errorf("%s: %d keys are in the format and not in the schema (less than 0: the other way round)", at.name, n)
		}
	}
	record := batch.Properties["record"]
	for _, k := range recordKeys {
		if record.Properties[k].Description == "" {
			t.Errorf("record.%s is not in the schema", k)
		}
	}
	if len(record.Properties) != len(recordKeys) {
		t.Errorf("%d keys of the record are in the schema, want %d", len(record.Properties), len(recordKeys))
	}
}

func texts(list []any) []string {
	var out []string
	for _, v := range list {
		if s, ok := v.(string); ok {
			out = append(out, s)
		}
	}
	return out
}

// TestSchemaFitsWhatIsRead: every plan and batch that stands in the package
// comment, the fixtures and the rules' examples fits its schema.
func TestSchemaFitsWhatIsRead(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	plans := map[string]string{"doc.go": docPlan(t), "nothing": "{}\n", "one word for a list": "added: onion\n", "a key without a value": "time:\n"}
	batches := map[string]string{"doc.go": docBatch(t), "record alone": "record: {finished: 2026-08-20T15:04:00Z}\n"}
	files, err := filepath.Glob("../testdata/plans/*.txtar")
	if err != nil || len(files) == 0 {
		t.Fatalf("no plan fixtures: %v", err)
	}
	for _, file := range files {
		archive, err := txtar.ParseFile(file)
		if err != nil {
			t.Fatal(err)
		}
		plans[file] = string(archive.Files[0].Data)
	}
	for _, r := range g.Rules().Rules() {
		for _, e := range append(append([]rules.Example(nil), r.Breaks...), r.Keeps...) {
			if r.Stage == "batch" {
				batches[r.ID+" "+string(e.YAML)] = string(e.YAML)
			} else {
				plans[r.ID+" "+string(e.YAML)] = string(e.YAML)
			}
		}
	}
	for name, src := range plans {
		if faults := schematest.Check(PlanSchema(g.Table()), "", asJSON(t, src), nil); len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
	}
	for name, src := range batches {
		if faults := schematest.Check(BatchSchema(g.Table()), "", asJSON(t, src), nil); len(faults) > 0 {
			t.Errorf("%s: %v", name, faults)
		}
	}
}

// TestSchemaRefusesWhatIsRefused: what the reader of plans refuses does not fit
// the schema either.
func TestSchemaRefusesWhatIsRefused(t *testing.T) {
	t.Parallel()
	g := shipped(t)
	refused := func(schema []byte, src string) {
		if _, _, err := g.ParseFile("x.yaml", []byte(src)); err == nil {
			t.Errorf("the reader takes %s", src)
		}
		if faults := schematest.Check(schema, "", asJSON(t, src), nil); len(faults) == 0 {
			t.Errorf("the schema takes %s", src)
		}
	}
	for _, src := range []string{
		"tiem: 60 min", "food: tomatos", "pack: warm", "time: 60", "time: soon", "time: 5-10 min", "altitude: 6240", "altitude: 11 psi", "headspace: 1/2",
		"acid: lemon", "acid: {kind: lime}", "acid: {per_jar: 2}", "acid: {amount: 2 tbsp}", "ph: {reading: 15}", "ph: {reading: low}", "added: [bacon]",
		"added: {onion: 1}", "sterilised: maybe", "sterilised: 1", "cooling: {hours: -1}", "cooling: [12]", "storage: {temperature: 65}", "food: [peaches]", "[peaches]",
	} {
		refused(PlanSchema(g.Table()), src)
	}
	for _, record := range []string{
		"{finished: noon}", "{finished: 2026-08-20T15:04:00}", "{ended: 2026-08-20T15:04:00Z}", "[]", "{interruptions: [{from: 2026-08-20T15:04:00Z}]}",
		"{interruptions: 3}", "{jars: [{sealed: true}]}", "{jars: [{n: 0}]}", "{jars: [{n: 201}]}", "{jars: [{n: 1, looks: odd}]}", "{jars: [{n: 1, lost: some}]}",
		"{boil_reached: 2026-08-20T15:04:00Z, pressure_reached: 2026-08-20T15:04:00Z}", "{jars: [" + strings.Repeat("{n: 1}, ", maxJars) + "{n: 2}]}",
	} {
		refused(BatchSchema(g.Table()), "plan: {}\nrecord: "+record)
	}
	refused(BatchSchema(g.Table()), "plan: {tiem: 60 min}\n")
}
