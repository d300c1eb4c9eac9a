package strands

import (
	"math"
	"slices"
)

// arc leads from a piece to one that it touches.
type arc struct {
	to int32
	n  int32   // pixel sides
	e  float64 // what they say for a border, nats
}

// joint is the pieces of a graph joined under a rule. owner tells each piece of the graph which of its joint's it
// belongs to, -1 where to none.
type joint struct {
	g     *graph
	rule  *rule
	piece []piece // area 0 where gone into another
	arcs  [][]arc
	owner []int32
	round []int // how often a piece has changed
}

// newJoint begins with the owners given; nil makes each piece its own.
func newJoint(g *graph, r *rule, owner []int32) *joint {
	n := len(g.piece)
	j := &joint{g: g, rule: r, piece: make([]piece, n), arcs: make([][]arc, n), owner: make([]int32, n), round: make([]int, n)}
	if owner == nil {
		copy(j.piece, g.piece)
		for i := range j.owner {
			if j.owner[i] = int32(i); g.piece[i].area == 0 {
				j.owner[i] = -1
			}
			j.arcs[i] = make([]arc, 0, len(g.at[i]))
		}
	} else {
		copy(j.owner, owner)
		for i := range j.piece {
			j.piece[i].girth = noGirth
		}
		for i, o := range owner {
			if o >= 0 {
				j.piece[o].take(&g.piece[i], 1)
				j.piece[o].girth.add(&g.piece[i].girth)
			}
		}
	}
	for k := range g.bonds {
		e := &g.bonds[k]
		a, b := j.owner[e.a], j.owner[e.b]
		switch {
		case a < 0 || b < 0:
		case a == b:
			j.piece[a].rim -= 2 * int(e.n)
		default:
			s := r.says(e)
			j.lead(a, b, e.n, s, owner == nil)
			j.lead(b, a, e.n, s, owner == nil)
		}
	}
	for i := range j.piece {
		if j.piece[i].area > 0 {
			j.piece[i].lone = r.lone(&j.piece[i])
		}
	}
	return j
}

// lead adds to the arc from a to b; fresh where there is none yet.
func (j *joint) lead(a, b, n int32, e float64, fresh bool) {
	if !fresh {
		if k := find(j.arcs[a], b); k >= 0 {
			j.arcs[a][k].n += n
			j.arcs[a][k].e += e
			return
		}
	}
	j.arcs[a] = append(j.arcs[a], arc{b, n, e})
}

// find is the place of the arc to a piece; -1 where there is none.
func find(arcs []arc, to int32) int {
	for k := range arcs {
		if arcs[k].to == to {
			return k
		}
	}
	return -1
}

// gain is the change of the cost when a piece and the one that an arc leads to become one.
func (j *joint) gain(i int32, c arc) float64 {
	return j.rule.joined(&j.piece[i], &j.piece[c.to], c)
}

// offer is a pair that might become one.
type offer struct {
	gain   float64
	a, b   int32
	ra, rb int
}

func (o *offer) before(p *offer) bool {
	if o.gain != p.gain {
		return o.gain < p.gain
	}
	return o.a < p.a || o.a == p.a && o.b < p.b
}

// offers is a heap, the best pair at its top.
type offers []offer

func (h *offers) push(o offer) {
	*h = append(*h, o)
	s := *h
	for i := len(s) - 1; i > 0; {
		up := (i - 1) / 2
		if !s[i].before(&s[up]) {
			break
		}
		s[i], s[up] = s[up], s[i]
		i = up
	}
}

func (h *offers) pop() offer {
	s := *h
	top := s[0]
	n := len(s) - 1
	s[0] = s[n]
	s = s[:n]
	for i := 0; ; {
		k := 2*i + 1
		if k >= n {
			break
		}
		if k+1 < n && s[k+1].before(&s[k]) {
			k++
		}
		if !s[k].before(&s[i]) {
			break
		}
		s[i], s[k] = s[k], s[i]
		i = k
	}
	*h = s
	return top
}

// join unites, best pair first, as long as a union lowers the cost and, where stop is positive, one of the two is smaller
// than stop.
func (j *joint) join(stop int) {
	var q offers
	put := func(i int32, c arc) {
		if stop > 0 && j.piece[i].area >= stop && j.piece[c.to].area >= stop {
			return
		}
		if gain := j.gain(i, c); gain < 0 {
			a, b := min(i, c.to), max(i, c.to)
			q.push(offer{gain, a, b, j.round[a], j.round[b]})
		}
	}
	for i := range j.arcs {
		for _, c := range j.arcs[i] {
			if int32(i) < c.to {
				put(int32(i), c)
			}
		}
	}
	for len(q) > 0 {
		o := q.pop()
		if j.piece[o.a].area == 0 || j.piece[o.b].area == 0 || j.round[o.a] != o.ra || j.round[o.b] != o.rb {
			continue
		}
		j.unite(o.a, o.b)
		for _, c := range j.arcs[o.a] {
			put(o.a, c)
		}
	}
	j.settle()
}

// unite puts piece b into piece a. Owners follow when settled.
func (j *joint) unite(a, b int32) {
	p, q := &j.piece[a], &j.piece[b]
	p.take(q, 1)
	p.girth.add(&q.girth)
	if k := find(j.arcs[a], b); k >= 0 {
		p.rim -= 2 * int(j.arcs[a][k].n)
		j.arcs[a] = slices.Delete(j.arcs[a], k, k+1)
	}
	for _, c := range j.arcs[b] {
		if c.to == a {
			continue
		}
		back := j.arcs[c.to]
		k, have := find(back, b), find(j.arcs[a], c.to)
		if have < 0 {
			j.arcs[a] = append(j.arcs[a], c)
			back[k].to = a
			continue
		}
		j.arcs[a][have].n += c.n
		j.arcs[a][have].e += c.e
		m := find(back, a)
		back[m].n += c.n
		back[m].e += c.e
		j.arcs[c.to] = slices.Delete(back, k, k+1)
	}
	j.arcs[b] = nil
	q.area = 0
	j.owner[b] = a
	p.lone = j.rule.lone(p)
	j.round[a]++
}

// settle makes every owner a piece that is still there.
func (j *joint) settle() {
	for i, o := range j.owner {
		for o >= 0 && j.owner[o] != o {
			o = j.owner[o]
		}
		j.owner[i] = o
	}
}

// members lists the graph's pieces of each owner.
func (j *joint) members() [][]int32 {
	m := make([][]int32, len(j.piece))
	for i, o := range j.owner {
		if o >= 0 {
			m[o] = append(m[o], int32(i))
		}
	}
	return m
}

// sweep unites what is far too small for a strand with the neighbour it is least parted from.
func (j *joint) sweep() {
	for {
		small := -1
		for i := range j.piece {
			q := &j.piece[i]
			if q.area > 0 && float64(q.area) < scrap*j.rule.size && len(j.arcs[i]) > 0 && (small < 0 || q.area < j.piece[small].area) {
				small = i
			}
		}
		if small < 0 {
			j.settle()
			return
		}
		to, least := int32(-1), math.Inf(1)
		for _, c := range j.arcs[small] {
			if e := j.gain(int32(small), c); e < least {
				to, least = c.to, e
			}
		}
		j.unite(to, int32(small))
	}
}

// counts tells whether a piece is large enough to count as a strand; less will do where it stands alone in a void.
func (j *joint) counts(i int32) bool {
	const alone = 0.15
	area := float64(j.piece[i].area)
	return area > 0 && (area >= scrap*j.rule.size || len(j.arcs[i]) == 0 && area >= alone*j.rule.size)
}

// strands is how many pieces count.
func (j *joint) strands() int {
	n := 0
	for i := range j.piece {
		if j.counts(int32(i)) {
			n++
		}
	}
	return n
}
