package vision

import (
	"context"
	"image"
	"image/color"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	drawn "crimprule/internal/drawn/section"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// A cut does not change when its picture is turned, mirrored, scaled, lit or stained by noise in another way: what is
// measured must not either. No source is needed: the picture itself is the reference.
var sameSections = []struct {
	name   string
	change func(t testing.TB, src gocv.Mat, dst *gocv.Mat)
	mirror bool
	scale  float64 // pixels of the new picture for one of the old; 0: 1
}{
	{"turned by 90 degrees", func(_ testing.TB, s gocv.Mat, d *gocv.Mat) { gocv.Rotate(s, d, gocv.Rotate90Clockwise) }, false, 0},
	{"turned by 180 degrees", func(_ testing.TB, s gocv.Mat, d *gocv.Mat) { gocv.Rotate(s, d, gocv.Rotate180Clockwise) }, false, 0},
	{"turned by 270 degrees", func(_ testing.TB, s gocv.Mat, d *gocv.Mat) { gocv.Rotate(s, d, gocv.Rotate90CounterClockwise) }, false, 0},
	{"turned by 37 degrees", func(t testing.TB, s gocv.Mat, d *gocv.Mat) { turned(t, s, d, 37) }, false, 0},
	{"mirrored", func(_ testing.TB, s gocv.Mat, d *gocv.Mat) { gocv.Flip(s, d, 1) }, true, 0},
	{"scaled by 0.75", func(_ testing.TB, s gocv.Mat, d *gocv.Mat) {
		gocv.Resize(s, d, image.Pt(s.Cols()*3/4, s.Rows()*3/4), 0, 0, gocv.InterpolationArea)
	}, false, 0.75},
	{"darker by 20 %", func(t testing.TB, s gocv.Mat, d *gocv.Mat) {
		eachByte(t, s, d, func(v float64) float64 { return 0.8 * v })
	}, false, 0},
	{"another tone curve", func(t testing.TB, s gocv.Mat, d *gocv.Mat) {
		eachByte(t, s, d, func(v float64) float64 { return 255 * math.Pow(v/255, 0.8) })
	}, false, 0},
	{"noisier", func(t testing.TB, s gocv.Mat, d *gocv.Mat) {
		random := rand.New(rand.NewPCG(11, 4))
		eachByte(t, s, d, func(v float64) float64 { return v + 3*random.NormFloat64() })
	}, false, 0},
}

// eachByte fills dst with a function of every value of src.
func eachByte(t testing.TB, src gocv.Mat, dst *gocv.Mat, f func(v float64) float64) {
	t.Helper()
	src.CopyTo(dst)
	pix, err := dst.DataPtrUint8()
	require.NoError(t, err)
	for i, v := range pix {
		pix[i] = uint8(math.Round(math.Max(0, math.Min(255, f(float64(v))))))
	}
}

// turned gives the picture turned about its middle, large enough to hold it all; the corners are filled with the tone of
// its own top left one.
func turned(t testing.TB, src gocv.Mat, dst *gocv.Mat, deg float64) {
	t.Helper()
	w, h := float64(src.Cols()), float64(src.Rows())
	sin, cos := math.Sincos(deg * math.Pi / 180)
	size := image.Pt(int(w*cos+h*sin)+2, int(w*sin+h*cos)+2)
	m := gocv.GetRotationMatrix2D(image.Pt(src.Cols()/2, src.Rows()/2), deg, 1)
	defer m.Close()
	m.SetDoubleAt(0, 2, m.GetDoubleAt(0, 2)+float64(size.X/2-src.Cols()/2))
	m.SetDoubleAt(1, 2, m.GetDoubleAt(1, 2)+float64(size.Y/2-src.Rows()/2))
	corner := src.Region(image.Rect(0, 0, 20, 20))
	defer corner.Close()
	tone := corner.Mean() // blue, green, red
	fill := color.RGBA{B: uint8(tone.Val1), G: uint8(tone.Val2), R: uint8(tone.Val3)}
	gocv.WarpAffineWithParams(src, dst, m, size, gocv.InterpolationLanczos4, gocv.BorderConstant, fill)
}

func TestASectionDoesNotChangeWithThePicture(t *testing.T) {
	grey := writeScene(t, "drawn-12", drawn.Random(12))
	for name, k := range map[string]knownSection{
		"drawn-12":     grey,
		"section-1018": readSection(t, "../testdata/section/section-1018.jpg", "../testdata/section/section-1018.json"),
	} {
		require.Equal(t, "known", k.request.Scales[0].Kind, "a drawn bar would be turned with the picture")
		pic, err := picture.Open(k.path)
		require.NoError(t, err)
		defer pic.Close()
		require.True(t, pic.Deep.Empty(), "the 8-bit values are changed below")
		before, err := Measure(context.Background(), pic, k.request)
		require.NoError(t, err)
		require.Empty(t, before.Retake)
		for _, c := range sameSections {
			t.Run(name+" "+c.name, func(t *testing.T) {
				changed := pic
				changed.Mat = gocv.NewMat()
				defer changed.Mat.Close()
				c.change(t, pic.Mat, &changed.Mat)
				req := k.request
				if c.scale > 0 {
					req.Scales = []ScaleOption{k.request.Scales[0]}
					req.Scales[0].MMPerPX /= c.scale
				}
				after, err := Measure(context.Background(), changed, req)
				require.NoError(t, err)
				require.Empty(t, after.Retake)
				want := before
				if c.mirror {
					want = mirroredSection(before)
				}
				assertSameSection(t, want, after)
			})
		}
	}
}

// mirroredSection is the record with left and right swapped.
func mirroredSection(r record.Record) record.Record {
	m := record.New(r.View)
	swap := map[record.Key]record.Key{
		record.BurrHeightLeft: record.BurrHeightRight, record.BurrHeightRight: record.BurrHeightLeft,
		record.BurrWidthLeft: record.BurrWidthRight, record.BurrWidthRight: record.BurrWidthLeft,
		record.WingTipFloorLeft: record.WingTipFloorRight, record.WingTipFloorRight: record.WingTipFloorLeft,
	}
	for key, v := range r.Measured {
		if other, ok := swap[key]; ok {
			key = other
		}
		m.Measured[key] = v
	}
	return m
}

func assertSameSection(t *testing.T, want, got record.Record) {
	t.Helper()
	for _, key := range record.Keys(record.Section) {
		a, had := want.Measured[key]
		b, has := got.Measured[key]
		if assert.Equal(t, had, has, "%s is measured in both or in neither", key) && had {
			u := math.Hypot(a.U, b.U)
			assert.InDelta(t, a.Value, b.Value, u+1e-9, "%s, combined u %.4f", key, u)
		}
	}
}

// The same cut in resin that is lighter than the metal, not darker. Light resin needs metal that does not fill the scale, so
// sleeve and strands are dimmed in both pictures.
func TestResinMayBeDarkOrLight(t *testing.T) {
	var records []record.Record
	for _, resin := range []float64{0.15, 0.93} {
		s := drawn.Random(12)
		for c := range 3 {
			s.Look.Resin[c] = resin
			s.Look.Sleeve[c] *= 0.75
			s.Look.Strand[c] *= 0.75
		}
		s.Look.Bubbles = 0
		k := writeScene(t, "resin", s)
		rec := k.measure(t)
		require.Empty(t, rec.Retake, "resin of tone %g", resin)
		records = append(records, rec)
	}
	assertSameSection(t, records[0], records[1])
}
