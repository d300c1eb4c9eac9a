// Package statistics holds the figures that speak of many crimps: a yield with its interval, the drift of a tool, the
// acceptance of a lot by sample, and the agreement of two judges. It is pure Go on plain numbers and knows nothing of
// pictures. Sources stand beside each function; values of standards that were not re-read are marked "from memory".
package statistics

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/stat/distuv"
)

// Usual is the confidence of an interval where nobody asks for another one.
const Usual = 0.95

// ClopperPearson gives the exact interval for the true share where k of n were good: both ends are shares, 0..1, and the
// interval holds the true share with at least the confidence, whatever that share is. C. J. Clopper and E. S. Pearson,
// Biometrika 26 (1934) 404; in terms of the beta distribution: low is the alpha/2 quantile of Beta(k, n-k+1), high the
// 1-alpha/2 quantile of Beta(k+1, n-k), alpha = 1-confidence. For n = 0 nothing is known: 0 to 1. It is too wide rather
// than too narrow, and it takes the n for a random sample of what they speak for.
func ClopperPearson(k, n int, confidence float64) (low, high float64) {
	mustBeShare(k, n, confidence)
	tail := (1 - confidence) / 2
	return lowerEnd(k, n, tail), upperEnd(k, n, tail)
}

// AtLeast is the one-sided limit beside ClopperPearson: the true share is at least this with the confidence, where k of
// n were good.
func AtLeast(k, n int, confidence float64) float64 {
	mustBeShare(k, n, confidence)
	return lowerEnd(k, n, 1-confidence)
}

// WithoutFault is how many must be good in a row, without one fault, before a true share of at least this much is shown
// with the confidence: the least n with share^n <= 1-confidence. Both lie over 0 and under 1.
func WithoutFault(share, confidence float64) int {
	if !(share > 0 && share < 1) {
		panic(fmt.Sprintf("statistics: a share of %v cannot be shown", share))
	}
	mustBeShare(0, 0, confidence)
	return int(math.Ceil(math.Log1p(-confidence) / math.Log(share)))
}

// lowerEnd is the share at which k or more of n good would have just the probability tail.
func lowerEnd(k, n int, tail float64) float64 {
	switch k {
	case 0:
		return 0
	case n:
		return math.Pow(tail, 1/float64(n))
	}
	return distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(tail)
}

// upperEnd mirrors lowerEnd: the bad ones take the place of the good ones.
func upperEnd(k, n int, tail float64) float64 { return 1 - lowerEnd(n-k, n, tail) }

func mustBeShare(k, n int, confidence float64) {
	if n < 0 || k < 0 || k > n {
		panic(fmt.Sprintf("statistics: %d of %d is no share", k, n))
	}
	if !(confidence > 0 && confidence < 1) {
		panic(fmt.Sprintf("statistics: a confidence of %v is not over 0 and under 1", confidence))
	}
}
