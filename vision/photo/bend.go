package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/uncertainty"
)

const (
	bodyFromMM, bodyToMM = 3.0, 6.0 // in front of the front edge: past the neck, before collars and slots
	bodyLeastMM          = 2.8      // less than this of the body says too little
	bendMostDeg          = 10
	bendStepDeg          = 0.5
	bendPPM              = 14.0
)

// bend measures the angle between the sleeve's axis and the body's, in the picture plane. Sides, glints and seams of a
// turned or rolled body run along its axis: its direction is the one in which averaging along it keeps the most detail
// across (projection profile, as for the sleeve). u comes from how the two halves of the body agree.
func (b *bench) bend(s sleeve) {
	centre := (s.left.at(s.frontX) + s.right.at(s.frontX)) / 2
	half := 0.42 * b.part.WireMM
	from, to := s.frontX+bodyFromMM, s.frontX+bodyToMM
	for to > from && !b.inPicture(to, centre) {
		to -= 0.25
	}
	if to-from < bodyLeastMM {
		b.rec.Miss(record.Bend, "the contact's body is outside the picture")
		return
	}
	b = b.coarser(bendPPM, from-1, to+1)
	whole, clear := b.streakAngle(s.frontX, centre, from, to, half)
	mid := (from + to) / 2
	first, ok1 := b.streakAngle(s.frontX, centre, from, mid, half)
	second, ok2 := b.streakAngle(s.frontX, centre, mid, to, half)
	if !clear || !ok1 || !ok2 || math.Abs(first-second) > 4 {
		b.rec.Miss(record.Bend, "the direction of the contact's body cannot be told: its two halves do not agree")
		return
	}
	b.set(record.Bend, math.Abs(whole), uncertainty.Budget{
		{Name: "repeat", Source: "difference of the body's two halves", Standard: math.Abs(first-second) / 4},
		{Name: "edge", Source: "direction of the sleeve's axis", Standard: s.uAxis * 180 / math.Pi},
		{Name: "definition", Source: "glints that do not run quite along the axis", Standard: 0.3},
	})
	k := math.Tan(whole * math.Pi / 180)
	b.mark(record.MarkAxis, record.Bend, 0, [2]float64{from, centre + k*(from-s.frontX)}, [2]float64{to, centre + k*(to-s.frontX)})
}

func (b *bench) inPicture(x, y float64) bool {
	p := b.frame.Pixel(x, y, 0)
	return p.X > 5 && p.Y > 5 && p.X < float64(b.im.W-6) && p.Y < float64(b.im.H-6)
}

// coarser is the same part on a strip of its own at a lower resolution, for what needs no fine detail.
func (b *bench) coarser(ppm, x0, x1 float64) *bench {
	c := *b
	c.blurPX, c.ppm = b.blurPX*ppm/b.ppm, ppm
	c.strip = part.NewStrip(b.im, b.frame, x0, x1, -besideMM, besideMM, 0, ppm)
	return &c
}

// streakAngle is the direction (degrees) of streaks over x0..x1 within half of the line that leaves (px, py) in that
// direction. ok is false where the best one lies at the end of the range.
func (b *bench) streakAngle(px, py, x0, x1, half float64) (deg float64, ok bool) {
	n := int(2*bendMostDeg/bendStepDeg) + 1
	score := make([]float64, n)
	best := 0
	for k := range score {
		t := math.Tan((float64(k)*bendStepDeg - bendMostDeg) * math.Pi / 180)
		c := py + t*((x0+x1)/2-px)
		p := b.across(x0, x1, c-half, c+half, t)
		for _, v := range p {
			score[k] += detail(v)
		}
		if score[k] > score[best] {
			best = k
		}
	}
	if best == 0 || best == n-1 {
		return 0, false
	}
	l, m, r := score[best-1], score[best], score[best+1]
	shift := 0.5 * (l - r) / (l - 2*m + r)
	return (float64(best)+shift)*bendStepDeg - bendMostDeg, true
}
