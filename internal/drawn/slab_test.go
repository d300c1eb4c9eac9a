package drawn

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

func plainRule() *Rule {
	return &Rule{CentreMM: [2]float64{0, -4.5}, LengthMM: 30, WidthMM: 5, ThickMM: 0.5, TickMM: 0.15, DigitMM: 1.5, Steel: 0.6, Ink: 0.02}
}

// A mark every millimetre, where its aid says: every 20 px, from the rule's beginning at its left end.
func TestRuleHasAMarkEveryMillimetre(t *testing.T) {
	s := plain()
	s.View, s.Rule = record.Seam, plainRule()
	s.Part.CentreMM[1] = 4
	img, truth := s.Render()
	y := int(math.Round(149.5 + 20*2.3))
	var at []float64
	last, first := 0, -1
	dark := func(x int) bool { return img.NRGBAAt(x, y).G < 110 }
	for x := 60; x < 640; x++ {
		if dark(x) && first < 0 {
			first = x
		}
		if dark(x) {
			last = x
		}
		if !dark(x) && first >= 0 {
			at = append(at, float64(first+last)/2)
			first = -1
		}
	}
	assert.Len(t, at, 29)
	for i := 1; i < len(at); i++ {
		assert.InDelta(t, 20, at[i]-at[i-1], 1.01, "mark %d", i)
	}
	assert.InDelta(t, 20, (at[28]-at[0])/28, 0.05)
	assert.InDelta(t, truth.Aid.Reference[1][0], at[0], 1)
	assert.InDelta(t, 149.5+20*2, truth.Aid.Reference[1][1], 0.1)
	assert.Equal(t, "rule=1mm", s.scaleOption())
}

// Twenty-five millimetres and an inch differ by 0.4 mm (25.4 mm is the inch by definition).
func TestInchRuleHasItsOwnMarks(t *testing.T) {
	k := plainRule()
	k.Inch, k.WidthMM = true, 20
	on := func(along float64) float64 { return k.marks(along-k.LengthMM/2, k.WidthMM/2-0.5, 0.01) }
	assert.InDelta(t, 1, on(25.4), 1e-9)
	assert.InDelta(t, 1, on(25.4/16), 1e-9)
	assert.Zero(t, on(1))
	assert.Zero(t, on(25))
}

func TestLongerMarksEveryFiveAndTen(t *testing.T) {
	k := plainRule()
	k.WidthMM = 20
	on := func(mm, down float64) float64 { return k.marks(mm-k.LengthMM/2, k.WidthMM/2-down, 0.01) }
	long := func(mm float64) (down float64) {
		for on(mm, down+0.05) > 0.5 {
			down += 0.05
		}
		return down
	}
	assert.Greater(t, long(5), long(4)+0.8)
	assert.Greater(t, long(10), long(5)+0.8)
	assert.Equal(t, long(3), long(7))
}

func TestDiscIsAsLargeAsItSays(t *testing.T) {
	s := plain()
	s.View = record.Seam
	s.Disc = &Disc{CentreMM: [2]float64{10, -1}, DiameterMM: 9, ThickMM: 1.5, BevelMM: 0.2, Colour: [3]float64{0.8, 0.8, 0.8}}
	s.Part.CentreMM = [2]float64{-14, 5}
	labels, truth := s.classes(), s.Truth()
	assert.InEpsilon(t, 400*math.Pi/4*81, areas(labels)[classReference], 0.005)
	assert.Equal(t, "disc=9mm", s.scaleOption())
	for _, p := range truth.Aid.Reference {
		assert.InDelta(t, 90, math.Hypot(p[0]-349.5-200, p[1]-149.5-20), 0.3)
	}
}
