package section

import (
	"math"

	"crimprule/vision/section/raster"
)

// frame leads from the view's pixels to millimetres with the floor down: mm = S (px - origin) / pxPerMM, S being the
// reflection and turn that brings the picture's y down to the section's y up.
type frame struct {
	cos, sin float64
	pxPerMM  float64
	origin   raster.Point // px of the view
}

// newFrame takes the part's turn, counterclockwise as seen in the picture.
func newFrame(turnDeg, pxPerMM float64, origin raster.Point) frame {
	sin, cos := math.Sincos(turnDeg * math.Pi / 180)
	return frame{cos: cos, sin: sin, pxPerMM: pxPerMM, origin: origin}
}

// mm and px are inverse to each other; the matrix (cos, -sin; -sin, -cos) is its own inverse.
func (f frame) mm(p raster.Point) raster.Point {
	x, y := (p.X-f.origin.X)/f.pxPerMM, (p.Y-f.origin.Y)/f.pxPerMM
	return raster.Point{X: f.cos*x - f.sin*y, Y: -f.sin*x - f.cos*y}
}

func (f frame) px(p raster.Point) raster.Point {
	return raster.Point{
		X: f.origin.X + f.pxPerMM*(f.cos*p.X-f.sin*p.Y),
		Y: f.origin.Y + f.pxPerMM*(-f.sin*p.X-f.cos*p.Y),
	}
}

func each(line []raster.Point, f func(raster.Point) raster.Point) []raster.Point {
	out := make([]raster.Point, len(line))
	for i, p := range line {
		out[i] = f(p)
	}
	return out
}
