package section

import (
	"math"
	"math/rand/v2"
)

// half draws one half; sign is 1 to the right and -1 to the left.
func (s Sleeve) half(h Half, sign float64) *side {
	b := &bender{s: s, h: h, sign: sign, wide: s.WidthMM/2 - sign*s.SeamMM}
	sd := &side{touchA: -1, touchB: -1}
	outer, wing, tipFrom := b.outer(sd)
	inner, tipTo := b.inner(sd)
	b.press(sd, outer[wing:], inner, wing)
	sd.outer, sd.inner = b.bend(outer), b.rough(b.bend(inner))
	sd.tip = Point{0, math.Inf(1)}
	for _, p := range append(append(line{}, sd.outer[tipFrom:]...), sd.inner[:tipTo]...) {
		if p.Y < sd.tip.Y {
			sd.tip = p
		}
	}
	return sd
}

// bender draws a half in straight coordinates, u from the seam outwards, and bends the result.
type bender struct {
	s    Sleeve
	h    Half
	sign float64
	wide float64
}

// outer runs from the middle of the floor round the corner, up the wall, over the lobe, down the seam to the tip's end.
// wing is where the wing begins to curl, tip where its last half sheet thickness begins.
func (b *bender) outer(sd *side) (l line, wing, tip int) {
	h, w := b.h, b.wide
	l = line{{0, 0}}
	if h.Burr == nil {
		l = append(l, arc(Point{w - h.CornerMM, 0}, Point{w, 0}, Point{w, h.CornerMM})...)
	} else {
		sd.burr[0] = len(line{{0, 0}, {w - h.Burr.FootMM, 0}}.dense(step)) - 1
		l = append(l, h.Burr.draw(w)...)
	}
	l = l.dense(step)
	if h.Burr != nil {
		sd.burr[1] = len(l)
	}
	foot := l[len(l)-1].Y
	sd.wall[0] = len(l)
	up := line{{w, foot + step}, {w, h.ShoulderMM}}.dense(step)
	l = append(l, up...)
	sd.wall[1] = sd.wall[0] + len(up)*2/3
	top := h.TopAt * w
	for i := range 121 {
		c, k := quarter(float64(i)/120, h.OuterExp)
		l = append(l, Point{top + (w-top)*c, h.ShoulderMM + (h.HeightMM-h.ShoulderMM)*k})
	}
	sd.face = len(l)
	for i := range 161 {
		c, k := quarter(1-float64(i)/160, h.SeamExp)
		l = append(l, Point{top - top*c, h.SeamTopMM + (h.HeightMM-h.SeamTopMM)*k})
	}
	l = append(l, line{{0, h.SeamTopMM - 1e-6}, {0, h.CurlFromMM}}.dense(step)...)
	wing = len(l)
	n := int(h.WingMM/step) + 1
	last := h.WingMM + h.Tip.DepthMM - h.SheetMM/2
	tip = -1
	for i := 1; i <= n; i++ {
		at := h.WingMM * float64(i) / float64(n)
		if at >= last && tip < 0 {
			tip = len(l)
		}
		p, _, _ := b.face(at)
		l = append(l, p)
	}
	if tip < 0 {
		tip = len(l)
	}
	p, d, across := b.face(h.WingMM)
	for i := 1; i < 80; i++ {
		t := math.Pi * float64(i) / 80
		a := math.Pow((1-math.Cos(t))/2, h.Tip.Skew)
		l = append(l, p.add(across.mul(a*h.TipSheetMM)).add(d.mul(h.Tip.DepthMM*math.Pow(math.Sin(t), 2/h.Tip.Exp))))
	}
	return l, wing, tip
}

// face gives the wing's outer face s below where it begins to curl: place, direction and the normal into the metal.
func (b *bender) face(s float64) (p, along, across Point) {
	k, y := b.h.CurlPerMM, b.h.CurlFromMM
	if math.Abs(k) < 1e-9 {
		return Point{0, y - s}, Point{0, -1}, Point{1, 0}
	}
	bent := min(s, radians(b.h.CurlDeg)/k)
	sin, cos := math.Sincos(k * bent)
	along = Point{sin, -cos}
	return Point{(1 - cos) / k, y - sin/k}.add(along.mul(s - bent)), along, Point{cos, sin}
}

// inner runs from the tip's end up the wing's inner face, along the roof, down the wall and along the floor to its
// middle. tip is where the last half sheet thickness ends.
func (b *bender) inner(sd *side) (l line, tip int) {
	h := b.h
	n := int(h.WingMM/step) + 1
	last := h.WingMM + h.Tip.DepthMM - h.SheetMM/2
	for i := n; i >= 0; i-- {
		at := h.WingMM * float64(i) / float64(n)
		p, _, across := b.face(at)
		thick := h.SheetMM + (h.TipSheetMM-h.SheetMM)*at/h.WingMM
		l = append(l, p.add(across.mul(thick)))
		if at >= last {
			tip = len(l)
		}
	}
	from := l[len(l)-1]
	roof, wall := h.HeightMM-h.RoofMM, b.wide-h.WallMM
	floor := b.floor(wall)
	// The cavity's corners: between wing and roof, roof and wall, wall and floor.
	c1, c2, c3 := Point{from.X, roof}, Point{wall + h.TaperMM, roof - h.RoofTiltMM}, Point{wall, floor}
	r := min(h.RoofRoundMM, 0.45*(c2.X-c1.X), 0.8*(roof-from.Y), 0.4*(c2.Y-c3.Y))
	bend := func(a, v, c Point, r float64) line {
		return arc(v.add(a.sub(v).mul(r/a.sub(v).norm())), v, v.add(c.sub(v).mul(r/c.sub(v).norm())))
	}
	rest := line{{from.X, from.Y + 1e-6}}
	rest = append(rest, bend(from, c1, c2, r)...)
	rest = append(rest, bend(c1, c2, c3, r)...)
	corner := bend(c2, c3, Point{wall - h.InnerMM, b.floor(wall - h.InnerMM)}, h.InnerMM)
	rest = append(rest, corner[:len(corner)*2/3]...).dense(step)
	for i, p := range rest {
		if at := wall + h.TaperMM*(p.Y-floor)/(c2.Y-floor); p.X > at-0.01 {
			fade := smooth(floor+h.InnerMM, floor+h.InnerMM+0.1, p.Y) * (1 - smooth(c2.Y-r-0.1, c2.Y-r, p.Y))
			rest[i].X += h.WallWaveMM * fade * math.Sin(12*p.Y+h.WavePhase)
		}
	}
	l = append(l, rest...)
	sd.floor = len(l)
	l = append(l, corner[len(corner)*2/3:]...)
	for u := wall - h.InnerMM - step; u > step; u -= step {
		l = append(l, Point{u, b.floor(u)})
	}
	return append(l, Point{0, b.floor(0)}), tip
}

// floor is the height of the inner face u from the seam.
func (b *bender) floor(u float64) float64 {
	x := b.s.SeamMM + b.sign*u
	half := b.s.WidthMM / 2
	return b.s.FloorMM + b.s.FloorRiseMM*x*x/(half*half) + b.s.FloorWaveMM*math.Sin(7*x/half+1)
}

// press flattens the tip where it is pressed onto wall or floor.
func (b *bender) press(sd *side, wing, inner line, at int) {
	chain := append(append(line{}, wing...), inner...)
	end := len(wing) + int(b.h.WingMM/step) + 1
	wall := b.wide - b.h.WallMM
	for i := range chain[:end] {
		p := &chain[i]
		onFloor := b.h.TouchesFloor && p.Y < b.floor(p.X)
		onWall := b.h.TouchesWall && p.X > wall
		if onFloor {
			p.Y = b.floor(p.X)
		}
		if onWall {
			p.X = wall
		}
		if onFloor || onWall {
			if sd.touchA < 0 {
				sd.touchA = at + i
			}
			sd.touchB = at + i
		}
	}
	copy(wing, chain)
	copy(inner, chain[len(wing):])
}

// bend leans and bows the wall, opens and leans the seam, and puts the half where it belongs.
func (b *bender) bend(l line) line {
	out := make(line, len(l))
	lean := math.Tan(radians(b.h.LeanDeg))
	for i, p := range l {
		q := p.X / b.wide
		u := p.X + (lean*p.Y+b.h.BowMM*math.Sin(math.Pi*clamp(p.Y/b.h.HeightMM, 0, 1)))*q*q
		above := smooth(b.s.FloorMM, b.s.FloorMM+0.15, p.Y)
		gap := b.s.OpeningMM
		if b.s.GapAboveMM > 0 {
			gap += b.s.GapAboveMM * smooth(b.s.ContactTopMM, b.s.ContactTopMM+0.3, p.Y)
		}
		u += gap / 2 * above * (1 - smooth(0.35, 1, q))
		y := p.Y / b.h.HeightMM
		away := max(0, 1-q*q)
		shift := above * away * away * (math.Tan(radians(b.s.SeamLeanDeg))*(p.Y-0.6*b.h.HeightMM) + b.s.SeamBendMM*math.Sin(math.Pi*y))
		out[i] = Point{b.s.SeamMM + b.sign*u + shift, p.Y}
	}
	return out
}

// rough presses the strands' imprints into the inner face.
func (b *bender) rough(l line) line {
	if b.s.RoughMM <= 0 || b.h.TouchesFloor || b.h.TouchesWall {
		return l
	}
	for i, p := range l {
		u, v := p.X/b.s.RoughSizeMM, p.Y/b.s.RoughSizeMM
		a := 2 * b.s.RoughMM * smooth(0, 0.1, p.sub(l[0]).norm())
		l[i] = p.add(Point{a * (noise(u, v, b.s.RoughSeed) - 0.5), a * (noise(u, v, b.s.RoughSeed+1) - 0.5)})
	}
	return l
}

// draw gives the flash from the floor to the wall at u.
func (b Burr) draw(w float64) line {
	r := max(0.004, b.Blunt*0.5*min(0.12, max(b.HeightMM, b.WidthMM)))
	c := Point{w + b.WidthMM - r, -b.HeightMM + r}
	on := func(deg float64) Point {
		s, k := math.Sincos(radians(deg))
		return Point{c.X + r*k, c.Y + r*s}
	}
	l := curve(Point{w - b.FootMM, 0}, Point{w - 0.35*b.FootMM, -0.12 * b.HeightMM}, on(-125))
	for deg := -120.; deg < 20; deg += 5 {
		l = append(l, on(deg))
	}
	return append(l, curve(on(20), Point{w + 0.1*b.WidthMM, 0.35*b.FootMM - 0.3*b.HeightMM}, Point{w, b.FootMM})...)
}

// crack runs jaggedly from the floor's inner or outer face into the metal.
func (s Sleeve) crack(seed int64) []Point {
	d := dice{rand.New(rand.NewPCG(uint64(seed), 77))}
	c := s.Crack
	b := bender{s: s, sign: 1, wide: s.WidthMM / 2}
	at, up := Point{c.AtMM, b.floor(c.AtMM - s.SeamMM)}, -1.
	if c.FromBelow {
		at, up = Point{c.AtMM, 0}, 1
	}
	l := []Point{at}
	for gone := 0.; gone < c.LengthMM; {
		n := d.between(0.012, 0.04)
		a := radians(c.LeanDeg + 38*d.NormFloat64())
		at = at.add(Point{n * math.Sin(a), up * n * math.Cos(a)})
		if at.Y < 0.03 && up < 0 || at.Y > s.FloorMM-0.03 && up > 0 {
			break
		}
		l, gone = append(l, at), gone+n
	}
	return l
}

// quarter of a superellipse: t from 0 to 1 runs from (1, 0) to (0, 1).
func quarter(t, n float64) (x, y float64) {
	s, c := math.Sincos(t * math.Pi / 2)
	return math.Pow(max(c, 0), 2/n), math.Pow(max(s, 0), 2/n)
}

// arc rounds the corner at v between a and b, which are equally far from it: a piece of a circle as a rational curve.
func arc(a, v, b Point) line {
	d1, d2 := v.sub(a), b.sub(v)
	k := d1.norm() * d2.norm()
	w := 1.
	if k > 0 {
		w = math.Sqrt((1 + d1.dot(d2)/k) / 2)
	}
	var l line
	for i := range 25 {
		t := float64(i) / 24
		p, q, r := (1-t)*(1-t), 2*t*(1-t)*w, t*t
		l = append(l, a.mul(p).add(v.mul(q)).add(b.mul(r)).mul(1/(p+q+r)))
	}
	return l
}

// curve from a to b, drawn towards c.
func curve(a, c, b Point) line {
	var l line
	for i := range 25 {
		t := float64(i) / 24
		l = append(l, a.mul((1-t)*(1-t)).add(c.mul(2*t*(1-t))).add(b.mul(t*t)))
	}
	return l
}
