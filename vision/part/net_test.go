package part

import (
	"encoding/json"
	"image"
	"math"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Source of the expected scores: the same weights run by ONNX Runtime, another engine (training/reference.py).
func TestNetworksScoreAsAnotherEngineDoes(t *testing.T) {
	data, err := os.ReadFile("testdata/reference.json")
	require.NoError(t, err)
	var reference map[string]struct {
		Width, Height int
		Scores        []struct {
			X, Y    int
			OfClass []float64 `json:"of_class"`
		}
	}
	require.NoError(t, json.Unmarshal(data, &reference))
	for name, n := range map[string]*network{"coarse": coarseNet, "fine": fineNet} {
		r := reference[name]
		require.NotEmpty(t, r.Scores, name)
		var bgr [3][]float32
		for c := range bgr {
			for y := range r.Height {
				for x := range r.Width {
					i, j := x/8, y/8
					bgr[c] = append(bgr[c], float32((3*i*i+5*j*j+7*i*j+11*c)%251))
				}
			}
		}
		stem := 1
		if name == "coarse" {
			stem = coarseStem
		}
		shares, side, err := n.run(bgr, r.Width, r.Height, stem)
		require.NoError(t, err)
		for _, s := range r.Scores {
			sum := 0.0
			for _, v := range s.OfClass {
				sum += math.Exp(v)
			}
			for c, v := range s.OfClass {
				want, got := math.Exp(v)/sum, 0.0
				switch {
				case c == Classes:
					got = float64(side.At(float64(s.X), float64(s.Y)))
				case Class(c) == Sleeve:
					want += math.Exp(s.OfClass[Classes]) / sum
					fallthrough
				default:
					got = float64(shares[c].At(float64(s.X), float64(s.Y)))
				}
				assert.InDelta(t, want, got, 1e-3, "%s at %d, %d, class %d", name, s.X, s.Y, c)
			}
		}
	}
}

// A clear part is named the same in a mirror.
func TestDisagreementInAMirror(t *testing.T) {
	p, ok := readPhoto(t, "../../testdata/photo/photo-1022.json", image.Point{})
	require.True(t, ok)
	got, err := Learned{}.Find(p.scene)
	require.NoError(t, err)
	d, err := got.Regions.disagreement()
	require.NoError(t, err)
	assert.Less(t, d, mostDisagree/2)
	assert.Greater(t, got.Certainty, doubtful)
}
