package picture

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/jpeg"
	"image/png"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// field is an entry of a TIFF directory: a string is ASCII, numbers are SHORT or LONG, bytes are the pixels (the entry
// holds their place), and fields are a directory of their own.
type field struct {
	tag   uint16
	value any
}

// buildTIFF writes a TIFF structure, as TIFF 6.0 section 2 and EXIF describe it.
func buildTIFF(order binary.AppendByteOrder, fields ...field) []byte {
	out := []byte("II*\x00")
	if order.String() == binary.BigEndian.String() {
		out = []byte("MM\x00*")
	}
	out = order.AppendUint32(out, 8)
	out, _ = appendDirectory(out, order, fields)
	return out
}

func appendDirectory(out []byte, order binary.AppendByteOrder, fields []field) (grown []byte, at int) {
	at = len(out)
	out = append(out, make([]byte, 2+12*len(fields)+4)...)
	put := order.(binary.ByteOrder)
	put.PutUint16(out[at:], uint16(len(fields)))
	for i, f := range fields {
		var kind uint16
		var count int
		var value []byte
		switch v := f.value.(type) {
		case string:
			kind, value = 2, append([]byte(v), 0)
			count = len(value)
		case []uint16:
			kind, count = 3, len(v)
			for _, n := range v {
				value = order.AppendUint16(value, n)
			}
		case []uint32:
			kind, count = 4, len(v)
			for _, n := range v {
				value = order.AppendUint32(value, n)
			}
		case []byte:
			kind, count = 4, 1
			value = order.AppendUint32(nil, uint32(len(out)))
			out = append(out, v...)
		case []field:
			var sub int
			out, sub = appendDirectory(out, order, v)
			kind, count = 4, 1
			value = order.AppendUint32(nil, uint32(sub))
		}
		entry := at + 2 + 12*i
		if len(value) > 4 {
			put.PutUint32(out[entry+8:], uint32(len(out)))
			out = append(out, value...)
		} else {
			copy(out[entry+8:], value)
		}
		put.PutUint16(out[entry:], f.tag)
		put.PutUint16(out[entry+2:], kind)
		put.PutUint32(out[entry+4:], uint32(count))
	}
	return out, at
}

// tiffPicture writes an uncompressed TIFF of two strips with the tags given besides.
func tiffPicture(order binary.AppendByteOrder, w, h, samples, bits int, pixels []byte, more ...field) []byte {
	half := (h + 1) / 2
	row := len(pixels) / h
	photometric := uint16(2)
	if samples == 1 {
		photometric = 1
	}
	depths := make([]uint16, samples)
	for i := range depths {
		depths[i] = uint16(bits)
	}
	fields := []field{
		{tagWidth, []uint16{uint16(w)}}, {tagHeight, []uint32{uint32(h)}}, {tagBits, depths}, {tagCompression, []uint16{1}},
		{tagPhotometric, []uint16{photometric}}, {tagStripOffsets, []uint32{8, 8}},
		{tagSamples, []uint16{uint16(samples)}}, {tagRowsPerStrip, []uint16{uint16(half)}},
		{tagStripCounts, []uint32{uint32(half * row), uint32((h - half) * row)}},
	}
	for _, f := range more {
		at := 0
		for at < len(fields) && fields[at].tag < f.tag {
			at++
		}
		replaced := at < len(fields) && fields[at].tag == f.tag
		if replaced {
			fields[at] = f
			continue
		}
		fields = append(fields[:at], append([]field{f}, fields[at:]...)...)
	}
	// Build it once to learn where it ends: the pixels come there.
	at := uint32(len(buildTIFF(order, fields...)))
	for i := range fields {
		if fields[i].tag == tagStripOffsets {
			fields[i].value = []uint32{at, at + uint32(half*row)}
		}
	}
	return append(buildTIFF(order, fields...), pixels...)
}

func encodeJPEG(t testing.TB, img image.Image) []byte {
	var b bytes.Buffer
	require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: 95}))
	return b.Bytes()
}

func encodePNG(t testing.TB, img image.Image) []byte {
	var b bytes.Buffer
	require.NoError(t, png.Encode(&b, img))
	return b.Bytes()
}

// encodeCV encodes by OpenCV; the Mat's channels are blue, green, red.
func encodeCV(t testing.TB, ext gocv.FileExt, m gocv.Mat, params ...int) []byte {
	if len(params) == 0 {
		params = []int{gocv.IMWriteJpegQuality, 95} // gocv wants some; the other formats pass over it
	}
	buf, err := gocv.IMEncodeWithParams(ext, m, params)
	require.NoError(t, err)
	defer buf.Close()
	return bytes.Clone(buf.GetBytes())
}

// encodeWebP encodes without loss: OpenCV takes a quality above 100 for that.
func encodeWebP(t testing.TB, img image.Image) []byte {
	m, err := gocv.ImageToMatRGB(img)
	require.NoError(t, err)
	defer func() { require.NoError(t, m.Close()) }()
	return encodeCV(t, ".webp", m, gocv.IMWriteWebpQuality, 101)
}

// segment is a JPEG's marker segment.
func segment(marker byte, body []byte) []byte {
	return append(binary.BigEndian.AppendUint16([]byte{0xff, marker}, uint16(len(body)+2)), body...)
}

func jpegWithEXIF(data, exif []byte) []byte {
	out := append([]byte{0xff, 0xd8}, segment(markerAPP1, append([]byte(exifPrefix), exif...))...)
	return append(out, data[2:]...)
}

// chunk is a PNG's chunk.
func chunk(kind string, body []byte) []byte {
	out := append(binary.BigEndian.AppendUint32(nil, uint32(len(body))), kind...)
	out = append(out, body...)
	return binary.BigEndian.AppendUint32(out, crc32.ChecksumIEEE(out[4:]))
}

func pngWithChunk(data []byte, kind string, body []byte) []byte {
	const afterHeader = 8 + 25
	return bytes.Join([][]byte{data[:afterHeader], chunk(kind, body), data[afterHeader:]}, nil)
}

// riff is a chunk of a WebP; webp puts chunks together to a file.
func riff(kind string, body []byte) []byte {
	out := append(binary.LittleEndian.AppendUint32([]byte(kind), uint32(len(body))), body...)
	return append(out, make([]byte, len(body)%2)...)
}

func webp(chunks ...[]byte) []byte {
	return riff("RIFF", append([]byte("WEBP"), bytes.Join(chunks, nil)...))
}

func webpWithEXIF(data, exif []byte, w, h int) []byte {
	size := []byte{0x08, 0, 0, 0, byte(w - 1), byte((w - 1) >> 8), 0, byte(h - 1), byte((h - 1) >> 8), 0}
	return webp(riff("VP8X", size), data[12:], riff("EXIF", exif))
}
