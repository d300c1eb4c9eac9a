package subpixel

import (
	"math"
	"slices"
)

// ranked gives what would stand at i and behind it if s were sorted, numbers that are none first; for the last i both are
// the same. It changes the order of s. Hoare's selection (1961; from memory) looks at each value a few times, where sorting
// looks at it log2 n times.
func ranked(s []float64, i int) (at, next float64) {
	front := 0
	for k, v := range s {
		if math.IsNaN(v) {
			s[front], s[k] = s[k], s[front]
			front++
		}
	}
	if i >= front {
		selected(s[front:], i-front)
	}
	switch {
	case i == len(s)-1:
		return s[i], s[i]
	case i+1 < front:
		return s[i], s[i+1]
	}
	return s[i], slices.Min(s[max(i+1, front):])
}

// selected brings the i-th smallest value to its place: none before it is larger, none behind it smaller.
func selected(s []float64, i int) {
	const few = 32
	low, high := 0, len(s)-1
	for tries := 0; high-low > few; tries++ {
		if tries == 64 { // an order that is made to defeat the choice of pivots
			break
		}
		middle := (low + high) / 2
		pivot := max(min(s[low], s[middle]), min(max(s[low], s[middle]), s[high]))
		a, b := low, high
		for a <= b {
			for s[a] < pivot {
				a++
			}
			for s[b] > pivot {
				b--
			}
			if a <= b {
				s[a], s[b] = s[b], s[a]
				a, b = a+1, b-1
			}
		}
		switch {
		case i <= b:
			high = b
		case i >= a:
			low = a
		default:
			return
		}
	}
	slices.Sort(s[low : high+1])
}
