package drawn

import "math"

// arrange picks a scale reference and lays it and the part under the camera, until all that must be seen is in the picture
// and nothing lies on anything else.
func (s *Scene) arrange(d dice) {
	kind := d.Float64()
	g := s.Part.geometry(s.Seed) // only its place changes
	for try := 0; ; try++ {
		wide := max(0.7, 1-float64(try)/20000) // whatever is too large for the picture fits at a smaller scale
		scale, distance := d.between(15, 33)*wide, d.between(130, 260)
		s.Camera = Camera{DistanceMM: distance, TiltDeg: min(15, math.Abs(5*d.NormFloat64())), AzimuthDeg: d.between(0, 360), SpinDeg: d.between(-180, 180),
			FocalPX: scale * distance, K1: d.between(-0.04, 0.04)}
		w, h := 1000/scale, 750/scale
		s.Part.CentreMM = [2]float64{d.between(-w, w), d.between(-h, h)}
		s.Part.AlphaDeg = d.between(0, 360)
		at := [2]float64{d.between(-w, w), d.between(-h, h)}
		turn := s.Part.AlphaDeg + 90*float64(d.IntN(4)) + 8*d.NormFloat64()
		if d.chance(0.3) {
			turn = d.between(0, 360)
		}
		s.Board, s.Rule, s.Disc = Board{None: true}, nil, nil
		switch {
		case kind < 0.48:
			s.Board = d.board(s.Ground, at, turn)
		case kind < 0.82:
			s.Rule = d.rule(at, turn)
		default:
			s.Disc = d.disc(at)
		}
		g.CentreMM, g.AlphaDeg = s.Part.CentreMM, s.Part.AlphaDeg
		g.placePart()
		if s.partClear(g) && s.referenceSeen() {
			return
		}
	}
}

func (d dice) board(g Ground, at [2]float64, turn float64) Board {
	sizes := [][2]int{{4, 3}, {5, 4}, {6, 4}, {7, 5}, {7, 5}, {8, 5}, {9, 6}, {9, 6}}
	n := sizes[d.IntN(len(sizes))]
	b := Board{Cols: n[0], Rows: n[1], SquareMM: 5, CentreMM: at, TurnDeg: turn, MarginMM: d.between(2.5, 6), Ink: d.between(0.03, 0.08), Paper: d.between(0.74, 0.9)}
	if g.Kind != "card" || g.Colour[0] < 0.7 || d.chance(0.6) {
		b.HeightMM = d.between(0.08, 0.3)
	}
	return b
}

func (d dice) rule(at [2]float64, turn float64) *Rule {
	k := &Rule{LengthMM: []float64{100, 150, 150, 300}[d.IntN(4)] + d.between(4, 12), WidthMM: d.between(11, 27), ThickMM: d.between(0.45, 1.05), TurnDeg: turn,
		MarginMM: d.between(0, 6), TickMM: d.between(0.1, 0.2), DigitMM: d.between(2.2, 3.4), Millimetres: d.chance(0.3), BothEdges: d.chance(0.3),
		Steel: d.between(0.42, 0.72), Ink: d.between(0.015, 0.06), Satin: d.chance(0.35)}
	if d.chance(0.3) {
		k.MarginMM = 0
	}
	// Which stretch of it lies in the picture, and that its middle lies where at says.
	shift := d.between(-1, 1) * (k.LengthMM/2 - 22)
	s, c := math.Sincos(radians(turn))
	k.CentreMM = [2]float64{at[0] + c*shift, at[1] + s*shift}
	return k
}

func (d dice) disc(at [2]float64) *Disc {
	k := &Disc{CentreMM: at, DiameterMM: math.Round(20*d.between(15, 30)) / 20, ThickMM: d.between(1, 2.5)}
	if d.chance(0.4) {
		k.DiameterMM = 20
	}
	k.BevelMM = d.between(0.05, 0.35)
	switch d.IntN(5) {
	case 0:
		k.Metal = d.one("brass", "tin", "copper", "silver")
	case 1:
		k.Colour = [3]float64{d.between(0.02, 0.7), d.between(0.02, 0.7), d.between(0.02, 0.7)}
	case 2:
		k.Colour = [3]float64{0.03, 0.03, 0.032}
	default:
		w := d.between(0.7, 0.88)
		k.Colour = [3]float64{w, w, w * 0.98}
	}
	if d.chance(0.4) {
		k.RingMM = d.between(0.6, 1.4)
	}
	return k
}

// reachMM is how far the part reaches along x.
func (p Part) reachMM() float64 {
	if p.Strip != nil {
		return p.Strip.LengthMM + p.Strip.SpreadMM
	}
	return p.Sleeve.LengthMM + p.Body.NeckMM + p.Body.LengthMM
}

// inside tells whether a place of the world lies in the picture, with that margin in pixels.
func (s *Scene) inside(l lens, w vec, margin float64) bool {
	x, y := l.project(w)
	return x > margin && y > margin && x < float64(s.Width)-margin && y < float64(s.Height)-margin
}

// wireAt is the place of the wire's axis in the world, wherever it curves.
func (g *geometry) wireAt(x float64) vec {
	p := vec{x, g.wireAxis(x), 0}
	if g.Wire.CurveUp {
		p = vec{x, 0, g.wireAxis(x)}
	}
	return g.origin.add(g.pose.out(p))
}

// partClear tells whether the part is in the picture and clear of the reference.
func (s *Scene) partClear(g *geometry) bool {
	l := s.Camera.lens(s.Width, s.Height)
	front := s.Part.reachMM() + 1
	clear := s.clearOf(g.insulation + 1.2)
	for x := -90.0; x <= front; x += 1.5 {
		w := g.wireAt(x)
		if x > -9 && !s.inside(l, w, 70) {
			return false
		}
		if !clear(w.X, w.Y) {
			return false
		}
	}
	return true
}

// clearOf gives a test whether a place of the card is at least so far from the scale reference.
func (s *Scene) clearOf(gap float64) func(x, y float64) bool {
	slabs, b := s.slabs(), s.Board
	sin, cos := math.Sincos(radians(b.TurnDeg))
	w, h := b.size()
	return func(x, y float64) bool {
		for i := range slabs {
			if slabs[i].shape(x, y) < gap {
				return false
			}
		}
		if b.None {
			return true
		}
		x, y = x-b.CentreMM[0], y-b.CentreMM[1]
		return roundBox(cos*x+sin*y, cos*y-sin*x, w/2, h/2, 0) >= gap
	}
}

// referenceSeen tells whether enough of the scale reference is in the picture: all inner squares of a board, all of a disc,
// 32 mm of a rule's graduation.
func (s *Scene) referenceSeen() bool {
	l := s.Camera.lens(s.Width, s.Height)
	if s.Rule != nil {
		n := 0
		for _, w := range s.Rule.edge() {
			if s.inside(l, w, 8) {
				n++
			}
		}
		return n >= 32
	}
	if k := s.Disc; k != nil {
		for _, w := range k.rim() {
			if !s.inside(l, w, 20) {
				return false
			}
		}
		return true
	}
	for _, w := range s.Board.corners() {
		if !s.inside(l, w, 30+s.Board.SquareMM*s.Camera.FocalPX/s.Camera.DistanceMM) {
			return false
		}
	}
	return true
}

// edge are the ends of the millimetre marks on the graduated edge, in the world.
func (k *Rule) edge() (all []vec) {
	s, c := math.Sincos(radians(k.TurnDeg))
	for i := 0; ; i++ {
		u, v := float64(i)-k.FirstMM+k.MarginMM-k.LengthMM/2, k.WidthMM/2
		if u > k.LengthMM/2 {
			return all
		}
		if u >= -k.LengthMM/2 {
			all = append(all, vec{k.CentreMM[0] + c*u - s*v, k.CentreMM[1] + s*u + c*v, k.ThickMM})
		}
	}
}

// rim are places on the disc's upper outline.
func (k *Disc) rim() (all []vec) {
	for i := range 48 {
		s, c := math.Sincos(2 * math.Pi * float64(i) / 48)
		r := k.DiameterMM / 2
		all = append(all, vec{k.CentreMM[0] + r*c, k.CentreMM[1] + r*s, k.ThickMM - k.BevelMM})
	}
	return all
}
