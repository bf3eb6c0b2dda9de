package measure

import (
	"math"
	"strconv"
	"strings"
)

// Length is a length in inches.
type Length float64

// Volume is a volume in US teaspoons.
type Volume float64

// Temperature is a temperature in degrees Fahrenheit.
type Temperature float64

// Pressure is a gauge pressure in pounds per square inch.
type Pressure float64

// Duration is a time in minutes.
type Duration float64

// Altitude is a height above sea level in feet.
type Altitude float64

// Weight is a weight in pounds.
type Weight float64

const (
	mmPerInch  = 25.4
	mlPerTsp   = 4.92892159375
	kpaPerPsi  = 6.894757
	feetPerM   = 1 / 0.3048
	kgPerPound = 0.45359237
	lowestFt   = -1500.0 // the lowest dry land is near -1 400 ft
	highestFt  = 30000.0
	lengthWant = "a length unit: in or mm"
	volumeWant = "a volume unit: tsp, tbsp, cup or ml"
	tempWant   = "a temperature unit: F or C"
	psiWant    = "a pressure unit: psi or kPa"
	timeWant   = "a time unit: min or h"
	heightWant = "an altitude unit: ft or m"
)

var (
	lengthUnits = []unit{
		{names: []string{"in", "inch", "inches", `"`, "″", "”"}, factor: 1},
		{names: []string{"mm", "millimeter", "millimeters", "millimetre", "millimetres"}, factor: 1 / mmPerInch},
		{names: []string{"cm", "centimeter", "centimeters", "centimetre", "centimetres"}, factor: 10 / mmPerInch},
	}
	volumeUnits = []unit{
		{names: []string{"tsp", "teaspoon", "teaspoons"}, factor: 1},
		{names: []string{"tbsp", "tbs", "tablespoon", "tablespoons"}, factor: 3},
		{names: []string{"cup", "cups", "c"}, factor: 48},
		{names: []string{"fl oz", "fl. oz", "floz", "fluid ounce", "fluid ounces"}, factor: 6},
		{names: []string{"ml", "milliliter", "milliliters", "millilitre", "millilitres"}, factor: 1 / mlPerTsp},
		{names: []string{"l", "liter", "liters", "litre", "litres"}, factor: 1000 / mlPerTsp},
		{names: []string{"pint", "pints", "pt"}, factor: 96},
		{names: []string{"quart", "quarts", "qt"}, factor: 192},
	}
	temperatureUnits = []unit{
		{names: []string{"f", "°f", "° f", "degrees f", "degree f", "fahrenheit", "deg f", "degf"}, factor: 1},
		{names: []string{"c", "°c", "° c", "degrees c", "degree c", "celsius", "deg c", "degc"}, factor: 1.8, offset: 32},
	}
	pressureUnits = []unit{
		{names: []string{"psi", "psig", "lb", "lbs", "pound", "pounds"}, factor: 1},
		{names: []string{"kpa", "kilopascal", "kilopascals"}, factor: 1 / kpaPerPsi},
		{names: []string{"bar"}, factor: 100 / kpaPerPsi},
	}
	durationUnits = []unit{
		{names: []string{"min", "mins", "minute", "minutes"}, factor: 1},
		{names: []string{"h", "hr", "hrs", "hour", "hours"}, factor: 60},
		{names: []string{"s", "sec", "secs", "second", "seconds"}, factor: 1.0 / 60},
		{names: []string{"day", "days", "d"}, factor: 1440},
	}
	altitudeUnits = []unit{
		{names: []string{"ft", "foot", "feet", "'", "′", "’"}, factor: 1},
		{names: []string{"m", "meter", "meters", "metre", "metres"}, factor: feetPerM},
	}
)

// ParseLength reads a length from 0 to 40 in: "1/2 in", "13 mm", "1.3 cm".
func ParseLength(s string) (Length, error) {
	v, err := one(s, lengthUnits, lengthWant, false, 0, 40, "a length from 0 to 40 in (0 to 1016 mm)")
	return Length(round(v)), err
}

// ParseVolume reads a volume from 0 to 4 gallons: "2 tbsp", "1/2 tsp", "30 ml".
func ParseVolume(s string) (Volume, error) {
	v, err := one(s, volumeUnits, volumeWant, false, 0, 3072, "a volume from 0 to 64 cups")
	return Volume(round(v)), err
}

// ParseTemperature reads a temperature from -100 to 1 200 °F: "65 F", "18 °C".
func ParseTemperature(s string) (Temperature, error) {
	v, err := one(s, temperatureUnits, tempWant, true, -100, 1200, "a temperature from -100 to 1200 °F")
	return Temperature(round(v)), err
}

// ParsePressure reads a gauge pressure from 0 to 60 psi: "11 psi", "76 kPa".
func ParsePressure(s string) (Pressure, error) {
	v, err := one(s, pressureUnits, psiWant, false, 0, 60, "a gauge pressure from 0 to 60 psi")
	return Pressure(round(v)), err
}

// ParseAltitude reads an altitude from -1 500 to 30 000 ft: "6240 ft",
// "1,902 m", "1 902 m". It is rounded to a hundredth of a foot, so that a band's
// edge written in meters stays on the edge.
func ParseAltitude(s string) (Altitude, error) {
	v, err := (&reader{input: s, thousands: true}).one(altitudeUnits, heightWant, true, lowestFt, highestFt, "an altitude from -1500 to 30000 ft (-457 to 9144 m)")
	return Altitude(math.Round(v*100) / 100), err
}

// ParseDuration reads a time from 0 to 1000 days, in one unit or several, larger
// first: "60 min", "1 h 5 min", "90 s".
func ParseDuration(s string) (Duration, error) {
	r := &reader{input: s}
	total, last := 0.0, math.Inf(1)
	for {
		r.spaces()
		start := r.pos
		v, err := r.number(false)
		if err != nil {
			return 0, err
		}
		u, err := r.unit(durationUnits, timeWant)
		if err != nil {
			return 0, err
		}
		if u.factor >= last {
			return 0, r.fail(start, "a smaller unit than the one before")
		}
		total, last = total+v*u.factor, u.factor
		if r.spaces(); r.pos == len(r.input) {
			break
		}
	}
	if !(total >= 0 && total <= 1000*1440) {
		return 0, &Error{Input: s, Pos: 1, Got: strings.TrimSpace(s), Want: "a time from 0 to 1000 days"}
	}
	return Duration(round(total)), nil
}

// space parts thousands, and a number from its unit where a line must not
// break between them: U+00A0, the no-break space.
const space = "\u00a0"

// String writes inches as a cook's fraction, "1/2 in", where one fits within a
// thousandth of an inch, else in decimals.
func (l Length) String() string { return fraction(float64(l)) + " in" }

// Metric writes whole millimeters.
func (l Length) Metric() string { return decimal(float64(l)*mmPerInch, 0) + " mm" }

// Both writes both systems: "1/2 in (13 mm)".
func (l Length) Both() string { return l.String() + " (" + l.Metric() + ")" }

// String writes spoons and cups: "1/2 tsp", "2 tbsp", "1 cup".
func (v Volume) String() string {
	tsp := float64(v)
	switch {
	case tsp >= 24 && neat(tsp/48):
		if tsp > 48 {
			return fraction(tsp/48) + " cups"
		}
		return fraction(tsp/48) + " cup"
	case tsp >= 1.5 && neat(tsp/3):
		return fraction(tsp/3) + " tbsp"
	}
	return fraction(tsp) + " tsp"
}

// Metric writes milliliters.
func (v Volume) Metric() string {
	ml := float64(v) * mlPerTsp
	if ml < 10 {
		return decimal(ml, 1) + " ml"
	}
	return decimal(ml, 0) + " ml"
}

// Both writes both systems: "2 tbsp (30 ml)".
func (v Volume) Both() string { return v.String() + " (" + v.Metric() + ")" }

// String writes degrees Fahrenheit: "65 °F".
func (t Temperature) String() string { return decimal(float64(t), 1) + " °F" }

// Metric writes whole degrees Celsius.
func (t Temperature) Metric() string { return decimal((float64(t)-32)/1.8, 0) + " °C" }

// Both writes both systems: "65 °F (18 °C)".
func (t Temperature) Both() string { return t.String() + " (" + t.Metric() + ")" }

// String writes psi: "11 psi".
func (p Pressure) String() string { return decimal(float64(p), 2) + " psi" }

// Metric writes whole kilopascals.
func (p Pressure) Metric() string { return decimal(float64(p)*kpaPerPsi, 0) + " kPa" }

// Both writes both systems: "11 psi (76 kPa)".
func (p Pressure) Both() string { return p.String() + " (" + p.Metric() + ")" }

// String writes minutes up to three hours, then hours: "60 min", "12 h".
func (d Duration) String() string {
	if d >= 180 && math.Mod(float64(d), 60) == 0 {
		return decimal(float64(d)/60, 0) + " h"
	}
	return decimal(float64(d), 2) + " min"
}

// Metric is String: time has one system.
func (d Duration) Metric() string { return d.String() }

// Both is String: time has one system.
func (d Duration) Both() string { return d.String() }

// String writes feet, thousands parted by a no-break space: "6 240 ft".
func (a Altitude) String() string { return grouped(float64(a)) + " ft" }

// Metric writes whole meters: "1 902 m".
func (a Altitude) Metric() string { return grouped(float64(a)/feetPerM) + " m" }

// Both writes both systems: "6 240 ft (1 902 m)", with no-break spaces before
// the units, so that a line of text does not end in a bare number.
func (a Altitude) Both() string {
	return grouped(float64(a)) + space + "ft (" + grouped(float64(a)/feetPerM) + space + "m)"
}

// String writes the weight in pounds, "12 1/4 lb".
func (w Weight) String() string { return fraction(float64(w)) + " lb" }

// Metric writes the weight in kilograms, and one under a kilogram in grams.
func (w Weight) Metric() string {
	kg := float64(w) * kgPerPound
	if kg < 1 {
		return decimal(math.Round(kg*100)*10, 0) + " g"
	}
	return decimal(kg, 1) + " kg"
}

// Both writes the weight in pounds and kilograms.
func (w Weight) Both() string { return w.String() + " (" + w.Metric() + ")" }

func decimal(v float64, places int) string {
	s := strconv.FormatFloat(v, 'f', places, 64)
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	if s == "-0" {
		return "0"
	}
	return s
}

func grouped(v float64) string {
	s := decimal(v, 0)
	sign := ""
	if strings.HasPrefix(s, "-") {
		sign, s = "-", s[1:]
	}
	if len(s) > 3 {
		s = s[:len(s)-3] + space + s[len(s)-3:]
	}
	return sign + s
}

// denominators of the fractions a cook's spoons and rulers have.
var denominators = []float64{1, 2, 4, 8, 3, 16}

// neat reports whether a cook would write the number as a whole or a fraction.
func neat(v float64) bool {
	for _, d := range denominators[:5] {
		if math.Abs(v*d-math.Round(v*d)) < 0.001*d {
			return math.Round(v*d) > 0
		}
	}
	return false
}

func fraction(v float64) string {
	for _, d := range denominators {
		top := math.Round(v * d)
		if math.Abs(v-top/d) > 1e-6 {
			continue
		}
		whole := math.Floor(top / d)
		part := top - whole*d
		switch {
		case part == 0:
			return decimal(whole, 0)
		case whole == 0:
			return decimal(part, 0) + "/" + decimal(d, 0)
		}
		return decimal(whole, 0) + " " + decimal(part, 0) + "/" + decimal(d, 0)
	}
	return decimal(v, 2)
}
