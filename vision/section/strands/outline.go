package strands

import (
	"math"

	"crimprule/vision/section/raster"
)

// outline walks round the outside of the region that holds a first pixel in reading order, clockwise as seen, along
// the cracks between pixels, and returns the cracks' middles smoothed, in px of the grid.
func outline(first, w, h int, in func(i int) bool) []raster.Point {
	inside := func(x, y int) bool { return x >= 0 && y >= 0 && x < w && y < h && in(y*w+x) }
	// The walker stands on a pixel's corner with the region to its right; directions: right, down, left, up.
	steps := [4][2]int{{1, 0}, {0, 1}, {-1, 0}, {0, -1}}
	x, y, d := first%w, first/w, 0
	x0, y0 := x, y
	var p []raster.Point
	for {
		p = append(p, raster.Point{X: float64(x) + float64(steps[d][0])/2 - 0.5, Y: float64(y) + float64(steps[d][1])/2 - 0.5})
		x, y = x+steps[d][0], y+steps[d][1]
		// The two pixels ahead, left and right of the way on.
		var l, r bool
		switch d {
		case 0:
			l, r = inside(x, y-1), inside(x, y)
		case 1:
			l, r = inside(x, y), inside(x-1, y)
		case 2:
			l, r = inside(x-1, y), inside(x-1, y-1)
		case 3:
			l, r = inside(x-1, y-1), inside(x, y-1)
		}
		switch {
		case l && r:
			d = (d + 3) % 4
		case !r:
			d = (d + 1) % 4
		}
		if x == x0 && y == y0 && d == 0 {
			return smooth(p)
		}
	}
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

// blobs4 numbers the connected regions of a mask; -1 outside.
func blobs4(in []bool, w, h int) (label []int32, sizes []int) {
	label = make([]int32, len(in))
	for i := range label {
		label[i] = -1
	}
	var stack []int
	for s, v := range in {
		if !v || label[s] >= 0 {
			continue
		}
		id := int32(len(sizes))
		label[s] = id
		stack = append(stack[:0], s)
		n := 0
		for len(stack) > 0 {
			i := stack[len(stack)-1]
			stack = stack[:len(stack)-1]
			n++
			x, y := i%w, i/w
			visit := func(j int, ok bool) {
				if ok && in[j] && label[j] < 0 {
					label[j] = id
					stack = append(stack, j)
				}
			}
			visit(i-1, x > 0)
			visit(i+1, x < w-1)
			visit(i-w, y > 0)
			visit(i+w, y < h-1)
		}
		sizes = append(sizes, n)
	}
	return label, sizes
}
