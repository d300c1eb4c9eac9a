package subpixel

import (
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// twoLines is the model that FindBorder fits: a + b·t before the border at pos, c + d·t behind it, t from pos, parted by
// a step that is blurred by sigma.
func twoLines(n int, pos, sigma, a, b, c, d float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		t := float64(i) - pos
		w := 0.5 * math.Erfc(-t/(sigma*math.Sqrt2))
		v[i] = (1-w)*(a+b*t) + w*(c+d*t)
	}
	return v
}

// The places are known because the profiles are drawn from the model. noise is what the place can still be told under to
// within half a sample: kinks are faint, and their place is not quite linear in the noise, so that U comes out a fifth low.
var borders = []struct {
	name       string
	a, b, c, d float64
	noise      float64
	cover      float64 // least share of errors within 2 u
}{
	{"step up", 60, 0, 160, 0, 3, 0.92},
	{"step down", 160, 0, 60, 0, 3, 0.92},
	{"kink", 100, 0, 100, 6, 0.5, 0.86},
	{"roof", 150, 5, 150, -5, 0.8, 0.86},
	{"step on a slope", 100, 3, 140, 3, 3, 0.92},
	{"step against a slope", 100, 3, 60, 3, 3, 0.92},
	{"step from a slope to flat ground", 60, 4, 120, 0, 3, 0.92},
}

func TestBorderIsExactOnItsModel(t *testing.T) {
	for _, c := range borders {
		t.Run(c.name, func(t *testing.T) {
			rapid.Check(t, func(t *rapid.T) {
				pos := rapid.Float64Range(14, 26).Draw(t, "pos")
				sigma := rapid.Float64Range(0.7, 2).Draw(t, "sigma")
				from := pos + rapid.Float64Range(-1.8, 1.8).Draw(t, "from")
				v := twoLines(41, pos, sigma, c.a, c.b, c.c, c.d)
				e := SettleBorder([][]float64{v}, from, Both(9), sigma)
				assert.InDelta(t, pos, e.Pos, 0.03)
				assert.InDelta(t, c.c-c.a, e.Step, 1) // a kink off by 0.02 samples steps by some of its slope
				assert.Greater(t, e.Gain, 0.98)
			})
		})
	}
}

// A coarse look over a step's own neighbourhood ends at the border.
func TestFindBorderNearIt(t *testing.T) {
	for _, c := range borders {
		v := twoLines(41, 20.3, 1.2, c.a, c.b, c.c, c.d)
		e, ok := FindBorder([][]float64{v}, 18.8, 21.8, Both(9), 1.2)
		require.True(t, ok, c.name)
		assert.InDelta(t, 20.3, e.Pos, 0.02, c.name)
	}
}

// A gradient's maximum moves towards the steeper side of a step between a slope and flat ground; the border does not.
func TestBorderDoesNotMoveTowardsTheSteeperSide(t *testing.T) {
	const pos, sigma = 20.3, 1.5
	v := twoLines(41, pos, sigma, 60, 6, 80, 0)
	steepest, at := 0.0, 0.0
	for i := 1; i < len(v)-1; i++ {
		if g := v[i+1] - v[i-1]; g > steepest {
			steepest, at = g, float64(i)
		}
	}
	require.Greater(t, math.Abs(at-pos), 0.5, "otherwise this profile shows nothing")
	assert.InDelta(t, pos, SettleBorder([][]float64{v}, at, Both(9), sigma).Pos, 0.02)
}

// Channels are looked at together: one without a border does not move it, and the step is that of the channel with the
// largest one.
func TestBorderInSeveralChannels(t *testing.T) {
	const pos, sigma = 19.7, 1.0
	e := SettleBorder([][]float64{
		twoLines(41, pos, sigma, 90, 0, 90, 0), twoLines(41, pos, sigma, 60, 0, 160, 0), twoLines(41, pos, sigma, 90, 0, 60, 0),
	}, 20.5, Both(9), sigma)
	assert.InDelta(t, pos, e.Pos, 0.03)
	assert.InDelta(t, 100, e.Step, 0.5)
}

func TestFindBorderWhereThereIsNone(t *testing.T) {
	straight := twoLines(41, 20, 1, 50, 2, 50, 2)
	for _, c := range []struct {
		name     string
		v        []float64
		from, to float64
		reach    float64
	}{
		{"constant", twoLines(41, 20, 1, 90, 0, 90, 0), 0, 40, 9},
		{"shorter than the reach", twoLines(9, 4, 1, 60, 0, 160, 0), 0, 8, 9},
		{"range beyond the end", twoLines(41, 20, 1, 60, 0, 160, 0), 35, 40, 9},
		{"range the wrong way round", twoLines(41, 20, 1, 60, 0, 160, 0), 25, 15, 9},
	} {
		_, ok := FindBorder([][]float64{c.v}, c.from, c.to, Both(c.reach), 1)
		assert.False(t, ok, c.name)
	}
	if e, ok := FindBorder([][]float64{straight}, 0, 40, Both(9), 1); ok {
		assert.InDelta(t, 0, e.Step, 1e-6, "a straight line has no step")
	}
}

// Under independent noise there is no bias, and errors lie within twice the stated standard uncertainty in about
// 95 % of the cases, as they do for a normal distribution (95.45 % within 2 standard deviations, JCGM 100:2008, table G.1).
func TestBorderUnderNoise(t *testing.T) {
	const runs, sigma = 600, 1.0
	random := rand.New(rand.NewPCG(7, 11))
	for _, c := range borders {
		var sum, squares float64
		within := 0
		for range runs {
			pos := 19 + 2*random.Float64()
			v := twoLines(41, pos, sigma, c.a, c.b, c.c, c.d)
			for i := range v {
				v[i] += c.noise * random.NormFloat64()
			}
			e := SettleBorder([][]float64{v}, math.Round(pos), Both(12), sigma)
			d := e.Pos - pos
			sum, squares = sum+d, squares+d*d
			if math.Abs(d) <= 2*e.U {
				within++
			}
		}
		sd := math.Sqrt(squares / runs)
		cover := float64(within) / runs
		t.Logf("%-34s bias %+.4f sd %.4f cover %.3f", c.name, sum/runs, sd, cover)
		assert.Less(t, math.Abs(sum/runs), 4*sd/math.Sqrt(runs), "%s: bias", c.name)
		// A kink under noise can lie farther off than the two samples that are searched, where u is too small: 0.86 is known.
		assert.InDelta(t, 0.92, cover, 0.065, "%s: share of errors within 2 u", c.name)
	}
}

// The strength is the mean square that two lines explain beyond one: it does not depend on the offset and grows with the
// square of the step.
func TestBorderStrength(t *testing.T) {
	const pos, sigma = 20.0, 1.0
	of := func(step, offset, at float64) float64 {
		s, _ := BorderStrength([][]float64{twoLines(41, pos, sigma, offset, 0, offset+step, 0)}, at, Both(8), sigma)
		return s
	}
	assert.InDelta(t, of(50, 0, pos), of(50, 130, pos), 1e-6)
	assert.InDelta(t, 4*of(50, 0, pos), of(100, 0, pos), 1e-6)
	// A long unblurred step h in the middle of a window leaves h²/4 about the mean, of which the best straight line takes three
	// quarters (its slope is 1.5 h over the window's length): h²/16 remain for the two lines.
	s, step := BorderStrength([][]float64{twoLines(4001, 2000.5, 0.3, 0, 0, 40, 0)}, 2000.5, Both(1900), 0.3)
	assert.InDelta(t, 40*40/16., s, 1)
	assert.InDelta(t, 40, step, 0.1)
	for _, at := range []float64{7.9, 32.1} {
		s, step := BorderStrength([][]float64{twoLines(41, pos, sigma, 0, 0, 50, 0)}, at, Both(8), sigma)
		assert.Zero(t, s, "no room for the reach")
		assert.Zero(t, step)
	}
}

// A short reach keeps a fit to what lies next to the border: a second border beyond it does not move the first.
func TestBorderSeesOnlyWhatItsReachCovers(t *testing.T) {
	const sigma = 1.0
	v := twoLines(61, 20.4, sigma, 60, 0, 120, 0)
	for i := 32; i < len(v); i++ {
		v[i] += 80
	}
	e := SettleBorder([][]float64{v}, 20, Reach{Before: 12, After: 8}, sigma)
	assert.InDelta(t, 20.4, e.Pos, 0.02)
}
