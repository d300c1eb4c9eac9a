package evidence

import (
	"codeberg.org/go-pdf/fpdf"

	"crimprule/internal/paper"
)

// The charts in the PDF: two side by side, in millimetres.
const (
	chartMM   = 86.0
	chartGap  = 8.0
	chartType = 6.5 // points
)

// driftMeaning explains the charts.
const driftMeaning = "Charts of single values and of the steps between them (ISO 7870-2): the middle line is the mean, the dashed ones are the limits within which chance " +
	"alone keeps nearly all points. A worn die shows as a value that walks away. A diamond marks a point beyond a limit, a square a run on one side, a triangle a trend; " +
	"a steady tool shows such a mark by chance now and then."

// drifts prints the charts of the tools with what they say.
func (s *sheet) drifts(b *book) {
	tools := b.toolDrifts()
	if len(tools) == 0 {
		return
	}
	s.bookmark("Drift of the tools")
	s.HeadingOver("Drift of the tools", 45)
	s.Paragraph(paper.Regular, paper.Small, driftMeaning)
	for _, t := range tools {
		s.Ln(1.5)
		s.Room(18)
		if len(t.Series) > 0 && t.Series[0].data != nil {
			s.Room(75)
		}
		s.Paragraph(paper.Bold, paper.Small, t.Name()+": "+t.Head)
		for _, one := range t.Series {
			s.series(one)
		}
		s.items(t.Short)
	}
}

// series prints a chart and what it says; a chart is never parted from its title.
func (s *sheet) series(one series) {
	const high = chartMM * chartHeight / chartWidth
	title := one.Title + ", " + one.Order + ": " + one.Head
	if one.data != nil {
		s.Room(high + 8 + s.tall(title))
	}
	s.item(title)
	if one.data != nil {
		y := s.GetY() + 1
		one.data.draw(&paperPen{s, paper.Margin, y}, &paperPen{s, paper.Margin + chartMM + chartGap, y})
		s.SetXY(paper.Margin, y+high+1)
	}
	for _, remark := range one.Remarks {
		s.item("   " + remark)
	}
}

// paperPen draws a chart into a PDF, its upper left corner at a place there.
type paperPen struct {
	*sheet
	left, top float64
}

func (p *paperPen) at(place xy) (x, y float64) {
	return p.left + place.x*chartMM/chartWidth, p.top + place.y*chartMM/chartWidth
}

func (p *paperPen) text(at xy, end bool, text string) {
	p.Font(paper.Regular, chartType)
	text = p.Fit(paper.Regular, text)
	x, y := p.at(at)
	if end {
		x -= p.Measure(paper.Style{Face: paper.Regular, Size: chartType}, text)
	}
	p.Text(x, y, text)
}

func (p *paperPen) path(class string, closed bool, points ...xy) {
	if len(points) == 0 {
		return
	}
	p.SetDrawColor(0, 0, 0)
	p.SetLineWidth(map[string]float64{"centre": 0.15, "limit": 0.2, "course": 0.15, "signal": 0.3}[class])
	switch class {
	case "signal beyond":
		p.SetLineWidth(0.45)
	case "limit":
		p.SetDashPattern([]float64{1.2, 0.8}, 0)
		defer p.SetDashPattern(nil, 0)
	case "course":
		p.SetDrawColor(110, 110, 110)
	}
	if closed {
		corners := make([]fpdf.PointType, len(points))
		for i, point := range points {
			corners[i].X, corners[i].Y = p.at(point)
		}
		p.Polygon(corners, "D")
		return
	}
	p.MoveTo(p.at(points[0]))
	for _, point := range points[1:] {
		p.LineTo(p.at(point))
	}
	p.DrawPath("D")
}

func (p *paperPen) dot(at xy) {
	p.SetFillColor(0, 0, 0)
	x, y := p.at(at)
	p.Circle(x, y, 0.5, "F")
}
