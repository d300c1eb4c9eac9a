package overlay

import (
	"image"
	"image/color"

	"golang.org/x/image/draw"
)

// ruleHue is the colour of the lines that part a drawing's title and its foot from what lies between.
var ruleHue = color.RGBA{0xb8, 0xbc, 0xc2, 0xff}

// rule draws a fine line over the page's width.
func (d *drawing) rule(y int) {
	b := d.n(sheetBorder)
	draw.Draw(d.img, image.Rect(b, y, d.img.Bounds().Dx()-b, y+max(1, d.n(1))), image.NewUniform(ruleHue), image.Point{}, draw.Src)
}

// Body is the part of a drawing that shows the crimp with its labels: what lies between the title and the foot with its
// legend. It is the whole picture where that is no drawing of this program.
func Body(img image.Image) image.Rectangle {
	b := img.Bounds()
	isRule := func(y int) bool {
		for x := b.Min.X + b.Dx()/20; x < b.Max.X-b.Dx()/20; x++ {
			if color.RGBAModel.Convert(img.At(x, y)) != ruleHue {
				return false
			}
		}
		return b.Dx() > 0
	}
	body, found := b, 0
	for y := b.Min.Y; y < b.Max.Y; y++ {
		switch {
		case !isRule(y):
		case found == 0 || y == body.Min.Y:
			body.Min.Y, found = y+1, 1
		default:
			body.Max.Y = y
			return body
		}
	}
	return b
}
