// Package raster holds pictures as plain numbers, for the packages that measure sections.
package raster

import "math"

// Plane is one channel of a picture, row by row, values 0 (black) to 1 (white). Pixel (0, 0) is the centre of the top
// left one.
type Plane struct {
	W, H int
	Pix  []float32
}

// NewPlane returns a black plane.
func NewPlane(w, h int) Plane { return Plane{W: w, H: h, Pix: make([]float32, w*h)} }

// At interpolates linearly between pixels; outside the picture the rim is repeated.
func (p Plane) At(x, y float64) float64 {
	x = math.Max(0, math.Min(x, float64(p.W-1)))
	y = math.Max(0, math.Min(y, float64(p.H-1)))
	if p.W < 2 || p.H < 2 {
		return float64(p.Pix[int(y+0.5)*p.W+int(x+0.5)])
	}
	i, j := min(int(x), p.W-2), min(int(y), p.H-2)
	fx, fy := float32(x-float64(i)), float32(y-float64(j))
	k := j*p.W + i
	top := p.Pix[k] + fx*(p.Pix[k+1]-p.Pix[k])
	low := p.Pix[k+p.W] + fx*(p.Pix[k+p.W+1]-p.Pix[k+p.W])
	return float64(top + fy*(low-top))
}

// Mask marks pixels of a plane of the same size.
type Mask struct {
	W, H int
	Pix  []bool
}

// NewMask returns an empty mask.
func NewMask(w, h int) Mask { return Mask{W: w, H: h, Pix: make([]bool, w*h)} }
