package physics

import (
	"fmt"
	"math"
	"math/cmplx"
	"math/rand/v2"

	"gonum.org/v1/gonum/floats"
	"gonum.org/v1/gonum/stat/distuv"
)

// LidState is what a tapped lid is like underneath.
type LidState string

const (
	Sealed       LidState = "sealed"        // drawn down by a vacuum, with a headspace below
	Unsealed     LidState = "unsealed"      // lying loose on the rim
	FoodTouching LidState = "food-touching" // drawn down like Sealed, but wet below
)

const (
	tapSeconds     = 0.6
	tapFadeSeconds = 0.03 // the last of the sound fades, so that its end does not click

	// tapLoudness is the root mean square of every tap. A short sound is heard by
	// its energy, so a thud must start higher than a ring: this leaves it room.
	tapLoudness = 0.05

	// tapSideways is how loud modes with one and two diameters at rest are against
	// those without: they pull as much air as they push. A teaching value.
	tapSideways1, tapSideways2 = 0.2, 0.05
)

// tapDecaySeconds is how long the lowest mode takes to fall to 1/e. These are
// teaching values: no published measurement of them is known here.
var tapDecaySeconds = map[LidState]float64{Sealed: 0.15, Unsealed: 0.02, FoodTouching: 0.014}

// Tap synthesizes the sound of a spoon on the lid of a jar: 0.6 s, one channel,
// sampleRate samples a second (22 050 to 96 000), each from -1 to 1.
//
// Each tap is a sum of damped sines at the four lowest modes of a flat lid:
//
//   - Sealed: Lid.Modes in air, raised as Lid.Drawn with EdgeHeld says for the
//     lowest mode. The pull that raises it so far, as in a membrane, raises the
//     others. The air in the headspace adds its spring to the modes that squeeze it.
//     It rings, high, for long.
//   - Unsealed: the plate that rests on the rim and may tilt there, over air: low
//     and soon gone.
//   - FoodTouching: raised as Sealed is, then slowed as Lid.Modes slows a wet lid,
//     and soon gone. It is dull although the lid is sealed. So a dull sound does not
//     prove a lid unsealed, as USDA Agriculture Information Bulletin 539 says: dull
//     "if unsealed or if food touches the underside".
//
// The frequencies follow the models, which are of flat lids. How fast the sound
// dies, how hard the spoon is and how loud one mode is against another are teaching
// values, without a published measurement behind them. The taps teach what to
// listen for; they cannot be used to judge a real jar by its recording.
//
// The seed varies lid, vacuum (10.6 to 22.9 inHg, the range in a Washington State
// survey of home-canned tomatoes), headspace, and place and strength of the tap;
// one seed gives the same jar and spoon in each state, and the same samples each
// time. All taps are of one loudness, so that loudness does not tell the states apart.
//
// A sample rate out of range gives a *RangeError, an unknown state an error that
// names the known ones.
func Tap(state LidState, seed uint64, sampleRate int) ([]float64, error) {
	if _, ok := tapDecaySeconds[state]; !ok {
		return nil, fmt.Errorf("state of the lid: %q is not known; use %q, %q or %q", state, Sealed, Unsealed, FoodTouching)
	}
	if err := within("sample rate", float64(sampleRate), 22050, 96000, "per second"); err != nil {
		return nil, err
	}
	partials, err := tapRoundOf(seed).partials(state)
	if err != nil {
		return nil, err
	}
	samples := make([]float64, int(tapSeconds*float64(sampleRate)))
	for _, p := range partials {
		turn := cmplx.Exp(complex(-1/p.decaySeconds, 2*math.Pi*p.hz) / complex(float64(sampleRate), 0))
		swing := complex(p.amplitude, 0)
		for i := range samples {
			samples[i] += imag(swing)
			swing *= turn
		}
	}
	fade := int(tapFadeSeconds * float64(sampleRate))
	for i := range fade {
		samples[len(samples)-1-i] *= float64(i) / float64(fade)
	}
	floats.Scale(tapLoudness*math.Sqrt(float64(len(samples)))/floats.Norm(samples, 2), samples)
	return samples, nil
}

// tapRound is one jar and one spoon.
type tapRound struct {
	lid         Lid
	vacuumInHg  float64
	headspaceML float64
	place       float64 // where the spoon lands: 0 the middle, 1 the rim
	softness    float64 // how long the spoon stays, in periods of the lowest mode
	liveliness  float64 // times the teaching values of the decay
}

func tapRoundOf(seed uint64) tapRound {
	random := rand.New(rand.NewPCG(seed, 0))
	between := func(low, high float64) float64 { return low + (high-low)*random.Float64() }
	return tapRound{
		lid:         Lid{DiameterMM: between(58, 62), ThicknessMM: between(0.18, 0.22)},
		vacuumInHg:  between(10.6, 22.9),
		headspaceML: between(20, 40),
		place:       between(0, 0.3),
		softness:    between(0.5, 0.7),
		liveliness:  between(0.8, 1.2),
	}
}

// tapPartial is one damped sine of a tap.
type tapPartial struct{ hz, amplitude, decaySeconds float64 }

func (t tapRound) partials(state LidState) ([]tapPartial, error) {
	modes := lidClamped()
	if state == Unsealed {
		modes = lidHinged()
	}
	var pulledHz [4]float64 // what the vacuum's pull adds to each mode
	insidePa := seaLevelPa
	if state != Unsealed {
		var err error
		if pulledHz, err = t.lid.pulledHz(t.vacuumInHg); err != nil {
			return nil, err
		}
		insidePa -= t.vacuumInHg * pascalsPerInHg
	}

	partials := make([]tapPartial, len(modes))
	for i, m := range modes {
		hz := math.Hypot(t.lid.plateHz(m), pulledHz[i])
		if state == FoodTouching {
			hz /= math.Sqrt(1 + t.lid.waterLoad(m))
		} else {
			hz = math.Hypot(hz, t.lid.airSpringHz(m, t.headspaceML, insidePa))
		}
		partials[i].hz = hz

		lowest := partials[0].hz
		spoon := math.Exp(-math.Pow(t.softness*hz/lowest, 2))
		carries := [3]float64{m.mean, tapSideways1, tapSideways2}[m.diameters]
		partials[i].amplitude = spoon * m.at(t.place) * carries * hz // a sound is as loud as the air is quickened
		partials[i].decaySeconds = tapDecaySeconds[state] * t.liveliness * lowest / hz
	}
	return partials, nil
}

// Envelope is the outline of a sound for drawing it: the largest distance from zero
// in each of parts slices of equal length. It takes 1 to len(samples) parts; any
// other number, and a sample outside -1 to 1, gives a *RangeError.
func Envelope(samples []float64, parts int) ([]float64, error) {
	if err := within("slices of the sound", float64(parts), 1, float64(len(samples)), ""); err != nil {
		return nil, err
	}
	peaks := make([]float64, parts)
	for i, s := range samples {
		if err := within("sample of the sound", s, -1, 1, ""); err != nil {
			return nil, err
		}
		slice := i * parts / len(samples)
		peaks[slice] = max(peaks[slice], math.Abs(s))
	}
	return peaks, nil
}

// Discrimination says how well a listener tells two kinds of sound apart.
type Discrimination struct {
	HitRate        float64 // hits over Signals
	FalseAlarmRate float64 // false alarms over Noises
	Signals        int     // rounds with what was to be noticed, such as an unsealed lid
	Noises         int     // rounds without it

	// DPrime is 0 for a listener who cannot tell, and below 0 for one who takes each
	// kind for the other. After few rounds it is a rough figure.
	DPrime float64
}

// Detection marks rounds of listening by what was to be noticed and what was said:
// hits and misses where it was there, false alarms and correct rejections where it
// was not, each 0 to 1 000 000, and at least one round of either kind.
//
// d' is the normal quantile of the hit rate less that of the false-alarm rate (Green
// and Swets, Signal Detection Theory and Psychophysics, 1966). It takes each rate as
// (count + 1/2)/(rounds + 1), so that all or none has a quantile as well: the
// log-linear rule of Hautus, Behavior Research Methods, Instruments, & Computers 27
// (1995), 46-51. Both from memory.
//
// A count out of range, and no round of one kind, give a *RangeError.
func Detection(hits, misses, falseAlarms, correctRejections int) (Discrimination, error) {
	const most = 1_000_000
	for _, c := range []struct {
		what  string
		count int
	}{
		{"hits", hits},
		{"misses", misses},
		{"false alarms", falseAlarms},
		{"correct rejections", correctRejections},
	} {
		if err := within(c.what, float64(c.count), 0, most, ""); err != nil {
			return Discrimination{}, err
		}
	}
	d := Discrimination{Signals: hits + misses, Noises: falseAlarms + correctRejections}
	if err := within("rounds with what was to be noticed", float64(d.Signals), 1, 2*most, ""); err != nil {
		return Discrimination{}, err
	}
	if err := within("rounds without what was to be noticed", float64(d.Noises), 1, 2*most, ""); err != nil {
		return Discrimination{}, err
	}
	d.HitRate = float64(hits) / float64(d.Signals)
	d.FalseAlarmRate = float64(falseAlarms) / float64(d.Noises)
	quantile := func(count, rounds int) float64 {
		return distuv.UnitNormal.Quantile((float64(count) + 0.5) / (float64(rounds) + 1))
	}
	d.DPrime = quantile(hits, d.Signals) - quantile(falseAlarms, d.Noises)
	return d, nil
}
