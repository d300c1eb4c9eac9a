package terminal

import (
	"bytes"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/record"
	"crimprule/vision/uncertainty"
)

// budgeted is an invented record with a budget of every sort: of many parts, of one, of none, and not kept.
func budgeted() record.Record {
	rec := record.New(record.Seam)
	rec.Image = "canopy/crew-a-017.jpg"
	rec.SetBudget(record.InsulationGapMean, 0.8213, uncertainty.Budget{
		{Name: "edge", Source: "scatter of scan lines at the cut end and the rear edge", Standard: 0.0121},
		{Name: "definition", Source: "where rounded edges end, at both ends", Standard: 0.0283},
		{Name: "angle", Source: "heights of the cut end and the rear edge, times the slope of view", Standard: 0.0093},
		{Name: "scale", Source: "reference's corners, distortion and the camera's distance, as far as they bear on the place where the part lies", Standard: 0.0008},
		{Name: "nought", Source: "counts for nothing and is not shown", Standard: 0},
	})
	rec.SetBudget(record.SeamAngle, 0.42, uncertainty.Budget{{Name: "edge", Source: "scatter of the seam", Standard: 0.17}})
	rec.SetBudget(record.StrayCount, 1, uncertainty.Budget{})
	rec.Set(record.SleeveLength, 6.48, 0.03)
	return rec
}

func TestBudgets(t *testing.T) {
	var out bytes.Buffer
	require.NoError(t, New(&out, &bytes.Buffer{}).Budgets(budgeted()))
	golden(t, "budgets.txt", out.String())
	for line := range strings.Lines(out.String()) {
		assert.LessOrEqual(t, utf8.RuneCountInString(strings.TrimRight(line, "\n")), Width, line)
		assert.Equal(t, strings.TrimRight(line, " \n")+"\n", line, "no spaces at the end")
	}
}

func TestNoBudgetsOfARefusedPicture(t *testing.T) {
	rec := budgeted()
	rec.Refuse("too dark")
	var out bytes.Buffer
	require.NoError(t, New(&out, &bytes.Buffer{}).Budgets(rec))
	assert.Empty(t, out.String())
}
