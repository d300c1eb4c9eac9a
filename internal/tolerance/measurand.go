package tolerance

import "crimprule/vision/record"

// measurandKeys are all measurands that this version measures in any view, each once.
func measurandKeys() []string {
	names, seen := []string{}, map[record.Key]bool{}
	for _, view := range []record.View{record.Seam, record.Side, record.Section, record.Strip} {
		for _, key := range record.Keys(view) {
			if !seen[key] {
				seen[key] = true
				names = append(names, string(key))
			}
		}
	}
	return names
}

// possible is the range in which a measurand's limits can make sense. Lengths over a metre, and the like, are slips
// of the pen.
func possible(key record.Key) span {
	switch {
	case key == record.StrayCount:
		return span{count, 0, 10000, true}
	case key.Unit() == "1":
		return span{pure, 0, 1, false}
	case key.Unit() == "deg":
		return span{angle, 0, 180, false}
	case key == record.InsulationGapMean, key == record.InsulationGapMax, key == record.SeamOffset:
		return span{length, -1000, 1000, false} // insulation inside the sleeve; a seam to the right
	}
	return span{length, 0, 1000, false}
}

// perfect is the value that cannot be bettered, where a measurand has one: limits that shut it out are a mistake.
func perfect(key record.Key) (float64, bool) {
	switch key {
	case record.Symmetry, record.CompletenessLeft, record.CompletenessRight:
		return 1, true
	case record.StrayCount, record.StrayLongest, record.SeamOpeningMax, record.SeamAngle, record.Bend,
		record.MissingLengthMax, record.MissingDepthMax:
		return 0, true
	}
	return 0, false
}
