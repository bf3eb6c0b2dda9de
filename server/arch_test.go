package server

import (
	"os/exec"
	"slices"
	"strings"
	"testing"
)

// may lists, for each package, which of ours it may import, tests included, and
// why. A package that is not here may not exist.
var may = map[string]struct {
	imports []string
	why     string
}{
	"cmd/classload":        {[]string{"server", "server/load", "server/store"}, "a class is played against a whole server, and what it acknowledged is looked up in the database"},
	"cmd/rollingboil":      {[]string{"quiz/analysis", "quiz/exchange", "server", "server/load", "server/store", "scenarios", "scenarios/bench", "scenarios/measure", "scenarios/process"}, "the program joins the parts; grade and times need no server"},
	"cmd/verify":           {nil, "it builds before there is a C compiler, so it stands on nothing of ours"},
	"server":               {[]string{"assets", "lessons", "lessons/markdown", "quiz", "quiz/analysis", "quiz/exchange", "scenarios", "scenarios/bench", "scenarios/kitchens", "scenarios/measure", "scenarios/physics", "scenarios/process", "scenarios/rules", "scenarios/schematest", "server/hostiletest", "server/photo", "server/plot", "server/store", "server/storetest"}, "pages show everything; nothing imports the server but the program"},
	"server/browser":       {[]string{"lessons", "quiz", "scenarios", "scenarios/bench", "scenarios/process", "server", "server/hostiletest", "server/store"}, "a browser tries the whole site from outside; it reads the content to know what to expect"},
	"server/hostiletest":   {nil, "tests ask it for texts that try to break out of a page"},
	"server/photo":         {nil, "it makes any photo small and clean, and knows nothing of jars"},
	"server/load":          {[]string{"server", "server/store"}, "students come over HTTP; they know the course only to answer, and the database only to find their class in it and to check it"},
	"server/plot":          {[]string{"scenarios/bench", "scenarios/process"}, "it draws what the bench gives, and knows nothing of pages"},
	"server/store":         {nil, "the database holds plain structs and ids; it could serve another course"},
	"server/storetest":     {[]string{"server/store"}, "tests ask it what stands in a database file, column by column"},
	"assets":               {nil, "files only, no logic"},
	"lessons":              {[]string{"lessons/markdown", "scenarios/bench", "scenarios/figures", "scenarios/measure", "scenarios/process", "scenarios/rules", "scenarios/ruleset"}, "lessons draw figures from the table; they know nothing of questions or pages"},
	"lessons/markdown":     {[]string{"scenarios/measure"}, "Markdown to safe HTML is the same for any text; it borrows the nearest word"},
	"quiz":                 {[]string{"scenarios/bench", "scenarios/figures", "scenarios/measure", "scenarios/process", "scenarios/rules", "scenarios/ruleset"}, "answers are looked up in the table; questions know nothing of lessons or pages"},
	"quiz/analysis":        {[]string{"scenarios/physics"}, "item statistics know nothing of questions or pages"},
	"quiz/exchange":        {[]string{"quiz"}, "question files of others know nothing of pages"},
	"scenarios":            {[]string{"scenarios/kitchens", "scenarios/measure", "scenarios/process", "scenarios/rules", "scenarios/ruleset", "scenarios/schematest"}, "grading joins table and rules, and is used by everything above"},
	"scenarios/bench":      {[]string{"scenarios/measure", "scenarios/physics", "scenarios/process"}, "a demonstration explains a model and marks published values beside it"},
	"scenarios/figures":    {nil, "what looks like a figure is the same in any text"},
	"scenarios/kitchens":   {nil, "files only"},
	"scenarios/measure":    {nil, "the ground floor"},
	"scenarios/physics":    {nil, "models are pure functions of numbers; they set nothing and look nothing up"},
	"scenarios/process":    {[]string{"scenarios/measure"}, "the table looks up; it does not judge"},
	"scenarios/rules":      {nil, "the engine knows nothing of plans, so it can judge batches too"},
	"scenarios/ruleset":    {nil, "files only"},
	"scenarios/schematest": {nil, "tests ask it whether JSON fits a schema"},
}

// rooms lists the outside libraries that live in one room each.
var rooms = map[string][]string{
	"github.com/gin-gonic/gin":           {"server"},
	"github.com/alexedwards/scs/v2":      {"server", "server/store"},
	"github.com/mattn/go-sqlite3":        {"server/store"},
	"modernc.org/sqlite":                 {"server/store"},
	"github.com/pressly/goose/v3":        {"server/store"},
	"database/sql":                       {"server/store", "server/storetest"},
	"github.com/yuin/goldmark":           {"lessons/markdown"},
	"github.com/microcosm-cc/bluemonday": {"lessons/markdown"},
	"github.com/expr-lang/expr":          {"scenarios/rules"},
	"github.com/alecthomas/kong":         {"cmd/classload", "cmd/rollingboil"},
	"github.com/chromedp/chromedp":       {"server/browser"},
	"github.com/alexedwards/argon2id":    {"server"},
	"github.com/arran4/golang-ical":      {"server"},
	"github.com/xuri/excelize/v2":        {"server"},
	"golang.org/x/image":                 {"server/photo"},
	"golang.org/x/text":                  {"scenarios/figures", "server", "server/store"},
	"golang.org/x/time":                  {"server"},
	"rsc.io/qr":                          {"server"},
	"gonum.org/v1/gonum":                 {"quiz/analysis", "scenarios", "scenarios/physics"},
	"gonum.org/v1/plot":                  {"server/plot"},
	"github.com/gopxl/beep/v2":           {"server"},
}

// TestImports asks the go tool what each package imports, in code and in tests.
func TestImports(t *testing.T) {
	t.Parallel()
	out, err := exec.CommandContext(t.Context(), "go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}} {{join .TestImports " "}} {{join .XTestImports " "}}`, "rollingboil/...").Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	seen := 0
	for line := range strings.Lines(string(out)) {
		fields := strings.Fields(line)
		pkg := strings.TrimPrefix(fields[0], "rollingboil/")
		allowed, known := may[pkg]
		if !known {
			t.Errorf("package %s is not in the picture of DEVELOPERS.md", pkg)
			continue
		}
		seen++
		for _, imported := range fields[1:] {
			if ours, ok := strings.CutPrefix(imported, "rollingboil/"); ok && ours != pkg && !slices.Contains(allowed.imports, ours) {
				t.Errorf("%s imports %s, but: %s", pkg, ours, allowed.why)
			}
			for library, where := range rooms {
				if (imported == library || strings.HasPrefix(imported, library+"/")) && !slices.Contains(where, pkg) {
					t.Errorf("%s imports %s, which lives in %s", pkg, imported, strings.Join(where, " and "))
				}
			}
		}
	}
	if seen < 14 {
		t.Errorf("only %d packages were looked at", seen)
	}
}
