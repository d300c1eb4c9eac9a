package verdict

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

func entered(key record.Key, value, u float64) site.Elsewhere {
	return site.Elsewhere{Key: key, Value: record.Value{Value: value, U: u, Unit: elsewhere.Unit(key)}, Who: "crew A", When: "2026-05-04"}
}

var elsewhereLimits = tolerance.File{Name: "canopy", Confidence: 0.95, Elsewhere: []tolerance.Limit{
	{Key: elsewhere.PullOutForce, Min: ptr(490), Weight: 1, Note: "example"},
	{Key: record.CrimpHeight, Min: ptr(2.15), Max: ptr(2.25), Weight: 2},
}}

// TestBurstStrengthElsewhere: JCGM 106:2012, 7.5, burst strength (published 0.99, from memory): 509.7 with standard
// uncertainty 8.6 above the lower limit of 490 conforms with p = 0.98901. The same numbers stand here for newtons.
func TestBurstStrengthElsewhere(t *testing.T) {
	v := JudgeElsewhere([]site.Elsewhere{entered(elsewhere.PullOutForce, 509.7, 2*8.6)}, elsewhereLimits)
	require.NotNil(t, v)
	require.Len(t, v.Features, 1, "a height was not measured, and is not held against the crimp")
	f := v.Features[0]
	assert.InDelta(t, 0.98901, *f.Probability, 1e-5)
	assert.Equal(t, record.Conforms, v.Result)
	assert.Equal(t, []string{"N", "example", "canopy"}, []string{f.Unit, f.Note, v.Tolerances})
	assert.Nil(t, f.Advice)
	assert.InDelta(t, v.Score, *f.Score, 1e-9)
}

func TestWorstValueElsewhereCounts(t *testing.T) {
	values := []site.Elsewhere{
		entered(record.CrimpHeight, 2.20, 0.01), entered(elsewhere.Torque, 3, 0.1), entered(elsewhere.PullOutForce, 600, 10),
		entered(record.CrimpHeight, 2.251, 0.01), entered(record.CrimpHeight, 2.30, 0.01),
	}
	v := JudgeElsewhere(values, elsewhereLimits)
	require.NotNil(t, v)
	assert.Equal(t, record.DoesNotConform, v.Result)
	want := []record.Result{record.Conforms, "", record.Conforms, record.NotProven, record.DoesNotConform}
	for i, result := range want {
		f, judged := ElsewhereFeature(v, values, i)
		assert.Equal(t, result != "", judged, "%d", i)
		assert.Equal(t, result, f.Result, "%d", i)
		if judged {
			assert.Equal(t, values[i].Value.Value, *f.Value, "each value has its own judgement")
			assert.Equal(t, result != record.Conforms, f.Advice != nil)
		}
	}
	assert.Less(t, v.Score, 40.0, "a crimp that does not conform has at most 40 points")
}

func TestNothingToJudgeElsewhere(t *testing.T) {
	assert.Nil(t, JudgeElsewhere(nil, elsewhereLimits))
	assert.Nil(t, JudgeElsewhere([]site.Elsewhere{entered(elsewhere.Torque, 3, 0.1)}, elsewhereLimits), "no limit for it")
	assert.Nil(t, JudgeElsewhere([]site.Elsewhere{entered(elsewhere.PullOutForce, 500, 5)}, tolerance.File{}))
	_, judged := ElsewhereFeature(nil, []site.Elsewhere{entered(elsewhere.Torque, 3, 0.1)}, 0)
	assert.False(t, judged)
}

// TestUnusableValuesElsewhere: a value that cannot be held against its limit says why, and is never taken for good.
func TestUnusableValuesElsewhere(t *testing.T) {
	other := entered(elsewhere.PullOutForce, 500, 5)
	other.Value.Unit = "lbf"
	for _, value := range []site.Elsewhere{
		other, entered(elsewhere.PullOutForce, 500, 0), entered(elsewhere.PullOutForce, 500, -1),
		entered(elsewhere.PullOutForce, math.NaN(), 1), entered(elsewhere.PullOutForce, math.Inf(1), 1),
	} {
		v := JudgeElsewhere([]site.Elsewhere{value}, elsewhereLimits)
		require.NotNil(t, v)
		assert.Equal(t, record.NotMeasured, v.Result)
		assert.NotEmpty(t, v.Features[0].Reason)
		assert.Nil(t, v.Features[0].Value)
		require.NotNil(t, v.Features[0].Advice)
	}
}

// Values that were withdrawn or set aside are not judged, and the others keep their own judgement.
func TestValuesThatDoNotCountAreLeftOut(t *testing.T) {
	values := []site.Elsewhere{
		entered(elsewhere.PullOutForce, 100, 10), entered(elsewhere.PullOutForce, 600, 10), entered(elsewhere.PullOutForce, 200, 10),
		entered(elsewhere.PullOutForce, 489, 10),
	}
	values[0].Withdrawn, values[2].Outdated = "withdrawn by crew A on 2026-05-11: typing error", "measured before this crimp was made"
	v := JudgeElsewhere(values, elsewhereLimits)
	require.NotNil(t, v)
	require.Len(t, v.Features, 2)
	assert.Equal(t, record.NotProven, v.Result)
	for i, want := range []record.Result{"", record.Conforms, "", record.NotProven} {
		f, judged := ElsewhereFeature(v, values, i)
		assert.Equal(t, want != "", judged, "%d", i)
		assert.Equal(t, want, f.Result, "%d", i)
	}
	assert.Nil(t, JudgeElsewhere(values[:1], elsewhereLimits), "nothing is left")
}
