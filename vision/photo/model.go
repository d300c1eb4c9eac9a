package photo

import (
	"math"

	"crimprule/vision/record"
)

// model is what is assumed of the part's third dimension, which a single picture does not show. It only feeds
// corrections for the angle of view, with its own uncertainty. Heights are from the conductor's axis, in mm.
//
// The sleeve's section is taken as two humps on straight side walls. Strands and sheet keep their metal, so the walls'
// height follows from the conductor's area and the inner width: wall = area/(width - 2·sheet), plus wallExtra of it for
// the voids and the seam's groove between the humps. The wings' tip edges and the walls' upper ends lie at one height: in
// a view from the left by the angle a the left wall shows its face, wall·tan(a) wide, and looks like wing; the right
// wing looks as it is. These ratios were measured on ray-traced crimps of 2.5 to 10 mm² and agree with two rolled
// half cylinders on a filled box; drawn crimps with rounder shoulders show half as much; real ones differ by uWall and uTop.
type model struct {
	wall, uWall   float64 // height of the side walls
	top, uTop     float64 // height of the humps' upper rim at the sleeve's ends
	tips          float64 // height at which the wings' tip edges are seen
	wire          float64 // radius of the insulation
	bundle        float64 // radius of the bare conductor
	sheet, strand float64
}

const (
	wallExtra     = 0.07
	rollSDdeg     = 2.0 // a person lays the part seam up to within some degrees
	fillOfBundle  = 0.75
	typicalSheet  = 0.7
	typicalStrand = 0.3
)

// newModel builds the model from what is declared and the sleeve's width (mm) as first seen; what is not declared is
// taken from common proportions at a wider uncertainty.
func newModel(d record.Declared, wireMM, widthMM float64) model {
	m := model{wire: wireMM / 2, sheet: d.SheetThickness, strand: d.StrandDiameter}
	if m.sheet == 0 {
		m.sheet = typicalSheet
	}
	if m.strand == 0 {
		m.strand = typicalStrand
	}
	inner := math.Max(1, widthMM-2*m.sheet)
	area, rel := d.ConductorArea, 0.25
	if area == 0 && d.StrandCount > 0 && d.StrandDiameter > 0 {
		area = d.StrandCount * math.Pi / 4 * d.StrandDiameter * d.StrandDiameter
	}
	if area == 0 {
		area, rel = 0.75*inner*inner, 0.35 // a cavity three quarters as high as it is wide
	}
	m.wall = (1 + wallExtra) * area / inner
	m.uWall = rel * m.wall
	m.top, m.uTop, m.tips = 1.0+0.5*m.wall, 0.35, 1.0
	m.bundle = math.Sqrt(area / fillOfBundle / math.Pi)
	return m
}

// exposed is the mean over the part's unknown roll of how much of the left and right side walls is seen, and of both
// together, with standard deviations: the wall's height times the positive part of the tangent of the angle of view
// (slope, positive when the part lies left of the camera, so that its right wall shows), roll being normal with rollSDdeg.
func (m model) exposed(slope, uSlope float64) (left, right, both, uLeft, uRight, uBoth float64) {
	s := math.Hypot(rollSDdeg*math.Pi/180, uSlope) * (1 + slope*slope) // the tangent's own slope
	l, lv := positivePart(-slope, s)
	r, rv := positivePart(slope, s)
	a := l + r
	// |t| = l + r with l·r = 0, so E t² = slope² + s².
	av := math.Max(0, slope*slope+s*s-a*a)
	u := func(mean, variance float64) float64 {
		return math.Hypot(math.Hypot(m.wall, m.uWall)*math.Sqrt(variance), m.uWall*mean)
	}
	return m.wall * l, m.wall * r, m.wall * a, u(l, lv), u(r, rv), u(a, av)
}

// positivePart gives mean and variance of max(0, t) for t normal with mean mu and standard deviation s.
func positivePart(mu, s float64) (mean, variance float64) {
	z := mu / s
	phi := math.Exp(-z*z/2) / math.Sqrt(2*math.Pi)
	cdf := 0.5 * math.Erfc(-z/math.Sqrt2)
	mean = mu*cdf + s*phi
	square := (mu*mu+s*s)*cdf + mu*s*phi
	return mean, math.Max(0, square-mean*mean)
}
