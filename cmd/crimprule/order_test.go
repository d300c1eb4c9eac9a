package main

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/tolerance"
	"crimprule/vision/record"
)

// A view that each picture tells by itself goes with every scale, and with a tolerances file for any view.
func TestAutoTakesWhatAnyViewTakes(t *testing.T) {
	o, err := readOrder(measureOptions{view: "auto", scales: []string{"chessboard=5mm", "rule=1mm", "disc=20mm", "bar=500um", "known=2.05um/px"}})
	require.NoError(t, err)
	assert.Equal(t, record.Auto, o.view)
	require.Len(t, o.scales, 5)
	assert.Equal(t, 20.0, o.scales[2].LengthMM)
	assert.Equal(t, 0.00205, o.scales[4].MMPerPX)
	assert.Zero(t, o.scales[4].LengthMM)
}

// A picture of another view than the tolerances file's is refused; one that was refused already keeps its own reasons.
func TestContradiction(t *testing.T) {
	o := order{view: record.Auto, file: &tolerance.File{View: record.Seam}}
	assert.Contains(t, o.contradiction(record.New(record.Strip)), "shows the strip view, and the tolerances file is for the seam view")
	assert.Empty(t, o.contradiction(record.New(record.Seam)))
	refused := record.New(record.Auto)
	refused.Refuse("too dark")
	assert.Empty(t, o.contradiction(refused))
	assert.Empty(t, order{view: record.Auto, file: &tolerance.File{}}.contradiction(record.New(record.Strip)), "a file for any view")
	assert.Empty(t, order{view: record.Auto}.contradiction(record.New(record.Strip)), "nothing is judged")
}
