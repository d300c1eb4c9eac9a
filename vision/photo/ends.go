package photo

import (
	"math"
	"slices"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
)

// crossEdge is an edge that runs across the part: the insulation's cut end, the sleeve's rear or front edge.
type crossEdge struct {
	points []subpixel.Point // x, y in mm, one a scan line
	x      float64          // robust mean of x
	u      float64          // standard uncertainty of the mean from the scatter
}

const (
	// endDefinitionMM: standard uncertainty of where a rounded, glossy edge ends, about one pixel of a phone's picture.
	endDefinitionMM = 0.04
	scanStepMM      = 0.1 // scan lines across the part, each averaged over its own width
	crossReachMM    = 0.2
	countsShare     = 0.35 // of the strongest agreement
)

// expectation is where an edge is expected, mm, with a standard deviation that only weighs borders against each other.
type expectation struct{ x, sd float64 }

// band is a range of y, mm.
type band struct{ lo, hi float64 }

// peak is a place at which many scan lines have a border: mm along x, and how strongly, as a share of the strongest.
type peak struct{ x, share float64 }

// strongest and firstThatCounts choose among peaks in the order of x.
func strongest(p []peak) int {
	return slices.IndexFunc(p, func(q peak) bool { return q.share == 1 })
}

func firstThatCounts(p []peak) int {
	return slices.IndexFunc(p, func(q peak) bool { return q.share >= countsShare })
}

// findCross finds the edge across that is strongest near where it is expected, over scan lines in the bands of y.
func (b *bench) findCross(want expectation, bands ...band) (crossEdge, bool) {
	return b.searchCross(want, want.x-2.5*want.sd, want.x+2.5*want.sd, strongest, bands...)
}

// searchCross finds an edge across within x0..x1. A first look tells where most scan lines agree, of which choose takes
// one; then each line is searched near there.
func (b *bench) searchCross(want expectation, x0, x1 float64, choose func([]peak) int, bands ...band) (crossEdge, bool) {
	reach := subpixel.Both(crossReachMM * b.ppm)
	pad := crossReachMM + 0.05
	var lines [][][]float64
	var ys []float64
	for _, r := range bands {
		for y := r.lo; y+scanStepMM <= r.hi+1e-9; y += scanStepMM {
			lines = append(lines, b.along(x0-pad, x1+pad, y, y+scanStepMM))
			ys = append(ys, y+scanStepMM/2)
		}
	}
	if len(lines) < 4 {
		return crossEdge{}, false
	}
	peaks := b.agreed(lines, x0-pad, x0, x1, reach, want)
	chosen := choose(peaks)
	if chosen < 0 {
		return crossEdge{}, false
	}
	at := (peaks[chosen].x - x0 + pad) * b.ppm
	var e crossEdge
	window := 0.12 * b.ppm
	for k, l := range lines {
		if p, ok := subpixel.FindBorder(l, at-window, at+window, reach, b.blurPX); ok && p.Gain > 0.3 {
			e.points = append(e.points, subpixel.Point{X: x0 - pad + p.Pos/b.ppm, Y: ys[k]})
		}
	}
	if len(e.points) < max(3, len(lines)/3) {
		return crossEdge{}, false
	}
	e.settle()
	return e, true
}

// agreed lists where the scan lines' borders agree: local maxima of the sum over scan lines of the border's amplitude,
// each limited to what a typical line shows so that one glint decides nothing. start is the lines' first x.
func (b *bench) agreed(lines [][][]float64, start, x0, x1 float64, reach subpixel.Reach, want expectation) []peak {
	from := (x0 - start) * b.ppm
	n := max(2, int((x1-x0)*b.ppm/0.5))
	amplitude := make([][]float64, len(lines))
	var tops []float64
	for i, l := range lines {
		amplitude[i] = make([]float64, n+1)
		for k := range amplitude[i] {
			s, _ := subpixel.BorderStrength(l, from+float64(k)*0.5, reach, b.blurPX)
			amplitude[i][k] = math.Sqrt(math.Max(0, s))
		}
		tops = append(tops, slices.Max(amplitude[i]))
	}
	limit := subpixel.Percentile(tops, 50)
	sum := make([]float64, n+1)
	for k := range sum {
		for _, a := range amplitude {
			sum[k] += math.Min(a[k], limit)
		}
		sum[k] *= math.Exp(-0.5 * sq((x0+float64(k)*0.5/b.ppm-want.x)/want.sd))
	}
	var peaks []peak
	most := 0.0
	for k := 1; k < n; k++ {
		if sum[k] >= sum[k-1] && sum[k] > sum[k+1] {
			peaks = append(peaks, peak{x0 + float64(k)*0.5/b.ppm, sum[k]})
			most = math.Max(most, sum[k])
		}
	}
	for k := range peaks {
		peaks[k].share /= most
	}
	return peaks
}

// markCross notes the scan lines' points for drawing.
func (b *bench) markCross(key record.Key, e crossEdge) {
	for _, p := range e.points {
		b.mark(record.MarkScan, key, 0, [2]float64{p.X - 0.08, p.Y}, [2]float64{p.X + 0.08, p.Y})
	}
}

// settle computes the robust mean and the scatter.
func (e *crossEdge) settle() {
	x := make([]float64, len(e.points))
	for i, p := range e.points {
		x[i] = p.X
	}
	_, off, spread := aboutMedian(x)
	// Differences of neighbours show the scatter without the edge's own curve.
	var diff []float64
	for i := 1; i < len(x); i++ {
		diff = append(diff, math.Abs(x[i]-x[i-1]))
	}
	slices.Sort(diff)
	sd := 1.4826 * diff[len(diff)/2] / math.Sqrt2
	kept, sum := 0.0, 0.0
	limit := math.Max(0.08, 3*spread)
	for i, v := range x {
		if math.Abs(off[i]) <= limit {
			kept, sum = kept+1, sum+v
		}
	}
	e.x = sum / kept
	e.u = math.Max(sd, 0.02) / math.Sqrt(kept)
}
