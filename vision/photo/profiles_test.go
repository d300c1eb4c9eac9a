package photo

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"

	"crimprule/vision/subpixel"
)

func ramp(n int, a, b float64) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = a + b*float64(i)
	}
	return v
}

// A stray strand or a hole in fewer than half of the blocks leaves no trace in the median; an even count takes the mean of
// the middle two.
func TestMedianProfile(t *testing.T) {
	blocks := make([][][]float64, 5)
	for k := range blocks {
		blocks[k] = [][]float64{ramp(6, 10, 2), ramp(6, 50, -1), ramp(6, 0, 0)}
	}
	blocks[1][0][3], blocks[4][0][3], blocks[2][1][0] = 250, 0, 250
	out := medianProfile(blocks)
	assert.Equal(t, [][]float64{ramp(6, 10, 2), ramp(6, 50, -1), ramp(6, 0, 0)}, out)
	even := [][][]float64{{{1}}, {{5}}, {{2}}, {{100}}}
	assert.InDelta(t, 3.5, medianProfile(even)[0][0], 1e-12)
}

// A saw of ±h has the standard deviation h about its mean.
func TestSpreadOf(t *testing.T) {
	saw := make([]float64, 100)
	for i := range saw {
		saw[i] = 70 + 4*float64(1-2*(i%2))
	}
	assert.InDelta(t, 4, spreadOf([][]float64{ramp(100, 9, 0), saw}, 0, 100), 1e-9)
	assert.InDelta(t, 4, spreadOf([][]float64{saw}, 0, 1000), 1e-9, "cut at the end")
	// Evenly spread values 0..n-1 have the variance (n²-1)/12.
	assert.InDelta(t, math.Sqrt((50*50-1)/12.), spreadOf([][]float64{ramp(100, 0, 1)}, 20, 70), 1e-9)
}

// The axis is the weighted mean of both sides and the seam; a side counts (0.504/0.18)² = 7.84 times the seam when all are
// fitted equally well.
func TestAxisTurn(t *testing.T) {
	at := func(deg float64) subpixel.Line {
		return subpixel.Line{Dir: subpixel.Point{X: math.Cos(deg * math.Pi / 180), Y: math.Sin(deg * math.Pi / 180)}}
	}
	turn, u := axisTurn(at(1), at(1), at(1))
	assert.InDelta(t, 1, turn*180/math.Pi, 1e-9)
	assert.InDelta(t, 1/math.Sqrt(2/(0.18*0.18)+1/(0.504*0.504)), u*180/math.Pi, 1e-9)
	turn, _ = axisTurn(at(0), at(0), at(2))
	assert.InDelta(t, 2/(2*7.84+1), turn*180/math.Pi, 1e-9)
	turn, _ = axisTurn(at(-0.3), at(0.3), at(0))
	assert.InDelta(t, 0, turn, 1e-12)
	// A side that is known badly hardly counts.
	bad := at(5)
	bad.UAngle = 0.5
	turn, _ = axisTurn(at(0), bad, at(0))
	assert.Less(t, turn*180/math.Pi, 0.01)
}

// levelled keeps a side's place, takes its slope, and leaves out a block that lies off.
func TestLevelled(t *testing.T) {
	var o outline
	for k := range 10 {
		o.borders = append(o.borders, subpixel.Point{X: float64(k) / 2, Y: 2 + 0.01*float64(k%2)})
	}
	o.borders[6].Y = 2.6
	l := o.levelled()
	assert.InDelta(t, 2.005, l.at(0), 0.002)
	assert.InDelta(t, l.at(0), l.at(9), 1e-12)
	assert.Positive(t, l.line.UOffset)
	assert.Less(t, l.line.UOffset, 0.005)
}

// settle averages what lies together and leaves out what does not; its scatter ignores the edge's own curve.
func TestCrossEdgeSettles(t *testing.T) {
	e := crossEdge{points: across(1.5, 0, 0, nil)}
	e.points[4].X, e.points[9].X = 2.1, 0.9
	e.settle()
	assert.InDelta(t, 1.5, e.x, 1e-9)
	assert.InDelta(t, 0.02/math.Sqrt(19), e.u, 1e-9, "no scatter: the floor of 0.02 mm over 19 lines")
}
