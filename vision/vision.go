// Package vision is the one door into measuring: a picture and a request in, a record out.
package vision

import (
	"context"

	"gocv.io/x/gocv"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// ScaleOption is a scale reference as the user declares it.
type ScaleOption struct {
	Kind string // chessboard
	// Length is the declared length in mm: the side of a chessboard's square.
	Length float64
}

// Request says what to measure and what is known of it.
type Request struct {
	View     record.View
	Scale    ScaleOption
	Declared record.Declared
	// Debug, where set, is handed the picture after each stage, named and in order. The callee must not keep the Mat.
	Debug func(stage string, mat gocv.Mat)
}

// Measure measures one picture. A picture that cannot be measured is no error: its record says in Retake what to do
// better. An error is a fault of ours, or a request that this version cannot serve.
func Measure(ctx context.Context, pic picture.Picture, req Request) (record.Record, error) {
	rec := record.New(req.View)
	rec.Image, rec.SHA256, rec.Taken, rec.Camera = pic.Name, pic.SHA256, pic.Taken, pic.Camera
	return rec, ctx.Err()
}
