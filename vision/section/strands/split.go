package strands

import (
	"cmp"
	"math"
	"slices"
)

// recut tries to part every piece too large for one strand in two, and keeps what costs less. It tells whether anything
// was cut.
func (j *joint) recut() bool {
	done := false
	members := j.members()
	for i := range j.piece {
		q := &j.piece[i]
		if float64(q.area) < 1.4*j.rule.size || len(members[i]) < 2 {
			continue
		}
		c := bisect(j.g, j.rule, members[i])
		if c == nil || c.cost >= q.lone {
			continue
		}
		done = true
		c.apply(j.owner)
	}
	return done
}

// cut is a set of basins parted in two.
type cut struct {
	g       *graph
	rule    *rule
	members []int32
	side    []int8 // of each piece of the graph: 0 or 1 is its part, -1 is none of the set
	part    [2]piece
	cross   float64 // what the pixels along the cut say
	cost    float64
}

// bisect parts basins in two where it costs least: along straight lines first, then basin by basin. It returns nil where
// no line leaves two sensible parts.
func bisect(g *graph, r *rule, members []int32) *cut {
	const lines = 12
	var best *cut
	at := make([]float64, len(g.piece))
	for d := range lines {
		s, c := math.Sincos(math.Pi * float64(d) / lines)
		order := slices.Clone(members)
		for _, m := range members {
			p := &g.piece[m]
			at[m] = (p.cx*c + p.cy*s) / float64(p.area)
		}
		slices.SortFunc(order, func(a, b int32) int { return cmp.Or(cmp.Compare(at[a], at[b]), cmp.Compare(a, b)) })
		if k := sweepLine(g, r, order); k != nil {
			k.refine()
			k.finish()
			if best == nil || k.cost < best.cost {
				best = k
			}
		}
	}
	return best
}

// newCut has all basins in the second part.
func newCut(g *graph, r *rule, members []int32) *cut {
	c := &cut{g: g, rule: r, members: members, side: make([]int8, len(g.piece))}
	for i := range c.side {
		c.side[i] = -1
	}
	for _, m := range members {
		c.side[m] = 1
		c.part[1].take(&g.piece[m], 1)
		for _, k := range g.at[m] {
			if e := &g.bonds[k]; c.side[e.a] >= 0 && c.side[e.b] >= 0 { // each pair is met once
				c.part[1].rim -= 2 * int(e.n)
			}
		}
	}
	return c
}

// flip moves a basin to the other part.
func (c *cut) flip(m int32) {
	from := c.side[m]
	to := 1 - from
	c.part[from].take(&c.g.piece[m], -1)
	c.part[to].take(&c.g.piece[m], 1)
	for _, k := range c.g.at[m] {
		e := &c.g.bonds[k]
		switch c.side[e.a+e.b-m] {
		case from:
			c.part[from].rim += 2 * int(e.n)
			c.cross += c.rule.says(e)
		case to:
			c.part[to].rim -= 2 * int(e.n)
			c.cross -= c.rule.says(e)
		}
	}
	c.side[m] = to
}

// rough is the cost without dents.
func (c *cut) rough() float64 {
	if c.part[0].area <= 0 || c.part[1].area <= 0 {
		return math.Inf(1)
	}
	return c.rule.bulk(c.part[0].area) + c.rule.bulk(c.part[1].area) - c.rule.border(&c.part[0], &c.part[1], c.cross)
}

// sweepLine moves a line across the basins, and leaves it where the cut costs least.
func sweepLine(g *graph, r *rule, order []int32) *cut {
	c := newCut(g, r, order)
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
	for i := len(order) - 1; i > at; i-- {
		c.flip(order[i])
	}
	return c
}

// refine flips single basins at the cut as long as that helps.
func (c *cut) refine() {
	for range 6 {
		better := false
		for _, m := range c.members {
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
	for _, k := range c.g.at[m] {
		e := &c.g.bonds[k]
		if c.side[e.a]+c.side[e.b] == 1 && c.side[e.a] >= 0 && c.side[e.b] >= 0 {
			return true
		}
	}
	return false
}

// finish computes the cost with dents.
func (c *cut) finish() {
	c.part[0].girth, c.part[1].girth = noGirth, noGirth
	for _, m := range c.members {
		c.part[c.side[m]].girth.add(&c.g.piece[m].girth)
	}
	c.cost = c.rough()
	for k := range c.part {
		c.cost += c.rule.dents(&c.part[k])
	}
}

// apply gives each part an owner of its own.
func (c *cut) apply(owner []int32) {
	first := [2]int32{-1, -1}
	for _, m := range c.members {
		k := c.side[m]
		if first[k] < 0 {
			first[k] = m
		}
		owner[m] = first[k]
	}
}
