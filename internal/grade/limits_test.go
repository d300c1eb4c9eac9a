package grade

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/evidence"
	"crimprule/internal/site"
	"crimprule/vision/record"
)

var (
	narrowHash, wideHash = strings.Repeat("ab", 32), strings.Repeat("cd", 32)
	twoFiles             = []evidence.Tolerances{{Hash: narrowHash, Name: "narrow", File: "narrow.yaml"}, {Hash: wideHash, Name: "wide <2>", File: "wide.yaml"}}
)

const (
	narrow = `"narrow" (SHA-256 abababababab...)`
	wide   = `"wide <2>" (SHA-256 cdcdcdcdcdcd...)`
)

// TestJudgedBy: each sheet says what its crimps were judged by; the overview says loudly where that differs between trainees.
func TestJudgedBy(t *testing.T) {
	w := newWorkshop(t)
	w.add("Amy", "", "", good)
	w.add("Ben", "", "", good)
	w.add("Zed", "", "", good)
	w.limited(narrowHash, 0, 1)
	w.limited(wideHash, 2)
	o := Options{Mark: UsualMark, Tolerances: twoFiles}
	r := gradedWith(t, w, o)
	assert.Equal(t, "DIFFERENT LIMITS judged these trainees, so that their numbers cannot be held against each other: in the seam view Amy, Ben by "+
		narrow+"; Zed by "+wide+".", r.Unlike)
	dir := t.TempDir()
	require.NoError(t, Write(dir, workshopInfo(), r))
	index := text(read(t, dir, "index.html"))
	assert.Contains(t, index, r.Unlike)
	const line = `"wide <2>" for the seam view: file wide.yaml, SHA-256 cdcdcdcdcdcd...`
	for name, want := range map[string]bool{"index.html": true, "01.html": false, "03.html": true} {
		assert.Equal(t, want, strings.Contains(text(read(t, dir, name)), line), name)
		assert.Equal(t, want, strings.Contains(read(t, dir, name), `href="../tolerances/cdcdcdcdcdcd-wide.yaml"`), name)
	}
	assert.Contains(t, read(t, dir, "grade.json"), `"sha256": "`+wideHash+`"`)

	w.limited(narrowHash, 2)
	assert.Empty(t, gradedWith(t, w, o).Unlike)
	w.change(2, func(c *site.Crimp) { c.Pictures[0].Tolerances, c.Pictures[0].Record.View = wideHash, record.Side })
	assert.Empty(t, gradedWith(t, w, o).Unlike, "limits for another view are not others")
}

// TestDaysJudgedByDifferentLimits are no progress.
func TestDaysJudgedByDifferentLimits(t *testing.T) {
	on := func(date, hash, name string, result record.Result) PastResult {
		return PastResult{Date: date, Result: result, Score: 90, SHA256: date, Limits: []Limits{{Name: name, SHA256: hash, Views: []record.View{record.Seam}}}}
	}
	w := newWorkshop(t)
	w.add("Amy", "2026-05-04", "", good)
	one := gradedWith(t, w, Options{Past: remembering(on("2026-04-27", narrowHash, "narrow", no), on("2026-05-04", wideHash, "wide <2>", yes))}).Trainees[0]
	assert.False(t, one.Change.Alike)
	assert.Contains(t, one.ProgressWords(), "The test is Fisher's exact one, two-sided. But DIFFERENT LIMITS judged these days, "+
		"so that they cannot be held against each other: in the seam view 2026-04-27 by "+narrow+"; 2026-05-04 by "+wide+".")
	one = gradedWith(t, w, Options{Past: remembering(on("2026-04-27", narrowHash, "narrow", no), on("2026-05-04", narrowHash, "narrow", yes))}).Trainees[0]
	assert.True(t, one.Change.Alike)
	assert.NotContains(t, one.ProgressWords(), "limits")
}

// TestTooFewPoints: a crimp that conforms and is in no row is named, with what cost most: the symmetry, which lies off its
// aim. With a weight of a thousandth it is the least.
func TestTooFewPoints(t *testing.T) {
	w := newWorkshop(t)
	w.add("a", "", "", good)
	rec := w.crimps[0].Pictures[0].Record
	for i, f := range rec.Verdict.Features {
		points := map[record.Key]float64{record.Symmetry: 90, record.InsulationGapMax: 95}[f.Key]
		if points > 0 {
			rec.Verdict.Features[i].Score = &points
		}
	}
	mark := Mark{Row: 1, Score: 99.6}
	dir, r := sheets(t, w, mark)
	one := r.Trainees[0]
	require.Len(t, one.Below(mark), 1)
	const words = "a / 01 conforms with 98.7 points, less than 99.6, and is in no row; what cost most is symmetry of left and right (90.0 of 100 points)."
	assert.Equal(t, words, one.Crimps[0].BelowWords(mark))
	assert.Contains(t, text(read(t, dir, "01.html")), words)
	assert.Contains(t, read(t, dir, "grade.json"), `"cost_most": "symmetry of left and right (90.0 of 100 points)"`)

	limits := w.limits
	limits.Limits = append(limits.Limits[:0:0], limits.Limits...)
	for i := range limits.Limits {
		if limits.Limits[i].Key == record.Symmetry {
			limits.Limits[i].Weight = 0.001
		}
	}
	w.limited(narrowHash, 0)
	r = gradedWith(t, w, Options{Mark: mark, Tolerances: []evidence.Tolerances{{Hash: narrowHash, Limits: limits}}})
	assert.Equal(t, "gap between insulation and sleeve (largest) (95.0 of 100 points)", r.Trainees[0].Crimps[0].CostMost)
	assert.Empty(t, graded(t, w, Mark{Row: 1, Score: 98}).Trainees[0].Below(Mark{Score: 98}))
}
