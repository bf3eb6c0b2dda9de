package rules

import (
	"strings"
	"testing"
	"testing/fstest"

	"github.com/google/go-cmp/cmp"
)

const disagreementsYAML = `disagreements:
  - id: how-long
    about: The time for quarts
    readings:
      - {says: 60 minutes., source: guide}
      - {says: 50 minutes., source: [sheet]}
    taken: 60 minutes.
    why: The guide is newer.
`

func TestDisagreements(t *testing.T) {
	t.Parallel()
	files := folder(probeWith())
	if got := mustLoad(t, files).Disagreements(); len(got) != 0 {
		t.Errorf("without the file: %v", got)
	}
	files[disagreementsFile] = &fstest.MapFile{Data: []byte(disagreementsYAML)}
	want := []Disagreement{{
		ID: "how-long", About: "The time for quarts", Taken: "60 minutes.", Why: "The guide is newer.",
		Readings: []Reading{{Says: "60 minutes.", Source: "guide"}, {Says: "50 minutes.", Source: "sheet"}},
	}}
	if diff := cmp.Diff(want, mustLoad(t, files).Disagreements()); diff != "" {
		t.Errorf("Disagreements (-want +got):\n%s", diff)
	}
}

func TestDisagreementErrors(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ name, from, to, want string }{
		{"no id", "  - id: how-long\n    about", "  - about", `2:5: disagreement number 1: id is missing: write a short name such as time-short`},
		{"nothing it is about", "    about: The time for quarts\n", "", `2:5: disagreement how-long: about is missing: write what the sources differ about`},
		{"nothing taken", "taken: 60 minutes.", "taken:", `7:11: disagreement how-long: taken is empty: write the reading that is taken`},
		{"no reason", "    why: The guide is newer.\n", "", `2:5: disagreement how-long: why is missing: write what decided`},
		{"one side", "      - {says: 50 minutes., source: [sheet]}\n", "", `5:7: disagreement how-long: readings has one item: it takes two to disagree`},
		{"a reading without a source", "{says: 60 minutes., source: guide}", "{says: 60 minutes.}", `5:9: disagreement how-long: reading number 1: source is missing: write the id of a publication in sources.yaml`},
		{"an unknown source", "[sheet]", "[sheat]", `6:38: disagreement how-long: reading number 2: source: "sheat" is not known; the nearest is "sheet"`},
		{"a reading that says nothing", "says: 50 minutes., ", "", `6:9: disagreement how-long: reading number 2: says is missing: write what the source says, in your own words`},
		{"an unknown key", "why:", "because: x\n    why:", `8:5: disagreement how-long: there is no key "because"; there are id, about, readings, taken, why`},
		{"an unknown key of a reading", "says: 60 minutes.", "says: 60 minutes., page: 3", `5:29: disagreement how-long: reading number 1: there is no key "page"; there are says, source`},
	} {
		t.Run(tc.name, func(t *testing.T) {
			t.Parallel()
			text := strings.Replace(disagreementsYAML, tc.from, tc.to, 1)
			if text == disagreementsYAML {
				t.Fatalf("%q is not in the file", tc.from)
			}
			files := folder(probeWith())
			files[disagreementsFile] = &fstest.MapFile{Data: []byte(text)}
			if diff := cmp.Diff(disagreementsFile+":"+tc.want, loadError(files)); diff != "" {
				t.Errorf("Load (-want +got):\n%s", diff)
			}
		})
	}
	files := folder(probeWith())
	files[disagreementsFile] = &fstest.MapFile{Data: []byte(disagreementsYAML + strings.TrimPrefix(disagreementsYAML, "disagreements:\n"))}
	if want := "disagreements.yaml:9:9: disagreement how-long: the id is taken further up in this file"; loadError(files) != want {
		t.Errorf("twice: %s, want %s", loadError(files), want)
	}
}
