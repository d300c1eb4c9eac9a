package section

import (
	"image"
	"image/color"
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/section/raster"
)

// show hands the picture with closed lines drawn in to whoever looks at the stages.
func (s Subject) show(stage string, v view, lines ...[]raster.Point) {
	if s.Debug == nil {
		return
	}
	m := s.Mat.Clone()
	defer m.Close()
	colours := []color.RGBA{{255, 0, 0, 0}, {0, 255, 0, 0}, {0, 160, 255, 0}, {255, 255, 0, 0}}
	for k, line := range lines {
		for i := range line {
			a, b := v.picture(line[i]), v.picture(line[(i+1)%len(line)])
			gocv.Line(&m, image.Pt(int(math.Round(a.X)), int(math.Round(a.Y))), image.Pt(int(math.Round(b.X)), int(math.Round(b.Y))),
				colours[k%len(colours)], 1)
		}
	}
	s.Debug(stage, m)
}

func (s Subject) showCells(stage string, v view, g grid, k classes) {
	if s.Debug == nil {
		return
	}
	m := gocv.NewMatWithSize(g.h, g.w, gocv.MatTypeCV8UC3)
	defer m.Close()
	b := func(x float64) uint8 { return uint8(math.Max(0, math.Min(255, x))) }
	for i := range g.part.Pix {
		y, x := i/g.w, i%g.w
		t := 0.
		if g.part.Pix[i] {
			t = k.belief(k.at(g, i))
		}
		m.SetUCharAt(y, x*3, b(128+30*t))
		m.SetUCharAt(y, x*3+1, b(255*float64(g.valley.Pix[i])*3))
		m.SetUCharAt(y, x*3+2, b(100*float64(g.lum.Pix[i])))
	}
	s.Debug(stage, m)
}
