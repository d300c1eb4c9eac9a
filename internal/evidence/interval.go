package evidence

import "gonum.org/v1/gonum/mathext"

// clopperPearson is the exact interval about a share (Clopper and Pearson 1934).
func clopperPearson(k, n int, confidence float64) (low, high float64) {
	tail := (1 - confidence) / 2
	low, high = 0, 1
	if k > 0 {
		low = mathext.InvRegIncBeta(float64(k), float64(n-k+1), tail)
	}
	if k < n {
		high = mathext.InvRegIncBeta(float64(k+1), float64(n-k), 1-tail)
	}
	return low, high
}
