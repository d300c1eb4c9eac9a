package overlay

import (
	"cmp"
	"math"
	"slices"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// label is a value to be written at the drawing's rim, with a leader line to its place in the picture.
type label struct {
	name, value string
	result      record.Result // empty where it is not judged
	kind        record.MarkKind
	anchor      record.Point // in the drawing
	left        bool         // in the left column
	y           float64      // of its middle, in the drawing
}

// bearers are the kinds of marks that a value is written to, the most telling first.
var bearers = []record.MarkKind{record.MarkLength, record.MarkStray, record.MarkCut, record.MarkMiss, record.MarkEdge, record.MarkScan}

// labels makes one label for each measured value that has a mark. toDrawing maps the picture's points.
func labels(rec record.Record, marks []record.Mark, toDrawing func(record.Point) record.Point) []label {
	best := map[record.Key]record.Mark{}
	for _, m := range marks {
		rank := slices.Index(bearers, m.Kind)
		if _, measured := rec.Measured[m.Key]; !measured || rank < 0 {
			continue
		}
		if old, ok := best[m.Key]; !ok || rank < slices.Index(bearers, old.Kind) {
			best[m.Key] = m
		}
	}
	results := map[record.Key]record.Result{}
	if rec.Verdict != nil {
		for _, f := range rec.Verdict.Features {
			results[f.Key] = f.Result
		}
	}
	var all []label
	for key, m := range best {
		all = append(all, label{name: wording.Name(rec.View, key), value: wording.Quantity(rec.Measured[key]), result: results[key],
			kind: m.Kind, anchor: toDrawing(place(m))})
	}
	// The map's order must not show: the same record always gives the same drawing.
	slices.SortFunc(all, func(a, b label) int {
		return cmp.Or(cmp.Compare(a.anchor.X, b.anchor.X), cmp.Compare(a.anchor.Y, b.anchor.Y), cmp.Compare(a.name, b.name))
	})
	return all
}

// place is where the leader line of a mark ends: a strand's tip, the middle of an outline or an edge, and a third along
// a length, since lengths often cross in their middles.
func place(m record.Mark) record.Point {
	if m.Kind == record.MarkStray {
		return m.Points[len(m.Points)-1]
	}
	if m.Kind == record.MarkLength {
		a, b := m.Points[0], m.Points[len(m.Points)-1]
		return record.Point{X: (2*a.X + b.X) / 3, Y: (2*a.Y + b.Y) / 3}
	}
	return m.Points[len(m.Points)/2]
}

// arrange gives each label a column and a height between top and bottom, so that no two overlap. The left half of
// the places goes to the left column, so that leaders are short and seldom cross.
func arrange(all []label, top, bottom, height float64) {
	half := (len(all) + 1) / 2
	for i := range all {
		all[i].left = i < half
	}
	stack(all[:half], top, bottom, height)
	stack(all[half:], top, bottom, height)
}

// stack sorts a column's labels by their places' height and moves them apart as little as it can.
func stack(column []label, top, bottom, height float64) {
	slices.SortStableFunc(column, func(a, b label) int { return cmp.Compare(a.anchor.Y, b.anchor.Y) })
	next := top + height/2
	for i := range column {
		column[i].y = math.Max(column[i].anchor.Y, next)
		next = column[i].y + height
	}
	last := bottom - height/2
	for i := len(column) - 1; i >= 0; i-- {
		column[i].y = math.Min(column[i].y, last)
		last = column[i].y - height
	}
}
