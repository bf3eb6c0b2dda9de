package physics

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// TestGaugeForTemperature: US Standard Atmosphere 1976 with IAPWS R7-97(2012),
// worked out independently.
func TestGaugeForTemperature(t *testing.T) {
	t.Parallel()
	agrees(t, "steam at 240 °F, Pa", sure(t)(SaturationPa(Celsius(240))), 172_264.6, 0.1)
	agrees(t, "steam at 250 °F, Pa", sure(t)(SaturationPa(Celsius(250))), 205_757.2, 0.1)
	agrees(t, "steam at 240 °F, psi", sure(t)(SaturationPa(Celsius(240)))/pascalsPerPSI, 24.985, 0.0005)
	agrees(t, "steam at 250 °F, psi", sure(t)(SaturationPa(Celsius(250)))/pascalsPerPSI, 29.843, 0.0006)
	for _, row := range []struct{ ft, psi240, psi250 float64 }{
		{0, 10.289, 15.147},
		{1000, 10.812, 15.670},
		{2000, 11.320, 16.178},
		{3000, 11.814, 16.671},
		{4000, 12.293, 17.150},
		{5000, 12.757, 17.615},
		{6000, 13.208, 18.066},
		{7000, 13.645, 18.503},
		{8000, 14.069, 18.927},
		{9000, 14.480, 19.338},
		{10_000, 14.878, 19.736},
	} {
		agrees(t, fmt.Sprintf("psi for 240 °F at %v ft", row.ft), sure(t)(GaugePSI(row.ft, Celsius(240))), row.psi240, 0.001)
		agrees(t, fmt.Sprintf("psi for 250 °F at %v ft", row.ft), sure(t)(GaugePSI(row.ft, Celsius(250))), row.psi250, 0.001)
	}
}

// TestTemperatureAtGauge: as TestGaugeForTemperature.
func TestTemperatureAtGauge(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ ft, psi, f float64 }{
		{0, 5, 227.10},
		{0, 6, 229.74},
		{0, 10, 239.36},
		{0, 11, 241.56},
		{0, 15, 249.72},
		{1000, 10, 238.18},
		{1000, 10.5, 239.30},
		{1000, 11, 240.41},
		{1000, 15, 248.70},
		{2000, 10, 237.01},
		{2000, 11, 239.29},
		{2000, 12, 241.49},
		{2000, 15, 247.70},
		{4000, 12, 239.35},
		{6000, 13, 239.54},
		{8000, 14, 239.85},
		{8000, 15, 242.03},
		{10_000, 15, 240.27},
	} {
		agrees(t, fmt.Sprintf("°F at %v ft and %v psi", row.ft, row.psi), Fahrenheit(sure(t)(GaugeTempC(row.ft, row.psi))), row.f, 0.02)
	}
}

// TestSteamTable: an imperial steam table, whole °F above 14.696 psi.
func TestSteamTable(t *testing.T) {
	t.Parallel()
	for psi, f := range map[float64]float64{0: 212, 5: 227, 10: 239, 12: 244, 14: 248, 16: 252, 20: 259} {
		agrees(t, fmt.Sprintf("°F at %v psi", psi), Fahrenheit(sure(t)(GaugeTempC(0, psi))), f, 0.6)
	}
}

// TestDialSteps: the dial-gauge steps and the weighted-gauge step of Pacific
// Northwest Extension PNW 421 and of NCHFP, Standard Tomato Sauce.
func TestDialSteps(t *testing.T) {
	t.Parallel()
	// The highest kitchen of each band is the coolest: 239.3 °F or more, to a tenth.
	for topFt, psi := range map[float64]float64{2000: 11, 4000: 12, 6000: 13, 8000: 14} {
		f := Fahrenheit(sure(t)(GaugeTempC(topFt, psi)))
		agrees(t, fmt.Sprintf("°F at the top of the band to %v ft", topFt), f, 240, 0.75)
	}
	// 1 psi for 2 000 ft is what holds 240 °F.
	at := func(ft float64) float64 { return sure(t)(GaugePSI(ft, Celsius(240))) }
	agrees(t, "psi for each 1000 ft, to 4000 ft", (at(4000)-at(0))/4, 0.50, 0.005)
	agrees(t, "psi for each 1000 ft, to 8000 ft", (at(8000)-at(0))/8, 0.47, 0.005)
	// The 15 lb weight is the only step above 1 000 ft, and does to 10 000 ft.
	for ft := 0.0; ft <= 10_000; ft += 500 {
		if f := Fahrenheit(sure(t)(GaugeTempC(ft, 15))); f < 240 {
			t.Errorf("15 psi at %v ft is %v °F, want 240 or more", ft, f)
		}
	}
	// University of Missouri Extension: 10.5 psi is 240 °F, for 0 to 1 000 ft.
	agrees(t, "psi for 240 °F, midway to 1000 ft", at(500), 10.5, 0.1)
}

// TestAirCoolsTheCanner: Dalton's law. Half air at 10 psi leaves 12.348 psi of
// steam, which boils where no gauge would show any pressure.
func TestAirCoolsTheCanner(t *testing.T) {
	t.Parallel()
	half := sure(t)(GaugeTempWithAirC(0, 10, 0.5))
	agrees(t, "steam pressure at half air, psi", sure(t)(SaturationPa(half))/pascalsPerPSI, (14.696+10)/2, 0.0005)
	if open := sure(t)(BoilingC(0)); half >= open {
		t.Errorf("a canner half full of air at 10 psi is at %v °C, want less than the %v °C of an open pot", half, open)
	}
}

func TestGaugeProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		ft := rapid.Float64Range(altitudeLowFt, altitudeHighFt).Draw(t, "altitude")
		psi := rapid.Float64Range(0.001, 59.999).Draw(t, "psi")
		air := rapid.Float64Range(0.001, 0.9).Draw(t, "air")
		c := sure(t)(GaugeTempC(ft, psi))
		agrees(t, "psi of its temperature", sure(t)(GaugePSI(ft, c)), psi, 1e-6)
		if withAir := sure(t)(GaugeTempWithAirC(ft, psi, air)); withAir >= c {
			t.Fatalf("with air the canner is at %v °C, without at %v °C", withAir, c)
		}
		if lowest := sure(t)(GaugeTempC(altitudeLowFt, psi)); ft > altitudeLowFt+1 && lowest <= c {
			t.Fatalf("%v psi is %v °C at %v ft, and at %v ft no more than %v °C", psi, c, ft, altitudeLowFt, lowest)
		}
	})
}

func TestGaugeRanges(t *testing.T) {
	t.Parallel()
	holdsWithin(t, func(ft float64) (float64, error) { return GaugeTempC(ft, 11) }, -1500, 36_089)
	holdsWithin(t, func(psi float64) (float64, error) { return GaugeTempC(0, psi) }, 0, 60)
	holdsWithin(t, func(ft float64) (float64, error) { return GaugeTempWithAirC(ft, 11, 0.1) }, -1500, 36_089)
	holdsWithin(t, func(psi float64) (float64, error) { return GaugeTempWithAirC(0, psi, 0.1) }, 0, 60)
	holdsWithin(t, func(air float64) (float64, error) { return GaugeTempWithAirC(0, 11, air) }, 0, 0.9)
	holdsWithin(t, func(ft float64) (float64, error) { return GaugePSI(ft, 115) }, -1500, 36_089)
	holdsWithin(t, func(c float64) (float64, error) { return GaugePSI(0, c) }, sure(t)(BoilingC(0)), sure(t)(GaugeTempC(0, 60)))
}
