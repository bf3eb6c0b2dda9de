package photo

import (
	"encoding/binary"
	"testing"

	"pgregory.net/rapid"
)

// A block that cannot be followed leaves the picture as it is stored.
func TestOrientationOfHostileBlock(t *testing.T) {
	t.Parallel()
	order := binary.LittleEndian
	good := exifBlock(order, "", short(order, 0x0112, 6))
	if got := orientation([]byte(good)); got != 6 {
		t.Fatalf("the good block says %d", got)
	}
	at := func(offset uint32) string { return good[:4] + string(order.AppendUint32(nil, offset)) + good[8:] }
	for name, block := range map[string]string{
		"nothing":                       "",
		"a byte order alone":            "II*\x00",
		"no byte order":                 "XX" + good[2:],
		"two byte orders":               "IM" + good[2:],
		"no 42":                         "II\x00\x00" + good[4:],
		"a directory behind the end":    at(uint32(len(good))),
		"a directory on the last byte":  at(uint32(len(good) - 1)),
		"a directory far away":          at(0xffff_ffff),
		"a directory of all bits but 1": at(0xffff_fffe),
		"a directory below zero":        at(0x8000_0000),
		"more entries than there are":   good[:8] + "\xff\xff" + good[10:14],
		"no entries":                    good[:8] + "\x00\x00" + good[10:],
		"an entry cut off":              good[:8+2+11],
		"the value 0":                   exifBlock(order, "", short(order, 0x0112, 0)),
		"the value 9":                   exifBlock(order, "", short(order, 0x0112, 9)),
		"a value behind an offset":      exifBlock(order, "", entry{0x0112, 3, 3, 6}),
		"no value":                      exifBlock(order, "", entry{0x0112, 3, 0, 6}),
		"another type":                  exifBlock(order, "", entry{0x0112, 4, 1, 6}),
		"another tag":                   exifBlock(order, "", short(order, 0x1201, 6)),
	} {
		if got := orientation([]byte(block)); got != 1 {
			t.Errorf("%s: %d, want 1", name, got)
		}
	}
}

func TestOrientationOfAnyBytes(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		head := rapid.SampledFrom([]string{"II*\x00", "MM\x00*", ""}).Draw(t, "head")
		block := append([]byte(head), rapid.SliceOf(rapid.Byte()).Draw(t, "block")...)
		if got := orientation(block); got < 1 || got > 8 {
			t.Errorf("%d", got)
		}
	})
}

// An EXIF block whose length lies is not found, and the picture is read as it is
// stored, where the decoder reads it at all.
func TestReadLetsLyingBlockBe(t *testing.T) {
	t.Parallel()
	lossless := fixture(t, "corners-lossless.webp")[12:]
	long := webpOf(webpHeader(0, 96, 64), lossless, append([]byte("EXIF\xff\xff\xff\xff"), exifBlock(binary.LittleEndian, "", short(binary.LittleEndian, 0x0112, 6))...))
	if p := mustRead(t, long); p.Width != 96 {
		t.Errorf("the picture was turned to %d by %d", p.Width, p.Height)
	}
	for _, exif := range [][]byte{
		exifOfJPEG([]byte("\xff\xd8\xff\xe1\xff\xffExif\x00\x00MM")),
		exifOfJPEG([]byte("\xff\xd8\xff\xe1\x00\x00Exif\x00\x00MM")),
		exifOfJPEG([]byte("\xff\xd8\xff\xd9\xff\xe1\x00\x0aExif\x00\x00MM")),
		exifOfPNG(append(pngStart(8, 8), "\xff\xff\xff\xffeXIfMM"...)),
		exifOfPNG(append(pngStart(8, 8), "\x00\x00\x00\x02eXIfMM"...)),
		exifOfWebP([]byte("RIFF\x04\x00\x00\x00WEBPEXIF\x03\x00\x00\x00MM")),
	} {
		if exif != nil {
			t.Errorf("the block %q was found", exif)
		}
	}
}
