// Package samples holds the demo's pictures and the tolerances files that judge them.
package samples

import "embed"

// Tolerances are the tolerances files; their limits are examples.
//
//go:embed *.yaml sections/*.yaml
var Tolerances embed.FS

// Sections are two micrographs: a sound crimp and one that was pressed too hard.
//
//go:embed sections/workshop-crew-A-section-01.jpg sections/workshop-crew-A-section-02.jpg
var Sections embed.FS
