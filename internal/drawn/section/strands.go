package section

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
)

// site of a power diagram (Laguerre diagram): a place and a weight. Aurenhammer, Power diagrams, SIAM Journal on
// Computing 16 (1987). Its cells are polygons whose areas the weights set.
type site struct {
	at     Point
	weight float64
	share  float64 // of the mean cell's area that it is to have
	hollow bool
}

// strands fills the cavities.
func (f Fill) strands(cavities []Polygon, seed int64) []Polygon {
	if f.Strands <= 0 {
		return nil
	}
	d := dice{rand.New(rand.NewPCG(uint64(seed), 5))}
	total := 0.
	for _, c := range cavities {
		total += c.Area()
	}
	// The largest cavity comes last and takes what is left.
	order := slices.Clone(cavities)
	slices.SortFunc(order, func(a, b Polygon) int { return cmp.Compare(a.Area(), b.Area()) })
	left, hollows := f.Strands, f.Hollows
	var out []Polygon
	for i, c := range order {
		n, h := left, hollows
		if i < len(order)-1 {
			n = min(left, int(math.Round(float64(f.Strands)*c.Area()/total)))
			h = int(float64(f.Hollows) * c.Area() / total)
		}
		left, hollows = left-n, hollows-h
		if n > 0 {
			out = append(out, f.fill(c, n, h, d)...)
		}
	}
	return out
}

// fill puts n strands and some hollows into one cavity.
func (f Fill) fill(cavity Polygon, n, hollows int, d dice) []Polygon {
	sites := f.settle(cavity, n, hollows, d)
	w := &waves{amplitude: f.WavyMM, length: 0.75 * math.Sqrt(cavity.Area()/float64(n)), border: cavity.edges()}
	w.throw(d)
	salt := d.Uint64()
	var out []Polygon
	for i, s := range sites {
		if s.hollow {
			continue
		}
		p, _ := cell(cavity, sites, i, func(j int) float64 {
			if f.SlitMM > 0 && pairChance(i, j, salt) < f.Slits {
				return f.SlitMM / 2
			}
			return 0
		})
		if p == nil {
			continue
		}
		p = f.round(p, d)
		out = append(out, w.move(p.dense(0.008)))
	}
	return out
}

// settle throws the sites and lets them move to the middle of their cells (Lloyd's method) until the areas are as wanted.
func (f Fill) settle(cavity Polygon, n, hollows int, d dice) []site {
	lo, hi := cavity.box()
	sites := make([]site, n+hollows)
	for i := range sites {
		sites[i].share = max(0.4, 1+f.Uneven*d.NormFloat64())
		if i >= n {
			sites[i].hollow, sites[i].share = true, d.between(0.2, 0.5)
		}
		sites[i].at = d.spread(cavity, sites[:i], lo, hi)
	}
	sum := 0.
	for _, s := range sites {
		sum += s.share
	}
	mean := cavity.Area() / sum
	rounds := 24 + f.Relax
	for round := range rounds {
		cells := make([]Polygon, len(sites))
		claim := make([]Point, len(sites)) // area-weighted places that a site is drawn to
		areas := make([]float64, len(sites))
		for i := range sites {
			p, orphans := cell(cavity, sites, i, nil)
			if p != nil {
				cells[i], areas[i] = p, areas[i]+p.Area()
				claim[i] = claim[i].add(p.Centroid().mul(p.Area()))
			}
			for _, o := range orphans {
				// A piece cut off by a wing belongs to the neighbour on its side of the wing.
				c := o.Centroid()
				if k := nearest(sites, c, i); k >= 0 {
					areas[k] += o.Area()
					claim[k] = claim[k].add(c.mul(o.Area()))
				}
			}
		}
		for i := range sites {
			s := &sites[i]
			if areas[i] < 1e-9 {
				s.at, s.weight = d.spread(cavity, sites, lo, hi), 0
				continue
			}
			if round < rounds-14 || round%4 == 0 {
				to := claim[i].mul(1 / areas[i])
				if cells[i] != nil && cells[i].contains(to) || cavity.contains(to) {
					s.at = s.at.mix(to, 0.8)
				}
			}
			s.weight += clamp(0.35*(s.share*mean-areas[i]), -0.2*mean, 0.2*mean)
		}
	}
	return sites
}

// spread gives a place in the cavity that is far from the sites so far: the best of some candidates.
func (d dice) spread(cavity Polygon, sites []site, lo, hi Point) Point {
	var best Point
	far := -1.
	for tries := 0; tries < 12; {
		p := Point{d.between(lo.X, hi.X), d.between(lo.Y, hi.Y)}
		if !cavity.contains(p) {
			continue
		}
		tries++
		gap := math.Inf(1)
		for _, s := range sites {
			gap = min(gap, s.at.sub(p).norm())
		}
		if gap > far {
			far, best = gap, p
		}
	}
	return best
}

// nearest site to p by power distance, other than one.
func nearest(sites []site, p Point, but int) int {
	best, k := math.Inf(1), -1
	for i, s := range sites {
		if v := p.sub(s.at); i != but && v.dot(v)-s.weight < best {
			best, k = v.dot(v)-s.weight, i
		}
	}
	return k
}

// cell is what belongs to a site: the piece of its power cell that holds it, or the largest; the other pieces are orphans.
// gap says how far the cell stays back from the border to another site.
func cell(cavity Polygon, sites []site, i int, gap func(j int) float64) (main Polygon, orphans []Polygon) {
	type other struct {
		j int
		d float64
	}
	s := sites[i]
	others := make([]other, 0, len(sites))
	for j, o := range sites {
		if j != i {
			others = append(others, other{j, o.at.sub(s.at).norm()})
		}
	}
	slices.SortFunc(others, func(a, b other) int { return cmp.Or(cmp.Compare(a.d, b.d), cmp.Compare(a.j, b.j)) })
	pieces := []Polygon{cavity}
	reach := func() float64 {
		r := 0.
		for _, p := range pieces {
			for _, q := range p {
				v := q.sub(s.at)
				r = max(r, v.dot(v))
			}
		}
		return math.Sqrt(r)
	}
	far := reach()
	for _, o := range others {
		if o.d < 1e-9 {
			continue
		}
		t := sites[o.j]
		n := t.at.sub(s.at).mul(1 / o.d)
		c := n.dot(s.at) + o.d/2 + (s.weight-t.weight)/(2*o.d)
		if gap != nil {
			c -= gap(o.j)
		}
		if c-n.dot(s.at) >= far { // no part of the cell is that far away
			continue
		}
		var next []Polygon
		for _, p := range pieces {
			next = append(next, p.clip(half{n, c})...)
		}
		pieces = next
		far = reach()
	}
	at := -1
	for k, p := range pieces {
		if p.contains(s.at) {
			at = k
			break
		}
		if at < 0 || p.Area() > pieces[at].Area() {
			at = k
		}
	}
	for k, p := range pieces {
		if k == at {
			main = p
		} else if p.Area() > 1e-8 {
			orphans = append(orphans, p)
		}
	}
	return main, orphans
}

// round cuts a cell to a round strand and takes off its corners.
func (f Fill) round(p Polygon, d dice) Polygon {
	if f.Round > 0 {
		c, r := p.Centroid(), f.Round*math.Sqrt(p.Area()/math.Pi)
		long, way := d.between(1, 1.12), d.between(0, math.Pi)
		sin, cos := math.Sincos(way)
		disc := circle(Point{}, r, 44)
		for i, q := range disc {
			q = Point{q.X * long, q.Y / long}
			disc[i] = Point{c.X + cos*q.X - sin*q.Y, c.Y + sin*q.X + cos*q.Y}
		}
		p = p.within(disc, c)
	}
	if f.CornerMM > 0 {
		p = p.blunt(func() float64 { return f.CornerMM * d.between(0.3, 2) })
	}
	return p
}

// within clips p to a convex polygon and keeps the piece about c, else the largest.
func (p Polygon) within(convex Polygon, c Point) Polygon {
	for i, a := range convex {
		e := convex[(i+1)%len(convex)].sub(a)
		n := Point{e.Y, -e.X}.mul(1 / e.norm())
		pieces := p.clip(half{n, n.dot(a)})
		if len(pieces) == 0 {
			return p
		}
		p = pieces[0]
		for _, q := range pieces[1:] {
			if q.contains(c) || !p.contains(c) && q.Area() > p.Area() {
				p = q
			}
		}
	}
	return p
}

// blunt replaces the corners that point outwards by curves; size gives the length that is taken off on both sides.
func (p Polygon) blunt(size func() float64) Polygon {
	p = p.clean()
	n := len(p)
	var corners []int
	for i := range p {
		a, b := p[i].sub(p[(i+n-1)%n]), p[(i+1)%n].sub(p[i])
		if math.Atan2(a.cross(b), a.dot(b)) > radians(16) {
			corners = append(corners, i)
		}
	}
	if len(corners) == 0 {
		return p
	}
	// Arc lengths from the first point, once round.
	along := make([]float64, n+1)
	for i := range p {
		along[i+1] = along[i] + p[(i+1)%n].sub(p[i]).norm()
	}
	whole := along[n]
	at := func(s float64) Point {
		s = math.Mod(s+whole, whole)
		i, _ := slices.BinarySearch(along, s)
		i = max(1, min(i, n))
		return p[i-1].mix(p[i%n], (s-along[i-1])/(along[i]-along[i-1]))
	}
	room := func(from, to int) float64 {
		if v := along[to] - along[from]; v > 0 {
			return v
		}
		return along[to] - along[from] + whole
	}
	m := len(corners)
	before, after := make([]float64, m), make([]float64, m)
	for k, c := range corners {
		want := size()
		before[k] = min(want, 0.45*room(corners[(k+m-1)%m], c))
		after[k] = min(want, 0.45*room(c, corners[(k+1)%m]))
	}
	var out Polygon
	border := p.edges()
	for k, c := range corners {
		a, b := at(along[c]-before[k]), at(along[c]+after[k])
		for i := range 7 {
			t := float64(i) / 6
			q := a.mul((1 - t) * (1 - t)).add(p[c].mul(2 * t * (1 - t))).add(b.mul(t * t))
			if !p.contains(q) { // beside a wall that bulges inwards
				_, q, _ = border.distance(q)
			}
			out = append(out, q)
		}
		// The points from here to the next corner's curve.
		end := along[c] + room(c, corners[(k+1)%m]) - before[(k+1)%m]
		for i := 1; i <= n; i++ {
			j := (c + i) % n
			s := along[j]
			if s <= along[c] {
				s += whole
			}
			if s >= end {
				break
			}
			if s > along[c]+after[k] {
				out = append(out, p[j])
			}
		}
	}
	return out.clean()
}

// waves bend the borders between strands; they fade out towards the cavity's border, so that nothing leaves it.
type waves struct {
	amplitude, length float64
	border            line
	k, phase          [6]Point
}

func (w *waves) throw(d dice) {
	for i := range w.k {
		s, c := math.Sincos(d.between(0, 2*math.Pi))
		k := 2 * math.Pi / (w.length * d.between(0.7, 1.5))
		w.k[i], w.phase[i] = Point{k * c, k * s}, Point{d.between(0, 2*math.Pi), d.between(0, 2*math.Pi)}
	}
}

func (w *waves) move(p Polygon) Polygon {
	if w.amplitude <= 0 {
		return p
	}
	out := make(Polygon, len(p))
	for i, q := range p {
		d, _, _ := w.border.distance(q)
		a := w.amplitude * smooth(0, 0.04, d) / 2
		out[i] = q
		for j, k := range w.k {
			v := k.dot(q)
			out[i] = out[i].add(Point{a * math.Sin(v+w.phase[j].X), a * math.Sin(v+w.phase[j].Y)})
		}
	}
	return out
}
