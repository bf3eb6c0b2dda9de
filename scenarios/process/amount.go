package process

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"
)

// Amount is one printed weight or yield: a figure, or a range of two.
type Amount struct {
	Low, High float64 // equal unless a range is printed
	Of        string  // what it is of, such as "thin" or "lug"; "" when only one is printed
	Plus      bool    // goes together with the amount before it, not instead of it
}

// Amounts are the amounts printed in one place: "35 thin; 46 thick" are
// alternatives, "12 tomatoes + 4 okra" go together. Nil: none is printed.
type Amounts []Amount

var amountText = regexp.MustCompile(`^(\d+(?:\.\d+)?)(?:-(\d+(?:\.\d+)?))?(?: ([a-z0-9][a-z0-9 -]*))?$`)

// parseAmounts reads amounts as the card file writes them. Each is over 0 and at
// most 100, pounds or jars.
func parseAmounts(text string) (Amounts, error) {
	if text == "" {
		return nil, nil
	}
	var all Amounts
	for _, group := range strings.Split(text, "; ") {
		for i, part := range strings.Split(group, " + ") {
			m := amountText.FindStringSubmatch(part)
			if m == nil {
				return nil, fmt.Errorf(`%q is no amount such as "16", "17-19" or "35 thin; 46 thick"`, part)
			}
			low, _ := strconv.ParseFloat(m[1], 64) // the pattern lets only digits through
			high := low
			if m[2] != "" {
				high, _ = strconv.ParseFloat(m[2], 64)
			}
			if low <= 0 || high > 100 || m[2] != "" && low >= high {
				return nil, fmt.Errorf("%q is no amount over 0 and up to 100, or its range does not rise", part)
			}
			all = append(all, Amount{Low: low, High: high, Of: m[3], Plus: i > 0})
		}
	}
	return all, nil
}
