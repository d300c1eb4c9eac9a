package section

import (
	"math"
	"slices"
)

// Point is a place in millimetres, or in pixels where told so.
type Point struct{ X, Y float64 }

func (a Point) add(b Point) Point            { return Point{a.X + b.X, a.Y + b.Y} }
func (a Point) sub(b Point) Point            { return Point{a.X - b.X, a.Y - b.Y} }
func (a Point) mul(s float64) Point          { return Point{a.X * s, a.Y * s} }
func (a Point) dot(b Point) float64          { return a.X*b.X + a.Y*b.Y }
func (a Point) cross(b Point) float64        { return a.X*b.Y - a.Y*b.X }
func (a Point) norm() float64                { return math.Sqrt(a.X*a.X + a.Y*a.Y) }
func (a Point) mix(b Point, t float64) Point { return Point{a.X + t*(b.X-a.X), a.Y + t*(b.Y-a.Y)} }

// Polygon is closed: its last point joins the first.
type Polygon []Point

// Area is signed: positive where the polygon runs counterclockwise with y up.
func (p Polygon) Area() float64 {
	s := 0.
	for i, a := range p {
		s += a.cross(p[(i+1)%len(p)])
	}
	return s / 2
}

// Centroid of the area.
func (p Polygon) Centroid() Point {
	var c Point
	s, o := 0., p[0]
	for i := range p {
		a, b := p[i].sub(o), p[(i+1)%len(p)].sub(o)
		k := a.cross(b)
		s, c = s+k, c.add(a.add(b).mul(k))
	}
	if s == 0 {
		return o
	}
	return o.add(c.mul(1 / (3 * s)))
}

// contains is true for points inside, by the even-odd rule.
func (p Polygon) contains(q Point) bool {
	in := false
	for i, a := range p {
		b := p[(i+1)%len(p)]
		if (a.Y > q.Y) != (b.Y > q.Y) && q.X < a.X+(q.Y-a.Y)/(b.Y-a.Y)*(b.X-a.X) {
			in = !in
		}
	}
	return in
}

// box gives the corners of the smallest upright box.
func (p Polygon) box() (lo, hi Point) {
	lo, hi = Point{math.Inf(1), math.Inf(1)}, Point{math.Inf(-1), math.Inf(-1)}
	for _, q := range p {
		lo, hi = Point{min(lo.X, q.X), min(lo.Y, q.Y)}, Point{max(hi.X, q.X), max(hi.Y, q.Y)}
	}
	return lo, hi
}

// half is the half plane n·p <= c.
type half struct {
	n Point
	c float64
}

// clip cuts a simple polygon that runs counterclockwise and gives the pieces in the half plane. Crossings sorted along
// the line bound the stretches inside in pairs, which joins the chains between them to pieces.
func (p Polygon) clip(h half) []Polygon {
	type crossing struct {
		t     float64
		chain int
		opens bool
		at    Point
	}
	side := make([]float64, len(p))
	inside := 0
	for i, q := range p {
		side[i] = h.n.dot(q) - h.c
		if side[i] <= 0 {
			inside++
		}
	}
	if inside == len(p) {
		return []Polygon{p}
	}
	if inside == 0 {
		return nil
	}
	along := Point{-h.n.Y, h.n.X}
	first := 0
	for i := range p {
		if side[i] > 0 && side[(i+1)%len(p)] <= 0 {
			first = i
			break
		}
	}
	var chains []Polygon
	var cuts []crossing
	cut := func(i, j int) Point { return p[i].mix(p[j], side[i]/(side[i]-side[j])) }
	for k := range p {
		i := (first + k) % len(p)
		j := (i + 1) % len(p)
		switch {
		case side[i] > 0 && side[j] <= 0:
			at := cut(i, j)
			chains = append(chains, Polygon{at, p[j]})
			cuts = append(cuts, crossing{t: along.dot(at), chain: len(chains) - 1, opens: true, at: at})
		case side[i] <= 0 && side[j] <= 0:
			chains[len(chains)-1] = append(chains[len(chains)-1], p[j])
		case side[i] <= 0 && side[j] > 0:
			at := cut(i, j)
			chains[len(chains)-1] = append(chains[len(chains)-1], at)
			cuts = append(cuts, crossing{t: along.dot(at), chain: len(chains) - 1, at: at})
		}
	}
	if len(chains) == 1 {
		return chains
	}
	slices.SortFunc(cuts, func(a, b crossing) int {
		if a.t < b.t {
			return -1
		}
		return 1
	})
	next := make([]int, len(chains))
	for k := 0; k+1 < len(cuts); k += 2 {
		a, b := cuts[k], cuts[k+1]
		if a.opens == b.opens { // a degenerate touch: leave the chains in one loop
			var all Polygon
			for _, c := range chains {
				all = append(all, c...)
			}
			return []Polygon{all}
		}
		if a.opens {
			a, b = b, a
		}
		next[a.chain] = b.chain
	}
	var out []Polygon
	done := make([]bool, len(chains))
	for k := range chains {
		if done[k] {
			continue
		}
		var loop Polygon
		for j := k; !done[j]; j = next[j] {
			done[j] = true
			loop = append(loop, chains[j]...)
		}
		out = append(out, loop)
	}
	return out
}

// near gives the distance from q to the segment a-b and the nearest place on it.
func near(q, a, b Point) (float64, Point) {
	d := b.sub(a)
	t := 0.
	if k := d.dot(d); k > 0 {
		t = min(1, max(0, q.sub(a).dot(d)/k))
	}
	at := a.mix(b, t)
	return q.sub(at).norm(), at
}

// line is an open polyline.
type line []Point

// distance from q to the line, the nearest place, and the index of its segment.
func (l line) distance(q Point) (float64, Point, int) {
	best, at, seg := math.Inf(1), Point{}, 0
	for i := 0; i+1 < len(l); i++ {
		// A segment whose box is further away than the best cannot be nearer.
		a, b := l[i], l[i+1]
		if min(a.X, b.X)-q.X > best || q.X-max(a.X, b.X) > best || min(a.Y, b.Y)-q.Y > best || q.Y-max(a.Y, b.Y) > best {
			continue
		}
		if d, p := near(q, a, b); d < best {
			best, at, seg = d, p, i
		}
	}
	return best, at, seg
}

// dense gives the line with points no further than step apart.
func (l line) dense(step float64) line {
	if len(l) == 0 {
		return nil
	}
	out := line{l[0]}
	for i := 0; i+1 < len(l); i++ {
		n := int(math.Ceil(l[i+1].sub(l[i]).norm() / step))
		for k := 1; k <= n; k++ {
			out = append(out, l[i].mix(l[i+1], float64(k)/float64(n)))
		}
	}
	return out
}

// dense gives the polygon with points no further than step apart.
func (p Polygon) dense(step float64) Polygon {
	l := line(append(slices.Clone(p), p[0])).dense(step)
	return Polygon(l[:len(l)-1])
}

// edges of the polygon as a closed line.
func (p Polygon) edges() line { return append(slices.Clone(line(p)), p[0]) }

func (l line) reversed() line {
	out := slices.Clone(l)
	slices.Reverse(out)
	return out
}

// circle is a regular polygon of n corners with exactly the area of the circle.
func circle(c Point, r float64, n int) Polygon {
	a := 2 * math.Pi / float64(n)
	r *= math.Sqrt(a / math.Sin(a))
	out := make(Polygon, n)
	for i := range out {
		s, k := math.Sincos(a * (float64(i) + 0.5))
		out[i] = Point{c.X + r*k, c.Y + r*s}
	}
	return out
}

func clamp(x, lo, hi float64) float64 { return min(hi, max(lo, x)) }

func radians(deg float64) float64 { return deg * math.Pi / 180 }

// smooth rises from 0 at a to 1 at b.
func smooth(a, b, x float64) float64 {
	t := clamp((x-a)/(b-a), 0, 1)
	return t * t * (3 - 2*t)
}
