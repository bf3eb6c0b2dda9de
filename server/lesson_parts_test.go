package server

import (
	"strings"
	"testing"

	"golang.org/x/net/html"

	"rollingboil/scenarios/measure"
)

// TestBandIsMarkedInEachTable: a piece that draws both gauges marks, in each
// table, the band of that table. USDA Guide 4, p. 4-9, snap beans: dial 0-2,000,
// 2,001-4,000, 4,001-6,000 and 6,001-8,000 ft; weighted 0-1,000 and above.
func TestBandIsMarkedInEachTable(t *testing.T) {
	t.Parallel()
	course, err := shippedCourse()
	if err != nil {
		t.Fatal(err)
	}
	s := &Server{course: course}
	if s.assets, err = loadAssets(); err != nil {
		t.Fatal(err)
	}
	if err := s.loadTemplates(); err != nil {
		t.Fatal(err)
	}
	part, err := s.timesPart(map[string]string{"food": "snap-beans", "method": "pressure", "pack": "hot", "jar": "pint"})
	if err != nil {
		t.Fatal(err)
	}
	for altitude, want := range map[measure.Altitude]string{
		500: "11 psi, 10 psi", 1000: "11 psi, 10 psi", 1500: "11 psi, 15 psi", 2000: "11 psi, 15 psi",
		2001: "12 psi, 15 psi", 6240: "14 psi, 15 psi", 8500: "15 psi", // the dial table ends at 8,000 ft
	} {
		var marked []string
		walk(parse(t, string(part.at(altitude))), func(n *html.Node) {
			if n.Data == "tr" && attr(n, "class") == "here" {
				_, psi, _ := strings.Cut(strings.ReplaceAll(text(find(n, "td")), "\u00a0", " "), " at ")
				marked = append(marked, psi)
			}
		})
		if got := strings.Join(marked, ", "); got != want {
			t.Errorf("at %v ft the marked bands give %q, want %q", altitude, got, want)
		}
	}
}
