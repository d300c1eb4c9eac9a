package strands

import (
	"cmp"
	"math"
	"slices"
)

// lineSays is how much a line that goes on speaks against a border, in nats.
const lineSays = 5

// unscratch unites what only a scratch parts. A scratch from polishing runs dead straight and does not stop where a border
// would: it goes on into the next strand or the sleeve.
func (p *partition) unscratch() {
	g := p.g
	across := 2 * math.Sqrt(g.rule.size/math.Pi)
	for range 20 {
		done := false
		for _, b := range p.bordersOf() {
			a, c := g.piece[b.a], g.piece[b.b]
			h := a.borders[b.b]
			if h == nil || float64(a.area+c.area) > 1.5*g.rule.size {
				continue
			}
			if g.rule.joined(a, c, &histogram{}) < lineSays && p.goesOn(b.points, across) {
				g.unite(b.a, b.b)
				done = true
				break
			}
		}
		if !done {
			return
		}
	}
}

// stretch is the border of two pieces, as the places between their pixels.
type stretch struct {
	a, b   int32
	points [][2]float64
}

// bordersOf collects all borders, in a fixed order.
func (p *partition) bordersOf() []stretch {
	f := p.f
	at := map[[2]int32]int{}
	var out []stretch
	for i := range f.in {
		a := p.ownerAt(i)
		if a < 0 || p.blind[i] {
			continue
		}
		for k, j := range [2]int{i + 1, i + f.w} {
			b := p.ownerAt(j)
			if b < 0 || b == a || p.blind[j] {
				continue
			}
			key := [2]int32{min(a, b), max(a, b)}
			n, ok := at[key]
			if !ok {
				n = len(out)
				at[key] = n
				out = append(out, stretch{a: key[0], b: key[1]})
			}
			out[n].points = append(out[n].points, [2]float64{float64(i%f.w) + 0.5*float64(1-k), float64(i/f.w) + 0.5*float64(k)})
		}
	}
	slices.SortFunc(out, func(x, y stretch) int { return cmp.Or(cmp.Compare(x.a, y.a), cmp.Compare(x.b, y.b)) })
	return out
}

// goesOn tells whether a border is straight to a pixel, at least half a strand long, and its line is dark beyond one of
// its ends too.
func (p *partition) goesOn(points [][2]float64, across float64) bool {
	const straight = 1.0
	mx, my, n := 0., 0., float64(len(points))
	for _, q := range points {
		mx, my = mx+q[0]/n, my+q[1]/n
	}
	xx, xy, yy := 0., 0., 0.
	for _, q := range points {
		dx, dy := q[0]-mx, q[1]-my
		xx, xy, yy = xx+dx*dx/n, xy+dx*dy/n, yy+dy*dy/n
	}
	half := math.Hypot((xx-yy)/2, xy)
	if math.Sqrt(max(0, (xx+yy)/2-half)) > straight {
		return false
	}
	s, c := math.Sincos(math.Atan2(2*xy, xx-yy) / 2)
	lo, hi := 0., 0.
	for _, q := range points {
		t := (q[0]-mx)*c + (q[1]-my)*s
		lo, hi = min(lo, t), max(hi, t)
	}
	if hi-lo < 0.5*across {
		return false
	}
	on := p.lineOf(mx, my, c, s, lo, hi)
	const skip = 5 // what lies at a border's end: a junction, the wall's groove
	more := max(10, 0.35*across)
	on = min(on, 0.8*float64(p.top))
	return max(p.lineOf(mx, my, c, s, hi+skip, hi+skip+more), p.lineOf(mx, my, c, s, lo-skip-more, lo-skip)) > max(0.5*on, 0.12*float64(p.top))
}

// lineOf is the median evidence along a stretch of a line, the largest within a pixel across; 0 where it leaves the grid.
func (p *partition) lineOf(x, y, c, s, from, to float64) float64 {
	f := p.f
	var v []float64
	for t := from; t <= to; t++ {
		best := float32(0)
		for _, o := range [3]float64{-1, 0, 1} {
			px, py := int(math.Round(x+t*c-o*s)), int(math.Round(y+t*s+o*c))
			if px < 1 || py < 1 || px >= f.w-1 || py >= f.h-1 {
				return 0
			}
			best = max(best, p.evidence[py*f.w+px])
		}
		v = append(v, float64(best))
	}
	if len(v) == 0 {
		return 0
	}
	slices.Sort(v)
	return v[len(v)/2]
}
