package scan

import (
	"cmp"
	"strings"
)

// naturally compares two paths as a person sorts them: folder by folder, and numbers by their value, so that crimp-2
// stands before crimp-10. Only equal paths compare as equal.
func naturally(a, b string) int {
	restA, restB := a, b
	for restA != "" && restB != "" {
		var partA, partB string
		partA, restA, _ = strings.Cut(restA, "/")
		partB, restB, _ = strings.Cut(restB, "/")
		if c := byNumbers(partA, partB); c != 0 {
			return c
		}
	}
	return cmp.Or(cmp.Compare(len(restA), len(restB)), cmp.Compare(a, b))
}

// byNumbers compares two names, runs of digits by their value.
func byNumbers(a, b string) int {
	for a != "" && b != "" {
		if !digit(a[0]) || !digit(b[0]) {
			if a[0] != b[0] {
				return cmp.Compare(a[0], b[0])
			}
			a, b = a[1:], b[1:]
			continue
		}
		var runA, runB string
		runA, a = digits(a)
		runB, b = digits(b)
		if c := cmp.Or(cmp.Compare(len(runA), len(runB)), cmp.Compare(runA, runB)); c != 0 {
			return c
		}
	}
	return cmp.Compare(len(a), len(b))
}

func digit(c byte) bool { return c >= '0' && c <= '9' }

// digits cuts the digits off the beginning of text; leading zeros are left out.
func digits(text string) (run, rest string) {
	n := 0
	for n < len(text) && digit(text[n]) {
		n++
	}
	return strings.TrimLeft(text[:n], "0"), text[n:]
}
