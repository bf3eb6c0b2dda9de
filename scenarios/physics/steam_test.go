package physics

import (
	"errors"
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// TestStandardPressure: US Standard Atmosphere 1976, worked out independently to
// fifteen digits; psi as printed in an engineering handbook's table of standard
// atmospheric data (I-P), which prints 12.682 at 4 000 ft.
func TestStandardPressure(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ ft, pa, inHg, printedPSI float64 }{
		{0, 101_325.0, 29.921, 14.696},
		{1000, 97_716.6, 28.856, 14.175},
		{2000, 94_212.9, 27.821, 13.664},
		{3000, 90_811.7, 26.817, 13.173},
		{4000, 87_510.6, 25.842, 0}, // see TestHandbookMisprint
		{5000, 84_307.3, 24.896, 12.230},
		{6000, 81_199.6, 23.978, 11.778},
		{7000, 78_185.4, 23.088, 11.341},
		{8000, 75_262.4, 22.225, 10.914},
		{9000, 72_428.5, 21.388, 10.506},
		{10_000, 69_681.7, 20.577, 10.108},
	} {
		pa := sure(t)(StandardPressurePa(row.ft))
		agrees(t, fmt.Sprintf("%v ft, Pa", row.ft), pa, row.pa, 0.5)
		agrees(t, fmt.Sprintf("%v ft, inHg", row.ft), pa/pascalsPerInHg, row.inHg, 0.001)
		if row.printedPSI != 0 {
			agrees(t, fmt.Sprintf("%v ft, psi", row.ft), pa/pascalsPerPSI, row.printedPSI, 0.003)
		}
		// The two short forms that the 1976 tables print, heights to six digits.
		agrees(t, fmt.Sprintf("%v ft, short form", row.ft), pa, 101_325*math.Pow(1-row.ft/145_442, 5.255876), 1)
		agrees(t, fmt.Sprintf("%v ft, short form in m", row.ft), pa, 101_325*math.Pow(1-row.ft*0.3048/44_329, 5.255876), 5)
	}
	// The top of the layer, 22 632.10 Pa or 6.683245 inHg as the 1976 tables print it.
	top := sure(t)(StandardPressurePa(36_089))
	agrees(t, "36 089 ft, Pa", top, 22_632.10, 5)
	agrees(t, "36 089 ft, inHg", top/pascalsPerInHg, 6.683245, 0.0015)
}

// TestHandbookMisprint: at 4 000 ft the handbook's own formula, 14.696
// (1 - 6.8754e-6 Z)^5.2559, says 12.692 psi, and so do we; its table says 12.682.
func TestHandbookMisprint(t *testing.T) {
	t.Parallel()
	psi := sure(t)(StandardPressurePa(4000)) / pascalsPerPSI
	agrees(t, "4000 ft, psi", psi, 12.692, 0.001)
	agrees(t, "4000 ft by the handbook's formula, psi", 14.696*math.Pow(1-6.8754e-6*4000, 5.2559), psi, 0.003)
}

// TestSaturationVerification: IAPWS R7-97(2012), Tables 35 and 36.
func TestSaturationVerification(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ kelvin, megapascals float64 }{
		{300, 0.353658941e-2},
		{500, 0.263889776e1},
		{600, 0.123443146e2},
	} {
		pa := sure(t)(SaturationPa(row.kelvin - 273.15))
		agrees(t, fmt.Sprintf("saturation at %v K, MPa", row.kelvin), pa/1e6, row.megapascals, 1e-8*row.megapascals)
	}
	for _, row := range []struct{ megapascals, kelvin float64 }{
		{0.1, 0.372755919e3},
		{1, 0.453035632e3},
		{10, 0.584149488e3},
	} {
		c := sure(t)(SaturationC(row.megapascals * 1e6))
		agrees(t, fmt.Sprintf("saturation at %v MPa, K", row.megapascals), c+273.15, row.kelvin, 1e-6)
	}
	// The limits that the release names: 611.213 Pa, 22.064 MPa, 273.15 K, 647.096 K.
	agrees(t, "saturation at 273.15 K, Pa", sure(t)(SaturationPa(0)), 611.213, 0.0005)
	agrees(t, "saturation at 647.096 K, MPa", sure(t)(SaturationPa(373.946))/1e6, 22.064, 0.0005)
}

// TestSaturationPressures: the region 4 equation worked out independently; the
// whole kPa of a printed saturated-water table beside it; and two other equations,
// Hyland and Wexler (1983) and Antoine, both from memory.
func TestSaturationPressures(t *testing.T) {
	t.Parallel()
	for c, kPa := range map[float64]float64{
		5: 0.87258, 10: 1.22818, 15: 1.70574, 20: 2.33921, 25: 3.16975, 30: 4.24669, 40: 7.38443, 50: 12.3513,
		60: 19.9458, 70: 31.2006, 80: 47.4147, 85: 57.8675, 90: 70.1824, 95: 84.6089, 100: 101.4180,
	} {
		agrees(t, fmt.Sprintf("saturation at %v °C, kPa", c), sure(t)(SaturationPa(c))/1000, kPa, 1e-5*kPa)
	}
	for c, megapascals := range map[float64]float64{20: 0.00234, 50: 0.01235, 80: 0.04741, 90: 0.07018, 95: 0.08461} {
		agrees(t, fmt.Sprintf("saturation at %v °C, printed, MPa", c), sure(t)(SaturationPa(c))/1e6, megapascals, 0.000006)
	}
	for c := 20.0; c <= 100; c += 5 {
		k := c + 273.15
		hylandWexler := math.Exp(-5.8002206e3/k + 1.3914993 - 4.8640239e-2*k + 4.1764768e-5*k*k - 1.4452093e-8*k*k*k + 6.5459673*math.Log(k))
		antoine := 133.322 * math.Pow(10, 8.07131-1730.63/(233.426+c))
		pa := sure(t)(SaturationPa(c))
		agrees(t, fmt.Sprintf("saturation at %v °C by Hyland and Wexler", c), hylandWexler, pa, 2e-4*pa)
		agrees(t, fmt.Sprintf("saturation at %v °C by Antoine", c), antoine, pa, 4.2e-3*pa)
	}
}

// TestBoilingPoint: US Standard Atmosphere 1976 with IAPWS R7-97(2012), worked out
// independently; whole °F as printed by extension services, 2 000 ft in the USDA
// high-altitude sheet. Rounding ours gives every printed one.
func TestBoilingPoint(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ ft, c, f, printedF float64 }{
		{0, 99.974, 211.95, 212},
		{1000, 98.962, 210.13, 0},
		{2000, 97.948, 208.31, 208},
		{4000, 95.919, 204.65, 0},
		{5000, 94.903, 202.83, 203},
		{6000, 93.886, 201.00, 0},
		{7000, 92.869, 199.16, 0},
		{7500, 0, 198.25, 198},
		{8000, 91.851, 197.33, 0},
		{10_000, 89.812, 193.66, 194},
	} {
		c := sure(t)(BoilingC(row.ft))
		agrees(t, fmt.Sprintf("boiling at %v ft, °F", row.ft), Fahrenheit(c), row.f, 0.01)
		if row.c != 0 {
			agrees(t, fmt.Sprintf("boiling at %v ft, °C", row.ft), c, row.c, 0.001)
		}
		if row.printedF != 0 && math.Round(Fahrenheit(c)) != row.printedF {
			t.Errorf("boiling at %v ft is %.2f °F, which does not round to the printed %v", row.ft, Fahrenheit(c), row.printedF)
		}
	}
}

// TestWaterBoilsBelow100C: IAPWS R7-97(2012). Steam at 100 °C has 101 418 Pa, more
// than the standard atmosphere.
func TestWaterBoilsBelow100C(t *testing.T) {
	t.Parallel()
	agrees(t, "saturation at 101 325 Pa, °C", sure(t)(SaturationC(101_325)), 99.974, 0.0005)
	agrees(t, "saturation at 100 °C, Pa", sure(t)(SaturationPa(100)), 101_418, 0.5)
}

// TestNotTheIsothermalAtmosphere: a much-copied table of boiling points takes air
// of one temperature all the way up, 101 300 exp(-1.16e-4 h/m) Pa, and is 1 °F too
// hot at 10 000 ft: it prints 194.7.
func TestNotTheIsothermalAtmosphere(t *testing.T) {
	t.Parallel()
	copied := Fahrenheit(sure(t)(SaturationC(101_300 * math.Exp(-1.16e-4*3048))))
	agrees(t, "isothermal boiling at 10 000 ft, °F", copied, 194.64, 0.01)
	agrees(t, "how much hotter than ours, °F", copied-Fahrenheit(sure(t)(BoilingC(10_000))), 1.0, 0.05)
}

// TestTemperatureScales: NIST SP 811 (2008), Appendix B.8.
func TestTemperatureScales(t *testing.T) {
	t.Parallel()
	for c, f := range map[float64]float64{-40: -40, 0: 32, 37: 98.6, 100: 212} {
		agrees(t, fmt.Sprintf("%v °C", c), Fahrenheit(c), f, 1e-9)
		agrees(t, fmt.Sprintf("%v °F", f), Celsius(f), c, 1e-9)
	}
}

func TestBoilingPointFallsWithAltitude(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		low := rapid.Float64Range(altitudeLowFt, altitudeHighFt-1).Draw(t, "low")
		high := rapid.Float64Range(low+1, altitudeHighFt).Draw(t, "high")
		if below, above := sure(t)(BoilingC(low)), sure(t)(BoilingC(high)); below <= above {
			t.Fatalf("water boils at %v °C at %v ft and at %v °C at %v ft", below, low, above, high)
		}
	})
}

func TestSteamInverses(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ft := rapid.Float64Range(altitudeLowFt, altitudeHighFt).Draw(t, "altitude")
		agrees(t, "altitude of its boiling point, ft", sure(t)(AltitudeFtOfBoiling(sure(t)(BoilingC(ft)))), ft, 1e-5)
		c := rapid.Float64Range(0.001, 373.945).Draw(t, "temperature")
		agrees(t, "temperature of its pressure, °C", sure(t)(SaturationC(sure(t)(SaturationPa(c)))), c, 1e-6)
		pa := rapid.Float64Range(612, 22.06e6).Draw(t, "pressure")
		agrees(t, "pressure of its temperature, Pa", sure(t)(SaturationPa(sure(t)(SaturationC(pa)))), pa, 1e-8*pa)
	})
}

func TestSteamRanges(t *testing.T) {
	t.Parallel()
	holdsWithin(t, StandardPressurePa, -1500, 36_089)
	holdsWithin(t, BoilingC, -1500, 36_089)
	holdsWithin(t, SaturationPa, 0, 373.946)
	holdsWithin(t, SaturationC, sure(t)(SaturationPa(0)), sure(t)(SaturationPa(373.946)))
	holdsWithin(t, AltitudeFtOfBoiling, sure(t)(BoilingC(36_089)), sure(t)(BoilingC(-1500)))
}

func BenchmarkBoilingC(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := BoilingC(6240); err != nil {
			b.Fatal(err)
		}
	}
}

// checker is a test, or one case of a property.
type checker interface {
	Helper()
	Errorf(format string, args ...any)
	Fatalf(format string, args ...any)
}

// sure gives the value of a call that has to succeed.
func sure(t checker) func(v float64, err error) float64 {
	t.Helper()
	return func(v float64, err error) float64 {
		t.Helper()
		if err != nil {
			t.Fatalf("%v", err)
		}
		return v
	}
}

// agrees compares a value with that of the source; nothing agrees with NaN.
func agrees(t checker, what string, got, want, tolerance float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tolerance) {
		t.Errorf("%s: got %.9g, want %.9g within %g", what, got, want, tolerance)
	}
}

// holdsWithin calls f at both ends of a range, which have to pass, and with values
// just outside and no numbers, each of which has to give a RangeError.
func holdsWithin(t *testing.T, f func(float64) (float64, error), low, high float64) {
	t.Helper()
	sure(t)(f(low))
	sure(t)(f(high))
	below, above := low-max(0.001, math.Abs(low)/1000), high+max(0.001, math.Abs(high)/1000)
	for _, v := range []float64{below, above, math.NaN(), math.Inf(1), math.Inf(-1)} {
		got, err := f(v)
		if out := new(RangeError); !errors.As(err, &out) {
			t.Errorf("a value of %v gives %v and error %v, want a RangeError", v, got, err)
		}
	}
}
