package photo

import (
	"bytes"
	"encoding/binary"
	"iter"
)

// A picture file is a row of parts: the segments of a JPEG, the chunks of a PNG
// or a WebP. The decoders read the parts that make the picture. This file reads
// what they pass over. Every length in it is the sender's word and is checked
// before it is followed; at the first that does not fit, reading ends.

// The markers of a JPEG that matter here, ITU-T T.81, table B.1.
const (
	markerRST0 = 0xd0
	markerRST7 = 0xd7
	markerEOI  = 0xd9
	markerSOS  = 0xda
	markerAPP1 = 0xe1
)

// maxScans is the largest number of scans that a JPEG may have. Encoders write
// one, or about ten in a progressive JPEG. Each scan of a few bytes may make the
// decoder walk over the whole picture once more, so that a file within all other
// limits would keep it busy for hours.
const maxScans = 64

// segments gives the markers of a JPEG, each with what follows its length, up to
// the end of the picture. It finds at least the scans that the decoder finds.
func segments(data []byte) iter.Seq2[byte, []byte] {
	return func(yield func(byte, []byte) bool) {
		for i := 2; i+4 <= len(data); {
			marker := data[i+1]
			if data[i] != 0xff || marker == 0 || marker == 0xff || markerRST0 <= marker && marker <= markerRST7 {
				i++ // inside a scan, or before a marker
				continue
			}
			if marker == markerEOI {
				return
			}
			end := i + 2 + int(binary.BigEndian.Uint16(data[i+2:]))
			if end < i+4 || end > len(data) || !yield(marker, data[i+4:end]) {
				return
			}
			i = end
		}
	}
}

func scans(data []byte) int {
	n := 0
	for marker := range segments(data) {
		if marker == markerSOS {
			n++
		}
	}
	return n
}

func exifOfJPEG(data []byte) []byte {
	for marker, body := range segments(data) {
		if exif, found := bytes.CutPrefix(body, []byte("Exif\x00\x00")); found && marker == markerAPP1 {
			return exif
		}
	}
	return nil
}

// exifOfPNG finds the chunk eXIf. A chunk is a length, a name, the content and a
// checksum (W3C, PNG Third Edition, 5.3 and 11.3.4.5).
func exifOfPNG(data []byte) []byte {
	for rest := data[8:]; len(rest) >= 12; {
		length := uint64(binary.BigEndian.Uint32(rest))
		if length+12 > uint64(len(rest)) {
			return nil
		}
		if string(rest[4:8]) == "eXIf" {
			return rest[8 : 8+length]
		}
		rest = rest[12+length:]
	}
	return nil
}

// exifOfWebP finds the chunk EXIF. A chunk is a name, a length and the content,
// filled up to an even length (RFC 9649, 2.3 and 2.7.1.5). Some programs begin
// the content as in a JPEG.
func exifOfWebP(data []byte) []byte {
	for rest := data[12:]; len(rest) >= 8; {
		length := uint64(binary.LittleEndian.Uint32(rest[4:]))
		if length+8 > uint64(len(rest)) {
			return nil
		}
		if string(rest[:4]) == "EXIF" {
			return bytes.TrimPrefix(rest[8:8+length], []byte("Exif\x00\x00"))
		}
		rest = rest[min(8+length+length%2, uint64(len(rest))):]
	}
	return nil
}

// moves tells whether a WebP is an animation: it then begins with the chunk VP8X
// and has the second bit of its flags set (RFC 9649, 2.7).
func moves(data []byte) bool {
	return len(data) > 20 && string(data[12:16]) == "VP8X" && data[20]&2 != 0
}

// orientation reads the tag Orientation, one SHORT in the first directory of an
// EXIF block (EXIF 2.3, 4.6.2 and 4.6.4 A). A block that cannot be read, or has
// no such tag, leaves the picture as it is, which is the value 1.
func orientation(exif []byte) int {
	const (
		asStored       = 1
		tagOrientation = 0x0112
		typeShort      = 3
		entrySize      = 12
	)
	if len(exif) < 8 {
		return asStored
	}
	var order binary.ByteOrder
	switch string(exif[:4]) {
	case "II*\x00":
		order = binary.LittleEndian
	case "MM\x00*":
		order = binary.BigEndian
	default:
		return asStored
	}
	start := uint64(order.Uint32(exif[4:]))
	if start+2 > uint64(len(exif)) {
		return asStored
	}
	entries := exif[start+2:]
	for range order.Uint16(exif[start:]) {
		if len(entries) < entrySize {
			break
		}
		tag, kind, count, value := order.Uint16(entries), order.Uint16(entries[2:]), order.Uint32(entries[4:]), order.Uint16(entries[8:])
		if tag == tagOrientation && kind == typeShort && count == 1 && 1 <= value && value <= 8 {
			return int(value)
		}
		entries = entries[entrySize:]
	}
	return asStored
}
