package photo

import (
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/part"
	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/uncertainty"
)

// Subject is a picture in which the scale and the part have been found.
type Subject struct {
	Image     part.Image // 8-bit BGR, upright
	Reference scale.Reference
	Part      part.Part
	Declared  record.Declared
	// BlurPX is the picture's blur as the standard deviation of the edge spread, in px; 0 where it could not be read.
	BlurPX float64
	// Debug, where set, is handed pictures of the stages.
	Debug func(stage string, mat gocv.Mat)
}

// Seam measures a part seen square onto its seam and fills the record: measured values, reasons for absent ones, and
// marks.
func Seam(subject Subject, rec *record.Record) {
	b := newBench(subject, rec)
	defer b.show("measured strip")
	s, why := b.findSleeve()
	if why != "" {
		rec.Refuse(why)
		return
	}
	b.sleeveSize(s)
	b.gap(s)
	opening, uOpening := b.opening(s)
	b.wings(s, opening)
	b.missing(s, opening, uOpening)
	b.bellmouth(s)
	b.brush(s)
	b.bend(s)
	b.strays(s)
	for _, key := range record.Keys(record.Seam) {
		rec.Miss(key, "not yet measured")
	}
}

// endSDMM is how well the coarse search and the groove's ends tell where the sleeve ends.
const endSDMM = 0.09

// sleeve is what the measurands of the seam view share.
type sleeve struct {
	rear, front crossEdge
	rearX       float64 // ends as seen on the axis' plane, mm
	frontX      float64
	left, right outline
	seam        seamLine
	uAxis       float64 // standard uncertainty of the axis' direction, rad
}

// findSleeve finds the sleeve's sides and ends, turns the frame so that x runs along the sides' mean direction, and
// finds them again there. why says what the person can do where that fails.
func (b *bench) findSleeve() (s sleeve, why string) {
	const noSides = "the sleeve's sides cannot be told from the ground: use a plain ground whose colour differs from the metal's, and soft light"
	rear, front := b.part.RearX, b.part.FrontX
	for round := range 3 {
		var ok bool
		if s.left, s.right, ok = b.findOutlines(rear, front); !ok {
			return s, noSides
		}
		if s.seam, ok = b.findSeam(rear, front); !ok {
			return s, "the seam cannot be seen: lay the contact with its seam up and in even light"
		}
		var turn float64
		if turn, s.uAxis = axisTurn(s.left.line, s.right.line, s.seam.line); round == 2 {
			break
		}
		b.frame = b.frame.Moved(0, 0, turn)
		b.resample()
	}
	s.left, s.right = s.left.levelled(), s.right.levelled()
	mid := (rear + front) / 2
	b.body = newModel(b.declared, b.part.WireMM, s.left.at(mid)-s.right.at(mid))
	b.markSeam(s.seam)
	gf, gt := b.grooveEnds(s.seam, rear, front)
	if debugCandidate != nil {
		debugCandidate("groove %.2f %.2f coarse %.2f %.2f", gf, gt, rear, front)
	}
	seam := s.seam.at(mid)
	wl, wr := s.left.at(mid)-seam, seam-s.right.at(mid)
	crowns := []band{{seam + 0.25*wl, seam + 0.75*wl}, {seam - 0.75*wr, seam - 0.25*wr}}
	slope, _ := b.slopes()
	var ok bool
	if s.rear, ok = b.findCross(expectation{math.Max(rear-0.07, gf), endSDMM}, crowns...); !ok {
		return s, "the sleeve's rear edge cannot be seen: lay the part free, seam up, and take the picture from straight above"
	}
	if s.front, ok = b.findCross(expectation{math.Min(front+0.03, gt+(b.body.top-b.body.tips)*slope), endSDMM}, crowns...); !ok {
		return s, "the sleeve's front edge cannot be seen: lay the part free, seam up, and take the picture from straight above"
	}
	s.rearX, s.frontX = s.rear.x, s.front.x
	b.markCross(record.SleeveLength, s.rear)
	b.markCross(record.SleeveLength, s.front)
	b.markOutline(s.left, s.rearX, s.frontX)
	b.markOutline(s.right, s.rearX, s.frontX)
	return s, ""
}

// atHeight turns an x that was read on the axis' plane into the x of the point that stands z above it there.
func (b *bench) atHeight(x, y, z float64) float64 {
	p := b.frame.Pixel(x, y, 0)
	hx, _ := b.frame.FromPixel(p, z)
	return hx
}

// sleeveSize measures length and width.
func (b *bench) sleeveSize(s sleeve) {
	top := b.body.top
	rear, front := b.atHeight(s.rearX, 0, top), b.atHeight(s.frontX, 0, top)
	slope, _ := b.slopes()
	b.set(record.SleeveLength, front-rear, uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at both ends", Standard: math.Hypot(s.rear.u, s.front.u)},
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: endDefinitionMM * math.Sqrt2},
		{Name: "height", Source: "height of the upper rim", Standard: b.body.uTop * (front - rear) / b.ref.Camera.Position().Z},
		{Name: "angle", Source: "upper rims at both ends differ in height", Standard: math.Abs(slope) * 0.15},
	})
	b.mark(record.MarkLength, record.SleeveLength, top, [2]float64{rear, 0}, [2]float64{front, 0})

	mid := (s.rearX + s.frontX) / 2
	seen := s.left.at(mid) - s.right.at(mid)
	_, across := b.slopes()
	_, _, both, _, _, uBoth := b.body.exposed(across, b.uSlope())
	b.set(record.SleeveWidth, seen-both, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders along both sides", Standard: math.Hypot(s.left.line.UOffset, s.right.line.UOffset)},
		{Name: "definition", Source: "where a rounded side ends against the ground", Standard: sideDefinitionMM * math.Sqrt2},
		{Name: "angle", Source: "side wall seen at the angle of view and the part's own roll", Standard: uBoth},
	})
	b.mark(record.MarkLength, record.SleeveWidth, 0, [2]float64{mid, s.right.at(mid)}, [2]float64{mid, s.left.at(mid)})
}

// uSlope is the standard uncertainty of the slopes under which the part is seen.
func (b *bench) uSlope() float64 {
	return b.ref.UViewDeg(b.frame.World((b.part.RearX+b.part.FrontX)/2, 0, 0)) * math.Pi / 180
}
