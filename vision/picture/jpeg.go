package picture

import (
	"bytes"
	"encoding/binary"
	"fmt"

	"gocv.io/x/gocv"
)

// The markers of a JPEG that matter here (ITU-T T.81, table B.1).
const (
	markerTEM  = 0x01
	markerRST0 = 0xd0
	markerRST7 = 0xd7
	markerSOI  = 0xd8
	markerEOI  = 0xd9
	markerSOS  = 0xda
	markerAPP1 = 0xe1
)

// readJPEG walks a JPEG's segments and scans up to the first picture's end. Phones append more pictures and data of
// their own; whatever follows the end is left alone. That the end is there does not prove that the scans are whole,
// but a file that was cut has lost it.
func readJPEG(data []byte) (header, error) {
	h := header{format: "jpeg", depth: 8}
	scanned := false
	for at := 2; ; {
		marker, next := nextMarker(data, at)
		switch {
		case marker == 0 && scanned:
			return h, cutShort("jpeg", "the mark of its end is missing")
		case marker == 0:
			return h, cutShort("jpeg", "it ends before its picture begins")
		case marker == markerEOI && !scanned:
			return h, &fault{"is a JPEG without a picture in it", "export it again"}
		case marker == markerEOI:
			return h, nil
		case marker == markerTEM, marker == markerSOI, marker >= markerRST0 && marker <= markerRST7:
			at = next // these stand alone
			continue
		}
		if next+2 > len(data) {
			return h, cutShort("jpeg", "it ends within a segment")
		}
		length := int(binary.BigEndian.Uint16(data[next:]))
		if length < 2 {
			return h, damaged("jpeg", "a segment has an impossible length")
		}
		if next+length > len(data) {
			return h, cutShort("jpeg", "it ends within a segment")
		}
		if err := h.jpegSegment(marker, data[next+2:next+length]); err != nil {
			return h, err
		}
		scanned = scanned || marker == markerSOS
		at = next + length
	}
}

// nextMarker finds the marker at or after a place and gives it with the place behind it; 0 where there is none. It
// passes over a scan's data, in which FF is followed by 00, and over fill bytes and rubbish between segments, as
// decoders do.
func nextMarker(data []byte, at int) (marker byte, next int) {
	for at < len(data) {
		skip := bytes.IndexByte(data[at:], 0xff)
		if skip < 0 {
			break
		}
		for at += skip; at < len(data) && data[at] == 0xff; {
			at++
		}
		if at < len(data) && data[at] != 0 {
			return data[at], at + 1
		}
		at++
	}
	return 0, len(data)
}

// jpegSegment takes the size from the frame header, and the metadata from the first EXIF segment.
func (h *header) jpegSegment(marker byte, body []byte) error {
	switch {
	case marker == markerAPP1 && h.exif == nil:
		h.exif, _ = bytes.CutPrefix(body, []byte(exifPrefix))
		if len(h.exif) == len(body) {
			h.exif = nil // another kind of metadata
		}
	case marker == markerSOS && !h.sized:
		return damaged("jpeg", "its picture begins before its size is told")
	case isFrame(marker) && !h.sized:
		if len(body) < 6 {
			return damaged("jpeg", "its frame header is too short")
		}
		h.height, h.width = int(binary.BigEndian.Uint16(body[1:])), int(binary.BigEndian.Uint16(body[3:]))
		h.sized = true
		if body[0] != 8 {
			return unsupported("jpeg", fmt.Sprintf("of %d bits a channel", body[0]))
		}
		if kind := marker & 0x0f; kind&3 == 3 || kind > 4 && kind&4 != 0 {
			return unsupported("jpeg", "with lossless or hierarchical compression")
		}
	}
	return nil
}

// isFrame tells the frame headers SOF0 to SOF15 from the three other markers of that range (DHT, JPG, DAC).
func isFrame(marker byte) bool {
	return marker >= 0xc0 && marker <= 0xcf && marker != 0xc4 && marker != 0xc8 && marker != 0xcc
}

// endsEarly tells whether a decoded JPEG's data ended before its picture did though an end was marked: the decoder then leaves
// the rest at mid grey, a whole band of it along one side (which one depends on the orientation). No camera gives that.
func endsEarly(m gocv.Mat) bool {
	const band, missing = 8, 128
	pix, err := m.DataPtrUint8()
	w, h := m.Cols(), m.Rows()
	if err != nil || w <= 2*band || h <= 2*band {
		return false
	}
	grey := func(x0, x1, y0, y1 int) bool {
		for y := y0; y < y1; y++ {
			for _, v := range pix[3*(y*w+x0) : 3*(y*w+x1)] {
				if v != missing {
					return false
				}
			}
		}
		return true
	}
	atSide := grey(0, w, h-band, h) || grey(0, w, 0, band) || grey(0, band, 0, h) || grey(w-band, w, 0, h)
	return atSide && !grey(0, w, 0, h)
}
