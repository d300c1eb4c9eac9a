package vision

import (
	"context"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/vision/picture"
	"crimprule/vision/record"
)

// Photos that cannot be measured are refused with no value, whether the view is declared or to be told, and the reason names
// what is wrong with them. They were rendered by internal/drawn/cmd/draw -spoil, one a fault. Where one of two reasons is
// as true as the other, both are listed.
func TestPoorPhotosAreRefused(t *testing.T) {
	for name, reasons := range map[string][]string{
		"blurred":      {"blurred"},
		"shaken":       {"blurred", "no chessboard"},
		"tilted":       {"tilt is too large"},
		"dark":         {"too dark"},
		"bright":       {"overexposed"},
		"no-scale":     {"no chessboard"},
		"hidden-scale": {"no chessboard"},
		"no-part":      {"no crimped contact"},
		"two-parts":    {"more than one part"},
		"hand":         {"covers", "without its wire"},
		"tool":         {"covers", "nothing over it", "it cannot be told"},
		"cut-off":      {"cut off", "no crimped contact"},
		"not-crimped":  {"not crimped"},
		"closed-tube":  {"closed tube"},
		"inch-rule":    {"inch"},
	} {
		for _, view := range []record.View{record.Seam, record.Auto} {
			pic, err := picture.Open(filepath.Join("../testdata/refused", name+".jpg"))
			require.NoError(t, err)
			option := ScaleOption{Kind: "chessboard", LengthMM: 5}
			if name == "inch-rule" {
				option = ScaleOption{Kind: "rule", LengthMM: 1}
			}
			rec, err := Measure(context.Background(), pic, Request{View: view, Scales: []ScaleOption{option}})
			pic.Close()
			require.NoError(t, err)
			assert.Empty(t, rec.Measured, "%s, %s", name, view)
			if assert.NotEmpty(t, rec.Retake, "%s, %s", name, view) {
				assert.Conditionf(t, func() bool { return containsAny(rec.Retake[0], reasons) }, "%s, %s: %q names none of %q", name, view, rec.Retake[0], reasons)
			}
		}
	}
}

func containsAny(text string, words []string) bool {
	return slices.ContainsFunc(words, func(w string) bool { return strings.Contains(text, w) })
}

// What is declared and plainly contradicted by the picture is refused, its key and figure quoted.
func TestDeclarationsThatDoNotFitAreRefused(t *testing.T) {
	for want, d := range map[string]record.Declared{
		"insulation_diameter of 59 mm": {InsulationDiameter: 59},
		"strand_diameter of 3 mm":      {StrandDiameter: 3},
		"conductor_area of 400 mm2":    {ConductorArea: 400},
		"sheet_thickness of 6 mm":      {SheetThickness: 6},
	} {
		pic, err := picture.Open(clean)
		require.NoError(t, err)
		req := boardOf5()
		req.Declared = d
		rec, err := Measure(context.Background(), pic, req)
		pic.Close()
		require.NoError(t, err)
		assertRefused(t, rec)
		assert.Contains(t, rec.Retake[0], want)
	}
}
