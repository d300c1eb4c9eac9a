package scan

import (
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
)

func limitsFile(t *testing.T, name, text string) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), name)
	write(t, path, text)
	return path
}

const (
	seamLimits = "view: seam\npart:\n  strand_diameter: 0.3 mm\nlimits:\n  symmetry:\n    min: 0.85\n"
	sideLimits = "view: side\npart:\n  strand_diameter: 0.3 mm\nlimits:\n  insulation_gap_max:\n    max: 1 mm\n"
	anyLimits  = "part:\n  insulation_diameter: 5.9 mm\nlimits:\n  stray_count:\n    max: 0\n"
)

func TestEachViewHasItsLimits(t *testing.T) {
	seam, general := limitsFile(t, "seam.yaml", seamLimits), limitsFile(t, "any.yaml", anyLimits)
	limits, err := LoadLimits([]string{general, seam, seam})
	require.NoError(t, err)
	require.Len(t, limits, 2, "the same file twice counts once")
	assert.Equal(t, "seam.yaml", limits.For(record.Seam).File)
	assert.Equal(t, "any.yaml", limits.For(record.Side).File)
	assert.Nil(t, limits[1:].For(record.Side))
	assert.Regexp(t, "^[0-9a-f]{64}$", limits[0].Hash)

	_, err = LoadLimits([]string{seam, limitsFile(t, "other.yaml", seamLimits)})
	assert.ErrorContains(t, err, "are both for the seam view")
	_, err = LoadLimits([]string{"nowhere.yaml"})
	assert.ErrorContains(t, err, `"nowhere.yaml" does not exist`)
}

func TestWhatTheLimitsDeclareOfThePart(t *testing.T) {
	limits, err := LoadLimits([]string{limitsFile(t, "seam.yaml", seamLimits), limitsFile(t, "any.yaml", anyLimits)})
	require.NoError(t, err)
	declared, err := limits.Declared(record.Seam)
	require.NoError(t, err)
	assert.Equal(t, record.Declared{StrandDiameter: 0.3}, declared)
	declared, err = limits.Declared(record.Auto)
	require.NoError(t, err)
	assert.Equal(t, record.Declared{StrandDiameter: 0.3, InsulationDiameter: 5.9}, declared, "a picture that is to tell its view has all of it")

	limits, err = LoadLimits([]string{limitsFile(t, "seam.yaml", seamLimits),
		limitsFile(t, "side.yaml", "view: side\npart:\n  strand_diameter: 0.2 mm\nlimits:\n  insulation_gap_max:\n    max: 1 mm\n")})
	require.NoError(t, err)
	_, err = limits.Declared(record.Auto)
	assert.ErrorContains(t, err, "strand_diameter")
	declared, err = limits.Declared(record.Side)
	require.NoError(t, err)
	assert.InDelta(t, 0.2, declared.StrandDiameter, 0)
}

func TestAPictureIsJudgedByTheLimitsOfItsView(t *testing.T) {
	limits, err := LoadLimits([]string{limitsFile(t, "seam.yaml", seamLimits), limitsFile(t, "side.yaml", sideLimits)})
	require.NoError(t, err)
	rec := record.New(record.Seam)
	rec.Set(record.Symmetry, 0.98, 0.02)
	got, hash := limits.Judge(rec)
	assert.Equal(t, limits[0].Hash, hash)
	assert.Equal(t, record.Conforms, got.Verdict.Result)

	strip := record.New(record.Strip)
	strip.Set(record.StripLength, 8, 0.1)
	got, hash = limits.Judge(strip)
	assert.Empty(t, hash, "no limits for this view")
	assert.Nil(t, got.Verdict)

	refused := record.New(record.Auto)
	refused.Refuse("the picture is blurred")
	got, _ = limits.Judge(refused)
	assert.Equal(t, record.NotMeasured, got.Verdict.Result)
	got, _ = Limits(nil).Judge(refused)
	assert.Nil(t, got.Verdict)
}
