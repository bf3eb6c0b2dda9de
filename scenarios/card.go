package scenarios

import (
	"fmt"
	"strconv"
	"strings"

	"rollingboil/scenarios/measure"
	"rollingboil/scenarios/process"
)

// CardLine is one line of what is printed of a food beside its times.
type CardLine struct{ Term, Text string }

// CardLines says what a card prints: how the food is prepared, how much a load
// and a container take, in both units, what produce is out, and what else
// matters. What is not printed has no line.
func CardLines(c process.Card) []CardLine {
	var lines []CardLine
	add := func(term, text string) {
		if text != "" {
			lines = append(lines, CardLine{term, text})
		}
	}
	add("Prepared", c.Directions)
	add("For 7 quarts", weights(c.Load7Quarts))
	add("For 9 pints", weights(c.Load9Pints))
	if len(c.PerQuart) > 0 {
		jar := "quart"
		if c.PerQuart[0].Of == "pint" {
			jar = "pint"
			c.PerQuart = process.Amounts{{Low: c.PerQuart[0].Low, High: c.PerQuart[0].High}}
		}
		add("For one "+jar, weights(c.PerQuart))
	}
	if len(c.Bushel) > 0 {
		container := c.Bushel[0].Of
		if container == "" {
			container = "bushel"
		}
		add("One "+container, measure.Weight(c.Bushel[0].Low).Both()+" gives "+yields(c.BushelYield))
	}
	var out []string
	for _, word := range c.ProduceOut {
		out = append(out, Label(word))
	}
	add("Not from", strings.Join(out, ", "))
	add("Keep in mind", c.Note)
	if c.Confidence != "guide-2015" {
		add("How this was read", map[string]string{
			"guide-2015-ocr": "legible in one of two readings",
			"one-copy":       "in one copy",
			"from-memory":    "from memory: unconfirmed",
		}[c.Confidence])
	}
	return lines
}

// weights writes printed pounds in both units: "35 lb (15.9 kg) thin; 46 lb
// (20.9 kg) thick".
func weights(amounts process.Amounts) string {
	return join(amounts, func(a process.Amount) string {
		low, high := measure.Weight(a.Low), measure.Weight(a.High)
		if a.Low == a.High {
			return low.Both()
		}
		return fmt.Sprintf("%s to %s (%s to %s)", strings.TrimSuffix(low.String(), " lb"), high, strings.TrimSuffix(low.Metric(), " kg"), high.Metric())
	})
}

// yields writes printed numbers of jars: "10 to 12 quarts thin".
func yields(amounts process.Amounts) string {
	return join(amounts, func(a process.Amount) string {
		text := strconv.FormatFloat(a.Low, 'f', -1, 64)
		if a.Low != a.High {
			text += " to " + strconv.FormatFloat(a.High, 'f', -1, 64)
		}
		if a.Of == "pints" {
			return text
		}
		return text + " quarts"
	})
}

func join(amounts process.Amounts, write func(process.Amount) string) string {
	var b strings.Builder
	for i, a := range amounts {
		switch {
		case a.Plus:
			b.WriteString(" and ")
		case i > 0:
			b.WriteString("; ")
		}
		b.WriteString(strings.TrimSpace(write(a) + " " + a.Of))
	}
	return b.String()
}
