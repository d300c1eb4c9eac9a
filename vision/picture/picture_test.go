package picture

import (
	"bytes"
	"encoding/binary"
	"image"
	"image/color"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// scene is a picture in which every place tells where it is: 40 x 24 pixels in eight fields of their own colour.
func scene() *image.RGBA {
	img := image.NewRGBA(image.Rect(0, 0, 40, 24))
	for y := range 24 {
		for x := range 40 {
			img.SetRGBA(x, y, sceneAt(x, y))
		}
	}
	return img
}

func sceneAt(x, y int) color.RGBA {
	n := x/10 + 4*(y/12)
	return color.RGBA{R: uint8(30 + 28*n), G: uint8(220 - 24*n), B: uint8(60 + 90*(n%3)), A: 255}
}

// stored is how a camera stores a scene under an EXIF orientation, straight from the table of CIPA DC-008 (from
// memory), which says which side of the scene the stored row 0 and column 0 show.
func stored(img *image.RGBA, orientation int) *image.RGBA {
	w, h := img.Rect.Dx(), img.Rect.Dy()
	cols, rows := w, h
	if orientation >= 5 {
		cols, rows = h, w
	}
	out := image.NewRGBA(image.Rect(0, 0, cols, rows))
	for r := range rows {
		for c := range cols {
			x, y := [9]int{1: c, 2: w - 1 - c, 3: w - 1 - c, 4: c, 5: r, 6: w - 1 - r, 7: w - 1 - r, 8: r}[orientation],
				[9]int{1: r, 2: r, 3: h - 1 - r, 4: h - 1 - r, 5: c, 6: c, 7: h - 1 - c, 8: h - 1 - c}[orientation]
			out.SetRGBA(c, r, img.RGBAAt(x, y))
		}
	}
	return out
}

// rgb gives the bytes of a picture without alpha; each value is repeated for 16 bits, which multiplies it by 257.
func rgb(img *image.RGBA, bits int) (out []byte) {
	for i, v := range img.Pix {
		if i%4 != 3 {
			out = append(out, v)
			if bits == 16 {
				out = append(out, v)
			}
		}
	}
	return out
}

func TestOrientationIsAppliedExactlyOnce(t *testing.T) {
	for orientation := 1; orientation <= 8; orientation++ {
		img := stored(scene(), orientation)
		w, h := img.Rect.Dx(), img.Rect.Dy()
		var order binary.AppendByteOrder = binary.LittleEndian
		if orientation%2 == 0 {
			order = binary.BigEndian
		}
		tag := field{tagOrientation, []uint16{uint16(orientation)}}
		exif := buildTIFF(order, tag)
		prefixed := append([]byte(exifPrefix), exif...)
		for name, data := range map[string][]byte{
			"a.jpg":          jpegWithEXIF(encodeJPEG(t, img), exif),
			"a.png":          pngWithChunk(encodePNG(t, img), "eXIf", exif),
			"prefixed.png":   pngWithChunk(encodePNG(t, img), "eXIf", prefixed),
			"a.webp":         webpWithEXIF(encodeWebP(t, img), exif, w, h),
			"prefixed.webp":  webpWithEXIF(encodeWebP(t, img), prefixed, w, h),
			"8bit.tif":       tiffPicture(order, w, h, 3, 8, rgb(img, 8), tag),
			"16bit.tif":      tiffPicture(order, w, h, 3, 16, rgb(img, 16), tag),
			"twice-said.tif": tiffPicture(order, w, h, 3, 8, rgb(img, 8), tag, field{34665, []field{tag}}),
		} {
			before := bytes.Clone(data)
			p, err := Decode(name, data)
			require.NoError(t, err, "%s %d", name, orientation)
			assertScene(t, p.Mat, 10)
			if p.Depth == 16 {
				assertScene(t, p.Deep, 0)
			}
			assert.Equal(t, before, data, "the bytes are the caller's")
			p.Close()
		}
	}
}

// assertScene looks at the middle of each field: lossy formats smear its rim.
func assertScene(t *testing.T, m gocv.Mat, tolerance int) {
	t.Helper()
	require.Equal(t, []int{24, 40, 3}, append(m.Size(), m.Channels()))
	for y := 6; y < 24; y += 12 {
		for x := 5; x < 40; x += 10 {
			want := sceneAt(x, y)
			for c, v := range []uint8{want.B, want.G, want.R} {
				got := 0
				if m.Type() == gocv.MatTypeCV16UC3 {
					got = int(m.GetShortAt(y, 3*x+c)) & 0xffff / 257
				} else {
					got = int(m.GetUCharAt(y, 3*x+c))
				}
				require.InDelta(t, int(v), got, float64(tolerance), "channel %d at %d, %d", c, x, y)
			}
		}
	}
}

func TestWhateverTheFileHoldsBecomesBGR(t *testing.T) {
	const w, h = 6, 4
	box := image.Rect(0, 0, w, h)
	uniform := func(img interface {
		image.Image
		Set(x, y int, c color.Color)
	}, c color.Color) image.Image {
		for y := range h {
			for x := range w {
				img.Set(x, y, c)
			}
		}
		return img
	}
	repeat := func(pixel ...byte) []byte { return bytes.Repeat(pixel, w*h) }
	le, be := binary.LittleEndian, binary.BigEndian
	half := color.NRGBA{R: 200, G: 20, B: 10, A: 51} // a fifth of itself over white: 244, 208, 206
	cases := []struct {
		name     string
		data     []byte
		b, g, r  uint8
		deep     []uint16 // of one pixel
		fuzzness float64
	}{
		{"grey.jpg", encodeJPEG(t, uniform(image.NewGray(box), color.Gray{Y: 90})), 90, 90, 90, nil, 1},
		{"grey.png", encodePNG(t, uniform(image.NewGray(box), color.Gray{Y: 90})), 90, 90, 90, nil, 0},
		{"grey16.png", encodePNG(t, uniform(image.NewGray16(box), color.Gray16{Y: 0x1234})), 18, 18, 18, []uint16{0x1234}, 0},
		{"rgb16.png", encodePNG(t, uniform(image.NewNRGBA64(box), color.NRGBA64{R: 65535, G: 1000, B: 128, A: 65535})),
			0, 4, 255, []uint16{128, 1000, 65535}, 0},
		{"alpha.png", encodePNG(t, uniform(image.NewNRGBA(box), half)), 206, 208, 244, nil, 0},
		{"alpha16.png", encodePNG(t, uniform(image.NewNRGBA64(box), half)), 206, 208, 244,
			[]uint16{206 * 257, 208 * 257, 244 * 257}, 0},
		{"palette.png", encodePNG(t, uniform(image.NewPaletted(box, color.Palette{color.RGBA{R: 9, G: 8, B: 7, A: 255}}),
			color.RGBA{R: 9, G: 8, B: 7, A: 255})), 7, 8, 9, nil, 0},
		{"palette-alpha.png", encodePNG(t, uniform(image.NewPaletted(box, color.Palette{half}), half)), 206, 208, 244, nil, 0},
		{"bilevel.png", encodePNG(t, image.NewPaletted(box, color.Palette{color.White, color.Black})), 255, 255, 255, nil, 0},
		{"grey8.tif", tiffPicture(le, w, h, 1, 8, repeat(77)), 77, 77, 77, nil, 0},
		{"white-is-zero.tif", tiffPicture(le, w, h, 1, 8, repeat(77), field{tagPhotometric, []uint16{0}}), 178, 178, 178, nil, 0},
		{"grey16.tif", tiffPicture(be, w, h, 1, 16, repeat(0x12, 0x34)), 18, 18, 18, []uint16{0x1234}, 0},
		{"rgb16.tif", tiffPicture(le, w, h, 3, 16, repeat(0x80, 0, 0xe8, 0x03, 0xff, 0xff)), 255, 4, 0,
			[]uint16{65535, 1000, 128}, 0},
		{"alpha.tif", tiffPicture(le, w, h, 4, 8, repeat(200, 20, 10, 51), field{tagExtraSamples, []uint16{2}}),
			206, 208, 244, nil, 1},
		{"premultiplied.tif", tiffPicture(le, w, h, 4, 8, repeat(40, 4, 2, 51), field{tagExtraSamples, []uint16{1}}),
			206, 208, 244, nil, 0},
		{"alpha16.tif", tiffPicture(be, w, h, 4, 16, repeat(200, 200, 20, 20, 10, 10, 51, 51),
			field{tagExtraSamples, []uint16{2}}), 206, 208, 244, []uint16{206 * 257, 208 * 257, 244 * 257}, 0},
		{"premultiplied16.tif", tiffPicture(be, w, h, 4, 16, repeat(40, 40, 4, 4, 2, 2, 51, 51),
			field{tagExtraSamples, []uint16{1}}), 206, 208, 244, []uint16{206 * 257, 208 * 257, 244 * 257}, 0},
		{"a.webp", encodeWebP(t, uniform(image.NewRGBA(box), color.RGBA{R: 9, G: 80, B: 170, A: 255})), 170, 80, 9, nil, 0},
		{"no-ending", encodePNG(t, uniform(image.NewGray(box), color.Gray{Y: 90})), 90, 90, 90, nil, 0},
		{"LOUD.PNG", encodePNG(t, uniform(image.NewGray(box), color.Gray{Y: 90})), 90, 90, 90, nil, 0},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			p, err := Decode(c.name, c.data)
			require.NoError(t, err)
			defer p.Close()
			require.Equal(t, gocv.MatTypeCV8UC3, p.Mat.Type())
			require.Equal(t, []int{h, w}, p.Mat.Size())
			for i, want := range []uint8{c.b, c.g, c.r} {
				assert.InDelta(t, want, p.Mat.GetUCharAt(h-1, 3*(w-1)+i), c.fuzzness, "channel %d", i)
			}
			assert.Equal(t, c.deep == nil, p.Deep.Empty())
			if c.deep != nil {
				require.Equal(t, 16, p.Depth)
				require.Equal(t, len(c.deep), p.Deep.Channels())
				for i, want := range c.deep {
					assert.Equal(t, want, uint16(p.Deep.GetShortAt(h-1, len(c.deep)*(w-1)+i)))
				}
			} else {
				require.Equal(t, 8, p.Depth)
			}
		})
	}
}

// A JPEG of four inks by hand: one block of each, all of mean value. What matters is that it decodes and ends nothing.
func TestFourInks(t *testing.T) {
	zeroCode := append([]byte{1}, make([]byte, 15)...) // one code of one bit
	data := bytes.Join([][]byte{
		{0xff, 0xd8},
		segment(0xdb, append([]byte{0}, bytes.Repeat([]byte{1}, 64)...)),
		segment(0xc0, []byte{8, 0, 8, 0, 8, 4, 1, 0x11, 0, 2, 0x11, 0, 3, 0x11, 0, 4, 0x11, 0}),
		segment(0xc4, append(append([]byte{0x00}, zeroCode...), 0)),
		segment(0xc4, append(append([]byte{0x10}, zeroCode...), 0)),
		segment(0xda, []byte{4, 1, 0, 2, 0, 3, 0, 4, 0, 0, 63, 0}),
		{0x00, 0xff, 0xd9},
	}, nil)
	p, err := Decode("inks.jpg", data)
	require.NoError(t, err)
	defer p.Close()
	assert.Equal(t, []int{8, 8}, p.Mat.Size())
	assert.Equal(t, gocv.MatTypeCV8UC3, p.Mat.Type())
}

// Phones append pictures and data of their own behind the end.
func TestWhatFollowsTheEndIsLeftAlone(t *testing.T) {
	img := scene()
	second := jpegWithEXIF(encodeJPEG(t, stored(img, 6)), buildTIFF(binary.BigEndian, field{tagOrientation, []uint16{6}}))
	thumb := append(buildTIFF(binary.LittleEndian, field{tagOrientation, []uint16{1}}), encodeJPEG(t, img)...)
	tails := map[string][]byte{
		"nothing": nil, "zeros": make([]byte, 3000), "rubbish": []byte("\xff\xff\x00trailer\xff"), "pictures": second,
		"a cut picture": second[:200],
	}
	for what, tail := range tails {
		for name, data := range map[string][]byte{
			"a.jpg": jpegWithEXIF(encodeJPEG(t, img), thumb), "a.png": encodePNG(t, img),
			"a.tif": tiffPicture(binary.LittleEndian, 40, 24, 3, 8, rgb(img, 8)), "a.webp": encodeWebP(t, img),
		} {
			p, err := Decode(name, append(data, tail...))
			require.NoError(t, err, "%s with %s", name, what)
			assertScene(t, p.Mat, 10)
			p.Close()
		}
	}
}

// A file that lost its end is refused at whichever byte it was cut, or nothing of the picture was lost.
func TestCutFilesAreRefused(t *testing.T) {
	img := scene()
	m, err := gocv.ImageToMatRGB(img)
	require.NoError(t, err)
	defer func() { require.NoError(t, m.Close()) }()
	exif := buildTIFF(binary.BigEndian, field{tagOrientation, []uint16{1}})
	for name, data := range map[string][]byte{
		"a.jpg":           jpegWithEXIF(encodeJPEG(t, img), exif),
		"progressive.jpg": encodeCV(t, ".jpg", m, gocv.IMWriteJpegProgressive, 1),
		"a.png":           encodePNG(t, img),
		"a.webp":          webpWithEXIF(encodeWebP(t, img), exif, 40, 24),
		"lossy.webp":      encodeCV(t, ".webp", m, gocv.IMWriteWebpQuality, 80),
		"packed.tif":      encodeCV(t, ".tif", m),
		"plain.tif":       tiffPicture(binary.BigEndian, 40, 24, 3, 8, rgb(img, 8)),
	} {
		accepted := 0
		for n := range len(data) {
			p, err := Decode(name, data[:n])
			if err == nil {
				assertScene(t, p.Mat, 24)
				p.Close()
				accepted++
				continue
			}
			require.NotContains(t, err.Error(), "\n")
			if n > 12 {
				require.Contains(t, err.Error(), "cut short", "%s cut at %d of %d", name, n, len(data))
			}
		}
		if strings.HasSuffix(name, ".tif") {
			assert.LessOrEqual(t, accepted, 8, "%s: only what follows the picture and its directory may be lost", name)
		} else {
			assert.Zero(t, accepted, name)
		}
	}
}

func TestOpen(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "crimp.jpg")
	data := encodeJPEG(t, scene())
	require.NoError(t, os.WriteFile(path, data, 0o600))
	p, err := Open(path)
	require.NoError(t, err)
	defer p.Close()
	assert.Equal(t, path, p.Name)
	assert.Equal(t, "jpeg", p.Format)
	assert.Len(t, p.SHA256, 64)
	assert.Zero(t, p.FocalPX)
	assertScene(t, p.Mat, 10)

	for name, want := range map[string]string{
		filepath.Join(dir, "gone.jpg"):    "does not exist: check the name and the folder",
		filepath.Join(path, "within.jpg"): "cannot be read (not a directory): check the name and the disk or card it lies on",
		dir:                               "is a folder, not a picture: name the pictures that lie in it",
		"/dev/null":                       "is not a regular file: save the picture to a file and name that",
	} {
		_, err := Open(name)
		assert.EqualError(t, err, `"`+name+`" `+want)
	}
	_, err = Open(dir + "/two\nlines.jpg")
	require.EqualError(t, err, `"`+dir+`/two\nlines.jpg" does not exist: check the name and the folder`)

	if os.Getuid() != 0 { // root may read everything
		require.NoError(t, os.Chmod(path, 0))
		_, err = Open(path)
		assert.EqualError(t, err, `"`+path+`" may not be read: get the permission to read it, or copy it to a folder of your own`)
	}
	huge := filepath.Join(dir, "huge.tif")
	require.NoError(t, os.WriteFile(huge, nil, 0o600))
	require.NoError(t, os.Truncate(huge, 3<<30)) // no room is taken on the disk
	_, err = Open(huge)
	assert.EqualError(t, err, `"`+huge+`" has 3.2 GB, more than the 2.1 GB that a picture's file may have: `+
		`crop the picture to the crimp and its scale reference`)
}
