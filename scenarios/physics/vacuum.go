package physics

import "math"

const (
	pascalsPerInHg = 3386.389 // NIST SP 811 (2008), Appendix B, mercury at 0 °C
	pascalsPerKPa  = 1000.0

	// glassPerK is how much of its volume a jar gains per kelvin: three times the
	// 9e-6 per kelvin by which soda-lime container glass grows in length.
	glassPerK = 3 * 9e-6
)

// Closing is a jar at the moment after which no more air leaves it.
type Closing struct {
	CloseC      float64 // temperature of the whole jar then, °C; up to the boiling point there
	CoolC       float64 // temperature at which the vacuum is read, °C; 0 to CloseC
	JarML       float64 // all that the jar holds to the lid when it closes, 30 to 4000 mL
	HeadspaceML float64 // gas above the food when it closes, 1 mL to JarML
	AltitudeFt  float64 // where it closes and is read, -1 500 to 36 089 ft

	// ResidualAir says how far the headspace falls short of being full of steam,
	// 0 to 1: 0 is gas saturated with steam at CloseC, 1 is dry air.
	ResidualAir float64
}

// Vacuum is what a closed jar has when it is cold.
type Vacuum struct {
	InHg            float64 // pressure outside less pressure inside, in inches of mercury
	KPa             float64 // the same in kPa
	UpperInHg       float64 // what InHg would be had all air left the jar: no vacuum is higher
	InternalKPa     float64 // pressure inside, absolute
	HeadspaceColdML float64 // gas above the food, which has shrunk more than the jar
}

// VacuumOf gives the vacuum of a jar that closes hot and cools.
//
// The air in the headspace at closing is all that is conserved. Its own pressure
// is then, with p the air outside, v the pressure of steam and r ResidualAir,
//
//	a = (1 - r) (p - v(CloseC)) + r p
//
// and in the cold jar, by the gas law, with T in kelvin and V the headspace,
//
//	inside = a (V/Vcold) (Tcold/T) + v(CoolC),  vacuum = p - inside
//	Vcold  = JarML (1 + 27e-6 (CoolC - CloseC)) - food density(CloseC)/density(CoolC)
//
// The food swells like water (WaterDensity), the glass as soda-lime does; the lid
// does not move, nothing leaks, and the food gives off no gas. Real jars keep more
// air than ResidualAir 0 says: what it gives is an upper bound, and the 10.6 to
// 22.9 inHg of surveys of home-canned tomatoes lie below it.
//
// InHg is a little below zero where dry air has hardly cooled: moisture from the
// food then adds more to the pressure than cooling takes from it, and the lid is
// not held at all. A value outside the ranges of Closing gives a *RangeError. So
// does a CoolC above CloseC, as a jar that warms up pushes its lid open.
func VacuumOf(c Closing) (Vacuum, error) {
	outsidePa, err := StandardPressurePa(c.AltitudeFt)
	if err != nil {
		return Vacuum{}, err
	}
	boilingC, err := SaturationC(outsidePa)
	if err != nil {
		return Vacuum{}, err
	}
	for _, err := range []error{
		within("temperature of the closing jar", c.CloseC, 0, boilingC, "°C"),
		within("temperature of the cold jar", c.CoolC, 0, c.CloseC, "°C"),
		within("jar", c.JarML, 30, 4000, "mL"),
		within("headspace", c.HeadspaceML, 1, c.JarML, "mL"),
		within("residual air, as a part of 1", c.ResidualAir, 0, 1, ""),
	} {
		if err != nil {
			return Vacuum{}, err
		}
	}

	foodColdML := (c.JarML - c.HeadspaceML) * waterDensity(c.CloseC) / waterDensity(c.CoolC)
	coldML := c.JarML*(1+glassPerK*(c.CoolC-c.CloseC)) - foodColdML
	steamPa := (1 - c.ResidualAir) * saturationPa(c.CloseC+zeroCelsiusK)
	insidePa := vacuumInsidePa(outsidePa-steamPa, c.CloseC, c.CoolC, c.HeadspaceML/coldML)
	return Vacuum{
		InHg:            (outsidePa - insidePa) / pascalsPerInHg,
		KPa:             (outsidePa - insidePa) / pascalsPerKPa,
		UpperInHg:       (outsidePa - saturationPa(c.CoolC+zeroCelsiusK)) / pascalsPerInHg,
		InternalKPa:     insidePa / pascalsPerKPa,
		HeadspaceColdML: coldML,
	}, nil
}

// vacuumInsidePa gives the pressure over moist food after cooling, from that of
// the air alone before; volumeRatio is the gas volume before over that after.
func vacuumInsidePa(airPa, closeC, coolC, volumeRatio float64) float64 {
	return airPa*volumeRatio*(coolC+zeroCelsiusK)/(closeC+zeroCelsiusK) + saturationPa(coolC+zeroCelsiusK)
}

// MovedVacuumInHg gives the vacuum that a jar of inHg at one altitude, -1 500 to
// 36 089 ft, has at another and at the same temperature: the pressure inside
// stays, the air outside does not. The answer is below zero where the jar presses
// its lid outward. An altitude outside the range, or an inHg below 0 or above the
// whole pressure of the air at fromFt, gives a *RangeError.
func MovedVacuumInHg(inHg, fromFt, toFt float64) (float64, error) {
	fromPa, err := StandardPressurePa(fromFt)
	if err != nil {
		return 0, err
	}
	toPa, err := StandardPressurePa(toFt)
	if err != nil {
		return 0, err
	}
	if err := within("vacuum", inHg, 0, fromPa/pascalsPerInHg, "inHg"); err != nil {
		return 0, err
	}
	return inHg + (toPa-fromPa)/pascalsPerInHg, nil
}

// LidForceN gives the force in newtons by which the air holds down a lid: the
// vacuum, 0 to 32 inHg (the air itself never weighs more), on a circle 20 to
// 150 mm across. A value outside gives a *RangeError.
func LidForceN(inHg, diameterMM float64) (float64, error) {
	if err := within("vacuum", inHg, 0, 32, "inHg"); err != nil {
		return 0, err
	}
	if err := within("diameter of the lid", diameterMM, 20, 150, "mm"); err != nil {
		return 0, err
	}
	radiusM := diameterMM / 2000
	return inHg * pascalsPerInHg * math.Pi * radiusM * radiusM, nil
}
