package overlay

import (
	"image"
	"image/color"
	"strings"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// faces are the two cuts of the text. Faces keep a glyph cache and are not for several goroutines, so each drawing has
// its own; the parsed fonts are shared.
type faces struct{ regular, bold font.Face }

var fonts = sync.OnceValues(func() (*opentype.Font, *opentype.Font) {
	return mustParse(goregular.TTF), mustParse(gobold.TTF)
})

func mustParse(ttf []byte) *opentype.Font {
	f, err := opentype.Parse(ttf)
	if err != nil {
		panic("overlay: the built-in font is broken: " + err.Error())
	}
	return f
}

func newFaces(size float64) faces {
	regular, bold := fonts()
	face := func(f *opentype.Font) font.Face {
		result, err := opentype.NewFace(f, &opentype.FaceOptions{Size: size, DPI: 72, Hinting: font.HintingFull})
		if err != nil {
			panic("overlay: the built-in font has no such size: " + err.Error())
		}
		return result
	}
	return faces{face(regular), face(bold)}
}

// text writes a line whose baseline starts at x, y.
func (c canvas) text(face font.Face, x, y int, hue color.Color, text string) {
	d := font.Drawer{Dst: c.img, Src: image.NewUniform(hue), Face: face, Dot: fixed.P(x, y)}
	d.DrawString(text)
}

func textWidth(face font.Face, text string) int { return font.MeasureString(face, text).Ceil() }

// fitting is as much of the text as the width holds, with an ellipsis where something is left out.
func fitting(face font.Face, text string, width int) string {
	if textWidth(face, text) <= width {
		return text
	}
	runes := []rune(text)
	for len(runes) > 0 && textWidth(face, string(runes)+"…") > width {
		runes = runes[:len(runes)-1]
	}
	return string(runes) + "…"
}

// broken breaks text at spaces into lines of the width; a longer word is cut.
func broken(face font.Face, text string, width int) []string {
	var lines []string
	line := ""
	for _, word := range strings.Fields(text) {
		switch {
		case line == "":
			line = word
		case textWidth(face, line+" "+word) <= width:
			line += " " + word
		default:
			lines = append(lines, fitting(face, line, width))
			line = word
		}
	}
	return append(lines, fitting(face, line, width))
}
