package scale

import (
	"math"
	"slices"
)

// cell numbers a corner of the board: i along one direction of the lattice, j along the other.
type cell struct{ i, j int }

// grid is a set of corners that form a lattice, with holes where corners are hidden.
type grid map[cell]pt

var steps = [4]cell{{1, 0}, {-1, 0}, {0, 1}, {0, -1}}

// node is a corner while the lattice grows, with the local lattice vectors.
type node struct {
	cell
	saddle int
	u, v   pt
}

// grower grows lattices over saddles.
type grower struct {
	all     []saddle
	buckets map[[2]int][]int
	taken   []bool // belongs to a lattice found earlier
}

const (
	bucketPX = 24
	maxSeeds = 300 // a board's corners are among the strongest saddles
)

func newGrower(all []saddle) *grower {
	g := &grower{all: all, buckets: map[[2]int][]int{}, taken: make([]bool, len(all))}
	for n, s := range all {
		k := [2]int{int(s.at.x / bucketPX), int(s.at.y / bucketPX)}
		g.buckets[k] = append(g.buckets[k], n)
	}
	return g
}

// grids gives the lattices of at least minCorners corners, largest first, no two sharing a corner.
func (g *grower) grids() []grid {
	var found []grid
	for {
		best := g.largest()
		if len(best) < minCorners {
			return found
		}
		out := grid{}
		for c, n := range best {
			out[c] = g.all[n].at
			g.taken[n] = true
		}
		found = append(found, out)
	}
}

// largest grows from the strongest saddles that are free and gives the largest lattice.
func (g *grower) largest() map[cell]int {
	var best map[cell]int
	seen := make([]bool, len(g.all))
	tries := 0
	for seed := range g.all {
		if g.taken[seed] || seen[seed] || tries >= maxSeeds {
			continue
		}
		first, ok := g.start(seed)
		if !ok {
			continue
		}
		tries++
		lattice := prune(g.grow(first))
		if len(lattice) < minCorners {
			continue
		}
		for _, n := range lattice {
			seen[n] = true
		}
		if len(lattice) > len(best) {
			best = lattice
		}
	}
	return best
}

// start finds the seed's nearest neighbours along its two edges.
func (g *grower) start(seed int) (node, bool) {
	s := g.all[seed]
	var vectors [2]pt
	for k := range 2 {
		best := math.Inf(1)
		for n, o := range g.all {
			d := o.at.sub(s.at)
			length := d.norm()
			if n == seed || length >= best || length < 1.5*ringRadius || g.taken[n] || !alternate(s, o) {
				continue
			}
			if between(math.Atan2(d.y, d.x), s.edges[k]) > 0.2 || !along(s, o) {
				continue
			}
			best, vectors[k] = length, d
		}
		if math.IsInf(best, 1) {
			return node{}, false
		}
	}
	if !plausible(vectors[0], vectors[1]) {
		return node{}, false
	}
	return node{saddle: seed, u: vectors[0], v: vectors[1]}, true
}

// alternate tells whether the bright fields of two saddles lie crosswise, as those of neighbours do.
func alternate(a, b saddle) bool { return between(a.white, b.white) > math.Pi/4 }

// along tells whether the line from one saddle to the other runs along an edge of both.
func along(a, b saddle) bool {
	const most = 0.3 // radians
	angle := math.Atan2(b.at.y-a.at.y, b.at.x-a.at.x)
	off := func(s saddle) float64 { return math.Min(between(angle, s.edges[0]), between(angle, s.edges[1])) }
	return off(a) < most && off(b) < most
}

// plausible refuses cells that no board shows: sides very unlike, or an angle too far from square.
func plausible(u, v pt) bool {
	a, b := u.norm(), v.norm()
	return a < 2.2*b && b < 2.2*a && math.Abs(u.cross(v)) > 0.6*a*b
}

// grow spreads from the seed along the local lattice vectors.
func (g *grower) grow(seed node) map[cell]int {
	at := map[cell]int{seed.cell: seed.saddle}
	used := map[int]bool{seed.saddle: true}
	queue := []node{seed}
	for len(queue) > 0 {
		n := queue[0]
		queue = queue[1:]
		for _, s := range steps {
			to := cell{n.i + s.i, n.j + s.j}
			if _, ok := at[to]; ok {
				continue
			}
			move := n.u.mul(float64(s.i)).add(n.v.mul(float64(s.j)))
			if back, ok := at[cell{n.i - s.i, n.j - s.j}]; ok { // the newest knowledge of this step, here
				move = g.all[n.saddle].at.sub(g.all[back].at)
			}
			m := g.nearest(g.all[n.saddle], move)
			if m < 0 || used[m] {
				continue
			}
			next := node{cell: to, saddle: m, u: n.u, v: n.v}
			moved := g.all[m].at.sub(g.all[n.saddle].at)
			if s.i != 0 {
				next.u = moved.mul(float64(s.i))
			} else {
				next.v = moved.mul(float64(s.j))
			}
			if !plausible(next.u, next.v) {
				continue
			}
			at[to], used[m] = m, true
			queue = append(queue, next)
		}
	}
	return at
}

// nearest is the saddle next to the place that a lattice step leads to, -1 where none of the right kind is near.
func (g *grower) nearest(from saddle, move pt) int {
	to := from.at.add(move)
	best, reach := -1, 0.25*move.norm()
	span := int(reach/bucketPX) + 1
	bx, by := int(to.x/bucketPX), int(to.y/bucketPX)
	for y := by - span; y <= by+span; y++ {
		for x := bx - span; x <= bx+span; x++ {
			for _, n := range g.buckets[[2]int{x, y}] {
				if d := g.all[n].at.dist(to); d < reach && !g.taken[n] && alternate(from, g.all[n]) && along(from, g.all[n]) {
					best, reach = n, d
				}
			}
		}
	}
	return best
}

// prune keeps the corners that belong to at least one whole square, which a chance chain of saddles seldom does.
func prune(at map[cell]int) map[cell]int {
	keep := map[cell]int{}
	for c := range at {
		square := [4]cell{c, {c.i + 1, c.j}, {c.i, c.j + 1}, {c.i + 1, c.j + 1}}
		whole := true
		for _, s := range square {
			_, ok := at[s]
			whole = whole && ok
		}
		if whole {
			for _, s := range square {
				keep[s] = at[s]
			}
		}
	}
	return keep
}

// rough is the largest step that a corner at the rim may lie off the run of the three corners before it, as a share of
// the lattice's spacing there. Perspective and distortion change steps evenly; a chance saddle beside the board does not.
const rough = 0.08

// smooth takes away corners at the rim that break the even run of their row or column.
func (g grid) smooth() grid {
	for {
		var bad []cell
		for c, p := range g {
			for _, s := range steps {
				if _, inner := g[cell{c.i - s.i, c.j - s.j}]; inner {
					continue // not the end of a run
				}
				a, ok1 := g[cell{c.i + s.i, c.j + s.j}]
				b, ok2 := g[cell{c.i + 2*s.i, c.j + 2*s.j}]
				d, ok3 := g[cell{c.i + 3*s.i, c.j + 3*s.j}]
				if !ok1 || !ok2 || !ok3 {
					continue
				}
				expected := a.mul(3).sub(b.mul(3)).add(d)
				if p.dist(expected) > rough*a.dist(b) {
					bad = append(bad, c)
					break
				}
			}
		}
		if len(bad) == 0 {
			return g
		}
		for _, c := range bad {
			delete(g, c)
		}
	}
}

// joined puts lattices together that continue each other: a part that lies across a board cuts it in two.
func joined(boards []grid) []grid {
	if len(boards) < 2 {
		return boards
	}
	slices.SortStableFunc(boards, func(a, b grid) int { return len(b) - len(a) })
	main, rest := boards[0], boards[:0:0]
	for _, other := range boards[1:] {
		cells, ok := main.continuedBy(other)
		if !ok {
			rest = append(rest, other)
			continue
		}
		for c, p := range cells {
			main[c] = p
		}
	}
	return append([]grid{main}, rest...)
}

// continuedBy numbers another lattice's corners in this one's cells, by this one's perspective; false where they fall
// between its cells or on cells that are taken.
func (g grid) continuedBy(other grid) (grid, bool) {
	const off = 0.12 // of a square, root mean square
	var obs []observation
	for c, p := range g { // from px to cells
		obs = append(obs, observation{Vec{p.x, p.y, 0}, pt{float64(c.i), float64(c.j)}})
	}
	mid := obs[0].w
	for i := range obs {
		obs[i].w = obs[i].w.sub(mid).mul(1e-3)
	}
	h, err := homography(obs)
	if err != nil {
		return nil, false
	}
	out, sum := grid{}, 0.
	for _, p := range other {
		x, y := (p.x-mid.X)*1e-3, (p.y-mid.Y)*1e-3
		w := h[2][0]*x + h[2][1]*y + h[2][2]
		u, v := (h[0][0]*x+h[0][1]*y+h[0][2])/w, (h[1][0]*x+h[1][1]*y+h[1][2])/w
		c := cell{int(math.Round(u)), int(math.Round(v))}
		_, taken := g[c]
		_, twice := out[c]
		if taken || twice {
			return nil, false
		}
		sum += (u-float64(c.i))*(u-float64(c.i)) + (v-float64(c.j))*(v-float64(c.j))
		out[c] = p
	}
	return out, math.Sqrt(sum/float64(len(other))) < off
}
