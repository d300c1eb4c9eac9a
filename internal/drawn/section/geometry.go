package section

import "math"

// Geometry is the cut part: polygons in millimetres that do not overlap. Outlines run counterclockwise, holes clockwise.
type Geometry struct {
	Sheet    []Polygon // the sleeve's metal
	Cavities []Polygon // what it encloses; open wings are closed by their shortest link
	Strands  []Polygon
	Crack    []Point // its middle line from the surface inwards
	CrackMM  float64

	left, right *side // nil where there are no wings
	seam        line  // where the wings touch
	contact     Point // the lowest place at which they do, or the middle of their shortest link
	opening     float64
	outline     Polygon // of the whole sleeve, seen from outside
}

// side is what truth needs of one half.
type side struct {
	outer, inner line   // from the middle of the floor to the wing's tip, and back inside
	face         int    // from here on outer belongs to the wing that faces the other one
	burr         [2]int // the part of outer that is burr; equal: none
	wall         [2]int // two points of the straight wall
	floor        int    // from here on inner belongs to the floor
	tip          Point
	touchA       int // the wing's chain (wing face, then inner) touches wall or floor between these; -1: it does not
	touchB       int
}

// step is the distance of points along the curves.
const step = 0.006

// build makes the polygons of the scene.
func (s Scene) build() *Geometry {
	if s.Exact != nil {
		g := *s.Exact
		if s.Mirrored {
			g.mirror()
		}
		return &g
	}
	g := s.Sleeve.build()
	if s.Sleeve.Crack != nil {
		g.Crack, g.CrackMM = s.Sleeve.crack(s.Seed), s.Sleeve.Crack.WidthMM
	}
	g.Strands = s.Fill.strands(g.Cavities, s.Seed)
	if s.Mirrored {
		g.mirror()
	}
	return g
}

// build joins the two halves and finds where the wings meet.
func (s Sleeve) build() *Geometry {
	r, l := s.half(s.Right, 1), s.half(s.Left, -1)
	g := &Geometry{left: l, right: r}
	loop := Polygon(l.outer.reversed())
	loop = append(loop, r.outer...)
	loop = append(loop, r.inner...)
	loop = append(loop, l.inner.reversed()...)
	g.Sheet = []Polygon{loop.clean()}
	il, ir := g.meet()
	g.outline = Polygon(append(l.outer[:l.face+topOf(l, r)+1].reversed(), r.outer[:r.face+topOf(r, l)+1]...)).clean()
	if g.opening > 0 {
		g.outline = Polygon(append(l.outer[:il+1].reversed(), r.outer[:ir+1]...)).clean()
	}
	g.cavities(il, ir)
	return g
}

// clean drops points that repeat.
func (p Polygon) clean() Polygon {
	var out Polygon
	for i, q := range p {
		if q.sub(p[(i+len(p)-1)%len(p)]).norm() > 1e-9 {
			out = append(out, q)
		}
	}
	return out
}

// touching is the contract's distance within which wings touch.
const touching = 0.004

// topOf is the first point of a's facing wing that touches b's, counted from a.face; the last one where none does.
func topOf(a, b *side) int {
	other := b.outer[b.face:]
	for i, p := range a.outer[a.face:] {
		if d, _, _ := other.distance(p); d < touching {
			return i
		}
	}
	return len(a.outer) - 1 - a.face
}

// meet finds opening, contact and seam; it returns where, in the two outer lines, the cavity begins.
func (g *Geometry) meet() (il, ir int) {
	l, r := g.left.outer[g.left.face:], g.right.outer[g.right.face:]
	best, low := math.Inf(1), math.Inf(1)
	var link [2]Point
	try := func(i int, p Point, j int, q Point, d float64) {
		if d < touching && min(p.Y, q.Y) < low {
			low, il, ir, g.contact = min(p.Y, q.Y), i, j, p.mix(q, 0.5)
		}
		if d < best {
			best, link = d, [2]Point{p, q}
			if best >= touching {
				il, ir = i, j
			}
		}
	}
	for i, p := range l {
		d, at, j := r.distance(p)
		try(i, p, j, at, d)
		if d < touching {
			g.seam = append(g.seam, p.mix(at, 0.5))
		}
	}
	for j, q := range r {
		d, at, i := l.distance(q)
		try(i, at, j, q, d)
	}
	if best >= touching {
		g.opening, g.contact, g.seam = best, link[0].mix(link[1], 0.5), nil
	}
	return il + g.left.face, ir + g.right.face
}

// cavities cuts what the sheet encloses into its parts: one, or more where a tip is pressed onto wall or floor.
func (g *Geometry) cavities(il, ir int) {
	begin := func(s *side, i int) line {
		_, at, _ := s.outer[i:min(i+2, len(s.outer))].distance(g.contact)
		chain := line{at}
		for _, p := range s.outer[i+1:] {
			if p.sub(at).norm() > 1e-9 {
				chain = append(chain, p)
			}
		}
		return chain
	}
	rest := func(s *side, i int) line {
		chain := begin(s, i)
		lead := len(s.outer) - len(chain)
		chain = append(chain, s.inner...)
		if s.touchA < 0 {
			return chain
		}
		a, b := s.touchA-lead, s.touchB-lead
		target := chain[b+4:]
		_, _, ja := target.distance(chain[a])
		_, _, jb := target.distance(chain[b])
		pocket := append(line{}, chain[b:b+4+jb+1]...)
		g.addCavity(Polygon(pocket))
		return append(append(line{}, chain[:a+1]...), target[ja+1:]...)
	}
	g.addCavity(Polygon(append(rest(g.left, il), rest(g.right, ir).reversed()...)))
}

func (g *Geometry) addCavity(p Polygon) {
	p = p.clean()
	if p.Area() < 0 {
		p = Polygon(line(p).reversed())
	}
	g.Cavities = append(g.Cavities, p)
}

// mirror swaps left and right.
func (g *Geometry) mirror() {
	flip := func(l line) line {
		out := make(line, len(l))
		for i, p := range l {
			out[i] = Point{-p.X, p.Y}
		}
		return out
	}
	turn := func(ps []Polygon) []Polygon {
		out := make([]Polygon, len(ps))
		for i, p := range ps {
			out[i] = Polygon(flip(line(p)).reversed())
		}
		return out
	}
	g.Sheet, g.Cavities, g.Strands = turn(g.Sheet), turn(g.Cavities), turn(g.Strands)
	g.Crack, g.seam, g.outline = flip(g.Crack), flip(g.seam), Polygon(flip(line(g.outline)).reversed())
	g.contact.X = -g.contact.X
	for _, s := range []*side{g.left, g.right} {
		if s != nil {
			s.outer, s.inner, s.tip.X = flip(s.outer), flip(s.inner), -s.tip.X
		}
	}
	g.left, g.right = g.right, g.left
}
