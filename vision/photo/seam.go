package photo

import (
	"fmt"
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
		rec.Miss(key, "it could not be told in this picture")
	}
}

// The coarse search loses the sleeve some way before its flared rear edge, and the groove fades a little before either
// edge; endSDMM is how well both together tell where the sleeve ends. They only tell borders apart.
const (
	coarseLagMM = 0.17
	grooveLagMM = 0.05
	endSDMM     = 0.07
	shoulderMM  = 0.35
)

// sleeve is what the measurands of the seam view share.
type sleeve struct {
	rear, front crossEdge
	rearX       float64 // ends as seen on the axis' plane, mm
	frontX      float64
	left, right outline
	seam        seamLine
	uAxis       float64 // standard uncertainty of the axis' direction, rad
}

const (
	noSides = "the sleeve's sides cannot be told from the ground: use a plain ground whose colour differs from the metal's, and soft light"
	noSeam  = "the seam cannot be seen: lay the contact with its seam up and in even light"
	noEnd   = "the sleeve's %s edge cannot be seen: lay the part free, seam up, and take the picture from straight above"
)

// findSleeve finds the sleeve's sides and seam, turns the frame so that x runs along their mean direction, finds them
// again there, and then the sleeve's ends. why says what the person can do where that fails.
func (b *bench) findSleeve() (s sleeve, why string) {
	rear, front := b.part.RearX, b.part.FrontX
	for round := range 2 {
		var ok bool
		if s.left, s.right, ok = b.findOutlines(rear, front); !ok {
			return s, noSides
		}
		if s.seam, ok = b.findSeam(rear, front); !ok {
			return s, noSeam
		}
		var turn float64
		if turn, s.uAxis = axisTurn(s.left.line, s.right.line, s.seam.line); round == 0 {
			b.frame = b.frame.Moved(0, 0, turn)
			b.resample()
		}
	}
	s.left, s.right = s.left.levelled(), s.right.levelled()
	mid := (rear + front) / 2
	b.body = newModel(b.declared, b.part.WireMM, s.left.at(mid)-s.right.at(mid))
	if why := b.findEnds(&s, rear, front); why != "" {
		return s, why
	}
	b.markSeam(s.seam)
	b.markOutline(s.left, s.rearX, s.frontX)
	b.markOutline(s.right, s.rearX, s.frontX)
	return s, ""
}

// findEnds finds the sleeve's rear and front edge on the crowns of the humps. rear and front are the coarse places.
func (b *bench) findEnds(s *sleeve, rear, front float64) (why string) {
	from, to := b.grooveEnds(s.seam, rear, front)
	mid := (rear + front) / 2
	seam := s.seam.at(mid)
	l, r := s.left.at(mid)-seam, seam-s.right.at(mid)
	crowns := []band{{seam + 0.25*l, seam + 0.75*l}, {seam - 0.75*r, seam - 0.25*r}}
	shoulders := []band{{seam + 0.6*l, seam + 0.92*l}, {seam - 0.92*r, seam - 0.6*r}}
	wantRear := math.Max(rear-coarseLagMM, from)
	if e, ok := b.searchCross(expectation{wantRear, 0.4}, math.Max(-0.3, wantRear-0.3), wantRear+0.9, strongest, shoulders...); ok && e.x > wantRear+shoulderMM {
		wantRear = e.x // beside the conductor the ground ends where the sleeve begins
	}
	slope, _ := b.slopes()
	wantFront := math.Min(front, to+grooveLagMM+(b.body.top-b.body.tips)*slope)
	var ok bool
	if s.rear, ok = b.findCross(expectation{wantRear, endSDMM}, crowns...); !ok {
		return fmt.Sprintf(noEnd, "rear")
	}
	if s.front, ok = b.findCross(expectation{wantFront, endSDMM}, crowns...); !ok {
		return fmt.Sprintf(noEnd, "front")
	}
	s.rearX, s.frontX = s.rear.x, s.front.x
	b.markCross(record.SleeveLength, s.rear)
	b.markCross(record.SleeveLength, s.front)
	return ""
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
	slope, across := b.slopes()
	b.set(record.SleeveLength, front-rear, uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at both ends", Standard: math.Hypot(s.rear.u, s.front.u)},
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: endDefinitionMM * math.Sqrt2},
		{Name: "height", Source: "height of the upper rim", Standard: b.body.uTop * (front - rear) / b.ref.Camera.Position().Z},
		{Name: "angle", Source: "upper rims at both ends differ in height", Standard: math.Abs(slope) * 0.15},
	})
	b.mark(record.MarkLength, record.SleeveLength, top, [2]float64{rear, 0}, [2]float64{front, 0})

	mid := (s.rearX + s.frontX) / 2
	seen := s.left.at(mid) - s.right.at(mid)
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
