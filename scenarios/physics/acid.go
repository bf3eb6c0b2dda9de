package physics

import (
	"fmt"
	"math"
)

// The kinds of acid that people add to tomatoes.
const (
	AcidCitric  = "citric"  // dry citric acid, anhydrous
	AcidLemon   = "lemon"   // bottled lemon juice
	AcidVinegar = "vinegar" // vinegar of 5 % acetic acid
)

const (
	// LemonGPerL is the citric acid in bottled lemon juice: 4.5 %, the least that
	// lemon juice from concentrate may have (21 CFR 146.114(a)), taken by volume.
	LemonGPerL = 45.0
	// WeakLemonGPerL is what the weakest bottles in a clinical paper had: bottled
	// concentrates measured 34.1 to 39.2 g/L (PMC2637791, from a quotation).
	WeakLemonGPerL = 34.0
	// VinegarGPerL is the acetic acid in vinegar of 5 %.
	VinegarGPerL = 50.0
)

const (
	acidEndpointPH = 8.1 // to which titratable acidity is titrated
	acidWaterPK    = 14.0

	acidCitricGPerMol = 192.12
	acidCitricGPerEq  = acidCitricGPerMol / 3
	acidAceticGPerMol = 60.05 // from memory
	acidAceticPK      = 4.756 // from memory

	acidLemonGPerML   = 1.03  // from memory
	acidVinegarGPerML = 1.006 // from memory
	acidCitricGPerTsp = 4.6   // from memory: half a teaspoon is 2.3 g
)

// acidCitricPK are the steps in which citric acid gives up its hydrogen, at 25 °C
// and no ionic strength: "Dissociation quotients for citric acid in aqueous sodium
// chloride media to 150 °C", J. Solution Chem., abstract.
var acidCitricPK = [3]float64{3.127, 4.759, 6.397}

// Juice is what acid is added to, tomatoes for one.
type Juice struct {
	TAPercent float64 // titratable acidity to pH 8.1, as grams of citric acid in 100 mL; 0.05 to 3
	PH        float64 // 2.5 to 7
	VolumeML  float64 // before the addition; 1 to 100 000. In a full jar, what the addition leaves room for.
}

// Addition is acid for a juice: exactly one of Grams and ML is given, more than 0
// and at most as many as the juice has mL. Citric acid is given in grams.
type Addition struct {
	Kind  string // AcidCitric, AcidLemon or AcidVinegar
	Grams float64
	ML    float64
	Weak  bool // lemon juice of WeakLemonGPerL instead of LemonGPerL
}

// PHAfter is the pH of the juice when the acid is mixed in evenly.
//
// It explains and never sets a dose: it is within about 0.2 pH of real tomatoes,
// the published doses have a margin for what it leaves out, and they alone decide.
//
// All acid of the juice counts as citric. Its charge must balance, with C the moles
// of it per liter, S the charge of the minerals, [H] and [OH] from pH:
//
//	S + [H] - [OH] = C n(pH)
//	n = (K1 h² + 2 K1 K2 h + 3 K1 K2 K3)/(h³ + K1 h² + K1 K2 h + K1 K2 K3)
//	C = (10 TA/64.04)/(n(8.1) - n(pH of the juice))
//
// The acid adds to C, or vinegar its own charge, and its water dilutes all. The
// minerals of lemon juice and the ionic strength are left out, both of which change
// the result a little. Constants at 25 °C: J. Solution Chem., "Dissociation quotients
// for citric acid in aqueous sodium chloride media to 150 °C"; acetic acid from memory.
//
// A measured value to hold it against: about pH 4.05 in six cultivars with 1/4
// teaspoon of citric acid to the pint, whose acidity is not told.
//
// A value out of range gives a *RangeError; an unknown kind, or not exactly one
// amount, an error that says what to give.
func PHAfter(j Juice, a Addition) (float64, error) {
	if err := j.check(); err != nil {
		return 0, err
	}
	citricG, aceticG, waterML, err := a.contents(j.VolumeML)
	if err != nil {
		return 0, err
	}
	dilution := j.VolumeML / (j.VolumeML + waterML)
	liters := (j.VolumeML + waterML) / 1000

	citric := 10 * j.TAPercent / acidCitricGPerEq / (acidCitricCharge(acidEndpointPH) - acidCitricCharge(j.PH))
	minerals := citric*acidCitricCharge(j.PH) - acidHydrogen(j.PH)
	return acidBalance(
		minerals*dilution,
		citric*dilution+citricG/acidCitricGPerMol/liters,
		aceticG/acidAceticGPerMol/liters,
	), nil
}

// PHOfAcid is the pH of the acid of the kind alone, dissolved to gramsPerL (0.01 to
// 500 g/L) in water: citric acid for AcidCitric and AcidLemon, acetic acid for
// AcidVinegar. It is the balance of PHAfter without minerals. A concentration out of
// range gives a *RangeError, an unknown kind an error that names the known ones.
func PHOfAcid(kind string, gramsPerL float64) (float64, error) {
	if err := within("acid in water", gramsPerL, 0.01, 500, "g/L"); err != nil {
		return 0, err
	}
	switch kind {
	case AcidCitric, AcidLemon:
		return acidBalance(0, gramsPerL/acidCitricGPerMol, 0), nil
	case AcidVinegar:
		return acidBalance(0, 0, gramsPerL/acidAceticGPerMol), nil
	}
	return 0, acidUnknown(kind)
}

// CitricGrams is about what level US teaspoons of dry citric acid weigh, 0 to 1000
// of them: 2.3 g to the half teaspoon, from memory. Crystals differ in size, and a
// spoonful with them. Another number gives a *RangeError.
func CitricGrams(teaspoons float64) (float64, error) {
	if err := within("citric acid", teaspoons, 0, 1000, "teaspoons"); err != nil {
		return 0, err
	}
	return teaspoons * acidCitricGPerTsp, nil
}

func (j Juice) check() error {
	if err := within("titratable acidity", j.TAPercent, 0.05, 3, "%"); err != nil {
		return err
	}
	if err := within("pH of the juice", j.PH, 2.5, 7, ""); err != nil {
		return err
	}
	return within("volume of the juice", j.VolumeML, 1, 100_000, "mL")
}

// contents are the acids in an addition and the water that comes with them.
func (a Addition) contents(juiceML float64) (citricG, aceticG, waterML float64, err error) {
	if a.Kind != AcidCitric && a.Kind != AcidLemon && a.Kind != AcidVinegar {
		return 0, 0, 0, acidUnknown(a.Kind)
	}
	if a.Weak && a.Kind != AcidLemon {
		return 0, 0, 0, fmt.Errorf("weak %s: only lemon juice is modeled at a second strength; leave out Weak", a.Kind)
	}
	if a.Kind == AcidCitric && a.ML != 0 {
		return 0, 0, 0, fmt.Errorf("citric acid: %s mL is given, but it is dry; give its Grams", number(a.ML))
	}
	if (a.Grams != 0) == (a.ML != 0) {
		return 0, 0, 0, fmt.Errorf("amount of %s: %s g and %s mL are given; give exactly one of Grams and ML", a.Kind, number(a.Grams), number(a.ML))
	}
	if err := within("amount of "+a.Kind, a.Grams, 0, juiceML, "g"); err != nil {
		return 0, 0, 0, err
	}
	if err := within("amount of "+a.Kind, a.ML, 0, juiceML, "mL"); err != nil {
		return 0, 0, 0, err
	}
	switch a.Kind {
	case AcidCitric:
		return a.Grams, 0, 0, nil
	case AcidLemon:
		strength := LemonGPerL
		if a.Weak {
			strength = WeakLemonGPerL
		}
		waterML = a.ML + a.Grams/acidLemonGPerML
		return strength * waterML / 1000, 0, waterML, nil
	default:
		waterML = a.ML + a.Grams/acidVinegarGPerML
		return 0, VinegarGPerL * waterML / 1000, waterML, nil
	}
}

func acidUnknown(kind string) error {
	return fmt.Errorf("kind of acid: %q is not known; use %q, %q or %q", kind, AcidCitric, AcidLemon, AcidVinegar)
}

// acidBalance finds the pH at which the charges of minerals, water, citric acid and
// acetic acid (all in mol/L) add up to nothing.
func acidBalance(minerals, citric, acetic float64) float64 {
	return signChange(func(ph float64) float64 {
		aceticCharge := 1 / (1 + math.Pow(10, acidAceticPK-ph))
		return minerals + acidHydrogen(ph) - citric*acidCitricCharge(ph) - acetic*aceticCharge
	}, 0, 14)
}

// acidHydrogen is [H] - [OH] in mol/L.
func acidHydrogen(ph float64) float64 {
	return math.Pow(10, -ph) - math.Pow(10, ph-acidWaterPK)
}

// acidCitricCharge is n: how many of its three hydrogens citric acid has given up.
func acidCitricCharge(ph float64) float64 {
	one := math.Pow(10, ph-acidCitricPK[0])
	two := one * math.Pow(10, ph-acidCitricPK[1])
	three := two * math.Pow(10, ph-acidCitricPK[2])
	return (one + 2*two + 3*three) / (1 + one + two + three)
}
