package section

import "math"

// sound tells whether the sleeve is a simple polygon with room for strands.
func (s Sleeve) sound() bool {
	for _, k := range []struct {
		h    Half
		sign float64
	}{{s.Right, 1}, {s.Left, -1}} {
		h, w := k.h, s.WidthMM/2-k.sign*s.SeamMM
		if h.CurlFromMM > h.SeamTopMM || h.CurlFromMM < s.FloorMM || h.HeightMM-h.RoofMM-s.FloorMM < 0.35*h.HeightMM {
			return false
		}
		if w-h.WallMM-h.SheetMM+min(0, h.TaperMM) < 0.09*w || h.ShoulderMM < 0.3*h.HeightMM || 2*h.TopAt*w < h.SheetMM {
			return false
		}
		d := s.half(h, k.sign)
		if (h.TouchesWall || h.TouchesFloor) != (d.touchA >= 0) || d.touchA >= 0 && d.touchB-d.touchA < 4 {
			return false
		}
		if d.crosses() {
			return false
		}
		// A tip nearly at wall or floor would touch in the picture but not in truth.
		if d.touchA < 0 && d.narrow() < 0.05 {
			return false
		}
	}
	g := s.build()
	for _, p := range g.Cavities {
		if p.crosses() || p.Area() < 0.004 {
			return false
		}
	}
	return g.CavityArea() > 0.12*s.WidthMM*s.Right.HeightMM
}

// crosses tells whether the half's outline crosses itself; where the tip is pressed on, it may touch.
func (s *side) crosses() bool {
	p := append(append(Polygon{}, s.outer...), s.inner...)
	return p.crossesBut(s.touchA-1, s.touchB+1)
}

func (p Polygon) crosses() bool { return p.crossesBut(-9, -9) }

// crossesBut looks for two edges that cross, leaving out the edges from..to.
func (p Polygon) crossesBut(from, to int) bool {
	n := len(p)
	for i := range n {
		if from >= 0 && i >= from && i <= to {
			continue
		}
		a, b := p[i], p[(i+1)%n]
		lo, hi := Polygon{a, b}.box()
		for j := i + 2; j < n; j++ {
			if i == 0 && j == n-1 || from >= 0 && j >= from && j <= to {
				continue
			}
			c, e := p[j], p[(j+1)%n]
			if max(c.X, e.X) < lo.X || min(c.X, e.X) > hi.X || max(c.Y, e.Y) < lo.Y || min(c.Y, e.Y) > hi.Y {
				continue
			}
			ab, ce := b.sub(a), e.sub(c)
			if ab.cross(c.sub(a))*ab.cross(e.sub(a)) < 0 && ce.cross(a.sub(c))*ce.cross(b.sub(c)) < 0 {
				return true
			}
		}
	}
	return false
}

// narrow is the least distance from the wing's end to the wall, roof or floor across from it.
func (s *side) narrow() float64 {
	from := len(s.inner) / 2
	for i, p := range s.inner { // the roof's far corner: what follows is wall and floor
		if p.Y < s.inner[max(0, i-1)].Y-1e-4 && i > 10 && math.Abs(p.X-s.inner[0].X) > 0.02 {
			from = i
			break
		}
	}
	least := math.Inf(1)
	for _, p := range s.outer[max(s.face, len(s.outer)-140):] {
		d, _, _ := s.inner[from:].distance(p)
		least = min(least, d)
	}
	return least
}
