package section

import "math"

// window is a piece of the sampling grid: columns x0.. and rows y0...
type window struct{ x0, y0, w, h int }

func (w window) cut(o window) window {
	x0, y0 := max(w.x0, o.x0), max(w.y0, o.y0)
	return window{x0, y0, min(w.x0+w.w, o.x0+o.w) - x0, min(w.y0+w.h, o.y0+o.h) - y0}
}

func (w window) empty() bool { return w.w <= 0 || w.h <= 0 }

// around gives the window about points, with a margin.
func around(p []Point, margin float64) window {
	lo, hi := Polygon(p).box()
	x0, y0 := int(math.Floor(lo.X-margin)), int(math.Floor(lo.Y-margin))
	return window{x0, y0, int(math.Ceil(hi.X+margin)) - x0 + 1, int(math.Ceil(hi.Y+margin)) - y0 + 1}
}

// cover adds to dst, a row-major plane over the window, the share of every grid square that the polygon covers: exactly,
// from the area to the right of every edge within each square (the accumulation that font rasterisers use). The square
// (i, j) reaches from i to i+1 and from j to j+1. The sign is that of a polygon that runs counterclockwise with y up.
func cover(dst []float32, win window, p Polygon) {
	acc := make([]float32, (win.w+2)*win.h)
	stride := win.w + 2
	for i, a := range p {
		edge(acc, stride, win, a, p[(i+1)%len(p)])
	}
	for y := range win.h {
		sum := float32(0)
		row, out := acc[y*stride:(y+1)*stride], dst[y*win.w:(y+1)*win.w]
		for x := range out {
			sum += row[x]
			out[x] += sum
		}
	}
}

// edge accumulates one edge.
func edge(acc []float32, stride int, win window, a, b Point) {
	if a.Y == b.Y {
		return
	}
	// y points down in the grid: an edge that runs downwards has the inside on its right in a polygon that runs
	// counterclockwise with y up.
	dir := 1.
	if a.Y > b.Y {
		a, b, dir = b, a, -1
	}
	top, bottom := float64(win.y0), float64(win.y0+win.h)
	if b.Y <= top || a.Y >= bottom {
		return
	}
	slope := (b.X - a.X) / (b.Y - a.Y)
	y := max(a.Y, top)
	end := min(b.Y, bottom)
	for row := int(math.Floor(y)); y < end; row++ {
		next := min(float64(row+1), end)
		if next <= y {
			continue
		}
		x0 := a.X + (y-a.Y)*slope - float64(win.x0)
		x1 := a.X + (next-a.Y)*slope - float64(win.x0)
		span(acc[(row-win.y0)*stride:], win.w, x0, x1, dir*(next-y))
		y = next
	}
}

// span spreads the height d of an edge that runs from x0 to x1 within one row.
func span(row []float32, w int, x0, x1, d float64) {
	if x0 > x1 {
		x0, x1 = x1, x0
	}
	if x1 <= 0 {
		row[0] += float32(d)
		return
	}
	if x0 >= float64(w) {
		return
	}
	i0, i1 := int(math.Floor(x0)), int(math.Floor(x1))
	if i0 == i1 {
		put(row, w, i0, d, 1-(x0+x1)/2+float64(i0))
		return
	}
	k := d / (x1 - x0)
	put(row, w, i0, k*(float64(i0+1)-x0), (float64(i0+1)-x0)/2)
	for i := i0 + 1; i < i1; i++ {
		put(row, w, i, k, 0.5)
	}
	put(row, w, i1, k*(x1-float64(i1)), 1-(x1-float64(i1))/2)
}

// put adds height d in column i, of which the share lies within the column's square to the right of the edge.
func put(row []float32, w, i int, d, share float64) {
	switch {
	case i < 0:
		row[0] += float32(d)
	case i < w:
		row[i] += float32(d * share)
		row[i+1] += float32(d * (1 - share))
	}
}

// field holds the distance to the nearest of some lines, in grid units, for squares nearer than reach.
type field struct {
	win   window
	reach float64
	d     []float32
}

func newField(win window, reach float64) *field {
	f := &field{win, reach, make([]float32, win.w*win.h)}
	for i := range f.d {
		f.d[i] = float32(reach)
	}
	return f
}

// add lowers the distances by a polyline.
func (f *field) add(l []Point) {
	for i := 0; i+1 < len(l); i++ {
		a, b := l[i], l[i+1]
		w := around([]Point{a, b}, f.reach).cut(f.win)
		if w.empty() {
			continue
		}
		d := b.sub(a)
		k := d.dot(d)
		if k > 0 {
			k = 1 / k
		}
		for y := w.y0; y < w.y0+w.h; y++ {
			row := f.d[(y-f.win.y0)*f.win.w : (y-f.win.y0+1)*f.win.w]
			py := float64(y) + 0.5 - a.Y
			for x := w.x0; x < w.x0+w.w; x++ {
				px := float64(x) + 0.5 - a.X
				t := (px*d.X + py*d.Y) * k
				if t < 0 {
					t = 0
				} else if t > 1 {
					t = 1
				}
				ex, ey := px-t*d.X, py-t*d.Y
				if r := ex*ex + ey*ey; r < sq(float64(row[x-f.win.x0])) {
					row[x-f.win.x0] = float32(math.Sqrt(r))
				}
			}
		}
	}
}
