package server

import (
	"fmt"
	"strings"

	"rollingboil/scenarios"
	"rollingboil/scenarios/measure"
)

// jarLook says how a jar is drawn.
type jarLook struct {
	Size      string // half-pint, pint, quart or another jar id
	Headspace measure.Length
	Liquid    string // full, third-down or half-down: how far the liquid covers the food
	Lid       string // flat, down or domed
	Layers    bool   // watery layer below the solids
	Bubbles   bool
}

// drawnJar is the picture's geometry, for the template.
type drawnJar struct {
	Says                    string
	Band                    bool
	Glass, Lid, Food, Water string
	Bubbles                 []bubble
	Ruler                   string
	TextY, MetricY          int
	US, Metric              string
}

type bubble struct{ X, Y, R int }

// The drawing's measures, in units of its view box: 280 by 330. An inch of
// headspace is drawn larger than life, so that an eighth can be told from a half.
const (
	rimY      = 46  // top edge of the glass
	neckY     = 78  // where the neck ends
	shoulderY = 108 // where the full width begins
	centerX   = 130
	neckHalf  = 52
	perInch   = 46
)

// bodies gives the half width and the bottom of each drawn size.
func body(size string) (half, bottom int) {
	switch size {
	case "quarter-pint", "half-pint":
		return 62, 190
	case "12-oz", "pint":
		return 64, 240
	case "half-gallon":
		return 84, 322
	}
	return 72, 306
}

func drawJar(l jarLook) drawnJar {
	half, bottom := body(l.Size)
	top := rimY + int(float64(l.Headspace)*perInch)
	top = min(top, bottom-30)
	d := drawnJar{
		Says:  jarSays(l),
		Band:  l.Lid == "flat",
		Glass: outline(rimY, half, bottom, 0),
		Food:  outline(top, half, bottom, 4),
		Ruler: ruler(rimY, top),
		TextY: max(rimY+6, (rimY+top)/2), US: l.Headspace.String(), Metric: l.Headspace.Metric(),
	}
	d.MetricY = d.TextY + 18
	switch l.Lid {
	case "down":
		d.Lid = fmt.Sprintf("M%d %d q%d 9 %d 0", centerX-neckHalf-3, rimY-7, neckHalf+3, 2*neckHalf+6)
	case "domed":
		d.Lid = fmt.Sprintf("M%d %d q%d -15 %d 0", centerX-neckHalf-3, rimY-5, neckHalf+3, 2*neckHalf+6)
	default:
		d.Lid = fmt.Sprintf("M%d %d h%d", centerX-neckHalf-3, rimY-6, 2*neckHalf+6)
	}
	if l.Layers { // the solids float; the lowest third is clear liquid
		d.Water = outline(bottom-(bottom-top)/3, half, bottom, 4)
	}
	if lost := lostShare(l.Liquid); lost > 0 { // food above the liquid is drawn paler, as uncovered
		d.Water = band(top, top+int(float64(bottom-top)*lost), half, 4)
	}
	if l.Bubbles {
		for i, b := range []bubble{{-20, 40, 4}, {14, 66, 6}, {-6, 96, 3}, {28, 30, 3}, {-34, 84, 5}, {6, 22, 4}} {
			if y := top + b.Y; y < bottom-12 {
				d.Bubbles = append(d.Bubbles, bubble{centerX + b.X, y, b.R + i%2})
			}
		}
	}
	return d
}

func lostShare(liquid string) float64 {
	switch liquid {
	case "third-down":
		return 1.0 / 3
	case "half-down":
		return 1.0 / 2
	}
	return 0
}

// halfWidth is half the width of the inside of the jar at a height.
func halfWidth(y, half int) int {
	switch {
	case y <= neckY:
		return neckHalf
	case y >= shoulderY:
		return half
	}
	return neckHalf + (half-neckHalf)*(y-neckY)/(shoulderY-neckY)
}

// outline draws the jar's shape from a height down, inset from the glass.
func outline(from, half, bottom, inset int) string {
	var b strings.Builder
	w := halfWidth(from, half) - inset
	fmt.Fprintf(&b, "M%d %d H%d", centerX-w, from, centerX+w)
	if from < neckY {
		fmt.Fprintf(&b, " V%d", neckY)
	}
	if from < shoulderY {
		fmt.Fprintf(&b, " L%d %d", centerX+half-inset, shoulderY)
	}
	fmt.Fprintf(&b, " V%d q0 %d -18 %d H%d q-18 0 -18 -18", bottom-18-inset, 18, 18, centerX-half+18+inset)
	if from < shoulderY {
		fmt.Fprintf(&b, " V%d L%d %d", shoulderY, centerX-neckHalf+inset, min(neckY, max(from, neckY)))
	}
	b.WriteString(" Z")
	return b.String()
}

// band draws the stretch of the jar's inside between two heights.
func band(from, to, half, inset int) string {
	var b strings.Builder
	a := halfWidth(from, half) - inset
	fmt.Fprintf(&b, "M%d %d H%d", centerX-a, from, centerX+a)
	for _, y := range []int{neckY, shoulderY} {
		if from < y && y < to {
			fmt.Fprintf(&b, " L%d %d", centerX+halfWidth(y, half)-inset, y)
		}
	}
	z := halfWidth(to, half) - inset
	fmt.Fprintf(&b, " L%d %d H%d", centerX+z, to, centerX-z)
	for _, y := range []int{shoulderY, neckY} {
		if from < y && y < to {
			fmt.Fprintf(&b, " L%d %d", centerX-halfWidth(y, half)+inset, y)
		}
	}
	b.WriteString(" Z")
	return b.String()
}

// ruler marks the headspace beside the neck.
func ruler(from, to int) string {
	var b strings.Builder
	fmt.Fprintf(&b, "M198 %d V%d M190 %d H206 M190 %d H206", from, to, from, to)
	for y := from + 6; y < to-3; y += 6 {
		fmt.Fprintf(&b, " M194 %d H198", y)
	}
	return b.String()
}

// jarSays tells the picture in words.
func jarSays(l jarLook) string {
	says := fmt.Sprintf("A %s jar with %s of headspace", scenarios.Label(l.Size), l.Headspace.Both())
	switch l.Liquid {
	case "third-down":
		says += ", a third of its liquid lost: the food at the top stands dry"
	case "half-down":
		says += ", half of its liquid lost: the food in the upper half stands dry"
	}
	if l.Layers {
		says += ", a watery layer at the bottom"
	}
	if l.Bubbles {
		says += ", bubbles in the food"
	}
	switch l.Lid {
	case "down":
		return says + ". The lid curves down in the middle."
	case "domed":
		return says + ". The lid bulges up."
	}
	return says + ". The lid is flat, with its band on."
}
