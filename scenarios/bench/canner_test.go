package bench

import (
	"fmt"
	"math"
	"testing"
)

// TestBoilingPoint: US Standard Atmosphere 1976 with IAPWS R7-97(2012), worked out
// independently. The altitudes stand in both unit systems.
func TestBoilingPoint(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		feet, meters string
		pa, c, f     float64
	}{
		{"0 ft", "0 m", 101_325.0, 99.974, 211.95},
		{"1000 ft", "304.8 m", 97_716.6, 98.962, 210.13},
		{"2,000 ft", "609.6 m", 94_212.9, 97.948, 208.31},
		{"4 000 feet", "1219.2 m", 87_510.6, 95.919, 204.65},
		{"5000 ft", "1 524 m", 84_307.3, 94.903, 202.83},
		{"6000'", "1828.8 meters", 81_199.6, 93.886, 201.00},
		{"7000 ft", "2133.6 m", 78_185.4, 92.869, 199.16},
		{"8000ft", "2438.4m", 75_262.4, 91.851, 197.33},
		{"10 000 ft", "3048 m", 69_681.7, 89.812, 193.66},
	} {
		for _, altitude := range []string{row.feet, row.meters} {
			a := ask(t, b, "boiling-point", "altitude="+altitude)
			a.near("pressure_pa", row.pa, 0.5)
			a.near("boiling_c", row.c, 0.001)
			a.near("boiling_f", row.f, 0.01)
		}
		a := ask(t, b, "boiling-point", fmt.Sprintf("boiling=%v C", row.c))
		a.near("altitude_ft", ask(t, b, "boiling-point", "altitude="+row.feet).num("altitude_ft"), 0.6) // 0.0005 C
	}
}

// TestBoilingPointAsPrinted: whole degrees, from the USDA's high-altitude food
// preparation sheet (2 000 ft) and from extension sheets.
func TestBoilingPointAsPrinted(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for altitude, f := range map[string]float64{"0 ft": 212, "2000 ft": 208, "5000 ft": 203, "7500 ft": 198, "10 000 ft": 194} {
		a := ask(t, b, "boiling-point", "altitude="+altitude)
		if got := math.Round(a.num("boiling_f")); got != f {
			t.Errorf("%s: %v °F in whole degrees, printed is %v", a.asked, got, f)
		}
	}
	// Half a degree around the printed one holds the altitude it is printed for.
	for f, ft := range map[float64]float64{208: 2000, 203: 5000, 198: 7500, 194: 10_000} {
		above := ask(t, b, "boiling-point", fmt.Sprintf("boiling=%v F", f-0.5)).num("altitude_ft")
		below := ask(t, b, "boiling-point", fmt.Sprintf("boiling=%v F", f+0.5)).num("altitude_ft")
		if !(below <= ft && ft <= above) {
			t.Errorf("water that boils at %v °F in whole degrees is from %v to %v ft, printed is %v", f, below, above, ft)
		}
	}
}

// TestPressureAsPrinted: psia of the I-P table of standard atmospheric data in an
// engineering handbook, whose 4 000 ft are misprinted and left out.
func TestPressureAsPrinted(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for altitude, psia := range map[string]float64{
		"0 ft": 14.696, "1000 ft": 14.175, "2000 ft": 13.664, "3000 ft": 13.173, "5000 ft": 12.230,
		"6000 ft": 11.778, "7000 ft": 11.341, "8000 ft": 10.914, "9000 ft": 10.506, "10 000 ft": 10.108,
	} {
		const pascalsPerPSI = 6894.757 // NIST SP 811 (2008), Appendix B
		ask(t, b, "boiling-point", "altitude="+altitude).near("pressure_pa", psia*pascalsPerPSI, 0.003*pascalsPerPSI)
	}
}

// TestGaugeReading: US Standard Atmosphere 1976 with IAPWS R7-97(2012), worked out
// independently.
func TestGaugeReading(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		altitude       string
		psi240, psi250 float64
	}{
		{"0 ft", 10.289, 15.147},
		{"1000 ft", 10.812, 15.670},
		{"609.6 m", 11.320, 16.178},
		{"3000 ft", 11.814, 16.671},
		{"4000 ft", 12.293, 17.150},
		{"1524 m", 12.757, 17.615},
		{"6000 ft", 13.208, 18.066},
		{"7000 ft", 13.645, 18.503},
		{"8000 ft", 14.069, 18.927},
		{"9000 ft", 14.480, 19.338},
		{"3048 m", 14.878, 19.736},
	} {
		ask(t, b, "gauge", "altitude="+row.altitude, "temp=240 F").near("psi", row.psi240, 0.001)
		ask(t, b, "gauge", "altitude="+row.altitude, "temp=250 °F").near("psi", row.psi250, 0.001)
	}
}

// TestGaugeTemperature: as TestGaugeReading. University of Missouri Extension gives
// 10.5 psi as the base for 0 to 1 000 ft.
func TestGaugeTemperature(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		altitude, pressure string
		f                  float64
	}{
		{"0 ft", "5 psi", 227.10},
		{"0 m", "6 lb", 229.74},
		{"0 ft", "10 psi", 239.36},
		{"0 ft", "11 pounds", 241.56},
		{"0 ft", "15 psi", 249.72},
		{"1000 ft", "10 psi", 238.18},
		{"1000 ft", "10.5 psi", 239.30},
		{"304.8 m", "72.3949485 kPa", 239.30},
		{"1000 ft", "11 psi", 240.41},
		{"1000 ft", "15 psi", 248.70},
		{"2000 ft", "10 psi", 237.01},
		{"2000 ft", "11 psi", 239.29},
		{"2000 ft", "12 psi", 241.49},
		{"2000 ft", "15 psi", 247.70},
		{"4000 ft", "12 psi", 239.35},
		{"6000 ft", "13 psi", 239.54},
		{"8000 ft", "14 psi", 239.85},
		{"8000 ft", "15 psi", 242.03},
		{"10 000 ft", "15 psi", 240.27},
	} {
		a := ask(t, b, "gauge", "altitude="+row.altitude, "pressure="+row.pressure)
		a.near("temp_f", row.f, 0.02)
		a.near("temp_c", (row.f-32)/1.8, 0.02)
	}
}

// TestGaugeAsInSteamTables: whole degrees of an imperial steam table.
func TestGaugeAsInSteamTables(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for psi, f := range map[int]float64{0: 212, 5: 227, 10: 239, 12: 244, 14: 248, 16: 252, 20: 259} {
		ask(t, b, "gauge", "altitude=0 ft", fmt.Sprintf("pressure=%d psi", psi)).near("temp_f", f, 0.6)
	}
}

// TestCoolGaugeSaysSo: 10 psi at 6 000 ft is far from 240 °F, and 13 psi, printed
// for there (PNW 421), holds it to a degree.
func TestCoolGaugeSaysSo(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	if says := result(t, b, "gauge", "altitude=6000 ft", "pressure=10 psi").Says; len(says) != 2 {
		t.Errorf("10 psi at 6 000 ft: %q, want a word on the temperature, too", says)
	}
	if says := result(t, b, "gauge", "altitude=6000 ft", "pressure=13 psi").Says; len(says) != 1 {
		t.Errorf("13 psi at 6 000 ft: %q, want no more than the temperature", says)
	}
}

// TestFit: published packings of equal circles in a circle, by the width of the
// canner in jars.
func TestFit(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		canner, jar, spacing string
		jars                 float64
	}{
		{"199 mm", "100 mm", "", 1},
		{"8 in", "4 in", "", 2},
		{"215.4 mm", "100 mm", "", 2},
		{"21.55 cm", "10 cm", "", 3},
		{"299.9 mm", "100 mm", "", 5},
		{"12 in", "4 in", "", 7},
		{"300 mm", "100 mm", "", 7},
		{"330.4 mm", "100 mm", "", 7},
		{"330.5 mm", "100 mm", "", 8},
		{"361.4 mm", "100 mm", "", 9},
		{"381.3 mm", "100 mm", "", 9},
		{"381.4 mm", "100 mm", "", 10},
		{"486.4 mm", "100 mm", "", 19},
		// 12.75 to 4.25 once each jar has its room.
		{"13 in", "4 in", "1/4 in", 7},
		{"12 63/64 in", "4 in", "1/4 in", 5},
	} {
		a := ask(t, b, "fit", "canner="+row.canner, "jar="+row.jar, "spacing="+row.spacing)
		if got := a.num("jars"); got != row.jars {
			t.Errorf("%s: %v jars, want %v", a.asked, got, row.jars)
		}
	}
}

// TestPositionsStandApart: no two jars overlap, and none is in the wall. The common
// loads of one canner are 7 quarts and 9 pints (NCHFP).
func TestPositionsStandApart(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		canner, jar, spacing float64
		jars                 int
	}{
		{310, 98, 0, 7},
		{310, 82, 0, 9},
		{330, 98, 6, 7},
		{505, 98, 0, 20},
		{200, 150, 0, 1},
	} {
		a := ask(t, b, "fit", fmt.Sprintf("canner=%v mm", row.canner), fmt.Sprintf("jar=%v mm", row.jar), fmt.Sprintf("spacing=%v mm", row.spacing))
		positions, ok := a.json["positions"].([]any)
		if !ok || len(positions) != row.jars || a.num("jars") != float64(row.jars) {
			t.Fatalf("%s: jars %v, positions %v; want %d", a.asked, a.json["jars"], a.json["positions"], row.jars)
		}
		at := func(i int) (x, y float64) {
			xy := positions[i].([]any)
			return xy[0].(float64), xy[1].(float64)
		}
		for i := range positions {
			x, y := at(i)
			if reach := math.Hypot(x, y) + row.jar/2 + row.spacing; reach > row.canner/2+1e-3 {
				t.Errorf("%s: jar %d reaches to %v mm", a.asked, i+1, reach)
			}
			for j := range i {
				x2, y2 := at(j)
				if apart := math.Hypot(x-x2, y-y2); apart < row.jar+row.spacing-1e-3 {
					t.Errorf("%s: jars %d and %d are %v mm apart", a.asked, j+1, i+1, apart)
				}
			}
		}
		circles := result(t, b, "fit", fmt.Sprintf("canner=%v mm", row.canner), fmt.Sprintf("jar=%v mm", row.jar)).Circles
		if circles == nil || circles.CannerMM != row.canner || circles.JarMM != row.jar {
			t.Errorf("%s is drawn as %+v", a.asked, circles)
		}
	}
}
