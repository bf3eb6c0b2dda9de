package physics

import (
	"errors"
	"math"
	"testing"

	"pgregory.net/rapid"
)

var surfaceHeld = math.Inf(1)

// Inner sizes for teaching, round numbers and not measured jars; the food is near
// tomato (see TestMixtures).
var (
	halfPint = Cylinder{RadiusMM: 33, HalfHeightMM: 40, AlphaM2S: 1.5e-7, KWMK: 0.6}
	pint     = Cylinder{RadiusMM: 38, HalfHeightMM: 54, AlphaM2S: 1.5e-7, KWMK: 0.6}
	quart    = Cylinder{RadiusMM: 45, HalfHeightMM: 72, AlphaM2S: 1.5e-7, KWMK: 0.6}
)

func mustHeat(t testing.TB, c Cylinder, startC float64, bath Surroundings) *Heating {
	t.Helper()
	h, err := NewHeating(c, startC, bath)
	if err != nil {
		t.Fatal(err)
	}
	return h
}

func mustCool(t testing.TB, h *Heating, minutes float64, air Surroundings) *Cooling {
	t.Helper()
	c, err := h.Cool(minutes, air)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

// near checks a result with its error.
func near(t *testing.T, what string, got float64, err error, want, tolerance float64) {
	t.Helper()
	if err != nil {
		t.Errorf("%s: %v", what, err)
		return
	}
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s is %.8g; want %.8g within %.2g", what, got, want, tolerance)
	}
}

// TestBesselZeros: Abramowitz and Stegun, Handbook of Mathematical Functions, Table
// 9.5 (the digits from memory, and recomputed in high precision).
func TestBesselZeros(t *testing.T) {
	t.Parallel()
	for i, want := range []float64{2.40482556, 5.52007811, 8.65372791, 11.7915344, 14.9309177} {
		near(t, "zero of J0", besselZero(i+1), nil, want, 6e-8)
	}
}

// TestOneTermCoefficients: the table of one-term coefficients that textbooks print
// (Incropera et al., Fundamentals of Heat and Mass Transfer, Table 5.1), recomputed in
// high precision to one more digit.
func TestOneTermCoefficients(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ biot, slabZ, slabC, cylinderZ, cylinderC float64 }{
		{0.01, 0.09983, 1.00166, 0.14124, 1.00250},
		{0.1, 0.31105, 1.01609, 0.44168, 1.02458},
		{0.5, 0.65327, 1.07013, 0.94077, 1.11425},
		{1, 0.86033, 1.11913, 1.25578, 1.20709},
		{2, 1.07687, 1.17846, 1.59945, 1.33838},
		{5, 1.31384, 1.24025, 1.98981, 1.50287},
		{10, 1.42887, 1.26196, 2.17950, 1.56769},
		{20, 1.49613, 1.26992, 2.28805, 1.59194},
		{30, 1.52017, 1.27168, 2.32614, 1.59729},
		{50, 1.54001, 1.27265, 2.35724, 1.60022},
		{100, 1.55525, 1.27309, 2.38090, 1.60152},
		{surfaceHeld, 1.57080, 1.27324, 2.40483, 1.60197},
	} {
		slab, round := slabModes(1, row.biot), cylinderModes(1, row.biot)
		near(t, "z1 of the slab", slab[0].root, nil, row.slabZ, 1e-5)
		near(t, "C1 of the slab", uniformStart(slab)[0], nil, row.slabC, 1e-5)
		near(t, "z1 of the cylinder", round[0].root, nil, row.cylinderZ, 1e-5)
		near(t, "C1 of the cylinder", uniformStart(round)[0], nil, row.cylinderC, 1e-5)
	}
	// Incropera et al., Ex. 5.4, p. 278, which interpolates in that table.
	slab := slabModes(1, 0.313)
	near(t, "z1 at Bi 0.313", slab[0].root, nil, 0.531, 1e-3)
	near(t, "C1 at Bi 0.313", uniformStart(slab)[0], nil, 1.047, 1e-3)
}

// axesByFourier gives axes whose time is the Fourier number.
func axesByFourier(biot float64) (slab, round heatAxis) {
	slab, round = Cylinder{RadiusMM: 1000, HalfHeightMM: 1000, AlphaM2S: 1.0 / 60, KWMK: 1}.axes(biot)
	return slab, round
}

// TestSurfaceHeld: the series for a surface at a fixed temperature, summed in high
// precision (mpmath, 15 digits).
func TestSurfaceHeld(t *testing.T) {
	t.Parallel()
	slab, round := axesByFourier(surfaceHeld)
	for _, row := range []struct{ fourier, slabCenter, roundCenter, slabMean, roundMean float64 }{
		{0.02, 0.99999885, 0.99999269, 0.840423, 0.701436},
		{0.05, 0.9968692, 0.9870992, 0.747687, 0.547879},
		{0.1, 0.9493054, 0.8483551, 0.643177, 0.394176},
		{0.2, 0.7723116, 0.5014869, 0.495912, 0.217852},
		{0.3, 0.6068038, 0.2824871, 0.386764, 0.122028},
		{0.5, 0.3707774, 0.0888897, 0.236050, 0.038379},
		{0.8, 0.1768671, 0.0156809, 0.112597, 0.006770},
		{1.0, 0.1079770, 0.0049323, 0.068740, 0.002130},
		{1.5, 0.0314443, 0.0002737, 0.020018, 0.000118},
	} {
		center, mean := slab.decay(row.fourier, slab.uniform)
		near(t, "center of the slab", center, nil, row.slabCenter, 1e-7)
		near(t, "mean of the slab", mean, nil, row.slabMean, 1e-6)
		center, mean = round.decay(row.fourier, round.uniform)
		near(t, "center of the cylinder", center, nil, row.roundCenter, 1e-7)
		near(t, "mean of the cylinder", mean, nil, row.roundMean, 1e-6)
	}
}

// TestShortTimes compares the long series with the solutions for short times, which
// share nothing with it: the half-space with a convective surface (Carslaw and Jaeger,
// Conduction of Heat in Solids, 2nd ed., section 2.7, from memory), and for the mean of
// the cylinder the expansion of Crank, The Mathematics of Diffusion, 2nd ed., eq. 5.25
// (from memory).
func TestShortTimes(t *testing.T) {
	t.Parallel()
	for _, fourier := range []float64{shortestFourier, 2e-4, 0.001, 0.005} {
		root := math.Sqrt(fourier)
		for _, biot := range []float64{0.5, 20, 200, surfaceHeld} {
			slab, _ := axesByFourier(biot)
			for _, depth := range []float64{0, 0.5 * root, 2 * root, 0.3, 1} {
				eta := depth / (2 * root)
				want := math.Erf(eta)
				if inner := eta + biot*root; inner < 20 { // beyond it exp overflows and the term is nothing
					want += math.Exp(biot*depth+biot*biot*fourier) * math.Erfc(inner)
				}
				near(t, "slab at a short time", slab.at(1-depth, fourier), nil, want, 2e-9)
			}
		}
		slab, round := axesByFourier(surfaceHeld)
		_, mean := slab.decay(fourier, slab.uniform)
		near(t, "mean of the slab at a short time", mean, nil, 1-2*root/math.Sqrt(math.Pi), 1e-9)
		_, mean = round.decay(fourier, round.uniform)
		want := 1 - 4*root/math.Sqrt(math.Pi) + fourier + fourier*root/(3*math.Sqrt(math.Pi))
		near(t, "mean of the cylinder at a short time", mean, nil, want, fourier*fourier)
	}
}

// TestTextbookHeating: worked examples as printed, most of them read from charts and
// so off by degrees, and the exact series for the same figures, summed in high
// precision.
func TestTextbookHeating(t *testing.T) {
	t.Parallel()
	can := Cylinder{RadiusMM: 34.05, HalfHeightMM: 50.8, AlphaM2S: 2.007e-7, KWMK: 0.830}
	longCan := can
	longCan.HalfHeightMM = 1000
	shaft := Cylinder{RadiusMM: 100, HalfHeightMM: 1000, AlphaM2S: 3.95e-6, KWMK: 14.9}
	aluminum := Cylinder{RadiusMM: 25, HalfHeightMM: 50, AlphaM2S: 8.4e-5, KWMK: 215}
	sausage := Cylinder{RadiusMM: 50, HalfHeightMM: 150, AlphaM2S: 0.48 / (1070 * 3350), KWMK: 0.48}
	for _, tc := range []struct {
		source                    string
		cylinder                  Cylinder
		startC                    float64
		bath                      Surroundings
		minutes, radius, height   float64
		printed, printedTolerance float64
		exact                     float64
	}{
		{
			"pea puree as a long cylinder: Geankoplis, Transport Processes and Unit Operations, Ex. 5.3-3, p. 342",
			longCan, 29.4,
			Surroundings{115.6, 4540},
			45, 0, 0, 104.4, 2, 106.08,
		},
		{
			"the same can, 101.6 mm high: Geankoplis, Ex. 5.3-4, p. 347",
			can, 29.4,
			Surroundings{115.6, 4540},
			45, 0, 0, 106.6, 2, 108.39,
		},
		{
			"the same can with its surface held, exact column only",
			can, 29.4,
			Surroundings{115.6, surfaceHeld},
			45, 0, 0, 108.62, 0.01, 108.62,
		},
		{
			"off the center of an aluminum cylinder: Holman, Heat Transfer, Ex. 4.9",
			aluminum, 200,
			Surroundings{70, 525},
			1, 12.5, 50 - 6.25, 104.5, 4, 108.19,
		},
		{
			"long shaft: Cengel, Heat and Mass Transfer, Ex. 4.5",
			shaft, 600,
			Surroundings{200, 80},
			45, 0, 0, 360, 5, 364.30,
		},
		{
			"sausage in an autoclave: Earle, Unit Operations in Food Processing (the answer from memory)",
			sausage, 21,
			Surroundings{116, 1200},
			120, 0, 0, 100, 1.5, 99.08,
		},
	} {
		h := mustHeat(t, tc.cylinder, tc.startC, tc.bath)
		got, err := h.PointC(tc.minutes, tc.radius, tc.height)
		near(t, tc.source, got, err, tc.printed, tc.printedTolerance)
		near(t, tc.source+", exact", got, err, tc.exact, 0.01)
	}

	// Holman, Ex. 4.10: heat lost in Ex. 4.9, 40.2 kJ from charts, 43.39 kJ exact
	// (density 2707 kg/m3, heat capacity 896 J/(kg K)).
	share, err := mustHeat(t, aluminum, 200, Surroundings{70, 525}).HeatShare(1)
	near(t, "share of the heat lost", share, err, 0.7008, 1e-4)
	lostKJ := share * 2.707 * 896 * (math.Pi * 0.025 * 0.025 * 0.1) * 130
	near(t, "heat lost, kJ", lostKJ, nil, 40.2, 0.09*40.2)
	near(t, "heat lost, exact, kJ", lostKJ, nil, 43.39, 0.02)
}

// TestHeatingOfJars: fh and j summed in high precision for teaching sizes of jars.
func TestHeatingOfJars(t *testing.T) {
	t.Parallel()
	for _, row := range []struct {
		jar                  Cylinder
		held, fhMin, jBath   float64
		fInStillAir, jOfCold float64
	}{
		{halfPint, 37.33, 41.22, 2.022, 209.4, 1.224},
		{pint, 52.74, 57.42, 2.027, 259.2, 1.267},
		{quart, 76.79, 82.50, 2.031, 327.7, 1.320},
	} {
		near(t, "fh, surface held", mustHeat(t, row.jar, 85, Surroundings{100, surfaceHeld}).FHMinutes(), nil, row.held, 0.001*row.held)
		bath := mustHeat(t, row.jar, 85, Surroundings{100, 350})
		near(t, "fh in boiling water", bath.FHMinutes(), nil, row.fhMin, 0.001*row.fhMin)
		near(t, "j in boiling water", bath.J(), nil, row.jBath, 0.001*row.jBath)
		air := mustHeat(t, row.jar, 85, Surroundings{22, 10})
		near(t, "f in still air", air.FHMinutes(), nil, row.fInStillAir, 0.001*row.fInStillAir)
		near(t, "j in still air", air.J(), nil, row.jOfCold, 0.001*row.jOfCold)
		near(t, "fc in still air", mustCool(t, bath, 20, Surroundings{22, 10}).FCMinutes(), nil, row.fInStillAir, 0.001*row.fInStillAir)
	}
	for alpha, want := range map[float64]float64{1.4e-7: 56.51, 1.6e-7: 49.44} {
		jar := pint
		jar.AlphaM2S = alpha
		near(t, "fh of the pint", mustHeat(t, jar, 85, Surroundings{100, surfaceHeld}).FHMinutes(), nil, want, 0.001*want)
	}

	for _, tc := range []struct {
		jar     Cylinder
		centers map[float64]float64
	}{
		{pint, map[float64]float64{10: 85.52, 20: 88.77, 30: 92.23, 40: 94.83, 60: 97.79}},
		{quart, map[float64]float64{10: 85.10, 20: 86.68, 30: 89.20, 40: 91.60, 60: 95.16}},
	} {
		h := mustHeat(t, tc.jar, 85, Surroundings{100, surfaceHeld})
		for minutes, want := range tc.centers {
			got, err := h.CenterC(minutes)
			near(t, "center of the jar", got, err, want, 0.006)
		}
	}
}

// TestFHOfBall: the long cylinder of Ball and Olson, fh = 0.398 R^2/alpha and j = 1.6,
// as given by Drusas and Saravacos, J. Food Eng. 4 (1985) 157, eqs 4 and 5. For the
// finite cylinder it is 0.427/L^2 beside 1/R^2, where L is the half height; the digits
// here are computed in high precision.
func TestFHOfBall(t *testing.T) {
	t.Parallel()
	slab, round := axesByFourier(surfaceHeld)
	near(t, "fh alpha/R^2 of a long cylinder", math.Ln10/(round.modes[0].root*round.modes[0].root), nil, 0.398, 0.0005)
	near(t, "j of a long cylinder", round.uniform[0], nil, 1.6, 0.005)
	near(t, "slab against cylinder", math.Pow(slab.modes[0].root/round.modes[0].root, 2), nil, 0.427, 0.0005)

	radius, half := 0.038, 0.054
	want := 0.39815 / (1.5e-7 * (1/(radius*radius) + 0.42665/(half*half))) / 60
	h := mustHeat(t, pint, 85, Surroundings{100, surfaceHeld})
	near(t, "fh of the pint", h.FHMinutes(), nil, want, 2e-5*want)
	near(t, "j of the pint", h.J(), nil, 2.0397, 5e-5)
}

// TestLateHeatingIsLogLinear draws the line of fh and j through the late curve.
func TestLateHeatingIsLogLinear(t *testing.T) {
	t.Parallel()
	h := mustHeat(t, quart, 60, Surroundings{100, 350})
	got, err := h.CenterC(350)
	near(t, "late center", got, err, 100-h.J()*40*math.Pow(10, -350/h.FHMinutes()), 1e-7)
	c := mustCool(t, h, 60, Surroundings{22, 10})
	early, errEarly := c.CenterC(1000)
	late, errLate := c.CenterC(1000 + c.FCMinutes())
	near(t, "gap to the air an fc later", (late-22)/(early-22), errors.Join(errEarly, errLate), 0.1, 1e-9)
}

// TestOvershoot: the center goes on warming for a quarter of an hour after removal.
// The figures come from an independent two-dimensional finite-volume computation on a
// coarse grid.
func TestOvershoot(t *testing.T) {
	t.Parallel()
	c := mustCool(t, mustHeat(t, pint, 80, Surroundings{100, 350}), 20, Surroundings{22, 8})
	atRemoval, err := c.CenterC(0)
	near(t, "center at removal", atRemoval, err, 84.26, 0.2)
	peak, peakMinutes := 0.0, 0.0
	for minutes := 0.5; minutes < 60; minutes += 0.5 {
		center, err := c.CenterC(minutes)
		if err != nil {
			t.Fatal(err)
		}
		if center > peak {
			peak, peakMinutes = center, minutes
		}
	}
	near(t, "peak of the center", peak, nil, 89.46, 0.2)
	near(t, "minutes from removal to the peak", peakMinutes, nil, 17, 1)
}

// TestCoolingIntoTheSameBath is a heating that goes on.
func TestCoolingIntoTheSameBath(t *testing.T) {
	t.Parallel()
	for _, u := range []float64{8, 350, surfaceHeld} {
		bath := Surroundings{100, u}
		h := mustHeat(t, pint, 20, bath)
		for _, removal := range []float64{0.1, 5, 40} {
			c := mustCool(t, h, removal, bath)
			for _, after := range []float64{0, 0.1, 3, 30, 300} {
				want, errWant := h.CenterC(removal + after)
				got, err := c.CenterC(after)
				near(t, "center", got, errors.Join(err, errWant), want, 1e-7)
				want, errWant = h.MeanC(removal + after)
				got, err = c.MeanC(after)
				near(t, "mean", got, errors.Join(err, errWant), want, 1e-7)
			}
		}
	}
}

// TestCoolingIntoAlmostTheSameBath moves the cylinder between surroundings that differ by next to
// nothing, where the integrals of two modes with all but the same root are told apart
// from those of one.
func TestCoolingIntoAlmostTheSameBath(t *testing.T) {
	t.Parallel()
	h := mustHeat(t, pint, 20, Surroundings{100, 350})
	want, errWant := h.CenterC(30)
	for _, change := range []float64{1e-12, 1e-9, 1e-7, 1e-6, 1e-5} {
		got, err := mustCool(t, h, 10, Surroundings{100, 350 * (1 + change)}).CenterC(20)
		near(t, "center", got, errors.Join(err, errWant), want, 1e-7+20*change)
	}
}

// TestBeginning: at minute 0 nothing has happened, even where the surface is held at
// another temperature.
func TestBeginning(t *testing.T) {
	t.Parallel()
	for _, u := range []float64{350, surfaceHeld} {
		h := mustHeat(t, pint, 80, Surroundings{100, u})
		center, err := h.CenterC(0)
		near(t, "center", center, err, 80, 0)
		mean, err := h.MeanC(0)
		near(t, "mean", mean, err, 80, 0)
		edge, err := h.PointC(0, 38, 54)
		near(t, "edge", edge, err, 80, 0)
		share, err := h.HeatShare(0)
		near(t, "share of the heat", share, err, 0, 0)
	}
}

func TestCurves(t *testing.T) {
	t.Parallel()
	h := mustHeat(t, pint, 80, Surroundings{100, 350})
	heating, err := h.Curve(60, 121)
	if err != nil {
		t.Fatal(err)
	}
	if len(heating) != 121 || heating[0] != (CurvePoint{0, 80, 80}) {
		t.Errorf("the heating has %d points from %v; want 121 from 80 C at minute 0", len(heating), heating[0])
	}
	for _, p := range heating {
		center, errCenter := h.CenterC(p.Minutes)
		mean, errMean := h.MeanC(p.Minutes)
		near(t, "center of the curve", p.CenterC, errCenter, center, 0)
		near(t, "mean of the curve", p.MeanC, errMean, mean, 0)
	}

	c := mustCool(t, h, 20, Surroundings{22, 8})
	whole, err := c.Curve(100, 121)
	if err != nil {
		t.Fatal(err)
	}
	if len(whole) != 121 {
		t.Fatalf("the whole curve has %d points; want 121", len(whole))
	}
	for i, p := range whole {
		near(t, "minutes", p.Minutes, nil, float64(i), 1e-9)
		moment := h.CenterC
		if p.Minutes > 20 {
			moment = func(minutes float64) (float64, error) { return c.CenterC(minutes - 20) }
		}
		center, err := moment(p.Minutes)
		near(t, "center of the whole curve", p.CenterC, err, center, 1e-9)
	}
	// However uneven the two parts are, the removal is one of the points.
	for _, after := range []float64{0.5, 30, 3000} {
		whole, err := c.Curve(after, 5)
		if err != nil {
			t.Fatal(err)
		}
		removals := 0
		for _, p := range whole {
			if p.Minutes == 20 {
				removals++
			}
		}
		if removals != 1 || whole[4].Minutes != 20+after {
			t.Errorf("the curve to %v min after removal at 20 min is %v", after, whole)
		}
	}
}

// drawHeating draws the heating of a food, or a thing not far from food.
func drawHeating(t *rapid.T) (*Heating, Cylinder, float64, Surroundings) {
	c := Cylinder{
		RadiusMM: rapid.Float64Range(10, 120).Draw(t, "radius"),
		KWMK:     rapid.Float64Range(0.1, 5).Draw(t, "k"),
	}
	c.AlphaM2S = c.KWMK / rapid.Float64Range(2e6, 4.5e6).Draw(t, "density times heat capacity")
	c.HalfHeightMM = c.RadiusMM * rapid.Float64Range(0.2, 4).Draw(t, "half height over radius")
	startC := rapid.Float64Range(-20, 90).Draw(t, "start")
	bath := Surroundings{
		TempC: rapid.Float64Range(90.5, 130).Draw(t, "bath"),
		UWM2K: rapid.OneOf(rapid.Float64Range(5, 20), rapid.Float64Range(20, 5000), rapid.Just(surfaceHeld)).Draw(t, "U"),
	}
	h, err := NewHeating(c, startC, bath)
	if err != nil {
		t.Fatal(err)
	}
	return h, c, startC, bath
}

func TestHeatingProperties(t *testing.T) {
	t.Parallel()
	const rounding = 1e-8 // C
	rapid.Check(t, func(t *rapid.T) {
		h, cylinder, startC, bath := drawHeating(t)
		minutes := h.FHMinutes() * rapid.Float64Range(0.1, 3).Draw(t, "minutes over fh")
		curve, err := h.Curve(minutes, 30)
		if err != nil {
			t.Fatal(err)
		}
		for i, p := range curve {
			if p.CenterC < startC-rounding || p.CenterC > bath.TempC+rounding {
				t.Fatalf("center %v C at %v min is not between start and bath", p.CenterC, p.Minutes)
			}
			if p.MeanC < p.CenterC-rounding {
				t.Fatalf("mean %v C is below the center %v C at %v min", p.MeanC, p.CenterC, p.Minutes)
			}
			if i > 0 && (p.CenterC < curve[i-1].CenterC-rounding || p.MeanC < curve[i-1].MeanC-rounding) {
				t.Fatalf("colder at %v min, %v C, than before, %v C", p.Minutes, p, curve[i-1])
			}
		}

		share, err := h.HeatShare(minutes)
		mean := curve[29].MeanC
		if want := (mean - startC) / (bath.TempC - startC); err != nil || math.Abs(share-want) > 1e-9 {
			t.Fatalf("share of the heat %v, %v; want %v from the mean", share, err, want)
		}

		factor := rapid.Float64Range(0.5, 10).Draw(t, "factor")
		faster := cylinder
		faster.AlphaM2S *= factor
		g, err := NewHeating(faster, startC, bath)
		if err != nil {
			t.Fatal(err)
		}
		if ratio := h.FHMinutes() / g.FHMinutes(); math.Abs(ratio/factor-1) > 1e-9 {
			t.Fatalf("alpha times %v makes fh %v times shorter", factor, ratio)
		}

		x := rapid.Float64Range(0, 1).Draw(t, "x")
		y := rapid.Float64Range(-1, 1).Draw(t, "y")
		point, err := h.PointC(minutes, x*cylinder.RadiusMM, y*cylinder.HalfHeightMM)
		if err != nil || point < curve[29].CenterC-rounding || point > bath.TempC+rounding {
			t.Fatalf("point %v C, %v; want it between center and bath", point, err)
		}
	})
}

func TestCoolingProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		h, _, startC, bath := drawHeating(t)
		removal := h.FHMinutes() * rapid.Float64Range(0.05, 2).Draw(t, "removal over fh")
		air := Surroundings{
			TempC: rapid.Float64Range(-25, startC).Draw(t, "air"),
			UWM2K: rapid.Float64Range(2, 1000).Draw(t, "U of air"),
		}
		c, err := h.Cool(removal, air)
		if err != nil {
			t.Fatal(err)
		}
		before, err := h.MeanC(removal)
		if err != nil {
			t.Fatal(err)
		}
		curve, err := c.Curve(c.FCMinutes(), 60)
		if err != nil {
			t.Fatal(err)
		}
		for _, p := range curve {
			if p.CenterC < air.TempC-1e-8 || p.CenterC > bath.TempC+1e-8 {
				t.Fatalf("center %v C at %v min is not between air and bath", p.CenterC, p.Minutes)
			}
			if p.Minutes <= removal {
				continue
			}
			if p.MeanC > before+1e-6 {
				t.Fatalf("the mean rises from %v C to %v C at %v min, in the colder air", before, p.MeanC, p.Minutes)
			}
			before = p.MeanC
		}
	})
}

// rangeError reports whether an error is, or wraps, a *RangeError.
func rangeError(err error) bool {
	var outside *RangeError
	return errors.As(err, &outside)
}

func TestHeatingRefuses(t *testing.T) {
	t.Parallel()
	bath, air := Surroundings{100, 350}, Surroundings{22, 8}
	h := mustHeat(t, pint, 80, bath)
	c := mustCool(t, h, 20, air)
	heat := func(cylinder Cylinder, startC float64, bath Surroundings) error {
		_, err := NewHeating(cylinder, startC, bath)
		return err
	}
	cool := func(minutes float64, air Surroundings) error {
		_, err := h.Cool(minutes, air)
		return err
	}
	second := func(_ any, err error) error { return err }
	for _, tc := range []struct {
		name       string
		low, high  float64 // just outside
		infinityOK bool
		try        func(v float64) error
	}{
		{"radius", 0.9, 501, false, func(v float64) error { return heat(Cylinder{v, 54, 1.5e-7, 0.6}, 80, bath) }},
		{"half height", 0.9, 1001, false, func(v float64) error { return heat(Cylinder{38, v, 1.5e-7, 0.6}, 80, bath) }},
		{"alpha", 9e-9, 1.1e-3, false, func(v float64) error { return heat(Cylinder{38, 54, v, 0.6}, 80, bath) }},
		{"k", 0.009, 501, false, func(v float64) error { return heat(Cylinder{38, 54, 1.5e-7, v}, 80, bath) }},
		{"start", -51, 701, false, func(v float64) error { return heat(pint, v, bath) }},
		{"bath", -51, 701, false, func(v float64) error { return heat(pint, 80, Surroundings{v, 350}) }},
		{"U", 0.09, 1.1e6, true, func(v float64) error { return heat(pint, 80, Surroundings{100, v}) }},
		{"removal", 0, 1.1e5, false, func(v float64) error { return cool(v, air) }},
		{"air", -51, 701, false, func(v float64) error { return cool(20, Surroundings{v, 8}) }},
		{"U of air", 0, 1.1e6, true, func(v float64) error { return cool(20, Surroundings{22, v}) }},
		{"CenterC", 0.01, 1.1e5, false, func(v float64) error { return second(h.CenterC(v)) }},
		{"MeanC", -1, 1.1e5, false, func(v float64) error { return second(h.MeanC(v)) }},
		{"HeatShare", -1, 1.1e5, false, func(v float64) error { return second(h.HeatShare(v)) }},
		{"PointC", -1, 1.1e5, false, func(v float64) error { return second(h.PointC(v, 0, 0)) }},
		{"PointC across", -1, 38.1, false, func(v float64) error { return second(h.PointC(20, v, 0)) }},
		{"PointC up", -54.1, 54.1, false, func(v float64) error { return second(h.PointC(20, 0, v)) }},
		{"Curve", 0, 1.1e5, false, func(v float64) error { return second(h.Curve(v, 10)) }},
		{"steps of Curve", 1, 1.1e5, false, func(v float64) error { return second(h.Curve(v, 1000)) }},
		{"CenterC cooling", -1, 1.1e5, false, func(v float64) error { return second(c.CenterC(v)) }},
		{"MeanC cooling", 0.01, 1.1e5, false, func(v float64) error { return second(c.MeanC(v)) }},
		{"Curve cooling", 0, 1.1e5, false, func(v float64) error { return second(c.Curve(v, 10)) }},
		{"steps of Curve cooling", 1, 1.1e5, false, func(v float64) error { return second(c.Curve(v, 10000)) }},
	} {
		for _, v := range []float64{tc.low, tc.high, math.NaN(), math.Inf(-1), math.Inf(1)} {
			err := tc.try(v)
			if math.IsInf(v, 1) && tc.infinityOK {
				if err != nil {
					t.Errorf("%s of %v: %v", tc.name, v, err)
				}
				continue
			}
			if !rangeError(err) {
				t.Errorf("%s of %v: %v; want a RangeError", tc.name, v, err)
			}
		}
	}
	for _, points := range []int{-1, 0, 1, 10001} {
		if _, err := h.Curve(60, points); !rangeError(err) {
			t.Errorf("a heating of %d points: %v", points, err)
		}
	}
	for _, points := range []int{-1, 0, 2, 10001} {
		if _, err := c.Curve(60, points); !rangeError(err) {
			t.Errorf("a curve of %d points: %v", points, err)
		}
	}
}

func BenchmarkHeatingCurve(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		h, err := NewHeating(pint, 80, Surroundings{100, 350})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := h.Curve(60, 120); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkCoolingCurve(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		h, err := NewHeating(pint, 80, Surroundings{100, 350})
		if err != nil {
			b.Fatal(err)
		}
		c, err := h.Cool(20, Surroundings{22, 8})
		if err != nil {
			b.Fatal(err)
		}
		if _, err := c.Curve(120, 120); err != nil {
			b.Fatal(err)
		}
	}
}
