// Package section measures the micrograph of a crimp's cross-section: outline, cavity, wings, strands and voids.
//
// Frame: x to the right, y up, millimetres; the floor's line is y = 0 and level, x = 0 the middle between the side
// walls. Pixels are those of the upright picture.
package section

import (
	"fmt"
	"image"
	"math"

	"gocv.io/x/gocv"

	"crimprule/vision/record"
	"crimprule/vision/scale"
	"crimprule/vision/section/raster"
)

// Subject is what is measured.
type Subject struct {
	Mat      gocv.Mat // 8-bit BGR, upright; owned by the caller
	Deep     gocv.Mat // the original 16-bit values, one or three channels; empty where there are none
	Scale    scale.Micro
	Declared record.Declared
	// Debug, where set, is handed pictures of the stages.
	Debug func(stage string, mat gocv.Mat)
}

// Measure fills the record with what the section shows. The error is a scale.Refusal where the picture cannot be
// measured, else a fault of ours.
func Measure(s Subject, rec *record.Record) error {
	size := image.Pt(s.Mat.Cols(), s.Mat.Rows())
	small, err := s.look(image.Rectangle{Max: size}, max(1, (max(size.X, size.Y)+smallSide-1)/smallSide))
	if err != nil {
		return err
	}
	m, ok := findMetal(small, s.labels(small))
	if !ok {
		return scale.Refusal{Reason: "no section was found"}
	}
	r, step := m.extent(small, size)
	v, err := s.look(r, step)
	if err != nil {
		return err
	}
	o := findOutline(v, small, m)
	s.show("outline", v, o.line)
	rec.Marks = append(rec.Marks, record.Mark{Kind: record.MarkSleeve, Points: v.marks(o.line)})
	g := makeGrid(v, o)
	size2 := math.Sqrt(math.Abs(raster.Area(o.line))) / float64(g.q)
	k, ok := learn(g, size2)
	if !ok {
		return scale.Refusal{Reason: "strands cannot be told from the sleeve"}
	}
	cav := parted(g, k, size2)
	fmt.Printf("   q %d sd %.2f \n", g.q, k.sd)
	s.showCells("cells", v, g, k)
	var lines [][]raster.Point
	for _, p := range raster.Borders(cav) {
		for i, a := range p {
			p[i] = g.place(a.X, a.Y)
		}
		lines = append(lines, p)
	}
	s.show("cavity", v, lines...)
	return scale.Refusal{Reason: "sections are not measured yet"}
}

// labels marks what was drawn into the picture.
func (s Subject) labels(v view) raster.Mask {
	var polygons [][]raster.Point
	for _, l := range s.Scale.Labels {
		var p []raster.Point
		for _, q := range l {
			p = append(p, v.inside(raster.Point{X: q.X, Y: q.Y}))
		}
		polygons = append(polygons, p)
	}
	return raster.Fill(v.grey.W, v.grey.H, polygons...)
}

// marks brings a line into the picture's pixels.
func (v view) marks(line []raster.Point) []record.Point {
	out := make([]record.Point, len(line))
	for i, p := range line {
		q := v.picture(p)
		out[i] = record.Point{X: q.X, Y: q.Y}
	}
	return out
}
