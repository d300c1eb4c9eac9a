package scale

import "crimprule/vision/record"

// Micro is the scale of a micrograph: one factor for the whole picture, which is taken square onto the section.
type Micro struct {
	Kind    string // as in the record: bar or known
	MMPerPX float64
	// RelU is the relative standard uncertainty of MMPerPX.
	RelU float64
	// Labels are closed polygons round what was drawn into the picture (the bar, its ticks, box and text), in pixels: no
	// part of the section is looked for there.
	Labels [][]record.Point
	// Points are the bar's two ends; empty for a known scale.
	Points []record.Point
	// Notes are remarks for the person at the microscope.
	Notes []string
}
