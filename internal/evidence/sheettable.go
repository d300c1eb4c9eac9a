package evidence

import (
	"bytes"
	"fmt"
	"image"
	_ "image/jpeg" // thumbs
	_ "image/png"
	"os"
	"path/filepath"
	"strings"

	"github.com/disintegration/imaging"

	"codeberg.org/go-pdf/fpdf"

	"crimprule/internal/paper"
)

// The columns of the table of crimps, in millimetres: number, crimp, result, values. A picture stands left of the values.
var columnWidths = [4]float64{11, 42, 32, 95}

var columnNames = [4]string{"no.", "crimp", "result", "worst feature, and the values"}

// The size of a picture in the table, and how many the PDF holds at most: each costs some kilobytes of memory until the
// document is written. The first one is leastPixels wide and each further one a pixel wider, since the library writes
// pictures in the order of their widths, those of one width in any order.
const (
	thumbWidth, thumbHeight = 24.0, 18.0
	leastPixels, mostImages = 140, 200
)

// mostLines keeps a row to a part of a page, however long a name or a reason is.
const mostLines = 40

// tableRow is a crimp in the table.
type tableRow struct {
	class    string // of the result
	thumb    string // path of the picture in the evidence
	pictured bool   // the picture is wanted
	cells    [4]cell
	rest     string // goes over the width of the table below the cells
}

// cell is a text, its first part in bold.
type cell struct{ lead, text string }

// chapter begins a table of crimps, where there is room for some rows of it.
func (s *sheet) chapter(title string, t tally) {
	s.table = ""
	if s.GetY() > paper.Bottom-60 {
		s.AddPage()
	}
	s.bookmark(title)
	s.Heading(title + ": " + t.String())
	s.table = title
	s.names()
}

// endTable ends the last table.
func (s *sheet) endTable() { s.table = "" }

// head goes on with a table on a new page.
func (s *sheet) head() {
	if s.table == "" {
		return
	}
	defer s.Keep()()
	s.Paragraph(paper.Regular, paper.Small, s.table+", continued")
	s.names()
}

// names prints the names of the columns.
func (s *sheet) names() {
	s.Font(paper.Regular, paper.Fine)
	for i, name := range columnNames {
		s.CellFormat(columnWidths[i], 4, name, "", 0, "L", false, 0, "")
	}
	s.Ln(5)
}

// printed is a line of a cell as it will be printed.
type printed struct{ font, text string }

// row prints the cells of a crimp side by side; a row is never parted by the end of a page.
func (s *sheet) row(r tableRow) {
	const height = rowSize * paper.LineHeight
	image := ""
	if r.pictured {
		image = s.image(r.thumb)
	}
	widths := columnWidths
	if image != "" {
		widths[3] -= thumbWidth + 2
	}
	widths[2] -= 6 // the shape
	var lines [4][]printed
	tall := 0.0
	for i, c := range r.cells {
		lines[i] = s.lines(c, widths[i])
		tall = max(tall, float64(len(lines[i]))*height)
	}
	if image != "" {
		tall = max(tall, thumbHeight)
	}
	rest := s.lines(cell{text: r.rest}, paper.Width-2*paper.Margin-columnWidths[0])
	s.Room(tall + float64(len(rest))*height + 4)
	y := s.GetY() + 1.2
	s.Rule(y - 0.8)
	x := paper.Margin
	for i := range lines {
		at := x
		switch {
		case i == 2:
			s.badge(x+1, y, r.class)
			at += 6
		case i == 3 && image != "":
			s.ImageOptions(image, x+1, y, thumbWidth, thumbHeight, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
			at += thumbWidth + 2
		}
		for n, line := range lines[i] {
			s.Font(line.font, rowSize)
			s.SetXY(at, y+float64(n)*height)
			s.CellFormat(widths[i], height, line.text, "", 0, "L", false, 0, "")
		}
		x += columnWidths[i]
	}
	for n, line := range rest {
		s.Font(line.font, rowSize)
		s.SetXY(paper.Margin+columnWidths[0], y+tall+0.6+float64(n)*height)
		s.CellFormat(0, height, line.text, "", 0, "L", false, 0, "")
	}
	s.SetXY(paper.Margin, y+tall+float64(len(rest))*height+1.4)
}

// lines parts the text of a cell into lines that fit.
func (s *sheet) lines(c cell, width float64) []printed {
	var all []printed
	for _, part := range []printed{{paper.Bold, c.lead}, {paper.Regular, c.text}} {
		if part.text == "" {
			continue
		}
		for _, paragraph := range strings.Split(s.Fit(part.font, part.text), "\n") {
			for _, line := range s.Wrap(paper.Style{Face: part.font, Size: rowSize}, paragraph, width-2.5) {
				all = append(all, printed{part.font, line})
			}
		}
	}
	if len(all) > mostLines {
		all = append(all[:mostLines-1], printed{paper.Regular, "… (the page has all)"})
	}
	return all
}

// image takes a picture into the document and gives its name there; none where there is no picture that can be read or
// there are enough already. It is coded anew, small, so that whatever lies in the folder cannot spoil the document.
func (s *sheet) image(thumb string) string {
	if thumb == "" || s.images >= mostImages {
		return ""
	}
	data, err := os.ReadFile(filepath.Join(string(s.folder), filepath.FromSlash(thumb)))
	if err != nil {
		return ""
	}
	size, _, err := image.DecodeConfig(bytes.NewReader(data))
	if err != nil || size.Width > 4096 || size.Height > 4096 {
		return ""
	}
	picture, _, err := image.Decode(bytes.NewReader(data))
	if err != nil {
		return ""
	}
	width := leastPixels + s.images
	small := imaging.Fill(picture, width, int(float64(width)*thumbHeight/thumbWidth), imaging.Center, imaging.Box)
	var b bytes.Buffer
	if err := imaging.Encode(&b, small, imaging.JPEG, imaging.JPEGQuality(75)); err != nil {
		return ""
	}
	s.images++
	name := fmt.Sprintf("%04d", s.images)
	s.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, &b)
	return name
}
