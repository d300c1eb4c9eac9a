package picture

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// size returns a copy of a picture whose header claims another size.
func pngOfSize(data []byte, w, h uint32) []byte {
	data = bytes.Clone(data)
	binary.BigEndian.PutUint32(data[16:], w)
	binary.BigEndian.PutUint32(data[20:], h)
	binary.BigEndian.PutUint32(data[29:], crc32.ChecksumIEEE(data[12:29]))
	return data
}

func frame(marker byte, bits byte, w, h uint16) []byte {
	body := binary.BigEndian.AppendUint16([]byte{bits}, h)
	body = append(binary.BigEndian.AppendUint16(body, w), 1, 1, 0x11, 0)
	return append([]byte{0xff, 0xd8}, segment(marker, body)...)
}

// changed returns a copy with another byte at a place; places below 0 count from the end.
func changed(data []byte, at int, to byte) []byte {
	data = bytes.Clone(data)
	if at < 0 {
		at += len(data)
	}
	data[at] = to
	return data
}

func TestWhatIsRefused(t *testing.T) {
	img := scene()
	jpg, png, web := encodeJPEG(t, img), encodePNG(t, img), encodeWebP(t, img)
	le := binary.LittleEndian
	tif := func(more ...field) []byte { return tiffPicture(le, 40, 24, 3, 8, rgb(img, 8), more...) }
	const (
		again   = ": copy it again from the camera or phone, or take the picture again"
		give    = ": name a JPEG, PNG, TIFF or WebP"
		export  = ": export it as an 8 or 16 bit PNG or TIFF, or as a JPEG"
		crop    = ": crop the picture to the crimp and its scale reference"
		asJPEG  = ": export it as JPEG and measure that"
		still   = ": take a still picture"
		unpack  = ": unpack it and name the pictures"
		another = ": export it again"
	)
	for _, c := range []struct {
		name, data, want string
	}{
		{"a.jpg", "", "is empty (0 bytes)" + again},
		{"a.jpg", string(make([]byte, 4096)), "holds nothing but zero bytes" + again},
		{"a.jpg", "\x01\x02\x03\x04 rubbish \x80", "is not a picture that can be told" + give},
		{"notes.txt", "Crimp 4 looks fine.\n", "is not a picture but text" + give},
		{"a.jpg", string(bytes.Repeat([]byte("grün, "), 200)), "is not a picture but text" + give},
		{"a.jpg", "\n<!DOCTYPE html><title>404</title>", "is not a picture but a web page" + give},
		{"a.svg", "<?xml version='1.0'?><svg/>", "is not a picture but an SVG drawing" + give},
		{"a.pdf", "%PDF-1.7\n...", "is not a picture but a PDF document: save the picture in it as PNG or JPEG"},
		{"a.zip", "PK\x03\x04\x14\x00", "is not a picture but a ZIP archive or an office document" + unpack},
		{"a.gz", "\x1f\x8b\x08\x00", "is not a picture but a gzip archive" + unpack},
		{"a.gif", "GIF89a", "is a GIF, which has too few colours to be measured: export the original as PNG or JPEG"},
		{"a.bmp", "BM\x00\x01\x00\x00\x00\x00\x00\x00\x36\x00\x00\x00", "is a BMP, which is not read: export it as PNG and measure that"},
		{"a.wav", "RIFF\x24\x00\x00\x00WAVEfmt ", "is not a picture but a sound or video file" + still},
		{"a.heic", "\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic", "is a HEIC picture, which is not read: " +
			"export it as JPEG and measure that, or set the phone's camera to take JPEG"},
		{"a.jpg", "\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic", "is a HEIC picture, which is not read: " +
			"export it as JPEG and measure that, or set the phone's camera to take JPEG"},
		{"a.avif", "\x00\x00\x00\x1cftypavif\x00\x00\x00\x00avifmif1miaf", "is an AVIF picture, which is not read" + asJPEG},
		{"a.mp4", "\x00\x00\x00\x18ftypisom\x00\x00\x02\x00isomiso2", "is not a picture but a video" + still},
		{"a.jxl", "\xff\x0a\x00\x10", "is a JPEG XL, which is not read" + asJPEG},

		{"a.png", string(jpg), "is named .png but holds a JPEG: rename it to end in .jpg if it is the picture you mean"},
		{"a.JPG", string(png), "is named .jpg but holds a PNG: rename it to end in .png if it is the picture you mean"},
		{"a.heic", string(jpg), "is named .heic but holds a JPEG: rename it to end in .jpg if it is the picture you mean"},
		{"a.webp", string(tif()), "is named .webp but holds a TIFF: rename it to end in .tif if it is the picture you mean"},
		{"a.tiff", string(web), "is named .tiff but holds a WebP: rename it to end in .webp if it is the picture you mean"},

		{"a.png", string(pngOfSize(png, 20000, 10001)[:40]),
			"is a PNG of 20000 x 10001 pixels by its header, 200 megapixels, and at most 200 are decoded" + crop},
		{"a.png", string(pngOfSize(png, 1<<31, 1<<31)), "is a PNG of 2147483648 x 2147483648 pixels by its header, " +
			"but a side may have at most 65535" + crop},
		{"a.png", string(pngOfSize(png, 0, 9)), "is a PNG of 0 x 9 pixels and so holds no picture" + another},
		{"a.jpg", string(frame(0xc0, 8, 65535, 65535)),
			"is a JPEG of 65535 x 65535 pixels by its header, 4295 megapixels, and at most 200 are decoded" + crop},
		{"a.jpg", string(frame(0xc2, 8, 100, 0)), "is a JPEG of 100 x 0 pixels and so holds no picture" + another},
		{"a.tif", string(tif(field{tagHeight, []uint32{1 << 31}})),
			"is a TIFF of 40 x 2147483648 pixels by its header, but a side may have at most 65535" + crop},
		{"a.webp", string(webp(riff("VP8X", []byte{0, 0, 0, 0, 0xff, 0x3f, 0, 0xff, 0x3f, 0}))),
			"is a WebP of 16384 x 16384 pixels by its header, 268 megapixels, and at most 200 are decoded" + crop},

		{"a.jpg", string(jpg[:len(jpg)-2]), "is a JPEG that is cut short (the mark of its end is missing)" + again},
		{"a.jpg", string(jpg[:len(jpg)/30]), "is a JPEG that is cut short (it ends within a segment)" + again},
		{"a.jpg", string(jpg[:2]), "is a JPEG that is cut short (hardly more than its first bytes)" + again},
		{"a.jpg", string(append(bytes.Clone(jpg[:len(jpg)-90]), make([]byte, 400)...)),
			"is a JPEG that is cut short (the mark of its end is missing)" + again},
		{"a.jpg", "\xff\xd8\xff\xd9", "is a JPEG without a picture in it" + another},
		{"a.jpg", "\xff\xd8\xff\xda\x00\x02\xff\xd9", "is a JPEG that is damaged (its picture begins before its size is told)" + again},
		{"a.jpg", "\xff\xd8\xff\xe0\x00\x01", "is a JPEG that is damaged (a segment has an impossible length)" + again},
		{"a.jpg", string(frame(0xc1, 12, 9, 9)), "is a JPEG of 12 bits a channel, which is not read" + export},
		{"a.jpg", string(frame(0xc3, 8, 9, 9)), "is a JPEG with lossless or hierarchical compression, which is not read" + export},
		{"a.jpg", string(frame(0xc5, 8, 9, 9)), "is a JPEG with lossless or hierarchical compression, which is not read" + export},
		{"a.png", string(png[:len(png)-12]), "is a PNG that is cut short (its end chunk is missing)" + again},
		{"a.png", string(png[:len(png)-30]), `is a PNG that is cut short (it ends within chunk "IDAT")` + again},
		{"a.png", string(changed(png, 60, 1)), `is a PNG that is damaged (the check sum of chunk "IDAT" is wrong)` + again},
		{"a.png", string(changed(png, 12, 'J')), "is a PNG that is damaged (it does not begin with its size)" + again},
		{"a.png", pngSignature + string(png[8:33]) + string(png[len(png)-12:]), "is a PNG without a picture in it" + another},
		{"a.webp", string(web[:len(web)-2]), "is a WebP that is cut short (it ends within a chunk)" + again},
		{"a.webp", string(changed(web, 20, 0)), "is a WebP that is damaged (its lossless picture lacks its first byte)" + again},
		{"a.webp", string(webp()), "is a WebP without a picture in it" + another},
		{"a.webp", string(webp(riff("VP8X", make([]byte, 10)), web[12:])), "is a WebP that is damaged (it tells two sizes)" + again},
		{"a.webp", string(webp(riff("VP8X", []byte{2, 9: 0}))), "is a WebP with moving pictures, which is not read" + export},
		{"a.tif", "II*\x00\x08\x00\x00\x00", "is a TIFF that is cut short (its directory lies beyond its end)" + again},
		{"a.tif", string(tif()[:60]), "is a TIFF that is cut short (its directory goes on beyond its end)" + again},
		{"a.tif", string(tif()[:400]), "is a TIFF that is cut short (strip 1 of 2 lies beyond its end)" + again},
		{"a.tif", string(tif()[:2000]), "is a TIFF that is cut short (strip 2 of 2 lies beyond its end)" + again},
		{"a.tif", string(tif(field{tagRowsPerStrip, []uint16{3}})),
			"is a TIFF that is damaged (it lists 2 strips where its size needs 8)" + again},
		{"a.tif", string(tif(field{tagStripCounts, []uint32{1440, 0}})), "is a TIFF that is damaged (strip 2 of 2 does not hold what it should)" + again},
		{"a.tif", string(buildTIFF(le, field{tagWidth, []uint16{3}})), "is a TIFF that is damaged (its size is not told)" + again},
		{"a.tif", "II+\x00\x08\x00\x00\x00", "is a TIFF with 64-bit offsets (BigTIFF), which is not read" + export},
		{"a.tif", string(tif(field{tagBits, []uint16{32, 32, 32}})), "is a TIFF of 32 bits a channel, which is not read" + export},
		{"a.tif", string(tif(field{tagBits, []uint16{8, 8, 16}})), "is a TIFF with channels of unlike depths, which is not read" + export},
		{"a.tif", string(tif(field{tagSampleFormat, []uint16{3, 3, 3}})),
			"is a TIFF of signed or floating point numbers, which is not read" + export},
		{"a.tif", string(tif(field{tagSamples, []uint16{5}})), "is a TIFF of 5 channels with colours 2, which is not read" + export},
		{"a.tif", string(tif(field{tagSubfile, []uint32{1}})), "is a TIFF whose first page is only a preview, which is not read" + export},
		{"a.tif", string(tif(field{tagRawVersion, []uint32{1}})),
			"is a camera's raw picture, which is not read: export it as JPEG, or as 16 bit TIFF"},
		{"a.tif", string(tiffPicture(le, 40, 24, 1, 16, make([]byte, 40*24*2), field{tagPhotometric, []uint16{0}})),
			"is a TIFF of 16 bits with uncommon colours or channels that lie apart, which is not read" + export},
		{"a.tif", string(tif(field{tagCompression, []uint16{9}})),
			"is a TIFF with compression 9 of colours 2, which is not read" + export},
		{"a.tif", string(tif(field{tagPhotometric, []uint16{6}})),
			"is a TIFF with compression 1 of colours 6, which is not read" + export},
		{"a.tif", string(tif(field{tagCompression, []uint16{5}})),
			"is a TIFF that is damaged (strip 1 of 2 does not hold what it should)" + again},
		{"a.tif", string(tif(field{tagCompression, []uint16{8}})),
			"is a TIFF that is damaged (strip 1 of 2 does not hold what it should)" + again},
		{"a.tif", string(tif(field{tagStripCounts, []uint32{2880, 1440}})),
			"is a TIFF that is damaged (its strips overlap)" + again},
		{"a.tif", string(tiffPicture(le, 40, 24, 3, 16, rgb(img, 16), field{tagTileOffsets, []uint32{8}})),
			"is a TIFF that is damaged (its tiles have an impossible size)" + again},
	} {
		p, err := Decode(c.name, []byte(c.data))
		if assert.Error(t, err, c.want) {
			assert.Equal(t, `"`+c.name+`" `+c.want, err.Error())
			assert.Equal(t, Picture{}, p)
		} else {
			p.Close()
		}
	}
}

// Damage that leaves a file's structure whole is for the decoders to find, and may end nothing.
func TestDamageWithin(t *testing.T) {
	img := scene()
	for name, data := range map[string][]byte{
		"a.jpg": encodeJPEG(t, img), "a.webp": encodeWebP(t, img), "a.png": encodePNG(t, img),
		"a.tif": tiffPicture(binary.LittleEndian, 40, 24, 3, 16, rgb(img, 16)),
	} {
		for at := 0; at < len(data); at += 1 + len(data)/150 {
			p, err := Decode(name, changed(data, at, data[at]^0x5a))
			if err == nil {
				assert.False(t, p.Mat.Empty())
				p.Close()
			}
		}
	}
}

// FuzzSniff holds the header readers to their promise: no input makes them panic, and what they accept has a size
// within the limits.
func FuzzSniff(f *testing.F) {
	img := image.NewRGBA(image.Rect(0, 0, 5, 3))
	exif := buildTIFF(binary.BigEndian, field{tagOrientation, []uint16{6}}, field{0x110, "trial camera"},
		field{34665, []field{{0x9003, "2026:05:04 10:11:12"}, {0x9011, "+02:00"}, {0xa405, []uint16{26}}}})
	f.Add(jpegWithEXIF(encodeJPEG(f, img), exif))
	f.Add(pngWithChunk(encodePNG(f, img), "eXIf", exif))
	f.Add(webpWithEXIF(encodeWebP(f, img), exif, 5, 3))
	f.Add(tiffPicture(binary.LittleEndian, 5, 3, 3, 8, rgb(img, 8)))
	f.Add(tiffPicture(binary.BigEndian, 5, 3, 4, 16, make([]byte, 120), field{tagExtraSamples, []uint16{1}}))
	packed, err := gocv.ImageToMatRGB(img)
	require.NoError(f, err)
	for _, compression := range []int{packLZW, packDeflate, packBits, packJPEG} {
		f.Add(encodeCV(f, ".tif", packed, tagCompression, compression))
	}
	require.NoError(f, packed.Close())
	f.Add(exif)
	f.Add([]byte("\x00\x00\x00\x18ftypmif1\x00\x00\x00\x00mif1heic"))
	f.Add([]byte("<svg"))
	f.Fuzz(func(t *testing.T, data []byte) {
		h, err := examine("fuzz", data)
		if err != nil {
			require.NotContains(t, refused("a\nb", err).Error(), "\n")
			return
		}
		require.Positive(t, h.width)
		require.LessOrEqual(t, h.width, maxPixels/h.height)
		require.Contains(t, []int{8, 16}, h.depth)
		require.True(t, h.orientation >= 1 && h.orientation <= 8)
		meta := readMetadata(h.exif)
		require.LessOrEqual(t, len([]rune(meta.camera())), 121)
		require.GreaterOrEqual(t, meta.focalPX(h.width, h.height), 0.0)
	})
}

// A JPEG that was cut in the middle and given an end mark by a careless copier is refused as well.
func TestCutJPEGWithAnEndMark(t *testing.T) {
	data, err := os.ReadFile("../../testdata/photo/photo-1022.jpg")
	require.NoError(t, err)
	for _, share := range []float64{0.4, 0.85, 0.97} {
		cut := append(bytes.Clone(data[:int(share*float64(len(data)))]), 0xff, 0xd9)
		_, err := Decode("a.jpg", cut)
		require.ErrorContains(t, err, "cut short")
	}
}
