package grade

import (
	"fmt"
	"io"
	"strings"

	"crimprule/internal/evidence"
	"crimprule/internal/paper"
	"crimprule/internal/wording"
)

// sheet is the PDF of a trainee under way.
type sheet struct{ *paper.Paper }

// writePDF writes the sheet of a trainee, whose drawings lie in the evidence in dir.
func writePDF(w io.Writer, dir string, info evidence.Info, p page) error {
	s := &sheet{paper.New(paper.Head{Title: p.Called() + ": " + p.Title, Program: p.Program, When: info.When,
		Foot: p.Called() + "; " + p.Program + ", " + p.When})}
	s.AddPage()
	s.Paragraph(paper.Bold, 20, p.Called())
	s.Paragraph(paper.Regular, paper.Small, p.Title+"; scanned: "+p.Source+", "+p.When)
	s.Ln(2)
	s.Paragraph(paper.Bold, 12, p.Words)
	s.boxed(Caution)
	s.facts(p)
	s.Paragraph(paper.Regular, paper.Small, p.FewCrimps)
	s.findings(p)
	s.wires(p)
	s.progress(p)
	s.own(p)
	s.list(p)
	for _, list := range p.InFull() {
		s.Paragraph(paper.Regular, paper.Body, list)
	}
	s.limits(p.Limits)
	s.Ln(3)
	for _, below := range p.BelowAlso {
		s.Paragraph(paper.Regular, paper.Small, below)
	}
	s.drawings(dir, p)
	return s.End(w, "the page of this sheet has")
}

func (s *sheet) boxed(text string) {
	s.Ln(2)
	lines := s.Wrap(paper.Style{Face: paper.Bold, Size: paper.Body}, s.Fit(paper.Bold, text), paper.Width-2*paper.Margin-3)
	s.Room(float64(len(lines)) * paper.Body * 0.55) // a box stands on one page
	s.Font(paper.Bold, paper.Body)
	s.MultiCell(0, paper.Body*0.55, s.Fit(paper.Bold, text), "1", "L", false)
	s.Ln(2)
}

// facts are the counts.
func (s *sheet) facts(p page) {
	counts := fmt.Sprintf("%d: %d conform, %d do not conform, %d not proven, %d not measured", len(p.Crimps), p.Conforming, p.NotConform, p.NotProven, p.NotMeasured)
	if p.NotJudged > 0 {
		counts += fmt.Sprintf(", %d not judged", p.NotJudged)
	}
	facts := [][2]string{{"crimps", counts}, {"yield", p.Yield.Text()}, {"score of 100", p.Score.Text()}}
	if p.Name != "" {
		facts = append(facts, [2]string{"conforming in a row", p.RowWords()}, [2]string{"counted in the order", p.Order.Words()})
	}
	for _, f := range facts {
		s.Pair(42, f[0], f[1])
	}
	s.Ln(1)
	for _, below := range p.BelowMark {
		s.Paragraph(paper.Regular, paper.Body, "– "+below)
	}
}

// limits are what the crimps were judged by.
func (s *sheet) limits(all []Limits) {
	if len(all) == 0 {
		return
	}
	s.Heading("Judged by")
	for _, l := range all {
		s.Paragraph(paper.Regular, paper.Body, "– "+l.Words()+", in the evidence as "+l.Path)
	}
}

// progress is the table of days.
func (s *sheet) progress(p page) {
	s.HeadingOver("Progress", 40)
	if p.Progress != "" {
		s.Paragraph(paper.Regular, paper.Body, p.Progress)
	}
	widths := []float64{35, 25, 30, 50, 40}
	s.row(paper.Bold, widths, "day", "crimps", "conform", "yield", "mean score")
	for _, d := range p.Days {
		day, score := d.Date, "-"
		if day == "" {
			day = "(day unknown)"
		}
		if d.Yield.Of > 0 {
			score = fmt.Sprintf("%.1f", d.Score)
		}
		s.row(paper.Regular, widths, wording.Clean(day), fmt.Sprint(d.Crimps), d.Conform(), d.Yield.Text(), score)
	}
}

// own is how far the trainee's judgement agrees.
func (s *sheet) own(p page) {
	if !p.HasOwn() {
		return
	}
	s.HeadingOver("Own judgement", 50)
	s.Paragraph(paper.Regular, paper.Body, p.Own)
	widths := []float64{60, 60, 60}
	s.row(paper.Bold, widths, "how often who judged how", "program: conforms", "program: does not conform")
	s.row(paper.Regular, widths, "own: conforms", fmt.Sprint(p.Agreement.BothGood), fmt.Sprint(p.Agreement.TooKind))
	s.row(paper.Regular, widths, "own: does not conform", fmt.Sprint(p.Agreement.TooHard), fmt.Sprint(p.Agreement.BothBad))
}

// list is every crimp.
func (s *sheet) list(p page) {
	s.HeadingOver("Crimp by crimp", 30)
	s.lines("crimp", p.List)
}

// lines is a table of crimps or wires.
func (s *sheet) lines(what string, list []line) {
	widths := []float64{12, 44, 22, 36, 14, 52}
	s.row(paper.Bold, widths, "no.", what, "day", "result", "score", "what failed or is open")
	for _, l := range list {
		result, what := l.Badge.Words, l.What
		if l.Own != "" {
			result += "\n(own: " + l.Own + ")"
		}
		s.row(paper.Regular, widths, fmt.Sprint(l.Number), l.Name, l.Date, result, l.Score, what)
	}
}

// row prints cells side by side; a row is never parted by the end of a page.
func (s *sheet) row(font string, widths []float64, texts ...string) {
	const height = paper.Small * paper.LineHeight
	most, lines := 1, make([][]string, len(texts))
	for i, text := range texts {
		for part := range strings.SplitSeq(s.Fit(font, text), "\n") {
			lines[i] = append(lines[i], s.Wrap(paper.Style{Face: font, Size: paper.Small}, part, widths[i]-2)...)
		}
		most = max(most, len(lines[i]))
	}
	s.Room(float64(most)*height + 2)
	s.Font(font, paper.Small)
	x, y := paper.Margin, s.GetY()+1
	s.Rule(y - 0.5)
	for i := range texts {
		for n, line := range lines[i] {
			s.SetXY(x, y+float64(n)*height)
			s.CellFormat(widths[i]-2, height, line, "", 0, "L", false, 0, "")
		}
		x += widths[i]
	}
	s.SetXY(paper.Margin, y+float64(most)*height+1)
}
