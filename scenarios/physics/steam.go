package physics

import "math"

// The US Standard Atmosphere 1976 below the tropopause. The rate at which the
// air cools with height gives the exponent g0 M / (R* L) = 5.25588.
const (
	metersPerFoot      = 0.3048
	seaLevelPa         = 101_325.0
	seaLevelK          = 288.15
	lapseKPerM         = 0.0065
	atmosphereExponent = 9.80665 * 0.0289644 / (8.31432 * lapseKPerM)
	altitudeLowFt      = -1_500.0
	altitudeHighFt     = 36_089.0 // the tropopause, at 11 km
)

// Water boils between its freezing point and its critical point.
const (
	zeroCelsiusK    = 273.15
	saturationLowK  = 273.15
	saturationHighK = 647.096
)

// Coefficients n1 to n10 of region 4 in IAPWS R7-97(2012), Table 34.
const (
	steamN1  = 0.11670521452767e4
	steamN2  = -0.72421316703206e6
	steamN3  = -0.17073846940092e2
	steamN4  = 0.12020824702470e5
	steamN5  = -0.32325550322333e7
	steamN6  = 0.14915108613530e2
	steamN7  = -0.48232657361591e4
	steamN8  = 0.40511340542057e6
	steamN9  = -0.23855557567849
	steamN10 = 0.65017534844798e3
)

// Fahrenheit gives a temperature of c °C in °F.
func Fahrenheit(c float64) float64 {
	return c*1.8 + 32
}

// Celsius gives a temperature of f °F in °C.
func Celsius(f float64) float64 {
	return (f - 32) / 1.8
}

// StandardPressurePa gives the mean pressure of the air at an altitude from
// -1 500 to 36 089 ft: p0 (1 - L h / T0)^(g0 M / R* L), of the US Standard
// Atmosphere 1976. On a given day the weather moves the real pressure by a few
// percent. Another altitude gives a *RangeError.
func StandardPressurePa(altitudeFt float64) (float64, error) {
	if err := within("altitude", altitudeFt, altitudeLowFt, altitudeHighFt, "ft"); err != nil {
		return 0, err
	}
	return seaLevelPa * math.Pow(1-lapseKPerM*altitudeFt*metersPerFoot/seaLevelK, atmosphereExponent), nil
}

// SaturationPa gives the pressure of steam over water of the same temperature,
// from 0 to 373.946 °C: IAPWS R7-97(2012), equation 30. Another temperature
// gives a *RangeError.
func SaturationPa(tempC float64) (float64, error) {
	if err := within("water temperature", tempC, saturationLowK-zeroCelsiusK, saturationHighK-zeroCelsiusK, "°C"); err != nil {
		return 0, err
	}
	return saturationPa(tempC + zeroCelsiusK), nil
}

func saturationPa(tempK float64) float64 {
	theta := tempK + steamN9/(tempK-steamN10)
	a := theta*theta + steamN1*theta + steamN2
	b := steamN3*theta*theta + steamN4*theta + steamN5
	c := steamN6*theta*theta + steamN7*theta + steamN8
	fourthRootMPa := 2 * c / (-b + math.Sqrt(b*b-4*a*c))
	return 1e6 * math.Pow(fourthRootMPa, 4)
}

// SaturationC gives the temperature at which water boils under a pressure, from
// 611.213 Pa (0 °C) to 22.064 MPa (373.946 °C): IAPWS R7-97(2012), equation 31,
// the inverse of SaturationPa. Another pressure gives a *RangeError.
func SaturationC(pressurePa float64) (float64, error) {
	if err := within("steam pressure", pressurePa, saturationPa(saturationLowK), saturationPa(saturationHighK), "Pa"); err != nil {
		return 0, err
	}
	beta := math.Pow(pressurePa/1e6, 0.25)
	e := beta*beta + steamN3*beta + steamN6
	f := steamN1*beta*beta + steamN4*beta + steamN7
	g := steamN2*beta*beta + steamN5*beta + steamN8
	d := 2 * g / (-f - math.Sqrt(f*f-4*e*g))
	tempK := (steamN10 + d - math.Sqrt((steamN10+d)*(steamN10+d)-4*(steamN9+steamN10*d))) / 2
	return tempK - zeroCelsiusK, nil
}

// BoilingC gives the temperature of boiling water in the open at an altitude
// from -1 500 to 36 089 ft, by StandardPressurePa and SaturationC. At sea level
// that is 99.974 °C: 100 °C was the boiling point of an older scale. Another
// altitude gives a *RangeError.
func BoilingC(altitudeFt float64) (float64, error) {
	p, err := StandardPressurePa(altitudeFt)
	if err != nil {
		return 0, err
	}
	return SaturationC(p)
}

// AltitudeFtOfBoiling gives the altitude in feet at which water boils at tempC,
// the inverse of BoilingC: for checking a thermometer in boiling water, never
// for finding out how high a kitchen is. A few percent of pressure from the
// weather move the answer by some hundred feet. A temperature at which water
// boils nowhere between -1 500 and 36 089 ft gives a *RangeError.
func AltitudeFtOfBoiling(tempC float64) (float64, error) {
	coolest, err := BoilingC(altitudeHighFt)
	if err != nil {
		return 0, err
	}
	hottest, err := BoilingC(altitudeLowFt)
	if err != nil {
		return 0, err
	}
	if err := within("boiling point", tempC, coolest, hottest, "°C"); err != nil {
		return 0, err
	}
	p := saturationPa(tempC + zeroCelsiusK)
	return seaLevelK / lapseKPerM * (1 - math.Pow(p/seaLevelPa, 1/atmosphereExponent)) / metersPerFoot, nil
}
