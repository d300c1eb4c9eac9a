package strands

import (
	"cmp"
	"container/heap"
	"math"
	"slices"
)

// bins is how finely a border's evidence is told apart.
const bins = 16

// histogram counts the pixels of a border by their evidence.
type histogram [bins]int32

// hue is a tone taken apart: brightness, and where the picture has colours red less blue and green less their mean.
// Grains differ in brightness far more than in hue, strands in both.
type hue [3]float64

// total is how many pixel sides a border has.
func (h *histogram) total() int {
	n := 0
	for _, v := range h {
		n += int(v)
	}
	return n
}

// piece is a basin or the union of several.
type piece struct {
	area    int
	cx, cy  float64 // sums over its pixels
	n       float64 // pixels that its tone was taken from
	sum     hue     // of their tones
	square  hue     // sum over the basins of n times mean tone squared
	basins  float64
	girth   girth
	rim     int // sides of its pixels that are not shared with another of its pixels
	borders map[int32]*histogram
	version int
}

// graph is the pieces and who touches whom. owner tells each basin's piece.
type graph struct {
	piece []*piece
	owner []int32
	rule  *rule
}

// rule is by what two pieces become one: everything is in nats, positive for "a border is there".
type rule struct {
	evidence  [bins]float64 // of one border pixel
	size      float64       // a strand's area, grid px
	spread    float64       // of its logarithm
	hues      int           // 1 for grey, 3 for colour
	noise     hue           // variance of one pixel's tone as it counts in a mean, grains and all
	floor     hue           // variance that no area averages out: shading
	between   hue           // variance from strand to strand
	roundness float64       // weight of dents
	ragged    float64       // weight of tatters
}

const (
	smallCap = 7.0  // what a piece too small costs at most
	toneCap  = 8.0  // what a difference in tone may say at most
	faint    = 0.02 // share of the borders that nothing shows of
)

// lone is what one piece costs: by its size and by its dents.
func (r *rule) lone(p *piece) float64 {
	return r.bulk(p.area) + r.dents(p)
}

// bulk is the cost of a piece's size.
func (r *rule) bulk(area int) float64 {
	z := math.Log(float64(area)/r.size) / r.spread
	e := z * z / 2
	if z < 0 {
		e = min(e, smallCap)
	}
	return e
}

// dents is the cost of not being convex and of a ragged border. The sides of a convex region's pixels are as many as
// those of the upright rectangle about it, whatever its shape; dents and tatters make them more.
func (r *rule) dents(p *piece) float64 {
	area := float64(p.area)
	if area < 0.3*r.size {
		return 0
	}
	g := &p.girth
	box := 2 * (g[0] + g[sides/2] + g[sides/4] + g[3*sides/4])
	return r.roundness*max(0, 0.875-area/max(g.area(), 1)) + r.ragged*max(0, float64(p.rim)/max(box, 1)-1.15)
}

// border is what speaks for a border between two pieces.
func (r *rule) border(a, b *piece, h *histogram) float64 {
	s := 0.
	for i, n := range h {
		s += float64(n) * r.evidence[i]
	}
	return math.Log(faint+(1-faint)*math.Exp(min(s, 50))) + r.step(a, b)
}

// step is what the two tones say: Gaussian about nought against Gaussian with the strands' spread added; the first with
// the tails of Student's t with four degrees of freedom, since shading and grains are not Gaussian.
func (r *rule) step(a, b *piece) float64 {
	if a.n < 8 || b.n < 8 {
		return 0
	}
	e := 0.
	for k := range r.hues {
		v := r.floor[k] + r.grain(a, k)/a.n + r.grain(b, k)/b.n
		d := a.sum[k]/a.n - b.sum[k]/b.n
		e += 2.5*math.Log1p(d*d/(4*v)) - d*d/(2*(v+2*r.between[k])) - 0.5*math.Log((v+2*r.between[k])/v)
	}
	// A small piece may be a grain or two.
	most := toneCap * min(1, 2*float64(min(a.area, b.area))/r.size)
	return max(-most/2, min(e, most))
}

// grain is a piece's own variance per pixel, from how its basins differ, held to the picture's.
func (r *rule) grain(p *piece, k int) float64 {
	const trust = 6
	if p.basins < 2 {
		return r.noise[k]
	}
	between := max(0, p.square[k]-p.sum[k]*p.sum[k]/p.n)
	return (trust*r.noise[k] + between) / (trust + p.basins - 1)
}

// joined is the change of the cost when two pieces become one.
func (r *rule) joined(a, b *piece, h *histogram) float64 {
	u := piece{area: a.area + b.area, girth: a.girth, rim: a.rim + b.rim - 2*h.total()}
	u.girth.add(&b.girth)
	return r.lone(&u) - r.lone(a) - r.lone(b) + r.border(a, b, h)
}

// newGraph takes the basins of a flood as they are.
func newGraph(label []int32, n int, f *field, void, blind []bool, evidence []float32, top float32) *graph {
	g := &graph{piece: make([]*piece, n), owner: make([]int32, n)}
	for i := range g.piece {
		g.piece[i] = &piece{borders: map[int32]*histogram{}, basins: 1, girth: noGirth}
		g.owner[i] = int32(i)
	}
	for y := range f.h {
		for x := range f.w {
			i := y*f.w + x
			l := label[i]
			if l < 0 || void[i] {
				continue
			}
			p := g.piece[l]
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
			if x == 0 || x == f.w-1 || label[i-1] != l || label[i+1] != l || void[i-1] || void[i+1] {
				p.girth.pixel(float64(x), float64(y))
			}
			if x+1 < f.w && label[i+1] >= 0 && !blind[i] && !blind[i+1] && label[i+1] != l {
				g.touch(l, label[i+1], max(evidence[i], evidence[i+1])/top)
			}
			if y+1 < f.h && label[i+f.w] >= 0 && !blind[i] && !blind[i+f.w] && label[i+f.w] != l {
				g.touch(l, label[i+f.w], max(evidence[i], evidence[i+f.w])/top)
			}
		}
	}
	for i, p := range g.piece {
		if p.area == 0 { // all void
			g.piece[i], g.owner[i] = nil, -1
			continue
		}
		if p.n > 0 {
			for k := range p.sum {
				p.square[k] = p.sum[k] * p.sum[k] / p.n
			}
		}
	}
	return g
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

func (g *graph) touch(a, b int32, e float32) {
	h := g.piece[a].borders[b]
	if h == nil {
		h = &histogram{}
		g.piece[a].borders[b], g.piece[b].borders[a] = h, h
	}
	h[min(max(int(e*bins), 0), bins-1)]++
}

// clone copies the graph, so that it can be joined further without harm to the first.
func (g *graph) clone() *graph {
	c := &graph{piece: make([]*piece, len(g.piece)), owner: slices.Clone(g.owner), rule: g.rule}
	for i, p := range g.piece {
		if p == nil {
			continue
		}
		q := *p
		q.borders = make(map[int32]*histogram, len(p.borders))
		c.piece[i] = &q
	}
	for i, p := range g.piece {
		if p == nil {
			continue
		}
		for j, h := range p.borders {
			if int32(i) < j {
				k := *h
				c.piece[i].borders[j], c.piece[j].borders[int32(i)] = &k, &k
			}
		}
	}
	return c
}

// offer is a pair that might become one.
type offer struct {
	gain   float64
	a, b   int32
	va, vb int
}

type offers []offer

func (o offers) Len() int { return len(o) }
func (o offers) Less(i, j int) bool {
	if o[i].gain != o[j].gain {
		return o[i].gain < o[j].gain
	}
	return cmp.Or(cmp.Compare(o[i].a, o[j].a), cmp.Compare(o[i].b, o[j].b)) < 0
}
func (o offers) Swap(i, j int) { o[i], o[j] = o[j], o[i] }
func (o *offers) Push(x any)   { *o = append(*o, x.(offer)) }
func (o *offers) Pop() any {
	s := *o
	x := s[len(s)-1]
	*o = s[:len(s)-1]
	return x
}

// join unites, best pair first, as long as a union lowers the cost by more than nothing and, where stop is positive, one
// of the two is smaller than stop.
func (g *graph) join(stop int) {
	var q offers
	for i, p := range g.piece {
		if p == nil {
			continue
		}
		for j := range p.borders {
			if int32(i) < j {
				q = g.offer(q, int32(i), j, stop)
			}
		}
	}
	heap.Init(&q)
	for q.Len() > 0 {
		o := heap.Pop(&q).(offer)
		a, b := g.piece[o.a], g.piece[o.b]
		if a == nil || b == nil || a.version != o.va || b.version != o.vb {
			continue
		}
		g.unite(o.a, o.b)
		var fresh offers
		for j := range a.borders {
			fresh = g.offer(fresh, o.a, j, stop)
		}
		for _, x := range fresh {
			heap.Push(&q, x)
		}
	}
}

func (g *graph) offer(q offers, i, j int32, stop int) offers {
	a, b := g.piece[i], g.piece[j]
	if stop > 0 && a.area >= stop && b.area >= stop {
		return q
	}
	if gain := g.rule.joined(a, b, a.borders[j]); gain < 0 {
		q = append(q, offer{gain, min(i, j), max(i, j), g.piece[min(i, j)].version, g.piece[max(i, j)].version})
	}
	return q
}

// unite puts piece j into piece i.
func (g *graph) unite(i, j int32) {
	a, b := g.piece[i], g.piece[j]
	a.area += b.area
	a.cx += b.cx
	a.cy += b.cy
	a.n += b.n
	a.basins += b.basins
	for k := range a.sum {
		a.sum[k] += b.sum[k]
		a.square[k] += b.square[k]
	}
	a.girth.add(&b.girth)
	a.rim += b.rim
	if h := a.borders[j]; h != nil {
		a.rim -= 2 * h.total()
	}
	a.version++
	delete(a.borders, j)
	for k, h := range b.borders {
		if k == i {
			continue
		}
		c := g.piece[k]
		delete(c.borders, j)
		if have := a.borders[k]; have != nil {
			for n := range h {
				have[n] += h[n]
			}
			continue
		}
		a.borders[k], c.borders[i] = h, h
	}
	g.piece[j] = nil
	for k, o := range g.owner {
		if o == j {
			g.owner[k] = i
		}
	}
}

// compact renumbers the pieces without gaps and makes each a basin of its own; the second result tells each old basin's
// new one.
func (g *graph) compact() (*graph, []int32) {
	number := make([]int32, len(g.piece))
	c := &graph{rule: g.rule}
	for i, p := range g.piece {
		number[i] = -1
		if p != nil {
			number[i] = int32(len(c.piece))
			c.owner = append(c.owner, number[i])
			c.piece = append(c.piece, p)
		}
	}
	for _, p := range c.piece {
		b := make(map[int32]*histogram, len(p.borders))
		for j, h := range p.borders {
			b[number[j]] = h
		}
		p.borders = b
	}
	return c, spreadOut(number, g.owner)
}

// spreadOut is the owners of basins that were joined before: to tells each one's piece.
func spreadOut(owner, to []int32) []int32 {
	out := make([]int32, len(to))
	for k, o := range to {
		out[k] = -1
		if o >= 0 {
			out[k] = owner[o]
		}
	}
	return out
}

// neighbours in order, so that sums come out the same every time.
func (p *piece) neighbours() []int32 {
	out := make([]int32, 0, len(p.borders))
	for j := range p.borders {
		out = append(out, j)
	}
	slices.Sort(out)
	return out
}
