package picture

import "encoding/binary"

// readWebP walks a WebP's chunks (RFC 9649) to the end that its first bytes tell. What follows that is left alone.
func readWebP(data []byte) (header, error) {
	h := header{format: "webp", depth: 8}
	end := int64(binary.LittleEndian.Uint32(data[4:])) + 8
	whole := end <= int64(len(data))
	data = data[:min(end, int64(len(data)))]
	pixels := false
	for at := 12; at+8 <= len(data); {
		kind, length := string(data[at:at+4]), int64(binary.LittleEndian.Uint32(data[at+4:]))
		at += 8
		body := data[at:min(int64(at)+length, int64(len(data)))]
		if err := h.webpChunk(kind, body); err != nil {
			return h, err
		}
		pixels = pixels || kind == "VP8 " || kind == "VP8L"
		if int64(len(body)) < length {
			return h, cutShort("webp", "it ends within a chunk")
		}
		at += len(body) + len(body)%2
	}
	switch {
	case !whole:
		return h, cutShort("webp", "it is smaller than it says")
	case !pixels:
		return h, &fault{"is a WebP without a picture in it", "export it again"}
	}
	return h, nil
}

func (h *header) webpChunk(kind string, body []byte) error {
	switch kind {
	case "VP8X":
		if len(body) < 10 {
			return cutShort("webp", "it ends within its header")
		}
		h.alpha = body[0]&0x10 != 0
		if err := h.webpSize(uint24(body[4:])+1, uint24(body[7:])+1); err != nil {
			return err
		}
		if body[0]&0x02 != 0 {
			return unsupported("webp", "with moving pictures")
		}
	case "VP8 ":
		if len(body) < 10 {
			return cutShort("webp", "it ends within its header")
		}
		if string(body[3:6]) != "\x9d\x01\x2a" {
			return damaged("webp", "its picture does not begin with a key frame")
		}
		return h.webpSize(int(binary.LittleEndian.Uint16(body[6:])&0x3fff), int(binary.LittleEndian.Uint16(body[8:])&0x3fff))
	case "VP8L":
		if len(body) < 5 {
			return cutShort("webp", "it ends within its header")
		}
		if body[0] != 0x2f {
			return damaged("webp", "its lossless picture lacks its first byte")
		}
		bits := binary.LittleEndian.Uint32(body[1:])
		h.alpha = h.alpha || bits>>28&1 != 0
		return h.webpSize(int(bits&0x3fff)+1, int(bits>>14&0x3fff)+1)
	case "EXIF":
		h.exif = withoutPrefix(body)
	}
	return nil
}

// webpSize takes the size where it is told first; where it is told again it must be the same.
func (h *header) webpSize(width, height int) error {
	if h.sized && (width != h.width || height != h.height) {
		return damaged("webp", "it tells two sizes")
	}
	h.width, h.height, h.sized = width, height, true
	return nil
}

func uint24(b []byte) int { return int(b[0]) | int(b[1])<<8 | int(b[2])<<16 }
