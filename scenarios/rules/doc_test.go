package rules

import (
	"go/doc/comment"
	"go/parser"
	"go/token"
	"regexp"
	"strings"
	"testing"
	"testing/fstest"
)

// docFacts are the facts that the package comment speaks of.
type docFacts struct {
	TimeKnown       bool     `expr:"time_known"`
	ProcessFound    bool     `expr:"process_found"`
	FromMemory      bool     `expr:"from_memory"`
	Minutes         float64  `expr:"minutes"`
	RequiredMinutes float64  `expr:"required_minutes"`
	PSI             float64  `expr:"psi"`
	Method          string   `expr:"method"`
	Gauge           string   `expr:"gauge"`
	Pack            string   `expr:"pack"`
	Added           []string `expr:"added"`
	Time            string   `expr:"-"`
	RequiredTime    string   `expr:"-"`
}

func docOptions() Options {
	return Options{
		Facts: docFacts{},
		Words: map[string][]string{
			"method": {"boiling-water", "pressure"},
			"gauge":  {"dial", "weighted"},
			"pack":   {"hot", "raw"},
			"added":  {"onion", "garlic", "salt"},
		},
		Stages: []string{"plan", "batch"},
		Fields: []string{"time"},
	}
}

// codeBlocks gives the indented blocks of the package comment, in order.
func codeBlocks(t *testing.T) []string {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), "doc.go", nil, parser.ParseComments|parser.PackageClauseOnly)
	if err != nil {
		t.Fatal(err)
	}
	var blocks []string
	for _, part := range new(comment.Parser).Parse(file.Doc.Text()).Content {
		if code, ok := part.(*comment.Code); ok {
			blocks = append(blocks, code.Text)
		}
	}
	return blocks
}

// TestPackageCommentExample loads the very example that the package comment
// shows, and runs it.
func TestPackageCommentExample(t *testing.T) {
	t.Parallel()
	// The files follow each other in one block, each after its name.
	files := fstest.MapFS{}
	names := regexp.MustCompile(`(?m)^# (\w+\.yaml)$`)
	block := codeBlocks(t)[0]
	starts := names.FindAllStringSubmatchIndex(block, -1)
	for i, start := range starts {
		end := len(block)
		if i+1 < len(starts) {
			end = starts[i+1][0]
		}
		files[block[start[2]:start[3]]] = &fstest.MapFile{Data: []byte(block[start[1]:end])}
	}
	set, err := Load(files, docOptions())
	if err != nil {
		t.Fatal(err)
	}
	if len(files) != 4 || len(set.Rules()) != 1 || len(set.Misconceptions()) != 1 || len(set.Sources()) != 2 || len(set.Disagreements()) != 1 {
		t.Fatalf("the example has %d files with %d rules, %d misconceptions, %d sources and %d disagreements, want 4 with 1, 1, 2 and 1",
			len(files), len(set.Rules()), len(set.Misconceptions()), len(set.Sources()), len(set.Disagreements()))
	}
	facts := docFacts{TimeKnown: true, ProcessFound: true, Minutes: 50, RequiredMinutes: 60, Time: "50 min", RequiredTime: "60 min"}
	found := set.Evaluate(&facts, "plan", nil)
	if want := "50 min is shorter than the tested 60 min."; len(found) != 1 || found[0].Says != want {
		t.Errorf("Evaluate = %+v, want one finding that says %q", found, want)
	}
}

// TestPackageCommentConditions compiles every condition that the package comment
// lists.
func TestPackageCommentConditions(t *testing.T) {
	t.Parallel()
	c, err := newCatalog(docOptions())
	if err != nil {
		t.Fatal(err)
	}
	conditions := 0
	explanation := regexp.MustCompile(` {3,}.*$`)
	for line := range strings.Lines(codeBlocks(t)[1]) {
		source := explanation.ReplaceAllString(strings.TrimSpace(line), "")
		if _, faults := c.compile(source); faults != nil {
			t.Errorf("%s: %v", source, faults)
		}
		conditions++
	}
	if conditions < 10 {
		t.Errorf("found %d conditions in the package comment, want ten", conditions)
	}
}
