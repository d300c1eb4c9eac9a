package strands

import (
	"cmp"
	"math"
	"slices"
)

// recut tries to part every piece too large for one strand in two, and keeps what costs less. It tells whether anything
// was cut.
func (g *graph) recut(fine *graph) bool {
	members := make([][]int32, len(g.piece))
	for k, o := range g.owner {
		if o < 0 {
			continue
		}
		members[o] = append(members[o], int32(k))
	}
	done := false
	for i, q := range g.piece {
		if q == nil || float64(q.area) < 1.4*g.rule.size || len(members[i]) < 2 {
			continue
		}
		c := bisect(fine, g.rule, members[i])
		if c == nil || c.cost >= g.rule.lone(q) {
			continue
		}
		done = true
		c.apply(g.owner, members[i])
	}
	return done
}

// cut is a set of basins parted in two.
type cut struct {
	fine  *graph
	rule  *rule
	side  map[int32]bool // true: the first part
	part  [2]piece
	cross histogram
	cost  float64
}

// bisect parts basins in two where it costs least: along straight lines first, then basin by basin. It returns nil where
// no line leaves two sensible parts.
func bisect(fine *graph, r *rule, members []int32) *cut {
	const lines = 12
	var best *cut
	for d := range lines {
		s, c := math.Sincos(math.Pi * float64(d) / lines)
		order := slices.Clone(members)
		at := func(m int32) float64 { p := fine.piece[m]; return (p.cx*c + p.cy*s) / float64(p.area) }
		slices.SortFunc(order, func(a, b int32) int { return cmp.Or(cmp.Compare(at(a), at(b)), cmp.Compare(a, b)) })
		if k := sweepLine(fine, r, order); k != nil {
			k.refine(members)
			k.finish(members)
			if best == nil || k.cost < best.cost {
				best = k
			}
		}
	}
	return best
}

// newCut has all basins in the second part.
func newCut(fine *graph, r *rule, members []int32) *cut {
	c := &cut{fine: fine, rule: r, side: make(map[int32]bool, len(members))}
	for _, m := range members {
		c.side[m] = false
		c.part[1].take(fine.piece[m], 1)
		c.part[1].rim += fine.piece[m].rim
		for j, h := range fine.piece[m].borders {
			if _, ok := c.side[j]; ok { // each pair is met once
				c.part[1].rim -= 2 * h.total()
			}
		}
	}
	return c
}

// take adds a basin to a part, or with -1 takes it away; hulls are left alone.
func (p *piece) take(q *piece, sign float64) {
	p.area += int(sign) * q.area
	p.n += sign * q.n
	p.basins += sign * q.basins
	for k := range p.sum {
		p.sum[k] += sign * q.sum[k]
		p.square[k] += sign * q.square[k]
	}
}

// flip moves a basin to the other part.
func (c *cut) flip(m int32) {
	now := c.side[m]
	from, to := 1, 0
	if now {
		from, to = 0, 1
	}
	c.part[from].take(c.fine.piece[m], -1)
	c.part[to].take(c.fine.piece[m], 1)
	c.part[from].rim -= c.fine.piece[m].rim
	c.part[to].rim += c.fine.piece[m].rim
	for j, h := range c.fine.piece[m].borders {
		s, ok := c.side[j]
		if !ok {
			continue
		}
		if s == now {
			c.part[from].rim += 2 * h.total()
		} else {
			c.part[to].rim -= 2 * h.total()
		}
		sign := int32(1)
		if s != now {
			sign = -1
		}
		for k, v := range h {
			c.cross[k] += sign * v
		}
	}
	c.side[m] = !now
}

// rough is the cost without dents.
func (c *cut) rough() float64 {
	if c.part[0].area <= 0 || c.part[1].area <= 0 {
		return math.Inf(1)
	}
	return c.rule.bulk(c.part[0].area) + c.rule.bulk(c.part[1].area) - c.rule.border(&c.part[0], &c.part[1], &c.cross)
}

// sweepLine moves a line across the basins, and leaves it where the cut costs least.
func sweepLine(fine *graph, r *rule, order []int32) *cut {
	c := newCut(fine, r, order)
	total := c.part[1].area
	best, at := math.Inf(1), -1
	for i, m := range order {
		c.flip(m)
		if share := float64(c.part[0].area) / float64(total); share < 0.2 || share > 0.8 {
			continue
		}
		if e := c.rough(); e < best {
			best, at = e, i
		}
	}
	if at < 0 {
		return nil
	}
	c = newCut(fine, r, order)
	for _, m := range order[:at+1] {
		c.flip(m)
	}
	return c
}

// refine flips single basins at the cut as long as that helps.
func (c *cut) refine(members []int32) {
	for range 6 {
		better := false
		for _, m := range members {
			if !c.atCut(m) {
				continue
			}
			before := c.rough()
			c.flip(m)
			if c.rough() < before-1e-9 {
				better = true
			} else {
				c.flip(m)
			}
		}
		if !better {
			return
		}
	}
}

func (c *cut) atCut(m int32) bool {
	for j := range c.fine.piece[m].borders {
		if s, ok := c.side[j]; ok && s != c.side[m] {
			return true
		}
	}
	return false
}

// finish computes the cost with dents.
func (c *cut) finish(members []int32) {
	c.part[0].girth, c.part[1].girth = noGirth, noGirth
	for _, m := range members {
		k := 1
		if c.side[m] {
			k = 0
		}
		c.part[k].girth.add(&c.fine.piece[m].girth)
	}
	c.cost = c.rough()
	for k := range c.part {
		c.cost += c.rule.dents(&c.part[k])
	}
}

// apply gives the first part an owner of its own.
func (c *cut) apply(owner, members []int32) {
	var first [2]int32
	for k := range first {
		first[k] = -1
	}
	for _, m := range members {
		k := 1
		if c.side[m] {
			k = 0
		}
		if first[k] < 0 {
			first[k] = m
		}
		owner[m] = first[k]
	}
}

// rebuilt is the finest graph joined as the owners say.
func (g *graph) rebuilt(owner []int32, r *rule) *graph {
	c := g.clone()
	c.rule = r
	first := map[int32]int32{}
	for k := range owner {
		o := owner[k]
		if o < 0 {
			continue
		}
		to, ok := first[o]
		if !ok {
			first[o] = int32(k)
			continue
		}
		c.unite(to, int32(k))
	}
	return c
}
