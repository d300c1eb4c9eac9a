// Package scale finds the scale reference of a picture and tells from it where the camera stood: what a pixel is in
// millimetres, at which height, seen under which angle, and how sure that is.
package scale

import "crimprule/vision/record"

// Reference is a found scale reference with the camera that it implies.
type Reference struct {
	Kind   string // as in the record: chessboard, ...
	Camera Camera

	// RelU is the relative standard uncertainty of lengths in the reference's plane (corner noise, print, distortion).
	RelU float64
	// RelUDistance is the relative standard uncertainty of the camera's distance: how well the focal length is known.
	// It acts on the correction for height and on the viewing angle, not on lengths in the plane.
	RelUDistance float64
	// UTiltDeg is the standard uncertainty of the direction from which the plane is seen, in degrees.
	UTiltDeg float64
	// FocalSource says in words where the focal length comes from.
	FocalSource string
	// ResidualPX is the rms distance of the corners from the model.
	ResidualPX float64
	// Outline goes round the reference in the picture, quiet zone included, so that the part is not looked for there.
	Outline []record.Point
	// Points are the corners that were used.
	Points []record.Point
}

// Refusal is why no scale can be had, in words for the person with the camera. It is no fault of the program.
type Refusal struct{ Reason string }

func (r Refusal) Error() string { return r.Reason }
