package physics

const (
	pascalsPerPSI = 6894.757 // NIST SP 811 (2008), Appendix B
	gaugeHighPSI  = 60.0
)

// GaugeTempC gives the temperature of the steam in a pressure canner that was
// fully vented, at an altitude from -1 500 to 36 089 ft and with 0 to 60 psi on
// the gauge. A gauge reads what is above the air outside, so higher up the same
// reading is a cooler canner: SaturationC(StandardPressurePa + gauge pressure).
// It explains the published pressures and replaces none of them. A value outside
// gives a *RangeError.
func GaugeTempC(altitudeFt, psi float64) (float64, error) {
	return GaugeTempWithAirC(altitudeFt, psi, 0)
}

// GaugeTempWithAirC is GaugeTempC for a canner that was not vented: airFraction,
// 0 to 0.9 of its volume, is air mixed with the steam. Air adds to the pressure
// on the gauge and nothing to the temperature, as only the steam's own part of
// the pressure sets that: SaturationC((1 - airFraction) x absolute pressure). A
// value outside gives a *RangeError.
func GaugeTempWithAirC(altitudeFt, psi, airFraction float64) (float64, error) {
	outsidePa, err := StandardPressurePa(altitudeFt)
	if err != nil {
		return 0, err
	}
	if err := within("gauge pressure", psi, 0, gaugeHighPSI, "psi"); err != nil {
		return 0, err
	}
	if err := within("air left in the canner, as a part of 1", airFraction, 0, 0.9, ""); err != nil {
		return 0, err
	}
	return SaturationC((1 - airFraction) * (outsidePa + psi*pascalsPerPSI))
}

// GaugePSI gives what the gauge of a fully vented pressure canner reads when its
// steam is at tempC, at an altitude from -1 500 to 36 089 ft: the inverse of
// GaugeTempC. A temperature below the boiling point there, or above that at
// 60 psi, gives a *RangeError.
func GaugePSI(altitudeFt, tempC float64) (float64, error) {
	outsidePa, err := StandardPressurePa(altitudeFt)
	if err != nil {
		return 0, err
	}
	coolest, err := GaugeTempC(altitudeFt, 0)
	if err != nil {
		return 0, err
	}
	hottest, err := GaugeTempC(altitudeFt, gaugeHighPSI)
	if err != nil {
		return 0, err
	}
	if err := within("steam temperature in the canner", tempC, coolest, hottest, "°C"); err != nil {
		return 0, err
	}
	return (saturationPa(tempC+zeroCelsiusK) - outsidePa) / pascalsPerPSI, nil
}
