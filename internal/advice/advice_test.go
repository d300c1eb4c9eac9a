package advice

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

func ptr(v float64) *float64 { return &v }

// TestEveryMeasurandHasWords: every measurand of the seam view has words for both directions and all results.
func TestEveryMeasurandHasWords(t *testing.T) {
	for _, key := range record.Keys(record.Seam) {
		assert.NotEqual(t, string(key), Name(key), "%s has no name for people", key)
		said := map[string]bool{}
		for _, result := range []record.Result{record.DoesNotConform, record.NotProven} {
			for _, value := range []float64{0.9, 2.1} {
				a := For(record.Feature{Key: key, Result: result, Value: ptr(value), Min: ptr(1), Max: ptr(2)})
				require.NotNil(t, a, key)
				assert.NotEqual(t, plain("too small").means, a.Means, "%s has no text of its own", key)
				assert.NotEqual(t, plain("too large").means, a.Means, "%s has no text of its own", key)
				assert.NotEmpty(t, a.Causes, key)
				assert.Contains(t, a.Do, "make", key)
				assert.Contains(t, a.Do, "never crimp", "%s: re-crimping is warned of", key)
				assert.True(t, strings.HasSuffix(a.Do, "."), "%s: %q", key, a.Do)
				said[a.Means] = true
			}
		}
		assert.Len(t, said, 4, "%s: the two directions and the two results read differently", key)

		a := For(record.Feature{Key: key, Result: record.NotMeasured, Reason: "out of the picture"})
		require.NotNil(t, a, key)
		assert.Contains(t, a.Means, Name(key))
		assert.Nil(t, For(record.Feature{Key: key, Result: record.Conforms, Value: ptr(1.5), Min: ptr(1), Max: ptr(2)}))
	}
}

func TestEntriesAreMeasurands(t *testing.T) {
	for key := range entries {
		assert.True(t, key.Known(), key)
	}
}

func TestDirection(t *testing.T) {
	gap := func(value float64, low, high *float64) record.Feature {
		return record.Feature{Key: record.InsulationGapMax, Result: record.DoesNotConform, Value: ptr(value), Min: low, Max: high}
	}
	for _, c := range []struct {
		name    string
		feature record.Feature
		want    string
	}{
		{"only an upper limit", gap(1.4, nil, ptr(1)), gapLarge.means},
		{"only a lower limit", gap(-0.3, ptr(0), nil), gapSmall.means},
		{"above both", gap(1.4, ptr(0), ptr(1)), gapLarge.means},
		{"below both", gap(-0.3, ptr(0), ptr(1)), gapSmall.means},
	} {
		assert.Equal(t, c.want, For(c.feature).Means, c.name)
	}
	doubtful := gap(0.02, ptr(0), ptr(1))
	doubtful.Result = record.NotProven
	assert.Contains(t, For(doubtful).Means, gapSmall.means, "the nearer limit is the one in doubt")
}

func TestUnknownMeasurandStillGetsAdvice(t *testing.T) {
	a := For(record.Feature{Key: "future_measurand", Result: record.DoesNotConform, Value: ptr(2), Max: ptr(1)})
	require.NotNil(t, a)
	assert.Contains(t, a.Do, "never crimp")
	assert.Equal(t, "future_measurand", Name("future_measurand"))
}

// TestCautions: the points without which the results would be dangerous to show.
func TestCautions(t *testing.T) {
	all := strings.Join(Cautions(), "\n")
	for _, word := range []string{"specification", "pull-out", "examples", "section", "scale", "under load", "licensed", "eye protection", "life"} {
		assert.Contains(t, all, word)
	}
}
