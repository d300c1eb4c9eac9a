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
	View      record.View // what is asked for
	// Debug, where set, is handed pictures of the stages.
	Debug func(stage string, mat gocv.Mat)
}

// Part is a found part. Its frame has x along the sleeve's axis from the wire to the body, y = 0 in the middle of the
// sleeve (strip: of the wire) and x = 0 where the insulation was seen to end. In a strip view RearX is 0 and FrontX is where
// the strands end.
type Part struct {
	Frame         Frame
	Regions       *Regions    // what each place round the part shows; nil where the finder cannot tell
	View          record.View // seam, side or strip, as the part was seen to lie
	ViewShare     float64     // how much speaks for that view, 0.5..1
	Certainty     float64     // mean share of the likeliest class over the sleeve, 0..1: the finder's own doubt
	WireMM        float64     // width of the insulation
	UHeightMM     float64     // standard uncertainty of the axis' height, the frame's origin
	RearX, FrontX float64     // the sleeve's ends, mm, good to some 0.2 mm
	Margin        float64     // how much the next best place falls short of this one: 0 not at all .. 1 there is none
}

// Finder finds the part of a scene. The error is a scale.Refusal where the picture shows no part that can be measured.
type Finder interface {
	Find(s Scene) (Part, error)
}

const (
	typicalWire  = 5.8
	axisBelowMM  = 0.05  // the axis lies this much below half the wire's width: droop
	uAxisHeight  = 0.138 // of that, and of the insulation's diameter as declared
	uHeightGuess = 0.6
	uWireSeen    = 0.12 // of the insulation's diameter as its region shows it
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
