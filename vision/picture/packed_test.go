package picture

import (
	"bytes"
	"compress/zlib"
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// The judge of TIFF data is held against libtiff, which writes these through OpenCV: what it packs must pass, and what
// was then damaged must be refused or decode, but never come out black.
func TestPackedTIFF(t *testing.T) {
	m, err := gocv.ImageToMatRGB(scene())
	require.NoError(t, err)
	deep, grey := gocv.NewMat(), gocv.NewMat()
	defer func() {
		for _, m := range []*gocv.Mat{&m, &deep, &grey} {
			require.NoError(t, m.Close())
		}
	}()
	m.ConvertToWithParams(&deep, gocv.MatTypeCV16U, 257, 0)
	gocv.CvtColor(m, &grey, gocv.ColorBGRToGray)
	const compression, rowsPerStrip = 259, 278 // OpenCV takes the tags' numbers
	for _, packed := range []int{packNone, packLZW, packJPEG, packDeflate, packDeflateOld, packBits} {
		for _, src := range []gocv.Mat{m, deep, grey} {
			if packed == packJPEG && src.Type() == gocv.MatTypeCV16UC3 {
				continue // JPEG has 8 bits
			}
			data := encodeCV(t, ".tif", src, compression, packed, rowsPerStrip, 16)
			p, err := Decode("a.tif", data)
			require.NoError(t, err, "compression %d", packed)
			if src.Channels() == 3 {
				assertScene(t, p.Mat, 10)
			}
			p.Close()
			for at := 8; at < len(data); at += 1 + len(data)/60 {
				p, err := Decode("a.tif", changed(data, at, data[at]^0xff))
				if err == nil {
					assert.Positive(t, p.Mat.Sum().Val1, "compression %d, byte %d", packed, at)
					p.Close()
				}
			}
		}
	}
}

// OpenCV writes no tiles: this picture of two tiles of 16 x 16, the second hanging over, is put together by hand.
func TestTiledTIFF(t *testing.T) {
	order := binary.BigEndian
	tiles := append(bytes.Repeat([]byte{50}, 256), bytes.Repeat([]byte{200}, 256)...)
	build := func(packed uint16, data []byte, cut int) []byte {
		half := uint32(len(data) / 2)
		fields := []field{
			{tagWidth, []uint16{24}}, {tagHeight, []uint16{16}}, {tagBits, []uint16{8}}, {tagCompression, []uint16{packed}},
			{tagPhotometric, []uint16{1}}, {tagSamples, []uint16{1}}, {tagTileWidth, []uint16{16}},
			{tagTileHeight, []uint16{16}}, {tagTileOffsets, []uint32{0, 0}}, {tagTileCounts, []uint32{half, half}},
		}
		at := uint32(len(buildTIFF(order, fields...)))
		fields[8].value = []uint32{at, at + half}
		all := append(buildTIFF(order, fields...), data...)
		return all[:len(all)-cut]
	}
	var zipped bytes.Buffer
	for _, tile := range [][]byte{tiles[:256], tiles[256:]} {
		z := zlib.NewWriter(&zipped)
		_, err := z.Write(tile)
		require.NoError(t, err)
		require.NoError(t, z.Close())
	}
	p, err := Decode("a.tif", build(packDeflate, zipped.Bytes(), 0))
	require.NoError(t, err)
	assert.Equal(t, []int{16, 24}, p.Mat.Size())
	assert.Equal(t, []byte{50, 200}, []byte{p.Mat.GetUCharAt(8, 0), p.Mat.GetUCharAt(15, 3*23)})
	p.Close()
	_, err = Decode("a.tif", build(packDeflate, zipped.Bytes(), 1))
	require.ErrorContains(t, err, "tile 2 of 2 lies beyond its end")
	_, err = Decode("a.tif", build(packNone, tiles, 0))
	require.ErrorContains(t, err, "is a TIFF in tiles without compression, which is not read")
}

// Runs and literals by TIFF 6.0, section 9, whose own example this is: 24 bytes packed into 15.
func TestPackBitsLength(t *testing.T) {
	data := []byte{0xfe, 0xaa, 0x02, 0x80, 0x00, 0x2a, 0xfd, 0xaa, 0x03, 0x80, 0x00, 0x2a, 0x22, 0xf7, 0xaa}
	assert.EqualValues(t, 24, packBitsLength(data, 1000))
	assert.EqualValues(t, 14, packBitsLength(data[:14], 1000))
	assert.EqualValues(t, 0, packBitsLength([]byte{0x80, 0x80, 0x05, 1}, 1000))
}
