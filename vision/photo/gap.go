package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// gap measures from the insulation's cut end to the sleeve's rear upper edge over the scan lines that cross the middle
// 80 % of the conductor. Seen along the axis at the slope a, a point z above the axis looks shifted by z·a: the
// insulation's upper rim (seen from the wire's side) or its cut face's border to the conductor (seen from the body's side)
// and the sleeve's upper rim stand at different heights, for which the gap is corrected.
func (b *bench) gap(s sleeve) {
	half := 0.8 * b.body.bundle
	mid := s.middle(s.rearX)
	middle := band{mid - half, mid + half}
	insulation := regionEnd{share: b.shareOfClass(part.Insulation), from: -1, inside: -1, far: s.rearX + 1.3}
	cut, ok := insulation.find(b, middle)
	if b.gapSeen(s, cut, ok, middle) {
		b.gapBetween(s, cut)
	}
}

// gapSeen tells whether there is a gap to measure between the insulation's cut end, where it was found, and the sleeve's
// rear edge. Where there is none it notes that.
func (b *bench) gapSeen(s sleeve, cut crossEdge, ok bool, middle band) bool {
	if !ok {
		b.missGap("the insulation's cut end cannot be seen")
		return false
	}
	b.cutX = cut.x
	if b.caught(cut, s.rearX) {
		hidden, by := b.hiddenGap(s)
		if hidden > mostHiddenMM {
			b.missGap(by + ": lay the part under the middle of the lens and take the picture anew")
			return false
		}
		none := uncertainty.Budget{
			{Name: "definition", Source: "insulation seen up to the sleeve's edge", Standard: 0.03},
			{Name: "angle", Source: "what the rim of insulation or sleeve may hide", Standard: hidden / uncertainty.CoverageFactor},
		}
		b.set(record.InsulationGapMean, 0, none)
		b.set(record.InsulationGapMax, 0, none)
		return false
	}
	return true
}

// hiddenGap is the largest gap, mm, that cannot be seen under the slope of view, and what hides it: seen from the wire's
// side the insulation's upper rim stands before the sleeve's rear edge, which lies lower, and seen from the body's side
// the sleeve's rim before the strands.
func (b *bench) hiddenGap(s sleeve) (mm float64, by string) {
	slope, _ := b.frame.View(0, 0)
	rim, _ := b.rims(s)
	high, uHigh := 0.95*b.body.wire-b.body.top, b.body.uTop
	by = "the insulation's upper rim hides the sleeve's rear edge"
	if slope < 0 {
		high, uHigh = rim.z-b.body.bundle, rim.u
		by = "the sleeve's rear rim hides what lies behind it"
	}
	high = math.Max(0, high)
	return math.Abs(slope)*high + uncertainty.CoverageFactor*math.Hypot(b.uSlope()*high, slope*uHigh), by
}

func (b *bench) missGap(reason string) {
	b.rec.Miss(record.InsulationGapMean, reason)
	b.rec.Miss(record.InsulationGapMax, reason)
}

// mostHiddenMM is up to which gap that may be hidden none is taken for none, with that in its uncertainty: a fifth of the
// millimetre that is usually allowed.
const mostHiddenMM = 0.2

// gapBetween notes the gap between two edges that were read on the plane of the axis.
func (b *bench) gapBetween(s sleeve, cut crossEdge) {
	slope, _ := b.frame.View(0, 0)
	at := height{0.95 * b.body.wire, 0.1}
	if slope < 0 { // the face shows: its border to the strands lies somewhere between its foot on the conductor and its rim
		foot := 0.8 * b.body.bundle
		at = height{(foot + at.z) / 2, (at.z - foot) / math.Sqrt(12)}
	}
	b.gapAtHeight(s, cut, at, endDefinitionMM)
}

// height is a height above the axis with its standard uncertainty, mm.
type height struct{ z, u float64 }

// gapAtHeight notes the gap from a cut end that was seen at a height; definitionMM is the standard uncertainty of where
// either edge ends.
func (b *bench) gapAtHeight(s sleeve, cut crossEdge, at height, definitionMM float64) {
	rim, _ := b.rims(s)
	lean := func(x, z float64) float64 { return b.atHeight(x, 0, z-0.5) - b.atHeight(x, 0, z+0.5) } // mm a mm of height
	curve := parabola(cut.points)
	var gaps []float64
	for _, p := range cut.points {
		gaps = append(gaps, b.atHeight(s.rearX, p.Y, rim.z)-b.atHeight(curve(p.Y), p.Y, at.z))
	}
	budget := uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at the cut end and the rear edge", Standard: math.Hypot(cut.u, s.rear.u)},
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: definitionMM * math.Sqrt2},
		{Name: "angle", Source: "heights of the cut end and the rear edge, times the slope of view",
			Standard: math.Hypot(math.Hypot(lean(cut.x, at.z)*at.u, lean(s.rearX, rim.z)*rim.u), b.uSlope()*(at.z-rim.z))},
	}
	b.set(record.InsulationGapMean, meanOf(gaps), budget)
	b.set(record.InsulationGapMax, subpixel.Percentile(gaps, 95), append(budget,
		uncertainty.Component{Name: "definition", Source: "curve of the cut end between scan lines", Standard: 0.03}))
	b.markCross(record.InsulationGapMean, cut)
	b.mark(record.MarkLength, record.InsulationGapMean, 0, [2]float64{cut.x, 0}, [2]float64{s.rearX, 0})
}

// parabola is the robust fit x = a + b·y + c·y² through points across; with few points their median.
func parabola(points []subpixel.Point) func(y float64) float64 {
	var x []float64
	for _, p := range points {
		x = append(x, p.X)
	}
	c := [3]float64{subpixel.Percentile(x, 50)}
	if len(points) < 8 {
		return func(float64) float64 { return c[0] }
	}
	for range 6 {
		var m [3][4]float64
		for _, p := range points {
			r := p.X - (c[0] + c[1]*p.Y + c[2]*p.Y*p.Y)
			w := 1 / (1 + sq(r/0.04))
			f := [3]float64{1, p.Y, p.Y * p.Y}
			for i := range 3 {
				for j := range 3 {
					m[i][j] += w * f[i] * f[j]
				}
				m[i][3] += w * f[i] * p.X
			}
		}
		m[2][2] += 0.5 // a cut end is hardly curved over the conductor's width: holds the ends of the curve
		c = solve3(m)
	}
	return func(y float64) float64 { return c[0] + c[1]*y + c[2]*y*y }
}

// solve3 solves three linear equations by Cramer's rule.
func solve3(m [3][4]float64) (x [3]float64) {
	det := func(a, b, c int) float64 {
		return m[0][a]*(m[1][b]*m[2][c]-m[1][c]*m[2][b]) - m[0][b]*(m[1][a]*m[2][c]-m[1][c]*m[2][a]) + m[0][c]*(m[1][a]*m[2][b]-m[1][b]*m[2][a])
	}
	d := det(0, 1, 2)
	return [3]float64{det(3, 1, 2) / d, det(0, 3, 2) / d, det(0, 1, 3) / d}
}

// caught tells whether the insulation reaches up to the sleeve's edge: on most scan lines hardly any conductor shows between.
func (b *bench) caught(cut crossEdge, rear float64) bool {
	const step, leastMM = 0.02, 0.08
	var bare []float64
	for _, p := range cut.points {
		sum := 0.0
		for x := p.X - 0.3; x < rear+0.1; x += step {
			sum += step * b.part.Regions.At(part.Conductor, b.frame, x, p.Y)
		}
		bare = append(bare, sum)
	}
	return subpixel.Percentile(bare, 50) < leastMM
}

// detail is the mean square slope of a profile.
func detail(v []float64) float64 {
	sum := 0.0
	for i := 1; i+1 < len(v); i++ {
		sum += sq((v[i+1] - v[i-1]) / 2)
	}
	return sum / float64(max(1, len(v)-2))
}
