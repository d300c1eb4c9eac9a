package shape

import (
	"math"

	"crimprule/vision/section/raster"
)

// side is one side of the outline: the floor's end, the corner with or without a burr, the wall.
type side struct {
	sign     float64  // -1 left, +1 right
	floorEnd int      // where the floor's face ends
	wallEnd  int      // where the wall begins above the corner: the burr's root where there is one
	wall     parabola // the straight wall: x = a + b y
	burr     bool
	lowest   int // the burr's lowest and its outermost point
	furthest int
}

// Windows of the local fits, either side, mm. The wide one averages over grains and outvotes blunders and is still short
// against the radii of lobes and walls; the narrow one is for a burr's rim of some hundredths of a millimetre.
const (
	wideMM   = 0.12
	narrowMM = 0.012
)

// strayMM is how long a blunder of the edge may be before it counts as shape.
const strayMM = 0.1

// wallShare is the share of the height up to which a side wall is followed; the lobes begin above.
const wallShare = 0.45

// A burr leaves the wall no higher above the floor than rootDrops times its own drop below it, within these shares of
// the height: flash is squeezed out of a gap at the floor's corner. Common practice, no source.
const (
	rootDrops   = 2
	lowestRoot  = 0.08
	highestRoot = 0.3
	flareFrom   = 0.25
	flareMM     = 0.03 // a wall that leaves its own line by less is bent, not a burr: bulged walls do so by up to 0.02
)

// side looks at the corner on one side, from the floor's middle outwards and up to the wall.
func (o *outline) side(sign float64) side {
	s := side{sign: sign}
	dir := int(sign) // counterclockwise: from the floor's middle to the right is forward
	tol := math.Max(0.004, 3*o.sigma)
	s.floorEnd = o.leaves(o.nearest(raster.Point{}), dir, tol, func(p raster.Point) float64 { return p.Y - o.floor.at(p.X) })
	top := o.nearest(raster.Point{X: sign * o.halfWidth, Y: wallShare * o.height})
	count := min(wrap(dir*(top-s.floorEnd), len(o.p)), len(o.p)/3)
	s.lowest, s.furthest = s.floorEnd, s.floorEnd
	for k := range count {
		i := s.floorEnd + dir*k
		if o.mean(i, 2).Y < o.mean(s.lowest, 2).Y {
			s.lowest = i
		}
	}
	end := o.at(s.floorEnd)
	s.burr = o.floor.at(end.X)-o.mean(s.lowest, 2).Y > o.leastBurr()
	s.wallEnd = o.nearest(raster.Point{X: sign * o.halfWidth, Y: 0.15 * o.height})
	if s.burr {
		s.root(o, dir, top)
		s.flare(o, dir, top)
	}
	var y, x []float64
	for k := o.steps(0.02); k < min(wrap(dir*(top-s.wallEnd), len(o.p)), len(o.p)/3); k++ {
		p := o.at(s.wallEnd + dir*k)
		y, x = append(y, p.Y), append(x, p.X)
	}
	s.wall = fitLine(y, x)
	return s
}

// leastBurr is the smallest drop below the floor's own run that is no scatter, mm.
func (o *outline) leastBurr() float64 { return math.Max(0.008, 5*o.sigma) }

// root finds where the burr leaves the wall: the sharpest hollow turn between the burr's lowest point and the wall.
func (s *side) root(o *outline, dir, top int) {
	half := o.steps(0.05)
	count := wrap(dir*(top-s.lowest), len(o.p))
	hollow := 0.
	drop := o.floor.at(o.at(s.floorEnd).X) - o.at(s.lowest).Y
	limit := math.Max(lowestRoot*o.height, math.Min(rootDrops*drop, highestRoot*o.height))
	s.furthest = s.lowest
	for k := half; k < count; k++ {
		i := s.lowest + dir*k
		if o.at(i).Y > limit {
			break
		}
		a, b, c := o.mean(i-half, half/2), o.mean(i, 2), o.mean(i+half, half/2)
		if turn := raster.Cross(a, b, c) / math.Max(dist(a, b)*dist(b, c), 1e-12); turn < hollow {
			hollow, s.wallEnd = turn, i
		}
	}
	for k := range wrap(dir*(s.wallEnd-s.lowest), len(o.p)) {
		if i := s.lowest + dir*k; s.sign*o.mean(i, 2).X > s.sign*o.mean(s.furthest, 2).X {
			s.furthest = i
		}
	}
}

// flare moves the root up to where the outline begins to leave the wall's line for good, where a burr does so gently: the
// line is that of the wall from flareFrom of the height upwards.
func (s *side) flare(o *outline, dir, top int) {
	from := o.nearest(raster.Point{X: s.sign * o.halfWidth, Y: flareFrom * o.height})
	var y, x []float64
	for k := range wrap(dir*(top-from), len(o.p)) {
		p := o.at(from + dir*k)
		y, x = append(y, p.Y), append(x, p.X)
	}
	above := wrap(dir*(from-s.wallEnd), len(o.p))
	if len(y) < 8 || above > len(o.p)/3 { // the root lies higher than that already
		return
	}
	wall := fitLine(y, x)
	tol := math.Max(flareMM, 4*o.sigma)
	for k := range above {
		p := o.mean(from-dir*k, 2)
		if s.sign*(p.X-wall.at(p.Y)) <= tol {
			continue
		}
		if i := from - dir*k; o.leavesOutwards(s, wall, i, dir, tol) {
			s.wallEnd = i
			return
		}
	}
}

// leavesOutwards tells whether all the outline from index i down to the root lies outside the wall's line.
func (o *outline) leavesOutwards(s *side, wall parabola, i, dir int, tol float64) bool {
	for k := range wrap(dir*(i-s.wallEnd), len(o.p)) {
		p := o.mean(i-dir*k, 2)
		if s.sign*(p.X-wall.at(p.Y)) < tol/2 {
			return false
		}
	}
	return true
}

// nearest is the index of the point nearest to q, the bay between the lobes left out.
func (o *outline) nearest(q raster.Point) int {
	best, at := math.Inf(1), 0
	for i, p := range o.p {
		if d := dist(p, q); d < best && !o.inNotch(i) {
			best, at = d, i
		}
	}
	return at
}

// leaves walks from index i and returns the index at which the points' departure stays beyond tol for longer than a
// blunder lasts.
func (o *outline) leaves(i, dir int, tol float64, departure func(raster.Point) float64) int {
	run, need := 0, o.steps(strayMM)
	for range o.p {
		if math.Abs(departure(o.mean(i, 2))) > tol {
			run++
		} else {
			run = 0
		}
		if run >= need {
			return i - dir*run
		}
		i += dir
	}
	return i
}

// extreme is the outermost point in direction d of the curve from index from to index to (counterclockwise), by local
// fits at the places that come near it, and the scatter there.
func (o *outline) extreme(from, to int, d raster.Point, halfMM float64) (best raster.Point, spread float64) {
	n := wrap(to-from, len(o.p)) + 1
	k := min(o.steps(halfMM/3), 8)
	reach := math.Inf(-1)
	for m := range n {
		q := o.mean(from+m, k)
		reach = math.Max(reach, q.X*d.X+q.Y*d.Y)
	}
	far := math.Inf(-1)
	for m := 0; m < n; m += max(1, min(o.steps(0.012), n/8)) {
		if q := o.mean(from+m, k); q.X*d.X+q.Y*d.Y < reach-0.03 {
			continue
		}
		if q, s := o.smoothed(from+m, halfMM); q.X*d.X+q.Y*d.Y > far {
			far, best, spread = q.X*d.X+q.Y*d.Y, q, s
		}
	}
	return best, spread
}
