package grade

import (
	"bytes"
	"fmt"
	"io"
	"strings"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"

	"crimprule/internal/evidence"
	"crimprule/internal/wording"
)

// The typefaces and sizes of the sheet; sizes in points, all else in millimetres.
const (
	plain, bold           = "go", "gobold"
	bodyPT, smallPT       = 10.0, 8.5
	marginMM, footMM      = 15.0, 15.0
	pageWidthMM           = 210.0
	pageHeightMM          = 297.0
	lineHeight            = 0.48 // mm for each point of the type's size
	missing          rune = '□'  // stands for a character that the typeface lacks
)

// paper lays text out on A4.
type paper struct {
	*fpdf.Fpdf
	fonts map[string]*sfnt.Font
}

// writePDF writes the sheet of a trainee, whose drawings lie in the evidence in dir.
func writePDF(w io.Writer, dir string, info evidence.Info, p page) error {
	s := newPaper(info, p)
	s.AddPage()
	s.text(bold, 20, p.Called())
	s.text(plain, smallPT, p.Title+"; scanned: "+p.Source+", "+p.When)
	s.Ln(2)
	s.text(bold, 12, p.Words)
	s.boxed(Caution)
	s.facts(p)
	s.text(plain, smallPT, p.FewCrimps)
	s.findings(p)
	s.drawings(dir, p.Drawings)
	s.wires(p)
	s.progress(p)
	s.own(p)
	s.list(p)
	s.Ln(3)
	for _, below := range p.BelowAlso {
		s.text(plain, smallPT, below)
	}
	return s.Output(w)
}

func newPaper(info evidence.Info, p page) *paper {
	s := &paper{fpdf.New("P", "mm", "A4", ""), map[string]*sfnt.Font{}}
	s.SetCatalogSort(true)
	s.SetCreationDate(moment(info.When))
	s.SetModificationDate(moment(info.When))
	for name, data := range map[string][]byte{plain: goregular.TTF, bold: gobold.TTF} {
		font, err := sfnt.Parse(data)
		if err != nil {
			s.SetError(err)
		}
		s.fonts[name] = font
	}
	s.AddUTF8FontFromBytes(plain, "", bytes.Clone(goregular.TTF)) // the library writes into it
	s.AddUTF8FontFromBytes(bold, "", bytes.Clone(gobold.TTF))
	s.SetTitle(p.Called()+": "+p.Title, true)
	s.SetCreator(p.Program, true)
	s.SetMargins(marginMM, marginMM, marginMM)
	s.SetAutoPageBreak(true, footMM+5)
	s.AliasNbPages("{nb}")
	foot := s.fit(plain, p.Called()+"; "+p.Program+", "+p.When)
	s.SetFooterFunc(func() {
		s.SetY(-footMM)
		s.SetFont(plain, "", 7.5)
		s.CellFormat(pageWidthMM-2*marginMM-30, 5, foot, "", 0, "L", false, 0, "")
		s.CellFormat(30, 5, fmt.Sprintf("page %d of {nb}", s.PageNo()), "", 0, "R", false, 0, "")
	})
	return s
}

// fit replaces what the typeface cannot show.
func (s *paper) fit(name, text string) string {
	var buffer sfnt.Buffer
	return strings.Map(func(r rune) rune {
		if r == '\n' {
			return r
		}
		glyph, err := s.fonts[name].GlyphIndex(&buffer, r)
		if err != nil || glyph == 0 || r > 0xffff {
			return missing
		}
		return r
	}, text)
}

// text prints a paragraph over the width of the page.
func (s *paper) text(font string, size float64, text string) {
	s.SetFont(font, "", size)
	s.MultiCell(0, size*lineHeight, s.fit(font, text), "", "L", false)
}

func (s *paper) heading(text string) {
	s.room(25) // no heading alone at the foot of a page
	s.Ln(3)
	s.text(bold, 13, text)
	s.Ln(1)
}

// room begins a new page where less than so much is left of this one.
func (s *paper) room(mm float64) {
	if s.GetY()+mm > pageHeightMM-footMM-5 {
		s.AddPage()
	}
}

func (s *paper) boxed(text string) {
	s.Ln(2)
	s.SetFont(bold, "", bodyPT)
	s.room(float64(len(s.SplitText(s.fit(bold, text), pageWidthMM-2*marginMM-2))) * bodyPT * 0.55) // a box stands on one page
	s.SetFont(bold, "", bodyPT)
	s.MultiCell(0, bodyPT*0.55, s.fit(bold, text), "1", "L", false)
	s.Ln(2)
}

// facts are the counts.
func (s *paper) facts(p page) {
	open := ""
	if p.Row.Possible > p.Row.Longest {
		open = fmt.Sprintf("; %d if all that is open is good", p.Row.Possible)
	}
	counts := fmt.Sprintf("%d: %d conform, %d do not conform, %d not proven, %d not measured", len(p.Crimps), p.Conforming, p.NotConform, p.NotProven, p.NotMeasured)
	if p.NotJudged > 0 {
		counts += fmt.Sprintf(", %d not judged", p.NotJudged)
	}
	for _, f := range [][2]string{
		{"crimps", counts}, {"yield", p.Yield.Text()}, {"score of 100", p.Score.Text()},
		{"conforming in a row", fmt.Sprintf("longest %d, now %d%s", p.Row.Longest, p.Row.Current, open)},
	} {
		s.SetFont(plain, "", bodyPT)
		s.CellFormat(42, bodyPT*lineHeight, f[0], "", 0, "L", false, 0, "")
		s.MultiCell(0, bodyPT*lineHeight, s.fit(plain, f[1]), "", "L", false)
	}
	s.Ln(1)
}

// progress is the table of days.
func (s *paper) progress(p page) {
	s.heading("Progress")
	if p.Progress != "" {
		s.text(plain, bodyPT, p.Progress)
	}
	widths := []float64{35, 25, 30, 50, 40}
	s.row(bold, widths, "day", "crimps", "conform", "yield", "mean score")
	for _, d := range p.Days {
		day, score := d.Date, "-"
		if day == "" {
			day = "(day unknown)"
		}
		if d.Yield.Of > 0 {
			score = fmt.Sprintf("%.1f", d.Score)
		}
		s.row(plain, widths, wording.Clean(day), fmt.Sprint(d.Crimps), d.Conform(), d.Yield.Text(), score)
	}
}

// own is how far the trainee's judgement agrees.
func (s *paper) own(p page) {
	if !p.HasOwn() {
		return
	}
	s.heading("Own judgement")
	s.text(plain, bodyPT, p.Own)
	widths := []float64{60, 60, 60}
	s.row(bold, widths, "how often who judged how", "program: conforms", "program: does not conform")
	s.row(plain, widths, "own: conforms", fmt.Sprint(p.Agreement.BothGood), fmt.Sprint(p.Agreement.TooKind))
	s.row(plain, widths, "own: does not conform", fmt.Sprint(p.Agreement.TooHard), fmt.Sprint(p.Agreement.BothBad))
}

// list is every crimp.
func (s *paper) list(p page) {
	s.heading("Crimp by crimp")
	s.lines("crimp", p.List)
}

// lines is a table of crimps or wires.
func (s *paper) lines(what string, list []line) {
	widths := []float64{12, 44, 22, 36, 14, 52}
	s.row(bold, widths, "no.", what, "day", "result", "score", "what failed or is open")
	for _, l := range list {
		result, what := l.Badge.Words, l.What
		if l.Own != "" {
			result += "\n(own: " + l.Own + ")"
		}
		s.row(plain, widths, fmt.Sprint(l.Number), l.Name, l.Date, result, l.Score, what)
	}
}

// row prints cells side by side; a row is never parted by the end of a page.
func (s *paper) row(font string, widths []float64, texts ...string) {
	const height = smallPT * lineHeight
	s.SetFont(font, "", smallPT)
	most, lines := 1, make([][]string, len(texts))
	for i, text := range texts {
		for part := range strings.SplitSeq(s.fit(font, text), "\n") {
			lines[i] = append(lines[i], s.SplitText(part, widths[i]-2)...)
		}
		most = max(most, len(lines[i]))
	}
	s.room(float64(most)*height + 2)
	s.SetFont(font, "", smallPT)
	x, y := marginMM, s.GetY()+1
	s.SetDrawColor(150, 150, 150)
	s.Line(marginMM, y-0.5, pageWidthMM-marginMM, y-0.5)
	for i := range texts {
		for n, line := range lines[i] {
			s.SetXY(x, y+float64(n)*height)
			s.CellFormat(widths[i]-2, height, line, "", 0, "L", false, 0, "")
		}
		x += widths[i]
	}
	s.SetXY(marginMM, y+float64(most)*height+1)
}
