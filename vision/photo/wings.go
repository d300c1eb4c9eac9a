package photo

import (
	"math"

	"crimprule/vision/record"
	"crimprule/vision/subpixel"
	"crimprule/vision/uncertainty"
)

// wings measures the two wings as seen from straight above: widths, symmetry, and how the seam runs. The side wall that
// shows at the angle of view is taken off the wing on whose side it shows (see model). What the part's own roll adds
// unseen moves one wing only, so it goes into all four values together.
func (b *bench) wings(s sleeve, opening float64) {
	from, to := s.rearX+bellClearMM, s.frontX-frontClearMM
	mid := (from + to) / 2
	seam := s.seam.at(mid)
	_, across := b.slopes()
	eL, eR, _, uL, uR, _ := b.body.exposed(across, b.uSlope())
	goneL, goneR, turned := s.lost.mean(s.rearX+usualBellMM, s.frontX)
	wl := s.left.at(mid) - seam - opening/2 - eL - goneL
	wr := seam - s.right.at(mid) - opening/2 - eR - goneR
	if wl <= 0.2 || wr <= 0.2 {
		for _, k := range []record.Key{record.WingWidthLeft, record.WingWidthRight, record.Symmetry, record.SeamOffset} {
			b.rec.Miss(k, "the seam runs along the sleeve's side: turn the seam up, square under the lens")
		}
		return
	}
	edgeL := math.Hypot(math.Hypot(s.left.line.UOffset, s.left.u), s.seam.line.UOffset)
	edgeR := math.Hypot(math.Hypot(s.right.line.UOffset, s.right.u), s.seam.line.UOffset)
	of := func(edge, roll float64) uncertainty.Budget {
		return uncertainty.Budget{
			{Name: "edge", Source: "scatter of the borders along the side and the seam", Standard: edge},
			{Name: "definition", Source: "where a rounded side ends against the ground; the tip edge in the groove", Standard: sideDefinitionMM},
			{Name: "angle", Source: "side wall seen at the angle of view and the part's own roll", Standard: roll},
		}
	}
	b.set(record.WingWidthLeft, wl, of(edgeL, uL))
	b.set(record.WingWidthRight, wr, of(edgeR, uR))

	// ln(wl/wr) moves by the difference of relative errors; left and right exposure exclude each other, so their
	// errors add.
	relative := math.Hypot(math.Hypot(edgeL, sideDefinitionMM)/wl, math.Hypot(edgeR, sideDefinitionMM)/wr)
	roll := uL/wl + uR/wr
	small, large := math.Min(wl, wr), math.Max(wl, wr)
	ratio := small / large
	b.set(record.Symmetry, ratio, uncertainty.Budget{
		{Name: "edge", Source: "both wings' widths", Standard: relative * ratio},
		{Name: "angle", Source: "side wall seen at the angle of view and the part's own roll", Standard: roll * ratio},
	})
	b.set(record.SeamOffset, (wr-wl)/2, uncertainty.Budget{
		{Name: "edge", Source: "both wings' widths", Standard: math.Hypot(edgeL, edgeR) / 2},
		{Name: "definition", Source: "where rounded sides end against the ground", Standard: sideDefinitionMM / math.Sqrt2},
		{Name: "angle", Source: "side wall seen at the angle of view and the part's own roll", Standard: (uL + uR) / 2},
	})
	b.mark(record.MarkLength, record.WingWidthLeft, 0, [2]float64{mid, seam}, [2]float64{mid, s.left.at(mid)})
	b.mark(record.MarkLength, record.WingWidthRight, 0, [2]float64{mid, s.right.at(mid)}, [2]float64{mid, seam})

	angle := math.Abs(math.Atan(s.seam.line.Dir.Y/s.seam.line.Dir.X+turned)) * 180 / math.Pi
	uAngle := math.Hypot(s.seam.line.UAngle, s.uAxis)
	along := math.Max(1, to-from)
	b.set(record.SeamAngle, angle, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the seam and of the sides along the sleeve", Standard: uAngle * 180 / math.Pi},
		{Name: "definition", Source: "sides that are not quite parallel, over the sleeve's length", Standard: 0.02 / along * 180 / math.Pi},
	})
}

// usualBellMM is how long a bellmouth usually is; common practice, no source.
const usualBellMM = 0.75

// sideDefinitionMM: standard uncertainty of where a rounded, glossy side ends against the ground.
const sideDefinitionMM = 0.025

// opening tells how far the wings stand apart at most, leaving missing pieces out. The groove between two rounded edges
// is dark over some width even where they touch, and blur widens it; only what is wider than that counts as open.
func (b *bench) opening(s sleeve) (mm, u float64) {
	var widths []float64
	for x := s.rearX + 0.3; x+seamBlockMM <= s.frontX-0.2; x += seamBlockMM {
		y := s.seam.at(x + seamBlockMM/2)
		if w, ok := b.darkWidth(b.logAcross(x, x+seamBlockMM, y-0.7, y+0.7)); ok {
			widths = append(widths, w)
		}
	}
	closed := math.Hypot(2.355*b.blurPX/b.ppm, closedGrooveMM)
	if len(widths) < 6 {
		return touchingMM, 0.1
	}
	return math.Max(0, subpixel.Percentile(widths, 90)-closed-touchingMM) + touchingMM, 0.045
}

const (
	closedGrooveMM = 0.115 // the dark width of a groove whose edges touch
	touchingMM     = 0.02  // edges that touch still leave about this
)

// darkWidth is the width (mm) of the groove in the middle of a profile at half its depth.
func (b *bench) darkWidth(v []float64) (float64, bool) {
	n := len(v)
	mid := n / 2
	for i := mid - int(0.15*b.ppm); i <= mid+int(0.15*b.ppm); i++ {
		if v[i] < v[mid] {
			mid = i
		}
	}
	flank := int(flankMM*b.ppm + 0.5)
	if mid-flank < 0 || mid+flank >= n {
		return 0, false
	}
	level := v[mid] + (math.Min(v[mid-flank], v[mid+flank])-v[mid])/2
	if level-v[mid] < 0.05 {
		return 0, false
	}
	l, r := float64(mid), float64(mid)
	for i := mid; i > 0; i-- {
		if v[i-1] > level {
			l = float64(i) - (level-v[i])/(v[i-1]-v[i])
			break
		}
	}
	for i := mid; i+1 < n; i++ {
		if v[i+1] > level {
			r = float64(i) + (level-v[i])/(v[i+1]-v[i])
			break
		}
	}
	return (r - l) / b.ppm, true
}
