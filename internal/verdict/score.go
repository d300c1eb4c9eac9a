package verdict

import (
	"math"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// The score, 0..100, in three parts. With p the conformance probability of a feature and c the confidence:
//
//   - 40 points, weighted mean over the features: how far p is from 0 to 1-c, where a feature is no longer disproven;
//   - 30 points, weighted geometric mean: how far p is from 1-c to c, where a feature is proven;
//   - 30 points, weighted geometric mean: how far p is from c to 1, and, of a feature with an aim, half of that is
//     earned by p and half by how near the value is to its aim.
//
// A geometric mean is 0 as soon as one feature has nothing, so that a crimp with a feature that does not conform has at
// most 40 points, one with a feature that is not proven 40 to 70, and one that conforms 70 to 100. A feature that was
// not measured counts as one on the edge of being disproven: 40 points at most. The parts join without a jump.
const (
	notDisproven = 40.0
	proven       = 30.0
	beyond       = 30.0
)

// grade is how much of each part of the score one feature earns, 0..1, and its weight.
type grade struct {
	weight, notDisproven, proven, beyond float64
	measured                             bool
}

// gradeOf grades a judged feature.
func gradeOf(f record.Feature, confidence, weight float64) grade {
	if f.Probability == nil {
		return grade{weight: weight, notDisproven: 1}
	}
	p := *f.Probability
	g := grade{
		weight:       weight,
		notDisproven: ramp(p, 0, 1-confidence),
		proven:       ramp(p, 1-confidence, confidence),
		beyond:       ramp(p, confidence, 1),
		measured:     true,
	}
	if f.Aim != nil {
		g.beyond *= (1 + nearness(*f.Value, *f.Aim, f.Min, f.Max)) / 2
	}
	return g
}

// ramp rises from 0 at low to 1 at high.
func ramp(p, low, high float64) float64 { return min(max((p-low)/(high-low), 0), 1) }

// nearness is 1 at the aim and falls to 0 at the limit on the value's side of it. Where no limit stands on that side,
// the distance to the other one is the yardstick.
func nearness(value, aim float64, low, high *float64) float64 {
	side, other := high, low
	if value < aim {
		side, other = low, high
	}
	if side == nil {
		side = other
	}
	if value == aim || side == nil {
		return 1
	}
	return max(1-math.Abs(value-aim)/math.Abs(*side-aim), 0) // a limit on the aim itself divides by 0: -Inf, so 0
}

// score adds up the three parts. Without any measured feature it is 0: there is nothing to give points for.
func score(grades []grade) float64 {
	weights, share, measured := 0.0, 0.0, false
	for _, g := range grades {
		weights += g.weight
		share += g.weight * g.notDisproven
		measured = measured || g.measured
	}
	if !measured || weights <= 0 {
		return 0
	}
	mean := func(part func(grade) float64) float64 {
		sum := 0.0
		for _, g := range grades {
			sum += g.weight * math.Log(part(g)) // log 0 is -Inf, and exp of that 0
		}
		return math.Exp(sum / weights)
	}
	return notDisproven*min(share/weights, 1) +
		proven*mean(func(g grade) float64 { return g.proven }) +
		beyond*mean(func(g grade) float64 { return g.beyond })
}

// rounded is a score with one decimal, as people read it; the order of scores stays. Only what conforms has 70 or more:
// rounding must not lift anything else to it.
func rounded(v float64, result record.Result) *float64 {
	v = math.Round(v*10) / 10
	if result != record.Conforms {
		v = min(v, site.MostUnproven)
	}
	return &v
}
