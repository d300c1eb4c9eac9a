package tolerance

import (
	_ "embed" // the example files below

	"crimprule/vision/record"
)

//go:embed example.yaml
var seamExample string

//go:embed example_side.yaml
var sideExample string

//go:embed example_strip.yaml
var stripExample string

//go:embed example_section.yaml
var sectionExample string

// Example is a commented tolerances file for a view to start from; empty for a view that has none. Its limits are
// examples: neither a standard's nor a maker's.
func Example(view record.View) string {
	switch view {
	case record.Seam:
		return seamExample
	case record.Side:
		return sideExample
	case record.Strip:
		return stripExample
	case record.Section:
		return sectionExample
	}
	return ""
}
