package evidence

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"crimprule/internal/site"
	"crimprule/vision/record"
)

// feature is a judged symmetry.
func feature(result record.Result, value, score float64) record.Feature {
	return record.Feature{Key: record.Symmetry, Result: result, Value: &value, U: new(0.01), Min: new(0.85), Score: &score}
}

func judgedPicture(view record.View, result record.Result, features ...record.Feature) site.Picture {
	p := seen(view)
	p.Record.Verdict = &record.Verdict{Result: result, Score: 90, Features: features}
	return p
}

// TestWhy: one line says why a crimp is what it is, and the list says the same.
func TestWhy(t *testing.T) {
	good := judgedPicture(record.Seam, record.Conforms, feature(record.Conforms, 0.95, 90))
	bad := judgedPicture(record.Seam, record.DoesNotConform, feature(record.DoesNotConform, 0.7, 10))
	unsure := judgedPicture(record.Seam, record.NotProven, feature(record.NotProven, 0.85, 50))
	blind := judgedPicture(record.Seam, record.NotMeasured, record.Feature{Key: record.Bend, Result: record.NotMeasured, Reason: "show the whole contact"})
	blurred := judgedPicture(record.Side, record.NotMeasured)
	blurred.Record.Refuse("hold it still")
	pulled := &record.Verdict{Result: record.DoesNotConform, Features: []record.Feature{
		{Key: record.CrimpHeight, Unit: "mm", Result: record.DoesNotConform, Value: new(2.5), U: new(0.01), Max: new(2.25)}}}
	for name, c := range map[string]struct {
		crimp site.Crimp
		want  string
	}{
		"the feature that failed":             {site.Crimp{Pictures: []site.Picture{good, bad}}, "symmetry of left and right 0.700 ± 0.010 (at least 0.85)"},
		"the least of what conforms":          {site.Crimp{Pictures: []site.Picture{good}}, "symmetry of left and right 0.950 ± 0.010 (at least 0.85)"},
		"what failed elsewhere":               {site.Crimp{Pictures: []site.Picture{good}, ElsewhereVerdict: pulled}, "crimp height 2.500 ± 0.010 mm (at most 2.25 mm), measured elsewhere"},
		"a feature that was not measured":     {site.Crimp{Pictures: []site.Picture{good, blind}}, "bend between sleeve and contact body: show the whole contact"},
		"a picture that was refused":          {site.Crimp{Pictures: []site.Picture{good, blurred}}, "hold it still"},
		"a picture that could not be read":    {site.Crimp{Pictures: []site.Picture{good, {Failure: "copy it\nagain"}}}, `copy it\nagain`},
		"a doubt":                             {site.Crimp{Pictures: []site.Picture{good}, Doubts: []string{"the tag says 7", "more"}}, "the tag says 7"},
		"a doubtful feature beside a doubt":   {site.Crimp{Pictures: []site.Picture{unsure}, Doubts: []string{"the tag says 7"}}, "symmetry of left and right 0.850 ± 0.010 (at least 0.85)"},
		"a failed feature beside a doubt":     {site.Crimp{Pictures: []site.Picture{bad}, Doubts: []string{"the tag says 7"}}, "symmetry of left and right 0.700 ± 0.010 (at least 0.85)"},
		"no limits for a view":                {site.Crimp{Pictures: []site.Picture{good, seen(record.Side)}}, "no limits for the side view"},
		"no limits for several, and a doubt":  {site.Crimp{Pictures: []site.Picture{good, seen(record.Side), seen(record.Section)}, Doubts: []string{"d"}}, "no limits for the side view and the section"},
		"a failed feature beside such a view": {site.Crimp{Pictures: []site.Picture{seen(record.Side), bad}}, "symmetry of left and right 0.700 ± 0.010 (at least 0.85)"},
		"nothing":                             {site.Crimp{}, ""},
	} {
		t.Run(name, func(t *testing.T) {
			c.crimp.Settle(true)
			assert.Equal(t, c.want, Why(c.crimp))
			assert.Equal(t, c.want, newRow(c.crimp).Worst)
		})
	}
}

// TestADoubtIsNoFeature: a crimp that only a doubt keeps from being proven needs no closer picture.
func TestADoubtIsNoFeature(t *testing.T) {
	c := site.Crimp{Pictures: []site.Picture{judgedPicture(record.Seam, record.Conforms, feature(record.Conforms, 0.95, 90))}, Doubts: []string{"a copy"}}
	c.Settle(true)
	require.Equal(t, record.NotProven, c.Result)
	r := newRow(c)
	assert.Contains(t, r.Do, "settle the doubt")
	assert.Empty(t, r.Means)
}
