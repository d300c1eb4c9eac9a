package scale

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// mark is a dash that lies where a row of graduations has its k-th.
type mark struct {
	dash
	k int
}

// row is a row of dashes that lie on a lattice: the k-th on the picture of the world's line x = k.
type row struct {
	marks []mark // by k
	to    lineMap
}

const (
	leastChain    = 6    // dashes in an evenly spaced run, so that it is followed up
	mostRows      = 12   // runs that are followed up
	chainTurn     = 0.12 // radians between neighbouring graduations
	evenShare     = 0.12 // by which neighbouring distances may differ, and
	evenPX        = 0.8
	likeLength    = 0.3 // least ratio of neighbours' lengths: the longest graduations are some 2.5 times as long as the shortest
	nearestDashes = 2.5 // px between neighbours
	widestDashes  = 60.
	longestDash   = 150. // px, half the length
)

// findRows gives the rows of evenly spaced parallel dashes, the longest first.
func findRows(dashes []dash) []row {
	n := newNeighbours(dashes)
	chains := n.chains()
	slices.SortStableFunc(chains, func(a, b []dash) int { return cmp.Compare(ink(b), ink(a)) })
	var rows []row
	for _, c := range chains[:min(len(chains), mostRows)] {
		if slices.ContainsFunc(rows, func(r row) bool { return r.holds(c) }) {
			continue
		}
		if r, ok := carriedOn(c, dashes); ok {
			rows = append(rows, r)
		}
	}
	slices.SortStableFunc(rows, func(a, b row) int { return cmp.Compare(b.ink(), a.ink()) })
	return rows
}

// ink is the length of all dashes of a run together, in px.
func ink(chain []dash) float64 {
	sum := 0.
	for _, d := range chain {
		sum += 2 * d.half
	}
	return sum
}

func (r row) ink() float64 {
	sum := 0.
	for _, m := range r.marks {
		sum += 2 * m.half
	}
	return sum
}

// holds tells whether more than half of a chain belongs to the row already.
func (r row) holds(chain []dash) bool {
	n := 0
	for _, d := range chain {
		if slices.ContainsFunc(r.marks, func(m mark) bool { return m.mid == d.mid }) {
			n++
		}
	}
	return 2*n > len(chain)
}

// neighbours tells which dash lies beside which.
type neighbours struct {
	dashes []dash
	cells  map[[2]int][]int
	next   [2][]int // to either side of each dash's direction; -1 none
}

const neighbourCell = 64.

func newNeighbours(dashes []dash) *neighbours {
	n := &neighbours{dashes: dashes, cells: map[[2]int][]int{}}
	at := func(p pt) [2]int { return [2]int{int(p.x / neighbourCell), int(p.y / neighbourCell)} }
	for i, d := range dashes {
		if d.half < longestDash {
			n.cells[at(d.mid)] = append(n.cells[at(d.mid)], i)
		}
	}
	for side := range n.next {
		n.next[side] = make([]int, len(dashes))
	}
	for i, d := range dashes {
		n.next[0][i], n.next[1][i] = -1, -1
		if d.half >= longestDash {
			continue
		}
		nearest := [2]float64{widestDashes, widestDashes}
		c := at(d.mid)
		for dy := -2; dy <= 2; dy++ {
			for dx := -2; dx <= 2; dx++ {
				for _, j := range n.cells[[2]int{c[0] + dx, c[1] + dy}] {
					side, s, ok := d.beside(dashes[j])
					if ok && s < nearest[side] {
						nearest[side], n.next[side][i] = s, j
					}
				}
			}
		}
	}
	return n
}

// beside tells whether another dash runs alongside, on which side and how far off.
func (d dash) beside(o dash) (side int, apart float64, ok bool) {
	v := o.mid.sub(d.mid)
	s := d.dir.cross(v)
	if math.Abs(s) < nearestDashes || math.Abs(s) > widestDashes {
		return 0, 0, false
	}
	shorter, longer := math.Min(d.half, o.half), math.Max(d.half, o.half)
	along := math.Abs(d.dir.dot(v))
	if d.half+o.half-along < shorter || 2*shorter < math.Abs(s) || shorter < likeLength*longer || math.Abs(d.dir.cross(o.dir)) > chainTurn {
		return 0, 0, false
	}
	if s > 0 {
		side = 1
	}
	return side, math.Abs(s), true
}

// chains follows mutual neighbours while their distances stay even.
func (n *neighbours) chains() [][]dash {
	used := make([]bool, len(n.dashes))
	var out [][]dash
	for i := range n.dashes {
		if used[i] {
			continue
		}
		back := n.follow(i, 0, used)
		forth := n.follow(i, 1, used)
		slices.Reverse(back)
		ids := slices.Concat(back, []int{i}, forth)
		if len(ids) < leastChain {
			continue
		}
		chain := make([]dash, len(ids))
		for k, id := range ids {
			used[id] = true
			chain[k] = n.dashes[id]
		}
		out = append(out, chain)
	}
	return out
}

// follow walks from dash i to one side of it.
func (n *neighbours) follow(i, side int, used []bool) []int {
	var out []int
	last := 0.
	for {
		j := n.next[side][i]
		if j < 0 || used[j] {
			return out
		}
		back := 1 - side
		if n.dashes[i].dir.dot(n.dashes[j].dir) < 0 {
			side, back = back, side
		}
		if n.next[back][j] != i || len(out) > len(n.dashes) {
			return out
		}
		apart := math.Abs(n.dashes[i].dir.cross(n.dashes[j].mid.sub(n.dashes[i].mid)))
		if last > 0 && math.Abs(apart-last) > evenShare*last+evenPX {
			return out
		}
		out, last, i = append(out, j), apart, j
	}
}

func (p pt) dot(q pt) float64 { return p.x*q.x + p.y*q.y }

// lineMap tells on which line x of a plane a pixel lies: the ratio of two linear forms, as every camera without
// distortion gives it.
type lineMap struct {
	o pt
	s float64 // px; places count from o in units of s
	a [5]float64
}

func (m lineMap) x(p pt) float64 {
	u, v := (p.x-m.o.x)/m.s, (p.y-m.o.y)/m.s
	return (m.a[0]*u + m.a[1]*v + m.a[2]) / (1 + m.a[3]*u + m.a[4]*v)
}

// along is the direction of the line x = constant through a pixel, either way.
func (m lineMap) along(p pt) pt {
	x := m.x(p) // the gradient of x, but for a factor:
	g := pt{m.a[0] - x*m.a[3], m.a[1] - x*m.a[4]}
	return pt{-g.y, g.x}.mul(1 / math.Max(g.norm(), 1e-12))
}

// usualVanish is the standard deviation of the map's denominator over a picture's long side: a tilt of some 20 degrees seen
// by a phone's camera. It keeps a few marks from making up a perspective.
const usualVanish = 0.3

const rowScale = 1000. // px, for numbers near 1: about the reduced picture's long side

// fitLineMap fits by linear least squares, the denominator held near 1.
func fitLineMap(marks []mark, longSide float64) (lineMap, bool) {
	m := lineMap{s: longSide}
	for _, d := range marks {
		m.o = m.o.add(d.mid.mul(1 / float64(len(marks))))
	}
	const rowsEach = 2
	n := rowsEach*len(marks) + 2
	a, b := mat.NewDense(n, 5, nil), mat.NewVecDense(n, nil)
	for i, d := range marks {
		for j, s := range []float64{-0.7, 0.7} {
			p := d.end(s).sub(m.o).mul(1 / m.s)
			k := float64(d.k)
			a.SetRow(rowsEach*i+j, []float64{p.x, p.y, 1, -k * p.x, -k * p.y})
			b.SetVec(rowsEach*i+j, k)
		}
	}
	const misfit = 0.05 // of a pitch, of one mark
	a.Set(n-2, 3, misfit/usualVanish)
	a.Set(n-1, 4, misfit/usualVanish)
	var x mat.VecDense
	if err := x.SolveVec(a, b); err != nil {
		return m, false
	}
	for k := range m.a {
		m.a[k] = x.AtVec(k)
	}
	return m, true
}

const (
	offMark  = 0.15 // of a pitch that a dash may lie off its place in the lattice
	offTurn  = 0.15 // of a pitch by which its two ends may differ
	bandTall = 12.  // pitches to either side of the row's line in which dashes belong to it
)

// carriedOn carries a chain on to all dashes that lie on its lattice, outwards from what is known.
func carriedOn(chain, dashes []dash) (row, bool) {
	r := row{}
	for k, d := range chain {
		r.marks = append(r.marks, mark{d, k})
	}
	var ok bool
	if r.to, ok = fitLineMap(r.marks, rowScale); !ok {
		return r, false
	}
	for range 10 {
		before := len(r.marks)
		low, high := r.marks[0].k, r.marks[before-1].k
		reach := max(5, (high-low)/2)
		line := r.line()
		r.marks = r.marks[:0:0]
		for _, d := range dashes {
			a, b := r.to.x(d.end(-0.7)), r.to.x(d.end(0.7))
			k := math.Round((a + b) / 2)
			if math.Abs((a+b)/2-k) > offMark || math.Abs(a-b) > offTurn ||
				math.Abs(d.dir.cross(r.to.along(d.mid))) > chainTurn || k < float64(low-reach) || k > float64(high+reach) || !line.near(d) {
				continue
			}
			r.marks = append(r.marks, mark{d, int(k)})
		}
		if len(r.marks) < leastChain {
			return r, false
		}
		slices.SortStableFunc(r.marks, func(a, b mark) int { return a.k - b.k })
		if r.to, ok = fitLineMap(r.marks, rowScale); !ok {
			return r, false
		}
		if len(r.marks) == before {
			break
		}
	}
	return r.pruned()
}

// pruned leaves out what is much shorter than the rest (texture between the graduations) or lies off, and tells
// whether a row remains.
func (r row) pruned() (row, bool) {
	var halves []float64
	for _, m := range r.marks {
		for range int(m.half) { // by the px, so that many short ones do not decide
			halves = append(halves, m.half)
		}
	}
	limit, least := math.Max(0.02, 4*r.misfit()), 0.4*median(halves...)
	kept := r.marks[:0:0]
	for _, m := range r.marks {
		if m.half >= least && math.Abs(r.to.x(m.mid)-float64(m.k)) <= limit {
			kept = append(kept, m)
		}
	}
	if len(kept) < leastChain {
		return r, false
	}
	r.marks = kept
	var ok bool
	if r.to, ok = fitLineMap(kept, rowScale); !ok {
		return r, false
	}
	return r, r.misfit() < likelyOff
}

// likelyOff is the median distance of marks from their places in pitches. Graduations lie within 0.02; dashes of any texture, which
// lie anywhere within offMark, at half of that.
const likelyOff = 0.04

func (r row) misfit() float64 {
	var off []float64
	for _, m := range r.marks {
		off = append(off, math.Abs(r.to.x(m.mid)-float64(m.k)))
	}
	return median(off...)
}

// rowLine is the straight line along which a row runs.
type rowLine struct {
	at, along pt // px, the row's middle and one pitch
}

// line goes through the marks' middles, one mark a place: the median's robustness is not needed for a band.
func (r row) line() rowLine {
	var k, kk float64
	var p, kp pt
	n := float64(len(r.marks))
	for _, m := range r.marks {
		k, p = k+float64(m.k)/n, p.add(m.mid.mul(1/n))
	}
	for _, m := range r.marks {
		d := float64(m.k) - k
		kk, kp = kk+d*d, kp.add(m.mid.sub(p).mul(d))
	}
	return rowLine{p, kp.mul(1 / math.Max(kk, 1))}
}

// near tells whether a dash lies beside the line, not further than the graduations reach.
func (l rowLine) near(d dash) bool {
	pitch := l.along.norm()
	return math.Abs(l.along.mul(1/pitch).cross(d.mid.sub(l.at))) < bandTall*pitch
}
