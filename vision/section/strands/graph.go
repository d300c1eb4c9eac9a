package strands

import "math"

// bins is how finely a border's evidence is told apart.
const bins = 16

// histogram counts the pixels of a border by their evidence.
type histogram [bins]int32

// hue is a tone taken apart: brightness, and where the picture has colours red less blue and green less their mean.
// Grains differ in brightness far more than in hue, strands in both.
type hue [3]float64

// piece is a basin or the union of several; one without area lies in a void and is none.
type piece struct {
	area   int
	cx, cy float64 // sums over its pixels
	n      float64 // pixels that its tone was taken from
	sum    hue     // of their tones
	square hue     // sum over the basins of n times mean tone squared
	basins float64
	girth  girth
	rim    int     // sides of its pixels that are not shared with another of its pixels
	lone   float64 // what it costs by itself
}

// take adds a piece to another, or with -1 takes it away; girths and what lies between the two are left alone.
func (p *piece) take(q *piece, sign float64) {
	p.area += int(sign) * q.area
	p.cx += sign * q.cx
	p.cy += sign * q.cy
	p.n += sign * q.n
	p.basins += sign * q.basins
	p.rim += int(sign) * q.rim
	for k := range p.sum {
		p.sum[k] += sign * q.sum[k]
		p.square[k] += sign * q.square[k]
	}
}

// bond is the border of two pieces, a before b.
type bond struct {
	a, b int32
	n    int32 // pixel sides
	void int32 // pixel sides in voids
	h    histogram
}

// graph is the basins of a flood and who touches whom.
type graph struct {
	piece []piece
	bonds []bond
	at    [][]int32 // each piece's bonds
}

// newGraph takes the basins of a flood as they are.
func newGraph(label []int32, n int, f *field, void, blind []bool, evidence []float32, top float32) *graph {
	g := &graph{piece: make([]piece, n), at: make([][]int32, n)}
	for i := range g.piece {
		g.piece[i] = piece{basins: 1, girth: noGirth}
	}
	for y := 1; y < f.h-1; y++ {
		for x := 1; x < f.w-1; x++ {
			i := y*f.w + x
			l := label[i]
			if l < 0 {
				continue
			}
			if void[i] {
				for _, j := range [2]int{i + 1, i + f.w} {
					if m := label[j]; m >= 0 && m != l {
						g.open(l, m)
					}
				}
				continue
			}
			p := &g.piece[l]
			p.area++
			p.cx += float64(x)
			p.cy += float64(y)
			if evidence[i] < 0.25*top && !blind[i] {
				p.n++
				for k, v := range f.hueAt(i) {
					p.sum[k] += v
				}
			}
			for _, j := range [4]int{i - 1, i + 1, i - f.w, i + f.w} {
				if label[j] != l || void[j] {
					p.rim++
				}
			}
			if label[i-1] != l || label[i+1] != l || void[i-1] || void[i+1] {
				p.girth.pixel(float64(x), float64(y))
			}
			for _, j := range [2]int{i + 1, i + f.w} {
				m := label[j]
				if m >= 0 && m != l && void[j] {
					g.open(l, m)
				}
				if m >= 0 && m != l && !blind[i] && !blind[j] {
					g.touch(l, m, max(evidence[i], evidence[j])/top)
				}
			}
		}
	}
	for i := range g.piece {
		p := &g.piece[i]
		if p.n > 0 {
			for k := range p.sum {
				p.square[k] = p.sum[k] * p.sum[k] / p.n
			}
		}
	}
	return g
}

// touch counts one pixel side of the border of two pieces.
func (g *graph) touch(a, b int32, e float32) {
	k := g.between(a, b)
	if k < 0 {
		k = g.link(a, b)
	}
	g.bonds[k].n++
	g.bonds[k].h[min(max(int(e*bins), 0), bins-1)]++
}

// open counts one pixel side in a void.
func (g *graph) open(a, b int32) {
	k := g.between(a, b)
	if k < 0 {
		k = g.link(a, b)
	}
	g.bonds[k].void++
}

// between is the bond of two pieces; -1 where they do not touch.
func (g *graph) between(a, b int32) int32 {
	for _, k := range g.at[a] {
		if e := &g.bonds[k]; e.a == b || e.b == b {
			return k
		}
	}
	return -1
}

// link makes the bond of two pieces.
func (g *graph) link(a, b int32) int32 {
	k := int32(len(g.bonds))
	g.bonds = append(g.bonds, bond{a: min(a, b), b: max(a, b)})
	g.at[a], g.at[b] = append(g.at[a], k), append(g.at[b], k)
	return k
}

// merged is the graph with the pieces of each owner as one, numbered as they come; the second result tells each
// piece's new number, -1 where it has no owner.
func (g *graph) merged(owner []int32) (*graph, []int32) {
	m := &graph{}
	to, number := make([]int32, len(owner)), make([]int32, len(owner))
	for i := range number {
		number[i] = -1
	}
	for i, o := range owner {
		if to[i] = -1; o < 0 {
			continue
		}
		if number[o] < 0 {
			number[o] = int32(len(m.piece))
			m.piece = append(m.piece, piece{girth: noGirth})
		}
		to[i] = number[o]
		p := &m.piece[to[i]]
		p.take(&g.piece[i], 1)
		p.girth.add(&g.piece[i].girth)
	}
	m.at = make([][]int32, len(m.piece))
	for _, e := range g.bonds {
		a, b := to[e.a], to[e.b]
		switch {
		case a < 0 || b < 0:
		case a == b:
			m.piece[a].rim -= 2 * int(e.n)
		default:
			k := m.between(a, b)
			if k < 0 {
				k = m.link(a, b)
			}
			m.bonds[k].n += e.n
			m.bonds[k].void += e.void
			for i, v := range e.h {
				m.bonds[k].h[i] += v
			}
		}
	}
	return m, to
}

// hueAt takes a pixel's tone apart.
func (f *field) hueAt(i int) hue {
	if len(f.tone) < 3 {
		return hue{float64(f.grey[i])}
	}
	b, g, r := float64(f.tone[0][i]), float64(f.tone[1][i]), float64(f.tone[2][i])
	return hue{float64(f.grey[i]), r - b, g - (r+b)/2}
}

// hues is how many parts a tone has.
func (f *field) hues() int {
	if len(f.tone) < 3 {
		return 1
	}
	return 3
}

// apart is the variance from piece to piece of one part of the tone: what their means differ by beyond the noise.
func (g *graph) apart(k int, noise float64) float64 {
	var mean []float64
	n := 0.
	for i := range g.piece {
		if q := &g.piece[i]; q.n >= 15 {
			mean = append(mean, q.sum[k]/q.n)
			n += 1 / q.n
		}
	}
	if len(mean) < 5 {
		return 1e-4
	}
	half := 1.48 * deviation(mean)
	return max(half*half-noise*n/float64(len(mean)), 2e-5)
}

// deviation is the median distance from the median.
func deviation(v []float64) float64 {
	m := median(v)
	d := make([]float64, len(v))
	for i, x := range v {
		d[i] = math.Abs(x - m)
	}
	return median(d)
}
