package grade

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/internal/tolerance"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// leastGood is the least score of a feature, and of a crimp, that conforms (package verdict).
const leastGood = 70.0

// costMost names the feature that took the most points from a crimp that conforms with less than the mark asks for; empty
// for all others. Those of its worst picture decide, as for the crimp's own score, which there is 70 and 30 times a weighted
// geometric mean of what the features earn (package verdict): the feature's cost is its weight times the logarithm.
func costMost(c site.Crimp, o Options) string {
	if c.Result != record.Conforms || c.Score >= o.Mark.Score {
		return ""
	}
	var view record.View
	var file string // hash of the limits
	worst := c.ElsewhereVerdict
	for _, p := range c.Pictures {
		if v := p.Record; p.Usable() && v.Verdict != nil && (worst == nil || v.Verdict.Score < worst.Score) {
			worst, view, file = v.Verdict, v.View, p.Tolerances
		}
	}
	if worst == nil {
		return ""
	}
	text, least := "", 0.0
	for _, f := range worst.Features {
		if f.Score == nil || *f.Score >= 100 {
			continue
		}
		cost := weightOf(o.Tolerances, file, view, f.Key) * math.Log(max(*f.Score-leastGood, 0.01)/(100-leastGood))
		if text == "" || cost < least {
			text, least = fmt.Sprintf("%s (%.1f of 100 points)", wording.Name(view, f.Key), *f.Score), cost
		}
	}
	return text
}

// weightOf is a limit's weight, which touches the score only; 1 where it is not known.
func weightOf(files []evidence.Tolerances, hash string, view record.View, key record.Key) float64 {
	for _, file := range files {
		limits := file.Limits.Limits
		if view == "" { // measured elsewhere
			limits = file.Limits.Elsewhere
		} else if file.Hash != hash {
			continue
		}
		if i := slices.IndexFunc(limits, func(l tolerance.Limit) bool { return l.Key == key }); i >= 0 {
			return cmp.Or(limits[i].Weight, 1)
		}
	}
	return 1
}

// Below are the crimps that conform with less than the mark's score: they are in no row.
func (t Trainee) Below(mark Mark) []Crimp {
	if t.Name == "" {
		return nil
	}
	return slices.DeleteFunc(slices.Clone(t.Crimps), func(c Crimp) bool { return c.Result != record.Conforms || c.Score >= mark.Score })
}

// BelowWords says with how many points it conforms, and what cost most.
func (c Crimp) BelowWords(mark Mark) string {
	text := fmt.Sprintf("%s conforms with %.1f points, less than %.4g, and is in no row", wording.Clean(c.Name), c.Score, mark.Score)
	if c.CostMost != "" {
		text += "; what cost most is " + c.CostMost
	}
	return text + "."
}
