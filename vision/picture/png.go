package picture

import (
	"encoding/binary"
	"fmt"
	"hash/crc32"
)

const pngSignature = "\x89PNG\r\n\x1a\n"

// readPNG walks a PNG's chunks (PNG specification, third edition, sections 5 and 11) to its end chunk. What follows
// that is left alone.
func readPNG(data []byte) (header, error) {
	h := header{format: "png", depth: 8}
	pixels := false
	for at := len(pngSignature); ; {
		if at+8 > len(data) {
			return h, cutShort("png", "its end chunk is missing")
		}
		length, kind := int64(binary.BigEndian.Uint32(data[at:])), string(data[at+4:at+8])
		if length > 1<<31-1 {
			return h, damaged("png", "a chunk has an impossible length")
		}
		if !h.sized && (kind != "IHDR" || length != 13) {
			return h, damaged("png", "it does not begin with its size")
		}
		if int64(at)+12+length > int64(len(data)) {
			return h, cutShort("png", fmt.Sprintf("it ends within chunk %q", kind))
		}
		body, sum := data[at+8:at+8+int(length)], data[at+4:at+8+int(length)]
		// The first letter of a chunk that is needed is a capital. A wrong sum elsewhere does no harm.
		if kind[0]&0x20 == 0 && crc32.ChecksumIEEE(sum) != binary.BigEndian.Uint32(data[at+8+int(length):]) {
			return h, damaged("png", fmt.Sprintf("the check sum of chunk %q is wrong", kind))
		}
		at += 12 + int(length)
		switch kind {
		case "IHDR":
			if err := h.pngHeader(body); err != nil {
				return h, err
			}
		case "tRNS":
			h.alpha = true
		case "eXIf":
			h.exif = withoutPrefix(body)
		case "IDAT":
			pixels = true
		case "IEND":
			if !pixels {
				return h, &fault{"is a PNG without a picture in it", "export it again"}
			}
			return h, nil
		}
	}
}

func (h *header) pngHeader(body []byte) error {
	if h.sized {
		return damaged("png", "it tells its size twice")
	}
	width, height := binary.BigEndian.Uint32(body), binary.BigEndian.Uint32(body[4:])
	h.width, h.height, h.sized = int(width), int(height), true
	bits, colour := body[8], body[9]
	switch bits {
	case 1, 2, 4, 8:
		h.depth = 8
	case 16:
		h.depth = 16
	default:
		return damaged("png", fmt.Sprintf("it claims %d bits a channel", bits))
	}
	h.alpha = colour == 4 || colour == 6
	return nil
}
