package drawn

import "math"

// lamp is one light: far away in a direction, or a point at a place.
type lamp struct {
	toward vec // unit direction in the world, when far
	at     vec // place in the world, when near
	near   bool
	colour vec     // irradiance on a face square to it at the middle of the scene
	size   float64 // tangent of half the angle under which it is seen
	reach  float64 // distance at which colour holds, when near
}

// seen gives the unit direction to the lamp from p, how far it is, and its irradiance there.
func (l lamp) seen(p vec) (toward vec, far float64, colour vec) {
	if !l.near {
		return l.toward, math.Inf(1), l.colour
	}
	to := l.at.sub(p)
	far = to.norm()
	return to.mul(1 / far), far, l.colour.mul(l.reach * l.reach / (far * far))
}

// lighting is all light of a scene.
type lighting struct {
	lamps   []lamp
	ambient vec // irradiance of the sky or room on the card
	panel   vec // direction of a bright window or panel in the room
	mirror  vec // radiance that metal sees below the horizon
	gain    float64

	blockers []Blocker
	fade     vec // gradient of the logarithm of all light, per mm
	middle   vec
}

// faded tells how the light at a place compares with the middle's.
func (l *lighting) faded(at vec) float64 {
	if l.fade == (vec{}) {
		return 1
	}
	return math.Exp(l.fade.dot(at.sub(l.middle)))
}

// lighting sets up the lamps of a kind of light. The exposure is such that a white card comes out at about 0.68 of full
// scale at 0 EV.
func (s Scene) lighting(l lens) lighting {
	a, e := radians(s.Light.AzimuthDeg), radians(s.Light.ElevationDeg)
	toward := vec{math.Cos(e) * math.Cos(a), math.Cos(e) * math.Sin(a), math.Sin(e)}
	warm := vec{1 + 0.16*s.Light.Warmth, 1, 1 - 0.2*s.Light.Warmth}
	middle := vec{s.Camera.AimMM[0], s.Camera.AimMM[1], 0}
	point := func(at vec, power, size float64) lamp {
		d := at.sub(middle).norm()
		return lamp{at: at, near: true, colour: warm.mul(power), size: size / d, reach: d}
	}
	far := func(power, size float64) lamp { return lamp{toward: toward, colour: warm.mul(power), size: size} }
	fadeSin, fadeCos := math.Sincos(radians(s.Light.FadeDeg))
	r := lighting{panel: toward, blockers: s.Light.Blockers, middle: middle, fade: vec{fadeCos, fadeSin, 0}.mul(s.Light.Fade / 50)}
	switch s.Light.Kind {
	case "sun":
		r.lamps, r.ambient = []lamp{far(1, 0.012)}, vec{0.24, 0.27, 0.33}
	case "flash":
		at := l.at.add(l.axes.X.mul(11)).sub(l.axes.Y.mul(8))
		r.lamps, r.ambient = []lamp{point(at, 1, 5)}, warm.mul(0.22)
	case "led":
		r.lamps, r.ambient = []lamp{point(middle.add(toward.mul(320)), 0.8, 16)}, warm.mul(0.5)
	case "softbox":
		r.lamps, r.ambient = []lamp{far(0.6, 0.3)}, warm.mul(0.55)
	case "mixed":
		second := vec{-toward.Y, toward.X, toward.Z}
		r.lamps = []lamp{point(middle.add(toward.mul(350)), 0.5, 14), {toward: second, colour: vec{0.36, 0.41, 0.5}, size: 0.2}}
		r.ambient = vec{0.36, 0.38, 0.42}
	default: // overcast
		r.lamps, r.ambient = []lamp{{toward: vec{0.15, 0.1, 0.98}.unit(), colour: warm.mul(0.35), size: 0.6}}, warm.mul(0.75)
	}
	if t := s.Light.Tint; t != [3]float64{} {
		tint := vec{t[0], t[1], t[2]}
		r.ambient = r.ambient.times(tint)
		for i := range r.lamps {
			r.lamps[i].colour = r.lamps[i].colour.times(tint)
		}
	}
	total := r.ambient
	for _, k := range r.lamps {
		toward, _, colour := k.seen(middle)
		total = total.add(colour.mul(max(0, toward.Z)))
	}
	r.gain = 0.68 / (0.88 * total.Y) * math.Exp2(s.Light.Exposure)
	c := s.Ground.Colour
	r.mirror = total.times(vec{c[0], c[1], c[2]})
	return r
}

// surround is the radiance that a mirror sees in a direction of the world: ground below, above it a room or sky with a
// bright panel, brighter towards the zenith, with dark corners that give metal its contrast.
func (l *lighting) surround(d vec) vec {
	sky := 0.4 + 0.95*smooth(-0.1, 0.9, d.Z)
	sky += 1.3 * smooth(0.72, 0.93, d.dot(l.panel))
	sky *= 0.72 + 0.28*math.Sin(3*math.Atan2(d.Y, d.X)+1)*(1-math.Abs(d.Z))
	return l.mirror.mix(l.ambient.mul(sky), smooth(-0.12, 0.1, d.Z))
}

// metal is the reflectance square to the surface, linear RGB.
func metal(name string) vec {
	switch name {
	case "copper":
		return vec{0.87, 0.47, 0.33}
	case "brass":
		return vec{0.80, 0.62, 0.32}
	case "silver":
		return vec{0.90, 0.88, 0.84}
	}
	return vec{0.64, 0.62, 0.59} // tin
}

// finish is how a surface reflects.
type finish struct {
	diffuse, gloss vec     // reflectance; gloss square to the surface
	along          vec     // direction of the anisotropy, in the surface
	a, b           float64 // roughness along it and across
}

// reflect gives the radiance towards the viewer of a surface at p (part frame) with normal n; d is the viewing ray's
// direction.
func (r *renderer) reflect(g *geometry, p, n, d vec, f finish) vec {
	l := &r.light
	if n.dot(d) > 0 {
		n = n.mul(-1)
	}
	at := g.origin.add(g.pose.out(p))
	lift := p.add(n.mul(0.02))
	open := g.openness(lift, n)
	up := 0.5 + 0.5*g.pose.in(vec{0, 0, 1}).dot(n)
	sum := f.diffuse.times(l.ambient.mix(l.mirror.mul(0.6), 1-up)).mul(open)

	view := d.mul(-1)
	facing := max(0.02, n.dot(view))
	fresnel := f.gloss.add(vec{1, 1, 1}.sub(f.gloss).mul(math.Pow(1-facing, 5) * 0.7))
	m := d.mirror(n)
	sum = sum.add(fresnel.times(l.surround(g.pose.out(m))).mul(min(open, g.openness(lift, m))))

	along := f.along
	if math.Abs(n.dot(along)) > 0.999 { // an end face: it has no direction of its own
		along = vec{0, 1, 0}
	}
	t := along.sub(n.mul(n.dot(along))).unit()
	b := n.cross(t)
	for _, k := range l.lamps {
		toward, far, colour := k.seen(at)
		to := g.pose.in(toward)
		c := n.dot(to)
		if c <= 0 {
			continue
		}
		lit := g.shade(lift, to, far, k.size) * r.unshaded(g, at, toward, far, k.size)
		if lit <= 0 {
			continue
		}
		h := to.add(view).unit()
		hn := max(0.05, h.dot(n))
		wa, wb := f.a+k.size, f.b+k.size
		x, y := h.dot(t)/(wa*hn), h.dot(b)/(wb*hn)
		lobe := math.Exp(-x*x-y*y) / (math.Pi * wa * wb * hn * hn * hn * hn) * c / (4 * max(facing, 0.15))
		sum = sum.add(colour.times(f.diffuse.mul(c).add(fresnel.mul(min(lobe, 4)))).mul(lit))
	}
	return sum
}

func orElse(v, other float64) float64 {
	if v == 0 {
		return other
	}
	return v
}

// printed is the insulation's colour with letters along it, on the side that is seen.
func (g *geometry) printed(c, p vec, what stuff, px float64) vec {
	ink := vec{g.Wire.Print[0], g.Wire.Print[1], g.Wire.Print[2]}
	if ink == (vec{}) || what != insulation {
		return c
	}
	side := g.insulation * math.Atan2(g.pose.X.cross(vec{0, 0, 1}).dot(g.pose.out(vec{0, p.Y, p.Z})), g.pose.out(vec{0, p.Y, p.Z}).Z)
	pitch := g.insulation * 0.9
	if math.Abs(side) > pitch/2 || p.X > -4 {
		return c
	}
	return c.mix(ink, 0.85*letters(g.seed+300, p.X, side+pitch/4, pitch, px))
}

// surface gives the radiance of the part g at p (part frame) seen along d.
func (r *renderer) surface(g *geometry, p, d vec, what stuff) vec {
	n := g.normal(p)
	x := vec{1, 0, 0}
	coat, wire := metal(g.Metal), metal(g.Wire.StrandMetal)
	bare := finish{gloss: wire, diffuse: wire.mul(orElse(g.Wire.StrandMatt, 0.05)), along: x, a: 0.22, b: 0.3}
	switch what.look() {
	case insulation, cutFace:
		c := vec{g.Wire.Colour[0], g.Wire.Colour[1], g.Wire.Colour[2]}
		dirt := 1 + 0.22*cloudy(g.seed+40, p.X*0.5, p.Y*1.3) + 0.06*noise(g.seed+45, p.X*9, p.Y*9)
		if what == cutFace {
			dirt *= 1.15
		}
		c = g.printed(c, p, what, r.footprint)
		n = n.add(vec{0.03 * noise(g.seed+46, p.X*4, p.Y*4), 0.03 * noise(g.seed+47, p.X*4, p.Y*4), 0}).unit()
		return r.reflect(g, p, n, d, finish{diffuse: c.mul(dirt), gloss: vec{0.035, 0.035, 0.035}, along: x, a: 0.32, b: 0.32})
	case strand:
		return r.reflect(g, p, n, d, bare)
	case packed:
		w := g.Wire.StrandDiameterMM
		u := (p.Y+0.15*noise(g.seed+50, p.X, 0))/w - math.Round((p.Y+0.15*noise(g.seed+50, p.X, 0))/w)
		n = n.add(vec{0, 1.5 * u, 0}).unit()
		return r.reflect(g, p, n, d, bare).mul(1 - 1.2*math.Abs(u))
	case sheetEnd:
		if depth := -g.profile(clamp(p.X, 0, g.Sleeve.LengthMM), p.Y, p.Z); depth > g.Sleeve.SheetMM {
			w := g.Wire.StrandDiameterMM
			dots := smooth(-0.5, 0.6, math.Sin(p.Y*math.Pi/w)*math.Sin(p.Z*math.Pi/w))
			return r.reflect(g, p, n, d, finish{diffuse: wire.mul(0.3), gloss: wire.mul(0.15), along: vec{0, 1, 0}, a: 0.4, b: 0.4}).mul(dots)
		}
	}
	// Tool marks run round the sleeve, drawing marks along it.
	around := math.Atan2(p.Y, p.Z) * 2
	n = n.add(vec{0.09*noise(g.seed+60, p.X*21, around*1.4) + 0.05*noise(g.seed+61, p.X*47, around*3),
		0.05 * noise(g.seed+62, p.X*1.3, p.Y*24), 0.03 * noise(g.seed+63, p.X*6, p.Y*6)}).unit()
	stain := 1 + 0.13*cloudy(g.seed+70, p.X*1.1, around*1.5) + 0.05*noise(g.seed+75, p.X*13, around*8)
	coat = coat.mul(stain * 0.95)
	return r.reflect(g, p, n, d, finish{gloss: coat, diffuse: coat.mul(orElse(g.Matt, 0.12)), along: x, a: 0.26, b: 0.14})
}
