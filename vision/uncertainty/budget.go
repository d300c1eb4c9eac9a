// Package uncertainty combines what makes a value uncertain, after the Guide to the expression of uncertainty in
// measurement (JCGM 100:2008, clause 5).
package uncertainty

import (
	"cmp"
	"math"
	"slices"
)

// CoverageFactor turns a standard into an expanded uncertainty: k = 2, about 95 % for a normal distribution.
const CoverageFactor = 2

// Component is one input of a budget: its standard uncertainty, already multiplied by its sensitivity, in the unit of
// the value, and where that figure comes from.
type Component struct {
	Name     string  `json:"name"`     // scale, height, angle, edge, definition, repeat ...
	Source   string  `json:"source"`   // how the figure was had, in words
	Standard float64 `json:"standard"` // standard uncertainty in the value's unit
}

// Share is a component with its part in the value's variance, 0..1.
type Share struct {
	Component
	Share float64 `json:"share"`
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

// Shares are the components that count for something, the largest first, with their parts in the variance (the squares
// that Standard adds up); together the parts are 1. A certain value has none.
func (b Budget) Shares() []Share {
	whole := b.Standard()
	var all []Share
	for _, c := range b {
		if c.Standard = math.Abs(c.Standard); c.Standard > 0 {
			all = append(all, Share{c, c.Standard * c.Standard / (whole * whole)})
		}
	}
	slices.SortStableFunc(all, func(a, b Share) int { return cmp.Compare(b.Standard, a.Standard) })
	return all
}

// Scaled is the budget of a value that moves by factor when this one moves by 1.
func (b Budget) Scaled(factor float64) Budget {
	scaled := slices.Clone(b)
	for i := range scaled {
		scaled[i].Standard *= math.Abs(factor)
	}
	return scaled
}
