package photo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"image"
	"image/jpeg"
	"image/png"
	"io"
	"math"
	"runtime"
	"strings"

	"golang.org/x/image/draw"
	"golang.org/x/image/webp"
)

// What is let in, and what is made of it.
const (
	maxBytes  = 12 << 20
	maxPixels = 40_000_000
	maxSide   = 65_535 // the longest that a JPEG can be; scaling a longer strip takes memory by its length

	fullSide     = 1600
	smallSide    = 320
	fullQuality  = 85
	smallQuality = 80
)

// Photo is a picture as it is kept and shown.
type Photo struct {
	Full          []byte // JPEG, at most 1600 px on its long side
	Small         []byte // JPEG, at most 320 px on its long side
	Width, Height int    // of Full, in px
	Sum           string // the SHA-256 of Full in hexadecimal, the photo's id
}

// Refusal says why a picture is not taken and what to do about it, in words for
// the learner. An error around it may name the cause, for the log.
type Refusal string

// The refusals.
const (
	ErrNotPhoto      Refusal = "This is not a photo that can be read. Send a JPEG, PNG or WebP picture."
	ErrTooLarge      Refusal = "This photo is larger than 12 MiB. Send a smaller copy of it."
	ErrTooManyPixels Refusal = "This photo has too many pixels. Send a copy of at most 40 megapixels and 65 535 pixels on a side."
	ErrMoves         Refusal = "This picture moves. Send a photo that stands still."
	ErrBroken        Refusal = "This photo cannot be read to its end. It may have been cut off on the way, or be stored in an unusual form. Send it again, or save it as a new JPEG and send that."
)

func (r Refusal) Error() string { return string(r) }

// decoding holds one token for each picture that is being decoded.
var decoding = make(chan struct{}, runtime.GOMAXPROCS(0))

// Read reads one picture and makes a [Photo] of it. It reads no more of r than
// one byte beyond the largest file it takes. When as many pictures are being
// decoded as there are processors, it waits until one is done or ctx ends.
func Read(ctx context.Context, r io.Reader) (Photo, error) {
	data, err := io.ReadAll(io.LimitReader(r, maxBytes+1))
	if err != nil {
		return Photo{}, fmt.Errorf("read the photo: %w", err)
	}
	if len(data) > maxBytes {
		return Photo{}, ErrTooLarge
	}
	f, err := formatOf(data)
	if err != nil {
		return Photo{}, err
	}
	header, err := f.config(bytes.NewReader(data))
	if err != nil {
		return Photo{}, fmt.Errorf("%w (%w)", ErrBroken, err)
	}
	if err := checkSize(header.Width, header.Height); err != nil {
		return Photo{}, err
	}

	select {
	case decoding <- struct{}{}:
		defer func() { <-decoding }()
	case <-ctx.Done():
		return Photo{}, fmt.Errorf("wait to decode the photo: %w", context.Cause(ctx))
	}
	picture, err := f.decode(bytes.NewReader(data))
	if err != nil {
		return Photo{}, fmt.Errorf("%w (%w)", ErrBroken, err)
	}
	// Scaled first and turned afterwards, there are fewer pixels to turn.
	full := turn(shrink(picture, fullSide), orientation(f.exif(data)))
	return encode(full)
}

// format is how to read one kind of file.
type format struct {
	config func(io.Reader) (image.Config, error)
	decode func(io.Reader) (image.Image, error)
	exif   func(data []byte) []byte // the EXIF block, nil if there is none
}

// formatOf tells the format by the first bytes, and refuses what is wrong with a
// file of that format. The list of formats in package image is not asked, since
// any package of the program can add to it.
func formatOf(data []byte) (format, error) {
	start := string(data[:min(len(data), 12)])
	switch {
	case strings.HasPrefix(start, "\xff\xd8\xff"):
		if n := scans(data); n > maxScans {
			return format{}, fmt.Errorf("%w (%d scans)", ErrBroken, n)
		}
		return format{jpeg.DecodeConfig, jpeg.Decode, exifOfJPEG}, nil
	case strings.HasPrefix(start, "\x89PNG\r\n\x1a\n"):
		return format{png.DecodeConfig, png.Decode, exifOfPNG}, nil
	case strings.HasPrefix(start, "RIFF") && strings.HasSuffix(start, "WEBP"):
		if moves(data) {
			return format{}, ErrMoves
		}
		return format{webp.DecodeConfig, decodeWebP, exifOfWebP}, nil
	}
	return format{}, ErrNotPhoto
}

// decodeWebP decodes a WebP to the colors it was stored with. A lossy WebP keeps
// brightness from 16 to 235 and color from 16 to 240, as television does (ITU-R
// BT.601); the decoder hands these values on, and package image takes them as
// running from 0 to 255, so that white would come out gray.
func decodeWebP(r io.Reader) (image.Image, error) {
	picture, err := webp.Decode(r)
	switch p := picture.(type) {
	case *image.YCbCr:
		widen(p)
	case *image.NYCbCrA:
		widen(&p.YCbCr)
	}
	return picture, err
}

// widen spreads the values of BT.601 over the whole byte.
func widen(picture *image.YCbCr) {
	var luma, chroma [256]uint8
	for i := range 256 {
		luma[i] = toByte(float64(i-16) * 255 / 219)
		chroma[i] = toByte(128 + float64(i-128)*255/224)
	}
	for i, y := range picture.Y {
		picture.Y[i] = luma[y]
	}
	for i := range picture.Cb {
		picture.Cb[i], picture.Cr[i] = chroma[picture.Cb[i]], chroma[picture.Cr[i]]
	}
}

func toByte(v float64) uint8 { return uint8(math.Round(min(max(v, 0), 255))) }

func checkSize(width, height int) error {
	if width < 1 || height < 1 {
		return fmt.Errorf("%w (%d by %d)", ErrBroken, width, height)
	}
	if width > maxSide || height > maxSide || int64(width)*int64(height) > maxPixels {
		return ErrTooManyPixels
	}
	return nil
}

// encode makes the two JPEGs of a picture that is ready to be kept.
func encode(full *image.RGBA) (Photo, error) {
	size := full.Bounds().Size()
	p := Photo{Width: size.X, Height: size.Y}
	var err error
	if p.Full, err = encodeJPEG(full, fullQuality); err != nil {
		return Photo{}, err
	}
	if p.Small, err = encodeJPEG(shrink(full, smallSide), smallQuality); err != nil {
		return Photo{}, err
	}
	sum := sha256.Sum256(p.Full)
	p.Sum = hex.EncodeToString(sum[:])
	return p, nil
}

func encodeJPEG(picture image.Image, quality int) ([]byte, error) {
	var out bytes.Buffer
	if err := jpeg.Encode(&out, picture, &jpeg.Options{Quality: quality}); err != nil {
		return nil, fmt.Errorf("encode the photo: %w", err)
	}
	return out.Bytes(), nil
}

// shrink draws the picture on white, with no side longer than side. A smaller
// picture keeps its size.
func shrink(picture image.Image, side int) *image.RGBA {
	size := picture.Bounds().Size()
	if long := max(size.X, size.Y); long > side {
		scale := float64(side) / float64(long)
		size.X = max(1, int(math.Round(float64(size.X)*scale)))
		size.Y = max(1, int(math.Round(float64(size.Y)*scale)))
	}
	sheet := image.NewRGBA(image.Rectangle{Max: size})
	draw.Draw(sheet, sheet.Bounds(), image.White, image.Point{}, draw.Src)
	if size == picture.Bounds().Size() {
		draw.Draw(sheet, sheet.Bounds(), picture, picture.Bounds().Min, draw.Over)
		return sheet
	}
	draw.CatmullRom.Scale(sheet, sheet.Bounds(), picture, picture.Bounds(), draw.Over, nil)
	return sheet
}

// turn sets the picture upright. The value of the EXIF tag Orientation says on
// which sides of the upright picture the stored picture's 0th row and 0th column
// lie (EXIF 2.3, 4.6.4 A).
func turn(stored *image.RGBA, value int) *image.RGBA {
	if value == 1 { // row on the top, column on the left
		return stored
	}
	w, h := stored.Bounds().Dx(), stored.Bounds().Dy()
	right, bottom := w-1, h-1
	upright := image.NewRGBA(image.Rect(0, 0, w, h))
	if value >= 5 { // rows become columns
		upright = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			var toX, toY int
			switch value {
			case 2: // top, right
				toX, toY = right-x, y
			case 3: // bottom, right
				toX, toY = right-x, bottom-y
			case 4: // bottom, left
				toX, toY = x, bottom-y
			case 5: // left, top
				toX, toY = y, x
			case 6: // right, top
				toX, toY = bottom-y, x
			case 7: // right, bottom
				toX, toY = bottom-y, right-x
			case 8: // left, bottom
				toX, toY = y, right-x
			}
			upright.SetRGBA(toX, toY, stored.RGBAAt(x, y))
		}
	}
	return upright
}
