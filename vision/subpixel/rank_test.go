package subpixel

import (
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// The same as after sorting by the standard library, whatever the order and however many values are alike or no numbers.
func TestRankedIsWhatSortingGives(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		value := rapid.OneOf(rapid.Float64(), rapid.Map(rapid.IntRange(0, 5), func(i int) float64 { return float64(i) }), rapid.Just(math.NaN()))
		v := rapid.SliceOfN(value, 1, 400).Draw(t, "v")
		i := rapid.IntRange(0, len(v)-1).Draw(t, "i")
		sorted := slices.Sorted(slices.Values(v))
		at, next := ranked(v, i)
		same := func(want, got float64) {
			assert.True(t, want == got || math.IsNaN(want) && math.IsNaN(got), "%v is not %v", got, want)
		}
		same(sorted[i], at)
		same(sorted[min(i+1, len(v)-1)], next)
		for k, kept := range slices.Sorted(slices.Values(v)) {
			same(sorted[k], kept)
		}
	})
}

// An order that makes every pivot a bad one ends all the same.
func TestRankedOfSawTeeth(t *testing.T) {
	v := make([]float64, 20000)
	for i := range v {
		v[i] = float64(i % 3)
	}
	low, high := ranked(v, 6666)
	assert.Equal(t, []float64{0, 1}, []float64{low, high}) // 0 at 0..6666, 1 from 6667
}
