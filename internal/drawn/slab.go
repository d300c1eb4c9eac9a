package drawn

import "math"

// Rule is a steel rule that lies flat on the card, graduated along one edge.
type Rule struct {
	CentreMM         [2]float64
	TurnDeg          float64 // direction in which its numbers rise, from the world's x to its y
	LengthMM         float64
	WidthMM, ThickMM float64
	FirstMM          float64 // graduation at its beginning: marks start MarginMM behind it where this is 0
	MarginMM         float64
	TickMM           float64 // width of a mark
	DigitMM          float64 // height of the numbers
	Millimetres      bool    // numbers count millimetres instead of centimetres
	BothEdges        bool    // the other edge is graduated in half millimetres
	Inch             bool    // graduated in sixteenths of an inch only
	Steel, Ink       float64 // reflectance
	Satin            bool    // matt chrome instead of brushed steel
}

// Disc is a flat round disc with a bevelled rim.
type Disc struct {
	CentreMM                     [2]float64
	DiameterMM, ThickMM, BevelMM float64
	Colour                       [3]float64
	Metal                        string  // as Part.Metal; empty: painted or plastic
	RingMM                       float64 // width of a raised rim; 0: none
}

// slab is a flat thing on the card with upright sides: its shape is given by a signed distance in the plane.
type slab struct {
	shape          func(x, y float64) float64 // world, mm, negative inside
	centre         [2]float64
	reach          float64 // radius of a circle about its middle that holds it
	thick, bevel   float64
	top, side      stuff
	along          vec // direction of its grain
	ownSin, ownCos float64
	rule           *Rule
	disc           *Disc
}

func (s Scene) slabs() (all []slab) {
	if k := s.Rule; k != nil {
		sin, cos := math.Sincos(radians(k.TurnDeg))
		b := slab{centre: k.CentreMM, reach: hypot(k.LengthMM, k.WidthMM)/2 + 1, thick: k.ThickMM, bevel: 0.06, top: ruleTop, side: slabSide,
			along: vec{cos, sin, 0}, ownSin: sin, ownCos: cos, rule: k}
		b.shape = func(x, y float64) float64 {
			u, v := b.own(x, y)
			return roundBox(u, v, k.LengthMM/2, k.WidthMM/2, 0.5)
		}
		all = append(all, b)
	}
	if k := s.Disc; k != nil {
		b := slab{centre: k.CentreMM, reach: k.DiameterMM/2 + 1, thick: k.ThickMM, bevel: k.BevelMM, top: discTop, side: slabSide,
			along: vec{1, 0, 0}, ownCos: 1, disc: k}
		b.shape = func(x, y float64) float64 { return hypot(x-k.CentreMM[0], y-k.CentreMM[1]) - k.DiameterMM/2 }
		all = append(all, b)
	}
	return all
}

// own turns a place of the world into the slab's own frame.
func (b *slab) own(x, y float64) (u, v float64) {
	x, y = x-b.centre[0], y-b.centre[1]
	return b.ownCos*x + b.ownSin*y, b.ownCos*y - b.ownSin*x
}

// meet gives where the ray from o along d, which looks down, meets the slab, and the surface's normal there.
func (b *slab) meet(o, d vec) (at, normal vec, what stuff) {
	at = o.add(d.mul((b.thick - o.Z) / d.Z))
	slide := b.thick / -d.Z // length of the ray through the slab's thickness
	if hypot(at.X-b.centre[0], at.Y-b.centre[1]) > b.reach+slide {
		return at, vec{}, nothing
	}
	if b.shape(at.X, at.Y) <= -b.bevel {
		return at, vec{0, 0, 1}, b.top
	}
	inside := func(t float64) bool {
		p := at.add(d.mul(t))
		return b.shape(p.X, p.Y) <= -max(0, p.Z-(b.thick-b.bevel))
	}
	const steps = 12
	for i := 1; i <= steps; i++ {
		hi := slide * float64(i) / steps
		if !inside(hi) {
			continue
		}
		lo := slide * float64(i-1) / steps
		for range 14 {
			if mid := (lo + hi) / 2; inside(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		at = at.add(d.mul(hi))
		const e = 0.01
		n := vec{b.shape(at.X+e, at.Y) - b.shape(at.X-e, at.Y), b.shape(at.X, at.Y+e) - b.shape(at.X, at.Y-e), 0}.unit()
		if at.Z > b.thick-b.bevel {
			n.Z = 1
		}
		return at, n.unit(), b.side
	}
	return at, vec{}, nothing
}

// shadow tells how much of a light of that size (tangent of half its angle) the slab leaves free at a place of the ground.
func (b *slab) shadow(at, toward vec, size float64) float64 {
	if toward.Z <= 0 {
		return 1
	}
	run := hypot(toward.X, toward.Y) / toward.Z * b.thick
	if hypot(at.X-b.centre[0], at.Y-b.centre[1]) > b.reach+run {
		return 1
	}
	open := 1.0
	for _, s := range [5]float64{0.1, 0.3, 0.5, 0.75, 1} {
		h := s * b.thick
		d := b.shape(at.X+toward.X/toward.Z*h, at.Y+toward.Y/toward.Z*h)
		open = min(open, smooth(-1, 1, d/(size*h+0.01)))
	}
	return open
}

// crevice is how much of the sky a place of the ground close to the slab sees.
func (b *slab) crevice(at vec) float64 {
	if hypot(at.X-b.centre[0], at.Y-b.centre[1]) > b.reach+6*b.thick {
		return 1
	}
	return 1 - 0.45*math.Exp(-max(0, b.shape(at.X, at.Y))/(0.5*b.thick))
}

// slabColour is the radiance of a slab at a place of the world with the normal n, seen along d.
func (r *renderer) slabColour(b *slab, at, n, d vec, what stuff) vec {
	g := r.part
	seed := g.seed
	u, v := b.own(at.X, at.Y)
	f := finish{along: g.pose.in(b.along)}
	grain := 0.02*noise(seed+130, u*0.7, v*0.7) + 0.03*cloudy(seed+131, u*0.08, v*0.08)
	switch {
	case b.rule != nil:
		k := b.rule
		brush := 0.07*noise(seed+133, u*0.35, v*14) + 0.05*noise(seed+134, u*0.9, v*31)
		base := k.Steel * (1 + grain + 0.5*brush)
		f.a, f.b = 0.12, 0.34
		f.gloss, f.diffuse = vec{base, base, base * 0.98}, vec{base, base, base}.mul(0.3)
		if k.Satin {
			f.a, f.b, f.gloss, f.diffuse = 0.4, 0.4, f.gloss.mul(0.25), vec{base, base, base * 0.99}.mul(0.75)
		}
		if what == ruleTop {
			n = n.add(b.along.cross(vec{0, 0, 1}).mul(0.5 * brush)).unit()
			c := k.marks(u, v, r.footprint) * (0.93 + 0.07*noise(seed+135, u*2, v*2))
			f.gloss, f.diffuse = f.gloss.mul(1-0.94*c), f.diffuse.mix(vec{k.Ink, k.Ink, k.Ink}, c)
		}
	case b.disc.Metal != "":
		c := metal(b.disc.Metal).mul(1 + grain)
		f.gloss, f.diffuse, f.a, f.b = c, c.mul(0.15), 0.25, 0.25
		n = n.add(vec{0.03 * noise(seed+136, u*3, v*3), 0.03 * noise(seed+137, u*3, v*3), 0}).unit()
	default:
		c := vec{b.disc.Colour[0], b.disc.Colour[1], b.disc.Colour[2]}.mul(1 + 0.5*grain)
		f.gloss, f.diffuse, f.a, f.b = vec{0.04, 0.04, 0.04}, c, 0.3, 0.3
	}
	if k := b.disc; k != nil && what == discTop && k.RingMM > 0 {
		// The raised rim's inner flank throws the light about; its height is too small to be seen otherwise.
		rim := hypot(u, v) - (k.DiameterMM/2 - k.RingMM)
		slope := math.Exp(-rim * rim / 0.05)
		n = n.add(vec{u, v, 0}.mul(-0.6 * slope / max(1, hypot(u, v)))).unit()
	}
	return r.reflect(g, g.pose.in(at.sub(g.origin)), g.pose.in(n), g.pose.in(d), f)
}
