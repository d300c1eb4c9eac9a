package section

import (
	"math"

	"crimprule/vision/section/raster"
)

// lit gives the sleeve's tone in each channel (the last entry is the mean over the channels) at a place of the view.
func (g grid) lit(c int, p raster.Point) float64 {
	x, y := ((p.X+0.5)/float64(g.q))/float64(g.w)-0.5, ((p.Y+0.5)/float64(g.q))/float64(g.h)-0.5
	return dot(g.light[c], [groundTerms]float64{1, x, y, x * x, x * y, y * y})
}

// toneWeight is how much the strands' tone counts beside the darkness of the line between strand and sleeve when the
// cavity's border is followed.
const toneWeight = 0.7

// innerSignal rises from the cavity to the sleeve, whose level is about 1 + toneWeight: brightness, which a dark line
// lowers, and the tone on the line between the two classes, which it may not.
func innerSignal(v view, g grid, k classes) signal {
	lum := len(g.light) - 1
	return func(near raster.Point) func(x, y float64) float64 {
		bright := 1 / g.lit(lum, near)
		weight := make([]float64, len(v.tone))
		for c := range weight {
			weight[c] = k.weight[c] / g.lit(c, near)
		}
		return func(x, y float64) float64 {
			t, sum := k.offset, 0.
			for c, p := range v.tone {
				a := p.At(x, y)
				t += weight[c] * a
				sum += a
			}
			return sum/float64(len(v.tone))*bright + toneWeight*math.Max(-0.3, math.Min(1.2, t))
		}
	}
}

// settle moves the coarse border of a piece of the cavity to where the signal rises steepest towards the sleeve.
func settle(v view, coarse []raster.Point, g grid, k classes, mmPerPX float64) []raster.Point {
	q := g.q
	signal := innerSignal(v, g, k)
	line := raster.Resample(raster.Smooth(raster.Resample(coarse, 1, true), 1.5*float64(q)), 1, true)
	rises := follower{signal: signal, sign: 1, along: 1.5, bend: 0.015}
	line = rises.on(line, 2.5*float64(q)+2, 0.5)
	line = rises.on(raster.Resample(raster.Smooth(line, 1.5), 1, true), 4, 0.25)
	lum := len(g.light) - 1
	at, value := some(line, 2, 10, 0.25, func(near raster.Point) func(x, y float64) float64 {
		bright := 1 / g.lit(lum, near)
		return func(x, y float64) float64 { return v.grey.At(x, y) * bright }
	}).profile()
	return shifted(line, innerOffset(at, value, mmPerPX))
}
