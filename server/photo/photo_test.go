package photo

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	"image/jpeg"
	"io"
	"math"
	"math/rand/v2"
	"runtime"
	"slices"
	"strings"
	"testing"
	"testing/iotest"
	"time"

	"pgregory.net/rapid"
)

func mustRead(t testing.TB, file []byte) Photo {
	t.Helper()
	p, err := Read(t.Context(), bytes.NewReader(file))
	if err != nil {
		t.Fatalf("%.40q...: %v", file, err)
	}
	return p
}

// mustRefuse reads what is to be refused, and returns the error.
func mustRefuse(t testing.TB, file []byte, want Refusal) {
	t.Helper()
	p, err := Read(t.Context(), bytes.NewReader(file))
	if !errors.Is(err, want) {
		t.Errorf("%.40q...: %v, want %v", file, err, want)
	}
	if p.Full != nil || p.Small != nil {
		t.Errorf("%.40q...: refused, but a picture came back", file)
	}
}

// mustDecode decodes a JPEG and checks its size.
func mustDecode(t testing.TB, file []byte, w, h int) image.Image {
	t.Helper()
	picture, err := jpeg.Decode(bytes.NewReader(file))
	if err != nil {
		t.Fatal(err)
	}
	if got := picture.Bounds(); got != image.Rect(0, 0, w, h) {
		t.Fatalf("the picture is %v, want %d by %d", got, w, h)
	}
	return picture
}

// mustShow checks the color in the middle of the four quarters of a picture: top
// left, top right, bottom left, bottom right.
func mustShow(t testing.TB, picture image.Image, want [2][2]color.RGBA) {
	t.Helper()
	size := picture.Bounds().Size()
	for row := range 2 {
		for column := range 2 {
			at := image.Pt(size.X*(1+2*column)/4, size.Y*(1+2*row)/4)
			got := color.RGBAModel.Convert(picture.At(at.X, at.Y)).(color.RGBA)
			if !near(got, want[row][column]) {
				t.Errorf("at %v is %v, want %v", at, got, want[row][column])
			}
		}
	}
}

// near allows for what two lossy encoders do to a plain color.
func near(a, b color.RGBA) bool {
	const most = 12
	off := func(x, y uint8) bool { return max(x, y)-min(x, y) > most }
	return !off(a.R, b.R) && !off(a.G, b.G) && !off(a.B, b.B)
}

func TestReadTakesJPEGAndPNGAndWebP(t *testing.T) {
	t.Parallel()
	for name, file := range map[string][]byte{
		"JPEG":               jpegOf(t, corners(96, 64)),
		"PNG":                pngOf(t, corners(96, 64)),
		"WebP, lossy":        fixture(t, "corners-lossy.webp"),
		"WebP, lossless":     fixture(t, "corners-lossless.webp"),
		"WebP with a header": webpOf(webpHeader(0, 96, 64), fixture(t, "corners-lossless.webp")[12:]),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := mustRead(t, file)
			if p.Width != 96 || p.Height != 64 {
				t.Errorf("%d by %d, want 96 by 64", p.Width, p.Height)
			}
			if sum := fmt.Sprintf("%x", sha256.Sum256(p.Full)); p.Sum != sum {
				t.Errorf("sum %s, want %s", p.Sum, sum)
			}
			if again := mustRead(t, file); again.Sum != p.Sum {
				t.Errorf("the same file gives %s and %s", p.Sum, again.Sum)
			}
			want := [2][2]color.RGBA{{red, green}, {blue, yellow}}
			mustShow(t, mustDecode(t, p.Full, 96, 64), want)
			mustShow(t, mustDecode(t, p.Small, 96, 64), want)
		})
	}
}

func TestReadRefusesWhatIsNoPhoto(t *testing.T) {
	t.Parallel()
	for _, file := range []string{
		"",
		"\xff\xd8",
		"\x89PNG",
		"RIFF\x04\x00\x00\x00WAVE",
		"GIF89a\x01\x00\x01\x00\x00\x00\x00;",
		"\x00\x00\x00\x18ftypheic\x00\x00\x00\x00",
		"%PDF-1.7\n",
		"<!doctype html><script>alert(1)</script>",
		`<svg xmlns="http://www.w3.org/2000/svg" onload="alert(1)"/>`,
		"<?xml version=\"1.0\"?><svg xmlns=\"http://www.w3.org/2000/svg\"><script>alert(1)</script></svg>",
		"the jar on the left has siphoned",
		" " + string(jpegOf(t, corners(8, 8))),
	} {
		mustRefuse(t, []byte(file), ErrNotPhoto)
	}
}

func TestReadRefusesWhatOnlyBeginsAsPhoto(t *testing.T) {
	t.Parallel()
	script := "<script>alert(1)</script>"
	photo := jpegOf(t, corners(96, 64))
	for name, file := range map[string][]byte{
		"a JPEG's first bytes":            []byte("\xff\xd8\xff" + script),
		"a PNG's first bytes":             []byte("\x89PNG\r\n\x1a\n" + script),
		"a WebP's first bytes":            []byte("RIFF\x20\x00\x00\x00WEBP" + script),
		"a header and no pixels":          slices.Concat(pngStart(8, 8), pngChunk("IEND", "")),
		"no width":                        slices.Concat(pngStart(0, 8), pngChunk("IEND", "")),
		"no height":                       sized(photo, 96, 0),
		"a chunk longer than the file":    append(pngStart(8, 8), "\x7f\xff\xff\xffeXIf"...),
		"a chunk of a negative length":    append(pngStart(8, 8), "\xff\xff\xff\xffIDAT"...),
		"a second, larger header":         withChunks(pngOf(t, corners(8, 8)), pngStart(50_000, 50_000)[8:]),
		"a wrong checksum":                bytes.Replace(pngOf(t, corners(8, 8)), []byte("IDAT"), []byte("IDAT\x00"), 1),
		"a small frame for a large sheet": webpOf(webpHeader(0, 5000, 5000), fixture(t, "corners-lossless.webp")[12:]),
		"a large frame for a small sheet": webpOf(webpHeader(0, 8, 8), fixture(t, "corners-lossy.webp")[12:]),
		"too many scans":                  manyScans(photo, maxScans+1),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			mustRefuse(t, file, ErrBroken)
		})
	}
	mustRead(t, manyScans(photo, maxScans))
	// What a phone appends, a short film for instance, may look like scans.
	mustRead(t, slices.Concat(photo, []byte{0, 2}, bytes.Repeat([]byte{0xff, 0xda, 0, 2}, maxScans)))
}

// sized writes another size into the header of a JPEG: the segment SOF0 holds a
// precision of one byte, the height and the width (ITU-T T.81, B.2.2).
func sized(file []byte, w, h uint16) []byte {
	file = slices.Clone(file)
	at := bytes.Index(file, []byte{0xff, 0xc0}) + 5
	binary.BigEndian.PutUint16(file[at:], h)
	binary.BigEndian.PutUint16(file[at+2:], w)
	return file
}

// manyScans repeats the one scan of a JPEG.
func manyScans(file []byte, n int) []byte {
	at, end := bytes.Index(file, []byte{0xff, 0xda}), len(file)-2
	return slices.Concat(file[:at], bytes.Repeat(file[at:end], n), file[end:])
}

func TestReadRefusesAnimation(t *testing.T) {
	t.Parallel()
	mustRefuse(t, fixture(t, "moving.webp"), ErrMoves)
}

func TestReadRefusesTooLargeFile(t *testing.T) {
	t.Parallel()
	photo := jpegOf(t, corners(96, 64))
	largest := append(photo, make([]byte, 12<<20-len(photo))...)
	mustRead(t, largest)
	mustRefuse(t, append(largest, 0), ErrTooLarge)

	// A stream without an end is left alone after the first byte too many.
	endless := &counter{r: io.MultiReader(bytes.NewReader(largest), zeros{})}
	if _, err := Read(t.Context(), endless); !errors.Is(err, ErrTooLarge) {
		t.Errorf("a stream without an end: %v", err)
	}
	if endless.n != 12<<20+1 {
		t.Errorf("%d bytes were read", endless.n)
	}
}

type zeros struct{}

func (zeros) Read(p []byte) (int, error) { clear(p); return len(p), nil }

type counter struct {
	r io.Reader
	n int
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.r.Read(p)
	c.n += n
	return n, err
}

func TestReadRefusesTooManyPixels(t *testing.T) {
	t.Parallel()
	photo := jpegOf(t, corners(96, 64))
	for name, file := range map[string][]byte{
		"JPEG":                     sized(photo, 65_535, 65_535),
		"JPEG, one row too many":   sized(photo, 8000, 5001),
		"PNG, one column too many": pngStart(8001, 5000),
		"PNG, wider than a JPEG":   pngStart(65_536, 1),
		"PNG, taller than a JPEG":  pngStart(1, 65_536),
		"WebP":                     webpOf(webpHeader(0, 16_384, 16_384), fixture(t, "corners-lossless.webp")[12:]),
		"WebP without a header":    webpOf(webpChunk("VP8L", "\x2f\xff\xff\xff\x0f")),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			mustRefuse(t, file, ErrTooManyPixels)
		})
	}
	// Just within the limits it is the missing pixels that are wrong.
	mustRefuse(t, pngStart(8000, 5000), ErrBroken)
	mustRefuse(t, pngStart(65_535, 1), ErrBroken)
	mustRefuse(t, pngStart(1, 65_535), ErrBroken)
}

// The pixels of the bomb would take 312 MB at one bit each. The test runs alone,
// so that nobody else's memory is counted.
func TestReadRefusesBombBeforeDecoding(t *testing.T) {
	file := bomb(t)
	if len(file) > 400_000 {
		t.Fatalf("the bomb has %d bytes", len(file))
	}
	var before, after runtime.MemStats
	runtime.ReadMemStats(&before)
	mustRefuse(t, file, ErrTooManyPixels)
	runtime.ReadMemStats(&after)
	if took := after.TotalAlloc - before.TotalAlloc; took > 4<<20 {
		t.Errorf("refusing it took %d bytes", took)
	}
}

func TestReadRefusesTruncatedFile(t *testing.T) {
	t.Parallel()
	for name, file := range map[string][]byte{
		"JPEG":           jpegOf(t, corners(96, 64)),
		"PNG":            pngOf(t, corners(96, 64)),
		"WebP, lossy":    fixture(t, "corners-lossy.webp"),
		"WebP, lossless": fixture(t, "corners-lossless.webp"),
		"WebP, clear":    fixture(t, "clear.webp"),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for n := range file {
				want := ErrBroken
				if n < 12 && name[0] == 'W' || n < 8 && name[0] == 'P' || n < 3 {
					want = ErrNotPhoto
				}
				mustRefuse(t, file[:n], want)
			}
		})
	}
}

// What is hidden behind a picture, or in its comments, does not come out.
func TestReadLeavesScriptBehind(t *testing.T) {
	t.Parallel()
	script := "<script>alert('hello')</script>"
	for name, file := range map[string][]byte{
		"behind a JPEG":      append(jpegOf(t, corners(96, 64)), script...),
		"behind a PNG":       append(pngOf(t, corners(96, 64)), script...),
		"behind a WebP":      append(fixture(t, "corners-lossy.webp"), script...),
		"in a JPEG":          withSegments(jpegOf(t, corners(96, 64)), segment(0xfe, script)),
		"in a PNG":           withChunks(pngOf(t, corners(96, 64)), pngChunk("tEXt", "Comment\x00"+script)),
		"in a strange chunk": webpOf(webpHeader(0, 96, 64), webpChunk("HTML", script), fixture(t, "corners-lossy.webp")[12:]),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := mustRead(t, file)
			mustBeBare(t, p, "script", "alert")
			if !bytes.Contains(file, []byte(script)) {
				t.Error("there was no script in the file")
			}
		})
	}
}

// mustBeBare checks that both pictures consist of the segments that draw it and
// of nothing else, and that none of the words is in them.
func mustBeBare(t testing.TB, p Photo, words ...string) {
	t.Helper()
	for _, file := range [][]byte{p.Full, p.Small} {
		// SOI, then DQT, SOF0 and DHT, then SOS with the pixels up to EOI at the
		// very end (ITU-T T.81, table B.1).
		if !bytes.HasPrefix(file, []byte{0xff, 0xd8}) || bytes.Index(file, []byte{0xff, 0xd9}) != len(file)-2 {
			t.Fatal("the JPEG does not begin and end as it should")
		}
		at := 2
		for file[at+1] != 0xda {
			if file[at] != 0xff || !slices.Contains([]byte{0xdb, 0xc0, 0xc4}, file[at+1]) {
				t.Fatalf("there is a segment %x %x", file[at], file[at+1])
			}
			at += 2 + int(binary.BigEndian.Uint16(file[at+2:]))
		}
		for _, word := range words {
			if bytes.Contains(file, []byte(word)) {
				t.Errorf("%q is in the picture", word)
			}
		}
	}
}

func TestReadLeavesMetadataBehind(t *testing.T) {
	t.Parallel()
	secret := "Harrow Creek Grange, third door"
	// Orientation, and the pointer to a directory with the place: GPSLatitudeRef
	// and GPSLatitude (EXIF 2.3, 4.6.6 A).
	order := binary.LittleEndian
	exif := exifBlock(order, string(exifBlock(order, secret, entry{1, 2, 2, 'N'}, entry{2, 5, 3, 38})[8:]),
		short(order, 0x0112, 1), entry{0x8825, 4, 1, 38})
	xmp := "<x:xmpmeta><photoshop:City>" + secret + "</photoshop:City></x:xmpmeta>"
	lossy := fixture(t, "corners-lossy.webp")[12:]
	for name, file := range map[string][]byte{
		"JPEG": withSegments(jpegOf(t, corners(96, 64)),
			segment(0xe0, "JFIF\x00\x01\x01\x00\x00\x01\x00\x01\x00\x00"),
			segment(0xe1, "Exif\x00\x00"+exif),
			segment(0xe1, "http://ns.adobe.com/xap/1.0/\x00"+xmp),
			segment(0xe2, "ICC_PROFILE\x00\x01\x01"+secret),
			segment(0xed, "Photoshop 3.0\x008BIM"+secret),
			segment(0xfe, secret)),
		"PNG": withChunks(pngOf(t, corners(96, 64)),
			pngChunk("eXIf", exif),
			pngChunk("iTXt", "XML:com.adobe.xmp\x00\x00\x00\x00\x00"+xmp),
			pngChunk("iCCP", "ICC_PROFILE\x00\x00"+secret),
			pngChunk("tEXt", "Comment\x00"+secret)),
		"WebP": webpOf(webpHeader(1<<5|1<<3|1<<2, 96, 64), webpChunk("ICCP", "ICC_PROFILE"+secret), lossy,
			webpChunk("EXIF", exif), webpChunk("XMP ", xmp)),
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			if !bytes.Contains(file, []byte(secret)) || !bytes.Contains(file, []byte(exif)) {
				t.Fatal("there was no secret in the file")
			}
			mustBeBare(t, mustRead(t, file), secret, "Harrow", "Exif", "II*\x00", "xmp", "ICC", "JFIF", "8BIM")
		})
	}
}

// The eight values of Orientation, EXIF 2.3, 4.6.4 A: on which side of the upright
// picture the 0th row and the 0th column lie.
func TestReadTurnsAsOrientationSays(t *testing.T) {
	t.Parallel()
	standard := map[uint16]struct{ row, column string }{
		1: {"top", "left"},
		2: {"top", "right"},
		3: {"bottom", "right"},
		4: {"bottom", "left"},
		5: {"left", "top"},
		6: {"right", "top"},
		7: {"right", "bottom"},
		8: {"left", "bottom"},
	}
	opposite := map[string]string{"top": "bottom", "bottom": "top", "left": "right", "right": "left"}
	for value, side := range standard {
		for _, order := range []interface {
			binary.ByteOrder
			binary.AppendByteOrder
		}{binary.LittleEndian, binary.BigEndian} {
			exif := exifBlock(order, "", short(order, 0x0100, 96), short(order, 0x0112, value), short(order, 0x0213, 1))
			for format, file := range turned(t, exif) {
				t.Run(fmt.Sprintf("%d %s %s", value, order, format), func(t *testing.T) {
					t.Parallel()
					w, h := 96, 64
					if side.row == "left" || side.row == "right" {
						w, h = h, w
					}
					// Each corner of the stored picture lies between two sides.
					var want [2][2]color.RGBA
					put := func(row, column string, c color.RGBA) {
						sides := row + column
						y, x := 0, 0
						if strings.Contains(sides, "bottom") {
							y = 1
						}
						if strings.Contains(sides, "right") {
							x = 1
						}
						want[y][x] = c
					}
					put(side.row, side.column, red)
					put(side.row, opposite[side.column], green)
					put(opposite[side.row], side.column, blue)
					put(opposite[side.row], opposite[side.column], yellow)

					p := mustRead(t, file)
					mustShow(t, mustDecode(t, p.Full, w, h), want)
					mustShow(t, mustDecode(t, p.Small, w, h), want)
				})
			}
		}
	}
}

func TestReadDrawsOnWhite(t *testing.T) {
	t.Parallel()
	mustShow(t, mustDecode(t, mustRead(t, fixture(t, "clear.webp")).Full, 96, 32), [2][2]color.RGBA{{red, white}, {red, white}})

	sheet := image.NewNRGBA(image.Rect(0, 0, 96, 64))
	for y := range 64 {
		for x := range 96 {
			sheet.SetNRGBA(x, y, [2]color.NRGBA{{0, 0, 0, 128}, {255, 0, 0, 0}}[2*x/96])
		}
	}
	gray := color.RGBA{127, 127, 127, 255}
	mustShow(t, mustDecode(t, mustRead(t, pngOf(t, sheet)).Full, 96, 64), [2][2]color.RGBA{{gray, white}, {gray, white}})
}

// A picture of any size comes out within its bounds, not enlarged, and as wide for
// its height as it was, within a pixel.
func TestReadKeepsAspectRatio(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		w := rapid.IntRange(1, 4000).Draw(t, "one side")
		h := rapid.IntRange(1, min(120_000/w, 65_535)).Draw(t, "other side")
		if rapid.Bool().Draw(t, "tall") {
			w, h = h, w
		}
		var file bytes.Buffer
		if err := jpeg.Encode(&file, image.NewGray(image.Rect(0, 0, w, h)), nil); err != nil {
			t.Fatal(err)
		}
		p, err := Read(t.Context(), &file)
		if err != nil {
			t.Fatal(err)
		}
		for _, made := range []struct {
			file []byte
			most int
		}{{p.Full, 1600}, {p.Small, 320}} {
			size, err := jpeg.DecodeConfig(bytes.NewReader(made.file))
			if err != nil {
				t.Fatal(err)
			}
			if got, want := max(size.Width, size.Height), min(max(w, h), made.most); got != want {
				t.Errorf("%d by %d became %d by %d, want %d on the long side", w, h, size.Width, size.Height, want)
			}
			scale := float64(max(size.Width, size.Height)) / float64(max(w, h))
			if math.Abs(float64(size.Width)-scale*float64(w)) > 1 || math.Abs(float64(size.Height)-scale*float64(h)) > 1 {
				t.Errorf("%d by %d became %d by %d", w, h, size.Width, size.Height)
			}
		}
		if size, err := jpeg.DecodeConfig(bytes.NewReader(p.Full)); err != nil || size.Width != p.Width || size.Height != p.Height {
			t.Errorf("the photo says %d by %d, the file %d by %d, %v", p.Width, p.Height, size.Width, size.Height, err)
		}
	})
}

func TestReadTellsTroubleFromRefusal(t *testing.T) {
	t.Parallel()
	trouble := errors.New("the line is dead")
	_, err := Read(t.Context(), io.MultiReader(bytes.NewReader(jpegOf(t, corners(8, 8))), iotest.ErrReader(trouble)))
	if !errors.Is(err, trouble) {
		t.Errorf("a reader that fails: %v", err)
	}
	if refusal, ok := errors.AsType[Refusal](err); ok {
		t.Errorf("a reader that fails is refused: %v", refusal)
	}
}

// The test takes all places, so it does not run beside others.
func TestReadWaitsForPlace(t *testing.T) {
	photo := jpegOf(t, corners(96, 64))
	for range cap(decoding) {
		decoding <- struct{}{}
	}
	ctx, stop := context.WithTimeout(t.Context(), 50*time.Millisecond)
	defer stop()
	if _, err := Read(ctx, bytes.NewReader(photo)); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("all places are taken, but: %v", err)
	}
	// What needs no decoding is refused at once.
	mustRefuse(t, []byte("text"), ErrNotPhoto)
	mustRefuse(t, pngStart(50_000, 50_000), ErrTooManyPixels)

	done := make(chan error)
	go func() {
		_, err := Read(t.Context(), bytes.NewReader(photo))
		done <- err
	}()
	<-decoding
	if err := <-done; err != nil {
		t.Errorf("a place is free, but: %v", err)
	}
	for range cap(decoding) - 1 {
		<-decoding
	}
	// A place is given back whatever comes of the picture.
	mustRefuse(t, photo[:len(photo)/2], ErrBroken)
	if n := len(decoding); n != 0 {
		t.Errorf("%d places are still taken", n)
	}
}

// Whatever comes in is either refused in words, or comes out within bounds.
func FuzzRead(f *testing.F) {
	for _, name := range []string{"corners-lossy.webp", "corners-lossless.webp", "clear.webp", "moving.webp"} {
		f.Add(fixture(f, name))
	}
	for _, file := range turned(f, exifBlock(binary.BigEndian, "", short(binary.BigEndian, 0x0112, 6))) {
		f.Add(file)
	}
	f.Add(pngStart(50_000, 50_000))
	f.Add([]byte("<svg onload=alert(1)>"))
	f.Fuzz(func(t *testing.T, file []byte) {
		p, err := Read(t.Context(), bytes.NewReader(file))
		if err != nil {
			if _, ok := errors.AsType[Refusal](err); !ok {
				t.Errorf("not refused in words: %v", err)
			}
			return
		}
		if max(p.Width, p.Height) > 1600 {
			t.Errorf("%d by %d", p.Width, p.Height)
		}
		mustDecode(t, p.Full, p.Width, p.Height)
		if small, err := jpeg.DecodeConfig(bytes.NewReader(p.Small)); err != nil || max(small.Width, small.Height) > 320 {
			t.Errorf("the small picture is %d by %d, %v", small.Width, small.Height, err)
		}
		mustBeBare(t, p)
	})
}

// BenchmarkRead reads a JPEG as a phone makes it, of 12 megapixels.
func BenchmarkRead(b *testing.B) {
	picture := corners(4000, 3000)
	noise := rand.New(rand.NewPCG(1, 2))
	for i := range picture.Pix {
		picture.Pix[i] ^= uint8(noise.UintN(16))
	}
	file := jpegOf(b, picture)
	b.SetBytes(int64(len(file)))
	b.ReportAllocs()
	for b.Loop() {
		mustRead(b, file)
	}
}
