package photo

import (
	"math"
	"math/rand/v2"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	endLineMM   = 0.06 // scan lines along the strands' ends; a strand is some five of them wide
	endRegionSD = 0.15 // a region's front border is known to within this
	leastLines  = 10
)

// frontLine is the line along which the strands end as seen: the foremost of the strands that lie over each other, scan
// line by scan line; x at y, mm, on the axis' plane.
type frontLine struct{ x, y []float64 }

// frontLine finds where the strands end on each scan line, near where the regions put it.
func (b *bench) frontLine(c bareSides) (f frontLine, ok bool) {
	reach := subpixel.Reach{Before: math.Max(0.12*b.ppm, 3), After: math.Max(0.25*b.ppm, 4)}
	n := len(c.x)
	hi, lo := subpixel.Percentile(c.left[n-min(n, 6):], 50), subpixel.Percentile(c.right[n-min(n, 6):], 50)
	for y := lo; y <= hi; y += endLineMM {
		want := b.lastBareOn(y, c.front-1.2, c.front+1.2)
		if math.IsNaN(want) {
			continue
		}
		start := want - 1
		p := lnProfile(b.along(start, want+1.2, y-endLineMM/2, y+endLineMM/2))
		if x, ok := b.outermost(p, start, expectation{want, endRegionSD}, reach); ok {
			f.x, f.y = append(f.x, x), append(f.y, y)
		}
	}
	for i := range f.x {
		b.mark(record.MarkScan, record.StripLength, 0, [2]float64{f.x[i] - 0.08, f.y[i]}, [2]float64{f.x[i] + 0.08, f.y[i]})
	}
	return f, len(f.x) >= leastLines
}

// steady gives the line's mean and standard deviation, places far off left out.
func (f frontLine) steady() (mean, sd, most float64) {
	median, off, mad := aboutMedian(f.x)
	limit := math.Max(0.3, 4*mad)
	var kept []float64
	for _, d := range off {
		if math.Abs(d) < limit {
			kept = append(kept, d)
		}
	}
	return median + meanOf(kept), spreadOf([][]float64{kept}, 0, len(kept)), median + slices.Max(kept)
}

// endings is what the front line tells of all strands' ends, those hidden behind others included: mm, along x.
type endings struct {
	median, uMedian float64
	spread, uSpread float64 // largest less smallest
	last, uLast     float64 // the largest
	early           float64 // strands that end more than two strand widths behind the median, none of them cut short
}

const (
	endTrials  = 60
	endNoisePX = 1.2  // of single scan lines, at most: how well a border by single strands is told
	endUsualMM = 0.12 // strands end scattered by this, by a factor of e to the endUsualSD: common practice, no source
	endUsualSD = 1.0
	endSDLike  = 0.2  // the front line's scatter is true to within this, relative, or quite wrong: gaps fill with shadow
	zoneLikeMM = 0.1  // endZone is true to within this and
	zoneLike   = 0.2  // this share of it
	endLeanMM  = 0.02 // of the median: the wire may be cut aslant up or down, unseen
)

// allEnds tells the ends of all strands from the foremost ones and from the depth over which strands on top are seen to
// end. Strands, count of them, lie evenly over a round of the width seen, and end scattered normally or evenly, which the
// picture does not tell; at the slope of view what lies higher looks further along. Drawn by chance many times over for
// scatters of any size (Monte Carlo, JCGM 101:2008), the front line's own scatter and the zone pick those draws that look
// like the picture; their medians and extremes, and how far these differ among each other, are what the picture tells.
func allEnds(f frontLine, zone float64, count int, strandMM, slope, noise float64, seed uint64) endings {
	mean, sd, most := f.steady()
	rng := rand.New(rand.NewPCG(seed, 2))
	lo, hi := slices.Min(f.y), slices.Max(f.y)
	var medians, spreads, lasts, shorts, weights []float64
	for scatter := 0.02; scatter < 0.8; scatter *= 1.12 {
		for range endTrials {
			d := drawEnds(rng, f.y, (lo+hi)/2, (hi-lo)/2, count, strandMM, slope, scatter, noise)
			unlike := sq(math.Log(scatter/endUsualMM) / endUsualSD)
			if !math.IsNaN(zone) {
				unlike += sq((d.zone - zone) / (zoneLikeMM + zoneLike*zone))
			}
			weights = append(weights, math.Exp(-0.5*unlike)/(1+sq(math.Log(d.sd/sd)/endSDLike)))
			medians = append(medians, mean-d.mean)
			spreads = append(spreads, d.spread)
			lasts = append(lasts, most-d.over)
			shorts = append(shorts, d.early)
		}
	}
	var e endings
	e.median, e.uMedian = weighted(medians, weights)
	e.spread, e.uSpread = weighted(spreads, weights)
	e.last, e.uLast = weighted(lasts, weights)
	e.early, _ = weighted(shorts, weights)
	e.uMedian = math.Hypot(e.uMedian, endLeanMM)
	return e
}

// drawn is one draw of strand ends about their median 0: the front line's mean and scatter, the zone in which ends show,
// largest less smallest end, how much the front line's foremost place is beyond the largest end, and how many strands end
// more than two strand widths behind the median.
type drawn struct{ mean, sd, zone, spread, over, early float64 }

func drawEnds(rng *rand.Rand, lines []float64, centre, half float64, count int, strandMM, slope, scatter, noise float64) (d drawn) {
	const golden = 2.399963 // rad: each strand a golden angle on from the last lies evenly over a round (Vogel 1979)
	turn := 2 * math.Pi * rng.Float64()
	x, seen, y, z := make([]float64, count), make([]float64, count), make([]float64, count), make([]float64, count)
	hides := strandMM * (0.45 + 0.45*rng.Float64()) // a gap narrower than this, to either side, shows none of the ground
	noise *= 0.4 + 0.8*rng.Float64()
	even, shows := rng.IntN(2) == 0, 0.5+0.5*rng.Float64()
	for k := range x {
		r := math.Max(0, half-strandMM/2) * math.Sqrt((float64(k)+0.5)/float64(count))
		sin, cos := math.Sincos(turn + golden*float64(k))
		if x[k] = scatter * rng.NormFloat64(); even {
			x[k] = scatter * math.Sqrt(3) * (2*rng.Float64() - 1)
		}
		seen[k], y[k], z[k] = x[k]+slope*r*sin, centre+r*cos, r*sin
	}
	median, early := subpixel.Percentile(x, 50), 0.0
	for _, v := range x {
		if v < median-2*strandMM {
			early++
		}
	}
	var front []float64
	for _, at := range lines {
		foremost := math.Inf(-1)
		for k, v := range seen {
			if math.Abs(y[k]-at) < hides {
				foremost = math.Max(foremost, v)
			}
		}
		if !math.IsInf(foremost, 0) {
			front = append(front, foremost+noise*rng.NormFloat64())
		}
	}
	if len(front) < 3 {
		return drawn{sd: math.Inf(1)}
	}
	return drawn{
		mean: meanOf(front) - median, sd: spreadOf([][]float64{front}, 0, len(front)),
		zone:   zoneOf(seen, y, z, strandMM, func() bool { return rng.Float64() < shows }),
		spread: slices.Max(x) - slices.Min(x), over: slices.Max(front) - slices.Max(x), early: early,
	}
}

// weighted gives the weighted mean and standard deviation.
func weighted(v, w []float64) (mean, sd float64) {
	var sw, s, ss float64
	for i, x := range v {
		sw, s, ss = sw+w[i], s+w[i]*x, ss+w[i]*x*x
	}
	mean = s / sw
	return mean, math.Sqrt(math.Max(0, ss/sw-mean*mean))
}

// strandCount is how many strands there are: declared, or after the conductor's width seen.
func (b *bench) strandCount(c bareSides) int {
	if n := b.declared.StrandCount; n > 0 {
		return int(n)
	}
	d := b.strandMM()
	if a := b.declared.ConductorArea; a > 0 {
		return max(1, int(a/(math.Pi/4*d*d)))
	}
	return max(1, int(fillOfBundle*sq(c.fitWidth().at(c.from)/d)))
}

func (b *bench) strandMM() float64 {
	if d := b.declared.StrandDiameter; d > 0 {
		return d
	}
	return typicalStrand
}

// strandEnds measures where the strands end.
func (b *bench) strandEnds(w wire, cut cutFace, okCut bool, c bareSides) {
	f, ok := b.frontLine(c)
	if !ok {
		return
	}
	slope, _ := b.frame.View(c.front, 0)
	e := allEnds(f, b.endZone(c, f), b.strandCount(c), b.strandMM(), slope, endNoisePX/b.ppm, 1)
	if okCut {
		b.stripLength(w, cut, e)
	}
	b.cutStrands(c, e)
}

func (b *bench) stripLength(w wire, cut cutFace, e endings) {
	slope, _ := b.frame.View(0, 0)
	b.set(record.StripLength, e.median-cut.rim, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the cut end's border", Standard: cut.uAt},
		{Name: "definition", Source: "where the cut end's rounded rim and strands' ends count", Standard: math.Hypot(rimDefinedMM, endDefinedMM)},
		{Name: "hidden", Source: "the lower half of the cut end, which may lean or wave", Standard: cutUnseenMM},
		{Name: "angle", Source: "seen aslant, borders of rim, face and strands' foot lie side by side", Standard: cutAslantMM * math.Abs(slope)},
		{Name: "hidden", Source: "all ends told from the foremost ones: draws that look like the picture", Standard: e.uMedian},
		{Name: "angle", Source: "height of the cut end's rim over the strands, times the slope of view's own uncertainty",
			Standard: b.uSlope() * meanOfHalf * w.radius},
	})
	b.mark(record.MarkLength, record.StripLength, 0, [2]float64{cut.rim, 0}, [2]float64{e.median, 0})
}

const (
	endDefinedMM = 0.04 // strands end in burrs and shadows
	cutUnseenMM  = 0.03 // upper half against all of the cut end: a lean of a degree
	cutAslantMM  = 0.3  // times the slope: a tenth of the way from the rim to the lower half
)
