package site

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// MostEn is the largest E_n number with which two values of one measurand can be of one crimp. E_n is the difference of
// two values over the root of the sum of the squares of their expanded uncertainties (ISO 13528 and ISO/IEC 17043, from
// memory; there 1 is the bound of one comparison in a proficiency test). Here every crimp with several pictures is compared,
// and a doubt costs a good crimp its verdict, so the bound is wider: Gaussian errors, whose u is what it says it is, pass 1.5
// (three standard deviations) in 0.3 % of all pairs. The values of two pictures of one crimp, onto the seam both, stayed
// below 1.2 in trials, with rare outliers.
const MostEn = 1.5

// compared are the measurands of which two values of one crimp are held against each other: those whose value does not hang
// on what a picture happens to show, as a longest strand or a count does. Values of different photo views are never
// compared: the two see different edges of a rounded sleeve.
var compared = map[record.View][]record.Key{
	record.Seam: {record.SleeveLength, record.SleeveWidth, record.WingWidthLeft, record.WingWidthRight, record.InsulationGapMean, record.InsulationGapMax,
		record.BrushMean, record.SeamOffset},
	record.Side:    {record.SleeveLength, record.SleeveWidth, record.InsulationGapMean, record.InsulationGapMax, record.BrushMean},
	record.Section: heights,
}

// heights have sections and micrometers in common.
var heights = []record.Key{record.CrimpHeight, record.CrimpWidth}

// witness is a picture, or a value measured elsewhere: something that says what a crimp's values are.
type witness struct {
	name   string
	view   record.View // record.Section for a micrometer too: it measures the same
	values map[record.Key]record.Value
}

// ComparesPictures tells whether values of the crimp's pictures are needed for DoubtContradictions: whether two of them, or one
// and a value measured elsewhere, measured the same.
func (c *Crimp) ComparesPictures() bool {
	views := map[record.View]int{}
	for _, p := range c.Pictures {
		if p.Usable() && compared[p.Record.View] != nil {
			views[p.Record.View]++
		}
	}
	for _, e := range c.Elsewhere {
		if slices.Contains(heights, e.Key) && e.NotJudged() == "" && views[record.Section] > 0 {
			return true
		}
	}
	return slices.ContainsFunc([]record.View{record.Seam, record.Side, record.Section}, func(v record.View) bool { return views[v] > 1 })
}

// DoubtContradictions notes a doubt where two values of one measurand cannot be of one crimp (see MostEn): then one of them
// is wrong or another crimp's, and which one it is the values do not tell. It is to be called after SetAside.
func (c *Crimp) DoubtContradictions() {
	all := c.witnesses()
	for i, a := range all {
		for _, b := range all[i+1:] {
			if a.view == b.view {
				c.doubtContradiction(a, b)
			}
		}
	}
}

func (c *Crimp) witnesses() []witness {
	var all []witness
	seen := map[string]bool{} // a file that stands twice in the manifest
	for _, p := range c.Pictures {
		if !p.Usable() || compared[p.Record.View] == nil || p.SHA256 != "" && seen[p.SHA256] {
			continue
		}
		seen[p.SHA256] = true
		all = append(all, witness{"in " + Quoted(p.File), p.Record.View, p.Record.Measured})
	}
	for _, e := range c.Elsewhere {
		if slices.Contains(heights, e.Key) && e.NotJudged() == "" {
			name := "measured elsewhere"
			if e.Who != "" {
				name += " by " + e.Who
			}
			if e.When != "" {
				name += " on " + e.When
			}
			if e.ID != 0 {
				name += fmt.Sprintf(" (value %d)", e.ID)
			}
			all = append(all, witness{name, record.Section, map[record.Key]record.Value{e.Key: e.Value}})
		}
	}
	return all
}

// En is the E_n number of two values of one measurand; 0 where one of them has no uncertainty.
func En(a, b record.Value) float64 {
	if a.U <= 0 || b.U <= 0 {
		return 0
	}
	return math.Abs(a.Value-b.Value) / math.Hypot(a.U, b.U)
}

// doubtContradiction names the measurand in which two witnesses differ most with its values, and the others by name.
func (c *Crimp) doubtContradiction(a, b witness) {
	var differ []record.Key
	en := func(key record.Key) float64 { return En(a.values[key], b.values[key]) }
	for _, key := range compared[a.view] {
		if en(key) > MostEn {
			differ = append(differ, key)
		}
	}
	if len(differ) == 0 {
		return
	}
	slices.SortStableFunc(differ, func(x, y record.Key) int { return cmp.Compare(en(y), en(x)) })
	worst, more := differ[0], ""
	for i, key := range differ[1:] {
		more += []string{"; so do: ", ", "}[min(i, 1)] + wording.Name(a.view, key)
	}
	c.Doubt("%s is %s %s and %s %s: they differ by more than both uncertainties allow%s. One of the two is wrong or another crimp's: "+
		"find out which, withdraw it or leave it out, and measure again",
		wording.Name(a.view, worst), wording.Quantity(a.values[worst]), a.name, wording.Quantity(b.values[worst]), b.name, more)
}
