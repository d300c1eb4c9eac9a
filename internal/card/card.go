// Package card lays out the printed card that a part is photographed on: a chessboard for the scale, a window for the
// part, two ruled lines to check the printer by, a white and a grey patch, blank lines for labels and, where wanted, the
// part's tag as a QR code. It writes cards as a PDF, one a page. It is pure Go.
//
// Everything is in millimetres from the page's upper left corner, x to the right and y down.
package card

import (
	"fmt"
	"strings"
	"unicode"

	"rsc.io/qr"
)

// SquareMM is the side of the chessboard's squares.
const SquareMM = 5

// Ground is what the part's window is filled with.
type Ground string

// The grounds of the window.
//
// Grey is the default. A part has three tones at once: insulation that is mostly black, strands, and a tinned or brass
// sleeve with highlights as bright as paper. On white paper a silver sleeve's bright flanks run out into the ground
// without an edge, on black the insulation does; a matt mid grey differs from both. A camera's automatic exposure also
// takes the middle of the picture for about this grey (common practice, no source), so that highlights burn out less.
//
// Against it speaks the print: an ink-jet makes grey of fine dots, which look even, but many laser printers make it of
// a screen of 0.2 mm pitch, which shows in the photo and roughens the ground beside the edges that are measured. White
// leaves the window unprinted for those: for dark parts on the paper itself, or to lay a matt mat of another colour
// there. What grey comes out exactly does not matter: nothing is measured by it.
const (
	Grey  Ground = "grey"
	White Ground = "white"
)

// windowGrey is the tone of the grey window and the grey patch, 0 black to 1 white as printers and screens count
// (IEC 61966-2-1 gives it a reflectance of about 0.21 of the paper's, near the photographer's grey card of 0.18).
const windowGrey = 0.5

// Options is what a card can differ in.
type Options struct {
	Size   string // A6 or A5; laid across
	Ground Ground
	Tag    string // text of the QR code; empty for a card without one
}

// Rect is a filled rectangle; Grey runs from 0 (black) to 1 (white).
type Rect struct{ X, Y, W, H, Grey float64 }

// Text is a line of text: X, Y is the left end of its base line, Size the font's size.
type Text struct {
	X, Y, Size float64
	Bold       bool
	Line       string
}

// Board is the chessboard: its upper left corner and its number of squares.
type Board struct {
	X, Y       float64
	Cols, Rows int
}

// Page is one card, laid out. Rects are painted in their order.
type Page struct {
	W, H   float64
	Rects  []Rect
	Texts  []Text
	Board  Board
	Window Rect
	Tag    Rect // the QR code without its quiet zone; empty where there is none
	RuleMM float64
}

// sheet holds the measures in which the sizes differ.
type sheet struct {
	w, h         float64
	board        Board
	windowW      float64
	windowTop    float64
	rule         float64 // length of the ruled lines
	margin       float64 // left end of the ruled line and the board
	tag          float64 // side of the QR code
	text, leadMM float64 // size of small text, and from line to line
	labelPitch   float64
}

// The pages lie across, so that the board, the part and the labels stand side by side in a photo of the usual 4:3. Paper
// sizes are those of ISO 216. The board keeps a rim of a square's width free of everything.
var sheets = map[string]sheet{
	"A6": {w: 148, h: 105, board: Board{X: 11, Y: 27.5, Cols: 8, Rows: 10}, windowW: 34, windowTop: 15,
		rule: 80, margin: 11, tag: 22, text: 2.1, leadMM: 2.6, labelPitch: 9},
	"A5": {w: 210, h: 148, board: Board{X: 15, Y: 34, Cols: 12, Rows: 16}, windowW: 44, windowTop: 19,
		rule: 120, margin: 15, tag: 28, text: 2.6, leadMM: 3.2, labelPitch: 12},
}

// New lays out a card. The error is one that the caller can mend.
func New(o Options) (Page, error) {
	s, ok := sheets[strings.ToUpper(o.Size)]
	if !ok {
		return Page{}, fmt.Errorf("size %q: there are cards of size A6 and A5; say one of these", o.Size)
	}
	if o.Ground != Grey && o.Ground != White {
		return Page{}, fmt.Errorf("ground %q: the window can be grey or white; say one of these", o.Ground)
	}
	p := Page{W: s.w, H: s.h, Board: s.board, RuleMM: s.rule}
	p.frame()
	p.chessboard()
	p.window(s, o.Ground)
	p.rules(s)
	p.words(s)
	p.labels(s)
	if o.Tag != "" {
		if err := p.tag(s, o.Tag); err != nil {
			return Page{}, err
		}
	}
	return p, nil
}

func (p *Page) fill(x, y, w, h, grey float64) { p.Rects = append(p.Rects, Rect{x, y, w, h, grey}) }

func (p *Page) say(x, y, size float64, line string) {
	p.Texts = append(p.Texts, Text{X: x, Y: y, Size: size, Line: line})
}

// frame is a hair line along the page's rim: where to cut a card that was printed on larger paper.
func (p *Page) frame() {
	p.outline(Rect{0, 0, p.W, p.H, 0.7}, 0.15)
}

func (p *Page) chessboard() {
	b := p.Board
	for j := range b.Rows {
		for i := range b.Cols {
			if (i+j)%2 == 0 {
				p.fill(b.X+float64(i)*SquareMM, b.Y+float64(j)*SquareMM, SquareMM, SquareMM, 0)
			}
		}
	}
}

// window is where the part lies, in the middle of the card: its axis from the notch below to the one above, its sleeve
// between the two side marks. The marks keep well away from the part, and nothing on the card is a pair of edges as far
// apart as a wire is thick.
func (p *Page) window(s sheet, g Ground) {
	middle := s.w / 2
	p.Window = Rect{middle - s.windowW/2, s.windowTop, s.windowW, s.h - 2*s.windowTop, windowGrey}
	w := p.Window
	if g == Grey {
		p.Rects = append(p.Rects, w)
	} else {
		p.outline(Rect{w.X, w.Y, w.W, w.H, 0.6}, 0.2)
	}
	const mark, short, thick = 2.5, 1.0, 0.5 // the short one keeps off the board's rim
	p.fill(middle-thick/2, w.Y-mark, thick, mark, 0)
	p.fill(middle-thick/2, w.Y+w.H, thick, mark, 0)
	p.fill(w.X+w.W, s.h/2-thick/2, mark, thick, 0)
	p.fill(w.X-short, s.h/2-thick/2, short, thick, 0)
	p.Texts = append(p.Texts,
		Text{middle + 2, w.Y - 0.8, s.text, true, "BODY END"},
		Text{middle - 2 - 8*0.72*s.text, w.Y + w.H + 1.2*s.text, s.text, true, "WIRE END"},
		Text{w.X + w.W + mark + 1, s.h/2 - 0.3, s.text, true, "SLEEVE here, SEAM UP,"})
	p.say(w.X+w.W+mark+1, s.h/2-0.3+s.leadMM, s.text, "one part, no voltage")
}

// rules are two lines of stated length, across and along, from outer edge to outer edge of their end marks: printers feed
// and write with different errors.
func (p *Page) rules(s sheet) {
	const thick, mark, y = 0.2, 3.0, 8.5
	x0 := s.margin
	p.fill(x0, y-thick/2, s.rule, thick, 0)
	p.fill(x0, y-mark/2, thick, mark, 0)
	p.fill(x0+s.rule-thick, y-mark/2, thick, mark, 0)
	x, y0 := s.w-8, (s.h-s.rule)/2
	p.fill(x-thick/2, y0, thick, s.rule, 0)
	p.fill(x-mark/2, y0, mark, thick, 0)
	p.fill(x-mark/2, y0+s.rule-thick, mark, thick, 0)
	p.say(x0+2, y-1, s.text, fmt.Sprintf("%.0f mm, and so is the line at the right", s.rule))
}

// words say what to do with the ruled lines.
func (p *Page) words(s sheet) {
	squares := int(s.rule / SquareMM)
	read := s.rule - 0.5
	lines := []string{
		`Print at 100 % ("actual size"). Measure`,
		"over the end marks of both ruled lines.",
		fmt.Sprintf("%.1f mm: say --scale chessboard=%dmm.", s.rule, SquareMM),
		fmt.Sprintf("Else give the true square, reading / %d:", squares),
		fmt.Sprintf("at %.1f mm, --scale chessboard=%.2fmm.", read, read/float64(squares)),
		"Lines differ by over 0.3 mm: print anew.",
	}
	y := p.Board.Y + float64(p.Board.Rows)*SquareMM + SquareMM + s.text
	for i, line := range lines {
		p.say(s.margin, y+float64(i)*s.leadMM, s.text, line)
	}
}

// labels are blank lines to be written on, and the two patches, by which a person sees the light's colour and the
// exposure.
func (p *Page) labels(s sheet) {
	x := p.Window.X + p.Window.W + 4
	right := s.w - 12
	y := s.h/2 + 2*s.leadMM + 0.8*s.labelPitch
	for i, name := range []string{"String", "Crimp", "Crew", "Date"} {
		at := y + float64(i)*s.labelPitch
		p.say(x, at, 1.15*s.text, name)
		p.fill(x+5.5*s.text, at+0.5, right-x-5.5*s.text, 0.15, 0.4)
	}
	const side, rim = 10.0, 0.2
	px := right - side
	p.outline(Rect{px, s.windowTop, side, side, 0.4}, rim)
	p.fill(px, s.windowTop+side+2, side, side, windowGrey)
	p.say(px, s.windowTop-0.8, s.text, "white")
	p.say(px, s.windowTop+2*side+2+1.2*s.text, s.text, "grey")
}

// outline is a line of some width just inside a rectangle.
func (p *Page) outline(r Rect, wide float64) {
	p.fill(r.X, r.Y, r.W, wide, r.Grey)
	p.fill(r.X, r.Y+r.H-wide, r.W, wide, r.Grey)
	p.fill(r.X, r.Y, wide, r.H, r.Grey)
	p.fill(r.X+r.W-wide, r.Y, wide, r.H, r.Grey)
}

// MaxTag is the longest tag, in bytes: a code of 33 modules or less, so that a module is at least 0.6 mm wide.
const MaxTag = 62

// CheckTag tells why a text cannot be a tag, beginning with the text.
func CheckTag(tag string) error {
	switch {
	case strings.TrimSpace(tag) == "":
		return fmt.Errorf("%q is empty: give the text that names the part, or leave the tag out", tag)
	case strings.TrimSpace(tag) != tag:
		return fmt.Errorf("%q begins or ends with a space: take it away", tag)
	case len(tag) > MaxTag:
		return fmt.Errorf("%.80q has %d bytes, more than the %d that a card's code holds: shorten it", tag, len(tag), MaxTag)
	}
	for _, r := range tag {
		if !unicode.IsPrint(r) || r == unicode.ReplacementChar {
			return fmt.Errorf("%q has a character that cannot be printed (%U): take it out", tag, r)
		}
	}
	return nil
}

// tag draws the QR code (ISO/IEC 18004, level M: about 15 % of it may be soiled) with the text below. Its quiet zone of
// four modules stays free.
func (p *Page) tag(s sheet, text string) error {
	if err := CheckTag(text); err != nil {
		return fmt.Errorf("tag %w", err)
	}
	code, err := qr.Encode(text, qr.M)
	if err != nil {
		return fmt.Errorf("tag %q cannot be made into a QR code: %w; shorten it", text, err)
	}
	side := s.tag / float64(code.Size)
	p.Tag = Rect{p.Window.X + p.Window.W + 8, s.windowTop, s.tag, s.tag, 0}
	for y := range code.Size {
		for x := 0; x < code.Size; {
			run := x
			for run < code.Size && code.Black(run, y) {
				run++
			}
			if run > x {
				p.fill(p.Tag.X+float64(x)*side, p.Tag.Y+float64(y)*side, float64(run-x)*side, side, 0)
			}
			x = max(run, x+1)
		}
	}
	// The caption is broken where it does not fit beside the window.
	const width = 22
	y := p.Tag.Y + s.tag + 4*side + s.text
	for i, line := range broken(text, width) {
		p.say(p.Tag.X-4, y+float64(i)*s.leadMM, s.text, line)
	}
	return nil
}

// broken cuts text into lines of at most width characters.
func broken(text string, width int) []string {
	var lines []string
	for r := []rune(text); len(r) > 0; {
		n := min(width, len(r))
		lines = append(lines, strings.TrimSpace(string(r[:n])))
		r = r[n:]
	}
	return lines
}
