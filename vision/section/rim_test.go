package section

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// edgeProfile is the picture of metal that ends at place, darkened towards its end and with a halo in the resin, read from
// -10 to 10 px every quarter of one; the blur is integrated in steps of a hundredth.
func edgeProfile(place, sigma, dark, length, halo float64) (at, value []float64) {
	tone := func(x float64) float64 {
		if d := x - place; d < 0 {
			return 1 - dark*math.Exp(d/length)
		} else {
			return -halo * math.Exp(-d/haloPX)
		}
	}
	for i := -40; i <= 40; i++ {
		x := float64(i) / 4
		sum, weight := 0., 0.
		for d := -5 * sigma; d <= 5*sigma; d += 0.01 {
			w := math.Exp(-d * d / (2 * sigma * sigma))
			sum, weight = sum+w*tone(x+d), weight+w
		}
		at, value = append(at, x), append(value, sum/weight)
	}
	return at, value
}

// steepestFall is the place of the steepest fall, by the parabola through it and its neighbours.
func steepestFall(at, value []float64) float64 {
	best, where := 0., 0
	fall := make([]float64, len(at))
	for i := 1; i+1 < len(at); i++ {
		fall[i] = value[i-1] - value[i+1]
		if fall[i] > best {
			best, where = fall[i], i
		}
	}
	a, b, c := fall[where-1], fall[where], fall[where+1]
	return at[where] + 0.25*0.5*(a-c)/(a-2*b+c)
}

// A darkened rim moves the steepest fall inwards by up to a pixel and more; the offset brings it back to where the metal
// ends. The aim is 0.15 px everywhere. This version reaches that as a root mean square where the blur is that of a picture in
// focus; it misses it where the blur lies between two of the widths that the model tries (1.1 and 1.4, 1.8 and 2.4): there even
// an edge without any rim is moved outwards, since rim and halo stand in for the missing width.
func TestRimOffsetFindsTheMetalsEnd(t *testing.T) {
	moved := 0.
	for _, c := range []struct{ sigma, rms, worst float64 }{
		{0.6, 0.15, 0.32}, {0.7, 0.15, 0.32}, {0.9, 0.15, 0.32}, {1.1, 0.15, 0.32}, {1.25, 0.35, 0.55}, {2.1, 0.6, 0.85},
	} {
		sum, worst, n := 0., 0., 0.
		for _, rim := range [][2]float64{{0, 1}, {0.15, 0.65}, {0.15, 2.1}, {0.35, 1}, {0.35, 3}, {0.6, 1.5}} {
			for _, halo := range []float64{0, 0.15} {
				// The profile is read about the steepest fall, as in the picture.
				found := steepestFall(edgeProfile(0, c.sigma, rim[0], rim[1], halo))
				moved = math.Max(moved, -found)
				at, value := edgeProfile(-found, c.sigma, rim[0], rim[1], halo)
				require.InDelta(t, 0, steepestFall(at, value), 0.02)
				e := rimOffset(at, value, mostRim) + found
				sum, worst, n = sum+e*e, math.Max(worst, math.Abs(e)), n+1
			}
		}
		t.Logf("sigma %g px: rms %.3f worst %.3f px", c.sigma, math.Sqrt(sum/n), worst)
		assert.LessOrEqual(t, math.Sqrt(sum/n), c.rms, "sigma %g: root mean square", c.sigma)
		assert.LessOrEqual(t, worst, c.worst, "sigma %g", c.sigma)
	}
	assert.Greater(t, moved, 0.5, "the rims of this test do move the fall")
}

// No edge, no correction.
func TestRimOffsetOfNothing(t *testing.T) {
	at, value := edgeProfile(0, 1, 0, 1, 0)
	for i := range value {
		value[i] = 0.5
	}
	assert.Zero(t, rimOffset(at, value, mostRim))
	for i := range value {
		value[i] = at[i] / 20 // a slope upwards is no metal's end
	}
	assert.Zero(t, rimOffset(at, value, mostRim))
}

// The cavity's border lies somewhat more than half-way between the line's darkest place and the steepest rise to the sleeve, 0; without a line it
// stays.
func TestInnerOffset(t *testing.T) {
	const mmPerPX = 0.003
	profile := func(line, depth float64) (at, value []float64) {
		for x := -8.; x <= 8; x += 0.25 {
			v := 0.7 // strands
			if x > 0 {
				v = 1
			}
			at, value = append(at, x), append(value, v-depth*math.Exp(-(x-line)*(x-line)/0.5))
		}
		return at, value
	}
	for _, line := range []float64{-1, -1.5, -2.5} {
		at, value := profile(line, 0.4)
		assert.InDelta(t, line*innerShare, innerOffset(at, value, mmPerPX), 0.13, "line at %g", line)
	}
	at, value := profile(-1, 0.01)
	assert.Zero(t, innerOffset(at, value, mmPerPX))
}
