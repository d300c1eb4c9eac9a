package statistics

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// TestFitNorris: NIST Statistical Reference Datasets, Norris; the certified values were written down from memory and
// reproduced to 12 digits by independent calculation.
func TestFitNorris(t *testing.T) {
	pairs := []float64{ // y x
		0.1, 0.2, 338.8, 337.4, 118.1, 118.2, 888.0, 884.6, 9.2, 10.1, 228.1, 226.5, 668.5, 666.3, 998.5, 996.3, 449.1, 448.6,
		778.9, 777.0, 559.2, 558.2, 0.3, 0.4, 0.1, 0.6, 778.1, 775.5, 668.8, 666.9, 339.3, 338.0, 448.9, 447.5, 10.8, 11.6,
		557.7, 556.0, 228.3, 228.1, 998.0, 995.8, 888.8, 887.6, 119.6, 120.2, 0.3, 0.3, 0.6, 0.3, 557.6, 556.8, 339.3, 339.1,
		888.0, 887.2, 998.5, 999.0, 778.9, 779.0, 10.2, 11.1, 117.6, 118.3, 228.9, 229.2, 668.4, 669.1, 449.2, 448.9, 0.2, 0.5,
	}
	var xs, ys []float64
	for i := 0; i < len(pairs); i += 2 {
		ys, xs = append(ys, pairs[i]), append(xs, pairs[i+1])
	}
	l, err := Fit(xs, ys, 0.95)
	require.NoError(t, err)
	assert.Equal(t, 36, l.N)
	assert.InDelta(t, -0.262323073774029, l.At0, 1e-11)
	assert.InDelta(t, 1.00211681802045, l.Slope, 1e-13)
	assert.InDelta(t, 0.232818234301152, l.UAt0, 1e-11)
	assert.InDelta(t, 0.000429796848199937, l.USlope, 1e-14)
	assert.InDelta(t, 0.884796396144373, l.Residual, 1e-11)
	// t(0.975, 34) = 2.03224 from scipy 1.10.1
	assert.InDelta(t, l.Slope+2.03224451*l.USlope, l.SlopeHigh, 1e-9)
	assert.InDelta(t, 2*l.Slope, l.SlopeLow+l.SlopeHigh, 1e-12)
}

// TestFitThermometer: JCGM 100:2008, annex H.3 (published y1 = -0.1712, s 0.0029; y2 = 0.00218, s 0.00067; s = 0.0035).
func TestFitThermometer(t *testing.T) {
	xs := []float64{1.521, 2.012, 2.512, 3.003, 3.507, 3.999, 4.513, 5.002, 5.503, 6.010, 6.511}
	ys := []float64{-0.171, -0.169, -0.166, -0.159, -0.164, -0.165, -0.156, -0.157, -0.159, -0.161, -0.160}
	l, err := Fit(xs, ys, 0.95)
	require.NoError(t, err)
	assert.InDelta(t, -0.1712, l.At0, 5e-5)
	assert.InDelta(t, 0.0029, l.UAt0, 5e-5)
	assert.InDelta(t, 0.00218, l.Slope, 5e-6)
	assert.InDelta(t, 0.00067, l.USlope, 5e-6)
	assert.InDelta(t, 0.0035, l.Residual, 5e-5)
	assert.True(t, l.Sloped())
}

func TestFitNeedsThreePlaces(t *testing.T) {
	_, err := Fit([]float64{1, 2}, []float64{1, 2}, 0.95)
	assert.ErrorContains(t, err, "three points")
	_, err = Fit([]float64{1, 1, 1}, []float64{1, 2, 3}, 0.95)
	assert.ErrorContains(t, err, "different places")
	_, err = Fit([]float64{1, 2, math.NaN()}, []float64{1, 2, 3}, 0.95)
	assert.Error(t, err)
	_, err = Fit([]float64{1, 2, 3}, []float64{1, math.Inf(1), 3}, 0.95)
	assert.Error(t, err)
}

// TestFitFollowsItsAxes: shift and scale x and y, and slope and interval follow.
func TestFitFollowsItsAxes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(3, 40).Draw(t, "n")
		ys := rapid.SliceOfN(rapid.Float64Range(-1, 1), n, n).Draw(t, "y")
		factor, shift := rapid.Float64Range(0.1, 10).Draw(t, "factor"), rapid.Float64Range(-5, 5).Draw(t, "shift")
		xs, moved := make([]float64, n), make([]float64, n)
		for i := range n {
			xs[i], moved[i] = float64(i), factor*ys[i]+shift
		}
		a, errA := Fit(xs, ys, 0.95)
		b, errB := Fit(xs, moved, 0.95)
		if errA != nil || errB != nil {
			t.Fatal(errA, errB)
		}
		if math.Abs(b.Slope-factor*a.Slope) > 1e-9 || math.Abs(b.SlopeLow-factor*a.SlopeLow) > 1e-9 {
			t.Fatalf("%+v\n%+v", a, b)
		}
	})
}

// TestSlopeIntervalHolds: of 4000 sets of points on a known slope with normal scatter, the 95 % interval holds the slope
// in about 95 %: 0.95 ± 0.0103 is three standard deviations of that count.
func TestSlopeIntervalHolds(t *testing.T) {
	noise := distuv.Normal{Sigma: 0.02, Src: newSource(7)}
	held := 0
	const sets = 4000
	for range sets {
		xs, ys := make([]float64, 12), make([]float64, 12)
		for i := range xs {
			xs[i], ys[i] = float64(i), 0.9-0.003*float64(i)+noise.Rand()
		}
		l, err := Fit(xs, ys, 0.95)
		require.NoError(t, err)
		if l.SlopeLow <= -0.003 && -0.003 <= l.SlopeHigh {
			held++
		}
	}
	assert.InDelta(t, 0.95, float64(held)/sets, 0.0103)
}
