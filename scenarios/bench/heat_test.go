package bench

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestCanOfPurée: Geankoplis, Transport Processes and Unit Operations, Ex. 5.3-4, p.
// 347: pea purée in a can of 68.1 by 101.6 mm, 45 minutes in steam. The book reads
// 106.6 °C from charts; the series gives 108.39 °C, which a finite-volume reckoning
// confirms, and 108.62 °C with the surface at the steam's temperature.
func TestCanOfPurée(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	can := func(u string, si bool) answer {
		if si {
			return ask(t, b, "heating", "radius=34.05 mm", "half_height=50.8 mm", "alpha=2.007e-7 m2/s", "k=0.830 W/mK", "u="+u, "start=29.4 °C", "bath=115.6 C", "time=45 min")
		}
		return ask(t, b, "heating", "radius=1.3405512 in", "half_height=2 in", "alpha=2.007e-7", "k=0.830", "u="+u, "start=84.92 F", "bath=240.08 degrees F", "time=3/4 h")
	}
	for _, si := range []bool{true, false} {
		can("4540 W/m2K", si).near("center_c", 106.6, 2.0)
		can("4540", si).near("center_c", 108.39, 0.01)
		can("inf", si).near("center_c", 108.62, 0.01)
	}
}

// TestSausage: Earle, Unit Operations in Food Processing: a sausage 100 mm across and
// 300 mm long, 2 hours in an autoclave at 116 °C, is near 100 °C in the middle (from
// memory); the series gives 99.08 °C.
func TestSausage(t *testing.T) {
	t.Parallel()
	a := ask(t, shipped(t), "heating", "radius=5 cm", "half_height=15 cm", "alpha=1.33910e-7", "k=0.48", "u=1200", "start=21 C", "bath=116 C", "time=2 h")
	a.near("center_c", 100, 1.5)
	a.near("center_c", 99.08, 0.01)
}

// TestJarsOfTeachingSizes: fh and j of the closed form with roots of high precision,
// for a diffusivity of 1.5e-7 m2/s and a conductivity of 0.6 W/mK, in a bath that
// holds the surface, behind glass (350 W/m2K) and in still air (10 W/m2K).
func TestJarsOfTeachingSizes(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		radius, halfHeight string
		held, glass, j     float64
		air                float64
	}{
		{"33 mm", "40 mm", 37.33, 41.22, 2.022, 209.4},
		{"38 mm", "54 mm", 52.74, 57.42, 2.027, 259.2},
		{"4.5 cm", "7.2 cm", 76.79, 82.50, 2.031, 327.7},
	} {
		held := ask(t, b, "heating", "radius="+row.radius, "half_height="+row.halfHeight, "u=inf")
		held.near("fh_min", row.held, 0.001*row.held)
		held.near("j", 2.0397, 0.0001)
		glass := ask(t, b, "heating", "radius="+row.radius, "half_height="+row.halfHeight, "then=cooling", "u_air=10", "air=22 C")
		glass.near("fh_min", row.glass, 0.001*row.glass)
		glass.near("j", row.j, 0.001)
		glass.near("fc_min", row.air, 0.001*row.air)
	}
	// fh goes as one over the diffusivity.
	ask(t, b, "heating", "alpha=1.4e-7", "u=inf").near("fh_min", 56.51, 0.005)
	ask(t, b, "heating", "alpha=1.6e-7", "u=inf").near("fh_min", 49.44, 0.005)
}

// TestMiddleOfPintAndQuart: the series in high precision, 85 °C into 100 °C.
func TestMiddleOfPintAndQuart(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for minutes, row := range map[int]struct{ pint, quart float64 }{
		10: {85.52, 85.10},
		20: {88.77, 86.68},
		30: {92.23, 89.20},
		40: {94.83, 91.60},
		60: {97.79, 95.16},
	} {
		time := fmt.Sprintf("time=%d min", minutes)
		ask(t, b, "heating", "u=inf", "start=185 F", "bath=212 F", time).near("center_c", row.pint, 0.006)
		ask(t, b, "heating", "u=inf", "start=85 C", "bath=100 C", time, "radius=45 mm", "half_height=72 mm").near("center_c", row.quart, 0.006)
	}
}

// TestOvershoot: a pint, 20 minutes from 80 °C in water of 100 °C, then in still air
// of 22 °C: the middle is at 84.26 °C when it comes out and climbs to 89.46 °C, 17
// minutes later, by a finite-volume reckoning on a coarse grid.
func TestOvershoot(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, given := range [][]string{
		{"start=80 C", "time=20 min", "then=cooling", "air=22 C", "u_air=8 W/m2K"},
		{"start=176 F", "time=1/3 h", "then=cooling", "air=71.6 F", "u_air=8", "cool_time=2 h"},
	} {
		a := ask(t, b, "heating", given...)
		a.near("center_c", 84.26, 0.2)
		a.near("peak_c", 89.46, 0.2)
		a.near("peak_min", 20+17, 1)
	}
	// Left out, the air is still and at 22 °C, and the jar cools for two hours.
	whole := ask(t, b, "heating", "then=cooling", "air=22 C", "u_air=8", "cool_time=2 h")
	for _, given := range []string{"then=cooling", "air=22 C", "u_air=8", "cool_time=2 h"} {
		if a := ask(t, b, "heating", given); !alike(a.json, whole.json, 1e-9) {
			t.Errorf("%s is %v, want %v", a.asked, a.json, whole.json)
		}
	}
}

// TestCoolingShare: Willmore, Etzel, Andress and Ingham, Food Protection Trends 35
// (2015) 150, measured 48 to 95 % of the whole effect during cooling. The shares were
// worked out apart by finite volumes, and another way of solving may differ by 1 %.
func TestCoolingShare(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		jar, time           string
		from80u8, from80u12 float64
		from90u8, from90u12 float64
	}{
		{"radius=33 mm;half_height=40 mm", "10 min", 93.4, 91.2, 82.7, 79.2},
		{"radius=38 mm;half_height=54 mm", "20 min", 92.2, 89.9, 78.5, 74.7},
		{"radius=38 mm;half_height=54 mm", "35 min", 86.9, 84.0, 70.0, 65.9},
		{"radius=45 mm;half_height=72 mm", "40 min", 88.7, 86.0, 72.3, 68.3},
	} {
		for _, c := range []struct {
			start, u string
			percent  float64
		}{{"80 C", "8", row.from80u8}, {"80 C", "12", row.from80u12}, {"90 C", "8", row.from90u8}, {"90 C", "12", row.from90u12}} {
			a := ask(t, b, "heating", append(strings.Split(row.jar, ";"), "time="+row.time, "start="+c.start, "then=cooling", "air=22 C", "u_air="+c.u)...)
			a.near("cooling_share", c.percent/100, 0.01)
			if share := a.num("cooling_share"); share < 0.48 || share > 0.95 {
				t.Errorf("%s: cooling gives %v of the effect, measured are 0.48 to 0.95", a.asked, share)
			}
			if fh, fc := a.num("fh_min"), a.num("fc_min"); fc <= fh {
				t.Errorf("%s: fc %v is no longer than fh %v, which the study found in every product", a.asked, fc, fh)
			}
		}
	}
}

// TestHeatingCurve: the curve begins at the start and ends at the numbers given; the
// average runs ahead of the middle while the food warms.
func TestHeatingCurve(t *testing.T) {
	t.Parallel()
	a := ask(t, shipped(t), "heating", "start=85 C", "bath=100 C", "time=40 min")
	points := a.json["curve"].([]any)
	at := func(i int, key string) float64 { return points[i].(map[string]any)[key].(float64) }
	last := len(points) - 1
	if at(0, "min") != 0 || at(0, "center_c") != 85 || at(0, "mean_c") != 85 {
		t.Errorf("the curve begins at %v", points[0])
	}
	if at(last, "min") != 40 || math.Abs(at(last, "center_c")-a.num("center_c")) > 1e-9 || math.Abs(at(last, "mean_c")-a.num("mean_c")) > 1e-9 {
		t.Errorf("the curve ends at %v, the numbers are %v and %v", points[last], a.num("center_c"), a.num("mean_c"))
	}
	for i := 1; i <= last; i++ {
		if at(i, "mean_c") < at(i, "center_c")-1e-9 || at(i, "min") <= at(i-1, "min") {
			t.Errorf("after %v comes %v", points[i-1], points[i])
		}
	}
}

// TestThreeJars: the smaller jars behind glass have the fh and j of
// TestJarsOfTeachingSizes; after 90 minutes all but their slowest mode have died away,
// and what is left of the gap is j 10^(-90/fh).
func TestThreeJars(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	const sea, start, minutes = 99.974, 85, 90
	a := ask(t, b, "jars", "altitude=0 ft", "start=85 C", "time=90 min")
	for name, row := range map[string]struct{ fh, j float64 }{
		"half_pint_thick_c": {41.22, 2.022},
		"pint_thick_c":      {57.42, 2.027},
	} {
		a.near(name, sea-row.j*(sea-start)*math.Pow(10, -minutes/row.fh), 0.03)
	}
	// Larger, thicker, higher up: each is slower.
	for _, minutes := range []string{"5 min", "20 min", "60 min"} {
		low, high := ask(t, b, "jars", "altitude=0 ft", "time="+minutes), ask(t, b, "jars", "altitude=2000 m", "time="+minutes)
		for _, a := range []answer{low, high} {
			for _, food := range []string{"thick", "thin"} {
				half, pint, quart := a.num("half_pint_"+food+"_c"), a.num("pint_"+food+"_c"), a.num("quart_"+food+"_c")
				if !(half > pint && pint > quart) {
					t.Errorf("%s: %s half-pint %v, pint %v, quart %v", a.asked, food, half, pint, quart)
				}
			}
			for _, jar := range []string{"half_pint", "pint", "quart"} {
				if thick, thin := a.num(jar+"_thick_c"), a.num(jar+"_thin_c"); thick >= thin {
					t.Errorf("%s: %s thick %v, thin %v", a.asked, jar, thick, thin)
				}
			}
		}
		for _, name := range []string{"half_pint_thick_c", "pint_thick_c", "quart_thick_c", "quart_thin_c"} {
			if low.num(name) <= high.num(name) {
				t.Errorf("after %s %s is %v at sea level and %v at 2000 m", minutes, name, low.num(name), high.num(name))
			}
		}
	}
}

// TestJarsCutOpen: the middle is the coolest place, and the glass the warmest.
func TestJarsCutOpen(t *testing.T) {
	t.Parallel()
	jars := result(t, shipped(t), "jars").Jars
	if len(jars) != 6 {
		t.Fatalf("%d jars are drawn, want three sizes of two foods", len(jars))
	}
	for _, j := range jars {
		down, across := len(j.CellsC), len(j.CellsC[0])
		coolest, warmest := j.CellsC[down/2][0], j.CellsC[0][across-1]
		for _, row := range j.CellsC {
			for _, c := range row {
				if c < coolest-1e-9 || c > warmest+1e-9 || c < j.CenterC-1e-9 {
					t.Errorf("%s %s: a cell at %v, the middle %v, the cell in the corner %v", j.Food, j.Jar, c, j.CenterC, warmest)
				}
			}
		}
	}
}

// TestLethalityOfHeating: the closed form in high precision.
func TestLethalityOfHeating(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for _, row := range []struct {
		given string
		f     float64
	}{
		{"fh=30 min;j=2.04;bath=100 C;start=60 C;time=60 min;ref=93.3 C;z=8.89 C", 87.015962},
		{"fh=0.5 h;j=2.04;bath=212 F;start=140 F;time=1 h;ref=199.94 F;z=16.002 F", 87.015962},
		{"fh=30 min;j=2.04;bath=100 C;start=85 C;time=40 min;ref=93.3 C;z=8.89 C", 56.107481},
		{"fh=50 min;j=2.04;bath=100 C;start=185 F;time=40 min;ref=93.3 C;z=8.89 C", 17.852629},
		{"fh=40 min;j=1.41;bath=115.6 C;start=71.1 C;time=60 min;ref=121.1 C;z=10 C", 3.0144885},
		{"fh=40 min;j=1.41;bath=240.08 F;start=159.98 F;time=60 min;ref=249.98 F;z=18 F", 3.0144885},
	} {
		given := strings.Split(row.given, ";")
		ask(t, b, "lethality", given...).near("f_min", row.f, 1e-6*row.f)
		ask(t, b, "lethality", append(given, "d=0.21 min")...).near("log_reductions", row.f/0.21, 1e-5*row.f)
	}
}

// readings writes a CSV file and gives its name.
func readings(t testing.TB, text string) string {
	t.Helper()
	name := filepath.Join(t.TempDir(), "readings.csv")
	if err := os.WriteFile(name, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	return name
}

// TestLethalityOfReadings takes the temperatures from a file, as a data logger leaves
// them.
func TestLethalityOfReadings(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	// Geankoplis, Ex. 9.12-1, p. 573: 20 min at 160 °F, 20 min at 210 °F, 33 min at
	// 230 °F, reference 250 °F, z 18 °F: F = 2.68 min, with degrees Celsius rounded to
	// tenths 2.6823. The steps here take a millionth of a minute.
	steps := readings(t, "minutes,celsius\n0,71.1\n20,71.1\n20.000001, 98.9\n40,98.9\n40.000001,110\n73,110.0\n")
	for _, given := range [][]string{{"ref=121.1 C", "z=10 C"}, {"ref=249.98 F", "z=18 F"}} {
		a := ask(t, b, "lethality", append(given, "curve="+steps)...)
		a.near("f_min", 2.68, 0.01)
		a.near("f_min", 2.6823, 5e-5)
	}
	for _, row := range []struct {
		csv, given string
		f, logs    float64
		within     float64
	}{
		// Geankoplis, Ex. 9.12-3, p. 576: F 9.0 min and D 0.6 min leave 1 in 1e15.
		{"0,65.5555556\n9,65.5555556\n", "ref=150 F;z=10 C;d=0.6 min", 9.0, 15, 1e-6},
		// Twelve reductions of D 0.21 min, as texts on canning print it: 2.52 min.
		{"0,121.1\n2.52,121.1\n", "ref=121.1 C;z=10 C;d=12.6 s", 2.52, 12, 1e-6},
		// A question of a food-engineering course: 15 min at 111 °C, z 10 °C.
		{"0,111\n15,111\n", "ref=121 C;z=18 F", 1.5, 1.5, 1e-6},
		// Arithmetic of equal lethality, worked out apart.
		{"# logger 3\n0,85\n5,85\n15,85\n", "ref=102 C;z=8.7 C", 0.16675, 0.16675, 1e-5},
		{"0, 100\n\n35, 100\n", "ref=93.3 C;z=8.89 C", 198.483, 198.483, 0.001},
		{"0,1e2\n35,100.0\n", "ref=199.94 F;z=8.89 C", 198.483, 198.483, 0.001},
	} {
		a := ask(t, b, "lethality", append(strings.Split(row.given, ";"), "curve="+readings(t, row.csv))...)
		a.near("f_min", row.f, row.within)
		a.near("log_reductions", row.logs, row.within)
	}
}

// TestManyReadings: a log-linear heating as a file of 4001 readings has the F of the
// closed form (high precision, as in TestLethalityOfHeating), and the curve that is
// drawn ends there.
func TestManyReadings(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	var csv strings.Builder
	for i := range 4001 {
		minutes := 60 * float64(i) / 4000
		fmt.Fprintf(&csv, "%v,%v\n", minutes, 100-2.04*40*math.Pow(10, -minutes/30))
	}
	name := readings(t, csv.String())
	ask(t, b, "lethality", "ref=93.3 C", "z=8.89 C", "curve="+name).near("f_min", 87.015962, 2e-6*87)
	points := result(t, b, "lethality", "ref=93.3 C", "z=8.89 C", "curve="+name).Figure.Lines[0].Points
	if end := points[len(points)-1]; end.X != 60 || math.Abs(end.Y-87.015962) > 2e-4 || len(points) > 200 {
		t.Errorf("the line of %d points ends at %v, want it at 60 min and 87.016", len(points), end)
	}
}

// TestReadingsThatAreRefused: the message names the file, and the line where one is
// wrong.
func TestReadingsThatAreRefused(t *testing.T) {
	t.Parallel()
	b := shipped(t)
	for csv, want := range map[string]string{
		"":                                "at least two readings",
		"minutes,celsius\n":               "at least two readings",
		"0,85\n":                          "at least two readings",
		"0,85\nten,90\n":                  "readings.csv:2:",
		"0,85\n10,hot\n":                  "readings.csv:2:",
		"min,C\nmin,C\n0,85\n5,90\n":      "readings.csv:2:",
		"0,85\n10,\n":                     "readings.csv:2:",
		"0,85\n10,90,3\n":                 "line 2",
		"0\n10\n":                         "line 1",
		"0,85\n10;90\n":                   "line 2",
		"0,85\n\"10,90\n":                 "line 2",
		"0,85 C\n10 min,90 C\n":           "readings.csv:",
		"0,85\n10,90\n10,91\n":            "10 min does not come after the 10 min",
		"0,85\n10,90\n5,91\n":             "5 min does not come after the 10 min",
		"0,NaN\n10,90\n":                  "NaN",
		"0,85\n+Inf,90\n":                 "Inf",
		"0,85\n10,1000\n":                 "1000",
		"-5,85\n10,90\n":                  "-5 min",
		strings.Repeat("0,85\n", 100_001): "100000 readings",
	} {
		name := readings(t, csv)
		err := refused(t, b, "lethality", "curve="+name)
		told := KeyErrors(err)
		if len(told) != 1 || told[0].Key != "curve" || told[0].Text != name {
			t.Errorf("%.40q: %v, want it told of the curve", csv, err)
		}
		if !strings.Contains(err.Error(), want) {
			t.Errorf("%.40q: %v, want %q in it", csv, err, want)
		}
	}
	if err := refused(t, b, "lethality", "curve=no-such-file.csv"); !strings.Contains(err.Error(), "no-such-file.csv") {
		t.Errorf("a missing file: %v", err)
	}
	if err := refused(t, b, "lethality", "curve="+t.TempDir()); !strings.Contains(err.Error(), "directory") {
		t.Errorf("a folder: %v", err)
	}
	for _, given := range []string{"ref=250 C", "z=0.5 C", "d=0 min"} {
		if len(KeyErrors(refused(t, b, "lethality", given, "curve="+readings(t, "0,85\n10,90\n")))) == 0 {
			t.Errorf("%s: no *KeyError", given)
		}
	}
}
