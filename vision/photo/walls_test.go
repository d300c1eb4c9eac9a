package photo

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"crimprule/vision/record"
)

// moments integrates mean and variance of f(t) for t normal with mean mu and standard deviation s: Simpson's rule over
// mu ± 9 s, split at 0 where f has its kink. This is the definition of both moments.
func moments(mu, s float64, f func(t float64) float64) (mean, variance float64) {
	density := func(t float64) float64 { return math.Exp(-(t-mu)*(t-mu)/(2*s*s)) / (s * math.Sqrt(2*math.Pi)) }
	integral := func(g func(t float64) float64) float64 {
		over := func(a, b float64) float64 {
			const n = 400
			h, sum := (b-a)/n, 0.0
			for i := 0; i <= n; i++ {
				w := 2.0 + 2*float64(i%2)
				if i == 0 || i == n {
					w = 1
				}
				t := a + float64(i)*h
				sum += w * g(t) * density(t)
			}
			return sum * h / 3
		}
		lo, hi := mu-9*s, mu+9*s
		cut := math.Max(lo, math.Min(hi, 0))
		return over(lo, cut) + over(cut, hi)
	}
	mean = integral(f)
	return mean, integral(func(t float64) float64 { return (f(t) - mean) * (f(t) - mean) })
}

func rectified(t float64) float64 { return math.Max(0, t) }

func TestPositivePartAgainstTheIntegral(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.Float64Range(0.005, 0.2).Draw(t, "s")
		mu := s * rapid.Float64Range(-5, 5).Draw(t, "z")
		mean, variance := positivePart(mu, s)
		wantMean, wantVariance := moments(mu, s, rectified)
		assert.InDelta(t, wantMean, mean, 1e-6*s)
		assert.InDelta(t, wantVariance, variance, 1e-5*s*s)
	})
	// At mu = 0 the moments of the rectified normal are known in closed form: 1/sqrt(2 pi) and 1/2 - 1/(2 pi).
	mean, variance := positivePart(0, 1)
	assert.InDelta(t, 0.3989423, mean, 1e-7)
	assert.InDelta(t, 0.3408451, variance, 1e-7)
}

// What shows of the side walls is the walls' height times the moments of the rectified slope; that of both together
// those of its absolute value (the folded normal distribution).
func TestExposedAgainstTheIntegral(t *testing.T) {
	m := newModel(record.Declared{ConductorArea: 4, SheetThickness: 0.7}, 5.8, 4.1)
	for _, c := range []struct{ slope, uSlope float64 }{{0, 0}, {0.02, 0.01}, {-0.02, 0.01}, {0.18, 0.005}, {-0.18, 0.005}} {
		s := math.Hypot(rollSDdeg*math.Pi/180, c.uSlope) * (1 + c.slope*c.slope)
		l, lv := moments(-c.slope, s, rectified)
		r, rv := moments(c.slope, s, rectified)
		a, av := moments(c.slope, s, math.Abs)
		left, right, both, uLeft, uRight, uBoth := m.exposed(c.slope, c.uSlope)
		u := func(mean, variance float64) float64 {
			return math.Hypot(math.Hypot(m.wall, m.uWall)*math.Sqrt(variance), m.uWall*mean)
		}
		for _, v := range []struct {
			what      string
			want, got float64
		}{
			{"left", m.wall * l, left}, {"right", m.wall * r, right}, {"both", m.wall * a, both},
			{"uLeft", u(l, lv), uLeft}, {"uRight", u(r, rv), uRight}, {"uBoth", u(a, av), uBoth},
		} {
			assert.InDelta(t, v.want, v.got, 1e-6, "%s at slope %v", v.what, c.slope)
		}
	}
}

// The walls' height keeps the metal's area: 4 mm² in a sleeve 4.1 mm wide of 0.7 mm sheet are 2.7 mm wide inside.
func TestModelFromWhatIsDeclared(t *testing.T) {
	m := newModel(record.Declared{ConductorArea: 4, SheetThickness: 0.7, StrandDiameter: 0.3}, 5.8, 4.1)
	assert.InDelta(t, (1+wallExtra)*4/2.7, m.wall, 1e-9)
	assert.InDelta(t, 2.9, m.wire, 1e-9)
	assert.InDelta(t, 0.3, m.strand, 1e-9)
	// 56 strands of 0.30 mm have pi/4 · 0.30² · 56 = 3.9584 mm² of metal.
	n := newModel(record.Declared{StrandCount: 56, StrandDiameter: 0.3, SheetThickness: 0.7}, 5.8, 4.1)
	assert.InDelta(t, (1+wallExtra)*3.9584/2.7, n.wall, 1e-4)
	// Less known means more uncertain, and nothing declared still gives a model.
	none := newModel(record.Declared{}, 5.8, 4.1)
	assert.Greater(t, none.uWall/none.wall, m.uWall/m.wall)
	assert.Positive(t, none.strand)
	assert.Positive(t, none.sheet)
	// A sleeve narrower than two sheets cannot be; the model stays finite.
	thin := newModel(record.Declared{ConductorArea: 4, SheetThickness: 2}, 5.8, 1)
	assert.False(t, math.IsInf(thin.wall, 0) || math.IsNaN(thin.wall))
}
