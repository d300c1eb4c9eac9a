package record

import (
	"bytes"
	"encoding/json"
	"flag"
	"os"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/uncertainty"
)

var update = flag.Bool("update", false, "write the golden files anew")

func ptr(v float64) *float64 { return &v }

// measured is the contract's own example of a record, with a verdict of every kind of feature.
func measured() Record {
	r := New(Seam)
	r.Image, r.SHA256 = "canopy/row 3/crimp 12.jpg", "9f86d081884c7d659a2feaa0c55ad015a3bf4f1b2b0b822cd15d6c15b0f00a08"
	r.Taken, r.Camera = "2026-05-04T10:11:12+02:00", "phone of crew A"
	r.Tag = "canopy-north string-03 crimp-01"
	r.Scale = &Scale{Kind: "chessboard", MMPerPX: 0.0312, URel: 0.0011, TiltDeg: 4.1}
	r.Set(InsulationGapMax, 0.82, 0.04)
	r.Set(StrayCount, 0, 0)
	r.Miss(Bend, "the contact's body is outside the picture")
	r.Quality["sharpness"] = 0.8
	r.Verdict = &Verdict{Result: DoesNotConform, Score: 20, Tolerances: "canopy", Features: []Feature{
		{
			Key: InsulationGapMax, Result: DoesNotConform, Value: ptr(0.82), U: ptr(0.04), Unit: "mm",
			Min: ptr(0), Max: ptr(0.5), Aim: ptr(0.25), Probability: ptr(0), Score: ptr(0), Note: "example",
			Advice: &Advice{Means: "what it means", Causes: []string{"a cause"}, Do: "what to do"},
		},
		{
			Key: StrayCount, Result: Conforms, Value: ptr(0), U: ptr(0), Unit: "1", Max: ptr(0),
			Probability: ptr(1), Score: ptr(100),
		},
		{Key: Bend, Result: NotMeasured, Unit: "deg", Max: ptr(3), Reason: "the contact's body is outside the picture"},
	}}
	r.Marks = []Mark{{Kind: MarkEdge, Points: []Point{{1, 2}}}}
	return r
}

func refused() Record {
	r := New(Seam)
	r.Image, r.SHA256 = "blurred.jpg", "e3b0c44298fc1c149afbf4c8996fb92427ae41e4649b934ca495991b7852b855"
	r.Set(StrayCount, 0, 0)
	r.Refuse("hold the camera still: the picture is blurred")
	return r
}

// TestJSON compares order and shape with golden files (-update writes them anew). Value 0 and u 0 are printed, absent
// parts are not; nothing of the drawing marks is.
func TestJSON(t *testing.T) {
	for name, r := range map[string]Record{"measured": measured(), "refused": refused()} {
		got, err := json.MarshalIndent(r, "", "  ")
		require.NoError(t, err)
		got = append(got, '\n')
		path := "testdata/" + name + ".json"
		if *update {
			require.NoError(t, os.WriteFile(path, got, 0o644))
		}
		want, err := os.ReadFile(path)
		require.NoError(t, err)
		assert.Equal(t, string(want), string(got), name)

		var back Record
		decoder := json.NewDecoder(bytes.NewReader(got))
		decoder.DisallowUnknownFields()
		require.NoError(t, decoder.Decode(&back))
		r.Marks = nil
		assert.Equal(t, r, back, "%s comes back as it was", name)
	}
}

// TestBudgets: a value's budget is kept beside it, gives its u, and stands in the JSON only where it is asked for.
func TestBudgets(t *testing.T) {
	budget := uncertainty.Budget{{Name: "scale", Source: "board", Standard: 3}, {Name: "edge", Source: "scan lines", Standard: 4}}
	r := New(Seam)
	r.Set(StrayCount, 0, 0)
	r.SetBudget(SleeveLength, 6.5, budget)
	budget[0].Standard = 7 // the caller's own again
	assert.InDelta(t, 10, r.Measured[SleeveLength].U, 1e-12, "twice the root of the sum of squares of 3 and 4")
	plain, err := json.Marshal(r)
	require.NoError(t, err)
	assert.NotContains(t, string(plain), "budget")

	full, err := json.Marshal(r.WithBudgets().Measured)
	require.NoError(t, err)
	assert.JSONEq(t, `{"stray_count": {"value": 0, "u": 0, "unit": "1"}, "sleeve_length": {"value": 6.5, "u": 10, "unit": "mm", "budget": [
		{"name": "edge", "source": "scan lines", "standard": 4, "share": 0.64},
		{"name": "scale", "source": "board", "standard": 3, "share": 0.36}]}}`, string(full))
	assert.Nil(t, r.Measured[SleeveLength].Budget, "the record itself stays as it was")

	r.Set(SleeveLength, 6.4, 0.2)
	assert.Empty(t, r.Budgets, "a value without a budget does not keep an older one's")
	r.SetBudget(SleeveLength, 6.5, budget)
	r.Refuse("too dark")
	assert.Empty(t, r.Budgets)
}

// TestEmptyRecordHasAllParts: readers of the JSON find empty objects and lists, never null.
func TestEmptyRecordHasAllParts(t *testing.T) {
	got, err := json.Marshal(New(Seam))
	require.NoError(t, err)
	assert.JSONEq(t, `{"image":"","sha256":"","view":"seam","measured":{},"unmeasured":{},"quality":{},"retake":[]}`, string(got))
}

func TestSetMissRefuse(t *testing.T) {
	r := New(Seam)
	r.Miss(Bend, "outside the picture")
	r.Miss(Bend, "it could not be told")
	assert.Equal(t, "outside the picture", r.Unmeasured[Bend], "the first reason stays")
	r.Set(Bend, 1.5, 0.3)
	assert.Equal(t, Value{Value: 1.5, U: 0.3, Unit: "deg"}, r.Measured[Bend])
	assert.Empty(t, r.Unmeasured, "a value takes the reason's place")
	r.Miss(Bend, "too late")
	assert.Empty(t, r.Unmeasured, "a reason never overrides a value")

	r.Refuse("one", "two")
	r.Refuse("three")
	assert.Equal(t, []string{"one", "two", "three"}, r.Retake)
	assert.Empty(t, r.Measured)
	assert.Empty(t, r.Unmeasured)
}

// TestKeys holds the keys and units of the seam view against the list of measurands, written out once more here.
func TestKeys(t *testing.T) {
	units := map[Key]string{
		"insulation_gap_mean": "mm", "insulation_gap_max": "mm", "brush_mean": "mm", "brush_max": "mm", "brush_min": "mm",
		"stray_count": "1", "stray_longest": "mm", "sleeve_length": "mm", "sleeve_width": "mm", "bend": "deg",
		"bellmouth_length": "mm", "bellmouth_flare": "mm", "wing_width_left": "mm", "wing_width_right": "mm", "symmetry": "1",
		"seam_offset": "mm", "seam_angle": "deg", "seam_opening_max": "mm", "completeness_left": "1", "completeness_right": "1",
		"missing_length_max": "mm", "missing_depth_max": "mm",
	}
	keys := Keys(Seam)
	assert.Len(t, keys, len(units))
	for _, key := range keys {
		assert.Equal(t, units[key], key.Unit(), key)
		assert.True(t, key.Known(), key)
	}
	assert.False(t, Key("gap").Known())

	keys[0] = "spoilt"
	assert.Equal(t, InsulationGapMean, Keys(Seam)[0], "the list is the caller's own")
	assert.Nil(t, Keys(Auto))
}
