package photo

import (
	"math"
	"slices"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

const (
	brushLeastMM = 0.06 // brush that reaches less far beyond the front edge is not told from the edge itself
	brushMostMM  = 3.2
	brushNearMM  = 0.12 // a strand's end is looked for this far from where its region ends
	fewBrush     = 0.15 // of the conductor's width: with less brush there is none
)

// What scan lines across the brush show is the foremost of the strands that lie over each other. The mean over all strands
// whose tips can be seen lies underShare of the scan lines' spread below theirs, the least one shortMM below.
// Found on ray-traced brushes of 50 to 84 strands, which differed from this by the standard deviations beside.
const (
	underShare, uUnderMM = 0.25, 0.035
	shortMM, uShortMM    = 0.21, 0.1
)

// brush measures the strands that show in front of the sleeve: on each scan line to where the brush's region ends, and
// within brushNearMM of that to where the brightness changes most.
func (b *bench) brush(s sleeve) {
	half := math.Min(b.body.bundle, (s.left.at(s.frontX)-s.right.at(s.frontX))/2-0.2)
	centre := s.middle(s.frontX)
	_, rim := b.rims(s)
	front := b.atHeight(s.frontX, centre, rim.z)
	var tips []float64
	lines := 0
	for y := centre - half; y+scanStepMM <= centre+half+1e-9; y += scanStepMM {
		lines++
		x, ok := b.brushTip(s.frontX, y+scanStepMM/2)
		if !ok {
			continue
		}
		tips = append(tips, math.Max(0, b.atHeight(x, y, tipShare*b.body.bundle)-front))
		b.mark(record.MarkScan, record.BrushMean, 0, [2]float64{s.frontX, y + scanStepMM/2}, [2]float64{x, y + scanStepMM/2})
	}
	slope, _ := b.slopes()
	angle := uncertainty.Component{Name: "angle", Source: "heights of strand ends and front edge, times the slope of view",
		Standard: math.Abs(slope) * math.Hypot(rim.u, uTipMM)}
	edge := uncertainty.Component{Name: "edge", Source: "where strands and the front edge end", Standard: math.Hypot(0.03, s.front.u)}
	if float64(len(tips)) < max(3, fewBrush*float64(lines)) {
		b.noBrush(tips, uncertainty.Budget{edge, angle, b.hiddenBrush(rim)})
		return
	}
	longest, least := subpixel.Percentile(tips, 95), subpixel.Percentile(tips, 5)
	mean := meanOf(tips) - underShare*(longest-least)
	b.set(record.BrushMean, math.Max(0, mean), uncertainty.Budget{edge, angle,
		{Name: "definition", Source: "strands that end under others", Standard: uUnderMM}})
	b.set(record.BrushMax, longest, uncertainty.Budget{edge, angle, {Name: "definition", Source: "single longest strand", Standard: 0.065}})
	b.set(record.BrushMin, math.Max(0, least-shortMM), uncertainty.Budget{edge, angle,
		{Name: "definition", Source: "strands that end under others", Standard: uShortMM}})
}

// noBrush notes that no strands show in front of the sleeve, unless the few scan lines on which some do contradict that.
func (b *bench) noBrush(tips []float64, budget uncertainty.Budget) {
	for _, k := range []record.Key{record.BrushMean, record.BrushMax, record.BrushMin} {
		if len(tips) > 0 && slices.Max(tips) > budget.Expanded() {
			b.rec.Miss(k, "hardly any of the strands in front of the sleeve can be seen: take the picture from straight above, with nothing over them")
			continue
		}
		b.set(k, 0, budget)
	}
}

// hiddenBrush is what the sleeve's front edge, at a height, hides of the strands where it is seen from the wire's side.
func (b *bench) hiddenBrush(rim height) uncertainty.Component {
	slope, _ := b.slopes()
	return uncertainty.Component{Name: "angle", Source: "strands that the front edge may hide",
		Standard: math.Max(0, slope) * math.Max(0, rim.z+2*rim.u-tipShare*b.body.bundle) / uncertainty.CoverageFactor}
}

// Strand ends that can be seen from above are those of the upper half of the bundle.
const tipShare, uTipMM = 0.6, 0.4

// brushTip is where the brush ends on a scan line; ok is false where none is seen.
func (b *bench) brushTip(front, y float64) (x float64, ok bool) {
	share := func(x, y float64) float64 {
		return b.part.Regions.At(part.Brush, b.frame, x, y) + b.part.Regions.At(part.Strays, b.frame, x, y)
	}
	brush := regionEnd{share: share, from: b.pastFace(front+brushLeastMM, y, share), inside: -1, far: brushMostMM}
	x, ok = brush.border(y)
	if !ok {
		return 0, false
	}
	reach := subpixel.Both(0.15 * b.ppm)
	near := x - brushNearMM - 0.15
	l := b.along(near, x+brushNearMM+0.15, y-scanStepMM/2, y+scanStepMM/2)
	at := (x - near) * b.ppm
	if e, ok := subpixel.FindBorder(l, at-brushNearMM*b.ppm, at+brushNearMM*b.ppm, reach, b.blurPX); ok && e.Gain > 0.5 {
		x = (x + near + e.Pos/b.ppm) / 2
	}
	return x, true
}

// faceMM is how far the sleeve's front face, as thick as its sheet, may reach where it is seen from the body's side.
const faceMM = 0.8

// pastFace goes from x on over the sleeve's front face to where the strands begin; it stays where there are none behind it.
func (b *bench) pastFace(x, y float64, strands func(x, y float64) float64) float64 {
	for to := x; to < x+faceMM; to += endStepMM {
		if strands(to, y) >= 0.5 {
			return to
		}
		if strands(to, y)+b.part.Regions.At(part.Sleeve, b.frame, to, y) < 0.5 {
			break
		}
	}
	return x
}
