package raster

import "math"

// Point is a place; the unit and the frame are told where it is used.
type Point struct{ X, Y float64 }

// Area is the signed area of a closed polygon (the last point joins the first): positive where it runs
// counterclockwise in a frame with y up.
func Area(p []Point) float64 {
	s := 0.
	for i, a := range p {
		b := p[(i+1)%len(p)]
		s += a.X*b.Y - b.X*a.Y
	}
	return s / 2
}

// Length is that of the closed polygon's border.
func Length(p []Point) float64 {
	s := 0.
	for i, a := range p {
		b := p[(i+1)%len(p)]
		s += math.Hypot(b.X-a.X, b.Y-a.Y)
	}
	return s
}
