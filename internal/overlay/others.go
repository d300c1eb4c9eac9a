package overlay

import (
	"fmt"
	"slices"

	"golang.org/x/image/font"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

const otherHeight = 22 // of a line of values without a place, in units

// other is a value that has no place of its own in the picture, or one that was judged and not had.
type other struct {
	text   string
	result record.Result // empty where it is not judged
}

// others lists what no label shows: what calls for action first, else in reading order.
func others(rec record.Record, marks []record.Mark) (all []other) {
	if len(rec.Retake) > 0 {
		return nil
	}
	shown := map[record.Key]bool{}
	for _, m := range marks {
		if slices.Contains(bearers, m.Kind) {
			shown[m.Key] = true
		}
	}
	results := map[record.Key]record.Result{}
	if rec.Verdict != nil {
		for _, f := range rec.Verdict.Features {
			results[f.Key] = f.Result
		}
	}
	for _, g := range wording.Groups(rec.View, record.Keys(rec.View)) {
		for _, key := range g.Keys {
			v, measured := rec.Measured[key]
			switch result := results[key]; {
			case measured && !shown[key]:
				all = append(all, other{wording.Name(rec.View, key) + ": " + wording.Quantity(v), result})
			case !measured && result != "":
				all = append(all, other{wording.Name(rec.View, key), result})
			}
		}
	}
	order := []record.Result{record.DoesNotConform, record.NotProven, record.NotMeasured, record.Conforms, ""}
	slices.SortStableFunc(all, func(a, b other) int { return slices.Index(order, a.result) - slices.Index(order, b.result) })
	return all
}

// drawOthers writes the values without a place between left and right, from top down to bottom.
func (d *drawing) drawOthers(left, right, top, bottom int) {
	all := others(d.rec, d.marks)
	if room := max(1, (bottom-top)/d.n(otherHeight)); len(all) > room {
		hidden := len(all) - room + 1
		all = append(all[:room-1:room-1], other{text: fmt.Sprintf("and %d more in the record", hidden)})
	}
	for i, o := range all {
		y := top + d.n(14+float64(i)*otherHeight)
		face, hue, text := font.Face(d.regular), print2, o.text
		if o.result != "" {
			text += "  " + wording.Result(o.result)
			if o.result != record.Conforms {
				face, hue = d.bold, print1
			}
		}
		d.text(face, left, y, hue, fitting(face, text, right-left))
	}
}
