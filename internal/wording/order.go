package wording

import (
	"cmp"
	"strings"
)

// ByNumbers compares two names as a person sorts them: runs of digits by their value, so that "string 9" stands before
// "string 10". "01" and "1" compare as equal.
func ByNumbers(a, b string) int {
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
