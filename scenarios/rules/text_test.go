package rules

import (
	"strings"
	"testing"
	"text/template"
)

// TestTextsReadAsTemplates checks that a text gives what the template library
// gives for it, whether or not it is taken apart.
func TestTextsReadAsTemplates(t *testing.T) {
	t.Parallel()
	c, err := newCatalog(kitchenOptions())
	if err != nil {
		t.Fatal(err)
	}
	facts := kitchen{Minutes: 50, RequiredMinutes: 60, LowAcid: true, Pack: "hot", Jars: 7, Added: []string{"salt"}}
	tests := []struct {
		source string
		parts  int // 0 when it needs a template
		want   string
	}{
		{"", 0, ""},
		{"{{/* for writers */}}", 0, ""},
		{"No names.", 1, "No names."},
		{"{{.Time}}", 1, "50 min"},
		{"{{.Time}} of {{ .RequiredTime -}} , {{.Pack}} pack<&>", 6, "50 min of 60 min, hot pack<&>"},
		{"{{.Jars}} jars, {{.LowAcid}}, {{.Added}}, {{.Tested}}", 0, "7 jars, true, [salt], false"},
		{"{{if .LowAcid}}{{.Time}}{{else if .TimeKnown}}a{{else}}b{{end}}", 0, "50 min"},
		{"{{if and .LowAcid (not .Tested)}}c{{end}}", 0, "c"},
		{`{{printf "%s pack" .Pack}}`, 0, "hot pack"},
		{`{{.Pack | printf "%q"}}`, 0, `"hot"`},
		{`{{"{{"}}`, 0, "{{"},
	}
	for _, test := range tests {
		text, err := c.newText(test.source)
		if err != nil {
			t.Errorf("newText(%q): %v", test.source, err)
			continue
		}
		if len(text.parts) != test.parts {
			t.Errorf("newText(%q) has %d parts, want %d", test.source, len(text.parts), test.parts)
		}
		if got, err := text.write(&facts); err != nil || got != test.want {
			t.Errorf("%q gives %q, %v, want %q", test.source, got, err, test.want)
		}
		var b strings.Builder
		if err := template.Must(template.New("").Parse(test.source)).Execute(&b, &facts); err != nil || b.String() != test.want {
			t.Errorf("the template %q gives %q, %v, want %q", test.source, b.String(), err, test.want)
		}
	}
}
