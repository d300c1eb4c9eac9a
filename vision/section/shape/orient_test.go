package shape

import (
	"math"
	"math/rand"
	"testing"

	"github.com/stretchr/testify/require"

	"crimprule/vision/section/raster"
)

// picture puts an outline in mm (y up) into a picture of 3 um/px (y down), turned counterclockwise as seen.
func picture(p []raster.Point, deg, noise float64, r *rand.Rand) []raster.Point {
	c := even(p, 0.003)
	out := make([]raster.Point, len(c.p))
	for i, q := range c.p {
		q = rotate(q, deg*math.Pi/180)
		out[i] = raster.Point{X: 800 + q.X/0.003 + noise*r.NormFloat64(), Y: 700 - q.Y/0.003 + noise*r.NormFloat64()}
	}
	return out
}

func TestOrientAtAnyTurn(t *testing.T) {
	r := rand.New(rand.NewSource(5))
	for name, s := range samples(t) {
		if raster.Area(s.Outer) < 0 {
			for i, j := 0, len(s.Outer)-1; i < j; i, j = i+1, j-1 {
				s.Outer[i], s.Outer[j] = s.Outer[j], s.Outer[i]
			}
		}
		for deg := -179.; deg < 180; deg += 45.3 {
			o, err := Orient(picture(s.Outer, deg, 1, r))
			require.NoError(t, err, "%s %g", name, deg)
			require.InDelta(t, 0, math.Remainder(o.TurnDeg-deg, 360), 0.5, "%s %g", name, deg)
			require.Greater(t, o.Margin, 0.5, "%s %g", name, deg)
			c, sin := math.Cos(deg*math.Pi/180), -math.Sin(deg*math.Pi/180)
			along := (o.Floor[1].X-o.Floor[0].X)*c + (o.Floor[1].Y-o.Floor[0].Y)*sin
			require.Greater(t, along, 500., "%s %g: the floor runs to the part's right", name, deg)
			up := (o.Notch.X-o.Floor[0].X)*sin - (o.Notch.Y-o.Floor[0].Y)*c
			require.Greater(t, up, 300., "%s %g: the notch lies above the floor", name, deg)
		}
	}
}

func TestOrientRefusesWhatHasNoNotch(t *testing.T) {
	r := rand.New(rand.NewSource(6))
	circle := make([]raster.Point, 90)
	for i := range circle {
		a := float64(i) * 4 * math.Pi / 180
		circle[i] = raster.Point{X: math.Cos(a), Y: math.Sin(a)}
	}
	_, err := Orient(picture(circle, 0, 1, r))
	require.ErrorContains(t, err, "turn the picture by hand")
}
