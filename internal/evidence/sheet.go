package evidence

import (
	"fmt"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"

	"crimprule/internal/wording"
)

// The typefaces and sizes of the PDF; sizes in points, all else in millimetres.
const (
	regular, bold, mono = "go", "gobold", "gomono"
	bodySize, smallSize = 10.0, 8.5
	margin              = 15.0
	pageWidth           = 210.0
	pageHeight          = 297.0
	foot                = 15.0
)

// sheet lays text out on A4 pages with page numbers.
type sheet struct {
	pdf   *fpdf.Fpdf
	faces map[string]*face
}

// face tells which characters a typeface has.
type face struct {
	font   *sfnt.Font
	buffer sfnt.Buffer
	known  map[rune]bool
}

func newSheet(info Info) *sheet {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCatalogSort(true)
	when := info.When
	if when.IsZero() {
		when = time.Unix(0, 0).UTC() // else the time of writing would stand in the file
	}
	pdf.SetCreationDate(when)
	pdf.SetModificationDate(when)
	s := &sheet{pdf: pdf, faces: map[string]*face{}}
	for _, f := range []struct {
		name string
		data []byte
	}{{regular, goregular.TTF}, {bold, gobold.TTF}, {mono, gomono.TTF}} {
		pdf.AddUTF8FontFromBytes(f.name, "", f.data)
		font, err := sfnt.Parse(f.data)
		if err != nil {
			pdf.SetError(err)
		}
		s.faces[f.name] = &face{font: font, known: map[rune]bool{}}
	}
	pdf.SetTitle(wording.Clean(info.Title), true)
	pdf.SetCreator(wording.Clean(info.Program), true)
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(true, foot+5)
	pdf.AliasNbPages("{nb}")
	title := s.fit(regular, wording.Clean(info.Title)+"; "+wording.Clean(info.Program)+", "+moment(info.When))
	pdf.SetFooterFunc(func() {
		pdf.SetY(-foot)
		pdf.SetFont(regular, "", 7.5)
		pdf.CellFormat(pageWidth-2*margin-30, 5, title, "", 0, "L", false, 0, "")
		pdf.CellFormat(30, 5, fmt.Sprintf("page %d of {nb}", pdf.PageNo()), "", 0, "R", false, 0, "")
	})
	return s
}

// missing stands for a character that the typeface lacks.
const missing = '□'

// fit replaces what the typeface cannot show.
func (s *sheet) fit(name, text string) string {
	f := s.faces[name]
	return strings.Map(func(r rune) rune {
		if r == '\n' {
			return r
		}
		known, tried := f.known[r]
		if !tried {
			glyph, err := f.font.GlyphIndex(&f.buffer, r)
			known = err == nil && glyph != 0 && r <= 0xffff
			f.known[r] = known
		}
		if !known {
			return missing
		}
		return r
	}, text)
}

func (s *sheet) heading(text string, size float64) {
	s.pdf.Ln(3)
	s.paragraph(bold, size, text)
	s.pdf.Ln(1)
}

// paragraph prints a text over the width of the page.
func (s *sheet) paragraph(font string, size float64, text string) {
	s.pdf.SetFont(font, "", size)
	s.pdf.MultiCell(0, size*0.5, s.fit(font, text), "", "L", false)
}

// pairs prints names and what goes with them in two columns.
func (s *sheet) pairs(all []fact) {
	for _, f := range all {
		s.pdf.SetFont(regular, "", bodySize)
		s.pdf.CellFormat(28, bodySize*0.5, s.fit(regular, f.Name), "", 0, "L", false, 0, "")
		s.pdf.MultiCell(0, bodySize*0.5, s.fit(regular, f.Text), "", "L", false)
	}
}

// mark draws the shape of a result before a line.
func (s *sheet) mark(badge) {}

// columnWidths of a row: number, crimp, result, values.
var columnWidths = []float64{12, 52, 36, 80}

// row prints the cells side by side; a row is never parted by the end of a page.
func (s *sheet) row(texts []string, _ badge) {
	const height = smallSize * 0.45
	lines := make([][]string, len(texts))
	most := 1
	s.pdf.SetFont(regular, "", smallSize)
	for i, text := range texts {
		for _, part := range strings.Split(s.fit(regular, text), "\n") {
			lines[i] = append(lines[i], s.pdf.SplitText(part, columnWidths[i]-2)...)
		}
		most = max(most, len(lines[i]))
	}
	if s.pdf.GetY()+float64(most)*height+2 > pageHeight-foot-5 {
		s.pdf.AddPage()
		s.pdf.SetFont(regular, "", smallSize)
	}
	x, y := margin, s.pdf.GetY()+1
	s.pdf.SetDrawColor(180, 180, 180)
	s.pdf.Line(margin, y-0.5, pageWidth-margin, y-0.5)
	for i := range texts {
		for n, line := range lines[i] {
			s.pdf.SetXY(x, y+float64(n)*height)
			s.pdf.CellFormat(columnWidths[i]-2, height, line, "", 0, "L", false, 0, "")
		}
		x += columnWidths[i]
	}
	s.pdf.SetXY(margin, y+float64(most)*height+1)
}
