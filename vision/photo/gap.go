package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// gap measures from the insulation's cut end to the sleeve's rear upper edge over the scan lines that cross the middle
// 80 % of the conductor. Seen along the axis at the slope a, a point z above the axis looks shifted by z·a: the
// insulation's upper rim (seen from the wire's side) or the foot of its cut face on the conductor (seen from the body's
// side) and the sleeve's upper rim stand at different heights, for which the gap is corrected.
func (b *bench) gap(s sleeve) {
	half := 0.8 * b.body.bundle
	cut, ok := b.findCross(math.Max(-1.0, s.rearX-4), s.rearX-0.12, -half, half)
	if !ok {
		for _, k := range []record.Key{record.InsulationGapMean, record.InsulationGapMax} {
			b.rec.Miss(k, "the insulation's cut end cannot be seen")
		}
		return
	}
	slope, _ := b.frame.View(cut.x, 0)
	zCut, uCut := 0.95*b.body.wire, 0.1
	if slope < 0 {
		zCut, uCut = 0.8*b.body.bundle, 0.4
	}
	var gaps []float64
	for _, p := range cut.points {
		gaps = append(gaps, b.atHeight(s.rearX, p.Y, b.body.top)-b.atHeight(p.X, p.Y, zCut))
	}
	budget := uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at the cut end and the rear edge", Standard: math.Hypot(cut.u, s.rear.u)},
		{Name: "definition", Source: "where a rounded edge ends", Standard: 0.02},
		{Name: "angle", Source: "heights of the cut end and the rear edge, times the slope of view",
			Standard: math.Hypot(math.Abs(slope)*math.Hypot(uCut, b.body.uTop), b.uSlope()*(zCut-b.body.top))},
	}
	mean := subpixel.Percentile(gaps, 50)
	b.set(record.InsulationGapMean, mean, budget)
	b.set(record.InsulationGapMax, subpixel.Percentile(gaps, 95), budget)
	b.markCross(record.InsulationGapMean, cut)
	b.mark(record.MarkLength, record.InsulationGapMean, 0, [2]float64{cut.x, 0}, [2]float64{s.rearX, 0})
}
