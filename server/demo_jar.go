package server

import (
	"bytes"
	"context"
	"fmt"
	"image"
	"image/color"
	"image/png"

	"rollingboil/server/photo"
)

// jarPhoto is what a drawn photo of the invented class shows: one jar, or a row.
type jarPhoto struct {
	food, jar        string
	jars             int
	liquid           string // "", none, some or half-or-more
	domed, separated bool
}

// picture draws a photo and makes it small and clean like every other. The same photo
// is drawn once.
func (d *demo) picture(ctx context.Context, look jarPhoto) (photo.Photo, error) {
	if p, drawn := d.pictures[look]; drawn {
		return p, nil
	}
	var file bytes.Buffer
	if err := png.Encode(&file, look.draw()); err != nil {
		return photo.Photo{}, fmt.Errorf("draw a jar: %w", err)
	}
	p, err := photo.Read(ctx, &file)
	if err == nil {
		d.pictures[look] = p
	}
	return p, err
}

// The colors of what is in the jars, light to dark from the lit side to the other.
var demoColors = map[string]color.RGBA{
	"tomatoes-crushed": {186, 56, 38, 255}, "peaches": {232, 160, 58, 255}, "applesauce": {214, 182, 116, 255},
}

const jarPhotoSide = 640

func (look jarPhoto) draw() *image.RGBA {
	sheet := image.NewRGBA(image.Rect(0, 0, jarPhotoSide, jarPhotoSide*3/4))
	bounds := sheet.Bounds()
	table := bounds.Dy() * 3 / 4
	for y := range bounds.Dy() {
		for x := range bounds.Dx() {
			wall := color.RGBA{uint8(206 - y/8), uint8(198 - y/8), uint8(182 - y/8), 255}
			if y > table {
				wall = color.RGBA{uint8(150 - (y-table)/4), uint8(112 - (y-table)/4), uint8(78 - (y-table)/5), 255}
				if (x+3*y)%97 < 2 { // the grain of the wood
					wall = color.RGBA{112, 82, 58, 255}
				}
			}
			sheet.SetRGBA(x, y, wall)
		}
	}
	step := bounds.Dx() / (look.jars + 1)
	for i := range look.jars {
		wide := min(step*7/8, 190)
		look.jarAt(sheet, step*(i+1), table+bounds.Dy()/9, wide)
	}
	return sheet
}

// jarAt draws one jar that stands with the middle of its foot at a point.
func (look jarPhoto) jarAt(sheet *image.RGBA, middle, foot, wide int) {
	high := wide * 17 / 10
	if look.jar == "pint" {
		high = wide * 13 / 10
	}
	neck, shoulder := foot-high, foot-high*5/6
	full := neck + high/14
	switch look.liquid {
	case "some":
		full = neck + high/5
	case "half-or-more":
		full = neck + high*11/20
	}
	inside := demoColors[look.food]
	for y := neck; y < foot; y++ {
		half := wide / 2
		if y < shoulder { // the shoulder runs in to the neck
			half = wide*2/5 + (wide/10)*(y-neck)/(shoulder-neck)
		}
		if left := foot - y; left < wide/12 { // and the foot is rounded
			half -= (wide/12 - left) / 2
		}
		for x := -half; x < half; x++ {
			c := color.RGBA{214, 224, 218, 255} // bare glass
			if y > full {
				c = inside
				if look.separated && y > foot-high/3 { // the watery layer
					c = color.RGBA{226, 178, 104, 255}
				}
				if (x+half)/(wide/12)*7%5 == (y-neck)/(wide/14)*3%5 { // pieces
					c = shaded(c, 14, 15)
				}
			}
			if x > half/3 { // away from the window
				c = shaded(c, 100-30*(x-half/3)/max(1, half), 100)
			}
			if x > -half*3/4 && x < -half*3/5 { // the window in the glass
				c = lit(c)
			}
			if x < -half+2 || x >= half-2 {
				c = shaded(c, 2, 3)
			}
			sheet.SetRGBA(middle+x, y, c)
		}
	}
	look.lidAt(sheet, middle, neck, wide*2/5+wide/20)
}

// lidAt draws the lid, its middle down or bowed up, and no band: it comes off first.
func (look jarPhoto) lidAt(sheet *image.RGBA, middle, neck, half int) {
	rise := -half / 16
	if look.domed {
		rise = half / 7
	}
	thick := max(4, half/9)
	for x := -half; x < half; x++ {
		bow := rise * (half*half - x*x) / (half * half)
		for y := neck - thick - max(0, bow); y < neck; y++ {
			c := color.RGBA{168, 170, 166, 255}
			if y < neck-thick/2 {
				c = color.RGBA{204, 205, 200, 255}
			}
			if bow < 0 && y < neck-thick-bow { // the dip shows as a shadow
				c = color.RGBA{146, 148, 144, 255}
			}
			sheet.SetRGBA(middle+x, y, c)
		}
	}
}

func shaded(c color.RGBA, of, all int) color.RGBA {
	part := func(v uint8) uint8 { return uint8(max(0, int(v)*of/all)) }
	return color.RGBA{part(c.R), part(c.G), part(c.B), 255}
}

func lit(c color.RGBA) color.RGBA {
	toward := func(v uint8) uint8 { return uint8((int(v) + 255) / 2) }
	return color.RGBA{toward(c.R), toward(c.G), toward(c.B), 255}
}
