package photo

import "crimprule/vision/record"

// strays counts the strands outside the sleeve and measures the longest.
func (b *bench) strays(s sleeve) {
	b.rec.Miss(record.StrayCount, "not yet measured")
	b.rec.Miss(record.StrayLongest, "not yet measured")
}
