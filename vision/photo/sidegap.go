package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// sideGap measures from the insulation's cut end to the sleeve's rear edge. Strands side by side make stripes across,
// insulation makes none, whatever the colours and shadows: the insulation ends where the stripes begin. Where none can be
// made out it ends at the border nearest to its region's end.
func (b *bench) sideGap(s sleeve) {
	half := 0.8 * b.body.bundle
	lo, hi := b.wallSpan(s)
	mid := (s.middle(s.rearX) + (lo+hi)/2) / 2 // the conductor is seen at heights from the axis up to the wall's
	middle := band{mid - half, mid + half}
	at := b.insulationEnd(s.rearX, middle)
	// The strands come out somewhere between the cut face's foot on the conductor and its rim.
	foot, rim := 0.8*b.body.bundle, 0.95*b.body.wire
	z := height{(foot + rim) / 2, (rim - foot) / math.Sqrt(12)}
	if cut, ok := b.stripesBegin(at, s.rearX, middle); ok {
		b.cutX = cut.x
		b.gapAtHeight(s, cut, z, sideEndMM)
		return
	}
	edge := straightEdge{at: at, sd: edgeSDMM, from: math.Inf(-1), to: s.rearX - 0.06, before: crossReachMM, after: 0.12}
	cut, ok := edge.find(b, middle)
	if (s.rearX-at < caughtMM || !ok) && !b.gapSeen(s, cut, ok, middle) {
		return
	}
	b.cutX = cut.x
	b.gapAtHeight(s, cut, z, endDefinitionMM)
}

// insulationEnd is where the insulation's region ends along x before the sleeve: the median over scan lines.
func (b *bench) insulationEnd(rear float64, across band) float64 {
	var ends []float64
	for y := across.lo; y <= across.hi; y += scanStepMM {
		x := rear
		for x > -beforeMM && b.part.Regions.At(part.Insulation, b.frame, x, y) < 0.5 {
			x -= 0.02
		}
		if x > -beforeMM {
			ends = append(ends, x)
		}
	}
	if len(ends) == 0 {
		return 0
	}
	return subpixel.Percentile(ends, 50)
}

const (
	sideEndMM     = 0.03 // standard uncertainty of where an edge square to the view ends
	stripesStepMM = 0.02
	stripesLeast  = 1.2  // ln of brightness per mm, rms: strands out of focus in shade show as much
	caughtMM      = 0.25 // regions nearer to each other than this may touch
	insulationMM  = 0.5  // of the insulation before its end that is looked at
	cutBands      = 5    // overlapping parts of the band in which the cut's course across is looked at
	cutBandMM     = 0.8  // their width
	cutSlopeSD    = 0.02 // how far a cut is from square, as a slope
)

// stripesBegin finds where stripes across begin between the insulation's region's end at and the sleeve's rear edge, over
// the whole band, and how that place runs across.
func (b *bench) stripesBegin(at, rear float64, across band) (crossEdge, bool) {
	x, ok := b.stripesFrom(at, rear, across)
	if !ok {
		return crossEdge{}, false
	}
	var places []subpixel.Point
	wide := across.hi - across.lo - cutBandMM
	for k := range cutBands {
		lo := across.lo + wide*float64(k)/(cutBands-1)
		if p, ok := b.stripesFrom(x, rear, band{lo, lo + cutBandMM}); ok {
			places = append(places, subpixel.Point{X: lo + cutBandMM/2, Y: p})
		}
	}
	slope := 0.0
	if l, err := subpixel.FitLineRobust(places); err == nil && len(places) >= 4 && l.Dir.X != 0 {
		u := max(l.UAngle, 0.03) // strands that lie askew under the cut move the places by as much
		slope = l.Dir.Y / l.Dir.X * sq(cutSlopeSD) / (sq(cutSlopeSD) + sq(u))
	}
	c := crossEdge{x: x, u: stripesStepMM}
	mid := (across.lo + across.hi) / 2
	for y := across.lo + scanStepMM/2; y < across.hi; y += scanStepMM {
		c.points = append(c.points, subpixel.Point{X: x + slope*(y-mid), Y: y})
	}
	return c, true
}

// stripesFrom is where the stripes across a band reach half of what they show in the gap, coming from the insulation.
func (b *bench) stripesFrom(at, rear float64, across band) (float64, bool) {
	const clear, lasts = 0.15, 3 // mm before the sleeve's edge, whose own shadow shows no stripes; samples
	half := max(stripesStepMM, 0.55/b.ppm)
	from, to := at-insulationMM-0.3, rear-0.06
	var t, plain, striped []float64
	for x := from; x < to; x += stripesStepMM {
		v := math.Sqrt(detail(b.logAcross(x-half, x+half, across.lo, across.hi))) * b.ppm
		t = append(t, v)
		if x < at-0.3 {
			plain = append(plain, v)
		}
		if x > at-0.1 && (x < rear-clear || len(striped) < 3) {
			striped = append(striped, v)
		}
	}
	if len(plain) < 5 || len(striped) < 3 {
		return 0, false
	}
	base, top := subpixel.Percentile(plain, 50), subpixel.Percentile(striped, 70)
	if top < max(2.5*base, stripesLeast) {
		return 0, false
	}
	level, above := (base+top)/2, 0
	for k, v := range t {
		if v < level {
			above = 0
			continue
		}
		if above++; above == lasts {
			first := k - lasts + 1
			if first == 0 {
				return 0, false
			}
			share := (level - t[first-1]) / (t[first] - t[first-1])
			return from + (float64(first-1)+share)*stripesStepMM, true
		}
	}
	return 0, false
}
