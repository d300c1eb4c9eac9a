package statistics

import "fmt"

// alikeTables is how much likelier than the table seen another one may come out and still counts as no likelier: sums of
// rounded numbers must not decide between two tables of equal probability.
const alikeTables = 1e-7

// FisherExact gives the two-sided p of Fisher's exact test for two groups, of which good1 of n1 and good2 of n2 came out
// good: the probability, 0..1, that chance alone, with the same true share in both groups, deals the same good ones out so
// unevenly or more so. It adds up all tables with these sums that are no likelier than the one seen. R. A. Fisher, The
// Design of Experiments (1935), chapter II; the sum over tables no likelier is that of Freeman and Halton, Biometrika 38
// (1951) 141 (both from memory). It holds for any numbers, however small, and is too large rather than too small. Where a
// group is empty, or all things came out alike, nothing can differ: 1.
func FisherExact(good1, n1, good2, n2 int) float64 {
	if good1 < 0 || good2 < 0 || good1 > n1 || good2 > n2 {
		panic(fmt.Sprintf("statistics: %d of %d and %d of %d are no shares", good1, n1, good2, n2))
	}
	good := good1 + good2
	low, high := max(0, good-n2), min(good, n1) // how many of the good ones the first group can have
	// Each table's weight follows from its neighbour's by a ratio of whole numbers. Those from the likeliest one outwards only
	// get smaller, so that nothing overflows.
	mode := min(max((good+1)*(n1+1)/(n1+n2+2), low), high)
	up := func(k int) float64 { return float64(n1-k) * float64(good-k) / (float64(k+1) * float64(n2-good+k+1)) }
	weights := make([]float64, high-low+1)
	weights[mode-low] = 1
	for k := mode; k < high; k++ {
		weights[k+1-low] = weights[k-low] * up(k)
	}
	for k := mode; k > low; k-- {
		weights[k-1-low] = weights[k-low] / up(k-1)
	}
	all, unlikely := 0.0, 0.0
	for _, w := range weights {
		all += w
		if w <= weights[good1-low]*(1+alikeTables) {
			unlikely += w
		}
	}
	return min(unlikely/all, 1)
}
