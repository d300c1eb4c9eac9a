package raster

import (
	"math"
	"slices"
)

// Resample walks a polygon or polyline in equal steps of about the given length; a closed one ends one step before
// its first point.
func Resample(p []Point, step float64, closed bool) []Point {
	if len(p) < 2 {
		return append([]Point(nil), p...)
	}
	q := p
	if closed {
		q = append(append([]Point(nil), p...), p[0])
	}
	at := make([]float64, len(q))
	for i := 1; i < len(q); i++ {
		at[i] = at[i-1] + math.Hypot(q[i].X-q[i-1].X, q[i].Y-q[i-1].Y)
	}
	total := at[len(at)-1]
	n := max(int(math.Round(total/step)), 3)
	last := n
	if closed {
		last = n - 1
	}
	out := make([]Point, 0, last+1)
	k := 0
	for i := 0; i <= last; i++ {
		s := total * float64(i) / float64(n)
		for k < len(q)-2 && at[k+1] < s {
			k++
		}
		f := 0.
		if d := at[k+1] - at[k]; d > 0 {
			f = (s - at[k]) / d
		}
		out = append(out, Point{q[k].X + f*(q[k+1].X-q[k].X), q[k].Y + f*(q[k+1].Y-q[k].Y)})
	}
	return out
}

// Smooth weighs the points of a closed polygon with their neighbours by a Gaussian of the given sigma, in points.
func Smooth(p []Point, sigma float64) []Point { return smooth(p, sigma, true) }

// SmoothOpen does so for a line with two ends.
func SmoothOpen(p []Point, sigma float64) []Point { return smooth(p, sigma, false) }

func smooth(p []Point, sigma float64, closed bool) []Point {
	n, r := len(p), int(3*sigma+0.5)
	if r < 1 || n < 2*r+1 {
		return append([]Point(nil), p...)
	}
	w := make([]float64, r+1)
	sum := 0.
	for k := range w {
		w[k] = math.Exp(-float64(k*k) / (2 * sigma * sigma))
		sum += w[k]
		if k > 0 {
			sum += w[k]
		}
	}
	out := make([]Point, n)
	for i := range p {
		x, y := 0., 0.
		for k := -r; k <= r; k++ {
			j := i + k
			if closed {
				j = (j%n + n) % n
			} else {
				j = min(max(j, 0), n-1)
			}
			f := w[max(k, -k)] / sum
			x += f * p[j].X
			y += f * p[j].Y
		}
		out[i] = Point{x, y}
	}
	return out
}

// Normals gives the unit normals of a closed polygon that point to the left of the way in a frame with y down (out of a
// piece that lies to the right), from the neighbours k points away.
func Normals(p []Point, k int) []Point {
	n := len(p)
	out := make([]Point, n)
	for i := range p {
		a, b := p[((i-k)%n+n)%n], p[(i+k)%n]
		dx, dy := b.X-a.X, b.Y-a.Y
		if l := math.Hypot(dx, dy); l > 0 {
			out[i] = Point{dy / l, -dx / l}
		}
	}
	return out
}

// Fill marks the pixels whose centres lie inside any of the closed polygons (even-odd rule).
func Fill(w, h int, polygons ...[]Point) Mask {
	m := NewMask(w, h)
	for y := range h {
		var cuts []float64
		for _, p := range polygons {
			for i, a := range p {
				b := p[(i+1)%len(p)]
				if (a.Y <= float64(y)) != (b.Y <= float64(y)) {
					cuts = append(cuts, a.X+(float64(y)-a.Y)/(b.Y-a.Y)*(b.X-a.X))
				}
			}
		}
		slices.Sort(cuts)
		for i := 0; i+1 < len(cuts); i += 2 {
			for x := max(int(math.Ceil(cuts[i])), 0); x <= min(int(math.Floor(cuts[i+1])), w-1); x++ {
				m.Pix[y*w+x] = true
			}
		}
	}
	return m
}
