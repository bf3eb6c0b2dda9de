package physics

// VaporizationKJPerKg is the heat that turns 1 kg of water at 100 °C into steam:
// 2257 kJ, as printed in Geankoplis, Transport Processes and Unit Operations,
// Example 8.4-1. At 90 °C, where water boils near 10 000 ft, it is 1.1 % more.
const VaporizationKJPerKg = 2257.0

// WaterDensity gives the density of water in kg/m3 from 0 to 150 °C, under one
// atmosphere (above 100 °C that of water kept from boiling): Kell, J. Chem. Eng.
// Data 20 (1975) 97, volume and page from memory. Another temperature gives a
// *RangeError.
func WaterDensity(tempC float64) (float64, error) {
	if err := within("water temperature", tempC, 0, 150, "°C"); err != nil {
		return 0, err
	}
	return waterDensity(tempC), nil
}

// waterDensity is Kell's formula. Copies of it with 16.897850e-3 below the line
// have two digits swapped and give 0.26 kg/m3 too little at 20 °C.
func waterDensity(tempC float64) float64 {
	above := 999.83952 + tempC*(16.945176+tempC*(-7.9870401e-3+tempC*(-46.170461e-6+tempC*(105.56302e-9-tempC*280.54253e-12))))
	return above / (1 + 16.879850e-3*tempC)
}
