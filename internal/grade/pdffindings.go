package grade

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"github.com/disintegration/imaging"

	"crimprule/internal/overlay"
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
	s.HeadingOver("To be done better", 48)
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
		s.Room(38)
		s.Paragraph(paper.Bold, paper.Body, fault.Title())
		s.Paragraph(paper.Regular, paper.Body, fault.Words()+" "+fault.Means)
		s.causes(fault.Causes)
		s.Ln(2)
	}
	if f.Cause != nil {
		s.Paragraph(paper.Regular, paper.Body, "Most frequent cause: "+f.Cause.AllWords()+". It is what such faults usually come from, not what was seen.")
	}
}

// causes is the table of likely causes with what helps against each.
func (s *sheet) causes(all []Step) {
	if len(all) == 0 {
		return
	}
	widths := []float64{95, 85}
	s.row(paper.Bold, widths, "likely cause", "what helps")
	for _, step := range all {
		s.row(paper.Regular, widths, step.Cause, step.Helps())
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

// The drawings in the PDF: one a row, as wide as the page unless they are higher than half of it. Their lettering is then
// 6 points high or more (see package overlay).
const (
	drawingPX      = 1500
	drawingQuality = 80
	drawingMM      = paper.Width - 2*paper.Margin
	drawingHigh    = 108.0
)

// drawings shows the overlays of crimps that do not conform, without title and legend. One that cannot be read is left
// out: the sheet names its crimp all the same.
func (s *sheet) drawings(dir string, p page) {
	shown := 0
	for _, d := range p.Drawings {
		name := fmt.Sprintf("drawing %d", d.Number)
		size := s.register(name, filepath.Join(dir, filepath.FromSlash(d.File)))
		if size == nil {
			continue
		}
		wide, high := drawingMM, drawingMM*size.Height()/size.Width()
		if high > drawingHigh {
			wide, high = drawingMM*drawingHigh/high, drawingHigh
		}
		text := s.Fit(paper.Regular, fmt.Sprintf("%d  %s: %s", d.Number, d.Name, d.What))
		below := float64(len(s.Wrap(paper.Style{Face: paper.Regular, Size: paper.Small}, text, drawingMM-2))+1) * paper.Small * paper.LineHeight
		if shown == 0 {
			s.HeadingOver(p.DrawingsHead(), high+below+12)
		}
		s.Room(high + below + 2)
		s.ImageOptions(name, paper.Margin, s.GetY()+1, wide, high, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
		s.SetXY(paper.Margin, s.GetY()+high+2)
		s.Paragraph(paper.Regular, paper.Small, text)
		s.Ln(2)
		shown++
	}
}

// register takes the middle of a drawing into the document; nil where it cannot be read.
func (s *sheet) register(name, path string) *fpdf.ImageInfoType {
	img, err := imaging.Open(path)
	if err != nil {
		return nil
	}
	img = imaging.Crop(img, overlay.Body(img))
	var data bytes.Buffer
	if err := imaging.Encode(&data, imaging.Fit(img, drawingPX, drawingPX, imaging.Box), imaging.JPEG, imaging.JPEGQuality(drawingQuality)); err != nil {
		return nil
	}
	return s.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, &data)
}
