package photo

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"slices"
	"testing"
)

// The files that the tests send.

var (
	red    = color.RGBA{255, 0, 0, 255}
	green  = color.RGBA{0, 255, 0, 255}
	blue   = color.RGBA{0, 0, 255, 255}
	yellow = color.RGBA{255, 255, 0, 255}
	white  = color.RGBA{255, 255, 255, 255}
)

// corners is red and green above, blue and yellow below.
func corners(w, h int) *image.RGBA {
	picture := image.NewRGBA(image.Rect(0, 0, w, h))
	for y := range h {
		for x := range w {
			c := [2][2]color.RGBA{{red, green}, {blue, yellow}}[2*y/h][2*x/w]
			picture.SetRGBA(x, y, c)
		}
	}
	return picture
}

func jpegOf(t testing.TB, picture image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := jpeg.Encode(&out, picture, &jpeg.Options{Quality: 95}); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

func pngOf(t testing.TB, picture image.Image) []byte {
	t.Helper()
	var out bytes.Buffer
	if err := png.Encode(&out, picture); err != nil {
		t.Fatal(err)
	}
	return out.Bytes()
}

// fixture reads a file that testdata/make.sh has made.
func fixture(t testing.TB, name string) []byte {
	t.Helper()
	data, err := os.ReadFile(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	return data
}

// segment is one segment of a JPEG.
func segment(marker byte, content string) []byte {
	head := binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(content)+2))
	return append(head, content...)
}

// withSegments puts segments in front of all others of a JPEG.
func withSegments(file []byte, added ...[]byte) []byte {
	return slices.Concat(file[:2], slices.Concat(added...), file[2:])
}

// pngChunk is one chunk of a PNG.
func pngChunk(name, content string) []byte {
	out := binary.BigEndian.AppendUint32(nil, uint32(len(content)))
	out = append(out, name+content...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

// pngStart is what a PNG of this size begins with, in black and white.
func pngStart(w, h uint32) []byte {
	size := binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(nil, w), h)
	return append([]byte("\x89PNG\r\n\x1a\n"), pngChunk("IHDR", string(size)+"\x01\x00\x00\x00\x00")...)
}

// withChunks puts chunks behind the header of a PNG, which is 33 bytes long.
func withChunks(file []byte, added ...[]byte) []byte {
	return slices.Concat(file[:33], slices.Concat(added...), file[33:])
}

// webpChunk is one chunk of a WebP.
func webpChunk(name, content string) []byte {
	out := binary.LittleEndian.AppendUint32([]byte(name), uint32(len(content)))
	return append(out, content+"\x00"[:len(content)%2]...)
}

// webpOf makes a WebP of chunks.
func webpOf(chunks ...[]byte) []byte {
	return webpChunk("RIFF", "WEBP"+string(slices.Concat(chunks...)))
}

// webpHeader is the chunk VP8X.
func webpHeader(flags byte, w, h int) []byte {
	w, h = w-1, h-1
	return webpChunk("VP8X", string([]byte{flags, 0, 0, 0, byte(w), byte(w >> 8), byte(w >> 16), byte(h), byte(h >> 8), byte(h >> 16)}))
}

// entry is one field of an EXIF directory.
type entry struct {
	tag, kind    uint16
	count, value uint32
}

// short is a field that holds one SHORT, which stands at the beginning of the
// four bytes of its value in both byte orders.
func short(order binary.ByteOrder, tag, value uint16) entry {
	var four [4]byte
	order.PutUint16(four[:], value)
	return entry{tag, 3, 1, order.Uint32(four[:])}
}

// exifBlock writes an EXIF block with one directory, and more bytes behind it.
func exifBlock(order binary.AppendByteOrder, behind string, entries ...entry) string {
	out := []byte("II*\x00")
	if order == binary.AppendByteOrder(binary.BigEndian) {
		out = []byte("MM\x00*")
	}
	out = order.AppendUint32(out, 8)
	out = order.AppendUint16(out, uint16(len(entries)))
	for _, e := range entries {
		out = order.AppendUint16(order.AppendUint16(out, e.tag), e.kind)
		out = order.AppendUint32(order.AppendUint32(out, e.count), e.value)
	}
	return string(order.AppendUint32(out, 0)) + behind
}

// turned makes files of every format that hold corners(96, 64) and the EXIF
// block.
func turned(t testing.TB, exif string) map[string][]byte {
	t.Helper()
	lossless := fixture(t, "corners-lossless.webp")[12:]
	return map[string][]byte{
		"JPEG":                       withSegments(jpegOf(t, corners(96, 64)), segment(0xe1, "Exif\x00\x00"+exif)),
		"JPEG with fill bytes":       withSegments(jpegOf(t, corners(96, 64)), []byte{0xff, 0xff}, segment(0xe1, "Exif\x00\x00"+exif)),
		"PNG":                        withChunks(pngOf(t, corners(96, 64)), pngChunk("eXIf", exif)),
		"WebP":                       webpOf(webpHeader(1<<3, 96, 64), lossless, webpChunk("EXIF", exif)),
		"WebP behind an odd chunk":   webpOf(webpHeader(1<<3, 96, 64), webpChunk("ICCP", "odd"), lossless, webpChunk("EXIF", exif)),
		"WebP with a JPEG's marking": webpOf(webpHeader(1<<3, 96, 64), lossless, webpChunk("EXIF", "Exif\x00\x00"+exif)),
	}
}

// bomb is a whole PNG of 50 000 by 50 000 white pixels in 300 kB.
func bomb(t testing.TB) []byte {
	t.Helper()
	// All rows are zeros, so one compressed piece can be repeated.
	var piece bytes.Buffer
	w := zlib.NewWriter(&piece)
	if _, err := w.Write(make([]byte, 1<<20)); err != nil {
		t.Fatal(err)
	}
	if err := w.Flush(); err != nil {
		t.Fatal(err)
	}
	const head = 2
	rows := 50_000 * (1 + 50_000/8)
	data := slices.Concat(piece.Bytes()[:head], bytes.Repeat(piece.Bytes()[head:], rows>>20+1))
	return slices.Concat(pngStart(50_000, 50_000), pngChunk("IDAT", string(data)), pngChunk("IEND", ""))
}
