// Package strands tells the strands of a section one by one, and the voids between them.
package strands

import "crimprule/vision/section/raster"

// Input is what is looked at. All planes and the mask have the same size.
type Input struct {
	// Tone is the picture about the cavity: one plane (grey) or three (blue, green, red).
	Tone []raster.Plane
	// Cavity marks the pixels inside the sleeve's cavity, right to about a pixel along its border; it may be in several pieces.
	Cavity  raster.Mask
	MMPerPX float64
	// BlurPX is the standard deviation of the picture's blur.
	BlurPX float64
}

// Strand is one strand; lengths in px of Tone.
type Strand struct {
	X, Y, AreaPX, Roundness float64 // centroid, area, 4 pi area / perimeter²
	Neighbours              int
	Doubtful                bool
	Outline                 []raster.Point
}

// Void is one empty place.
type Void struct {
	AreaPX  float64
	Outline []raster.Point
}

// Found is what was found. UCount and UVoidAreaPX are expanded uncertainties (k = 2) of the number of strands and of
// the sum of the void areas.
type Found struct {
	Strands     []Strand
	Voids       []Void
	UCount      float64
	VoidAreaPX  float64
	UVoidAreaPX float64
}
