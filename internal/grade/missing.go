package grade

import (
	"fmt"
	"slices"
	"strings"

	"crimprule/internal/evidence"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// Missing is a crimp or a stripped wire that an earlier scan of the same place found bad or open, and that no picture of
// this call shows: whoever takes away the picture of a bad crimp has not mended it.
type Missing struct {
	Crimp  string        `json:"crimp"`
	Result record.Result `json:"result"` // of that scan
	When   string        `json:"when"`   // its day, YYYY-MM-DD
	Wire   bool          `json:"stripped_wire,omitempty"`
}

// miss gives each trainee the missing crimps, and adds trainees of whom nothing else is left.
func miss(all map[string]*gathered, missing []evidence.Missing) {
	for _, m := range missing {
		name := TraineeOf(m.Crimp)
		if all[name] == nil {
			all[name] = &gathered{}
		}
		one := Missing{Crimp: m.Name, Result: m.Result, Wire: stripped(m.Crimp)}
		if !m.When.IsZero() {
			one.When = m.When.Format("2006-01-02")
		}
		all[name].missing = append(all[name].missing, one)
	}
	for _, g := range all {
		slices.SortStableFunc(g.missing, func(a, b Missing) int { return wording.ByNumbers(a.Crimp, b.Crimp) })
	}
}

// missingCrimps counts those that are crimps; a stripped wire is in no row.
func missingCrimps(all []Missing) int {
	n := 0
	for _, m := range all {
		if !m.Wire {
			n++
		}
	}
	return n
}

// Words names one and says what was found.
func (m Missing) Words() string {
	was := map[record.Result]string{record.DoesNotConform: "did not conform", record.NotProven: "was not proven", record.NotMeasured: "was not measured"}[m.Result]
	if was == "" {
		was = "was not judged"
	}
	text := wording.Clean(m.Crimp)
	if m.Wire {
		text += " (a stripped wire)"
	}
	return text + " " + was + " on " + m.When
}

// MissingWords names what is missing, and says what to do; empty where nothing is.
func (t Trainee) MissingWords() string {
	if len(t.Missing) == 0 {
		return ""
	}
	var all []string
	for _, m := range t.Missing {
		all = append(all, m.Words())
	}
	what, crimps := "", missingCrimps(t.Missing)
	wires := len(all) - crimps
	switch {
	case wires == 0:
		what = countOf(crimps, "crimp of an earlier scan is", "crimps of earlier scans are")
	case crimps == 0:
		what = countOf(wires, "stripped wire of an earlier scan is", "stripped wires of earlier scans are")
	default:
		what = fmt.Sprintf("%s and %s of earlier scans are", countOf(crimps, "crimp", "crimps"), countOf(wires, "stripped wire", "stripped wires"))
	}
	text := fmt.Sprintf("NOT AMONG THESE PICTURES: %s missing here: %s.", what, someOf(all))
	if crimps > 0 && t.Name != "" {
		text += " Until they are here again, good or bad, the mark cannot be reached: put the photos back."
	}
	return text
}

// InFull are the lists that sentences cut short, for the sheet: what is missing, what the progress counts besides, and whose
// place nobody knows.
func (t Trainee) InFull() []string {
	var missing []string
	for _, m := range t.Missing {
		missing = append(missing, m.Words())
	}
	var all []string
	for _, list := range []struct {
		head  string
		names []string
	}{
		{"Missing here", missing}, {"Counted by day, and not in these pictures", t.earlierNames()}, {"Without a place in the order", t.PlaceUnknown},
		{"Called both good and bad", t.Agreement.Contradictory},
	} {
		if len(list.names) > mostNames {
			all = append(all, list.head+": "+wording.Clean(strings.Join(list.names, ", "))+".")
		}
	}
	return all
}
