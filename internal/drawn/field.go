package drawn

import "math"

// stuff is what a surface consists of.
type stuff uint8

const (
	nothing stuff = iota
	insulation
	cutFace
	strand
	sheet     // the sleeve's outside
	sheetEnd  // the sleeve's end faces: sheet metal outside, strands inside
	packed    // the strands between the wings
	neck      // the open trough; an insulation grip
	body      // pin or socket
	ground    // card, mat, ...
	paper     // the board's paper
	ink       // a dark square
	paperSide // the paper's edge

	strandEnd // of the brush
	strayed   // a stray strand

	ruleTop
	discTop
	slabSide // of a rule or a disc
	thing    // whatever else lies about
)

// look is the stuff whose colour s has: all strands look alike.
func (s stuff) look() stuff {
	if s == strandEnd || s == strayed {
		return strand
	}
	return s
}

// rounding of the sleeve's cut edges.
const edgeRound = 0.03

// distance gives a lower bound of the distance from p (part frame) to the part, exact near the surface, and what is
// nearest.
func (g *geometry) distance(p vec) (float64, stuff) {
	if g.Strip != nil {
		return g.stripDistance(p)
	}
	best, what := math.Inf(1), nothing
	take := func(d float64, s stuff) {
		if d < best {
			best, what = d, s
		}
	}
	if g.boxes.sleeve.distance(p) < best {
		take(g.sleeve(p))
	}
	if g.boxes.wire.distance(p) < best {
		take(g.wire(p))
	}
	if g.boxes.bare.distance(p) < best {
		take(g.bare(p), strand)
	}
	if g.boxes.body.distance(p) < best {
		take(g.bodyPart(p))
	}
	if g.Part.Grip != nil && g.boxes.grip.distance(p) < best {
		take(g.grip(p), neck)
	}
	if len(g.brush) > 0 {
		if d := g.boxes.brush.distance(p); d < best {
			if d > 0.5 {
				take(d, strandEnd)
			} else {
				take(g.brushEnds(p), strandEnd)
			}
		}
	}
	for i := range g.strays {
		if g.boxes.strays[i].distance(p) < best {
			take(g.strays[i].distance(p), strayed)
		}
	}
	return best, what
}

// roundBox is the signed distance in the plane to a rectangle about the origin with rounded corners.
func roundBox(y, z, halfY, halfZ, r float64) float64 {
	qy, qz := math.Abs(y)-halfY+r, math.Abs(z)-halfZ+r
	return hypot(max(qy, 0), max(qz, 0)) + min(max(qy, qz), 0) - r
}

// profile is the signed distance in the cross-section at x to the sleeve's outline: a hump over each wing, cut off
// where a piece is missing, and the packed strands between them.
func (g *geometry) profile(x, y, z float64) float64 {
	l, r := g.wings(x, y, z)
	return min(min(l, r), g.between(x, y, z))
}

func (g *geometry) wings(x, y, z float64) (left, right float64) {
	out := g.flare(x)
	seamLeft, seamRight := g.seam(x)
	left = g.hump(y-seamLeft, z, g.half+out-seamLeft, out)
	right = g.hump(seamRight-y, z, g.half+out+seamRight, out)
	if b := g.bite(x, true); b > 0 {
		left = max(left, seamLeft+b-y)
	}
	if b := g.bite(x, false); b > 0 {
		right = max(right, y-seamRight+b)
	}
	return left, right
}

// hump is one wing: y counts from its tip edge outwards, wide is its width.
func (g *geometry) hump(y, z, wide, out float64) float64 {
	r := g.shoulder(wide)
	high := g.top + out
	low := g.floor - out
	return roundBox(y-wide/2, z-(high+low)/2, wide/2, (high-low)/2, r)
}

// between is the core under the wings, up to the strands that are seen where the wings leave room.
func (g *geometry) between(x, y, z float64) float64 {
	out := g.flare(x)
	low := g.floor - out
	return roundBox(y, z-(g.fill+low)/2, g.half+out-0.02, (g.fill-low)/2, 0.2)
}

func (g *geometry) sleeve(p vec) (float64, stuff) {
	if g.Sleeve.Form != "" {
		return g.formed(p)
	}
	x := clamp(p.X, 0, g.Sleeve.LengthMM)
	l, r := g.wings(x, p.Y, p.Z)
	wing, core := min(l, r), g.between(x, p.Y, p.Z)
	in, what := wing, sheet
	if core < wing {
		in, what = core, packed
		if math.Abs(g.RollDeg) > 45 && g.underWings(p) {
			what = sheet
		}
	}
	h := g.Sleeve.LengthMM / 2
	end := math.Abs(p.X-h) - h
	if what == sheet && end > in {
		what = sheetEnd
	}
	a, b := in+edgeRound, end+edgeRound
	d := hypot(max(a, 0), max(b, 0)) + min(max(a, b), 0) - edgeRound
	if what == packed && end > core {
		what = sheetEnd
	}
	return d, what
}

// underWings tells whether a place of the core's surface is a corner of the floor, which stands out under the humps' round ones:
// sheet, though seen from above (where it hardly ever shows) it has the strands' colour.
func (g *geometry) underWings(p vec) bool { return p.Z < g.fill-0.25 }

// straightWire is how far the wire runs straight behind the cut before it curves.
const straightWire = 4.0

func (g *geometry) wire(p vec) (float64, stuff) {
	across, other := p.Y, p.Z
	if g.Wire.CurveUp {
		across, other = p.Z, p.Y
	}
	if c := g.Wire.CurveMM; c != 0 && p.X < -straightWire {
		// The axis is a circle about (-straightWire, c); past the point of touch the distance is measured to it.
		across = hypot(p.X+straightWire, across-c) - math.Abs(c)
	}
	side := hypot(across, other) - g.insulation
	cut := math.Inf(-1)
	if p.X > -straightWire {
		cut = p.X - g.cut(p.Y, p.Z)
	}
	if cut > side {
		return cut * 0.9, cutFace
	}
	return side, insulation
}

// bare is the bundle of strands between insulation and sleeve: its outer layer twisted about a core.
func (g *geometry) bare(p vec) float64 {
	squash := g.squash(p.X)
	y, z := p.Y, p.Z/squash
	r, a := hypot(y, z), math.Atan2(y, z)
	d := g.Wire.StrandDiameterMM / 2
	step := 2 * math.Pi / float64(g.outer)
	a -= 2 * math.Pi * p.X / g.Wire.LayMM
	n := math.Round(a / step)
	index := int64(n) % int64(g.outer)
	if index < 0 {
		index += int64(g.outer)
	}
	ring := g.conductor - d - 0.35*d*hash(g.seed+31, index, 0)
	off := a - n*step
	layer := hypot(r*math.Cos(off)-ring, r*math.Sin(off)) - d
	in := min(layer, r-(g.conductor-2*d))
	behind := max(g.boxes.bare.lo.X-p.X, p.X-g.boxes.bare.hi.X)
	return max(in*squash*0.8, behind)
}

func (g *geometry) brushEnds(p vec) float64 {
	best := math.Inf(1)
	r := g.Wire.StrandDiameterMM / 2
	for i := range g.brush {
		s := &g.brush[i]
		q := p.sub(s.from)
		h := q.dot(s.dir)
		a := math.Sqrt(max(q.dot(q)-h*h, 0)) - r
		b := math.Abs(h-s.length/2) - s.length/2
		d := max(a, b)
		if a > 0 && b > 0 {
			d = hypot(a, b)
		}
		best = min(best, d)
	}
	return best
}

func (c *curve) distance(p vec) float64 {
	best := math.Inf(1)
	for i := 1; i < len(c.points); i++ {
		a, b := c.points[i-1], c.points[i].sub(c.points[i-1])
		q := p.sub(a)
		t := clamp(q.dot(b)/b.dot(b), 0, 1)
		q = q.sub(b.mul(t))
		best = min(best, q.dot(q))
	}
	return math.Sqrt(best) - c.radius
}

// bodyFrame turns a place of the part frame into the body's own: x along its axis from the sleeve's front edge.
func (g *geometry) bodyFrame(p vec) vec {
	s, c := g.bendSin, g.bendCos
	x, y := p.X-g.Sleeve.LengthMM, p.Y
	ahead := c*x + s*y
	return vec{g.riseCos*ahead + g.riseSin*p.Z, c*y - s*x, g.riseCos*p.Z - g.riseSin*ahead}
}

func (g *geometry) bodyPart(p vec) (float64, stuff) {
	q := g.bodyFrame(p)
	if g.Sleeve.Form == FormTube {
		return g.lug(q), body
	}
	n, b := g.trough(q), g.barrel(q)
	if n < b {
		return n, neck
	}
	return b, body
}

// trough is the open neck: a bent-up tray whose walls rise towards the body.
func (g *geometry) trough(q vec) float64 {
	length, t := g.Body.NeckMM, g.Sleeve.SheetMM
	u := clamp(q.X/length, 0, 1)
	wide := g.half*0.95 + (g.Body.RadiusMM-g.half*0.95)*u*u
	start := min(g.fill-0.15, 0)
	wall := start + (g.Body.RadiusMM*0.12-start)*u*u
	low := g.floor + 0.05 + (-g.Body.RadiusMM-g.floor-0.05)*u
	outside := roundBox(q.Y, q.Z-(low+3)/2, wide, (3-low)/2, min(0.8*wide, (3-low)/2))
	inside := outside + t*0.8
	d := max(max(outside, q.Z-wall), -inside)
	return max(d*0.7, max(-0.15-q.X, q.X-length-0.3))
}

// barrel is the round pin or socket.
func (g *geometry) barrel(q vec) float64 {
	b := g.Body
	x := q.X - b.NeckMM
	r := hypot(q.Y, q.Z)
	pipe := func(from, to, radius, round float64) float64 {
		a, e := r-radius+round, math.Abs(x-(from+to)/2)-(to-from)/2+round
		return hypot(max(a, 0), max(e, 0)) + min(max(a, e), 0) - round
	}
	ring := pipe(0.36*b.LengthMM, 0.36*b.LengthMM+0.5, b.RadiusMM*1.16, 0.12)
	if b.Socket {
		d := pipe(0, b.LengthMM, b.RadiusMM, 0.15)
		bore := pipe(b.LengthMM*0.45, b.LengthMM+1, b.RadiusMM*0.62, 0.05)
		slot := max(min(math.Abs(q.Y+q.Z), math.Abs(q.Y-q.Z))/math.Sqrt2-0.16, 0.5*b.LengthMM-x)
		d = max(d, -min(bore, slot))
		return min(d, ring)
	}
	shank := pipe(0, b.LengthMM*0.45, b.RadiusMM, 0.1)
	pin := pipe(b.LengthMM*0.4, b.LengthMM, b.RadiusMM*0.8, b.RadiusMM*0.25)
	// The tip is a cone of 20 degrees.
	cone := (r-b.RadiusMM*0.35)*0.94 + (x-b.LengthMM)*0.34
	return min(min(shank, ring), max(pin, cone))
}

// normal is the outward direction of the surface at p.
func (g *geometry) normal(p vec) vec {
	const e = 0.004
	n := vec{}
	for _, k := range [4]vec{{1, -1, -1}, {-1, -1, 1}, {-1, 1, -1}, {1, 1, 1}} {
		d, _ := g.distance(p.add(k.mul(e)))
		n = n.add(k.mul(d))
	}
	return n.unit()
}

// march follows the ray from o along the unit direction d until it meets the part, no further than far.
func (g *geometry) march(o, d vec, far float64) (float64, stuff) {
	near, end, ok := g.boxes.all.enter(o, d)
	if !ok {
		return 0, nothing
	}
	end = min(end, far)
	t := near
	for range 220 {
		if t > end {
			break
		}
		h, what := g.distance(o.add(d.mul(t)))
		if h < 0.0015 {
			return t, what
		}
		t += 0.85 * h
	}
	return 0, nothing
}

// shade tells how much of a light of that angular size (tangent of half its angle) is seen from o along d.
func (g *geometry) shade(o, d vec, far, size float64) float64 {
	near, end, ok := g.boxes.all.enter(o, d)
	if !ok {
		return 1
	}
	t, open := max(near, 0.03), 1.0
	end = min(end, far)
	for range 90 {
		if t > end {
			break
		}
		h, _ := g.distance(o.add(d.mul(t)))
		open = min(open, 0.5+0.5*h/(size*t))
		if open <= 0 {
			return 0
		}
		t += clamp(0.8*math.Abs(h), 0.02, 4)
	}
	open = clamp(open, 0, 1)
	return open * open * (3 - 2*open)
}

// openness tells how much of the sky the part leaves free above o with normal n: 1 where nothing is near.
func (g *geometry) openness(o, n vec) float64 {
	shut, weight := 0.0, 1.0
	for _, h := range [4]float64{0.12, 0.45, 1.3, 3.2} {
		d, _ := g.distance(o.add(n.mul(h)))
		shut += weight * max(0, h-d) / h
		weight *= 0.72
	}
	return clamp(1-shut*0.42, 0.04, 1)
}
