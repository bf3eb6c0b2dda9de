package physics

import (
	"fmt"
	"math"
	"slices"
	"sort"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

const sealMostJars = 100_000

// Wilson is the interval of shares that k unsealed jars of n agree with, at a
// confidence such as 0.95: Wilson's score interval without continuity correction
// (E. B. Wilson 1927; method 3 of Newcombe, Statist. Med. 17 (1998), 857-872),
//
//	(p + z²/2n ± z √(p(1-p)/n + z²/4n²))/(1 + z²/n)
//
// It is for jars that fail one by one. Jars of one load share their canner, its
// boil and the hand that filled them, and so tell less than n would.
//
// n is 1 to 100 000, k 0 to n, confidence 0.5 to 0.9999; else a *RangeError.
func Wilson(k, n int, confidence float64) (low, high float64, err error) {
	if err := sealCheck(k, n, confidence); err != nil {
		return 0, 0, err
	}
	z := distuv.UnitNormal.Quantile((1 + confidence) / 2)
	jars, p := float64(n), float64(k)/float64(n)
	middle := p + z*z/(2*jars)
	reach := z * math.Sqrt(p*(1-p)/jars+z*z/(4*jars*jars))
	whole := 1 + z*z/jars
	low, high = (middle-reach)/whole, (middle+reach)/whole
	// At the ends the formula gives 0 and 1, but for the rounding.
	if k == 0 {
		low = 0
	}
	if k == n {
		high = 1
	}
	return low, high, nil
}

// ClopperPearson is the same interval by the exact method, which is wider: it holds
// the true share at least as often as confidence says (Clopper and Pearson,
// Biometrika 26 (1934), 404-413; method 5 of Newcombe 1998). Its ends are
// quantiles of the beta distribution: (1-confidence)/2 of Beta(k, n-k+1), and
// (1+confidence)/2 of Beta(k+1, n-k). The ranges are those of Wilson.
func ClopperPearson(k, n int, confidence float64) (low, high float64, err error) {
	if err := sealCheck(k, n, confidence); err != nil {
		return 0, 0, err
	}
	low, high = 0, 1
	if k > 0 {
		low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), (1-confidence)/2)
	}
	if k < n {
		high = mathext.InvRegIncBeta(float64(k+1), float64(n-k), (1+confidence)/2)
	}
	return low, high, nil
}

// UpperBoundNoFailures is the largest share of unsealed jars that n jars without
// one agree with, at a one-sided confidence such as 0.95: 1 - (1-confidence)^(1/n),
// the exact bound of which the "rule of three", 3/n, is a rough form for many jars.
// n is 1 to 100 000, confidence 0.5 to 0.9999; else a *RangeError.
func UpperBoundNoFailures(n int, confidence float64) (float64, error) {
	if err := sealCheck(0, n, confidence); err != nil {
		return 0, err
	}
	return -math.Expm1(math.Log1p(-confidence) / float64(n)), nil
}

// Fisher compares a unsealed jars of n1 with b of n2 by Fisher's exact test: how
// probable is so large a difference if both ways seal equally well, and chance
// alone shared the a+b unsealed jars out among the n1+n2 (R. A. Fisher, The Design
// of Experiments, 1935, the lady tasting tea)?
//
// oneSided counts the outcomes that differ at least so much in the direction seen;
// it suits a question asked before counting. twoSided, for everything else, sums
// all outcomes no more probable than the one seen; outcomes within a part in 10⁷
// of it count as equally probable. With equal shares there is no direction, and both
// are 1. A probability below about 1e-300 is given as 0.
//
// n1 and n2 are 1 to 100 000, a 0 to n1, b 0 to n2; else a *RangeError.
func Fisher(a, n1, b, n2 int) (oneSided, twoSided float64, err error) {
	if err := sealCount(a, n1); err != nil {
		return 0, 0, err
	}
	if err := sealCount(b, n2); err != nil {
		return 0, 0, err
	}
	low, weights := sealOutcomes(a+b, n1, n2)
	seen := weights[a-low]
	direction := int64(a)*int64(n2) - int64(b)*int64(n1)
	var total, asFar, noLikelier float64
	for i, w := range weights {
		total += w
		if int64(low+i-a)*direction >= 0 {
			asFar += w
		}
		if w <= seen*(1+1e-7) {
			noLikelier += w
		}
	}
	return asFar / total, noLikelier / total, nil
}

// sealOutcomes weighs the ways in which chance can put x of unsealed jars into the
// first group, for x from low on, in proportion to their hypergeometric probability.
// The likeliest has the weight 1, and the others follow by the ratio of neighbors.
func sealOutcomes(unsealed, n1, n2 int) (low int, weights []float64) {
	low = max(0, unsealed-n2)
	weights = make([]float64, min(unsealed, n1)-low+1)
	likeliest := int(float64(n1+1) * float64(unsealed+1) / float64(n1+n2+2))
	likeliest = min(max(likeliest-low, 0), len(weights)-1)
	up := func(x int) float64 { // from the weight of x to that of x+1
		return float64(unsealed-x) * float64(n1-x) / (float64(x+1) * float64(n2-unsealed+x+1))
	}
	weights[likeliest] = 1
	for i := likeliest + 1; i < len(weights); i++ {
		weights[i] = weights[i-1] * up(low+i-1)
	}
	for i := likeliest - 1; i >= 0; i-- {
		weights[i] = weights[i+1] / up(low+i)
	}
	return low, weights
}

// JarsNeeded is how many jars each of two ways needs, if shares p1 and p2 of them
// do not seal, for a two-sided test at alpha (such as 0.05) to tell them apart with
// a chance of power (such as 0.8). It is the normal approximation with continuity
// correction (Fleiss, Tytun and Ury, Biometrics 36 (1980), 343-346, from memory),
// which stands for Fisher's exact test:
//
//	n' = (z(alpha/2) √(2 p̄ (1-p̄)) + z(1-power) √(p1(1-p1) + p2(1-p2)))²/(p1-p2)²
//	n  = n'/4 (1 + √(1 + 4/(n' |p1-p2|)))²
//
// with p̄ the mean of both shares, rounded up. With so many jars Fisher's own power,
// all outcomes counted, is about power; where few are needed, up to a tenth more,
// and for 0 against 1 it is 1.
//
// p1 and p2 are 0 to 1, alpha 0.0001 to 0.5, power 0.5 to 0.9999; another value
// gives a *RangeError. Shares that need more than 100 000 jars, as equal ones do,
// give an error that says so.
func JarsNeeded(p1, p2, alpha, power float64) (int, error) {
	for _, v := range []struct {
		what             string
		value, low, high float64
	}{
		{"share unsealed the first way", p1, 0, 1},
		{"share unsealed the second way", p2, 0, 1},
		{"alpha", alpha, 0.0001, 0.5},
		{"power", power, 0.5, 0.9999},
	} {
		if err := within(v.what, v.value, v.low, v.high, ""); err != nil {
			return 0, err
		}
	}
	gap, mean := math.Abs(p1-p2), (p1+p2)/2
	n := distuv.UnitNormal.Quantile(1-alpha/2)*math.Sqrt(2*mean*(1-mean)) +
		distuv.UnitNormal.Quantile(power)*math.Sqrt(p1*(1-p1)+p2*(1-p2))
	n *= n / (gap * gap)
	n = math.Ceil(n / 4 * math.Pow(1+math.Sqrt(1+4/(n*gap)), 2))
	if !(n <= sealMostJars) {
		return 0, fmt.Errorf("shares of %s and %s unsealed: no %d jars each would tell them apart; choose shares that differ more", number(p1), number(p2), sealMostJars)
	}
	return int(n), nil
}

// fisherPowerMostJars keeps FisherPower to some milliseconds; a class cans fewer.
const fisherPowerMostJars = 500

// FisherPower is how often Fisher's two-sided test at alpha tells two ways apart of
// which n1 and n2 jars are looked at and shares p1 and p2 do not seal: the
// probability, summed over all outcomes, of those that the test calls different. It
// is the exact power function of the test (Bennett and Hsu, Biometrika 47 (1960),
// 393-398, from memory), with no approximation in it, for jars that fail one by one.
//
// n1 and n2 are 1 to 500, p1 and p2 0 to 1, alpha 0.0001 to 0.5; else a *RangeError.
func FisherPower(n1, n2 int, p1, p2, alpha float64) (float64, error) {
	for _, v := range []struct {
		what             string
		value, low, high float64
	}{
		{"jars of the first way", float64(n1), 1, fisherPowerMostJars},
		{"jars of the second way", float64(n2), 1, fisherPowerMostJars},
		{"share unsealed the first way", p1, 0, 1},
		{"share unsealed the second way", p2, 0, 1},
		{"alpha", alpha, 0.0001, 0.5},
	} {
		if err := within(v.what, v.value, v.low, v.high, ""); err != nil {
			return 0, err
		}
	}
	first, second := sealBinomial(n1, p1), sealBinomial(n2, p2)
	var power float64
	for unsealed := range n1 + n2 + 1 {
		low, weights := sealOutcomes(unsealed, n1, n2)
		// The two-sided probability of an outcome is the sum of all weights that are no
		// greater, so the outcomes called different are the lightest ones.
		byWeight := slices.Sorted(slices.Values(weights))
		sums := make([]float64, len(byWeight)+1)
		for i, w := range byWeight {
			sums[i+1] = sums[i] + w
		}
		for i, w := range weights {
			noLikelier := sort.SearchFloat64s(byWeight, w*(1+1e-7))
			if sums[noLikelier] <= alpha*sums[len(byWeight)] {
				power += first[low+i] * second[unsealed-low-i]
			}
		}
	}
	return min(power, 1), nil
}

// sealBinomial is the probability of each count of n jars, of which a share p does
// not seal.
func sealBinomial(n int, p float64) []float64 {
	list := make([]float64, n+1)
	for k := range list {
		ways := math.Exp(-math.Log1p(float64(n)) - mathext.Lbeta(float64(k)+1, float64(n-k)+1))
		list[k] = ways * math.Pow(p, float64(k)) * math.Pow(1-p, float64(n-k))
	}
	return list
}

// BetaBinomial is the probability that k of n jars do something, when all that is
// known of the share that does is a beta distribution with parameters a and b:
//
//	C(n, k) B(k+a, n-k+b)/B(a, b)
//
// (A. Gelman et al., Bayesian Data Analysis, from memory). Having known nothing,
// a = b = 1, and then seen 6 of 7 jars seal, one knows a = 1+6 and b = 1+1, and
// BetaBinomial(7, 7, 7, 2) is the probability that all of the next 7 seal.
//
// n is 1 to 100 000, k 0 to n, a and b 0.001 to 1 000 000; else a *RangeError.
func BetaBinomial(k, n int, a, b float64) (float64, error) {
	if err := sealCount(k, n); err != nil {
		return 0, err
	}
	if err := within("a of the beta distribution", a, 0.001, 1e6, ""); err != nil {
		return 0, err
	}
	if err := within("b of the beta distribution", b, 0.001, 1e6, ""); err != nil {
		return 0, err
	}
	jars, some := float64(n), float64(k)
	logWays := -math.Log1p(jars) - mathext.Lbeta(some+1, jars-some+1)
	return math.Exp(logWays + mathext.Lbeta(some+a, jars-some+b) - mathext.Lbeta(a, b)), nil
}

func sealCheck(k, n int, confidence float64) error {
	if err := sealCount(k, n); err != nil {
		return err
	}
	return within("confidence", confidence, 0.5, 0.9999, "")
}

func sealCount(k, n int) error {
	if err := within("jars in all", float64(n), 1, sealMostJars, "jars"); err != nil {
		return err
	}
	return within("jars counted among them", float64(k), 0, float64(n), "jars")
}
