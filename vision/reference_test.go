package vision

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// seen is a reference of a kind in a picture of 1000 x 800 px, seen square from 200 mm at pxPerMM.
func seen(kind string, pxPerMM, relU float64) scale.Reference {
	return scale.Reference{
		Kind: kind, RelU: relU, Outline: []record.Point{{X: 1}, {X: 2}, {Y: 2}},
		Camera: scale.Camera{F: 200 * pxPerMM, CX: 499.5, CY: 399.5, R: [3][3]float64{{1, 0, 0}, {0, -1, 0}, {0, 0, -1}}, T: scale.Vec{Z: 200}},
	}
}

func TestReferencesThatAgree(t *testing.T) {
	// 20.00 and 20.06 px/mm differ by 0.3 %, less than twice the root of 0.1 % and 0.2 % squared: 0.45 %.
	ref, err := surest([]scale.Reference{seen("rule", 20.06, 0.002), seen("chessboard", 20, 0.001)}, 499.5, 399.5)
	require.NoError(t, err)
	assert.Equal(t, "chessboard", ref.Kind, "the surer one")
	require.Len(t, ref.Notes, 1)
	assert.Contains(t, ref.Notes[0], "agree")
	assert.Contains(t, ref.Notes[0], "0.05000 mm")
	assert.Contains(t, ref.Notes[0], "0.04985 mm")
	assert.Len(t, ref.Beside, 1)
}

func TestReferencesThatContradict(t *testing.T) {
	// 0.6 % apart: the same, with one that is off.
	_, err := surest([]scale.Reference{seen("rule", 20.12, 0.002), seen("chessboard", 20, 0.001)}, 499.5, 399.5)
	var refusal scale.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Contains(t, refusal.Reason, "contradict")
	assert.Contains(t, refusal.Reason, "0.05000 mm ± 0.20 % by the chessboard")
	assert.Contains(t, refusal.Reason, "0.04970 mm ± 0.40 % by the rule")
}

// How far the ground lies below a thick reference is compared with, and makes it less sure.
func TestReferencesLieAtTheirOwnHeight(t *testing.T) {
	thick := seen("rule", 20.1, 0.0005) // 1 mm nearer to the camera at 200 mm: 0.5 % larger
	thick.GroundZMM = -1
	ref, err := surest([]scale.Reference{thick, seen("chessboard", 20, 0.0005)}, 499.5, 399.5)
	require.NoError(t, err)
	assert.Len(t, ref.Notes, 1)
	thick.UGroundMM = 0.2
	ref, err = surest([]scale.Reference{thick, seen("chessboard", 20, 0.0005)}, 499.5, 399.5)
	require.NoError(t, err)
	assert.Equal(t, "chessboard", ref.Kind)
}

// A declared reference that is not in the picture is noted where another serves.
func TestADeclaredReferenceIsMissing(t *testing.T) {
	pic := openPhoto(t, clean)
	grey := gocv.NewMat()
	defer func() { require.NoError(t, grey.Close()) }()
	gocv.CvtColor(pic.Mat, &grey, gocv.ColorBGRToGray)
	ref, err := reference(pic, grey, []ScaleOption{{Kind: "rule", LengthMM: 1}, boardOf5().Scales[0]})
	require.NoError(t, err)
	assert.Equal(t, "chessboard", ref.Kind)
	require.NotEmpty(t, ref.Notes)
	assert.Contains(t, ref.Notes[len(ref.Notes)-1], "no steel rule")
	_, err = reference(pic, grey, []ScaleOption{{Kind: "rule", LengthMM: 1}})
	var refusal scale.Refusal
	require.ErrorAs(t, err, &refusal)
	assert.Contains(t, refusal.Reason, "no scale")
}
