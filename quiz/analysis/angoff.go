package analysis

import (
	"errors"
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat"
)

// Cut is the cut score of a test: how many items a learner who only just knows
// enough has right.
type Cut struct {
	Judges int      `json:"judges"`
	Items  int      `json:"items"`
	Score  float64  `json:"score"` // in items
	Share  float64  `json:"share"` // of all items, 0 to 1
	Pass   int      `json:"pass"`  // the least number of right answers that is not below Score
	SD     *float64 `json:"sd"`    // of the judges' sums with divisor judges-1, in items; nil for one judge
	SE     *float64 `json:"se"`    // standard error of Score, in items; nil for one judge
}

// Angoff is the cut score by Angoff's method (W. H. Angoff, in R. L. Thorndike,
// Educational Measurement, 2nd ed. 1971, from memory). Each judge, a row, estimates
// for each item, a column, the probability, 0 to 1, that a borderline learner has it
// right. The cut is the mean over the judges of the sums of their estimates, and its
// standard error is the standard deviation of these sums over the square root of
// the number of judges.
//
// It is an error if there are no estimates, if the rows differ in length, or if an
// estimate is not 0 to 1.
func Angoff(estimates [][]float64) (Cut, error) {
	if len(estimates) == 0 || len(estimates[0]) == 0 {
		return Cut{}, errors.New("there are no estimates; each judge gives one for each item")
	}
	cut := Cut{Judges: len(estimates), Items: len(estimates[0])}
	sums := make([]float64, cut.Judges)
	for i, judge := range estimates {
		if len(judge) != cut.Items {
			return Cut{}, fmt.Errorf("judge %d has %d estimates, but the first has %d", i+1, len(judge), cut.Items)
		}
		for j, p := range judge {
			if !(p >= 0 && p <= 1) {
				return Cut{}, fmt.Errorf("judge %d, item %d: estimate %v; write a probability from 0 to 1", i+1, j+1, p)
			}
			sums[i] += p
		}
	}
	mean, sd := stat.MeanStdDev(sums, nil)
	cut.Score = mean
	cut.Share = mean / float64(cut.Items)
	cut.Pass = int(math.Ceil(mean - 1e-9)) // a sum that is whole but for its rounding stays whole
	if cut.Judges > 1 {
		se := stat.StdErr(sd, float64(cut.Judges))
		cut.SD, cut.SE = &sd, &se
	}
	return cut, nil
}
