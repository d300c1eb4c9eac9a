package advice

import (
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

func ptr(v float64) *float64 { return &v }

// TestEveryMeasurandHasWords: every measurand of the photo views has words for both directions and all results.
func TestEveryMeasurandHasWords(t *testing.T) {
	for view, redo := range map[record.View]string{record.Seam: "never crimp", record.Side: "never crimp", record.Strip: "strip the wire anew"} {
		t.Run(string(view), func(t *testing.T) { everyMeasurandHasWords(t, view, redo) })
	}
}

// everyMeasurandHasWords demands that what to do says redo: a second crimp hides the fault, a stripped end costs wire only.
func everyMeasurandHasWords(t *testing.T, view record.View, redo string) {
	for _, key := range record.Keys(view) {
		assert.NotEqual(t, string(key), Name(view, key), "%s has no name for people", key)
		said := map[string]bool{}
		for _, result := range []record.Result{record.DoesNotConform, record.NotProven} {
			for _, value := range []float64{0.9, 2.1} {
				a := For(view, record.Feature{Key: key, Result: result, Value: ptr(value), Min: ptr(1), Max: ptr(2)})
				require.NotNil(t, a, key)
				assert.NotEqual(t, plain("too small").means, a.Means, "%s has no text of its own", key)
				assert.NotEqual(t, plain("too large").means, a.Means, "%s has no text of its own", key)
				assert.NotEmpty(t, a.Causes, key)
				assert.Contains(t, a.Do, redo, key)
				assert.True(t, strings.HasSuffix(a.Do, "."), "%s: %q", key, a.Do)
				said[a.Means] = true
			}
		}
		assert.Len(t, said, 4, "%s: the two directions and the two results read differently", key)

		a := For(view, record.Feature{Key: key, Result: record.NotMeasured, Reason: "out of the picture"})
		require.NotNil(t, a, key)
		assert.Contains(t, a.Means, Name(view, key))
		assert.Nil(t, For(view, record.Feature{Key: key, Result: record.Conforms, Value: ptr(1.5), Min: ptr(1), Max: ptr(2)}))
	}
}

func TestEntriesAreMeasurands(t *testing.T) {
	for key := range entries {
		assert.True(t, key.Known(), key)
		assert.NotContains(t, sectionEntries, key, "one place for the words of a measurand")
	}
	for key := range sectionEntries {
		assert.True(t, key.Known(), key)
	}
	for key := range stripEntries {
		assert.Contains(t, record.Keys(record.Strip), key)
		assert.NotContains(t, entries, key, "one place for the words of a measurand")
	}
	for key := range sideEntries {
		assert.Contains(t, record.Keys(record.Side), key)
	}
}

// TestSectionHasWords: every measurand of a section has words for both directions and all results, which speak of the
// set-up, since the crimp itself is cut up.
func TestSectionHasWords(t *testing.T) {
	for _, key := range record.Keys(record.Section) {
		assert.NotEqual(t, string(key), Name(record.Section, key), "%s has no name for people", key)
		said := map[string]bool{}
		for _, value := range []float64{0.9, 2.1} {
			for _, result := range []record.Result{record.DoesNotConform, record.NotProven} {
				a := For(record.Section, record.Feature{Key: key, Result: result, Value: ptr(value), Min: ptr(1), Max: ptr(2)})
				require.NotNil(t, a, key)
				assert.NotContains(t, a.Means, plain("too small").means, "%s has no text of its own", key)
				assert.NotContains(t, a.Means, plain("too large").means, "%s has no text of its own", key)
				assert.NotEmpty(t, a.Causes, key)
				assert.Contains(t, a.Do, "set-up", key)
				assert.Contains(t, a.Do, "never crimp", key)
				assert.NotContains(t, a.Do, "Cut the contact off", "%s: it is cut already", key)
				assert.True(t, strings.HasSuffix(a.Do, "."), "%s: %q", key, a.Do)
				said[a.Means] = true
			}
		}
		assert.Len(t, said, 4, "%s: the two directions and the two results read differently", key)
		a := For(record.Section, record.Feature{Key: key, Result: record.NotMeasured, Reason: "a scratch"})
		assert.Contains(t, a.Do, "release the set-up")
	}
	symmetry := record.Feature{Key: record.Symmetry, Result: record.DoesNotConform, Value: ptr(0.5), Min: ptr(0.8)}
	assert.Equal(t, For(record.Seam, symmetry).Means, For(record.Section, symmetry).Means, "one text serves both views")
	assert.NotEqual(t, For(record.Seam, symmetry).Do, For(record.Section, symmetry).Do)
}

// TestBelow: what stands below a report is part of all the cautions, and a section's says that it is one crimp's.
func TestBelow(t *testing.T) {
	for _, view := range []record.View{record.Seam, record.Side, record.Strip, record.Section, record.Auto} {
		require.NotEmpty(t, Below(view))
		assert.Subset(t, Cautions(), Below(view), view)
	}
	assert.Contains(t, strings.Join(Below(record.Section), " "), "that crimp alone")
	assert.Contains(t, strings.Join(Below(record.Strip), " "), "no crimp yet")
	assert.Len(t, Below(record.Auto, record.Strip, record.Section, record.Seam), 3, "those of all views, each once")
}

// TestSleeveWidthFromTheSide: there it is the crimp's height, so that too little of it is pressed too far.
func TestSleeveWidthFromTheSide(t *testing.T) {
	assert.Contains(t, Name(record.Side, record.SleeveWidth), "height")
	assert.Contains(t, Name(record.Seam, record.SleeveWidth), "width")
	low := record.Feature{Key: record.SleeveWidth, Result: record.DoesNotConform, Value: ptr(2), Min: ptr(3)}
	assert.Contains(t, For(record.Side, low).Means, "pressed too far")
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
		assert.Equal(t, c.want, For(record.Seam, c.feature).Means, c.name)
	}
	doubtful := gap(0.02, ptr(0), ptr(1))
	doubtful.Result = record.NotProven
	assert.Contains(t, For(record.Seam, doubtful).Means, gapSmall.means, "the nearer limit is the one in doubt")
}

// TestEitherSide: a count of 56 ± 4 where 56 are wanted may be too small as well as too large, and the words say both.
func TestEitherSide(t *testing.T) {
	value, u, limit := 56.0, 4.0, 56.0
	f := record.Feature{Key: record.StrandCount, Result: record.NotProven, Value: &value, U: &u, Min: &limit, Max: &limit}
	a := For(record.Section, f)
	assert.Contains(t, a.Means, "Strands are missing in the sleeve")
	assert.Contains(t, a.Means, "There are more strands in the sleeve")
	assert.Contains(t, a.Causes, "two wires in one sleeve")
	above := 60.0
	f.Max = &above
	f.Value = &above
	assert.NotContains(t, For(record.Section, f).Means, "Strands are missing")
}

func TestUnknownMeasurandStillGetsAdvice(t *testing.T) {
	a := For(record.Seam, record.Feature{Key: "future_measurand", Result: record.DoesNotConform, Value: ptr(2), Max: ptr(1)})
	require.NotNil(t, a)
	assert.Contains(t, a.Do, "never crimp")
	assert.Equal(t, "future_measurand", Name(record.Seam, "future_measurand"))
}

// TestCautions: the points without which the results would be dangerous to show.
func TestCautions(t *testing.T) {
	all := strings.Join(Cautions(), "\n")
	for _, word := range []string{"specification", "pull-out", "examples", "section", "scale", "under load", "licensed", "eye protection", "life"} {
		assert.Contains(t, all, word)
	}
}

// TestElsewhereHasWords: whatever is measured with other instruments has a name, and words for both directions and all
// results. What to do goes with what the test does to the crimp.
func TestElsewhereHasWords(t *testing.T) {
	redo := map[record.Key]string{elsewhere.PullOutForce: "hold back", elsewhere.Torque: "Switch off"}
	for _, key := range elsewhere.Keys() {
		assert.NotEqual(t, string(key), Name("", key), "%s has no name for people", key)
		said := map[string]bool{}
		for _, value := range []float64{0.9, 2.1} {
			for _, result := range []record.Result{record.DoesNotConform, record.NotProven} {
				a := ForElsewhere(record.Feature{Key: key, Result: result, Value: ptr(value), Min: ptr(1), Max: ptr(2)})
				require.NotNil(t, a, key)
				assert.NotContains(t, a.Means, plain("too small").means, key)
				assert.NotContains(t, a.Means, plain("too large").means, key)
				assert.NotContains(t, a.Means+a.Do, "picture", "%s: no picture was taken", key)
				assert.NotEmpty(t, a.Causes, key)
				assert.True(t, strings.HasSuffix(a.Do, "."), "%s: %q", key, a.Do)
				if want := redo[key]; want != "" && result == record.DoesNotConform {
					assert.Contains(t, a.Do, want, key)
				} else if result == record.DoesNotConform {
					assert.Contains(t, a.Do, "never crimp", key)
				}
				said[a.Means] = true
			}
		}
		assert.Len(t, said, 4, "%s: the two directions and the two results read differently", key)
		a := ForElsewhere(record.Feature{Key: key, Result: record.NotMeasured, Reason: "the unit"})
		assert.Contains(t, a.Means, Name("", key))
		assert.Nil(t, ForElsewhere(record.Feature{Key: key, Result: record.Conforms}))
	}
	assert.NotNil(t, ForElsewhere(record.Feature{Key: "later", Result: record.DoesNotConform}))
}

// TestCausesHaveTheirExercise: whatever is named as a cause has its line in the one table of what to do against it, and
// the table has no line that no cause leads to.
func TestCausesHaveTheirExercise(t *testing.T) {
	named := map[string]bool{wrongChoice: true, wrongLimit: true}
	for _, table := range []map[record.Key]entry{entries, stripEntries, sectionEntries, elsewhereEntries, sideEntries} {
		for key, e := range table {
			for _, cause := range slices.Concat(e.small.causes, e.large.causes) {
				named[cause] = true
				exercise, ok := against[cause]
				assert.True(t, ok, "%s: nothing is known against %q", key, cause)
				assert.Greater(t, len(exercise.Do), 40, cause)
				assert.Equal(t, exercise, Against(cause))
			}
		}
	}
	for cause := range against {
		assert.True(t, named[cause], "%q is no cause of anything", cause)
	}
	for cause, name := range map[string]string{
		strippedTooLong: "stripping", notAtStop: "insertion depth", splayed: "gathering the strands", notUpright: "placing the contact in the die",
		notClosed: "closing the tool", wireTooThick: "check wire, contact and tool with the trainer", wornDie: "check wire, contact and tool with the trainer",
		"something new": "check wire, contact and tool with the trainer",
	} {
		assert.Equal(t, name, Against(cause).Name, cause)
	}
}

// TestWhatCanNeverBeProven: another picture of the same kind is no help where no value would be proven, and is not asked
// for; what would help is.
func TestWhatCanNeverBeProven(t *testing.T) {
	cut := record.Feature{Key: record.CutStrands, Result: record.NotProven, Value: ptr(0), Max: ptr(0), Reason: "its uncertainty is too large"}
	a := For(record.Strip, cut)
	assert.Contains(t, a.Means, "cannot be proven good by such a picture, whatever it is like: its uncertainty is too large.")
	assert.Contains(t, a.Do, "counted with a loupe")
	assert.Contains(t, a.Do, "As long as it is not proven")
	assert.NotContains(t, a.Do, "sharper")
	for _, view := range []record.View{record.Seam, record.Side, record.Strip, record.Section, ""} {
		for _, key := range slices.Concat(record.Keys(view), []record.Key{elsewhere.PullOutForce, "later"}) {
			assert.NotEmpty(t, ToShow(view, key))
		}
	}
	assert.Contains(t, ToShow(record.Side, record.SleeveWidth), "micrometer")
}
