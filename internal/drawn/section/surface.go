package section

import (
	"math"
	"math/rand/v2"
)

// surface puts onto the cut what preparation leaves: fillers and bubbles in the resin, stains, scratches, pits with or
// without comet tails, dust.
func (s Scene) surface(f *film) {
	d := dice{rand.New(rand.NewPCG(uint64(s.Seed), 31))}
	f.fillers(s.Look, d)
	for range s.Look.Bubbles {
		f.bubble(s.Look, d)
	}
	for range s.Look.Stains {
		f.stain(d)
	}
	way := d.between(0, math.Pi)
	for range s.Look.Scratches {
		f.scratch(s.Look, way, d)
	}
	size := max(s.Look.PitMM, 0.002) / s.MMPerPX
	for range s.Look.Pits {
		r := clamp(size*math.Exp(0.5*d.NormFloat64()), 0.4, 9)
		f.spot(d.place(f), r, r*d.between(0.6, 1), d.between(0, math.Pi), func(i int, k float32) { f.scale(i, 1-0.7*k*f.metal[i]) })
	}
	comet := d.between(0, 2*math.Pi)
	for range s.Look.Comets {
		f.comet(comet+0.1*d.NormFloat64(), size, d)
	}
	for range s.Look.Dust {
		f.dust(d)
	}
}

func (d dice) place(f *film) Point {
	return Point{d.between(0, float64(f.w)), d.between(0, float64(f.h))}
}

// scale multiplies a pixel.
func (f *film) scale(i int, k float32) {
	k = max(0.05, k)
	for j := range 3 {
		f.pix[3*i+j] *= k
	}
}

// spot calls do for the pixels of an ellipse with the share that it covers of them, with soft edges.
func (f *film) spot(c Point, a, b, turn float64, do func(i int, k float32)) {
	sin, cos := math.Sincos(turn)
	r := max(a, b) + 1
	w := window{int(c.X - r), int(c.Y - r), int(2*r) + 2, int(2*r) + 2}.cut(window{0, 0, f.w, f.h})
	for y := w.y0; y < w.y0+w.h; y++ {
		for x := w.x0; x < w.x0+w.w; x++ {
			dx, dy := float64(x)-c.X, float64(y)-c.Y
			u, v := (dx*cos+dy*sin)/a, (dy*cos-dx*sin)/b
			if k := clamp((1-math.Hypot(u, v))*min(a, b)+0.5, 0, 1); k > 0 {
				do(y*f.w+x, float32(k))
			}
		}
	}
}

func (f *film) fillers(l Look, d dice) {
	for range l.Fillers {
		a := clamp(1.5*math.Exp(0.7*d.NormFloat64()), 0.5, 12)
		by := float32(clamp(0.35*d.NormFloat64(), -0.7, 1))
		f.spot(d.place(f), a, a*d.between(0.4, 1), d.between(0, math.Pi), func(i int, k float32) { f.scale(i, 1+by*k*f.resin[i]) })
	}
}

// bubble is a round hole in the resin: dark, with a lighter crescent.
func (f *film) bubble(l Look, d dice) {
	c, r := d.place(f), d.between(6, 34)*float64(f.w)/1280
	lit := d.between(0, 2*math.Pi)
	sin, cos := math.Sincos(lit)
	deep := d.between(0.35, 0.75)
	rim := d.chance(0.4)
	f.spot(c, r, r, 0, func(i int, k float32) {
		dx, dy := float64(i%f.w)-c.X, float64(i/f.w)-c.Y
		q := math.Hypot(dx, dy) / r
		v := deep + 0.45*(dx*cos+dy*sin)/r*q*q
		if rim && q > 0.86 {
			v += 0.5
		}
		f.scale(i, 1+k*f.resin[i]*float32(v-1))
	})
}

// stain is a cloud of water or etchant that dried.
func (f *film) stain(d dice) {
	c, r := d.place(f), d.between(20, 90)*float64(f.w)/1280
	by := float32(d.sign() * d.between(0.04, 0.14))
	seed := d.Uint64()
	warm := float32(d.between(-0.04, 0.04))
	f.spot(c, 1.5*r, 1.5*r, 0, func(i int, _ float32) {
		dx, dy := float64(i%f.w)-c.X, float64(i/f.w)-c.Y
		edge := r * (0.6 + 0.8*noise(2+dx/r*1.5, dy/r*1.5, seed))
		q := math.Hypot(dx, dy)
		k := float32(smooth(edge+0.08*r, edge-0.08*r, q)) * (1 + float32(1.2*math.Exp(-sq((q-edge)/(0.06*r)))))
		k *= by * (0.25 + 0.75*f.metal[i])
		f.scale(i, 1+k)
		f.pix[3*i] *= 1 + warm*k/by
		f.pix[3*i+2] *= 1 - warm*k/by
	})
}

func sq(x float64) float64 { return x * x }

// scratch is a straight or slightly bent line, dark or light, stronger on metal.
func (f *film) scratch(l Look, way float64, d dice) {
	a := d.between(0, math.Pi)
	if l.Parallel {
		a = way + 0.06*d.NormFloat64()
	}
	c := d.place(f)
	long := d.between(0.03, 0.9) * float64(f.w)
	by := l.ScratchBy * math.Abs(d.NormFloat64()) * 0.09
	if d.chance(0.65) {
		by = -by
	}
	wide := d.between(0.4, 1.3) * max(1, float64(f.w)/1600)
	bend := 0.15 * d.NormFloat64() / float64(f.w)
	sin, cos := math.Sincos(a)
	seed := d.Uint64()
	for t := -long / 2; t < long/2; t += 0.5 {
		x, y := c.X+t*cos-bend*t*t*sin, c.Y+t*sin+bend*t*t*cos
		fade := by * smooth(1, 0.7, math.Abs(2*t/long)) * (0.4 + 1.2*noise(t/25, 0, seed))
		f.dab(x, y, wide, func(i int, k float64) {
			f.scale(i, float32(1+0.5*k*fade*(0.2+0.8*float64(f.metal[i]))))
		})
	}
}

// dab calls do about a place with a bell's value of the given width.
func (f *film) dab(x, y, wide float64, do func(i int, k float64)) {
	r := int(2.2*wide) + 1
	ix, iy := int(math.Round(x)), int(math.Round(y))
	for v := max(0, iy-r); v <= min(f.h-1, iy+r); v++ {
		for u := max(0, ix-r); u <= min(f.w-1, ix+r); u++ {
			e := (sq(float64(u)-x) + sq(float64(v)-y)) / (2 * wide * wide)
			if e < 3 {
				do(v*f.w+u, math.Exp(-e)/(wide*2))
			}
		}
	}
}

// comet is a pit from which polishing dragged a tail.
func (f *film) comet(way, size float64, d dice) {
	c, r := d.place(f), clamp(1.3*size, 1, 6)
	f.spot(c, r, r, 0, func(i int, k float32) { f.scale(i, 1-0.75*k*f.metal[i]) })
	sin, cos := math.Sincos(way)
	long := r * d.between(6, 16)
	for t := 0.; t < long; t += 0.5 {
		fade := 0.3 * (1 - t/long)
		f.dab(c.X+t*cos, c.Y+t*sin, r*(0.9-0.6*t/long), func(i int, k float64) { f.scale(i, float32(1-0.6*k*fade*float64(f.metal[i]))) })
	}
}

// dust are fibres and specks that lie on the cut.
func (f *film) dust(d dice) {
	c, light := d.place(f), d.chance(0.45)
	by := -0.35
	if light {
		by = 0.3
	}
	if d.chance(0.4) {
		r := d.between(1, 4)
		f.spot(c, r, r*d.between(0.6, 1), d.between(0, 3), func(i int, k float32) { f.scale(i, 1+float32(by)*k) })
		return
	}
	a, turn := d.between(0, 2*math.Pi), 0.
	for range int(d.between(30, 160)) {
		turn = 0.9*turn + 0.02*d.NormFloat64()
		a += turn
		c = Point{c.X + 0.7*math.Cos(a), c.Y + 0.7*math.Sin(a)}
		f.dab(c.X, c.Y, 0.9, func(i int, k float64) { f.scale(i, float32(1+by*k*0.8)) })
	}
}
