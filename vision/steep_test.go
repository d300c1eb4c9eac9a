package vision

import (
	"context"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/drawn"
	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// TestSeenFromTheBodysSide: the sleeve's front face then lies between its upper edge and the strands, and its rear rim
// before the gap. Strands behind the face are measured, and a gap that the rim may hide is not called none. Expected are
// the dimensions that were drawn.
func TestSeenFromTheBodysSide(t *testing.T) {
	brush := drawn.Varied(700002, record.Seam)
	gap := drawn.Varied(710009, record.Seam)
	gap.Camera.TiltDeg, gap.Camera.AzimuthDeg = 20, gap.Part.AlphaDeg
	for name, s := range map[string]drawn.Scene{"brush": brush, "gap": gap} {
		path := filepath.Join(t.TempDir(), name+".jpg")
		require.NoError(t, s.Write(path, path+".json"))
		truth := readTruth(t, path+".json")
		pic, err := picture.Open(path)
		require.NoError(t, err)
		rec, err := Measure(context.Background(), pic, truth.request())
		pic.Close()
		require.NoError(t, err)
		require.Empty(t, rec.Retake, name)
		slope := rec.Quality["view_slope_along"]
		require.Less(t, slope, -0.2, name)
		for _, key := range []record.Key{record.BrushMean, record.BrushMax, record.InsulationGapMean, record.InsulationGapMax} {
			if v, ok := rec.Measured[key]; ok {
				assert.InDelta(t, truth.Truth[key], v.Value, v.U, "%s: %s", name, key)
			}
		}
		assert.Contains(t, rec.Measured, record.BrushMean, name)
	}
}
