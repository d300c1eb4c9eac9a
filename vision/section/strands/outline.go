package strands

import (
	"math"

	"crimprule/vision/section/raster"
)

// outline walks round the outside of the region that holds a first pixel in reading order, clockwise as seen, along
// the cracks between pixels, and returns the cracks' middles smoothed, in px of the grid.
func outline(first, w, h int, in func(i int) bool) []raster.Point {
	corners := raster.Walk(w, h, first, in)
	p := make([]raster.Point, len(corners))
	for i, a := range corners {
		b := corners[(i+1)%len(corners)]
		p[i] = raster.Point{X: (a.X + b.X) / 2, Y: (a.Y + b.Y) / 2}
	}
	return smooth(p)
}

// smooth averages over five neighbours, which takes the stairs out of a crack line.
func smooth(p []raster.Point) []raster.Point {
	n := len(p)
	if n < 8 {
		return p
	}
	out := make([]raster.Point, n)
	for i := range p {
		for k := -2; k <= 2; k++ {
			q := p[(i+k+n)%n]
			out[i].X += q.X / 5
			out[i].Y += q.Y / 5
		}
	}
	return out
}

// placed turns a place of the grid into one of the input's.
func (f *field) placed(p []raster.Point) []raster.Point {
	s := float64(f.scale)
	out := make([]raster.Point, len(p))
	for i, q := range p {
		out[i] = raster.Point{X: float64(f.x0) + (q.X+0.5)*s - 0.5, Y: float64(f.y0) + (q.Y+0.5)*s - 0.5}
	}
	return out
}

// roundness is 4 pi area / perimeter² of a polygon; 1 for a circle.
func roundness(p []raster.Point) float64 {
	l := raster.Length(p)
	if l == 0 {
		return 0
	}
	return 4 * math.Pi * math.Abs(raster.Area(p)) / (l * l)
}
