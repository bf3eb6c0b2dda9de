package bench

import (
	"bytes"
	"encoding/json"
)

// Result is what one demonstration gives for one set of values.
type Result struct {
	Says    []string // what the numbers mean, in sentences
	Numbers []Number
	Figure  *Figure // nil when there is nothing to plot
	Circles *Circles
	Jars    []WarmJar
	Table   Table // the numbers behind the picture
}

// Number is one number of a result.
type Number struct {
	Key   string // its name in JSON
	Label string
	Value any    // float64, int, []float64 or a list of such
	Text  string // as a person reads it, in both unit systems; "" keeps it to JSON
}

// Figure is a plot as data.
type Figure struct {
	Title string
	Says  string // the picture in words
	X, Y  Axis
	Lines []Line
	Marks []Mark
	Bands []Band
}

// Axis is one axis of a figure. Min and Max are both zero when the lines decide.
type Axis struct {
	Label    string // what it shows
	Unit     string
	Min, Max float64
	Other    *Other   // the same in the other unit system, nil when there is none
	Names    []string // names for 0, 1, 2... in place of figures
}

// reaching is the axis, made longer to take in a value.
func (a Axis) reaching(v float64) Axis {
	a.Min, a.Max = min(a.Min, v), max(a.Max, v)
	return a
}

// Other is a second unit of an axis: second = first*Factor + Offset.
type Other struct {
	Unit           string
	Factor, Offset float64
}

// Line is one curve.
type Line struct {
	Name    string  // written beside it
	Style   Style   // how it is drawn
	LabelAt float64 // where its name stands, from 0 at its start to 1 at its end
	Below   bool    // the name stands below the line
	Points  []Point
}

// Point is one point of a figure, in the first units of its axes.
type Point struct{ X, Y float64 }

// Style is how a line is drawn. Lines differ by more than their color.
type Style int

// The styles of a line.
const (
	Model  Style = iota // what the model gives: a solid line
	Second              // what it is compared with: a dashed one
	Faint               // a thin one, for guidance
	Tested              // published values: a thick one
)

// Mark is a point, or a line across the figure, with words beside it.
type Mark struct {
	Kind   MarkKind
	X, Y   float64 // the one across which a line runs is not used
	Text   string
	Tested bool // a published value
}

// MarkKind says whether a mark is a point or a line.
type MarkKind int

// The kinds of a mark.
const (
	AtPoint MarkKind = iota
	AtX              // an upright line
	AtY              // a level line
)

// Band is a range of the upright axis.
type Band struct {
	From, To float64
	Text     string
}

// Circles is a view from above: jars in a canner, in millimeters.
type Circles struct {
	CannerMM, JarMM float64
	Centers         []Point
}

// WarmJar is a jar cut open, with the temperature of the food in each cell of one
// half, from the middle outward and from the top down.
type WarmJar struct {
	Jar, Food              string // ids
	RadiusMM, HalfHeightMM float64
	CenterC                float64
	CellsC                 [][]float64
}

// Table is the numbers behind a picture. Rows that hold a published value are
// marked.
type Table struct {
	Caption string
	Head    []string
	Rows    []Row
}

// Row is one row of a table.
type Row struct {
	Cells  []string
	Tested bool
	Here   bool // belongs to the values asked for
}

// MarshalJSON writes the numbers under their keys, in order, and the reminder of
// what they are.
func (r Result) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for _, n := range append(r.Numbers, Number{Key: "note", Value: Explains}) {
		if b.Len() > 1 {
			b.WriteByte(',')
		}
		value, err := json.Marshal(n.Value)
		if err != nil {
			return nil, err
		}
		key, err := json.Marshal(n.Key)
		if err != nil {
			return nil, err
		}
		b.Write(key)
		b.WriteByte(':')
		b.Write(value)
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}
