package terminal

import (
	"fmt"
	"strings"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// section prints what only a section has, below the table: voids, cracks, what compaction was held against, remarks,
// and where the strands are to be had one by one.
func (p *page) section(rec record.Record) {
	if rec.View != record.Section || len(rec.Retake) > 0 {
		return
	}
	if v := rec.Voids; v != nil {
		p.wrapped(2, "Voids: ", voids(*v))
	}
	if len(rec.Cracks) > 0 {
		p.wrapped(2, "Cracks: ", cracks(rec.Cracks))
	}
	if ref := rec.CompactionReference; ref != nil {
		p.wrapped(2, "Compaction: ", fmt.Sprintf("held against %.3f mm², %s", ref.AreaMM2, wording.Clean(ref.From)))
	}
	for _, note := range rec.Notes {
		p.wrapped(2, "Note: ", wording.Clean(note))
	}
	if _, counted := rec.Measured[record.StrandCount]; counted {
		p.wrapped(2, "Strands: ", "place, area, roundness and neighbours of each one come with --json --details")
	}
}

func voids(v record.Voids) string {
	if v.Count == 0 {
		return "none seen"
	}
	area := wording.Quantity(record.Value{Value: v.AreaMM2, U: v.U, Unit: "mm2"})
	if v.Count == 1 {
		return "1, " + area
	}
	return fmt.Sprintf("%d, together %s, the largest %.2g mm²", v.Count, area, v.LargestMM2)
}

func cracks(all []record.Crack) string {
	parts := make([]string, len(all))
	for i, c := range all {
		where := "the sleeve"
		if c.Where == "floor" {
			where = "the floor"
		}
		parts[i] = "in " + where + ", " + wording.Quantity(record.Value{Value: c.LengthMM, U: c.U, Unit: "mm"}) + " long"
	}
	return strings.Join(parts, "; ")
}
