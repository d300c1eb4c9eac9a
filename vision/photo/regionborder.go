package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/subpixel"
)

// regionBorder is a border of the picture that is looked for near the border of a region. The regions tell what lies where;
// of the picture's borders there the one is taken that stands out most and agrees with the regions. Where it lies is
// then a mean of both: of the border fitted to the picture, which counts much where it is clear, and of the region's own
// border, which counts much where the regions are sure.
type regionBorder struct {
	lines  [][][]float64 // scan lines: channel, sample; brightness
	start  []float64     // where each line's first sample lies, mm in the direction in which the samples run
	share  []float64     // how much speaks for the region at each sample, 0..1, mean over the lines
	inside float64       // -1 where the region lies before its border, +1 where it lies behind it
	reach  subpixel.Reach
}

const (
	surelyLn    = 1.5   // odds of 4 or 5 to 1: what is less sure than that says little,
	littleShare = 0.2   // this share of its odds
	mostLn      = 4.6   // and odds beyond 100 to 1 say no more than those
	oddsPerPX   = 0.5   // neighbouring pixels of the regions are not independent
	faintLn     = 0.03  // ln of brightness: borders fainter than this are grain
	lineFreeMM  = 0.1   // a single line may differ from all together by this much
	lineGain    = 0.3   // and its own border must explain this share of its unrest
	softMM      = 0.15  // a sure region's share falls from 0.9 to 0.1 over this length
	gridSDMM    = 0.04  // standard uncertainty of a sure region's border, which lies on a grid of 0.06 mm
	clearSDMM   = 0.02  // standard uncertainty of a clear border in the picture,
	faintSDMM   = 0.004 // and what its faintness adds: this over its amplitude in ln of brightness
)

// found is the border in each line.
type found struct {
	points []subpixel.Point // X: number of the line, Y: mm in the direction of the samples
	u      float64          // standard uncertainty of their common place, mm
}

// sleeveShare is how much speaks for the sleeve at a place, what is seen through it included.
func (b *bench) sleeveShare(x, y float64) float64 {
	return b.part.Regions.At(part.Sleeve, b.frame, x, y) + b.part.Regions.At(part.Through, b.frame, x, y)
}

// find looks at the lines together for which border it is: at the percentiles over them, in which a single strand, glint or
// spot leaves no trace, of ln brightness, in which a dark thing's edge counts like a bright one's. Each line then has
// its own place, fitted in brightness as it is: in its logarithm blur moves a bright thing's edge outwards.
func (r *regionBorder) find(b *bench) (f found, ok bool) {
	if len(r.lines) < 3 {
		return f, false
	}
	ln := make([][][]float64, len(r.lines))
	for k, l := range r.lines {
		ln[k] = logarithm(l)
	}
	rough, amplitude, ok := r.best(b, percentiles(ln, 25, 50, 75))
	if !ok {
		return f, false
	}
	pos := subpixel.SettleBorder(percentiles(r.lines, 25, 50, 75), rough, r.reach, b.blurPX).Pos
	place, u := r.weighed(pos/b.ppm, amplitude, b.ppm)
	f.u = u
	for k, l := range r.lines {
		if e := subpixel.SettleBorder(l, pos, r.reach, b.blurPX); e.Gain > lineGain && math.Abs(e.Pos-pos) < lineFreeMM*b.ppm {
			f.points = append(f.points, subpixel.Point{X: float64(k), Y: r.start[k] + (e.Pos-pos)/b.ppm + place})
		}
	}
	if len(f.points) < len(r.lines)/2 { // too faint for single lines
		f.points = nil
		for k := range r.lines {
			f.points = append(f.points, subpixel.Point{X: float64(k), Y: r.start[k] + place})
		}
	}
	return f, true
}

// best is the likeliest border (samples) of a profile with its amplitude: its likelihood is its amplitude times the odds of all
// places for the side on which they then lie.
func (r *regionBorder) best(b *bench, p [][]float64) (pos, amplitude float64, ok bool) {
	agree := r.agreement(b)
	best := math.Inf(-1)
	for x := r.reach.Before; x <= float64(len(p[0])-1)-r.reach.After; x += 0.5 {
		s, _ := subpixel.BorderStrength(p, x, r.reach, b.blurPX)
		a := math.Sqrt(math.Max(0, s))
		if m := math.Log(a+faintLn) + agree[int(x)]; m > best {
			best, pos, amplitude, ok = m, x, a, true
		}
	}
	return pos, amplitude, ok
}

// agreement is the ln of how much the regions speak for a border at each sample.
func (r *regionBorder) agreement(b *bench) []float64 {
	odds := func(share float64) float64 {
		o := math.Log((share + 1e-4) / (1 - share + 1e-4))
		a := math.Min(mostLn, math.Abs(o))
		return math.Copysign(littleShare*a+math.Max(0, a-surelyLn), o)
	}
	agree := make([]float64, len(r.share))
	step := -r.inside * oddsPerPX * b.part.Regions.PPM / b.ppm
	for i := 1; i < len(agree); i++ {
		agree[i] = agree[i-1] + step*(odds(r.share[i-1])+odds(r.share[i]))/2
	}
	return agree
}

// weighed is the weighted mean (mm from the first sample) of the picture's border and the region's, with its standard
// uncertainty: that of the weights, or, where both differ by more than these say, that of their scatter (Birge 1932).
// How sure either is was found on pictures of known outlines.
func (r *regionBorder) weighed(seen, amplitude, ppm float64) (place, u float64) {
	region, soft := r.crossing(0.5)/ppm, math.Abs(r.crossing(0.1)-r.crossing(0.9))/ppm
	wRegion := 1 / sq(math.Hypot(gridSDMM, math.Max(0, soft-softMM)/2))
	wSeen := 1 / sq(math.Hypot(clearSDMM, faintSDMM/math.Max(amplitude, 1e-3)))
	place = (wRegion*region + wSeen*seen) / (wRegion + wSeen)
	scatter := wRegion*sq(region-place) + wSeen*sq(seen-place)
	return place, math.Sqrt(math.Max(1, scatter) / (wRegion + wSeen))
}

// crossing is where (samples) the region's share passes a level, coming from outside.
func (r *regionBorder) crossing(level float64) float64 {
	n := len(r.share)
	at := func(k int) float64 { // k counts from outside
		if r.inside < 0 {
			return r.share[n-1-k]
		}
		return r.share[k]
	}
	k := 0.0
	for i := 1; i < n; i++ {
		if at(i) >= level {
			k = float64(i-1) + math.Max(0, level-at(i-1))/math.Max(1e-9, at(i)-at(i-1))
			break
		}
	}
	if r.inside < 0 {
		return float64(n-1) - k
	}
	return k
}
