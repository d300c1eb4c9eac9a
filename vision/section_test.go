package vision

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// withBar is a micrograph of nothing but resin with a bar of 200 px, in 8-bit BGR, and the same in 16 bits where asked for.
func withBar(t *testing.T, resin, bar [3]uint8, deepBits int) picture.Picture {
	const w, h = 640, 480
	at := func(x, y int) [3]uint8 {
		if x >= 400 && x < 600 && y >= 440 && y < 448 {
			return bar
		}
		return resin
	}
	pic := picture.Picture{Name: "drawn", Depth: 8, Mat: gocv.NewMatWithSize(h, w, gocv.MatTypeCV8UC3), Deep: gocv.NewMat()}
	t.Cleanup(pic.Close)
	pix, err := pic.Mat.DataPtrUint8()
	require.NoError(t, err)
	for i := range w * h {
		c := at(i%w, i/w)
		copy(pix[3*i:], c[:])
	}
	if deepBits == 0 {
		return pic
	}
	_ = pic.Deep.Close()
	pic.Depth, pic.Deep = 16, gocv.NewMatWithSize(h, w, gocv.MatTypeCV16UC1)
	deep, err := pic.Deep.DataPtrUint16()
	require.NoError(t, err)
	for i := range deep {
		deep[i] = uint16(at(i%w, i/w)[0]) << (deepBits - 8)
		pix[3*i], pix[3*i+1], pix[3*i+2] = uint8(deep[i]>>8), uint8(deep[i]>>8), uint8(deep[i]>>8)
	}
	return pic
}

// TestMicroScale: where the scale of a section comes from, and what is told where it cannot be had.
func TestMicroScale(t *testing.T) {
	bar := ScaleOption{Kind: "bar", LengthMM: 0.5} // 200 px: 0.0025 mm a pixel
	known := func(mmPerPX float64) ScaleOption {
		return ScaleOption{Kind: "known", MMPerPX: mmPerPX, HalfDigitMMPerPX: 0.000005}
	}
	grey, white, red := [3]uint8{76, 76, 76}, [3]uint8{255, 255, 255}, [3]uint8{0, 0, 255}
	for name, c := range map[string]struct {
		pic    picture.Picture
		scales []ScaleOption
		kind   string
		want   float64
		retake string
	}{
		"a bar":                    {withBar(t, grey, white, 0), []ScaleOption{bar}, "bar", 0.0025, ""},
		"a red bar":                {withBar(t, grey, red, 0), []ScaleOption{bar}, "bar", 0.0025, ""},
		"a red bar on light resin": {withBar(t, [3]uint8{250, 250, 250}, red, 0), []ScaleOption{bar}, "bar", 0.0025, ""},
		"12 of 16 bits":            {withBar(t, grey, white, 12), []ScaleOption{bar}, "bar", 0.0025, ""},
		"known":                    {withBar(t, grey, grey, 0), []ScaleOption{known(0.00205)}, "known", 0.00205, ""},
		"both":                     {withBar(t, grey, white, 0), []ScaleOption{known(0.002503), bar}, "bar", 0.0025, ""},
		"both, and they differ":    {withBar(t, grey, white, 0), []ScaleOption{known(0.0028), bar}, "", 0, "the two scales do not agree"},
		"no bar":                   {withBar(t, grey, grey, 0), []ScaleOption{bar}, "", 0, "no scale bar was found"},
		"no bar, but known":        {withBar(t, grey, grey, 0), []ScaleOption{bar, known(0.00205)}, "", 0, "no scale bar was found"},
		"none":                     {withBar(t, grey, white, 0), nil, "", 0, "no scale was declared: say --scale bar=500um"},
		"one for photos":           {withBar(t, grey, white, 0), []ScaleOption{{Kind: "chessboard", LengthMM: 5}}, "", 0, "no scale was declared"},
	} {
		rec, err := Measure(context.Background(), c.pic, Request{View: record.Section, Scales: c.scales})
		require.NoError(t, err, name)
		assert.Equal(t, record.Section, rec.View)
		require.NotEmpty(t, rec.Retake, "%s: there is no section in it", name)
		if c.kind == "" {
			assert.Nil(t, rec.Scale, name)
			assert.Contains(t, rec.Retake[0], c.retake, name)
			continue
		}
		require.NotNil(t, rec.Scale, "%s: %v", name, rec.Retake)
		assert.Equal(t, c.kind, rec.Scale.Kind, name)
		assert.InEpsilon(t, c.want, rec.Scale.MMPerPX, rec.Scale.URel, name)
		assert.NotContains(t, rec.Retake[0], "scale bar", name)
		if c.kind == "bar" {
			require.NotEmpty(t, rec.Marks, name)
			assert.Equal(t, record.MarkScale, rec.Marks[0].Kind)
		}
	}
}
