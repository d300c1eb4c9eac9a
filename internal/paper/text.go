package paper

import (
	"fmt"
	"math"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/sfnt"
	"golang.org/x/image/math/fixed"
)

const pointsPerMM = 72 / 25.4

// Style is a typeface in a size, in points.
type Style struct {
	Face string
	Size float64
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

// Fit writes the number of a character where the typeface lacks it: two names that differ by such characters alone must not
// look alike on paper. U+65E5 becomes \u65e5, what lies beyond the first plane \u{1f600}. What was fitted stays as it is.
func (p *Paper) Fit(face, text string) string {
	f := p.faces[face]
	var b strings.Builder
	for _, r := range text {
		switch {
		case r == '\n' || f.width(r) >= 0:
			b.WriteRune(r)
			continue
		case r <= 0xffff:
			fmt.Fprintf(&b, `\u%04x`, r)
		default:
			fmt.Fprintf(&b, `\u{%x}`, r)
		}
		p.lacking = true
	}
	return b.String()
}

// Font takes a typeface for what is written next. The library writes it down each time that it is told.
func (p *Paper) Font(face string, size float64) {
	if p.now != (Style{face, size}) {
		p.now = Style{face, size}
		p.SetFont(face, "", size)
	}
}

// Keep is called where the library ends a page or begins one: behind that it goes on with the typeface from before.
func (p *Paper) Keep() (back func()) {
	before := p.now
	return func() { p.now = before }
}

// Measure is the width of a text, in millimetres.
func (p *Paper) Measure(in Style, text string) float64 {
	total := 0
	for _, r := range text {
		total += max(p.faces[in.Face].width(r), 0)
	}
	return float64(total) / 1000 * in.Size / pointsPerMM
}

// Wrap parts a text at spaces; a word that is too wide is parted where it must be. Spaces that do not break (U+00A0)
// hold: the library's own way of parting does not know them.
func (p *Paper) Wrap(in Style, text string, width float64) []string {
	var all []string
	line, used := "", 0.0
	space := p.Measure(in, " ")
	for _, word := range strings.Split(text, " ") {
		w := p.Measure(in, word)
		if line != "" && used+space+w <= width {
			line, used = line+" "+word, used+space+w
			continue
		}
		if line != "" {
			all = append(all, line)
		}
		for w > width {
			head := p.fitting(in, word, width)
			all = append(all, head)
			word = word[len(head):]
			w = p.Measure(in, word)
		}
		line, used = word, w
	}
	return append(all, line)
}

// fitting is the beginning of a word that fits, one character at least.
func (p *Paper) fitting(in Style, word string, width float64) string {
	used := 0.0
	for i, r := range word {
		used += p.Measure(in, string(r))
		if used > width && i > 0 {
			return word[:i]
		}
	}
	return word
}
