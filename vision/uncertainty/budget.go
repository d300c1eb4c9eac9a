// Package uncertainty combines what makes a value uncertain, after the Guide to the expression of uncertainty in
// measurement (JCGM 100:2008, clause 5).
package uncertainty

import "math"

// CoverageFactor turns a standard into an expanded uncertainty: k = 2, about 95 % for a normal distribution.
const CoverageFactor = 2

// Component is one input of a budget: its standard uncertainty, already multiplied by its sensitivity, in the unit of
// the value, and where that figure comes from.
type Component struct {
	Name     string  // scale, height, angle, edge, definition, repeat ...
	Source   string  // how the figure was had, in words
	Standard float64 // standard uncertainty in the value's unit
}

// Budget is the list of independent components of one value.
type Budget []Component

// Standard is the combined standard uncertainty: the root of the sum of squares (JCGM 100:2008, 5.1.2, independent
// inputs).
func (b Budget) Standard() float64 {
	sum := 0.0
	for _, c := range b {
		sum += c.Standard * c.Standard
	}
	return math.Sqrt(sum)
}

// Expanded is the combined standard uncertainty times CoverageFactor.
func (b Budget) Expanded() float64 { return CoverageFactor * b.Standard() }
