package verdict

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// drawn is a crimp with two to five judged features and the file that it is judged by.
func drawn(t *rapid.T, label string) (record.Record, tolerance.File) {
	rec := record.New(record.Seam)
	file := tolerance.File{Confidence: rapid.SampledFrom([]float64{0.8, 0.95, 0.99}).Draw(t, "confidence of "+label)}
	n := rapid.IntRange(2, 5).Draw(t, "features of "+label)
	for _, key := range record.Keys(record.Seam)[:n] {
		limit := tolerance.Limit{Key: key, Min: ptr(0), Max: ptr(1), Weight: rapid.Float64Range(0.01, 100).Draw(t, "weight")}
		if rapid.Bool().Draw(t, "aimed") {
			limit.Aim = ptr(rapid.Float64Range(0, 1).Draw(t, "aim"))
		}
		file.Limits = append(file.Limits, limit)
		// Most values lie well inside, so that all four results come up often enough.
		value := rapid.OneOf(rapid.Float64Range(0.3, 0.7), rapid.Float64Range(0, 1), rapid.Float64Range(-0.2, 1.2)).Draw(t, "value")
		u := rapid.OneOf(rapid.Just(0.0), rapid.Float64Range(0.001, 0.3)).Draw(t, "u")
		if rapid.IntRange(0, 9).Draw(t, "measured") > 0 {
			rec.Set(key, value, u)
		}
	}
	return rec, file
}

// TestScoreNeverContradictsTheResult: whatever weights, aims and confidences two crimps are judged with, the one with
// the worse result never scores above the other. Only where nothing at all was measured the score is 0 by definition.
func TestScoreNeverContradictsTheResult(t *testing.T) {
	seen := map[record.Result]int{}
	rapid.Check(t, func(t *rapid.T) {
		recA, fileA := drawn(t, "one")
		recB, fileB := drawn(t, "the other")
		a, b := Judge(recA, fileA), Judge(recB, fileB)
		seen[a.Result]++
		if len(recA.Measured) == 0 || len(recB.Measured) == 0 {
			return
		}
		if a.Result.Worse(b.Result) && a.Score > b.Score || b.Result.Worse(a.Result) && b.Score > a.Score {
			t.Fatalf("%s scores %v, %s scores %v", a.Result, a.Score, b.Result, b.Score)
		}
		if a.Score < 0 || a.Score > 100 {
			t.Fatalf("score %v", a.Score)
		}
		if again := Judge(recA, fileA); again.Score != a.Score {
			t.Fatalf("judged twice: %v and %v", a.Score, again.Score)
		}
	})
	assert.Len(t, seen, 4, "all four results came up: %v", seen)
}

// feature makes a judged feature without an aim.
func feature(p float64) record.Feature { return record.Feature{Probability: &p, Value: ptr(0)} }

func gradesOf(ps, weights []float64) []grade {
	grades := make([]grade, len(ps))
	for i, p := range ps {
		grades[i] = gradeOf(feature(p), 0.95, weights[i])
	}
	return grades
}

// TestScoreRisesWithProbability, and by no jump: a small step of one probability is a small step of the score.
func TestScoreRisesWithProbability(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 6).Draw(t, "features")
		ps := rapid.SliceOfN(rapid.Float64Range(0, 1), n, n).Draw(t, "p")
		weights := rapid.SliceOfN(rapid.Float64Range(0.1, 10), n, n).Draw(t, "weights")
		i := rapid.IntRange(0, n-1).Draw(t, "which")
		before := score(gradesOf(ps, weights))
		ps[i] = rapid.Float64Range(ps[i], 1).Draw(t, "higher p")
		if after := score(gradesOf(ps, weights)); after < before-1e-9 {
			t.Fatalf("fell from %v to %v", before, after)
		}
	})
}

// TestScoreHasNoJumps walks one probability from 0 to 1 beside two others and looks at the steps. A geometric mean
// begins steeply, so the bound is that of its power law for the smallest weight share of the table.
func TestScoreHasNoJumps(t *testing.T) {
	for _, others := range [][]float64{{1, 1}, {0.97, 0.6}, {0.05, 0.95}, {0.01, 0.999}} {
		const steps = 20000
		bound := 40 * math.Pow(1.0/steps/0.05, 1.0/3) // 40 points, share 1/3, narrowest ramp 0.05
		last := math.NaN()
		for i := range steps + 1 {
			s := score(gradesOf([]float64{float64(i) / steps, others[0], others[1]}, []float64{1, 1, 1}))
			if !math.IsNaN(last) {
				assert.LessOrEqual(t, s-last, bound, "others %v, p = %v", others, float64(i)/steps)
				assert.GreaterOrEqual(t, s-last, -1e-9)
			}
			last = s
		}
	}
}

// TestScoreAtItsCorners: the figures that the README states.
func TestScoreAtItsCorners(t *testing.T) {
	one := []float64{1, 1}
	assert.InDelta(t, 100, score(gradesOf([]float64{1, 1}, one)), 1e-9)
	assert.InDelta(t, 70, score(gradesOf([]float64{1, 0.95}, one)), 1e-6, "just proven")
	assert.InDelta(t, 40, score(gradesOf([]float64{1, 0.05}, one)), 1e-6, "just disproven")
	assert.InDelta(t, 20, score(gradesOf([]float64{1, 0}, one)), 1e-9, "one of two is surely bad")
	assert.InDelta(t, 0, score(gradesOf([]float64{0, 0}, one)), 1e-9)
	assert.InDelta(t, 55, score(gradesOf([]float64{0.5}, []float64{1})), 1e-9, "on the limit")
	assert.InDelta(t, 40, score([]grade{gradeOf(feature(1), 0.95, 1), gradeOf(record.Feature{}, 0.95, 1)}), 1e-9, "one not measured")
	assert.Zero(t, score([]grade{gradeOf(record.Feature{}, 0.95, 1)}), "nothing measured")
	assert.Zero(t, score(nil))
}

func TestWeightsCount(t *testing.T) {
	heavy := score(gradesOf([]float64{0, 1}, []float64{3, 1}))
	light := score(gradesOf([]float64{0, 1}, []float64{1, 3}))
	assert.InDelta(t, 10, heavy, 1e-9, "3 of 4 parts are surely bad")
	assert.InDelta(t, 30, light, 1e-9)
	assert.Less(t, score(gradesOf([]float64{0.96, 1}, []float64{3, 1})), score(gradesOf([]float64{0.96, 1}, []float64{1, 3})))
}

func TestAimsCount(t *testing.T) {
	of := func(value float64, aim *float64) float64 {
		rec := record.New(record.Seam)
		rec.Set(record.InsulationGapMax, value, 0)
		return Judge(rec, tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{
			{Key: record.InsulationGapMax, Min: ptr(0), Max: ptr(1), Aim: aim, Weight: 1},
		}}).Score
	}
	assert.Equal(t, 100.0, of(0.5, ptr(0.5)))
	assert.Equal(t, 92.5, of(0.75, ptr(0.5)), "half way to the limit")
	assert.Equal(t, 85.0, of(1, ptr(0.5)), "on the limit, which a value without uncertainty may touch")
	assert.Equal(t, 100.0, of(0.9, nil), "without an aim every place within the limits is as good")
}

func TestNearness(t *testing.T) {
	assert.Equal(t, 0.5, nearness(0.25, 0.5, nil, ptr(1)), "no limit below: the one above is the yardstick")
	assert.Equal(t, 0.5, nearness(0.9, 1, ptr(0.8), nil))
	assert.Equal(t, 1.0, nearness(0, 0, nil, ptr(0)), "an aim on the only limit")
	assert.Equal(t, 0.0, nearness(1, 0, nil, ptr(0)))
	assert.Equal(t, 0.0, nearness(5, 0.5, nil, ptr(1)), "never below 0")
	assert.Equal(t, 1.0, nearness(5, 0.5, nil, nil))
}

// TestOnlyWhatConformsHasSeventyOrMore: also where rounding would lift it there. A probability of just under the
// confidence earns all but a hair of the points up to 70.
func TestOnlyWhatConformsHasSeventyOrMore(t *testing.T) {
	file := tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{{Key: record.InsulationGapMax, Max: ptr(1), Weight: 1}}}
	for value, want := range map[float64]record.Result{1 - 0.05*1.644: record.NotProven, 1 - 0.05*1.645: record.Conforms} { // the 95 % point is 1.64485
		rec := record.New(record.Seam)
		rec.Set(record.InsulationGapMax, value, 0.1)
		v := Judge(rec, file)
		assert.Equal(t, want, v.Result)
		assert.Equal(t, want == record.Conforms, v.Score >= 70, "%v scores %v", want, v.Score)
		assert.Equal(t, v.Score, *v.Features[0].Score)
		assert.InDelta(t, 70, v.Score, 0.2)
	}
}
