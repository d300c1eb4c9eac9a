package evidence

import (
	"strconv"
	"strings"

	instrument "crimprule/internal/elsewhere"
	"crimprule/internal/tolerance"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// The columns of a table of tolerances in the PDF, in millimetres.
var limitWidths = [5]float64{56, 18, 18, 18, 70}

var limitNames = [5]string{"measurand", "min", "max", "aim", "note"}

// tolerances prints what crimps were judged by, as tables; the files themselves, with their comments, lie in the evidence.
func (s *sheet) tolerances(all []Tolerances) {
	for i, t := range all {
		if i == 0 || s.pdf.GetY() > pageHeight-foot-70 {
			s.pdf.AddPage()
		}
		name := wording.Clean(t.Name)
		if name == "" {
			name = wording.Clean(t.File)
		}
		s.bookmark("Tolerances: " + name)
		s.heading("Tolerances: " + name)
		s.pairs([]fact{{"file", wording.Clean(t.File) + ", in this evidence as " + t.Path()}, {"SHA-256", t.Hash}})
		s.pairs(toleranceFacts(t.Limits))
		s.limits(t.Limits.View, t.Limits.Limits, record.Key.Unit)
		if len(t.Limits.Elsewhere) > 0 {
			s.paragraph(bold, smallSize, "Measured elsewhere")
		}
		s.limits(elsewhere, t.Limits.Elsewhere, instrument.Unit)
	}
}

// toleranceFacts says what the limits are for.
func toleranceFacts(f tolerance.File) []fact {
	var all []fact
	if f.View != "" {
		all = append(all, fact{"view", wording.View(f.View)})
	}
	confidence := f.Confidence
	if confidence == 0 {
		confidence = tolerance.DefaultConfidence
	}
	all = append(all, fact{"confidence", plain(100*confidence) + " % for a decision"})
	var part []string
	for _, p := range []fact{{"wire", f.Part.Wire}, {"contact", f.Part.Contact}} {
		if p.Text != "" {
			part = append(part, p.Name+" "+wording.Clean(p.Text))
		}
	}
	for _, p := range []struct {
		name, unit string
		value      float64
	}{
		{"conductor area", " mm²", f.Part.ConductorArea}, {"nominal area", " mm²", f.Part.NominalArea}, {"strands", "", f.Part.StrandCount},
		{"strand diameter", " mm", f.Part.StrandDiameter}, {"insulation diameter", " mm", f.Part.InsulationDiameter},
		{"sheet thickness", " mm", f.Part.SheetThickness},
	} {
		if p.value != 0 {
			part = append(part, p.name+" "+plain(p.value)+p.unit)
		}
	}
	if len(part) > 0 {
		all = append(all, fact{"part", strings.Join(part, "; ")})
	}
	return all
}

// plain writes a number that a person stated, without the noise of binary fractions.
func plain(v float64) string { return strconv.FormatFloat(v, 'g', 12, 64) }

// limits prints one table; nothing where it is empty. The view may be elsewhere.
func (s *sheet) limits(view record.View, limits []tolerance.Limit, unitOf func(record.Key) string) {
	if len(limits) == 0 {
		return
	}
	s.pdf.Ln(1)
	s.limitRow(limitNames)
	for _, l := range limits {
		unit := wording.Unit(unitOf(l.Key))
		stated := func(v *float64) string {
			switch {
			case v == nil:
				return "–"
			case unit == "" || unit == "°":
				return plain(*v) + unit
			}
			return plain(*v) + "\u00a0" + unit
		}
		s.limitRow([5]string{wording.Name(view, l.Key), stated(l.Min), stated(l.Max), stated(l.Aim), wording.Clean(l.Note)})
	}
	s.pdf.Ln(2)
}

// limitRow prints a row; it is never parted by the end of a page.
func (s *sheet) limitRow(cells [5]string) {
	const height = rowSize * lineHeight
	var lines [5][]printed
	tall := 0.0
	for i, text := range cells {
		lines[i] = s.lines(cell{text: text}, limitWidths[i])
		tall = max(tall, float64(len(lines[i]))*height)
	}
	if s.pdf.GetY()+tall+3 > pageHeight-foot-3 {
		s.pdf.AddPage()
	}
	y := s.pdf.GetY() + 0.8
	s.pdf.SetDrawColor(150, 150, 150)
	s.pdf.Line(margin, y-0.5, pageWidth-margin, y-0.5)
	x := margin
	s.font(regular, rowSize)
	for i := range lines {
		for n, line := range lines[i] {
			s.pdf.SetXY(x, y+float64(n)*height)
			s.pdf.CellFormat(limitWidths[i], height, line.text, "", 0, "L", false, 0, "")
		}
		x += limitWidths[i]
	}
	s.pdf.SetXY(margin, y+tall+0.4)
}

// signature leaves a place for who checked the document.
func (s *sheet) signature() {
	s.pdf.Ln(12)
	s.pdf.SetDrawColor(0, 0, 0)
	y := s.pdf.GetY()
	x := margin
	for _, place := range []struct {
		name  string
		width float64
	}{{"checked by", 72}, {"date", 36}, {"signature", 60}} {
		s.pdf.Line(x, y, x+place.width, y)
		s.font(regular, smallSize)
		s.pdf.SetXY(x, y+0.8)
		s.pdf.CellFormat(place.width, smallSize*lineHeight, place.name, "", 0, "L", false, 0, "")
		x += place.width + 6
	}
	s.pdf.SetXY(margin, y+smallSize*lineHeight+1)
}
