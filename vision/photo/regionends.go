package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// regionEnd is an edge across the part at which a region ends, along a curve: a rim that rises and falls looks bent where
// it is seen from aside.
type regionEnd struct {
	share  func(x, y float64) float64 // how much speaks for the region
	from   float64                    // x of a place well within the region
	inside float64                    // -1 where the region lies before the edge, +1 where it lies behind it
	far    float64                    // how far from there the edge is looked for, mm
}

const (
	endStepMM = 0.02
	endPadMM  = 0.25 // an edge is looked for this far from its region's border
)

// border is the region's border along the curve's scan line at y; ok is false where there is none.
func (e regionEnd) border(y float64) (x float64, ok bool) {
	last := e.share(e.from, y)
	if last < 0.5 {
		return 0, false
	}
	for d := endStepMM; d <= e.far; d += endStepMM {
		x := e.from - e.inside*d
		s := e.share(x, y)
		if s < 0.5 {
			return x + e.inside*endStepMM*(0.5-s)/math.Max(last-s, 1e-9), true
		}
		last = s
	}
	return 0, false
}

// find finds the edge on scan lines in the bands of y.
func (e regionEnd) find(b *bench, bands ...band) (c crossEdge, ok bool) {
	var ys, xs []float64
	for _, r := range bands {
		for y := r.lo; y+scanStepMM <= r.hi+1e-9; y += scanStepMM {
			if x, ok := e.border(y + scanStepMM/2); ok {
				ys, xs = append(ys, y+scanStepMM/2), append(xs, x)
			}
		}
	}
	if len(xs) < 4 {
		return c, false
	}
	xs = smoothed(xs)
	reach := subpixel.Both(crossReachMM * b.ppm)
	pad := crossReachMM + endPadMM
	r := regionBorder{inside: e.inside, reach: reach}
	n := int(2*pad*b.ppm) + 1
	r.share = make([]float64, n)
	for k, y := range ys {
		x0 := xs[k] - pad
		r.lines = append(r.lines, b.along(x0, x0+float64(n-1)/b.ppm+1e-9, y-scanStepMM/2, y+scanStepMM/2))
		r.start = append(r.start, x0)
		for i := range r.share {
			r.share[i] += e.share(x0+float64(i)/b.ppm, y) / float64(len(ys))
		}
	}
	f, ok := r.find(b)
	if !ok {
		return c, false
	}
	for _, p := range f.points {
		c.points = append(c.points, subpixel.Point{X: p.Y, Y: ys[int(p.X)]})
	}
	c.settle()
	c.u = math.Hypot(c.u, f.u)
	return c, true
}

// smoothed is the median of five neighbours: one line that met a stray or a spot leaves no trace.
func smoothed(v []float64) []float64 {
	out := make([]float64, len(v))
	for i := range v {
		near := slices.Clone(v[max(0, i-2):min(len(v), i+3)])
		out[i] = subpixel.Percentile(near, 50)
	}
	return out
}

// shareOfClass is how much speaks for a class at a place.
func (b *bench) shareOfClass(c part.Class) func(x, y float64) float64 {
	return func(x, y float64) float64 { return b.part.Regions.At(c, b.frame, x, y) }
}
