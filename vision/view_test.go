package vision

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// The view is told by itself in every photo that shows a part, and a declared view that the photo contradicts is refused
// with the right one's name. Source of the right view: the scene that was rendered.
func TestViewIsToldAndContradictionRefused(t *testing.T) {
	files, err := filepath.Glob("../testdata/photo/*.json")
	require.NoError(t, err)
	told := map[record.View]int{}
	for _, path := range files {
		truth := readTruth(t, path)
		photo := strings.TrimSuffix(path, ".json") + ".jpg"
		if _, err := os.Stat(photo); err != nil || truth.ExpectRetake != nil {
			continue
		}
		req := truth.request()
		for _, view := range []record.View{record.Auto, contrary[truth.View]} {
			pic, err := picture.Open(photo)
			require.NoError(t, err)
			req.View = view
			rec, err := Measure(context.Background(), pic, req)
			pic.Close()
			require.NoError(t, err)
			if view == record.Auto {
				assert.Equal(t, truth.View, rec.View, photo)
				assert.NotEmpty(t, rec.Measured, photo)
				told[rec.View]++
				continue
			}
			assertRefused(t, rec)
			assert.Contains(t, rec.Retake[0], "--view "+string(truth.View), photo)
		}
	}
	for _, view := range []record.View{record.Seam, record.Side, record.Strip} {
		assert.Positive(t, told[view], view)
	}
}

var contrary = map[record.View]record.View{record.Seam: record.Strip, record.Side: record.Seam, record.Strip: record.Side}

// Where the view is to be told, the scale tells micrographs from photos.
func TestScaleTellsMicrographs(t *testing.T) {
	for kinds, want := range map[string]bool{"": false, "chessboard": false, "bar": true, "known": true, "bar known": true, "bar rule": false} {
		req := Request{View: record.Auto}
		for _, kind := range strings.Fields(kinds) {
			req.Scales = append(req.Scales, ScaleOption{Kind: kind, LengthMM: 1})
		}
		assert.Equal(t, want, req.isSection(), kinds)
	}
}
