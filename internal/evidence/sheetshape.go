package evidence

import (
	"math"

	"codeberg.org/go-pdf/fpdf"
)

// shapeSize is the width of a shape, in millimetres.
const shapeSize = 4.0

// badge draws the shape of a result, as the page has it: a ring with a tick, a filled octagon with a cross, a triangle with
// a mark, a dashed square, two lines, an arrow. The document holds each shape once.
func (s *sheet) badge(x, y float64, class string) {
	s.UseTemplateScaled(s.shapes[class], fpdf.PointType{X: x, Y: y}, fpdf.SizeType{Wd: shapeSize, Ht: shapeSize})
}

// drawShapes draws all shapes before the document has pictures: else the library would count these to the shapes.
func (s *sheet) drawShapes() {
	classes := []string{replacedBadge.Class}
	for _, result := range order {
		classes = append(classes, badgeOf(result).Class)
	}
	for _, class := range classes {
		s.shapes[class] = s.CreateTemplateCustom(fpdf.PointType{}, fpdf.SizeType{Wd: shapeSize, Ht: shapeSize},
			func(t *fpdf.Tpl) { drawShape(&t.Fpdf, class) })
	}
}

func drawShape(p *fpdf.Fpdf, class string) {
	p.SetDrawColor(0, 0, 0)
	p.SetFillColor(0, 0, 0)
	p.SetLineWidth(0.4)
	at := func(points ...float64) []fpdf.PointType {
		var all []fpdf.PointType
		for i := 0; i < len(points); i += 2 {
			all = append(all, fpdf.PointType{X: points[i] / 20 * shapeSize, Y: points[i+1] / 20 * shapeSize})
		}
		return all
	}
	stroke := func(points ...float64) {
		all := at(points...)
		for i := 1; i < len(all); i++ {
			p.Line(all[i-1].X, all[i-1].Y, all[i].X, all[i].Y)
		}
	}
	switch class {
	case "conforms":
		var ring []float64
		for i := range 16 {
			sin, cos := math.Sincos(float64(i) * math.Pi / 8)
			ring = append(ring, 10+8.5*cos, 10+8.5*sin)
		}
		p.Polygon(at(ring...), "D")
		stroke(5.5, 10.5, 8.5, 13.5, 14.5, 6.5)
	case "does_not_conform":
		p.Polygon(at(6, 1, 14, 1, 19, 6, 19, 14, 14, 19, 6, 19, 1, 14, 1, 6), "F")
		p.SetDrawColor(255, 255, 255)
		p.SetLineWidth(0.55)
		stroke(6, 6, 14, 14)
		stroke(14, 6, 6, 14)
	case "not_proven":
		p.Polygon(at(10, 1.5, 19, 18, 1, 18), "D")
		stroke(10, 7.5, 10, 12.5)
		stroke(10, 14, 10, 16)
	case "not_measured":
		p.SetDashPattern([]float64{0.8, 0.5}, 0)
		p.Polygon(at(2, 2, 18, 2, 18, 18, 2, 18), "D")
		p.SetDashPattern([]float64{}, 0)
		stroke(6, 10, 14, 10)
	case "replaced":
		stroke(2, 10, 17, 10)
		stroke(11, 4, 17, 10, 11, 16)
	default:
		stroke(3, 7, 17, 7)
		stroke(3, 13, 17, 13)
	}
}
