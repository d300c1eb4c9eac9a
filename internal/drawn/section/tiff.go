package section

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"image"
	"io"
)

// encodeTIFF writes 8-bit colour as microscopes do: three samples a pixel, no alpha (which the library's encoder always
// adds), one deflated strip. TIFF 6.0 sections 2 and 6; compression 8 is Adobe's technical note of 2002.
func encodeTIFF(w io.Writer, img *image.RGBA) error {
	var data bytes.Buffer
	z := zlib.NewWriter(&data)
	size := img.Bounds().Size()
	row := make([]byte, 3*size.X)
	for y := range size.Y {
		for x := range size.X {
			copy(row[3*x:3*x+3], img.Pix[y*img.Stride+4*x:])
		}
		if _, err := z.Write(row); err != nil {
			return err
		}
	}
	if err := z.Close(); err != nil {
		return err
	}
	const short, long = 3, 4
	const bits = 8 // where the three bit depths stand, right after the header
	strip := uint32(bits + 6 + 2)
	entries := [][4]uint32{ // tag, type, count, value; ascending tags
		{256, long, 1, uint32(size.X)}, {257, long, 1, uint32(size.Y)}, {258, short, 3, bits}, {259, short, 1, 8}, {262, short, 1, 2},
		{273, long, 1, strip}, {277, short, 1, 3}, {278, long, 1, uint32(size.Y)}, {279, long, 1, uint32(data.Len())}, {284, short, 1, 1},
	}
	directory := strip + uint32(data.Len()+data.Len()%2)
	var out bytes.Buffer
	put := func(v ...any) {
		for _, x := range v {
			_ = binary.Write(&out, binary.LittleEndian, x) // a buffer takes everything
		}
	}
	put([]byte("II"), uint16(42), directory, [3]uint16{8, 8, 8}, uint16(0), data.Bytes(), make([]byte, data.Len()%2), uint16(len(entries)))
	for _, e := range entries {
		put(uint16(e[0]), uint16(e[1]), e[2], e[3])
	}
	put(uint32(0))
	_, err := w.Write(out.Bytes())
	return err
}
