package statistics

import (
	"errors"
	"fmt"
	"math"
)

// Agreement is how far two judges agree who sorted the same things into the same categories. All are pure numbers.
type Agreement struct {
	N                  int
	Observed, Expected float64 // share judged alike; share that chance would give with each judge's own habits
	// Kappa is (Observed-Expected)/(1-Expected): 1 where they always agree, 0 where no more often than by chance.
	Kappa float64
	// StandardError is that of Kappa for large samples; of few things it is rough.
	StandardError float64
}

// ErrOneCategory says that both judges used one category only, the same one: then chance alone gives full agreement,
// and kappa, which is what goes beyond chance, does not exist.
var ErrOneCategory = errors.New("both always gave the same one judgement, so that nothing can be said about agreement beyond chance")

// Kappa gives Cohen's kappa of a square table of counts: row i, column j is how many things the one judge put into
// category i and the other into j. J. Cohen, Educ. Psychol. Meas. 20 (1960) 37; standard error: J. L. Fleiss, J. Cohen and
// B. S. Everitt, Psychol. Bull. 72 (1969) 323, as restated in Fleiss, Levin and Paik (both from memory; held against the
// delta method by numerical derivatives). A table that is not square, or has counts below 0, is the caller's mistake.
func Kappa(table [][]int) (Agreement, error) {
	n := 0
	for i, row := range table {
		if len(row) != len(table) {
			panic(fmt.Sprintf("statistics: row %d of %d has %d counts", i+1, len(table), len(row)))
		}
		for _, count := range row {
			if count < 0 {
				panic(fmt.Sprintf("statistics: a count of %d", count))
			}
			n += count
		}
	}
	if n == 0 {
		return Agreement{}, errors.New("there is nothing that both have judged")
	}
	share := func(i, j int) float64 { return float64(table[i][j]) / float64(n) }
	rows, columns := make([]float64, len(table)), make([]float64, len(table))
	alike, byChance := 0, 0 // in counts and their squares, so that 0.40 is 0.40
	for i := range table {
		if table[i][i] == n {
			return Agreement{N: n, Observed: 1, Expected: 1}, ErrOneCategory
		}
		row, column := 0, 0
		for j := range table {
			row += table[i][j]
			column += table[j][i]
		}
		rows[i], columns[i] = float64(row)/float64(n), float64(column)/float64(n)
		alike += table[i][i]
		byChance += row * column
	}
	a := Agreement{N: n, Observed: float64(alike) / float64(n), Expected: float64(byChance) / float64(n*n)}
	beyond := 1 - a.Expected
	a.Kappa = float64(n*alike-byChance) / float64(n*n-byChance)
	variance := -squared(a.Kappa - a.Expected*(1-a.Kappa))
	for i := range table {
		for j := range table {
			if i == j {
				variance += share(i, i) * squared(1-(rows[i]+columns[i])*(1-a.Kappa))
			} else {
				variance += share(i, j) * squared((columns[i]+rows[j])*(1-a.Kappa))
			}
		}
	}
	a.StandardError = math.Sqrt(max(variance, 0)/float64(n)) / beyond
	return a, nil
}

func squared(v float64) float64 { return v * v }

// Words is the usual reading of kappa in studies of attribute measurement: above 0.75 good, below 0.40 poor (from memory
// of the handbooks of the motor industry).
func (a Agreement) Words() string {
	switch {
	case a.Kappa > 0.75:
		return "good"
	case a.Kappa < 0.40:
		return "poor"
	}
	return "fair"
}
