package overlay

import (
	"image/color"

	"crimprule/vision/record"
)

// style is how a kind of mark is drawn. Kinds differ by hue, by line pattern and by width, so that none depends on
// colour alone. The hues are those of Okabe and Ito's palette for colour-blind readers ("Color Universal Design",
// 2008; values from memory).
type style struct {
	name  string // in the legend
	hue   color.RGBA
	width float64   // of the line, in units of the drawing
	dash  []float64 // on, off, on, off ... in units; nil: solid
	order int       // later ones lie on top
}

var styles = map[record.MarkKind]style{
	record.MarkScale:  {"scale reference", color.RGBA{0xf0, 0xe4, 0x42, 0xff}, 1.6, nil, 0},
	record.MarkAxis:   {"axis", color.RGBA{0x00, 0x9e, 0x73, 0xff}, 1.6, []float64{22, 5, 3, 5}, 1},
	record.MarkScan:   {"scan line", color.RGBA{0x56, 0xb4, 0xe9, 0xff}, 1, []float64{2, 4}, 2},
	record.MarkEdge:   {"fitted edge", color.RGBA{0x38, 0x9b, 0xff, 0xff}, 1.6, nil, 3},
	record.MarkMiss:   {"missing piece", color.RGBA{0xcc, 0x79, 0xa7, 0xff}, 2.6, []float64{12, 8, 1, 8}, 4},
	record.MarkStray:  {"strand outside", color.RGBA{0xd5, 0x5e, 0x00, 0xff}, 3, []float64{10, 5}, 5},
	record.MarkCut:    {"strand cut short", color.RGBA{0xd5, 0x5e, 0x00, 0xff}, 3, []float64{3, 3}, 5}, // never beside strands outside
	record.MarkLength: {"measured length", color.RGBA{0xe6, 0x9f, 0x00, 0xff}, 2, nil, 6},
}

// legendOrder is the order in which kinds are explained.
var legendOrder = []record.MarkKind{record.MarkLength, record.MarkEdge, record.MarkScan, record.MarkStray,
	record.MarkCut, record.MarkMiss, record.MarkAxis, record.MarkScale}

// unknown draws a kind that this version does not know: plain and solid, so that nothing handed over is left out.
var unknown = style{"other", color.RGBA{0xff, 0xff, 0xff, 0xff}, 1.4, nil, 3}

func styleOf(kind record.MarkKind) style {
	if s, ok := styles[kind]; ok {
		return s
	}
	return unknown
}

// scaled is the style in a drawing whose unit has so many pixels.
func (s style) scaled(unit float64) style {
	s.width *= unit
	dash := make([]float64, len(s.dash))
	for i, v := range s.dash {
		dash[i] = v * unit
	}
	if s.dash != nil {
		s.dash = dash
	}
	return s
}

// casing is the dark rim of every line, so that it shows on any ground.
var casing = color.RGBA{0x00, 0x00, 0x00, 0xb0}
