package section

import (
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/internal/cvx"
	"crimprule/vision/section/raster"
)

// view is a part of the picture as planes: one (grey) or three (blue, green, red), values 0 to 1. Its pixel (x, y) is
// the picture's pixel (X0 + (x+0.5)*Step - 0.5, ...).
type view struct {
	tone   []raster.Plane
	grey   raster.Plane // the mean of the channels
	x0, y0 float64
	step   float64 // picture's px per pixel of the view
}

// picture leads from a place in the view to the picture's pixels.
func (v view) picture(p raster.Point) raster.Point {
	return raster.Point{X: v.x0 + (p.X+0.5)*v.step - 0.5, Y: v.y0 + (p.Y+0.5)*v.step - 0.5}
}

// inside leads back from the picture's pixels into the view.
func (v view) inside(p raster.Point) raster.Point {
	return raster.Point{X: (p.X+0.5-v.x0)/v.step - 0.5, Y: (p.Y+0.5-v.y0)/v.step - 0.5}
}

// look cuts a rectangle out of the subject's picture and averages blocks of step x step pixels (step 1: none).
func (s Subject) look(r image.Rectangle, step int) (view, error) {
	src, full := s.Mat, 255.
	if !s.Deep.Empty() {
		src, full = s.Deep, 65535
	}
	region := src.Region(r)
	defer region.Close()
	size := image.Pt(max(r.Dx()/step, 1), max(r.Dy()/step, 1))
	cut := gocv.NewMat()
	defer cut.Close()
	// Whole blocks only: the rest at the right and lower rim is left out, so that the scale is the same everywhere.
	whole := region.Region(image.Rect(0, 0, size.X*step, size.Y*step))
	defer whole.Close()
	if err := cvx.Resize(whole, &cut, size, gocv.InterpolationArea); err != nil {
		return view{}, err
	}
	v := view{x0: float64(r.Min.X), y0: float64(r.Min.Y), step: float64(step)}
	channels := cut.Channels()
	var at func(i int) float32
	if full == 255 {
		pix, err := cut.DataPtrUint8()
		if err != nil {
			return view{}, err
		}
		at = func(i int) float32 { return float32(pix[i]) / 255 }
	} else {
		pix, err := cut.DataPtrUint16()
		if err != nil {
			return view{}, err
		}
		full := rangeOf(s.full, pix)
		at = func(i int) float32 { return float32(pix[i]) / full }
	}
	n := size.X * size.Y
	planes := make([]raster.Plane, channels)
	for c := range planes {
		planes[c] = raster.NewPlane(size.X, size.Y)
		pix := planes[c].Pix
		for i := range n {
			pix[i] = at(i*channels + c)
		}
	}
	v.tone = planes
	v.grey = planes[0]
	if channels == 3 {
		if colourless(planes) {
			v.tone = planes[:1]
		} else {
			v.grey = raster.NewPlane(size.X, size.Y)
			for i := range n {
				v.grey.Pix[i] = (planes[0].Pix[i] + planes[1].Pix[i] + planes[2].Pix[i]) / 3
			}
		}
	}
	return v, nil
}

// rangeOf is the value that counts as white: that of the whole depth, or the brightest one where a camera of 10, 12 or 14
// bits fills only a part of it. It is asked for the whole picture first, and stays for its parts.
func rangeOf(known *float32, pix []uint16) float32 {
	if known != nil && *known > 0 {
		return *known
	}
	top := uint16(1)
	for _, v := range pix {
		top = max(top, v)
	}
	full := float32(65535)
	if top < 1<<15 {
		full = float32(top)
	}
	if known != nil {
		*known = full
	}
	return full
}

// colourless tells whether three channels are the same picture.
func colourless(p []raster.Plane) bool {
	for i, b := range p[0].Pix {
		if math.Abs(float64(b-p[1].Pix[i])) > 1.5/255 || math.Abs(float64(b-p[2].Pix[i])) > 1.5/255 {
			return false
		}
	}
	return true
}
