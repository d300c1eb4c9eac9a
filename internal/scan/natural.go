package scan

import (
	"cmp"
	"strings"

	"crimprule/internal/wording"
)

// naturally compares two paths as a person sorts them: folder by folder, and numbers by their value, so that crimp-2
// stands before crimp-10. Only equal paths compare as equal.
func naturally(a, b string) int {
	restA, restB := a, b
	for restA != "" && restB != "" {
		var partA, partB string
		partA, restA, _ = strings.Cut(restA, "/")
		partB, restB, _ = strings.Cut(restB, "/")
		if c := wording.ByNumbers(partA, partB); c != 0 {
			return c
		}
	}
	return cmp.Or(cmp.Compare(len(restA), len(restB)), cmp.Compare(a, b))
}
