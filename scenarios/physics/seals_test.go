package physics

import (
	"errors"
	"math"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// TestIntervals: limits computed apart. 81/263, 15/148, 0/20 and 1/29 are the data
// of Newcombe, Statist. Med. 17 (1998), 857-872, whose limits are printed to four
// places (from memory); 682/925 are peas of Mendel in the manual of a statistics
// package, 4/20 is an example in the NIST/SEMATECH e-Handbook of Statistical Methods,
// 7.2.4.1 (both from memory).
func TestIntervals(t *testing.T) {
	t.Parallel()
	type interval struct{ low, high float64 }
	for _, tc := range []struct {
		k, n       int
		confidence float64
		exact      interval
		wilson     interval // 0, 0: not in print here
		tolerance  float64
	}{
		{0, 7, 0.95, interval{0, 0.40962}, interval{0, 0.35433}, 6e-6},
		{6, 7, 0.95, interval{0.42128, 0.99639}, interval{0.48687, 0.97432}, 6e-6},
		{0, 9, 0.95, interval{0, 0.33627}, interval{0, 0.29915}, 6e-6},
		{1, 9, 0.95, interval{0.00281, 0.48250}, interval{0.01989, 0.43500}, 6e-6},
		{2, 14, 0.95, interval{0.01779, 0.42813}, interval{0.04009, 0.39941}, 6e-6},
		{0, 20, 0.95, interval{0, 0.16843}, interval{0, 0.16113}, 6e-6},
		{1, 29, 0.95, interval{0.00087, 0.17764}, interval{0.00611, 0.17176}, 6e-6},
		{81, 263, 0.95, interval{0.2527, 0.3676}, interval{0.2553, 0.3662}, 6e-5},
		{15, 148, 0.95, interval{0.0578, 0.1617}, interval{0.0624, 0.1605}, 6e-5},
		{682, 925, 0.95, interval{0.70767, 0.76541}, interval{}, 6e-6},
		{4, 20, 0.90, interval{0.071354, 0.401029}, interval{}, 2e-6},
	} {
		low, high, err := ClopperPearson(tc.k, tc.n, tc.confidence)
		if err != nil {
			t.Fatal(err)
		}
		if apart(low, tc.exact.low, tc.tolerance) || apart(high, tc.exact.high, tc.tolerance) {
			t.Errorf("exact interval of %d/%d = %v to %v, want %v", tc.k, tc.n, low, high, tc.exact)
		}
		low, high, err = Wilson(tc.k, tc.n, tc.confidence)
		if err != nil {
			t.Fatal(err)
		}
		if tc.wilson != (interval{}) && (apart(low, tc.wilson.low, tc.tolerance) || apart(high, tc.wilson.high, tc.tolerance)) {
			t.Errorf("Wilson's interval of %d/%d = %v to %v, want %v", tc.k, tc.n, low, high, tc.wilson)
		}
	}
}

// TestWilsonNearWald: the plain interval of 36/100 is 0.266 to 0.454 (Johnson, Miller
// & Freund's Probability and Statistics for Engineers, p. 280). With so many jars
// Wilson's is close to it.
func TestWilsonNearWald(t *testing.T) {
	t.Parallel()
	low, high, err := Wilson(36, 100, 0.95)
	if err != nil {
		t.Fatal(err)
	}
	if apart(low, 0.266, 0.01) || apart(high, 0.454, 0.01) {
		t.Errorf("Wilson's interval of 36/100 = %v to %v, want about 0.266 to 0.454", low, high)
	}
}

// TestUpperBoundNoFailures: computed apart. The rule of three says 3/7 after 7 jars,
// which is too loose.
func TestUpperBoundNoFailures(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		n    int
		want float64
	}{
		{7, 0.34816},
		{14, 0.19264},
	} {
		got, err := UpperBoundNoFailures(tc.n, 0.95)
		if err != nil {
			t.Fatal(err)
		}
		if apart(got, tc.want, 6e-6) || got > 3/float64(tc.n) {
			t.Errorf("bound after %d jars = %v, want %v", tc.n, got, tc.want)
		}
	}
	few, many := 7, 1000
	fewBound, _ := UpperBoundNoFailures(few, 0.95)
	manyBound, _ := UpperBoundNoFailures(many, 0.95)
	if apart(manyBound, 3/float64(many), 2e-5) || !apart(fewBound, 3/float64(few), 0.05) {
		t.Errorf("bounds %v and %v: the rule of three holds for many jars only", fewBound, manyBound)
	}
}

// sealTail is the probability of at least k of n, by plain summing.
func sealTail(k, n int, p float64) float64 {
	var sum float64
	for i := k; i <= n; i++ {
		ways, _ := math.Lgamma(float64(n) + 1)
		some, _ := math.Lgamma(float64(i) + 1)
		others, _ := math.Lgamma(float64(n-i) + 1)
		sum += math.Exp(ways - some - others + float64(i)*math.Log(p) + float64(n-i)*math.Log1p(-p))
	}
	return sum
}

func TestIntervalProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 400).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		confidence := rapid.Float64Range(0.5, 0.9999).Draw(t, "confidence")
		share := float64(k) / float64(n)
		for name, interval := range map[string]func(int, int, float64) (float64, float64, error){"Wilson": Wilson, "Clopper-Pearson": ClopperPearson} {
			low, high, err := interval(k, n, confidence)
			if err != nil {
				t.Fatal(err)
			}
			if !(low >= 0 && low <= share && share <= high && high <= 1) {
				t.Fatalf("%s of %d/%d at %v: %v to %v", name, k, n, confidence, low, high)
			}
			for _, times := range []int{2, 250} {
				moreLow, moreHigh, err := interval(times*k, times*n, confidence)
				if err != nil {
					t.Fatal(err)
				}
				if !(moreHigh-moreLow < high-low) {
					t.Fatalf("%s at %v: %d/%d gives %v to %v; %d times as many jars %v to %v", name, confidence, k, n, low, high, times, moreLow, moreHigh)
				}
			}
		}

		// The exact limits are the shares at which the count seen is just improbable.
		low, high, err := ClopperPearson(k, n, confidence)
		if err != nil {
			t.Fatal(err)
		}
		want := (1 - confidence) / 2
		if k > 0 && apart(sealTail(k, n, low), want, 1e-6*want) {
			t.Fatalf("at %v, %d or more of %d have probability %v, want %v", low, k, n, sealTail(k, n, low), want)
		}
		if k < n && apart(sealTail(n-k, n, 1-high), want, 1e-6*want) {
			t.Fatalf("at %v, %d or fewer of %d have probability %v, want %v", high, k, n, sealTail(n-k, n, 1-high), want)
		}
	})
}

// TestFisher: the tasting of tea is Fisher's (The Design of Experiments, 1935): 3 of
// 4 right has 0.2429, all right 1/70. The others were computed apart; among them 7
// of 7 against 4 of 7 sealed, which is not significant.
func TestFisher(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		a, n1, b, n2       int
		oneSided, twoSided float64
	}{
		{3, 4, 1, 4, 0.2428571, 0.4857143},
		{4, 4, 0, 4, 0.0142857, 0.0285714},
		{1, 10, 11, 14, 0.00137973, 0.00275946},
		{6, 7, 3, 7, 0.132867, 0.265734},
		{7, 7, 4, 7, 0.0961538, 0.192308},
		{9, 9, 5, 9, 0.0411765, 0.0823529},
	} {
		oneSided, twoSided, err := Fisher(tc.a, tc.n1, tc.b, tc.n2)
		if err != nil {
			t.Fatal(err)
		}
		if apart(oneSided, tc.oneSided, 6e-7) || apart(twoSided, tc.twoSided, 6e-7) {
			t.Errorf("%d of %d against %d of %d: %v and %v, want %v and %v", tc.a, tc.n1, tc.b, tc.n2, oneSided, twoSided, tc.oneSided, tc.twoSided)
		}
	}
}

// TestProbabilitySeen: the probability of the very outcome seen, computed apart; 1/70
// is Fisher's for four cups of four.
func TestProbabilitySeen(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		a, n1, b, n2 int
		want         float64
	}{
		{3, 4, 1, 4, 0.2285714},
		{4, 4, 0, 4, 1.0 / 70},
		{1, 10, 11, 14, 0.00134608},
		{6, 7, 3, 7, 0.122378},
		{7, 7, 4, 7, 0.0961538},
		{9, 9, 5, 9, 0.0411765},
	} {
		low, weights := sealOutcomes(tc.a+tc.b, tc.n1, tc.n2)
		var total float64
		for _, w := range weights {
			total += w
		}
		if got := weights[tc.a-low] / total; apart(got, tc.want, 6e-7) {
			t.Errorf("%d of %d and %d of %d: probability %v, want %v", tc.a, tc.n1, tc.b, tc.n2, got, tc.want)
		}
	}
}

func TestFisherProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n1, n2 := rapid.IntRange(1, 300).Draw(t, "n1"), rapid.IntRange(1, 300).Draw(t, "n2")
		a, b := rapid.IntRange(0, n1).Draw(t, "a"), rapid.IntRange(0, n2).Draw(t, "b")
		one, two, err := Fisher(a, n1, b, n2)
		if err != nil {
			t.Fatal(err)
		}
		if !(one >= 0 && one <= 1+1e-12 && two >= 0 && two <= 1+1e-12 && one <= two+1e-12 || a*n2 == b*n1) {
			t.Fatalf("%d of %d against %d of %d: %v and %v", a, n1, b, n2, one, two)
		}
		for _, other := range [][4]int{
			{b, n2, a, n1},           // the groups change places
			{n1 - a, n1, n2 - b, n2}, // sealed jars are counted instead
		} {
			otherOne, otherTwo, err := Fisher(other[0], other[1], other[2], other[3])
			if err != nil {
				t.Fatal(err)
			}
			if apart(otherOne, one, 1e-9) || apart(otherTwo, two, 1e-9) {
				t.Fatalf("%d of %d against %d of %d: %v and %v; as %v: %v and %v", a, n1, b, n2, one, two, other, otherOne, otherTwo)
			}
		}
		if a*n2 == b*n1 && (apart(one, 1, 1e-12) || apart(two, 1, 1e-12)) {
			t.Fatalf("equal shares, %d of %d and %d of %d: %v and %v, want 1", a, n1, b, n2, one, two)
		}
	})
}

// TestFisherOfEqualGroups: outcomes come in pairs of equal probability, so that the
// two-sided probability is twice the one-sided.
func TestFisherOfEqualGroups(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 300).Draw(t, "n")
		a := rapid.IntRange(1, n).Draw(t, "a")
		b := rapid.IntRange(0, a-1).Draw(t, "b")
		one, two, err := Fisher(a, n, b, n)
		if err != nil {
			t.Fatal(err)
		}
		if apart(two, 2*one, 1e-9*two) {
			t.Fatalf("%d against %d of %d: %v and %v", a, b, n, one, two)
		}
	})
}

// TestFisherOfManyJars: the largest groups give a number.
func TestFisherOfManyJars(t *testing.T) {
	t.Parallel()
	one, two, err := Fisher(100_000, 100_000, 0, 100_000)
	if err != nil || one != 0 || two != 0 {
		t.Errorf("all against none: %v and %v, %v; want 0", one, two, err)
	}
	one, two, err = Fisher(50_000, 100_000, 50_000, 100_000)
	if err != nil || apart(one, 1, 1e-9) || apart(two, 1, 1e-9) {
		t.Errorf("half against half: %v and %v, %v; want 1", one, two, err)
	}
}

// sealPower is the chance that Fisher's two-sided test tells n jars each way apart
// at alpha, over all outcomes.
func sealPower(t *testing.T, n int, p1, p2, alpha float64) float64 {
	t.Helper()
	var power float64
	for a := range n + 1 {
		for b := range n + 1 {
			_, twoSided, err := Fisher(a, n, b, n)
			if err != nil {
				t.Fatal(err)
			}
			if twoSided <= alpha {
				power += sealPoint(a, n, p1) * sealPoint(b, n, p2)
			}
		}
	}
	return power
}

// sealPoint is the binomial probability of k of n.
func sealPoint(k, n int, p float64) float64 {
	ways := 1.0
	for i := range k {
		ways *= float64(n-i) / float64(i+1)
	}
	return ways * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
}

// TestJarsNeeded: Fleiss, Statistical Methods for Rates and Proportions, works out
// 827 for shares of 0.60 and 0.70, alpha 0.01, power 0.95 (from memory). All against
// none takes four each, as in Fisher's tasting of tea: with three the two-sided
// probability is 2/20, with four 2/70.
func TestJarsNeeded(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct {
		p1, p2, alpha, power float64
		want                 int
	}{
		{0.60, 0.70, 0.01, 0.95, 827},
		{0, 1, 0.05, 0.80, 4},
	} {
		got, err := JarsNeeded(tc.p1, tc.p2, tc.alpha, tc.power)
		if err != nil || got != tc.want {
			t.Errorf("shares %v and %v: %d jars, %v; want %d", tc.p1, tc.p2, got, err, tc.want)
		}
	}
}

// TestJarsNeededHaveThePower: with so many jars Fisher's test, all outcomes counted,
// has about the power that was asked for; with three quarters of them, less. 0.05 is
// about the share of jars without vacuum in surveys of home-canned tomatoes (J. Food
// Prot. 41 (1978), 514 and 944).
func TestJarsNeededHaveThePower(t *testing.T) {
	t.Parallel()
	for _, tc := range []struct{ p1, p2, power float64 }{
		{0.05, 0.20, 0.80},
		{0.05, 0.50, 0.80},
		{0.05, 0.50, 0.90},
		{0.20, 0.50, 0.80},
		{0.02, 0.90, 0.80},
	} {
		const alpha = 0.05
		n, err := JarsNeeded(tc.p1, tc.p2, alpha, tc.power)
		if err != nil {
			t.Fatal(err)
		}
		if got := sealPower(t, n, tc.p1, tc.p2, alpha); got < tc.power-0.03 {
			t.Errorf("shares %v and %v: %d jars each have a power of %v, want %v", tc.p1, tc.p2, n, got, tc.power)
		}
		if got := sealPower(t, n*3/4, tc.p1, tc.p2, alpha); got >= tc.power {
			t.Errorf("shares %v and %v: already %d jars each have a power of %v", tc.p1, tc.p2, n*3/4, got)
		}
	}
}

// TestFisherPower: of four and four jars only all against none has a two-sided
// probability below 0.05, 2/70 (Fisher's tasting of tea), so the power is that of these two
// outcomes. The others are summed here outcome by outcome, each with its own test.
func TestFisherPower(t *testing.T) {
	t.Parallel()
	for _, p := range [][2]float64{{0, 1}, {0.1, 0.9}, {0.3, 0.3}, {1, 0.25}} {
		got, err := FisherPower(4, 4, p[0], p[1], 0.05)
		want := math.Pow(p[0], 4)*math.Pow(1-p[1], 4) + math.Pow(1-p[0], 4)*math.Pow(p[1], 4)
		if err != nil || apart(got, want, 1e-12) {
			t.Errorf("power of 4 and 4 jars at %v = %v, %v; want %v", p, got, err, want)
		}
	}
	for _, tc := range []struct {
		n      int
		p1, p2 float64
	}{{14, 0.05, 0.2}, {30, 0, 0.3}, {76, 0.05, 0.2}} {
		got, err := FisherPower(tc.n, tc.n, tc.p1, tc.p2, 0.05)
		if want := sealPower(t, tc.n, tc.p1, tc.p2, 0.05); err != nil || apart(got, want, 1e-9) {
			t.Errorf("power of %+v = %v, %v; want %v", tc, got, err, want)
		}
	}
}

// TestFisherPowerProperties: where both ways are alike an exact test cries wolf no more
// often than alpha, and the groups may change places.
func TestFisherPowerProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n1, n2 := rapid.IntRange(1, 60).Draw(t, "n1"), rapid.IntRange(1, 60).Draw(t, "n2")
		p1, p2 := rapid.Float64Range(0, 1).Draw(t, "p1"), rapid.Float64Range(0, 1).Draw(t, "p2")
		alpha := rapid.Float64Range(0.0001, 0.5).Draw(t, "alpha")
		power := func(n1, n2 int, p1, p2 float64) float64 {
			v, err := FisherPower(n1, n2, p1, p2, alpha)
			if err != nil || !(v >= 0 && v <= 1) {
				t.Fatalf("power %v, %v", v, err)
			}
			return v
		}
		if alike := power(n1, n2, p1, p1); alike > alpha+1e-9 {
			t.Fatalf("%d and %d jars that are alike are told apart %v of the time, alpha %v", n1, n2, alike, alpha)
		}
		if a, b := power(n1, n2, p1, p2), power(n2, n1, p2, p1); apart(a, b, 1e-9) {
			t.Fatalf("power %v, the other way round %v", a, b)
		}
	})
	for _, n := range []int{0, -1, 501} {
		if _, err := FisherPower(n, 7, 0.1, 0.5, 0.05); err == nil {
			t.Errorf("%d jars: no error", n)
		}
	}
}

func TestJarsNeededProperties(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		p1 := rapid.Float64Range(0, 0.45).Draw(t, "p1")
		p2 := rapid.Float64Range(0.55, 1).Draw(t, "p2")
		needed := func(p1, p2, alpha, power float64) int {
			n, err := JarsNeeded(p1, p2, alpha, power)
			if err != nil {
				t.Fatal(err)
			}
			return n
		}
		n := needed(p1, p2, 0.05, 0.8)
		if swapped := needed(p2, p1, 0.05, 0.8); n < 1 || swapped != n {
			t.Fatalf("shares %v and %v: %d jars, and %d the other way round", p1, p2, n, swapped)
		}
		if surer, stricter := needed(p1, p2, 0.05, 0.9), needed(p1, p2, 0.01, 0.8); surer < n || stricter < n {
			t.Fatalf("shares %v and %v: %d jars, for more power %d, for less alpha %d", p1, p2, n, surer, stricter)
		}
	})
}

// TestBetaBinomial: with a uniform prior every count is equally probable; the others
// were computed apart.
func TestBetaBinomial(t *testing.T) {
	t.Parallel()
	const tolerance = 1e-6
	check := func(k, n int, a, b, want float64) {
		t.Helper()
		if got, err := BetaBinomial(k, n, a, b); err != nil || apart(got, want, tolerance) {
			t.Errorf("P(%d of %d) with a %v, b %v = %v, %v; want %v", k, n, a, b, got, err, want)
		}
	}
	for k := range 8 {
		check(k, 7, 1, 1, 0.125)
	}
	for k, want := range []float64{0.0659341, 0.109890, 0.134865, 0.143856, 0.139860, 0.125874, 0.104895, 0.0799201, 0.0539461, 0.0299700, 0.0109890} {
		check(k, 10, 2, 3, want)
	}
	check(7, 7, 20, 1, 0.740741)
	check(6, 7, 20, 1, 0.199430)
	check(5, 7, 20, 1, 0.0478632)
	// After 6 of 7 sealed and a uniform prior, all of the next 7.
	check(7, 7, 1+6, 1+1, 0.266667)
}

// TestBetaBinomialMoments: all counts together are certain; mean and variance are
// n a/(a+b) and n a b (a+b+n)/((a+b)² (a+b+1)), which for n 10, a 2, b 3 are 4 and 6.
func TestBetaBinomialMoments(t *testing.T) {
	t.Parallel()
	moments := func(n int, a, b float64) (sum, mean, variance float64) {
		var square float64
		for k := range n + 1 {
			p, err := BetaBinomial(k, n, a, b)
			if err != nil {
				t.Fatal(err)
			}
			sum += p
			mean += p * float64(k)
			square += p * float64(k) * float64(k)
		}
		return sum, mean, square - mean*mean
	}
	if sum, mean, variance := moments(10, 2, 3); apart(sum, 1, 1e-9) || apart(mean, 4, 1e-9) || apart(variance, 6, 1e-9) {
		t.Errorf("n 10, a 2, b 3: sum %v, mean %v, variance %v; want 1, 4, 6", sum, mean, variance)
	}
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 200).Draw(t, "n")
		a := rapid.Float64Range(0.1, 100).Draw(t, "a")
		b := rapid.Float64Range(0.1, 100).Draw(t, "b")
		sum, mean, variance := moments(n, a, b)
		jars := float64(n)
		wantMean := jars * a / (a + b)
		wantVariance := jars * a * b * (a + b + jars) / ((a + b) * (a + b) * (a + b + 1))
		if apart(sum, 1, 1e-9) || apart(mean, wantMean, 1e-8*jars) || apart(variance, wantVariance, 1e-7*jars*jars) {
			t.Fatalf("n %d, a %v, b %v: sum %v, mean %v, variance %v; want 1, %v, %v", n, a, b, sum, mean, variance, wantMean, wantVariance)
		}
	})
}

func TestSealErrors(t *testing.T) {
	t.Parallel()
	wantRange := func(err error, what string, args ...any) {
		t.Helper()
		if rangeErr := (*RangeError)(nil); !errors.As(err, &rangeErr) {
			t.Errorf("%s of %v: error %v, want a *RangeError", what, args, err)
		}
	}
	for _, c := range [][2]int{{8, 7}, {-1, 7}, {0, 0}, {0, -7}, {1, 100_001}, {0, math.MaxInt}} {
		k, n := c[0], c[1]
		_, _, err := Wilson(k, n, 0.95)
		wantRange(err, "Wilson", k, n)
		_, _, err = ClopperPearson(k, n, 0.95)
		wantRange(err, "ClopperPearson", k, n)
		_, _, err = Fisher(k, n, 1, 7)
		wantRange(err, "Fisher", k, n)
		_, _, err = Fisher(1, 7, k, n)
		wantRange(err, "Fisher", k, n)
		_, err = BetaBinomial(k, n, 1, 1)
		wantRange(err, "BetaBinomial", k, n)
	}
	for _, n := range []int{0, -1, 100_001} {
		_, err := UpperBoundNoFailures(n, 0.95)
		wantRange(err, "UpperBoundNoFailures", n)
	}
	for _, v := range append(slices.Clone(notNumbers), -0.1, 1.1) {
		_, _, err := Wilson(1, 7, v)
		wantRange(err, "Wilson", v)
		_, _, err = ClopperPearson(1, 7, v)
		wantRange(err, "ClopperPearson", v)
		_, err = UpperBoundNoFailures(7, v)
		wantRange(err, "UpperBoundNoFailures", v)
		_, err = JarsNeeded(v, 0.5, 0.05, 0.8)
		wantRange(err, "JarsNeeded", v)
		_, err = JarsNeeded(0.5, v, 0.05, 0.8)
		wantRange(err, "JarsNeeded", v)
		_, err = JarsNeeded(0.1, 0.5, v, 0.8)
		wantRange(err, "JarsNeeded", v)
		_, err = JarsNeeded(0.1, 0.5, 0.05, v)
		wantRange(err, "JarsNeeded", v)
	}
	for _, v := range append(slices.Clone(notNumbers), -1, 0) {
		_, err := BetaBinomial(1, 7, v, 1)
		wantRange(err, "BetaBinomial", v)
		_, err = BetaBinomial(1, 7, 1, v)
		wantRange(err, "BetaBinomial", v)
	}
	for _, p := range []float64{0, 0.05, 0.5, 1} {
		if n, err := JarsNeeded(p, p, 0.05, 0.8); err == nil {
			t.Errorf("equal shares of %v: %d jars, want an error", p, n)
		}
	}
	if n, err := JarsNeeded(0.05, 0.0501, 0.05, 0.8); err == nil {
		t.Errorf("nearly equal shares: %d jars, want an error", n)
	}
}

func BenchmarkFisher500(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		if _, _, err := Fisher(30, 500, 55, 500); err != nil {
			b.Fatal(err)
		}
	}
}
