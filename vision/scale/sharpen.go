package scale

import (
	"math"
	"slices"
)

// Where along a square's side its edge is read, as a share of the side from the corner: not next to the corner, where
// two edges blur into each other, nor up to the next corner, which would tie neighbours together.
const (
	edgeFrom, edgeTo = 0.08, 0.46
	edgeReachPX      = 4  // half length of the profile across an edge
	edgeMinSpacing   = 40 // px; below this too few profiles remain and the first refinement stands
)

// at is the bilinear grey value; the caller keeps inside.
func (p plane8) at(c pt) float64 {
	i, j := int(c.x), int(c.y)
	fx, fy := c.x-float64(i), c.y-float64(j)
	o := j*p.w + i
	a, b, d, e := float64(p.v[o]), float64(p.v[o+1]), float64(p.v[o+p.w]), float64(p.v[o+p.w+1])
	return a + fx*(b-a) + fy*(d-a+fx*(a-b-d+e))
}

func (p plane8) inside(c pt, rim float64) bool {
	return c.x >= rim && c.y >= rim && c.x < float64(p.w)-1-rim && c.y < float64(p.h)-1-rim
}

// edgeOffset is how far the edge lies from c along the unit vector n: the centre of gravity of the brightness step
// across it, which is linear in brightness and so unbiased under noise. False where there is no clear step.
func (p plane8) edgeOffset(c, n pt) (float64, bool) {
	if !p.inside(c, edgeReachPX+2) {
		return 0, false
	}
	before := p.at(c.sub(n.mul(edgeReachPX)))
	first, sum, moment := before, 0., 0.
	for k := -edgeReachPX + 1; k <= edgeReachPX; k++ {
		v := p.at(c.add(n.mul(float64(k))))
		g := v - before
		sum += g
		moment += g * (float64(k) - 0.5)
		before = v
	}
	if math.Abs(before-first) < minContrast {
		return 0, false
	}
	d := moment / sum
	return d, math.Abs(d) < edgeReachPX/2
}

// line is the mean offset of the edge through c along the direction u (one square long), read to both sides of c in
// equal parts: what makes dark squares look larger or smaller than bright ones then cancels.
func (p plane8) line(c, u pt) (float64, bool) {
	length := u.norm()
	e := u.mul(1 / length)
	n := pt{-e.y, e.x}
	var sides [2][]float64
	for k, sign := range [2]float64{1, -1} {
		for t := edgeFrom * length; t < edgeTo*length; t++ {
			if d, ok := p.edgeOffset(c.add(e.mul(sign*t)), n); ok {
				sides[k] = append(sides[k], d)
			}
		}
		if float64(len(sides[k])) < 0.6*(edgeTo-edgeFrom)*length {
			return 0, false
		}
	}
	return (trimmedMean(sides[0]) + trimmedMean(sides[1])) / 2, true
}

// trimmedMean leaves out the outer tenths: specks and scratches.
func trimmedMean(v []float64) float64 {
	slices.Sort(v)
	cut := len(v) / 10
	v = v[cut : len(v)-cut]
	s := 0.
	for _, x := range v {
		s += x
	}
	return s / float64(len(v))
}

// sharpened moves each corner to the crossing of its two edges, read over nearly half a square to each side. It averages the
// roughness of the print over a longer way than a window about the corner can. Corners that it cannot serve stay.
func (g grid) sharpened(pic plane8) grid {
	out := make(grid, len(g))
	for c, p := range g {
		out[c] = p
		u, okU := g.local(c, cell{1, 0})
		v, okV := g.local(c, cell{0, 1})
		if !okU || !okV || min(u.norm(), v.norm()) < edgeMinSpacing {
			continue
		}
		q := p
		good := true
		for range 3 {
			du, ok1 := pic.line(q, u)
			dv, ok2 := pic.line(q, v)
			if good = ok1 && ok2; !good {
				break
			}
			nu, nv := pt{-u.y, u.x}.mul(1/u.norm()), pt{-v.y, v.x}.mul(1/v.norm())
			det := nu.cross(nv)
			d := pt{(du*nv.y - dv*nu.y) / det, (nu.x*dv - nv.x*du) / det}
			q = q.add(d)
			if d.norm() < 0.005 {
				break
			}
		}
		if good && q.dist(p) < 1.5 {
			out[c] = q
		}
	}
	return out
}

// local is the lattice vector at a corner: half the way between its two neighbours where both are there.
func (g grid) local(c cell, step cell) (pt, bool) {
	next, ok1 := g[cell{c.i + step.i, c.j + step.j}]
	last, ok2 := g[cell{c.i - step.i, c.j - step.j}]
	switch {
	case ok1 && ok2:
		return next.sub(last).mul(0.5), true
	case ok1:
		return next.sub(g[c]), true
	case ok2:
		return g[c].sub(last), true
	}
	return pt{}, false
}
