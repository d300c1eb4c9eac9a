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
	b.bellmouth(s)
	s.flare = typicalFlareMM
	if v, ok := b.rec.Measured[record.BellmouthFlare]; ok {
		s.flare = v.Value
	}
	b.sleeveSize(s)
	b.gap(s)
	opening, uOpening := b.opening(s)
	s.lost = b.missing(s, opening, uOpening)
	b.wings(s, opening)
	b.brush(s)
	b.bend(s)
	b.strays(s)
	for _, key := range record.Keys(record.Seam) {
		rec.Miss(key, "it could not be told in this picture")
	}
}

// sleeve is what the measurands of the seam view share.
type sleeve struct {
	rear, front crossEdge
	rearX       float64 // ends as seen on the axis' plane, mm
	frontX      float64
	left, right outline
	seam        seamLine
	flare       float64 // of the bellmouth, mm
	lost        lostPieces
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
	if b.part.Regions == nil {
		return s, noRegions
	}
	rear, front := b.part.RearX, b.part.FrontX
	for round := range 2 {
		var ok bool
		if s.left, s.right, ok = b.sides(rear, front); !ok {
			return s, noSides
		}
		if s.seam, ok = b.findSeam(rear, front, s.right.at((rear+front)/2), s.left.at((rear+front)/2)); !ok {
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
	mid := (rear + front) / 2
	seam := s.seam.at(mid)
	l, r := s.left.at(mid)-seam, seam-s.right.at(mid)
	crowns := []band{{seam + 0.25*l, seam + 0.75*l}, {seam - 0.75*r, seam - 0.25*r}}
	within := math.Min(1, (front-rear)/3)
	var ok bool
	if s.rear, ok = (regionEnd{share: b.sleeveShare, from: rear + within, inside: 1, far: within + 0.8}).find(b, crowns...); !ok {
		return fmt.Sprintf(noEnd, "rear")
	}
	if s.front, ok = (regionEnd{share: b.sleeveShare, from: front - within, inside: -1, far: within + 0.8}).find(b, crowns...); !ok {
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

// rims are the heights at which the rear and the front edge are seen: the flare lifts the rear's rim as it widens the sides,
// and the front sinks, since the wire is thicker than what carries the contact's other end.
func (b *bench) rims(s sleeve) (rear, front height) {
	sinks := pitchTan * (s.frontX - s.rearX)
	return height{b.body.top + s.flare, b.body.uTop}, height{b.body.top - sinks, math.Hypot(b.body.uTop, uPitchTan*(s.frontX-s.rearX))}
}

// typicalFlareMM is the bellmouth's flare where it could not be measured.
const typicalFlareMM = 0.18

// pitchTan is how much the part's axis sinks along x, as seen on parts laid on a table, 0.7 +- 0.6 degrees.
const pitchTan, uPitchTan = 0.012, 0.0105

// sleeveSize measures length and width.
func (b *bench) sleeveSize(s sleeve) {
	rearRim, frontRim := b.rims(s)
	rear, front := b.atHeight(s.rearX, 0, rearRim.z), b.atHeight(s.frontX, 0, frontRim.z)
	slope, across := b.slopes()
	b.set(record.SleeveLength, front-rear, uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at both ends", Standard: math.Hypot(s.rear.u, s.front.u)},
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: endDefinitionMM * math.Sqrt2},
		{Name: "height", Source: "height of the upper rim", Standard: b.body.uTop * (front - rear) / b.ref.Camera.Position().Z},
		{Name: "angle", Source: "upper rims at both ends differ in height", Standard: math.Abs(slope) * math.Hypot(uPitchTan*(front-rear), 0.1)},
	})
	b.mark(record.MarkLength, record.SleeveLength, b.body.top, [2]float64{rear, 0}, [2]float64{front, 0})

	mid := (s.rearX + s.frontX) / 2
	seen := (s.left.at(mid) - s.right.at(mid)) / math.Sqrt(1+across*across)
	_, _, both, _, _, uBoth := b.body.exposed(across, b.uSlope())
	b.set(record.SleeveWidth, seen-both, uncertainty.Budget{
		{Name: "edge", Source: "scatter of the borders along both sides", Standard: math.Hypot(s.left.u, s.right.u)},
		{Name: "definition", Source: "where a rounded side ends against the ground", Standard: sideDefinitionMM * math.Sqrt2},
		{Name: "angle", Source: "side wall seen at the angle of view and the part's own roll", Standard: uBoth},
	})
	b.mark(record.MarkLength, record.SleeveWidth, 0, [2]float64{mid, s.right.at(mid)}, [2]float64{mid, s.left.at(mid)})
}

// uSlope is the standard uncertainty of the slopes under which the part is seen.
func (b *bench) uSlope() float64 {
	return b.ref.UViewDeg(b.frame.World((b.part.RearX+b.part.FrontX)/2, 0, 0)) * math.Pi / 180
}
