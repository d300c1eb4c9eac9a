// Package part finds where in a picture the crimped part lies: its own frame and, to within a few tenths of a
// millimetre, where the insulation ends and where the sleeve begins and ends. It says where to look, never what a value
// is; measuring is left to the packages of the views.
package part

import (
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// Scene is what a finder works on.
type Scene struct {
	Mat       gocv.Mat // 8-bit BGR, upright; owned by the caller
	Image     Image    // the same pixels
	Reference scale.Reference
	Declared  record.Declared
	// Debug, where set, is handed pictures of the stages.
	Debug func(stage string, mat gocv.Mat)
}

// Part is a found part. Its frame has x along the sleeve's axis from the wire to the body, y = 0 on the seam (other
// views: in the middle) and x = 0 where the insulation was seen to end. In a strip view RearX is 0 and FrontX is where
// the strands end.
type Part struct {
	Frame         Frame
	Regions       *Regions    // what each place round the part shows; nil where the finder cannot tell
	View          record.View // seam, side or strip, as the part was seen to lie
	ViewShare     float64     // how much speaks for that view, 0.5..1
	Certainty     float64     // mean share of the likeliest class over the sleeve, 0..1: the finder's own doubt
	WireMM        float64     // width of the insulation
	RearX, FrontX float64     // the sleeve's ends, mm, good to some 0.4 mm
	Score         float64
	Margin        float64 // how much the next best place falls short of this one: 0 not at all .. 1 there is none
}

// Finder finds the part of a scene. The error is a scale.Refusal where the picture shows no part that can be measured.
type Finder interface {
	Find(s Scene) (Part, error)
}

// Classical finds the part by its edges: a bar's end for the insulation, then a stretch of equal columns for the
// sleeve. It needs no training and no colour.
type Classical struct{}

var _ Finder = Classical{}

const (
	searchPPM    = 4  // of the level picture in which the wire's end is looked for
	stripPPM     = 12 // of the strip in which the sleeve is looked for
	typicalWire  = 5.8
	depthEnough  = 0.25 // of the seam's groove: half of what the faintest clear seam shows
	likeEnough   = 0.6
	calmEnough   = 0.4   // polished metal taken for insulation shows 0.4 and more, insulation up to 0.25
	axisBelowMM  = 0.05  // the axis lies this much below half the wire's width: droop
	uAxisHeight  = 0.138 // of that, and of the insulation's diameter as declared
	uHeightGuess = 0.6
)

// AxisHeight is the height of the conductor's axis above the reference's plane, with its standard uncertainty, for a wire
// that lies on the ground beside the reference.
func AxisHeight(d record.Declared, ref scale.Reference) (mm, u float64) {
	wireMM, uMM := typicalWire, uHeightGuess
	if d.InsulationDiameter > 0 {
		wireMM, uMM = d.InsulationDiameter, uAxisHeight
	}
	return wireMM/2 - axisBelowMM + ref.GroundZMM, math.Hypot(uMM, ref.UGroundMM)
}

// Find implements Finder.
func (Classical) Find(s Scene) (Part, error) {
	height, _ := AxisHeight(s.Declared, s.Reference)
	level, err := NewLevel(s.Mat, s.Reference.Camera, height, searchPPM, Occupied(s.Reference))
	if err != nil {
		return Part{}, err
	}
	widths := []float64{4.8, 5.4, 6.0, 6.7, 7.5}
	if d := s.Declared.InsulationDiameter; d > 0 {
		widths = []float64{d}
	}
	best, second := Part{}, 0.0
	ends := findWireEnds(level, widths)
	for _, e := range ends {
		p, ok := s.try(e, height)
		switch {
		case !ok:
		case p.Score > best.Score:
			best, second = p, best.Score
		default:
			second = math.Max(second, p.Score)
		}
	}
	s.show(level, ends, best)
	if best.Score == 0 {
		return Part{}, scale.Refusal{Reason: "no crimped contact was found: lay it beside the scale reference, seam up, " +
			"with the wire's insulation in the picture, on a plain ground"}
	}
	best.Margin = 1 - second/best.Score
	return best, nil
}

// try looks for a sleeve beyond a wire's end.
func (s Scene) try(e wireEnd, height float64) (Part, bool) {
	f := Frame{Camera: s.Reference.Camera, Origin: scale.Vec{X: e.X, Y: e.Y, Z: height}, Angle: e.Angle}
	fit := findAxis(NewStrip(s.Image, f, -2, profileToMM+0.2, -4.5, 4.5, 0, stripPPM), e.D)
	if fit.Depth < depthEnough || fit.Calm > calmEnough || math.Abs(fit.AxisY) > 0.3*e.D ||
		math.Abs(fit.Turn) > (turnMaxDeg-turnStepDeg/2)*math.Pi/180 {
		return Part{}, false
	}
	fit = findEnds(NewStrip(s.Image, f, -2, profileFromMM+sleeveMaxMM+1, -4.5, 4.5, 0, stripPPM), fit, e.D)
	length := fit.FrontX - fit.RearX
	if fit.Likeness < likeEnough || length < sleeveMinMM || length > sleeveMaxMM || fit.RearX > gapMaxMM {
		return Part{}, false
	}
	return Part{Frame: f.Moved(0, fit.AxisY, fit.Turn), WireMM: e.D, RearX: fit.RearX, FrontX: fit.FrontX,
		Score: e.Score + 0.1*fit.Depth}, true
}
