package physics

// Boiling tomatoes as water with solids in it. Heat capacity and density of the
// solids are those of Choi and Okos (1986) for the solids of ripe tomatoes, 100 g
// of which have 0.85 g protein, 0.33 g fat, 3.54 g sugars and the like, 1.10 g
// fiber (from memory) and 0.42 g ash.
const (
	cookdownBoilingC       = 100.0
	cookdownWaterKJPerKgK  = 4.19    // at 60 °C, midway from the kitchen to the boil
	cookdownSolidsKJPerKgK = 1.75    // at 60 °C
	cookdownSolidsKgPerM3  = 1_440.0 // at 100 °C
	cookdownSolidsLow      = 0.5     // percent
	cookdownSolidsHigh     = 50.0    // percent
)

// Reduction is what becomes of a pot of sauce that is cooked down.
type Reduction struct {
	MassOutKg   float64 // what is left
	WaterKg     float64 // what left as steam
	KJ          float64 // heat that goes into the food
	Minutes     float64 // how long that takes
	VolumeRatio float64 // volume at the end over volume at the start, both at the boil
}

// CookDown says what it takes to boil massKg of tomatoes, 0.01 to 10 000 kg, from
// fromPercent to toPercent of solids by weight. Both are 0.5 to 50 %, and toPercent
// is not below fromPercent. The solids stay in the pot:
//
//	mass out = massKg fromPercent/toPercent,  water = massKg - mass out
//	heat     = massKg cp (100 °C - startC) + water VaporizationKJPerKg
//
// startC, 0 to 100 °C, is how warm the food is at the start; 100 is already
// boiling. powerW, 10 to 10 000 000 W, is the heat that goes into the food, not
// what the stove draws: some of that warms the kitchen. Left out are that sauce
// boils up to 0.3 °C hotter than water (from memory), and that water boils cooler
// higher up and then takes 1 % more heat to boil off. A value outside gives a
// *RangeError.
func CookDown(fromPercent, toPercent, massKg, powerW, startC float64) (Reduction, error) {
	for _, err := range []error{
		within("solids at the start", fromPercent, cookdownSolidsLow, cookdownSolidsHigh, "%"),
		within("solids at the end", toPercent, fromPercent, cookdownSolidsHigh, "%"),
		within("weight of the food", massKg, 0.01, 10_000, "kg"),
		within("power going into the food", powerW, 10, 10_000_000, "W"),
		within("temperature at the start", startC, 0, cookdownBoilingC, "°C"),
	} {
		if err != nil {
			return Reduction{}, err
		}
	}
	solids := fromPercent / 100
	heatCapacity := (1-solids)*cookdownWaterKJPerKgK + solids*cookdownSolidsKJPerKgK
	outKg := massKg * fromPercent / toPercent
	waterKg := massKg - outKg
	kj := massKg*heatCapacity*(cookdownBoilingC-startC) + waterKg*VaporizationKJPerKg
	return Reduction{
		MassOutKg:   outKg,
		WaterKg:     waterKg,
		KJ:          kj,
		Minutes:     kj * 1000 / powerW / 60,
		VolumeRatio: fromPercent / toPercent * cookdownDensity(fromPercent) / cookdownDensity(toPercent),
	}, nil
}

// cookdownDensity gives the density in kg/m3 of boiling sauce: its water and its
// solids take up as much room together as apart.
func cookdownDensity(solidsPercent float64) float64 {
	solids := solidsPercent / 100
	return 1 / (solids/cookdownSolidsKgPerM3 + (1-solids)/waterDensity(cookdownBoilingC))
}
