// Package paper lays text out on A4 pages (ISO 216) for the PDFs of this program: typefaces that every document brings
// along, paragraphs, headings and lines that are parted between words, page numbers. Sizes of type are in points, all else
// in millimetres, from the upper left corner of the page.
package paper

import (
	"bytes"
	"fmt"
	"io"
	"time"

	"codeberg.org/go-pdf/fpdf"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/sfnt"
)

// The typefaces.
const (
	Regular = "go"
	Bold    = "gobold"
)

// The sizes of type, in points.
const (
	Body  = 10.0
	Small = 8.5
	Fine  = 7.5
)

// The page, in millimetres; text ends at Bottom. LineHeight is for each point of the type's size.
const (
	Width      = 210.0
	Height     = 297.0
	Margin     = 15.0
	Foot       = 15.0
	Bottom     = Height - Foot - 3
	LineHeight = 0.46
)

// Paper is a document under way. What the layout does not offer is done with the library itself; call Font, never SetFont.
type Paper struct {
	*fpdf.Fpdf
	faces   map[string]*face
	now     Style // in which text is being written
	lacking bool  // a character stands as its number
}

// Head is what a document is and belongs to. When is its date, for one written twice to be the same.
type Head struct {
	Title, Program string
	When           time.Time
	Foot           string // the line at the foot of each page
}

// New makes an empty document.
func New(h Head) *Paper {
	pdf := fpdf.New("P", "mm", "A4", "")
	pdf.SetCatalogSort(true)
	if h.When.IsZero() {
		h.When = time.Unix(0, 0).UTC() // else the time of writing would stand in the file
	}
	pdf.SetCreationDate(h.When)
	pdf.SetModificationDate(h.When)
	p := &Paper{Fpdf: pdf, faces: map[string]*face{}}
	for _, f := range []struct {
		name string
		data []byte
	}{{Regular, goregular.TTF}, {Bold, gobold.TTF}} {
		pdf.AddUTF8FontFromBytes(f.name, "", bytes.Clone(f.data)) // the library writes into it
		parsed, err := sfnt.Parse(f.data)
		if err != nil {
			pdf.SetError(err)
		}
		p.faces[f.name] = &face{font: parsed, widths: map[rune]int{}}
	}
	pdf.SetTitle(h.Title, true)
	pdf.SetCreator(h.Program, true)
	pdf.SetLang("en")
	pdf.SetMargins(Margin, Margin, Margin)
	pdf.SetAutoPageBreak(true, Foot+3)
	pdf.AliasNbPages("{nb}")
	pdf.SetFooterFunc(func() { p.foot(h.Foot) })
	return p
}

// foot prints what the page belongs to, and its number.
func (p *Paper) foot(text string) {
	defer p.Keep()()
	p.Font(Regular, Fine)
	p.SetXY(Margin, -Foot)
	text = p.Fit(Regular, text)
	if lines := p.Wrap(Style{Regular, Fine}, text, Width-2*Margin-36); len(lines) > 1 {
		text = lines[0] + " …"
	}
	p.CellFormat(Width-2*Margin-30, 5, text, "", 0, "L", false, 0, "")
	p.CellFormat(30, 5, fmt.Sprintf("page %d of {nb}", p.PageNo()), "", 0, "R", false, 0, "")
}

// Room begins a new page where less than so much is left of this one.
func (p *Paper) Room(mm float64) {
	if p.GetY()+mm > Bottom {
		p.AddPage()
	}
}

// Heading prints a heading, never alone at the foot of a page.
func (p *Paper) Heading(text string) { p.HeadingOver(text, 22) }

// HeadingOver prints a heading over what stands on one page with it, so that both together need so much room.
func (p *Paper) HeadingOver(text string, mm float64) {
	p.Ln(4)
	p.Room(mm)
	p.Paragraph(Bold, 13, text)
	p.Ln(1)
}

// Paragraph prints a text from here to the right margin.
func (p *Paper) Paragraph(face string, size float64, text string) {
	p.Font(face, size)
	p.MultiCell(0, size*LineHeight, p.Fit(face, text), "", "L", false)
}

// Pair prints a name and, beside it, what goes with it.
func (p *Paper) Pair(width float64, name, text string) {
	p.Font(Regular, Body)
	p.CellFormat(width, Body*LineHeight, p.Fit(Regular, name), "", 0, "L", false, 0, "")
	p.MultiCell(0, Body*LineHeight, p.Fit(Regular, text), "", "L", false)
}

// Rule draws a thin line over the width of the page.
func (p *Paper) Rule(y float64) {
	p.SetDrawColor(150, 150, 150)
	p.Line(Margin, y, Width-Margin, y)
}

// End writes the document. Where the typeface lacked a character, it says where that can be read: others, with its verb.
func (p *Paper) End(w io.Writer, others string) error {
	if p.lacking {
		p.Ln(4)
		p.Paragraph(Regular, Small, `Where \u and a number stand, the typeface of this document lacks a character, and that is its number (Unicode); `+others+" it as it is.")
	}
	return p.Output(w)
}
