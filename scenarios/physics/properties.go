package physics

// Composition is what a food is made of, each as a mass fraction from 0 to 1. Fiber
// is counted apart from the other carbohydrates. The sum must be 1 within 0.005, the
// rounding of food tables, and is scaled to 1.
type Composition struct {
	Water, Protein, Fat, Carbohydrate, Fiber, Ash float64
}

// Properties are what the conduction of heat in a food depends on.
type Properties struct {
	DensityKgM3 float64
	KWMK        float64 // thermal conductivity, W/(m K)
	CpKJKgK     float64 // heat capacity, kJ/(kg K)
	AlphaM2S    float64 // thermal diffusivity, m2/s: k / (rho cp)
}

// inCelsius is a polynomial in the temperature in C: constant, slope, square.
type inCelsius [3]float64

func (p inCelsius) at(t float64) float64 {
	return p[0] + t*(p[1]+t*p[2])
}

// choiOkos holds the polynomials of the pure components in the order of Composition:
// Choi and Okos, "Effects of temperature and composition on the thermal properties of
// foods", in Food Engineering and Process Applications, vol. 1, 1986. The heat
// capacity of water is in the form that keeps to the steam tables; copies with other
// signs or with 4.1289 go round.
var choiOkos = [6]struct{ density, conductivity, heatCapacity inCelsius }{
	{ // water
		inCelsius{997.18, 3.1439e-3, -3.7574e-3},
		inCelsius{0.57109, 1.7625e-3, -6.7036e-6},
		inCelsius{4.1762, -9.0864e-5, 5.4731e-6},
	},
	{ // protein
		inCelsius{1329.9, -0.5184},
		inCelsius{0.17881, 1.1958e-3, -2.7178e-6},
		inCelsius{2.0082, 1.2089e-3, -1.3129e-6},
	},
	{ // fat
		inCelsius{925.59, -0.41757},
		inCelsius{0.18071, -2.7604e-4, -1.7749e-7},
		inCelsius{1.9842, 1.4733e-3, -4.8008e-6},
	},
	{ // carbohydrate
		inCelsius{1599.1, -0.31046},
		inCelsius{0.20141, 1.3874e-3, -4.3312e-6},
		inCelsius{1.5488, 1.9625e-3, -5.9399e-6},
	},
	{ // fiber
		inCelsius{1311.5, -0.36589},
		inCelsius{0.18331, 1.2497e-3, -3.1683e-6},
		inCelsius{1.8459, 1.8306e-3, -4.6509e-6},
	},
	{ // ash
		inCelsius{2423.8, -0.28063},
		inCelsius{0.32962, 1.4011e-3, -2.9069e-6},
		inCelsius{1.0926, 1.8896e-3, -3.6817e-6},
	},
}

// At gives the properties of the food at a temperature of -40 to 150 C, or of 0 to
// 150 C if it holds any water: ice is not in the model. The components add up as
// Choi and Okos (1986) have it: volumes for the density, heat capacities by mass, and
// conductivities by the share of the volume. A fraction, a sum or a temperature
// outside its range gives a *RangeError.
func (c Composition) At(tempC float64) (Properties, error) {
	fractions := [6]float64{c.Water, c.Protein, c.Fat, c.Carbohydrate, c.Fiber, c.Ash}
	sum := 0.0
	for i, name := range [6]string{"water", "protein", "fat", "carbohydrate", "fiber", "ash"} {
		if err := within("mass fraction of "+name, fractions[i], 0, 1, ""); err != nil {
			return Properties{}, err
		}
		sum += fractions[i]
	}
	if err := within("sum of the mass fractions", sum, 0.995, 1.005, ""); err != nil {
		return Properties{}, err
	}
	coldest := -40.0
	if c.Water > 0 {
		coldest = 0
	}
	if err := within("temperature of the food", tempC, coldest, 150, "°C"); err != nil {
		return Properties{}, err
	}
	var volume, conductivity, heatCapacity float64 // of 1 kg; the second weighed by volume
	for i, component := range choiOkos {
		share := fractions[i] / sum
		componentVolume := share / component.density.at(tempC)
		volume += componentVolume
		conductivity += componentVolume * component.conductivity.at(tempC)
		heatCapacity += share * component.heatCapacity.at(tempC)
	}
	p := Properties{
		DensityKgM3: 1 / volume,
		KWMK:        conductivity / volume,
		CpKJKgK:     heatCapacity,
	}
	p.AlphaM2S = p.KWMK / (p.DensityKgM3 * p.CpKJKgK * 1000)
	return p, nil
}
