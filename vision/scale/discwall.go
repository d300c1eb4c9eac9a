package scale

import "math"

// A disc looks the same from two sides. Its side wall does not: it is seen on the side to which the camera stands, as a
// sickle between the upper face's rim and the lower one's, which is the same ellipse shifted and a little smaller.
const (
	wallLeastPX   = 2.  // a narrower sickle cannot be told from the rim's own softness
	wallThinMM    = 0.6 // thinnest and thickest disc that is thought of
	wallThickMM   = 3.6
	wallStepMM    = 0.15
	wallSeenOdds  = 12.  // how much more probable a view becomes whose sickle is seen along its whole length. A shadow's may
	wallUnseen    = 0.25 // lie just so by chance, and a wall as light as face and ground goes unseen
	wallFew       = 0.3  // share of the sickle's length with an edge in its place that counts as unseen,
	wallMost      = 0.75 // and that counts as seen
	wallLeastPart = 0.12 // of the rim, that a sickle must reach along
)

// wallLook is what the picture shows outside of a rim.
type wallLook struct {
	size  float64 // mean half axis, px
	lines []wallLine
}

type wallLine struct {
	n     pt        // outwards
	edges []float64 // px outside of the rim
}

func (p colours) wallLook(e ellipse) wallLook {
	w := wallLook{size: (e.a + e.b) / 2}
	for _, l := range p.acrossRim(e, 0.2*e.a, 180) {
		_, n := e.at(l.t)
		line := wallLine{n: n}
		for _, g := range l.edges {
			if g.d > 0.5*wallLeastPX {
				line.edges = append(line.edges, g.d)
			}
		}
		w.lines = append(w.lines, line)
	}
	return w
}

// odds is how much what is seen outside of the rim speaks for a camera: the most over the thicknesses that a disc may have.
func (w wallLook) odds(c Camera) float64 {
	x0, y0 := c.Project(Vec{})
	x1, y1 := c.Project(Vec{0, 0, -1})
	shift := pt{x1 - x0, y1 - y0} // of the lower rim, px per mm of thickness
	shrink := w.size / c.Position().Z
	if shift.norm()*wallThickMM < wallLeastPX {
		return 1
	}
	best := 0.
	for t := wallThinMM; t <= wallThickMM; t += wallStepMM {
		if share, ok := w.seen(shift.mul(t), shrink*t); ok {
			best = math.Max(best, share)
		}
	}
	k := math.Max(0, math.Min(1, (best-wallFew)/(wallMost-wallFew)))
	return wallUnseen * math.Pow(wallSeenOdds/wallUnseen, k)
}

// seen is the share of a sickle's length along which an edge lies where it ends. False where the sickle is too narrow.
func (w wallLook) seen(shift pt, shrink float64) (share float64, ok bool) {
	n, hits := 0, 0
	for i := range w.lines {
		l := &w.lines[i]
		width := l.n.x*shift.x + l.n.y*shift.y - shrink
		if width < wallLeastPX {
			continue
		}
		n++
		near := math.Max(1.2, 0.1*width)
		for _, d := range l.edges {
			if math.Abs(d-width) < near {
				hits++
				break
			}
		}
	}
	if float64(n) < wallLeastPart*float64(len(w.lines)) {
		return 0, false
	}
	return float64(hits) / float64(n), true
}
