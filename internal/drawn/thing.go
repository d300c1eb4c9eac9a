package drawn

import "math"

// Thing is a body of rounded rods that melt into each other: a hand, a tool, whatever lies about.
type Thing struct {
	Rods   []Rod
	Melt   float64 // radius over which rods melt into each other, mm
	Colour [3]float64
	Gloss  float64 // reflectance square to the surface; 1 makes it metal of that colour
	Skin   bool    // with the lines and blotches of skin
}

// Rod is a rod with round ends in the world.
type Rod struct {
	From, To [3]float64
	R1, R2   float64 // radius at either end
}

// mass is a thing made ready.
type mass struct {
	Thing
	box box
}

func (s Scene) masses() (all []mass) {
	for _, t := range s.Things {
		m := mass{Thing: t}
		for i, k := range t.Rods {
			r := max(k.R1, k.R2) + t.Melt/2
			e := vec{r, r, r}
			a, b := vec{k.From[0], k.From[1], k.From[2]}, vec{k.To[0], k.To[1], k.To[2]}
			one := box{a.sub(e), a.add(e)}.join(box{b.sub(e), b.add(e)})
			if i == 0 {
				m.box = one
			}
			m.box = m.box.join(one)
		}
		all = append(all, m)
	}
	return all
}

func (m *mass) distance(p vec) float64 {
	best := math.Inf(1)
	for _, k := range m.Rods {
		a := vec{k.From[0], k.From[1], k.From[2]}
		b, q := vec{k.To[0], k.To[1], k.To[2]}.sub(a), p.sub(a)
		t := clamp(q.dot(b)/max(1e-9, b.dot(b)), 0, 1)
		d := q.sub(b.mul(t)).norm() - (k.R1 + (k.R2-k.R1)*t)
		if m.Melt > 0 && !math.IsInf(best, 1) {
			h := clamp(0.5+0.5*(best-d)/m.Melt, 0, 1)
			d = best + (d-best)*h - m.Melt*h*(1-h)
		}
		best = min(best, d)
	}
	return best
}

func (m *mass) march(o, d vec, far float64) (float64, bool) {
	t, end, ok := m.box.enter(o, d)
	if !ok {
		return 0, false
	}
	for range 160 {
		if t > min(end, far) {
			break
		}
		h := m.distance(o.add(d.mul(t)))
		if h < 0.004 {
			return t, true
		}
		t += 0.85 * h
	}
	return 0, false
}

// shade tells how much of a light of that size (tangent of half its angle) is seen past the thing from o along d.
func (m *mass) shade(o, d vec, far, size float64) float64 {
	near, end, ok := m.box.enter(o, d)
	if !ok {
		return 1
	}
	t, open := max(near, 0.1), 1.0
	for range 60 {
		if t > min(end, far) {
			break
		}
		h := m.distance(o.add(d.mul(t)))
		open = min(open, 0.5+0.5*h/(size*t))
		if open <= 0 {
			return 0
		}
		t += clamp(0.8*math.Abs(h), 0.1, 8)
	}
	return smooth(0, 1, open)
}

func (m *mass) normal(p vec) vec {
	const e = 0.02
	n := vec{}
	for _, k := range [4]vec{{1, -1, -1}, {-1, -1, 1}, {-1, 1, -1}, {1, 1, 1}} {
		n = n.add(k.mul(m.distance(p.add(k.mul(e)))))
	}
	return n.unit()
}

// massColour is the radiance of a thing at a place of the world, seen along d.
func (r *renderer) massColour(m *mass, at, d vec) vec {
	g, n := r.part, m.normal(at)
	c := vec{m.Colour[0], m.Colour[1], m.Colour[2]}
	if m.Skin {
		blush := 0.16 * cloudy(g.seed+140, at.X*0.09, at.Y*0.09)
		c = c.times(vec{1 + 0.5*blush, 1 - blush, 1 - blush}).mul(1 + 0.05*noise(g.seed+144, at.X*1.6, at.Y*1.6))
		n = n.add(vec{0.06 * noise(g.seed+145, at.X*2.1, at.Y*2.1), 0.06 * noise(g.seed+146, at.X*2.1, at.Y*2.1), 0}).unit()
	}
	f := finish{diffuse: c, gloss: vec{m.Gloss, m.Gloss, m.Gloss}, along: vec{1, 0, 0}, a: 0.35, b: 0.35}
	if m.Gloss >= 1 {
		f.diffuse, f.gloss = c.mul(0.1), c
	}
	return r.reflect(g, g.pose.in(at.sub(g.origin)), g.pose.in(n), g.pose.in(d), f)
}

// Blocker is a rod of that height outside the picture that throws its shadow into it.
type Blocker struct {
	From, To         [2]float64
	RadiusMM, HighMM float64
}

// free tells how much of a light of that size (tangent of half its angle) passes the blockers on its way to at.
func (l *lighting) free(at, toward vec, size float64) float64 {
	open := 1.0
	for _, b := range l.blockers {
		if toward.Z < 0.05 {
			continue
		}
		q := at.add(toward.mul((b.HighMM - at.Z) / toward.Z))
		d := segment(q.X, q.Y, b.From[0], b.From[1], b.To[0], b.To[1]) - b.RadiusMM
		soft := size*b.HighMM + 0.05
		open = min(open, smooth(-soft, soft, d))
	}
	return open
}
