package grade

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/disintegration/imaging"

	"crimprule/internal/paper"
	"crimprule/internal/wording"
)

// findings says what was done well and what not, and what is open.
func (s *sheet) findings(p page) {
	s.Heading("Done well")
	s.well(p.Well)
	if len(p.Well) == 0 {
		s.Paragraph(paper.Regular, paper.Body, p.NoneWell())
	}
	s.Heading("To be done better")
	s.faults(p.Findings)
	if len(p.Faults) == 0 {
		s.Paragraph(paper.Regular, paper.Body, p.NoFault())
	}
	s.practise(p.Practise)
	s.open(p.Trainee)
}

func (s *sheet) well(all []Good) {
	for _, g := range all {
		s.Paragraph(paper.Regular, paper.Body, "– "+g.Words())
	}
}

// faults are what does not conform, with the most frequent cause.
func (s *sheet) faults(f Findings) {
	for _, fault := range f.Faults {
		s.Room(20)
		s.Paragraph(paper.Bold, paper.Body, fault.Title())
		s.Paragraph(paper.Regular, paper.Body, fault.Words()+" "+fault.Means)
		if len(fault.Causes) > 0 {
			s.Paragraph(paper.Regular, paper.Small, "Likely: "+fault.Likely())
		}
		s.Ln(1)
	}
	if f.Cause != nil {
		s.Paragraph(paper.Regular, paper.Body, "Most frequent cause: "+f.Cause.AllWords()+". It is what such faults usually come from, not what was seen.")
	}
}

func (s *sheet) practise(p *Practice) {
	if p != nil {
		s.boxed(strings.ToUpper(p.Label()[:1]) + p.Label()[1:] + ": " + p.Name + ". " + p.Do + " Why: " + p.Why + ".")
	}
}

// open is what the pictures do not show.
func (s *sheet) open(t Trainee) {
	doubts := t.InDoubt()
	if len(t.Unshown)+len(t.Photos)+len(doubts) == 0 {
		return
	}
	s.Heading("Not shown by these pictures")
	s.Paragraph(paper.Regular, paper.Body, NotShown)
	s.unshown(t.Findings)
	for _, c := range doubts {
		s.Paragraph(paper.Bold, paper.Body, "in doubt: "+wording.Clean(c.Name))
		s.Paragraph(paper.Regular, paper.Body, c.DoubtWords())
	}
}

func (s *sheet) unshown(f Findings) {
	for _, u := range f.Unshown {
		s.Room(12)
		s.Paragraph(paper.Bold, paper.Body, u.Name)
		s.Paragraph(paper.Regular, paper.Body, u.Words()+" What would show it: "+u.Shows+".")
	}
	if len(f.Photos) > 0 {
		s.Paragraph(paper.Bold, paper.Body, "photographs that came to nothing")
	}
	for _, p := range f.Photos {
		s.Paragraph(paper.Regular, paper.Body, "– "+p.Words())
	}
}

// wires are the stripped wires.
func (s *sheet) wires(p page) {
	w := p.Wires
	if len(w.Wires) == 0 {
		return
	}
	s.Heading("Stripped wires")
	s.Paragraph(paper.Bold, paper.Body, w.Text())
	s.Paragraph(paper.Regular, paper.Small, WiresAreNoCrimps)
	s.well(w.Well)
	s.faults(w.Findings)
	s.practise(w.Practise)
	s.unshown(w.Findings)
	s.lines("wire", p.WireList)
}

// The drawings in the PDF: as many pixels across as a reader needs to see what is marked, two side by side.
const (
	drawingPX      = 900
	drawingQuality = 80
	drawingMM      = 88.0
)

// drawings shows the overlays of crimps that do not conform. One that cannot be read is left out: the sheet names its
// crimp all the same.
func (s *sheet) drawings(dir string, all []drawing) {
	y, below, shown := 0.0, 0.0, 0
	for _, d := range all {
		img, err := imaging.Open(filepath.Join(dir, filepath.FromSlash(d.File)))
		if err != nil {
			continue
		}
		var data bytes.Buffer
		if err := imaging.Encode(&data, imaging.Fit(img, drawingPX, drawingPX, imaging.Box), imaging.JPEG, imaging.JPEGQuality(drawingQuality)); err != nil {
			continue
		}
		if shown == 0 {
			s.Heading("To look at together: what does not conform")
		}
		name := fmt.Sprintf("drawing %d", d.Number)
		size := s.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, &data)
		if size == nil {
			return // the error is kept and comes with the output
		}
		high := drawingMM * size.Height() / size.Width()
		x := paper.Margin + float64(shown%2)*(drawingMM+4)
		if shown%2 == 0 {
			s.SetY(max(s.GetY(), below))
			s.Room(high + 26)
			y, below = s.GetY(), 0
		}
		s.ImageOptions(name, x, y, drawingMM, high, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
		s.SetXY(x, y+high+1)
		s.Font(paper.Regular, paper.Small)
		s.MultiCell(drawingMM, paper.Small*paper.LineHeight, s.Fit(paper.Regular, fmt.Sprintf("%d  %s: %s", d.Number, d.Name, d.What)), "", "L", false)
		below = max(below, s.GetY()+2)
		shown++
	}
	if shown > 0 {
		s.SetXY(paper.Margin, max(s.GetY(), below))
	}
}
