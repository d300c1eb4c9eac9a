// Package section measures the micrograph of a crimp's cross-section: outline, cavity, wings, strands and voids.
//
// Frame: x to the right, y up, millimetres; the floor's line is y = 0 and level, x = 0 the middle between the side
// walls. Pixels are those of the upright picture.
package section

import (
	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
)

// Subject is what is measured.
type Subject struct {
	Mat      gocv.Mat // 8-bit BGR, upright; owned by the caller
	Deep     gocv.Mat // the original 16-bit values, one or three channels; empty where there are none
	Scale    scale.Micro
	Declared record.Declared
	// Debug, where set, is handed pictures of the stages.
	Debug func(stage string, mat gocv.Mat)
}

// Measure fills the record with what the section shows. The error is a scale.Refusal where the picture cannot be
// measured, else a fault of ours.
func Measure(s Subject, rec *record.Record) error {
	return scale.Refusal{Reason: "sections are not measured yet"}
}
