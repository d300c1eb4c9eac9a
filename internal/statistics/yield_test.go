package statistics

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

// TestClopperPearson: expected ends from scipy 1.10.1 (scipy.stats.beta.ppf), a general-purpose library.
func TestClopperPearson(t *testing.T) {
	for _, c := range []struct {
		k, n                        int
		confidence, wantLow, wantUp float64
	}{
		{0, 10, 0.95, 0, 0.3084971078},
		{1, 10, 0.95, 0.002528578544, 0.445016117},
		{5, 10, 0.95, 0.1870860284, 0.8129139716},
		{10, 10, 0.95, 0.6915028922, 1},
		{3, 12, 0.95, 0.05486064453, 0.5718584619},
		{113, 120, 0.95, 0.8835016204, 0.9762279762},
		{797, 800, 0.95, 0.9890803491, 0.9992259912},
		{9990, 10000, 0.95, 0.9981617359, 0.9995203603},
		{4, 10, 0.99, 0.07676816914, 0.8090836687},
		{7, 50, 0.8, 0.07962972625, 0.2241922237},
		{1, 100000, 0.95, 2.531780478e-07, 5.571516035e-05},
	} {
		low, high := ClopperPearson(c.k, c.n, c.confidence)
		assert.InDelta(t, c.wantLow, low, 1e-9, "%d of %d", c.k, c.n)
		assert.InDelta(t, c.wantUp, high, 1e-9, "%d of %d", c.k, c.n)
	}
	low, high := ClopperPearson(0, 0, 0.95)
	assert.Equal(t, []float64{0, 1}, []float64{low, high}, "nothing seen, nothing known")
}

// TestNoneOfN: with none good the upper end has the closed form 1 - (alpha/2)^(1/n), the solution of (1-p)^n = alpha/2.
func TestNoneOfN(t *testing.T) {
	for _, n := range []int{1, 2, 10, 59, 3000} {
		_, high := ClopperPearson(0, n, 0.95)
		assert.InDelta(t, 1-math.Pow(0.025, 1/float64(n)), high, 1e-12, "n = %d", n)
	}
}

// TestProofByNoFailure: the well-known numbers for 95 % confidence (calculated independently): 59, 299 and 2995
// without one fault show 95, 99 and 99.9 %.
func TestProofByNoFailure(t *testing.T) {
	for share, n := range map[float64]int{0.95: 59, 0.99: 299, 0.999: 2995} {
		assert.Equal(t, n, WithoutFault(share, 0.95))
		assert.GreaterOrEqual(t, AtLeast(n, n, 0.95), share)
		assert.Less(t, AtLeast(n-1, n-1, 0.95), share)
	}
}

// TestCover adds up, over all outcomes, how often the interval holds the true share: never less often than promised
// (the property that gives the method its name "exact").
func TestCover(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "n")
		share := rapid.Float64Range(0.001, 0.999).Draw(t, "true share")
		confidence := rapid.SampledFrom([]float64{0.8, 0.9, 0.95, 0.99}).Draw(t, "confidence")
		cover := 0.0
		for k := range n + 1 {
			if low, high := ClopperPearson(k, n, confidence); low <= share && share <= high {
				cover += distuv.Binomial{N: float64(n), P: share}.Prob(float64(k))
			}
		}
		if cover < confidence-1e-9 {
			t.Fatalf("held the true share in %v of all cases", cover)
		}
	})
}

// TestIntervalIsSane: it holds the seen share, mirrors when good and bad change places, and narrows with more of the same.
func TestIntervalIsSane(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 3000).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		low, high := ClopperPearson(k, n, 0.95)
		if seen := float64(k) / float64(n); low > seen || high < seen || low < 0 || high > 1 {
			t.Fatalf("%v..%v for %v", low, high, seen)
		}
		mirroredLow, mirroredHigh := ClopperPearson(n-k, n, 0.95)
		if math.Abs(low-(1-mirroredHigh)) > 1e-9 || math.Abs(high-(1-mirroredLow)) > 1e-9 {
			t.Fatal("good and bad are not treated alike")
		}
		if l, h := ClopperPearson(4*k, 4*n, 0.95); h-l >= high-low {
			t.Fatalf("four times as many give %v..%v, no narrower than %v..%v", l, h, low, high)
		}
	})
}

func TestWrongSharesPanic(t *testing.T) {
	for _, f := range []func(){
		func() { ClopperPearson(3, 2, 0.95) }, func() { ClopperPearson(-1, 2, 0.95) }, func() { ClopperPearson(1, 2, 1) },
		func() { ClopperPearson(1, 2, math.NaN()) }, func() { WithoutFault(1, 0.95) }, func() { WithoutFault(0.9, 0) },
	} {
		assert.Panics(t, f)
	}
}
