package section

import (
	"fmt"
	"image"
	"image/color"
	"math"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gomono"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// bar is the drawn scale bar in pixels.
type bar struct {
	scale        Scale
	x0, x1, y    float64 // its ends and its middle
	tick         float64 // how far the end ticks reach up and down from the middle
	box          [4]float64
	textX, textY float64 // where the text's baseline begins
	width        float64
	light, dark  float64
}

// face gives the font that the text is drawn with.
func (s Scale) face() font.Face {
	data := goregular.TTF
	if s.Mono {
		data = gomono.TTF
	}
	f, err := opentype.Parse(data)
	if err != nil {
		panic(fmt.Sprintf("the built-in font: %v", err)) // never: the font is part of the program
	}
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: max(s.TextPX, 8), DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic(fmt.Sprintf("the built-in font: %v", err))
	}
	return face
}

// bar places the scale bar in its corner.
func (s Scene) bar() bar {
	c := s.Scale
	long := c.BarUM / 1000 / s.MMPerPX
	width := float64(font.MeasureString(c.face(), c.Text)) / 64
	pad := math.Round(float64(s.Width) * 0.014)
	block := max(long, width)
	high := c.TextPX*1.15 + c.ThickPX
	if c.Ticks {
		high += c.ThickPX
	}
	x := float64(s.Width) - 2*pad - block
	y := float64(s.Height) - 2*pad - high
	if c.Corner == 1 || c.Corner == 2 {
		x = 2 * pad
	}
	if c.Corner >= 2 {
		y = 2 * pad
	}
	b := bar{scale: c, width: width}
	// Drawn bars begin and end on whole pixels only by chance; here they do not, and the edges are mixed.
	b.x0 = x + (block-long)/2
	b.x1 = b.x0 + long
	b.textX, b.textY = x+(block-width)/2, y+c.TextPX*0.85
	b.y = math.Round(y+high-c.ThickPX/2) - 0.5
	if int(c.ThickPX)%2 == 1 {
		b.y = math.Round(y + high - c.ThickPX/2)
	}
	if c.Ticks {
		b.tick = 1.5 * c.ThickPX
		b.y -= math.Round(c.ThickPX)
	}
	b.box = [4]float64{math.Round(x - pad), math.Round(y - pad*0.7), math.Round(x + block + pad), math.Round(y + high + pad*0.7)}
	b.light, b.dark = 0.97, 0.02
	return b
}

func (b bar) place() *ScaleBar {
	return &ScaleBar{Ends: [][2]float64{{b.x0, b.y}, {b.x1, b.y}}, Text: b.scale.Text, Boxed: b.scale.Boxed, Ticks: b.scale.Ticks}
}

// draw puts the bar into the finished picture.
func (b bar) draw(f *film) {
	ink, paper := b.light, b.dark
	if b.scale.Dark {
		ink, paper = paper, ink
	}
	if b.scale.Boxed {
		f.block(b.box[0], b.box[1], b.box[2], b.box[3], paper)
	}
	t := b.scale.ThickPX / 2
	f.block(b.x0, b.y-t, b.x1, b.y+t, ink)
	if b.scale.Ticks {
		w := max(2, math.Round(b.scale.ThickPX/2))
		for _, x := range []float64{b.x0, b.x1 - w} { // above and below the bar, not over it: the ends' pixels are mixed once
			f.block(x, b.y-b.tick, x+w, b.y-t, ink)
			f.block(x, b.y+t, x+w, b.y+b.tick, ink)
		}
	}
	mask := image.NewAlpha(image.Rect(0, 0, int(b.width)+4, int(2*b.scale.TextPX)))
	fx, fy := math.Floor(b.textX), math.Floor(b.textY-1.4*b.scale.TextPX)
	dr := font.Drawer{Dst: mask, Src: image.NewUniform(color.Alpha{A: 255}), Face: b.scale.face(),
		Dot: fixed.Point26_6{X: fixed.Int26_6(64 * (b.textX - fx + 1)), Y: fixed.Int26_6(64 * (b.textY - fy))}}
	dr.DrawString(b.scale.Text)
	for y := range mask.Rect.Dy() {
		for x := range mask.Rect.Dx() {
			if a := mask.AlphaAt(x, y).A; a > 0 {
				f.put(int(fx)-1+x, int(fy)+y, ink, float64(a)/255)
			}
		}
	}
}

// block fills an upright box with exact coverage at its edges; pixel i reaches from i-0.5 to i+0.5.
func (f *film) block(x0, y0, x1, y1, v float64) {
	for y := int(math.Floor(y0)); y <= int(math.Ceil(y1)); y++ {
		ky := min(y1, float64(y)+0.5) - max(y0, float64(y)-0.5)
		for x := int(math.Floor(x0)); x <= int(math.Ceil(x1)); x++ {
			if kx := min(x1, float64(x)+0.5) - max(x0, float64(x)-0.5); kx > 0 && ky > 0 {
				f.put(x, y, v, kx*ky)
			}
		}
	}
}

// put mixes a grey value into a pixel.
func (f *film) put(x, y int, v, share float64) {
	if x < 0 || y < 0 || x >= f.w || y >= f.h {
		return
	}
	for c := range 3 {
		p := &f.pix[3*(y*f.w+x)+c]
		*p += float32(share * (v - float64(*p)))
	}
}
