package photo

import (
	"math"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	leastTips    = 4    // scan lines
	tipEdgeMM    = 0.04 // standard uncertainty of where the brush's region ends, the mean over scan lines
	tipsApartMM  = 0.2  // a scan line that ends farther from most others shows the neck, not strands
	hiddenMM     = 0.10 // the mean over strands lies this much behind the mean over scan lines,
	uHiddenMM    = 0.045
	deepestMM    = 0.32 // the least strand this much,
	uDeepestMM   = 0.17
	foremostMM   = 0.05 // and the longest this much before what most scan lines show
	uForemostMM  = 0.06
	mostHiddenOf = 0.4 // of a short brush's own length
)

// sideBrush measures the strands in front of the sleeve that the neck leaves free: along each scan line to where the
// brush's region ends. The ends that are seen lie about as high as the axis.
//
// A scan line shows the foremost of the strands that lie over each other there, and a region is smooth: single strands
// end earlier, the longest later. By how much was taken from 33 ray-traced brushes of 0.4 to 1.5 mm, seen from
// all sides; it stays in u.
func (b *bench) sideBrush(s sleeve) {
	tips := b.brushTips(s)
	edge := uncertainty.Component{Name: "edge", Source: "where strands and the front edge end", Standard: math.Hypot(tipEdgeMM, sideEndMM)}
	if len(tips) < leastTips {
		flush := uncertainty.Component{Name: "definition", Source: "strands too short to be told from the front edge", Standard: brushLeastMM / 2}
		b.noBrush(tips, uncertainty.Budget{edge, flush, b.hiddenBrush(height{b.body.top, b.body.uTop})})
		return
	}
	mean, longest := meanOf(tips), subpixel.Percentile(tips, 90)
	slope, _ := b.slopes()
	angle := uncertainty.Component{Name: "angle", Source: "heights of strand ends and front edge, times the slope of view and of the axis",
		Standard: math.Hypot(slope*0.5*b.body.bundle, uPitch*b.body.top)}
	hidden := func(u float64) uncertainty.Component {
		return uncertainty.Component{Name: "definition", Source: "strands that end under others", Standard: u}
	}
	b.set(record.BrushMean, mean-math.Min(hiddenMM, mostHiddenOf*mean), uncertainty.Budget{edge, angle, hidden(uHiddenMM)})
	b.set(record.BrushMax, longest+foremostMM, uncertainty.Budget{edge, angle, {Name: "definition", Source: "single longest strand", Standard: uForemostMM}})
	b.set(record.BrushMin, math.Max(0, mean-deepestMM), uncertainty.Budget{edge, angle, hidden(uDeepestMM)})
}

// brushTips is how far the brush reaches in front of the sleeve, one value a scan line.
func (b *bench) brushTips(s sleeve) []float64 {
	mid := s.middle(s.frontX)
	front := b.atHeight(s.frontX, mid, b.body.top)
	half := (s.left.at(s.frontX) - s.right.at(s.frontX)) / 2
	var ys, all []float64
	for y := mid - half + scanStepMM/2; y < mid+half; y += scanStepMM {
		if x, ok := b.brushEnd(s.frontX, y); ok {
			ys, all = append(ys, y), append(all, x-front)
		}
	}
	if len(all) == 0 {
		return nil
	}
	var tips []float64
	_, off, _ := aboutMedian(all)
	for k, t := range all {
		if math.Abs(off[k]) <= tipsApartMM {
			tips = append(tips, math.Max(0, t))
			b.mark(record.MarkScan, record.BrushMean, 0, [2]float64{s.frontX, ys[k]}, [2]float64{front + t, ys[k]})
		}
	}
	return tips
}

// brushEnd is where the brush's region ends along x on a scan line; ok is false where there is none.
func (b *bench) brushEnd(front, y float64) (x float64, ok bool) {
	const step, gap = 0.02, 0.15
	last := b.pastFace(front, y, b.shareOfClass(part.Brush))
	for x := front - 0.1; x < front+brushMostMM && x < last+gap; x += step {
		if b.part.Regions.At(part.Brush, b.frame, x, y) > 0.5 {
			last, ok = x, true
		}
	}
	return last, ok && last > front+brushLeastMM
}
