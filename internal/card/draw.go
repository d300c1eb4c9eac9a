package card

import (
	"image"
	"math"
)

// Draw paints a card without its text, ppm pixels a millimetre, each pixel by the area that is covered: a picture of the
// card from straight above. The page's corner is the corner of pixel (0, 0), so that the place x mm lies at x·ppm - 0.5.
func (p Page) Draw(ppm float64) *image.Gray {
	w, h := int(math.Ceil(p.W*ppm)), int(math.Ceil(p.H*ppm))
	tone := make([]float64, w*h)
	for i := range tone {
		tone[i] = 1
	}
	for _, r := range p.Rects {
		x0, x1, y0, y1 := r.X*ppm, (r.X+r.W)*ppm, r.Y*ppm, (r.Y+r.H)*ppm
		for y := max(0, int(y0)); y < min(h, int(math.Ceil(y1))); y++ {
			high := min(y1, float64(y+1)) - max(y0, float64(y))
			for x := max(0, int(x0)); x < min(w, int(math.Ceil(x1))); x++ {
				covered := high * (min(x1, float64(x+1)) - max(x0, float64(x)))
				t := &tone[y*w+x]
				*t += covered * (r.Grey - *t)
			}
		}
	}
	img := image.NewGray(image.Rect(0, 0, w, h))
	for i, t := range tone {
		img.Pix[i] = uint8(math.Round(255 * t))
	}
	return img
}
