package physics

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

// TestExponentialIntegral: Abramowitz and Stegun, Handbook of Mathematical Functions,
// chapter 5, with the digits from a high-precision library (mpmath).
func TestExponentialIntegral(t *testing.T) {
	t.Parallel()
	for x, want := range map[float64]float64{
		1e-100: 229.681293634503,
		1e-12:  27.05380545102802,
		1e-6:   13.23829589306249,
		1e-4:   8.633224704574705,
		0.01:   4.037929576538114,
		0.5:    0.5597735947761608,
		1:      0.2193839343955203,
		2:      0.04890051070806112,
		5:      0.001148295591275326,
		10:     4.156968929685324e-6,
		20:     9.835525290649882e-11,
		35:     1.752705938994737e-17,
		50:     3.783264029550459e-24,
		100:    3.683597761682032e-46,
		700:    1.406518766234033e-307,
		1000:   0, // less than the smallest number
	} {
		near(t, "E1", e1(x), nil, want, 1e-9*want)
	}
}

// TestExponentialIntegralEverywhere compares the quadrature with the power series (DLMF
// 6.6.2) where x is small, and with the continued fraction (DLMF 6.9.1) where it is not.
func TestExponentialIntegralEverywhere(t *testing.T) {
	t.Parallel()
	const eulerGamma = 0.5772156649015328606
	rapid.Check(t, func(t *rapid.T) {
		x := math.Exp(rapid.Float64Range(math.Log(1e-6), math.Log(50)).Draw(t, "ln x"))
		var want float64
		if x < 2 {
			want = -eulerGamma - math.Log(x)
			term := 1.0
			for k := 1.0; k < 40; k++ {
				term *= -x / k
				want -= term / k
			}
		} else {
			fraction := 0.0
			for k := 200.0; k > 0; k-- {
				fraction = k / (1 + k/(x+fraction))
			}
			want = math.Exp(-x) / (x + fraction)
		}
		if got := e1(x); math.Abs(got/want-1) > 1e-9 {
			t.Fatalf("E1(%v) is %v; want %v", x, got, want)
		}
	})
}

// TestLethalRate: the decades that every text on thermal processing prints for z 10 C.
func TestLethalRate(t *testing.T) {
	t.Parallel()
	for tempC, want := range map[float64]float64{101.1: 0.01, 111.1: 0.1, 121.1: 1, 131.1: 10} {
		got, err := LethalRate(tempC, 121.1, 10)
		near(t, "lethal rate", got, err, want, 1e-12*want)
	}
}

// hold is F of some minutes at one temperature.
func hold(t *testing.T, minutes, tempC, refC, zC float64) float64 {
	t.Helper()
	f, err := LethalityOfCurve([]Reading{{0, tempC}, {minutes, tempC}}, refC, zC)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func TestWorkedLethality(t *testing.T) {
	t.Parallel()
	// Geankoplis, Transport Processes and Unit Operations, Ex. 9.12-1, p. 573: 20 min at
	// 160 F, 20 min at 210 F, 33 min at 230 F, reference 250 F, z 18 F: F = 2.68 min.
	celsius := func(f float64) float64 { return (f - 32) / 1.8 }
	f := hold(t, 20, celsius(160), celsius(250), 10) + hold(t, 20, celsius(210), celsius(250), 10) + hold(t, 33, celsius(230), celsius(250), 10)
	near(t, "F of Ex. 9.12-1", f, nil, 2.68, 0.01)
	near(t, "F of Ex. 9.12-1, exact", f, nil, 2.6752, 5e-5)
	f = hold(t, 20, 71.1, 121.1, 10) + hold(t, 20, 98.9, 121.1, 10) + hold(t, 33, 110, 121.1, 10)
	near(t, "F of Ex. 9.12-1 in rounded C", f, nil, 2.6823, 5e-5)

	// Geankoplis, Ex. 9.12-3, p. 576: F 9.0 min and D 0.6 min at 150 F leave 1 in 1e15.
	reductions, err := LogReductions(9.0, 0.6)
	near(t, "reductions of Ex. 9.12-3", reductions, err, 15, 1e-12)
	// Twelve reductions of D 0.21 min, as texts on canning print it: 2.52 min.
	reductions, err = LogReductions(2.52, 0.21)
	near(t, "reductions of 2.52 min", reductions, err, 12, 1e-12)

	// Arithmetic of equal lethality, worked out apart.
	near(t, "15 min at 85 C in minutes at 102 C", hold(t, 15, 85, 102, 8.7), nil, 0.16675, 1e-5)
	near(t, "35 min at 100 C in minutes at 93.3 C", hold(t, 35, 100, 93.3, 8.89), nil, 198.483, 0.001)
	// A question of a food-engineering course: 15 min at 111 C, z 10 C.
	near(t, "15 min at 111 C in minutes at 121 C", hold(t, 15, 111, 121, 10), nil, 1.5, 1e-12)
}

// TestLethalityOfHeating: the closed form in high precision (mpmath). The gaps are
// those at the end of each heating, which Ball's formula must turn back into minutes.
func TestLethalityOfHeating(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ fh, j, bath, start, minutes, ref, z, f, gap float64 }{
		{30, 2.04, 100, 60, 60, 93.3, 8.89, 87.015962, 0.816000},
		{30, 2.04, 100, 85, 40, 93.3, 8.89, 56.107481, 1.420326},
		{50, 2.04, 100, 85, 40, 93.3, 8.89, 17.852629, 4.849773},
		{40, 1.41, 115.6, 71.1, 60, 121.1, 10, 3.0144885, 1.984171},
	} {
		got, err := LethalityOfHeating(row.fh, row.j, row.bath, row.start, row.minutes, row.ref, row.z)
		near(t, "F of the heating", got, err, row.f, 1e-6*row.f)
		minutes, err := BallMinutes(row.fh, row.j, row.bath-row.start, row.gap)
		near(t, "minutes to the gap", minutes, err, row.minutes, 1e-4)

		// The same curve as a record of 4001 readings.
		var curve []Reading
		for i := range 4001 {
			m := row.minutes * float64(i) / 4000
			curve = append(curve, Reading{m, row.bath - row.j*(row.bath-row.start)*math.Pow(10, -m/row.fh)})
		}
		read, err := LethalityOfCurve(curve, row.ref, row.z)
		near(t, "F of the readings", read, err, row.f, 2e-6*row.f)
	}
	if f, err := LethalityOfHeating(30, 2, 100, 60, 0, 93.3, 8.89); f != 0 || err != nil {
		t.Errorf("F of no heating is %v, %v; want 0", f, err)
	}
	// After a hundred fh it is all but an isothermal hold.
	long, errLong := LethalityOfHeating(1, 1, 100, 60, 100, 93.3, 8.89)
	short, errShort := LethalityOfHeating(1, 1, 100, 60, 90, 93.3, 8.89)
	if errLong != nil || errShort != nil {
		t.Fatal(errLong, errShort)
	}
	near(t, "F of the last 10 min", long-short, nil, hold(t, 10, 100, 93.3, 8.89), 1e-6)
}

// TestBallMinutes: Ball's formula, worked out apart.
func TestBallMinutes(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ fh, j, ih, g, want float64 }{
		{50, 1.4, 80, 5, 67.5124},
		{30, 2.04, 40, 1, 57.3507},
		{22, 1.6, 150, 2.5, 43.6100},
	} {
		got, err := BallMinutes(row.fh, row.j, row.ih, row.g)
		near(t, "minutes", got, err, row.want, 5e-5)
	}
}

// Decimal reduction times of Clostridium botulinum A16037 at 115.6, 110.0 and 104.4 C
// in tomato juice of pH 4.2, z 9.4 C, and in phosphate buffer of pH 7, z 9.9 C: Odlaug
// and Pflug, Appl. Environ. Microbiol. 34 (1977) 23.
var (
	odlaugTemps  = []float64{115.6, 110.0, 104.4}
	odlaugJuice  = []float64{0.4, 1.6, 6.0}
	odlaugBuffer = []float64{1.3, 4.4, 17.6}
)

func TestFitZ(t *testing.T) {
	t.Parallel()
	juice, err := FitZ(odlaugTemps, odlaugJuice)
	near(t, "z in juice as printed", juice, err, 9.4, 0.2)
	near(t, "z in juice by regression", juice, err, 9.52, 0.005)
	buffer, err := FitZ(odlaugTemps, odlaugBuffer)
	near(t, "z in buffer", buffer, err, 9.9, 0.05)
	near(t, "z in buffer by regression", buffer, err, 9.90, 0.005)
	// Byssochlamys fulva in apple juice, J. Appl. Microbiol., doi
	// 10.1111/j.1365-2672.2009.04195.x; the regression was worked out apart.
	fulva, err := FitZ([]float64{85, 90, 92, 95}, []float64{42.98, 8.10, 3.62, 1.81})
	near(t, "z of B. fulva", fulva, err, 7.12, 0.005)
}

// TestDecimalReduction goes from the printed D at 115.6 C by the printed z to the other
// printed ones, which lie a little off the line.
func TestDecimalReduction(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		printed []float64
		z       float64
	}{{odlaugJuice, 9.4}, {odlaugBuffer, 9.9}} {
		for i, tempC := range odlaugTemps {
			got, err := DecimalReduction(row.printed[0], 115.6, row.z, tempC)
			near(t, "D", got, err, row.printed[i], 0.1*row.printed[i])
		}
	}
}

// TestZFromActivation: activation energies of tomato pectin methylesterase and
// polygalacturonase, 350.1 and 134.5 kJ/mol (Crelier et al. 2001); the z were worked
// out apart.
func TestZFromActivation(t *testing.T) {
	t.Parallel()
	z, err := ZFromActivation(350.1, 70)
	near(t, "z of pectin methylesterase", z, err, 6.44, 0.005)
	z, err = ZFromActivation(134.5, 85)
	near(t, "z of polygalacturonase", z, err, 18.26, 0.005)
}

// TestCoolingShare: Willmore, Etzel, Andress and Ingham, Food Prot. Trends 35 (2015)
// 150, found that cooling gave 48 to 95 % of the whole lethality at 180 F (82.2 C)
// in home-canned acid foods, followed down to 54 C, and that fh was below fc for every
// one. The single values come from an independent finite-volume computation on a
// coarse grid, good to 1 %; the minutes of heating are round figures and no process.
func TestCoolingShare(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		name    string
		jar     Cylinder
		minutes float64
		percent map[float64][2]float64 // by the start: in air of U 8, and of U 12
	}{
		{"half-pint", halfPint, 10, map[float64][2]float64{80: {93.4, 91.2}, 90: {82.7, 79.2}}},
		{"pint", pint, 20, map[float64][2]float64{80: {92.2, 89.9}, 90: {78.5, 74.7}}},
		{"pint", pint, 35, map[float64][2]float64{80: {86.9, 84.0}, 90: {70.0, 65.9}}},
		{"quart", quart, 40, map[float64][2]float64{80: {88.7, 86.0}, 90: {72.3, 68.3}}},
	} {
		for startC, percents := range row.percent {
			for i, u := range []float64{8, 12} {
				h := mustHeat(t, row.jar, startC, Surroundings{100, 350})
				c := mustCool(t, h, row.minutes, Surroundings{22, u})
				share, err := c.CoolingShare(82.2, 8.89, 54)
				near(t, "cooling share of the "+row.name, 100*share, err, percents[i], 1)
				if share < 0.48 || share > 0.95 {
					t.Errorf("cooling share of the %s is %v; measured are 0.48 to 0.95", row.name, share)
				}
				if c.FCMinutes() <= h.FHMinutes() {
					t.Errorf("%s: fc %v is not above fh %v", row.name, c.FCMinutes(), h.FHMinutes())
				}
			}
		}
	}
}

// TestCoolingShareOfTheCurve integrates the lethality of the drawn curve instead.
func TestCoolingShareOfTheCurve(t *testing.T) {
	t.Parallel()
	for _, minutes := range []float64{0.5, 10, 40, 400} {
		c := mustCool(t, mustHeat(t, pint, 60, Surroundings{100, 350}), minutes, Surroundings{22, 10})
		stop := 54.0
		share, err := c.CoolingShare(90, 7, stop)
		if err != nil {
			t.Fatal(err)
		}
		curve, err := c.Curve(500, 9001)
		if err != nil {
			t.Fatal(err)
		}
		var heating, cooling []Reading
		for _, p := range curve {
			r := Reading{p.Minutes, p.CenterC}
			if p.Minutes <= minutes {
				heating = append(heating, r)
			}
			if p.Minutes >= minutes && p.CenterC >= stop {
				cooling = append(cooling, r)
			}
		}
		before, err := LethalityOfCurve(heating, 90, 7)
		if err != nil {
			t.Fatal(err)
		}
		after, err := LethalityOfCurve(cooling, 90, 7)
		near(t, "cooling share", share, err, after/(before+after), 1e-5)
	}
}

func TestCoolingShareRefuses(t *testing.T) {
	t.Parallel()
	c := mustCool(t, mustHeat(t, pint, 20, Surroundings{100, 350}), 2, Surroundings{15, 10})
	if _, err := c.CoolingShare(82.2, 8.89, 95); err == nil || !strings.Contains(err.Error(), "never comes up to the stop temperature of 95 C") {
		t.Errorf("a stop that is never reached: %v", err)
	}
	for _, v := range []float64{math.NaN(), math.Inf(1), math.Inf(-1), -51, 201} {
		for name, try := range map[string]func() (float64, error){
			"reference": func() (float64, error) { return c.CoolingShare(v, 8.89, 18) },
			"z":         func() (float64, error) { return c.CoolingShare(82.2, v, 18) },
			"stop":      func() (float64, error) { return c.CoolingShare(82.2, 8.89, v) },
		} {
			if _, err := try(); !rangeError(err) {
				t.Errorf("%s of %v: %v; want a RangeError", name, v, err)
			}
		}
	}
	for _, stopC := range []float64{15, 15.05, 100.1} { // at the air, hardly above it, above the bath
		if _, err := c.CoolingShare(82.2, 8.89, stopC); !rangeError(err) {
			t.Errorf("stop at %v C: %v; want a RangeError", stopC, err)
		}
	}
	for name, c := range map[string]*Cooling{
		"hot start": mustCool(t, mustHeat(t, pint, 300, Surroundings{100, 350}), 20, Surroundings{22, 8}),
		"hot bath":  mustCool(t, mustHeat(t, pint, 80, Surroundings{300, 350}), 20, Surroundings{22, 8}),
		"hot air":   mustCool(t, mustHeat(t, pint, 80, Surroundings{100, 350}), 20, Surroundings{250, 8}),
	} {
		if _, err := c.CoolingShare(82.2, 8.89, 54); !rangeError(err) {
			t.Errorf("%s: %v; want a RangeError", name, err)
		}
	}
}

func TestCurveNamesTheOffendingReading(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name  string
		curve []Reading
		want  string
	}{
		{"none", nil, "0 readings"},
		{"one", []Reading{{0, 80}}, "1 readings"},
		{"same time", []Reading{{0, 80}, {5, 90}, {5, 91}}, "reading 3: 5 min does not come after the 5 min"},
		{"out of order", []Reading{{0, 80}, {5, 90}, {4, 91}, {6, 92}}, "reading 3: 4 min does not come after the 5 min"},
		{"before zero", []Reading{{-1, 80}, {5, 90}}, "reading 1: time: -1 min"},
		{"too hot", []Reading{{0, 80}, {1, 201}}, "reading 2: temperature: 201 °C"},
		{"not a number", []Reading{{0, 80}, {1, 90}, {2, math.NaN()}}, "reading 3: temperature"},
		{"not a time", []Reading{{0, 80}, {math.NaN(), 90}, {2, 95}}, "reading 2: time"},
		{"never", []Reading{{0, 80}, {math.Inf(1), 90}}, "reading 2: time"},
	} {
		f, err := LethalityOfCurve(tc.curve, 93.3, 8.89)
		if err == nil || !strings.Contains(err.Error(), tc.want) || f != 0 {
			t.Errorf("%s: %v, %v; want an error with %q", tc.name, f, err, tc.want)
		}
	}
}

func TestLethalityRefuses(t *testing.T) {
	t.Parallel()
	type try func(v float64) (float64, error)
	curve := []Reading{{0, 80}, {10, 95}}
	for _, tc := range []struct {
		name      string
		low, high float64 // just outside
		try       try
	}{
		{"rate, temperature", -51, 201, func(v float64) (float64, error) { return LethalRate(v, 100, 10) }},
		{"rate, reference", -51, 201, func(v float64) (float64, error) { return LethalRate(100, v, 10) }},
		{"rate, z", 0.9, 101, func(v float64) (float64, error) { return LethalRate(100, 100, v) }},
		{"curve, reference", -51, 201, func(v float64) (float64, error) { return LethalityOfCurve(curve, v, 10) }},
		{"curve, z", 0, 101, func(v float64) (float64, error) { return LethalityOfCurve(curve, 100, v) }},
		{"heating, fh", 0.09, 1.1e5, func(v float64) (float64, error) { return LethalityOfHeating(v, 2, 100, 60, 5, 93, 9) }},
		{"heating, j", 0.09, 5.1, func(v float64) (float64, error) { return LethalityOfHeating(30, v, 100, 60, 5, 93, 9) }},
		{"heating, bath", 60.05, 201, func(v float64) (float64, error) { return LethalityOfHeating(30, 2, v, 60, 5, 93, 9) }},
		{"heating, start", -51, 99.95, func(v float64) (float64, error) { return LethalityOfHeating(30, 2, 100, v, 5, 93, 9) }},
		{"heating, minutes", -1, 3001, func(v float64) (float64, error) { return LethalityOfHeating(30, 2, 100, 60, v, 93, 9) }},
		{"heating, reference", -51, 201, func(v float64) (float64, error) { return LethalityOfHeating(30, 2, 100, 60, 5, v, 9) }},
		{"heating, z", -10, 101, func(v float64) (float64, error) { return LethalityOfHeating(30, 2, 100, 60, 5, 93, v) }},
		{"reductions, F", -1, 1.1e9, func(v float64) (float64, error) { return LogReductions(v, 1) }},
		{"reductions, D", 0, 1.1e6, func(v float64) (float64, error) { return LogReductions(1, v) }},
		{"D, reference D", 0, 1.1e6, func(v float64) (float64, error) { return DecimalReduction(v, 100, 10, 90) }},
		{"D, reference", -51, 201, func(v float64) (float64, error) { return DecimalReduction(1, v, 10, 90) }},
		{"D, z", 0, 101, func(v float64) (float64, error) { return DecimalReduction(1, 100, v, 90) }},
		{"D, temperature", -51, 201, func(v float64) (float64, error) { return DecimalReduction(1, 100, 10, v) }},
		{"z, energy", 9, 1001, func(v float64) (float64, error) { return ZFromActivation(v, 90) }},
		{"z, temperature", -51, 201, func(v float64) (float64, error) { return ZFromActivation(100, v) }},
		{"Ball, fh", 0, 1.1e5, func(v float64) (float64, error) { return BallMinutes(v, 2, 40, 1) }},
		{"Ball, j", 0, 5.1, func(v float64) (float64, error) { return BallMinutes(30, v, 40, 1) }},
		{"Ball, first gap", 0, 251, func(v float64) (float64, error) { return BallMinutes(30, 2, v, 1) }},
		{"Ball, last gap", 0, 80.1, func(v float64) (float64, error) { return BallMinutes(30, 2, 40, v) }},
		{"fit, temperature", -51, 201, func(v float64) (float64, error) { return FitZ([]float64{v, 110}, []float64{1, 2}) }},
		{"fit, D", 0, 1.1e6, func(v float64) (float64, error) { return FitZ([]float64{100, 110}, []float64{v, 2}) }},
	} {
		for _, v := range []float64{tc.low, tc.high, math.NaN(), math.Inf(1), math.Inf(-1)} {
			if got, err := tc.try(v); !rangeError(err) || got != 0 {
				t.Errorf("%s of %v: %v, %v; want a RangeError and 0", tc.name, v, got, err)
			}
		}
	}
	for _, tc := range []struct {
		name           string
		temps, minutes []float64
		want           string
	}{
		{"one each", []float64{100, 110}, []float64{1}, "give one for each"},
		{"none", nil, nil, "give 2 or more"},
		{"one point", []float64{100}, []float64{1}, "give 2 or more"},
		{"one temperature", []float64{100, 100, 100}, []float64{1, 2, 3}, "all points are at 100 C"},
		{"rising", []float64{100, 110}, []float64{1, 10}, "do not fall"},
		{"level", []float64{100, 110}, []float64{1, 1}, "do not fall"},
		{"third point", []float64{100, 110, 120}, []float64{1, 0.1, 0}, "point 3"},
	} {
		if z, err := FitZ(tc.temps, tc.minutes); err == nil || !strings.Contains(err.Error(), tc.want) || z != 0 {
			t.Errorf("%s: %v, %v; want an error with %q", tc.name, z, err, tc.want)
		}
	}
}

// drawCurve draws a record of two readings or more.
func drawCurve(t *rapid.T) []Reading {
	steps := rapid.SliceOfN(rapid.Float64Range(0.01, 30), 2, 30).Draw(t, "minutes from reading to reading")
	var curve []Reading
	minutes := 0.0
	for _, step := range steps {
		minutes += step
		curve = append(curve, Reading{minutes, rapid.Float64Range(20, 125).Draw(t, "temperature")})
	}
	return curve
}

func TestLethalityProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		curve := drawCurve(t)
		refC := rapid.Float64Range(60, 125).Draw(t, "reference")
		zC := rapid.Float64Range(4, 30).Draw(t, "z")
		lethality := func(curve []Reading) float64 {
			f, err := LethalityOfCurve(curve, refC, zC)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		whole := lethality(curve)

		// The bounds are those of the warmest and the coldest reading, held.
		low, high := math.Inf(1), 0.0
		for _, r := range curve {
			rate, err := LethalRate(r.TempC, refC, zC)
			if err != nil {
				t.Fatal(err)
			}
			low, high = min(low, rate), max(high, rate)
		}
		minutes := curve[len(curve)-1].Minutes - curve[0].Minutes
		if whole < minutes*low*(1-1e-12) || whole > minutes*high*(1+1e-12) {
			t.Fatalf("F %v is not from %v to %v", whole, minutes*low, minutes*high)
		}

		// Split at a reading, the parts add up.
		if len(curve) > 2 {
			at := rapid.IntRange(1, len(curve)-2).Draw(t, "split")
			if sum := lethality(curve[:at+1]) + lethality(curve[at:]); math.Abs(sum/whole-1) > 1e-12 {
				t.Fatalf("split at reading %d F is %v; whole it is %v", at+1, sum, whole)
			}
			if lethality(curve[:at+1]) >= whole*(1+1e-12) {
				t.Fatalf("F does not rise with time")
			}
		}

		// One more reading on the straight line changes nothing.
		share := rapid.Float64Range(0.01, 0.99).Draw(t, "share")
		a, b := curve[0], curve[1]
		between := Reading{a.Minutes + share*(b.Minutes-a.Minutes), a.TempC + share*(b.TempC-a.TempC)}
		if finer := lethality(append([]Reading{a, between}, curve[1:]...)); math.Abs(finer/whole-1) > 1e-10 {
			t.Fatalf("with a reading between F is %v; without %v", finer, whole)
		}

		warmer := make([]Reading, len(curve))
		warming := rapid.Float64Range(0.1, 50).Draw(t, "warming")
		for i, r := range curve {
			warmer[i] = Reading{r.Minutes, r.TempC + warming}
		}
		if got, want := lethality(warmer), whole*math.Pow(10, warming/zC); math.Abs(got/want-1) > 1e-10 {
			t.Fatalf("%v C warmer F goes from %v to %v; want %v", warming, whole, got, want)
		}
	})
}

func TestLethalityOfHeatingProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		fh := rapid.Float64Range(5, 200).Draw(t, "fh")
		j := rapid.Float64Range(0.5, 3).Draw(t, "j")
		bath := rapid.Float64Range(80, 125).Draw(t, "bath")
		start := rapid.Float64Range(5, 79).Draw(t, "start")
		minutes := fh * rapid.Float64Range(0.5, 3).Draw(t, "minutes over fh")
		z := rapid.Float64Range(4, 30).Draw(t, "z")
		f := func(bath, start, minutes float64) float64 {
			f, err := LethalityOfHeating(fh, j, bath, start, minutes, bath, z)
			if err != nil {
				t.Fatal(err)
			}
			return f
		}
		base := f(bath, start, minutes)
		if base < 0 || base > minutes {
			t.Fatalf("F at the temperature of the bath is %v in %v min", base, minutes)
		}
		if longer := f(bath, start, 1.1*minutes); longer <= base {
			t.Fatalf("longer, F goes from %v to %v", base, longer)
		}
		if warmer := f(bath, start+0.5, minutes); warmer <= base {
			t.Fatalf("from a warmer start F goes from %v to %v", base, warmer)
		}
	})
}

func BenchmarkLethalityOfCurve(b *testing.B) {
	var curve []Reading
	for i := range 200 {
		m := float64(i) / 2
		curve = append(curve, Reading{m, 100 - 40*math.Pow(10, -m/50)})
	}
	b.ReportAllocs()
	for b.Loop() {
		if _, err := LethalityOfCurve(curve, 93.3, 8.89); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCoolingShare(b *testing.B) {
	c := mustCool(b, mustHeat(b, pint, 80, Surroundings{100, 350}), 20, Surroundings{22, 8})
	b.ReportAllocs()
	for b.Loop() {
		if _, err := c.CoolingShare(82.2, 8.89, 54); err != nil {
			b.Fatal(err)
		}
	}
}
