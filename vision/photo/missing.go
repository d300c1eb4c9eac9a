package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// Where a piece of a wing is missing, or the wings stand apart, strands are seen through the sleeve. How far that reaches from
// the seam is read off the regions, slice by slice along the sleeve.
const (
	sliceMM        = 0.05
	throughReachMM = 2.0
	throughGapMM   = 0.12 // from the seam's line to where strands are seen at the latest: half a groove
	missingDepthMM = 0.15 // the contract's threshold
	missingRunMM   = 0.25 // shorter runs cannot be told from dark spots,
	shallowMM      = 0.22 // and shallower ones not from a wide groove
	doubtfulMM     = 0.35 // up to this depth the regions may take a groove's reflections for strands, and the picture must agree
	leastOdd       = 3.0  // standard deviations by which the picture differs where a piece is missing
	runGapMM       = 0.1  // what interrupts a run for no longer belongs to it
	uRunEndMM      = 0.075
	uDepthMM       = 0.08
)

// run is a stretch along the sleeve in which a wing's tip edge stands back; depth is the largest, behind the wing's own line.
type run struct{ from, to, depth float64 }

// through lists how far strands are seen from the seam's line outwards on one side, slice by slice from x0 on.
func (b *bench) through(s sleeve, sd side, x0, x1 float64) (depths []float64) {
	const step = 0.02
	for x := x0 + sliceMM/2; x < x1; x += sliceMM {
		seam := s.seam.at(x)
		depth, last := 0.0, 0.0
		for d := 0.0; d < throughReachMM && d < last+throughGapMM; d += step {
			if b.part.Regions.At(part.Through, b.frame, x, seam+float64(sd)*d) > 0.5 {
				depth, last = d+step/2, d
			}
		}
		depths = append(depths, depth)
	}
	return depths
}

// missingRuns lists the stretches in which depths exceed the usual one by more than missingDepthMM.
func missingRuns(depths []float64, x0, usual float64) (runs []run) {
	start, last, deepest := -1, -1, 0.0
	flush := func() {
		if from, to := x0+float64(start)*sliceMM, x0+float64(last+1)*sliceMM; start >= 0 && to-from >= missingRunMM && deepest > shallowMM {
			runs = append(runs, run{from, to, deepest})
		}
		start, deepest = -1, 0
	}
	for i, d := range depths {
		switch {
		case d-usual > missingDepthMM:
			if start < 0 {
				start = i
			}
			last, deepest = i, math.Max(deepest, d-usual)
		case start >= 0 && float64(i-last)*sliceMM > runGapMM:
			flush()
		}
	}
	flush()
	return runs
}

// settledRun moves a run's ends to the borders in the picture next to those of the regions.
func (b *bench) settledRun(s sleeve, sd side, r run) run {
	const nearMM = 0.12
	reach := subpixel.Both(nearMM * b.ppm)
	at := func(profile [][]float64, want float64) (float64, bool) { // mm from the profile's first sample
		e, ok := subpixel.FindBorder(profile, (want-nearMM)*b.ppm, (want+nearMM)*b.ppm, reach, b.blurPX)
		return e.Pos / b.ppm, ok && e.Gain > 0.5
	}
	pad := 2 * nearMM
	seam := s.seam.at((r.from + r.to) / 2)
	y0, y1 := seam+float64(sd)*0.3*r.depth, seam+float64(sd)*0.75*r.depth
	along := func(x float64) [][]float64 {
		return b.along(x-pad, x+pad, math.Min(y0, y1), math.Max(y0, y1))
	}
	moved := r
	if d, ok := at(along(r.from), pad); ok {
		moved.from += d - pad
	}
	if d, ok := at(along(r.to), pad); ok {
		moved.to += d - pad
	}
	return moved
}

// oddness is by how many standard deviations the picture beside the seam is brighter or darker in a run than it is along the
// rest of the sleeve: where nothing is missing, the groove's flank goes on as it is before and behind.
func (b *bench) oddness(s sleeve, sd side, r run, x0, x1 float64) float64 {
	var inside, outside []float64
	for x := x0; x+sliceMM <= x1; x += sliceMM {
		seam := s.seam.at(x + sliceMM/2)
		near, far := seam+float64(sd)*0.3*r.depth, seam+float64(sd)*0.9*r.depth
		v := meanOf(b.logAcross(x, x+sliceMM, math.Min(near, far), math.Max(near, far)))
		switch {
		case x >= r.from+sliceMM && x+sliceMM <= r.to-sliceMM:
			inside = append(inside, v)
		case x+sliceMM < r.from-sliceMM || x > r.to+sliceMM:
			outside = append(outside, v)
		}
	}
	if len(inside) == 0 || len(outside) < 4 {
		return 0
	}
	median, _, sd1 := aboutMedian(outside)
	return math.Abs(subpixel.Percentile(inside, 50)-median) / math.Max(sd1, 0.03)
}

// acrossSeam gives the run on the other wing that lies beside this one, if there is one.
func (r run) acrossSeam(other []run) (o run, ok bool) {
	for _, o := range other {
		if math.Min(r.to, o.to)-math.Max(r.from, o.from) > 0.5*(r.to-r.from) {
			return o, true
		}
	}
	return run{}, false
}

// acrossShare: what is seen through a missing piece reaches past the seam's line to the other wing's tip edge, less deep than
// this share. Where both are about as deep it cannot be told which wing misses the piece: the deeper one counts, both in doubt.
const acrossShare = 0.8

// missing measures completeness of both wings, the largest piece missing, and the largest opening.
func (b *bench) missing(s sleeve, opening, uOpening float64) (lost lostPieces) {
	length := s.frontX - s.rearX
	x0, x1 := s.rearX+sliceMM, s.frontX-sliceMM
	var longest, deepest run
	unsure := 0.0
	open := opening
	depths := map[side][]float64{left: b.through(s, left, x0, x1), right: b.through(s, right, x0, x1)}
	usual := map[side]float64{left: subpixel.Percentile(depths[left], 50), right: subpixel.Percentile(depths[right], 50)}
	runs := map[side][]run{left: missingRuns(depths[left], x0, usual[left]), right: missingRuns(depths[right], x0, usual[right])}
	for _, sd := range []struct {
		s   side
		key record.Key
	}{{left, record.CompletenessLeft}, {right, record.CompletenessRight}} {
		gone, doubt := 0.0, 0.0
		for _, r := range runs[sd.s] {
			if o, both := r.acrossSeam(runs[-sd.s]); both {
				if r.depth >= acrossShare*o.depth && o.depth >= acrossShare*r.depth {
					doubt = math.Max(doubt, r.to-r.from)
				}
				if r.depth < o.depth {
					continue
				}
			}
			if r.depth < doubtfulMM && b.oddness(s, sd.s, r, x0, x1) < leastOdd {
				doubt = math.Max(doubt, r.to-r.from)
				continue
			}
			r = b.settledRun(s, sd.s, r)
			lost = append(lost, lostPiece{sd.s, r, x0, usual[sd.s], depths[sd.s]})
			gone += r.to - r.from
			if r.to-r.from > longest.to-longest.from {
				longest = r
			}
			if r.depth > deepest.depth {
				deepest = r
			}
			open = math.Max(open, r.depth+math.Max(opening, usual[left]+usual[right]))
			b.markMissing(s, sd.s, r)
		}
		u := missingRunMM / 8 / length
		if gone > 0 {
			u = uRunEndMM * math.Sqrt2 / length
		}
		unsure = math.Max(unsure, doubt)
		b.set(sd.key, 1-gone/length, uncertainty.Budget{
			{Name: "definition", Source: "where the tip edge stands back by 0.15 mm; shorter runs are not seen", Standard: u},
			{Name: "doubt", Source: "a run that the regions show and the picture does not", Standard: doubt / uncertainty.CoverageFactor / length},
		})
	}
	uLength, uDepth := missingRunMM/4, missingDepthMM/4
	if longest.to > longest.from {
		uLength, uDepth, uOpening = uRunEndMM*math.Sqrt2, uDepthMM, math.Hypot(uDepthMM, 0.02)
	}
	b.set(record.MissingLengthMax, longest.to-longest.from, uncertainty.Budget{
		{Name: "definition", Source: "both ends of the run", Standard: uLength},
		{Name: "doubt", Source: "a run that the regions show and the picture does not", Standard: math.Max(0, unsure-longest.to+longest.from) / uncertainty.CoverageFactor},
	})
	b.set(record.MissingDepthMax, deepest.depth, uncertainty.Budget{{Name: "definition", Source: "bottom of the piece", Standard: uDepth}})
	b.set(record.SeamOpeningMax, open, uncertainty.Budget{{Name: "definition", Source: "dark groove between rounded edges", Standard: uOpening}})
	return lost
}

// lostPiece is a missing piece of a wing: its run, and how far strands are seen in each slice from x0 on.
type lostPiece struct {
	side side
	run
	x0, usual float64
	depths    []float64
}

type lostPieces []lostPiece

// at is how far the tip edge of a wing stands behind its line at x.
func (l lostPieces) at(sd side, x float64) float64 {
	for _, p := range l {
		if i := int((x - p.x0) / sliceMM); p.side == sd && x >= p.from && x <= p.to && i >= 0 && i < len(p.depths) {
			return math.Max(0, p.depths[i]-p.usual)
		}
	}
	return 0
}

// mean is how far both tip edges stand behind their lines over a length on the average, and by how much (tangent) the seam's best line
// turns by it: the seam is the middle between the tip edges.
func (l lostPieces) mean(from, to float64) (left, right, turn float64) {
	var n, moment, square float64
	mid := (from + to) / 2
	for x := from; x <= to; x += sliceMM {
		a, c := l.at(+1, x), l.at(-1, x)
		left, right, n = left+a, right+c, n+1
		moment, square = moment+(x-mid)*(a-c)/2, square+sq(x-mid)
	}
	return left / n, right / n, moment / square
}

// markMissing notes a missing piece for drawing.
func (b *bench) markMissing(s sleeve, sd side, r run) {
	y := s.seam.at((r.from + r.to) / 2)
	out := y + float64(sd)*r.depth
	b.mark(record.MarkMiss, record.MissingLengthMax, b.body.tips, [2]float64{r.from, y}, [2]float64{r.from, out},
		[2]float64{r.to, out}, [2]float64{r.to, y}, [2]float64{r.from, y})
}
