package tolerance

import (
	"slices"
	"strings"

	"crimprule/internal/elsewhere"
	"crimprule/vision/record"
)

// measuredViews are the views that this version measures.
func measuredViews() []record.View {
	return slices.DeleteFunc([]record.View{record.Seam, record.Side, record.Strip, record.Section},
		func(v record.View) bool { return record.Keys(v) == nil })
}

// viewsOf are the views in which a measurand is measured.
func viewsOf(key record.Key) []record.View {
	return slices.DeleteFunc(measuredViews(), func(v record.View) bool { return !slices.Contains(record.Keys(v), key) })
}

// measurandKeys are the measurands of a view; of all views, each once, where none is named.
func measurandKeys(view record.View) []string {
	views := []record.View{view}
	if view == "" {
		views = measuredViews()
	}
	names := []string{}
	for _, v := range views {
		for _, key := range record.Keys(v) {
			if !slices.Contains(names, string(key)) {
				names = append(names, string(key))
			}
		}
	}
	return names
}

// measurandHint says which measurand was probably meant, and which there are: those of the view, or all, view by view.
func measurandHint(name string, view record.View) string {
	if view != "" {
		return Allowed(name, measurandKeys(view))
	}
	lines := []string{}
	if near := nearest(name, measurandKeys("")); near != "" {
		lines = append(lines, "did you mean "+near+"?")
	}
	for _, v := range measuredViews() {
		lines = append(lines, wrap("allowed in the view "+string(v)+": "+strings.Join(measurandKeys(v), ", "), 100))
	}
	return strings.Join(lines, "\n")
}

// Whole tells whether a measurand counts something, so that its true value is a whole number whatever its uncertainty.
func Whole(key record.Key) bool { return possible(key).whole }

// possible is the range in which a measurand's limits can make sense. Lengths over a metre, and the like, are slips
// of the pen.
func possible(key record.Key) span {
	switch {
	case elsewhere.Known(key) && !key.Known():
		return elsewhereSpans[key]
	case key == record.StrayCount, key == record.CutStrands:
		return span{count, 0, 10000, true}
	case key == record.StrandCount:
		return partSpans["strand_count"]
	case key == record.Compaction:
		return span{pure, -1, 1, false} // negative: more metal than the wire that it is held against
	case key == record.Splay:
		return span{pure, 1, 100, false} // a largest width over one of the widths
	case key.Unit() == "mm2":
		return span{area, 0, 1000, false}
	case key.Unit() == "1":
		return span{pure, 0, 1, false}
	case key.Unit() == "deg":
		return span{angle, 0, 180, false}
	case key == record.InsulationGapMean, key == record.InsulationGapMax, key == record.SeamOffset:
		return span{length, -1000, 1000, false} // insulation inside the sleeve; a seam to the right
	}
	return span{length, 0, 1000, false}
}

// Possible gives the least and the greatest value that a measurand can have.
func Possible(key record.Key) (low, high float64) {
	s := possible(key)
	return s.low, s.high
}

// perfect is the value that cannot be bettered, where a measurand has one: limits that shut it out are a mistake.
func perfect(key record.Key) (float64, bool) {
	switch key {
	case record.Symmetry, record.CompletenessLeft, record.CompletenessRight, record.Splay:
		return 1, true
	case record.StrayCount, record.StrayLongest, record.SeamOpeningMax, record.SeamAngle, record.Bend,
		record.MissingLengthMax, record.MissingDepthMax,
		record.StrandEndSpread, record.CutStrands, record.InsulationCutAngle,
		record.BurrHeightLeft, record.BurrHeightRight, record.BurrWidthLeft, record.BurrWidthRight,
		record.WingTipHeightDifference, record.WingOpening, record.VoidRatio,
		elsewhere.ContactResistance:
		return 0, true
	}
	return 0, false
}
