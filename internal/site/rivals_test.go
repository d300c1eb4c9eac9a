package site

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

// symmetric is a picture that was judged by one measurand.
func symmetric(file string, view record.View, result record.Result, value, score float64) Picture {
	rec := record.New(view)
	rec.Set(record.Symmetry, value, 0.085)
	rec.Verdict = &record.Verdict{Result: result, Score: score, Features: []record.Feature{
		{Key: record.Bend, Result: record.Conforms, Score: &score}, {Key: record.Symmetry, Result: result, Score: &score}}}
	return Picture{File: file, Record: &rec}
}

// Two photos of one view: the worse one counts, and what was seen in the other one is told with what to do.
func TestTheWorseOfTwoPhotosCountsAndTheOtherIsTold(t *testing.T) {
	older := symmetric("N_01.jpg", record.Seam, record.NotProven, 0.874, 60)
	closer := symmetric("day2/N_01.jpg", record.Seam, record.Conforms, 0.951, 95)
	c := Crimp{Pictures: []Picture{closer, older, symmetric("side.jpg", record.Side, record.Conforms, 0.9, 80)}}
	c.WarnRivals()
	c.Settle(true)
	assert.Equal(t, record.NotProven, c.Result, "values are not combined")
	assert.Equal(t, []string{`"N_01.jpg" and "day2/N_01.jpg" both show the seam view, and the worse one counts: the first says not proven (symmetry of left and right 0.874 ± 0.085), ` +
		`the second conforms (symmetry of left and right 0.951 ± 0.085). If the first is blurred or askew, or shows the contact before this one, take it out of the folder and scan again ` +
		`(the history keeps both); if the crimp was made anew, give both their dates in the manifest (column date) instead`}, c.Warnings)

	light := Crimp{Pictures: []Picture{judged(record.Seam, record.DoesNotConform, 20), judged(record.Seam, record.Conforms, 90), judged(record.Seam, record.Conforms, 95)}}
	light.WarnRivals()
	assert.Len(t, light.Warnings, 1, "of several better ones the best is told")
	assert.Contains(t, light.Warnings[0], "the first says DOES NOT CONFORM, the second conforms.")

	unjudged := judged(record.Seam, "", 0)
	unjudged.Record.Verdict = nil
	for name, pictures := range map[string][]Picture{
		"both conform":              {closer, symmetric("b.jpg", record.Seam, record.Conforms, 0.9, 80)},
		"both do not":               {judged(record.Seam, record.DoesNotConform, 20), judged(record.Seam, record.DoesNotConform, 30)},
		"of different views":        {judged(record.Seam, record.DoesNotConform, 20), judged(record.Side, record.Conforms, 90)},
		"one was refused":           {refused(record.Seam), closer},
		"one has no limits":         {unjudged, older},
		"one could not be read":     {{Failure: "is cut short"}, older},
		"there is only one picture": {older},
	} {
		c := Crimp{Pictures: pictures}
		c.WarnRivals()
		assert.Empty(t, c.Warnings, name)
	}
}
