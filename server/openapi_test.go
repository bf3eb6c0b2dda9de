package server

import (
	"encoding/json"
	"net/http"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/tools/txtar"

	"rollingboil/scenarios"
	"rollingboil/scenarios/schematest"
)

// described is the part of the description of the API that the tests read.
type described struct {
	OpenAPI string
	Paths   map[string]map[string]struct {
		Responses map[string]struct {
			Content map[string]any
		}
	}
	Components struct {
		Schemas map[string]struct {
			Properties map[string]any
			Required   []string
		}
	}
}

func describedAPI(t *testing.T, raw string) described {
	t.Helper()
	var d described
	if err := json.Unmarshal([]byte(raw), &d); err != nil {
		t.Fatal(err)
	}
	return d
}

// TestOpenAPIAnswers sends real requests: each documented status is met, and each
// body fits the schema that stands there.
func TestOpenAPIAnswers(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	document := s.get("/api/openapi.json")
	api := describedAPI(t, document.body)
	if !strings.HasPrefix(api.OpenAPI, "3.1") {
		t.Errorf("openapi %q, want 3.1", api.OpenAPI)
	}
	schemas := map[string][]byte{}
	for _, path := range []string{"/api/plan.schema.json", "/api/batch.schema.json"} {
		schemas[path] = []byte(s.get(path).body)
	}
	met := map[string]bool{}
	check := func(method, path, what string, got response, want int) {
		t.Helper()
		if got.StatusCode != want {
			t.Errorf("%s: %d %s, want %d", what, got.StatusCode, got.body, want)
			return
		}
		code := strconv.Itoa(want)
		answer, ok := api.Paths[path][method].Responses[code]
		if !ok {
			t.Errorf("%s: %s is not described", what, code)
			return
		}
		met[method+" "+path+" "+code] = true
		contentType, _, _ := strings.Cut(got.Header.Get("Content-Type"), ";")
		if _, ok := answer.Content[contentType]; !ok {
			t.Errorf("%s: %s as %q is not described", what, code, contentType)
			return
		}
		at := strings.Join([]string{"#/paths", strings.ReplaceAll(path, "/", "~1"), method, "responses", code, "content", strings.ReplaceAll(contentType, "/", "~1"), "schema"}, "/")
		if faults := schematest.Check([]byte(document.body), at, []byte(got.body), schemas); len(faults) > 0 {
			t.Errorf("%s: %v\n%s", what, faults, got.body)
		}
	}
	grade := func(what, contentType, body string, want int) {
		t.Helper()
		check("post", "/api/grade", what, s.api(contentType, body), want)
	}
	const good = "food: tomatoes-crushed\npack: hot\nmethod: boiling-water\njar: quart\naltitude: 6240 ft\nheadspace: 1/2 in\nacid: {kind: bottled-lemon-juice, per_jar: 2 tbsp}\n"
	grade("as tested", "application/yaml", good+"time: 60 min\n", 200)
	grade("short", "application/yaml", good+"time: 50 min\n", 200)
	grade("JSON", "application/json", `{"food":"snap-beans","method":"boiling-water"}`, 200)
	grade("nothing stated", "application/json", `{}`, 200)
	grade("several rows", "application/yaml", "food: tomato-juice\npack: hot\nmethod: pressure\ngauge: dial\njar: quart\naltitude: 500 ft\n", 200)
	grade("from memory", "application/yaml", "food: papaya\npack: hot\nmethod: boiling-water\njar: pint\naltitude: 500 ft\ntime: 15 min\nheadspace: 1/2 in\n", 200)
	grade("batch without times", "application/yaml", "plan: {food: peaches}\nrecord: {jars: [{n: 1}]}\n", 200)
	batches, err := filepath.Glob("../testdata/batches/*.txtar")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range batches {
		archive, err := txtar.ParseFile(file)
		if err != nil {
			t.Fatal(err)
		}
		grade(file, "application/yaml", string(archive.Files[0].Data), 200)
	}
	grade("unknown key", "application/yaml", "tiem: 60 min\n", 400)
	grade("not JSON", "application/json", "{", 400)
	grade("too large", "application/yaml", strings.Repeat("a", maxBody+1), 413)
	grade("a picture", "image/png", "x", 415)
	foreign := s.request(http.MethodPost, "/api/grade", strings.NewReader(good))
	foreign.Header.Set("Sec-Fetch-Site", "cross-site")
	check("post", "/api/grade", "from another site", s.do(foreign), 403)
	for _, path := range []string{"/api/openapi.json", "/api/plan.schema.json", "/api/batch.schema.json", "/healthz"} {
		check("get", path, path, s.get(path), 200)
	}
	if err := s.store.Close(); err != nil {
		t.Fatal(err)
	}
	s.closed = true
	check("get", "/healthz", "without a database", s.get("/healthz"), 503)
	for path, methods := range api.Paths {
		for method, m := range methods {
			for code := range m.Responses {
				if !met[method+" "+path+" "+code] {
					t.Errorf("%s %s: %s is described, and no request was answered with it", method, path, code)
				}
			}
		}
	}
}

// TestOpenAPIHasTheStructs: what the handlers write and what is described have
// the same keys, and those that may be left out are not required.
func TestOpenAPIHasTheStructs(t *testing.T) {
	t.Parallel()
	api := describedAPI(t, string(openAPI))
	structs := map[string]any{
		"Report": scenarios.Advice{}, "BatchReport": scenarios.BatchReport{}, "Tested": scenarios.Tested{}, "Acid": scenarios.Acid{}, "AcidDose": scenarios.AcidDose{},
		"Finding": scenarios.Finding{}, "Remedy": scenarios.Remedy{}, "Change": scenarios.Change{}, "JarAnswer": scenarios.JarAnswer{},
		"Error": apiError{}, "Problem": apiProblem{},
	}
	for name, value := range structs {
		keys, required := jsonKeys(reflect.TypeOf(value))
		described := []string{}
		for key := range api.Components.Schemas[name].Properties {
			described = append(described, key)
		}
		listed := api.Components.Schemas[name].Required
		for _, list := range [][]string{keys, required, described, listed} {
			slices.Sort(list)
		}
		if diff := cmp.Diff(keys, described); diff != "" {
			t.Errorf("%s, keys (-struct +described):\n%s", name, diff)
		}
		if diff := cmp.Diff(required, listed); diff != "" {
			t.Errorf("%s, required (-struct +described):\n%s", name, diff)
		}
	}
	for name := range api.Components.Schemas {
		if _, known := structs[name]; !known && !slices.Contains([]string{"Plan", "Batch", "Health"}, name) {
			t.Errorf("%s is described, but nothing writes it", name)
		}
	}
}

func jsonKeys(t reflect.Type) (keys, required []string) {
	for i := range t.NumField() {
		f := t.Field(i)
		if f.Anonymous {
			k, r := jsonKeys(f.Type)
			keys, required = append(keys, k...), append(required, r...)
			continue
		}
		name, options, _ := strings.Cut(f.Tag.Get("json"), ",")
		if name == "" || name == "-" {
			continue
		}
		keys = append(keys, name)
		if options != "omitempty" {
			required = append(required, name)
		}
	}
	return keys, required
}

// TestErrorsForProgramsAreJSON: below /api/ no answer is a page.
func TestErrorsForProgramsAreJSON(t *testing.T) {
	t.Parallel()
	s := newSite(t)
	for _, got := range []response{s.get("/api/none"), s.get("/api/grade"), s.do(s.request(http.MethodDelete, "/api/plan.schema.json", nil))} {
		var e apiError
		if err := json.Unmarshal([]byte(got.body), &e); err != nil || e.Error == "" || len(e.Request) != 12 || got.StatusCode < 400 {
			t.Errorf("%d %s: %v", got.StatusCode, got.body, err)
		}
	}
}
