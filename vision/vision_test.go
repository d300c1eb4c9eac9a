package vision

import (
	"context"
	"image"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

func boardOf5() Request {
	return Request{View: record.Seam, Scales: []ScaleOption{{Kind: "chessboard", LengthMM: 5}}, Declared: record.Declared{StrandDiameter: 0.3}}
}

// drawnPicture is a picture of the given size whose bytes come from next.
func drawnPicture(t *testing.T, width, height int, next func() byte) picture.Picture {
	t.Helper()
	m := gocv.NewMatWithSize(height, width, gocv.MatTypeCV8UC3)
	pix, err := m.DataPtrUint8()
	require.NoError(t, err)
	for i := range pix {
		pix[i] = next()
	}
	return picture.Picture{Name: "drawn.png", SHA256: "00", Mat: m, Deep: gocv.NewMat()}
}

// assertRefused holds a record against the contract: a picture that cannot be measured has no value and is never judged,
// and says in words what to do better.
func assertRefused(t *testing.T, rec record.Record) {
	t.Helper()
	require.NotEmpty(t, rec.Retake)
	for _, reason := range rec.Retake {
		assert.Greater(t, len(reason), 20, "a reason is a sentence: %q", reason)
	}
	assert.Empty(t, rec.Measured)
	assert.Empty(t, rec.Unmeasured)
	assert.Nil(t, rec.Verdict)
}

// meaningless are pictures of any size that show nothing at all.
func meaningless() map[string]blank {
	random := rand.New(rand.NewPCG(3, 5))
	flat := func(v byte) func() byte { return func() byte { return v } }
	noise := func() byte { return byte(random.IntN(256)) }
	return map[string]blank{
		"black":            {800, 600, flat(0)},
		"white":            {800, 600, flat(255)},
		"grey":             {801, 599, flat(127)},
		"noise":            {640, 480, noise},
		"one black pixel":  {1, 1, flat(0)},
		"one white pixel":  {1, 1, flat(255)},
		"two by one":       {2, 1, noise},
		"one row":          {700, 1, noise},
		"one column":       {1, 700, noise},
		"a few pixels":     {7, 5, noise},
		"thumbnail":        {40, 30, noise},
		"a black thin bar": {3000, 3, flat(0)},
	}
}

// blank is a picture by its size and its next value.
type blank struct {
	width, height int
	next          func() byte
}

func TestPicturesWithoutABoardAreRefused(t *testing.T) {
	for name, c := range meaningless() {
		t.Run(name, func(t *testing.T) {
			pic := drawnPicture(t, c.width, c.height, c.next)
			defer pic.Close()
			rec, err := Measure(context.Background(), pic, boardOf5())
			require.NoError(t, err)
			assertRefused(t, rec)
			assert.Nil(t, rec.Scale, "without a board nothing is known in millimetres")
			assert.Equal(t, "drawn.png", rec.Image)
		})
	}
}

func openPhoto(t *testing.T, path string) picture.Picture {
	t.Helper()
	pic, err := picture.Open(path)
	require.NoError(t, err)
	t.Cleanup(pic.Close)
	return pic
}

const clean = "../samples/canopy-north-string-03-crimp-01.jpg"

// A measurable picture of which no scale was declared: nothing is guessed.
func TestWithoutAScaleNothingIsMeasured(t *testing.T) {
	pic := openPhoto(t, clean)
	for _, kind := range []string{"", "ruler of grandfather"} {
		req := boardOf5()
		req.Scales[0].Kind = kind
		rec, err := Measure(context.Background(), pic, req)
		require.NoError(t, err)
		assertRefused(t, rec)
		assert.Contains(t, rec.Retake[0], "--scale chessboard=5mm", "what to do")
		assert.Nil(t, rec.Scale)
	}
}

func TestRequestsThatCannotBeServed(t *testing.T) {
	pic := openPhoto(t, clean)
	for _, view := range []record.View{"", "from below"} {
		req := boardOf5()
		req.View = view
		rec, err := Measure(context.Background(), pic, req)
		require.ErrorContains(t, err, `"`+string(view)+`"`)
		assert.Empty(t, rec.Measured)
	}
	cancelled, cancel := context.WithCancel(context.Background())
	cancel()
	rec, err := Measure(cancelled, pic, boardOf5())
	require.ErrorIs(t, err, context.Canceled)
	assert.Empty(t, rec.Measured)
}

// A picture with a board but without a part is refused, with the scale that is known.
func TestABoardAloneIsNoPart(t *testing.T) {
	pic := openPhoto(t, "../testdata/photo/photo-1014.jpg")
	rec, err := Measure(context.Background(), pic, boardOf5())
	require.NoError(t, err)
	assertRefused(t, rec)
	assert.Contains(t, rec.Retake[0], "no crimped contact")
	require.NotNil(t, rec.Scale)
	assert.Equal(t, "chessboard", rec.Scale.Kind)
}

// A blurred picture and one of too few pixels are refused, in words of what is wrong and with no value; what is said to be
// too small or blurred is what was done to the picture.
func TestPoorPicturesAreRefused(t *testing.T) {
	pic := openPhoto(t, clean)
	for _, c := range []struct {
		name, says string
		spoil      func(src gocv.Mat, dst *gocv.Mat)
	}{
		// 24 pixels a millimetre: 5 px are 0.2 mm, above the limit of 0.12 mm.
		{"blurred", "blurred", func(s gocv.Mat, d *gocv.Mat) { gocv.GaussianBlur(s, d, image.Point{}, 5, 5, gocv.BorderReplicate) }},
		// 24 pixels a millimetre scaled by 0.3 are 7, below the limit of 9.
		{"small", "small", func(s gocv.Mat, d *gocv.Mat) {
			gocv.Resize(s, d, image.Pt(s.Cols()*3/10, s.Rows()*3/10), 0, 0, gocv.InterpolationArea)
		}},
	} {
		t.Run(c.name, func(t *testing.T) {
			poor := pic
			poor.Mat = gocv.NewMat()
			defer poor.Mat.Close()
			c.spoil(pic.Mat, &poor.Mat)
			rec, err := Measure(context.Background(), poor, boardOf5())
			require.NoError(t, err)
			assertRefused(t, rec)
			assert.Contains(t, rec.Retake[0], c.says)
		})
	}
}

// The stages come in order, each with a picture in it, and looking at them changes no value.
func TestLookingAtTheStagesChangesNothing(t *testing.T) {
	pic := openPhoto(t, clean)
	before, err := Measure(context.Background(), pic, boardOf5())
	require.NoError(t, err)
	req := boardOf5()
	var stages []string
	req.Debug = func(stage string, m gocv.Mat) {
		assert.False(t, m.Empty(), stage)
		stages = append(stages, stage)
	}
	after, err := Measure(context.Background(), pic, req)
	require.NoError(t, err)
	assert.NotEmpty(t, stages)
	assert.Equal(t, before, after)
}
