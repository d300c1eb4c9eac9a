package drawn

import "math"

// lying gives what lies on the card's plane or on the board's paper where the ray from o along d meets it.
func (r *renderer) lying(o, d vec) (at vec, what stuff) {
	b := r.scene.Board
	if !b.None {
		t := (b.HeightMM - o.Z) / d.Z
		at = o.add(d.mul(t))
		if u, v, on := r.onPaper(at); on {
			if dark(b, u, v) {
				return at, ink
			}
			if b.HeightMM > 0 {
				return at, paper
			}
		}
	}
	at = o.sub(d.mul(o.Z / d.Z))
	if !b.None && b.HeightMM > 0 {
		if _, _, on := r.onPaper(at); on {
			return at, paperSide
		}
	}
	return at, ground
}

// onPaper gives a place in the board's own frame (origin in its middle) and whether it lies on the paper.
func (r *renderer) onPaper(at vec) (u, v float64, on bool) {
	b := r.scene.Board
	x, y := at.X-b.CentreMM[0], at.Y-b.CentreMM[1]
	s, c := r.boardSin, r.boardCos
	u, v = c*x+s*y, c*y-s*x
	w, h := b.size()
	return u, v, math.Abs(u) <= w/2 && math.Abs(v) <= h/2
}

// size is that of the paper.
func (b Board) size() (w, h float64) {
	return float64(b.Cols+1)*b.SquareMM + 2*b.MarginMM, float64(b.Rows+1)*b.SquareMM + 2*b.MarginMM
}

// dark tells whether a place in the board's frame is printed.
func dark(b Board, u, v float64) bool {
	i := math.Floor(u/b.SquareMM + float64(b.Cols+1)/2)
	j := math.Floor(v/b.SquareMM + float64(b.Rows+1)/2)
	if i < 0 || j < 0 || i > float64(b.Cols) || j > float64(b.Rows) {
		return false
	}
	return int(i+j)%2 == 0
}

// corners are the board's inner corners in the world.
func (b Board) corners() []vec {
	s, c := math.Sincos(radians(b.TurnDeg))
	var all []vec
	for j := range b.Rows {
		for i := range b.Cols {
			u := (float64(i) - float64(b.Cols-1)/2) * b.SquareMM
			v := (float64(j) - float64(b.Rows-1)/2) * b.SquareMM
			all = append(all, vec{b.CentreMM[0] + c*u - s*v, b.CentreMM[1] + s*u + c*v, b.HeightMM})
		}
	}
	return all
}

// flat gives the radiance of the ground, the paper or the print at a place of the world, seen along d.
func (r *renderer) flat(at, d vec, what stuff) vec {
	albedo := r.albedo(at, what)
	g := r.part
	if what == ground && r.scene.Ground.Kind == "bench" {
		return r.benchColour(at, d, albedo)
	}
	p := g.pose.in(at.sub(g.origin))
	up := g.pose.in(vec{0, 0, 1})
	open := 1.0
	if g.boxes.all.distance(p) < 6 {
		open = math.Pow(g.openness(p, up), 0.8)
	}
	for i := range r.slabs {
		open *= r.slabs[i].crevice(at)
	}
	light := r.light.ambient.mul(open)
	for _, k := range r.light.lamps {
		toward, far, colour := k.seen(at)
		lit := g.shade(p, g.pose.in(toward), far, k.size) * r.unshaded(g, at, toward, far, k.size)
		if what == ground {
			lit *= r.paperShade(at, toward, k.size)
		}
		light = light.add(colour.mul(lit * max(0, toward.Z)))
	}
	return albedo.times(light)
}

// unshaded is how much of a lamp's light reaches a place of the world past all but the part g itself.
func (r *renderer) unshaded(g *geometry, at, toward vec, far, size float64) float64 {
	open := 1.0
	for _, o := range r.parts {
		if o != g {
			open *= o.shade(o.pose.in(at.sub(o.origin)), o.pose.in(toward), far, size)
		}
	}
	for i := range r.masses {
		open *= r.masses[i].shade(at, toward, far, size)
	}
	if at.Z < 1e-6 {
		for i := range r.slabs {
			open *= r.slabs[i].shadow(at, toward, size)
		}
	}
	if len(r.light.blockers) > 0 {
		open *= r.light.free(at, toward, size)
	}
	return open
}

// paperShade is the shadow of the paper's edge on the ground, which a hard light shows as a fine line.
func (r *renderer) paperShade(at, toward vec, size float64) float64 {
	b := r.scene.Board
	if b.None || b.HeightMM <= 0 || toward.Z <= 0 {
		return 1
	}
	open := 0.0
	for _, s := range [3]float64{0.4, 1, 1.6} {
		if _, _, on := r.onPaper(at.add(toward.mul(b.HeightMM / toward.Z * (1 + (s-1)*min(1, 3*size))))); !on {
			open += 1.0 / 3
		}
	}
	return open
}

func (r *renderer) albedo(at vec, what stuff) vec {
	b, seed := r.scene.Board, r.part.seed
	grain := 0.012*noise(seed+100, at.X*7, at.Y*7) + 0.012*noise(seed+101, at.X*23, at.Y*23)
	switch what {
	case ink:
		k := b.Ink * (1 + 4*grain + 0.1*cloudy(seed+102, at.X*0.8, at.Y*0.8))
		return vec{k, k, k * 1.03}
	case paper:
		k := b.Paper * (1 + grain + 0.012*cloudy(seed+103, at.X*0.1, at.Y*0.1))
		return vec{k, k, k * 0.985}
	case paperSide:
		return vec{0.55, 0.54, 0.52}.mul(b.Paper)
	}
	c := vec{r.scene.Ground.Colour[0], r.scene.Ground.Colour[1], r.scene.Ground.Colour[2]}
	c = c.mul(max(0.1, 1+grain+weave(r.scene.Ground.Kind, seed, at.X, at.Y)))
	return r.litter(c, at)
}

// weave is the relative texture of a kind of ground at a place (mm).
func weave(kind string, seed uint64, x, y float64) float64 {
	slow := 0.03 * cloudy(seed+110, x*0.03, y*0.03)
	switch kind {
	case "mat": // fine ribs, scuffs
		scuff := smooth(0.55, 0.8, noise(seed+111, x*0.09+y*0.02, y*3.1)) * 0.06
		return slow + 0.05*noise(seed+112, x*3, y*3) + scuff
	case "cloth":
		thread := math.Sin(x*2*math.Pi/0.62)*math.Sin(y*2*math.Pi/0.62) + 0.4*noise(seed+113, x*5, y*5)
		return slow + 0.16*thread + 0.05*cloudy(seed+114, x*0.4, y*0.4)
	case "concrete":
		pits := -0.5 * smooth(0.62, 0.8, noise(seed+118, x*0.55, y*0.55)*0.75+0.25*noise(seed+119, x*2.2, y*2.2))
		return 2*slow + 0.12*cloudy(seed+120, x*0.25, y*0.25) + 0.08*cloudy(seed+124, x*2, y*2) + pits
	case "wood":
		ring := math.Sin(0.9*y + 2.4*cloudy(seed+128, x*0.018, y*0.09)*3)
		return slow + 0.12*ring + 0.1*noise(seed+132, x*0.25, y*6)
	}
	return slow
}
