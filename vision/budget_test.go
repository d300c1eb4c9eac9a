package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

// TestEveryValueHasItsBudget: each u is told part by part, in photos and in sections; each part says what it is and where
// its figure is from.
func TestEveryValueHasItsBudget(t *testing.T) {
	photo := knownSection{path: "../testdata/photo/photo-1005.jpg", request: readTruth(t, "../testdata/photo/photo-1005.json").request()}
	section := readSection(t, "../testdata/section/section-1000.jpg", "../testdata/section/section-1000.json")
	for view, k := range map[record.View]knownSection{record.Seam: photo, record.Section: section} {
		rec := k.measure(t)
		require.Empty(t, rec.Retake)
		require.NotEmpty(t, rec.Measured, view)
		for key, v := range rec.Measured {
			budget, kept := rec.Budgets[key]
			assert.True(t, kept, "%s in the view %s has no budget", key, view)
			assert.InDelta(t, v.U, budget.Expanded(), 1e-12, key)
			scale := false
			for _, c := range budget.Shares() {
				assert.NotEmpty(t, c.Name, key)
				assert.NotEmpty(t, c.Source, "%s, %s", key, c.Name)
				scale = scale || c.Name == "scale"
			}
			if key.Unit() == "mm" && v.Value != 0 {
				assert.True(t, scale, "%s: no length is surer than the scale", key)
			}
		}
	}
}
