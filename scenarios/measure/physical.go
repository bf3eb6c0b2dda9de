package measure

import "strings"

// The quantities below are asked for by the models that explain, never by a
// plan.

// Power is a heating power in watts.
type Power float64

// Vacuum is how far a pressure lies below that of the air around, in inches of
// mercury.
type Vacuum float64

// Degrees is a difference of temperatures in Celsius degrees, such as the z of a
// kind of spore: ten Celsius degrees are eighteen Fahrenheit ones.
type Degrees float64

// Share is a part of a whole, from 0 to 1.
type Share float64

const (
	kpaPerInHg = 3.386389
	weightWant = "a weight unit: g, kg, oz or lb"
	powerWant  = "a power unit: W or kW"
	vacuumWant = "a vacuum unit: inHg or kPa"
	stepWant   = "degrees: C or F"
)

var (
	weightUnits = []unit{
		{names: []string{"lb", "lbs", "pound", "pounds"}, factor: 1},
		{names: []string{"oz", "ounce", "ounces"}, factor: 1.0 / 16},
		{names: []string{"kg", "kilogram", "kilograms", "kilo", "kilos"}, factor: 1 / kgPerPound},
		{names: []string{"g", "gram", "grams"}, factor: 0.001 / kgPerPound},
	}
	powerUnits = []unit{
		{names: []string{"w", "watt", "watts"}, factor: 1},
		{names: []string{"kw", "kilowatt", "kilowatts"}, factor: 1000},
	}
	vacuumUnits = []unit{
		{names: []string{"inhg"}, factor: 1},
		{names: []string{"kpa", "kilopascal", "kilopascals"}, factor: 1 / kpaPerInHg},
		{names: []string{"mmhg"}, factor: 1 / mmPerInch},
	}
	stepUnits = []unit{
		{names: temperatureUnits[1].names, factor: 1},
		{names: temperatureUnits[0].names, factor: 1 / 1.8},
	}
)

// ParseWeight reads a weight from 0 to 2 000 lb: "12 lb", "2.3 g", "9 kg".
func ParseWeight(s string) (Weight, error) {
	v, err := one(s, weightUnits, weightWant, false, 0, 2000, "a weight from 0 to 2000 lb (0 to 907 kg)")
	return Weight(v), err
}

// ParsePower reads a heating power from 0 to 100 kW: "2 kW", "1500 W".
func ParsePower(s string) (Power, error) {
	v, err := (&reader{input: s, thousands: true}).one(powerUnits, powerWant, false, 0, 1e5, "a power from 0 to 100 kW")
	return Power(round(v)), err
}

// ParseVacuum reads a vacuum from 0 to 30 inHg: "14 inHg", "47 kPa".
func ParseVacuum(s string) (Vacuum, error) {
	v, err := one(s, vacuumUnits, vacuumWant, false, 0, 30, "a vacuum from 0 to 30 inHg (0 to 102 kPa)")
	return Vacuum(round(v)), err
}

// ParseDegrees reads a difference of temperatures, up to 100 Celsius degrees:
// "10 C", "18 F".
func ParseDegrees(s string) (Degrees, error) {
	v, err := one(s, stepUnits, stepWant, false, 0, 100, "a difference up to 100 C (180 F)")
	return Degrees(round(v)), err
}

// ParseShare reads a part of a whole, from 0 to 1, as a number or in percent:
// "0.95", "95 %".
func ParseShare(s string) (Share, error) {
	v, percent, err := bare(s)
	if err != nil {
		return 0, err
	}
	if percent {
		v /= 100
	}
	if v < 0 || v > 1 {
		return 0, &Error{Input: s, Pos: 1, Got: strings.TrimSpace(s), Want: "a share from 0 to 1, or from 0 % to 100 %"}
	}
	return Share(round(v)), nil
}

// ParsePercent reads a number of percent, from 0 to 100; the sign may be left
// out: "0.45 %", "0.45".
func ParsePercent(s string) (float64, error) {
	v, _, err := bare(s)
	if err != nil {
		return 0, err
	}
	if v < 0 || v > 100 {
		return 0, &Error{Input: s, Pos: 1, Got: strings.TrimSpace(s), Want: "a percentage from 0 to 100"}
	}
	return round(v), nil
}

// bare reads a number that has no unit but a percent sign, which may be left out.
func bare(s string) (v float64, percent bool, err error) {
	r := &reader{input: s}
	v, failed := r.number(false)
	if failed != nil {
		return 0, false, failed
	}
	r.spaces()
	if percent = strings.HasPrefix(r.rest(), "%"); percent {
		r.pos++
	}
	if failed := r.end(); failed != nil {
		return 0, false, failed
	}
	return v, percent, nil
}

// String writes watts: "2 000 W".
func (p Power) String() string { return grouped(float64(p)) + " W" }

// String writes inches of mercury: "14.2 inHg".
func (v Vacuum) String() string { return decimal(float64(v), 1) + " inHg" }

// Metric writes whole kilopascals.
func (v Vacuum) Metric() string { return decimal(float64(v)*kpaPerInHg, 0) + " kPa" }

// Both writes both systems: "14.2 inHg (48 kPa)".
func (v Vacuum) Both() string { return v.String() + " (" + v.Metric() + ")" }

// String writes percent: "95 %".
func (s Share) String() string { return decimal(float64(s)*100, 1) + " %" }
