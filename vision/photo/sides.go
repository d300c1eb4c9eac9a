package photo

import (
	"math"

	"crimprule/vision/subpixel"
)

// span is from where to where across the sleeve's region reaches round the middle; outside of lo..hi the regions are sure
// that there is none, within in.. they are sure of it.
type span struct{ lo, inLo, inHi, hi float64 }

// sleeveSpan is the span, by the median over columns of x0..x1.
func (b *bench) sleeveSpan(x0, x1 float64) (s span, ok bool) {
	const step, most = 0.05, 4.5
	var v [4][]float64
	for x := x0; x <= x1; x += 0.25 {
		edge := func(dir, level float64) float64 {
			y := 0.0
			for y < most && b.sleeveShare(x, dir*y) > level {
				y += step
			}
			return dir * (y - step/2)
		}
		if b.sleeveShare(x, 0) < 0.5 {
			continue
		}
		for k, e := range []float64{edge(-1, 0.1), edge(-1, 0.9), edge(1, 0.9), edge(1, 0.1)} {
			v[k] = append(v[k], e)
		}
	}
	if len(v[0]) < 6 {
		return s, false
	}
	m := func(k int) float64 { return subpixel.Percentile(v[k], 50) }
	return span{m(0), m(1), m(2), m(3)}, true
}

// sides finds both long sides of the sleeve behind the bellmouth.
func (b *bench) sides(rear, front float64) (l, r outline, ok bool) {
	x0, x1 := rear+bellClearMM, front-frontClearMM
	s, ok := b.sleeveSpan(x0, x1)
	if !ok {
		return l, r, false
	}
	l, okL := b.oneSide(left, x0, x1, s.inHi, s.hi)
	r, okR := b.oneSide(right, x0, x1, -s.inLo, -s.lo)
	return l, r, okL && okR
}

// sidePadMM: a side is looked for this far beyond where the regions are sure of either side of it.
const sidePadMM = 0.3

// oneSide finds one side, which the regions place between from and to (mm outwards).
func (b *bench) oneSide(s side, x0, x1, from, to float64) (o outline, ok bool) {
	step := (x1 - x0) / blocksAcross
	near := math.Max(0, from-sidePadMM-metalReachMM)
	far := to + sidePadMM + borderReachMM
	r := regionBorder{inside: -1, reach: b.sideReach()}
	for k := range blocksAcross {
		x := x0 + float64(k)*step
		l := b.outward(s, x, x+step, near, far)
		r.lines, r.start = append(r.lines, l), append(r.start, near)
		if r.share == nil {
			r.share = make([]float64, len(l[0]))
		}
		for i := range r.share {
			r.share[i] += b.sleeveShare(x+step/2, float64(s)*(near+float64(i)/b.ppm)) / blocksAcross
		}
	}
	f, ok := r.find(b)
	if !ok || f.u > doubtfulSideMM {
		return o, false
	}
	for _, p := range f.points {
		o.borders = append(o.borders, subpixel.Point{X: x0 + (p.X+0.5)*step, Y: float64(s) * p.Y})
	}
	o.u = f.u
	var err error
	o.line, err = fitAlong(o.borders)
	return o, err == nil && o.line.Dir.X > 0.9
}

// doubtfulSideMM: where the picture and the regions differ more than this, no width can be had.
const doubtfulSideMM = 0.25
