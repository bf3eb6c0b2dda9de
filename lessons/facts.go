package lessons

import (
	_ "embed"
	"fmt"
	"regexp"
	"strings"
	"sync"

	"github.com/goccy/go-yaml"
)

//go:embed facts.yaml
var factsFile []byte

// Fact is a figure that is not a tested process, such as the rest before the
// jars are lifted. It is written down once, with its source, and lessons refer
// to it by its id.
type Fact struct {
	ID     string `yaml:"id"`
	US     string `yaml:"us"`     // as a US cook reads it: "1 inch"
	Metric string `yaml:"metric"` // the same in metric units, or "" for times
	Source string `yaml:"source"` // id of the publication
	Page   string `yaml:"page"`   // part and page there
	// AltitudeFt is the height that a boiling point of water is printed for; nil for
	// every other figure.
	AltitudeFt *float64 `yaml:"altitude_ft"`
}

// Text is the fact as it stands in a sentence.
func (f Fact) Text() string {
	if f.Metric == "" {
		return f.US
	}
	return f.US + " (" + f.Metric + ")"
}

// Facts returns the facts that come with the program, in the order of the
// file, so that their sources can be checked and listed. Whoever calls it leaves the list
// as it is: the file is read once.
var Facts = sync.OnceValues(func() ([]Fact, error) { return parseFacts(factsFile) })

var factID = regexp.MustCompile(`^[a-z0-9]+(?:-[a-z0-9]+)*$`)

func parseFacts(src []byte) ([]Fact, error) {
	var file struct {
		Facts []Fact `yaml:"facts"`
	}
	if err := yaml.UnmarshalWithOptions(src, &file, yaml.Strict()); err != nil {
		return nil, fmt.Errorf("load facts.yaml: %w", err)
	}
	seen := map[string]bool{}
	below := -1.0 // the height of the boiling point before, in ft
	for _, f := range file.Facts {
		switch {
		case !factID.MatchString(f.ID):
			return nil, fmt.Errorf("load facts.yaml: id %q; use lower-case words with hyphens", f.ID)
		case seen[f.ID]:
			return nil, fmt.Errorf("load facts.yaml: %s stands twice", f.ID)
		case f.US == "" || f.Source == "" || f.Page == "":
			return nil, fmt.Errorf("load facts.yaml: %s needs us, source and page", f.ID)
		case f.AltitudeFt == nil:
		case !strings.HasSuffix(f.US, "°F") || f.Metric == "":
			return nil, fmt.Errorf("load facts.yaml: %s has altitude_ft, which only a boiling point has, in °F and °C", f.ID)
		case *f.AltitudeFt <= below:
			return nil, fmt.Errorf("load facts.yaml: %s: altitude_ft is %g after %g; boiling points go from low to high, from 0 on", f.ID, *f.AltitudeFt, below)
		default:
			below = *f.AltitudeFt
		}
		seen[f.ID] = true
	}
	return file.Facts, nil
}
