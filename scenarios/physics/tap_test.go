package physics

import (
	"errors"
	"math"
	"math/cmplx"
	"slices"
	"testing"

	"gonum.org/v1/gonum/dsp/fourier"
	"pgregory.net/rapid"
)

const tapTestRate = 22050

var tapStates = []LidState{Sealed, Unsealed, FoodTouching}

func tapHeard(t *rapid.T, state LidState, seed uint64) []float64 {
	t.Helper()
	samples, err := Tap(state, seed, tapTestRate)
	if err != nil {
		t.Fatal(err)
	}
	return samples
}

// tapPeakHz is where the spectrum, whose bins lie 1.7 Hz apart, is strongest.
func tapPeakHz(samples []float64) float64 {
	strongest, bin := 0.0, 0
	for i, c := range fourier.NewFFT(len(samples)).Coefficients(nil, samples) {
		if a := cmplx.Abs(c); a > strongest {
			strongest, bin = a, i
		}
	}
	return float64(bin) * tapTestRate / float64(len(samples))
}

// tapLastsSeconds is the mean time of the sound, weighted by its energy.
func tapLastsSeconds(samples []float64) float64 {
	var energy, moment float64
	for i, s := range samples {
		energy += s * s
		moment += s * s * float64(i) / tapTestRate
	}
	return moment / energy
}

// TestTapsPeakAtTheModel: the strongest tone of a sealed lid is the lowest mode of
// the same lid without vacuum, times the pitch ratio, and with the spring of the air
// that the vacuum leaves below it. With food below it has Lamb's water instead, and a
// loose lid is the hinged plate (root² 4.9351 against 10.2158) over air. What is soon
// gone has a broad peak, and is held less closely.
func TestTapsPeakAtTheModel(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		jar := tapRoundOf(seed)
		slack, err := jar.lid.Modes(false)
		if err != nil {
			t.Fatal(err)
		}
		_, ratio, err := jar.lid.Drawn(jar.vacuumInHg, EdgeHeld)
		if err != nil {
			t.Fatal(err)
		}
		drawnHz := slack.F01Hz * ratio
		air := jar.lid.airSpringHz(lidClamped()[0], jar.headspaceML, 101325-jar.vacuumInHg*3386.389)
		airOfLoose := jar.lid.airSpringHz(lidHinged()[0], jar.headspaceML, 101325)
		radiusM, thicknessM := jar.lid.DiameterMM/2000, jar.lid.ThicknessMM/1000
		const closely, dull = 0.0017, 0.02 // two bins at 2 kHz, and a share
		for _, tc := range []struct {
			state           LidState
			want, tolerance float64
		}{
			{Sealed, math.Hypot(drawnHz, air), closely},
			{FoodTouching, drawnHz / math.Sqrt(1+0.668936*1000*radiusM/(7850*thicknessM)), dull},
			{Unsealed, math.Hypot(slack.F01Hz*4.9351/10.2158, airOfLoose), dull},
		} {
			got := tapPeakHz(tapHeard(t, tc.state, seed))
			if apart(got, tc.want, tc.tolerance*tc.want) {
				t.Fatalf("seed %d, %s: the tap peaks at %v Hz, want %v", seed, tc.state, got, tc.want)
			}
		}
	})
}

// TestDullThoughSealed: by USDA Agriculture Information Bulletin 539 a tap is ringing
// and high-pitched if the lid is sealed, and dull if it is unsealed or if food touches
// the underside. High and low follow the models: hundreds of Hz slack, 1 to 3 kHz
// drawn down, as an order of magnitude.
func TestDullThoughSealed(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		ring, loose, wet := tapHeard(t, Sealed, seed), tapHeard(t, Unsealed, seed), tapHeard(t, FoodTouching, seed)
		if hz := tapPeakHz(ring); hz < 1000 || hz > 3000 {
			t.Fatalf("seed %d: the sealed lid rings at %v Hz", seed, hz)
		}
		for state, dull := range map[LidState][]float64{Unsealed: loose, FoodTouching: wet} {
			if hz := tapPeakHz(dull); hz < 100 || hz > 1000 {
				t.Fatalf("seed %d: the dull sound of %s is at %v Hz", seed, state, hz)
			}
			if long, short := tapLastsSeconds(ring), tapLastsSeconds(dull); !(short < long/3) {
				t.Fatalf("seed %d: %s lasts %v s, sealed %v s", seed, state, short, long)
			}
		}
	})
}

// TestTapLoudness: no sample leaves -1 to 1, each sound begins and ends at zero,
// and all have one root mean square.
func TestTapLoudness(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		for _, state := range tapStates {
			samples := tapHeard(t, state, seed)
			if want := 6 * tapTestRate / 10; len(samples) != want {
				t.Fatalf("%s: %d samples, want %d", state, len(samples), want)
			}
			var energy float64
			for i, s := range samples {
				if !(s >= -1 && s <= 1) {
					t.Fatalf("%s, seed %d: sample %d is %v", state, seed, i, s)
				}
				energy += s * s
			}
			if rms := math.Sqrt(energy / float64(len(samples))); apart(rms, tapLoudness, 1e-9) {
				t.Fatalf("%s, seed %d: loudness %v, want %v", state, seed, rms, tapLoudness)
			}
			if first, last := samples[0], samples[len(samples)-1]; first != 0 || last != 0 {
				t.Fatalf("%s, seed %d: begins at %v, ends at %v", state, seed, first, last)
			}
		}
	})
}

func TestTapFollowsItsSeed(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		seed := rapid.Uint64().Draw(t, "seed")
		other := rapid.Uint64().Filter(func(v uint64) bool { return v != seed }).Draw(t, "other")
		for i, state := range tapStates {
			samples := tapHeard(t, state, seed)
			if !slices.Equal(samples, tapHeard(t, state, seed)) {
				t.Fatalf("%s, seed %d: two taps differ", state, seed)
			}
			if slices.Equal(samples, tapHeard(t, state, other)) {
				t.Fatalf("%s: seeds %d and %d sound alike", state, seed, other)
			}
			if next := tapStates[(i+1)%len(tapStates)]; slices.Equal(samples, tapHeard(t, next, seed)) {
				t.Fatalf("seed %d: %s and %s sound alike", seed, state, next)
			}
		}
	})
}

func TestTapErrors(t *testing.T) {
	t.Parallel()
	if _, err := Tap("rusty", 1, tapTestRate); err == nil {
		t.Error("an unknown state gives no error")
	}
	for _, rate := range []int{-1, 0, 8000, 22049, 96001, math.MaxInt} {
		_, err := Tap(Sealed, 1, rate)
		if rangeErr := (*RangeError)(nil); !errors.As(err, &rangeErr) {
			t.Errorf("sample rate %d: error %v, want a *RangeError", rate, err)
		}
	}
}

func TestEnvelope(t *testing.T) {
	t.Parallel()
	got, err := Envelope([]float64{0.1, -0.4, 0.3, 0, -0.2, 0.1, 0.05}, 3)
	if err != nil {
		t.Fatal(err)
	}
	if want := []float64{0.4, 0.2, 0.1}; !slices.Equal(got, want) {
		t.Errorf("envelope = %v, want %v", got, want)
	}
	rapid.Check(t, func(t *rapid.T) {
		samples := rapid.SliceOfN(rapid.Float64Range(-1, 1), 1, 100).Draw(t, "samples")
		parts := rapid.IntRange(1, len(samples)).Draw(t, "parts")
		outline, err := Envelope(samples, parts)
		if err != nil {
			t.Fatal(err)
		}
		highest := max(slices.Max(samples), -slices.Min(samples))
		if len(outline) != parts || slices.Max(outline) != highest || slices.Min(outline) < 0 {
			t.Fatalf("envelope of %v in %d parts = %v", samples, parts, outline)
		}
	})
	for _, tc := range []struct {
		samples []float64
		parts   int
	}{
		{nil, 1},
		{[]float64{0.1, 0.2}, 0},
		{[]float64{0.1, 0.2}, 3},
		{[]float64{0.1, 1.5}, 1},
		{[]float64{0.1, math.NaN()}, 1},
		{[]float64{0.1, math.Inf(-1)}, 1},
	} {
		_, err := Envelope(tc.samples, tc.parts)
		if rangeErr := (*RangeError)(nil); !errors.As(err, &rangeErr) {
			t.Errorf("envelope of %v in %d parts: error %v, want a *RangeError", tc.samples, tc.parts, err)
		}
	}
}

// TestDetection: d' against printed tables of the normal distribution (z 0.95 is
// 1.644854, z 0.975 is 1.959964, z 0.75 is 0.674490), with rounds chosen so that the
// log-linear rule makes just these rates.
func TestDetection(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		name                                  string
		hits, misses, falseAlarms, rejections int
		hitRate, falseAlarmRate, dPrime       float64
	}{
		{"all right, 9 and 9", 9, 0, 0, 9, 1, 0, 2 * 1.644854},
		{"all right, 19 and 19", 19, 0, 0, 19, 1, 0, 2 * 1.959964},
		{"all wrong", 0, 9, 9, 0, 0, 1, -2 * 1.644854},
		{"always says unsealed", 9, 0, 9, 0, 1, 1, 0},
		{"guesses", 5, 5, 5, 5, 0.5, 0.5, 0},
		{"one round each", 1, 0, 0, 1, 1, 0, 2 * 0.674490},
		{"19 and 9", 19, 0, 0, 9, 1, 0, 1.959964 + 1.644854},
	} {
		got, err := Detection(tc.hits, tc.misses, tc.falseAlarms, tc.rejections)
		if err != nil {
			t.Fatal(err)
		}
		if got.HitRate != tc.hitRate || got.FalseAlarmRate != tc.falseAlarmRate || apart(got.DPrime, tc.dPrime, 2e-6) {
			t.Errorf("%s: %+v, want rates %v and %v and d' %v", tc.name, got, tc.hitRate, tc.falseAlarmRate, tc.dPrime)
		}
		if got.Signals != tc.hits+tc.misses || got.Noises != tc.falseAlarms+tc.rejections {
			t.Errorf("%s: counts %d and %d", tc.name, got.Signals, got.Noises)
		}
	}
	for _, counts := range [][4]int{{0, 0, 1, 1}, {1, 1, 0, 0}, {-1, 2, 1, 1}, {1, -1, 1, 1}, {1, 1, -1, 2}, {1, 1, 1, -1}, {math.MaxInt, 1, 1, 1}} {
		_, err := Detection(counts[0], counts[1], counts[2], counts[3])
		if rangeErr := (*RangeError)(nil); !errors.As(err, &rangeErr) {
			t.Errorf("detection of %v: error %v, want a *RangeError", counts, err)
		}
	}
}

func TestDetectionProperties(t *testing.T) {
	t.Parallel()
	count := rapid.IntRange(1, 10000)
	rapid.Check(t, func(t *rapid.T) {
		hits, misses := count.Draw(t, "hits"), count.Draw(t, "misses")
		alarms, rejections := count.Draw(t, "false alarms"), count.Draw(t, "correct rejections")
		dPrime := func(hits, misses, alarms, rejections int) float64 {
			d, err := Detection(hits, misses, alarms, rejections)
			if err != nil {
				t.Fatal(err)
			}
			return d.DPrime
		}
		as := dPrime(hits, misses, alarms, rejections)
		if better := dPrime(hits+1, misses-1, alarms, rejections); !(better > as) {
			t.Fatalf("one more hit changes d' from %v to %v", as, better)
		}
		if worse := dPrime(hits, misses, alarms+1, rejections-1); !(worse < as) {
			t.Fatalf("one more false alarm changes d' from %v to %v", as, worse)
		}
	})
}

func BenchmarkTap(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, err := Tap(Sealed, 7, 44100); err != nil {
			b.Fatal(err)
		}
	}
}
