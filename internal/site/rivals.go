package site

import (
	"cmp"
	"slices"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// WarnRivals notes where two pictures of the same view came out differently. The worse one counts, since nobody knows which
// of the two shows the crimp as it is; values are never combined. Only a person can tell whether one of them is askew or
// blurred, or is of the contact before this one.
func (c *Crimp) WarnRivals() {
	for i, worst := range c.Pictures {
		if !c.worst(i) {
			continue
		}
		var better []Picture
		for _, p := range c.Pictures {
			if rival(worst, p) && worst.Record.Verdict.Result.Worse(p.Record.Verdict.Result) {
				better = append(better, p)
			}
		}
		if len(better) == 0 {
			continue
		}
		best := slices.MaxFunc(better, func(a, b Picture) int { return cmp.Compare(a.Record.Verdict.Score, b.Record.Verdict.Score) })
		key := decisive(*worst.Record)
		c.Warn("%s and %s both show the %s, and the worse one counts: the first says %s, the second %s. If the first is blurred or askew, or shows the contact "+
			"before this one, take it out of the folder and scan again (the history keeps both); if the crimp was made anew, give both their dates in the manifest (column date) instead",
			Quoted(worst.File), Quoted(best.File), wording.View(worst.Record.View), said(*worst.Record, key), said(*best.Record, key))
	}
}

// worst tells whether picture i is the first of the worst ones of its view.
func (c *Crimp) worst(i int) bool {
	p := c.Pictures[i]
	if !rival(p, p) {
		return false
	}
	for j, other := range c.Pictures {
		if !rival(p, other) {
			continue
		}
		a, b := p.Record.Verdict, other.Record.Verdict
		if b.Result.Worse(a.Result) || a.Result == b.Result && (b.Score < a.Score || b.Score == a.Score && j < i) {
			return false
		}
	}
	return true
}

// rival tells whether two pictures were judged by the same view.
func rival(a, b Picture) bool {
	return a.Usable() && b.Usable() && a.Record.View == b.Record.View && a.Record.Verdict != nil && b.Record.Verdict != nil
}

// decisive is the feature that decided on a record; empty where only its result is known.
func decisive(rec record.Record) record.Key {
	var worst record.Feature
	for _, f := range rec.Verdict.Features {
		if f.Result == rec.Verdict.Result && (worst.Key == "" || score(f) < score(worst)) {
			worst = f
		}
	}
	return worst.Key
}

func score(f record.Feature) float64 {
	if f.Score == nil {
		return 0
	}
	return *f.Score
}

// said is what a picture says: its result, and the value of a measurand where it has one.
func said(rec record.Record, key record.Key) string {
	text := wording.Result(rec.Verdict.Result)
	if v, measured := rec.Measured[key]; measured && key != "" && len(rec.Verdict.Features) > 0 {
		text += " (" + wording.Name(rec.View, key) + " " + wording.Quantity(v) + ")"
	}
	return text
}
