package statistics

import (
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// TestFisherExact: the tea tasting of The Design of Experiments (1935), chapter II, from memory: of four cups with milk
// first three are named rightly, which by chance alone comes up with 16/70 for just three and 1/70 for all four, one-sided
// 17/70 = 0.243, two-sided 34/70 = 0.486; all four rightly: two-sided 2/70. The others are scipy 1.10.1,
// stats.fisher_exact, a general-purpose library.
func TestFisherExact(t *testing.T) {
	for _, c := range []struct {
		good1, n1, good2, n2 int
		p                    float64
	}{
		{3, 4, 1, 4, 34.0 / 70}, {4, 4, 0, 4, 2.0 / 70},
		{5, 5, 0, 5, 0.007936507937}, {1, 11, 9, 12, 0.002759456185}, {1, 10, 9, 10, 0.001093333911}, {8, 20, 15, 20, 0.05355099259},
		{0, 7, 3, 9, 0.2125}, {450, 500, 400, 500, 1.231026253e-05}, {2, 5, 5, 5, 0.1666666667}, {13, 20, 4, 15, 0.04091180216},
		{1000, 2000, 900, 2000, 0.001717615178},
		{0, 0, 3, 5, 1}, {0, 4, 0, 5, 1}, {4, 4, 5, 5, 1}, // nothing that could differ
	} {
		assert.InEpsilon(t, c.p, FisherExact(c.good1, c.n1, c.good2, c.n2), 1e-8, "%+v", c)
	}
	assert.Panics(t, func() { FisherExact(3, 2, 1, 1) })
	assert.Panics(t, func() { FisherExact(1, 2, -1, 1) })
}

// TestFisherExactByCounting: the definition in whole numbers, and what must hold: groups and outcomes may change places.
func TestFisherExactByCounting(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n1, n2 := rapid.IntRange(0, 40).Draw(t, "n1"), rapid.IntRange(0, 40).Draw(t, "n2")
		good1, good2 := rapid.IntRange(0, n1).Draw(t, "good1"), rapid.IntRange(0, n2).Draw(t, "good2")
		ways := func(k int) *big.Int {
			return new(big.Int).Mul(new(big.Int).Binomial(int64(n1), int64(k)), new(big.Int).Binomial(int64(n2), int64(good1+good2-k)))
		}
		seen, all, unlikely := ways(good1), new(big.Int), new(big.Int)
		for k := max(0, good1+good2-n2); k <= min(good1+good2, n1); k++ {
			w := ways(k)
			all.Add(all, w)
			if w.Cmp(seen) <= 0 {
				unlikely.Add(unlikely, w)
			}
		}
		want, _ := new(big.Rat).SetFrac(unlikely, all).Float64()
		p := FisherExact(good1, n1, good2, n2)
		for what, got := range map[string]float64{"p": p, "groups turned": FisherExact(good2, n2, good1, n1), "outcomes turned": FisherExact(n1-good1, n1, n2-good2, n2)} {
			if d := got - want; d > 1e-9 || d < -1e-9 {
				t.Fatalf("%s: %v, not %v", what, got, want)
			}
		}
	})
}
