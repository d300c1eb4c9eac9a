package vision

import (
	"context"
	"image"
	"math"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// A part does not change when its picture is turned, mirrored, scaled or a little brighter: what is measured must not
// either. No source is needed: the picture itself is the reference. Results differ by rounding, by where the grids
// of the searches fall, and by what a change leaves of the picture's fine detail; u carries that.
var sameParts = []struct {
	name   string
	change func(src gocv.Mat, dst *gocv.Mat)
	mirror bool
}{
	{"turned by 90 degrees", func(s gocv.Mat, d *gocv.Mat) { gocv.Rotate(s, d, gocv.Rotate90Clockwise) }, false},
	{"turned by 180 degrees", func(s gocv.Mat, d *gocv.Mat) { gocv.Rotate(s, d, gocv.Rotate180Clockwise) }, false},
	{"turned by 270 degrees", func(s gocv.Mat, d *gocv.Mat) { gocv.Rotate(s, d, gocv.Rotate90CounterClockwise) }, false},
	{"mirrored", func(s gocv.Mat, d *gocv.Mat) { gocv.Flip(s, d, 1) }, true},
	{"darker by 15 %", func(s gocv.Mat, d *gocv.Mat) { s.ConvertToWithParams(d, gocv.MatTypeCV8UC3, 0.85, 0) }, false},
	{"brighter by 15 %", func(s gocv.Mat, d *gocv.Mat) { s.ConvertToWithParams(d, gocv.MatTypeCV8UC3, 1.15, 0) }, false},
	{"scaled by 0.8", func(s gocv.Mat, d *gocv.Mat) {
		gocv.Resize(s, d, image.Pt(s.Cols()*4/5, s.Rows()*4/5), 0, 0, gocv.InterpolationArea)
	}, false},
}

func TestThePartDoesNotChangeWithThePicture(t *testing.T) {
	for _, path := range []struct{ picture, truth string }{
		{"../samples/canopy-north-string-03-crimp-01.jpg", "../testdata/drawn/canopy-north-string-03-crimp-01.json"},
		{"../testdata/photo/photo-1022.jpg", "../testdata/photo/photo-1022.json"},
	} {
		pic, err := picture.Open(path.picture)
		require.NoError(t, err)
		defer pic.Close()
		req := readTruth(t, path.truth).request()
		before, err := Measure(context.Background(), pic, req)
		require.NoError(t, err)
		require.Empty(t, before.Retake)
		for _, c := range sameParts {
			t.Run(filepath.Base(path.picture)+" "+c.name, func(t *testing.T) {
				changed := pic
				changed.Mat = gocv.NewMat()
				defer changed.Mat.Close()
				c.change(pic.Mat, &changed.Mat)
				after, err := Measure(context.Background(), changed, req)
				require.NoError(t, err)
				require.Empty(t, after.Retake)
				want := before
				if c.mirror {
					want = mirrored(before)
				}
				assertSame(t, want, after)
			})
		}
	}
}

// mirrored is the record with left and right swapped.
func mirrored(r record.Record) record.Record {
	m := record.New(r.View)
	swap := map[record.Key]record.Key{
		record.WingWidthLeft: record.WingWidthRight, record.WingWidthRight: record.WingWidthLeft,
		record.CompletenessLeft: record.CompletenessRight, record.CompletenessRight: record.CompletenessLeft,
	}
	for key, v := range r.Measured {
		if other, ok := swap[key]; ok {
			key = other
		}
		if key == record.SeamOffset {
			v.Value = -v.Value
		}
		m.Measured[key] = v
	}
	return m
}

func assertSame(t *testing.T, want, got record.Record) {
	t.Helper()
	for _, key := range record.Keys(record.Seam) {
		a, had := want.Measured[key]
		b, has := got.Measured[key]
		if assert.Equal(t, had, has, "%s is measured in both or in neither", key) && had {
			u := math.Hypot(a.U, b.U)
			assert.InDelta(t, a.Value, b.Value, u+1e-9, "%s, combined u %.3f", key, u)
		}
	}
}
