package verdict

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// judgeOne judges one value of a section.
func judgeOne(key record.Key, value, u float64, low, high *float64) record.Feature {
	rec := record.New(record.Section)
	rec.Set(key, value, u)
	file := tolerance.File{View: record.Section, Confidence: 0.95, Limits: []tolerance.Limit{{Key: key, Min: low, Max: high, Weight: 1}}}
	return Judge(rec, file).Features[0]
}

// TestStrandCount: the chance of each whole number is the normal distribution's share from half a strand below it to
// half a strand above. Expected shares from tables of the normal distribution (from memory): Phi(0.5) 0.69146, Phi(1)
// 0.84134, Phi(3) 0.99865.
func TestStrandCount(t *testing.T) {
	for _, c := range []struct {
		name     string
		count, u float64
		want     float64
		result   record.Result
	}{
		{"all there, and sure", 56, 0, 1, record.Conforms},
		{"one missing, and sure", 55, 0, 0, record.DoesNotConform},
		{"one too many, and sure", 57, 0, 0, record.DoesNotConform},
		{"all counted, one in doubt", 56, 1, 2*0.84134 - 1, record.NotProven},
		{"all counted, two in doubt", 56, 2, 2*0.69146 - 1, record.NotProven},
		{"one missing, one in doubt", 55, 1, 0.99865 - 0.84134, record.NotProven},
		{"five missing, two in doubt", 51, 2, 0, record.DoesNotConform},
		{"all counted, hardly in doubt", 56, 0.4, 2*0.99379 - 1, record.Conforms}, // Phi(2.5)
	} {
		f := judgeOne(record.StrandCount, c.count, c.u, ptr(56), ptr(56))
		require.NotNil(t, f.Probability, c.name)
		assert.InDelta(t, c.want, *f.Probability, 2e-5, c.name)
		assert.Equal(t, c.result, f.Result, c.name)
	}
	assert.InDelta(t, 0.84134, *judgeOne(record.StrandCount, 56, 1, ptr(56), nil).Probability, 1e-5, "no upper limit")
}

// TestChancesOfACountMakeOne: the chances of all whole numbers add up to 1, whatever the doubt.
func TestChancesOfACountMakeOne(t *testing.T) {
	for _, u := range []float64{0.3, 1, 2.7} {
		sum := 0.0
		for n := 30.0; n <= 80; n++ {
			sum += *judgeOne(record.StrandCount, 55.2, u, ptr(n), ptr(n)).Probability
		}
		assert.InDelta(t, 1, sum, 1e-12, "u = %v", u)
	}
}

// TestRatiosOfASection: ratios, areas and a negative compaction are judged like any other value. z = 1.645 for 95 % from
// JCGM 106:2012, table 1, from memory.
func TestRatiosOfASection(t *testing.T) {
	const z, u = 1.645, 0.01 // expanded u; the standard one is half of it
	inside, outside := (z+0.01)*u/2, (z-0.01)*u/2
	for _, c := range []struct {
		key       record.Key
		value     float64
		low, high *float64
		want      record.Result
	}{
		{record.VoidRatio, 0.05 - inside, nil, ptr(0.05), record.Conforms},
		{record.VoidRatio, 0.05 - outside, nil, ptr(0.05), record.NotProven},
		{record.VoidRatio, 0.05 + inside, nil, ptr(0.05), record.DoesNotConform},
		{record.Compaction, 0.18, ptr(0.10), ptr(0.25), record.Conforms},
		{record.Compaction, 0.10 - inside, ptr(0.10), ptr(0.25), record.DoesNotConform},
		{record.Compaction, 0.25 + outside, ptr(0.10), ptr(0.25), record.NotProven},
		{record.Compaction, -0.03, ptr(0.10), ptr(0.25), record.DoesNotConform},
		{record.Compaction, -0.03, ptr(-0.05), nil, record.Conforms},
		{record.Symmetry, 0.80 + inside, ptr(0.80), nil, record.Conforms},
		{record.Symmetry, 0.80 - inside, ptr(0.80), nil, record.DoesNotConform},
		{record.ConductorArea, 3.2 - inside, ptr(3.2), nil, record.DoesNotConform},
		{record.WingOpening, 0, nil, ptr(0.02), record.Conforms},
		{record.WingOpening, 0, nil, ptr(0), record.NotProven}, // a limit of 0 leaves no room for u
		{record.BurrHeightLeft, 0, nil, ptr(0.6), record.Conforms},
	} {
		f := judgeOne(c.key, c.value, u, c.low, c.high)
		assert.Equal(t, c.want, f.Result, "%s = %v", c.key, c.value)
		assert.Equal(t, c.key.Unit(), f.Unit)
		assert.Equal(t, c.want == record.Conforms, f.Advice == nil, "%s = %v", c.key, c.value)
	}
}

// TestSectionExampleCanBeMet: the example file for sections passes a good crimp with ordinary uncertainties, and fails it
// for what is wrong with it, and for nothing else.
func TestSectionExampleCanBeMet(t *testing.T) {
	file, err := tolerance.Parse("example.yaml", []byte(tolerance.Example(record.Section)))
	require.NoError(t, err)
	good := func() record.Record {
		rec := record.New(record.Section)
		rec.Set(record.StrandCount, 56, 0)
		rec.Set(record.Compaction, 0.18, 0.01)
		rec.Set(record.VoidRatio, 0.02, 0.008)
		rec.Set(record.FloorThickness, 0.56, 0.01)
		rec.Set(record.WingTipFloorLeft, 0.4, 0.01)
		rec.Set(record.WingTipFloorRight, 0.42, 0.01)
		rec.Set(record.WingTipHeightDifference, 0.03, 0.01)
		rec.Set(record.WingOpening, 0, 0.01)
		rec.Set(record.Symmetry, 0.93, 0.02)
		for _, burr := range []record.Key{record.BurrHeightLeft, record.BurrHeightRight, record.BurrWidthLeft, record.BurrWidthRight} {
			rec.Set(burr, 0.05, 0.01)
		}
		return rec
	}
	v := Judge(good(), file)
	assert.Equal(t, record.Conforms, v.Result)
	assert.Len(t, v.Features, 13)

	rec := good()
	rec.Set(record.BurrHeightRight, 0.75, 0.01)
	v = Judge(rec, file)
	assert.Equal(t, record.DoesNotConform, v.Result)
	for _, f := range v.Features {
		if f.Key == record.BurrHeightRight {
			assert.Contains(t, f.Advice.Means, "burr")
			assert.Contains(t, f.Advice.Do, "set-up", "the advice is a section's")
		} else {
			assert.Equal(t, record.Conforms, f.Result, f.Key)
		}
	}
	assert.False(t, math.IsNaN(v.Score))
}
