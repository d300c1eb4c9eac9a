package scale

import (
	"math"

	"gocv.io/x/gocv"
)

// plane8 is the full picture: 8-bit grey values, row by row.
type plane8 struct {
	w, h int
	v    []uint8
}

func newPlane8(grey gocv.Mat) (plane8, error) {
	data, err := grey.DataPtrUint8()
	return plane8{grey.Cols(), grey.Rows(), data}, err
}

// patch samples a square of (2·half+1)² values about a place, by bilinear interpolation. False outside the picture.
func (p plane8) patch(c pt, half int, out []float64) bool {
	x0, y0 := c.x-float64(half), c.y-float64(half)
	i0, j0 := int(math.Floor(x0)), int(math.Floor(y0))
	n := 2*half + 1
	if i0 < 0 || j0 < 0 || i0+n >= p.w || j0+n >= p.h {
		return false
	}
	fx, fy := x0-float64(i0), y0-float64(j0)
	a, b, d, e := (1-fx)*(1-fy), fx*(1-fy), (1-fx)*fy, fx*fy
	for j := range n {
		up := p.v[(j0+j)*p.w+i0 : (j0+j)*p.w+i0+n+1]
		down := p.v[(j0+j+1)*p.w+i0 : (j0+j+1)*p.w+i0+n+1]
		row := out[j*n : (j+1)*n]
		for i := range row {
			row[i] = a*float64(up[i]) + b*float64(up[i+1]) + d*float64(down[i]) + e*float64(down[i+1])
		}
	}
	return true
}

const (
	maxHalf     = 24 // px; more gains little and costs time
	minHalf     = 3
	refineSteps = 12
)

// refiner finds where the edges through a corner cross: every gradient in the window lies square to its edge, and so to the
// line from the crossing. The crossing is the least-squares answer to these conditions (Förstner's corner; OpenCV's
// cornerSubPix rests on the same idea). The window stays under half of the corners' spacing, or the next corner pulls.
type refiner struct {
	pic    plane8
	half   int
	patch  []float64
	weight []float64
}

func newRefiner(pic plane8, half int) *refiner {
	n := 2*half + 3
	r := &refiner{pic: pic, half: half, patch: make([]float64, n*n), weight: make([]float64, 2*half+1)}
	for i := range r.weight {
		x := float64(i-half) / float64(half+1)
		r.weight[i] = math.Exp(-x * x)
	}
	return r
}

// refine moves a corner from its first guess to the crossing of its edges; false where that does not settle within
// reach of the guess.
func (r *refiner) refine(guess pt, reach float64) (pt, bool) {
	c := guess
	for range refineSteps {
		if !r.pic.patch(c, r.half+1, r.patch) {
			return c, false
		}
		d, ok := r.step()
		if !ok {
			return c, false
		}
		c = c.add(d)
		if c.dist(guess) > reach {
			return c, false
		}
		if d.norm() < 0.002 {
			return c, true
		}
	}
	return c, true
}

func (r *refiner) step() (pt, bool) {
	n := 2*r.half + 3
	var xx, xy, yy, bx, by float64
	for j := 1; j < n-1; j++ {
		wy := r.weight[j-1]
		y := float64(j - 1 - r.half)
		row := r.patch[j*n : (j+1)*n]
		up, down := r.patch[(j-1)*n:j*n], r.patch[(j+1)*n:(j+2)*n]
		for i := 1; i < n-1; i++ {
			gx, gy := row[i+1]-row[i-1], down[i]-up[i]
			w := wy * r.weight[i-1]
			x := float64(i - 1 - r.half)
			a, b, d := w*gx*gx, w*gx*gy, w*gy*gy
			xx, xy, yy = xx+a, xy+b, yy+d
			bx, by = bx+a*x+b*y, by+b*x+d*y
		}
	}
	det := xx*yy - xy*xy
	if det <= 1e-3*(xx+yy)*(xx+yy) { // one edge only: the place along it is open
		return pt{}, false
	}
	return pt{(yy*bx - xy*by) / det, (xx*by - xy*bx) / det}, true
}

// spacings gives each corner the distance to its nearest neighbour in the lattice.
func (g grid) spacings() map[cell]float64 {
	out := make(map[cell]float64, len(g))
	for c, p := range g {
		best := math.Inf(1)
		for _, s := range steps {
			if q, ok := g[cell{c.i + s.i, c.j + s.j}]; ok {
				best = math.Min(best, p.dist(q))
			}
		}
		out[c] = best
	}
	return out
}

// refined gives the lattice with its corners at sub-pixel places of the full picture; corners that do not settle go.
func (g grid) refined(pic plane8) grid {
	out := grid{}
	refiners := map[int]*refiner{}
	for c, spacing := range g.spacings() {
		if math.IsInf(spacing, 1) {
			continue
		}
		for _, share := range []float64{0.36, 0.18} { // the outer squares may be cut: then a smaller window still serves
			half := min(max(int(share*spacing), minHalf), maxHalf)
			r := refiners[half]
			if r == nil {
				r = newRefiner(pic, half)
				refiners[half] = r
			}
			if p, ok := r.refine(g[c], math.Max(2, 0.15*spacing)); ok {
				out[c] = p
				break
			}
		}
	}
	return out
}
