// Package montecarlo propagates distributions through a model of measurement by drawing them many times (JCGM 101:2008).
// Tests hold the budgets against it: a budget is a straight line through the model, which only holds where the model is
// nearly straight (JCGM 101:2008, 5.11.4 and clause 8).
package montecarlo

import (
	"math"
	"math/rand/v2"
	"slices"
)

// Draws are the values that a model gave, sorted.
type Draws []float64

// Run draws the model trials times, always the same ones for a seed.
func Run(trials int, seed uint64, model func(r *rand.Rand) float64) Draws {
	r := rand.New(rand.NewPCG(seed, 0)) //nolint:gosec // repeatable on purpose
	draws := make(Draws, trials)
	for i := range draws {
		draws[i] = model(r)
	}
	slices.Sort(draws)
	return draws
}

// Mean is the estimate of the value (JCGM 101:2008, 7.6).
func (d Draws) Mean() float64 {
	sum := 0.0
	for _, v := range d {
		sum += v
	}
	return sum / float64(len(d))
}

// Standard is the standard uncertainty of the value (JCGM 101:2008, 7.6).
func (d Draws) Standard() float64 {
	mean, sum := d.Mean(), 0.0
	for _, v := range d {
		sum += (v - mean) * (v - mean)
	}
	return math.Sqrt(sum / float64(len(d)-1))
}

// Symmetric is the interval that holds the share p and leaves as much below as above it (JCGM 101:2008, 7.7.1).
func (d Draws) Symmetric(p float64) (low, high float64) {
	q := int(math.Round(p * float64(len(d))))
	from := (len(d) - q) / 2
	return d[from], d[from+q-1]
}

// Shortest is the shortest interval that holds the share p (JCGM 101:2008, 7.7.2).
func (d Draws) Shortest(p float64) (low, high float64) {
	q := int(math.Round(p * float64(len(d))))
	best := 0
	for i := 0; i+q-1 < len(d); i++ {
		if d[i+q-1]-d[i] < d[best+q-1]-d[best] {
			best = i
		}
	}
	return d[best], d[best+q-1]
}

// Within is the share of draws that lie in an interval, its ends included.
func (d Draws) Within(low, high float64) float64 {
	from, _ := slices.BinarySearch(d, low)
	to, _ := slices.BinarySearch(d, math.Nextafter(high, math.Inf(1)))
	return float64(to-from) / float64(len(d))
}

// Tolerance is the numerical tolerance of a standard uncertainty of which so many significant digits count: half a unit
// of the last of them (JCGM 101:2008, 7.9.2).
func Tolerance(standard float64, digits int) float64 {
	last := math.Floor(math.Log10(standard)) - float64(digits-1)
	return 0.5 * math.Pow(10, last)
}
