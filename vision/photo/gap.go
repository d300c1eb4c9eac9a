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
	seam := s.seam.at(s.rearX)
	slope, _ := b.frame.View(0, 0)
	middle := band{seam - half, seam + half}
	cut, ok := b.firstCross(expectation{0.1, 0.4}, -0.8, math.Min(1, s.rearX-0.12), middle)
	if slope < -0.05 {
		cut, ok = b.searchCross(expectation{0.1, 0.4}, -0.8, math.Min(1, s.rearX-0.12), false, middle)
	}
	if !ok {
		for _, k := range []record.Key{record.InsulationGapMean, record.InsulationGapMax} {
			b.rec.Miss(k, "the insulation's cut end cannot be seen")
		}
		return
	}
	if b.caught(cut.x, s.rearX, middle) {
		none := uncertainty.Budget{{Name: "definition", Source: "insulation seen up to the sleeve's edge", Standard: 0.03}}
		b.set(record.InsulationGapMean, 0, none)
		b.set(record.InsulationGapMax, 0, none)
		return
	}
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
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: endDefinitionMM * math.Sqrt2},
		{Name: "angle", Source: "heights of the cut end and the rear edge, times the slope of view",
			Standard: math.Hypot(math.Abs(slope)*math.Hypot(uCut, b.body.uTop), b.uSlope()*(zCut-b.body.top))},
	}
	mean := subpixel.Percentile(gaps, 50)
	b.set(record.InsulationGapMean, mean, budget)
	b.set(record.InsulationGapMax, subpixel.Percentile(gaps, 95), budget)
	b.markCross(record.InsulationGapMean, cut)
	b.mark(record.MarkLength, record.InsulationGapMean, 0, [2]float64{cut.x, 0}, [2]float64{s.rearX, 0})
}

// caught tells whether the insulation reaches up to the sleeve's edge: between what looked like its end and the edge
// there are no strands' stripes across, but the same smooth shading as on the insulation itself.
func (b *bench) caught(cut, rear float64, across band) bool {
	if rear-cut < 0.25 {
		return false
	}
	stripes := func(x0, x1 float64) float64 {
		return math.Sqrt(detail(b.logAcross(x0, x1, across.lo, across.hi))) * b.ppm
	}
	return stripes(cut+0.1, rear-0.08) < math.Max(2*stripes(cut-1.5, cut-0.4), smoothPerMM)
}

// smoothPerMM is the rms slope across, ln of brightness per mm, below which a stretch shows no strands; strands show
// 1.5 and more, insulation up to 0.6.
const smoothPerMM = 0.9

// detail is the mean square slope of a profile.
func detail(v []float64) float64 {
	sum := 0.0
	for i := 1; i+1 < len(v); i++ {
		sum += sq((v[i+1] - v[i-1]) / 2)
	}
	return sum / float64(max(1, len(v)-2))
}
