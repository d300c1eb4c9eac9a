package tolerance

import _ "embed" // the example file below

//go:embed example.yaml
var example string

// Example is a commented tolerances file to start from. Its limits are examples: neither a standard's nor a maker's.
func Example() string { return example }
