package subpixel

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func blurredStep(n int, pos, sigma, before, step float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = before + step*0.5*math.Erfc(-(float64(i)-pos)/(sigma*math.Sqrt2))
	}
	return v
}

func TestFindEdgeIsExactOnItsModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		pos := rapid.Float64Range(5, 15).Draw(t, "pos")
		sigma := rapid.Float64Range(0.5, 1.5).Draw(t, "sigma")
		step := rapid.SampledFrom([]float64{-180, -30, 30, 180}).Draw(t, "step")
		e, err := FindEdge(blurredStep(21, pos, sigma, 100, step))
		require.NoError(t, err)
		assert.InDelta(t, pos, e.Pos, 1e-4)
		assert.InDelta(t, sigma, e.Sigma, 1e-3)
		assert.InDelta(t, step, e.Step, 0.05)
		// The 10-90 % rise of a Gaussian blur is 2.5631 sigma (quantiles of the normal distribution, ±1.28155).
		assert.InDelta(t, 2.5631*sigma, e.Rise(), 0.003)
	})
}

// Noise: no bias, and the stated U is the spread that really comes about. Published claims for straight edges are better
// than 1/20 px without bias (J. Jpn. Soc. Precis. Eng. 77(8) 793); this is held to that at a signal-to-noise ratio of 25.
func TestFindEdgeUnderNoise(t *testing.T) {
	random := rand.New(rand.NewPCG(1, 2))
	const runs = 2000
	var sum, squares, claimed, centroid float64
	for range runs {
		pos := 9 + 2*random.Float64()
		v := blurredStep(21, pos, 1, 50, 100)
		for i := range v {
			v[i] += 4 * random.NormFloat64()
		}
		e, err := FindEdge(v)
		require.NoError(t, err)
		c, err := Centroid(v)
		require.NoError(t, err)
		d := e.Pos - pos
		sum, squares, claimed = sum+d, squares+d*d, claimed+e.U*e.U
		centroid += (c.Pos - pos) * (c.Pos - pos)
	}
	sd := math.Sqrt(squares / runs)
	assert.Less(t, math.Abs(sum/runs), 4*sd/math.Sqrt(runs), "bias")
	// The Cramér-Rao bound: 0.04/sqrt(1/(2·sqrt(pi)) - 1/21), where 1/21 is what the unknown level takes from 21 samples.
	assert.InDelta(t, 0.0826, sd, 0.006)
	assert.InDelta(t, 1, math.Sqrt(claimed/runs)/sd, 0.1, "stated uncertainty over the true one")
	assert.Greater(t, math.Sqrt(centroid/runs), sd, "the centroid is the noisier one")
}

// blurredDisc is the radial profile of a disc of brightness 1 after a Gaussian blur, by numerical integration over the
// disc's chords: the blur across a chord of half length c is erf(c/(sigma·sqrt 2)).
func blurredDisc(radius, sigma, at float64) float64 {
	const n = 4000
	s := 0.
	for i := range n {
		x := -radius + 2*radius*(float64(i)+0.5)/n
		half := math.Sqrt(radius*radius - x*x)
		s += math.Exp(-(at-x)*(at-x)/(2*sigma*sigma)) * math.Erf(half/(sigma*math.Sqrt2))
	}
	return s * 2 * radius / n / (sigma * math.Sqrt(2*math.Pi))
}

// Curved edges move inwards under blur by about sigma²/(2R). Figures: numerical, for the steepest gradient and the half level,
// as collected in "Bias in the localization of curved edges" (Mendonca and others), from that law.
func TestCurvedEdgesShrink(t *testing.T) {
	for _, c := range []struct{ radius, sigma, steepest, half float64 }{
		{15, 1, -0.0333, -0.0333},
		{15, 2, -0.1327, -0.1343},
		{10, 2, -0.1975, -0.2035},
	} {
		low, high := c.radius-2, c.radius+2
		for range 50 {
			if m := (low + high) / 2; blurredDisc(c.radius, c.sigma, m) > 0.5 {
				low = m
			} else {
				high = m
			}
		}
		assert.InDelta(t, c.half, low-c.radius, 0.002, "half level, R %v sigma %v", c.radius, c.sigma)

		const fine = 4 // samples a px: the profile's grid must not matter
		v := make([]float64, int(fine*6*c.sigma)+1)
		start := c.radius - 3*c.sigma
		for i := range v {
			v[i] = blurredDisc(c.radius, c.sigma, start+float64(i)/fine)
		}
		e, err := FindEdge(v)
		require.NoError(t, err)
		shift := start + e.Pos/fine - c.radius
		assert.InDelta(t, c.steepest, shift, 0.012, "erf fit, R %v sigma %v", c.radius, c.sigma)
		assert.InDelta(t, 0, shift+CurvatureShift(c.sigma, c.radius), 0.012, "corrected")
	}
}

func TestNoEdge(t *testing.T) {
	random := rand.New(rand.NewPCG(3, 4))
	noise := make([]float64, 30)
	for i := range noise {
		noise[i] = 100 + 5*random.NormFloat64()
	}
	for name, v := range map[string][]float64{
		"empty": nil, "short": {1, 2}, "flat": make([]float64, 20), "noise": noise, "nan": {1, 2, math.NaN(), 4, 5, 6},
	} {
		_, err := FindEdge(v)
		assert.ErrorIs(t, err, ErrNoEdge, name)
	}
}
