package site

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/stat/distuv"

	"crimprule/vision/record"
)

func seen(file string, view record.View, values map[record.Key][2]float64) Picture {
	rec := record.New(view)
	for key, v := range values {
		rec.Set(key, v[0], v[1])
	}
	rec.Verdict = &record.Verdict{Result: record.Conforms, Score: 99}
	return Picture{File: file, SHA256: file, Record: &rec}
}

func micrometer(id int64, mm, u float64) Elsewhere {
	return Elsewhere{ID: id, Key: record.CrimpHeight, Value: record.Value{Value: mm, U: u, Unit: "mm"}, Who: "crew A", When: "2026-05-08"}
}

// The bound is three standard deviations of the difference: u is expanded with k = 2 (JCGM 100, 6.2.1), so 1.5 times the
// root of the sum of squares of both u is three times that of both standard uncertainties; a normal distribution has 0.27 %
// beyond it on both sides.
func TestMostEnIsThreeStandardDeviations(t *testing.T) {
	const standard1, standard2 = 0.003, 0.004
	three := 3 * math.Sqrt(standard1*standard1+standard2*standard2)
	assert.InDelta(t, MostEn, En(record.Value{Value: 1, U: 2 * standard1}, record.Value{Value: 1 + three, U: 2 * standard2}), 1e-9)
	assert.InDelta(t, 0.0027, 2*distuv.UnitNormal.CDF(-2*MostEn), 1e-4)
	assert.Zero(t, En(record.Value{Value: 1}, record.Value{Value: 2, U: 1}), "a value without an uncertainty says nothing")
}

func TestHeightsThatContradictEachOther(t *testing.T) {
	section := seen("cut.jpg", record.Section, map[record.Key][2]float64{record.CrimpHeight: {2.836, 0.0054}, record.CrimpWidth: {4.05, 0.0054}})
	c := Crimp{Pictures: []Picture{section}, Elsewhere: []Elsewhere{micrometer(7, 2.890, 0.002), micrometer(8, 2.842, 0.002)}}
	require.True(t, c.ComparesPictures())
	fine := record.Feature{Key: record.CrimpHeight, Result: record.Conforms}
	c.ElsewhereVerdict = &record.Verdict{Result: record.Conforms, Score: 90, Features: []record.Feature{fine, fine}}
	c.DoubtContradictions()
	c.Settle(true)
	require.Len(t, c.Doubts, 2, "the second value agrees with the section (E_n 1.04), and not with the first")
	assert.Equal(t, record.NotProven, c.Result)
	assert.Equal(t, `crimp height is 2.8360 ± 0.0054 mm in "cut.jpg" and 2.8900 ± 0.0020 mm measured elsewhere by crew A on 2026-05-08 (value 7): `+
		`they differ by more than both uncertainties allow. One of the two is wrong or another crimp's: find out which, withdraw it or leave it out, and measure again`, c.Doubts[0])
	assert.Contains(t, c.Doubts[1], "(value 8)")

	withdrawn := Crimp{Pictures: []Picture{section}, Elsewhere: []Elsewhere{micrometer(7, 2.890, 0.002)}}
	withdrawn.Elsewhere[0].Withdrawn = "withdrawn by crew A"
	withdrawn.DoubtContradictions()
	assert.Empty(t, withdrawn.Doubts)
	assert.False(t, withdrawn.ComparesPictures())
}

func TestPicturesThatContradictEachOther(t *testing.T) {
	values := func(length, left, offset float64) map[record.Key][2]float64 {
		return map[record.Key][2]float64{record.SleeveLength: {length, 0.1}, record.WingWidthLeft: {left, 0.1}, record.SeamOffset: {offset, 0.1},
			record.BrushMax: {left * 3, 0.01}, record.StrayCount: {left, 0}}
	}
	first := seen("a.jpg", record.Seam, values(6.6, 1.9, 0))
	for _, c := range []struct {
		other  Picture
		doubts int
		says   []string
	}{
		{seen("b.jpg", record.Seam, values(6.7, 1.95, 0.1)), 0, nil},
		{seen("b.jpg", record.Seam, values(6.6, 2.2, -0.3)), 1, []string{"width of the left wing", `in "a.jpg"`, `in "b.jpg"`, "; so do: offset of the seam from the middle"}},
		{seen("b.jpg", record.Side, values(7.6, 1.9, 0)), 0, nil}, // the side shows other edges
		{seen("b.jpg", record.Strip, values(7.6, 1.9, 0)), 0, nil},
	} {
		crimp := Crimp{Pictures: []Picture{first, c.other}}
		crimp.DoubtContradictions()
		require.Len(t, crimp.Doubts, c.doubts, "%v", c.other.Record.Measured)
		for _, text := range c.says {
			assert.Contains(t, crimp.Doubts[0], text)
		}
	}
	refused := seen("b.jpg", record.Seam, values(9, 9, 9))
	refused.Record.Refuse("blurred")
	crimp := Crimp{Pictures: []Picture{first, refused}}
	crimp.DoubtContradictions()
	assert.Empty(t, crimp.Doubts)
}

// A value that nobody can judge keeps a crimp from conforming, and is named; so is a force that was measured of a crimp that was
// cut open.
func TestValuesElsewhereThatMustBeLookedInto(t *testing.T) {
	cut := seen("cut.jpg", record.Section, nil)
	force := Elsewhere{Key: "pull_out_force", Value: record.Value{Value: 120, U: 5, Unit: "N"}, Who: "crew A", When: "2026-05-08"}
	c := Crimp{Pictures: []Picture{cut}, Elsewhere: []Elsewhere{force}}
	c.WarnOfElsewhere([]string{"limits.yaml"})
	c.Settle(true)
	assert.Empty(t, c.Result, "not judged")
	require.Len(t, c.Warnings, 2)
	assert.Equal(t, `pull-out force 120 ± 5 N, measured elsewhere, was not judged: there is no limit for it in "limits.yaml"; write one there (group elsewhere:), or withdraw the value`,
		c.Warnings[0])
	assert.Contains(t, c.Warnings[1], "a section shows this crimp, and pull-out force 120 ± 5 N was measured of it")

	c = Crimp{Pictures: []Picture{seen("a.jpg", record.Seam, nil)}, Elsewhere: []Elsewhere{force}}
	c.ElsewhereVerdict = &record.Verdict{Result: record.Conforms, Score: 90, Features: []record.Feature{{Key: "pull_out_force", Result: record.Conforms}}}
	c.WarnOfElsewhere([]string{"limits.yaml"})
	c.Settle(true)
	assert.Equal(t, record.Conforms, c.Result)
	assert.Empty(t, c.Warnings)
	bad := c
	bad.Pictures = []Picture{seen("a.jpg", record.Seam, nil)}
	bad.Pictures[0].Record.Verdict.Result = record.DoesNotConform
	bad.ElsewhereVerdict = nil
	bad.Settle(true)
	assert.Equal(t, record.DoesNotConform, bad.Result, "what is bad stays bad")
	c.Elsewhere[0].Withdrawn, c.ElsewhereVerdict, c.Warnings = "withdrawn", nil, nil
	c.WarnOfElsewhere([]string{"limits.yaml"})
	c.Settle(true)
	assert.Equal(t, record.Conforms, c.Result)
	assert.Empty(t, c.Warnings)
}
