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
// lattice's lines, so its share is that of the endless lattice. The aim is 0.01, and within u, however the borders are etched. A
// groove as dark as the void itself and 1.2 px wide on either side is taken for void in part by this version, since strands
// that touch at a point only show it nowhere else: there the limit is what it reaches.
func TestPackingsOfCircles(t *testing.T) {
	type groove struct{ halfPX, dark, limit, share float64 } // limit of the error, and as a share of u
	clean, faint, dark := groove{0, 0, 0.01, 1}, groove{0.6, 0.5, 0.01, 1}, groove{1.2, 0.8, 0.045, 2.3}
	for _, c := range []struct {
		name       string
		kind       drawn.Lattice
		diameterMM float64
		mmPerPX    float64
		groove     groove
	}{
		{"hexagonal", drawn.Hex, 0.3, 0.004, clean},
		{"hexagonal, small strands", drawn.Hex, 0.2, 0.004, clean},
		{"hexagonal, etched", drawn.Hex, 0.3, 0.004, faint},
		{"hexagonal, etched black", drawn.Hex, 0.3, 0.004, dark},
		{"square", drawn.Square, 0.3, 0.004, clean},
		{"square, small strands", drawn.Square, 0.2, 0.004, clean},
		{"square, etched", drawn.Square, 0.3, 0.004, faint},
		{"square, etched black", drawn.Square, 0.3, 0.004, dark},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := drawn.Packing(c.kind, c.diameterMM, 6, 6, 0.4, c.mmPerPX)
			s.Look.GrooveMM, s.Look.GrooveDark = c.groove.halfPX*c.mmPerPX, c.groove.dark
			want := 1 - math.Pi/4
			if c.kind == drawn.Hex {
				want = 1 - math.Pi/(2*math.Sqrt(3))
			}
			got, area, pieces := findIn(t, s)
			ratio, u := got.VoidAreaPX/area, got.UVoidAreaPX/area
			t.Logf("void ratio %.4f, true %.4f, u %.4f; %d strands of %d", ratio, want, u, len(got.Strands), len(pieces))
			assert.InDelta(t, want, ratio, c.groove.share*u, "u %.4f", u)
			assert.InDelta(t, want, ratio, c.groove.limit)
			// Circles that the cavity's border cuts to halves and quarters are no strands to be counted on: between all whole ones
			// and all.
			whole := 0
			for _, p := range pieces {
				if p.Area() > 0.99*math.Pi/4*c.diameterMM*c.diameterMM {
					whole++
				}
			}
			assert.GreaterOrEqual(t, len(got.Strands), whole)
			assert.LessOrEqual(t, len(got.Strands), len(pieces))
		})
	}
}

// findIn draws a packing and looks for its strands within the exact cavity; area is the cavity's, px².
func findIn(t *testing.T, s drawn.Scene) (got strands.Found, area float64, pieces []drawn.Polygon) {
	t.Helper()
	img, truth := s.Draw()
	grey, ok := img.(*image.Gray)
	require.True(t, ok)
	w, h := grey.Rect.Dx(), grey.Rect.Dy()
	tone := raster.NewPlane(w, h)
	for i := range tone.Pix {
		tone.Pix[i] = float32(grey.Pix[i/w*grey.Stride+i%w]) / 255
	}
	var cavity [][]raster.Point
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
	return got, area, truth.Geometry.Strands
}
