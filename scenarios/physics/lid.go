package physics

import (
	"fmt"
	"math"
	"sync"

	"gonum.org/v1/gonum/integrate/quad"
)

// The steel of a lid, from memory: handbooks give 200 to 210 GPa and 0.29 to 0.30.
const (
	LidYoungModulusPa = 205e9
	LidPoissonRatio   = 0.3
	LidDensityKgPerM3 = 7850.0
)

const (
	lidFullInHg     = seaLevelPa / pascalsPerInHg // no vacuum is higher at sea level
	lidWaterKgPerM3 = 1000.0
	lidAirHeatRatio = 1.4 // ratio of the specific heats of air
)

// Lid is a flat round lid of steel. Real lids are pressed into rings and domes,
// which stiffens them: take the direction and the order of magnitude from here.
type Lid struct {
	DiameterMM  float64 // of the part that is free to move, inside the rim; 40 to 120
	ThicknessMM float64 // of the plate; 0.1 to 0.5. Tinplate is 0.15 to 0.38 (scope of ASTM A624M).
}

// Modes are the lowest four frequencies of a lid. The first digit counts the
// diameters that stay at rest, the second the circles, the rim among them.
type Modes struct {
	F01Hz float64 `json:"f01_hz"`
	F11Hz float64 `json:"f11_hz"`
	F21Hz float64 `json:"f21_hz"`
	F02Hz float64 `json:"f02_hz"`
}

// Modes gives the frequencies of the lid held fast at the rim, without vacuum: in
// air, or, where wet, with food that behaves like deep water against its underside.
//
// In air it is the clamped plate (Leissa, Vibration of Plates, NASA SP-160, 1969;
// the report's own table from memory), with radius a, thickness h and density d:
//
//	f = root²/(2π a²) √(D/(d h)),  D = E h³/(12 (1 - ν²))
//	J_n(root) I_n+1(root) + I_n(root) J_n+1(root) = 0
//
// Water that swings with the lid adds to its mass (Lamb, "On the vibrations of an
// elastic plate in contact with water", Proc. R. Soc. A 98, 1920, pp. 205-216):
//
//	f wet = f/√(1 + β),  β = Γ · 1000 kg/m³ · a/(d h)
//
// Lamb's Γ of 0.669 is for the lowest mode, of which he takes the shape to be
// (1 - r²)², and serves F01Hz alone. With it the others would come out far too low,
// as water runs to and fro between their halves. Each has the Γ that Lamb's own
// reckoning of the water's kinetic energy gives for its shape in air: 0.299, 0.208
// and 0.276. These three were worked out here and are not compared with any
// published figure. All four suppose a rim in a wide wall, water without a bottom,
// and a shape that the water does not change.
//
// A lid outside the ranges of Lid gives a *RangeError.
func (l Lid) Modes(wet bool) (Modes, error) {
	if err := l.check(); err != nil {
		return Modes{}, err
	}
	var hz [4]float64
	for i, m := range lidClamped() {
		hz[i] = l.plateHz(m)
		if wet {
			hz[i] /= math.Sqrt(1 + l.waterLoad(m))
		}
	}
	return Modes{hz[0], hz[1], hz[2], hz[3]}, nil
}

// Edge says what the rim does when the vacuum draws a lid down.
type Edge string

const (
	EdgeHeld    Edge = "held"    // the rim lets nothing slip inward: the stiffest lid
	EdgeSliding Edge = "sliding" // the rim slips inward freely: the softest
)

// lidStretch is how strongly a plate stiffens as it bends, for ν = 0.3:
// Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, Table 82, from memory.
var lidStretch = map[Edge]float64{EdgeHeld: 0.471, EdgeSliding: 0.146}

// lidBend is the share of (q/E)(a/h)⁴ by which a clamped plate bends at its
// middle while it bends little; from the same table, from memory.
const lidBend = 0.171

// Drawn says how deep a vacuum of 0 to 29.9 inHg draws the middle of a flat lid,
// and how many times higher its lowest mode then rings than without vacuum. A
// real rim lies between EdgeHeld and EdgeSliding, so the two give a range.
//
// It is a model only. With x the deflection in thicknesses, and q the vacuum as a
// pressure (Timoshenko and Woinowsky-Krieger, Theory of Plates and Shells, Table
// 82, from memory: A = 0.471 held, 0.146 sliding; B = 0.171),
//
//	x + A x³ = B (q/E)(a/h)⁴,  pitch ratio = √(1 + 3 A x²)
//
// No measurement of pitch against vacuum stands behind it: trust that more vacuum
// rings higher, from hundreds of Hz slack to 1 to 3 kHz drawn down, and no figure.
//
// A lid or a vacuum out of range gives a *RangeError.
func (l Lid) Drawn(vacuumInHg float64, edge Edge) (deflectionMM, pitchRatio float64, err error) {
	if err := l.check(); err != nil {
		return 0, 0, err
	}
	if err := within("vacuum", vacuumInHg, 0, lidFullInHg, "inHg"); err != nil {
		return 0, 0, err
	}
	a, ok := lidStretch[edge]
	if !ok {
		return 0, 0, fmt.Errorf("edge of the lid: %q is not known; use %q or %q", edge, EdgeHeld, EdgeSliding)
	}
	radii := l.DiameterMM / 2 / l.ThicknessMM
	load := lidBend * vacuumInHg * pascalsPerInHg / LidYoungModulusPa * math.Pow(radii, 4)
	// The real root of the cubic, by the triple-angle formula of the hyperbolic sine.
	x := 2 / math.Sqrt(3*a) * math.Sinh(math.Asinh(1.5*load*math.Sqrt(3*a))/3)
	return x * l.ThicknessMM, math.Sqrt(1 + 3*a*x*x), nil
}

// ModesUnder gives the frequencies of a lid that a vacuum of 0 to 29.9 inHg draws
// down, held fast at the rim, with air or, where wet, food below it. At 0 they are
// those of Modes.
//
// The pull that raises the lowest mode as Drawn says with EdgeHeld is taken for that
// of a membrane, which raises the others by its own zeros; squares of frequencies
// add. Like Drawn it is a model only, without a measurement behind it. A lid or a
// vacuum out of range gives a *RangeError.
func (l Lid) ModesUnder(vacuumInHg float64, wet bool) (Modes, error) {
	pulled, err := l.pulledHz(vacuumInHg)
	if err != nil {
		return Modes{}, err
	}
	var hz [4]float64
	for i, m := range lidClamped() {
		hz[i] = math.Hypot(l.plateHz(m), pulled[i])
		if wet {
			hz[i] /= math.Sqrt(1 + l.waterLoad(m))
		}
	}
	return Modes{hz[0], hz[1], hz[2], hz[3]}, nil
}

// pulledHz is what the pull of a vacuum alone would give each mode: that of a
// membrane of the lid's weight whose lowest mode takes the place that Drawn gives.
func (l Lid) pulledHz(vacuumInHg float64) (hz [4]float64, err error) {
	_, ratio, err := l.Drawn(vacuumInHg, EdgeHeld)
	if err != nil {
		return hz, err
	}
	lowestHz := l.plateHz(lidClamped()[0]) * math.Sqrt(ratio*ratio-1)
	zeros := lidMembraneZeros()
	tension := l.arealKgPerM2() * math.Pow(lowestHz*2*math.Pi*l.radiusM()/zeros[0], 2)
	for i, zero := range zeros {
		hz[i] = lidMembraneHz(zero, l.radiusM(), tension, l.arealKgPerM2())
	}
	return hz, nil
}

func (l Lid) check() error {
	if err := within("free diameter of the lid", l.DiameterMM, 40, 120, "mm"); err != nil {
		return err
	}
	return within("thickness of the lid", l.ThicknessMM, 0.1, 0.5, "mm")
}

func (l Lid) radiusM() float64 { return l.DiameterMM / 2000 }

// arealKgPerM2 is what a square meter of the lid weighs.
func (l Lid) arealKgPerM2() float64 { return LidDensityKgPerM3 * l.ThicknessMM / 1000 }

func (l Lid) plateHz(m lidMode) float64 {
	h := l.ThicknessMM / 1000
	stiffness := LidYoungModulusPa * h * h * h / (12 * (1 - LidPoissonRatio*LidPoissonRatio))
	return m.root * m.root / (2 * math.Pi * l.radiusM() * l.radiusM()) * math.Sqrt(stiffness/l.arealKgPerM2())
}

// waterLoad is β: the mass of the water that swings along, over that of the lid.
func (l Lid) waterLoad(m lidMode) float64 {
	return m.water * lidWaterKgPerM3 * l.radiusM() / l.arealKgPerM2()
}

// airSpringHz is the frequency that a closed headspace alone would give the mode of
// a lid without stiffness: squares of frequencies add. The lid squeezes the air by
// the mean of its swing, and no heat passes meanwhile.
func (l Lid) airSpringHz(m lidMode, headspaceML, pressurePa float64) float64 {
	area := math.Pi * l.radiusM() * l.radiusM()
	stiffness := lidAirHeatRatio * pressurePa * area / (headspaceML * 1e-6) // of a square meter
	return math.Abs(m.mean) / (2 * math.Pi) * math.Sqrt(stiffness/l.arealKgPerM2())
}

// lidMembraneHz is the frequency of a round membrane whose mode has the given zero
// of a Bessel function: j/(2π a) √(tension/areal mass), in any coherent units.
// Timoshenko and Young, Vibration Problems in Engineering, 3rd edition, eq. 182.
func lidMembraneHz(zero, radius, tension, areal float64) float64 {
	return zero / (2 * math.Pi * radius) * math.Sqrt(tension/areal)
}

// lidMembraneZero is the zero of J_n that goes with a mode of a membrane.
func lidMembraneZero(diameters, circles int) float64 {
	return lidNthRoot(func(z float64) float64 { return math.Jn(diameters, z) }, circles)
}

// lidMembraneZeros are those of lidOrders.
var lidMembraneZeros = sync.OnceValue(func() (zeros [4]float64) {
	for i, o := range lidOrders {
		zeros[i] = lidMembraneZero(o.diameters, o.circles)
	}
	return zeros
})

// lidOrders are the modes of Modes, with the circles inside the rim that stay at rest.
var lidOrders = [4]struct{ diameters, circles int }{{0, 0}, {1, 0}, {2, 0}, {0, 1}}

// lidMode is a way in which a flat round plate swings, of radius 1.
type lidMode struct {
	diameters int
	root      float64 // root² is the frequency without dimension
	bent      float64 // how much of I_n the shape has, against J_n
	scale     float64 // makes the mean of the shape's square over the plate 1
	mean      float64 // of the shape over the plate; only modes without diameters have one
	water     float64 // Γ, for water on one side; 0 where it was not asked for
}

// at is the shape: how far the plate swings at a distance of 0 to 1 from its middle.
func (m lidMode) at(r float64) float64 {
	n := m.diameters
	return m.scale * (math.Jn(n, m.root*r) - m.bent*lidBesselI(n, m.root*r))
}

// lidLambGamma is Lamb's Γ: the water's kinetic energy over that of the plate, both
// swinging as (1 - r²)², by the integral of Weber and Schafheitlin (DLMF 10.22.57).
var lidLambGamma = 640 * math.Gamma(6) * math.Gamma(0.5) / (64 * math.Pow(math.Gamma(3.5), 2) * math.Gamma(6.5))

// lidClamped are the modes of a lid whose rim is held fast.
var lidClamped = sync.OnceValue(func() (modes [4]lidMode) {
	for i, o := range lidOrders {
		modes[i] = newLidMode(o.diameters, lidClampedRoot(o.diameters, o.circles))
		modes[i].water = lidWaterGamma(modes[i])
	}
	modes[0].water = lidLambGamma
	return modes
})

// lidHinged are the modes of a lid that rests on the rim and may tilt there.
var lidHinged = sync.OnceValue(func() (modes [4]lidMode) {
	for i, o := range lidOrders {
		modes[i] = newLidMode(o.diameters, lidHingedRoot(o.diameters, o.circles))
	}
	return modes
})

// lidClampedRoot solves for a rim that neither moves nor tilts. J_n and I_n are
// divided by I_n, which has no zero, to keep the numbers small.
func lidClampedRoot(diameters, circles int) float64 {
	return lidNthRoot(func(z float64) float64 {
		return math.Jn(diameters, z)*lidBesselI(diameters+1, z)/lidBesselI(diameters, z) + math.Jn(diameters+1, z)
	}, circles)
}

// lidHingedRoot solves for a rim that does not move and bears no bending:
// J_n+1/J_n + I_n+1/I_n = 2 root/(1 - ν) (Leissa, NASA SP-160, from memory).
func lidHingedRoot(diameters, circles int) float64 {
	return lidNthRoot(func(z float64) float64 {
		iRatio := lidBesselI(diameters+1, z) / lidBesselI(diameters, z)
		return math.Jn(diameters+1, z) + math.Jn(diameters, z)*(iRatio-2*z/(1-LidPoissonRatio))
	}, circles)
}

// newLidMode works out the shape of a mode that does not move at the rim.
func newLidMode(diameters int, root float64) lidMode {
	m := lidMode{diameters: diameters, root: root, scale: 1}
	m.bent = math.Jn(diameters, root) / lidBesselI(diameters, root)
	m.scale = 1 / math.Sqrt(lidMean(func(r float64) float64 { return m.at(r) * m.at(r) }))
	if diameters == 0 {
		m.mean = lidMean(m.at)
	}
	return m
}

// lidMean is the mean of f over a plate of radius 1.
func lidMean(f func(r float64) float64) float64 {
	return quad.Fixed(func(r float64) float64 { return 2 * r * f(r) }, 0, 1, lidPoints, nil, 0)
}

// lidPoints is the number of places at which a function over a radius is taken.
const lidPoints = 32

// lidWaterGamma is the kinetic energy of water on one side of a plate in a wide
// wall over that of the plate, were the plate as heavy as a layer of the water one
// radius deep: twice the integral of the squared Hankel transform of its shape.
func lidWaterGamma(m lidMode) float64 {
	var radii, weights, swing [lidPoints]float64
	quad.Legendre{}.FixedLocations(radii[:], weights[:], 0, 1)
	for i, r := range radii {
		swing[i] = weights[i] * r * m.at(r)
	}
	hankelSquared := func(k float64) float64 {
		var h float64
		for i, r := range radii {
			h += swing[i] * math.Jn(m.diameters, k*r)
		}
		return h * h
	}
	// The transform falls as k^-3.5: what lies beyond 40 is less than a part in 10⁷.
	return 2 * quad.Fixed(hankelSquared, 0, 40, 64, nil, 0)
}

// lidBesselI is the modified Bessel function I_n for n of 0 to 5 and z of 0 to 20,
// by DLMF 10.32.3: the mean of e^(z cos θ) cos nθ over θ from 0 to π.
func lidBesselI(n int, z float64) float64 {
	return quad.Fixed(func(theta float64) float64 {
		return math.Exp(z*math.Cos(theta)) * math.Cos(float64(n)*theta)
	}, 0, math.Pi, 40, nil, 0) / math.Pi
}

// lidNthRoot finds the root of f above 0.5 that has skip others below it. Roots
// must lie more than 0.25 apart, which those of plates and membranes do.
func lidNthRoot(f func(z float64) float64, skip int) float64 {
	const step = 0.25
	for low := 0.5; ; low += step {
		if math.Signbit(f(low)) == math.Signbit(f(low+step)) {
			continue
		}
		if skip == 0 {
			return signChange(f, low, low+step)
		}
		skip--
	}
}

// signChange halves the span from low to high until it has found where f, which
// has different signs there, goes through zero.
func signChange(f func(x float64) float64, low, high float64) float64 {
	below := math.Signbit(f(low))
	for range 60 {
		middle := (low + high) / 2
		if math.Signbit(f(middle)) == below {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}
