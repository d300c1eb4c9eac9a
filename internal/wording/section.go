package wording

import (
	"fmt"
	"strings"

	"crimprule/vision/record"
)

// Voids says how many voids a section has, their area together and the largest one's.
func Voids(v record.Voids) string {
	if v.Count == 0 {
		return "none seen"
	}
	area := Quantity(record.Value{Value: v.AreaMM2, U: v.U, Unit: "mm2"})
	if v.Count == 1 {
		return "1, " + area
	}
	return fmt.Sprintf("%d, together %s, the largest %.2g mm²", v.Count, area, v.LargestMM2)
}

// Cracks says where a section's cracks are and how long.
func Cracks(all []record.Crack) string {
	parts := make([]string, len(all))
	for i, c := range all {
		parts[i] = "in the " + Clean(c.Where) + ", " + Quantity(record.Value{Value: c.LengthMM, U: c.U, Unit: "mm"}) + " long"
	}
	return strings.Join(parts, "; ")
}

// Reference says what compaction was held against.
func Reference(ref record.CompactionReference) string {
	return fmt.Sprintf("held against %.3f mm², %s", ref.AreaMM2, Clean(ref.From))
}
