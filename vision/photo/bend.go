package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	bodyFromMM, bodyToMM = 2.8, 10.0 // in front of the sleeve's front edge: past the neck
	bodyBlockMM          = 0.4
)

// bend measures the angle between the sleeve's axis and the body's, in the picture plane. The body is round: its axis
// is the line midway between its sides, wherever it is thick or thin.
func (b *bench) bend(s sleeve) {
	var mids []subpixel.Point
	centre := (s.left.at(s.frontX) + s.right.at(s.frontX)) / 2
	d := b.part.WireMM
	for x := s.frontX + bodyFromMM; x+bodyBlockMM <= s.frontX+bodyToMM; x += bodyBlockMM {
		if p := b.frame.Pixel(x+bodyBlockMM, centre, 0); p.X < 5 || p.Y < 5 || p.X > float64(b.im.W-6) || p.Y > float64(b.im.H-6) {
			break
		}
		l := b.candidates(b.outwardFrom(left, centre, x, x+bodyBlockMM, 0, 0.5*d+1.4), 0.14*d, 0.5*d+0.5)
		r := b.candidates(b.outwardFrom(right, centre, x, x+bodyBlockMM, 0, 0.5*d+1.4), 0.14*d, 0.5*d+0.5)
		if atL, atR, ok := b.choose(l, r); ok {
			mids = append(mids, subpixel.Point{X: x + bodyBlockMM/2, Y: centre + (atL-atR)/2})
		}
	}
	const why = "the contact's body cannot be told well enough from the ground, or lies outside the picture"
	if len(mids) < 8 {
		b.rec.Miss(record.Bend, why)
		return
	}
	line, err := subpixel.FitLineRobust(mids)
	if err != nil || math.Abs(line.Dir.X) < 0.8 || line.SD > 0.15 {
		b.rec.Miss(record.Bend, why)
		return
	}
	angle := math.Abs(math.Atan(line.Dir.Y / line.Dir.X))
	u := math.Hypot(line.UAngle, math.Hypot(s.left.line.UAngle, s.right.line.UAngle)/2)
	b.set(record.Bend, angle*180/math.Pi, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the body's and the sleeve's sides", Standard: u * 180 / math.Pi},
		{Name: "definition", Source: "sides under uneven light, over the body's length", Standard: 0.3},
	})
	b.mark(record.MarkAxis, record.Bend, 0, [2]float64{mids[0].X, line.Mid.Y + (mids[0].X-line.Mid.X)*line.Dir.Y/line.Dir.X},
		[2]float64{mids[len(mids)-1].X, line.Mid.Y + (mids[len(mids)-1].X-line.Mid.X)*line.Dir.Y/line.Dir.X})
}
