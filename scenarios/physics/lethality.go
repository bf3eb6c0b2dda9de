package physics

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat"
)

// Reading is one temperature of a record, or of a computed curve.
type Reading struct {
	Minutes float64 // 0 to 1e6
	TempC   float64 // -50 to 200
}

const (
	// gasConstant is R in J/(mol K), the 2018 CODATA value, which is exact.
	gasConstant = 8.31446261815324
	zeroCelsius = 273.15 // in K
	// lethalityNodes is the number of points of each Gauss-Legendre rule. The
	// integrands are smooth; the tests hold the results to a billionth.
	lethalityNodes = 200
)

// LethalRate gives L = 10^((T - ref)/z): the minutes at the reference temperature
// that a minute at T counts for (Ball and Olson, Sterilization in Food Technology,
// 1957). Both temperatures are -50 to 200 C and z is 1 to 100 C, here and in all
// functions of lethality; a value outside its range gives a *RangeError.
func LethalRate(tempC, refC, zC float64) (float64, error) {
	if err := cmp.Or(withinLethal("temperature", tempC), withinReference(refC, zC)); err != nil {
		return 0, err
	}
	return lethalRate(tempC, refC, zC), nil
}

func lethalRate(tempC, refC, zC float64) float64 {
	return math.Pow(10, (tempC-refC)/zC)
}

func withinLethal(what string, tempC float64) error {
	return within(what, tempC, -50, 200, "°C")
}

func withinReference(refC, zC float64) error {
	return cmp.Or(withinLethal("reference temperature", refC), within("z", zC, 1, 100, "degrees C"))
}

// LethalityOfCurve gives F, the integral of the lethal rate over a record, in minutes
// at the reference temperature. Between two readings the temperature is taken to run
// straight, and that is integrated exactly. There must be two readings or more, in
// order of time; the error names the reading, counted from 1, that is not as it should
// be.
func LethalityOfCurve(curve []Reading, refC, zC float64) (fMin float64, err error) {
	if err := withinReference(refC, zC); err != nil {
		return 0, err
	}
	if len(curve) < 2 {
		return 0, fmt.Errorf("a curve of %d readings: give 2 or more", len(curve))
	}
	for i, r := range curve {
		if err := cmp.Or(within("time", r.Minutes, 0, 1e6, "min"), withinLethal("temperature", r.TempC)); err != nil {
			return 0, fmt.Errorf("reading %d: %w", i+1, err)
		}
		if i == 0 {
			continue
		}
		last := curve[i-1]
		if r.Minutes <= last.Minutes {
			return 0, fmt.Errorf("reading %d: %s min does not come after the %s min of the reading before; give the readings in order of time, each time once",
				i+1, number(r.Minutes), number(last.Minutes))
		}
		// The rate runs exponentially from one reading to the next.
		growth := math.Ln10 * (r.TempC - last.TempC) / zC
		overFirst := 1.0 // mean rate over the rate at the last reading
		if growth != 0 {
			overFirst = math.Expm1(growth) / growth
		}
		fMin += (r.Minutes - last.Minutes) * lethalRate(last.TempC, refC, zC) * overFirst
	}
	return fMin, nil
}

// LethalityOfHeating gives F in minutes, at the reference temperature, of a heating
// whose gap g to the bath closes log-linearly from j (bath - start) on:
//
//	F = (fh/ln 10) 10^((bath - ref)/z) (E1(ln 10 g/z) - E1(ln 10 g0/z))
//	g0 = j (bath - start), g = g0 10^(-minutes/fh)
//
// With j above 1 that line begins below the start temperature, where it adds next to
// nothing; it is left as it is. fh is 0.1 to 1e5 min, j 0.1 to 5, the temperatures -50
// to 200 C with the bath at least 0.1 C above the start, the heating 0 to 100 fh.
func LethalityOfHeating(fhMin, j, bathC, startC, heatMin, refC, zC float64) (fMin float64, err error) {
	if err := cmp.Or(
		withinLag(fhMin, j),
		withinLethal("temperature of the bath", bathC),
		withinLethal("temperature at the start", startC),
		within("bath above start", bathC-startC, 0.1, 250, "degrees C"),
		within("minutes of heating", heatMin, 0, 100*fhMin, "min"),
		withinReference(refC, zC),
	); err != nil {
		return 0, err
	}
	firstGap := j * (bathC - startC)
	lastGap := firstGap * math.Pow(10, -heatMin/fhMin)
	decades := e1(math.Ln10*lastGap/zC) - e1(math.Ln10*firstGap/zC)
	return fhMin / math.Ln10 * lethalRate(bathC, refC, zC) * decades, nil
}

func withinLag(fhMin, j float64) error {
	return cmp.Or(within("fh", fhMin, 0.1, 1e5, "min"), within("j", j, 0.1, 5, ""))
}

// e1 is the exponential integral, for x above 0: the integral of exp(-t)/t from x to
// infinity (DLMF 6.2.1), taken over the logarithm of t. Beyond x + 45 less than
// exp(-45) of it is left. Where exp(-t) is all but 1 a second rule takes over, or
// small x would stretch the first.
func e1(x float64) float64 {
	const flat = -10
	integrand := func(logT float64) float64 { return math.Exp(-math.Exp(logT)) }
	low, sum := math.Log(x), 0.0
	if low < flat {
		sum = quad.Fixed(integrand, low, flat, lethalityNodes, quad.Legendre{}, 0)
		low = flat
	}
	return sum + quad.Fixed(integrand, low, math.Log(x+45), lethalityNodes, quad.Legendre{}, 0)
}

// CoolingShare gives the share, 0 to 1, of the whole F at the center that comes after
// removal, until the center is back at the stop temperature. The temperatures of the
// heating must be -50 to 200 C, and the stop at least 0.1 C above the air and no higher
// than the bath. A center that never comes up to the stop is an error.
func (c *Cooling) CoolingShare(refC, zC, stopC float64) (float64, error) {
	h := c.heating
	if err := cmp.Or(
		withinLethal("temperature at the start", h.startC),
		withinLethal("temperature of the bath", h.bath.TempC),
		withinLethal("temperature of the air", c.air.TempC),
		within("stop temperature", stopC, c.air.TempC+0.1, h.bath.TempC, "°C"),
		withinReference(refC, zC),
	); err != nil {
		return 0, err
	}
	stop, err := c.minutesUntil(stopC)
	if err != nil {
		return 0, err
	}
	// Things change within a fraction of fh, both in the bath and after removal, and
	// ever more slowly later on: so each rule reaches twice as far as the last.
	integrate := func(minutes float64, moment func(float64) CurvePoint) (sum float64) {
		rate := func(t float64) float64 { return lethalRate(moment(t).CenterC, refC, zC) }
		for from, to := 0.0, h.FHMinutes()/2; from < minutes; from, to = to, 2*to {
			sum += quad.Fixed(rate, from, min(to, minutes), lethalityNodes, quad.Legendre{}, 0)
		}
		return sum
	}
	heating, cooling := integrate(c.removal, h.moment), integrate(stop, c.moment)
	return cooling / (heating + cooling), nil
}

// minutesUntil gives the minutes after removal at which the center, having been at
// least as warm, is back at a temperature.
func (c *Cooling) minutesUntil(stopC float64) (float64, error) {
	step := c.FCMinutes() / 50
	warm, found := 0.0, false // the last moment at which it was warmer
	// Ten times fc brings the widest gap allowed to far less than the 0.1 C by which
	// the stop is above the air.
	for t := 0.0; t < 10*c.FCMinutes(); t += step {
		if c.moment(t).CenterC >= stopC {
			warm, found = t, true
		} else if found {
			break
		}
	}
	if !found {
		return 0, fmt.Errorf("the center never comes up to the stop temperature of %s C: heat longer, or choose a lower one", number(stopC))
	}
	cold := warm + step
	for range 60 {
		if middle := (warm + cold) / 2; c.moment(middle).CenterC >= stopC {
			warm = middle
		} else {
			cold = middle
		}
	}
	return warm, nil
}

// LogReductions gives the number of tenfold reductions that F brings: F over the
// decimal reduction time, both at the reference temperature. F is 0 to 1e9 min, the
// decimal reduction time 1e-6 to 1e6 min.
func LogReductions(fMin, dRefMin float64) (float64, error) {
	if err := cmp.Or(
		within("F", fMin, 0, 1e9, "min"),
		within("decimal reduction time", dRefMin, 1e-6, 1e6, "min"),
	); err != nil {
		return 0, err
	}
	return fMin / dRefMin, nil
}

// DecimalReduction gives the decimal reduction time in minutes at a temperature of
// -50 to 200 C: D = D(ref) 10^((ref - T)/z). D(ref) is 1e-6 to 1e6 min.
func DecimalReduction(dRefMin, refC, zC, tempC float64) (dMin float64, err error) {
	if err := cmp.Or(
		within("decimal reduction time", dRefMin, 1e-6, 1e6, "min"),
		withinReference(refC, zC),
		withinLethal("temperature", tempC),
	); err != nil {
		return 0, err
	}
	return dRefMin / lethalRate(tempC, refC, zC), nil
}

// ZFromActivation gives the z in C that an activation energy of 10 to 1000 kJ/mol
// comes to at a temperature of -50 to 200 C: z = ln 10 R T^2/Ea, with T in K.
func ZFromActivation(eaKJMol, tempC float64) (zC float64, err error) {
	if err := cmp.Or(
		within("activation energy", eaKJMol, 10, 1000, "kJ/mol"),
		withinLethal("temperature", tempC),
	); err != nil {
		return 0, err
	}
	kelvin := tempC + zeroCelsius
	return math.Ln10 * gasConstant * kelvin * kelvin / (eaKJMol * 1000), nil
}

// BallMinutes gives the minutes that the log-linear part of a heating takes to close
// the gap to the bath from j times the first gap ih down to g, in C: B = fh log10(j
// ih/g) (Ball and Olson, 1957). It explains the formula method; nothing is to be
// canned by it. fh is 0.1 to 1e5 min, j 0.1 to 5, ih 0.1 to 250 C, g 1e-6 C to j ih.
func BallMinutes(fhMin, j, ihC, gC float64) (float64, error) {
	if err := cmp.Or(
		withinLag(fhMin, j),
		within("first gap to the bath", ihC, 0.1, 250, "degrees C"),
		within("last gap to the bath", gC, 1e-6, j*ihC, "degrees C"),
	); err != nil {
		return 0, err
	}
	return fhMin * math.Log10(j*ihC/gC), nil
}

// FitZ gives the z in C that measured decimal reduction times come to: -1 over the
// slope of the line of least squares through log10 D against the temperature. There
// must be two points or more, at -50 to 200 C and 1e-6 to 1e6 min, at not all the same
// temperature, and D must fall as the temperature rises.
func FitZ(tempsC, dMinutes []float64) (zC float64, err error) {
	if len(tempsC) != len(dMinutes) {
		return 0, fmt.Errorf("%d temperatures and %d decimal reduction times: give one for each", len(tempsC), len(dMinutes))
	}
	if len(tempsC) < 2 {
		return 0, fmt.Errorf("%d points: give 2 or more", len(tempsC))
	}
	logD := make([]float64, len(dMinutes))
	for i, d := range dMinutes {
		if err := cmp.Or(
			withinLethal("temperature", tempsC[i]),
			within("decimal reduction time", d, 1e-6, 1e6, "min"),
		); err != nil {
			return 0, fmt.Errorf("point %d: %w", i+1, err)
		}
		logD[i] = math.Log10(d)
	}
	if slices.Min(tempsC) == slices.Max(tempsC) {
		return 0, fmt.Errorf("all points are at %s C: z needs two temperatures", number(tempsC[0]))
	}
	_, slope := stat.LinearRegression(tempsC, logD, nil, false)
	if !(slope < 0) {
		return 0, errors.New("the decimal reduction times do not fall as the temperature rises, so they have no z: check which belongs to which")
	}
	return -1 / slope, nil
}
