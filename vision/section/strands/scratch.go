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
			k := find(g.arcs[b.a], b.b)
			if k < 0 || float64(g.piece[b.a].area+g.piece[b.b].area) > 1.5*g.rule.size {
				continue
			}
			if g.gain(b.a, arc{to: b.b}) < lineSays && p.goesOn(b.points, across) {
				g.unite(b.a, b.b)
				g.settle()
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
// its ends too: across a piece, or for more than a strand, since two borders may lie in line.
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
	const skip = 5 // what lies at a border's end: a junction, the wall's groove
	least := max(0.5*min(p.lineOf(mx, my, c, s, lo, hi, false), 0.8*float64(p.top)), 0.12*float64(p.top))
	near, far := max(10, 0.35*across), 1.2*across
	for _, d := range [2]float64{1, -1} {
		end := max(d*lo, d*hi) + skip
		if p.lineOf(mx, my, d*c, d*s, end, end+near, true) > least || p.lineOf(mx, my, d*c, d*s, end, end+far, false) > least {
			return true
		}
	}
	return false
}

// lineOf is the median evidence along a stretch of a line, the largest within a pixel across; 0 where it leaves the grid.
// What lies on a border of two pieces counts for nothing where only lines that cross pieces are asked for.
func (p *partition) lineOf(x, y, c, s, from, to float64, crossing bool) float64 {
	f := p.f
	var v []float64
	for t := from; t <= to; t++ {
		var at [7]int
		best := float32(0)
		for o := -3; o <= 3; o++ {
			px, py := int(math.Round(x+t*c-float64(o)*s)), int(math.Round(y+t*s+float64(o)*c))
			if px < 1 || py < 1 || px >= f.w-1 || py >= f.h-1 {
				return 0
			}
			at[o+3] = py*f.w + px
			if o >= -1 && o <= 1 {
				best = max(best, p.evidence[at[o+3]])
			}
		}
		if crossing && p.ownerAt(at[0]) != p.ownerAt(at[6]) {
			best = 0
		}
		v = append(v, float64(best))
	}
	if len(v) == 0 {
		return 0
	}
	return median(v)
}
