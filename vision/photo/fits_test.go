package photo

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"crimprule/vision/subpixel"
)

// The solution is known because the right side is made from it.
func TestSolve3(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var want [3]float64
		var m [3][4]float64
		for i := range 3 {
			want[i] = rapid.Float64Range(-10, 10).Draw(t, "x")
			for j := range 3 {
				m[i][j] = rapid.Float64Range(-1, 1).Draw(t, "m")
			}
			m[i][i] += 4 // diagonally dominant: never singular
		}
		for i := range 3 {
			for j := range 3 {
				m[i][3] += m[i][j] * want[j]
			}
		}
		got := solve3(m)
		for i := range 3 {
			assert.InDelta(t, want[i], got[i], 1e-9)
		}
	})
}

// across gives points of a cut end x = a + b·y + c·y² at 21 places over ±1 mm.
func across(a, b, c float64, noise *rand.Rand) (points []subpixel.Point) {
	for i := range 21 {
		y := -1 + float64(i)/10
		p := subpixel.Point{X: a + b*y + c*y*y, Y: y}
		if noise != nil {
			p.X += 0.01 * noise.NormFloat64()
		}
		points = append(points, p)
	}
	return points
}

func TestParabola(t *testing.T) {
	f := parabola(across(0.3, 0.05, 0, nil))
	for _, y := range []float64{-1, -0.3, 0, 0.8} {
		assert.InDelta(t, 0.3+0.05*y, f(y), 1e-9, "a straight cut end, at %v", y)
	}
	// The pull towards a straight end takes a part of the curve but not of the middle.
	f = parabola(across(0.3, 0, 0.08, nil))
	assert.InDelta(t, 0.3, f(0), 0.008)
	assert.InDelta(t, 0.38, f(1), 0.025)
	assert.Greater(t, f(1), f(0))
	// Four of 21 scan lines caught another edge 0.3 mm away.
	points := across(0.3, 0.05, 0, rand.New(rand.NewPCG(2, 3)))
	for _, i := range []int{2, 3, 11, 17} {
		points[i].X += 0.3
	}
	f = parabola(points)
	for _, y := range []float64{-0.9, 0, 0.9} {
		assert.InDelta(t, 0.3+0.05*y, f(y), 0.02, "with strangers, at %v", y)
	}
	// Too few points for a curve: their median.
	f = parabola([]subpixel.Point{{X: 0.2, Y: -1}, {X: 0.3}, {X: 9, Y: 1}})
	assert.InDelta(t, 0.3, f(-1), 1e-9)
	assert.InDelta(t, 0.3, f(1), 1e-9)
}

// The mean square slope of a sine a·sin(2 pi i/n) is (a·sin(2 pi/n))²/2, from central differences.
func TestDetail(t *testing.T) {
	const a, n = 30.0, 25.0
	v := make([]float64, 252)
	for i := range v {
		v[i] = 100 + a*math.Sin(2*math.Pi*float64(i)/n)
	}
	assert.InDelta(t, math.Pow(a*math.Sin(2*math.Pi/n), 2)/2, detail(v), 1e-9*a*a)
	line := []float64{1, 4, 7, 10, 13}
	assert.InDelta(t, 9, detail(line), 1e-12, "a slope of 3 a sample")
	assert.Zero(t, detail([]float64{5, 5, 5}))
	assert.Zero(t, detail([]float64{5, 9}), "too short for a slope")
}
