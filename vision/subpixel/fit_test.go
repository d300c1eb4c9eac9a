package subpixel

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// NIST Statistical Reference Datasets, linear regression, Norris (y x): itl.nist.gov/div898/strd/lls/data/Norris.shtml.
var norris = []float64{
	0.1, 0.2, 338.8, 337.4, 118.1, 118.2, 888.0, 884.6, 9.2, 10.1, 228.1, 226.5, 668.5, 666.3, 998.5, 996.3, 449.1, 448.6,
	778.9, 777.0, 559.2, 558.2, 0.3, 0.4, 0.1, 0.6, 778.1, 775.5, 668.8, 666.9, 339.3, 338.0, 448.9, 447.5, 10.8, 11.6,
	557.7, 556.0, 228.3, 228.1, 998.0, 995.8, 888.8, 887.6, 119.6, 120.2, 0.3, 0.3, 0.6, 0.3, 557.6, 556.8, 339.3, 339.1,
	888.0, 887.2, 998.5, 999.0, 778.9, 779.0, 10.2, 11.1, 117.6, 118.3, 228.9, 229.2, 668.4, 669.1, 449.2, 448.9, 0.2, 0.5,
}

func TestRegressNorris(t *testing.T) {
	var points []Point
	for i := 0; i < len(norris); i += 2 {
		points = append(points, Point{norris[i+1], norris[i]})
	}
	require.Len(t, points, 36)
	r, err := Regress(points)
	require.NoError(t, err)
	assert.InEpsilon(t, -0.262323073774029, r.B0, 1e-9)
	assert.InEpsilon(t, 1.00211681802045, r.B1, 1e-12)
	assert.InEpsilon(t, 0.232818234301152, r.U0, 1e-9)
	assert.InEpsilon(t, 0.000429796848199937, r.U1, 1e-9)
	assert.InEpsilon(t, 0.884796396144373, r.SD, 1e-9)
	_, u := r.At(0)
	assert.InEpsilon(t, r.U0, u, 1e-9)
}

// Gander, Golub and Strebel, "Least-squares fitting of circles and ellipses", BIT 34 (1994): their six points.
var gander = []Point{{1, 7}, {2, 6}, {5, 8}, {7, 7}, {9, 5}, {3, 7}}

func TestCircleGanderGolubStrebel(t *testing.T) {
	a, err := FitCircleAlgebraic(gander)
	require.NoError(t, err)
	assert.InDelta(t, 5.3794, a.Centre.X, 5e-5)
	assert.InDelta(t, 7.2532, a.Centre.Y, 5e-5)
	assert.InDelta(t, 3.0370, a.Radius, 5e-5)

	c, err := FitCircle(gander)
	require.NoError(t, err)
	assert.InDelta(t, 4.7398, c.Centre.X, 5e-5)
	assert.InDelta(t, 2.9835, c.Centre.Y, 5e-5)
	assert.InDelta(t, 4.7142, c.Radius, 5e-5)
	assert.InDelta(t, 1.22759908, c.SumSquares, 1e-7) // computed from the published answer's points to more digits
}

// The same paper's ellipse; its figures are quoted from memory, and an own computation gave the same.
func TestEllipseGanderGolubStrebel(t *testing.T) {
	e, err := FitEllipse(append(append([]Point(nil), gander...), Point{6, 2}, Point{8, 4}))
	require.NoError(t, err)
	assert.InDelta(t, 2.6996, e.Centre.X, 5e-5)
	assert.InDelta(t, 3.8160, e.Centre.Y, 5e-5)
	assert.InDelta(t, 6.5187, e.A, 5e-5)
	assert.InDelta(t, 3.0319, e.B, 5e-5)
	assert.InDelta(t, 0.3596, e.Angle, 5e-5)
	assert.InDelta(t, 1.1719, math.Sqrt(e.SumSquares), 5e-5)
}

func TestEllipseFindsItself(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := Ellipse{Centre: Point{rapid.Float64Range(-50, 50).Draw(t, "x"), rapid.Float64Range(-50, 50).Draw(t, "y")},
			A: rapid.Float64Range(20, 60).Draw(t, "a"), Angle: rapid.Float64Range(-1.5, 1.5).Draw(t, "angle")}
		want.B = want.A * rapid.Float64Range(0.3, 0.9).Draw(t, "ratio")
		s, c := math.Sincos(want.Angle)
		var points []Point
		for k := range 24 {
			y, x := math.Sincos(2 * math.Pi * float64(k) / 24)
			x, y = want.A*x, want.B*y
			points = append(points, Point{want.Centre.X + c*x - s*y, want.Centre.Y + s*x + c*y})
		}
		got, err := FitEllipse(points)
		require.NoError(t, err)
		assert.InDelta(t, want.Centre.X, got.Centre.X, 1e-5)
		assert.InDelta(t, want.A, got.A, 1e-5)
		assert.InDelta(t, want.B, got.B, 1e-5)
		assert.InDelta(t, 0, math.Sin(got.Angle-want.Angle), 1e-5)
	})
}

func TestLineTurnsWithItsPoints(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		angle := rapid.Float64Range(-math.Pi, math.Pi).Draw(t, "angle")
		random := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 0))
		s, c := math.Sincos(angle)
		var level, turned []Point
		for k := range 30 {
			p := Point{float64(k), 0.3 * random.NormFloat64()}
			level = append(level, p)
			turned = append(turned, Point{c*p.X - s*p.Y + 7, s*p.X + c*p.Y - 3})
		}
		a, err := FitLine(level)
		require.NoError(t, err)
		b, err := FitLine(turned)
		require.NoError(t, err)
		assert.InDelta(t, a.SD, b.SD, 1e-9)
		assert.InDelta(t, a.UAngle, b.UAngle, 1e-9)
		turnedDir := math.Atan2(b.Dir.Y, b.Dir.X) - math.Atan2(a.Dir.Y, a.Dir.X) - angle
		assert.InDelta(t, 0, math.Sin(turnedDir), 1e-9)
	})
}

func TestLineUncertaintyCovers(t *testing.T) {
	random := rand.New(rand.NewPCG(5, 6))
	const runs = 1000
	var z, za float64
	for range runs {
		var points []Point
		for k := range 20 {
			points = append(points, Point{float64(k) - 9.5, 0.2 * random.NormFloat64()})
		}
		l, err := FitLine(points)
		require.NoError(t, err)
		offset, angle := l.Distance(Point{l.Mid.X, 0})/l.UOffset, math.Atan(l.Dir.Y/l.Dir.X)/l.UAngle
		z, za = z+offset*offset, za+angle*angle
	}
	// Student's t with 18 degrees of freedom has the variance 18/16.
	assert.InDelta(t, math.Sqrt(18./16), math.Sqrt(z/runs), 0.08)
	assert.InDelta(t, math.Sqrt(18./16), math.Sqrt(za/runs), 0.08)
}

func TestRobustLineLeavesOutWhatLiesOff(t *testing.T) {
	random := rand.New(rand.NewPCG(7, 8))
	var points []Point
	for k := range 60 {
		y := 0.5*float64(k) + 0.05*random.NormFloat64()
		if k%4 == 1 { // a quarter of the edge is broken out, all to one side
			y += 3 + 2*random.Float64()
		}
		points = append(points, Point{float64(k), y})
	}
	plain, err := FitLine(points)
	require.NoError(t, err)
	robust, err := FitLineRobust(points)
	require.NoError(t, err)
	assert.Greater(t, math.Abs(plain.Distance(Point{30, 15})), 0.5)
	assert.InDelta(t, 0, robust.Distance(Point{30, 15}), 4*robust.UOffset)
	assert.InDelta(t, 0.05/math.Sqrt(1.25), robust.SD, 0.015)
	assert.Zero(t, robust.Weights[1])
}

func TestTooFewPoints(t *testing.T) {
	same := []Point{{1, 1}, {1, 1}, {1, 1}, {1, 1}, {1, 1}}
	_, err := FitLine(same)
	assert.ErrorIs(t, err, ErrTooFew)
	_, err = Regress(same)
	assert.ErrorIs(t, err, ErrTooFew)
	_, err = FitCircle(same)
	assert.Error(t, err)
	_, err = FitCircle([]Point{{0, 0}, {1, 1}, {2, 2}})
	assert.Error(t, err)
	_, err = FitEllipse(same[:4])
	assert.ErrorIs(t, err, ErrTooFew)
}

func TestPercentile(t *testing.T) {
	assert.Equal(t, 3., Percentile([]float64{5, 1, 3}, 50))
	assert.InDelta(t, 95.05, Percentile(func() (v []float64) {
		for i := 1; i <= 100; i++ {
			v = append(v, float64(i))
		}
		return
	}(), 95), 1e-9)
	assert.True(t, math.IsNaN(Percentile(nil, 50)))
}
