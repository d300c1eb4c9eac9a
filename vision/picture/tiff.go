package picture

import (
	"encoding/binary"
	"fmt"
)

// The tags of a TIFF that matter here (TIFF 6.0, sections 8 and 15 to 18; the last three are of raw pictures).
const (
	tagSubfile         = 254
	tagWidth           = 256
	tagHeight          = 257
	tagBits            = 258
	tagCompression     = 259
	tagPhotometric     = 262
	tagStripOffsets    = 273
	tagOrientation     = 274
	tagSamples         = 277
	tagRowsPerStrip    = 278
	tagStripCounts     = 279
	tagPlanar          = 284
	tagTileWidth       = 322
	tagTileHeight      = 323
	tagTileOffsets     = 324
	tagTileCounts      = 325
	tagExtraSamples    = 338
	tagSampleFormat    = 339
	tagRawVersion      = 50706
	photometricRaw     = 32803
	photometricRawLine = 34892
)

// directory is one image file directory of a TIFF, or of the EXIF data of another file, which have the same structure.
// Entries are read where they lie; nothing is copied, and no directory leads to another, so nothing can loop.
type directory struct {
	data    []byte
	order   binary.ByteOrder
	entries []byte // 12 bytes each
	whole   bool   // all the entries that it announces are there
}

// firstDirectory finds the first directory; false where the structure does not lead to one.
func firstDirectory(data []byte) (directory, bool) {
	if len(data) < 8 {
		return directory{}, false
	}
	d := directory{data: data}
	switch string(data[:4]) {
	case "II*\x00":
		d.order = binary.LittleEndian
	case "MM\x00*":
		d.order = binary.BigEndian
	default:
		return directory{}, false
	}
	at := int64(d.order.Uint32(data[4:]))
	if at < 8 || at+2 > int64(len(data)) {
		return directory{}, false
	}
	length := int64(d.order.Uint16(data[at:])) * 12
	rest := data[at+2:]
	d.whole = length <= int64(len(rest))
	d.entries = rest[:min(length, int64(len(rest))/12*12)]
	return d, true
}

// find gives the place of a tag's entry within the data of entries, or -1. Of a repeated tag the first counts.
func (d directory) find(tag uint16) int {
	for at := 0; at < len(d.entries); at += 12 {
		if d.order.Uint16(d.entries[at:]) == tag {
			return at
		}
	}
	return -1
}

// typeSizes are the sizes in bytes of the types of values, by their numbers (TIFF 6.0, section 2).
var typeSizes = [13]int64{0, 1, 1, 2, 4, 8, 1, 1, 2, 4, 8, 4, 8}

// values gives the bytes of an entry's values; false where they lie outside the file.
func (d directory) values(entry []byte) (kind uint16, values []byte, ok bool) {
	kind = d.order.Uint16(entry[2:])
	if int(kind) >= len(typeSizes) {
		return kind, nil, true
	}
	size := typeSizes[kind] * int64(d.order.Uint32(entry[4:]))
	if size <= 4 {
		return kind, entry[8 : 8+size], true
	}
	from := int64(d.order.Uint32(entry[8:]))
	if from+size > int64(len(d.data)) {
		return kind, nil, false
	}
	return kind, d.data[from : from+size], true
}

// numbers gives a tag's whole numbers: how many there are and a function that reads one. There are none where the tag
// is missing, is of another type, or its values lie outside the file.
func (d directory) numbers(tag uint16) (n int, get func(i int) uint32) {
	at := d.find(tag)
	if at < 0 {
		return 0, nil
	}
	kind, values, _ := d.values(d.entries[at : at+12])
	switch kind {
	case 1: // BYTE
		return len(values), func(i int) uint32 { return uint32(values[i]) }
	case 3: // SHORT
		return len(values) / 2, func(i int) uint32 { return uint32(d.order.Uint16(values[2*i:])) }
	case 4: // LONG
		return len(values) / 4, func(i int) uint32 { return d.order.Uint32(values[4*i:]) }
	}
	return 0, nil
}

// complete tells whether the values of all entries that describe the picture lie within the file. Private tags may
// point astray: nobody reads them.
func (d directory) complete() bool {
	for at := 0; at < len(d.entries); at += 12 {
		entry := d.entries[at : at+12]
		if _, _, ok := d.values(entry); !ok && d.order.Uint16(entry) <= tagSampleFormat {
			return false
		}
	}
	return d.whole
}

// number gives a tag's first whole number, or what holds where the tag is missing.
func (d directory) number(tag uint16, missing uint32) uint32 {
	if n, get := d.numbers(tag); n > 0 {
		return get(0)
	}
	return missing
}

// readTIFF reads the first page of a TIFF, as OpenCV does, and checks that all of its strips or tiles lie within the
// file.
func readTIFF(data []byte) (header, error) {
	h := header{format: "tiff", exif: data}
	if len(data) > 3 && (data[2] == '+' || data[3] == '+') {
		return h, unsupported("tiff", "with 64-bit offsets (BigTIFF)")
	}
	d, ok := firstDirectory(data)
	if !ok {
		return h, cutShort("tiff", "its directory lies beyond its end")
	}
	if d.find(tagWidth) >= 0 && d.find(tagHeight) >= 0 {
		h.width, h.height, h.sized = int(d.number(tagWidth, 0)), int(d.number(tagHeight, 0)), true
	}
	switch {
	case !d.complete():
		return h, cutShort("tiff", "its directory goes on beyond its end")
	case !h.sized:
		return h, damaged("tiff", "its size is not told")
	}
	if err := h.tiffKind(d); err != nil {
		return h, err
	}
	h.orientation = int(d.number(tagOrientation, 1))
	return h, h.tiffData(d)
}

// tiffKind takes depth and alpha, and refuses the kinds of TIFF that OpenCV would not decode, or decode wrongly.
func (h *header) tiffKind(d directory) error {
	photometric, samples := d.number(tagPhotometric, 1<<16), d.number(tagSamples, 1)
	n, bits := d.numbers(tagBits)
	h.depth = int(d.number(tagBits, 1))
	for i := range n {
		if bits(i) != uint32(h.depth) {
			return unsupported("tiff", "with channels of unlike depths")
		}
	}
	switch {
	case d.find(tagRawVersion) >= 0, photometric == photometricRaw, photometric == photometricRawLine:
		return &fault{"is a camera's raw picture, which is not read", "export it as JPEG, or as 16 bit TIFF"}
	case d.number(tagSubfile, 0)&1 != 0:
		return unsupported("tiff", "whose first page is only a preview")
	case d.number(tagSampleFormat, 1) > 1 && d.number(tagSampleFormat, 1) != 4:
		return unsupported("tiff", "of signed or floating point numbers")
	case h.depth != 8 && h.depth != 16:
		return unsupported("tiff", fmt.Sprintf("of %d bits a channel", h.depth))
	case !readable(d.number(tagCompression, 1), photometric):
		return unsupported("tiff", fmt.Sprintf("with compression %d of colours %d", d.number(tagCompression, 1), photometric))
	case !coloured(photometric, samples):
		return unsupported("tiff", fmt.Sprintf("of %d channels with colours %d", samples, photometric))
	case h.depth == 8 && samples < 4 && d.find(tagTileOffsets) >= 0 && d.number(tagCompression, 1) == packNone:
		// OpenCV 4.6 takes each tile for one of four channels then, and gives up.
		return unsupported("tiff", "in tiles without compression")
	case h.depth == 16 && (photometric != 1 && photometric != 2 || d.number(tagPlanar, 1) != 1 && samples > 1):
		return unsupported("tiff", "of 16 bits with uncommon colours or channels that lie apart")
	}
	extra, _ := d.numbers(tagExtraSamples)
	h.alpha = samples == 4 && (extra > 0 || photometric == 2)
	// OpenCV gets 8 bits through libtiff's RGBA reader, which multiplies by alpha, and takes 16 bits as they are.
	h.premultiplied = h.depth == 8 || d.number(tagExtraSamples, 0) == 1
	return nil
}

// coloured tells whether libtiff makes colours of so many channels of that meaning, by the tags' numbers.
func coloured(photometric, samples uint32) bool {
	switch photometric {
	case 0, 1, 3: // grey, white or black being zero, and palettes
		return samples == 1
	case 2: // RGB
		return samples == 3 || samples == 4
	case 5: // four inks
		return samples == 4
	case colourYCbCr:
		return samples == 3
	}
	return false
}
