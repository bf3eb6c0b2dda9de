package analysis

import (
	"math"
	"testing"
)

// TestAngoff: three judges and five items, worked out by hand: the sums are 3.95, 3.80
// and 3.85, their mean 11.60/3, their standard deviation .07638, and that over √3
// .04410.
func TestAngoff(t *testing.T) {
	t.Parallel()
	cut, err := Angoff([][]float64{
		{.90, .80, .70, .60, .95},
		{.85, .75, .80, .50, .90},
		{.95, .85, .60, .55, .90},
	})
	if err != nil {
		t.Fatal(err)
	}
	isNear(t, "cut", &cut.Score, 3.8667, 5e-5)
	isNear(t, "share", &cut.Share, .7733, 5e-5)
	isNear(t, "standard deviation", cut.SD, .07638, 5e-6)
	isNear(t, "standard error", cut.SE, .04410, 5e-6)
	if cut.Pass != 4 || cut.Judges != 3 || cut.Items != 5 {
		t.Errorf("%+v, want 4 of 5 items to pass, by 3 judges", cut)
	}
}

func TestAngoffOfOneJudge(t *testing.T) {
	t.Parallel()
	// 0.1 + 0.2 + 0.7 is 1 but for rounding, and 1 is enough to pass.
	cut, err := Angoff([][]float64{{.1, .2, .7}})
	if err != nil {
		t.Fatal(err)
	}
	if cut.Pass != 1 || cut.SD != nil || cut.SE != nil {
		t.Errorf("%+v, want 1 to pass and no standard error", cut)
	}
}

func TestAngoffRefuses(t *testing.T) {
	t.Parallel()
	for _, test := range []struct {
		estimates [][]float64
		want      string
	}{
		{nil, "there are no estimates; each judge gives one for each item"},
		{[][]float64{{}}, "there are no estimates; each judge gives one for each item"},
		{[][]float64{{.5, .5}, {.5}}, "judge 2 has 1 estimates, but the first has 2"},
		{[][]float64{{.5, 50}}, "judge 1, item 2: estimate 50; write a probability from 0 to 1"},
		{[][]float64{{math.NaN()}}, "judge 1, item 1: estimate NaN; write a probability from 0 to 1"},
	} {
		if _, err := Angoff(test.estimates); err == nil || err.Error() != test.want {
			t.Errorf("Angoff(%v): %v, want %s", test.estimates, err, test.want)
		}
	}
}
