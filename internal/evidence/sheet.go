package evidence

import (
	"strings"

	"codeberg.org/go-pdf/fpdf"

	"crimprule/internal/paper"
)

// rowSize is the size of the type in tables, in points.
const rowSize = 7.8

// sheet is the PDF of the evidence under way.
type sheet struct {
	*paper.Paper
	folder folder
	table  string // the chapter whose table is being printed; empty: none
	images int    // pictures that the PDF holds so far
	noted  bool   // the notes are there
	shapes map[string]fpdf.Template
}

// newSheet makes an empty document whose dates are those of the scan.
func newSheet(f folder, info Info) *sheet {
	h := info.head()
	s := &sheet{folder: f, shapes: map[string]fpdf.Template{},
		Paper: paper.New(paper.Head{Title: h.Title, Program: h.Program, When: info.When, Foot: h.Title + "; " + h.Program + ", " + h.When})}
	s.drawShapes()
	s.SetHeaderFunc(s.head)
	return s
}

// bookmark names this place in the document's outline.
func (s *sheet) bookmark(text string) {
	s.Font(paper.Regular, paper.Body)
	s.Bookmark(text, 0, -1)
}

// item prints a line of a list.
func (s *sheet) item(text string) {
	s.Font(paper.Regular, paper.Small)
	inner := strings.TrimLeft(text, " ")
	indent := 1.2 * float64(len(text)-len(inner))
	s.SetX(paper.Margin + indent)
	s.CellFormat(4, paper.Small*paper.LineHeight, "–", "", 0, "L", false, 0, "")
	s.MultiCell(0, paper.Small*paper.LineHeight, s.Fit(paper.Regular, inner), "", "L", false)
}

// pairs prints names and what goes with them in two columns.
func (s *sheet) pairs(all []fact) {
	for _, f := range all {
		s.Pair(22, f.Name, f.Text)
	}
}
