package terminal

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/internal/scan"
	"crimprule/vision/record"
)

func TestHowAPictureWasAskedFor(t *testing.T) {
	whole := scan.Request{View: record.Seam, Scales: []string{"chessboard=5mm", "bar=1mm"},
		Declared: record.Declared{ConductorArea: 4, StrandCount: 56, StrandDiameter: 0.3, InsulationDiameter: 5.5, SheetThickness: 0.25}}
	assert.Equal(t, "view seam; scale chessboard=5mm, bar=1mm; declared conductor_area 4 mm2, strand_count 56, strand_diameter 0.3 mm, "+
		"insulation_diameter 5.5 mm, sheet_thickness 0.25 mm", asked(whole.Key()))
	for request, want := range map[string]string{
		`{"view":"auto"}`:                "view auto",
		scan.Request{View: "\x1b"}.Key(): `view \x1b`,
		`{"view":"seam","new":1}`:        `{"view":"seam","new":1}`,
		"{}":                             "{}",
		"old\x1b":                        `old\x1b`,
	} {
		assert.Equal(t, want, asked(request))
	}
}
