package evidence

import (
	"encoding/xml"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"crimprule/internal/statistics"
	"crimprule/vision/record"
)

func judgedLine(value, u float64, low, high, aim *float64) line {
	return line{Key: record.Symmetry, Value: &record.Value{Value: value, U: u}, Feature: record.Feature{Key: record.Symmetry, Min: low, Max: high, Aim: aim}}
}

func number(t testing.TB, svg, pattern string) float64 {
	m := regexp.MustCompile(pattern).FindStringSubmatch(svg)
	require.NotNil(t, m, "%s in %s", pattern, svg)
	v, err := strconv.ParseFloat(m[1], 64)
	require.NoError(t, err)
	return v
}

func wellFormed(t testing.TB, svg string) {
	decoder := xml.NewDecoder(strings.NewReader(svg))
	for {
		if _, err := decoder.Token(); err == io.EOF {
			return
		} else if err != nil {
			require.NoError(t, err, svg)
		}
	}
}

// TestBarIsToScale: whatever value, u and limits are, what is drawn lies where the numbers say, in proportion and inside
// the picture: limits, value and whisker share one linear scale.
func TestBarIsToScale(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) {
		low := rapid.Float64Range(-5, 5).Draw(rt, "low")
		high := low + rapid.Float64Range(0.01, 5).Draw(rt, "width")
		value := rapid.Float64Range(-10, 10).Draw(rt, "value")
		u := rapid.Float64Range(0.001, 3).Draw(rt, "u")
		svg := string(newBar(judgedLine(value, u, &low, &high, nil)).SVG)
		wellFormed(t, svg)
		inside := number(t, svg, `class="inside" x="([-\d.]+)"`)
		width := number(t, svg, `class="inside" x="[-\d.]+" y="[\d.]+" width="([\d.]+)"`)
		at := func(v float64) float64 { return inside + (v-low)/(high-low)*width }
		// A tenth of a unit is the resolution; far away from narrow limits it counts more than once.
		tolerance := 0.2 + 0.2*math.Max(math.Abs(value-low), u)/(high-low)
		x := number(t, svg, `class="value" cx="([-\d.]+)"`)
		from, to := number(t, svg, `class="whisker" d="M([-\d.]+)`), number(t, svg, `class="whisker" d="M[-\d.]+ [\d.]+H([-\d.]+)`)
		if width > 5 {
			assert.InDelta(rt, at(value), x, tolerance)
			assert.InDelta(rt, at(value-u), from, tolerance)
			assert.InDelta(rt, at(value+u), to, tolerance)
		}
		for _, v := range []float64{inside, inside + width, x, from, to} {
			assert.GreaterOrEqual(rt, v, 0.0)
			assert.LessOrEqual(rt, v, barWidth+0.1)
		}
	})
}

func TestBarAtItsEdges(t *testing.T) {
	zero, fiftySix, aim := 0.0, 56.0, 0.7
	svg := string(newBar(judgedLine(0, 0, nil, &zero, nil)).SVG)
	wellFormed(t, svg)
	assert.NotContains(t, svg, "whisker", "a sure count has none")
	assert.Equal(t, 1, strings.Count(svg, `class="outside"`))
	svg = string(newBar(judgedLine(56, 0, &fiftySix, &fiftySix, nil)).SVG)
	assert.Equal(t, 2, strings.Count(svg, `class="outside"`), "nothing but the one number is inside")
	assert.Equal(t, 1, strings.Count(svg, ">56</text>"))
	assert.Contains(t, string(newBar(judgedLine(1, 0.1, &zero, nil, &aim)).SVG), `class="aim"`)
	assert.Empty(t, newBar(judgedLine(1, 0.1, nil, nil, nil)).SVG, "no limits")
	assert.Empty(t, newBar(judgedLine(math.NaN(), 0.1, &zero, nil, nil)).SVG)
	assert.Empty(t, newBar(judgedLine(1, math.Inf(1), &zero, nil, nil)).SVG)
	assert.Empty(t, newBar(line{Feature: record.Feature{Max: &zero}}).SVG, "not measured")
}

// TestChartMarksItsSignals: each point of a signal has its mark, and the marks differ in shape.
func TestChartMarksItsSignals(t *testing.T) {
	values := []float64{1, 1.1, 0.9, 1, 1.1, 0.9, 1, 1.1, 0.9, 5, 1, 1.1, 1.3, 1.4, 1.5, 1.6, 1.7, 1.8, 1.9}
	course, err := statistics.IndividualsChart(values)
	require.NoError(t, err)
	points := make([]point, len(values))
	for i := range points {
		points[i].crimp = i + 1
	}
	drawing := (&chart{`<"title">`, "mm", course, points, func(v float64) string { return strconv.FormatFloat(v, 'f', 2, 64) }}).svg()
	wellFormed(t, string(drawing.Values))
	wellFormed(t, string(drawing.Ranges))
	marks := 0
	for _, s := range course.Signals {
		if s.Kind != statistics.RangeBeyond {
			marks += s.Last - s.First + 1
		}
	}
	require.Positive(t, marks)
	assert.Equal(t, marks, strings.Count(string(drawing.Values), `class="signal`))
	assert.Equal(t, len(values), strings.Count(string(drawing.Values), `class="dot"`))
	assert.Equal(t, len(values)-1, strings.Count(string(drawing.Ranges), `class="dot"`))
	assert.Contains(t, string(drawing.Values), `aria-label="&lt;&#34;title&#34;&gt;, single values: 19 points`)
	assert.Contains(t, string(drawing.Values), "no. 19")
}
