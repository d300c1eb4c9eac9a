package section

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	drawn "crimprule/internal/drawn/section"
	"crimprule/vision/section/raster"
	"crimprule/vision/section/strands"
)

// Equal circles that touch leave 1 - pi/(2·sqrt(3)) = 9.310 % of the plane in hexagonal packing (the densest there is: Thue
// 1910) and 1 - pi/4 = 21.460 % in square packing; both are plain geometry of one cell. The drawn cavity is cut along the
// lattice's lines, so its share is that of the endless lattice.
func TestPackingsOfCircles(t *testing.T) {
	for _, c := range []struct {
		name       string
		kind       drawn.Lattice
		cols, rows int
		diameterMM float64
		want       float64
	}{
		{"hexagonal", drawn.Hex, 6, 6, 0.3, 1 - math.Pi/(2*math.Sqrt(3))},
		{"hexagonal, small strands", drawn.Hex, 8, 8, 0.15, 1 - math.Pi/(2*math.Sqrt(3))},
		{"square", drawn.Square, 6, 5, 0.3, 1 - math.Pi/4},
		{"square, small strands", drawn.Square, 9, 7, 0.15, 1 - math.Pi/4},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := drawn.Packing(c.kind, c.diameterMM, c.cols, c.rows, 0.4, 0.004)
			img, truth := s.Draw()
			grey, ok := img.(*image.Gray)
			require.True(t, ok)
			w, h := grey.Rect.Dx(), grey.Rect.Dy()
			tone := raster.NewPlane(w, h)
			for i := range tone.Pix {
				tone.Pix[i] = float32(grey.Pix[i/w*grey.Stride+i%w]) / 255
			}
			var cavity [][]raster.Point
			area := 0.
			for _, p := range truth.Aid.Cavity {
				var line []raster.Point
				for _, q := range p {
					line = append(line, raster.Point{X: q[0], Y: q[1]})
				}
				cavity = append(cavity, line)
				area += math.Abs(raster.Area(line))
			}
			got, err := strands.Find(strands.Input{Tone: []raster.Plane{tone}, Cavity: raster.Fill(w, h, cavity...), MMPerPX: s.MMPerPX, BlurPX: s.Optics.BlurPX})
			require.NoError(t, err)
			ratio, u := got.VoidAreaPX/area, got.UVoidAreaPX/area
			t.Logf("void ratio %.4f, true %.4f, u %.4f; %d strands of %d, u %g", ratio, c.want, u, len(got.Strands), len(truth.Geometry.Strands), got.UCount)
			assert.InDelta(t, c.want, ratio, u, "within u")
			assert.InDelta(t, c.want, ratio, 0.01)
			assert.Positive(t, u)
			assert.InDelta(t, len(truth.Geometry.Strands), len(got.Strands), got.UCount, "halves and quarters at the border counted too")
		})
	}
}
