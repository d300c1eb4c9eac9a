package card

import (
	"bytes"
	"fmt"
	"io"
	"strconv"
	"strings"
)

// A PDF counts in points of 1/72 inch from the lower left corner, where nothing else is said (ISO 32000-1, 8.3.2.3).
const pointsPerMM = 72 / 25.4

// WritePDF writes cards as a PDF, one a page in its true size. The same cards give the same bytes: it holds neither dates
// nor identifiers. It is written here and not by a library because those put the time of writing into it and cannot ask
// the viewer not to scale (PrintScaling None, ISO 32000-1, table 150), which is what most printed rulers suffer from.
// Text is in the standard font Helvetica, which is not embedded: no length hangs on it.
func WritePDF(w io.Writer, pages []Page) error {
	const fixed = 4 // the catalogue, the list of pages and two fonts come first
	objects := []string{
		"<< /Type /Catalog /Pages 2 0 R /ViewerPreferences << /PrintScaling /None >> >>",
		"",
		"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica /Encoding /WinAnsiEncoding >>",
		"<< /Type /Font /Subtype /Type1 /BaseFont /Helvetica-Bold /Encoding /WinAnsiEncoding >>",
	}
	kids := make([]string, len(pages))
	for i, p := range pages {
		at := fixed + 1 + 2*i
		kids[i] = fmt.Sprintf("%d 0 R", at)
		content := p.content()
		objects = append(objects,
			fmt.Sprintf("<< /Type /Page /Parent 2 0 R /MediaBox [0 0 %s %s] /Resources << /Font << /F1 3 0 R /F2 4 0 R >> >> /Contents %d 0 R >>",
				points(p.W), points(p.H), at+1),
			fmt.Sprintf("<< /Length %d >>\nstream\n%s\nendstream", len(content), content))
	}
	objects[1] = fmt.Sprintf("<< /Type /Pages /Kids [%s] /Count %d >>", strings.Join(kids, " "), len(pages))

	var b bytes.Buffer
	b.WriteString("%PDF-1.6\n%\xe2\xe3\xcf\xd3\n") // the second line says that it is binary (7.5.2)
	offsets := make([]int, len(objects))
	for i, object := range objects {
		offsets[i] = b.Len()
		fmt.Fprintf(&b, "%d 0 obj\n%s\nendobj\n", i+1, object)
	}
	start := b.Len()
	fmt.Fprintf(&b, "xref\n0 %d\n0000000000 65535 f \n", len(objects)+1)
	for _, at := range offsets {
		fmt.Fprintf(&b, "%010d 00000 n \n", at)
	}
	fmt.Fprintf(&b, "trailer\n<< /Size %d /Root 1 0 R >>\nstartxref\n%d\n%%%%EOF\n", len(objects)+1, start)
	_, err := w.Write(b.Bytes())
	return err
}

// content is the page's stream of painting operators.
func (p Page) content() string {
	var b strings.Builder
	grey := -1.0
	for _, r := range p.Rects {
		if r.Grey != grey {
			fmt.Fprintf(&b, "%s g\n", number(r.Grey))
			grey = r.Grey
		}
		fmt.Fprintf(&b, "%s %s %s %s re f\n", points(r.X), points(p.H-r.Y-r.H), points(r.W), points(r.H))
	}
	b.WriteString("0 g\n")
	for _, t := range p.Texts {
		font := "F1"
		if t.Bold {
			font = "F2"
		}
		fmt.Fprintf(&b, "BT /%s %s Tf %s %s Td (%s) Tj ET\n", font, points(t.Size), points(t.X), points(p.H-t.Y), escaped(t.Line))
	}
	return b.String()
}

func points(mm float64) string { return number(mm * pointsPerMM) }

// number writes a number to a ten-thousandth: 35 nm where it is points.
func number(v float64) string {
	text := strconv.FormatFloat(v, 'f', 4, 64)
	return strings.TrimRight(strings.TrimRight(text, "0"), ".")
}

// escaped makes a PDF string (7.3.4.2) of a text in Latin-1, which WinAnsiEncoding agrees with for what is printable;
// other characters become question marks. The QR code holds them all the same.
func escaped(text string) string {
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '(', r == ')', r == '\\':
			b.WriteByte('\\')
			b.WriteByte(byte(r))
		case r >= 0x20 && r <= 0x7e, r >= 0xa1 && r <= 0xff:
			b.WriteByte(byte(r))
		default:
			b.WriteByte('?')
		}
	}
	return b.String()
}
