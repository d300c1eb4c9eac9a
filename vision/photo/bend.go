package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	neckMM           = 3.0 // in front of the front edge: past the neck, where the body is whole
	farthestBody     = 9.0
	bodyStepMM       = 0.2
	leastBodyColumns = 12
	uBodyMM          = 0.02 // how well a column's middle is known along stretches of about a millimetre
)

// bend measures the angle between the sleeve's axis and the body's: collars, slots and steps of a turned or rolled body
// are alike on both sides, so the middle between its sides runs along its axis. u comes from how well the middles lie on
// a line, and from the length over which they do.
func (b *bench) bend(s sleeve) {
	var mids []subpixel.Point
	for x := s.frontX + neckMM; x < s.frontX+farthestBody; x += bodyStepMM {
		lo, hi, ok := b.bodySpan(x, s.middle(s.frontX))
		if ok && b.inPicture(x, lo-0.2) && b.inPicture(x, hi+0.2) {
			mids = append(mids, subpixel.Point{X: x, Y: (lo + hi) / 2})
		}
	}
	l, err := fitAlong(mids)
	if err != nil || len(mids) < leastBodyColumns || l.Dir.X < 0.9 {
		b.rec.Miss(record.Bend, "the contact's body is outside the picture, or its sides cannot be told from the ground")
		return
	}
	length := mids[len(mids)-1].X - mids[0].X
	deg := math.Atan2(l.Dir.Y, l.Dir.X) * 180 / math.Pi
	b.set(record.Bend, math.Abs(deg), uncertainty.Budget{
		{Name: "repeat", Source: "scatter of the middles about their line", Standard: l.UAngle * 180 / math.Pi},
		{Name: "edge", Source: "direction of the sleeve's axis", Standard: s.uAxis * 180 / math.Pi},
		{Name: "definition", Source: "where the body's sides end, over the length that is seen", Standard: uBodyMM * math.Sqrt(12/length) / length * 180 / math.Pi},
	})
	at := func(x float64) [2]float64 { return [2]float64{x, lineAt(l, x)} }
	b.mark(record.MarkAxis, record.Bend, 0, at(mids[0].X), at(mids[len(mids)-1].X))
}

// bodySpan is from where to where the body reaches across at x: the run of its region about the axis, gaps as wide as a slot
// passed over.
func (b *bench) bodySpan(x, axis float64) (lo, hi float64, ok bool) {
	const step, slot, reach = 0.05, 0.6, 4.0
	lo, hi = math.Inf(1), math.Inf(-1)
	for _, dir := range []float64{1, -1} {
		last := 0.0
		for d := 0.0; d < reach && d-last < slot; d += step {
			y := axis + dir*d
			if b.part.Regions.At(part.Body, b.frame, x, y) > 0.5 {
				last, ok = d, true
				lo, hi = math.Min(lo, y), math.Max(hi, y)
			}
		}
	}
	return lo, hi, ok && hi-lo > 0.5
}

// inPicture tells whether a place of the axis' plane is seen.
func (b *bench) inPicture(x, y float64) bool {
	p := b.frame.Pixel(x, y, 0)
	return p.X > 5 && p.Y > 5 && p.X < float64(b.im.W-6) && p.Y < float64(b.im.H-6)
}
