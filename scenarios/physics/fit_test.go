package physics

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"gonum.org/v1/gonum/optimize"
	"pgregory.net/rapid"
)

// publishedRatios is the published table of equal circles in a circle, recomputed
// independently to six decimals: its closed forms, and for 10, 12, 14, 16, 17 and
// 20 the best packing known.
var publishedRatios = []float64{
	1: 1, 2: 2, 3: 2.154701, 4: 2.414214, 5: 2.701302, 6: 3, 7: 3, 8: 3.304765, 9: 3.613126, 10: 3.813026,
	11: 3.923804, 12: 4.029602, 13: 4.236068, 14: 4.328429, 15: 4.521357, 16: 4.615426, 17: 4.792034, 18: 4.863703, 19: 4.863703, 20: 5.122321,
}

func TestPackingRatios(t *testing.T) {
	t.Parallel()
	if len(densest) != len(publishedRatios) {
		t.Fatalf("%d packings, want %d", len(densest), len(publishedRatios))
	}
	for jars := 1; jars < len(densest); jars++ {
		agrees(t, fmt.Sprintf("ratio for %d jars", jars), densest[jars].ratio, publishedRatios[jars], 1e-6)
	}
}

// TestPackingsAreValid: geometry. Circles of radius 1 do not overlap and stay
// inside the circle, and the circle is no wider than they need.
func TestPackingsAreValid(t *testing.T) {
	t.Parallel()
	for jars := 1; jars < len(densest); jars++ {
		packing := densest[jars]
		if len(packing.centers) != jars {
			t.Errorf("%d jars: %d places", jars, len(packing.centers))
		}
		out := 0.0
		for i, a := range packing.centers {
			out = max(out, math.Hypot(a.x, a.y))
			for _, b := range packing.centers[:i] {
				if apart := math.Hypot(a.x-b.x, a.y-b.y); !(apart >= 2-1e-11) {
					t.Errorf("%d jars: %v and %v are %.12f apart, want 2", jars, a, b, apart)
				}
			}
		}
		agrees(t, fmt.Sprintf("%d jars, outermost", jars), out, packing.ratio-1, 1e-11)
	}
}

// TestPackingsAreFoundAgain searches from seeded random starts, as the decimal
// places were found: each number of jars goes into its circle, and no start leads
// into one that is 0.1 % narrower. 21 jars go into no circle that the table answers
// for, and into the one of 5.2525 that its end is set by.
func TestPackingsAreFoundAgain(t *testing.T) {
	t.Parallel()
	for jars := 2; jars < len(densest); jars++ {
		if !packable(jars, densest[jars].ratio+1e-6, 200) {
			t.Errorf("%d jars: not found in a circle of %v", jars, densest[jars].ratio)
		}
		if narrower := densest[jars].ratio * 0.999; packable(jars, narrower, 20) {
			t.Errorf("%d jars: found in a circle of %v, narrower than any known", jars, narrower)
		}
	}
	if packable(21, fitRatioHigh, 100) {
		t.Errorf("21 jars: found in a circle of %v, for which the table says 20", fitRatioHigh)
	}
	if !packable(21, 5.2525, 100) {
		t.Error("21 jars: not found in a circle of 5.2525")
	}
}

// packable reports whether so many circles of radius 1 can be pushed apart, from
// one of the random starts, until they lie in a circle ratio times as wide without
// overlapping by more than 1e-6.
func packable(jars int, ratio float64, starts int) bool {
	random := rand.New(rand.NewPCG(1, uint64(jars)))
	problem := optimize.Problem{
		Func: func(at []float64) float64 { return overlap(at, ratio-1, nil) },
		Grad: func(slope, at []float64) { overlap(at, ratio-1, slope) },
	}
	settings := &optimize.Settings{
		GradientThreshold: 1e-12,
		FuncEvaluations:   3000,
		Converger:         &optimize.FunctionConverge{Absolute: 1e-30, Iterations: 500},
	}
	for range starts {
		var start []float64
		for range jars {
			sin, cos := math.Sincos(2 * math.Pi * random.Float64())
			out := (ratio - 1) * math.Sqrt(random.Float64())
			start = append(start, out*cos, out*sin)
		}
		// A line search that can go no further ends with an error and its best place.
		found, _ := optimize.Minimize(problem, start, settings, &optimize.LBFGS{})
		if found != nil && found.F < 1e-12 {
			return true
		}
	}
	return false
}

// overlap sums the squares of how far circles of radius 1 reach into each other
// and their centers beyond reach; slope, unless nil, becomes its gradient.
func overlap(at []float64, reach float64, slope []float64) float64 {
	clear(slope)
	push := func(i int, x, y float64) {
		if slope != nil {
			slope[i] += x
			slope[i+1] += y
		}
	}
	sum := 0.0
	for i := 0; i < len(at); i += 2 {
		if out := math.Hypot(at[i], at[i+1]); out > reach {
			sum += (out - reach) * (out - reach)
			force := 2 * (out - reach) / out
			push(i, force*at[i], force*at[i+1])
		}
		for j := 0; j < i; j += 2 {
			dx, dy := at[i]-at[j], at[i+1]-at[j+1]
			if apart := math.Hypot(dx, dy); apart < 2 && apart > 0 {
				sum += (2 - apart) * (2 - apart)
				force := 2 * (2 - apart) / apart
				push(i, -force*dx, -force*dy)
				push(j, force*dx, force*dy)
			}
		}
	}
	return sum
}

// TestJarsThatFit: the published table of equal circles in a circle, between its
// lines, and just below and above each.
func TestJarsThatFit(t *testing.T) {
	t.Parallel()
	for ratio, jars := range map[float64]int{
		1.99: 1, 2.00: 2, 2.154: 2, 2.155: 3, 2.999: 5, 3.000: 7,
		3.304: 7, 3.305: 8, 3.614: 9, 3.813: 9, 3.814: 10, 4.864: 19,
	} {
		if got := jarsThatFit(t, 100*ratio, 100, 0); got.Jars != jars {
			t.Errorf("%d jars in a canner %v times as wide, want %d", got.Jars, ratio, jars)
		}
	}
	for jars, ratio := range publishedRatios {
		if jars < 2 {
			continue
		}
		if got := jarsThatFit(t, 100*(ratio-1e-6), 100, 0); got.Jars >= jars {
			t.Errorf("%d jars just below the ratio for %d", got.Jars, jars)
		}
		most := jars
		for most+1 < len(publishedRatios) && publishedRatios[most+1] == ratio {
			most++
		}
		if got := jarsThatFit(t, 100*(ratio+1e-6), 100, 0); got.Jars != most {
			t.Errorf("%d jars just above the ratio for %d", got.Jars, most)
		}
	}
}

// TestJarsSpreadOut: geometry. Two jars of 100 mm in a canner of 210 mm stand at
// opposite walls, one in a canner of 190 mm in the middle.
func TestJarsSpreadOut(t *testing.T) {
	t.Parallel()
	for canner, outMM := range map[float64]float64{210: 55, 190: 0} {
		for _, at := range jarsThatFit(t, canner, 100, 0).Centers {
			agrees(t, fmt.Sprintf("mm from the middle of a canner of %v mm", canner), math.Hypot(at.XMM, at.YMM), outMM, 1e-6)
		}
	}
}

// TestCannerLoads: NCHFP, Standard Tomato Sauce: one canner takes 7 quarts or 9
// pints. If that is all that goes in, a quart is 1.093 to 1.271 times as wide as a
// pint, as the ratios for 7, 8, 9 and 10 say. Any such canner and jars will do; the
// widths here are made up.
func TestCannerLoads(t *testing.T) {
	t.Parallel()
	agrees(t, "least quart over pint", densest[9].ratio/densest[8].ratio, 1.093, 0.0005)
	agrees(t, "most quart over pint", densest[10].ratio/densest[7].ratio, 1.271, 0.0005)
	const cannerMM = 300.0
	for _, quartOverPint := range []float64{1.094, 1.15, 1.2, 1.27} {
		least := max(cannerMM/3.304765, quartOverPint*cannerMM/3.813026)
		most := min(cannerMM/3, quartOverPint*cannerMM/3.613126)
		quartMM := (least + most) / 2
		quarts, pints := jarsThatFit(t, cannerMM, quartMM, 0), jarsThatFit(t, cannerMM, quartMM/quartOverPint, 0)
		if quarts.Jars != 7 || pints.Jars != 9 {
			t.Errorf("%d quarts and %d pints, want 7 and 9", quarts.Jars, pints.Jars)
		}
	}
}

// TestMoreIsProvedImpossible: the packings of 1 to 14 are proved best, the last in
// 2024; that 15 do not fit where 14 do is conjectured.
func TestMoreIsProvedImpossible(t *testing.T) {
	t.Parallel()
	for ratio, proved := range map[float64]bool{1.5: true, 3.1: true, 4.3: true, 4.4: false, 4.7: false, 5: false, 5.15: false} {
		if got := jarsThatFit(t, 100*ratio, 100, 0); got.Proved != proved {
			t.Errorf("%d jars in a canner %v times as wide: proved %v, want %v", got.Jars, ratio, got.Proved, proved)
		}
	}
}

func TestJarsThatFitProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		jarMM := rapid.Float64Range(50, 120).Draw(t, "jar")
		spacingMM := rapid.Float64Range(0, 20).Draw(t, "space")
		ratio := rapid.Float64Range(1.001, 5.19).Draw(t, "ratio")
		wider := rapid.Float64Range(ratio, 5.19).Draw(t, "wider")
		cannerMM := ratio*(jarMM+spacingMM) + spacingMM
		p := jarsThatFit(t, cannerMM, jarMM, spacingMM)

		if len(p.Centers) != p.Jars {
			t.Fatalf("%d jars stand in %d places", p.Jars, len(p.Centers))
		}
		nearest := math.Inf(1)
		for i, a := range p.Centers {
			wall := cannerMM/2 - math.Hypot(a.XMM, a.YMM) - jarMM/2
			if nearest = min(nearest, wall); !(wall >= spacingMM-1e-6) {
				t.Fatalf("%v is %v mm from the wall, want %v", a, wall, spacingMM)
			}
			for _, b := range p.Centers[:i] {
				if gap := math.Hypot(a.XMM-b.XMM, a.YMM-b.YMM) - jarMM; !(gap >= spacingMM-1e-6) {
					t.Fatalf("%v and %v are %v mm apart, want %v", a, b, gap, spacingMM)
				}
			}
		}
		if p.Jars == 1 {
			nearest -= cannerMM/2 - jarMM/2 - spacingMM // one jar stands in the middle
		}
		agrees(t, "nearest to the wall, mm", nearest, spacingMM, 1e-6)
		if p.LeastMM > cannerMM+1e-6 {
			t.Fatalf("%d jars need a canner of %v mm, and stand in one of %v", p.Jars, p.LeastMM, cannerMM)
		}
		if p.LeastMM >= 50 && jarsThatFit(t, p.LeastMM, jarMM, spacingMM).Jars != p.Jars {
			t.Fatalf("%d jars, but not in the least canner for them, %v mm", p.Jars, p.LeastMM)
		}
		if q := jarsThatFit(t, wider*(jarMM+spacingMM)+spacingMM, jarMM, spacingMM); q.Jars < p.Jars {
			t.Fatalf("%d jars, and in a wider canner %d", p.Jars, q.Jars)
		}
	})
}

func TestJarsThatFitRanges(t *testing.T) {
	t.Parallel()
	least := func(p Packing, err error) (float64, error) { return p.LeastMM, err }
	holdsWithin(t, func(v float64) (float64, error) { return least(JarsThatFit(v, max(20, 0.3*v), 0)) }, 50, 1000)
	holdsWithin(t, func(v float64) (float64, error) { return least(JarsThatFit(max(50, 3.3*v), v, 0)) }, 20, 300)
	holdsWithin(t, func(v float64) (float64, error) { return least(JarsThatFit(500, 100, v)) }, 0, 100)
	holdsWithin(t, func(v float64) (float64, error) { return least(JarsThatFit(100*v, 100, 0)) }, 1, 5.2)
	for canner, says := range map[float64]string{99: "not one jar", 530: "ends at 20 jars"} {
		if _, err := JarsThatFit(canner, 100, 0); !strings.Contains(fmt.Sprint(err), says) {
			t.Errorf("a canner of %v mm for jars of 100 mm: %v, want it to say %q", canner, err, says)
		}
	}
}

func jarsThatFit(t checker, cannerMM, jarMM, spacingMM float64) Packing {
	t.Helper()
	p, err := JarsThatFit(cannerMM, jarMM, spacingMM)
	if err != nil {
		t.Fatalf("%v", err)
	}
	return p
}

func BenchmarkJarsThatFit(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := JarsThatFit(300, 86, 5); err != nil {
			b.Fatal(err)
		}
	}
}
