package physics

import (
	"fmt"
	"testing"

	"pgregory.net/rapid"
)

// TestWaterDensity: Kell, J. Chem. Eng. Data 20 (1975) 97, worked out
// independently; and Tanaka et al., Metrologia 38 (2001) 301, as printed.
// Volumes and pages of both from memory.
func TestWaterDensity(t *testing.T) {
	t.Parallel()
	at20 := sure(t)(WaterDensity(20))
	for _, row := range []struct{ c, kgPerM3, volume, tanaka float64 }{
		{0, 999.840, 0.99836, 999.843},
		{4, 999.972, 0.99823, 0},
		{10, 999.700, 0.99850, 999.703},
		{15, 999.100, 0.99910, 999.103},
		{20, 998.204, 1, 998.207},
		{30, 995.647, 1.00257, 995.649},
		{40, 992.216, 1.00604, 0},
		{50, 988.036, 1.01029, 0},
		{60, 983.199, 1.01526, 0},
		{70, 977.770, 1.02090, 0},
		{80, 971.798, 1.02717, 0},
		{90, 965.320, 1.03407, 0},
		{95, 961.900, 1.03774, 0},
		{100, 958.364, 1.04157, 0},
	} {
		density := sure(t)(WaterDensity(row.c))
		agrees(t, fmt.Sprintf("density at %v °C", row.c), density, row.kgPerM3, 0.005)
		agrees(t, fmt.Sprintf("volume at %v °C over that at 20 °C", row.c), at20/density, row.volume, 0.00001)
		if row.tanaka != 0 {
			agrees(t, fmt.Sprintf("density at %v °C, Tanaka", row.c), density, row.tanaka, 0.01)
		}
	}
}

// TestWaterDensityDigits: with two digits of Kell's last coefficient swapped, as
// in a copy, water at 20 °C comes out at 997.94 kg/m3 in place of 998.20.
func TestWaterDensityDigits(t *testing.T) {
	t.Parallel()
	density := sure(t)(WaterDensity(20))
	agrees(t, "density at 20 °C", density, 998.20, 0.005)
	agrees(t, "density at 20 °C with the digits swapped", density*(1+16.879850e-3*20)/(1+16.897850e-3*20), 997.94, 0.005)
}

// TestHeatOfVaporization: a printed saturated-water table has 2308.0, 2295.3 and
// 2282.5 kJ/kg at 80, 85 and 90 °C. They fall by 2.55 for each degree, which leads
// to our value at 100 °C.
func TestHeatOfVaporization(t *testing.T) {
	t.Parallel()
	agrees(t, "kJ/kg at 100 °C", 2282.5-(2308.0-2282.5), VaporizationKJPerKg, 1)
}

func TestWaterIsDensestNear4C(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		cooler := rapid.Float64Range(4.1, 149).Draw(t, "cooler")
		hotter := rapid.Float64Range(cooler+0.01, 150).Draw(t, "hotter")
		if dense, thin := sure(t)(WaterDensity(cooler)), sure(t)(WaterDensity(hotter)); dense <= thin {
			t.Fatalf("water has %v kg/m3 at %v °C and %v at %v °C", dense, cooler, thin, hotter)
		}
	})
}

func TestWaterRanges(t *testing.T) {
	t.Parallel()
	holdsWithin(t, WaterDensity, 0, 150)
}
