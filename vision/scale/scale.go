// Package scale finds the scale reference of a picture and tells from it where the camera stood: what a pixel is in
// millimetres, at which height, seen under which angle, and how sure that is.
package scale

import (
	"math"

	"crimprule/vision/record"
)

// Reference is a found scale reference with the camera that it implies.
type Reference struct {
	Kind   string // as in the record: chessboard, ...
	Camera Camera

	// RelU is the relative standard uncertainty of lengths in the reference's plane, the mean over the picture: corner noise,
	// distortion, and a sheet that is not flat. The declared length of a square is taken as given: its error adds to all
	// lengths alike and is not in here.
	RelU float64
	// RelUDistance is the relative standard uncertainty of the camera's distance: how well the focal length is known.
	// It acts on the correction for height and on the viewing angle, not on lengths in the plane.
	RelUDistance float64
	// UTiltDeg is the standard uncertainty of the direction from which the plane is seen, in degrees.
	UTiltDeg float64
	// GroundZMM is the height of the ground on which reference and part lie over the reference's plane: minus its
	// thickness. UGroundMM is its standard uncertainty.
	GroundZMM, UGroundMM float64
	// FocalSource says in words where the focal length comes from.
	FocalSource string
	// ResidualPX is the rms distance of what was seen of the reference (corners, graduations) from the model.
	ResidualPX float64
	// Outline goes round the reference in the picture, quiet zone included, so that the part is not looked for there.
	Outline []record.Point
	// Beside are the outlines of other references in the picture, where the part is not looked for either.
	Beside [][]record.Point
	// Points are the places that were used: corners, places on graduations.
	Points []record.Point
	// Notes are remarks for the person with the camera, such as that a second board was seen.
	Notes []string

	light, dark float64 // brightness of the reference's own light and dark, where its finder read them; else both 0
	blurPX      float64 // standard deviation of the edge spread, where its finder read it; else 0

	fit *poseFit // where the uncertainty at a given place comes from; nil where the reference was made by hand
}

// MMPerPX is the local scale in mm per px at a pixel, for things at height z (mm above the reference): the geometric
// mean of the two directions.
func (r Reference) MMPerPX(px, py, z float64) float64 { return r.Camera.mmPerPX(px, py, z) }

// RelUAt is the relative standard uncertainty of short lengths seen near a pixel at height z, from the corners' noise,
// the distortion and the camera's distance together. Without a fit it is RelU.
func (r Reference) RelUAt(px, py, z float64) float64 {
	if r.fit == nil {
		return r.RelU
	}
	return r.fit.scaleSpread(px, py, z)
}

// UViewDeg is the standard uncertainty of the direction in which the camera stands from a world point, in degrees
// (the worse of the two axes): rotation, distance and focal length together, and an allowance for an optical axis
// off the picture's centre. Without a fit it is UTiltDeg.
func (r Reference) UViewDeg(at Vec) float64 {
	if r.fit == nil {
		return r.UTiltDeg
	}
	view := r.Camera.ViewDirection(at)
	u := r.fit.spread(func(c Camera) float64 { return c.ViewDirection(at).X })
	v := r.fit.spread(func(c Camera) float64 { return c.ViewDirection(at).Y })
	axis := centrePX * float64(max(r.fit.size[0], r.fit.size[1])) / r.Camera.F
	return math.Hypot(math.Max(u, v)/view.Z, axis) * 180 / math.Pi
}

// Refusal is why no scale can be had, in words for the person with the camera. It is no fault of the program.
type Refusal struct{ Reason string }

func (r Refusal) Error() string { return r.Reason }
