package drawn

import "math"

var skins = [][3]float64{{0.62, 0.38, 0.27}, {0.5, 0.29, 0.19}, {0.27, 0.14, 0.09}, {0.12, 0.06, 0.04}, {0.7, 0.48, 0.38}}

var handles = [][3]float64{{0.5, 0.04, 0.03}, {0.03, 0.03, 0.035}, {0.6, 0.42, 0.03}, {0.03, 0.1, 0.4}, {0.04, 0.25, 0.08}}

// layAbout puts a hand or a tool at the picture's border, clear of part and reference; none where there is no room.
func (s *Scene) layAbout(d dice) {
	g := s.Part.geometry(s.Seed)
	for range 60 {
		before := s.Things
		tip, out := s.border(d, d.between(2, 16))
		if d.chance(0.5) {
			s.hand(d, skins[d.IntN(len(skins))], tip, out)
		} else {
			s.tool(d, tip, out)
		}
		if s.thingsClear(g) {
			return
		}
		s.Things = before
	}
}

// border gives a place so far inside the picture's border, in the world, and the direction out of the picture there.
func (s *Scene) border(d dice, deep float64) (at, out vec) {
	l := s.Camera.lens(s.Width, s.Height)
	onCard := func(px, py float64) vec {
		ray := l.ray(px, py)
		return l.at.sub(ray.mul(l.at.Z / ray.Z))
	}
	a := d.between(0, 2*math.Pi)
	sin, cos := math.Sincos(a)
	w, h := float64(s.Width)/2, float64(s.Height)/2
	k := min(w/max(1e-9, math.Abs(cos)), h/max(1e-9, math.Abs(sin)))
	edge, middle := onCard(w+k*cos, h+k*sin), onCard(w, h)
	out = edge.sub(middle).unit()
	at = edge.sub(out.mul(deep))
	turn, way := math.Sincos(0.5 * d.NormFloat64())
	return at, vec{way*out.X - turn*out.Y, way*out.Y + turn*out.X, 0}
}

func triple(v vec) [3]float64 { return [3]float64{v.X, v.Y, v.Z} }

// hand lays one to four fingers that come from outside, the first with its tip at tip.
func (s *Scene) hand(d dice, skin [3]float64, tip, out vec) {
	aside := vec{-out.Y, out.X, 0}
	side := d.sign()
	var nails []Thing
	h := Thing{Melt: 2.5, Colour: skin, Gloss: 0.03, Skin: true}
	for i := range 1 + d.IntN(4) {
		r := d.between(6.8, 9)
		at := tip.add(aside.mul(side * float64(i) * d.between(15.5, 18))).add(out.mul(d.between(0, 9) * min(1, float64(i))))
		at.Z = r + d.between(0, 3)
		knuckle := at.add(out.mul(24)).add(vec{0, 0, d.between(0, 9)})
		h.Rods = append(h.Rods, Rod{triple(at), triple(knuckle), r, r * 1.12},
			Rod{triple(knuckle), triple(knuckle.add(out.mul(60)).add(vec{0, 0, d.between(-3, 12)})), r * 1.12, r * 1.3})
		if d.chance(0.7) {
			a, b := at.add(vec{0, 0, 0.42 * r}).sub(out.mul(0.35*r)), at.add(vec{0, 0, 0.42 * r}).add(out.mul(5))
			nails = append(nails, Thing{Rods: []Rod{{triple(a), triple(b), 0.62 * r, 0.63 * r}},
				Colour: [3]float64{min(0.8, skin[0]*1.15+0.03), skin[1]*1.15 + 0.03, skin[2]*1.15 + 0.03}, Gloss: 0.05})
		}
	}
	s.Things = append(append(s.Things, h), nails...)
}

// tool lays a handle with a steel shank, or two that make pliers, its tip at tip.
func (s *Scene) tool(d dice, tip, out vec) {
	aside := vec{-out.Y, out.X, 0}
	colour, thin, long := handles[d.IntN(len(handles))], d.between(1, 3), d.between(8, 40)
	shank := Thing{Colour: [3]float64{0.6, 0.59, 0.57}, Gloss: 1, Melt: 1}
	handle := Thing{Colour: colour, Gloss: 0.045, Melt: 3}
	place := func(along, across, z float64) [3]float64 {
		return triple(tip.add(out.mul(along)).add(aside.mul(across)).add(vec{0, 0, z}))
	}
	thick := d.between(4, 8)
	if d.chance(0.5) { // a screwdriver
		shank.Rods = []Rod{{place(0, 0, thick*0.7), place(long, 0, thick), thin * 0.6, thin}}
		handle.Rods = []Rod{{place(long, 0, thick+1), place(long+12, 0, thick+1), thin * 1.6, thick}, {place(long+12, 0, thick+1), place(long+90, 0, thick+1), thick, thick * 1.1}}
	} else { // pliers
		for _, k := range [2]float64{-1, 1} {
			shank.Rods = append(shank.Rods, Rod{place(0, k*thin, thick), place(long, k*2.5*thin, thick), thin, 2.6 * thin})
			handle.Rods = append(handle.Rods, Rod{place(long+8, -k*4*thin, thick+1), place(long+40, -k*(6*thin+6), thick+1), thick * 0.7, thick},
				Rod{place(long+40, -k*(6*thin+6), thick+1), place(long+100, -k*(4*thin+5), thick+1), thick, thick * 0.8})
		}
		shank.Rods = append(shank.Rods, Rod{place(long, 0, thick), place(long+9, 0, thick), 3.5 * thin, 3 * thin})
	}
	s.Things = append(s.Things, shank, handle)
}

// thingsClear tells whether all things keep clear of the part and of the scale reference.
func (s *Scene) thingsClear(g *geometry) bool {
	all := s.masses()
	far := func(w vec, gap float64) bool {
		for i := range all {
			if all[i].distance(w) < gap {
				return false
			}
		}
		return true
	}
	for x := -60.0; x <= s.Part.reachMM()+1; x += 1.5 {
		if !far(g.wireAt(x), g.insulation+2.5) {
			return false
		}
	}
	var marks []vec
	switch {
	case s.Rule != nil:
		l := s.Camera.lens(s.Width, s.Height)
		for _, w := range s.Rule.edge() {
			if s.inside(l, w, 0) {
				marks = append(marks, w)
			}
		}
	case s.Disc != nil:
		marks = s.Disc.rim()
	default:
		marks = s.Board.corners()
	}
	for _, w := range marks {
		if !far(w, 6) {
			return false
		}
	}
	return true
}
