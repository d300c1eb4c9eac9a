package site

import (
	"fmt"
	"slices"
	"strings"

	"crimprule/vision/record"
)

// Settle fills in Result and Score from the pictures and from what was measured elsewhere; limits says whether there were
// any to judge by, without which a crimp has no result. A crimp is as good as its worst feature, so its result is the
// worst one: does_not_conform before not_measured before not_proven before conforms. A picture that was refused or could
// not be read does not count where the same view was measured in another one (see Retaken).
//
// A crimp conforms only where all that was measured of it was judged and its pictures are beyond doubt: with a picture of a
// view without limits, or a value measured elsewhere without a limit, it is not judged: somebody measured this of it, and
// "conforms" would say that it was found good. With a doubt it is not proven.
func (c *Crimp) Settle(limits bool) {
	c.Result, c.Score = "", 0
	judged, all := false, true
	take := func(result record.Result, score float64) {
		if !judged || result.Worse(c.Result) {
			c.Result = result
		}
		if !judged || score < c.Score {
			c.Score = score
		}
		judged = true
	}
	for i, p := range c.Pictures {
		switch {
		case c.Retaken(i) || !limits:
		case !p.Usable():
			take(record.NotMeasured, 0)
		case p.Record.Verdict != nil:
			take(p.Record.Verdict.Result, p.Record.Verdict.Score)
		default:
			all = false
		}
	}
	counted := c.Counting()
	if c.ElsewhereVerdict != nil {
		counted -= len(c.ElsewhereVerdict.Features) // each judges one value
	}
	all = all && counted == 0
	if c.ElsewhereVerdict != nil {
		take(c.ElsewhereVerdict.Result, c.ElsewhereVerdict.Score)
	}
	switch {
	case c.Result != record.Conforms:
	case !all:
		c.Result, c.Score = "", 0
	case len(c.Doubts) > 0:
		c.Result, c.Score = record.NotProven, min(c.Score, MostUnproven)
	}
}

// MostUnproven is the greatest score that is written for what does not conform, or is not proven to: 70 and more are for
// what conforms (package verdict), and scores are written with one decimal.
const MostUnproven = 69.9

// Refused tells whether the picture has a record that asks for a better picture.
func (p Picture) Refused() bool { return p.Record != nil && len(p.Record.Retake) > 0 }

// Usable tells whether the picture has values.
func (p Picture) Usable() bool { return p.Record != nil && len(p.Record.Retake) == 0 }

// Stripped tells whether all that was measured of the crimp is the stripped wire: it is no crimp yet.
func (c *Crimp) Stripped() bool {
	strip := false
	for _, p := range c.Pictures {
		if p.Usable() && p.Record.View != record.Strip {
			return false
		}
		strip = strip || p.Usable()
	}
	return strip
}

// Retaken tells whether picture i came to nothing but was taken again with success: whether its view, as the picture
// tells or as it was asked for, was measured in another picture of the crimp. Where neither tells the view, nobody knows
// what the picture was to show, and it counts.
func (c *Crimp) Retaken(i int) bool {
	p := c.Pictures[i]
	if p.Usable() {
		return false
	}
	view := p.Asked
	if p.Record != nil && p.Record.View != record.Auto {
		view = p.Record.View
	}
	for _, other := range c.Pictures {
		if other.Usable() && other.Record.View == view {
			return true
		}
	}
	return false
}

// FileAtFault tells whether the picture came to nothing for a reason that a person can put right without a new photo: its
// file was not read, or nobody declared its scale.
func (p Picture) FileAtFault() bool {
	return p.Record == nil || p.Refused() && strings.HasPrefix(p.Record.Retake[0], record.NoScaleDeclared)
}

// PutRight tells whether the crimp was not measured only for files or declarations that can be put right first: no new
// photo is needed for it, unless that fails.
func (c *Crimp) PutRight() bool {
	if c.Result != record.NotMeasured {
		return false
	}
	found := false
	for i, p := range c.Pictures {
		switch {
		case c.Retaken(i):
		case p.Usable():
			if p.Record.Verdict != nil && p.Record.Verdict.Result == record.NotMeasured {
				return false // a value is wanting that another photo may show
			}
		case !p.FileAtFault():
			return false
		default:
			found = true
		}
	}
	return found
}

// Warn notes something to look into, once.
func (c *Crimp) Warn(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(c.Warnings, text) {
		c.Warnings = append(c.Warnings, text)
	}
}

// Doubt notes why the pictures do not prove this crimp, once.
func (c *Crimp) Doubt(format string, args ...any) {
	if text := fmt.Sprintf(format, args...); !slices.Contains(c.Doubts, text) {
		c.Doubts = append(c.Doubts, text)
	}
}
