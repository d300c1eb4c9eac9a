package drawn

import "math"

// litter adds what is drawn or lies on the ground at a place to the ground's own colour: lines, print, tape, dirt, scratches.
func (r *renderer) litter(c, at vec) vec {
	k, seed := r.scene.Ground, r.part.seed
	if k.Kind != "squared" && k.Kind != "print" && k.Dirt == 0 && k.Scratches == 0 && len(k.Tapes) == 0 {
		return c
	}
	s, o := math.Sincos(radians(k.TurnDeg))
	u, v := o*at.X+s*at.Y, o*at.Y-s*at.X
	switch k.Kind {
	case "squared":
		line := max(stripes(u, k.PitchMM, 0.18, r.footprint), stripes(v, k.PitchMM, 0.18, r.footprint))
		c = c.mix(c.times(vec{0.42, 0.5, 0.86}), line*(0.8+0.2*noise(seed+150, u, v)))
	case "print":
		c = c.mul(1 - 0.9*letters(seed, u, v, k.PitchMM, r.footprint))
	}
	for _, t := range k.Tapes {
		c = t.over(c, at, seed)
	}
	if k.Scratches > 0 {
		c = c.mul(1 + 0.5*scratches(seed, at, k.Scratches, r.footprint))
	}
	if k.Dirt > 0 {
		stain := smooth(0.55-0.5*k.Dirt, 0.9, cloudy(seed+160, at.X*0.06, at.Y*0.06)+0.35*cloudy(seed+164, at.X*0.5, at.Y*0.5))
		c = c.mul(1 - 0.4*k.Dirt*stain)
		c = c.mul(1 - 0.75*crumbs(seed, at, k.Dirt))
	}
	return c
}

// stripes is how much of a spot of width px about x lies on lines of that width at multiples of pitch.
func stripes(x, pitch, width, px float64) float64 {
	return covered(x-pitch*math.Round(x/pitch), width, px)
}

// letters draws lines of text that nobody can read: each letter is a few strokes of a grid, picked by its place.
func letters(seed uint64, u, v, pitch, px float64) float64 {
	line := math.Floor(v / pitch)
	high := pitch * 0.48
	y := (v - line*pitch) / high // 0 at the letters' foot, 1 at their top
	wide := high * 0.68
	column := math.Floor(u / wide)
	if y > 1.5 || hash(seed+170, int64(math.Floor(u/70)), int64(line)) < 0.2 { // ragged ends of lines
		return 0
	}
	i, j := int64(column), int64(line)
	if hash(seed+171, i, j) < 0.17 { // between words
		return 0
	}
	x := (u - column*wide) / wide
	best := math.Inf(1)
	corner := func(n int64) (float64, float64) {
		h := hash(seed+172+uint64(n), i, j)
		return (0.12 + 0.32*math.Floor(h*3)) * wide, 0.5 * math.Floor(hash(seed+182+uint64(n), i, j)*3) * high
	}
	for n := range int64(3) {
		ax, ay := corner(n)
		bx, by := corner(n + 1)
		if ax == bx && ay == by {
			by += 0.3 * high
		}
		best = min(best, segment(x*wide, y*high, ax, ay, bx, by))
	}
	return covered(best, high*0.13, px)
}

// over lays the tape over the colour c at a place. It is a little clear and has fibres.
func (t Tape) over(c, at vec, seed uint64) vec {
	s, o := math.Sincos(radians(t.TurnDeg))
	x, y := at.X-t.CentreMM[0], at.Y-t.CentreMM[1]
	u, v := o*x+s*y, o*y-s*x
	torn := 0.5 * noise(seed+190, v*1.1, t.CentreMM[0])
	if math.Abs(v) > t.WidthMM/2 || math.Abs(u)+torn > t.LengthMM/2 {
		return c
	}
	crease := 0.05*noise(seed+191, u*0.4, v*5) + 0.08*smooth(0.5, 0.8, noise(seed+192, u*0.15, v*0.6))
	return c.mix(vec{t.Colour[0], t.Colour[1], t.Colour[2]}, 0.9).mul(1 + crease)
}

// scratches are thin straight lines, lighter or darker, of which each cell of 12 mm has at most a few.
func scratches(seed uint64, at vec, amount, px float64) float64 {
	sum := 0.0
	const cell = 12.0
	ci, cj := int64(math.Floor(at.X/cell)), int64(math.Floor(at.Y/cell))
	for i := ci - 1; i <= ci+1; i++ {
		for j := cj - 1; j <= cj+1; j++ {
			for n := range uint64(2) {
				h := func(k uint64) float64 { return hash(seed+200+10*n+k, i, j) }
				if h(0) > amount {
					continue
				}
				sin, cos := math.Sincos(2 * math.Pi * h(1))
				x, y, long := (float64(i)+h(2))*cell, (float64(j)+h(3))*cell, cell*(0.2+0.6*h(4))
				d := segment(at.X, at.Y, x-cos*long/2, y-sin*long/2, x+cos*long/2, y+sin*long/2)
				sum += (h(5) - 0.4) * 1.6 * covered(d, 0.03+0.1*h(6), px)
			}
		}
	}
	return clamp(sum, -0.8, 1.2)
}

// crumbs are small dark specks and short hairs.
func crumbs(seed uint64, at vec, amount float64) float64 {
	const cell = 5.0
	ci, cj := int64(math.Floor(at.X/cell)), int64(math.Floor(at.Y/cell))
	best := 0.0
	for i := ci - 1; i <= ci+1; i++ {
		for j := cj - 1; j <= cj+1; j++ {
			h := func(k uint64) float64 { return hash(seed+220+k, i, j) }
			if h(0) > 0.45*amount {
				continue
			}
			sin, cos := math.Sincos(2 * math.Pi * h(1))
			x, y, long := (float64(i)+h(2))*cell, (float64(j)+h(3))*cell, 0.0
			wide := 0.06 + 0.22*h(4)*h(4)
			if h(5) < 0.25 {
				long, wide = 1+3*h(6), 0.05
			}
			d := segment(at.X, at.Y, x-cos*long/2, y-sin*long/2, x+cos*long/2+1e-6, y+sin*long/2)
			best = max(best, 1-smooth(0.7*wide, 1.2*wide, d*(1+0.3*noise(seed+230, at.X*4, at.Y*4))))
		}
	}
	return best
}

// benchColour is brushed metal: its grain runs in TurnDeg's direction.
func (r *renderer) benchColour(at, d, base vec) vec {
	g, k := r.part, r.scene.Ground
	s, o := math.Sincos(radians(k.TurnDeg))
	u, v := o*at.X+s*at.Y, o*at.Y-s*at.X
	brush := noise(g.seed+240, u*0.12, v*6) + 0.6*noise(g.seed+241, u*0.4, v*17)
	n := vec{-s * 0.05 * brush, o * 0.05 * brush, 1}.unit()
	f := finish{gloss: base.mul(1 + 0.06*brush), diffuse: base.mul(0.25), along: g.pose.in(vec{o, s, 0}), a: 0.15, b: 0.38}
	c := r.reflect(g, g.pose.in(at.sub(g.origin)), g.pose.in(n), g.pose.in(d), f)
	for i := range r.slabs {
		c = c.mul(r.slabs[i].crevice(at))
	}
	return c
}
