package evidence

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"strings"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

// The typefaces and sizes of the PDF; sizes in points, all else in millimetres. A4 (ISO 216).
const (
	regular, bold       = "go", "gobold"
	bodySize, smallSize = 10.0, 8.5
	rowSize, footSize   = 7.8, 7.5
	margin, foot        = 15.0, 15.0
	pageWidth           = 210.0
	pageHeight          = 297.0
	lineHeight          = 0.46 // millimetres a point
	pointsPerMM         = 72 / 25.4
)

// sheet lays text out on A4 pages with page numbers.
type sheet struct {
	pdf     *fpdf.Fpdf
	folder  folder
	faces   map[string]*face
	now     style  // in which text is being written
	lacking bool   // a character stands as □
	table   string // the chapter whose table is being printed; empty: none
	images  int    // pictures that the PDF holds so far
	shapes  map[string]fpdf.Template
}

// style is a typeface in a size, in points.
type style struct {
	face string
	size float64
}

// face tells which characters a typeface has, and how wide they are, in thousandths of the size; -1: it lacks one.
type face struct {
	font   *sfnt.Font
	buffer sfnt.Buffer
	widths map[rune]int
}

// width of a character.
func (f *face) width(r rune) int {
	if w, tried := f.widths[r]; tried {
		return w
	}
	w := -1
	em := f.font.UnitsPerEm()
	if glyph, err := f.font.GlyphIndex(&f.buffer, r); err == nil && glyph != 0 && r <= 0xffff {
		if advance, err := f.font.GlyphAdvance(&f.buffer, glyph, fixed.I(int(em)), font.HintingNone); err == nil {
			w = int(math.Round(float64(advance) / 64 * 1000 / float64(em)))
		}
	}
	f.widths[r] = w
	return w
}

// newSheet makes an empty document whose dates are those of the scan.
func newSheet(f folder, info Info) *sheet {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCatalogSort(true)
	when := info.When
	if when.IsZero() {
		when = time.Unix(0, 0).UTC() // else the time of writing would stand in the file
	}
	pdf.SetCreationDate(when)
	pdf.SetModificationDate(when)
	s := &sheet{pdf: pdf, folder: f, faces: map[string]*face{}, shapes: map[string]fpdf.Template{}}
	for _, f := range []struct {
		name string
		data []byte
	}{{regular, goregular.TTF}, {bold, gobold.TTF}} {
		pdf.AddUTF8FontFromBytes(f.name, "", bytes.Clone(f.data)) // the library writes into it
		parsed, err := sfnt.Parse(f.data)
		if err != nil {
			pdf.SetError(err)
		}
		s.faces[f.name] = &face{font: parsed, widths: map[rune]int{}}
	}
	s.drawShapes()
	h := info.head()
	pdf.SetTitle(h.Title, true)
	pdf.SetCreator(h.Program, true)
	pdf.SetLang("en")
	pdf.SetMargins(margin, margin, margin)
	pdf.SetAutoPageBreak(true, foot+3)
	pdf.AliasNbPages("{nb}")
	pdf.SetHeaderFunc(s.head)
	pdf.SetFooterFunc(func() { s.foot(h) })
	return s
}

// foot prints what the page belongs to, and its number.
func (s *sheet) foot(h head) {
	defer s.keep()()
	s.font(regular, footSize)
	s.pdf.SetXY(margin, -foot)
	text := s.fit(regular, h.Title+"; "+h.Program+", "+h.When)
	if lines := s.wrap(style{regular, footSize}, text, pageWidth-2*margin-36); len(lines) > 1 {
		text = lines[0] + " …"
	}
	s.pdf.CellFormat(pageWidth-2*margin-30, 5, text, "", 0, "L", false, 0, "")
	s.pdf.CellFormat(30, 5, fmt.Sprintf("page %d of {nb}", s.pdf.PageNo()), "", 0, "R", false, 0, "")
}

// missing stands for a character that the typeface lacks.
const missing = '□'

// fit replaces what the typeface cannot show.
func (s *sheet) fit(name, text string) string {
	f := s.faces[name]
	return strings.Map(func(r rune) rune {
		if r == '\n' || f.width(r) >= 0 {
			return r
		}
		s.lacking = true
		return missing
	}, text)
}

// font takes a typeface for what is written next. The library writes it down each time that it is told.
func (s *sheet) font(face string, size float64) {
	if s.now != (style{face, size}) {
		s.now = style{face, size}
		s.pdf.SetFont(face, "", size)
	}
}

// keep is called where the library ends a page or begins one: behind that it goes on with the typeface from before.
func (s *sheet) keep() (back func()) {
	before := s.now
	return func() { s.now = before }
}

// measure is the width of a text, in millimetres.
func (s *sheet) measure(in style, text string) float64 {
	total := 0
	for _, r := range text {
		total += max(s.faces[in.face].width(r), 0)
	}
	return float64(total) / 1000 * in.size / pointsPerMM
}

func (s *sheet) heading(text string) {
	s.pdf.Ln(4)
	if s.pdf.GetY() > pageHeight-foot-25 {
		s.pdf.AddPage()
	}
	s.paragraph(bold, 13, text)
	s.pdf.Ln(1)
}

// bookmark names this place in the document's outline.
func (s *sheet) bookmark(text string) {
	s.font(regular, bodySize)
	s.pdf.Bookmark(text, 0, -1)
}

// paragraph prints a text from here to the right margin.
func (s *sheet) paragraph(font string, size float64, text string) {
	s.font(font, size)
	s.pdf.MultiCell(0, size*lineHeight, s.fit(font, text), "", "L", false)
}

// item prints a line of a list.
func (s *sheet) item(text string) {
	s.font(regular, smallSize)
	inner := strings.TrimLeft(text, " ")
	indent := 1.2 * float64(len(text)-len(inner))
	s.pdf.SetX(margin + indent)
	s.pdf.CellFormat(4, smallSize*lineHeight, "–", "", 0, "L", false, 0, "")
	s.pdf.MultiCell(0, smallSize*lineHeight, s.fit(regular, inner), "", "L", false)
}

// pairs prints names and what goes with them in two columns.
func (s *sheet) pairs(all []fact) {
	for _, f := range all {
		s.font(regular, bodySize)
		s.pdf.CellFormat(22, bodySize*lineHeight, s.fit(regular, f.Name), "", 0, "L", false, 0, "")
		s.pdf.MultiCell(0, bodySize*lineHeight, s.fit(regular, f.Text), "", "L", false)
	}
}

// output writes the document.
func (s *sheet) output(w io.Writer) error {
	if s.lacking {
		s.pdf.Ln(4)
		s.paragraph(regular, smallSize, "Where "+string(missing)+" stands, the typeface of this document lacks a character; index.html, crimps.csv and records.jsonl have it.")
	}
	return s.pdf.Output(w)
}
