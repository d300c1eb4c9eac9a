package terminal

import (
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
		p.wrapped(2, "Voids: ", wording.Voids(*v))
	}
	if len(rec.Cracks) > 0 {
		p.wrapped(2, "Cracks: ", wording.Cracks(rec.Cracks))
	}
	if ref := rec.CompactionReference; ref != nil {
		p.wrapped(2, "Compaction: ", wording.Reference(*ref))
	}
	for _, note := range rec.Notes {
		p.wrapped(2, "Note: ", wording.Clean(note))
	}
	if _, counted := rec.Measured[record.StrandCount]; counted {
		p.wrapped(2, "Strands: ", "place, area, roundness and neighbours of each one come with --json --details")
	}
}
