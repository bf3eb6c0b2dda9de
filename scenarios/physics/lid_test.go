package physics

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// apart reports whether got is further than tolerance from want. What is not a
// number is apart from everything.
func apart(got, want, tolerance float64) bool {
	return !(math.Abs(got-want) <= tolerance)
}

// notNumbers are the values that must give an error wherever a number goes in.
var notNumbers = []float64{math.NaN(), math.Inf(1), math.Inf(-1)}

// TestClampedPlate: root² of the characteristic equation, computed apart to 15
// digits. Four of them are in Leissa, Vibration of Plates, NASA SP-160, as 10.2158,
// 21.26, 34.88 and 39.771 (from memory).
func TestClampedPlate(t *testing.T) {
	t.Parallel()
	for diameters, row := range [][]float64{
		{10.2158, 39.7711, 89.1041, 158.184},
		{21.2604, 60.8287, 120.079},
		{34.8770, 84.5827, 153.815},
		{51.0300, 111.021, 190.304},
		{69.6658, 140.108},
	} {
		for circles, want := range row {
			root := lidClampedRoot(diameters, circles)
			if got := root * root; apart(got, want, 1e-5*want) {
				t.Errorf("clamped plate with %d diameters and %d circles: root² = %v, want %v", diameters, circles, got, want)
			}
		}
	}
}

// TestClampedPlateInHandbook: Harris' Shock and Vibration Handbook prints the
// coefficients for the diameter and without the factor 12: 4 root²/√12.
func TestClampedPlateInHandbook(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		diameters, circles int
		want               float64
	}{
		{0, 0, 11.84},
		{1, 0, 24.61},
		{2, 0, 40.41},
		{0, 1, 46.14},
		{0, 2, 103.12},
	} {
		root := lidClampedRoot(tc.diameters, tc.circles)
		if got := 4 * root * root / math.Sqrt(12); apart(got, tc.want, 0.005*tc.want) {
			t.Errorf("coefficient for %d diameters and %d circles = %v, want %v", tc.diameters, tc.circles, got, tc.want)
		}
	}
}

// TestHingedPlate: root² for ν = 0.3, computed apart to 15 digits.
func TestHingedPlate(t *testing.T) {
	t.Parallel()
	for diameters, row := range [][]float64{
		{4.9351, 29.720, 74.156},
		{13.898, 48.479},
		{25.613, 70.117},
	} {
		for circles, want := range row {
			root := lidHingedRoot(diameters, circles)
			if got := root * root; apart(got, want, 5e-5*want) {
				t.Errorf("hinged plate with %d diameters and %d circles: root² = %v, want %v", diameters, circles, got, want)
			}
		}
	}
}

// TestMembraneRatios: overtones of a round membrane. Textbooks print the zeros as
// 2.405, 3.832, 5.136, 5.520, 6.380, 7.016, and the ratios, rounded up, as 1.594,
// 2.136, 2.296, 2.653, 2.918.
func TestMembraneRatios(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		diameters, circles int
		ratio, zero        float64 // zero 0: not in print here
	}{
		{0, 0, 1, 2.405},
		{1, 0, 1.5933, 3.832},
		{2, 0, 2.1355, 5.136},
		{0, 1, 2.2954, 5.520},
		{3, 0, 2.6531, 6.380},
		{1, 1, 2.9173, 7.016},
		{4, 0, 3.1555, 0},
		{2, 1, 3.5001, 0},
		{0, 2, 3.5985, 0},
		{5, 0, 3.6475, 0},
	} {
		zero := lidMembraneZero(tc.diameters, tc.circles)
		if tc.zero != 0 && apart(zero, tc.zero, 0.0005) {
			t.Errorf("zero %d of J%d = %v, want %v", tc.circles+1, tc.diameters, zero, tc.zero)
		}
		if got := zero / lidMembraneZero(0, 0); apart(got, tc.ratio, 6e-5) {
			t.Errorf("overtone with %d diameters and %d circles = %v, want %v", tc.diameters, tc.circles, got, tc.ratio)
		}
	}
}

// TestMembraneExample: Timoshenko and Young, Vibration Problems in Engineering, 3rd
// edition, p. 439, eq. 182, as restated in a public verification manual for
// finite-element software (case VM55): radius 15 in, tension 100 lb/in, weight
// 0.0028178 lb/in², g 386 in/s².
func TestMembraneExample(t *testing.T) {
	t.Parallel()
	for circles, want := range []float64{94.406, 216.77, 339.85} {
		got := lidMembraneHz(lidMembraneZero(0, circles), 15, 100, 0.0028178/386)
		if apart(got, want, 0.0005*want) {
			t.Errorf("mode %d of the membrane = %v Hz, want %v", circles+1, got, want)
		}
	}
}

// TestBesselI: Abramowitz and Stegun, Handbook of Mathematical Functions, table 9.8
// (from memory), and for all orders the recurrence of DLMF 10.29.1.
func TestBesselI(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		n       int
		z, want float64
	}{
		{0, 1, 1.2660658778},
		{1, 1, 0.5651591040},
		{0, 5, 27.2398718236},
		{1, 5, 24.3356421425},
	} {
		if got := lidBesselI(tc.n, tc.z); apart(got, tc.want, 1e-9) {
			t.Errorf("I%d(%v) = %v, want %v", tc.n, tc.z, got, tc.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 4).Draw(t, "n")
		z := rapid.Float64Range(0.5, 20).Draw(t, "z")
		got := lidBesselI(n-1, z) - lidBesselI(n+1, z)
		want := 2 * float64(n) / z * lidBesselI(n, z)
		if apart(got, want, 1e-12*lidBesselI(0, z)) {
			t.Fatalf("I%d - I%d at %v = %v, want %v", n-1, n+1, z, got, want)
		}
	})
}

// TestFlatLid: flat clamped lids of steel, E 205 GPa and ν 0.3, the hinged lid, and
// Lamb's water on one side; computed apart from the equations, to 0.1 %.
func TestFlatLid(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		lid                  Lid
		dry                  Modes
		hinged, beta, wetF01 float64
	}{
		{Lid{60, 0.18}, Modes{502.9, 1046.5, 1716.8, 1957.7}, 242.9, 14.20, 129.0},
		{Lid{60, 0.20}, Modes{558.7, 1162.8, 1907.6, 2175.2}, 269.9, 12.78, 150.5},
		{Lid{60, 0.22}, Modes{614.6, 1279.1, 2098.3, 2392.8}, 296.9, 11.62, 173.0},
		{Lid{76, 0.20}, Modes{348.3, 724.7, 1188.9, 1355.8}, 168.2, 16.19, 84.0},
	} {
		dry, err := tc.lid.Modes(false)
		if err != nil {
			t.Fatal(err)
		}
		wet, err := tc.lid.Modes(true)
		if err != nil {
			t.Fatal(err)
		}
		// The Γ of the higher modes are those of TestLambGamma.
		ofWater := func(dryHz, gamma float64) float64 {
			return dryHz / math.Sqrt(1+gamma*tc.lid.DiameterMM/2/(7.850*tc.lid.ThicknessMM))
		}
		for _, c := range []struct {
			name      string
			got, want float64
		}{
			{"f01", dry.F01Hz, tc.dry.F01Hz},
			{"f11", dry.F11Hz, tc.dry.F11Hz},
			{"f21", dry.F21Hz, tc.dry.F21Hz},
			{"f02", dry.F02Hz, tc.dry.F02Hz},
			{"hinged f01", tc.lid.plateHz(lidHinged()[0]), tc.hinged},
			{"β", tc.lid.waterLoad(lidClamped()[0]), tc.beta},
			{"wet f01", wet.F01Hz, tc.wetF01},
			{"wet f11", wet.F11Hz, ofWater(tc.dry.F11Hz, 0.298828)},
			{"wet f21", wet.F21Hz, ofWater(tc.dry.F21Hz, 0.208345)},
			{"wet f02", wet.F02Hz, ofWater(tc.dry.F02Hz, 0.276129)},
		} {
			if apart(c.got, c.want, 0.001*c.want) {
				t.Errorf("%+v: %s = %v, want %v", tc.lid, c.name, c.got, c.want)
			}
		}
	}
}

// TestLambGamma: Lamb, Proc. R. Soc. A 98 (1920), 205-216, gives 0.669 (from
// memory) for the shape (1 - r²)², which his integral makes 0.668936. With the exact
// shape it is 0.65380. The three of higher modes were computed apart from the closed
// form of the transform (Lommel's integrals), to 15 digits.
func TestLambGamma(t *testing.T) {
	t.Parallel()
	modes := lidClamped()
	if apart(modes[0].water, 0.668936, 1e-6) {
		t.Errorf("Γ of Lamb's shape = %v, want 0.668936", modes[0].water)
	}
	for i, want := range []float64{0.653804, 0.298828, 0.208345, 0.276129} {
		if got := lidWaterGamma(modes[i]); apart(got, want, 1e-6) {
			t.Errorf("Γ of the exact shape of mode %d = %v, want %v", i, got, want)
		}
	}
}

// TestWaterOfSimilarShape: for the shapes rⁿ(1 - r²)², Lamb's integral has a closed
// form (Sonine, DLMF 10.22.19; Weber and Schafheitlin, DLMF 10.22.57). The exact
// shapes of the modes with n diameters differ from these by little.
func TestWaterOfSimilarShape(t *testing.T) {
	t.Parallel()
	for n := range 3 {
		order := float64(n)
		water := math.Gamma(6) * math.Gamma(order+0.5) / (math.Pow(math.Gamma(3.5), 2) * math.Gamma(order+6.5))
		plate := math.Gamma(order+1) * math.Gamma(5) / math.Gamma(order+6) / 2
		want := water / plate
		if got := lidWaterGamma(lidClamped()[n]); apart(got, want, 0.05*want) {
			t.Errorf("Γ with %d diameters = %v, want about %v", n, got, want)
		}
	}
}

// TestAirSpring: a lid of 60 mm and 0.20 mm over closed air, computed apart: the
// share of its middle by which the shape moves on the mean, the mass and stiffness
// that it has as seen from there, and its frequency.
func TestAirSpring(t *testing.T) {
	t.Parallel()
	lid, lowest := Lid{60, 0.20}, lidClamped()[0]
	middle := lowest.at(0)
	if got := lowest.mean / middle; apart(got, 0.311605, 1e-6) {
		t.Errorf("mean of the shape over its middle = %v, want 0.311605", got)
	}
	massShare := 1 / (middle * middle)
	if apart(massShare, 0.182834, 1e-6) {
		t.Errorf("share of the mass = %v, want 0.182834", massShare)
	}
	mass := massShare * lid.arealKgPerM2() * math.Pi * lid.radiusM() * lid.radiusM()
	if got := mass * math.Pow(2*math.Pi*lid.plateHz(lowest), 2); apart(got, 10003, 10) {
		t.Errorf("stiffness of the plate = %v N/m, want 10 003", got)
	}
	for _, tc := range []struct{ headspaceML, kPa, want float64 }{
		{40, 101, 631.0},
		{40, 54, 598.3},
		{20, 101, 695.7},
	} {
		got := math.Hypot(lid.plateHz(lowest), lid.airSpringHz(lowest, tc.headspaceML, tc.kPa*1000))
		if apart(got, tc.want, 0.001*tc.want) {
			t.Errorf("lid over %v mL at %v kPa = %v Hz, want %v", tc.headspaceML, tc.kPa, got, tc.want)
		}
	}
}

// TestDrawnModel: the formula of Timoshenko and Woinowsky-Krieger (Table 82, from
// memory), computed apart. It checks that the formula is worked out rightly, not
// that lids follow it: no measurement of pitch against vacuum is known here.
func TestDrawnModel(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		diameterMM, kPa                            float64
		heldMM, heldRatio, slidingMM, slidingRatio float64
		heldHz                                     float64
	}{
		{60, 10, 0.348, 2.298, 0.469, 1.845, 1284},
		{60, 34, 0.580, 3.587, 0.825, 2.906, 2004},
		{60, 47, 0.655, 4.021, 0.940, 3.267, 2247},
		{60, 90, 0.832, 5.042, 1.206, 4.113, 2817},
		{76, 47, 0.924, 5.583, 1.345, 4.561, 1944},
	} {
		lid := Lid{tc.diameterMM, 0.20}
		slack, err := lid.Modes(false)
		if err != nil {
			t.Fatal(err)
		}
		inHg := tc.kPa * 1000 / 3386.389
		heldMM, heldRatio, err := lid.Drawn(inHg, EdgeHeld)
		if err != nil {
			t.Fatal(err)
		}
		slidingMM, slidingRatio, err := lid.Drawn(inHg, EdgeSliding)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range []struct {
			name                 string
			got, want, tolerance float64
		}{
			{"deflection, held", heldMM, tc.heldMM, 0.0006},
			{"ratio, held", heldRatio, tc.heldRatio, 0.0006},
			{"f01, held", heldRatio * slack.F01Hz, tc.heldHz, 1},
			{"deflection, sliding", slidingMM, tc.slidingMM, 0.0006},
			{"ratio, sliding", slidingRatio, tc.slidingRatio, 0.0006},
		} {
			if apart(c.got, c.want, c.tolerance) {
				t.Errorf("%v mm at %v kPa: %s = %v, want %v", tc.diameterMM, tc.kPa, c.name, c.got, c.want)
			}
		}
	}
}

// TestDrawnLimits: a little load bends a clamped plate by q a⁴/(64 D), and a large
// one stretches it like a membrane, by the cube root of the load (Timoshenko and
// Woinowsky-Krieger, Theory of Plates and Shells, from memory).
func TestDrawnLimits(t *testing.T) {
	t.Parallel()
	for _, edge := range []Edge{EdgeHeld, EdgeSliding} {
		stiff := Lid{40, 0.5}
		const inHg = 0.1
		gotMM, ratio, err := stiff.Drawn(inHg, edge)
		if err != nil {
			t.Fatal(err)
		}
		stiffness := 205e9 * math.Pow(0.5e-3, 3) / (12 * (1 - 0.3*0.3))
		wantMM := 1000 * inHg * 3386.389 * math.Pow(0.020, 4) / (64 * stiffness)
		if apart(gotMM, wantMM, 0.003*wantMM) || apart(ratio, 1, 1e-4) {
			t.Errorf("small load, %s: %v mm, ratio %v; want %v mm, ratio 1", edge, gotMM, ratio, wantMM)
		}

		thin := Lid{120, 0.1}
		someMM, _, err := thin.Drawn(3, edge)
		if err != nil {
			t.Fatal(err)
		}
		moreMM, _, err := thin.Drawn(24, edge)
		if err != nil {
			t.Fatal(err)
		}
		if apart(moreMM/someMM, 2, 0.03) {
			t.Errorf("eight times a large load, %s: %v times the deflection, want about 2", edge, moreMM/someMM)
		}
	}
}

func lidDraw(t *rapid.T) Lid {
	return Lid{
		DiameterMM:  rapid.Float64Range(40, 119).Draw(t, "diameter"),
		ThicknessMM: rapid.Float64Range(0.1, 0.49).Draw(t, "thickness"),
	}
}

func (m Modes) each() []float64 { return []float64{m.F01Hz, m.F11Hz, m.F21Hz, m.F02Hz} }

func TestLidProperties(t *testing.T) {
	t.Parallel()
	modes := func(t *rapid.T, l Lid, wet bool) []float64 {
		m, err := l.Modes(wet)
		if err != nil {
			t.Fatal(err)
		}
		return m.each()
	}
	rapid.Check(t, func(t *rapid.T) {
		lid := lidDraw(t)
		thicker, wider := lid, lid
		thicker.ThicknessMM += 0.01
		wider.DiameterMM++
		for _, wet := range []bool{false, true} {
			hz := modes(t, lid, wet)
			for i := range hz {
				if thick := modes(t, thicker, wet); !(thick[i] > hz[i]) {
					t.Fatalf("mode %d of %+v, wet %v: %v Hz; thicker %v Hz", i, lid, wet, hz[i], thick[i])
				}
				if wide := modes(t, wider, wet); !(wide[i] < hz[i]) {
					t.Fatalf("mode %d of %+v, wet %v: %v Hz; wider %v Hz", i, lid, wet, hz[i], wide[i])
				}
			}
		}
		dry, wet := modes(t, lid, false), modes(t, lid, true)
		for i := range dry {
			if !(wet[i] < dry[i]) {
				t.Fatalf("mode %d of %+v: %v Hz wet, %v Hz dry", i, lid, wet[i], dry[i])
			}
		}
	})
}

func TestMoreVacuumRingsHigher(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		lid := lidDraw(t)
		some := rapid.Float64Range(0.01, 28).Draw(t, "inHg")
		drawn := func(inHg float64, edge Edge) (float64, float64) {
			mm, ratio, err := lid.Drawn(inHg, edge)
			if err != nil {
				t.Fatal(err)
			}
			return mm, ratio
		}
		for _, edge := range []Edge{EdgeHeld, EdgeSliding} {
			lessMM, lessRatio := drawn(some, edge)
			moreMM, moreRatio := drawn(some+1, edge)
			if !(moreMM > lessMM && moreRatio > lessRatio && lessRatio >= 1) {
				t.Fatalf("%+v, %s: %v inHg %v mm, ratio %v; one more %v mm, ratio %v", lid, edge, some, lessMM, lessRatio, moreMM, moreRatio)
			}
		}
		heldMM, _ := drawn(some, EdgeHeld)
		slidingMM, _ := drawn(some, EdgeSliding)
		if heldMM > slidingMM {
			t.Fatalf("%+v at %v inHg: held %v mm, sliding %v mm", lid, some, heldMM, slidingMM)
		}
	})
}

func TestLidErrors(t *testing.T) {
	t.Parallel()
	good := Lid{60, 0.20}
	wantRange := func(err error, what string) {
		t.Helper()
		if rangeErr := (*RangeError)(nil); !errors.As(err, &rangeErr) {
			t.Errorf("%s: error %v, want a *RangeError", what, err)
		}
	}
	for _, v := range append(slices.Clone(notNumbers), -1, 0, 1000) {
		for _, lid := range []Lid{{v, good.ThicknessMM}, {good.DiameterMM, v}} {
			_, err := lid.Modes(false)
			wantRange(err, "modes")
			_, err = lid.Modes(true)
			wantRange(err, "wet modes")
			_, _, err = lid.Drawn(10, EdgeHeld)
			wantRange(err, "drawn")
		}
	}
	for _, v := range append(slices.Clone(notNumbers), -0.1, 30) {
		_, _, err := good.Drawn(v, EdgeHeld)
		wantRange(err, "vacuum")
	}
	if _, _, err := good.Drawn(10, "glued"); err == nil {
		t.Error("an unknown edge gives no error")
	}
}

func BenchmarkLidModes(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := (Lid{60, 0.20}).Modes(true); err != nil {
			b.Fatal(err)
		}
	}
}

// BenchmarkLidShapes is the work that is done once, for the first lid.
func BenchmarkLidShapes(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		for _, o := range lidOrders {
			lidWaterGamma(newLidMode(o.diameters, lidClampedRoot(o.diameters, o.circles)))
		}
	}
}

// TestModesUnderVacuum: without a vacuum the lid is the clamped plate, its lowest
// mode rises as Drawn says, and food slows each mode as it does without a vacuum. No
// measurement of pitch against vacuum is known here, so only limits and direction
// are held.
func TestModesUnderVacuum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		l := Lid{DiameterMM: rapid.Float64Range(40, 120).Draw(t, "diameter"), ThicknessMM: rapid.Float64Range(0.1, 0.5).Draw(t, "thickness")}
		low := rapid.Float64Range(0, 28).Draw(t, "vacuum")
		high := low + rapid.Float64Range(0.1, 1.5).Draw(t, "more")
		under := func(inHg float64, wet bool) Modes {
			m, err := l.ModesUnder(inHg, wet)
			if err != nil {
				t.Fatal(err)
			}
			return m
		}
		slack, err := l.Modes(false)
		if err != nil {
			t.Fatal(err)
		}
		if got := under(0, false); got != slack {
			t.Errorf("under no vacuum %v, want %v", got, slack)
		}
		a, b := under(low, false), under(high, false)
		if b.F01Hz <= a.F01Hz || b.F11Hz <= a.F11Hz || b.F21Hz <= a.F21Hz || b.F02Hz <= a.F02Hz {
			t.Errorf("%v inHg %v, %v inHg %v: a mode did not rise", low, a, high, b)
		}
		_, ratio, err := l.Drawn(high, EdgeHeld)
		if err != nil {
			t.Fatal(err)
		}
		if got := b.F01Hz / slack.F01Hz; math.Abs(got/ratio-1) > 1e-9 {
			t.Errorf("the lowest mode rises %v times, Drawn says %v", got, ratio)
		}
		slackWet, err := l.Modes(true)
		if err != nil {
			t.Fatal(err)
		}
		if wet := under(high, true); math.Abs(wet.F11Hz/b.F11Hz-slackWet.F11Hz/slack.F11Hz) > 1e-9 {
			t.Errorf("food slows the second mode %v times, without a vacuum %v", wet.F11Hz/b.F11Hz, slackWet.F11Hz/slack.F11Hz)
		}
	})
	for _, bad := range []float64{-1, 31, math.NaN()} {
		if m, err := (Lid{DiameterMM: 60, ThicknessMM: 0.2}).ModesUnder(bad, false); err == nil {
			t.Errorf("%v inHg gives %v", bad, m)
		}
	}
}
