package terminal

import (
	"encoding/json"
	"strconv"
	"strings"

	"crimprule/internal/scan"
	"crimprule/internal/wording"
)

// asked says in words how a picture was to be measured; a request that is not understood, such as one of another version of
// the program, is given as it is.
func asked(request string) string {
	var r scan.Request
	decoder := json.NewDecoder(strings.NewReader(request))
	decoder.DisallowUnknownFields()
	if err := decoder.Decode(&r); err != nil || decoder.More() || r.View == "" {
		return wording.Clean(request)
	}
	parts := []string{"view " + wording.Clean(string(r.View))}
	if len(r.Scales) > 0 {
		parts = append(parts, "scale "+wording.Clean(strings.Join(r.Scales, ", ")))
	}
	var declared []string
	for _, d := range []struct {
		key, unit string
		value     float64
	}{
		{"conductor_area", " mm2", r.Declared.ConductorArea}, {"strand_count", "", r.Declared.StrandCount}, {"strand_diameter", " mm", r.Declared.StrandDiameter},
		{"insulation_diameter", " mm", r.Declared.InsulationDiameter}, {"sheet_thickness", " mm", r.Declared.SheetThickness},
	} {
		if d.value != 0 {
			declared = append(declared, d.key+" "+strconv.FormatFloat(d.value, 'f', -1, 64)+d.unit)
		}
	}
	if len(declared) > 0 {
		parts = append(parts, "declared "+strings.Join(declared, ", "))
	}
	return strings.Join(parts, "; ")
}
