package bench

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/physics"
)

// How the values of keys are read, each into the unit in its name.

func readFt(s string) (float64, error) {
	v, err := measure.ParseAltitude(s)
	return float64(v), err
}

func readC(s string) (float64, error) {
	v, err := measure.ParseTemperature(s)
	return physics.Celsius(float64(v)), err
}

func readDegreesC(s string) (float64, error) {
	v, err := measure.ParseDegrees(s)
	return float64(v), err
}

func readPSI(s string) (float64, error) {
	v, err := measure.ParsePressure(s)
	return float64(v), err
}

func readMM(s string) (float64, error) {
	v, err := measure.ParseLength(s)
	return math.Round(float64(v)*25.4*1e6) / 1e6, err
}

func readML(s string) (float64, error) {
	v, err := measure.ParseVolume(s)
	return math.Round(float64(v)*4.92892159375*1e6) / 1e6, err
}

func readMinutes(s string) (float64, error) {
	v, err := measure.ParseDuration(s)
	return float64(v), err
}

func readKg(s string) (float64, error) {
	v, err := measure.ParseWeight(s)
	return float64(v) * 0.45359237, err
}

func readWatts(s string) (float64, error) {
	v, err := measure.ParsePower(s)
	return float64(v), err
}

func readInHg(s string) (float64, error) {
	v, err := measure.ParseVacuum(s)
	return float64(v), err
}

func readShare(s string) (float64, error) {
	v, err := measure.ParseShare(s)
	return float64(v), err
}

// readNumber reads a bare number, such as 1.5e-7. A unit after it may only be the
// one that the key has.
func readNumber(unit string) func(string) (float64, error) {
	return func(s string) (float64, error) {
		text := strings.TrimSpace(s)
		if unit != "" {
			text = strings.TrimSpace(strings.TrimSuffix(text, unit))
		}
		v, err := strconv.ParseFloat(text, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			if unit != "" {
				return 0, fmt.Errorf("%q is not a number in %s, such as 0.6 or 1.5e-7", s, unit)
			}
			return 0, fmt.Errorf("%q is not a number, such as 4.3", s)
		}
		return v, nil
	}
}

// readCount reads a whole number of things.
func readCount(s string) (float64, error) {
	n, err := strconv.Atoi(strings.TrimSpace(s))
	if err != nil || n < 0 {
		return 0, fmt.Errorf("%q is not a whole number of jars, such as 7", s)
	}
	return float64(n), nil
}

// readOf reads a count out of a count, such as 2/14. The value is the first; the
// second is read again by whoever needs it.
func readOf(s string) (float64, error) {
	k, _, err := countOf(s)
	return float64(k), err
}

func countOf(s string) (k, n int, err error) {
	first, second, found := strings.Cut(s, "/")
	k, errK := strconv.Atoi(strings.TrimSpace(first))
	n, errN := strconv.Atoi(strings.TrimSpace(second))
	if !found || errK != nil || errN != nil || k < 0 || n < 1 || k > n {
		return 0, 0, fmt.Errorf("%q is not so many of so many, such as 2/14", s)
	}
	return k, n, nil
}
