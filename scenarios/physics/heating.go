package physics

import (
	"cmp"
	"math"
	"sync"
)

// Cylinder is food in a straight-sided jar or can, or any solid cylinder, in
// which heat moves by conduction alone.
type Cylinder struct {
	RadiusMM     float64 // 1 to 500
	HalfHeightMM float64 // half of the height, 1 to 1000; Ball's formula has the half too
	AlphaM2S     float64 // thermal diffusivity in m2/s, 1e-8 to 1e-3 (foods are near 1.5e-7, aluminum near 1e-4)
	KWMK         float64 // thermal conductivity in W/(m K), 0.01 to 500
}

// Surroundings are what the whole surface of the cylinder meets: water, steam or air.
type Surroundings struct {
	TempC float64 // -50 to 700
	// UWM2K is the heat transfer coefficient from the surroundings to the surface
	// of the food, in W/(m2 K), 0.1 to 1e6; a glass wall counts as a part of it.
	// +Inf holds the surface at TempC.
	UWM2K float64
}

// CurvePoint is one moment of a heating or a cooling.
type CurvePoint struct {
	Minutes float64 // since heating began
	CenterC float64
	MeanC   float64 // averaged over the volume
}

// Heating is a cylinder, at one temperature throughout, that was put into
// surroundings of another. The temperature is the exact solution for constant
// properties, the product of an infinite slab and an infinite cylinder
//
//	(T - bath)/(start - bath) = slab(x/L, alpha t/L^2, U L/k) * cylinder(r/R, alpha t/R^2, U R/k)
//
// each a series of modes that die away with exp(-root^2 Fo), where Fo is the
// Fourier number alpha t/L^2 or alpha t/R^2 (Carslaw and Jaeger, Conduction of
// Heat in Solids, 2nd ed., chapters 3, 7 and 8). L is the half height.
//
// Each series is carried so far that it is exact from Fo = 5e-5 on, which for a jar
// is a second or two. Methods that take a time accept 0, and from the moment when
// both series are exact to 1e5 minutes; anything else gives a *RangeError.
//
// A Heating never changes, so any number of goroutines may use it.
type Heating struct {
	cylinder      Cylinder
	startC        float64
	bath          Surroundings
	axial, radial heatAxis
}

// Cooling is what follows when the cylinder of a Heating is moved, warm as it is,
// into other surroundings. It is exact as well, and a sum of two products:
//
//	T = air + (bath - air) S1 C1 + (start - bath) S2 C2
//
// S1 and C1 are the slab and the cylinder that start uniform, S2 and C2 those that
// start from the profiles of the heating at its end, all with the Biot number of
// the new surroundings.
//
// A Cooling never changes, so any number of goroutines may use it.
type Cooling struct {
	heating       *Heating
	removal       float64 // minutes of heating
	air           Surroundings
	axial, radial heatAxis
	// The weights of the modes in S2 and C2.
	axialWarm, radialWarm []float64
}

const (
	longestMinutes  = 1e5
	shortestFourier = 5e-5
	// spentExponent is where a mode counts as died away: exp(-30) is 1e-13.
	spentExponent = 30
	// heatModeCount leaves out no mode that is alive at the shortest Fourier number:
	// the root of mode n, counted from 0, is n pi at least.
	heatModeCount = 247
	// mostCurvePoints keeps a curve small enough to draw.
	mostCurvePoints = 10000
)

// NewHeating puts a cylinder that is at startC, -50 to 700 C, throughout into a
// bath. The ranges, which reach to the metals of textbook examples, stand beside
// the fields of Cylinder and Surroundings; a value outside gives a *RangeError.
func NewHeating(c Cylinder, startC float64, bath Surroundings) (*Heating, error) {
	if err := cmp.Or(
		within("radius", c.RadiusMM, 1, 500, "mm"),
		within("half height", c.HalfHeightMM, 1, 1000, "mm"),
		within("thermal diffusivity", c.AlphaM2S, 1e-8, 1e-3, "m2/s"),
		within("thermal conductivity", c.KWMK, 0.01, 500, "W/(m K)"),
		within("temperature at the start", startC, -50, 700, "°C"),
		bath.check(),
	); err != nil {
		return nil, err
	}
	h := &Heating{cylinder: c, startC: startC, bath: bath}
	h.axial, h.radial = c.axes(bath.UWM2K)
	return h, nil
}

func (s Surroundings) check() error {
	if err := within("temperature of the surroundings", s.TempC, -50, 700, "°C"); err != nil {
		return err
	}
	if math.IsInf(s.UWM2K, 1) {
		return nil
	}
	return within("heat transfer coefficient", s.UWM2K, 0.1, 1e6, "W/(m2 K)")
}

// CenterC gives the temperature in the middle after a number of minutes, in C.
func (h *Heating) CenterC(minutes float64) (float64, error) {
	if err := h.cylinder.checkMinutes(minutes); err != nil {
		return 0, err
	}
	return h.moment(minutes).CenterC, nil
}

// MeanC gives the temperature averaged over the volume after a number of minutes,
// in C.
func (h *Heating) MeanC(minutes float64) (float64, error) {
	if err := h.cylinder.checkMinutes(minutes); err != nil {
		return 0, err
	}
	return h.moment(minutes).MeanC, nil
}

// PointC gives the temperature in C at a point: its distance from the axis, 0 to
// the radius, and its height from the middle, up to the half height above or below.
func (h *Heating) PointC(minutes, radiusMM, heightFromMiddleMM float64) (float64, error) {
	c := h.cylinder
	if err := cmp.Or(
		c.checkMinutes(minutes),
		within("distance from the axis", radiusMM, 0, c.RadiusMM, "mm"),
		within("height from the middle", heightFromMiddleMM, -c.HalfHeightMM, c.HalfHeightMM, "mm"),
	); err != nil {
		return 0, err
	}
	if minutes == 0 {
		return h.startC, nil
	}
	slab := h.axial.at(heightFromMiddleMM/c.HalfHeightMM, minutes)
	round := h.radial.at(radiusMM/c.RadiusMM, minutes)
	return h.bath.TempC + (h.startC-h.bath.TempC)*slab*round, nil
}

// HeatShare gives the share, 0 to 1, of all the heat that the cylinder can take up
// (or, in a colder bath, give off) that it has taken up after a number of minutes.
func (h *Heating) HeatShare(minutes float64) (float64, error) {
	if err := h.cylinder.checkMinutes(minutes); err != nil {
		return 0, err
	}
	if minutes == 0 {
		return 0, nil
	}
	_, slab := h.axial.decay(minutes, h.axial.uniform)
	_, round := h.radial.decay(minutes, h.radial.uniform)
	return 1 - slab*round, nil
}

// FHMinutes gives fh: the minutes in which the late, log-linear part of the heating
// closes nine tenths of the gap between center and bath (Ball and Olson,
// Sterilization in Food Technology, 1957; the logarithm is to base 10).
func (h *Heating) FHMinutes() float64 {
	return minutesPerDecade(h.axial, h.radial)
}

// J gives the lag factor j of the center: the gap between bath and center at which
// the log-linear part of the heating would have begun, over the gap at which it did.
func (h *Heating) J() float64 {
	return h.axial.uniform[0] * h.radial.uniform[0]
}

// Curve gives a number of points, 2 to 10000, evenly spaced from minute 0 to the
// given minute.
func (h *Heating) Curve(minutes float64, points int) ([]CurvePoint, error) {
	if err := within("number of points", float64(points), 2, mostCurvePoints, ""); err != nil {
		return nil, err
	}
	step := minutes / float64(points-1)
	if err := cmp.Or(
		h.cylinder.checkMinutes(minutes),
		h.cylinder.checkStep(step),
	); err != nil {
		return nil, err
	}
	curve := make([]CurvePoint, points)
	for i := range curve {
		curve[i] = h.moment(step * float64(i))
	}
	return curve, nil
}

// Cool moves the cylinder, after so many minutes of heating, into other
// surroundings. The minutes must be at least those from which the series is exact
// (see Heating).
func (h *Heating) Cool(minutes float64, air Surroundings) (*Cooling, error) {
	if err := cmp.Or(
		within("minutes of heating", minutes, h.cylinder.shortestMinutes(), longestMinutes, "min"),
		air.check(),
	); err != nil {
		return nil, err
	}
	c := &Cooling{heating: h, removal: minutes, air: air}
	c.axial, c.radial = h.cylinder.axes(air.UWM2K)
	c.axialWarm = c.axial.profileOf(h.axial, minutes)
	c.radialWarm = c.radial.profileOf(h.radial, minutes)
	return c, nil
}

// CenterC gives the temperature in the middle so many minutes after removal, in C.
func (c *Cooling) CenterC(minutes float64) (float64, error) {
	if err := c.heating.cylinder.checkMinutes(minutes); err != nil {
		return 0, err
	}
	return c.moment(minutes).CenterC, nil
}

// MeanC gives the temperature averaged over the volume so many minutes after
// removal, in C.
func (c *Cooling) MeanC(minutes float64) (float64, error) {
	if err := c.heating.cylinder.checkMinutes(minutes); err != nil {
		return 0, err
	}
	return c.moment(minutes).MeanC, nil
}

// FCMinutes gives the minutes in which the late, log-linear part of the cooling
// closes nine tenths of the gap between center and surroundings.
func (c *Cooling) FCMinutes() float64 {
	return minutesPerDecade(c.axial, c.radial)
}

// Curve gives a number of points, 3 to 10000, from minute 0 of the heating to the
// given minute after removal. The moment of removal is one of them; before it and
// after it they are evenly spaced, as near to one spacing as that allows.
func (c *Cooling) Curve(minutesAfterRemoval float64, points int) ([]CurvePoint, error) {
	if err := cmp.Or(
		within("number of points", float64(points), 3, mostCurvePoints, ""),
		c.heating.cylinder.checkMinutes(minutesAfterRemoval),
	); err != nil {
		return nil, err
	}
	steps := points - 1
	heating := int(math.Round(float64(steps) * c.removal / (c.removal + minutesAfterRemoval)))
	heating = min(max(heating, 1), steps-1)
	heatingStep := c.removal / float64(heating)
	coolingStep := minutesAfterRemoval / float64(steps-heating)
	for _, step := range []float64{heatingStep, coolingStep} {
		if err := c.heating.cylinder.checkStep(step); err != nil {
			return nil, err
		}
	}
	curve := make([]CurvePoint, points)
	for i := range curve {
		if i <= heating {
			curve[i] = c.heating.moment(heatingStep * float64(i))
			continue
		}
		curve[i] = c.moment(coolingStep * float64(i-heating))
		curve[i].Minutes += c.removal
	}
	return curve, nil
}

// moment counts its minutes from the start of heating.
func (h *Heating) moment(minutes float64) CurvePoint {
	if minutes == 0 {
		return CurvePoint{Minutes: minutes, CenterC: h.startC, MeanC: h.startC}
	}
	slabCenter, slabMean := h.axial.decay(minutes, h.axial.uniform)
	roundCenter, roundMean := h.radial.decay(minutes, h.radial.uniform)
	gap := h.startC - h.bath.TempC
	return CurvePoint{
		Minutes: minutes,
		CenterC: h.bath.TempC + gap*slabCenter*roundCenter,
		MeanC:   h.bath.TempC + gap*slabMean*roundMean,
	}
}

// moment counts its minutes from removal.
func (c *Cooling) moment(minutes float64) CurvePoint {
	if minutes == 0 {
		atRemoval := c.heating.moment(c.removal)
		atRemoval.Minutes = minutes
		return atRemoval
	}
	slabCenter, slabMean := c.axial.decay(minutes, c.axial.uniform)
	roundCenter, roundMean := c.radial.decay(minutes, c.radial.uniform)
	warmSlabCenter, warmSlabMean := c.axial.decay(minutes, c.axialWarm)
	warmRoundCenter, warmRoundMean := c.radial.decay(minutes, c.radialWarm)
	air, bath, start := c.air.TempC, c.heating.bath.TempC, c.heating.startC
	return CurvePoint{
		Minutes: minutes,
		CenterC: air + (bath-air)*slabCenter*roundCenter + (start-bath)*warmSlabCenter*warmRoundCenter,
		MeanC:   air + (bath-air)*slabMean*roundMean + (start-bath)*warmSlabMean*warmRoundMean,
	}
}

func (c Cylinder) shortestMinutes() float64 {
	longer := max(c.RadiusMM, c.HalfHeightMM) / 1000
	return shortestFourier * longer * longer / c.AlphaM2S / 60
}

func (c Cylinder) checkMinutes(minutes float64) error {
	if minutes == 0 {
		return nil
	}
	return within("time, where it is not 0", minutes, c.shortestMinutes(), longestMinutes, "min")
}

func (c Cylinder) checkStep(minutes float64) error {
	return within("time from point to point", minutes, c.shortestMinutes(), longestMinutes, "min")
}

// axes gives the modes of the cylinder in both directions.
func (c Cylinder) axes(uWM2K float64) (axial, radial heatAxis) {
	halfHeight, radius := c.HalfHeightMM/1000, c.RadiusMM/1000
	axial = heatAxis{
		modes:            slabModes(heatModeCount, uWM2K*halfHeight/c.KWMK),
		fourierPerMinute: c.AlphaM2S * 60 / (halfHeight * halfHeight),
		shape:            math.Cos,
		dimensions:       1,
	}
	radial = heatAxis{
		modes:            cylinderModes(heatModeCount, uWM2K*radius/c.KWMK),
		fourierPerMinute: c.AlphaM2S * 60 / (radius * radius),
		shape:            math.J0,
		dimensions:       2,
	}
	axial.uniform, radial.uniform = uniformStart(axial.modes), uniformStart(radial.modes)
	return axial, radial
}

// uniformStart gives the weight of each mode in a start at 1 throughout.
func uniformStart(modes []heatMode) []float64 {
	weights := make([]float64, len(modes))
	for i, m := range modes {
		weights[i] = m.mean / m.norm
	}
	return weights
}

// heatAxis is one direction in which heat moves, with distances from 0 in the middle
// to 1 at the surface: through a slab (1 dimension) or across a cylinder (2).
type heatAxis struct {
	modes            []heatMode
	uniform          []float64
	fourierPerMinute float64                     // the Fourier number grows by this each minute
	shape            func(rootX float64) float64 // cos or J0
	dimensions       float64
}

// heatMode is one term of the series, with the shape X(x) = cos(root x) in a slab and
// J0(root x) in a cylinder; both are 1 in the middle.
type heatMode struct {
	root float64
	edge float64 // X at the surface
	fall float64 // -X'/root at the surface: sin(root) or J1(root)
	mean float64 // X averaged over the volume
	norm float64 // X squared, averaged over the volume
}

// decay sums the modes in the middle and over the volume. Before the series is exact
// it stands still, which the middle all but does as well.
func (a heatAxis) decay(minutes float64, weights []float64) (center, mean float64) {
	fourier := max(a.fourierPerMinute*minutes, shortestFourier)
	for i, m := range a.modes {
		exponent := m.root * m.root * fourier
		if exponent > spentExponent {
			break
		}
		term := weights[i] * math.Exp(-exponent)
		center += term
		mean += term * m.mean
	}
	return center, mean
}

// at sums the modes of a uniform start at x, from 0 in the middle to 1 at the surface.
func (a heatAxis) at(x, minutes float64) float64 {
	fourier := a.fourierPerMinute * minutes
	sum := 0.0
	for i, m := range a.modes {
		exponent := m.root * m.root * fourier
		if exponent > spentExponent {
			break
		}
		sum += a.uniform[i] * math.Exp(-exponent) * a.shape(m.root*x)
	}
	return sum
}

// profileOf gives the weights, in the modes of a, of the profile that a uniform
// start has come to on another axis after so many minutes.
func (a heatAxis) profileOf(before heatAxis, minutes float64) []float64 {
	weights := make([]float64, len(a.modes))
	fourier := before.fourierPerMinute * minutes
	for i, old := range before.modes {
		exponent := old.root * old.root * fourier
		if exponent > spentExponent {
			break
		}
		left := before.uniform[i] * math.Exp(-exponent)
		for n, m := range a.modes {
			weights[n] += left * a.overlap(old, m) / m.norm
		}
	}
	return weights
}

// overlap averages the product of two modes over the volume. Green's identity gives
// it from the values at the surface (for the cylinder this is Lommel's integral;
// Watson, Theory of Bessel Functions, 2nd ed., section 5.11).
func (a heatAxis) overlap(p, q heatMode) float64 {
	// Where the roots all but agree the quotient loses its digits, and the average
	// of the norms has the same value to the square of the difference.
	if math.Abs(p.root-q.root) < 1e-5 {
		return (p.norm + q.norm) / 2
	}
	return a.dimensions * (p.root*p.fall*q.edge - q.root*q.fall*p.edge) /
		((p.root - q.root) * (p.root + q.root))
}

func minutesPerDecade(axial, radial heatAxis) float64 {
	z, c := axial.modes[0].root, radial.modes[0].root
	return math.Ln10 / (z*z*axial.fourierPerMinute + c*c*radial.fourierPerMinute)
}

// slabModes gives the first modes of a slab: the roots of z tan z = Bi, of which
// each half turn of the tangent has one.
func slabModes(count int, biot float64) []heatMode {
	balance := func(z float64) (value, slope float64) {
		sin, cos := math.Sincos(z)
		return z*sin - biot*cos, (1+biot)*sin + z*cos
	}
	modes := make([]heatMode, count)
	for i := range modes {
		z := (float64(i) + 0.5) * math.Pi
		if !math.IsInf(biot, 1) {
			z = heatRoot(float64(i)*math.Pi, z, balance)
		}
		sin, cos := math.Sincos(z)
		modes[i] = heatMode{root: z, edge: cos, fall: sin, mean: sin / z, norm: 0.5 + sin*cos/(2*z)}
	}
	return modes
}

// cylinderModes gives the first modes of a long cylinder: the roots of
// z J1(z) = Bi J0(z), of which there is one between each two zeros of J0.
func cylinderModes(count int, biot float64) []heatMode {
	balance := func(z float64) (value, slope float64) {
		j0, j1 := math.J0(z), math.J1(z)
		return z*j1 - biot*j0, z*j0 + biot*j1
	}
	zeros := besselZeros()
	modes := make([]heatMode, count)
	lastZero := 0.0
	for i := range modes {
		zero := zeros[i]
		z := zero
		if !math.IsInf(biot, 1) {
			z = heatRoot(lastZero, zero, balance)
		}
		j0, j1 := math.J0(z), math.J1(z)
		modes[i] = heatMode{root: z, edge: j0, fall: j1, mean: 2 * j1 / z, norm: j0*j0 + j1*j1}
		lastZero = zero
	}
	return modes
}

// besselZeros are as many zeros of J0 as there are modes.
var besselZeros = sync.OnceValue(func() (zeros [heatModeCount]float64) {
	for i := range zeros {
		zeros[i] = besselZero(i + 1)
	}
	return zeros
})

// besselZero gives zero number n of J0, counted from 1. It lies between
// (n - 1/4) pi and (n - 1/8) pi (Watson, Theory of Bessel Functions, chapter 15).
func besselZero(n int) float64 {
	return heatRoot((float64(n)-0.25)*math.Pi, (float64(n)-0.125)*math.Pi, func(z float64) (value, slope float64) {
		return math.J0(z), -math.J1(z)
	})
}

// heatRoot finds the one zero of f between low and high, where f has opposite signs:
// Newton's steps, with the interval halved where a step would leave it.
func heatRoot(low, high float64, f func(z float64) (value, slope float64)) float64 {
	atLow, _ := f(low)
	z := (low + high) / 2
	for range 100 {
		value, slope := f(z)
		if (value > 0) == (atLow > 0) {
			low = z
		} else {
			high = z
		}
		next := z - value/slope
		if !(next >= low && next <= high) {
			next = (low + high) / 2
		}
		if math.Abs(next-z) <= 1e-15*z {
			return next
		}
		z = next
	}
	return z
}
