package overlay

import (
	"image"
	"image/color"

	"crimprule/internal/wording"
	"crimprule/vision/record"
)

// resultHues are dark enough for text on white. Each result has a shape of its own too, and its word stands beside it.
var resultHues = map[record.Result]color.RGBA{
	record.Conforms:       {0x00, 0x6b, 0x4e, 0xff},
	record.DoesNotConform: {0xb4, 0x2d, 0x00, 0xff},
	record.NotProven:      {0x8a, 0x5a, 0x00, 0xff},
	record.NotMeasured:    {0x55, 0x5b, 0x64, 0xff},
}

const badgeSize = 20 // sheet units, with the room behind it 26

// drawResult writes a result with its shape from a baseline's start on, in at most width pixels.
func (d *sheet) drawResult(r record.Result, text string, at image.Point, width int) {
	hue, known := resultHues[r]
	if !known {
		hue = print2
	}
	d.badge(r, record.Point{X: float64(at.X) + badgeSize/2*d.unit, Y: float64(at.Y) - 0.36*sheetSmall*d.unit}, 1, hue)
	d.text(d.bold, at.X+d.n(26), at.Y, hue, fitting(d.bold, text, width-d.n(26)))
}

func (d *sheet) resultWidth(text string, width int) int {
	return d.n(26) + textWidth(d.bold, fitting(d.bold, text, width-d.n(26)))
}

// badge draws a result's shape about its middle: a round tick, a square cross, a triangle with a stroke, a ring with a
// dash. size 1 is badgeSize high.
func (d *sheet) badge(r record.Result, at record.Point, size float64, hue color.RGBA) {
	p := func(x, y float64) record.Point {
		return record.Point{X: at.X + x*size*d.unit, Y: at.Y + y*size*d.unit}
	}
	white := func(lines ...[]record.Point) { d.stroke(lines, 2.6*size*d.unit, page) }
	switch r {
	case record.Conforms:
		d.disc(at, badgeSize/2*size, hue)
		white([]record.Point{p(-4.6, 0.4), p(-1.4, 3.8), p(4.8, -3.6)})
	case record.DoesNotConform:
		d.fill([]record.Point{p(-9, -9), p(9, -9), p(9, 9), p(-9, 9)}, image.NewUniform(hue))
		white([]record.Point{p(-4.2, -4.2), p(4.2, 4.2)}, []record.Point{p(-4.2, 4.2), p(4.2, -4.2)})
	case record.NotProven:
		d.fill([]record.Point{p(0, -10), p(11, 9), p(-11, 9)}, image.NewUniform(hue))
		white([]record.Point{p(0, -3.5), p(0, 2)}, []record.Point{p(0, 5.8)})
	default:
		d.disc(at, badgeSize/2*size, hue)
		d.disc(at, (badgeSize/2-2.4)*size, page)
		d.stroke([][]record.Point{{p(-4, 0), p(4, 0)}}, 2.4*size*d.unit, hue)
	}
}

// resultText is a result's word, with the limits that it was judged by.
func resultText(f record.Feature) string {
	text := wording.Result(f.Result)
	if limits := wording.Limits(f.Min, f.Max); limits != "" {
		text += " (" + limits + ")"
	}
	return text
}
