package evidence

import (
	"strconv"
	"strings"

	instrument "crimprule/internal/elsewhere"
	"crimprule/internal/paper"
	"crimprule/internal/tolerance"
	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// The columns of a table of tolerances in the PDF, in millimetres.
var limitWidths = [5]float64{56, 18, 18, 18, 70}

var limitNames = [5]string{"measurand", "min", "max", "aim", "note"}

// tolerances prints what crimps were judged by, as tables; the files themselves, with their comments, lie in the evidence.
func (s *sheet) tolerances(all []Tolerances) {
	for _, t := range all {
		s.Room(min(65, 40+6*float64(len(t.Limits.Limits))))
		name := wording.Clean(t.Name)
		if name == "" {
			name = wording.Clean(t.File)
		}
		s.bookmark("Tolerances: " + name)
		s.Heading("Tolerances: " + name)
		s.pairs([]fact{{"file", wording.Clean(t.File) + ", in this evidence as " + t.Path()}, {"SHA-256", t.Hash}})
		s.pairs(toleranceFacts(t.Limits))
		s.limits(t.Limits.View, t.Limits.Limits, record.Key.Unit)
		if len(t.Limits.Elsewhere) > 0 {
			s.Room(22)
			s.Paragraph(paper.Bold, paper.Small, "Measured elsewhere")
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
	s.Ln(1)
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
	s.Ln(2)
}

// limitRow prints a row; it is never parted by the end of a page.
func (s *sheet) limitRow(cells [5]string) {
	const height = rowSize * paper.LineHeight
	var lines [5][]printed
	tall := 0.0
	for i, text := range cells {
		lines[i] = s.lines(cell{text: text}, limitWidths[i])
		tall = max(tall, float64(len(lines[i]))*height)
	}
	s.Room(tall + 3)
	y := s.GetY() + 0.8
	s.Rule(y - 0.5)
	x := paper.Margin
	s.Font(paper.Regular, rowSize)
	for i := range lines {
		for n, line := range lines[i] {
			s.SetXY(x, y+float64(n)*height)
			s.CellFormat(limitWidths[i], height, line.text, "", 0, "L", false, 0, "")
		}
		x += limitWidths[i]
	}
	s.SetXY(paper.Margin, y+tall+0.4)
}

// signature leaves a place for who checked the document.
func (s *sheet) signature() {
	s.Ln(12)
	s.SetDrawColor(0, 0, 0)
	y := s.GetY()
	x := paper.Margin
	for _, place := range []struct {
		name  string
		width float64
	}{{"checked by", 72}, {"date", 36}, {"signature", 60}} {
		s.Line(x, y, x+place.width, y)
		s.Font(paper.Regular, paper.Small)
		s.SetXY(x, y+0.8)
		s.CellFormat(place.width, paper.Small*paper.LineHeight, place.name, "", 0, "L", false, 0, "")
		x += place.width + 6
	}
	s.SetXY(paper.Margin, y+paper.Small*paper.LineHeight+1)
}
