package scale

import (
	"encoding/json"
	"errors"
	"image"
	"math"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
)

// ruleTruth is what a picture's file says beyond truth. The camera and the places of the graduations are those from which
// the picture was ray-traced.
type ruleTruth struct {
	ExpectRetake *string `json:"expect_retake"`
	Aid          struct {
		Planes struct {
			AboveCard float64 `json:"axis_height_above_card"`
			AboveRule float64 `json:"axis_height_above_reference"`
		} `json:"planes"`
		Part [2]float64 `json:"part"` // px
	} `json:"aid"`
}

// Ray-traced photos of rules with a known camera: graduations to 0.15 px, scale at the part and direction of view within their
// stated expanded uncertainty; without and with a focal length as metadata would have it, off by 2 %.
func TestRulePhotosAgainstTheTruth(t *testing.T) {
	files, _ := filepath.Glob("testdata/rule_*.json")
	require.NotEmpty(t, files)
	for _, path := range files {
		tr, m := readTruth(t, path)
		data, err := os.ReadFile(path)
		require.NoError(t, err)
		var more ruleTruth
		require.NoError(t, json.Unmarshal(data, &more))
		want := tr.camera()
		for _, focalPX := range []float64{0, 1.02 * want.F} {
			ref, err := Rule(m, m, 1, focalPX)
			require.NoError(t, err, path)
			blur, ok := ref.BlurPX(m)
			require.True(t, ok, path)
			if more.ExpectRetake != nil { // moved along the graduations: they are found, and their ends tell the blur
				assert.Greater(t, blur*ref.MMPerPX(600, 450, 0), 0.3, path)
				continue
			}
			assert.Less(t, blur, 2., path)
			assert.Less(t, ref.ResidualPX, 0.1, path)
			assert.Greater(t, len(ref.Points), 2*50, path)
			x, y := more.Aid.Part[0], more.Aid.Part[1]
			u := ref.RelUAt(x, y, more.Aid.Planes.AboveRule)
			assert.InDelta(t, 0, math.Log(ref.MMPerPX(x, y, more.Aid.Planes.AboveRule)/want.mmPerPX(x, y, more.Aid.Planes.AboveCard)), 2*u, "%s: scale, u %.5f", path, u)
			assert.Less(t, u, pick(focalPX > 0, 0.0012, 0.0035), path)
			ax, ay := slant(ref.Camera, x, y, more.Aid.Planes.AboveRule)
			bx, by := slant(want, x, y, more.Aid.Planes.AboveCard)
			uv := ref.UViewDeg(ref.Camera.OnPlane(x, y, 0))
			assert.InDelta(t, bx, ax, 2*uv, path)
			assert.InDelta(t, by, ay, 2*uv, path)
			thick := more.Aid.Planes.AboveRule - more.Aid.Planes.AboveCard
			assert.InDelta(t, thick, ref.GroundZMM, 2*ref.UGroundMM, path)
		}
	}
}

// Pictures of chessboards show no rule, and what a rule's finder says of them is a refusal.
func TestBoardsAreNoRule(t *testing.T) {
	files, _ := filepath.Glob("../../testdata/photo/*.json")
	for _, path := range files {
		_, m := readTruth(t, path)
		_, err := Rule(m, m, 1, 0)
		var refusal Refusal
		require.True(t, errors.As(err, &refusal), "%s: %v", path, err)
		assert.Contains(t, refusal.Reason, "no scale", path)
	}
}

// 12 megapixels, enlarged from a test photo.
func BenchmarkRule12MP(b *testing.B) {
	_, m := readTruth(b, "testdata/rule_1008.json")
	gocv.Resize(m, &m, image.Pt(4000, 3000), 0, 0, gocv.InterpolationCubic)
	b.ResetTimer()
	for range b.N {
		if _, err := Rule(m, m, 1, 0); err != nil {
			b.Fatal(err)
		}
	}
}
