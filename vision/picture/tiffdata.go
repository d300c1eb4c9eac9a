package picture

import (
	"bytes"
	"compress/zlib"
	"fmt"
	"io"

	"golang.org/x/image/tiff/lzw"
)

// OpenCV gives black, and no error, where an 8-bit TIFF's data are damaged or missing, so they are judged here first:
// every strip or tile must lie within the file and unpack to the size that it should have. Unpacked data are counted
// and thrown away as they come, so this needs no memory.

// The compressions that are read (TIFF 6.0; deflate and the newer JPEG by its technical notes), by number.
const (
	packNone       = 1
	packLZW        = 5
	packJPEG       = 7
	packDeflate    = 8
	packBits       = 32773
	packDeflateOld = 32946
	colourYCbCr    = 6
)

// readable tells whether a TIFF's compression is read. Colours of brightness and hue, which take less room than their
// channels, are read from JPEG data only.
func readable(compression, photometric uint32) bool {
	switch compression {
	case packJPEG:
		return true
	case packNone, packLZW, packDeflate, packDeflateOld, packBits:
		return photometric != colourYCbCr
	}
	return false
}

// layout is how a TIFF's picture is cut into strips or tiles.
type layout struct {
	name          string // strip or tile
	across, down  int    // how many of them
	planes        int    // 1, or the channels where each lies for itself
	width, height int    // pixels of one; the last strip may be less high
	pixelBytes    int    // of one plane
}

// tiffLayout reads the layout; false where it makes no sense.
func (h *header) tiffLayout(d directory) (layout, bool) {
	samples := int(d.number(tagSamples, 1))
	l := layout{name: "strip", across: 1, planes: 1, width: h.width, pixelBytes: samples * h.depth / 8}
	if d.number(tagPlanar, 1) == 2 {
		l.planes, l.pixelBytes = samples, h.depth/8
	}
	l.height = min(int(d.number(tagRowsPerStrip, 1<<32-1)), h.height)
	if d.find(tagTileOffsets) >= 0 {
		l.name, l.width, l.height = "tile", int(d.number(tagTileWidth, 0)), int(d.number(tagTileHeight, 0))
	}
	if l.width <= 0 || l.height <= 0 || l.width > maxSide+1 || l.height > maxSide+1 ||
		l.width > maxPixels/l.height || checkSize(*h) != nil {
		return l, false
	}
	l.across, l.down = (h.width+l.width-1)/l.width, (h.height+l.height-1)/l.height
	return l, true
}

// tiffData checks the data of the whole picture.
func (h *header) tiffData(d directory) error {
	l, ok := h.tiffLayout(d)
	if !ok {
		return damaged("tiff", "its "+l.name+"s have an impossible size")
	}
	where, counts := uint16(tagStripOffsets), uint16(tagStripCounts)
	if l.name == "tile" {
		where, counts = tagTileOffsets, tagTileCounts
	}
	need := l.across * l.down * l.planes
	n, from := d.numbers(where)
	m, length := d.numbers(counts)
	if n < need || m < need {
		return damaged("tiff", fmt.Sprintf("it lists %d %ss where its size needs %d", min(n, m), l.name, need))
	}
	compression, total := d.number(tagCompression, 1), int64(0)
	for i := range need {
		start, end := int64(from(i)), int64(from(i))+int64(length(i))
		if end > int64(len(d.data)) {
			return cutShort("tiff", fmt.Sprintf("%s %d of %d lies beyond its end", l.name, i+1, need))
		}
		// Data that are named again and again would make the work grow without bound.
		if total += end - start; total > int64(len(d.data)) {
			return damaged("tiff", "its "+l.name+"s overlap")
		}
		rows := l.height
		if l.name == "strip" {
			rows = min(rows, h.height-i%l.down*l.height)
		}
		if !unpacks(d.data[start:end], compression, int64(l.width)*int64(rows)*int64(l.pixelBytes)) {
			return damaged("tiff", fmt.Sprintf("%s %d of %d does not hold what it should", l.name, i+1, need))
		}
	}
	return nil
}

// unpacks tells whether packed data hold at least so many bytes.
func unpacks(data []byte, compression uint32, want int64) bool {
	var r io.Reader
	switch compression {
	case packNone:
		return int64(len(data)) >= want
	case packBits:
		return packBitsLength(data, want) >= want
	case packJPEG:
		_, err := readJPEG(data)
		return sniff(data) == "jpeg" && err == nil
	case packLZW:
		unpacker := lzw.NewReader(bytes.NewReader(data), lzw.MSB, 8)
		defer func() { _ = unpacker.Close() }()
		r = unpacker
	default:
		unpacker, err := zlib.NewReader(bytes.NewReader(data))
		if err != nil {
			return false
		}
		defer func() { _ = unpacker.Close() }()
		r = unpacker
	}
	n, _ := io.CopyN(io.Discard, r, want)
	return n == want
}

// packBitsLength counts what run-length coded data unpack to (TIFF 6.0, section 9), up to what is wanted.
func packBitsLength(data []byte, want int64) (n int64) {
	for at := 0; at < len(data) && n < want; {
		switch code := int(int8(data[at])); {
		case code >= 0: // code + 1 bytes as they are
			if at+2+code > len(data) {
				return n
			}
			n += int64(code) + 1
			at += 2 + code
		case code == -128: // nothing
			at++
		default: // one byte, 1 - code times
			if at+2 > len(data) {
				return n
			}
			n += 1 - int64(code)
			at += 2
		}
	}
	return n
}
