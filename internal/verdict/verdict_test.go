package verdict

import (
	"encoding/json"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

func ptr(v float64) *float64 { return &v }

// TestProbabilityOfPublishedExamples: inputs and answers of JCGM 106:2012, clause 7, from memory; the last three rows
// are computed with a general-purpose normal distribution for one limit at 1.65 u.
func TestProbabilityOfPublishedExamples(t *testing.T) {
	for _, c := range []struct {
		name      string
		y, u      float64
		low, high *float64
		want, tol float64
		result    record.Result
	}{
		{"breakdown voltage, upper limit (published 0.92)", -5.47, 0.05, nil, ptr(-5.40), 0.91924, 5e-6, record.NotProven},
		{"burst strength, lower limit (published 0.99)", 509.7, 8.6, ptr(490), nil, 0.98901, 5e-6, record.Conforms},
		{"oil viscosity, two limits (published 0.66)", 13.6, 1.8, ptr(12.5), ptr(16.3), 0.66263, 5e-6, record.NotProven},
		{"just proven", 0.967, 0.02, nil, ptr(1), 0.95053, 5e-6, record.Conforms},
		{"just disproven", 1.033, 0.02, nil, ptr(1), 0.04947, 5e-6, record.DoesNotConform},
		{"on the limit", 1, 0.02, nil, ptr(1), 0.5, 1e-15, record.NotProven},
	} {
		p := Probability(c.y, c.u, c.low, c.high)
		assert.InDelta(t, c.want, p, c.tol, c.name)
		assert.Equal(t, c.result, Decide(p, 0.95), c.name)
	}
}

// TestGuardBand: where a feature is just proven lies z standard uncertainties inside one limit; z from JCGM 106:2012,
// table 1 (from memory), and the inverse of the normal distribution.
func TestGuardBand(t *testing.T) {
	for confidence, z := range map[float64]float64{0.80: 0.842, 0.90: 1.282, 0.95: 1.645, 0.99: 2.326, 0.999: 3.090} {
		const u, limit = 0.02, 1.0
		assert.Equal(t, record.Conforms, Decide(Probability(limit-(z+0.001)*u, u, nil, ptr(limit)), confidence), "z %v", z)
		assert.Equal(t, record.NotProven, Decide(Probability(limit-(z-0.001)*u, u, nil, ptr(limit)), confidence), "z %v", z)
		assert.Equal(t, record.NotProven, Decide(Probability(limit+(z-0.001)*u, u, nil, ptr(limit)), confidence), "z %v", z)
		assert.Equal(t, record.DoesNotConform, Decide(Probability(limit+(z+0.001)*u, u, nil, ptr(limit)), confidence), "z %v", z)
	}
}

// TestProvenInsulationClearance: limits 0.25 and 1.25 mm (NASA-STD-8739.4, 10.1 b, wires from 18 AWG up) with U = 0.04 mm are
// proven at 95 % between 0.283 and 1.217 mm (computed by hand with 1.65 u).
func TestProvenInsulationClearance(t *testing.T) {
	file := tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{
		{Key: record.InsulationGapMax, Min: ptr(0.25), Max: ptr(1.25), Weight: 1},
	}}
	for value, want := range map[float64]record.Result{
		0.282: record.NotProven, 0.284: record.Conforms, 1.216: record.Conforms, 1.218: record.NotProven,
		0.216: record.DoesNotConform, 1.284: record.DoesNotConform,
	} {
		rec := record.New(record.Seam)
		rec.Set(record.InsulationGapMax, value, 0.04)
		assert.Equal(t, want, Judge(rec, file).Result, "%v mm", value)
	}
}

// TestGlobalRisk integrates what guard bands cost a producer: true values N(1500, 0.12), u = 0.04, tolerance 1499.8 to
// 1500.2, acceptance w inside each limit. The expected shares were computed independently, in the manner of JCGM
// 106:2012, clause 9. Probability gives the chance of being measured inside the acceptance limits.
func TestGlobalRisk(t *testing.T) {
	for _, c := range []struct{ w, acceptedThoughBad, rejectedThoughGood float64 }{
		{0, 0.018942, 0.037208},
		{0.0658, 0.001132, 0.194267},
		{0.08, 0.000469, 0.247670},
		{-0.08, 0.069405, 0.000681},
	} {
		const centre, spread, u, low, high, step = 1500.0, 0.12, 0.04, 1499.8, 1500.2, 0.0005
		bad, good, conforming := 0.0, 0.0, 0.0
		for x := low - 1 + step/2; x < high+1; x += step {
			made := Probability(centre, spread, ptr(x-step/2), ptr(x+step/2))
			accepted := Probability(x, u, ptr(low+c.w), ptr(high-c.w))
			if x < low || x > high {
				bad += made * accepted
			} else {
				conforming += made
				good += made * (1 - accepted)
			}
		}
		assert.InDelta(t, 0.90442, conforming, 5e-5, "share conforming")
		assert.InDelta(t, c.acceptedThoughBad, bad, 2e-6, "w = %v", c.w)
		assert.InDelta(t, c.rejectedThoughGood, good, 2e-6, "w = %v", c.w)
	}
}

func TestProbabilityOfCertainCounts(t *testing.T) {
	assert.Equal(t, 1.0, Probability(0, 0, nil, ptr(0)), "limits are inclusive")
	assert.Equal(t, 0.0, Probability(1, 0, nil, ptr(0)))
	assert.Equal(t, 1.0, Probability(56, 0, ptr(56), ptr(56)))
	assert.Equal(t, 0.0, Probability(55, 0, ptr(56), nil))
}

// TestProbabilityProperties: between 0 and 1, the same for the mirrored problem, growing with the tolerance, and it and
// its two complements make 1.
func TestProbabilityProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y := rapid.Float64Range(-10, 10).Draw(t, "value")
		u := rapid.Float64Range(1e-6, 5).Draw(t, "u")
		low := rapid.Float64Range(-10, 10).Draw(t, "low")
		high := low + rapid.Float64Range(0, 10).Draw(t, "width")
		p := Probability(y, u, &low, &high)
		mirrored := Probability(-y, u, ptr(-high), ptr(-low))
		sum := Probability(y, u, nil, &low) + p + Probability(y, u, &high, nil)
		switch {
		case !(p >= 0 && p <= 1):
			t.Fatalf("p = %v", p)
		case math.Abs(p-mirrored) > 1e-12:
			t.Fatalf("%v, mirrored %v", p, mirrored)
		case math.Abs(sum-1) > 1e-12:
			t.Fatalf("the three shares make %v", sum)
		case Probability(y, u, &low, ptr(high+1)) < p:
			t.Fatal("a wider tolerance made it less probable")
		}
	})
}

// TestFarTailKeepsItsDigits: 10 standard uncertainties out Phi(10) is 1 to all digits of a float; the published upper
// tail is 7.6199e-24 (tables of the normal distribution, from memory).
func TestFarTailKeepsItsDigits(t *testing.T) {
	assert.InEpsilon(t, 7.6199e-24, Probability(0, 1, ptr(10), nil), 1e-4)
	assert.InEpsilon(t, 7.6199e-24, Probability(0, 1, nil, ptr(-10)), 1e-4)
}

// limits and values of one feature each for the four results.
var (
	limits = map[record.Result]tolerance.Limit{
		record.Conforms:       {Key: record.Symmetry, Min: ptr(0.8), Weight: 1},
		record.NotProven:      {Key: record.InsulationGapMax, Max: ptr(1), Weight: 1},
		record.NotMeasured:    {Key: record.Bend, Max: ptr(3), Weight: 1},
		record.DoesNotConform: {Key: record.StrayCount, Max: ptr(0), Weight: 1},
	}
)

func example() record.Record {
	rec := record.New(record.Seam)
	rec.Set(record.Symmetry, 0.95, 0.02)
	rec.Set(record.InsulationGapMax, 0.99, 0.04)
	rec.Set(record.StrayCount, 2, 0)
	rec.Miss(record.Bend, "the contact's body is outside the picture")
	return rec
}

// TestWorstFeatureDecides: does_not_conform before not_measured before not_proven before conforms.
func TestWorstFeatureDecides(t *testing.T) {
	order := []record.Result{record.Conforms, record.NotProven, record.NotMeasured, record.DoesNotConform}
	file, last := tolerance.File{Confidence: 0.95}, math.Inf(1)
	for _, result := range order {
		file.Limits = append(file.Limits, limits[result])
		v := Judge(example(), file)
		assert.Equal(t, result, v.Result)
		assert.Equal(t, result, v.Features[len(v.Features)-1].Result)
		assert.Less(t, v.Score, last, "each worse result costs points")
		last = v.Score
	}
	assert.Equal(t, record.NotMeasured, Judge(example(), tolerance.File{Confidence: 0.95}).Result, "nothing was asked")
}

func TestJudgeFillsTheFeature(t *testing.T) {
	file := tolerance.File{Name: "canopy", Confidence: 0.95, Limits: []tolerance.Limit{
		limits[record.NotMeasured], limits[record.DoesNotConform],
		{Key: record.InsulationGapMax, Max: ptr(1), Aim: ptr(0.5), Weight: 2, Note: "example"},
		{Key: record.SleeveWidth, Max: ptr(4), Weight: 1},
	}}
	v := Judge(example(), file)
	assert.Equal(t, "canopy", v.Tolerances)
	require.Len(t, v.Features, 4)

	missed, stray, gap := v.Features[0], v.Features[1], v.Features[2]
	assert.Equal(t, "the contact's body is outside the picture", missed.Reason)
	assert.Nil(t, missed.Value)
	assert.Nil(t, missed.Score)
	assert.Equal(t, "deg", missed.Unit)
	assert.NotNil(t, missed.Advice)

	assert.Equal(t, 0.0, *stray.Probability)
	assert.Equal(t, 0.0, *stray.Score)
	assert.Contains(t, stray.Advice.Do, "never crimp")

	assert.Equal(t, ptr(0.99), gap.Value)
	assert.Equal(t, ptr(0.04), gap.U)
	assert.Equal(t, ptr(0.5), gap.Aim)
	assert.Equal(t, "example", gap.Note)
	assert.InDelta(t, 0.69146, *gap.Probability, 5e-6) // Phi(0.5), u = 0.02
	assert.Equal(t, "it is not measured in the view seam", v.Features[3].Reason)
	_, err := json.Marshal(v)
	assert.NoError(t, err)
}

func TestConformingFeaturesGetNoAdvice(t *testing.T) {
	v := Judge(example(), tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{limits[record.Conforms]}})
	assert.Equal(t, record.Conforms, v.Result)
	assert.Nil(t, v.Features[0].Advice)
}

func TestRefusedPictureIsNeverJudged(t *testing.T) {
	rec := example()
	rec.Retake = append(rec.Retake, "hold the camera still: the picture is blurred") // values left in on purpose
	file := tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{limits[record.Conforms], limits[record.DoesNotConform]}}
	v := Judge(rec, file)
	assert.Equal(t, record.NotMeasured, v.Result)
	assert.Zero(t, v.Score)
	for _, f := range v.Features {
		assert.Equal(t, record.NotMeasured, f.Result)
		assert.Contains(t, f.Reason, "the picture is blurred")
		assert.Nil(t, f.Value)
	}
}

// TestConfidenceIsNeverNone: a File made by hand without a confidence must not let everything conform.
func TestConfidenceIsNeverNone(t *testing.T) {
	for _, confidence := range []float64{0, 0.5, 1, math.NaN()} {
		file := tolerance.File{Confidence: confidence, Limits: []tolerance.Limit{limits[record.NotProven]}}
		assert.Equal(t, record.NotProven, Judge(example(), file).Result, "%v", confidence)
	}
}

func TestOtherViewIsNotMeasured(t *testing.T) {
	v := Judge(record.New(record.Side), tolerance.File{View: record.Seam, Confidence: 0.95, Limits: []tolerance.Limit{limits[record.Conforms]}})
	assert.Equal(t, "the tolerances are for the view seam and the picture was measured as side", v.Features[0].Reason)
}

func TestUnusableNumbersAreNotJudged(t *testing.T) {
	for _, value := range []record.Value{{Value: math.NaN()}, {Value: math.Inf(1)}, {Value: 1, U: -1}, {Value: 1, U: math.NaN()}} {
		rec := record.New(record.Seam)
		rec.Measured[record.Symmetry] = value
		v := Judge(rec, tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{limits[record.Conforms]}})
		assert.Equal(t, record.NotMeasured, v.Result, "%v", value)
		assert.Contains(t, v.Features[0].Reason, "no usable number")
	}
}

// TestLimitsThatNoPictureProves: where no value at all would be proven with such an uncertainty, the judgement says so.
// By hand, with the 95 % point of the normal distribution, 1.645: a count of 0 with u = 5 (k = 2) lies within "at most 0"
// with Phi(0.5 / 2.5) = 58 %; a spread within 0.6 mm can be proven while u/2 is under 0.6 / 1.645 = 0.36 mm.
func TestLimitsThatNoPictureProves(t *testing.T) {
	for name, c := range map[string]struct {
		limit    tolerance.Limit
		value, u float64
		never    bool
	}{
		"no strand cut":                  {tolerance.Limit{Key: record.CutStrands, Max: ptr(0)}, 0, 5, true},
		"one may be cut":                 {tolerance.Limit{Key: record.CutStrands, Max: ptr(0)}, 1, 5, true},
		"a length of nothing":            {tolerance.Limit{Key: record.MissingLengthMax, Max: ptr(0)}, 0.01, 0.1, true},
		"a length near its limit":        {tolerance.Limit{Key: record.StrandEndSpread, Max: ptr(0.6)}, 0.55, 0.3, false},
		"the same, seen very coarsely":   {tolerance.Limit{Key: record.StrandEndSpread, Max: ptr(0.6)}, 0.55, 0.8, true},
		"all of a ratio":                 {tolerance.Limit{Key: record.Symmetry, Min: ptr(1)}, 0.99, 0.02, true},
		"a ratio near its limit":         {tolerance.Limit{Key: record.Symmetry, Min: ptr(0.85)}, 0.86, 0.02, false},
		"two limits, further than u":     {tolerance.Limit{Key: record.StripLength, Min: ptr(7.5), Max: ptr(8.5)}, 8.45, 0.2, false},
		"two limits, nearer than u":      {tolerance.Limit{Key: record.StripLength, Min: ptr(7.9), Max: ptr(8.1)}, 8, 0.4, true},
		"insulation may reach in by far": {tolerance.Limit{Key: record.InsulationGapMax, Max: ptr(0)}, 0.01, 0.1, false},
	} {
		rec := record.New(record.Seam)
		rec.Set(c.limit.Key, c.value, c.u)
		c.limit.Weight = 1
		f := Judge(rec, tolerance.File{Confidence: 0.95, Limits: []tolerance.Limit{c.limit}}).Features[0]
		assert.Equal(t, record.NotProven, f.Result, name)
		assert.Equal(t, c.never, f.Reason != "", "%s: %s", name, f.Reason)
	}
}
