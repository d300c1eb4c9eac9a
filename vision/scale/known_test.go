package scale

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

// A rounded value: half a step over the root of three (JCGM 100:2008, 4.3.7; F.2.2.1 gives 0.29 of a whole step).
func TestKnown(t *testing.T) {
	m := Known(0.00205, 0.000005)
	assert.Equal(t, "known", m.Kind)
	assert.Equal(t, 0.00205, m.MMPerPX)
	assert.InEpsilon(t, 0.29*0.00001, m.RelU*m.MMPerPX, 0.005)
	assert.Empty(t, m.Points)
	assert.Empty(t, m.Labels)
}

// The weighted mean of two values and its uncertainty, by hand: 2.000 ± 0.010 and 2.012 ± 0.020 (standard) have weights
// 10000 and 2500, so the mean is 2.0024 and u = 1/sqrt(12500) = 0.008944.
func TestAgree(t *testing.T) {
	bar := Micro{Kind: "bar", MMPerPX: 0.002, RelU: 0.005, Points: []record.Point{{X: 1, Y: 2}}, Labels: [][]record.Point{{{X: 3, Y: 4}}}}
	known := Micro{Kind: "known", MMPerPX: 0.002012, RelU: 0.02 / 2.012}
	joint, err := Agree(bar, known)
	require.NoError(t, err)
	assert.Equal(t, "bar", joint.Kind)
	assert.InEpsilon(t, 0.0020024, joint.MMPerPX, 1e-9)
	assert.InEpsilon(t, 0.01/math.Sqrt(1.25)/2.0024, joint.RelU, 1e-9)
	assert.Equal(t, bar.Points, joint.Points)
	assert.Equal(t, bar.Labels, joint.Labels)
	assert.Equal(t, []string{"scale: the weighted mean of the drawn bar (2.000 um/px (± 0.020)) and the declared value (2.012 um/px (± 0.040))"}, joint.Notes)
}

func TestAgreeRefuses(t *testing.T) {
	bar := Micro{Kind: "bar", MMPerPX: 0.002, RelU: 0.001}
	u := 0.002 * 0.001 * math.Sqrt2 // of the difference of two such
	_, err := Agree(bar, Micro{Kind: "known", MMPerPX: 0.002 + 1.9*u, RelU: 0.001})
	require.NoError(t, err, "within k = 2")
	_, err = Agree(bar, Micro{Kind: "known", MMPerPX: 0.00205, RelU: 0.001})
	require.ErrorAs(t, err, &Refusal{})
	assert.Regexp(t, `^the two scales do not agree: by the drawn bar a pixel is 2\.0000 um/px \(± 0\.0040\), by the declared value it is `+
		`2\.0500 um/px \(± 0\.0041\): find out which is wrong .* give only the right one$`, err.Error())
	_, err = Agree(bar, Micro{Kind: "known", MMPerPX: math.NaN(), RelU: 0.001})
	require.ErrorAs(t, err, &Refusal{})
}
