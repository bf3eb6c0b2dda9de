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
	Liquid    string // full, third-down or half-down: how far the liquid has sunk
	Lid       string // flat, down or domed
	Layers    bool   // a watery layer under the solids
	Bubbles   bool
}

// drawnJar is the picture's geometry, for the template.
type drawnJar struct {
	ID                        string // names the clip path, once on a page
	Says                      string
	Band                      bool
	Glass, Inside, Lid, Shine string
	FoodY, FoodHeight         int
	DryY, DryHeight           int // food that stands out of its liquid
	WaterY, WaterHeight       int // clear liquid under the solids
	Pieces                    []ellipse
	Bubbles                   []ellipse
	Ruler                     string
	Height                    int // of the view box: the picture ends where the jar does
	TextY, MetricY            int
	US, Metric                string
}

type ellipse struct{ X, Y, RX, RY int }

// The drawing's measures, in units of its view box, which is 312 wide. An inch of
// headspace is drawn larger than life, so that an eighth can be told from a half.
const (
	rimY      = 44 // top edge of the glass
	neckY     = 72 // where the neck ends
	shoulderY = 112
	centerX   = 118
	neckHalf  = 56
	perInch   = 44
	wall      = 5 // from the outside of the glass to the food
)

// body gives the half width and the bottom of each drawn size.
func body(size string) (half, bottom int) {
	switch size {
	case "quarter-pint", "half-pint":
		return 72, 186
	case "12-oz", "pint":
		return 74, 238
	case "half-gallon":
		return 98, 314
	}
	return 84, 300
}

func drawJar(id string, l jarLook) drawnJar {
	half, bottom := body(l.Size)
	top := min(rimY+int(float64(l.Headspace)*perInch), bottom-40)
	floor := bottom - wall
	d := drawnJar{
		ID: id, Says: jarSays(l), Band: l.Lid == "flat",
		Glass:  jarShape(half, bottom, 0),
		Inside: jarShape(half, bottom, wall),
		Shine:  fmt.Sprintf("M%d %d V%d", centerX-half+wall+10, shoulderY+16, bottom-40),
		FoodY:  top, FoodHeight: floor - top, Height: bottom + 8,
		Ruler: ruler(top), TextY: max(rimY+8, (rimY+top)/2+2), US: l.Headspace.String(), Metric: l.Headspace.Metric(),
	}
	d.MetricY = d.TextY + 19
	left, width := centerX-neckHalf-4, 2*neckHalf+8
	switch l.Lid {
	case "down":
		d.Lid = fmt.Sprintf("M%d %d h8 q%d 13 %d 0 h8", left, rimY-7, width/2-8, width-16)
	case "domed":
		d.Lid = fmt.Sprintf("M%d %d h8 q%d -20 %d 0 h8", left, rimY-6, width/2-8, width-16)
	default:
		d.Lid = fmt.Sprintf("M%d %d h%d", left, rimY-6, width)
	}
	if l.Layers {
		d.WaterY = floor - (floor-top)/3
		d.WaterHeight = floor - d.WaterY
	}
	if share := sunk(l.Liquid); share > 0 {
		d.DryY, d.DryHeight = top, int(float64(floor-top)*share)
	}
	solids := floor - d.WaterHeight
	for _, p := range []ellipse{
		{-38, 30, 17, 9},
		{22, 24, 20, 10},
		{52, 66, 13, 9},
		{-10, 62, 22, 11},
		{-56, 84, 12, 8},
		{26, 104, 21, 10},
		{-34, 122, 18, 11},
		{58, 136, 12, 8},
		{4, 150, 20, 10},
		{-54, 166, 13, 9},
		{36, 182, 18, 10},
		{-20, 196, 21, 10},
		{56, 220, 12, 8},
		{4, 230, 19, 9},
		{-48, 226, 14, 9},
	} {
		if y := top + p.Y; y+p.RY < solids-4 {
			d.Pieces = append(d.Pieces, ellipse{centerX + p.X, y, p.RX, p.RY})
		}
	}
	if l.Bubbles {
		for _, b := range []ellipse{{-24, 48, 5, 5}, {16, 80, 7, 7}, {-6, 116, 4, 4}, {34, 42, 4, 4}, {-44, 104, 6, 6}, {8, 18, 4, 4}} {
			if y := top + b.Y; y < solids-10 {
				d.Bubbles = append(d.Bubbles, ellipse{centerX + b.X, y, b.RX, b.RY})
			}
		}
	}
	return d
}

// sunk is the share of the food that stands out of the liquid.
func sunk(liquid string) float64 {
	switch liquid {
	case "third-down":
		return 1.0 / 3
	case "half-down":
		return 1.0 / 2
	}
	return 0
}

// jarShape draws the jar's outline, inset from the outside of the glass.
func jarShape(half, bottom, inset int) string {
	n, w, b := neckHalf-inset, half-inset, bottom-inset
	bend := (shoulderY - neckY) / 2
	return fmt.Sprintf("M%d %d H%d V%d C%d %d %d %d %d %d V%d Q%d %d %d %d H%d Q%d %d %d %d V%d C%d %d %d %d %d %d Z",
		centerX-n, rimY, centerX+n, neckY,
		centerX+n, neckY+bend, centerX+w, shoulderY-bend, centerX+w, shoulderY,
		b-20, centerX+w, b, centerX+w-20, b,
		centerX-w+20, centerX-w, b, centerX-w, b-20,
		shoulderY, centerX-w, shoulderY-bend, centerX-n, neckY+bend, centerX-n, neckY)
}

// ruler marks the headspace beside the jar.
func ruler(to int) string {
	const x = 222
	var b strings.Builder
	fmt.Fprintf(&b, "M%d %d V%d M%d %d H%d M%d %d H%d", x, rimY, to, x-10, rimY, x+6, x-10, to, x+6)
	for y := rimY + 6; y < to-3; y += 6 {
		fmt.Fprintf(&b, " M%d %d H%d", x-5, y, x)
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
