// Package physics holds the models that explain canning: why water boils cooler
// higher up, how heat creeps to the middle of a jar, how the headspace becomes a
// vacuum, what a lid sounds like, what acid does to tomatoes, what a few unsealed
// jars can and cannot tell.
//
// Every model is a pure function of plain numbers. The unit stands in each name;
// the equation and its source stand in each docstring; a value outside the range
// in which the model holds gives a *RangeError. None of them gives a process
// time, a pressure, a dose or a headspace to can by: those are published, and
// looked up in package process.
package physics

import (
	"fmt"
	"math"
	"strconv"
)

// RangeError says that a value is outside the range in which a model holds.
type RangeError struct {
	What      string // what the value is, such as "altitude"
	Value     float64
	Low, High float64
	Unit      string // such as "ft"; "" for a bare number
}

// Error names the value and the range that the model holds in.
func (e *RangeError) Error() string {
	return fmt.Sprintf("%s: %s is outside %s to %s, where this model holds", e.What, e.with(e.Value), number(e.Low), e.with(e.High))
}

func (e *RangeError) with(v float64) string {
	switch e.Unit {
	case "":
		return number(v)
	case "°C":
		return number(v) + " °C (" + number(v*1.8+32) + " °F)"
	}
	return number(v) + " " + e.Unit
}

// number writes a number to six digits, without an exponent where a person
// would not use one.
func number(v float64) string {
	if a := math.Abs(v); a != 0 && (a < 1e-4 || a >= 1e9) {
		return strconv.FormatFloat(v, 'g', 6, 64)
	}
	rounded, _ := strconv.ParseFloat(strconv.FormatFloat(v, 'g', 6, 64), 64)
	return strconv.FormatFloat(rounded, 'f', -1, 64)
}

// within gives a *RangeError unless low <= v <= high. No value that is not a
// number is within any range.
func within(what string, v, low, high float64, unit string) error {
	if v >= low && v <= high {
		return nil
	}
	return &RangeError{What: what, Value: v, Low: low, High: high, Unit: unit}
}
