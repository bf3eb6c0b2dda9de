package physics

import (
	"fmt"
	"math"
	"slices"
)

// Point is a place in the canner, in mm from its middle.
type Point struct{ XMM, YMM float64 }

// Packing is jars standing in one layer in a round canner.
type Packing struct {
	Jars    int
	Centers []Point // where the middle of each jar stands, spread out to the wall
	LeastMM float64 // inside diameter of the narrowest canner that takes as many

	// Proved says that no more can fit. Where it is false, no packing of more is
	// known, and none has been proved impossible.
	Proved bool
}

// JarsThatFit gives the most jars, each jarMM across (20 to 300 mm), that stand in
// a round canner cannerMM across inside (50 to 1000 mm), with spacingMM (0 to
// 100 mm) free between any two jars and between a jar and the wall. It is an upper
// bound: racks, handles and bulges take room of their own.
//
// Each jar is given half the spacing all around, and the canner loses as much at
// its wall, so the question is how many equal circles go into a circle. Up to 20
// that is answered by the best packings known. A canner without room for one jar,
// or with room for perhaps more than 20, gives a *RangeError, as does a value
// outside.
func JarsThatFit(cannerMM, jarMM, spacingMM float64) (Packing, error) {
	for _, err := range []error{
		within("width of the canner", cannerMM, 50, 1000, "mm"),
		within("width of a jar", jarMM, 20, 300, "mm"),
		within("space between jars", spacingMM, 0, 100, "mm"),
	} {
		if err != nil {
			return Packing{}, err
		}
	}
	ratio := (cannerMM-spacingMM)/(jarMM+spacingMM) + fitRounding
	if err := within("width of the canner, counted in jars side by side", ratio, 1, fitRatioHigh+fitRounding, ""); err != nil {
		if ratio < 1 {
			return Packing{}, fmt.Errorf("not one jar goes in: %w", err)
		}
		return Packing{}, fmt.Errorf("the table of packings ends at %d jars: %w", len(densest)-1, err)
	}
	jars := len(densest) - 1
	for densest[jars].ratio > ratio {
		jars--
	}
	best := densest[jars]
	packing := Packing{
		Jars:    jars,
		Centers: make([]Point, 0, jars),
		LeastMM: best.ratio*(jarMM+spacingMM) + spacingMM,
		Proved:  jars < fitProvedTo,
	}
	spread := 1.0
	if jars > 1 {
		spread = (ratio - 1) / (best.ratio - 1)
	}
	for _, c := range best.centers {
		radiusMM := spread * (jarMM + spacingMM) / 2
		packing.Centers = append(packing.Centers, Point{c.x * radiusMM, c.y * radiusMM})
	}
	return packing, nil
}

const (
	// fitRatioHigh ends the table. The narrowest canner known for 21 jars is 5.2525
	// jars wide, and a narrower one has not been proved impossible.
	fitRatioHigh = 5.2

	// fitRounding keeps a canner that is exactly wide enough from losing a jar to the
	// rounding of its ratio.
	fitRounding = 1e-9

	// fitProvedTo is the number of jars up to which no narrower canner can do.
	fitProvedTo = 14
)

// fitOffset is a place in a packing, in jar radii from the middle.
type fitOffset struct{ x, y float64 }

// densest holds, by the number of jars, the narrowest circle known to take them,
// as a multiple of the width of a jar, and where they then stand.
//
// The ratios are the published ones of equal circles in a circle. 1 to 4 are plain
// geometry; 5 to 7 were proved by Graham (1968), 8 to 10 by Pirl (1969), 11 by
// Melissen (1994), 12 and 13 by Fodor (2000, 2003), 14 by Ekanayake and LaFountain
// (2024), 19 by Fodor (1999); 15 to 18 and 20 are conjectured. The names are from
// memory. Ratios and places written as decimals were found by a search from many
// random starts, as in TestPackingsAreFoundAgain, and sharpened by Newton steps
// until all touching jars touched.
var densest = [...]struct {
	ratio   float64
	centers []fitOffset
}{
	1: {1, fitRing(1, 0, 0)},
	2: {2, fitRing(2, 1, 0)},
	3: {1 + 2/math.Sqrt(3), fitRing(3, 2/math.Sqrt(3), 90)},
	4: {1 + math.Sqrt2, fitRing(4, math.Sqrt2, 45)},
	5: {1 + math.Sqrt(2+2/math.Sqrt(5)), fitRing(5, math.Sqrt(2+2/math.Sqrt(5)), 90)},
	6: {3, fitRing(6, 2, 0)},
	7: {3, slices.Concat(
		fitRing(1, 0, 0),
		fitRing(6, 2, 0),
	)},
	8: {1 + 1/math.Sin(math.Pi/7), slices.Concat(
		fitRing(1, 0, 0),
		fitRing(7, 1/math.Sin(math.Pi/7), 90),
	)},
	9: {1 + math.Sqrt(4+2*math.Sqrt2), slices.Concat(
		fitRing(1, 0, 0),
		fitRing(8, math.Sqrt(4+2*math.Sqrt2), 0),
	)},
	10: {3.813025631398, slices.Concat(
		[]fitOffset{{0, -0.897229170467}, {0, 1.102770829533}},
		fitPair(1, -2.629279978036),
		fitPair(2.494509948558, -1.300205106684),
		fitPair(2.728069934898, 0.686110510931),
		fitPair(1.582617709509, 2.325604091081),
	)},
	11: {1 + 1/math.Sin(math.Pi/9), slices.Concat(
		fitPair(1, math.Tan(math.Pi/18)), // each between two of the nine
		fitRing(9, 1/math.Sin(math.Pi/9), 270),
	)},
	12: {4.029601930116, slices.Concat(
		fitRing(3, 2/math.Sqrt(3), 90),
		fitRing(3, 3.029601930116, 270),
		fitPair(1.887908463493, -2.369449195158),
		fitPair(2.995957427730, -0.450252091825),
		fitPair(1.108048964237, 2.819701286984),
	)},
	13: {2 + math.Sqrt(5), slices.Concat(
		fitRing(3, 2/math.Sqrt(3), 90),
		fitRing(10, 1+math.Sqrt(5), 90),
	)},
	14: {4.328428554861, slices.Concat(
		[]fitOffset{{0, -1.536290890258}, {0, 1.442604550862}},
		fitPair(1.334745476755, -0.046843169698),
		fitPair(1.281382953099, -3.071887753861),
		fitPair(2.810624350017, -1.782926641200),
		fitPair(3.325056730058, 0.149781129355),
		fitPair(2.638938224928, 2.028408659474),
		fitPair(1, 3.174655358431),
	)},
	15: {1 + fit15Wall, slices.Concat(
		fitRing(5, 1/math.Sin(math.Pi/5), 90),
		// Five touching pairs, each before a gap between two of the inner five.
		fitRing(5, fit15Wall, 270-fit15HalfPair),
		fitRing(5, fit15Wall, 270+fit15HalfPair),
	)},
	16: {4.615425594873, slices.Concat(
		[]fitOffset{{0, 1.811555446366}, {0, -3.615425594873}},
		fitPair(1, -1.287426876584),
		fitPair(1.605373248664, 0.618753395532),
		fitPair(1.921974535034, -3.062240375729),
		fitPair(3.255798172503, -1.571967077260),
		fitPair(3.593302356959, 0.399349976254),
		fitPair(2.831206121147, 2.248460391389),
		fitPair(1.202721496211, 3.409510703109),
	)},
	17: {4.792033748311, slices.Concat(
		[]fitOffset{{0, -1.925751804427}, {0, 0.109254996991}, {0, 2.547422305991}},
		fitPair(1.721826596828, -0.908248403718),
		fitPair(1.585507818754, 1.328338651491),
		fitPair(1, -3.657802611996),
		fitPair(2.721826596828, -2.640299211287),
		fitPair(3.715992219016, -0.755593658349),
		fitPair(3.583556676617, 1.240016731259),
		fitPair(1.848511323513, 3.310970527681),
	)},
	18: {1 + math.Sqrt2 + math.Sqrt(6), slices.Concat(
		fitRing(6, 2, 0),
		fitRing(12, math.Sqrt2+math.Sqrt(6), 15),
	)},
	19: {1 + math.Sqrt2 + math.Sqrt(6), slices.Concat(
		fitRing(1, 0, 0),
		fitRing(6, 2, 0),
		fitRing(12, math.Sqrt2+math.Sqrt(6), 15),
	)},
	20: {5.122320736992, slices.Concat(
		[]fitOffset{{0, -2.805316132579}, {0, 0.056954488520}},
		fitPair(1.540797451521, -1.530191349122),
		fitPair(2.161524536451, 0.371044534727),
		fitPair(1, 1.999190950509),
		fitPair(1.779335021626, -3.718534004073),
		fitPair(3.320132473147, -2.443409220615),
		fitPair(4.079424772208, -0.593145670581),
		fitPair(3.878486868306, 1.396734717477),
		fitPair(2.764616273965, 3.057846483452),
		fitPair(1, 3.999190950509),
	)},
}

// Of 15 jars the outer ten stand fit15Wall from the middle, and one of a touching
// pair of them is fit15HalfPair degrees to the side of the pair's middle.
var (
	fit15Wall     = math.Sqrt(6 + 2/math.Sqrt(5) + 4*math.Sqrt(1+2/math.Sqrt(5)))
	fit15HalfPair = math.Asin(1/fit15Wall) * 180 / math.Pi
)

// fitRing places n jars evenly around the middle, the first in a direction given
// in degrees from the right.
func fitRing(n int, radius, firstDegrees float64) []fitOffset {
	var places []fitOffset
	for i := range n {
		sin, cos := math.Sincos((firstDegrees + 360*float64(i)/float64(n)) * math.Pi / 180)
		places = append(places, fitOffset{radius * cos, radius * sin})
	}
	return places
}

// fitPair places a jar on each side of the upright line through the middle.
func fitPair(x, y float64) []fitOffset {
	return []fitOffset{{x, y}, {-x, y}}
}
