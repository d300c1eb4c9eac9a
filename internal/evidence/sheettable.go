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
const mostLines = 16

// tableRow is a crimp in the table.
type tableRow struct {
	class    string // of the result
	thumb    string // path of the picture in the evidence
	pictured bool   // the picture is wanted
	cells    [4]cell
}

// cell is a text, its first part in bold.
type cell struct{ lead, text string }

// chapter begins a table of crimps: the first one on a page of its own.
func (s *sheet) chapter(title string, t tally) {
	first := s.table == ""
	s.table = ""
	if first || s.pdf.GetY() > pageHeight-foot-60 {
		s.pdf.AddPage()
	}
	s.bookmark(title)
	s.heading(title + ": " + t.String())
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
	defer s.keep()()
	s.paragraph(regular, smallSize, s.table+", continued")
	s.names()
}

// names prints the names of the columns.
func (s *sheet) names() {
	s.font(regular, 7.5)
	for i, name := range columnNames {
		s.pdf.CellFormat(columnWidths[i], 4, name, "", 0, "L", false, 0, "")
	}
	s.pdf.Ln(5)
}

// printed is a line of a cell as it will be printed.
type printed struct{ font, text string }

// row prints the cells of a crimp side by side; a row is never parted by the end of a page.
func (s *sheet) row(r tableRow) {
	const height = rowSize * lineHeight
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
	if s.pdf.GetY()+tall+3 > pageHeight-foot-3 {
		s.pdf.AddPage()
	}
	y := s.pdf.GetY() + 1.2
	s.pdf.SetDrawColor(150, 150, 150)
	s.pdf.Line(margin, y-0.8, pageWidth-margin, y-0.8)
	x := margin
	for i := range lines {
		at := x
		switch {
		case i == 2:
			s.badge(x+1, y, r.class)
			at += 6
		case i == 3 && image != "":
			s.pdf.ImageOptions(image, x+1, y, thumbWidth, thumbHeight, false, fpdf.ImageOptions{ImageType: "JPG"}, 0, "")
			at += thumbWidth + 2
		}
		for n, line := range lines[i] {
			s.font(line.font, rowSize)
			s.pdf.SetXY(at, y+float64(n)*height)
			s.pdf.CellFormat(widths[i], height, line.text, "", 0, "L", false, 0, "")
		}
		x += columnWidths[i]
	}
	s.pdf.SetXY(margin, y+tall+1)
}

// lines parts the text of a cell into lines that fit.
func (s *sheet) lines(c cell, width float64) []printed {
	var all []printed
	for _, part := range []printed{{bold, c.lead}, {regular, c.text}} {
		if part.text == "" {
			continue
		}
		for _, paragraph := range strings.Split(s.fit(part.font, part.text), "\n") {
			for _, line := range s.wrap(style{part.font, rowSize}, paragraph, width-2.5) {
				all = append(all, printed{part.font, line})
			}
		}
	}
	if len(all) > mostLines {
		all = append(all[:mostLines-1], printed{regular, "… (the page has all)"})
	}
	return all
}

// wrap parts a text at spaces; a word that is too wide is parted where it must be. Spaces that do not break (U+00A0)
// hold: the library's own way of parting does not know them.
func (s *sheet) wrap(in style, text string, width float64) []string {
	var all []string
	line, used := "", 0.0
	space := s.measure(in, " ")
	for _, word := range strings.Split(text, " ") {
		w := s.measure(in, word)
		if line != "" && used+space+w <= width {
			line, used = line+" "+word, used+space+w
			continue
		}
		if line != "" {
			all = append(all, line)
		}
		for w > width {
			head := s.fitting(in, word, width)
			all = append(all, head)
			word = word[len(head):]
			w = s.measure(in, word)
		}
		line, used = word, w
	}
	return append(all, line)
}

// fitting is the beginning of a word that fits, one character at least.
func (s *sheet) fitting(in style, word string, width float64) string {
	used := 0.0
	for i, r := range word {
		used += s.measure(in, string(r))
		if used > width && i > 0 {
			return word[:i]
		}
	}
	return word
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
	s.pdf.RegisterImageOptionsReader(name, fpdf.ImageOptions{ImageType: "JPG"}, &b)
	return name
}
