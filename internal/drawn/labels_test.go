package drawn

import (
	"image"
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/record"
)

// classes are the labels alone, which need no light.
func (s Scene) classes() *image.Gray {
	r, labels := s.renderer(), image.NewGray(image.Rect(0, 0, s.Width, s.Height))
	rows(s.Height, func(y int) {
		for x := range s.Width {
			labels.Pix[y*labels.Stride+x] = uint8(r.class(r.hit(float64(x), float64(y))))
		}
	})
	return labels
}

// areas counts the pixels of each class.
func areas(labels *image.Gray) (n [256]int) {
	for _, v := range labels.Pix {
		n[v]++
	}
	return n
}

// Regions are as large as the geometry says: at 20 px/mm a square millimetre has 400 pixels.
func TestLabelsCoverWhatGeometrySays(t *testing.T) {
	s := plain()
	labels, truth := s.classes(), s.Truth()
	n := areas(labels)
	v := truth.Values
	opening := v[record.SeamOpeningMax] * 7
	flare := 2 * 0.7 * 0.2 / 2.3 // both sides of 0.2·(u^1.3) over 0.7 mm
	assert.InEpsilon(t, 400*(4.2*7+flare-opening), n[classSleeve], 0.01)
	assert.InEpsilon(t, 400*opening, n[classInside], 0.06, "4 px wide, its ends rounded")
	assert.Zero(t, n[classReference])
	assert.Zero(t, n[classStray])
	// The wire runs out of the picture 14 mm behind the sleeve's rear: 350 px left of its middle, 3.5 mm of them sleeve.
	assert.InEpsilon(t, 400*6*(349.5/20-3.5-0.8), n[classInsulation], 0.02)
	assert.Less(t, n[classConductor], int(400*0.8*6))
	assert.Greater(t, n[classConductor], int(400*0.7*2*s.Part.geometry(3).conductor*0.9))
	for c := range n[classInside+1:] {
		assert.Zero(t, n[int(classInside)+1+c])
	}

	s.Part.Strays = []Stray{{Left: true, RootDeg: 50, ReachMM: 2, AlongMM: 2, DiameterMM: 0.3}}
	labels, truth = s.classes(), s.Truth()
	assert.Less(t, areas(labels)[classStray], int(400*0.3*truth.Values[record.StrayLongest]))
	assert.Greater(t, areas(labels)[classStray], int(400*0.3*2))
}

// A board's paper and its print belong to the reference whether it is a sheet of its own or printed on the card.
func TestLabelsOfTheBoard(t *testing.T) {
	for _, height := range []float64{0, 0.1} {
		s := plain()
		s.Part.CentreMM = [2]float64{12, 6.5}
		s.Board = Board{Cols: 4, Rows: 3, SquareMM: 2, CentreMM: [2]float64{-7, -1}, Ink: 0.02, Paper: 0.9, HeightMM: height}
		labels := s.classes()
		assert.InEpsilon(t, 400*10*8, areas(labels)[classReference], 0.02)
	}
}

// A smaller picture shows the same: truth in mm stays, regions shrink with the square of its width.
func TestWideShowsTheSame(t *testing.T) {
	s := Random(4)
	a, b := s.Wide(400), s.Wide(200)
	assert.Equal(t, a.Truth().Values, b.Truth().Values)
	m := a.classes()
	_, n, _ := b.RenderLabelled()
	assert.Equal(t, b.classes().Pix, n.Pix)
	big, small := areas(m), areas(n)
	for _, c := range []class{classGround, classReference, classInsulation, classSleeve, classBody} {
		assert.InEpsilon(t, big[c], 4*small[c], 0.08, "class %d", c)
	}
}

// A grip round the insulation is sheet of its own behind the cut, as wide as insulation and sheet, open along its top.
func TestGripLiesRoundTheInsulation(t *testing.T) {
	s := plain()
	before := areas(s.classes())
	s.Part.Grip = &Grip{BackMM: 0.5, LengthMM: 3, OpeningMM: 1}
	after := areas(s.classes())
	sheet := s.Part.Sleeve.SheetMM * 0.8
	assert.InEpsilon(t, 400*3*(6-1), before[classInsulation]-after[classInsulation], 0.02)
	// Beside it the strap under the gap may show.
	assert.InDelta(t, 400*3*(6+2*sheet-1), after[classBody]-before[classBody], 400*0.6)
	assert.Equal(t, before[classSleeve], after[classSleeve])
	v, w := plain().Truth().Values, s.Truth().Values
	assert.Equal(t, v, w, "truth is the sleeve's alone")
}

// Print is on the insulation's top only and changes no class.
func TestPrintIsOnTheInsulation(t *testing.T) {
	s := plain()
	s.Part.Wire.Print = [3]float64{0.8, 0.8, 0.8}
	assert.Equal(t, plain().classes().Pix, s.classes().Pix)
	g, n := s.Part.geometry(s.Seed), 0
	for x := -16.0; x < -4; x += 0.05 {
		for a := -180; a < 180; a += 3 {
			sin, cos := math.Sincos(radians(float64(a)))
			c := g.printed(vec{}, vec{x, 3 * sin, 3 * cos}, insulation, 0.05)
			if c.X > 0.3 {
				n++
				assert.Less(t, math.Abs(float64(a)), 60.0)
			}
		}
	}
	assert.Greater(t, n, 50)
}
