package vision

import (
	"context"
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// stripPictures are ray-traced photos of stripped wires; the source of every expected value is the truth file beside each.
var stripPictures = []string{"photo-1007", "photo-1028"}

func measureStrip(t *testing.T, name string, change func(src gocv.Mat, dst *gocv.Mat)) (record.Record, truthFile) {
	t.Helper()
	truth := readTruth(t, "../testdata/photo/"+name+".json")
	pic, err := picture.Open("../testdata/photo/" + name + ".jpg")
	require.NoError(t, err)
	defer pic.Close()
	if change != nil {
		m := gocv.NewMat()
		change(pic.Mat, &m)
		defer m.Close()
		pic.Mat, m = m, pic.Mat
	}
	req := truth.request()
	req.View = record.Strip
	rec, err := Measure(context.Background(), pic, req)
	require.NoError(t, err)
	return rec, truth
}

// An expanded uncertainty with k = 2 holds about 95 % of errors, and practically all lie within one and a half times that
// (JCGM 100:2008, annex G).
func TestStripAgainstTruth(t *testing.T) {
	most := map[record.Key]float64{ // a u above this says nothing to a person who strips wires
		record.StripLength: 0.25, record.StrandEndSpread: 3.5, record.CutStrands: 6, record.Splay: 0.2, record.InsulationCutAngle: 3,
	}
	for _, name := range stripPictures {
		rec, truth := measureStrip(t, name, nil)
		require.Empty(t, rec.Retake, name)
		for _, key := range record.Keys(record.Strip) {
			v, ok := rec.Measured[key]
			if key == record.StrandEndSpread && rec.Measured[record.CutStrands].Value == 0 {
				assert.Contains(t, rec.Unmeasured[key], "turn the wire over", name)
				continue
			}
			if !assert.True(t, ok, "%s: %s", name, key) {
				continue
			}
			t.Logf("%s %-22s true %7.3f measured %7.3f u %6.3f", name, key, truth.Truth[key], v.Value, v.U)
			assert.InDelta(t, truth.Truth[key], v.Value, 1.5*v.U, "%s: %s", name, key)
			assert.Less(t, v.U, most[key], "%s: u of %s", name, key)
		}
		cut := rec.Measured[record.CutStrands].Value
		assert.Equal(t, truth.Truth[record.CutStrands] > 0, cut > 0, "%s: whether strands are cut", name)
	}
}

// A wire does not change when its picture is turned, mirrored or made brighter: the picture itself is the reference.
func TestStrippedWireDoesNotChangeWithThePicture(t *testing.T) {
	for _, name := range stripPictures {
		want, _ := measureStrip(t, name, nil)
		for _, c := range sameParts {
			t.Run(name+" "+c.name, func(t *testing.T) {
				got, _ := measureStrip(t, name, c.change)
				require.Empty(t, got.Retake)
				for _, key := range record.Keys(record.Strip) {
					a, b := want.Measured[key], got.Measured[key]
					u := math.Hypot(a.U, b.U)
					assert.InDelta(t, a.Value, b.Value, u+1e-9, "%s, combined u %.3f", key, u)
				}
			})
		}
	}
}

// A wire with a contact on it is no stripped wire: it is refused with its reason and nothing is measured.
func TestCrimpedWireIsNoStrip(t *testing.T) {
	for _, name := range []string{"photo-1022", "photo-1005"} {
		rec, _ := measureStrip(t, name, nil)
		if assert.Len(t, rec.Retake, 1, name) {
			assert.Contains(t, rec.Retake[0], "contact", name)
		}
		assert.Empty(t, rec.Measured, name)
	}
}

// Strands that reach the picture's edge end nowhere that could be seen.
func TestStrandsAtThePicturesEdge(t *testing.T) {
	rec, _ := measureStrip(t, "photo-1007", func(s gocv.Mat, d *gocv.Mat) {
		part := s.Region(image.Rect(0, 510, s.Cols(), s.Rows())) // the strands end at y = 490
		defer part.Close()
		part.CopyTo(d)
	})
	assert.NotEmpty(t, rec.Retake)
	assert.Empty(t, rec.Measured)
	t.Log(rec.Retake)
}
