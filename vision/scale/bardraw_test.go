package scale

import (
	"bytes"
	"image"
	"image/color"
	"image/jpeg"
	"math"
	"math/rand/v2"
	"testing"

	"github.com/stretchr/testify/require"
	"gocv.io/x/gocv"
	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
)

// canvas is a grey picture in the making: 0 to 255, not yet rounded. Places are pixels, (0, 0) is the centre of the top
// left one.
type canvas struct {
	w, h int
	v    []float64
}

// rect paints what a rectangle covers of each pixel, exactly.
func (c *canvas) rect(x0, y0, x1, y1, tone, alpha float64) {
	for y := max(0, int(y0)); y <= min(c.h-1, int(y1)+1); y++ {
		for x := max(0, int(x0)); x <= min(c.w-1, int(x1)+1); x++ {
			a := alpha * covered(float64(x), x0, x1) * covered(float64(y), y0, y1)
			c.v[y*c.w+x] += a * (tone - c.v[y*c.w+x])
		}
	}
}

// covered is the share of the pixel at x that lies between a and b.
func covered(x, a, b float64) float64 {
	return math.Max(0, math.Min(x+0.5, b)-math.Max(x-0.5, a))
}

// text writes with its base line's left end at (x, y) and gives the rectangle that it covers.
func (c *canvas) text(t testing.TB, words string, x, y, sizePX, tone float64) box {
	f, err := opentype.Parse(goregular.TTF)
	require.NoError(t, err)
	face, err := opentype.NewFace(f, &opentype.FaceOptions{Size: sizePX, DPI: 72})
	require.NoError(t, err)
	mask := image.NewAlpha(image.Rect(0, 0, c.w, c.h))
	d := font.Drawer{Dst: mask, Src: image.Opaque, Face: face, Dot: fixed.Point26_6{X: fixed.Int26_6(64 * x), Y: fixed.Int26_6(64 * y)}}
	d.DrawString(words)
	around := box{c.w, c.h, -1, -1}
	for i, a := range mask.Pix {
		c.v[i] += float64(a) / 255 * (tone - c.v[i])
		if a > 100 {
			around = around.join(box{i % c.w, i / c.w, i % c.w, i / c.w})
		}
	}
	return around
}

func (c *canvas) noise(rng *rand.Rand, sd float64) {
	for i := range c.v {
		c.v[i] += sd * rng.NormFloat64()
	}
}

// blurred is the canvas under a Gaussian blur.
func (c *canvas) blurred(sigmaPX float64) {
	reach := int(4*sigmaPX) + 1
	kernel, sum := make([]float64, 2*reach+1), 0.
	for k := range kernel {
		kernel[k] = math.Exp(-0.5 * math.Pow(float64(k-reach)/sigmaPX, 2))
		sum += kernel[k]
	}
	pass := func(n, count, along, across int) {
		line := make([]float64, n)
		for j := range count {
			for i := range n {
				line[i] = c.v[j*across+i*along]
			}
			for i := range n {
				s := 0.
				for k, weight := range kernel {
					s += weight * line[min(max(i+k-reach, 0), n-1)]
				}
				c.v[j*across+i*along] = s / sum
			}
		}
	}
	pass(c.w, c.h, 1, c.w)
	pass(c.h, c.w, c.w, 1)
}

func (c *canvas) image() *image.Gray {
	img := image.NewGray(image.Rect(0, 0, c.w, c.h))
	for i, v := range c.v {
		img.Pix[i] = uint8(math.Round(min(max(v, 0), 255)))
	}
	return img
}

// mat is the finished picture, through JPEG where quality is not 0. The test closes it.
func (c *canvas) mat(t testing.TB, quality int) gocv.Mat {
	img := c.image()
	if quality > 0 {
		var b bytes.Buffer
		require.NoError(t, jpeg.Encode(&b, img, &jpeg.Options{Quality: quality}))
		back, err := jpeg.Decode(&b)
		require.NoError(t, err)
		for y := range c.h {
			for x := range c.w {
				img.SetGray(x, y, color.GrayModel.Convert(back.At(x, y)).(color.Gray))
			}
		}
	}
	m, err := gocv.NewMatFromBytes(c.h, c.w, gocv.MatTypeCV8UC1, img.Pix)
	require.NoError(t, err)
	t.Cleanup(func() { _ = m.Close() })
	return m
}

// micrograph is an empty picture of resin with a bright sleeve full of strands in its middle: a level floor, level
// scratches and specks of dust are what a bar must be told from. All of it is blurred as a lens does.
func micrograph(w, h int, resin, noise float64, rng *rand.Rand) *canvas {
	c := &canvas{w, h, make([]float64, w*h)}
	cx, cy, size := float64(w)/2, float64(h)/2, float64(h)*0.27
	type spot struct{ x, y, r, tone float64 }
	var spots []spot
	for y := -0.75; y < 0.75; y += 0.17 {
		for x := -0.75; x < 0.75; x += 0.17 {
			spots = append(spots, spot{cx + size*(x+0.02*rng.Float64()), cy + size*(y+0.02*rng.Float64()), size * 0.08, 150 + 60*rng.Float64()})
		}
	}
	for y := range h {
		for x := range w {
			dx, dy := math.Abs(float64(x)-cx)/size, math.Abs(float64(y)-cy)/size
			v := resin + 6*(float64(x)/float64(w)-0.5)
			if math.Max(dx, dy) < 1 { // the sleeve, its floor level
				v = 215
				if math.Max(dx, dy) < 0.82 {
					v = 40
				}
			}
			c.v[y*w+x] = v
		}
	}
	for _, s := range spots {
		for y := int(s.y - s.r); y <= int(s.y+s.r); y++ {
			for x := int(s.x - s.r); x <= int(s.x+s.r); x++ {
				if math.Hypot(float64(x)-s.x, float64(y)-s.y) <= s.r {
					c.v[y*w+x] = s.tone
				}
			}
		}
	}
	for range 25 { // scratches, some of them level
		x, y, length := rng.Float64()*float64(w), rng.Float64()*float64(h), 20+rng.Float64()*float64(w)/4
		slope := 0.
		if rng.IntN(2) == 0 {
			slope = rng.NormFloat64()
		}
		tone := 30 - 60*rng.Float64()
		for k := 0.; k < length; k++ {
			px, py := int(x+k), int(y+slope*k)
			if px >= 0 && py >= 0 && px < w && py < h {
				c.v[py*w+px] += tone
			}
		}
	}
	for range 40 { // dust
		x, y, r := rng.Float64()*float64(w), rng.Float64()*float64(h), 1+3*rng.Float64()
		c.rect(x-r, y-r, x+r, y+r, 230*rng.Float64(), 0.8)
	}
	c.blurred(1.1)
	c.noise(rng, noise)
	return c
}

// bar style of a drawing.
type barStyle struct {
	x0, x1, y     float64 // from end to end; the middle of its height
	thick         float64
	tone          float64
	tick          float64 // how far the ticks stand out to each side, 0 for none
	tickWidth     float64
	upOnly        bool    // the ticks stand out upwards only
	box           bool    // what it lies in
	boxTone       float64 //
	boxAlpha      float64 // 1: filled, less: the picture shines through
	words         string
	where         string // above, below, right, left
	size          float64
	marginX, gapY float64
}

// draw draws the bar and gives the rectangle of all that belongs to it.
func (s barStyle) draw(t testing.TB, c *canvas) box {
	top, bottom := s.y-s.thick/2, s.y+s.thick/2
	probe := &canvas{c.w, c.h, make([]float64, c.w*c.h)}
	text := probe.text(t, s.words, 40, float64(c.h)/2, s.size, 255) // how large the text is
	tx, ty := (s.x0+s.x1)/2-float64(text.w())/2, top-s.tick-s.gapY
	switch s.where {
	case "below":
		ty = bottom + s.tick + s.gapY + float64(text.h())
	case "right":
		tx, ty = s.x1+s.marginX+4, s.y+float64(text.h())/2
	case "left":
		tx, ty = s.x0-s.marginX-4-float64(text.w()), s.y+float64(text.h())/2
	}
	whole := box{int(math.Floor(s.x0 + 0.5)), int(math.Floor(top - s.tick + 0.5)), int(math.Ceil(s.x1 - 0.5)), int(math.Ceil(bottom - 0.5))}
	if !s.upOnly {
		whole.y1 = int(math.Ceil(bottom + s.tick - 0.5))
	}
	if s.words != "" {
		x, y := int(tx), int(ty)
		whole = whole.join(box{x, y - text.h(), x + text.w(), y + text.h()/4})
	}
	if s.box {
		m := s.marginX
		b := box{int(float64(whole.x0) - m), int(float64(whole.y0) - m), int(float64(whole.x1) + m), int(float64(whole.y1) + m)}
		c.rect(float64(b.x0)-0.5, float64(b.y0)-0.5, float64(b.x1)+0.5, float64(b.y1)+0.5, s.boxTone, s.boxAlpha)
		whole = b
	} else if s.words != "" {
		// what the letters cover; the estimate above is a little larger
		whole = box{int(math.Floor(s.x0 + 0.5)), int(math.Round(top - s.tick)), int(math.Ceil(s.x1 - 0.5)), int(math.Round(bottom))}
	}
	c.rect(s.x0, top, s.x1, bottom, s.tone, 1)
	if s.tick > 0 {
		low := bottom
		if !s.upOnly {
			low += s.tick
		}
		c.rect(s.x0, top-s.tick, s.x0+s.tickWidth, top, s.tone, 1)
		c.rect(s.x1-s.tickWidth, top-s.tick, s.x1, top, s.tone, 1)
		c.rect(s.x0, bottom, s.x0+s.tickWidth, low, s.tone, 1)
		c.rect(s.x1-s.tickWidth, bottom, s.x1, low, s.tone, 1)
	}
	if s.words != "" {
		whole = whole.join(c.text(t, s.words, tx, ty, s.size, s.tone))
	}
	return whole
}
