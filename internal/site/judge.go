package site

import (
	"fmt"

	"crimprule/vision/record"
)

// Settle fills in Result, Score and Warnings from the pictures and from what was measured elsewhere. A crimp is as good
// as its worst feature, so its result is the worst one: does_not_conform before not_measured before not_proven before
// conforms. A picture that was refused or could not be read does not count where another picture of the same view was
// measured, or, its view not being known, where any other was: it was taken again. Where there were no limits to judge
// by, a crimp has no result.
func (c *Crimp) Settle(limits bool) {
	c.Result, c.Score = "", 0
	judged := false
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
		}
	}
	if c.ElsewhereVerdict != nil {
		take(c.ElsewhereVerdict.Result, c.ElsewhereVerdict.Score)
	}
}

// Refused tells whether the picture has a record that asks for a better picture.
func (p Picture) Refused() bool { return p.Record != nil && len(p.Record.Retake) > 0 }

// Usable tells whether the picture has values.
func (p Picture) Usable() bool { return p.Record != nil && len(p.Record.Retake) == 0 }

// Retaken tells whether picture i came to nothing but was taken again with success.
func (c *Crimp) Retaken(i int) bool {
	p := c.Pictures[i]
	if p.Usable() {
		return false
	}
	view := record.Auto
	if p.Record != nil {
		view = p.Record.View
	}
	for _, other := range c.Pictures {
		if other.Usable() && (view == record.Auto || other.Record.View == view) {
			return true
		}
	}
	return false
}

// Warn notes a contradiction once.
func (c *Crimp) Warn(format string, args ...any) {
	text := fmt.Sprintf(format, args...)
	for _, w := range c.Warnings {
		if w == text {
			return
		}
	}
	c.Warnings = append(c.Warnings, text)
}
