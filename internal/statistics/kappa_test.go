package statistics

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

// TestKappa: the first three are well-known examples, calculated independently; the others the study of attributes in the
// handbook of measurement systems analysis of the motor industry (counts and published kappas 0.86, 0.79, 0.78, 0.88,
// 0.92 and 0.77 from memory); the last one Fleiss's 100 subjects in three categories (published 0.68 and standard error
// 0.088, from memory). Standard errors: delta method with numerical derivatives in numpy, a general-purpose library.
func TestKappa(t *testing.T) {
	for _, c := range []struct {
		table           [][]int
		kappa, standard float64
		words           string
	}{
		{[][]int{{20, 5}, {10, 15}}, 0.40, 0.126996, "fair"},
		{[][]int{{45, 15}, {25, 15}}, 0.1304, 0.098662, "poor"},
		{[][]int{{25, 35}, {5, 35}}, 0.2593, 0.077160, "poor"},
		{[][]int{{44, 6}, {3, 97}}, 0.863, 0.044198, "good"},
		{[][]int{{42, 5}, {9, 94}}, 0.788, 0.053702, "good"},
		{[][]int{{43, 7}, {8, 92}}, 0.776, 0.054671, "good"},
		{[][]int{{45, 5}, {3, 97}}, 0.879, 0.041641, "good"},
		{[][]int{{45, 2}, {3, 100}}, 0.923, 0.033847, "good"},
		{[][]int{{42, 9}, {6, 93}}, 0.774, 0.055137, "good"},
		{[][]int{{75, 1, 4}, {5, 4, 1}, {0, 0, 10}}, 0.6765, 0.087703, "fair"},
	} {
		a, err := Kappa(c.table)
		require.NoError(t, err)
		assert.InDelta(t, c.kappa, a.Kappa, 5.1e-4, "%v", c.table)
		assert.InDelta(t, c.standard, a.StandardError, 2e-6, "%v", c.table)
		assert.Equal(t, c.words, a.Words(), "%v", c.table)
	}
	a, err := Kappa([][]int{{20, 5}, {10, 15}})
	require.NoError(t, err)
	assert.Equal(t, 50, a.N)
	assert.InDelta(t, 0.70, a.Observed, 1e-12)
	assert.InDelta(t, 0.50, a.Expected, 1e-12)
}

func TestKappaThatDoesNotExist(t *testing.T) {
	a, err := Kappa([][]int{{12, 0}, {0, 0}})
	assert.ErrorIs(t, err, ErrOneCategory)
	assert.Equal(t, 1.0, a.Observed, "they do agree, only kappa says nothing")
	_, err = Kappa([][]int{{0, 0}, {0, 0}})
	assert.ErrorContains(t, err, "nothing that both")
	assert.Panics(t, func() { _, _ = Kappa([][]int{{1, 2}, {3}}) })
	assert.Panics(t, func() { _, _ = Kappa([][]int{{1, -2}, {3, 4}}) })
	a, err = Kappa([][]int{{0, 7}, {0, 0}})
	require.NoError(t, err)
	assert.Zero(t, a.Kappa, "one always says yes, the other always no: as by chance, with such habits")
}

// TestKappaIsFair: it does not matter who is called first, nor in which order the categories stand; three times as many
// of each leave kappa and shrink its standard error by the root of three.
func TestKappaIsFair(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := rapid.IntRange(2, 5).Draw(t, "categories")
		order := rapid.Permutation(rng(m)).Draw(t, "order")
		table, turned, mixed, more := square(m), square(m), square(m), square(m)
		for i := range m {
			for j := range m {
				table[i][j] = rapid.IntRange(0, 20).Draw(t, "count")
			}
		}
		for i := range m {
			for j := range m {
				turned[j][i], mixed[order[i]][order[j]], more[i][j] = table[i][j], table[i][j], 3*table[i][j]
			}
		}
		a, err := Kappa(table)
		if err != nil {
			return
		}
		if a.Kappa > 1+1e-12 || a.Kappa < -1-1e-12 {
			t.Fatalf("kappa %v", a.Kappa)
		}
		for _, other := range [][][]int{turned, mixed, more} {
			b, err := Kappa(other)
			if err != nil || math.Abs(b.Kappa-a.Kappa) > 1e-9 {
				t.Fatalf("%v and %v, %v", a, b, err)
			}
			want := a.StandardError * math.Sqrt(float64(a.N)/float64(b.N))
			// The variance is a difference of terms of about 1: near 0 its rounding error of 1e-16 is 1e-8 in its root.
			if math.Abs(b.StandardError*b.StandardError-want*want) > 1e-12 {
				t.Fatalf("standard errors %v and %v", want, b.StandardError)
			}
		}
	})
}

func square(m int) [][]int {
	table := make([][]int, m)
	for i := range table {
		table[i] = make([]int, m)
	}
	return table
}

func rng(n int) []int {
	all := make([]int, n)
	for i := range all {
		all[i] = i
	}
	return all
}
