package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/physics"
)

// How numbers are said, in both unit systems.

// sayC says a temperature to a tenth of a degree in both scales.
func sayC(c float64) string {
	return fmt.Sprintf("%.1f\u00a0°F (%.1f\u00a0°C)", physics.Fahrenheit(c), c)
}

func sayFt(ft float64) string { return measure.Altitude(ft).Both() }

func sayPSI(psi float64) string { return together(measure.Pressure(math.Round(psi*10) / 10).Both()) }

func sayInHg(inHg float64) string { return together(measure.Vacuum(inHg).Both()) }

// together keeps a quantity on one line.
func together(s string) string { return strings.ReplaceAll(s, " ", "\u00a0") }

func sayMM(mm float64) string {
	return fmt.Sprintf("%.0f mm (%.1f in)", mm, mm/25.4)
}

func sayML(ml float64) string {
	return fmt.Sprintf("%.0f ml (%.1f fl oz)", ml, ml/29.5735295625)
}

func sayKg(kg float64) string {
	return fmt.Sprintf("%s kg (%s lb)", digits(kg, 3), digits(kg/0.45359237, 3))
}

func sayMinutes(minutes float64) string {
	if minutes >= 180 {
		return fmt.Sprintf("%d h %02d min", int(math.Round(minutes))/60, int(math.Round(minutes))%60)
	}
	if minutes < 1 {
		return digits(minutes, 3) + "\u00a0min"
	}
	return digits(math.Round(minutes*10)/10, 4) + "\u00a0min"
}

func sayShare(share float64) string { return digits(share*100, 3) + " %" }

// digits writes a number to so many digits that count, without an exponent.
func digits(v float64, n int) string {
	if v == 0 || math.IsInf(v, 0) || math.IsNaN(v) {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	places := max(0, n-1-int(math.Floor(math.Log10(math.Abs(v)))))
	s := strconv.FormatFloat(v, 'f', min(places, 12), 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

// steps gives count+1 values from low to high.
func steps(low, high float64, count int) []float64 {
	list := make([]float64, count+1)
	for i := range list {
		list[i] = low + (high-low)*float64(i)/float64(count)
	}
	return list
}

// curve gives the points of y over x.
func curve(xs []float64, y func(float64) (float64, error)) ([]Point, error) {
	points := make([]Point, 0, len(xs))
	for _, x := range xs {
		v, err := y(x)
		if err != nil {
			return nil, err
		}
		points = append(points, Point{x, v})
	}
	return points, nil
}

var (
	meters  = &Other{Unit: "m", Factor: 0.3048}
	celsius = &Other{Unit: "°C", Factor: 1 / 1.8, Offset: -32 / 1.8}
	kPa     = &Other{Unit: "kPa", Factor: 6.894757}
	kPaHg   = &Other{Unit: "kPa", Factor: 3.386389}
)
