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

// showSite shows cavity and seam.
func (s Subject) showSite(stage string, at site, c cavity, between seam) {
	lines := append([][]raster.Point{}, c.lines...)
	for _, l := range append([][]raster.Point{between.line}, between.walls[:]...) {
		back := append([]raster.Point(nil), l...)
		for i := len(l) - 1; i >= 0; i-- {
			back = append(back, l[i])
		}
		lines = append(lines, back)
	}
	s.show(stage, at.view, lines...)
}
